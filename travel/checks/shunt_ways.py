"""Ways in moves as columns: where they stop, on which arcs, and how far they carry the machine."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from travel.mechanics.shunting import arc_across, arc_along

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

FIRST, LAST_ONE = (1.0, 1.5), (1.0, 1.5, 2.0)
"""Radii of the first and the last move, as multiples of the least one; the others are driven on full lock."""
LEAST_MOVE_M = 0.5
"""A shorter move is none that a driver makes; common practice, no source."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Ways:
    """Ways in moves: stops as shares of the change of heading, radii (backwards negative), begin and end on the arms,
    the change of heading (+ left), what they leave apart."""

    share: Floats
    radius_m: Floats
    start_m: Floats
    end_m: Floats
    turn_rad: Floats
    apart_m: Floats

    def some(self, which: NDArray[np.generic]) -> Ways:
        """Give some of the ways."""
        return Ways(
            share=self.share[which],
            radius_m=self.radius_m[which],
            start_m=self.start_m[which],
            end_m=self.end_m[which],
            turn_rad=self.turn_rad[which],
            apart_m=self.apart_m[which],
        )


def long_enough(share: Floats, radius_m: Floats, turn_rad: Floats) -> Bools:
    """Tell which ways have no move that is shorter than a driver makes; moves of no length are left out."""
    every = np.diff(share, axis=1, prepend=0.0, append=1.0) * np.abs(turn_rad)[:, None] * np.abs(radius_m)
    return np.asarray(((every <= 0.0) | (every >= LEAST_MOVE_M)).all(axis=1))


def with_radii(share: Floats, least_m: float) -> tuple[Floats, Floats]:
    """Give every set of stops with every set of radii, backwards negative: (ways, stops), (ways, moves)."""
    ends = np.array(list(product(FIRST, LAST_ONE)))
    radius = np.ones((len(ends), share.shape[1] + 1))
    radius[:, 0], radius[:, -1] = ends[:, 0], ends[:, 1]
    radius[:, 1::2] *= -1.0
    return np.repeat(share, len(ends), axis=0), np.tile(radius * least_m, (len(share), 1))


def shift(share: Floats, radius: Floats, ahead: Floats, turn: Floats) -> Floats:
    """Give by how much the moves carry the trailing point, (ways, 2)."""
    edge = np.ones((len(share), 1))
    stops = np.concatenate((0.0 * edge, share, edge), axis=1) * np.abs(turn)[:, None]
    along = np.asarray(arc_along(radius, stops[:, :-1], stops[:, 1:])).sum(axis=1)
    across = np.asarray(arc_across(radius, stops[:, :-1], stops[:, 1:])).sum(axis=1)
    left = np.column_stack((-ahead[:, 1], ahead[:, 0])) * np.sign(turn)[:, None]
    return np.asarray(along[:, None] * ahead + across[:, None] * left)
