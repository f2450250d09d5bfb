"""Many places at one hour: each is told as its own plan tells it, the way out only."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from tests.memory_site import DATE, make_site
from tests.planning import answer_of, case_of, sheet
from travel.domain.request import Acceptance
from travel.domain.site import Amendment, Site
from travel.planning.spans import Spans
from travel.survey import lay_on

NOON = dt.datetime.combine(DATE + dt.timedelta(days=1), dt.time(12), tzinfo=dt.UTC)
ROAD = {"width_m": 9.0, "surface": "asphalt", "cross_slope_pct": 0.0, "edge_left": "none", "edge_right": "none",
        "traffic": "none", "sight_m": 300.0, "lit": True, "bearing_kpa": 900.0, "bearing_wet_kpa": 900.0,
        "roughness_m": 0.0, "passes_done": 100}  # fmt: skip

MACHINE = sheet(axles__0__squash_m=0.01, axles__1__squash_m=0.01, view=[{"sector_deg": [0.0, 360.0], "kind": "clear"}])
NARROW_M = 2.85


def ring(closed_from: dt.datetime, **layers: Any) -> Site:
    """Give a gate, a pick point near it, and one further on with a short road that closes soon and a long one."""
    point = {"kind": "pick_point", "turn_radius_m": 30.0, "may_stop": True}
    lines = {
        "near": [(0, 0, 10), (0, 40, 10)],
        "short": [(0, 40, 10), (0, 240, 10)],
        "out": [(0, 40, 10), (80, 100, 10), (80, 240, 10), (0, 240, 10)],
        "on": [(0, 240, 10), (0, 300, 10)],
    }
    barred = {"id": "C", "polygon": [(-4, 180), (4, 180), (4, 190), (-4, 190)], "closed_from": closed_from.isoformat()}
    return make_site(
        [{"id": name, "xyz": line, **ROAD} for name, line in lines.items()],
        [
            {"id": "G", "xy": (0, 0), "kind": "gate", "may_stop": True},
            {"id": "A", "xy": (0, 40), **point},
            {"id": "B", "xy": (0, 240), **point},
            {"id": "D", "xy": (0, 300), **point},
        ],
        closures=[barred],
        **layers,
    )


def spans(site: Site, at: dt.datetime, accepted: dict[str, str] | None = None) -> Spans:
    return Spans(case_of(site, MACHINE, at=at, until=at, steering=("front", "all")), accepted)


@pytest.mark.parametrize("minutes", [0.2, 0.5, 0.8, 1.0, 1.4, 2.0, 30.0])
def test_each_place_is_told_as_its_own_plan_tells_it(minutes: float) -> None:
    site = ring(NOON + dt.timedelta(minutes=minutes))
    for one in spans(site, NOON).reached("G", ("A", "B", "D")):
        plan = answer_of(site, "G", one.reach.place, MACHINE, at=NOON).plan
        told = one.reach
        assert (told.verdict, told.length_m or 0.0) == (plan.trips[0].verdict, pytest.approx(plan.trips[0].length_m))
        assert (told.length_m is None) == (plan.outcome == "no_way")
        if told.time_s is not None:
            assert told.time_s == pytest.approx(plan.trips[0].time_s)


def test_hours_are_looked_at_as_long_as_each_way_takes() -> None:
    """What closes soon is no hindrance near the gate and one further on; what closes later is none."""
    ways = {}
    for minutes in (0.1, 1.0, 30.0):
        site = ring(NOON + dt.timedelta(minutes=minutes))
        ways[minutes] = {one.reach.place: one.reach.length_m for one in spans(site, NOON).reached("G", ("A", "D"))}
    assert ways[0.1]["A"] == ways[30.0]["A"] == pytest.approx(40.0)
    assert ways[1.0]["D"] == ways[0.1]["D"] > ways[30.0]["D"] + 50.0


def test_spans_that_tell_every_clock_the_same_are_searched_on_one_graph() -> None:
    far = spans(ring(NOON + dt.timedelta(hours=5)), NOON)
    assert len({id(one.prepared) for one in far.reached("G", ("A", "B", "D"))}) == 1
    soon = spans(ring(NOON + dt.timedelta(minutes=1)), NOON)
    assert len({id(one.prepared) for one in soon.reached("G", ("A", "B", "D"))}) == 2


def test_a_second_stretch_is_accepted_by_its_own_id() -> None:
    """Two stretches of one road are too narrow within the tolerance: the first id opens the way, both must be named."""
    at = [(60.0, 70.0), (140.0, 150.0)]
    narrow = [
        Amendment(layer="roads", feature="short", field="width_m", value=NARROW_M, from_m=a, to_m=b) for a, b in at
    ]
    shut = Amendment(layer="roads", feature="out", field="width_m", value=1.0)
    site = lay_on(ring(NOON + dt.timedelta(hours=5)), (shut, *narrow))
    (first,) = spans(site, NOON).reached("G", ("D",))
    assert first.reach.binding is not None
    name, verdicts = first.reach.binding.id, []
    for ids in ((), (name,), (name, f"{name}.2")):
        accepted = tuple(Acceptance(id=one, reason="measured again") for one in ids)
        (one,) = spans(site, NOON, {item.id: item.reason for item in accepted}).reached("G", ("D",))
        plan = answer_of(site, "G", "D", MACHINE, at=NOON, accept_unknown=accepted).plan
        assert (one.reach.verdict, one.reach.length_m) == (plan.trips[0].verdict, plan.trips[0].length_m)
        verdicts.append(one.reach.verdict)
    assert verdicts == ["unknown", "unknown", "caution"]
