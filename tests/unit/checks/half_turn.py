"""A half turn of one radius between two parallel straights, and what stands in its middle: for tests of the sweep."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import cast

import numpy as np

from travel.checks.mover import Mover
from travel.checks.sweep import sweep
from travel.survey.arms import SAMPLE_M
from travel.survey.corners import Corners
from travel.survey.rooms import ARM_M, Room

CUT_M = 0.5
"""Straight driven back before the turn begins: the shortest on the ladder that is not a sharp corner."""


@dataclass
class _HalfTurn:
    """One corner: in along +x at y = 0, left round (-CUT_M, radius), back along -x."""

    radius_m: float
    room_there: Room
    half_m: np.ndarray = field(default_factory=lambda: np.array([CUT_M]))
    meet_m: np.ndarray = field(default_factory=lambda: np.array([np.inf]))

    def _arms(self, y: float) -> tuple[np.ndarray, np.ndarray]:
        along = np.arange(0.0, ARM_M + SAMPLE_M / 2, SAMPLE_M)
        return np.column_stack((-along, np.full(len(along), y)))[None], np.array([ARM_M])

    def arms_in(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return self._arms(0.0)

    def arms_out(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return self._arms(2.0 * self.radius_m)

    def room(self, row: int) -> Room:
        return self.room_there


def _beyond(radius_m: float, mover: Mover, free_m: float, middle: bool) -> float:
    """Give how far the half turn sticks out of a corridor of half width ``free_m`` round its middle line."""
    capsule = np.array([[-CUT_M, radius_m, -CUT_M - 100.0, radius_m, free_m, np.inf, np.inf]])
    post = np.array([[-CUT_M, radius_m, 0.0]]) if middle else np.empty((0, 3))
    room = Room(
        capsules=capsule,
        link=np.array([0]),
        past=np.array([False]),
        near_m=np.array([-free_m]),
        ground=(),
        obstacles=post,
        solid_m=np.full(len(post), -free_m),
    )
    corners = cast(Corners, _HalfTurn(radius_m, room))
    swept = sweep(corners, np.array([0]), mover, enough_m=-np.inf)  # the first cut that can be driven, no other
    assert swept.cut_m[0] == CUT_M
    assert abs(swept.radius_m[0] - radius_m) < 1e-9
    return float(swept.outside_m[0])


def inside_radius_m(radius_m: float, mover: Mover) -> float:
    """Give how near the body comes to the middle of the half turn."""
    return -_beyond(radius_m, mover, 1000.0, middle=True)


def outside_radius_m(radius_m: float, mover: Mover) -> float:
    """Give how far from the middle (or from the line that runs back from it) the body reaches."""
    return 1.0 + _beyond(radius_m, mover, 1.0, middle=False)
