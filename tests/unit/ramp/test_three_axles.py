"""More than two axles: bounds against a linear program, a rigid body that falls, and springs that lift off."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linprog, minimize

from tests.unit.ramp.ramps import machine, ramp_case
from travel.checks import make_body
from travel.checks.ramp import RampCase, RampFacts, ramp_answers
from travel.checks.ramp_pairs import may_carry
from travel.domain.machine import Machine
from travel.domain.verdict import Verdict
from travel.mechanics.roll_engine import offset_line, placed, smallest_gap, stand, stand_sprung
from travel.planning.ramp import ask_ramp
from travel.planning.ramp_compose import RampContext, compose_ramp
from travel.planning.ramp_positions import axle_loads_kg, clearance, coupling
from travel.units import G_MPS2, n_to_kg

LONG: dict[str, Any] = {
    "ramps__0__length_m": 9.0,
    "deck__profile_xz_m": [[0.0, 0.9], [9.0, 0.9]],
    "deck__height_loaded_m": None,
}
PLACES = (0.0, -2.1, -3.9)


def on_axles(places: tuple[float, ...], **own: Any) -> Machine:
    """Give the middle machine on these axles."""
    sheet = machine(**own)
    cut = [sheet.axles[0].model_copy(update={"name": f"axle {n}", "x_m": x}) for n, x in enumerate(places)]
    return sheet.model_copy(update={"axles": tuple(cut)})


def case_on(places: tuple[float, ...] = PLACES, name: str = "semi_low_loader", **changes: Any) -> RampCase:
    own = changes.pop("own", {})
    sheet = on_axles(places, **own)
    body = make_body(sheet, None)
    assert body is not None
    return replace(ramp_case(name, **changes), machine=sheet, body=body)


def most(weight: float, x: np.ndarray, cg: float, gain: np.ndarray) -> float:
    """Greatest sum of gain times load over all loads that statics allows."""
    found = linprog(-gain, A_eq=[np.ones(len(x)), x], b_eq=[weight, weight * cg], bounds=(0, None))
    assert found.success
    return float(-(found.fun or 0.0))


@pytest.mark.parametrize("places", [PLACES, (0.0, -1.3, -3.2, -4.4), (0.0, -3.0, -4.2)])
def test_axle_loads_on_the_level_are_the_most_that_statics_allows(places: tuple[float, ...]) -> None:
    facts = RampFacts(case=case_on(places, own={"attitudes__0__cg_tolerance_m": 0.0}))
    weight, x = 16500.0, np.array(places)
    for axle, row in enumerate(axle_loads_kg(facts)):
        wanted = most(weight, x, facts.case.body.cg_m[0], np.eye(len(x))[axle])
        assert row[0] == pytest.approx(wanted, abs=1e-3)


def test_loads_on_an_even_ramp_and_on_the_coupling_bound_the_linear_program() -> None:
    facts = RampFacts(case=case_on(**LONG))
    case, weight = facts.case, 16500.0
    slope = np.tan(np.arcsin(0.9 / 9.0))
    at = int(np.flatnonzero(facts.loads.on_ramp.all(axis=0))[30])
    place = facts.loads.x[0, at] + case.outline.rest[:, 0] / np.sqrt(1 + slope**2)
    cg_x = float(placed_x(facts, at))
    rows = axle_loads_kg(facts)
    for axle in range(3):
        wanted = most(weight, place, cg_x, np.eye(3)[axle]) / np.sqrt(1 + slope**2)
        assert rows[axle][at] == pytest.approx(wanted, rel=2e-3)
    # what each axle takes off the coupling: its share at the hinge times its lever behind the bogie
    share = np.clip((place - case.foot) / -case.foot, 0.0, 1.0)
    off = most(weight, place, cg_x, share * 2.60 / 8.30)
    assert n_to_kg(coupling(facts)[at]) == pytest.approx(3900 - off, abs=6.0)
    both = most(weight, place, cg_x, np.ones(3)) / 2
    assert max(facts.carried, key=lambda f: f.ramp_n["left"].max()).ramp_n["left"].max() / G_MPS2 >= both


def placed_x(facts: RampFacts, at: int) -> float:
    shape, stood = facts.case.outline, facts.rolling.stood
    return float(placed(stood, shape.lead_r, shape.cg_x, shape.cg_z)[0][at])


def settled(case: RampCase, line: np.ndarray, lead_x: float, stiffness: np.ndarray) -> tuple[float, float]:
    """Height of the leading axle and sine of the pitch of least energy: springs that only push, and the weight."""
    shape, weight = case.outline, 1.0
    rest, radius = shape.rest.T
    # how far each is squashed on level ground, where the radius is that of the sheet
    system = np.array([[stiffness.sum(), stiffness @ rest], [stiffness @ rest, stiffness @ rest**2]])
    down, lean = np.linalg.solve(system, [weight, weight * shape.cg_x])
    squash = down + lean * rest

    def energy(pose: np.ndarray) -> float:
        sin = pose[1]
        cos = np.sqrt(1 - sin**2)
        x = lead_x + rest * cos - (radius - shape.lead_r) * sin
        free = pose[0] + rest * sin + (radius - shape.lead_r) * cos
        ground = np.array(
            [offset_line(line[:, 0], line[:, 1], np.array(a), r)[0] for a, r in zip(x, radius, strict=True)]
        )
        push = np.maximum(squash + ground - free, 0.0)
        return float(0.5 * stiffness @ push**2 + weight * (pose[0] + shape.cg_x * sin))

    start = stand_sprung(line[:, 0], line[:, 1], np.array(lead_x), rest, radius)
    found = minimize(energy, [float(start.lead_z), float(start.sin)], method="Nelder-Mead",
                     options={"xatol": 1e-9, "fatol": 1e-14, "maxiter": 4000})  # fmt: skip
    return float(found.x[0]), float(found.x[1])


@pytest.mark.parametrize("soft_m", [0.3, 0.04, 0.001])
@pytest.mark.parametrize("first", ["nose", "tail"])
def test_no_way_of_standing_on_springs_comes_nearer_than_the_bound(soft_m: float, first: str) -> None:
    case = case_on(request={"first": first}, deck__height_loaded_m=None)
    facts = RampFacts(case=case)
    bound, line, shape = clearance(facts), case.profile(case.ramps[0]), case.outline
    stiffness = np.full(3, 1.0 / 3.0 / soft_m)
    close = []
    for at in range(0, len(bound), 29):
        lead_x = float(facts.rolling.lead_x[at])
        z, sin = settled(case, line, lead_x, stiffness)
        like = stand_sprung(line[:, 0], line[:, 1], np.array([lead_x]), *shape.rest.T)
        pose = replace_pose(like, z, sin)
        gap = smallest_gap(line[None, :, 0], line[None, :, 1], pose, shape.lead_r,
                           (shape.under[None, :, 0], shape.under[None, :, 1])).value[0]  # fmt: skip
        known = bound[max(at - 12, 0) : at + 13]
        assert gap >= np.nanmin(known) - 2e-3
        close.append(gap - np.nanmin(known))
    assert min(close) < 0.02


def replace_pose(like: Any, z: float, sin: float) -> Any:
    return replace(like, lead_z=np.array([z]), sin=np.array([sin]), cos=np.array([np.sqrt(1 - sin**2)]))


def test_like_springs_on_two_axles_are_the_rigid_body() -> None:
    case = ramp_case()
    line, shape = case.profile(case.ramps[0]), case.outline
    x = np.linspace(*case.span, 200)
    rigid = stand(line[None, :, 0], line[None, :, 1], x, (shape.lead_r, shape.trail_r), shape.base)
    sprung = stand_sprung(line[None, :, 0], line[None, :, 1], x, *shape.rest.T)
    np.testing.assert_allclose(sprung.sin, rigid.sin, atol=1e-6)
    np.testing.assert_allclose(sprung.lead_z, rigid.lead_z, atol=1e-6)


def test_sets_that_may_carry_have_the_centre_of_gravity_between_them() -> None:
    case = case_on(own={"attitudes__0__cg_tolerance_m": 0.0})
    sets = may_carry(case)
    assert sets[0] == (0, 2)
    assert set(sets) == {(0, 1), (0, 2), (0, 1, 2)}
    assert (1, 2) not in sets
    assert len(may_carry(ramp_case())) == 1


def test_a_third_axle_that_carries_nothing_new_in_between_is_never_better() -> None:
    """The outer pair is one way of standing among others, so a middle axle can only take away."""
    rules = ("ramp-crest", "ramp-approach", "ramp-rating", "nose-lift", "rig-hold")
    two, three = case_on((0.0, -3.9)), case_on(PLACES)
    for rule in rules:
        for before, after in zip(asked(two, rule), asked(three, rule), strict=True):
            assert (
                after.outcome.capacity - after.outcome.demand <= before.outcome.capacity - before.outcome.demand + 1e-6
            )
            assert after.verdict >= before.verdict


def asked(case: RampCase, rule: str) -> list[Any]:
    return sorted(ramp_answers(RampFacts(case=case), frozenset({rule})), key=lambda a: a.part)


def test_tipping_back_is_about_the_outermost_axle_alone() -> None:
    found = {}
    for places in ((0.0, -3.9), PLACES, (0.0, -1.6, -3.9)):
        (answer,) = (a for a in asked(case_on(places), "ramp-angle") if a.part == "tipping back")
        found[places] = answer
        assert answer.verdict == Verdict.CLEAR
    assert found[PLACES].outcome.capacity == pytest.approx(found[(0.0, -3.9)].outcome.capacity, rel=0.15)


@pytest.mark.parametrize("first", ["nose", "tail"])
def test_the_whole_answer_of_three_axles(first: str) -> None:
    import datetime as dt

    case = case_on(request={"first": first})
    answer = ask_ramp(case)
    context = RampContext(inputs=(), doubts=(), created_at=dt.datetime(2026, 3, 2, 8, tzinfo=dt.UTC), program={})
    result = compose_ramp(answer, context, ())
    assert len(result.axle_loads_kg) == 3
    assert all(len(pose.wheels_xzr) == 3 for pose in result.side_view.poses)
    assert any("share its weight" in caution for caution in result.cautions)
    least = min(value for value in result.clearance_m if value is not None)
    assert result.smallest_clearance.value_m is not None
    assert result.smallest_clearance.value_m == pytest.approx(least, abs=2e-3)
    assert result.smallest_clearance.value_m <= least + 1e-9
    tight = result.side_view.poses[-1]
    tail = tight.wheels_xzr[0][0] - tight.wheels_xzr[-1][0]
    assert tail == pytest.approx(3.9, abs=0.1)
    assert tight.at_m == pytest.approx(tight.wheels_xzr[0][0], abs=0.05)
