"""What would help: the exact quantity opens, a hair less does not; trials take a no away and add none."""

from __future__ import annotations

from typing import Any

import pytest

from tests.unit.ramp.ramps import asked, ramp_case
from travel.checks.ramp import RampFacts, ramp_answers
from travel.domain.verdict import Verdict
from travel.planning.ramp_remedies import (
    EXACT_M,
    SHAPE,
    _bad,
    least_quantity,
    ramp_remedies,
    with_packing,
    with_ramp_length,
)

STEEP: dict[str, Any] = {"deck__profile_xz_m": [[0.0, 0.62], [9.0, 0.62]], "deck__height_loaded_m": None,
                         "ramps__0__length_m": 2.0}  # fmt: skip


def no(case: Any) -> bool:
    return bool(_bad(ramp_answers(RampFacts(case=case), SHAPE)))


def test_longer_ramps_to_the_tenth_of_a_millimetre() -> None:
    case = ramp_case(**STEEP)
    assert no(case)
    exact = least_quantity(case, with_ramp_length, 2.0, 8.0)
    assert exact is not None
    assert not no(with_ramp_length(case, exact))
    assert no(with_ramp_length(case, exact - 2 * EXACT_M))


def test_packing_under_the_feet() -> None:
    case = ramp_case(**(STEEP | {"ramps__0__length_m": 2.4}))
    exact = least_quantity(case, with_packing, 0.0, 0.4)
    assert exact is not None
    assert 0.0 < exact < 0.4
    assert not no(with_packing(case, exact))
    assert no(with_packing(case, exact - 2 * EXACT_M))


def test_remedies_say_the_rounded_quantity_and_what_it_opens() -> None:
    found = {remedy.kind: remedy for remedy in ramp_remedies(asked(**STEEP))}
    longer = found["longer ramps"]
    assert longer.exact is not None
    assert longer.quantity is not None
    assert longer.exact <= longer.quantity <= longer.exact + 0.05
    assert set(longer.opens) & SHAPE
    assert not no(with_ramp_length(ramp_case(**STEEP), longer.quantity))


def test_chocks_and_level_ground_hold_the_rig() -> None:
    found = {r.kind: r for r in ramp_remedies(asked("light_rig_rolls", request={"ground_slope_pct": 4.0}))}
    assert set(found) == {"chocks", "level ground"}
    assert all("rig-hold" in remedy.opens and remedy.verdict == "caution" for remedy in found.values())


def test_turning_the_rig_round_changes_the_sign() -> None:
    before = asked(request={"ground_slope_pct": 4.0})
    assert before.verdict == Verdict.BLOCKED
    turned = {remedy.kind: remedy for remedy in ramp_remedies(before)}
    after = asked(request={"ground_slope_pct": -4.0})
    assert ("turn the rig round" in turned) == (not _bad(after.answers))


def test_no_remedy_where_nothing_is_in_the_way() -> None:
    assert ramp_remedies(asked()) == ()


@pytest.mark.parametrize("name", ["short_ramps_drawbar", "light_rig_rolls"])
def test_a_remedy_never_promises_more_than_asking_again_gives(name: str) -> None:
    before = asked(name, request={"ground_slope_pct": 4.0})
    for remedy in ramp_remedies(before):
        assert remedy.opens
        assert remedy.verdict in ("clear", "caution", "unknown", "blocked")
        assert ("Still in the way" in remedy.text) or remedy.verdict != "blocked"
