"""Width, shoulders, steering mode, edges: every verdict once, by numbers worked out by hand.

The builders' machine: 2.4 m wide and over tyres up to 1.5 m of height, 2.0 m at 3.1 m; wheelbase 3.2 m, front end
1.6 m ahead of the front axle, rear end 4.6 m behind it; 14 t, 3.5 t a tyre, 450 kPa, tyre 0.45 m wide. Bands of the
site in memory: width 0.05 m, plan 0.10 m. Margins 0.25 m a side, wander 0.25 m.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.unit.checks.beside_cases import (
    BLOCKED,
    CAUTION,
    CLEAR,
    DAY,
    UNKNOWN,
    case_of,
    controls,
    lacking,
    number,
    on_grid,
    on_list,
    told,
    verdict,
    worst,
)
from travel.checks.beside import width_below
from travel.checks.edges import crest_standoffs
from travel.domain.machine import Load
from travel.domain.site import Weather
from travel.mechanics.formula import catalogue
from travel.units import kmh_to_mps

MINE = ("width", "shoulder", "steer-mode", "edge-standoff")
WET = Weather(ground="wet", temperature_c=5.0, wind_mps=2.0)
STEERING = [{"mode": "front", "lock_deg": 30.0, "top_kmh": 25.0}, {"mode": "all", "lock_deg": 30.0, "top_kmh": 12.0},
            {"mode": "crab", "lock_deg": 30.0, "top_kmh": 8.0}]  # fmt: skip
MODES = {"front": 0, "all": 3, "crab": 6}


def arc(radius: float, step: float = 0.5, turn: float = 2.0) -> list[tuple[float, float]]:
    """Give points on an arc to the left."""
    angles = np.arange(0.0, turn, step / radius)
    return [(radius * np.sin(a), radius * (1.0 - np.cos(a))) for a in angles]


# --- width ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("width", "expected"),
    [
        (3.46, CLEAR),  # 3.46 - 2.90 - 0.05 = 0.51 of 0.50
        (3.20, CAUTION),  # 0.25
        (2.92, UNKNOWN),  # 0.02 left, band 0.05
        (2.84, BLOCKED),  # 0.06 short, more than the band
    ],
)
def test_width(width: float, expected: int):
    case = case_of({"width_m": width})
    assert number(case, "width", "demand") == pytest.approx(2.9)
    assert verdict(case, "width") == expected


def test_leaning_takes_width():
    """10 %: low side (1.2 + 1.5 x 0.1) / 1.00499 = 1.34331, high side 1.2 / 1.00499 = 1.19403: 0.13734 more."""
    assert number(case_of({"cross_slope_pct": 10.0}), "width", "demand") == pytest.approx(2.9 + 0.13734, abs=1e-5)


@pytest.mark.parametrize(
    ("mode", "swept"),
    [
        # radius 20 of the front axle; turning centre 3.2 behind: R 19.7424; corner sqrt(20.9424² + 4.8²), inner 18.5424
        ("front", np.hypot(np.sqrt(400 - 3.2**2) + 1.2, 4.8) - (np.sqrt(400 - 3.2**2) - 1.2)),
        # turning centre in the middle: R 19.9359, both ends 3.2 or 3.0 from it
        ("all", np.hypot(np.sqrt(400 - 1.6**2) + 1.2, 3.2) - (np.sqrt(400 - 1.6**2) - 1.2)),
        # 2.4 cos 30° + 6.2 sin 30°, no turning
        ("crab", 2.4 * np.sqrt(0.75) + 3.1),
    ],
)
def test_a_bend_takes_width_by_steering_mode(mode: str, swept: float):
    case = case_of(xy=arc(20.0), sheet={"steering": STEERING}, steering=("front", "all", "crab"))
    piece = len(case.survey.pieces) // 2
    assert case.survey.pieces.curvature_per_m[piece] == pytest.approx(1 / 20, rel=0.02)
    ((answer, row),) = told(case, "width", MODES[mode], piece=piece)
    assert answer.value("demand", row) == pytest.approx(swept + 0.5, abs=0.02)


def test_ring_against_a_turning_rectangle():
    """The farthest and the nearest point of the rectangle itself, by brute force."""
    from travel.mechanics.beside import swept_width

    for radius in (6.0, 12.0, 40.0):
        centre = np.sqrt(radius**2 - 3.2**2)
        x, y = np.meshgrid(np.linspace(-1.4, 4.8, 400), np.linspace(centre - 1.2, centre + 1.2, 400))
        away = np.hypot(x, y)
        swept = swept_width(2.4, 6.2, 0.0, 4.8, 3.2, 3.2 / radius, 1.0)
        assert swept == pytest.approx(away.max() - away.min(), abs=1e-3)


def test_a_bend_tighter_than_the_wheelbase_is_outside():
    case = case_of(xy=[(0, 0), (4, 0), (4, 4), (0, 4)])
    answer, row = worst(case, "width")
    assert answer.reason(row) == "outside_validity"


def test_width_needs_its_values():
    for field in ("width_m", "cross_slope_pct"):
        case = case_of({field: None})
        assert field in lacking(case, "width")
        assert verdict(case, "width") == UNKNOWN


@pytest.mark.parametrize(("width_m", "expected"), [(2.84, BLOCKED), (2.86, UNKNOWN), (6.0, UNKNOWN)])
def test_a_road_too_narrow_for_the_body_upright_bars_whatever_its_cross_slope(width_m: float, expected: int):
    """2.90 needed upright, 0.05 of tolerance."""
    assert verdict(case_of({"width_m": width_m, "cross_slope_pct": None}), "width") == expected


def test_a_wide_load_counts_and_one_nobody_placed_is_unknown():
    own = {"format": 1, "name": "beam", "mass_kg": 900.0, "size_xyz_m": (1.0, 6.0, 0.5), "how": "forks", "z_m": 1.0}
    full = own | {"x_m": 1.8, "y_m": 0.0, "cg_in_load_xyz_m": (0.5, 3.0, 0.25)}
    placed = case_of(load=Load.model_validate(full))
    for name in ("y_m", "cg_in_load_xyz_m"):
        part = case_of(load=Load.model_validate({key: value for key, value in full.items() if key != name}))
        assert verdict(part, "width") == UNKNOWN
        assert f"load.{name}" in lacking(part, "width")
    assert number(placed, "width", "demand") == pytest.approx(6.5)
    assert verdict(case_of(load=Load.model_validate(own)), "width") == UNKNOWN


@pytest.mark.parametrize(
    ("limit", "expected"),
    [
        ({"width_m": 3.0}, CLEAR),  # 3.0 - 2.6 - 0.05 = 0.35 of 0.25
        ({"width_m": 2.85}, CAUTION),  # 0.20
        ({"width_m": 2.5}, BLOCKED),
        ({"width_m": 3.0, "width_m_method": "told"}, UNKNOWN),
        ({"width_m": 3.0, "narrow_to_m": 2.0, "narrow_to_m_method": "told"}, UNKNOWN),
        ({"width_m": None, "height_m": 9.0, "kind": "posted"}, CLEAR),  # says nothing about width
        ({"width_m": None, "height_m": 9.0}, UNKNOWN),  # a gateway needs its width
    ],
)
def test_gateway(limit: dict[str, Any], expected: int):
    case = case_of(limits=[{"id": "g", "xy": (2.5, 0.0), "kind": "gateway", "road": "r"} | limit])
    assert verdict(case, "width") == expected


def test_a_gateway_with_less_than_the_margin_of_a_road_is_passed_at_walking_pace():
    """2.4 m and 0.25 m a side: from 2.9 m and the band of 0.05 m on the gateway asks for nothing."""
    for width_m, cap in ((2.94, kmh_to_mps(5.0)), (2.96, np.inf)):
        case = case_of(limits=[{"id": "g", "xy": (2.5, 0.0), "kind": "gateway", "road": "r", "width_m": width_m}])
        (found,) = [answer.outcome.cap_mps for answer, _ in told(case, "width") if answer.outcome.cap_mps is not None]
        assert np.min(np.asarray(found)) == pytest.approx(cap)


def test_part_of_the_body_above_a_low_gateway_does_not_count():
    """At 3.1 m 2.0 m wide, at 1.5 m 2.4 m: at 2.3 m on the line between them 2.2 m, and 2.4 m below it."""
    sheet = {"attitudes__0__width_z_m": [[0.0, 2.0], [1.0, 2.0], [2.0, 2.8], [3.0, 2.8]], "axles__0__over_tyres_m": 2.0,
             "axles__1__over_tyres_m": 2.0}  # fmt: skip
    case = case_of(sheet=sheet)
    assert width_below(case, np.array([0.5, 1.5, 2.0, np.inf])) == pytest.approx([2.0, 2.4, 2.8, 2.8])


@pytest.mark.parametrize("up_to", [0.7, 1.4, 2.3, 3.1])
def test_a_body_that_leans_stands_out_most_at_the_height_asked_for(up_to: float):
    """8 % across, 2.4 m wide up to 1.5 m, then narrowing to 2.0 m at 3.1 m: every centimetre of its sides turned."""
    low_gate = {"id": "g", "xy": (2.5, 0.0), "kind": "gateway", "road": "r", "width_m": 3.2, "narrow_to_m": up_to}
    case = case_of({"cross_slope_pct": 8.0}, limits=[low_gate])
    z = np.append(np.arange(0.0, up_to, 0.01), up_to)
    half, turn = np.interp(z, [0.0, 1.5, 3.1], [1.2, 1.2, 1.0]), np.arctan(0.08)
    down = (half * np.cos(turn) + z * np.sin(turn)).max()
    up = (half * np.cos(turn) - z * np.sin(turn)).max()
    ((answer, row),) = [(a, row) for a, row in told(case, "width") if a.value("capacity", row) == 3.2]
    assert answer.value("demand", row) == pytest.approx(max(down + up, 2.4) + 2 * 0.1, abs=1e-3)


@pytest.mark.parametrize("high", [1.4, 2.3, None])
@pytest.mark.parametrize("cross_pct", [8.0, -8.0])
def test_a_body_that_leans_stands_out_on_one_side_of_an_obstacle(high: float | None, cross_pct: float):
    """The lower side goes out by all of the lean, whatever the upper one draws in: twice that of twice the distance."""
    wall = {"id": "o", "xy": [(-20.0, 2.2), (30.0, 2.2)]} | ({} if high is None else {"height_m": high})
    case = case_of({"cross_slope_pct": cross_pct, "width_m": 30.0}, obstacles=[wall])
    z = np.linspace(0.0, 3.1 if high is None else high, 1001)
    half, turn = np.interp(z, [0.0, 1.5, 3.1], [1.2, 1.2, 1.0]), np.arctan(0.08)
    lower = (half * np.cos(turn) + z * np.sin(turn)).max()
    ((answer, row),) = [(a, row) for a, row in told(case, "width") if a.value("capacity", row) < 30.0]
    assert answer.value("capacity", row) == pytest.approx(2 * 2.2)
    assert answer.value("demand", row) == pytest.approx(2 * (lower + 0.25 + 0.25), abs=1e-3)


# --- shoulder -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("road", "weather", "expected"),
    [
        # half of the width - 1.2 - 0.25, band 0.025, margin 0.25
        ({"edge_left": "verge", "width_m": 4.2}, None, CLEAR),  # 0.65 - 0.3 - 0.025 = 0.325
        ({"edge_left": "verge", "width_m": 3.8}, None, CAUTION),  # 0.45: 0.125
        ({"edge_left": "verge", "width_m": 3.8}, WET, BLOCKED),  # 0.45 of 0.5
        ({"edge_right": "drop", "width_m": 4.2}, None, CAUTION),  # 0.65 of 0.6
        ({"edge_right": "drop", "width_m": 4.12}, None, UNKNOWN),  # 0.61 of 0.6, band 0.025
        ({"edge_right": "drop", "width_m": 4.2}, WET, BLOCKED),  # 0.65 of 1.0
        ({"edge_left": "kerb", "edge_right": "wall", "width_m": 3.0}, None, CLEAR),
        ({"edge_left": None}, None, UNKNOWN),
        ({"edge_right": None}, None, UNKNOWN),
        ({"edge_left": "verge", "width_m": None}, None, UNKNOWN),
        ({"edge_left": "verge"}, Weather(), UNKNOWN),
    ],
)
def test_shoulder(road: dict[str, Any], weather: Weather | None, expected: int):
    assert verdict(case_of(road, weather=weather), "shoulder") == expected


def test_equal_angles_on_all_wheels_turn_about_the_very_middle_whatever_the_lock():
    """Half the wheelbase, not a rounding more: beyond it the wheels' gap has no formula and would be unknown."""
    for lock in range(5, 50):
        steering = [{"mode": "front", "lock_deg": 30.0}, {"mode": "all", "lock_deg": float(lock)}]
        case = case_of({"edge_left": "drop"}, sheet={"steering": steering}, steering=("front", "all"))
        assert verdict(case, "shoulder", MODES["all"]) == CLEAR, lock


def test_shoulder_names_what_is_missing():
    assert lacking(case_of({"edge_left": None}), "shoulder") == {"edge_left"}
    assert lacking(case_of({"edge_left": "drop"}, weather=Weather()), "shoulder") == {"weather.ground"}


# --- steering mode ------------------------------------------------------------------------------------------------


def test_the_lower_of_sheet_and_rulebook_caps_each_mode():
    """Front 25 of 40, all-wheel 12 of 15, crab 5 of 8 km/h."""
    case = case_of(sheet={"steering": STEERING}, steering=("front", "all", "crab"))
    for mode, top in (("front", 25.0), ("all", 12.0), ("crab", 5.0)):
        ((answer, row),) = told(case, "steer-mode", MODES[mode])
        assert answer.value("cap_mps", row) == pytest.approx(kmh_to_mps(top))
        assert verdict(case, "steer-mode", MODES[mode]) == CLEAR


def test_a_mode_without_its_speed_is_unknown():
    bare = [{"mode": mode, "lock_deg": 30.0} for mode in MODES]
    case = case_of(sheet={"steering": bare}, steering=("front", "all", "crab"))
    assert [verdict(case, "steer-mode", MODES[mode]) for mode in MODES] == [UNKNOWN] * 3


def test_a_speed_below_the_least_steady_one_bars_the_mode():
    slow = [{"mode": "front", "lock_deg": 30.0, "top_kmh": 0.5}]
    assert verdict(case_of(sheet={"steering": slow}), "steer-mode") == BLOCKED


# --- edges --------------------------------------------------------------------------------------------------------

EDGE = {"id": "e", "kind": "excavation", "depth_m": 3.0, "soil": "type_b", "batter_deg": 90.0, "supported": False,
        "berm_height_m": 2.0, "inspected_on": "2026-03-04"}  # fmt: skip


def beside_edge(away: float, weather: Weather | None = None, **changes: Any) -> Any:
    """Give the road with a crest all along it, ``away`` metres to the left."""
    row = {k: v for k, v in (EDGE | changes).items() if v is not None}
    return case_of(weather=weather, edges=[row | {"xy": [(-20.0, away), (30.0, away)]}])


HANGING = Load.model_validate(
    {"format": 1, "name": "frame", "mass_kg": 500.0, "mass_tolerance_kg": 10.0, "rigging_kg": 20.0, "how": "hook",
     "size_xyz_m": (1.0, 2.4, 1.0), "cg_in_load_xyz_m": (0.5, 1.2, 0.5), "radius_m": 5.0, "head_height_m": 7.0,
     "drop_m": 4.0}
)  # fmt: skip


@pytest.mark.parametrize("cross_pct", [0.0, 5.0, -5.0])
def test_a_load_on_the_hook_hangs_plumb_under_the_leaning_boom(cross_pct: float):
    """2 to 3 m up, 2.4 m wide: its middle is out by 7 m at 5 %, not by what 3 m would make."""
    found = case_of({"cross_slope_pct": cross_pct}, load=HANGING)
    slope = abs(cross_pct) / 100.0
    low, high = (1.2 + 7.0 * slope) / np.hypot(1.0, slope), 1.2 / np.hypot(1.0, slope)
    assert number(found, "width", "demand") == pytest.approx(low + high + 2 * 0.25, abs=1e-6)
    for height_m, counts in ((1.9, False), (2.1, True)):
        post = case_of({"cross_slope_pct": cross_pct}, load=HANGING,
                       obstacles=[{"id": "o", "xy": [(-20.0, 1.9), (20.0, 1.9)], "height_m": height_m}])  # fmt: skip
        told_ = [a.value("demand", row) for a, row in told(post, "width") if a.layer == "obstacles"]
        upright = (1.2 + 1.9 * slope) / np.hypot(1.0, slope)  # of what stands below the load
        assert max(told_) == pytest.approx(2.0 * ((low if counts else upright) + 0.25 + 0.25), abs=1e-6)


@pytest.mark.parametrize(
    ("away", "expected"),
    [
        # wheel at away - 1.2 - 0.25; 3 m to keep (45° from the toe of a vertical face), band 0.1, margin 0.5
        (5.10, CLEAR),  # 3.65 - 0.1 = 3.55 of 3.5
        (5.00, CAUTION),  # 3.45
        (4.50, UNKNOWN),  # 3.05 - 3.0 < 0.1
        (4.30, BLOCKED),  # 2.85 + 0.1 < 3.0
    ],
)
def test_stand_off_from_an_edge(away: float, expected: int):
    case = beside_edge(away)
    assert number(case, "edge-standoff", "demand") == pytest.approx(3.0)
    assert verdict(case, "edge-standoff") == expected


@pytest.mark.parametrize(
    ("changes", "demand"),
    [
        ({"soil": "rock"}, 0.61),  # the least: 2 ft
        ({"soil": "type_a"}, 3.0),  # 3/4:1 would be 2.25; 45° in any soil (from memory) is stricter
        ({"soil": "type_c"}, 4.5),  # 1½:1
        ({"soil": "type_c", "batter_deg": 45.0}, 1.5),  # 3 (1.5 - 1)
        ({"soil": "type_c", "batter_deg": 30.0}, 0.61),  # flatter than the line
        ({"soil": "type_a", "kind": "water"}, 4.5),  # soil by water is type C
        ({"soil": "rock", "kind": "water"}, 0.61),
        # wheel 34 323 N on 0.45 x 0.1219 m (450 kPa x 1.39): z = (sqrt(0.3281² + 4 x 3.4323) - 0.5719) / 2 = 1.574
        ({"supported": True, "surcharge_kpa": 10.0}, 0.787),
        ({"supported": True, "surcharge_kpa": 1000.0}, 0.61),
        ({"supported": True, "surcharge_kpa": 0.2, "depth_m": 1.2}, 1.2),  # no more than without support
        ({"depth_m": 0.5}, 0.61),
    ],
)
def test_what_must_be_kept(changes: dict[str, Any], demand: float):
    # as near as is needed to be paired: the answer's demand does not depend on the distance
    assert number(beside_edge(4.0, **changes), "edge-standoff", "demand") == pytest.approx(demand, abs=1e-3)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"soil": None}, "soil"),
        ({"depth_m": None}, "depth_m"),
        ({"batter_deg": None}, "batter_deg"),
        ({"depth_m_method": "told"}, "depth_m told"),
        ({"batter_deg_method": "assumed"}, "batter_deg told"),
        ({"soil_method": "told"}, "soil told"),
        ({"supported": True, "surcharge_kpa": 10.0, "supported_method": "told"}, "supported told"),
        ({"supported": True}, "surcharge_kpa"),
        ({"supported": True, "surcharge_kpa": 0.0}, "surcharge_kpa"),
        ({"supported": True, "surcharge_kpa": 10.0, "surcharge_kpa_method": "told"}, "surcharge_kpa told"),
        ({"berm_height_m": None}, "berm_height_m"),
        ({"berm_height_m_method": "told"}, "berm_height_m told"),
    ],
)
def test_an_edge_needs_its_values(changes: dict[str, Any], named: str):
    case = beside_edge(4.0, **{"soil": "type_b" if "supported" in changes else "rock"} | changes)
    assert named in lacking(case, "edge-standoff")
    assert verdict(case, "edge-standoff") == UNKNOWN


def test_a_face_of_no_slope_is_outside_the_formula():
    """0° is allowed in a file: no arithmetic stumbles over it."""
    assert worst(beside_edge(5.0, batter_deg=0.0), "edge-standoff")[0].reason(0) == "outside_validity"


@pytest.mark.parametrize("depth_m", [0.5, 3.0])
def test_a_depth_only_told_matters_as_far_as_one_nobody_knows(depth_m: float):
    """It may be any depth: what is told says nothing of how far off the crest is far enough."""
    for away in (4.0, 8.0, 12.0, 30.0, 60.0, 70.0):
        told_, unknown = (verdict(beside_edge(away, **of), "edge-standoff")
                          for of in ({"depth_m": depth_m, "depth_m_method": "told"}, {"depth_m": None}))  # fmt: skip
        assert told_ == unknown == (UNKNOWN if away < 65.0 else CLEAR)
    assert verdict(beside_edge(70.0, depth_m=60.0, depth_m_method="told"), "edge-standoff") == UNKNOWN


@pytest.mark.parametrize(
    ("changes", "kept_m"),
    [
        ({}, 3.0),
        ({"soil_method": "told"}, 4.5),  # the flattest line
        ({"depth_m": 7.0, "batter_deg": 60.0}, 6.459),  # deeper than the table: 7 (1.5 - 0.577)
        ({"depth_m_method": "told"}, np.nan),
        ({"batter_deg_method": "assumed"}, np.nan),
        ({"supported": True}, 3.0),  # for how much is not known
        ({"supported": True, "surcharge_kpa": 10.0, "surcharge_kpa_method": "told"}, 3.0),
        ({"supported": True, "surcharge_kpa": 10.0, "supported_method": "told"}, 3.0),
        # 68 647 N on 0.45 x 0.2439 m: z = (sqrt(0.2061² + 4 x 6.8647) - 0.6939) / 2 = 2.275
        ({"supported": True, "surcharge_kpa": 10.0}, 1.138),
        ({"supported": True, "surcharge_kpa": 1000.0}, 0.61),
    ],
)
def test_what_is_kept_of_a_crest_beside_a_corner(changes: dict[str, Any], kept_m: float):
    assert crest_standoffs(beside_edge(4.0, **changes)) == pytest.approx([kept_m], abs=1e-3, nan_ok=True)


def test_an_edge_too_far_to_matter_is_silent_whatever_is_not_known_of_it():
    for away, expected in ((6.0, UNKNOWN), (40.0, CLEAR)):
        assert verdict(beside_edge(away, soil=None), "edge-standoff") == expected


@pytest.mark.parametrize(
    ("away", "expected"),
    [
        (5.10, CLEAR),  # behind the line from the toe, as if there were no support
        (5.00, CAUTION),
        (4.54, UNKNOWN),  # 3.09 - 3.0 < 0.1: the support would have to carry it
    ],
)
def test_what_is_not_known_of_a_support_does_not_count_behind_the_line(away: float, expected: int):
    for said in ({}, {"surcharge_kpa": 9.0, "surcharge_kpa_method": "told"}):
        assert verdict(beside_edge(away, supported=True, **said), "edge-standoff") == expected
    assert verdict(beside_edge(away, supported=True, depth_m=8.0), "edge-standoff") == UNKNOWN


def test_deeper_than_the_table_is_unknown_within_its_flattest_line_only():
    """8 m, batter 60°, type B: 3.38 m by the line; 7.38 m (1½:1 from the toe) before it is known."""
    for away, expected in ((8.9, UNKNOWN), (9.0, CLEAR)):  # 8.9 - 1.45 - 0.1 = 7.35; 7.45
        assert verdict(beside_edge(away, depth_m=8.0, batter_deg=60.0), "edge-standoff") == expected
    supported = beside_edge(9.0, depth_m=8.0, batter_deg=60.0, supported=True, surcharge_kpa=20.0)
    assert verdict(supported, "edge-standoff") == CLEAR


@pytest.mark.parametrize(
    ("inspected", "expected"), [("2026-03-04", set()), ("2026-03-03", {"edge-inspected"}), (None, {"edge-inspected"}),
                                ("2026-03-05", {"edge-inspected"})]
)  # fmt: skip
def test_a_near_edge_is_inspected_on_the_day(inspected: str | None, expected: set[str]):
    assert controls(beside_edge(5.0, inspected_on=inspected), "edge-standoff") == expected


@pytest.mark.parametrize(
    ("changes", "jurisdiction", "expected"),
    [
        ({"berm_height_m": 1.1}, "none", set()),  # three quarters of 1.32 m is 0.99 m, band 0.05
        ({"berm_height_m": 1.0}, "none", {"edge-barrier"}),
        ({"berm_height_m": 1.4}, "gb", {"edge-barrier"}),  # 1.5 m asked for
        ({"berm_height_m": 0.0, "depth_m": 0.4}, "none", set()),  # not a drop that asks for one
    ],
)
def test_berm(changes: dict[str, Any], jurisdiction: str, expected: set[str]):
    row = EDGE | {"soil": "rock"} | changes | {"xy": [(-20.0, 4.0), (30.0, 4.0)]}  # wheel 2.55 m away, less than 3 m
    case = case_of(edges=[row], header={"jurisdiction": jurisdiction})
    assert controls(case, "edge-standoff") == expected


def test_a_low_berm_is_told_with_its_height_and_the_one_asked_for():
    """Three quarters of a wheel of 1.32 m, 0.99 m, against 0.20 m."""
    case = case_of(edges=[EDGE | {"soil": "rock", "berm_height_m": 0.2, "xy": [(-20.0, 4.0), (30.0, 4.0)]}])
    ((berm, _),) = (found for found in told(case, "edge-standoff") if found[0].part == "berm")
    assert berm.value("demand", 0) == pytest.approx(0.99)
    assert berm.value("capacity", 0) == pytest.approx(0.2)


def test_a_bend_brings_the_wheel_nearer():
    straight, bent = beside_edge(4.0), case_of(xy=arc(12.0), edges=[EDGE | {"xy": [(-20.0, -4.0), (30.0, -4.0)]}])
    assert number(bent, "edge-standoff", "capacity") < number(straight, "edge-standoff", "capacity") - 0.2


# --- every rule here ---------------------------------------------------------------------------------------------


def busy(**road: Any) -> Any:
    """Give a bent road with an edge and a gateway, so that every part speaks."""
    return case_of(
        {"edge_left": "drop", "edge_right": "verge", "cross_slope_pct": 3.0, "width_m": 4.4} | road,
        xy=arc(25.0), sheet={"steering": STEERING}, steering=("front", "all", "crab"),
        edges=[EDGE | {"supported": True, "surcharge_kpa": 9.0, "berm_height_m": 0.2, "xy": [(-5, -4), (30, -4)]}],
        limits=[{"id": "g", "xy": (10.0, 2.1), "kind": "gateway", "road": "r", "width_m": 3.1, "narrow_to_m": 2.0}],
    )  # fmt: skip


@pytest.mark.parametrize("rule", MINE)
def test_by_columns_and_by_rows(rule: str):
    case = busy()
    assert len(np.unique(on_grid(case, rule))) > (rule != "steer-mode")
    np.testing.assert_array_equal(on_grid(case, rule), on_list(case, rule))


@pytest.mark.parametrize("rule", MINE)
def test_terms_put_through_the_formula_give_the_numbers(rule: str):
    """Of every answer that carries terms, so that a finding's numbers can be worked out again."""
    formulas, of = catalogue(), busy().rulebook.rules[rule]
    for answer, row in told(busy(), rule):
        for name, terms, formula in (("demand", answer.outcome.terms, of.formula),
                                     ("capacity", answer.outcome.capacity_terms, of.capacity_formula)):  # fmt: skip
            if terms:
                values = {key: float(np.broadcast_to(v, answer.position.shape)[row]) for key, v in terms.items()}
                assert formulas[formula](**values) == pytest.approx(answer.value(name, row))


@pytest.mark.parametrize("width", np.linspace(2.6, 6.0, 12))
def test_wider_machine_is_never_better(width: float):
    """Body width up, tyres kept: width never better; tyres out: shoulder and edge never better."""
    row = EDGE | {"xy": [(-20.0, 1.9 + width / 2), (30.0, 1.9 + width / 2)]}
    road = {"width_m": width, "edge_left": "drop"}
    before = case_of(road, edges=[row])
    body = case_of(road, edges=[row], sheet={"attitudes__0__width_z_m": [[0.0, 2.6], [3.1, 2.6]]})
    tyres = case_of(road, edges=[row], sheet={"axles__0__over_tyres_m": 2.6, "axles__1__over_tyres_m": 2.6})
    assert verdict(body, "width") >= verdict(before, "width")
    for rule in ("shoulder", "edge-standoff"):
        assert verdict(tyres, rule) >= verdict(before, rule)


@pytest.mark.parametrize("away", np.linspace(2.0, 9.0, 15))
def test_nearer_or_deeper_or_softer_is_never_better(away: float):
    base = beside_edge(away)
    for worse in (beside_edge(away - 0.3), beside_edge(away, depth_m=3.5), beside_edge(away, soil="type_c")):
        assert verdict(worse, "edge-standoff") >= verdict(base, "edge-standoff")


def test_nobody_looked_for_edges():
    case = case_of(surveyed={"roads": {"date": DAY.date()}})
    assert verdict(case, "edge-standoff") == UNKNOWN
