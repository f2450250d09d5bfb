"""What a corner driven in several moves touches besides its two roads: crests near it, and other roads that meet there.

What is driven along is judged along; a shunt leaves its roads' middle lines and may run on past the corner. Whatever is
not plainly passed there bars the shunt by name.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.answers import answers_for
from travel.checks.case import Case
from travel.checks.circle import crest_near, pieces_near, ways_of
from travel.domain.verdict import Verdict
from travel.survey.corners import Corners

Ints = NDArray[np.int64]

FAR_M = 20.0
"""As far from the corner as a shunt may end."""
BOX_M = 0.5
"""The mouth of a junction reaches from its middle to the corner of two roads as wide as the widest, and so much on."""
TOUCHED_M2 = 0.05
OTHER_ROAD = (
    "tip", "slide", "side-slope", "twist", "grade-limit", "grip", "hold", "restart", "bearing", "passes", "posted-load",
    "buried-service", "edge-standoff", "shoulder", "headroom", "line-clearance", "underbody", "people", "closure",
)  # fmt: skip
"""Asked of another road that a shunt runs on to, in both gears and both ways."""


def bars_shunt(
    case: Case, corners: Corners, row: int, configs: tuple[int, int], area: BaseGeometry, ends_m: tuple[float, float]
) -> str:
    """Name what bars a shunt besides its room; "" for nothing.

    Args:
        case: the trip
        corners: the corners of the site
        row: the corner
        configs: a configuration of the state it is driven in, and one of the other gear
        area: what the machine sweeps
        ends_m: how far from the corner the machine reaches on both roads when the moves begin and end
    """
    for edge, reach in zip((corners.edge_in, corners.edge_out), ends_m, strict=True):
        if _length_m(case, int(edge[row]) >> 1) < reach:
            return "roads too short before the next junction"
    return crest_near(case, area) or next(_other_roads(case, corners, row, configs, area), "")


def _other_roads(case: Case, corners: Corners, row: int, configs: tuple[int, int], area: BaseGeometry) -> Iterator[str]:
    network, survey = case.survey.network, case.survey
    own = {int(corners.edge_in[row]) >> 1, int(corners.edge_out[row]) >> 1}
    node = int(corners.node[row])
    meeting = np.flatnonzero((np.asarray(network.link_a) == node) | (np.asarray(network.link_b) == node)).tolist()
    near = {link: pieces_near(case, link, node, FAR_M + case.body.length_m) for link in meeting}
    width = survey.number("width_m")
    widest = float(np.nanmax([width[pieces[0]] for pieces in near.values()], initial=0.0))
    mouth = shapely.Point(network.node_xy[node]).buffer(widest / math.sqrt(2.0) + BOX_M)
    aside = shapely.difference(area, shapely.union(mouth, ways_of(corners, row)))
    if shapely.area(aside) <= TOUCHED_M2:
        return
    for link in (link for link in meeting if link not in own):
        if _past_end(case, link, node, aside):
            yield f"roads {survey.site.layers['roads'].ids[int(network.link_road[link])]} (its end)"
        rule = _shut_on(case, near[link][_touched(case, near[link], aside)], configs)
        if rule:
            yield f"roads {survey.site.layers['roads'].ids[int(network.link_road[link])]} ({rule})"


def _length_m(case: Case, link: int) -> float:
    network = case.survey.network
    return float(network.link_to_m[link] - network.link_from_m[link])


def _past_end(case: Case, link: int, node: int, aside: BaseGeometry) -> bool:
    """Tell whether a swept area comes nearer to the far end of a road than half its width, or past it."""
    network = case.survey.network
    far = int(network.link_b[link]) if int(network.link_a[link]) == node else int(network.link_a[link])
    if int(network.node_degree[far]) != 1 or _length_m(case, link) > FAR_M + case.body.length_m:
        return False
    return bool(shapely.distance(aside, shapely.Point(network.node_xy[far])) < case.body.width_m / 2.0)


def _touched(case: Case, pieces: Ints, aside: BaseGeometry) -> NDArray[np.bool_]:
    """Tell which pieces a swept area comes on to; a road of unknown width is taken as wide as the machine is long."""
    survey = case.survey
    half = np.nan_to_num(survey.number("width_m")[pieces], nan=2.0 * case.body.length_m) / 2.0
    of = survey.pieces
    lines = [
        shapely.LineString(survey.xy(int(of.road[piece]), float(of.from_m[piece]), float(of.to_m[piece])))
        for piece in pieces.tolist()
    ]
    ground = shapely.buffer(np.array(lines, dtype=object), half, cap_style="flat")
    return np.asarray(shapely.area(shapely.intersection(ground, aside)) > TOUCHED_M2)


def _shut_on(case: Case, pieces: Ints, configs: tuple[int, int]) -> str:
    """Name the first rule that does not plainly let the machine on to some pieces, one way or the other."""
    if not len(pieces):
        return ""
    piece = np.tile(pieces, 4)
    sense = np.repeat([1, -1, 1, -1], len(pieces))
    config = np.repeat([configs[0], configs[0], configs[1], configs[1]], len(pieces))
    rules = case.rulebook.rules
    for answer in answers_for(case, piece, sense, config, frozenset(OTHER_ROAD) - case.left_out):
        shut = Verdict.CAUTION if rules[answer.rule].high_consequence else Verdict.UNKNOWN
        if (answer.verdict[answer.applies()] >= shut).any():
            return answer.rule
    return ""
