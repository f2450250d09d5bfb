"""Soft or falling sides of the roads in a corner: what the wheels keep from them where the machine uses all the width.

Along a road the rule is asked of a machine on the middle line; in a corner the wheels leave it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.mover import Mover
from travel.checks.outcome import Outcome, judge
from travel.checks.sweep import FEW, Yard, body_points
from travel.checks.track import points_swept
from travel.checks.turn_rules import Asked, TurnPart
from travel.rulebook import Axis, LimitColumn
from travel.survey.corners import Corners
from travel.survey.rooms import Room

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

RULE = "shoulder"
NEAR_M = 10.0
"""Sides of roads count that are no further from a corner along the roads, as their widths do; no source."""
DENSITY, BETWEEN_M = 4, 0.01
"""So many times as many positions as are looked at for the body, since nothing is looked at closer, and what wheels may
come nearer between two of them."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Shoulders:
    """What wheels keep from the sides of roads [m]: ``link_m`` by link from its worse side, ``keep_m`` by corner the
    most of the roads near it, 0 where nothing is asked; ``limit``: by corner, the limit that says so."""

    link_m: Floats
    keep_m: Floats
    limit: LimitColumn

    @cached_property
    def key(self) -> bytes:
        """What tells them apart from those of other ground or weather."""
        return self.link_m.tobytes()

    def at(self, rows: Ints) -> Shoulders:
        """Give the same at some corners."""
        limit = replace(self.limit, values=self.limit.values[rows], row=self.limit.row[rows])
        return replace(self, keep_m=self.keep_m[rows], limit=limit)


def shoulders(case: Case, corners: Corners, asked: bool) -> Shoulders:
    """Give what is kept from the sides of the roads at every corner; a side nobody named is left to the road.

    Args:
        case: the trip
        corners: the corners of the site
        asked: whether anything is kept at all
    """
    network, words = case.survey.network, case.rulebook.vocabulary.words("edge")
    kept = case.resolved("shoulder.standoff", edge=Axis(np.append(np.arange(len(words)), -1), words))
    values = np.nan_to_num(kept.values) * (asked and RULE not in case.left_out)
    sides = [values[case.survey.text_code(name, words)] for name in ("edge_left", "edge_right")]
    link_m = np.maximum.reduceat(np.maximum(*sides), np.asarray(network.link_piece_start))
    keep_m = np.zeros(len(corners))
    for keep in np.unique(link_m[link_m > 0.0]).tolist():
        keep_m[_off_m(case, corners, link_m >= keep) < NEAR_M] = keep
    says = np.argmax(values[None, :] == keep_m[:, None], axis=1)
    return Shoulders(link_m=link_m, keep_m=keep_m, limit=LimitColumn(values=keep_m, row=kept.row[says], rows=kept.rows))


def _off_m(case: Case, corners: Corners, which: Bools) -> Floats:
    """Give how far along the roads every corner is from the nearest of some links, as far as it matters [m]."""
    network = case.survey.network
    ends, low, high = (network.link_a, network.link_b), network.link_from_m, network.link_to_m
    node_m, length = np.full(network.n_nodes, np.inf), high - low
    for end in ends:
        node_m[end[which]] = 0.0
    short, before = length < NEAR_M, np.zeros(0)
    while not np.array_equal(node_m, before):
        before = node_m.copy()
        for end, other in (ends, ends[::-1]):
            np.minimum.at(node_m, end[short], before[other[short]] + length[short])
    link, at = corners.edge_in >> 1, corners.at_m
    along = np.minimum(node_m[ends[0]][link] + at - low[link], node_m[ends[1]][link] + high[link] - at)
    return np.where(np.isnan(at), node_m[corners.node], np.where(which[link], 0.0, along))


def wheel_yard(corners: Corners, rows: Ints, link_m: Floats, keep_m: Floats) -> Yard:
    """Give corners whose room is told by what wheels keep: they are ``keep_m`` inside it where they keep from every
    side what is kept from that side.

    So the corridor of a road whose sides are firm, and free ground, reach out by as much.

    Args:
        corners: the corners of the site
        rows: some of them
        link_m: by link, what is kept from its sides [m]
        keep_m: by row, the most of it [m]
    """
    yard = Yard(corners, rows)
    yard.rooms = [_reaching(room, link_m, keep) for room, keep in zip(yard.rooms, keep_m.tolist(), strict=True)]
    return yard


def _reaching(room: Room, link_m: Floats, keep_m: float) -> Room:
    more = np.where(room.link < 0, keep_m, np.maximum(keep_m - link_m[room.link], 0.0))
    near = room.near_m - more
    order = np.argsort(near, kind="stable")
    capsules = room.capsules.copy()
    capsules[:, 4:] += more[:, None]
    ground = tuple(polygon.buffer(keep_m) for polygon in room.ground)
    return replace(
        room,
        capsules=capsules[order],
        link=room.link[order],
        past=room.past[order],
        near_m=near[order],
        ground=ground,
    )


def wheels_outside(yard: Yard, rows: Ints, cut_m: Floats, wheels: Mover) -> Floats:
    """Give how far wheels stick out of the room of some corners of a yard on their cuts, negative inside [m].

    Args:
        yard: corners whose room is told by what wheels keep
        rows: some of them
        cut_m: where the arcs begin, by row [m]
        wheels: the machine cut down to its wheels
    """
    path, drawn = yard.path(rows, cut_m, wheels, DENSITY), wheels.drawn()
    reach = cut_m + wheels.swept_m
    points = points_swept(path.xy, path.heading, body_points(wheels)[FEW])
    out = yard.beyond(rows, points, reach, -np.inf).max(axis=(1, 2)) + BETWEEN_M
    if drawn is None or path.drawn is None:
        return np.asarray(out)
    behind = yard.of_body(rows, path.drawn, body_points(drawn), reach, -np.inf)
    return np.asarray(np.maximum(out, behind.max(axis=(1, 2))))


def wheels_only(mover: Mover, case: Case) -> Mover:
    """Give a machine cut down to what its wheels stand on; what a combination draws stays whole."""
    base = case.body.wheelbase_m if mover.towed is None else mover.trail_m
    return replace(mover, front_x_m=0.0, rear_x_m=-base, width_m=case.body.over_tyres_m)


def shoulder_part(asked: Asked, found: Shoulders, wheels_m: Floats) -> Iterator[TurnPart]:
    """Give the rule's answer: what is kept, against how far inside the wheels stay less the margin kept in turns.

    Args:
        asked: corners and states
        found: what is kept there
        wheels_m: how far the wheels stick out (n, states), NaN where nothing is asked
    """
    case = asked.case
    where = np.isfinite(wheels_m) & (found.keep_m > 0.0)[:, None]
    if not where.any():
        return
    keep = np.broadcast_to(found.keep_m[:, None], asked.shape)
    limit = replace(found.limit, values=keep, row=np.broadcast_to(found.limit.row[:, None], asked.shape))
    outcome = Outcome(
        demand=keep,
        capacity=np.where(where, -wheels_m - case.scalar("turn.margin"), np.inf),
        tolerance=case.survey.tolerance.width_m / 2.0,
        caution=case.scalar("shoulder.caution"),
        applies=where,
        missing={
            "weather.ground": where & (case.weather.ground is None),
            **{name: where for name in case.lacking(RULE)},
        },
        limit=limit,
    )
    yield TurnPart(rule=RULE, outcome=outcome, verdict=judge(outcome))
