"""What the sheet's half-bands of mass and centre of gravity take off, by levers taken by hand; absent: of its class."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.ramp.ramps import ramp_case
from tests.unit.transport.hauls import judged, yard
from travel.checks.haul import haul_body, make_rig
from travel.checks.ramp import RampAnswer, RampCase, RampFacts, ramp_answers
from travel.checks.ramp_rig import held
from travel.checks.ramp_road import overall, placed_on_deck
from travel.domain.verdict import Verdict
from travel.units import G_MPS2

MASS, BAND_KG, BAND_M, BASE, HINGE, CG = 16500.0, 200.0, 0.05, 8.30, 2.60, 1.476
LAST_M = 5.95
"""Where the front axle stands with the machine's front at the deck's end: 8.90 less 2.95 m."""


def one(case: RampCase, rule: str, part: str = "") -> RampAnswer:
    """Give a rule's only answer, or that of a part."""
    found = [a for a in ramp_answers(RampFacts(case=case), frozenset({rule})) if part in a.part]
    assert len(found) == 1
    return found[0]


def bogie_kg(mass: float, cg: float) -> float:
    """Give what the bogie carries with the front axle as far forward as it may stand."""
    return 6500.0 + mass * (BASE + HINGE - (LAST_M - cg)) / BASE


@pytest.mark.parametrize(("spare_kg", "expected"), [
    (-800.0, Verdict.BLOCKED), (-150.0, Verdict.UNKNOWN), (150.0, Verdict.UNKNOWN),
    (400.0, Verdict.CAUTION), (800.0, Verdict.CLEAR),
])  # fmt: skip
def test_the_window_on_the_deck_may_be_shorter_by_mass_and_centre_of_gravity(spare_kg, expected):
    rating = bogie_kg(MASS, CG) + spare_kg
    answer = one(ramp_case(trailer__bogie_rating_kg=rating), "deck-position")
    assert answer.verdict == expected
    heaviest = MASS + BAND_KG
    shorter = (bogie_kg(heaviest, CG + BAND_M) - rating) / heaviest - (bogie_kg(MASS, CG) - rating) / MASS
    assert float(answer.outcome.tolerance) == pytest.approx(shorter * BASE, abs=1e-6)


def test_the_coupling_may_carry_less_by_mass_at_the_hinge_and_by_the_centre_of_gravity():
    answer = one(ramp_case(), "nose-lift")
    assert float(answer.outcome.tolerance) == pytest.approx((BAND_KG * HINGE + MASS * BAND_M) / BASE)


@pytest.mark.parametrize(("rule", "part"), [("nose-lift", "coupling"), ("ramp-angle", "pull"), ("deck-position", "")])
def test_bands_nobody_states_are_those_of_the_class_and_never_none(rule, part):
    own = {"attitudes__0__mass_tolerance_kg": None, "attitudes__0__cg_tolerance_m": None}
    case = ramp_case(own=own, trailer__bogie_rating_kg=bogie_kg(MASS, CG) + 400.0)
    assert float(one(case, rule, part).outcome.tolerance) > 0.0


@pytest.mark.parametrize("side_m", [0.15, -0.15])
def test_one_leg_takes_more_where_the_centre_of_gravity_lies_to_a_side(side_m):
    soft = yard(area={"surface": "compacted_gravel", "bearing_kpa": 3000.0})
    _, found = judged(soft, own={"attitudes__0__cg_y_m": side_m})
    (leg,) = found["ground under the rear legs"]
    share = 0.5 + (0.15 + BAND_M) / 2.02
    assert float(leg.outcome.demand) == pytest.approx((MASS + BAND_KG) * G_MPS2 * share / 0.09)


def test_a_height_of_unknown_accuracy_is_off_by_no_less_than_its_class_wherever_it_counts():
    unknown, stated = ({"attitudes__0__height_tolerance_m": band} for band in (None, 0.10))
    rows = {"id": "o", "kind": "structure", "clearance_m": 4.9, "polygon": [(98, -3), (102, -3), (102, 3)]}
    case, same = ramp_case(own=unknown), ramp_case(own=stated)
    assert case.height_band_m == 0.10
    assert overall(case).height_m == overall(same).height_m
    assert haul_body(make_rig(case, True)).height_tolerance_m == haul_body(make_rig(same, True)).height_tolerance_m
    bands = [judged(yard(overheads=[rows]), own=own)[1]["overhead"][0].outcome.tolerance for own in (unknown, stated)]
    assert bands[0] == bands[1]


def test_legs_nobody_speaks_of_hold_the_rig_no_better_than_legs_up_or_down():
    slope = {"ground_slope_pct": 6.0}
    cases = {word: ramp_case(trailer__rear_legs=word, request=slope) for word in ("up", "down", None)}
    there = {word: held(RampFacts(case=case)).there for word, case in cases.items()}
    assert (there[None] <= np.minimum(there["up"], there["down"]) + 1e-6).all()
    assert there["up"].max() > there["down"].max() + 1000.0


def test_loads_on_the_road_nearer_to_the_law_than_the_sheet_tells_are_unknown():
    """EU: 40 t in all, the machine's mass known to 200 kg; the bogie's part by moments about the coupling."""

    def lighter(spare_kg: float) -> RampCase:
        more = 40000.0 - spare_kg - 36000.0
        changes = {"trailer__mass_kg": 10400.0 + more, "trailer__coupling_kg": 3900.0 + more}
        return ramp_case(request={"jurisdiction": "eu"}, **changes)

    assert one(lighter(201.0), "axle-law", "gross").verdict == Verdict.CLEAR
    assert one(lighter(199.0), "axle-law", "gross").verdict == Verdict.UNKNOWN
    assert one(lighter(-1.0), "axle-law", "gross").verdict == Verdict.CAUTION
    case = lighter(1000.0)
    front = placed_on_deck(case).best
    assert front is not None
    behind = BASE + HINGE - (front - CG)
    most = (MASS + BAND_KG) * (behind + BAND_M) / BASE - MASS * behind / BASE
    assert float(one(case, "axle-law", "tridem").outcome.tolerance) == pytest.approx(most)


def test_driving_axles_nearer_to_their_quarter_than_the_sheet_tells_are_unknown():
    """EU, 25 % of the gross: with the machine lighter and its centre of gravity further back they carry less."""

    def driven(own_kg: float) -> RampCase:
        axles = {"towing__axles__1__load_kg": own_kg, "towing__axles__2__load_kg": own_kg}
        return ramp_case(request={"jurisdiction": "eu"}, **axles)

    verdicts = [one(driven(kg), "axle-law", "driving").verdict for kg in (1900.0, 480.0, 440.0)]
    assert verdicts == [Verdict.CLEAR, Verdict.UNKNOWN, Verdict.CAUTION]
