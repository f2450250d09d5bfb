"""A corner begins where its arcs do: not before the place where the machine starts, nor where it stood to change."""

from __future__ import annotations

from typing import Any

import pytest

from tests.memory_site import make_site
from tests.planning import plan_of, sheet
from tests.unit.checks.test_other_roads import TOLD
from tests.unit.checks.turn_cases import HEADER
from tests.unit.planning.test_close_corners import FRONT, SAID
from travel.domain.plan import TravelPlan
from travel.domain.site import Site

BOTH = [*FRONT, {"mode": "all", "lock_deg": 30.0, "top_kmh": 15.0}]


def corner(start_m: float, width_m: float, stands: tuple[float, ...] = ()) -> Site:
    """Give two roads at a right angle; the machine starts ``start_m`` before it and may stand so far before it."""
    said = SAID | {"width_m": width_m}
    roads = [said | {"id": "a", "xy": [(-60.0, 0.0), (0.0, 0.0)]}, said | {"id": "b", "xy": [(0.0, 0.0), (0.0, 60.0)]}]
    places: list[dict[str, Any]] = [
        {"id": "gate", "xy": (-start_m, 0.0), "kind": "gate", "may_stop": True},
        {"id": "pick", "xy": (0.0, 60.0), "kind": "pick_point"},
    ]
    places += [{"id": f"w{at:g}", "xy": (-at, 0.0), "kind": "waiting", "may_stop": True} for at in stands]
    return make_site(roads, places, header=HEADER)


def plan(site: Site, steering: list[dict[str, Any]]) -> TravelPlan:
    return plan_of(site, "gate", "pick", sheet(**TOLD, steering=steering))


@pytest.mark.parametrize(("start_m", "verdict"), [(3.0, "unknown"), (6.5, "unknown"), (7.5, "clear"), (40.0, "clear")])
def test_a_trip_that_starts_within_the_arcs_is_not_known_to_be_driven(start_m: float, verdict: str) -> None:
    """Wheelbase 3.2 m and 30 degrees: no arc is tighter than 6.4 m, so it begins 7 m before a right angle."""
    found = plan(corner(start_m, 8.0), FRONT)
    assert (found.outcome, found.verdict) == ("way", verdict)
    assert {f.reason for f in found.findings if f.rule == "turn"} == (
        {"corners_close"} if verdict == "unknown" else set()
    )


def test_steering_is_not_changed_where_the_arcs_have_begun() -> None:
    """6 m of road are too narrow for front steering; standing 2 m before the corner is too late for the other one."""
    early = plan(corner(50.0, 6.0, stands=(30.0,)), BOTH)
    changed = [stop.place for stop in early.stops if stop.kind == "change"]
    late = plan(corner(50.0, 6.0, stands=(2.0,)), BOTH)
    assert early.verdict == "clear"
    assert changed in ([], ["w30"])
    assert "w2" not in [stop.place for stop in late.stops if stop.kind == "change"]
