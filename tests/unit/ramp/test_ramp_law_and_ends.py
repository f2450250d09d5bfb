"""The law's least load on driving axles, ties at both ends, standing without lashings: each by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.unit.ramp.ramps import ramp_case, verdicts
from travel.checks.ramp import RampAnswer, RampCase, RampFacts, ramp_answers
from travel.checks.ramp_road import overall
from travel.domain.verdict import Verdict


def answer(case: RampCase, rule: str, start: str) -> RampAnswer:
    (found,) = [a for a in ramp_answers(RampFacts(case=case), frozenset({rule})) if a.part.startswith(start)]
    return found


def test_driving_axles_carry_a_quarter_of_the_gross() -> None:
    """96/53/EC, Annex I, 4.1: the driving axles carry no less than 25 % of the laden combination's mass."""
    case = ramp_case(request={"jurisdiction": "eu"})
    found = answer(case, "axle-law", "load on the driving axles")
    towing, trailer = case.trailer.towing, case.trailer.trailer
    assert towing is not None
    gross = towing.mass_kg + trailer.mass_kg + case.body.mass_kg
    assert float(np.asarray(found.outcome.demand)) == pytest.approx(0.25 * gross)


def test_no_driving_axle_named_is_unknown() -> None:
    case = ramp_case(request={"jurisdiction": "eu"}, **{f"towing__axles__{n}__driven": False for n in range(3)})
    assert answer(case, "axle-law", "load on the driving axles").verdict == Verdict.UNKNOWN


def test_two_ties_at_each_end() -> None:
    """49 CFR 393.130(c): restrained by at least four tie-downs, fixed as near as may be to front and rear."""
    whole = ramp_case(request={"jurisdiction": "us"})
    assert answer(whole, "tie-down", "held at both ends").verdict == Verdict.CLEAR
    points = sorted(whole.trailer.tie_points, key=lambda point: point.x_m)
    rear = whole.trailer.model_copy(update={"tie_points": tuple(points[:4])})
    assert answer(replace(whole, trailer=rear), "tie-down", "held at both ends").verdict == Verdict.BLOCKED


def test_mass_without_a_stated_tolerance_takes_the_class_value() -> None:
    stated = answer(ramp_case(), "tie-down", "against moving forward").outcome.demand
    case = ramp_case(own={"attitudes__0__mass_tolerance_kg": None})
    loose = answer(case, "tie-down", "against moving forward").outcome.demand
    mass, own = case.body.mass_kg, ramp_case().body.mass_tolerance_kg
    share = 1.0 + case.scalar("tolerance.mass_share")
    assert float(np.asarray(loose)) == pytest.approx(float(np.asarray(stated)) * mass * share / (mass + own))


@pytest.mark.parametrize(("height_m", "stands"), [(1.2, True), (2.6, False)])
def test_tilting(height_m: float, stands: bool) -> None:
    """Half the track less the sideways offset and the band, over the height with the band, against the share."""
    case = ramp_case(own={"attitudes__0__cg_z_m": height_m})
    body, side = case.body, case.limit("tie-down.tilting").value
    band = body.cg_tolerance_m
    across = (body.track_m.min() / 2 - abs(body.cg_m[1]) - band) / (height_m + band)
    along = (min(-body.cg_m[0], body.wheelbase_m + body.cg_m[0]) - band) / (height_m + band)
    assert (across >= side and along >= case.scalar("tie-down.forward")) == stands
    found = answer(case, "tie-down", "against tilting").verdict
    assert (found == Verdict.CLEAR) == stands


def test_without_a_stated_tolerance_the_class_value_counts() -> None:
    loose = ramp_case(own={"attitudes__0__cg_tolerance_m": None}, ramps__0__foot_sink_m=0.0)
    assert math.isnan(loose.body.cg_tolerance_m)
    assert loose.scalar("tolerance.cg_m") > 0.0
    told = ramp_case(ramps__0__foot_sink_m=0.0)
    side = facts_of(loose).ramp_n["left"].max() / facts_of(told).ramp_n["left"].max()
    track, off = float(loose.body.track_m.min()), loose.body.cg_m[1]
    share = 0.5 + (off + np.array([loose.scalar("tolerance.cg_m"), ramp_case().body.cg_tolerance_m])) / track
    assert side == pytest.approx(share[0] / share[1])


def facts_of(case: RampCase) -> RampFacts:
    return RampFacts(case=case)


def test_a_machine_heavier_than_its_sheet_counts_with_the_class_value() -> None:
    stated, case = ramp_case(), ramp_case(own={"attitudes__0__mass_tolerance_kg": None})
    heavier_kg = case.scalar("tolerance.mass_share") * case.body.mass_kg - stated.body.mass_tolerance_kg
    trailer = case.trailer.trailer
    assert trailer.coupling_to_bogie_m
    assert trailer.hinge_behind_bogie_m
    for rule, part, each_kg in (
        ("nose-lift", "coupling", trailer.hinge_behind_bogie_m / trailer.coupling_to_bogie_m),
        ("ramp-angle", "pull in the low range", None),
    ):
        outcomes = [answer(one, rule, part).outcome for one in (case, stated)]
        more = float(np.asarray(outcomes[0].tolerance)) - float(np.asarray(outcomes[1].tolerance))
        share = float(np.asarray(outcomes[0].demand)) / case.body.mass_kg if each_kg is None else each_kg
        assert more == pytest.approx(heavier_kg * share), rule


def test_travelling_height_without_a_stated_tolerance_takes_the_class_value() -> None:
    """0.10 m for a height measured by hand and 0.02 m for the deck; not the deck's twice."""
    stated, loose = ramp_case(), ramp_case(own={"attitudes__0__height_tolerance_m": None})
    own = overall(stated).height_m - stated.body.height_tolerance_m
    assert overall(loose).height_m - own == pytest.approx(loose.scalar("tolerance.height_m", method="measured"))
    assert loose.scalar("tolerance.height_m", method="measured") == pytest.approx(0.10)


def test_a_side_nobody_states_of_the_centre_of_gravity_is_named() -> None:
    case = ramp_case(own={"attitudes__0__cg_y_m": None})
    found = {answer.part: answer for answer in ramp_answers(RampFacts(case=case))}
    for part in ("left ramp", "right ramp", "against tilting"):
        assert found[part].verdict == Verdict.UNKNOWN
        assert "machine.attitudes.cg_y_m" in found[part].outcome.missing


def test_a_trailer_on_a_drawbar_whose_bed_tilts_is_part_of_a_road_train() -> None:
    case = ramp_case("tilt_bed", request={"jurisdiction": "eu"})
    length = next(a for a in ramp_answers(RampFacts(case=case), frozenset({"road-size"})) if a.part == "length")
    assert float(length.outcome.capacity) == 18.75  # Directive 96/53/EC, Annex I, 1.1
    assert length.verdict == Verdict.CLEAR


@pytest.mark.parametrize("changes", [{"over": True}, {"over": True, "to_xyz_m": None}])
def test_a_lashing_over_the_top_is_no_direct_one(changes: dict[str, Any]) -> None:
    """It holds by the friction of what it presses down; 49 CFR 393 counts it whole, its forces are not told."""
    over = {f"tie_points__0__{key}": value for key, value in changes.items()}
    (found,) = ramp_answers(RampFacts(case=ramp_case(request={"jurisdiction": "eu"}, **over)), frozenset({"tie-down"}))
    assert found.verdict == Verdict.UNKNOWN
    assert tuple(found.outcome.missing) == ("force of front left over the top (not worked out here)",)
    us = ramp_answers(RampFacts(case=ramp_case(request={"jurisdiction": "us"}, **over)), frozenset({"tie-down"}))
    assert not any("393.102" in answer.part for answer in us)


def test_tie_downs_of_one_side_alone_do_not_hold_a_machine() -> None:
    def us(sides: tuple[float, ...], **more: Any) -> dict[str, Verdict]:
        ties = [{"x_m": x, "y_m": y, "rating_kg": 10000.0, "chain": "g100_13"} | more
                for x, y in zip((8.2, 8.0, 1.8, 1.6), sides, strict=True)]  # fmt: skip
        return verdicts(ramp_case(request={"jurisdiction": "us"}, tie_points=ties), "tie-down")

    assert us((1.1, -1.1, 1.1, -1.1))["tie-down"] == Verdict.CLEAR
    assert us((1.1, 1.1, 1.1, 1.1))["tie-down"] == Verdict.BLOCKED
    assert us((1.1, 1.1, 1.1, 1.1), over=True)["tie-down"] == Verdict.CLEAR
    # led to the machine's far side from either deck side alone: all pull the one way
    assert us((0.2, 0.2, -0.2, -0.2), to_xyz_m=[-1.0, -1.0, 0.75])["tie-down"] == Verdict.BLOCKED
