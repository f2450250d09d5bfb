"""Turning round on the spot: how much of the ground a place states as free nothing stands, hangs or gives way in.

What the roads that meet there ask of a feature they ask while the machine turns as well; here is what lies beside them
in the circle. A value that is missing takes the ground away: a circle is free ground only where that is known.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.answers import answers_for
from travel.checks.case import Case
from travel.checks.edges import crest_standoffs
from travel.checks.hung import any_of, hung
from travel.checks.keeping import keeping
from travel.checks.state import closed
from travel.checks.tops import own_height_band
from travel.units import PA_PER_KPA, RATIO_PER_PCT

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

WET = ("wet", "mud", "thaw")
FAR_M = 60.0
"""As far as an edge or a wire beyond the stated circle may still matter."""


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
    best = FreeCircle(radius_m=stated_m)
    if _too_steep(case, rows):
        return FreeCircle(radius_m=0.0, taken_by="slope, once it stands across it")
    for layer, distance in _bars(case, node, stated_m):
        nearest = int(np.argmin(distance)) if len(distance) else -1
        if nearest >= 0 and distance[nearest] < best.radius_m:
            name = case.survey.site.layers[layer].ids[nearest]
            best = FreeCircle(radius_m=max(float(distance[nearest]), 0.0), taken_by=f"{layer} {name}")
    return best


def _bars(case: Case, node: int, stated_m: float) -> Iterator[tuple[str, Floats]]:
    """Give, by layer, how near each feature comes that may not be turned on, under or against; ∞ for others."""
    survey = case.survey
    point = shapely.Point(survey.network.node_xy[node])
    for layer, rule in _LAYERS.items():
        features = survey.fabric.features.get(layer)
        if features is None or not len(features):
            continue
        away = np.asarray(shapely.distance(features.plan, point)) - features.spread_m - survey.tolerance.plan_m
        near = np.flatnonzero(away < stated_m + FAR_M)
        if not len(near):
            continue
        bars = np.full(len(away), np.inf)
        bars[near] = rule(case, node, near, away[near])
        if layer not in ("obstacles", "edges"):
            bars[_asked_by_roads(case, node, layer)] = np.inf
        yield layer, bars


def _asked_by_roads(case: Case, node: int, layer: str) -> Ints:
    """Give the features that the pieces at a node are asked about: they are judged along the road."""
    pairs = case.survey.pairs(layer, max(case.body.reach_m, 0.0))
    return np.unique(pairs.feature[np.isin(pairs.piece, _pieces_at(case, node)) & pairs.over])


def _pieces_at(case: Case, node: int) -> Ints:
    network = case.survey.network
    first, last = np.asarray(network.link_piece_start), np.asarray(network.link_piece_stop) - 1
    a, b = np.asarray(network.link_a) == node, np.asarray(network.link_b) == node
    return np.unique(np.concatenate((first[a], last[b])))


def _too_steep(case: Case, rows: list[int]) -> bool:
    """Tell whether the whole slope stated there, taken across, is more than the machine is permitted."""
    places, limit = case.survey.site.layers["places"], case.body.cross_limit_ratio
    along, across = (places.number(name)[rows] * RATIO_PER_PCT for name in ("slope_pct", "cross_slope_pct"))
    steepest = float(np.hypot(np.nan_to_num(along), np.nan_to_num(across)).max(initial=0.0))
    return steepest - case.survey.tolerance.cross_slope_ratio > limit


def _solid(case: Case, node: int, near: Ints, away: Floats) -> Floats:
    return away


def _crests(case: Case, node: int, near: Ints, away: Floats) -> Floats:
    """Give the distance less what the outer wheel keeps from each crest; nothing is free where that is not known."""
    return away - np.nan_to_num(crest_standoffs(case)[near], nan=np.inf)


def _closures(case: Case, node: int, near: Ints, away: Floats) -> Floats:
    return np.where(closed(case)[near], away, np.inf)


def _people(case: Case, node: int, near: Ints, away: Floats) -> Floats:
    return away


def _overheads(case: Case, node: int, near: Ints, away: Floats) -> Floats:
    """A wire keeps its distance sideways or upwards; what else hangs there is passed under with the caution margin."""
    what, keep = hung(case), keeping(case)
    known = ~any_of(what.clear_lacks)[near]
    above = np.where(known, what.clearance_m[near], -np.inf) - case.body.height_m
    above -= own_height_band(case) + case.survey.tolerance.height_m
    live = (what.wire & ~what.isolated)[near]
    kept = np.where(live, np.fmax(keep.trigger_m[near], np.nan_to_num(keep.keep_m[near])), 0.0)
    free = np.where(live, above >= kept, above >= case.scalar("headroom.caution"))
    return np.where(free, np.inf, away - kept)


def _limits(case: Case, node: int, near: Ints, away: Floats) -> Floats:
    """Gates and services bar; structures do where they are not known to carry mass, axles and wheels as they stand."""
    layer, body = case.survey.site.layers["limits"], case.body
    kind = layer.text("kind")[near].astype(object)
    axle = float(np.max(body.axle_load_kg))
    wheel = float(np.max(body.axle_load_kg / body.tyres))
    weighed = np.zeros(len(near), dtype=bool)
    short = np.zeros(len(near), dtype=bool)
    for field, demand in (("gross_kg", body.mass_kg), ("axle_kg", axle), ("wheel_kg", wheel)):
        given = layer.number(field)[near]
        weighed |= ~np.isnan(given)
        short |= given < demand
    bears = np.isin(kind, ["bridge", "culvert", "slab", "cover_plate"])
    bars = np.isin(kind, ["gateway", "buried_service"]) | (bears & (short | ~weighed)) | (weighed & short)
    return np.where(bars, away, np.inf)


def _ground(case: Case, node: int, near: Ints, away: Floats) -> Floats:
    """Ground that is not known to bear what the wheels ask on the roads there, and no less than the hardest tyre."""
    field = "bearing_wet_kpa" if case.weather.ground in (None, *WET) else "bearing_kpa"
    bearing = case.survey.site.layers["ground"].number(field)[near] * PA_PER_KPA
    return np.where(bearing >= _wheels_ask_pa(case, node), np.inf, away)


def _wheels_ask_pa(case: Case, node: int) -> float:
    """Give the greatest contact pressure asked for on the pieces at a node, no less than that of the hardest tyre."""
    least = float(np.nanmax(case.body.pressure_pa, initial=0.0))
    pieces = _pieces_at(case, node)
    for answer in answers_for(case, pieces, np.ones_like(pieces), np.zeros_like(pieces), frozenset({"bearing"})):
        asked = np.asarray(answer.outcome.demand, dtype=np.float64)
        least = max(least, float(np.nanmax(asked, initial=0.0)))
    return least


_LAYERS = {
    "obstacles": _solid,
    "edges": _crests,
    "overheads": _overheads,
    "limits": _limits,
    "ground": _ground,
    "people": _people,
    "closures": _closures,
}
