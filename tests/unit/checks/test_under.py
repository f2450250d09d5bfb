"""Ground, soft ground, structures and services: every verdict once, by numbers worked out by hand.

The builders' machine: 14 t, 7 t an axle, two tyres each (3.5 t), 450 kPa, wheelbase 3.2 m, track 1.95 m, centre of
gravity 1.2 m up, brake 3.5 m/s². Band of the mass 200 kg of 14 t.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from tests.unit.checks.beside_cases import (
    BLOCKED,
    CAUTION,
    CLEAR,
    DAY,
    UNKNOWN,
    case_of,
    lacking,
    number,
    on_grid,
    on_list,
    told,
    verdict,
    worst,
)
from travel.checks.ground import covered, mobility_of
from travel.checks.wheels import axle_band_ratio, mass_band_ratio
from travel.domain.machine import Load
from travel.domain.site import Weather
from travel.mechanics.formula import catalogue
from travel.mechanics.grip import front_axle_load, low_wheel_load, rear_axle_load
from travel.mechanics.ground_load import standing_load
from travel.mechanics.slope import share_along
from travel.units import G_MPS2, PA_PER_PSI, kg_to_n

MINE = ("bearing", "passes", "posted-load", "buried-service")
WET, DAMP = (Weather(ground=word, temperature_c=5.0, wind_mps=2.0) for word in ("wet", "damp"))
# braking on the level: 14 000 x 1.2 x 0.35690 / 3.2 = 1 873.7 kg to one axle: 4 436.9 kg a tyre, 1.26767 times as much
PRESSURE = 450.0 * (1.0 + 0.39 * (7000.0 + 14000.0 * 1.2 * 3.5 / G_MPS2 / 3.2) / 7000.0)


def test_worst_axle_is_that_of_the_two_axle_formulas():
    """Braking downhill on 15 %, 5 % across, less the plumb share of the slope that is not taken off here."""
    for grade, cross, brake in ((0.0, 0.0, 0.0), (0.15, 0.0, 0.0), (0.15, 0.05, 3.5)):
        along = share_along(grade) + brake / G_MPS2
        one = standing_load(7000.0, 14000.0, 3.2, 1.2, along, 1.0, 0.0, 1.95)
        axles = [f(kg_to_n(14000.0), sign * grade, 0.0, sign * brake, 1.6, 1.2, 3.2)
                 for f, sign in ((front_axle_load, -1.0), (rear_axle_load, 1.0))]  # fmt: skip
        assert kg_to_n(one) == pytest.approx(max(axles), rel=0.02)
        assert kg_to_n(one) >= max(axles) - 1e-6
        tyre = standing_load(7000.0, 14000.0, 3.2, 1.2, along, 2.0, cross * 1.2, 1.95)
        assert kg_to_n(tyre) == pytest.approx(low_wheel_load(kg_to_n(one), cross, 1.2, 1.95))


# --- bearing ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("road", "weather", "expected"),
    [
        # demand 672.5 kPa; margin 50
        ({"bearing_kpa": 740.0}, None, CLEAR),
        ({"bearing_kpa": 700.0}, None, CAUTION),
        ({"bearing_kpa": 678.0}, None, UNKNOWN),  # within the bands of mass and slopes, 8.0 kPa
        ({"bearing_kpa": 600.0}, None, BLOCKED),
        ({"bearing_wet_kpa": 600.0}, None, CLEAR),  # dry
        ({"bearing_wet_kpa": 600.0}, WET, BLOCKED),
        ({"bearing_kpa": 600.0, "bearing_wet_kpa": 900.0}, WET, BLOCKED),  # wet is never better than now
        ({"bearing_kpa": 600.0, "proven_axle_kg": 8000.0}, None, CLEAR),  # 672.5 x 8/7 = 768.6
        ({"bearing_kpa": 600.0, "proven_axle_kg": 7100.0}, DAMP, CAUTION),
        ({"bearing_kpa": None, "proven_axle_kg": 6000.0}, None, BLOCKED),
        ({"bearing_wet_kpa": None, "proven_axle_kg": 9000.0}, WET, UNKNOWN),  # proved nothing about wet ground
        ({"bearing_kpa": None}, None, UNKNOWN),
        ({"bearing_kpa": None, "surface": "concrete"}, None, CLEAR),
        ({"bearing_kpa": None, "surface": "timber_mat"}, WET, CLEAR),
        ({"surface": None}, None, UNKNOWN),
        ({"grade_pct": None}, None, UNKNOWN),
        ({"cross_slope_pct": None}, None, UNKNOWN),
        ({}, Weather(), UNKNOWN),
    ],
)
def test_bearing(road: dict[str, Any], weather: Weather | None, expected: int):
    assert verdict(case_of(road, weather=weather), "bearing") == expected


def test_pressure_by_numbers():
    assert pytest.approx(672.5, abs=0.1) == PRESSURE
    assert number(case_of(), "bearing", "demand") == pytest.approx(PRESSURE * 1e3)
    # 1 % steeper both ways and 200 kg of 14 t heavier
    front = 7000.0 + 14000.0 * 1.2 * (share_along(0.01) + 3.5 / G_MPS2) / 3.2
    rolled = 14000.0 * 1.2 - (14000.0 - front) * 0.66  # the rear axle swings: it takes what it bears at its pivot
    tyre = (front / 2.0 + rolled * 0.01 / np.sqrt(1.0001) / 1.95) * (1.0 + 200.0 / 14000.0)
    worst_kpa = 450.0 * (1.0 + 0.39 * tyre / 3500.0)
    assert number(case_of(), "bearing", "tolerance") == pytest.approx((worst_kpa - PRESSURE) * 1e3, rel=1e-6)


@pytest.mark.parametrize(
    ("sheet", "named"),
    [
        ({"axles__0__pressure_kpa": None}, "machine.axles.pressure_kpa"),
        ({"brakes__service_mps2": None}, "machine.brakes.service_mps2"),
    ],
)
def test_bearing_needs_the_sheet(sheet: dict[str, Any], named: str):
    case = case_of(sheet=sheet)
    assert named in lacking(case, "bearing")
    assert verdict(case, "bearing") == UNKNOWN


def test_bearing_names_what_the_survey_lacks():
    assert lacking(case_of({"bearing_kpa": None}), "bearing") == {"bearing_kpa"}
    assert lacking(case_of({"bearing_wet_kpa": None}, weather=WET), "bearing") == {"bearing_wet_kpa"}
    assert lacking(case_of(weather=Weather()), "bearing") == {"weather.ground"}


def test_a_load_on_the_forks_presses_the_front():
    load = Load.model_validate({"format": 1, "name": "pallet", "mass_kg": 1500.0, "size_xyz_m": (1.2, 1.0, 1.0),
                                "how": "forks", "x_m": 1.8, "y_m": 0.0, "z_m": 1.0})  # fmt: skip
    carrying = case_of(load=load)
    # front axle: (14 000 x 1.6 + 1 500 x 5.0) / 3.2 = 9 343.75 kg; centre of gravity (14 000 x 1.2 + 1 500) / 15 500
    height, front = (14000 * 1.2 + 1500) / 15500, 9343.75 + 15500 * (14000 * 1.2 + 1500) / 15500 * 3.5 / G_MPS2 / 3.2
    assert carrying.body.cg_m[2] == pytest.approx(height)
    assert number(carrying, "bearing", "demand") == pytest.approx(450e3 * (1 + 0.39 * front / 7000.0))


PATCH = {"id": "g", "surface": "clay", "bearing_kpa": 500.0, "bearing_wet_kpa": 300.0, "cone_index_kpa": 1500.0,
         "remoulding_index": 0.8}  # fmt: skip


def on_patch(y: tuple[float, float] = (-3.0, 3.0), road: Any = None, **patch: Any) -> Any:
    ring = [(-1.0, y[0]), (6.0, y[0]), (6.0, y[1]), (-1.0, y[1])]
    row = {k: v for k, v in (PATCH | patch).items() if v is not None}
    return case_of(road, ground=[row | {"polygon": ring}])


@pytest.mark.parametrize(
    ("of", "expected"),
    [
        ({}, BLOCKED),  # 500 of 672.5
        ({"bearing_kpa": 800.0}, CLEAR),
        ({"bearing_kpa": 800.0, "road": {"bearing_kpa": 100.0}}, CLEAR),  # the polygon stands for the road
        ({"bearing_kpa": 800.0, "road": {"bearing_kpa": 100.0}, "y": (-3.0, 1.0)}, BLOCKED),  # a wheel runs beside it
        ({"y": (1.5, 3.0)}, BLOCKED),  # wheel and wander reach 1.45 m, band 0.1
        ({"y": (1.5, 3.0), "road": {"width_m": 2.9}}, BLOCKED),  # the same beside a road no wider than the wheels reach
        ({"y": (1.6, 3.0)}, CLEAR),  # beside the wheels
        ({"bearing_kpa": None}, UNKNOWN),
        ({"bearing_kpa": None, "road": {"proven_axle_kg": 20000.0}}, UNKNOWN),
        ({"bearing_kpa": 800.0, "valid_until": "2026-03-04"}, CLEAR),
        ({"bearing_kpa": 800.0, "valid_until": "2026-03-03"}, UNKNOWN),
        ({"bearing_kpa": 100.0, "surface": "steel_plate"}, CLEAR),
        ({"bearing_kpa": 800.0, "surface": None, "road": {"surface": None}}, UNKNOWN),
    ],
)
def test_ground_that_was_looked_at_by_itself(of: dict[str, Any], expected: int):
    assert verdict(on_patch(**of), "bearing") == expected


def test_ground_whose_day_is_past_says_so():
    case = on_patch(bearing_kpa=800.0, valid_until="2026-03-03")
    assert lacking(case, "bearing") == {"valid_until lapsed"}


@pytest.mark.parametrize(
    ("half_m", "expected"),
    [
        (1.40, BLOCKED),  # 2.4 m over tyres and 0.25 m off the centreline: the wheel stands on the road's own ground
        (1.50, BLOCKED),  # the strip may lie 0.1 m from where it is drawn
        (1.56, CLEAR),
    ],
)
def test_ground_tested_by_itself_is_as_wide_as_the_wheels_may_stand(half_m: float, expected: int):
    assert verdict(on_patch((-half_m, half_m), road={"bearing_kpa": 100.0}, bearing_kpa=2000.0), "bearing") == expected


def test_in_a_bend_the_wheels_that_cut_in_stand_on_the_ground_tested_too():
    bend = [(10.0 * np.sin(a), 10.0 - 10.0 * np.cos(a)) for a in np.linspace(0.0, 0.6, 13)]
    for half_m, covers in ((1.8, False), (2.9, True)):
        strip = shapely.LineString([(-3.0, 0.0), *bend]).buffer(half_m, join_style="mitre")
        found = case_of(xy=bend, ground=[PATCH | {"geometry": strip}])
        assert covered(found).all() == covers


def test_only_wholly_covered_wheel_tracks_are_taken_from_the_road():
    patch = PATCH | {"polygon": [(10, -3), (30, -3), (30, 3), (10, 3)]}
    long = case_of(xy=[(0, 0), (40, 0)], piece_m=5.0, ground=[patch])
    pieces = long.survey.pieces
    inside = (pieces.from_m >= 10.0 - 1e-6) & (pieces.to_m <= 30.0 + 1e-6)
    assert inside.any()
    np.testing.assert_array_equal(covered(long), inside)


# --- passes -------------------------------------------------------------------------------------------------------


def mobility_by_hand(axle_kg: float) -> float:
    """US units: tyre 17.7 in wide and 52 in across, 17.7 in of clearance, factors 1.05."""
    w, b, d = axle_kg / 0.45359237, 0.45 / 0.0254, 1.32 / 0.0254
    soil = w / (0.5 * 2 * d * b) * (0.142 * w / 1000 - 0.42) / ((10 + b) / 100)
    return (soil + w / 2000 - 0.45 / 0.0254 / 10) * 1.05 * 1.05


def test_mobility_index_by_hand():
    """15 432 lb an axle; 200 kg of 14 t more or less are its tolerance."""
    index = mobility_by_hand(7000.0)
    assert mobility_of(case_of()) == pytest.approx(index)
    once, often = 4.1 * index**0.446, 9.0 * index**0.446  # index over 115
    assert index > 115
    soft = {"surface": "clay", "cone_index_kpa": 900.0, "remoulding_index": 0.8}
    first, second = case_of(soft, weather=DAMP), case_of(soft, weather=DAMP, trip="back")
    assert number(first, "passes", "demand") == pytest.approx(once * PA_PER_PSI)
    assert number(second, "passes", "demand") == pytest.approx(often * PA_PER_PSI)
    assert number(first, "passes", "capacity") == pytest.approx(720e3)
    heavier = 9.0 * mobility_by_hand(7100.0) ** 0.446
    assert number(second, "passes", "tolerance") == pytest.approx((heavier - often) * PA_PER_PSI)


@pytest.mark.parametrize(
    ("road", "weather", "expected"),
    [
        # one pass 243 kPa, more 534 kPa; margin 50
        ({"cone_index_kpa": 900.0}, DAMP, CLEAR),
        ({"cone_index_kpa": 900.0, "passes_done": 5}, DAMP, CLEAR),  # 720
        ({"cone_index_kpa": 700.0, "passes_done": 5}, DAMP, CAUTION),  # 560
        ({"cone_index_kpa": 675.0, "passes_done": 5}, DAMP, UNKNOWN),  # 540, within the band of the mass
        ({"cone_index_kpa": 500.0, "passes_done": 5}, DAMP, BLOCKED),  # 400
        ({"cone_index_kpa": 290.0}, DAMP, BLOCKED),  # 232
        ({"cone_index_kpa": None}, DAMP, UNKNOWN),
        ({"cone_index_kpa": None}, None, CLEAR),  # dry clay, nothing measured: silent
        ({"cone_index_kpa": 290.0}, None, BLOCKED),  # measured: judged
        ({"cone_index_kpa": None, "surface": "compacted_gravel"}, WET, CLEAR),
        ({"cone_index_kpa": 300.0, "surface": "concrete"}, WET, CLEAR),
        ({"cone_index_kpa": 2000.0, "surface": "sand"}, None, UNKNOWN),  # no remoulding of clean sand
        ({"cone_index_kpa": 900.0, "remoulding_index": None}, DAMP, UNKNOWN),
        ({"cone_index_kpa": 900.0, "passes_done": None}, DAMP, UNKNOWN),
        ({"cone_index_kpa": None}, Weather(), UNKNOWN),
    ],
)
def test_passes(road: dict[str, Any], weather: Weather | None, expected: int):
    case = case_of({"surface": "clay", "remoulding_index": 0.8} | road, weather=weather)
    assert verdict(case, "passes") == expected


def test_passes_needs_all_wheels_driven():
    case = case_of({"surface": "clay", "cone_index_kpa": 900.0, "remoulding_index": 0.8},
                   sheet={"axles__0__driven": False}, weather=DAMP)  # fmt: skip
    answer, row = worst(case, "passes")
    assert answer.reason(row) == "outside_validity"


def test_an_axle_switched_off_is_not_what_the_mobility_index_is_for():
    case = case_of({"surface": "clay", "cone_index_kpa": 900.0, "remoulding_index": 0.8},
                   sheet={"axles__0__drive_off": True}, weather=DAMP)  # fmt: skip
    by_drive = {case.configurations.drive[config]: verdict(case, "passes", config)
                for config in range(len(case.configurations))}  # fmt: skip
    assert by_drive == {"four": CLEAR, "two": UNKNOWN}


def test_passes_on_a_patch():
    assert verdict(on_patch(cone_index_kpa=290.0), "passes") == BLOCKED
    softer = {"surface": "clay", "cone_index_kpa": 10.0, "remoulding_index": 0.8}
    assert verdict(on_patch(road=softer), "passes") == CLEAR
    assert lacking(on_patch(remoulding_index=None), "passes") == {"remoulding_index"}


# --- structures ---------------------------------------------------------------------------------------------------


def at_limit(limit: dict[str, Any], sheet: dict[str, Any] | None = None, **road: Any) -> Any:
    return case_of(road, sheet=sheet, limits=[{"id": "l", "xy": (2.5, 0.0), "kind": "bridge", "road": "r"} | limit])


@pytest.mark.parametrize(
    ("limit", "road", "expected"),
    [
        ({"gross_kg": 14800.0}, {}, CLEAR),  # 14 800 - 14 000 - 200 = 600 of 500
        ({"gross_kg": 14500.0}, {}, CAUTION),
        ({"gross_kg": 14100.0}, {}, UNKNOWN),  # within the band of the mass
        ({"gross_kg": 13500.0}, {}, BLOCKED),
        ({"gross_kg": 14800.0}, {"grade_pct": 20.0}, CLEAR),  # the gross is the same on a grade
        ({"gross_kg": 20000.0, "axle_kg": 7700.0}, {}, CLEAR),  # 7 000 and 100
        # 20 %: 14 000 x 1.2 x 0.19612 / 3.2 = 1 029.6 kg: 8 029.6 kg an axle, band 114.7
        ({"gross_kg": 20000.0, "axle_kg": 7700.0}, {"grade_pct": 20.0}, BLOCKED),
        ({"gross_kg": 20000.0, "axle_kg": 8400.0}, {"grade_pct": 20.0}, CAUTION),
        ({"gross_kg": 20000.0, "axle_kg": 8190.0}, {"grade_pct": 20.0}, UNKNOWN),  # at 21 % 8 078.9 kg, and 115.4
        # 8 % across, the rear axle swings: 3 500 + (14 000 x 1.2 - 7 000 x 0.66) x 0.08 / 1.95 = 3 999.7 kg
        ({"wheel_kg": 3700.0}, {}, CAUTION),  # 3 500
        ({"wheel_kg": 3700.0}, {"cross_slope_pct": 8.0}, BLOCKED),
        ({"wheel_kg": 3900.0}, {"cross_slope_pct": 8.0}, UNKNOWN),  # 9 % across, 1 % along: 4 090.0 kg, and 58.4
        ({"gross_kg": 20000.0, "gross_kg_method": "told"}, {}, UNKNOWN),
        ({"gross_kg": 20000.0, "axle_kg": 9000.0}, {"grade_pct": None}, UNKNOWN),
        ({"wheel_kg": 9000.0}, {"cross_slope_pct": None}, UNKNOWN),
        # only an axle load is posted: one axle at a time on 2 m, both on 4 m
        ({"axle_kg": 9000.0, "span_m": 2.0}, {}, CLEAR),
        ({"axle_kg": 9000.0, "span_m": 4.0}, {}, UNKNOWN),
        ({"axle_kg": 9000.0, "gross_kg": 20000.0, "span_m": 4.0}, {}, CLEAR),
        ({"axle_kg": 9000.0, "span_m": 2.0, "span_m_method": "told"}, {}, UNKNOWN),
        ({"axle_kg": 9000.0, "gross_kg": 20000.0, "span_m": 2.0, "span_m_method": "told"}, {}, CLEAR),
    ],
)
def test_posted_loads(limit: dict[str, Any], road: dict[str, Any], expected: int):
    assert verdict(at_limit(limit, **road), "posted-load") == expected


@pytest.mark.parametrize("swings", [0, 1, None])
@pytest.mark.parametrize(("aside_m", "cross_pct"), [(0.0, 8.0), (0.06, 0.0), (-0.06, 5.0), (0.1, 9.0)])
def test_the_worst_tyre_is_that_of_statics_with_the_swinging_axle_on_its_pin(
    swings: int | None, aside_m: float, cross_pct: float
) -> None:
    """Two tyres of the rigid axle and the pin of the other, solved for equal moments: not the formula."""
    sheet: dict[str, Any] = {"attitudes__0__cg_y_m": aside_m}
    for axle in (0, 1):
        if axle == swings:
            own: dict[str, Any] = {"oscillating": True, "pivot_height_m": 0.6, "stop_deg": 8.0}
        else:
            own = {"oscillating": False} | ({"pivot_height_m": None, "stop_deg": None} if axle else {})
        sheet |= {f"axles__{axle}__{name}": value for name, value in own.items()}
    mass, height, half, tan = 14000.0, 1.2, 1.95 / 2, cross_pct / 100.0
    off = abs(aside_m) + tan * height
    if swings is None:
        wanted = 7000.0 * (0.5 + off / (2 * half))
    else:  # rows: plumb forces, moments about the pin's axle, moments about the middle of the ground
        pin = np.array([[1.0, 1.0, 1.0], [3.2, 3.2, 0.0], [half, -half, 0.0]])
        sideways = mass * off - 7000.0 * tan * 0.6  # the pin takes half of the pull 0.6 m up
        wanted = np.linalg.solve(pin, [mass, mass * 1.6, sideways])[:2].max()
        wanted = max(wanted, 3500.0 + 7000.0 * tan * 0.6 / (2 * half))
    case = at_limit({"wheel_kg": 50000.0, "gross_kg": 90000.0}, sheet=sheet, cross_slope_pct=cross_pct)
    found = max(
        a.value("demand", row) for a, row in told(case, "posted-load") if a.part == "posted_wheel" and a.applies()[row]
    )
    assert found == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize("rule", ["bearing", "posted-load"])
def test_the_load_of_a_tyre_needs_the_place_of_the_weight_and_which_axle_swings(rule: str) -> None:
    limit = {"wheel_kg": 50000.0, "gross_kg": 90000.0}
    silent = dict.fromkeys(("axles__1__oscillating", "axles__1__stop_deg", "axles__1__pivot_height_m"))
    assert "machine.axles.oscillating" in lacking(at_limit(limit, silent), rule)
    assert "machine.attitudes.cg_y_m" in lacking(at_limit(limit, {"attitudes__0__cg_y_m": None}), rule)


def test_what_is_missing_of_a_span_is_the_gross():
    assert lacking(at_limit({"axle_kg": 9000.0, "span_m": 4.0}), "posted-load") == {"gross_kg"}


@pytest.mark.parametrize(
    ("limit", "road", "expected"),
    [
        # height band 0.05, margin 0.15
        ({"kind": "buried_service", "cover_m": 1.00}, {}, CLEAR),  # 0.75
        ({"kind": "buried_service", "cover_m": 0.85}, {}, CAUTION),
        ({"kind": "buried_service", "cover_m": 0.76}, {}, UNKNOWN),
        ({"kind": "buried_service", "cover_m": 0.60}, {}, BLOCKED),
        ({"kind": "buried_service", "cover_m": 0.60, "wheel_kg": 9000.0}, {}, CLEAR),  # judged by what the owner said
        ({"kind": "buried_service"}, {}, UNKNOWN),
        ({"kind": "buried_service", "cover_m": 2.0, "cover_m_method": "told"}, {}, UNKNOWN),
        ({"kind": "culvert", "gross_kg": 90000.0, "cover_m": 0.85, "span_m": 0.9}, {}, CLEAR),  # 2 ft
        ({"kind": "culvert", "gross_kg": 90000.0, "cover_m": 0.85, "span_m": 1.5}, {}, BLOCKED),  # 3 ft
        ({"kind": "culvert", "gross_kg": 90000.0, "cover_m": 1.3, "span_m": 3.5}, {}, CLEAR),  # 3.5 ft
        ({"kind": "culvert", "gross_kg": 90000.0, "cover_m": 5.0, "span_m": 4.5}, {}, UNKNOWN),  # beyond the table
        ({"kind": "culvert", "gross_kg": 90000.0, "cover_m": 5.0}, {}, UNKNOWN),
        (
            {"kind": "culvert", "gross_kg": 90000.0, "cover_m": 0.85, "span_m": 0.9, "span_m_method": "told"},
            {},
            UNKNOWN,
        ),
        ({"kind": "culvert", "axle_kg": 20000.0, "cover_m": 0.1, "span_m": 1.5}, {}, CLEAR),  # rated
        ({"kind": "buried_service", "cover_m": 1.00}, {"grade_pct": None}, UNKNOWN),
        ({"kind": "slab", "axle_kg": 20000.0, "gross_kg": 90000.0}, {}, CLEAR),  # nothing buried
    ],
)
def test_cover(limit: dict[str, Any], road: dict[str, Any], expected: int):
    assert verdict(at_limit(limit, **road), "buried-service") == expected


def test_an_axle_heavier_than_road_vehicles_is_outside_what_is_known_of_services():
    heavy = {"axles__0__load_kg": 12000.0, "axles__1__load_kg": 12000.0, "attitudes__0__mass_kg": 24000.0}
    case = case_of(sheet=heavy, limits=[{"id": "l", "xy": (2.5, 0.0), "kind": "buried_service", "cover_m": 3.0}])
    answer, row = worst(case, "buried-service")
    assert answer.reason(row) == "outside_validity"


@pytest.mark.parametrize(("axle_kg", "expected"), [(11200.0, CLEAR), (11450.0, UNKNOWN)])
def test_the_class_of_the_axle_counts_with_its_bands(axle_kg: float, expected: int):
    """200 kg of the mass, and 1 % of slope: 11 200 stays under 11 500 kg, 11 450 may not."""
    heavy = {"axles__0__load_kg": axle_kg, "axles__1__load_kg": axle_kg, "attitudes__0__mass_kg": 2.0 * axle_kg}
    case = case_of(sheet=heavy, limits=[{"id": "l", "xy": (2.5, 0.0), "kind": "buried_service", "cover_m": 3.0}])
    assert verdict(case, "buried-service") == expected


# --- every rule here ----------------------------------------------------------------------------------------------


def busy() -> Any:
    return case_of(
        {"surface": "clay", "cone_index_kpa": 800.0, "remoulding_index": 0.8, "passes_done": 3, "grade_pct": 6.0,
         "cross_slope_pct": 3.0, "bearing_kpa": 690.0, "proven_axle_kg": 7000.0},
        xy=[(0, 0), (40, 0)], weather=DAMP,
        ground=[PATCH | {"polygon": [(10, -3), (20, -3), (20, 3), (10, 3)]},
                PATCH | {"id": "h", "surface": "sand", "polygon": [(25, -3), (30, -3), (30, 0), (25, 0)]}],
        limits=[{"id": "a", "xy": (30, 0), "kind": "bridge", "gross_kg": 14500.0, "axle_kg": 9000.0, "wheel_kg": 3900},
                {"id": "b", "xy": (35, 0), "kind": "culvert", "gross_kg": 14500.0, "cover_m": 0.9, "span_m": 1.5}],
    )  # fmt: skip


@pytest.mark.parametrize("rule", MINE)
def test_by_columns_and_by_rows(rule: str):
    case = busy()
    assert len(np.unique(on_grid(case, rule))) > 1
    np.testing.assert_array_equal(on_grid(case, rule), on_list(case, rule))


@pytest.mark.parametrize("rule", MINE)
def test_terms_put_through_the_formula_give_the_numbers(rule: str):
    formulas, case = catalogue(), busy()
    of, seen = case.rulebook.rules[rule], 0
    for piece in range(len(case.survey.pieces)):
        for answer, row in told(case, rule, piece=piece):
            for name, terms, formula in (("demand", answer.outcome.terms, of.formula),
                                         ("capacity", answer.outcome.capacity_terms, of.capacity_formula)):  # fmt: skip
                if terms:
                    values = {key: float(np.broadcast_to(v, answer.position.shape)[row]) for key, v in terms.items()}
                    assert float(formulas[formula](**values)) == pytest.approx(answer.value(name, row))
                    seen += 1
    assert seen or not of.formula


@pytest.mark.parametrize("grade", [0.0, 4.0, 9.0, 15.0, 22.0])
def test_steeper_heavier_wetter_is_never_better(grade: float):
    def of(**changes: Any) -> Any:
        allowed = {"gross_kg": 14900.0, "axle_kg": 8400.0, "wheel_kg": 4200.0}
        limits = [{"id": "l", "xy": (2.5, 0.0), "kind": "bridge"} | allowed]
        road = {"grade_pct": grade, "bearing_kpa": 720.0, "bearing_wet_kpa": 690.0} | changes.pop("road", {})
        return case_of(road, limits=limits, **changes)

    heavier = {"axles__0__load_kg": 7200.0, "axles__1__load_kg": 7200.0, "attitudes__0__mass_kg": 14400.0}
    base = of()
    for rule in ("bearing", "posted-load"):
        assert verdict(of(road={"grade_pct": grade + 3.0}), rule) >= verdict(base, rule)
        assert verdict(of(road={"cross_slope_pct": 4.0}), rule) >= verdict(base, rule)
    assert verdict(of(weather=WET), "bearing") >= verdict(base, "bearing")
    assert verdict(of(sheet=heavier), "posted-load") >= verdict(base, "posted-load")


def test_layers_nobody_looked_at():
    case = case_of(surveyed={"roads": {"date": DAY.date()}})
    assert {verdict(case, rule) for rule in MINE} == {UNKNOWN}


@pytest.mark.parametrize("at_m", [2.6, 0.4])
def test_a_loads_tolerance_counts_where_the_load_acts(at_m: float):
    """Axle loads worked out again with the load heavier by its tolerance: more on the front than its share of gross.

    Load 2.6 m ahead of the front axle, axles 3.2 m apart: 0.5 + (2.6 + 1.6) / 3.2 = 1.81 of it on the front.
    """

    def body(mass_kg: float):
        load = Load.model_validate(
            {"format": 1, "name": "pallet", "mass_kg": mass_kg, "mass_tolerance_kg": 50.0, "how": "forks",
             "size_xyz_m": (1.2, 1.0, 1.0), "x_m": at_m, "y_m": 0.0, "z_m": 1.0}
        )  # fmt: skip
        return case_of(load=load, sheet={"attitudes__0__mass_tolerance_kg": 120.0})

    one, more = body(1500.0), body(1550.0)
    by_load = np.abs(more.body.axle_load_kg - one.body.axle_load_kg)
    own = one.body.axle_load_kg - 1500.0 * by_load / 50.0 * np.sign(more.body.axle_load_kg - one.body.axle_load_kg)
    expected = by_load + 120.0 * own / own.sum()
    assert axle_band_ratio(one) * one.body.axle_load_kg == pytest.approx(expected)
    assert by_load[0] == pytest.approx(50.0 * (0.5 + (at_m + 1.6) / 3.2))
    assert expected[0] > mass_band_ratio(one) * one.body.axle_load_kg[0]
