"""The roads about the corners of a site and their ground, laid down once each: they know no machine."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import partial
from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.lies_beside import NEAR_M, ways_about
from travel.survey import Survey
from travel.survey.corners import Corners

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Objects = NDArray[np.object_]
Made = TypeVar("Made")

BOX_M = 0.5
"""The mouth reaches from the middle of a corner to where its own roads' sides meet at a right angle, and so much on."""
QUADRANT = 16


class RoadsAbout:
    """The roads about the corners of a site; ``width_m`` by piece, NaN where it is not known."""

    def __init__(self, survey: Survey, corners: Corners) -> None:
        self._survey, self._corners = survey, corners
        self.width_m = survey.number("width_m")
        self._kept: dict[Hashable, object] = {}

    def _once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        if key not in self._kept:
            self._kept[key] = make()
        made: Made = self._kept[key]  # type: ignore[assignment]
        return made

    def mouth_m(self, row: int) -> float:
        """Give how far the mouth of a corner's own two roads reaches from its middle [m]."""
        half = np.nan_to_num(self.width_m[self._own_pieces(row)]) / 2.0
        return float(np.hypot(*half)) + BOX_M

    def _own_pieces(self, row: int) -> Ints:
        """Give the pieces a corner is entered and left by; of a bend the nearest one to it, twice."""
        corners, network, of = self._corners, self._survey.network, self._survey.pieces
        into, out = int(corners.edge_in[row]), int(corners.edge_out[row])
        first, last = np.asarray(network.link_piece_start), np.asarray(network.link_piece_stop) - 1
        if np.isnan(corners.at_m[row]):
            ends = first[into >> 1] if into & 1 else last[into >> 1], last[out >> 1] if out & 1 else first[out >> 1]
            return np.array(ends, dtype=np.int64)
        own = np.arange(first[into >> 1], last[into >> 1] + 1)
        at = int(own[np.argmin(np.abs(of.from_m[own] + of.to_m[own] - 2.0 * corners.at_m[row]))])
        return np.array([at, at], dtype=np.int64)

    def others(self, row: int) -> tuple[int, ...]:
        """Give the links about a corner, joined to its roads, that are not on the way to and from it."""
        return self._once(("others", row), lambda: self._corners.others(row))

    def meets(self, row: int, link: int) -> bool:
        """Tell whether a link ends at a corner's node; one that joins elsewhere begins inside the road it joins."""
        network = self._survey.network
        return int(self._corners.node[row]) in (int(network.link_a[link]), int(network.link_b[link]))

    def ground_of(self, row: int) -> BaseGeometry:
        """Give the ground of the way to and from a corner and the mouth of its two roads."""
        return self._once(
            ("way", row), lambda: shapely.union(self._mouth(row), ways_about(self._survey, self._corners, row))
        )

    def _mouth(self, row: int) -> BaseGeometry:
        return shapely.Point(self._corners.x_m[row], self._corners.y_m[row]).buffer(self.mouth_m(row))

    def own_ground(self, row: int) -> BaseGeometry:
        """Give the ground of the way to and from a corner, as wide as its roads are."""

        def lay() -> BaseGeometry:
            half = np.nan_to_num(self.width_m) / 2.0
            near = np.concatenate([self.near(row, (link,), NEAR_M, half) for link in self._corners.on_the_way(row)])
            return shapely.union_all(self.ground(near, half[near]))

        return self._once(("own", row), lay)

    def near(self, row: int, links: tuple[int, ...], within_m: float, half_m: Floats) -> Ints:
        """Give the pieces of some links that come within a distance of a corner, link by link, nearest first.

        Args:
            row: the corner
            links: links
            within_m: the distance [m]
            half_m: half the width of every piece [m]
        """
        pieces, away = self._once(("away", row, links), lambda: self._away(row, links))
        return pieces[away <= within_m + half_m[pieces]]

    def _away(self, row: int, links: tuple[int, ...]) -> tuple[Ints, Floats]:
        """Give the pieces of some links, and how near their middle lines surely come to a corner at most [m]."""
        network, length = self._survey.network, self._survey.pieces.length_m
        (ax, ay, bx, by), x, y = self._survey.piece_ends, self._corners.x_m[row], self._corners.y_m[row]
        found = [np.zeros(0, dtype=np.int64)], [np.zeros(0)]
        for link in links:
            own = np.arange(network.link_piece_start[link], network.link_piece_stop[link])
            ends = np.hypot(ax[own] - x, ay[own] - y), np.hypot(bx[own] - x, by[own] - y)
            away = np.minimum(*ends) - length[own] / 2.0
            order = np.argsort(away, kind="stable")
            found[0].append(own[order])
            found[1].append(away[order])
        return np.concatenate(found[0]), np.concatenate(found[1])

    def ground(self, pieces: Ints, half_m: Floats) -> Objects:
        """Give the ground of some pieces, each half as wide as is said."""
        out = np.empty(len(pieces), dtype=object)
        for number, (piece, half) in enumerate(zip(pieces.tolist(), half_m.tolist(), strict=True)):
            out[number] = self._once(("ground", piece, half), partial(self._laid, piece, half))
        return out

    def _laid(self, piece: int, half_m: float) -> BaseGeometry:
        of = self._survey.pieces
        xy = self._survey.xy(int(of.road[piece]), float(of.from_m[piece]), float(of.to_m[piece]))
        return shapely.buffer(shapely.LineString(xy), half_m, cap_style="flat")

    def dead_ends(self, link: int) -> Floats:
        """Give where a link ends without another one, (n, 2)."""
        network = self._survey.network
        nodes = np.array([network.link_a[link], network.link_b[link]], dtype=np.int64)
        return np.asarray(network.node_xy[nodes[np.asarray(network.node_degree)[nodes] == 1]])

    def nearest_end_m(self, row: int) -> float:
        """Give how near to a corner another road about it ends; ∞ where none does [m]."""

        def look() -> float:
            x, y = self._corners.x_m[row], self._corners.y_m[row]
            ends = [self.dead_ends(link) for link in self.others(row)]
            return min((float(np.hypot(*(some - (x, y)).T).min()) for some in ends if len(some)), default=np.inf)

        return self._once(("end", row), look)

    def past(self, link: int) -> BaseGeometry:
        """Give what counts as room past the dead ends of a link."""

        def lay() -> BaseGeometry:
            rows = self._corners.past_ends(link)
            lines = shapely.linestrings(rows[:, :4].reshape(-1, 2, 2))
            return shapely.union_all(shapely.buffer(lines, rows[:, 4], quad_segs=QUADRANT))

        return self._once(("past", link), lay)

    def known(self, row: int) -> BaseGeometry:
        """Give the ground that is known to be there about a corner: stated free, and that of the other roads."""

        def lay() -> BaseGeometry:
            room, half = self._corners.room(row), np.nan_to_num(self.width_m) / 2.0
            near = self.near(row, self.others(row), NEAR_M, half)
            stated = [shapely.Point(one[:2]).buffer(one[4]) for one in room.capsules[room.link < 0]]
            return shapely.union_all([*room.ground, *stated, *self.ground(near, half[near])])

        return self._once(("known", row), lay)


def roads_about(survey: Survey, corners: Corners) -> RoadsAbout:
    """Give the roads about the corners of a site, kept with its survey."""
    return survey.kept(("roads about",), lambda: RoadsAbout(survey, corners))
