"""What lies beside the roads in ground that is turned on: what stands, hangs, gives way or is closed there.

What the roads that meet there ask of a feature they ask while the machine turns as well; here is what lies beside them.
A value that is missing takes the ground away: it is free only where that is known.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.answers import answers_for
from travel.checks.case import Case
from travel.checks.edges import crest_standoffs
from travel.checks.ground import PAVED, lapsed
from travel.checks.hung import any_of, hung
from travel.checks.keeping import keeping
from travel.checks.people import bar_the_way
from travel.checks.state import closed
from travel.checks.tops import own_height_band
from travel.checks.wires import wider_m
from travel.survey import Survey
from travel.survey.corners import Corners
from travel.units import PA_PER_KPA, RATIO_PER_PCT

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

WET = ("wet", "mud", "thaw")
NEAR_M = 42.0
"""As far from a corner as anything is swept: so far the roads there are asked about what lies on them."""
SURE_M = 1e-6
"""More than rounding makes of a distance."""
FAR_M = 60.0
"""As far as a crest that nobody measured may still matter, as along a road."""


def crossed(case: Case, pieces: Ints, area: BaseGeometry, stays: bool = False) -> str:
    """Name what lies in an area swept beside the roads that may not be driven on, under or against; "" for nothing.

    Obstacles and crests stand in the sweep itself, people are asked for along the road.

    Args:
        case: the trip
        pieces: the pieces of road there; what they are asked about is left to them
        area: what the machine sweeps
        stays: whether it goes to and fro there, and does not only pass
    """
    return "" if area.is_empty else _first_in(case, pieces, area, BESIDE, stays)


def lies_in(case: Case, pieces: Ints, area: BaseGeometry, layers: tuple[str, ...]) -> str:
    """Name a feature of some layers in an area beside some pieces that may not be driven on, under or against there, or
    where people are that bar the way they are in; "" for nothing."""
    return _first_in(case, pieces, area, layers, stays=False) or _people_in_the_way(case, area)


def _first_in(case: Case, pieces: Ints, area: BaseGeometry, layers: tuple[str, ...], stays: bool) -> str:
    rules = _PASSED | ({"overheads": _overheads} if stays else {})
    for layer in layers:
        near, away = _near(case, layer, area, far_m(case))
        if len(near) and layer in ("overheads", "limits"):  # what hangs over the road or narrows it goes on beside it
            left = ~np.isin(near, asked_by_roads(case, pieces, layer))
            near, away = near[left], away[left]
        hit = near[rules[layer](case, pieces, near, away) <= 0.0] if len(near) else near
        if len(hit):
            return f"{layer} {case.survey.site.layers[layer].ids[int(hit[0])]}"
    return ""


def barred(
    case: Case,
    corners: Corners,
    at: tuple[Ints, Ints],
    area: Callable[[int, int], BaseGeometry | None],
    beside: Bools,
    alike: bool = True,
) -> dict[str, Bools]:
    """Give, by what lies in the areas swept in corners, where it does, (rows, states).

    Args:
        case: the trip
        corners: the corners of the site
        at: rows of corners, and states
        area: what a corner sweeps in a state; None for nothing
        beside: by corner and state asked about, whether anything there would bar at all, (rows, states)
        alike: whether states of one travel and steering mode sweep the same
    """
    out: dict[str, Bools] = {}
    (rows, states), names = at, case.configurations.states
    for number, row in enumerate(rows.tolist()):
        known: dict[tuple[str, ...], str] = {}
        for column, state in enumerate(states.tolist()):
            if not beside[number, column]:
                continue
            key = (names[state][0], names[state][2]) if alike else names[state]
            if key not in known:
                swept = area(row, state)
                aside = None if swept is None else shapely.difference(swept, ways_about(case.survey, corners, row))
                known[key] = "" if aside is None else _in_the_way(case, corners, row, aside)
                if swept is not None and not known[key]:
                    known[key] = too_near(case, swept)
            if known[key]:
                where = out.setdefault(known[key], np.zeros((len(rows), len(states)), dtype=bool))
                where[number, column] = True
    return out


def too_near(case: Case, swept: BaseGeometry) -> str:
    """Name a crest or a live wire that what is swept, on the roads or beside them, comes too near to, or where people
    are that bar the way they are in; "" for none.

    Along a road all are asked about from the middle line, which a turn leaves.
    """
    return _crest_near(case, swept) or _wire_near(case, swept) or _people_in_the_way(case, swept)


def _people_in_the_way(case: Case, swept: BaseGeometry) -> str:
    near = _near(case, "people", swept, SURE_M)[0]
    hit = near[bar_the_way(case)[near]] if len(near) else near
    return f"people {case.survey.site.layers['people'].ids[int(hit[0])]}" if len(hit) else ""


def _wire_near(case: Case, swept: BaseGeometry) -> str:
    """Name a live wire nearer in space than its distance: at its greatest sag, swung, over a body as high all over."""
    what, keep = hung(case), keeping(case)
    within = keep.widest_m + float(keep.swing_m.max(initial=0.0)) + _lean_m(case, swept)
    near, away = _near(case, "overheads", swept, within)
    live = (what.wire & ~what.isolated)[near]
    near, away = near[live], away[live]
    if not len(near):
        return ""
    height = np.where(any_of(what.clear_lacks), -np.inf, what.clearance_m)[near]
    span = (what.span & ~any_of({**what.span_lacks, **what.sag_lacks}))[near]
    if span.any():
        lowest = what.attach_m[near].min(axis=1) - what.sag_m[near] - _ground_m(case, swept)
        height = np.where(span, np.fmax(height, lowest), height)
    above = height - case.body.height_m - own_height_band(case) - case.survey.tolerance.height_m
    asked = np.where(np.isnan(keep.keep_m[near]), keep.far_m[near], keep.keep_m[near])
    away = away - _lean_m(case, swept)
    hidden = any_of(what.sag_lacks)[near] & (away < keep.far_m[near])  # as along a road
    away = np.where(hidden, 0.0, away - keep.swing_m[near])
    hit = near[np.hypot(np.maximum(away, 0.0), np.maximum(above, 0.0)) < asked]
    return f"overheads {case.survey.site.layers['overheads'].ids[int(hit[0])]}" if len(hit) else ""


def _kept_still_m(case: Case, near: Ints, kept: Floats) -> Floats:
    """Give what is kept from wires that hang still, for so much once they swing; from one without its sag no less than
    along a road, where it is asked for [m]."""
    keep, hidden = keeping(case), any_of(hung(case).sag_lacks)[near]
    still = kept + keep.swing_m[near]
    return np.where(hidden, np.fmax(still, keep.far_m[near]), still)


@lru_cache(maxsize=64)
def spread_m(case: Case, layer: str) -> Floats:
    """Give by feature how much further out than drawn it may lie: half its width and the survey's band, of a wire as
    far as the outer one may hang where nobody stated it [m]."""
    spread = case.survey.fabric.features[layer].spread_m + case.survey.tolerance.plan_m
    return spread + np.where(hung(case).wire, wider_m(case), 0.0) if layer == "overheads" else spread


@lru_cache(maxsize=16)
def far_m(case: Case) -> float:
    """Give how far a crest or a wire may still matter at most, swing and lean included [m]."""
    keep, wire = crest_standoffs(case), keeping(case)
    wires = wire.widest_m + float(wire.swing_m.max(initial=0.0)) + float(_leaning_m(case).max(initial=0.0))
    return max(FAR_M, float(keep[np.isfinite(keep)].max(initial=0.0)), wires)


def _lean_m(case: Case, swept: BaseGeometry) -> float:
    """Give how far the body leans out on the roads about a swept area, at any heading; their own rules ask for slopes
    nobody knows [m]."""
    return float(_leaning_m(case)[_roads_about(case, swept)].max(initial=0.0))


@lru_cache(maxsize=16)
def _leaning_m(case: Case) -> Floats:
    """Give the same by piece of road."""
    window = case.window
    along = np.fmax(np.abs(window.grade_max), np.abs(window.grade_min))
    return np.asarray(case.body.height_m * np.hypot(np.nan_to_num(along), np.nan_to_num(case.survey.cross_slope_ratio)))


def _roads_about(case: Case, swept: BaseGeometry) -> Ints:
    """Give the pieces of road about the middle of a swept area."""
    middle, (ax, ay, bx, by) = shapely.centroid(swept), case.survey.piece_ends
    x, y = shapely.get_x(middle), shapely.get_y(middle)
    return np.flatnonzero(np.hypot((ax + bx) / 2.0 - x, (ay + by) / 2.0 - y) < NEAR_M / 2.0)


def _ground_m(case: Case, swept: BaseGeometry) -> float:
    """Give the height of the highest road about a swept area; ∞ where one is not known [m]."""
    survey, of, near = case.survey, case.survey.pieces, _roads_about(case, swept)
    heights = [survey.heights_at(int(road), at) for road in np.unique(of.road[near]).tolist()
               for at in (of.from_m[near[of.road[near] == road]], of.to_m[near[of.road[near] == road]])]  # fmt: skip
    every = np.concatenate([np.full(1, np.nan if not heights else -np.inf), *heights])
    return np.inf if np.isnan(every).any() else float(every.max())


def _crest_near(case: Case, swept: BaseGeometry) -> str:
    """Name a crest nearer than a wheel keeps from it; the body stands for the wheels."""
    near, away = _near(case, "edges", swept, far_m(case))
    hit = near[_crests(case, np.zeros(0, dtype=np.int64), near, away) <= 0.0] if len(near) else near
    return f"edges {case.survey.site.layers['edges'].ids[int(hit[0])]}" if len(hit) else ""


def people_in(case: Case, swept: BaseGeometry) -> str:
    """Name where people work or walk in what is swept by a machine that stays about a place; "" for nowhere."""
    hit, _ = _near(case, "people", swept, SURE_M)
    return f"people {case.survey.site.layers['people'].ids[int(hit[0])]}" if len(hit) else ""


def _near(case: Case, layer: str, area: BaseGeometry, within_m: float) -> tuple[Ints, Floats]:
    """Give the features of a layer nearer to an area than a distance, by their number, and how far they are [m]."""
    features = case.survey.fabric.features.get(layer)
    none = np.zeros(0, dtype=np.int64)
    if features is None or not len(features):
        return none, np.zeros(0)
    tree: shapely.STRtree = case.survey.kept(("feature tree", layer), lambda: shapely.STRtree(features.plan))
    take = spread_m(case, layer)
    some = np.sort(tree.query(area, predicate="dwithin", distance=within_m + float(take.max())))
    away = np.asarray(shapely.distance(features.plan[some], area)) - take[some]
    return some[away < within_m], away[away < within_m]


def steep_nodes(case: Case) -> list[int]:
    """Give the nodes with a place whose stated slope is more than the machine is permitted across."""
    places = case.survey.site.layers["places"]
    return [
        node
        for node, names in case.survey.network.node_places.items()
        if too_steep(case, [places.index(name) for name in names])
    ]


def _in_the_way(case: Case, corners: Corners, row: int, aside: BaseGeometry) -> str:
    """Name what lies in ground beside the roads of a corner, or its stated slope; "" for nothing."""
    places = case.survey.site.layers["places"]
    names = case.survey.network.node_places.get(int(corners.node[row]), ())
    if names and not aside.is_empty and too_steep(case, [places.index(name) for name in names]):
        return f"places {names[0]} slope"
    return crossed(case, _pieces_of(case, corners, row), aside, bool(corners.returns[row]))


def lies_there(missing: str) -> bool:
    """Tell whether a missing value is a feature in what is swept or stood over: nobody accepts that on a form."""
    return missing.partition(" ")[0] in (*BESIDE, "obstacles", "places", "roads", "people")


def ways_of(corners: Corners, row: int) -> BaseGeometry:
    """Give the ground of the way to and from a corner: what lies on it was asked for while it was driven."""
    half, one = float(np.nan_to_num(corners.road_m[row])) / 2.0, np.array([row])
    arms = shapely.linestrings(np.concatenate((corners.arms_in(one)[0], corners.arms_out(one)[0])))
    return shapely.union_all(shapely.buffer(arms, half, cap_style="flat"))


def ways_about(survey: Survey, corners: Corners, row: int) -> BaseGeometry:
    """Give the same, kept with the survey."""
    return survey.kept(("ways", row), lambda: ways_of(corners, row))


def _pieces_of(case: Case, corners: Corners, row: int) -> Ints:
    """Give the pieces of both roads of a corner, as far as anything is swept from it; of a bend the whole link's."""
    links = sorted({int(edge[row]) >> 1 for edge in (corners.edge_in, corners.edge_out)})
    node = int(corners.node[row])
    return np.concatenate([pieces_near(case, link, node, NEAR_M) for link in links])


def pieces_near(case: Case, link: int, node: int, within_m: float) -> Ints:
    """Give the pieces of a link that begin within a distance of one of its ends, nearest first; all of other links."""
    network, pieces = case.survey.network, case.survey.pieces
    own = np.arange(network.link_piece_start[link], network.link_piece_stop[link])
    if node not in (int(network.link_a[link]), int(network.link_b[link])):
        return own
    own = own if int(network.link_a[link]) == node else own[::-1]
    return np.asarray(own[np.cumsum(pieces.length_m[own]) - pieces.length_m[own] <= within_m])


def beside_points(case: Case, x: Floats, y: Floats) -> Floats:
    """Give how far from each point the nearest thing is, on or beside the roads, that would bar in a swept area: what
    is swept nearer than that to the point meets nothing; ∞ where nothing is [m]."""
    every, at = np.unique(np.column_stack((x, y)), axis=0, return_inverse=True)
    x, y = every.T
    out, points = np.full(len(x), np.inf), np.asarray(shapely.points(x, y), dtype=object)
    bars = beside_things(case)
    most = np.full(len(x), np.inf)
    for plan, keep in bars:
        ax, ay = shapely.get_coordinates(plan)[0]
        np.minimum(most, np.hypot(x - ax, y - ay) - keep, out=most)
    for plan, keep in bars:
        left, bottom, right, top = shapely.bounds(plan)
        aside, above = (np.maximum(np.maximum(low - at, at - high), 0.0) for low, at, high in (
            (left, x, right), (bottom, y, top)))  # fmt: skip
        near = np.flatnonzero(np.hypot(aside, above) - keep <= most + SURE_M)
        if len(near):
            out[near] = np.minimum(out[near], shapely.distance(plan, points[near]) - keep)
    return np.asarray(out[at.ravel()])


def beside_things(case: Case) -> list[tuple[BaseGeometry, float]]:
    """Give what would bar in a swept area, on or beside the roads, with what is kept from each thing [m]."""
    every, things = np.arange(len(case.survey.pieces)), []  # where wheels ask most, most of the ground bars
    for layer in BESIDE:
        features = case.survey.fabric.features.get(layer)
        if features is None or not len(features):
            continue
        reach = _PASSED[layer](case, every, np.arange(len(features)), np.zeros(len(features)))
        if layer == "overheads":  # a wire swings, and the body leans towards it
            still = -_kept_still_m(case, np.arange(len(features)), -reach)
            reach = np.where(reach < np.inf, still, np.inf) - _leaning_m(case).max(initial=0.0)
        keeps = np.minimum(-reach, far_m(case)) + spread_m(case, layer)
        for number in np.flatnonzero(reach < np.inf).tolist():
            things.append((features.plan[number], float(keeps[number])))
    people = case.survey.fabric.features.get("people")
    if people is not None and len(people):
        keeps = spread_m(case, "people")
        for number in np.flatnonzero(bar_the_way(case)).tolist():
            things.append((people.plan[number], float(keeps[number])))
    return things


def asked_by_roads(case: Case, pieces: Ints, layer: str) -> Ints:
    """Give the features that some pieces are asked about: they are judged along the road."""
    pairs = case.survey.pairs(layer, max(case.body.reach_m, 0.0))
    return np.unique(pairs.feature[np.isin(pairs.piece, pieces) & pairs.over])


def too_steep(case: Case, rows: list[int]) -> bool:
    """Tell whether the whole slope stated there, taken across, is more than the machine is permitted."""
    places, limit = case.survey.site.layers["places"], case.body.cross_limit_ratio
    along, across = (places.number(name)[rows] * RATIO_PER_PCT for name in ("slope_pct", "cross_slope_pct"))
    steepest = float(np.hypot(np.nan_to_num(along), np.nan_to_num(across)).max(initial=0.0))
    return steepest + case.survey.tolerance.cross_slope_ratio > limit


def _solid(case: Case, pieces: Ints, near: Ints, away: Floats) -> Floats:
    return away


def _crests(case: Case, pieces: Ints, near: Ints, away: Floats) -> Floats:
    """Give the distance less what the outer wheel keeps from each crest; nothing is free where that is not known."""
    return away - np.nan_to_num(crest_standoffs(case)[near], nan=np.inf)


def _closures(case: Case, pieces: Ints, near: Ints, away: Floats) -> Floats:
    return np.where(closed(case)[near], away, np.inf)


def _people(case: Case, pieces: Ints, near: Ints, away: Floats) -> Floats:
    return away


def _overheads(case: Case, pieces: Ints, near: Ints, away: Floats, stays: bool = True) -> Floats:
    """A wire keeps its distance sideways or upwards; what else hangs there is passed under with the caution margin.

    Where the machine ``stays`` and slews about, the distance from which a spotter is asked for counts, from the wire as
    it swings and the body as it leans; where it passes, the distance to keep, and the rest by ``too_near``.
    """
    what, keep = hung(case), keeping(case)
    known = ~any_of(what.clear_lacks)[near]
    above = np.where(known, what.clearance_m[near], -np.inf) - case.body.height_m
    above -= own_height_band(case) + case.survey.tolerance.height_m
    live = (what.wire & ~what.isolated)[near]
    asked, trigger = np.where(np.isnan(keep.keep_m), keep.far_m, keep.keep_m)[near], keep.trigger_m[near]
    kept = np.where(live, np.fmax(trigger, asked) if stays else asked, 0.0)
    free = np.where(live, above >= kept, above >= case.scalar("headroom.caution"))
    if stays:
        leant = _leaning_m(case)[pieces].max(initial=0.0)
        kept = np.where(live, _kept_still_m(case, near, kept) + leant, kept)
    return np.where(free, np.inf, away - kept)


def _limits(case: Case, pieces: Ints, near: Ints, away: Floats) -> Floats:
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
    low = layer.number("height_m")[near] - case.survey.tolerance.height_m < body.height_m + own_height_band(case)
    bears = np.isin(kind, ["bridge", "culvert", "slab", "cover_plate"])
    bars = low | np.isin(kind, ["gateway", "buried_service"]) | (bears & (short | ~weighed)) | (weighed & short)
    return np.where(bars, away, np.inf)


def _ground(case: Case, pieces: Ints, near: Ints, away: Floats) -> Floats:
    """Ground that is not known to bear what the wheels ask on the roads there, and no less than the hardest tyre."""
    field = "bearing_wet_kpa" if case.weather.ground in (None, *WET) else "bearing_kpa"
    layer = case.survey.site.layers["ground"]
    now, then = (layer.number(name)[near] * PA_PER_KPA for name in ("bearing_kpa", field))
    bears = np.where(now < then, now, then) >= _wheels_ask_pa(case, pieces)
    return np.where(bears & ~lapsed(layer, case)[near], np.inf, away)


def _wheels_ask_pa(case: Case, pieces: Ints) -> float:
    """Give the greatest contact pressure asked for on some pieces, no less than that of the hardest tyre."""
    known, key = _asked_pa(case), pieces.tobytes()
    if key not in known:
        known[key] = float(np.nanmax(case.body.pressure_pa, initial=0.0))
        for answer in answers_for(case, pieces, np.ones_like(pieces), np.zeros_like(pieces), frozenset({"bearing"})):
            asked = np.asarray(answer.outcome.demand, dtype=np.float64)
            known[key] = max(known[key], float(np.nanmax(asked, initial=0.0)))
    return known[key]


@lru_cache(maxsize=16)
def _asked_pa(case: Case) -> dict[bytes, float]:
    """What wheels ask on pieces that were asked about, by these."""
    return {}


def _areas(case: Case, pieces: Ints, near: Ints, away: Floats) -> Floats:
    """Ground laid out as free that says itself that it does not bear the wheels, or slopes too much across."""
    layer = case.survey.site.layers["areas"]
    paved = np.isin(layer.text("surface")[near].astype(str), PAVED)
    soft = ~paved & (layer.number("bearing_kpa")[near] * PA_PER_KPA < _wheels_ask_pa(case, pieces))
    along, across = (
        np.nan_to_num(layer.number(name)[near]) * RATIO_PER_PCT for name in ("slope_pct", "cross_slope_pct")
    )
    steep = np.hypot(along, across) + case.survey.tolerance.cross_slope_ratio > case.body.cross_limit_ratio
    free = layer.text("use")[near] == "free_ground"
    return np.where(free & (soft | steep), away, np.inf)


LAYERS = {
    "obstacles": _solid,
    "edges": _crests,
    "overheads": _overheads,
    "limits": _limits,
    "ground": _ground,
    "people": _people,
    "closures": _closures,
    "areas": _areas,
}
_PASSED = LAYERS | {"overheads": partial(_overheads, stays=False)}
BESIDE = ("overheads", "limits", "ground", "closures", "edges", "areas")
