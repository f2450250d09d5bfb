"""Sites built in memory, without files, for tests of survey, checks and routing.

    site = make_site(roads=[dict(id="haul", xyz=[(0, 0, 10), (100, 0, 12)], width_m=6.0, surface="asphalt")],
                     places=[dict(id="gate", xy=(0, 0), kind="gate")])

Coordinates are metres east and north of :data:`ORIGIN` in EPSG:32633, unless ``origin`` and ``crs`` say otherwise. A
row's geometry stands in ``xyz`` or ``xy`` (lists of tuples: a line; one tuple: a point), in ``polygon`` (list of
tuples) or in ``geometry`` (any shapely geometry, shifted by the origin too). Other keys are columns;
``<field>_method`` gives how a number was got; flags may be bool.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from travel.domain.layers import LAYERS
from travel.domain.site import Amendment, InputFile, Layer, Site, SiteHeader, Terrain
from travel.survey import Tolerance

ORIGIN = (500_000.0, 5_000_000.0)
DATE = dt.date(2026, 3, 2)
EXACT = Tolerance(height_m=0.05, width_m=0.05, grade_ratio=0.01, cross_slope_ratio=0.01, plan_m=0.1)
GEOMETRY_KEYS = ("xyz", "xy", "polygon", "geometry")


def make_site(
    roads: Sequence[Mapping[str, Any]],
    places: Sequence[Mapping[str, Any]] = (),
    *,
    header: Mapping[str, Any] | None = None,
    terrain: Terrain | None = None,
    amendments: tuple[Amendment, ...] = (),
    surveyed: Iterable[str] | Mapping[str, Any] | None = None,
    crs: str = "EPSG:32633",
    origin: tuple[float, float] = ORIGIN,
    **layers: Sequence[Mapping[str, Any]],
) -> Site:
    """Build a site. Every layer is declared surveyed unless ``surveyed`` says which are (names, or full notes).

    Other layers come by keyword: ``overheads=[dict(id="w1", xy=[…], kind="wire")]``. A layer not given is there and
    empty.
    """
    given = {"roads": roads, "places": places, **layers}
    unknown = set(given) - set(LAYERS)
    assert not unknown, f"no such layers: {unknown}"
    built = {name: make_layer(name, given.get(name, ()), origin) for name in LAYERS}
    names = LAYERS if surveyed is None else surveyed
    notes = dict(names) if isinstance(names, Mapping) and names is not LAYERS else {n: {"date": DATE} for n in names}
    base: dict[str, Any] = {
        "format": 1,
        "name": "Site in memory",
        "crs": crs,
        "timezone": "UTC",
        "surveyed_on": DATE,
        "surveyed": notes,
    }
    digest = hashlib.sha256(repr((given, header, amendments, _grid(terrain))).encode()).hexdigest()
    return Site(
        header=SiteHeader.model_validate(base | dict(header or {})),
        crs_wkt=_wkt(crs),
        layers=built,
        terrain=terrain,
        inputs=(InputFile(role="site", name="memory", sha256=digest),),
        amendments=amendments,
    )


def make_layer(name: str, rows: Sequence[Mapping[str, Any]], origin: tuple[float, float] = ORIGIN) -> Layer:
    """Build one layer from rows; columns nobody fills are left out, as a reader leaves them."""
    spec = LAYERS[name]
    known = {field.name for field in spec.fields}
    for row in rows:
        odd = {k for k in row if k not in GEOMETRY_KEYS and k.removesuffix("_method") not in known}
        assert not odd, f"{name} {row.get('id')}: no such columns: {odd}"
    geometry = np.empty(len(rows), dtype=object)
    geometry[:] = [_geometry(row, origin) for row in rows]
    numbers, texts, methods = {}, {}, {}
    for field in spec.fields:
        if field.kind == "id":
            continue
        values = [row.get(field.name) for row in rows]
        if field.numeric:
            numbers[field.name] = _locked(np.array([np.nan if v is None else float(v) for v in values], dtype=float))
        else:
            texts[field.name] = _objects(values)
        if any(f"{field.name}_method" in row for row in rows):
            methods[field.name] = _objects([row.get(f"{field.name}_method") for row in rows])
    return Layer(
        name=name,
        ids=tuple(str(row["id"]) for row in rows),
        geometry=geometry,
        numbers=numbers,
        texts=texts,
        methods=methods,
    )


def make_terrain(
    height: Any, *, west: float, south: float, columns: int, rows: int, cell_m: float = 1.0, sd_m: float | None = 0.05
) -> Terrain:
    """Build a grid from ``height(x, y)`` at cell centres, from the origin; ``west``, ``south``: its outer corner."""
    x = west + (np.arange(columns) + 0.5) * cell_m
    y = south + (rows - np.arange(rows) - 0.5) * cell_m
    grid = np.asarray(height(*np.meshgrid(x, y)), dtype=np.float64) + np.zeros((rows, columns))
    return Terrain(
        heights=grid,
        west_m=ORIGIN[0] + west,
        north_m=ORIGIN[1] + south + rows * cell_m,
        cell_x_m=cell_m,
        cell_y_m=cell_m,
        vertical_sd_m=sd_m,
    )


def _geometry(row: Mapping[str, Any], origin: tuple[float, float]) -> BaseGeometry:
    if "geometry" in row:
        made = row["geometry"]
    elif "polygon" in row:
        made = shapely.Polygon(row["polygon"])
    else:
        points = row.get("xyz", row.get("xy"))
        single = np.ndim(points) == 1
        made = shapely.Point(points) if single else shapely.LineString(points)
    shift = np.array([*origin, 0.0][: 3 if made.has_z else 2])
    return shapely.transform(made, lambda c: c + shift, include_z=made.has_z)


def _objects(values: Sequence[Any]) -> np.ndarray:
    out = np.empty(len(values), dtype=object)
    out[:] = values
    return _locked(out)


def _locked(column: np.ndarray) -> np.ndarray:
    column.setflags(write=False)
    return column


def _grid(terrain: Terrain | None) -> str:
    if terrain is None:
        return ""
    return hashlib.sha256(terrain.heights.tobytes() + repr((terrain.west_m, terrain.north_m)).encode()).hexdigest()


@lru_cache(maxsize=4)
def _wkt(crs: str) -> str:
    return CRS.from_user_input(crs).to_wkt()
