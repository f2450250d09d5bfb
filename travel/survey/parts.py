"""Changes of parts of roads turned into roads of their own, so that a site can be written out with them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely

from travel.domain.layers import LAYERS
from travel.domain.site import Amendment, Layer, Site
from travel.survey.arrays import Floats, Objects
from travel.survey.features import POINT_M

LEAST_PART_M = 0.01
TOUCH_M = 1e-3


def in_parts(site: Site) -> tuple[Site, dict[str, tuple[str, ...]]]:
    """Give a site in which every road that changes in part is cut at the changes, and the new ids by old id.

    Part n of road ``R`` is ``R~n``. A feature that names a road then names the part it stands on; where it stands on
    several, each has a copy of it (``OV~n``).
    """
    roads = site.layers["roads"]
    changes: dict[int, list[Amendment]] = {}
    for change in site.amendments:
        changes.setdefault(roads.index(change.feature), []).append(change)
    if not changes:
        return site, {}
    rows: list[int] = []
    shapes: list[Any] = []
    ids: list[str] = []
    spans: list[tuple[float, float]] = []
    split: dict[str, tuple[str, ...]] = {}
    for row, name in enumerate(roads.ids):
        cuts = _cuts(roads.geometry[row], changes.get(row, []))
        several = len(cuts) > 2
        for number, (low, high) in enumerate(pairwise(cuts), 1):
            rows.append(row)
            spans.append((low, high))
            shapes.append(_between(roads.geometry[row], low, high) if several else roads.geometry[row])
            ids.append(f"{name}~{number}" if several else name)
        if several:
            split[name] = tuple(ids[-(len(cuts) - 1) :])
    new = _picked(roads, np.array(rows), ids, shapes)
    for number, (row, (low, high)) in enumerate(zip(rows, spans, strict=True)):
        for change in changes.get(row, []):
            middle = (low + high) / 2.0
            if (change.from_m or 0.0) <= middle <= (np.inf if change.to_m is None else change.to_m):
                new = _with(new, number, change)
    layers = {name: _renamed(layer, split, new) for name, layer in site.layers.items()}
    return replace(site, layers={**layers, "roads": new}, amendments=()), split


def _cuts(line: Any, changes: list[Amendment]) -> list[float]:
    length = float(shapely.length(line))
    ends = [s for change in changes for s in (change.from_m, change.to_m) if s is not None]
    inner = sorted(s for s in ends if LEAST_PART_M < s < length - LEAST_PART_M)
    cuts = [0.0]
    cuts += [s for k, s in enumerate(inner) if s - (inner[k - 1] if k else 0.0) > LEAST_PART_M]
    return [*cuts, length]


def _between(line: Any, low: float, high: float) -> Any:
    """Give a line between two chainages, heights interpolated; chainage is plan length."""
    points = shapely.get_coordinates(line, include_z=bool(shapely.has_z(line)))
    run: Floats = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points[:, :2], axis=0).T))))
    inside = (run > low + 1e-9) & (run < high - 1e-9)
    at = np.concatenate(([low], run[inside], [high]))
    first = np.array([np.interp(low, run, column) for column in points.T])
    last = np.array([np.interp(high, run, column) for column in points.T])
    assert len(at) >= 2
    return shapely.linestrings(np.vstack([first, points[inside], last]))


def _picked(layer: Layer, rows: Any, ids: list[str], shapes: list[Any]) -> Layer:
    geometry: Objects = np.empty(len(shapes), dtype=object)
    geometry[:] = shapes

    def some(columns: Mapping[str, Any]) -> dict[str, Any]:
        return {name: column[rows] for name, column in columns.items()}

    return replace(
        layer,
        ids=tuple(ids),
        geometry=geometry,
        numbers=some(layer.numbers),
        texts=some(layer.texts),
        methods=some(layer.methods),
        extra=some(layer.extra),
    )


def _with(layer: Layer, row: int, change: Amendment) -> Layer:
    """Give the layer with one value of one row changed."""
    name = change.field
    if name.endswith("_method"):
        name = name.removesuffix("_method")
        column = layer.method(name).copy()
        column[row] = change.value
        return replace(layer, methods={**layer.methods, name: column})
    spec = LAYERS[layer.name].field(name)
    if spec is not None and spec.numeric:
        numbers = layer.number(name).copy()
        numbers[row] = np.nan if change.value is None else float(change.value)
        return replace(layer, numbers={**layer.numbers, name: numbers})
    texts = layer.text(name).copy()
    texts[row] = change.value
    return replace(layer, texts={**layer.texts, name: texts})


def _renamed(layer: Layer, split: Mapping[str, tuple[str, ...]], roads: Layer) -> Layer:
    """Give a layer whose features name the parts they stand on."""
    if LAYERS[layer.name].field("road") is None or "road" not in layer.texts:
        return layer
    rows: list[int] = []
    ids: list[str] = []
    named: list[str | None] = []
    for row, (name, road) in enumerate(zip(layer.ids, layer.text("road"), strict=True)):
        parts = _stands_on(layer, row, split[road], roads) if road in split else (road,)
        for number, part in enumerate(parts, 1):
            rows.append(row)
            ids.append(name if len(parts) == 1 else f"{name}~{number}")
            named.append(part)
    new = _picked(layer, np.array(rows, dtype=np.int64), ids, [layer.geometry[row] for row in rows])
    column: Objects = np.empty(len(named), dtype=object)
    column[:] = named
    return replace(new, texts={**new.texts, "road": column})


def _stands_on(layer: Layer, row: int, parts: tuple[str, ...], roads: Layer) -> tuple[str, ...]:
    shape = shapely.force_2d(layer.geometry[row])
    spread = float(np.nan_to_num(layer.number("half_spread_m")[row]))
    if not spread and shapely.get_type_id(shape) == 0:
        spread = POINT_M
    gaps = [float(shapely.distance(shape, shapely.force_2d(roads.geometry[roads.index(p)]))) for p in parts]
    reach = max(min(gaps), spread) + TOUCH_M
    return tuple(part for part, gap in zip(parts, gaps, strict=True) if gap <= reach)
