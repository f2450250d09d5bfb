"""What a plan relied on, as read, and its fingerprint.

Everything is a pure function of the corridor of the ways and of what was read, so that it can be asked again later:
what then differs is what the plan falls with. A change outside the corridor changes no row.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks import Case, built_rules
from travel.checks.mud import carried_m
from travel.checks.registry import parts
from travel.domain.machine import Load, Machine
from travel.domain.plan import ReliedOn
from travel.domain.rules import Limit, Rulebook
from travel.domain.site import Layer, Site, Terrain, Weather
from travel.planning.trips import Trip
from travel.rulebook import load_rulebook
from travel.rulebook.resolve import stricter

if TYPE_CHECKING:
    from travel.domain.trailer import Trailer

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

CORRIDOR_M = 30.0
"""How far beside the way a feature is relied on at least; further where a rule looks further."""
BESIDE_RULE_M = 5.0
"""Added to how far the rule that looks furthest looks, for the road's own half width."""
MM = 3
THIN_M = 0.1
"""Vertices of a way this near a straight line are left out of its corridor, which is as much wider."""
BLOCK = 16
"""Cells of terrain on each side of a block that is looked at as one at first."""
SURVEYED = "surveyed"
OF_A_RULE = ("kind", "scope", "layers", "needs", "high_consequence", "control")
OF_A_CONTROL = ("text", "owner", "due", "evidence", "pre_travel", "when")
VOIDING_NOTE = ("roads",)
"""Of who looked where, only the roads looked at void a plan; a later day of the survey does not."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Journey:
    """One trip as far as a plan relies on it: its load, its weather and the words its limits are chosen by.

    ``reach_m``: by layer, how far from the way each feature still counts where that differs; ``mud_m``: how far mud is
    carried along the roads in this weather.
    """

    trip: str
    load: Load | None
    weather: Weather
    words: Mapping[str, str | None]
    reach_m: Mapping[str, Floats]
    mud_m: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Basis:
    """Everything that was read for a plan."""

    site: Site
    rulebook: Rulebook
    machine: Machine
    journeys: tuple[Journey, ...]
    trailer: Trailer | None = None


def digest(value: Any) -> str:
    """Give the SHA-256 of a value as canonical JSON (sorted keys, no spaces, numbers as Python writes them)."""
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def basis_of(trips: Sequence[Trip], machine: Machine, rulebook: Rulebook, trailer: Trailer | None = None) -> Basis:
    """Give what solved trips were read from."""
    return Basis(
        site=trips[0].case.survey.site,
        rulebook=rulebook,
        machine=machine,
        journeys=tuple(journey_of(trip.case) for trip in trips),
        trailer=trailer,
    )


def journey_of(case: Case) -> Journey:
    """Give what a plan relies on of one trip's case."""
    words = {
        "jurisdiction": case.jurisdiction,
        "attitude": case.body.attitude,
        "load_state": "loaded" if case.loaded else "none",
    }
    return Journey(
        trip=case.trip,
        load=case.load,
        weather=case.weather,
        words=words,
        reach_m=_reaches(case),
        mud_m=carried_m(case),
    )


def _reaches(case: Case) -> dict[str, Floats]:
    """Give by layer how far from the way each feature still counts, where a rule tells them apart [m]."""
    out: dict[str, Floats] = {}
    for part in parts():
        if part.each_m:
            each = np.nan_to_num(part.each_m(case)) + BESIDE_RULE_M
            out[part.layer] = np.maximum(out.get(part.layer, each), each)
    return out


def relied_on(corridor: Any, basis: Basis) -> tuple[ReliedOn, ...]:
    """Give every row a plan relies on: features inside the corridor, terrain, survey, machine, loads, weather, limits.

    Args:
        corridor: from ``corridor_of`` or ``corridor_from``; None where no way was driven
        basis: what was read
    """
    site = basis.site
    out: list[ReliedOn] = []
    if corridor is not None:
        out.append(_row("corridor", "ways", {"polygons": _polygons(corridor)}))
        for name, layer in site.layers.items():
            if len(layer):
                inside = _counts(layer, corridor, basis)
                out += [_row(name, layer.ids[i], _feature(layer, int(i))) for i in np.flatnonzero(inside)]
        out += _mud(corridor, basis)
        if site.terrain is not None:
            out.append(_row("terrain", "heights", _heights(site.terrain, corridor)))
    out.append(_row("site", "header", _header(site)))
    out += [_surveyed(name, basis) for name in sorted(site.header.surveyed)]
    out.append(_row("machine", "sheet", basis.machine.model_dump(mode="json")))
    if basis.trailer is not None:
        out.append(_row("trailer", "sheet", basis.trailer.model_dump(mode="json")))
    for journey in basis.journeys:
        if journey.load is not None:
            out.append(_row("load", journey.trip, journey.load.model_dump(mode="json")))
        out.append(_row("weather", journey.trip, journey.weather.model_dump(mode="json")))
    return (*out, *_limits(basis))


def fingerprint(rows: Sequence[ReliedOn], request: Mapping[str, Any]) -> str:
    """Give the digest over everything relied on and over what was asked."""
    return digest({"rows": [[row.layer, row.feature, row.digest] for row in rows], "request": dict(request)})


def corridor_of(trips: Sequence[Trip], also: Any = None) -> Any:
    """Give the ground on and beside the ways, and what else was looked at, to 1 mm; None where no way was driven."""
    lines, reach, seen = [], CORRIDOR_M, set()
    for trip in trips:
        survey, network = trip.case.survey, trip.case.survey.network
        reach = max([reach, *(part.beside_m(trip.case) + BESIDE_RULE_M for part in parts() if part.beside_m)])
        way = trip.way or trip.blocked_way
        for step in way.steps if way else ():
            link = step.edge >> 1
            if link in seen:
                continue
            seen.add(link)
            ends = float(network.link_from_m[link]), float(network.link_to_m[link])
            lines.append(survey.xy(int(network.link_road[link]), *ends))
    if not lines:
        return None
    thin = shapely.multilinestrings(
        shapely.simplify(np.array([shapely.linestrings(line) for line in lines], dtype=object), THIN_M)
    )
    outer = shapely.simplify(shapely.buffer(thin, reach + THIN_M), 0.5)
    outer = outer if also is None else shapely.union(outer, also)
    return corridor_from({"polygons": _polygons(shapely.set_precision(outer, 10**-MM))})


def corridor_from(values: Mapping[str, Any]) -> Any:
    """Give the corridor back from the values a plan kept of it."""
    polygons = [shapely.Polygon(rings[0], rings[1:]) for rings in values["polygons"]]
    return shapely.union_all(np.array(polygons, dtype=object))


def _counts(layer: Layer, corridor: Any, basis: Basis) -> Bools:
    """Tell which features lie in the corridor, or count from further off than it is wide: a wire that swings far."""
    inside = shapely.intersects(layer.geometry, corridor)
    for reach_m in (j.reach_m[layer.name] for j in basis.journeys if layer.name in j.reach_m):
        far = np.flatnonzero(~inside & (reach_m > CORRIDOR_M))
        inside[far] = shapely.distance(layer.geometry[far], corridor) <= reach_m[far] - CORRIDOR_M
    return np.asarray(inside)


def _mud(corridor: Any, basis: Basis) -> list[ReliedOn]:
    """Give the surfaces from which tyres may carry mud onto the way from beyond the corridor; none in dry weather."""
    beyond_m = max((j.mud_m for j in basis.journeys), default=0.0) - CORRIDOR_M
    if beyond_m <= 0.0:
        return []
    found: dict[str, Any] = {}
    for layer in (basis.site.layers["roads"], basis.site.layers["ground"]):
        away = shapely.distance(layer.geometry, corridor)
        rows = np.flatnonzero((away > 0.0) & (away <= beyond_m)).tolist()
        found |= {f"{layer.name} {layer.ids[i]}": layer.text("surface")[i] for i in rows}
    return [_row("mud", "surfaces further off", found)]


def _polygons(corridor: Any) -> list[list[list[list[float]]]]:
    rings = [[part.exterior, *part.interiors] for part in shapely.get_parts(corridor)]
    return [[_coordinates(ring) for ring in part] for part in rings]


def _coordinates(geometry: Any) -> list[list[float]]:
    return [
        [round(float(v), MM) for v in point if not np.isnan(v)]
        for point in shapely.get_coordinates(geometry, include_z=True)
    ]


def _feature(layer: Layer, row: int) -> dict[str, Any]:
    values = {key: list(value) if isinstance(value, tuple) else value for key, value in layer.values(row).items()}
    return {**values, "coordinates": _coordinates(layer.geometry[row])}


def _heights(terrain: Terrain, corridor: Any) -> dict[str, Any]:
    """Give the heights of the cells that touch the corridor: their number, the least and greatest, and their digest."""
    west, south, east, north = corridor.bounds
    last = (terrain.heights.shape[1] - 1, terrain.heights.shape[0] - 1)
    left, right = (int(np.clip((x - terrain.west_m) // terrain.cell_x_m, 0, last[0])) for x in (west, east))
    top, bottom = (int(np.clip((terrain.north_m - y) // terrain.cell_y_m, 0, last[1])) for y in (north, south))
    column, row = np.meshgrid(np.arange(left, right + 1), np.arange(top, bottom + 1))
    x, y = terrain.west_m + column * terrain.cell_x_m, terrain.north_m - row * terrain.cell_y_m
    heights = terrain.heights[row, column][_touching(corridor, x, x + terrain.cell_x_m, y - terrain.cell_y_m, y)]
    known = heights[~np.isnan(heights)]
    lattice = [round(float(v), MM) for v in (x[0, 0], y[0, 0], terrain.cell_x_m, terrain.cell_y_m)]
    text = f"{lattice} {np.round(heights, MM).tolist()}"
    return {
        "cells": int(heights.size),
        "cells_known": int(known.size),
        "lowest_m": float(known.min()) if known.size else None,
        "highest_m": float(known.max()) if known.size else None,
        "vertical_sd_m": terrain.vertical_sd_m,
        "sha256": hashlib.sha256(text.encode()).hexdigest(),
    }


def _touching(corridor: Any, west: Any, east: Any, south: Any, north: Any) -> Bools:
    """Tell which cells of a grid, rows from the north, touch the corridor; blocks of them at a time at first."""
    shapely.prepare(corridor)
    rows, columns = (np.arange(count) // BLOCK for count in west.shape)
    first = np.ix_(*(np.unique(block, return_index=True)[1] for block in (rows, columns)))
    last = np.ix_(*(np.append(np.flatnonzero(np.diff(block)), len(block) - 1) for block in (rows, columns)))
    blocks = shapely.box(west[first], south[last], east[last], north[first])
    whole = shapely.contains(corridor, blocks)
    out, partly = (of[np.ix_(rows, columns)] for of in (whole, shapely.intersects(corridor, blocks) & ~whole))
    cells = shapely.box(west[partly], south[partly], east[partly], north[partly])
    out[partly] = shapely.intersects(corridor, cells)
    return np.asarray(out)


def _header(site: Site) -> dict[str, Any]:
    header = site.header
    return {
        "crs": header.crs,
        "height_datum": header.height_datum,
        "jurisdiction": header.jurisdiction,
        "timezone": header.timezone,
        "snap_m": header.snap_m,
        "window_m": header.window_m,
        "terrain": site.terrain is not None,
        "tolerance": header.tolerance.model_dump(mode="json"),
        "weather": header.weather.model_dump(mode="json"),
    }


def _surveyed(layer: str, basis: Basis) -> ReliedOn:
    """Give who looked at a layer and how long that holds; only the roads looked at are in the digest."""
    note = basis.site.header.surveyed[layer]
    ages = [r.value for r in basis.rulebook.limits if r.id == "survey-age.limit" and r.when.get("layer") == layer]
    values = {**note.model_dump(mode="json"), "age_limit_d": min(ages, default=None)}
    voiding = {key: values[key] for key in VOIDING_NOTE}
    return ReliedOn(layer=SURVEYED, feature=layer, values=values, digest=digest(voiding))


def _answered(basis: Basis) -> frozenset[str]:
    """Give the rules that code answers for these trips."""
    if basis.trailer is None:
        return built_rules()
    from travel.checks.ramp import ramp_rules
    from travel.checks.unloading import RULE

    return built_rules() | frozenset((*ramp_rules(), RULE))


def _limits(basis: Basis) -> list[ReliedOn]:
    """Give the limits and coefficients that may hold on these trips, by id; rules without code have none."""
    silent = basis.rulebook.rules.keys() - _answered(basis)
    kept: dict[str, dict[str, Any]] = {}
    for limit in basis.rulebook.limits:
        if limit.id.partition(".")[0] not in silent and any(_may_hold(limit, j.words) for j in basis.journeys):
            when = ", ".join(f"{key} {value}" for key, value in sorted(limit.when.items())) or "always"
            row, name = kept.setdefault(limit.id, {"unit": limit.unit}), f"{when} ({limit.layer})"
            # of rows alike in a company's or a site's books the strictest holds; the default's are the version's
            if name not in row or limit.layer == "default" or stricter(limit.value, row[name], limit.sense):
                row[name] = limit.value
    rows = [_row("rulebook", name, values) for name, values in sorted(kept.items())]
    acceptable = {rule.id: rule.acceptable for rule in basis.rulebook.rules.values() if rule.id not in silent}
    return [*rows, _row("rulebook", "acceptable", acceptable), *_written_anew(basis.rulebook, silent)]


def _written_anew(rulebook: Rulebook, silent: Set[str]) -> list[ReliedOn]:
    """Give rules, controls and cautions as other books than the default say them; nothing where none does."""
    base = load_rulebook()
    out = []
    for kind, names, now, was in (
        ("rule", OF_A_RULE, rulebook.rules, base.rules),
        ("control", OF_A_CONTROL, rulebook.controls, base.controls),
    ):
        for key in sorted(now.keys() - silent):
            values, before = ({name: _plain(getattr(one.get(key), name, None)) for name in names} for one in (now, was))
            out += [_row("rulebook", f"{key}.{kind}", values)] if values != before else []
    more = [text for text in rulebook.cautions if text not in base.cautions]
    return [*out, _row("rulebook", "cautions", {"texts": more})] if more else out


def _plain(value: Any) -> Any:
    """Give a value of a rulebook as JSON holds it."""
    return dict(value) if isinstance(value, Mapping) else list(value) if isinstance(value, tuple) else value


def _may_hold(limit: Limit, words: Mapping[str, str | None]) -> bool:
    return all(words.get(key) in (None, wanted) for key, wanted in limit.when.items() if key in words)


def _row(layer: str, feature: str, values: Mapping[str, Any]) -> ReliedOn:
    return ReliedOn(layer=layer, feature=feature, values=values, digest=digest(values))
