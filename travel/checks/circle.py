"""Ground stated free to turn round on in one go: how much of a circle nothing stands, hangs or gives way in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.circle_roads import shut_roads
from travel.checks.lies_beside import LAYERS, asked_by_roads, far_m, spread_m, too_steep
from travel.survey.corners import TURNING_KINDS
from travel.units import RATIO_PER_PCT

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeCircle:
    """Radius of the ground that is free to turn on; ``taken_by`` what lies nearest in it, "" where nothing does."""

    radius_m: float
    taken_by: str = ""


def free_circle(case: Case, node: int, stated_m: float, rows: list[int]) -> FreeCircle:
    """Give how much of a stated circle is free to turn round on.

    Args:
        case: the trip
        node: the node of the place
        stated_m: radius the site states [m]
        rows: rows of the places at that node
    """
    best = _beside_roads(case, node, stated_m, rows)
    away, road = shut_roads(case, {node: best.radius_m})[node]
    return FreeCircle(radius_m=away, taken_by=f"roads {road}") if away < best.radius_m else best


def _beside_roads(case: Case, node: int, stated_m: float, rows: list[int]) -> FreeCircle:
    """Give the same for all that is no road."""
    best = FreeCircle(radius_m=stated_m)
    if too_steep(case, rows):
        return FreeCircle(radius_m=0.0, taken_by="slope, once it stands across it")
    for layer, distance in _bars(case, node, stated_m):
        nearest = int(np.argmin(distance)) if len(distance) else -1
        if nearest >= 0 and distance[nearest] < best.radius_m:
            name = case.survey.site.layers[layer].ids[nearest]
            best = FreeCircle(radius_m=max(float(distance[nearest]), 0.0), taken_by=f"{layer} {name}")
    return best


def free_to_turn(case: Case, as_stated: bool = False, nodes: frozenset[int] | None = None) -> list[list[bool]]:
    """Where the ground is free to turn round in one go, node by state: a turning place or pick point as wide as the
    outer circle.

    What stands, hangs, falls or gives way nearer than the radius the site states takes the rest of it away, but for
    ``as_stated``. Only some ``nodes`` are looked at; None: all.
    """
    places = case.survey.site.layers["places"]
    radius, kinds = places.number("turn_radius_m"), places.text("kind")
    needed = [case.outer_radius_m.get(state[2], np.inf) for state in case.configurations.states]
    room: dict[int, float] = {}
    for node, ids in case.survey.network.node_places.items():
        if nodes is not None and node not in nodes:
            continue
        rows = [places.index(i) for i in ids]
        room[node] = max((float(radius[r]) for r in rows if kinds[r] in TURNING_KINDS), default=np.nan)
        if room[node] >= min(needed) and not as_stated:
            room[node] = _beside_roads(case, node, room[node], rows).radius_m
    taken = {} if as_stated else shut_roads(case, {node: far for node, far in room.items() if far >= min(needed)})
    out = [[False] * len(needed) for _ in range(case.survey.network.n_nodes)]
    for node, far in room.items():
        free = min(far, taken[node][0]) if node in taken else far
        out[node] = [bool(free >= radius_m) for radius_m in needed]
    return out


def _bars(case: Case, node: int, stated_m: float) -> Iterator[tuple[str, Floats]]:
    """Give, by layer, how near each feature comes that may not be turned on, under or against; ∞ for others."""
    survey = case.survey
    point, pieces = shapely.Point(survey.network.node_xy[node]), pieces_at(case, node)
    for layer, rule in LAYERS.items():
        features = survey.fabric.features.get(layer)
        if features is None or not len(features):
            continue
        away = np.asarray(shapely.distance(features.plan, point)) - spread_m(case, layer)
        near = np.flatnonzero(away < stated_m + far_m(case))
        if not len(near):
            continue
        bars = np.full(len(away), np.inf)
        bars[near] = rule(case, pieces, near, away[near])
        if layer not in ("obstacles", "edges", "areas"):
            bars[asked_by_roads(case, pieces, layer)] = np.inf
        yield layer, bars


def stated_slopes(case: Case) -> Floats:
    """Give the whole slope the site states at every node, the steepest of its places; NaN where it does not know it."""
    places = case.survey.site.layers["places"]
    slope = np.hypot(*(places.number(name) * RATIO_PER_PCT for name in ("slope_pct", "cross_slope_pct")))
    out = np.full(case.survey.network.n_nodes, np.nan)
    for node, names in case.survey.network.node_places.items():
        out[node] = np.fmax.reduce(slope[[places.index(name) for name in names]])
    return out


def pieces_at(case: Case, node: int) -> Ints:
    """Give the pieces that touch a node."""
    network = case.survey.network
    first, last = np.asarray(network.link_piece_start), np.asarray(network.link_piece_stop) - 1
    a, b = np.asarray(network.link_a) == node, np.asarray(network.link_b) == node
    return np.unique(np.concatenate((first[a], last[b])))
