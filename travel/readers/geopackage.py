"""A site in one GeoPackage (OGC 12-128r19, 1.4): the same layers, the header beside it or in ``site_header``."""

from __future__ import annotations

import math
import sqlite3
import warnings
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from travel.domain.layers import LAYERS
from travel.readers.files import read_bytes
from travel.readers.notes import Notes
from travel.readers.source import Feature, RawLayer, Source, doubt_name

_MAGIC = b"SQLite format 3\0"
_HEADER = "site_header"


def open_geopackage(path: Path, notes: Notes) -> Source:
    """Read the header and every known layer of a GeoPackage."""
    source = Source(folder=path.parent, header_file=path.name)
    here = notes.at(file=path.name)
    names = _open(path, source, here)
    if names is None:
        source.broken.update(LAYERS)
        return source
    _header(path, names, source, notes)
    source.unread += sorted(set(_tables(path)) - set(names))
    for name in names:
        if name in LAYERS:
            _layer(path, name, source, here.at(layer=name))
        elif name != _HEADER:
            source.unread.append(name)
            doubt_name(name, here)
    return source


def _open(path: Path, source: Source, notes: Notes) -> list[str] | None:
    """Give the names of the layers, or None after a fault."""
    import pyogrio

    read = read_bytes(path, "site", notes)
    if read is None:
        return None
    source.inputs.append(read[1])
    journal = path.with_name(f"{path.name}-wal")
    if journal.exists() and journal.stat().st_size:
        notes.doubt("open in another program, which has not put every change into the file yet")
    if not read[0].startswith(_MAGIC):
        notes.fault("not a GeoPackage")
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return [str(row[0]) for row in pyogrio.list_layers(path)]
    except Exception as error:  # GDAL raises many kinds; all mean the same here
        notes.fault(f"cannot be read as a GeoPackage: {_reason(error, path)}")
        return None


@contextmanager
def connected(path: Path) -> Iterator[sqlite3.Connection]:
    """Give the file as the database it is, to read only; one another program left half saved is read as it stands."""
    uri = path.resolve().as_uri()
    with closing(sqlite3.connect(f"{uri}?mode=ro", uri=True)) as base:
        try:
            base.execute("select 1 from sqlite_master").fetchone()
        except sqlite3.OperationalError:  # a journal nobody may write beside it
            with closing(sqlite3.connect(f"{uri}?mode=ro&immutable=1", uri=True)) as still:
                yield still
            return
        yield base


def _tables(path: Path) -> list[str]:
    """Give every table and view but those of the format itself: some may not be listed as layers."""
    with connected(path) as base:
        found = base.execute("select name from sqlite_master where type in ('table', 'view')")
        return [str(row[0]) for row in found if not str(row[0]).startswith(("gpkg_", "rtree_", "sqlite_"))]


def _raw(path: Path, layer: str) -> tuple[dict[str, Any], Any, Any, Any]:
    """Give a layer's description, row numbers, geometries as WKB, columns; times stay text: no offset is lost."""
    import pyogrio

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        meta, numbers, geometry, columns = pyogrio.raw.read(
            path, layer=layer, datetime_as_string=True, return_fids=True
        )
    return meta, numbers, geometry, columns


def _stored(path: Path, layer: str, numbers: Any) -> list[dict[str, Any]]:
    """Give each row as it is stored, in the order of their numbers: the library above turns text among numbers into
    numbers, drops parts of numbers in whole columns, and leaves out columns whose type it does not know."""
    name = layer.replace('"', '""')
    with connected(path) as base:
        shape = base.execute("select column_name from gpkg_geometry_columns where table_name = ?", (layer,)).fetchone()
        key = [str(row[1]) for row in base.execute(f'pragma table_info("{name}")') if row[5]]
        cursor = base.execute(f'select * from "{name}"')
        fields = [str(entry[0]) for entry in cursor.description]
        rows = [dict(zip(fields, row, strict=True)) for row in cursor]
    for row in rows if shape else ():
        row.pop(str(shape[0]), None)
    if len(key) == 1:
        by_number = {row[key[0]]: row for row in rows}
        rows = [by_number[int(number)] for number in numbers]
        for row in rows if key != ["id"] else ():
            row.pop(key[0])
    return rows


def _header(path: Path, names: list[str], source: Source, notes: Notes) -> None:
    """Take the header from ``<stem>.toml`` or the table; two that differ are a fault."""
    beside = path.with_suffix(".toml")
    inside: bytes | None = None
    if _HEADER in names:
        here = notes.at(file=path.name, layer=_HEADER)
        meta, _, _, columns = _raw(path, _HEADER)
        rows = dict(zip(meta["fields"], columns, strict=True)).get("toml")
        if rows is None or len(rows) != 1 or not isinstance(rows[0], str):
            here.fault("one row with the header's text is due", field="toml")
        else:
            inside = rows[0].encode()
    if beside.exists():
        source.header_file = beside.name
        read = read_bytes(beside, "site", notes.at(file=beside.name))
        if read:
            source.header = read[0]
            source.inputs.append(read[1])
        if inside is not None and read and inside.strip() != read[0].strip():
            notes.at(file=path.name, layer=_HEADER).fault(f"differs from {beside.name}; keep one of the two")
    elif inside is not None:
        source.header = inside
    elif _HEADER not in names:
        notes.at(file=path.name).fault("no header", allowed=f"{beside.name} beside it, or a table {_HEADER}")


def _layer(path: Path, name: str, source: Source, notes: Notes) -> None:
    try:
        meta, numbers, geometry, columns = _raw(path, name)
        stored = _stored(path, name, numbers)
    except Exception as error:  # GDAL raises many kinds; all mean the same here
        notes.fault(f"cannot be read: {_reason(error, path)}")
        source.broken.add(name)
        return
    kinds = list(zip(meta["fields"], meta["ogr_types"], meta["ogr_subtypes"], strict=True))
    features = []
    for row, values in enumerate(stored):
        for (field, kind, subtype), column in zip(kinds, columns, strict=True):
            values[field] = _cell(column[row], values.get(field), kind, subtype)
        shape = None if geometry is None else _shape(geometry[row])
        features.append(Feature(number=row + 1, properties=values, geometry=shape))
    if features and not meta["crs"]:
        notes.fault("the layer declares no crs", field="crs")
    source.layers[name] = RawLayer(file=path.name, features=tuple(features), crs=meta["crs"] or "")


def _reason(error: Exception, path: Path) -> str:
    """Give a library's message without the folder it names."""
    return str(error).replace(str(path), path.name)


def _cell(value: Any, stored: Any, kind: str, subtype: str) -> Any:
    """Give a cell as JSON would hold it: None for NULL, flags as bool, numbers and what cannot be read as stored."""
    if stored is None:
        return None
    if kind in ("OFTInteger", "OFTInteger64", "OFTReal"):
        return bool(stored) if subtype == "OFSTBoolean" and stored in (0, 1) else stored
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return stored
    return value.item() if hasattr(value, "item") else value


def _shape(wkb: bytes | None) -> Any:
    """Give a geometry shaped as in GeoJSON; measures are left out, a height of NaN is no height."""
    if wkb is None:
        return None
    import shapely

    geometry = shapely.from_wkb(wkb)
    if shapely.has_m(geometry):
        geometry = shapely.from_wkb(shapely.to_wkb(geometry, output_dimension=3 if shapely.has_z(geometry) else 2))
    if geometry.is_empty:
        return {"type": geometry.geom_type, "coordinates": []}
    shape = shapely.geometry.mapping(geometry)
    return {**shape, "coordinates": _lists(shape["coordinates"])} if "coordinates" in shape else shape


def _lists(coordinates: Any) -> Any:
    if coordinates and isinstance(coordinates[0], float):
        missing = len(coordinates) > 2 and math.isnan(coordinates[2])
        return list(coordinates[:2] if missing else coordinates)
    return [_lists(part) for part in coordinates]
