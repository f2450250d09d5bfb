"""What a plan relied on, feature by feature, and its fingerprint."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely

from travel.domain.plan import ReliedOn
from travel.domain.rules import Rulebook
from travel.domain.site import Layer, Site
from travel.planning.trips import Trip

CORRIDOR_M = 30.0
"""How far beside the way a feature is relied on: beyond the reach of every rule that looks sideways."""
MM = 3


def digest(value: Any) -> str:
    """Give the SHA-256 of a value as canonical JSON (sorted keys, no spaces, numbers as Python writes them)."""
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def relied_on(trips: list[Trip], site: Site) -> tuple[ReliedOn, ...]:
    """Give the corridor of the ways and every feature inside it, with its values and coordinates to 1 mm."""
    corridor = _corridor(trips)
    if corridor is None:
        return ()
    outline = _coordinates(shapely.simplify(corridor, 0.5))
    out = [_row("corridor", "ways", {"outline": outline})]
    for name, layer in site.layers.items():
        if len(layer):
            inside = shapely.intersects(layer.geometry, corridor)
            out += [_row(name, layer.ids[i], _feature(layer, int(i))) for i in np.flatnonzero(inside)]
    return tuple(out)


def _corridor(trips: list[Trip]) -> Any:
    lines = []
    for trip in trips:
        survey, network = trip.case.survey, trip.case.survey.network
        way = trip.way or trip.blocked_way
        for step in way.steps if way else ():
            link = step.edge >> 1
            lines.append(
                survey.xy(
                    int(network.link_road[link]), float(network.link_from_m[link]), float(network.link_to_m[link])
                )
            )
    if not lines:
        return None
    return shapely.union_all(np.array([shapely.linestrings(line) for line in lines], dtype=object)).buffer(CORRIDOR_M)


def _coordinates(geometry: Any) -> list[list[float]]:
    return [
        [round(float(v), MM) for v in point if not np.isnan(v)]
        for point in shapely.get_coordinates(geometry, include_z=True)
    ]


def _feature(layer: Layer, row: int) -> dict[str, Any]:
    values = {key: list(value) if isinstance(value, tuple) else value for key, value in layer.values(row).items()}
    return {**values, "coordinates": _coordinates(layer.geometry[row])}


def _row(layer: str, feature: str, values: Mapping[str, Any]) -> ReliedOn:
    return ReliedOn(layer=layer, feature=feature, values=values, digest=digest(values))


def fingerprint(parts: tuple[ReliedOn, ...], rulebook: Rulebook, inputs: Mapping[str, Any]) -> str:
    """Give the digest over everything relied on: features, rulebook layers, machine, load, weather, request."""
    return digest(
        {
            "features": [[part.layer, part.feature, part.digest] for part in parts],
            "books": [[book.layer, book.sha256] for book in rulebook.books],
            **inputs,
        }
    )
