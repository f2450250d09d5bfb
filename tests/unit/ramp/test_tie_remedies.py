"""Short tie-downs: the least strength and the least number that do, and a hair less does not."""

from __future__ import annotations

from itertools import combinations_with_replacement
from typing import Any

import pytest

from tests.unit.ramp.ramps import asked, ramp_case
from travel.checks.ramp import RampCase
from travel.checks.ramp_ties import ties
from travel.domain.ramp import RampRemedy
from travel.planning.ramp_remedies import ramp_remedies
from travel.planning.ramp_tie_remedies import (
    EXACT_KG,
    least_limit_kg,
    tie_changes,
    ties_hold,
    with_least_limit,
    with_tie_points,
)


def weak(limit_kg: float, **changes: Any) -> dict[str, Any]:
    count = len(ramp_case().trailer.tie_points)
    return {f"tie_points__{n}__rating_kg": limit_kg for n in range(count)} | changes


def found(**kwargs: Any) -> dict[str, RampRemedy]:
    return {remedy.kind: remedy for remedy in ramp_remedies(asked(**kwargs))}


@pytest.mark.parametrize("law", ["gb", "eu", "us"])
def test_the_least_strength_does_and_a_hair_less_does_not(law: str) -> None:
    case = ramp_case(request={"jurisdiction": law}, **weak(900.0))
    assert not ties_hold(case)
    exact = least_limit_kg(case)
    assert exact is not None
    assert ties_hold(with_least_limit(case, exact))
    assert not ties_hold(with_least_limit(case, exact - 2 * EXACT_KG))


def test_the_least_strength_is_the_force_asked_for_over_the_number_by_hand() -> None:
    """49 CFR 393.106: half the weight of the cargo, shared by direct tie-downs from deck to machine at half each."""
    case = ramp_case(request={"jurisdiction": "us"}, **weak(900.0))
    count = len(ties(case))
    share = ties(case)[0].counts_kg / ties(case)[0].limit_kg
    exact = least_limit_kg(case)
    assert exact == pytest.approx(0.5 * (16500 + 200) / share / count, abs=0.02)


@pytest.mark.parametrize("law", ["gb", "us"])
def test_the_least_number_does_and_no_smaller_number_anywhere_does(law: str) -> None:
    case = ramp_case(request={"jurisdiction": law}, **weak(1900.0 if law == "us" else 3500.0))
    assert not ties_hold(case)
    (more,) = (change for change in tie_changes(case) if change.kind == "more tie-downs")
    assert ties_hold(more.case)
    assert len(more.case.trailer.tie_points) == len(case.trailer.tie_points) + int(more.value)
    old = case.trailer.tie_points
    for number in range(int(more.value)):
        assert not any(
            ties_hold(with_tie_points(case, (*old, *some))) for some in combinations_with_replacement(old, number)
        )


def test_the_remedy_is_said_rounded_up_and_is_proven_by_asking_again() -> None:
    case_of = {"request": {"jurisdiction": "us"}, **weak(900.0)}
    remedy = found(**case_of)["stronger tie-downs"]
    assert remedy.quantity is not None
    assert remedy.exact is not None
    assert remedy.exact <= remedy.quantity < remedy.exact + 50.0
    assert remedy.opens == ("tie-down",)
    assert remedy.unit == "kg"
    assert f"{remedy.quantity:.0f}" in remedy.text.replace(" ", "")
    assert remedy.verdict != "blocked"


def test_where_strength_is_not_what_is_short_only_a_number_helps() -> None:
    """Two chains however strong are no four tie-downs."""
    case = ramp_case(request={"jurisdiction": "us"})
    few: RampCase = with_tie_points(case, case.trailer.tie_points[:3])
    assert not ties_hold(few)
    assert {change.kind for change in tie_changes(few)} == {"more tie-downs"}


def test_nothing_is_promised_where_a_tie_down_is_not_known_or_does() -> None:
    assert tie_changes(ramp_case(tie_points__0__rating_kg=None)) == []
    assert not {"stronger tie-downs", "more tie-downs"} & set(found())
