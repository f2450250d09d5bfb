"""The combination as a vehicle of the way: its numbers, what its sheet leaves unknown, its height against bridges."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.planning import case_of
from tests.unit.transport.hauls import case_on, machine, ramp_case, yard
from travel.checks import Case, answers_for
from travel.checks.haul import LEFT_OUT, haul_body, make_rig
from travel.checks.haul_needs import NEEDS
from travel.checks.registry import parts
from travel.domain.verdict import Verdict
from travel.mechanics.turning import trailing_radius_sum_of_squares


def asked(case: Case) -> dict[str, tuple[Verdict, set[str]]]:
    """Give by rule the worst verdict on every cell, and the names of what is missing."""
    pieces = np.arange(len(case.survey.pieces))
    ones = np.ones(len(pieces), dtype=np.int64)
    out: dict[str, tuple[Verdict, set[str]]] = {}
    for answer in answers_for(case, pieces, ones, ones * 0):
        old, names = out.get(answer.rule, (Verdict.CLEAR, set()))
        rows = [int(row) for row in np.flatnonzero(answer.verdict == Verdict.UNKNOWN)]
        names |= {name for row in rows for name in answer.missing(row)}
        out[answer.rule] = (max(old, Verdict(int(answer.verdict.max(initial=0)))), names)
    return out


def test_masses_and_axles_add_up():
    laden, empty = (make_rig(ramp_case(), laden) for laden in (True, False))
    assert laden.mass_kg == pytest.approx(9100 + 10400 + 16500)
    assert empty.mass_kg == pytest.approx(9100 + 10400)
    for rig in (laden, empty):
        assert rig.axle_kg.sum() == pytest.approx(rig.mass_kg)
    # empty, by hand: 3 900 kg on a kingpin 3.75 m behind the steered axle, the drive axles' middle at 3.875 m
    share = 3.75 / 3.875
    assert empty.axle_kg[0] == pytest.approx(5300 + 3900 * (1 - share))
    assert empty.axle_kg[1] == pytest.approx(1900 + 3900 * share / 2)
    assert empty.axle_kg[3:] == pytest.approx([6500 / 3] * 3)
    assert empty.axle_x_m == pytest.approx([0, -3.20, -4.55, -10.74, -12.05, -13.36])


def test_height_is_the_deck_and_the_machine_or_the_cab():
    laden, empty = (make_rig(ramp_case(), laden) for laden in (True, False))
    assert laden.height_m == pytest.approx(0.86 + 3.15)
    assert empty.height_m == pytest.approx(3.20)
    assert make_rig(ramp_case(combination__height_m=4.30), True).height_m == pytest.approx(4.30)


def test_bands_of_a_rig_are_those_of_the_machine_and_of_the_rig_itself():
    """Towing vehicle and trailer state none, so 3 % of their 19.5 t; the machine 200 kg and 0.03 m, or class values."""
    laden, empty = (make_rig(ramp_case(), laden) for laden in (True, False))
    assert laden.mass_band_kg == pytest.approx(0.03 * 19500 + 200)
    assert empty.mass_band_kg == pytest.approx(0.03 * 19500)
    assert laden.height_band_m == pytest.approx(0.03 + 0.02)
    silent = {"attitudes__0__mass_tolerance_kg": None, "attitudes__0__height_tolerance_m": None}
    of_class = make_rig(ramp_case(own=silent), True)
    assert of_class.mass_band_kg == pytest.approx(0.03 * (19500 + 16500))
    assert of_class.height_band_m == pytest.approx(0.10 + 0.02)
    assert of_class.height_m == pytest.approx(0.86 + 3.15)


def test_off_tracking_is_that_of_the_hinged_rig():
    rig = make_rig(ramp_case(), True)
    for radius in (12.0, 20.0, 60.0):
        hinged = trailing_radius_sum_of_squares(radius, 3.875**2 + 8.30**2, (3.875 - 3.75) ** 2)
        assert math.sqrt(radius**2 - rig.base_m**2) == pytest.approx(hinged)


def test_it_turns_round_only_on_the_ground_its_sheet_asks_for():
    assert case_on(yard()).outer_radius_m["front"] == 12.5
    assert case_on(yard(), combination__turn_radius_m=None).outer_radius_m["front"] == math.inf


def test_a_told_rig_leaves_nothing_unknown_on_a_told_road():
    found = asked(case_on(yard()))
    assert {rule for rule, (verdict, _) in found.items() if verdict >= Verdict.UNKNOWN} == {
        "survey-age"
    }  # no day is stated
    assert not set(found) & set(LEFT_OUT)


@pytest.mark.parametrize(
    ("rule", "name"),
    sorted(
        (rule, name)
        for rule, names in NEEDS.items()
        for name in names
        if name.startswith("combination.") and name != "combination.front_overhang_m"
    ),
)
def test_each_value_left_out_leaves_its_rules_unknown_by_name(rule, name):
    people = [{"id": "p", "kind": "walkway", "xy": [(0, 7), (300, 7)], "control": "barriers"}]
    wire = [{"id": "w", "kind": "power_line", "xy": [(150, -40), (150, 40)], "clearance_m": 9.0, "voltage_kv": 11.0,
             "owner_clearance_m": 3.0, "sag_m": 1.0, "at_temperature_c": 10.0, "sag_max_m": 1.0,
             "measured_at_c": 10.0, "half_spread_m": 0.5}]  # fmt: skip
    limits = [
        {"id": "b", "kind": "bridge", "xy": [(200, 0), (210, 0)], "gross_kg": 60000, "axle_kg": 20000, "span_m": 10},
        {"id": "s", "kind": "buried_service", "xy": [(230, -5), (230, 5)], "cover_m": 2.0},
    ]
    edges = [{"id": "e", "kind": "excavation", "depth_m": 1.0, "soil": "type_a", "xy": [(0, 14), (300, 14)]}]
    site = yard(
        road={"surface": "compacted_gravel", "cone_index_kpa": 2400.0, "remoulding_index": 1.0, "bearing_kpa": 2000.0,
              "bearing_wet_kpa": 2000.0, "traffic": "two_way", "other_width_m": 2.5, "grade_pct": -9.0,
              "edge_left": "verge", "xyz": [(0, 0), (100, 0), (240, 0), (270, 8), (300, 0)]},
        people=people, overheads=wire, limits=limits, edges=edges,
    )  # fmt: skip
    case = case_on(site, **{name.replace(".", "__"): None})
    assert name in case.lacking(rule)
    if rule in {part.rule for part in parts()}:
        found = asked(case)
        assert found[rule][0] == Verdict.UNKNOWN
        assert name in found[rule][1]


def test_a_machine_with_no_place_on_the_deck_leaves_the_axle_loads_open():
    case = case_on(yard(), trailer__bogie_rating_kg=5000)
    assert "a place of the machine on the deck" in case.lacking("posted-load")
    assert case_on(yard(), laden=False, trailer__bogie_rating_kg=5000).lacking("posted-load") == ()


@pytest.mark.parametrize(("clearance_m", "alone", "carried"), [
    (3.60, Verdict.CLEAR, Verdict.BLOCKED),
    (4.80, Verdict.CLEAR, Verdict.CLEAR),
    (3.00, Verdict.BLOCKED, Verdict.BLOCKED),
])  # fmt: skip
def test_it_stands_higher_under_a_bridge_than_the_machine_alone(clearance_m, alone, carried):
    bridge = [{"id": "o", "kind": "structure", "clearance_m": clearance_m, "xy": [(150, -10), (150, 10)]}]
    site = yard(overheads=bridge)
    assert asked(case_of(site, machine()))["headroom"][0] == alone
    assert asked(case_on(site))["headroom"][0] == carried


def test_a_wire_the_machine_passes_under_may_be_too_low_for_it_on_the_trailer():
    wire = [{"id": "w", "kind": "power_line", "xy": [(150, -40), (150, 40)], "clearance_m": 6.8, "voltage_kv": 11.0,
             "owner_clearance_m": 3.0, "sag_m": 1.0, "at_temperature_c": 10.0, "sag_max_m": 1.0,
             "measured_at_c": 10.0, "half_spread_m": 0.5}]  # fmt: skip
    site = yard(overheads=wire)
    alone, carried = asked(case_of(site, machine())), asked(case_on(site))
    assert carried["line-clearance"][0] > alone["line-clearance"][0]


@pytest.mark.parametrize("height_m", [3.2, 3.8, 4.2, 4.6])
def test_a_higher_rig_is_never_better(height_m):
    bridge = [{"id": "o", "kind": "structure", "clearance_m": 4.5, "xy": [(150, -10), (150, 10)]}]
    site = yard(overheads=bridge)
    lower, higher = (
        asked(case_on(site, laden=False, combination__height_m=h))["headroom"][0] for h in (height_m, height_m + 0.4)
    )
    assert higher >= lower


def test_the_belly_of_the_trailer_is_rolled_over_a_hump():
    flat, humped = (
        case_on(
            yard(road={"xyz": [(0, 0, 10), (100, 0, 10), (150, 0, 10), (153, 0, 10 + h), (156, 0, 10), (300, 0, 10)]})
        )
        for h in (0.0, 0.60)
    )
    assert asked(flat)["underbody"][0] == Verdict.CLEAR
    assert asked(humped)["underbody"][0] == Verdict.BLOCKED


def test_the_stand_in_stands_on_all_its_axles():
    rig = make_rig(ramp_case(), True)
    body = haul_body(rig)
    assert len(body.supports_m) == 4
    assert body.cg_m[2] == pytest.approx((19500 * 1.05 + 16500 * (0.86 + ramp_case().body.cg_m[2])) / 36000)


def test_where_the_neck_comes_off_the_front_overhang_is_needed():
    told = make_rig(ramp_case("detachable_neck"), True)
    assert told.front_x_m == pytest.approx(1.35)
    lacking = case_on(yard(), name="detachable_neck", combination__front_overhang_m=None)
    for rule in ("width", "people", "turn"):
        assert "combination.front_overhang_m" in lacking.lacking(rule)
    assert "combination.front_overhang_m" not in case_on(yard()).lacking("width")
