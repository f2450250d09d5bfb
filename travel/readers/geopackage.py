"""A site in one GeoPackage (OGC 12-128r19, 1.4): the same layers, the header beside it or in ``site_header``."""

from __future__ import annotations

import math
import warnings
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
    for name in names:
        if name in LAYERS:
            _layer(path, name, source, here.at(layer=name))
        elif name != _HEADER:
            doubt_name(name, here)
    return source


def _open(path: Path, source: Source, notes: Notes) -> list[str] | None:
    """Give the names of the layers, or None after a fault."""
    import pyogrio

    read = read_bytes(path, "site", notes)
    if read is None:
        return None
    source.inputs.append(read[1])
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


def _raw(path: Path, layer: str) -> tuple[dict[str, Any], Any, Any]:
    """Give a layer's description, geometries as WKB, columns; times stay text so that no offset is lost."""
    import pyogrio

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        meta, _, geometry, columns = pyogrio.raw.read(path, layer=layer, datetime_as_string=True)
    return meta, geometry, columns


def _header(path: Path, names: list[str], source: Source, notes: Notes) -> None:
    """Take the header from ``<stem>.toml`` or the table; two that differ are a fault."""
    beside = path.with_suffix(".toml")
    inside: bytes | None = None
    if _HEADER in names:
        here = notes.at(file=path.name, layer=_HEADER)
        meta, _, columns = _raw(path, _HEADER)
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
        meta, geometry, columns = _raw(path, name)
    except Exception as error:  # GDAL raises many kinds; all mean the same here
        notes.fault(f"cannot be read: {_reason(error, path)}")
        source.broken.add(name)
        return
    kinds = list(zip(meta["fields"], meta["ogr_types"], meta["ogr_subtypes"], strict=True))
    count = len(columns[0]) if len(columns) else 0 if geometry is None else len(geometry)
    features = []
    for row in range(count):
        values = {
            str(field): _plain(column[row], kind, subtype)
            for (field, kind, subtype), column in zip(kinds, columns, strict=True)
        }
        shape = None if geometry is None else _shape(geometry[row])
        features.append(Feature(number=row + 1, properties=values, geometry=shape))
    if features and not meta["crs"]:
        notes.fault("the layer declares no crs", field="crs")
    source.layers[name] = RawLayer(file=path.name, features=tuple(features), crs=meta["crs"] or "")


def _reason(error: Exception, path: Path) -> str:
    """Give a library's message without the folder it names."""
    return str(error).replace(str(path), path.name)


def _plain(value: Any, kind: str, subtype: str) -> Any:
    """Give a cell as JSON would hold it: None for NULL, flags as bool, whole numbers as int."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return None
    if hasattr(value, "item"):
        value = value.item()
        if isinstance(value, float) and math.isnan(value):
            return None
    if subtype == "OFSTBoolean" and isinstance(value, bool | int | float):
        return bool(value)
    if kind in ("OFTInteger", "OFTInteger64") and isinstance(value, float):
        return int(value)
    return value


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
