"""A road that comes back to itself: the way takes the short cut where it meets itself, and so do its legs."""

from __future__ import annotations

import pytest

from tests.memory_site import make_site
from tests.planning import plan_of
from travel.domain.site import Site

GOOD = {
    "width_m": 8.0, "surface": "asphalt", "cross_slope_pct": 0.0, "roughness_m": 0.02, "sight_m": 80.0, "lit": True,
    "bearing_kpa": 800.0, "edge_left": "none", "edge_right": "none", "traffic": "none", "passes_done": 0,
}  # fmt: skip
LOOP = [(0, 0, 0), (50, 0, 0), (50, 60, 0), (110, 60, 0), (110, 0, 0), (50, 0, 0), (50, -80, 0)]
RING = [(20, 40, 0), (0, 40, 0), (0, 0, 0), (40, 0, 0), (40, 40, 0), (20, 40, 0)]


def site(line: list[tuple[float, ...]], start: tuple[float, float], goal: tuple[float, float], **more: object) -> Site:
    """Give one road, and a pipe too low over what lies north of its way."""
    places = [dict(id="a", xy=start, kind="gate"), dict(id="b", xy=goal, kind="pick_point")]
    return make_site([dict(id="r", xyz=line, **GOOD)], places, **more)


@pytest.mark.parametrize(
    ("line", "start", "goal", "driven_m"), [(LOOP, (0, 0), (50, -80), 130.0), (RING, (0, 20), (40, 30), 70.0)]
)
def test_legs_are_what_is_driven(
    line: list[tuple[float, ...]], start: tuple[float, float], goal: tuple[float, float], driven_m: float
) -> None:
    low = dict(
        id="pipe", kind="pipe", xy=[(20, 55), (60, 55)] if line is LOOP else [(10, -5), (10, 5)], clearance_m=2.0
    )
    plan = plan_of(site(line, start, goal, overheads=[low]), "a", "b")
    assert plan.outcome == "way"
    (trip,) = plan.trips
    assert trip.length_m == pytest.approx(driven_m, abs=0.1)
    assert sum(leg.length_m for leg in plan.legs) == pytest.approx(trip.length_m, abs=1e-6)
    assert sorted(abs(leg.to_m - leg.from_m) for leg in plan.legs)[-1] < driven_m


def test_findings_end_where_the_way_leaves_the_chainage() -> None:
    rough = dict(id="r", xyz=LOOP, **GOOD | {"lit": None})
    places = [dict(id="a", xy=(0, 0), kind="gate"), dict(id="b", xy=(50, -80), kind="pick_point")]
    plan = plan_of(make_site([rough], places), "a", "b")
    spans = [(f.where.from_m, f.where.to_m) for f in plan.findings if f.where.scope == "stretch"]
    assert spans
    assert all(to_m <= 50.0 + 1e-6 or from_m >= 290.0 - 1e-6 for from_m, to_m in spans)
