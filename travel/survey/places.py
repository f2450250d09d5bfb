"""Places on the network: the nearest road that reaches them, and the node they become."""

from __future__ import annotations

import numpy as np
import shapely

from travel.domain.site import Layer
from travel.errors import Fault, InputError
from travel.survey.arrays import Floats, Ints, Objects
from travel.survey.chains import Chains, Links, add_visits
from travel.survey.lines import Lines
from travel.survey.meeting import SAME_M, Visits

BESIDE_M = 3.0
"""How far beyond half the road's width a place or a sign may stand and still belong to the road (formats 3.4)."""
MERGE_M = 1.0
"""A place this near to the end of a chain, or to another place on it, shares that node."""


def nearest_roads(lines: Lines, spots: Objects, named: Ints) -> tuple[Ints, Ints, Floats]:
    """Give (geometry, road, distance) of the nearest road whose half width plus 3 m reaches a geometry.

    Roads equally near (a junction, a cut in the file) are all given. ``named`` ≥ 0 leaves only that road.
    """
    reach = float(lines.half_width.max()) + BESIDE_M
    spot, road = lines.tree.query(spots, predicate="dwithin", distance=reach)
    away = np.asarray(shapely.distance(spots[spot], lines.plan[road]), dtype=np.float64)
    good = (away <= lines.half_width[road] + BESIDE_M) & ((named[spot] < 0) | (named[spot] == road))
    spot, road, away = spot[good].astype(np.int64), road[good].astype(np.int64), away[good]
    least = np.full(len(spots), np.inf)
    np.minimum.at(least, spot, away)
    near = away <= least[spot] + SAME_M
    return spot[near], road[near], away[near]


def nearest_road(lines: Lines, points: Objects) -> tuple[Ints, Floats]:
    """Give, per point, the road it belongs to (−1: none) and the chainage; of equals the westernmost, southernmost."""
    point, road, _ = nearest_roads(lines, points, np.full(len(points), -1))
    s = np.asarray(shapely.line_locate_point(lines.plan[road], points[point]), dtype=np.float64)
    x, y, _ = lines.locate(road, s)
    order = np.lexsort((road, y, x, point))
    at, first = np.unique(point[order], return_index=True)
    found, chainage = np.full(len(points), -1, dtype=np.int64), np.full(len(points), np.nan)
    found[at], chainage[at] = road[order[first]], s[order[first]]
    return found, chainage


def settle(lines: Lines, places: Layer, visits: Visits, links: Links, chains: Chains) -> tuple[Visits, Ints]:
    """Put every place on the network. Gives the visits with the new nodes among them, and the node of each place."""
    if not len(places):
        return visits, np.zeros(0, dtype=np.int64)
    road, s = nearest_road(lines, shapely.force_2d(places.geometry))
    _fail_off(lines, places, road)
    link = links.at(road, s)
    position = chains.position(links, link, s)
    node = _chain_end(links, chains, link, position)
    inner = np.flatnonzero(node < 0)
    leader = _leaders(chains.chain[link[inner]], position[inner], inner)
    unique, back = np.unique(leader, return_inverse=True)
    x, y, _ = lines.locate(road[unique], s[unique])
    visits, made = add_visits(visits, road[unique], s[unique], np.column_stack((x, y)))
    node[inner] = made[back]
    return visits, node


def _chain_end(links: Links, chains: Chains, link: Ints, position: Floats) -> Ints:
    chain = chains.chain[link]
    first, last = chains.order[chains.start[chain]], chains.order[chains.stop[chain] - 1]
    node_in = np.where(chains.sign[first] > 0, links.a[first], links.b[first])
    node_out = np.where(chains.sign[last] > 0, links.b[last], links.a[last])
    rest = chains.length[chain] - position
    node = np.where(position <= rest, node_in, node_out)
    return np.where(np.minimum(position, rest) <= MERGE_M, node, -1)


def _leaders(chain: Ints, position: Floats, row: Ints) -> Ints:
    """Give, per place, the first row (in file order) of the places on its chain that lie no further apart than 1 m."""
    order = np.lexsort((position, chain))
    fresh = np.ones(len(order), dtype=bool)
    fresh[1:] = (np.diff(chain[order]) != 0) | (np.diff(position[order]) > MERGE_M)
    group = np.cumsum(fresh) - 1
    least = np.full(int(fresh.sum()), np.iinfo(np.int64).max)
    np.minimum.at(least, group, row[order])
    leader = np.empty(len(order), dtype=np.int64)
    leader[order] = least[group]
    return leader


def _fail_off(lines: Lines, places: Layer, road: Ints) -> None:
    off = np.flatnonzero(road < 0)
    if not len(off):
        return
    points = places.geometry[off]
    nearest = lines.tree.query_nearest(points, all_matches=False)[1]
    away = shapely.distance(points, lines.plan[nearest])
    raise InputError(
        [
            Fault(
                file="site",
                layer="places",
                feature=places.ids[row],
                field="geometry",
                message="off the network",
                value=f"{metres:.1f} m from road {lines.ids[near]}",
                allowed=f"within {lines.half_width[near] + BESIDE_M:.1f} m (half the width + {BESIDE_M:g} m)",
            )
            for row, near, metres in zip(off, nearest, away, strict=True)
        ]
    )
