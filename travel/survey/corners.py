"""Corners of the network: where roads meet at an angle, and where one bends sharply; with the room around each.

A corner is directed: it is entered along one arm and left along another, or, where a machine may turn round, along the
same one.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from travel.survey.arms import Arm, Arms
from travel.survey.arrays import Bools, Floats, Ints
from travel.survey.bends import find_bends
from travel.survey.narrow import clear_width, narrows
from travel.survey.rooms import ARM_M, Roads, Room, Rooms
from travel.survey.survey import Survey

TURNING_KINDS = ("turning", "pick_point")
"""Kinds of place at which a machine turns round."""
DIRECTION_M = 3.0
"""Length over which the direction of an arm and the sharpness of a bend are taken; common practice, no source."""
CORNER_RAD = float(np.radians(20.0))
"""A smaller change of heading within that length is no corner: the rule on width looks at it; no source."""

LESS_M = 0.005
"""More than rounding to millimetres makes of a distance along a road."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Corners:
    """Directed corners as columns. ``edge`` = 2·link (+ 1 against the road as drawn).

    ``edge_in``/``edge_out`` the edges driven before and after (the same one for a bend); ``at_m`` the chainage of a
    bend on its road, NaN at a node; ``half_m`` half the length over which a bend bends, about the corner; ``meet_m``
    how far from it a bend's arcs may begin where they meet those of the next bend half way, infinite without one;
    ``angle_rad`` the change of heading, + to the left; ``road_m`` the narrower of both roads near the corner, NaN where
    one is not known. Arms and rooms are made when they are asked for, and kept.
    """

    edge_in: Ints
    edge_out: Ints
    node: Ints
    at_m: Floats
    x_m: Floats
    y_m: Floats
    half_m: Floats
    meet_m: Floats
    angle_rad: Floats
    road_m: Floats
    _roads: Roads
    _rooms: Rooms
    _arms: Arms

    def __len__(self) -> int:
        return len(self.edge_in)

    @cached_property
    def returns(self) -> Bools:
        """Where the way goes back on the road it came by: the machine turns round."""
        return np.asarray(self.edge_in == self.edge_out ^ 1)

    @cached_property
    def bends(self) -> Bools:
        """Where a road bends, be it where another one goes on from its end: no other road is there to turn into."""
        joint = self._roads.survey.network.node_degree[self.node] == 2
        return np.asarray(~np.isnan(self.at_m) | (joint & ~self.returns))

    @cached_property
    def mirror(self) -> Ints:
        """Row of each corner driven the other way."""
        at = np.nan_to_num(self.at_m, nan=-1.0)
        out = np.empty(len(self), dtype=np.int64)
        back = np.lexsort((at, self.edge_in ^ 1, self.edge_out ^ 1))
        out[back] = np.lexsort((at, self.edge_out, self.edge_in))
        return out

    @cached_property
    def by_pair(self) -> Mapping[tuple[int, int], int]:
        """Row of each pair of edges that meet at a node."""
        rows = np.flatnonzero(np.isnan(self.at_m) & ~self.returns)
        return dict(
            zip(
                zip(self.edge_in[rows].tolist(), self.edge_out[rows].tolist(), strict=True),
                rows.tolist(),
                strict=True,
            )
        )

    @cached_property
    def by_return(self) -> Mapping[int, int]:
        """Row of turning round, by the edge that arrives there."""
        return {int(self.edge_in[row]): row for row in np.flatnonzero(self.returns).tolist()}

    @cached_property
    def by_edge(self) -> Mapping[int, tuple[int, ...]]:
        """Rows of the bends on each edge."""
        out: dict[int, tuple[int, ...]] = {}
        for row in np.flatnonzero(~np.isnan(self.at_m)).tolist():
            edge = int(self.edge_in[row])
            out[edge] = (*out.get(edge, ()), row)
        return out

    def room(self, row: int) -> Room:
        """Give the room round a corner."""
        return self._rooms.at((float(self.x_m[row]), float(self.y_m[row])), self._meeting(row))

    def _meeting(self, row: int) -> list[int]:
        at_node = np.isnan(self.at_m[row])
        links = [edge >> 1 for edge in self._roads.leaving[int(self.node[row])]] if at_node else []
        return links or [int(self.edge_in[row]) >> 1]

    def on_the_way(self, row: int) -> frozenset[int]:
        """Give the links on the way to a corner and on from it."""
        ways = (int(self.edge_in[row]) ^ 1, int(self.edge_out[row]))
        return frozenset(link for edge in ways for link in self._roads.arm_links(edge, self._from_m(row)))

    def others(self, row: int) -> tuple[int, ...]:
        """Give the links joined to the roads of a corner near it that are not on the way to it and on from it."""
        near = self._roads.joined(self._meeting(row), float(self.x_m[row]), float(self.y_m[row]))
        return tuple(sorted(set(near) - self.on_the_way(row)))

    def past_ends(self, link: int) -> Floats:
        """Give what counts as room past the dead ends of a link (ax, ay, bx, by, radius)."""
        return self._roads.past_ends(link)

    def road_between(self, row: int, nxt: int) -> float | None:
        """Give the length of the road from one corner at a node to another on the way on from it [m]; None for none."""
        network, length = self._roads.survey.network, 0.0
        edge, goal = int(self.edge_out[row]), int(self.edge_in[nxt])
        for one in self._roads.onward(edge):
            link = one >> 1
            length += float(network.link_to_m[link] - network.link_from_m[link])
            if one == goal:
                return length
            if length >= ARM_M:
                break
        return None

    def _from_m(self, row: int) -> float | None:
        return None if np.isnan(self.at_m[row]) else float(self.at_m[row])

    def ends(self, row: int) -> bool:
        """Tell whether the road a corner is entered by ends there, and no other one meets it."""
        return len(self._roads.leaving[self._roads.head(int(self.edge_in[row]))]) == 1

    def arms_in(self, rows: Ints) -> tuple[Floats, Floats]:
        """Give the ways back from some corners, sampled by distance (p, n, 2), and their lengths."""
        return self._arms.of(self._from(rows, self.edge_in[rows] ^ 1))

    def arms_out(self, rows: Ints) -> tuple[Floats, Floats]:
        """Give the ways on from some corners, and their lengths."""
        return self._arms.of(self._from(rows, self.edge_out[rows]))

    def _from(self, rows: Ints, edges: Ints) -> Iterator[Arm]:
        return ((edge, self._from_m(row)) for row, edge in zip(rows.tolist(), edges.tolist(), strict=True))


def find_corners(survey: Survey) -> Corners:
    """Give every corner of a site's network: at nodes of three and more roads, turning round at places for it, and
    sharp bends, those where two roads join among them."""
    made: Corners = survey.kept(("corners",), lambda: _find(survey))
    return made


def _find(survey: Survey) -> Corners:
    heading = edge_headings(survey)
    roads = Roads(survey=survey, width=survey.number("width_m"), narrow=narrows(survey), heading=heading)
    clear = clear_width(survey)
    joints, bends = _bends(survey)
    turns = _joined(_at_nodes(survey, heading), _turned_round(survey), joints)
    near = _near_width(survey, clear)
    xy = survey.network.node_xy[turns.node]
    bend_width = _bend_width(survey, clear, bends)
    count = len(bends.edge)
    return Corners(
        edge_in=np.concatenate((turns.edge_in, bends.edge)),
        edge_out=np.concatenate((turns.edge_out, bends.edge)),
        node=np.concatenate((turns.node, np.full(count, -1))),
        at_m=np.concatenate((np.full(len(turns.node), np.nan), bends.at_m)),
        x_m=np.concatenate((xy[:, 0], bends.x_m)),
        y_m=np.concatenate((xy[:, 1], bends.y_m)),
        half_m=np.concatenate((turns.half_m, bends.half_m)),
        meet_m=np.concatenate((turns.meet_m, bends.meet_m)),
        angle_rad=np.concatenate((turns.angle_rad, bends.angle_rad)),
        road_m=np.concatenate((np.minimum(near[turns.edge_in ^ 1], near[turns.edge_out]), bend_width)),
        _roads=roads,
        _rooms=Rooms(survey, roads),
        _arms=Arms(roads),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class _NodeTurns:
    edge_in: Ints
    edge_out: Ints
    node: Ints
    half_m: Floats
    meet_m: Floats
    angle_rad: Floats


@dataclass(frozen=True, eq=False, kw_only=True)
class _RoadBends:
    edge: Ints
    at_m: Floats
    x_m: Floats
    y_m: Floats
    half_m: Floats
    meet_m: Floats
    angle_rad: Floats


def edge_headings(survey: Survey) -> Floats:
    """Give the direction in which every edge leaves its tail, anticlockwise from east [rad]."""
    made: Floats = survey.kept(("headings",), lambda: _headings(survey))
    return made


def _headings(survey: Survey) -> Floats:
    network, lines = survey.network, survey.fabric.lines
    low, high = np.asarray(network.link_from_m), np.asarray(network.link_to_m)
    ahead = np.minimum(DIRECTION_M, high - low)
    out = np.empty((len(low), 2))
    for side, (tail, on) in enumerate(((low, low + ahead), (high, high - ahead))):
        ax, ay, _ = lines.locate(network.link_road, tail)
        bx, by, _ = lines.locate(network.link_road, on)
        out[:, side] = np.arctan2(by - ay, bx - ax)
    return out.ravel()


def pairs_of_edges(survey: Survey, heading: Floats) -> tuple[Ints, Ints, Floats]:
    """Give every pair of edges of two links that leave one node of three and more roads: that driven back, that driven
    on, and the change of heading from the one to the other [rad]."""
    network = survey.network
    tail = np.stack((network.link_a, network.link_b), axis=1).ravel()
    edges = np.flatnonzero(network.node_degree[tail] >= 3)
    order = edges[np.argsort(tail[edges], kind="stable")]
    node = tail[order]
    start, count = np.searchsorted(node, node, "left"), np.bincount(node, minlength=network.n_nodes)[node]
    back = np.repeat(order, count)
    step = np.arange(len(back)) - np.repeat(np.cumsum(count) - count, count)
    on = order[np.repeat(start, count) + step]
    two = back >> 1 != on >> 1
    back, on = back[two], on[two]
    return back, on, (heading[on] - heading[back]) % (2 * np.pi) - np.pi


def _at_nodes(survey: Survey, heading: Floats) -> _NodeTurns:
    """Give every pair of edges that meet at a node of three and more roads at an angle."""
    back, out, angle = pairs_of_edges(survey, heading)
    keep = np.abs(angle) >= CORNER_RAD
    back, out = back[keep], out[keep]
    tail = np.stack((survey.network.link_a, survey.network.link_b), axis=1).ravel()
    return _NodeTurns(
        edge_in=back ^ 1,
        edge_out=out,
        node=tail[back],
        half_m=np.zeros(len(out)),
        meet_m=np.full(len(out), np.inf),
        angle_rad=angle[keep],
    )


def _turned_round(survey: Survey) -> _NodeTurns:
    """Give every edge that arrives where a machine may turn round, with its way back."""
    network, places = survey.network, survey.site.layers["places"]
    kinds = places.text("kind")
    here = np.zeros(network.n_nodes, dtype=bool)
    for node, names in network.node_places.items():
        here[node] = any(kinds[places.index(name)] in TURNING_KINDS for name in names)
    head = np.stack((network.link_b, network.link_a), axis=1).ravel()
    into = np.flatnonzero(here[head])
    count = len(into)
    return _NodeTurns(
        edge_in=into,
        edge_out=into ^ 1,
        node=head[into],
        half_m=np.zeros(count),
        meet_m=np.full(count, np.inf),
        angle_rad=np.full(count, np.pi),
    )


def _joined(*parts: _NodeTurns) -> _NodeTurns:
    names = ("edge_in", "edge_out", "node", "half_m", "meet_m", "angle_rad")
    return _NodeTurns(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})


def _bends(survey: Survey) -> tuple[_NodeTurns, _RoadBends]:
    """Give every sharp bend, driven along and against: those at a joint of two links, and those inside one."""
    found, network = list(find_bends(survey, DIRECTION_M, CORNER_RAD)), survey.network
    edge_in = np.array([edge for bend in found for edge in (bend.edge_in, bend.edge_out ^ 1)], dtype=np.int64)
    edge_out = np.array([edge for bend in found for edge in (bend.edge_out, bend.edge_in ^ 1)], dtype=np.int64)
    at = np.repeat(np.array([bend.at_m for bend in found], dtype=np.float64), 2)
    half = np.repeat(np.array([bend.half_m for bend in found], dtype=np.float64), 2)
    meet = half + np.repeat(np.array([bend.apart_m for bend in found], dtype=np.float64), 2) / 2.0 - LESS_M
    angle = np.array([sign * bend.angle_rad for bend in found for sign in (1.0, -1.0)], dtype=np.float64)
    joint = np.isnan(at)
    out = edge_out[joint]
    node = np.where(out & 1, network.link_b[out >> 1], network.link_a[out >> 1])
    edge = edge_in[~joint]
    x, y, _ = survey.fabric.lines.locate(np.asarray(network.link_road)[edge >> 1], at[~joint])
    return (
        _NodeTurns(
            edge_in=edge_in[joint],
            edge_out=out,
            node=node,
            half_m=half[joint],
            meet_m=meet[joint],
            angle_rad=angle[joint],
        ),
        _RoadBends(
            edge=edge,
            at_m=at[~joint],
            x_m=x,
            y_m=y,
            half_m=half[~joint],
            meet_m=meet[~joint],
            angle_rad=angle[~joint],
        ),
    )


def _bend_width(survey: Survey, width: Floats, bends: _RoadBends) -> Floats:
    """Give the least width of the road within five metres of each bend."""
    pieces, roads = survey.pieces, np.asarray(survey.network.link_road)[bends.edge >> 1]
    out = np.empty(len(roads))
    for number, (road, at) in enumerate(zip(roads, bends.at_m, strict=True)):
        low, high = np.searchsorted(pieces.road, [road, road + 1])
        near = (pieces.from_m[low:high] <= at + 5.0) & (pieces.to_m[low:high] >= at - 5.0)
        out[number] = width[low:high][near].min()
    return out


def _near_width(survey: Survey, width: Floats) -> Floats:
    """Give the least width of a link within ten metres of each edge's tail, NaN where one is not known."""
    network, pieces = survey.network, survey.pieces
    starts = np.asarray(network.link_piece_start)
    low, high = (np.asarray(ends)[pieces.link] for ends in (network.link_from_m, network.link_to_m))
    past = np.stack((pieces.from_m - low, high - pieces.to_m), axis=1)
    near = np.where(past < 10.0, width[:, None], np.inf)
    return np.asarray(np.minimum.reduceat(near, starts, axis=0)).ravel()
