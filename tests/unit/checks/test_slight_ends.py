"""A point on the straight just before a corner leaves the corner where it is."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import case_of, sheet
from tests.unit.checks.turn_cases import HEADER, ROAD, state_of
from travel.checks import check_turns
from travel.domain.site import Site
from travel.survey.corridors import SIMPLE_M

OFF_M = 0.004


def site(before_m: float | None, how: str) -> Site:
    """Give a right angle 40 m from the start; a vertex, a place, or the end of the file's road lies before it."""
    straight = [(-40.0, 0.0), (0.0, 0.0)] if before_m is None else [(-40.0, 0.0), (-before_m, 0.0), (0.0, 0.0)]
    lines = [[*straight, (0.0, 40.0)]]
    if how == "split" and before_m is not None:
        lines = [straight[:2], [*straight[1:], (0.0, 40.0)]]
    if how == "vertex off the line" and before_m is not None:
        lines = [[(-40.0, 0.0), (-before_m, OFF_M), (0.0, 0.0), (0.0, 40.0)]]
    roads: list[dict[str, Any]] = [ROAD | {"id": f"r{n}", "xy": xy, "width_m": 8.0} for n, xy in enumerate(lines)]
    places = [{"id": "gate", "xy": (-40.0, 0.0), "kind": "gate"}, {"id": "pick", "xy": (0.0, 40.0), "kind": "waiting"}]
    if how == "place" and before_m is not None:
        places.append({"id": "w", "xy": (-before_m, 0.0), "kind": "waiting"})
    return make_site(roads, places, header=HEADER)


def asked(made: Site) -> list[float]:
    """Give the road that the corner asks for, along and against."""
    case = case_of(made, sheet())
    turns = check_turns(case)
    rows = np.flatnonzero(np.abs(turns.corners.angle_rad) < 3.0)
    assert turns.corners.half_m[rows] == pytest.approx(0.0, abs=1e-6)
    part = turns.parts(rows, np.array([state_of(case)]))[0]
    return [float(value) for value in np.asarray(part.outcome.demand).ravel()]


@pytest.mark.parametrize("before_m", [1.5, 2.0, 2.9])
@pytest.mark.parametrize(
    ("how", "more_m"),
    [("vertex", 2 * SIMPLE_M), ("place", 0.0), ("split", 0.0), ("vertex off the line", 2 * (SIMPLE_M + OFF_M))],
)
def test_what_lies_on_the_straight_before_a_corner_does_not_move_it(before_m: float, how: str, more_m: float) -> None:
    """A vertex left out of a road makes its room narrower on each side, one off the line by as much more as it is."""
    assert asked(site(before_m, how)) == pytest.approx(asked(site(None, "vertex")), abs=more_m + 1e-4)
