"""Distance to wires: by hand, walked in space by brute force, and whose word counts."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np
import pytest
from scipy import optimize

from tests.builders import machine
from tests.unit.checks.overhead_cases import (
    ACROSS,
    ALONGSIDE,
    LINE,
    RULEBOOK,
    answer,
    box,
    case_under,
    part_of,
    rows_of,
)
from travel.checks import wires
from travel.checks.hung import hung
from travel.checks.keeping import keeping
from travel.checks.outcome import judge
from travel.domain.machine import Load, Machine
from travel.domain.verdict import Verdict
from travel.mechanics.conductor_load import sag_after_warming
from travel.mechanics.line_distance import bar_height
from travel.mechanics.passing import distance_past_wire, greatest_drop_thermal_only
from travel.mechanics.wire_clearance import greatest_sag_thermal_only
from travel.rulebook import resolve
from travel.units import M_PER_FT

CLEAR, CAUTION, UNKNOWN, BLOCKED = Verdict.CLEAR, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED
NOW = dt.datetime(2026, 11, 25, 9, 0, tzinfo=dt.UTC)
SWING = (1.0 + 0.3) * math.sin(math.pi / 4)  # 1 m of sag, 0.3 m of string
RNG = np.random.default_rng(11)


def near(name: str = "distance_to_wires", case: dict[str, Any] | None = None, **line: Any) -> Any:
    return answer(case_under([LINE | {"xy": ALONGSIDE} | line], **case or {}), name)


def at(y: float) -> dict[str, Any]:
    return {"xy": ((-60.0, y), (120.0, y))}


# -- geometry by hand: box 3 m high, 2.4 m wide, wander 0.25 m, wire at 7 m


def test_line_alongside_at_8_m() -> None:
    # y = 8 − 0.919 − 0.25 − 1.2 = 5.631, z = 7 − 3 = 4: r = 6.907; band (5.631 · 0.1 + 4 · 0.1)/6.907 = 0.139
    verdict, numbers, missing = near()
    y = 8.0 - SWING - 0.25 - 1.2
    assert numbers["capacity"] == pytest.approx(math.hypot(y, 4.0))
    assert numbers["capacity"] == pytest.approx(6.907, abs=1e-3)
    assert numbers["tolerance"] == pytest.approx((y + 4.0) * 0.1 / 6.907, abs=1e-4)
    assert numbers["demand"] == 3.0
    assert (verdict, missing) == (CLEAR, set())


@pytest.mark.parametrize("line", [{"owner_clearance_m": 30.0}, {"voltage_kv": 765.0, "owner_clearance_m": 15.0}])
@pytest.mark.parametrize("gone", ["voltage_kv", "clearance_m"])
def test_what_is_not_known_of_a_line_never_clears_it(line: dict[str, Any], gone: str) -> None:
    """Beyond every distance of the tables too: as far as the owner asks, and as far as it swings."""
    asked = 0
    for y in range(6, 45, 2):
        known, less = (near(**at(y), **{**line, "sag_m": 6.0, "sag_max_m": 6.0} | without)[0]
                       for without in ({}, {gone: None}))  # fmt: skip
        asked += y > 16 and known == BLOCKED
        assert known == CLEAR or less >= UNKNOWN
    assert asked


@pytest.mark.parametrize(
    "line",
    [
        {"voltage_kv": None, "owner_clearance_m": None},
        {"voltage_kv": 765.0, "owner_clearance_m": 20.0},
        {"voltage_kv": 11.0, "voltage_kv_method": "told"},
    ],
)
@pytest.mark.parametrize("cross_pct", [0.0, 8.0])
def test_no_line_hangs_too_far_off_to_be_looked_at(line: dict[str, Any], cross_pct: float) -> None:
    """Short machine, long insulators, hardly any sag: looked for much further, every line is told as it is."""
    short = box(attitudes__0__top_xz_m=[[0.9, 3.0], [-2.7, 3.0]], attitudes__0__under_xz_m=[[0.9, 0.4], [-2.7, 0.4]])
    found = 0
    for y in np.arange(14.0, 30.0, 0.5).tolist():
        wire = LINE | {"sag_m": 0.3, "sag_max_m": 0.3, "clearance_m": 3.0} | line | at(y)
        case, wide = (case_under([wire], sheet=short, cross_slope_pct=cross_pct) for _ in range(2))
        wires._BESIDE[wide] = 200.0
        for name in ("distance_to_wires", "owners_word"):
            verdict = answer(wide, name)[0]
            assert answer(case, name)[0] == verdict
            found += y > 18.0 and verdict > CLEAR
    assert found


def test_a_voltage_that_was_only_told_swings_as_one_nobody_knows() -> None:
    said = {"owner_clearance_m": None, "sag_m": 0.3, "sag_max_m": 0.3}
    for y in np.arange(12.0, 24.0, 0.5).tolist():
        told, unknown = (
            near(**at(y), **said | volts)[0] for volts in ({"voltage_kv_method": "told"}, {"voltage_kv": None})
        )
        assert told == unknown


@pytest.mark.parametrize("cross_pct", [8.0, -8.0, 3.0])
@pytest.mark.parametrize("away_m", [4.0, 8.0])
def test_on_a_cross_slope_the_body_leans_towards_the_line(cross_pct: float, away_m: float) -> None:
    """The box turned by the slope towards the line, corner by corner: never nearer than told, and hardly further."""
    tilt = math.atan(abs(cross_pct) / 100.0)
    aside, up = 1.2 * math.cos(tilt) + 3.0 * math.sin(tilt), 3.0 * math.cos(tilt) - 1.2 * math.sin(tilt)
    true = math.hypot(away_m - SWING - 0.25 - aside, 7.0 - up)
    _, numbers, _ = near(case={"cross_slope_pct": cross_pct}, **at(away_m))
    assert numbers["capacity"] <= true
    top = 3.0 + 1.2 * math.sin(tilt)  # its other side stands higher and is taken on the wire's side
    assert numbers["capacity"] == pytest.approx(math.hypot(away_m - SWING - 0.25 - aside, 7.0 - top), abs=0.02)


def test_a_load_on_the_hook_hangs_out_to_the_line_as_far_as_the_boom_head_leans() -> None:
    """2.4 m wide, its top 3 m up under a head at 7 m: 1.2 + 7 x 0.05 aside, not 1.2 + 3 x 0.05."""
    of = box()
    carrying = of.model_copy(update={"attitudes": (*of.attitudes, of.attitudes[0].model_copy(update={"name": "hook"}))})
    load = Load.model_validate(
        {"format": 1, "name": "frame", "mass_kg": 500.0, "mass_tolerance_kg": 10.0, "rigging_kg": 20.0, "how": "hook",
         "size_xyz_m": (1.0, 2.4, 1.0), "cg_in_load_xyz_m": (0.5, 1.2, 0.5), "radius_m": 5.0, "head_height_m": 7.0,
         "drop_m": 3.0}
    )  # fmt: skip
    _, numbers, _ = near(case={"sheet": carrying, "load": load, "cross_slope_pct": 5.0}, clearance_m=3.0)
    aside = (1.2 + 7.0 * 0.05) / math.hypot(1.0, 0.05)
    assert numbers["capacity"] == pytest.approx(8.0 - SWING - 0.25 - aside, abs=1e-6)


def test_in_a_bend_the_front_swings_out_towards_the_line() -> None:
    """The front axle on 15 m, the rear one on sqrt(15² - 3.2²) = 14.655 m: the outer corner, 1.6 m ahead of the front
    axle, runs on sqrt((14.655 + 1.2)² + 4.8²) = 16.565 m, 1.565 m outside the middle line and not 1.2 m."""
    turn = np.linspace(-math.pi, 0.0, 65)
    bend = [(15.0 * math.cos(a), 15.0 * math.sin(a), 0.0) for a in turn]
    _, numbers, _ = near(case={"xyz": bend}, xy=((-60.0, -23.0), (60.0, -23.0)))
    rear = math.sqrt(15.0**2 - 3.2**2)
    corner = math.hypot(rear + 1.2, 4.8) - 15.0
    true = 8.0 - SWING - 0.25 - corner
    assert numbers["capacity"] <= math.hypot(true, 4.0)
    assert numbers["capacity"] >= math.hypot(true - (15.0 - rear) - 0.05, 4.0)


def test_within_20_ft_a_spotter_stands_by() -> None:
    # at 5 m: y = 2.631: r = 4.788 < 6.096
    case = case_under([LINE | at(5.0)])
    part = part_of("distance_to_wires")
    outcome = part.check(rows_of(case, part), case)
    assert answer(case, "distance_to_wires")[0] == CAUTION
    assert outcome.control == "spotter"
    assert outcome.exposed is not None
    assert outcome.exposed.any()
    assert not part.check(rows_of(far := case_under([LINE | at(8.0)]), part), far).exposed.any()  # type: ignore[union-attr]


def test_wire_above_the_far_edge_of_the_road() -> None:
    # 3 m off: y = 0.631: r = √(0.631² + 4²) = 4.049
    assert near(**at(3.0))[1]["capacity"] == pytest.approx(math.hypot(3 - SWING - 1.45, 4.0))
    # an outer wire 1 m from the centre of a line 4 m off is the same wire
    assert near(**at(4.0), half_spread_m=1.0)[1]["capacity"] == pytest.approx(math.hypot(3 - SWING - 1.45, 4.0))


@pytest.mark.parametrize(
    ("clearance", "expected"),
    [
        (6.65, CAUTION),  # 3.65 − 3.0 − 0.10 = 0.55: the spotter alone
        (6.40, CAUTION),  # 0.40 − 0.10 = 0.30 < 0.5: thin
        (6.05, UNKNOWN),  # 0.05 − 0.10 < 0
        (5.85, BLOCKED),  # −0.15 + 0.10 < 0
        (2.50, BLOCKED),  # the wire hangs lower than the box
        (9.50, CLEAR),  # 6.5 − 0.10 > 6.096
    ],
)
def test_each_verdict_of_a_crossing(clearance: float, expected: Verdict) -> None:
    verdict, numbers, _ = near(xy=ACROSS, clearance_m=clearance)
    assert verdict == expected
    assert numbers["capacity"] == pytest.approx(max(clearance - 3.0, 0.0))


def test_both_reasons_are_told_where_thin_and_watched() -> None:
    part = part_of("distance_to_wires")
    for clearance, thin in ((6.65, False), (6.40, True)):
        case = case_under([LINE | {"xy": ACROSS, "clearance_m": clearance}])
        outcome = part.check(rows_of(case, part), case)
        sure = np.min(np.asarray(outcome.capacity) - outcome.demand - outcome.tolerance)
        assert (sure < outcome.caution) == thin


def test_body_stands_out_beyond_a_dead_end() -> None:
    # the road ends at 60; the box reaches up to 4.6 m beyond its front axle (facing away): a wire across 8 m beyond
    # the end is 3.4 m from its end, less swing and wander and half the width, which count all round
    _, numbers, _ = near(xy=[(68.0, -40.0), (68.0, 40.0)])
    assert numbers["capacity"] == pytest.approx(math.hypot(max(8 - 4.6 - SWING - 1.45, 0.0), 4.0))


# -- against brute force


def brute(case: Any, ends: np.ndarray, heights: tuple[float, float], sag: float, road: np.ndarray) -> float:
    """Walk body and wire in steps of 5 cm: the wire swung by (sag there + string) sin 45°, the body's top and sides."""
    t = np.linspace(0.0, 1.0, int(np.hypot(*(ends[1] - ends[0])) / 0.05))
    x, y = (ends[0, k] + t * (ends[1, k] - ends[0, k]) for k in (0, 1))
    z = heights[0] + t * (heights[1] - heights[0]) - 4 * sag * t * (1 - t)
    swing = (4 * sag * t * (1 - t) + 0.3) * math.sin(math.pi / 4)
    s = np.r_[0.0, np.cumsum(np.hypot(*np.diff(road[:, :2], axis=0).T))]
    walk = np.arange(0.0, s[-1], 0.05)
    q = np.column_stack([np.interp(walk, s, road[:, k]) for k in range(3)])
    away = np.hypot(x[:, None] - q[None, :, 0], y[:, None] - q[None, :, 1])
    aside = np.maximum(away - swing[:, None] - 0.25 - 1.2, 0.0)
    up = np.maximum(z[:, None] - q[None, :, 2] - 3.0, 0.0)
    return float(np.hypot(aside, up).min())


@pytest.mark.parametrize("seed", range(12))
def test_spans_at_any_angle_over_or_beside_sloping_roads(seed: int) -> None:
    rng = np.random.default_rng(seed)
    turn, grade = rng.uniform(0, math.pi), rng.uniform(-0.12, 0.12)
    # a road that goes on well beyond the span's reach, so that its ends play no part; one gentle bend in it
    road = np.array([[-90.0, 0.0, -90 * grade], [20.0, 0.0, 20 * grade], [150.0, 12.0, 20 * grade + 130.56 * grade]])
    middle = np.array([rng.uniform(10, 40), rng.uniform(-7, 7)])
    half = rng.uniform(15, 45) * np.array([math.cos(turn), math.sin(turn)])
    ends = np.array([middle - half, middle + half])
    level = float(np.interp(middle[0], road[:, 0], road[:, 2]))
    heights = (level + rng.uniform(8, 13), level + rng.uniform(8, 13))
    sag = rng.uniform(0.3, 2.5)
    line = LINE | {"xy": [tuple(p) for p in ends], "clearance_m": None, "attach_a_m": heights[0],
                   "attach_b_m": heights[1], "sag_m": None, "sag_max_m": sag}  # fmt: skip
    case = case_under([line], xyz=[tuple(p) for p in road])
    _, numbers, missing = answer(case, "distance_to_wires")
    exact = brute(case, ends, heights, sag, road)
    assert missing == set()
    # never farther than walked (but for the walk's own steps), and near it: the top of the box on a grade is up to
    # 3 (√(1 + g²) − 1) = 0.02 higher, half a step of road and one of wire are taken off
    assert exact - 0.15 <= numbers["capacity"] <= exact + 0.03


def test_formula_against_a_walk_over_a_sloping_body_and_a_wire() -> None:
    for _ in range(20):
        offset, half, up, grade = RNG.uniform(0, 9), 1.2, RNG.uniform(3.5, 9), RNG.uniform(-0.2, 0.2)
        x, u = np.meshgrid(np.linspace(-20, 20, 2001), np.linspace(-half, half, 241))
        # one point of the wire abreast of x = 0; the body's top travels along a line as steep as the road
        walked = np.sqrt(x**2 + (offset - u) ** 2 + np.maximum(up - 3.0 - grade * x, 0.0) ** 2).min()
        found = distance_past_wire(offset, 0.0, 0.0, half, up, 3.0, grade)
        assert found == pytest.approx(walked, abs=0.01)


def test_working_gives_the_capacity() -> None:
    case = case_under([LINE | {"xy": [(0, -30), (70, 40)]}, LINE | at(6.0) | {"id": "b", "clearance_m": None,
                      "attach_a_m": 9.0, "attach_b_m": 11.0}, LINE | at(-9.0) | {"id": "c", "clearance_m": None}],
                      sheet=Machine.model_validate(machine()), cross_slope_pct=4.0, roughness_m=0.1)  # fmt: skip
    part = part_of("distance_to_wires")
    outcome = part.check(rows_of(case, part, grid=False), case)
    assert np.allclose(distance_past_wire(**outcome.capacity_terms), outcome.capacity, atol=1e-12)


# -- distance to keep


def keep(jurisdiction: str | None = "us", load: Load | None = None, **line: Any) -> float:
    content = machine()
    content["attitudes"].append(content["attitudes"][0] | {"name": "forks"})
    sheet = Machine.model_validate(content)
    case = {"jurisdiction": jurisdiction, "load": load, "sheet": sheet}
    return float(near(case=case, **{"owner_clearance_m": None} | line)[1]["demand"])


PALLET = Load.model_validate({"format": 1, "name": "pallet", "mass_kg": 900.0, "size_xyz_m": (1.2, 1.0, 1.0),
                              "how": "forks", "x_m": 1.9, "y_m": 0.0, "z_m": 1.0})  # fmt: skip


def test_table_t_only_without_load_table_a_with_it() -> None:
    assert keep() == pytest.approx(6 * M_PER_FT)  # the older rule's 4 ft does not loosen it
    assert keep(load=PALLET) == pytest.approx(10 * M_PER_FT)
    assert keep(voltage_kv=132.0) == pytest.approx(10 * M_PER_FT)
    assert keep(voltage_kv=132.0, load=PALLET) == pytest.approx(15 * M_PER_FT)


def test_without_a_jurisdiction_the_strictest_of_all() -> None:
    assert keep(None) == keep("none") == 3.0
    assert keep("gb") == 0.8
    assert keep("eu") == pytest.approx(1.22)
    assert keep("gb", load=PALLET) == pytest.approx(10 * M_PER_FT)  # passing clearances are for machines without load


def test_the_owners_distance_counts_where_stricter() -> None:
    assert keep(owner_clearance_m=5.0) == 5.0
    assert keep(owner_clearance_m=1.0) == pytest.approx(6 * M_PER_FT)
    assert keep(owner_clearance_m=14.0, voltage_kv=1100.0) == 14.0
    case = case_under([LINE | at(5.0), LINE | at(5.0) | {"id": "b", "owner_clearance_m": 1.0}])
    part = part_of("distance_to_wires")
    rows = rows_of(case, part)
    limit = part.check(rows, case).limit
    assert limit is not None
    sources = {int(f): limit.rows[int(r)].source for f, r in zip(rows.feature.ravel(), limit.row.ravel(), strict=True)}
    assert sources == {0: "owner", 1: "cfr-1926-1411"}


@pytest.mark.parametrize(
    ("change", "lacking"),
    [
        ({"sag_m": None, "sag_max_m": None}, "sag_m"),
        ({"clearance_m": None}, "clearance_m"),
        ({"voltage_kv": None}, "voltage_kv"),
        ({"voltage_kv_method": "told"}, "voltage_kv"),
    ],
)
def test_within_the_owners_distance_what_is_missing_matters_further_off_than_any_spotter(
    change: dict[str, Any], lacking: str
) -> None:
    """No table asks for a spotter beyond 50 ft; an owner who asks for 30 m is asked about at 20 m too."""
    verdict, _, missing = near(**at(20.0), owner_clearance_m=30.0, **change)
    assert verdict == UNKNOWN
    assert any(name.startswith(lacking) for name in missing)
    assert near(**at(20.0), owner_clearance_m=30.0)[0] == BLOCKED
    assert near(**at(60.0), owner_clearance_m=30.0, **change)[0] == CLEAR


def test_of_a_voltage_nobody_knows_the_owners_word_still_asks_for_a_spotter() -> None:
    case = case_under([LINE | {"voltage_kv": kv, "owner_clearance_m": 30.0} for kv in (11.0, None)])
    assert keeping(case).trigger_m.tolist() == pytest.approx([20 * M_PER_FT, 30.0])


def test_over_the_last_voltage_of_the_table_only_the_owner_knows() -> None:
    verdict, _, missing = near(voltage_kv=1100.0, owner_clearance_m=None)
    assert (verdict, missing) == (UNKNOWN, {"owner_clearance_m"})


def test_of_a_voltage_nobody_knows_the_longest_string_swings() -> None:
    """16 m off and 9 m over the top: 16.5 m without a string, 13.95 m with 4.5 m of it; 45 ft could be asked for."""
    high = at(16.0) | {"clearance_m": 12.0, "owner_clearance_m": None}
    assert near(voltage_kv=None, **high)[::2] == (UNKNOWN, {"voltage_kv"})
    case = case_under([LINE | high | {"voltage_kv": kv} for kv in (11.0, 400.0, 1100.0, None)])
    assert keeping(case).string_m.tolist() == [0.3, 4.5, 4.5, 4.5]


# -- whose word


def test_an_owner_who_said_nothing_confirms_in_writing() -> None:
    assert near("owners_word", owner_clearance_m=None, **at(5.0))[0] == CAUTION
    assert near("owners_word", owner_clearance_m=3.0, **at(5.0))[0] == CLEAR
    assert near("owners_word", owner_clearance_m=None)[0] == CLEAR  # 6.9 m away, over 20 ft
    # in Great Britain whoever works within 15 m along the ground asks
    assert near("owners_word", case={"jurisdiction": "gb"}, owner_clearance_m=None)[0] == CAUTION
    assert near("owners_word", case={"jurisdiction": "gb"}, owner_clearance_m=None, **at(16.0))[0] == CLEAR
    by_word = {"owner_clearance_m": 3.0, "owner_clearance_m_method": "told"}
    assert near("owners_word", case={"jurisdiction": "gb"}, **by_word)[0] == CAUTION  # told is not in writing
    assert part_of("owners_word").check(rows_of(c := case_under([LINE | at(5.0)]), part_of("owners_word")), c).control


def test_an_isolated_line_is_not_live_as_long_as_the_owner_says() -> None:
    line = at(2.0) | {"clearance_m": 4.0, "voltage_kv": None}
    word = {"isolated_until": "2026-11-25T12:00:00+01:00"}
    assert near(**line)[0] == UNKNOWN
    for until, verdict, isolated in (
        (NOW + dt.timedelta(hours=2), CLEAR, CAUTION),  # 11:00 UTC = 12:00 +01:00: to the minute
        (NOW + dt.timedelta(hours=2, minutes=1), UNKNOWN, CLEAR),
        (None, UNKNOWN, CLEAR),
    ):
        assert near(case={"until": until}, **line, **word)[0] == verdict
        assert near("isolated_line", case={"until": until}, **line, **word)[0] == isolated
    told = word | {"isolated_until_method": "told"}
    assert near(case={"until": NOW}, **line, **told)[0] == UNKNOWN


# -- what is missing


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"half_spread_m": None}, "half_spread_m"),
        ({"half_spread_m_method": "told"}, "half_spread_m told"),
        ({"voltage_kv": None}, "voltage_kv"),
        ({"voltage_kv_method": "told"}, "voltage_kv told"),
        ({"clearance_m": None}, "clearance_m"),
        ({"clearance_m_method": "assumed"}, "clearance_m told"),
        ({"sag_max_m": None, "sag_m": None}, "sag_max_m"),
        ({"sag_max_m_method": "told"}, "sag_max_m told"),
        ({"owner_clearance_m_method": "told"}, "owner_clearance_m told"),
        ({"measured_at_c_method": "told"}, "measured_at_c told"),
    ],
)
def test_each_missing_or_told_value_is_unknown(change: dict[str, Any], name: str) -> None:
    for place in ({"xy": ACROSS}, at(3.0)):
        verdict, _, missing = near(**LINE | place | change | ({"clearance_m": 5.9} if "measured" in name else {}))
        assert verdict == UNKNOWN
        assert name in missing


def test_an_outer_wire_nobody_stated_may_hang_far_out() -> None:
    """20 m from the middle, the greatest trigger distance is 15.2 m: with 8 m of spread clear, with none unknown."""
    wide = at(20.0) | {"voltage_kv": 132.0, "owner_clearance_m": 4.6}
    assert near(**wide, half_spread_m=8.0)[0] == CLEAR
    for change in ({"half_spread_m": None}, {"half_spread_m": 8.0, "half_spread_m_method": "told"}):
        verdict, _, missing = near(**wide | change)
        assert verdict == UNKNOWN
        assert {name.split()[0] for name in missing} == {"half_spread_m"}
    assert near(**at(40.0) | {"voltage_kv": 132.0, "owner_clearance_m": 4.6, "half_spread_m": None})[0] == CLEAR
    high = {"xy": ACROSS, "clearance_m": 30.0, "voltage_kv": 132.0, "owner_clearance_m": 4.6, "half_spread_m": None}
    assert near(**high)[0] == CLEAR  # however far out, it is as high


@pytest.mark.parametrize("road", [{"cross_slope_pct": None}, {"xyz": [(0, 0), (60, 0)]}])
def test_a_body_of_unknown_height_needs_its_distance_sideways(road: dict[str, Any]) -> None:
    verdict, _, missing = near(xy=ACROSS, case=road)
    assert verdict == UNKNOWN
    assert missing == {"cross_slope_pct" if "cross_slope_pct" in road else "grade"}
    # 12 m aside: 12 − 0.919 − 1.45 = 9.6 m whatever the height
    assert near(case=road, **at(12.0))[::2] == (CLEAR, set())


def test_any_wire_not_identified_is_live() -> None:
    wire = {"kind": "wire", "voltage_kv": None, "owner_clearance_m": None}
    assert near(**wire)[::2] == (UNKNOWN, {"voltage_kv"})
    assert near(**wire | at(25.0))[0] == CLEAR  # beyond the greatest trigger distance
    assert near(**wire | {"kind": "pipe"})[0] == CLEAR
    assert near(**wire | {"kind": "pipe", "kind_method": "told"} | at(5.0))[0] == UNKNOWN


def test_what_is_far_enough_sideways_needs_no_height() -> None:
    assert near(clearance_m=None, **at(12.0))[::2] == (CLEAR, set())
    # and what is far enough up needs no sag for its swing: 30 − 3 m
    assert near(clearance_m=30.0, sag_m=None, sag_max_m=1.0, at_temperature_c=None)[0] == CLEAR


def test_a_clearance_holds_over_the_road_it_was_taken_over() -> None:
    other = {"id": "q", "xyz": [(0, -12, 0), (60, -12, 0)], "width_m": 5.0, "surface": "asphalt",
             "cross_slope_pct": 0.0, "roughness_m": 0.0}  # fmt: skip

    def over(road: str, xy: Any) -> Any:
        case = case_under([LINE | {"xy": xy, "road": "r"}], roads=[other])
        return answer(case, "distance_to_wires", road=road)

    line = [(30.0, -4.0), (30.0, 4.0)]
    assert over("r", line)[0] == CAUTION
    # 8 m beside the other road and 7 m up over the first: how high over the other one nobody said
    verdict, numbers, missing = over("q", line)
    assert (verdict, missing) == (CAUTION, set())
    assert numbers["capacity"] == pytest.approx(8 - SWING - 1.45)
    verdict, _, missing = over("q", [(30.0, -10.0), (30.0, 4.0)])
    assert (verdict, missing) == (UNKNOWN, {"clearance_m"})


@pytest.mark.parametrize("part", ["distance_to_wires", "under_overheads"])
def test_a_clearance_holds_where_the_road_goes_on_under_another_name(part: str) -> None:
    """A road cut in its file 2 m behind the wire that names its first half; the machine's tail is still under it."""
    half = {"id": "q", "xyz": [(32, 0, 0), (60, 0, 0)], "width_m": 6.0, "surface": "compacted_gravel",
            "cross_slope_pct": 0.0, "roughness_m": 0.0}  # fmt: skip

    def over(road: str, xy: Any, **cut: Any) -> Any:
        return answer(case_under([LINE | {"xy": xy, "road": "r"}], **cut), part, road=road)

    cut = {"xyz": [(0, 0, 0), (32, 0, 0)], "roads": [half]}
    straight, slanting = [(30.0, -50.0), (30.0, 50.0)], [(29.0, 2.9), (60.0, 0.5)]
    whole = over("r", straight)
    for road in ("r", "q"):
        verdict, numbers, missing = over(road, straight, **cut)
        assert (verdict, missing) == (whole[0], set())
        assert numbers["capacity"] == pytest.approx(whole[1]["capacity"])
    # nearer to the second half than to where the first ends: how high there nobody said
    assert over("q", slanting, **cut)[::2] == (UNKNOWN, {"clearance_m"})


def test_a_span_over_a_slope_is_the_same_from_below_and_from_above() -> None:
    """A span across the middle of 60 m at 12 %, up as drawn and down as drawn; and beside a longer road or not."""
    away = {"id": "q", "xyz": [(0, 500, 0), (4.9, 500, 0)], "width_m": 6.0, "surface": "asphalt",
            "cross_slope_pct": 0.0, "roughness_m": 0.0}  # fmt: skip

    def least(high_m: float, **more: Any) -> Any:
        span = {"xy": ACROSS, "clearance_m": None, "attach_a_m": 12.0, "attach_b_m": 12.0, "sag_max_m": 2.0}
        xyz = [(0, 0, 3.6 - high_m), (60, 0, 3.6 + high_m)]
        return answer(case_under([LINE | span], xyz=xyz, **more), "distance_to_wires", road="r")[1]["capacity"]

    assert least(3.6) == pytest.approx(least(-3.6), abs=1e-6)
    assert least(3.6, roads=[away]) == pytest.approx(least(3.6), abs=1e-6)


# -- greatest sag


def heated(**line: Any) -> dict[str, Any]:
    return LINE | {"xy": ((30.0, -50.0), (30.0, 50.0)), "sag_max_m": None, "conductor_max_c": 60.0,
                   "expansion_per_k": 2.3e-5, "sag_m": 1.5, "clearance_m": 8.0} | line  # fmt: skip


def test_sag_from_the_conductors_own_data() -> None:
    soft = hung(case_under([heated(weight_n_per_m=4.0, stiffness_n=2.0e6)]))
    stiff = hung(case_under([heated()]))
    # 4 N/m over 100 m at 1.5 m: H = 4 · 100²/(8 · 1.5) = 3333 N; 50 K warmer: length of wire by its own equation
    before = 4.0 * 100**2 / (8 * 1.5)

    def longer(h: float) -> float:
        return (4.0 * 100) ** 2 / 24 * (1 / h**2 - 1 / before**2) - (h - before) / 2.0e6 - 2.3e-5 * 50

    root = optimize.brentq(longer, 100, 1e4)
    assert soft.sag_m[0] == pytest.approx(4.0 * 100**2 / (8 * root), rel=1e-6)
    assert stiff.sag_m[0] == pytest.approx(greatest_sag_thermal_only(100.0, 1.5, 2.3e-5, 50.0))
    assert stiff.sag_m[0] > soft.sag_m[0] > 1.5
    # the clearance falls by as much as the middle of the span
    assert soft.clearance_m[0] == pytest.approx(8.0 - (soft.sag_m[0] - 1.5))


def test_sag_when_the_clearance_was_taken_is_not_known_the_whole_drop_is_a_bound() -> None:
    # measured colder than the sag was: 8 − 2 m of greatest sag; enough room then is enough
    line = LINE | {"xy": ACROSS, "sag_max_m": 2.0, "measured_at_c": 0.0, "clearance_m": 8.0}
    verdict, numbers, missing = answer(case_under([line]), "under_overheads")
    assert (verdict, missing) == (CLEAR, set())
    assert numbers["capacity"] == pytest.approx(6.0)
    # where the bound does not pass nobody knows, it is not blocked: 4.5 − 2 < 3
    for name in ("under_overheads", "distance_to_wires"):
        verdict, _, missing = answer(case_under([line | {"clearance_m": 4.5}]), name)
        assert (verdict, missing) == (UNKNOWN, {"at_temperature_c"})


def test_without_any_sag_the_drop_is_bounded_by_heat_alone() -> None:
    # 100 m, 50 K, 23e-6: 2.077 m
    line = heated(sag_m=None, at_temperature_c=None)
    assert answer(case_under([line]), "under_overheads")[1]["capacity"] == pytest.approx(8.0 - 2.0767, abs=1e-3)
    assert answer(case_under([line | {"clearance_m": 5.0}]), "under_overheads")[::2] == (
        UNKNOWN, {"sag_max_m", "sag_m", "at_temperature_c"})  # fmt: skip
    for _ in range(50):
        span, share, warm = RNG.uniform(20, 200), RNG.uniform(0.002, 0.1), RNG.uniform(0, 90)
        drop = greatest_sag_thermal_only(span, span * share, 2.3e-5, warm) - span * share
        own = sag_after_warming(span * share, 4.0, span, 3e6, 2.3e-5, warm) - span * share
        assert greatest_drop_thermal_only(span, 2.3e-5, warm) >= max(drop, own) - 1e-9


def test_a_sag_outside_the_formula_is_unknown() -> None:
    # 100 m of span: 8 · 13 m > 100 m, no parabola any more
    for name in ("under_overheads", "distance_to_wires"):
        assert answer(case_under([heated(sag_m=13.0, measured_at_c=0.0)]), name)[0] == UNKNOWN


# -- over everything


def test_closer_lower_taller_and_stricter_are_never_better() -> None:
    def run(values: Any, make: Any) -> list[int]:
        return [int(make(v)[0]) for v in values]

    for verdicts in (
        run((20.0, 12.0, 9.0, 7.0, 5.0, 3.0, 0.0), lambda y: near(clearance_m=5.5, **at(y))),
        run((12.0, 9.0, 7.0, 6.2, 6.0, 5.0, 3.0), lambda c: near(xy=ACROSS, clearance_m=c)),
        run((0.5, 1.5, 2.5, 3.5), lambda s: near(xy=ACROSS, sag_max_m=s, clearance_m=7.2)),
        run((2.0, 3.0, 3.6, 4.4, 6.0), lambda k: near(xy=ACROSS, owner_clearance_m=k)),
        run((2.0, 3.0, 3.9, 4.2), lambda h: near(
            xy=ACROSS, case={"sheet": box(attitudes__0__top_xz_m=[[1.6, h], [-4.6, h]])})),
    ):  # fmt: skip
        assert verdicts == sorted(verdicts)
        assert verdicts[0] < verdicts[-1]


@pytest.mark.parametrize("name", ["distance_to_wires", "owners_word", "isolated_line"])
def test_cell_by_cell_is_the_grid(name: str) -> None:
    case = case_under(
        [
            LINE | {"xy": [(0, -30), (70, 40)], "owner_clearance_m": None},
            LINE | {"id": "b", "xy": [(0, 5), (60, 9)], "clearance_m": None, "attach_a_m": 9.0, "attach_b_m": 8.0},
            LINE | {"id": "c", "xy": [(0, -9), (60, -7)], "isolated_until": "2027-01-01T00:00:00Z"},
            LINE | {"id": "d", "xy": [(0, -9), (60, -7)], "voltage_kv": None},
        ],
        until=NOW,
    )
    part = part_of(name)
    grid, cells = (rows_of(case, part, grid) for grid in (True, False))
    shape = (len(case.configurations), 2, grid.piece.size)
    spread = np.broadcast_to(judge(part.check(grid, case)), shape).T.ravel()
    assert spread.max() > CLEAR
    assert np.array_equal(np.broadcast_to(judge(part.check(cells, case)), spread.shape), spread)


def test_a_site_without_anything_overhead_is_silent() -> None:
    case = case_under()
    for name in ("distance_to_wires", "under_overheads", "under_bar"):
        assert not rows_of(case, part_of(name)).piece.size


def test_worked_bars_over_the_built_height_of_33_kv() -> None:
    # 5.2 m where no road was foreseen: 4.40 m by the passing clearance, 3.37 m by 29 CFR 1926.1411 Table T
    built = resolve(RULEBOOK, "line-clearance.built_elsewhere", voltage_kv=33.0, jurisdiction="gb")
    assert built is not None
    for jurisdiction, bar in (("gb", 4.40), ("us", 3.37)):
        row = resolve(RULEBOOK, "line-clearance.keep", voltage_kv=33.0, jurisdiction=jurisdiction, load_state="none")
        assert row is not None
        assert bar_height(built.value, row.value, 0.0) == pytest.approx(bar, abs=0.005)


@pytest.mark.parametrize("name", ["distance_to_wires", "owners_word"])
def test_a_distance_nobody_knows_is_not_told_as_none(name: str) -> None:
    known = {"sag_max_m": 1.0, "owner_clearance_m": None}
    _, told, _ = near(name, **at(0.0), **known, clearance_m=7.0)
    verdict, numbers, _ = near(name, **at(0.0), **known | {"clearance_m": None})
    assert math.isfinite(told["capacity"])
    assert math.isnan(numbers["capacity"])
    assert verdict == (UNKNOWN if name == "distance_to_wires" else CAUTION)
