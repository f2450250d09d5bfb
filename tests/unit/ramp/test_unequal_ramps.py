"""Ramps not alike, and feet gone in: loads over each, whichever the sheet names first, against levers taken by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.unit.ramp.ramps import ramp_case, sheet, verdicts
from travel.checks.ramp import RampAnswer, RampCase, RampFacts, ramp_answers
from travel.domain.verdict import Verdict
from travel.units import n_to_kg

SHORT_M, LONG_M = 2.5, 3.6
"""The machine's wheelbase is 2.90 m: the long ramp may carry both axles at once, the short one never does."""


def unequal(first: str, **changes: Any) -> RampCase:
    """Give the demo's rig with a short left and a long right ramp, one of them named first."""
    pair = sheet("semi_low_loader")["ramps"][0]
    ramps = [pair | {"side": "left", "length_m": SHORT_M}, pair | {"side": "right", "length_m": LONG_M}]
    return ramp_case(**{"ramps": ramps if first == "left" else ramps[::-1]} | changes)


def parts(case: RampCase, *rules: str) -> dict[tuple[str, str], float]:
    """Give what each part asks for, and of rules of clearance what is there."""
    return {
        (a.rule, a.part): float(a.outcome.capacity if a.rule == "nose-lift" else a.outcome.demand)
        for a in ramp_answers(RampFacts(case=case), frozenset(rules))
    }


def test_which_ramp_the_sheet_names_first_changes_nothing() -> None:
    rules = ("ramp-angle", "ramp-rating", "nose-lift", "rig-hold", "ramp-approach", "ramp-foot")
    one, other = parts(unequal("left"), *rules), parts(unequal("right"), *rules)
    assert one.keys() == other.keys()
    for part, value in one.items():
        assert value == pytest.approx(other[part], rel=2e-3), part


@pytest.mark.parametrize("first", ["left", "right"])
def test_a_long_ramp_carries_both_axles_a_short_one_only_one(first: str) -> None:
    case = unequal(first)
    load = parts(case, "ramp-rating")
    half, axle = case.body.mass_kg / 2.0, float(case.body.axle_load_kg.max()) / 2.0
    assert load["ramp-rating", "right ramp"] > half
    # one axle's half, and a quarter more at most for the slope, the lean and the centre of gravity's band
    assert axle < load["ramp-rating", "left ramp"] < 1.45 * axle


def test_a_foot_gone_in_makes_the_ramp_steeper_for_grip_and_tipping() -> None:
    firm, soft = (ramp_case(ramps__0__foot_sink_m=sink) for sink in (0.0, 0.15))
    before, after = parts(firm, "ramp-angle"), parts(soft, "ramp-angle")
    # 0.15 m in 3.15 m: the ramp is 4.8 % steeper
    for part in ("grip of the driven wheels", "tipping back", "pull in the low range"):
        assert after["ramp-angle", part] > before["ramp-angle", part] + 0.02, part


def test_a_centre_of_gravity_of_unknown_accuracy_has_the_band_of_its_class() -> None:
    case = ramp_case(own={"attitudes__0__cg_tolerance_m": None})
    exact = ramp_case(own={"attitudes__0__cg_tolerance_m": 0.0})
    band = case.scalar("tolerance.cg_m")
    assert band > 0.0
    for side in ("left", "right"):
        more = float((RampFacts(case=case).ramp_n[side] - RampFacts(case=exact).ramp_n[side]).max())
        assert n_to_kg(more) > 0.9 * case.body.mass_kg * band / 2.02 / 2.0


@pytest.mark.parametrize(("cross_pct", "expected"), [
    (0.0, Verdict.CLEAR), (4.0, Verdict.CLEAR), (-6.0, Verdict.CAUTION), (7.5, Verdict.UNKNOWN),
    (12.0, Verdict.BLOCKED), (-12.0, Verdict.BLOCKED),
])  # fmt: skip
def test_a_slope_across_is_held_against_what_the_machine_is_permitted(cross_pct: float, expected: Verdict) -> None:
    assert across(ramp_case(request={"ground_cross_slope_pct": cross_pct})).verdict == expected


def test_ramps_not_alike_lean_the_machine_across() -> None:
    answer = across(unequal("left", ramps__0__foot_sink_m=0.0, ramps__1__foot_sink_m=0.0))
    # over the short ramp's foot the long one stands 0.52 m × (1 − 2.445 / 3.562) high, the track is 2.02 m
    run = [math.sqrt(length**2 - 0.52**2) for length in (SHORT_M, LONG_M)]
    assert float(answer.outcome.demand) == pytest.approx(0.52 * (1.0 - run[0] / run[1]) / 2.02, rel=0.03)


@pytest.mark.parametrize(("surface", "sink_m", "expected"), [
    ("asphalt", 0.0, Verdict.CLEAR), ("compacted_gravel", 0.02, Verdict.CLEAR), ("clay", 0.10, Verdict.CAUTION),
])  # fmt: skip
def test_one_foot_that_alone_goes_in_leans_the_machine_across(surface: str, sink_m: float, expected: Verdict) -> None:
    """Where the sunk ramp comes out of the ground the other stands sink × h / (h + sink) high; the track is 2.02 m."""
    answer = across(ramp_case(request={"surface": surface, "ground_cross_slope_pct": 1.5}, ramps__0__foot_sink_m=None))
    lean = sink_m * 0.52 / (0.52 + sink_m) / 2.02
    assert float(answer.outcome.demand) == pytest.approx(0.015 + lean, abs=1e-3)
    assert answer.verdict == expected


def test_a_permission_across_nobody_stated_is_unknown() -> None:
    answer = across(ramp_case(own={"limits__cross_slope_pct": None}))
    assert answer.verdict == Verdict.UNKNOWN
    assert list(answer.outcome.missing) == ["machine.limits.cross_slope_pct"]


def across(case: RampCase) -> RampAnswer:
    """Give what the rule says of the slope across."""
    found = ramp_answers(RampFacts(case=case), frozenset({"ramp-angle"}))
    return next(answer for answer in found if answer.part == "permitted slope across")


def test_twin_tyres_reach_further_in_over_the_gap() -> None:
    """Two tyres of 0.30 m a side within 2.45 m over them leave 1.25 m in between, single ones of 0.43 m 1.59 m."""
    twins = {f"axles__{n}__{name}": value for n in (0, 1) for name, value in (("tyres", 4), ("section_m", 0.30))}
    for own, inner in (({}, 1.59), (twins, 1.25)):
        (gap,) = ramp_answers(RampFacts(case=ramp_case(own=own)), frozenset({"ramp-gap"}))
        assert float(gap.outcome.capacity) == pytest.approx(inner)


def test_the_gap_stated_with_either_ramp_counts_on_the_bad_side() -> None:
    def gaps(left: float | None, right: float | None) -> dict[str, Verdict]:
        ramp = sheet("semi_low_loader")["ramps"][0]
        pair = [ramp | {"side": side, "gap_m": gap} for side, gap in (("left", left), ("right", right))]
        return verdicts(ramp_case(ramps=pair), "ramp-width", "ramp-gap")

    assert gaps(0.95, 0.95) == gaps(None, 0.95) == {"ramp-width": Verdict.CLEAR, "ramp-gap": Verdict.CLEAR}
    assert gaps(0.95, 0.6) == gaps(0.6, 0.95) == {"ramp-width": Verdict.BLOCKED, "ramp-gap": Verdict.CLEAR}
    assert gaps(1.7, 0.95)["ramp-gap"] == gaps(0.95, 1.7)["ramp-gap"] == Verdict.BLOCKED
    assert gaps(None, None) == {"ramp-width": Verdict.UNKNOWN, "ramp-gap": Verdict.UNKNOWN}


@pytest.mark.parametrize(("surface", "ground", "state", "grip"), [
    ("asphalt", "wet", "wet", 0.3), ("clay", "wet", "mud", 0.15), ("grass", None, "mud", 0.15),
    ("clay", "dry", "dry", 0.4), ("compacted_gravel", "wet", "wet", 0.3), (None, None, "wet", 0.3),
])  # fmt: skip
def test_mud_is_carried_onto_ramps_off_ground_that_gives_it(
    surface: str | None, ground: str | None, state: str, grip: float
) -> None:
    case = ramp_case(request={"surface": surface, "ground": ground})
    assert case.state == state
    assert case.grip("timber_mat").value == grip
    found = verdicts(case, "ramp-angle")["ramp-angle"]
    assert (found == Verdict.BLOCKED) == (state == "mud")


@pytest.mark.parametrize(("braked", "expected"), [((True, True), None), ((True, False), Verdict.BLOCKED),
                                                  ((False, True), Verdict.BLOCKED)])  # fmt: skip
def test_who_drives_up_a_ramp_must_be_able_to_stop_on_it(braked: tuple[bool, bool], expected: Verdict | None) -> None:
    """All wheels of the demo's machine drive; half its weight on braked wheels holds no 16 % at 0.3 on wet timber."""
    own = {f"axles__{n}__braked": value for n, value in enumerate(braked)}
    found = ramp_answers(RampFacts(case=ramp_case(own=own)), frozenset({"ramp-angle"}))
    grip = {answer.part: answer.verdict for answer in found if answer.part.startswith("grip")}
    driven = {"grip of the driven wheels": Verdict.CLEAR}  # that stop where they drive is not said twice
    assert grip == driven | ({} if all(braked) else {"grip of the braked wheels": expected})
