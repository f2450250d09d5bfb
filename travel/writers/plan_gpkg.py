"""Plan, site and reach as GeoPackage layers in the site's own CRS, with a ``layer_styles`` table for a GIS."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from travel.domain.plan import TravelPlan, Where
from travel.domain.rules import Rulebook
from travel.domain.site import Site
from travel.errors import Fault, InputError
from travel.writers.files import write_whole
from travel.writers.geo import Frame, frame_of, names_of, where_xy
from travel.writers.gis_styles import Style, kind_of, style_of
from travel.writers.sentences import sentence, where_text
from travel.writers.site_files import columns_of
from travel.writers.text import plain
from travel.writers.words import leg_text, stop_text

_PARTS = {"marker": "points", "line": "lines", "fill": "areas"}
STAMP = "1970-01-01T00:00:00.000Z"
"""A GeoPackage wants a time of last change in its contents; a fixed one keeps the same plan the same file."""
WORKING = {"OGR_CURRENT_DATE": STAMP, "OGR_SQLITE_SYNCHRONOUS": "OFF"}
"""While layers are written into a working file: nobody waits for the disk there, the whole is put down at the end."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Sheet:
    """One layer: columns by name, geometries in the site's CRS, and how it is drawn."""

    name: str
    columns: Mapping[str, Sequence[Any]]
    geometry: Sequence[Any]
    style: Style | None


def plan_sheets(plan: TravelPlan, site: Site, rulebook: Rulebook) -> list[Sheet]:
    """Give legs, flags, stops and the site's layers."""
    frame = frame_of(site)
    own = [_legs(plan, frame), _flags(plan, site, rulebook, frame), _stops(plan, site, frame)]
    return [sheet for sheet in own if len(sheet.geometry)] + site_sheets(site)


def site_sheets(site: Site) -> list[Sheet]:
    """Give the site's layers, those with a feature in them; points, lines and areas of one layer apart."""
    sheets = []
    for name, layer in site.layers.items():
        columns = {key: _texts(value) for key, value in columns_of(layer).items()} if len(layer) else {}
        kinds = np.array([kind_of(shape) for shape in layer.geometry], dtype=object)
        several = len(set(kinds)) > 1
        for kind in sorted(set(kinds)):
            rows = np.flatnonzero(kinds == kind)
            sheets.append(
                Sheet(
                    name=f"site_{name}_{_PARTS[kind]}" if several else f"site_{name}",
                    columns={key: _rows(value, rows) for key, value in columns.items()},
                    geometry=[layer.geometry[row] for row in rows],
                    style=style_of(name, kind),
                )
            )
    return sheets


def _rows(values: Any, rows: Any) -> Any:
    return [values[row] for row in rows] if isinstance(values, list) else values[rows]


def write_sheets(path: Path, sheets: Sequence[Sheet], crs_wkt: str) -> None:
    """Write layers and their styles whole into one GeoPackage; same layers, same bytes."""
    import tempfile

    import geopandas
    import pyogrio

    if not sheets:
        raise InputError([Fault(file=str(path), message="would hold no layer: plan and site have no geometry")])
    before = {name: pyogrio.get_gdal_config_option(name) for name in WORKING}
    pyogrio.set_gdal_config_options(WORKING)
    try:
        with tempfile.TemporaryDirectory() as folder:
            work = Path(folder) / "work.gpkg"
            for sheet in sheets:
                frame = geopandas.GeoDataFrame(dict(sheet.columns), geometry=list(sheet.geometry), crs=crs_wkt)
                frame.to_file(work, layer=sheet.name, driver="GPKG", engine="pyogrio", promote_to_multi=False)
            _add_styles(work, sheets)
            write_whole(path, work.read_bytes())
    finally:
        pyogrio.set_gdal_config_options(before)


def _legs(plan: TravelPlan, frame: Frame) -> Sheet:
    import shapely

    legs = [leg for leg in plan.legs if len(leg.path_lonlat) >= 2]
    geometry = [
        shapely.LineString(frame.to_metres(np.array([p[:2] for p in leg.path_lonlat], dtype=float))) for leg in legs
    ]
    columns: dict[str, list[Any]] = {
        key: [getattr(leg, key) for leg in legs]
        for key in (
            "leg", "trip", "vehicle", "road", "direction", "travel", "from_m", "to_m", "length_m", "time_s", "gear",
            "range", "steering", "drive", "attitude", "speed_kmh", "verdict",
        )
    }  # fmt: skip
    columns["flags"] = [", ".join(str(flag) for flag in leg.flags) for leg in legs]
    columns["said"] = [leg_text(leg) for leg in legs]
    return Sheet(name="legs", columns=clean_columns(columns), geometry=geometry, style=style_of("legs"))


def _flags(plan: TravelPlan, site: Site, rulebook: Rulebook, frame: Frame) -> Sheet:
    import shapely

    names = names_of(site)
    found = [(item, xy) for item in plan.findings if (xy := where_xy(item.where, site, frame)) is not None]
    items = [item for item, _ in found]
    columns: dict[str, list[Any]] = {
        key: [getattr(item, key) for item in items]
        for key in ("flag", "id", "rule", "trip", "leg", "verdict", "why", "reason", "demand", "capacity", "margin",
                    "tolerance", "unit", "severity", "control", "source", "accepted", "acceptable")
    }  # fmt: skip
    columns["missing"] = [", ".join(item.missing) for item in items]
    columns["where"] = [where_text(item.where, names) for item in items]
    columns["said"] = [sentence(item, rulebook, names) for item in items]
    geometry = [shapely.Point(xy) for _, xy in found]
    return Sheet(name="flags", columns=clean_columns(columns), geometry=geometry, style=style_of("flags"))


def _stops(plan: TravelPlan, site: Site, frame: Frame) -> Sheet:
    import shapely

    found = []
    for stop in plan.stops:
        where = Where(scope="stop", road=stop.road, at_m=stop.at_m, place=stop.place, lonlat=stop.lonlat)
        xy = where_xy(where, site, frame)
        if xy is not None:
            found.append((stop, xy))
    columns: dict[str, list[Any]] = {
        key: [getattr(stop, key) for stop, _ in found]
        for key in ("stop", "trip", "before_leg", "place", "road", "at_m", "kind", "time_s", "note")
    }
    columns["said"] = [stop_text(stop) for stop, _ in found]
    geometry = [shapely.Point(xy) for _, xy in found]
    return Sheet(name="stops", columns=clean_columns(columns), geometry=geometry, style=style_of("stops"))


def clean_columns(columns: Mapping[str, Sequence[Any]]) -> dict[str, Any]:
    """Give columns with one type each: whole numbers with gaps, numbers, truth values, text."""
    import pandas

    out: dict[str, Any] = {}
    for name, values in columns.items():
        known = [value for value in values if value is not None]
        if known and all(isinstance(value, bool) for value in known):
            out[name] = pandas.array(list(values), dtype="boolean")
        elif known and all(isinstance(value, int) for value in known):
            out[name] = pandas.array(list(values), dtype="Int64")
        elif known and all(isinstance(value, (int, float)) for value in known):
            out[name] = [np.nan if value is None else float(value) for value in values]
        else:
            out[name] = pandas.array([None if value is None else plain(value) for value in values], dtype="object")
    return out


def _texts(values: Any) -> Any:
    """Give a column of the site with what a file cannot hold written as text."""
    if isinstance(values, list):
        return [
            json.dumps(value, ensure_ascii=False) if isinstance(value, (dict, tuple)) else value for value in values
        ]
    return values


def _add_styles(path: Path, sheets: Sequence[Sheet]) -> None:
    """Add the table in which a GIS looks for the style of each layer of a GeoPackage."""
    with closing(sqlite3.connect(path)) as base, base:
        base.execute(
            "CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256), "
            "f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256), styleName TEXT(30), "
            "styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30), "
            "update_time DATETIME)"
        )
        base.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change) "
            "VALUES ('layer_styles', 'attributes', 'layer_styles', 'how the layers are drawn', ?)",
            (STAMP,),
        )
        base.executemany(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, "
            "styleQML, styleSLD, useAsDefault, description, owner, update_time) "
            "VALUES ('', '', ?, 'geom', ?, ?, ?, 1, ?, '', ?)",
            [
                (s.name, s.name[:30], s.style.qml, s.style.sld, "verdicts by line pattern and shape", STAMP)
                for s in sheets
                if s.style is not None
            ],
        )
