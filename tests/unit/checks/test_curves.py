"""Curves drawn so finely that no vertex is a corner: tighter than full lock, nobody knows what the machine does."""

from __future__ import annotations

import math
from typing import Any

import pytest

from tests.memory_site import make_site
from tests.planning import plan_of, sheet
from tests.unit.checks.test_other_roads import TOLD
from tests.unit.checks.turn_cases import HEADER
from tests.unit.planning.test_close_corners import SAID
from travel.domain.plan import TravelPlan
from travel.domain.site import Site


def curve(radius_m: float, parts: int = 30) -> Site:
    """Give one road with a quarter circle in it."""
    angles = [part * math.pi / 2.0 / parts for part in range(parts + 1)]
    line = [
        (-60.0, 0.0),
        *((radius_m * math.sin(a), radius_m - radius_m * math.cos(a)) for a in angles),
        (radius_m, 60.0),
    ]
    places: list[dict[str, Any]] = [
        {"id": "gate", "xy": line[0], "kind": "gate"},
        {"id": "pick", "xy": line[-1], "kind": "pick_point"},
    ]
    return make_site([SAID | {"id": "r", "xy": line}], places, header=HEADER)


def plan(site: Site, *modes: tuple[str, float]) -> TravelPlan:
    steering = [{"mode": mode, "lock_deg": lock, "top_kmh": 25.0} for mode, lock in modes]
    return plan_of(site, "gate", "pick", sheet(**TOLD, steering=steering))


@pytest.mark.parametrize(
    ("lock_deg", "verdict"), [(30.0, "clear"), (20.0, "clear"), (14.0, "unknown"), (10.0, "unknown")]
)
def test_a_curve_tighter_than_full_lock_is_not_known_to_be_driven(lock_deg: float, verdict: str) -> None:
    """A front axle 3.2 m ahead of the rear one goes round on 3.2 m / sin(lock): 6.4, 9.4, 13.2 and 18.4 m."""
    found = plan(curve(10.0), ("front", lock_deg))
    assert not found.turns
    assert (found.outcome, found.verdict) == ("way", verdict)
    assert {finding.rule for finding in found.findings if finding.verdict == "unknown"} <= {"width"}


def test_a_wider_curve_and_the_other_steering_mode_are_driven() -> None:
    assert plan(curve(22.0), ("front", 10.0)).verdict == "clear"
    both = plan(curve(10.0), ("front", 14.0), ("all", 14.0))
    assert both.verdict != "unknown"
    assert {leg.steering for leg in both.legs} == {"all"}


def test_where_a_vertex_is_a_corner_it_decides() -> None:
    found = plan(curve(10.0, parts=2), ("front", 20.0))
    assert found.turns
    assert not any(finding.rule == "width" and finding.verdict == "unknown" for finding in found.findings)
