"""Other roads about a corner: where what is swept runs on to one, it is asked what that road does not let pass.

What is driven along is judged along. A turn cut short may run over a road that lies between its two, and a long tail
over one beside them; beyond the mouth of the junction nobody has asked about that ground.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.answers import answers_for
from travel.checks.case import Case
from travel.checks.roads_about import RoadsAbout, roads_about
from travel.domain.verdict import Verdict
from travel.survey.corners import Corners
from travel.survey.corridors import END_M

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FAR_M = 20.0
"""As far from the corner as a shunt may end."""
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

    @cached_property
    def about(self) -> RoadsAbout:
        """The roads about the corners, whatever drives there."""
        return roads_about(self.case.survey, self.corners)

    def look(self, rows: Ints, configs: Ints, within_m: Floats) -> Bools:
        """Ask the other roads at some corners in some configurations at once; tell where any may bar, (rows, configs).

        Args:
            rows: corners
            configs: configurations
            within_m: by row, how far from the corner anything is swept beyond its own roads [m]
        """
        near = [
            self.about.near(row, self.about.others(row), far, self._half_m).tolist()
            for row, far in zip(rows.tolist(), within_m.tolist(), strict=True)
        ]
        every = sorted({piece for some in near for piece in some})
        self._ask([at for at in product(every, configs.tolist()) if at not in self._shut])
        reach = FAR_M + self.case.body.length_m + END_M
        ends = np.array([self.about.nearest_end_m(row) <= reach for row in rows.tolist()], dtype=bool)
        bars = [[any(self._shut[piece, config] for piece in some) for config in configs.tolist()] for some in near]
        return np.asarray(np.array(bars, dtype=bool).reshape(len(rows), len(configs)) | ends[:, None])

    def may_bar(self, row: int, configs: tuple[int, ...], within_m: float) -> bool:
        """Tell whether any other road near one corner may bar in some configurations, wherever it is swept."""
        asked = np.array([row]), np.array(configs), np.array([within_m])
        return bool(self.about.others(row)) and bool(self.look(*asked).any())

    def over(self, row: int, configs: tuple[int, ...], area: BaseGeometry, within_m: float) -> str:
        """Name another road a swept area runs on to, where it is not plainly passed in some configurations; "" for
        none.

        Args:
            row: the corner
            configs: configurations it is driven in
            area: what the machine sweeps
            within_m: no further from the corner than this beyond its own roads [m]
        """
        return self.over_each(row, (configs,), area, within_m)[0]

    def over_each(
        self, row: int, each: Sequence[tuple[int, ...]], area: BaseGeometry, within_m: float
    ) -> tuple[str, ...]:
        """Give the same for several sets of configurations in which one area is swept."""
        about, named = self.about, [""] * len(each)
        links, every = about.others(row), tuple(sorted({config for configs in each for config in configs}))
        if not self.may_bar(row, every, within_m):
            return tuple(named)
        aside = shapely.difference(area, about.ground_of(row))
        if shapely.area(aside) <= TOUCHED_M2:
            return tuple(named)
        network, ids = self.case.survey.network, self.case.survey.site.layers["roads"].ids
        for link in links:
            name = f"roads {ids[int(network.link_road[link])]}"
            beyond = aside if about.meets(row, link) else shapely.difference(aside, about.own_ground(row))
            past = self._past_end(row, link, beyond)
            pieces = () if past else self._touched(row, link, beyond, within_m)
            for number, configs in enumerate(each):
                shut = (self._shut[piece, config] for piece in pieces for config in configs)
                rule = "its end" if past else next((rule for rule in shut if rule), "")
                if rule and not named[number]:
                    named[number] = f"{name} ({rule})"
            if all(named):
                break
        return tuple(named)

    @cached_property
    def _half_m(self) -> Floats:
        """Half the width of every piece; a road of unknown width is as wide as the machine is long, twice."""
        return np.nan_to_num(self.case.survey.number("width_m"), nan=2.0 * self.case.body.length_m) / 2.0

    def _ask(self, cells: list[tuple[int, int]]) -> None:
        """Ask pieces in configurations nobody has asked them in, both ways."""
        if not cells:
            return
        named = np.full(len(cells), "", dtype=object)
        pieces, configs = np.array(cells, dtype=np.int64).T
        piece, config, sense = np.tile(pieces, 2), np.tile(configs, 2), np.repeat([1, -1], len(cells))
        rules = self.case.rulebook.rules
        for answer in answers_for(self.case, piece, sense, config, ASKED - frozenset(self.case.left_out)):
            shut = Verdict.CAUTION if rules[answer.rule].high_consequence else Verdict.UNKNOWN
            at = answer.position[answer.applies() & (answer.verdict >= shut)] % len(cells)
            named[at] = np.where(named[at] == "", answer.rule, named[at])
        for layer in LOOKED_AT:
            unseen = ~self.case.survey.looked_at(layer)[pieces]
            named[unseen] = np.where(named[unseen] == "", f"{layer} not looked at", named[unseen])
        self._shut.update(zip(cells, named.tolist(), strict=True))

    def _past_end(self, row: int, link: int, aside: BaseGeometry) -> bool:
        """Tell whether a swept area comes nearer to an end of a road than half its width, or runs on past it, where
        only a machine that stands on that road has room."""
        ends = self.about.dead_ends(link)
        if bool((shapely.distance(aside, shapely.points(ends)) < self.case.body.width_m / 2.0).any()):
            return True
        past = shapely.intersection(aside, self.about.past(link))
        if shapely.area(past) <= TOUCHED_M2:
            return False
        return bool(shapely.area(shapely.difference(past, self.about.known(row))) > TOUCHED_M2)

    def _touched(self, row: int, link: int, aside: BaseGeometry, within_m: float) -> list[int]:
        """Give the pieces of a road that a swept area comes on to, nearest first."""
        near = self.about.near(row, (link,), within_m, self._half_m)
        ground = self.about.ground(near, self._half_m[near])
        on: list[int] = near[shapely.area(shapely.intersection(ground, aside)) > TOUCHED_M2].tolist()
        return on


def length_m(case: Case, link: int) -> float:
    """Give the length of a link [m]."""
    network = case.survey.network
    return float(network.link_to_m[link] - network.link_from_m[link])
