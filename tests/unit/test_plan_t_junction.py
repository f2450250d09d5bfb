"""The program's own answer for the T-junction that was planned by hand, before there was a search."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests import builders
from tests.planning import on_day
from travel.domain.layers import LAYERS
from travel.domain.plan import TravelPlan
from travel.domain.request import PlanRequest, TripConditions
from travel.domain.site import Weather
from travel.service.plan import make_plan
from travel.writers.plan_json import plan_from_bytes

HERE = Path(builders.__file__).parent
BY_HAND = HERE / "data" / "t_junction" / "plan.json"
DAY = dt.date(2026, 1, 14)
AT = dt.datetime(2026, 1, 15, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))
SIDES = {"edge_left": "kerb", "edge_right": "kerb"}
ROAD = {"width_m": 5.0, "surface": "compacted_gravel", "speed_limit_kmh": 10.0, "cross_slope_pct": 0.0,
        "traffic": "none", "bearing_kpa": 900.0, "bearing_wet_kpa": 900.0, "roughness_m": 0.02, "sight_m": 200.0,
        "lit": True, "passes_done": 100} | SIDES  # fmt: skip


def write_site(folder: Path) -> Path:
    """Write the ground of the README, in local metres: R1 level, R2 level for 20 m, then 14 %; free ground round J."""
    header = {
        "surveyed_on": DAY,
        "surveyed": {name: {"date": DAY} for name in LAYERS},
        "tolerance": {"height_m": 0.02, "width_m": 0.10, "cross_slope_pct": 0.1, "plan_m": 0.1},
        "window_m": 5.0,
    }
    roads = [
        builders.line("R1", [(0, 0, 100), (60, 0, 100), (120, 0, 100)], **ROAD),
        builders.line("R2", [(60, 0, 100), (60, 20, 100), (60, 80, 108.4)], **ROAD),
    ]
    places = [
        builders.point("G", (0, 0), kind="gate"),
        builders.point("J", (60, 0), kind="junction"),
        builders.point("S", (60, 10), kind="waiting", may_stop=True),
        builders.point("P", (60, 80), kind="pick_point", turn_radius_m=12.0, slope_pct=0.0, cross_slope_pct=0.0),
    ]
    mouth = [builders.area("mouth", [(45, -8), (75, -8), (75, 15), (45, 15)], use="free_ground")]
    empty = {name: [] for name in LAYERS if name not in ("roads", "places", "areas")}
    return builders.write_site(folder, header=header, roads=roads, places=places, areas=mouth, **empty)


def write_machine(path: Path) -> Path:
    """Write the machine of the README; what it does not say is generous."""
    pull = [[0.0, 140.0], [4.0, 110.0]]
    return builders.write_machine(
        path,
        name="invented handler, 18 t",
        axles__0__load_kg=9000.0,
        axles__1__load_kg=9000.0,
        axles__0__squash_m=0.01,
        axles__1__squash_m=0.01,
        axles__0__over_tyres_m=2.55,
        axles__1__over_tyres_m=2.55,
        axles__0__track_m=2.1,
        axles__1__track_m=2.1,
        axles__1__parking_braked=True,
        axles__1__stop_deg=12.0,
        attitudes__0__mass_kg=18000.0,
        attitudes__0__mass_tolerance_kg=200.0,
        attitudes__0__cg_z_m=1.0,
        attitudes__0__width_z_m=[[0.0, 2.55], [3.1, 2.4]],
        limits__grade_pct=16.0,
        limits__low_range_above_pct=8.0,
        limits__cross_slope_pct=10.0,
        capability=None,
        gears=[
            {"name": "L1", "travel": "forward", "range": "low", "top_kmh": 4.0, "pull_kn": pull},
            {
                "name": "H1",
                "travel": "forward",
                "range": "high",
                "top_kmh": 20.0,
                "pull_kn": [[0.0, 90.0], [20.0, 30.0]],
            },
            {"name": "R1", "travel": "reverse", "range": "low", "top_kmh": 4.0, "pull_kn": pull},
        ],
        brakes={"service_mps2": 5.0, "lag_s": 0.2, "parking_grade_pct": 20.0},
        retarding={"kind": "hydrostatic", "power_kw": 200.0},
        power_kw=120.0,
        steering=[{"mode": "front", "lock_deg": 40.0, "top_kmh": 25.0}],
        view=[{"sector_deg": [0.0, 360.0], "kind": "clear"}],
    )


@pytest.fixture(scope="module")
def plan(tmp_path_factory) -> TravelPlan:
    folder = tmp_path_factory.mktemp("t_junction")
    request = PlanRequest(
        site=write_site(folder / "site"),
        machine=write_machine(folder / "machine.toml"),
        from_place="G",
        to_place="P",
        at=AT,
        weather=Weather(ground="dry", temperature_c=8.0, wind_mps=4.0),
        back=TripConditions(at=AT + dt.timedelta(hours=1)),
    )
    with on_day(AT.date()):
        return make_plan(request).plan


@pytest.fixture(scope="module")
def by_hand() -> TravelPlan:
    return plan_from_bytes(BY_HAND.read_bytes())


def test_legs(plan, by_hand):
    names = ("leg", "trip", "vehicle", "road", "direction", "travel", "range", "steering", "attitude")
    assert [[getattr(leg, n) for n in names] for leg in plan.legs] == [
        [getattr(leg, n) for n in names] for leg in by_hand.legs
    ]
    for mine, theirs in zip(plan.legs, by_hand.legs, strict=True):
        assert (mine.from_m, mine.to_m) == pytest.approx((theirs.from_m, theirs.to_m), abs=1e-3)
        assert mine.length_m == pytest.approx(theirs.length_m, abs=1e-3)


def test_turns(plan, by_hand):
    names = ("turn", "trip", "place", "after_leg", "kind", "steering")
    assert [[getattr(turn, n) for n in names] for turn in plan.turns] == [
        [getattr(turn, n) for n in names] for turn in by_hand.turns
    ]
    room = {mine.turn: (mine.room_m, theirs.room_m) for mine, theirs in zip(plan.turns, by_hand.turns, strict=True)}
    assert all(mine == theirs for mine, theirs in room.values() if theirs is not None)
    assert any(theirs is not None for _, theirs in room.values())


def test_stops(plan, by_hand):
    names = ("stop", "trip", "before_leg", "place", "road", "kind")
    assert [[getattr(stop, n) for n in names] for stop in plan.stops] == [
        [getattr(stop, n) for n in names] for stop in by_hand.stops
    ]
    for mine, theirs in zip(plan.stops, by_hand.stops, strict=True):
        assert mine.at_m == pytest.approx(theirs.at_m, abs=1e-3)
        if mine.kind == "change":
            said = {(c.what, c.old, c.new) for c in theirs.changes if c.what != "drive"}
            assert {(c.what, c.old, c.new) for c in mine.changes} == said


def test_slope_is_thin_by_hand(plan, by_hand):
    """16 % permitted, 14 % asked, half-band 0.566 % of a 5 m window: 1.434 % left of a caution margin of 2 %."""
    theirs = [f for f in by_hand.findings if f.rule == "grade-limit"]
    mine = [f for f in plan.findings if f.rule == "grade-limit"]
    assert [(f.trip, f.where.road, f.verdict, f.why) for f in mine] == [
        (f.trip, f.where.road, f.verdict, f.why) for f in theirs
    ]
    for a, b in zip(mine, theirs, strict=True):
        for name in ("demand", "capacity", "tolerance", "margin", "severity"):
            assert getattr(a, name) == pytest.approx(getattr(b, name), abs=6e-4), name
        assert (a.unit, a.where.to_m) == (b.unit, pytest.approx(b.where.to_m))
        assert b.where.from_m - 5.0 - 1e-6 <= a.where.from_m <= b.where.from_m, "a window that touches counts"


def test_high_range_is_refused_on_the_slope(plan, by_hand):
    (theirs,) = [j for j in by_hand.judged if j.rule == "gear-for-grade" and j.road == "R2" and j.direction == "along"]
    mine = next(j for j in plan.judged if (j.rule, j.road, j.direction, j.travel)
                == ("gear-for-grade", "R2", "along", "forward"))  # fmt: skip
    assert (mine.verdict, mine.margin) == (theirs.verdict, pytest.approx(theirs.margin, abs=6e-4))


def test_answer(plan, by_hand):
    assert (plan.outcome, by_hand.outcome) == ("way", "way")
    assert plan.verdict == by_hand.verdict
    assert {f.rule for f in plan.findings} == {f.rule for f in by_hand.findings}
    assert [t.length_m for t in plan.trips] == pytest.approx([t.length_m for t in by_hand.trips])
    assert [t.climb_m for t in plan.trips] == pytest.approx([t.climb_m for t in by_hand.trips], abs=0.75)
