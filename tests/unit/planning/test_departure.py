"""The latest departure: closed forms, the plan made again at that minute and the next, every rule asked by brute."""

from __future__ import annotations

import dataclasses
import datetime as dt
import random

import numpy as np
import pytest

from tests.memory_site import DATE, make_site
from tests.planning import DEMO, case_of, plan_of, sheet
from travel.checks import answers_for
from travel.domain.layers import LAYERS
from travel.domain.request import TripConditions
from travel.domain.site import Weather
from travel.planning import TripRequest, solve
from travel.planning.departure import departure_of
from travel.readers.sheets import read_machine
from travel.service.workspace import Workspace

NOON = dt.datetime.combine(DATE + dt.timedelta(days=1), dt.time(12), tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)
GROUND = {"width_m": 8.0, "surface": "asphalt", "cross_slope_pct": 0.0, "edge_left": "none", "edge_right": "none",
          "traffic": "none", "sight_m": 300.0, "lit": True, "bearing_kpa": 900.0, "bearing_wet_kpa": 900.0,
          "roughness_m": 0.0, "passes_done": 100}  # fmt: skip


def straight(surveyed=None, **layers):
    road = GROUND | layers.pop("road", {})
    return make_site(
        roads=[{"id": "R1", "xyz": [(0, 0, 10), (0, 200, 10)], **road}],
        places=[
            {"id": "G", "xy": (0, 0), "kind": "gate"},
            {"id": "P", "xy": (0, 200), "kind": "pick_point", "turn_radius_m": 30.0, "may_stop": True},
        ],
        surveyed=surveyed,
        **layers,
    )


def crossing(**hours):
    return {"id": "Z", "kind": "crossing", "polygon": [(-4, 90), (4, 90), (4, 96), (-4, 96)], **hours}


def at(hour: int, minute: int = 0, day: int = 0) -> dt.datetime:
    return NOON.replace(hour=hour, minute=minute) + dt.timedelta(days=day)


def clock(text: str | None) -> dt.datetime | None:
    return dt.datetime.fromisoformat(text) if text else None


def same(one, other) -> bool:
    """Tell whether two plans say the same at every finding."""
    said = [[(f.rule, f.trip, f.where.road, f.where.feature, f.verdict) for f in p.findings] for p in (one, other)]
    speeds = [[leg.speeds for leg in p.legs] for p in (one, other)]
    return one.outcome == other.outcome and said[0] == said[1] and speeds[0] == speeds[1]


def test_without_an_hour_any_hour_is_meant():
    plan = plan_of(straight(), "G", "P")
    assert (plan.latest_departure, plan.departure["state"]) == (None, "any_hour")


def test_a_closure_ends_it_a_minute_before_the_span_touches_it():
    closed = {"id": "C", "polygon": [(-4, 90), (4, 90), (4, 96), (-4, 96)], "closed_from": at(15).isoformat()}
    site = straight(closures=[closed])
    plan = plan_of(site, "G", "P", at=NOON, horizon_min=60.0)
    assert clock(plan.latest_departure) == at(13, 59)
    assert plan.departure["limited_by"] == [
        {"rule": "closure", "trip": "out", "road": "R1", "layer": "closures", "feature": "C"}
    ]
    assert same(plan, plan_of(site, "G", "P", at=at(13, 59), horizon_min=60.0))
    assert plan_of(site, "G", "P", at=at(14), horizon_min=60.0).outcome == "no_way"


def test_without_a_span_stated_half_as_long_again_as_the_plan_is_looked_at():
    """Where nothing is stated the span is 1.5 times the plan: a short plan goes before a closure later in the hour."""
    shut = {"id": "C", "polygon": [(-4, 90), (4, 90), (4, 96), (-4, 96)], "closed_from": at(15).isoformat()}
    site = straight(closures=[shut])
    plan = plan_of(site, "G", "P", at=NOON)
    needed = dt.timedelta(seconds=1.5 * sum(trip.time_s for trip in plan.trips))
    assert dt.timedelta(minutes=1) < needed < dt.timedelta(minutes=10)
    whole = (at(15) - needed - NOON) // MINUTE
    assert clock(plan.latest_departure) == NOON + whole * MINUTE
    assert plan_of(site, "G", "P", at=clock(plan.latest_departure)).outcome == "way"
    assert plan_of(site, "G", "P", at=clock(plan.latest_departure) + MINUTE).outcome == "no_way"


@pytest.mark.parametrize("horizon_min", [30.0, 90.0])
def test_people_that_come_end_it(horizon_min):
    site = straight(people=[crossing(from_time="16:30", until_time="17:30")])
    plan = plan_of(site, "G", "P", at=NOON, horizon_min=horizon_min)
    assert clock(plan.latest_departure) == at(16, 29) - dt.timedelta(minutes=horizon_min)
    assert {entry["rule"] for entry in plan.departure["limited_by"]} == {"people"}
    assert same(plan, plan_of(site, "G", "P", at=clock(plan.latest_departure), horizon_min=horizon_min))


def test_people_that_leave_do_not_end_it():
    """At noon they are about; in the evening they go, and come again in the morning, as planned for."""
    site = straight(people=[crossing(from_time="07:00", until_time="17:30")])
    plan = plan_of(site, "G", "P", at=NOON, horizon_min=60.0)
    assert plan.departure["state"] == "not_limited"
    assert clock(plan.departure["looked_until"]) == NOON + dt.timedelta(hours=24)


def test_dusk_ends_it_on_an_unlit_road_to_the_minute():
    site = straight(road={"lit": False})
    plan = plan_of(site, "G", "P", at=NOON, horizon_min=60.0)
    latest = clock(plan.latest_departure)
    assert at(15) < latest < at(18)
    assert {entry["rule"] for entry in plan.departure["limited_by"]} == {"light"}
    last = plan_of(site, "G", "P", at=latest, horizon_min=60.0)
    next_ = plan_of(site, "G", "P", at=latest + MINUTE, horizon_min=60.0)
    assert [f.rule for f in last.findings] == [f.rule for f in plan.findings]
    assert {f.rule for f in next_.findings} == {f.rule for f in plan.findings} | {"light"}


def test_hours_on_a_sign_nobody_put_into_times_make_it_unknown():
    sign = {"id": "S", "kind": "posted", "xy": (0, 90), "road": "R1", "speed_kmh": 5.0, "hours": "school hours"}
    plan = plan_of(straight(limits=[sign]), "G", "P", at=NOON)
    assert plan.verdict == "unknown"
    assert (plan.latest_departure, plan.departure["state"]) == (None, "unknown")
    assert plan.departure["missing"] == ["hours"]


def test_a_survey_that_lapses_at_midnight_ends_it():
    until = (DATE + dt.timedelta(days=1)).isoformat()
    notes = {name: {"date": DATE} for name in LAYERS} | {"ground": {"date": DATE, "until": until}}
    site = straight(surveyed=notes)
    plan = plan_of(site, "G", "P", at=NOON)
    assert clock(plan.latest_departure) == at(23, 59)
    assert {entry["rule"] for entry in plan.departure["limited_by"]} == {"survey-age"}


def test_the_way_back_moves_by_as_much():
    """People from 18:00; back at 15:00 with an hour looked at: a start more than 1 h 59 min later meets them."""
    site = straight(people=[crossing(from_time="18:00", until_time="18:30")])
    back = TripConditions(at=at(15))
    plan = plan_of(site, "G", "P", at=NOON, back=back, with_return=True, horizon_min=60.0)
    assert clock(plan.latest_departure) == at(13, 59)
    assert {entry["trip"] for entry in plan.departure["limited_by"]} == {"back"}
    loose = plan_of(site, "G", "P", at=NOON, with_return=True, horizon_min=60.0)
    assert clock(loose.latest_departure) == at(16, 59), "without an hour of its own the way back holds at any"


def test_no_way_has_no_hour():
    plan = plan_of(straight(closures=[crossing() | {"kind": None}][:0], road={"width_m": 1.0}), "G", "P", at=NOON)
    assert (plan.outcome, plan.departure["state"], plan.latest_departure) == ("no_way", "no_way", None)


def brute(trip, minutes: int) -> bool:
    """Ask every rule again so many minutes later: whether nothing is worse and no speed lower."""
    later = dt.timedelta(minutes=minutes)
    case = dataclasses.replace(trip.case, at=trip.case.at + later, until=trip.case.until + later)
    cells = trip.cells.piece, trip.cells.sense, trip.cells.config
    for old, new in zip(answers_for(trip.case, *cells), answers_for(case, *cells), strict=True):
        if (new.verdict > old.verdict).any():
            return False
        if new.outcome.cap_mps is not None:
            caps = [np.where(a.applies(), np.nan_to_num(a.outcome.cap_mps, nan=np.inf), np.inf) for a in (new, old)]
            if (caps[0] < caps[1]).any():
                return False
    return True


def check_brute(trip, step: int) -> str:
    found = departure_of([trip], True)
    if found["state"] == "unknown":
        return "unknown"
    last = 1440
    if found["state"] == "limited":
        last = round((clock(found["latest"]) - trip.case.at) / MINUTE)
        assert not brute(trip, last + 1), found
    assert brute(trip, last)
    assert all(brute(trip, minutes) for minutes in range(0, last, step)), found
    return str(found["state"])


def hourly(seed: int):
    """Draw a straight road with people, signs, closures, a wire, an edge and soft ground that go by the clock."""
    rng = random.Random(seed)

    def hours() -> dict[str, str]:
        if rng.random() < 0.2:
            return {}
        first, last = sorted(rng.sample(range(1440), 2))
        if rng.random() < 0.2:
            first, last = last, first
        text = {"from_time": f"{first // 60:02}:{first % 60:02}", "until_time": f"{last // 60:02}:{last % 60:02}"}
        return text | ({"days": rng.choice(["mon tue", "wed", "sat sun"])} if rng.random() < 0.3 else {})

    def moment() -> str:
        return (NOON + dt.timedelta(minutes=rng.randrange(-600, 1500))).isoformat()

    def box(x: float, y: float) -> list[tuple[float, float]]:
        return [(x - 4, y), (x + 4, y), (x + 4, y + 5), (x - 4, y + 5)]

    spots = [rng.uniform(10, 180) for _ in range(8)]
    beside = [rng.choice([0.0, 7.0, 9.0]) for _ in range(8)]
    day = [(DATE + dt.timedelta(days=rng.randrange(0, 3))).isoformat() for _ in range(8)]
    people = [{"id": f"H{k}", "kind": "crossing", "polygon": box(beside[k], spots[k])} | hours() for k in range(3)]
    signs = [{"id": "S1", "kind": "posted", "xy": (0, spots[3]), "road": "R1"} | hours()]
    signs = [sign for sign in signs if "from_time" in sign and rng.random() < 0.3]
    shut = [{"id": "C1", "polygon": box(0.0, spots[4]), "closed_from": moment()}] * (rng.random() < 0.3)
    wires = [{"id": "W1", "kind": "power_line", "xy": [(-20, spots[5]), (20, spots[5])], "clearance_m": 9.0,
              "sag_max_m": 1.0, "half_spread_m": 0.5, "voltage_kv": 11.0, "owner_clearance_m": 3.0,
              "isolated_until": moment()}] * (rng.random() < 0.4)  # fmt: skip
    soft = [{"id": "F1", "polygon": box(0.0, spots[6]), "bearing_kpa": 900.0, "bearing_wet_kpa": 900.0,
             "surface": "compacted_gravel", "valid_until": day[6]}] * (rng.random() < 0.4)  # fmt: skip
    crest = [{"id": "E1", "kind": "drop", "xy": [(15, spots[7]), (15, spots[7] + 9)], "depth_m": 2.0,
              "inspected_on": day[7]}] * (rng.random() < 0.4)  # fmt: skip
    layers = {"people": people, "limits": signs, "closures": shut, "overheads": wires, "ground": soft, "edges": crest}
    return straight(road={"lit": rng.random() < 0.6}, **layers), rng.randrange(0, 1440), rng.randrange(15, 120)


def test_every_rule_asked_at_many_hours_on_drawn_sites():
    seen: dict[str, int] = {}
    ended: set[str] = set()
    for seed in range(30):
        site, minute, span = hourly(seed)
        start = at(0) + dt.timedelta(minutes=minute)
        case = case_of(site, sheet(), at=start, until=start + dt.timedelta(minutes=span))
        nodes = case.survey.network.place_node
        trip = solve(case, TripRequest(start=nodes["G"], goal=nodes["P"], from_place="G", to_place="P"))
        if trip.way is not None:
            state = check_brute(trip, 307)
            seen[state] = seen.get(state, 0) + 1
            ended |= {entry["rule"] for entry in departure_of([trip], True)["limited_by"]}
    assert seen.get("limited", 0) >= 10, seen
    assert seen.get("not_limited", 0) >= 2, seen
    assert {"people", "light", "closure", "line-clearance"} <= ended, ended


@pytest.mark.parametrize("hour", [4, 12])
def test_every_rule_asked_at_many_hours_on_the_demo(hour):
    machine, *_ = read_machine(DEMO / "machines" / "middle.toml")
    start = dt.datetime(2026, 11, 25, hour, 30, tzinfo=dt.UTC)
    weather = Weather(ground="damp", temperature_c=8.0, wind_mps=4.0)
    case = case_of(
        Workspace(path=DEMO / "site"), machine, weather=weather, at=start, until=start + dt.timedelta(hours=1)
    )
    nodes = case.survey.network.place_node
    trip = solve(case, TripRequest(start=nodes["G1"], goal=nodes["P1"], from_place="G1", to_place="P1"))
    assert check_brute(trip, 95) in ("limited", "not_limited")
