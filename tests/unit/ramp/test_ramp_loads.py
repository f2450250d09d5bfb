"""Loads on ramps and trailer against a small rigid-body solver of this file, and against levers taken by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.unit.ramp.ramps import ramp_case
from travel.checks.ramp import RampFacts, ramp_answers
from travel.checks.ramp_deck import standing
from travel.checks.ramp_loads import deck_height, tare_loads
from travel.checks.ramp_rig import held
from travel.checks.ramp_road import overall
from travel.units import G_MPS2, n_to_kg

LONG = {
    "ramps__0__length_m": 7.5,
    "ramps__0__foot_sink_m": 0.0,
    "deck__profile_xz_m": [[0.0, 0.9], [9.0, 0.9]],
    "deck__height_loaded_m": None,
}


def four_wheels(
    mass: float, cg: tuple[float, float, float], x: tuple[float, float], track: float, grade: float, cross: float
) -> np.ndarray:
    """Load of each wheel [N] of a rigid body on four like springs on a plane leaning along and across.

    x forward up the grade, y left, z square to the plane; cross + falls to the right. Friction takes what acts in
    the plane. Unknown: heave, pitch, roll; equations: force square to the plane, two moments.
    """
    down = np.array([-grade, -cross * -1.0, -1.0])  # the plane's normal leans back by the grade and left by the cross
    down = np.array([-grade, -cross, -1.0])
    weight = mass * G_MPS2 * down / np.linalg.norm(down)
    wheels = [(place, side * track / 2) for place in x for side in (1.0, -1.0)]
    stiff = np.array([[1.0, wx, wy] for wx, wy in wheels])
    normal = -weight[2]
    lever_x = cg[0] * normal + cg[2] * weight[0]
    lever_y = cg[1] * normal + cg[2] * weight[1]
    pose = np.linalg.solve(stiff.T @ stiff, np.array([normal, lever_x, lever_y]))
    return np.asarray((stiff @ pose).reshape(2, 2))


@pytest.mark.parametrize("cross", [0.0, 4.0, -4.0])
@pytest.mark.parametrize("side_m", [0.0, 0.10, -0.06])
def test_four_wheels_on_two_ramps(cross: float, side_m: float) -> None:
    own = {"attitudes__0__cg_y_m": side_m, "attitudes__0__cg_tolerance_m": 0.0}
    case = ramp_case(own=own, request={"ground_cross_slope_pct": cross}, **LONG)
    facts = RampFacts(case=case)
    both = facts.loads.on_ramp.all(axis=0) & (np.ptp(facts.loads.slope, axis=0) < 1e-9)
    at = int(np.flatnonzero(both)[both.sum() // 2])
    shape, grade = case.outline, float(facts.loads.slope[0, at])
    assert facts.loads.slope[1, at] == pytest.approx(grade)
    wheels = four_wheels(
        case.body.mass_kg, (shape.cg_x, side_m, shape.cg_z), (0.0, -shape.base), 2.02, grade, cross / 100
    )
    np.testing.assert_allclose(facts.loads.square[:, at], wheels.sum(axis=1), rtol=3e-3)
    left, right = wheels.sum(axis=0)
    for side, solved in (("left", left), ("right", right)):
        found = facts.ramp_n[side][at]
        # what is held against the rating is never less than the solver's force, and no more than its plumb reaction
        assert solved * (1 - 4e-3) <= found <= solved * np.sqrt(1 + grade**2) * 1.006


@pytest.mark.parametrize("slope", [0.0, 5.0, -5.0])
def test_axle_loads_on_an_even_ramp_are_the_lever_law(slope: float) -> None:
    case = ramp_case(request={"ground_slope_pct": slope}, **LONG)
    facts = RampFacts(case=case)
    at = int(np.flatnonzero(facts.loads.on_ramp.all(axis=0))[20])
    th = np.arctan(facts.loads.slope[0, at])
    weight, b, height = 16500 * G_MPS2, 2.90 - 1.476, 1.24
    front = weight * (b * np.cos(th) - height * np.sin(th)) / 2.90
    rear = weight * ((2.90 - b) * np.cos(th) + height * np.sin(th)) / 2.90
    np.testing.assert_allclose(facts.loads.square[:, at], [front, rear], rtol=1e-9)
    assert th == pytest.approx(np.arcsin(0.9 / 7.5) + np.arctan(slope / 100), abs=1e-12)


def test_loads_add_up_to_the_weight_at_every_position() -> None:
    facts = RampFacts(case=ramp_case(request={"ground_slope_pct": 3.0}))
    np.testing.assert_allclose(facts.loads.plumb.sum(axis=0), 16500 * G_MPS2, rtol=1e-12)
    assert (facts.loads.worst >= facts.loads.square - 1e-6).all()


def test_what_the_coupling_carries_is_the_lever_law() -> None:
    case = ramp_case()
    facts = RampFacts(case=case)
    base, hinge = 8.30, 2.60
    for at in range(0, len(facts.position_m), 37):
        moment = 0.0
        for axle in (0, 1):
            x, load = facts.loads.x[axle, at], facts.loads.plumb[axle, at] / G_MPS2
            share = 1.0 if x >= 0 else min(max((x - case.foot) / -case.foot, 0.0), 1.0)
            moment += load * share * (max(x, 0.0) - hinge)
        assert n_to_kg(facts.rig.coupling[at]) == pytest.approx(3900 + moment / base, abs=0.01)
    total = facts.rig.coupling + facts.rig.bogie - facts.rig.on_rig
    np.testing.assert_allclose(n_to_kg(total), 10400.0, atol=0.01)


def test_nose_uphill_takes_load_off_the_coupling_and_downhill_credits_only_what_the_machine_leans() -> None:
    level, up, down = (
        RampFacts(case=ramp_case(request={"ground_slope_pct": s})).rig.coupling.min() for s in (0, 4, -4)
    )
    assert up < level
    assert level <= down <= level + 16500 * G_MPS2 * 0.04 * 1.24 / 8.30
    case = ramp_case(request={"ground_slope_pct": 4.0})
    assert tare_loads(case, case.slope)[0] < 3900 * G_MPS2
    assert deck_height(case) == 0.90


@pytest.mark.parametrize("name", ["semi_low_loader", "light_rig_rolls", "rigid_beavertail", "tilt_bed"])
def test_the_window_is_cut_exactly_where_a_rating_is_reached(name: str) -> None:
    case = ramp_case(name)
    found = standing(case)
    assert found.window is not None
    low, high = found.window
    assert low <= (found.best or 0.0) <= high
    tight = [x for x in (low, high) if any(abs(b.value(x) - b.most) < 1e-6 or abs(b.value(x) - b.least) < 1e-6
                                           for b in found.bounds)]  # fmt: skip
    for x in tight:
        beyond = x - 1e-6 if x == low else x + 1e-6
        assert any(b.value(beyond) > b.most or b.value(beyond) < b.least for b in found.bounds)
    for x in (low, high):
        assert all(b.least - 1e-6 <= b.value(x) <= b.most + 1e-6 for b in found.bounds)
    rooms = [min(b.room(float(x)) for b in found.bounds) for x in np.linspace(low, high, 999)]
    assert min(b.room(found.best or 0.0) for b in found.bounds) >= max(rooms) - 1e-6


def test_a_rating_that_binds_moves_the_window() -> None:
    free = standing(ramp_case()).window
    bound = standing(ramp_case(trailer__coupling_rating_kg=7000.0)).window
    assert free is not None
    assert bound is not None
    assert bound[1] == pytest.approx((7000 - 3900) * 8.30 / 16500 + 2.60 + 1.476, abs=1e-9)
    assert bound[1] < free[1]
    assert standing(ramp_case(trailer__coupling_rating_kg=4000.0)).window is None


def test_coupling_loads_reach_the_towing_axles_whole() -> None:
    found = standing(ramp_case())
    assert found.coupling is not None
    assert sum(load or 0.0 for load in found.towing) == pytest.approx(9100 + found.coupling)
    assert (found.bogie or 0.0) + found.coupling == pytest.approx(10400 + 16500)


def test_all_of_the_machine_on_ramps_and_deck_leans_on_the_rig_since_ramp_feet_do_not_hold() -> None:
    """A ramp without friction at its foot rests on foot and hinge square to the slope, along it on the hinge alone."""
    case = ramp_case(request={"ground_slope_pct": 6.0})
    facts = RampFacts(case=case)
    needed, weight = held(facts).needed, case.towing_kg + case.trailer.trailer.mass_kg
    shove = 16500 * case.scalar("rig-hold.shove")
    on_ramp = np.flatnonzero(facts.loads.on_ramp.any(axis=0) & (facts.loads.x < case.foot).any(axis=0))
    both_up = np.flatnonzero((facts.loads.on_ramp | facts.loads.on_deck).all(axis=0))
    for at in (*on_ramp[::40], *both_up[::80]):
        up = facts.loads.plumb[:, at][facts.loads.x[:, at] >= case.foot].sum() / G_MPS2
        sine = 0.06 / np.hypot(1.0, 0.06)
        assert needed[at] == pytest.approx((weight + up) * G_MPS2 * sine + shove, rel=1e-9)
    assert needed[both_up[0]] == pytest.approx((weight + 16500) * G_MPS2 * 0.06 / np.hypot(1.0, 0.06) + shove)


@pytest.mark.parametrize(("behind_m", "high_m"), [(-2.5, 1.6), (-2.7, 1.24), (-2.8, 1.6)])
def test_past_the_lower_axle_it_has_tipped_already(behind_m: float, high_m: float) -> None:
    """However far past: it tips at the slope at which its centre of gravity stands over the lower axle."""
    moved = {"attitudes__0__cg_x_m": behind_m, "attitudes__0__cg_z_m": high_m}
    long = LONG | {"ramps__0__length_m": 4.5, "deck__profile_xz_m": [[0.0, 1.15], [9.0, 1.15]]}
    facts = RampFacts(case=ramp_case(own=moved, **long))
    both = facts.loads.on_ramp.all(axis=0) & (np.ptp(facts.loads.slope, axis=0) < 1e-9)
    assert both.any()
    assert facts.loads.tip_ratio[both] == pytest.approx((2.9 + behind_m) / high_m)


@pytest.mark.parametrize(("deck", "first", "last", "steep"), [
    # as in the demo, and as a tape tells it: rising, falling, uneven to a few centimetres
    ([[0.0, 0.52], [1.6, 0.90], [8.9, 0.90]], 1.6, 8.9, 0.0),
    ([[0.0, 0.52], [1.6, 0.88], [8.9, 0.92]], 1.6, 8.9, 0.04 / 7.3),
    ([[0.0, 0.52], [1.6, 0.92], [8.9, 0.88]], 1.6, 8.9, 0.04 / 7.3),
    ([[0.0, 0.52], [1.6, 0.90], [5.0, 0.80], [8.9, 0.80]], 1.6, 8.9, 0.10 / 3.4),
    # a neck in the profile is no place for a wheel
    ([[0.0, 0.52], [1.6, 0.90], [7.4, 0.90], [7.9, 1.30], [8.9, 1.30]], 1.6, 7.4, 0.0),
])  # fmt: skip
def test_wheels_stand_on_what_of_the_deck_is_no_beavertail_and_no_neck(deck, first, last, steep) -> None:
    case = ramp_case(deck__profile_xz_m=deck, deck__height_loaded_m=0.80)
    assert case.level_part == pytest.approx((first, last, steep))
    window = standing(case).window
    assert window is not None
    assert window[0] >= first + 0.2 + 2.90 - 1e-9  # the rear wheels 0.2 m past the beavertail
    assert window[1] <= min(last, 8.9 - 2.95) + 1e-9
    (slide,) = ramp_answers(RampFacts(case=case), frozenset({"deck-slide"}))
    assert float(slide.outcome.demand) == pytest.approx(math.hypot(steep, 0.025), rel=0.01)


def test_where_the_deck_comes_down_in_front_no_wheel_stands_on_its_slope() -> None:
    """The demo's low bed is level for 5.60 m; facing the rear, the rear wheels are ahead by the wheelbase."""
    window = standing(ramp_case("detachable_neck", request={"first": "nose"})).window
    assert window is not None
    assert window[1] + 2.90 <= 5.60 + 1e-9


def test_a_neck_in_the_profile_is_not_the_height_the_deck_goes_down_from() -> None:
    deck = [[0.0, 0.52], [1.6, 0.90], [7.4, 0.90], [7.9, 1.30], [8.9, 1.30]]
    case = ramp_case(deck__profile_xz_m=deck)
    assert case.sinking == pytest.approx(0.90 - 0.86)
    high = ramp_case(deck__profile_xz_m=deck, deck__height_loaded_m=None)
    assert overall(high).height_m == pytest.approx(0.90 + 3.15 + 0.05)
