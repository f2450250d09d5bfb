"""Other roads about a corner: where what is swept runs on to one, it is asked what that road does not let pass.

What is driven along is judged along. A turn cut short may run over a road that lies between its two, and a long tail
over one beside them; beyond the mouth of the junction nobody has asked about that ground.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.answers import answers_for
from travel.checks.case import Case
from travel.checks.lies_beside import NEAR_M, ways_of
from travel.domain.verdict import Verdict
from travel.survey.corners import Corners
from travel.survey.rooms import END_M

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FAR_M = 20.0
"""As far from the corner as a shunt may end."""
BOX_M = 0.5
"""The mouth reaches from the middle of a corner to where its own roads' sides meet at a right angle, and so much on."""
TOUCHED_M2 = 0.05
ASKED = frozenset((
    "tip", "slide", "side-slope", "twist", "grade-limit", "grip", "hold", "restart", "bearing", "passes", "posted-load",
    "buried-service", "edge-standoff", "shoulder", "headroom", "line-clearance", "underbody", "people", "closure",
))  # fmt: skip
"""Asked of another road that a turn runs on to, both ways along it."""
LOOKED_AT = ("roads", "obstacles", "edges")
"""Layers somebody has to have looked at on it besides."""


@dataclass(eq=False)
class OtherRoads:
    """The roads about the corners of one trip, with what each piece near them does not let pass.

    ``_shut`` by piece and configuration: the first rule that does not plainly let the machine on, "" for none.
    """

    case: Case
    corners: Corners
    _shut: dict[tuple[int, int], str] = field(default_factory=dict)
    _about: dict[int, tuple[int, ...]] = field(default_factory=dict)
    _own: dict[int, BaseGeometry] = field(default_factory=dict)

    def mouth_m(self, row: int) -> float:
        """Give how far the mouth of a corner's own two roads reaches from its middle [m]."""
        half = np.nan_to_num(self.case.survey.number("width_m")[self._own_pieces(row)]) / 2.0
        return float(np.hypot(*half)) + BOX_M

    def _own_pieces(self, row: int) -> Ints:
        """Give the pieces a corner is entered and left by; of a bend the nearest one to it, twice."""
        corners, network, of = self.corners, self.case.survey.network, self.case.survey.pieces
        into, out = int(corners.edge_in[row]), int(corners.edge_out[row])
        first, last = np.asarray(network.link_piece_start), np.asarray(network.link_piece_stop) - 1
        if np.isnan(corners.at_m[row]):
            ends = first[into >> 1] if into & 1 else last[into >> 1], last[out >> 1] if out & 1 else first[out >> 1]
            return np.array(ends, dtype=np.int64)
        own = np.arange(first[into >> 1], last[into >> 1] + 1)
        at = int(own[np.argmin(np.abs(of.from_m[own] + of.to_m[own] - 2.0 * corners.at_m[row]))])
        return np.array([at, at], dtype=np.int64)

    def look(self, rows: Ints, configs: Ints, within_m: Floats) -> Bools:
        """Ask the other roads at some corners in some configurations at once; tell where any may bar, (rows, configs).

        Args:
            rows: corners
            configs: configurations
            within_m: by row, how far from the corner anything is swept beyond its own roads [m]
        """
        near = [self._other_pieces(row, far) for row, far in zip(rows.tolist(), within_m.tolist(), strict=True)]
        every = np.unique(np.concatenate([*near, np.zeros(0, dtype=np.int64)]))
        for config in configs.tolist():
            self._ask(np.array([p for p in every.tolist() if (p, config) not in self._shut], dtype=np.int64), config)
        ends = np.array([self._ends_there(row) for row in rows.tolist()], dtype=bool)
        bars = [[any(self._shut[p, config] for p in some.tolist()) for config in configs.tolist()] for some in near]
        return np.asarray(np.array(bars, dtype=bool).reshape(len(rows), len(configs)) | ends[:, None])

    def over(self, row: int, configs: tuple[int, ...], area: BaseGeometry, within_m: float) -> str:
        """Name another road a swept area runs on to, where it is not plainly passed; "" for none.

        Args:
            row: the corner
            configs: configurations it is driven in
            area: what the machine sweeps
            within_m: no further from the corner than this beyond its own roads [m]
        """
        links = self._others(row)
        if not links or not self.look(np.array([row]), np.array(configs), np.array([within_m])).any():
            return ""
        aside = shapely.difference(area, self.ground_of(row))
        if shapely.area(aside) <= TOUCHED_M2:
            return ""
        network, ids = self.case.survey.network, self.case.survey.site.layers["roads"].ids
        for link in links:
            name, near = f"roads {ids[int(network.link_road[link])]}", self._near(row, link, within_m)
            beyond = aside if self._meets(row, link) else shapely.difference(aside, self._own_ground(row))
            if self._past_end(row, link, beyond):
                return f"{name} (its end)"
            for piece in near[self._touched(near, beyond)].tolist():
                rule = next((self._shut[piece, config] for config in configs if self._shut[piece, config]), "")
                if rule:
                    return f"{name} ({rule})"
        return ""

    def ground_of(self, row: int) -> BaseGeometry:
        """Give the ground of the way to and from a corner and the mouth of its two roads."""
        return shapely.union(self._mouth(row), ways_of(self.corners, row))

    def _mouth(self, row: int) -> BaseGeometry:
        return shapely.Point(self.corners.x_m[row], self.corners.y_m[row]).buffer(self.mouth_m(row))

    def _meets(self, row: int, link: int) -> bool:
        """Tell whether a link ends at a corner's node; one that joins elsewhere begins inside the road it joins."""
        network = self.case.survey.network
        return int(self.corners.node[row]) in (int(network.link_a[link]), int(network.link_b[link]))

    def _own_ground(self, row: int) -> BaseGeometry:
        """Give the ground of the way to and from a corner, as wide as its roads are."""
        if row not in self._own:
            width = np.nan_to_num(self.case.survey.number("width_m"))
            near = np.concatenate([self._near(row, link, NEAR_M) for link in self.corners.on_the_way(row)])
            self._own[row] = shapely.union_all(self._ground(near, width[near] / 2.0))
        return self._own[row]

    def _ground(self, pieces: Ints, half_m: Floats) -> NDArray[np.object_]:
        """Give the ground of some pieces."""
        survey, of = self.case.survey, self.case.survey.pieces
        lines = [
            shapely.LineString(survey.xy(int(of.road[piece]), float(of.from_m[piece]), float(of.to_m[piece])))
            for piece in pieces.tolist()
        ]
        return np.asarray(shapely.buffer(np.array(lines, dtype=object), half_m, cap_style="flat"))

    def _others(self, row: int) -> tuple[int, ...]:
        """Give the links about a corner, joined to its roads, that are not on the way to and from it."""
        if row not in self._about:
            self._about[row] = self.corners.others(row)
        return self._about[row]

    def _near(self, row: int, link: int, within_m: float) -> Ints:
        """Give the pieces of a link that come within a distance of a corner, nearest first."""
        network, half = self.case.survey.network, self._half_m
        own = np.arange(network.link_piece_start[link], network.link_piece_stop[link])
        away = self._away_m(row, own)
        keep = away <= within_m + half[own]
        return np.asarray(own[keep][np.argsort(away[keep], kind="stable")])

    def _away_m(self, row: int, pieces: Ints) -> Floats:
        """Give how near some pieces' middle lines surely come to a corner at most [m]."""
        of, lines, corners = self.case.survey.pieces, self.case.survey.fabric.lines, self.corners
        ends = [lines.locate(of.road[pieces], at[pieces])[:2] for at in (of.from_m, of.to_m)]
        near = np.minimum(*(np.hypot(x - corners.x_m[row], y - corners.y_m[row]) for x, y in ends))
        return np.asarray(near - of.length_m[pieces] / 2.0)

    @cached_property
    def _half_m(self) -> Floats:
        """Half the width of every piece; a road of unknown width is as wide as the machine is long, twice."""
        return np.nan_to_num(self.case.survey.number("width_m"), nan=2.0 * self.case.body.length_m) / 2.0

    def _other_pieces(self, row: int, within_m: float) -> Ints:
        near = [self._near(row, link, within_m) for link in self._others(row)]
        return np.concatenate([np.zeros(0, dtype=np.int64), *near])

    def _ask(self, pieces: Ints, config: int) -> None:
        """Ask pieces nobody has asked about in a configuration, both ways."""
        if not len(pieces):
            return
        named = np.full(len(pieces), "", dtype=object)
        piece, sense = np.tile(pieces, 2), np.repeat([1, -1], len(pieces))
        rules = self.case.rulebook.rules
        for answer in answers_for(
            self.case, piece, sense, np.full(len(piece), config), ASKED - frozenset(self.case.left_out)
        ):
            shut = Verdict.CAUTION if rules[answer.rule].high_consequence else Verdict.UNKNOWN
            at = answer.position[answer.applies() & (answer.verdict >= shut)] % len(pieces)
            named[at] = np.where(named[at] == "", answer.rule, named[at])
        for layer in LOOKED_AT:
            unseen = ~self.case.survey.looked_at(layer)[pieces]
            named[unseen] = np.where(named[unseen] == "", f"{layer} not looked at", named[unseen])
        self._shut.update({(p, config): name for p, name in zip(pieces.tolist(), named.tolist(), strict=True)})

    def _dead_ends(self, link: int) -> Floats:
        """Give where a link ends without another one, (n, 2)."""
        network = self.case.survey.network
        nodes = np.array([network.link_a[link], network.link_b[link]], dtype=np.int64)
        return np.asarray(network.node_xy[nodes[np.asarray(network.node_degree)[nodes] == 1]])

    def _ends_there(self, row: int) -> bool:
        """Tell whether another road at a corner ends within reach."""
        reach, (x, y) = FAR_M + self.case.body.length_m + END_M, (self.corners.x_m[row], self.corners.y_m[row])
        return any((np.hypot(*(self._dead_ends(link) - (x, y)).T) <= reach).any() for link in self._others(row))

    def _past_end(self, row: int, link: int, aside: BaseGeometry) -> bool:
        """Tell whether a swept area comes nearer to an end of a road than half its width, or runs on past it, where
        only a machine that stands on that road has room."""
        ends = self._dead_ends(link)
        if bool((shapely.distance(aside, shapely.points(ends)) < self.case.body.width_m / 2.0).any()):
            return True
        past = [
            shapely.LineString(np.reshape(one[:4], (2, 2))).buffer(one[4])
            for one in self.corners.past_ends(link)
            if np.isfinite(one[4])
        ]
        if not past:
            return False
        room = self.corners.room(row)
        stated = [shapely.Point(one[:2]).buffer(one[4]) for one in room.capsules[room.link < 0]]
        known = shapely.union_all([*room.ground, *stated, *self._ground(*self._all_about(row))])
        return bool(
            shapely.area(shapely.difference(shapely.intersection(aside, shapely.union_all(past)), known)) > TOUCHED_M2
        )

    def _all_about(self, row: int) -> tuple[Ints, Floats]:
        """Give the pieces of all roads about a corner, and half their widths."""
        near = self._other_pieces(row, NEAR_M)
        return near, np.nan_to_num(self.case.survey.number("width_m")[near]) / 2.0

    def _touched(self, pieces: Ints, aside: BaseGeometry) -> Bools:
        """Tell which pieces a swept area comes on to."""
        ground = self._ground(pieces, self._half_m[pieces])
        return np.asarray(shapely.area(shapely.intersection(ground, aside)) > TOUCHED_M2)


def length_m(case: Case, link: int) -> float:
    """Give the length of a link [m]."""
    network = case.survey.network
    return float(network.link_to_m[link] - network.link_from_m[link])
