"""Where features belong: by their footprint, by the road they name, and for signs and structures by the nearest road.

Points and lines of the layer ``limits`` stand on the nearest road only, where it is drawn within half its width + 3 m
of them: all along where a line runs beside the road. What is near is judged point by point, so that neither a cut in
the file nor a junction on the way takes a part of it away.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from travel.survey.ahead import Ends, beyond
from travel.survey.arrays import Floats, Ints, merge_intervals
from travel.survey.chains import Chains, Links
from travel.survey.course import Course
from travel.survey.features import POINT_M, Features
from travel.survey.intervals import TOUCH_M, Intervals, Reaches, within
from travel.survey.lines import Lines
from travel.survey.places import BESIDE_M, nearest_roads

STEP_M = 1.0
"""Spacing at which a line is asked which road it runs beside."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Way:
    """Roads, links and chains together."""

    lines: Lines
    links: Links
    chains: Chains
    course: Course


def belong(way: Way, features: Features, signs: bool, beside_m: float | None) -> Intervals:
    """Give the parts of chains that features belong to. None: those over the road itself, within half its width.

    A feature that names a road belongs to it however far off it was drawn. Beside other roads it counts only by
    distance, where one is asked for: a wire over one road is near the next one too. ``signs``: the layer ``limits``,
    where a name means that road alone.
    """
    named = named_rows(way.lines, features)
    bound = signs or beside_m is None
    found = within(
        way.course, way.links, features, _reach(way.lines, features, (named, bound), beside_m), len(way.lines)
    )
    if not signs:
        return found
    stood = _stand(way, features, named)
    loose = (named < 0) & ~features.polygon
    count = len(way.course.low)
    keep = ~loose[found.feature] | np.isin(found.feature * count + found.chain, stood.feature * count + stood.chain)
    key = np.concatenate(((found.feature * count + found.chain)[keep], stood.feature * count + stood.chain))
    low = np.concatenate((found.from_m[keep], stood.from_m))
    high = np.concatenate((found.to_m[keep], stood.to_m))
    key, low, high = merge_intervals(key, low, high, 2 * TOUCH_M)
    return Intervals(feature=key // count, chain=key % count, from_m=low, to_m=high)


def stands_on(way: Way, features: Features, beside_m: float) -> Intervals:
    """Give the parts of chains on which features stand, no longer than they are: points and lines point by point,
    polygons where they lie on the middle line, or no further beside it than that much more than where they are nearest.
    """
    named, count = named_rows(way.lines, features), len(way.course.low)
    stood, half = _stand(way, features, named), way.lines.half_width
    found = _reach(way.lines, features, (named, True), None)
    away = np.asarray(shapely.distance(features.plan[found.feature], way.lines.plan[found.road]))
    keep = features.polygon[found.feature] & ((away <= half[found.road]) | (named[found.feature] >= 0))
    least = np.full(len(features), np.inf)
    np.minimum.at(least, found.feature[keep], away[keep])
    asked = Reaches(road=found.road[keep], feature=found.feature[keep], radius_m=least[found.feature[keep]] + beside_m)
    laid = within(way.course, way.links, features, asked, len(way.lines))
    both = united(stood, laid)
    key, low, high = merge_intervals(both.feature * count + both.chain, both.from_m, both.to_m, 2 * TOUCH_M)
    return Intervals(feature=key // count, chain=key % count, from_m=low, to_m=high)


def stands_beyond(way: Way, ends: Ends, features: Features, asked: tuple[bool, float | None, float]) -> Intervals:
    """Give what lies beyond free ends, as :func:`belong` gives what lies along chains.

    Args:
        way: the roads and chains
        ends: where chains end freely
        features: of one layer
        asked: whether they are ``limits`` (there only polygons: the others stand on the road itself), the distance
            asked for (None: over the road), and how far ahead
    """
    signs, beside_m, length_m = asked
    half = way.lines.half_width if beside_m is None else np.full(len(way.lines), beside_m)
    found = beyond(way.course, ends, features, named_rows(way.lines, features), (half, length_m, beside_m is None))
    keep = features.polygon[found.feature] if signs else np.ones(len(found.feature), dtype=bool)
    return Intervals(
        feature=found.feature[keep], chain=found.chain[keep], from_m=found.from_m[keep], to_m=found.to_m[keep]
    )


def united(one: Intervals, two: Intervals) -> Intervals:
    """Give the intervals of both."""
    return Intervals(
        feature=np.concatenate((one.feature, two.feature)),
        chain=np.concatenate((one.chain, two.chain)),
        from_m=np.concatenate((one.from_m, two.from_m)),
        to_m=np.concatenate((one.to_m, two.to_m)),
    )


def named_rows(lines: Lines, features: Features) -> Ints:
    """Give the row of the road each feature names, −1 for none."""
    rows = {name: row for row, name in enumerate(lines.ids)}
    return np.array([rows.get(name, -1) if name else -1 for name in features.road], dtype=np.int64)


def _reach(lines: Lines, features: Features, name: tuple[Ints, bool], beside_m: float | None) -> Reaches:
    """Give road × feature. ``name``: the road each feature names, and whether it belongs to that road alone."""
    named, alone = name
    half = lines.half_width if beside_m is None else np.full(len(lines), beside_m)
    distance = features.spread_m + float(half.max()) + TOUCH_M
    feature, road = lines.tree.query(features.plan, predicate="dwithin", distance=distance)
    away = shapely.distance(features.plan[feature], lines.plan[road])
    good = away <= half[road] + features.spread_m[feature] + TOUCH_M
    good &= (named[feature] < 0) if alone else (named[feature] != road)
    feature, road = feature[good].astype(np.int64), road[good].astype(np.int64)
    bound = np.flatnonzero(named >= 0)
    at = named[bound]
    tied: Floats = np.asarray(shapely.distance(features.plan[bound], lines.plan[at]), dtype=np.float64)
    return Reaches(
        feature=np.concatenate((feature, bound)),
        road=np.concatenate((road, at)),
        radius_m=np.concatenate(
            (
                half[road] + features.spread_m[feature],
                np.maximum(half[at] + features.spread_m[bound], tied),
            )
        ),
    )


def _stand(way: Way, features: Features, named: Ints) -> Intervals:
    """Give where points and lines stand on their nearest road, or on the one they name, as stretches of chain."""
    pick = np.flatnonzero(~features.polygon)
    coords, owner = shapely.get_coordinates(shapely.segmentize(features.plan[pick], STEP_M), return_index=True)
    feature = pick[owner]
    spots = np.asarray(shapely.points(coords))
    spot, road, _ = nearest_roads(way.lines, spots, named[feature])
    feature = feature[spot]
    s: Floats = np.asarray(shapely.line_locate_point(way.lines.plan[road], spots[spot]))
    link = way.links.at(road, s)
    chain, position = way.chains.chain[link], way.chains.position(way.links, link, s)
    ring = np.flatnonzero(np.isin(chain, way.chains.ring))
    around = way.chains.length[chain[ring]]
    feature = np.concatenate((feature, feature[ring], feature[ring]))
    position = np.concatenate((position, position[ring] - around, position[ring] + around))
    chain = np.concatenate((chain, chain[ring], chain[ring]))
    low = np.maximum(position - POINT_M, way.course.low[chain])
    high = np.minimum(position + POINT_M, way.course.high[chain])
    key, low, high = merge_intervals(feature * len(way.course.low) + chain, low, high, STEP_M)
    return Intervals(feature=key // len(way.course.low), chain=key % len(way.course.low), from_m=low, to_m=high)


def strays(lines: Lines, features: Features, signs: bool) -> dict[int, str]:
    """Give the features that belong nowhere, or to a road they were not drawn on, with what to say about them."""
    out: dict[int, str] = {}
    named = named_rows(lines, features)
    bound = np.flatnonzero(named >= 0)
    away = np.asarray(shapely.distance(features.plan[bound], lines.plan[named[bound]])) - features.spread_m[bound]
    for row, road, metres in zip(bound, named[bound], away, strict=True):
        if metres > lines.half_width[road] + BESIDE_M:
            out[int(row)] = (
                f"drawn {metres:.1f} m from road {lines.ids[road]}, which it names; taken at its nearest point"
            )
    for row in np.flatnonzero([bool(name) for name in features.road] & (named < 0)):
        out[int(row)] = f"names road {features.road[row]}, which does not exist; taken where it was drawn"
    if signs:
        free = np.flatnonzero((named < 0) & ~features.polygon)
        spot, _, _ = nearest_roads(lines, features.plan[free], np.full(len(free), -1))
        for row in np.setdiff1d(free, free[spot]):
            out[int(row)] = "belongs to no road: none within half its width + 3 m; not used"
    return out
