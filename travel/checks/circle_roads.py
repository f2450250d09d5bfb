"""Roads within a circle stated free to turn round on: what one of them does not let pass takes the rest of it away.

The machine comes and goes by one of the roads that meet there, which is judged while it is driven; the circle runs over
the others as well. Where none of the roads that meet there lets it pass, it is told so on the way, not here.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.answers import answers_for
from travel.checks.case import Case
from travel.domain.verdict import Verdict
from travel.survey import Network

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

ASKED = frozenset((
    "bearing", "passes", "posted-load", "buried-service", "headroom", "line-clearance", "underbody", "closure",
    "side-slope",
))  # fmt: skip
"""Asked of the ground of a road that a circle runs over: what does not depend on which way it is driven."""


def shut_roads(case: Case, within_m: Mapping[int, float]) -> dict[int, tuple[float, str]]:
    """Give, by node, how near to it a road lies that is not let on to, and which; ∞ and "" for none.

    Args:
        case: the trip
        within_m: nodes where the machine turns round, each with how far from it roads are asked about [m]
    """
    near = {node: _near(case, node, far) for node, far in within_m.items()}
    every = np.unique(np.concatenate([np.zeros(0, dtype=np.int64), *(pieces for pieces, _ in near.values())]))
    shut = _shut(case, every) if len(every) else np.zeros(0, dtype=bool)
    return {node: _nearest(case, node, found, shut[np.searchsorted(every, found[0])]) for node, found in near.items()}


def _nearest(case: Case, node: int, near: tuple[Ints, Floats], shut: Bools) -> tuple[float, str]:
    (pieces, away), network = near, case.survey.network
    link = case.survey.pieces.link[pieces]
    arms = _arms(network, node, np.unique(link).tolist())
    arm = np.array([arms.get(one, -1) for one in link.tolist()], dtype=np.int64)
    meets = arm >= 0
    passed = set(arm[meets].tolist()) - set(arm[meets & shut].tolist())
    bars = shut & (~meets | bool(passed))
    if not bars.any():
        return np.inf, ""
    nearest = int(np.argmin(np.where(bars, away, np.inf)))
    return float(away[nearest]), case.survey.site.layers["roads"].ids[int(network.link_road[link[nearest]])]


def _arms(network: Network, node: int, links: list[int]) -> dict[int, int]:
    """Give of the links that meet at a node, and of those their roads go on with, the one it begins with there.

    A road goes on through points where two links meet and no place is: whoever drives it passes both.
    """
    ends = {one: (int(network.link_a[one]), int(network.link_b[one])) for one in links}
    out: dict[int, int] = {}
    todo = [(one, one, node) for one in links if node in ends[one]]
    while todo:
        link, first, came = todo.pop()
        out[link] = first
        for end in set(ends[link]) - {came}:
            if network.node_degree[end] == 2 and end not in network.node_places:
                todo += [(more, first, end) for more in links if end in ends[more] and more not in out]
    return out


def _near(case: Case, node: int, within_m: float) -> tuple[Ints, Floats]:
    """Give the pieces on the levels of a node that come within a distance of it, and how far off they are [m]."""
    survey, of = case.survey, case.survey.pieces
    ends = survey.piece_ends
    (x, y), width = survey.network.node_xy[node], survey.number("width_m")
    half = np.nan_to_num(width, nan=2.0 * case.body.length_m) / 2.0
    rough = (
        np.minimum(np.hypot(ends[0] - x, ends[1] - y), np.hypot(ends[2] - x, ends[3] - y)) - of.length_m / 2.0 - half
    )
    level = np.nan_to_num(survey.site.layers["roads"].number("level"))[of.road]
    network = survey.network
    there = (np.asarray(network.link_a) == node) | (np.asarray(network.link_b) == node)
    some = np.flatnonzero((rough < within_m) & np.isin(level, level[there[of.link]]))
    lines = [
        shapely.LineString(survey.xy(int(of.road[p]), float(of.from_m[p]), float(of.to_m[p]))) for p in some.tolist()
    ]
    away = np.asarray(shapely.distance(np.array(lines, dtype=object), shapely.Point(x, y))) - half[some]
    return some[away < within_m], np.maximum(away[away < within_m], 0.0)


def _shut(case: Case, pieces: Ints) -> Bools:
    """Tell which of some pieces, ascending, do not let the machine pass, one way or the other, or are not known to."""
    out = np.zeros(len(pieces), dtype=bool)
    piece, sense = np.tile(pieces, 2), np.repeat([1, -1], len(pieces))
    for answer in answers_for(
        case, piece, sense, np.zeros(len(piece), dtype=np.int64), ASKED - frozenset(case.left_out)
    ):
        out[answer.position[answer.applies() & (answer.verdict >= Verdict.UNKNOWN)] % len(pieces)] = True
    return out
