"""Other roads that meet at a corner: where what is swept runs on to one, it is asked what that road does not let pass.

What is driven along is judged along. A turn cut short may run over a road that lies between its two, and a long tail
over one beside them; beyond the mouth of the junction nobody has asked about that ground.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.answers import answers_for
from travel.checks.case import Case
from travel.checks.circle import pieces_near, ways_of
from travel.domain.verdict import Verdict
from travel.survey.corners import Corners

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FAR_M = 20.0
"""As far from the corner as a shunt may end."""
BOX_M = 0.5
"""The mouth of a junction reaches from its middle to the corner of two roads as wide as the widest, and so much on."""
TOUCHED_M2 = 0.05
ASKED = frozenset((
    "tip", "slide", "side-slope", "twist", "grade-limit", "grip", "hold", "restart", "bearing", "passes", "posted-load",
    "buried-service", "edge-standoff", "shoulder", "headroom", "line-clearance", "underbody", "people", "closure",
))  # fmt: skip
"""Asked of another road that a turn runs on to, both ways along it."""


@dataclass(eq=False)
class OtherRoads:
    """The roads that meet at corners of one trip, with what each piece near them does not let pass.

    ``_shut`` by piece and configuration: the first rule that does not plainly let the machine on, "" for none.
    """

    case: Case
    corners: Corners
    _shut: dict[tuple[int, int], str] = field(default_factory=dict)
    _meeting: dict[int, tuple[int, ...]] = field(default_factory=dict)

    def mouth_m(self, row: int) -> float:
        """Give how far the mouth of a corner's junction reaches from its middle [m]."""
        node = int(self.corners.node[row])
        first = np.array([pieces_near(self.case, link, node, 0.0)[0] for link in self._links(node)], dtype=np.int64)
        widest = float(np.nanmax(self.case.survey.number("width_m")[first], initial=0.0))
        return widest / math.sqrt(2.0) + BOX_M

    def look(self, rows: Ints, configs: Ints, within_m: Floats) -> Bools:
        """Ask the other roads at some corners in some configurations at once; tell where any may bar, (rows, configs).

        Args:
            rows: corners at nodes
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
        node, corners = int(self.corners.node[row]), self.corners
        links = self._others(row)
        if not links or not self.look(np.array([row]), np.array(configs), np.array([within_m])).any():
            return ""
        mouth = shapely.Point(corners.x_m[row], corners.y_m[row]).buffer(self.mouth_m(row))
        aside = shapely.difference(area, shapely.union(mouth, ways_of(corners, row)))
        if shapely.area(aside) <= TOUCHED_M2:
            return ""
        network, ids = self.case.survey.network, self.case.survey.site.layers["roads"].ids
        for link in links:
            name, near = f"roads {ids[int(network.link_road[link])]}", pieces_near(self.case, link, node, within_m)
            if self._past_end(link, node, aside):
                return f"{name} (its end)"
            for piece in near[self._touched(near, aside)].tolist():
                rule = next((self._shut[piece, config] for config in configs if self._shut[piece, config]), "")
                if rule:
                    return f"{name} ({rule})"
        return ""

    def _links(self, node: int) -> tuple[int, ...]:
        if node not in self._meeting:
            network = self.case.survey.network
            there = (np.asarray(network.link_a) == node) | (np.asarray(network.link_b) == node)
            self._meeting[node] = tuple(np.flatnonzero(there).tolist())
        return self._meeting[node]

    def _others(self, row: int) -> list[int]:
        own = (int(self.corners.edge_in[row]) >> 1, int(self.corners.edge_out[row]) >> 1)
        return [link for link in self._links(int(self.corners.node[row])) if link not in own]

    def _other_pieces(self, row: int, within_m: float) -> Ints:
        node = int(self.corners.node[row])
        near = [pieces_near(self.case, link, node, within_m) for link in self._others(row)]
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
        self._shut.update({(p, config): name for p, name in zip(pieces.tolist(), named.tolist(), strict=True)})

    def _far_node(self, link: int, node: int) -> int:
        network = self.case.survey.network
        return int(network.link_b[link]) if int(network.link_a[link]) == node else int(network.link_a[link])

    def _ends_there(self, row: int) -> bool:
        """Tell whether another road at a corner ends within reach."""
        node, reach, network = int(self.corners.node[row]), FAR_M + self.case.body.length_m, self.case.survey.network
        return any(
            int(network.node_degree[self._far_node(link, node)]) == 1 and length_m(self.case, link) <= reach
            for link in self._others(row)
        )

    def _past_end(self, link: int, node: int, aside: BaseGeometry) -> bool:
        """Tell whether a swept area comes nearer to the far end of a road than half its width, or past it."""
        network, far = self.case.survey.network, self._far_node(link, node)
        if int(network.node_degree[far]) != 1 or length_m(self.case, link) > FAR_M + self.case.body.length_m:
            return False
        return bool(shapely.distance(aside, shapely.Point(network.node_xy[far])) < self.case.body.width_m / 2.0)

    def _touched(self, pieces: Ints, aside: BaseGeometry) -> Bools:
        """Tell which pieces a swept area comes on to; a road of unknown width is as wide as the machine is long."""
        survey = self.case.survey
        half = np.nan_to_num(survey.number("width_m")[pieces], nan=2.0 * self.case.body.length_m) / 2.0
        of = survey.pieces
        lines = [
            shapely.LineString(survey.xy(int(of.road[piece]), float(of.from_m[piece]), float(of.to_m[piece])))
            for piece in pieces.tolist()
        ]
        ground = shapely.buffer(np.array(lines, dtype=object), half, cap_style="flat")
        return np.asarray(shapely.area(shapely.intersection(ground, aside)) > TOUCHED_M2)


def length_m(case: Case, link: int) -> float:
    """Give the length of a link [m]."""
    network = case.survey.network
    return float(network.link_to_m[link] - network.link_from_m[link])
