"""Where wires and spans hang as seen from a piece of road: over it, or how far beside it, and how high there.

A span (a straight line between two attachments) is walked in small steps: each step has its nearest place on the road,
its height above the road there, and its sag. A feature with a measured clearance has one step: the nearest place.
Everything errs to the near side: half a step of road and a step of wire are taken off, at the steepest found there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.ground_line import heights_round, places_round
from travel.checks.hung import Hung, any_of, hung
from travel.checks.keeping import keeping
from travel.mechanics.conductor import wire_height
from travel.survey import Pairs

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

STEP_M = 0.25
"""Spacing along road and wire."""
BLOCK = 128


@dataclass(frozen=True, eq=False, kw_only=True)
class Seen:
    """Places of wires seen from the pieces of pairs, (pairs, places): NaN where not known.

    ``offset_m`` is the plan distance from the centreline to the outer wire hanging still, ``height_m`` the height above
    the road abreast of it, ``sag_m`` the greatest sag there. ``over_m`` is the least height over the road itself.
    ``known``: the road has heights all along there.
    """

    offset_m: Floats
    height_m: Floats
    sag_m: Floats
    over_m: Floats
    known: Bools


def walk_spans(case: Case, pairs: Pairs, pick: Ints, wide_m: float, more_m: float = 0.0) -> Seen:
    """Walk the spans of some pairs.

    Args:
        case: the trip
        pairs: pieces and overheads
        pick: which pairs: all of features with two known ends
        wide_m: how far from the road a wire still counts
        more_m: how far beyond the body the road is still looked at
    """
    parts = [_walk(case, pairs, pick[start : start + BLOCK], wide_m, more_m) for start in range(0, len(pick), BLOCK)]
    if not parts:
        none = np.zeros((0, 1))
        return Seen(offset_m=none, height_m=none, sag_m=none, over_m=np.zeros(0), known=np.zeros(0, dtype=bool))
    width = max(part.offset_m.shape[1] for part in parts)

    def joined(name: str) -> Floats:
        columns = [getattr(part, name) for part in parts]
        return np.concatenate([np.pad(c, ((0, 0), (0, width - c.shape[1])), mode="edge") for c in columns])

    return Seen(
        offset_m=joined("offset_m"),
        height_m=joined("height_m"),
        sag_m=joined("sag_m"),
        over_m=np.concatenate([part.over_m for part in parts]),
        known=np.concatenate([part.known for part in parts]),
    )


def _walk(case: Case, pairs: Pairs, pick: Ints, wide_m: float, more_m: float) -> Seen:
    survey, what = case.survey, hung(case)
    piece, feature = pairs.piece[pick], pairs.feature[pick]
    reach = max(case.body.reach_m, 0.0) + more_m
    own = (survey.pieces.cell_to_m - survey.pieces.cell_from_m)[piece] + 2.0 * reach
    last = np.ceil(own / STEP_M - 1e-9).astype(np.int64)
    x, y = places_round(survey, piece, reach, STEP_M)
    x, y = _as_far_as(x, own, last), _as_far_as(y, own, last)
    z = _as_far_as(heights_round(survey, piece, reach, STEP_M), own, last)
    spread = survey.fabric.features["overheads"].spread_m[feature]
    ends = what.ends_m[feature]
    length = np.maximum(np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]), STEP_M)
    at = _steps(ends, length, (x, y), wide_m + float(spread.max(initial=0.0)))
    wx, wy = (ends[:, None, k] + at * (ends[:, None, k + 2] - ends[:, None, k]) for k in (0, 1))
    near, square = _nearest_place((wx, wy), (x, y))
    away = np.sqrt(np.maximum(square - (STEP_M / 2) ** 2, 0.0))
    attach, sag = what.attach_m[feature], what.sag_m[feature][:, None]
    wire = np.asarray(wire_height(attach[:, :1], attach[:, 1:], sag, at))
    slack = _slack(z, wire)
    under = _highest_within(z, _along_road((x, y), ends, spread))
    height = wire - np.take_along_axis(under, near, axis=1) - slack[:, None]
    half = survey.fabric.lines.half_width[survey.pieces.road[piece]]
    above = np.maximum(half, case.body.width_m / 2.0) + spread
    abreast: Bools = np.asarray((near > 0) & (near < last[:, None]), dtype=np.bool_)
    nowhere = ~np.any(abreast, axis=1, keepdims=True)
    on_road: Bools = np.asarray((away <= above[:, None]) & (abreast | nowhere), dtype=np.bool_)
    over = np.where(on_road | ~np.any(on_road, axis=1, keepdims=True), height, np.inf).min(axis=1)
    return Seen(
        offset_m=np.maximum(away - spread[:, None], 0.0),
        height_m=height,
        sag_m=4.0 * at * (1.0 - at) * sag,
        over_m=over,
        known=np.asarray(~np.isnan(height).any(axis=1)),
    )


def _as_far_as(grid: Floats, length_m: Floats, last: Ints) -> Floats:
    """Give a grid that ends where its own piece does: it is as long as the longest piece it was made with."""
    row = np.arange(len(grid))
    before, after = grid[row, last - 1], grid[row, last]
    end = before + (length_m / STEP_M - (last - 1)) * (after - before)
    return np.where(np.arange(grid.shape[1]) >= last[:, None], end[:, None], grid)


def _along_road(road: tuple[Floats, Floats], ends: Floats, spread_m: Floats) -> Floats:
    """Give how far along the road the outer wire of each span stands from its middle, at most: all where they cross."""
    dx, dy = (np.diff(column, axis=1) for column in road)
    sx, sy = ends[:, 2:3] - ends[:, :1], ends[:, 3:] - ends[:, 1:2]
    both = np.hypot(dx, dy) * np.hypot(sx, sy)
    with np.errstate(invalid="ignore", divide="ignore"):
        across = np.where(both > 0.0, np.abs(dx * sy - dy * sx) / both, 0.0)
    return np.asarray(spread_m * np.minimum(across.max(axis=1), 1.0))


def _highest_within(z: Floats, within_m: Floats) -> Floats:
    """Give the highest of the road within a distance of every place; the uphill outer wire hangs lowest above it."""
    steps = np.ceil(within_m / STEP_M - 1e-9).astype(np.int64)
    out = z.copy()
    for step in range(1, min(int(steps.max(initial=0)), z.shape[1] - 1) + 1):
        counts = (steps >= step)[:, None]
        out[:, step:] = np.where(counts, np.maximum(out[:, step:], z[:, :-step]), out[:, step:])
        out[:, :-step] = np.where(counts, np.maximum(out[:, :-step], z[:, step:]), out[:, :-step])
    return out


def _nearest_place(wire: tuple[Floats, Floats], road: tuple[Floats, Floats]) -> tuple[Ints, Floats]:
    """Give the nearest road point of every wire point, and the square of the distance.

    Of |w − q|² only |q|² − 2 w·q tells the road points apart; it is taken from near by, so that no digits are lost.
    """
    base = [column[:, :1] for column in road]
    w = np.stack([column - origin for column, origin in zip(wire, base, strict=True)], axis=2)
    q = np.stack([column - origin for column, origin in zip(road, base, strict=True)], axis=1)
    part = np.matmul(-2.0 * w, q)
    part += (q**2).sum(axis=1)[:, None, :]
    near = np.argmin(part, axis=2)
    square = sum((a - np.take_along_axis(b, near, axis=1)) ** 2 for a, b in zip(wire, road, strict=True))
    return near, np.asarray(square)


def _steps(ends: Floats, length: Floats, road: tuple[Floats, Floats], wide_m: float) -> Floats:
    """Give places along each span, as parts of it, as far as the road reaches along it and ``wide_m`` more."""
    x, y = road
    along = ((x - ends[:, :1]) * (ends[:, 2:3] - ends[:, :1]) + (y - ends[:, 1:2]) * (ends[:, 3:] - ends[:, 1:2])) / (
        length[:, None] ** 2
    )
    more = wide_m / length
    low, high = np.clip(along.min(axis=1) - more, 0.0, 1.0), np.clip(along.max(axis=1) + more, 0.0, 1.0)
    count = int(np.ceil(float(((high - low) * length).max()) / STEP_M)) + 2
    return np.asarray(low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, count))


def _slack(z: Floats, wire: Floats) -> Floats:
    """Give how much the height may be less between the steps: half a step of road and one of wire."""
    road = np.abs(np.diff(z, axis=1)).max(axis=1) / 2.0
    return np.asarray(road + np.abs(np.diff(wire, axis=1)).max(axis=1))


def plan_offsets(case: Case, pairs: Pairs) -> Floats:
    """Give the plan distance from the road to the footprint; the body may also stand out beyond the end of a chain."""
    survey, pieces = case.survey, case.survey.pieces
    course, reach = survey.fabric.course, max(case.body.reach_m, 0.0)
    offset = pairs.distance_m.copy()
    chain = pieces.chain[pairs.piece]
    features = survey.fabric.features["overheads"]
    for end in (course.low, course.high):
        first = end is course.low
        over = (
            end[chain] - (pieces.cell_from_m[pairs.piece] - reach)
            if first
            else pieces.cell_to_m[pairs.piece] + reach - end[chain]
        )
        pick = np.flatnonzero(over > 0)
        if not len(pick):
            continue
        x, y = course.locate(chain[pick], end[chain[pick]])
        segment = course.segment_chain_start[chain[pick]] if first else course.segment_chain_stop[chain[pick]] - 1
        bearing = course.bearing[segment] + (np.pi if first else 0.0)
        tip = np.column_stack((x + np.sin(bearing) * over[pick], y + np.cos(bearing) * over[pick]))
        lines = shapely.linestrings(np.stack((np.column_stack((x, y)), tip), axis=1))
        row = pairs.feature[pick]
        away = shapely.distance(lines, features.plan[row]) - features.spread_m[row]
        offset[pick] = np.minimum(offset[pick], np.maximum(away, 0.0))
    return offset


def own_road(case: Case, pairs: Pairs) -> Bools:
    """Give where the feature names no road, or the very road of the piece, or where the piece leads away from it on to
    a road that goes on there: there its clearance holds."""
    number = {name: row for row, name in enumerate(case.survey.site.layers["roads"].ids)}
    named = case.survey.site.layers["overheads"].text("road")
    road = np.array([-1 if name is None else number.get(name, -2) for name in named], dtype=np.int64)[pairs.feature]
    mine = np.asarray((road == -1) | (road == case.survey.pieces.road[pairs.piece]))
    rest = np.flatnonzero(~mine)
    mine[rest[_leads_away(case, pairs.piece[rest], pairs.feature[rest])]] = True
    return mine


def _leads_away(case: Case, piece: Ints, feature: Ints) -> Bools:
    """Give where a piece of another road of the same chain comes no nearer to a feature than the end of the stretch
    that it hangs over, and lies near that: a road may be cut in its file anywhere."""
    fabric, pieces = case.survey.fabric, case.survey.pieces
    own, course, features = fabric.own["overheads"], fabric.course, fabric.features["overheads"]
    count = len(course.low)
    keys, wanted = own.feature * count + own.chain, feature * count + pieces.chain[piece]
    order = np.argsort(keys, kind="stable")
    first = np.searchsorted(keys[order], wanted, "left")
    once = np.flatnonzero(np.searchsorted(keys[order], wanted, "right") - first == 1)
    out = np.zeros(len(piece), dtype=bool)
    row, at, chain = order[first[once]], piece[once], pieces.chain[piece[once]]
    low, high = pieces.cell_from_m[at], pieces.cell_to_m[at]
    gap = np.maximum(np.maximum(low - own.to_m[row], own.from_m[row] - high), 0.0)
    x, y = course.locate(chain, np.where(low >= own.to_m[row], own.to_m[row], own.from_m[row]))
    plan = features.plan[feature[once]]
    leads = shapely.distance(course.stretches(chain, low, high), plan) >= shapely.distance(shapely.points(x, y), plan)
    far = max(case.body.reach_m, 0.0) + keeping(case).widest_m
    out[once] = ((own.from_m[row] < high) & (low < own.to_m[row])) | (leads & (gap <= far))
    return out


def span_pairs(what: Hung, pairs: Pairs) -> Ints:
    """Give the pairs whose feature is a span with both ends, both attachments and a sag."""
    known = what.span & ~np.isnan(what.ends_m[:, 0]) & ~np.isnan(what.attach_m).any(axis=1) & ~np.isnan(what.sag_m)
    return np.flatnonzero(known[pairs.feature])


def height_lacks(case: Case, pairs: Pairs, what: Hung, pick: Ints, known: Bools) -> tuple[dict[str, Bools], Bools]:
    """Name what the height over the road lacks, by pair, and tell where the measured clearance holds.

    Where attachments are given they count; a measured clearance may stand in for them. Over a regraded road neither
    holds until it is measured again.
    """
    feature = pairs.feature
    walked = np.zeros(len(pairs), dtype=bool)
    walked[pick] = True
    span_ok = (what.span & ~any_of(what.span_lacks))[feature] & known
    mine = own_road(case, pairs)
    clear_ok = ~any_of(what.clear_lacks)[feature] & mine
    ok, span = span_ok | clear_ok, what.span[feature]
    lacks = {name: where[feature] & span & ~ok for name, where in what.span_lacks.items()}
    lacks["roads.z"] = span & ~ok & walked & ~known
    for name, where in what.clear_lacks.items():
        lacks[name] = lacks.get(name, np.zeros(len(pairs), dtype=bool)) | (where[feature] & ~span & ~ok)
    lacks["clearance_m"] = lacks["clearance_m"] | (~span & ~ok & ~mine)
    lacks["clearance_m after regrading"] = (case.survey.number("regraded") == 1)[pairs.piece]
    return lacks, clear_ok
