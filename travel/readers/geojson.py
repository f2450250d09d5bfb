"""GeoJSON (RFC 7946, 2016) read value by value with a JSON parser, so that each fault can be named."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

from travel.domain.layers import LAYERS
from travel.readers.files import decode, read_bytes
from travel.readers.notes import Notes, shown
from travel.readers.source import Feature, RawLayer, Source, doubt_name

_JSON = (".geojson", ".json", ".geojsonl", ".geojsons", ".topojson")
_OTHER_DATA = (".shp", ".gpkg", ".kml", ".kmz", ".gml", ".dxf", ".csv", ".xlsx", ".tab", ".fgb")
"""Endings of files that people keep a layer in; those of ``_OTHER_DATA`` may stand beside the layer made of them."""
_SHADOW = "._"
"""What a Mac writes beside each file on disks of other systems (AppleDouble)."""
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")
_WGS84_LONLAT = {"urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84", "OGC:CRS84"}


def open_folder(folder: Path, notes: Notes) -> Source:
    """Read ``site.toml`` and every ``<layer>.geojson`` of a folder."""
    source = Source(folder=folder, header_file="site.toml")
    read = read_bytes(folder / "site.toml", "site", notes.at(file="site.toml"))
    if read:
        source.header, record = read
        source.inputs.append(record)
    for name in LAYERS:
        path = folder / f"{name}.geojson"
        if not os.path.lexists(path):  # a link that leads nowhere is there, and is no layer without features
            continue
        here = notes.at(file=path.name, layer=name)
        read = read_bytes(path, "layer", here)
        features = parse_features(read[0], here) if read else None
        if read is None or features is None:
            source.broken.add(name)
            continue
        source.layers[name] = RawLayer(file=path.name, features=features)
        source.inputs.append(read[1])
    for path in sorted(folder.iterdir()):
        if not path.name.startswith(_SHADOW):
            _other_file(path, source, notes.at(file=path.name))
    return source


def _other_file(path: Path, source: Source, notes: Notes) -> None:
    """Write down a file that looks like a layer and is not read as one, lest the layer count as empty."""
    ending, packed = path.suffix.lower(), ".geojson" in path.name.lower()[: -len(path.suffix) or None]
    layer = (path.name.partition(".")[0] if packed else path.stem).lower()
    if path.suffix == ".geojson" and path.stem in LAYERS:
        return
    kept = ending in _JSON or packed or (ending in _OTHER_DATA and layer not in source.layers)
    if layer in LAYERS and kept and path.suffix != ".geojson":
        notes.fault("a layer under another ending", allowed=f"{layer}.geojson")
        return
    source.unread.append(path.name)
    if ending == ".geojson" or (ending in _JSON and layer == "amendments"):
        doubt_name(path.stem, notes)


def parse_features(data: bytes, notes: Notes) -> tuple[Feature, ...] | None:
    """Give the features of a GeoJSON text, or None after a fault that makes the whole file useless."""
    text = decode(data, notes)
    content = None if text is None else _parse(text, notes)
    if content is None:
        return None
    if not isinstance(content, dict) or content.get("type") != "FeatureCollection":
        found = content.get("type") if isinstance(content, dict) else type(content).__name__
        notes.fault("not a GeoJSON FeatureCollection", field="type", value=found, allowed="FeatureCollection")
        return None
    if "crs" in content:
        _check_crs(content["crs"], notes)
    items = content.get("features")
    if not isinstance(items, list):
        notes.fault("a list of features is due", field="features", value=items)
        return None
    features = (_feature(number, item, notes) for number, item in enumerate(items, start=1))
    return tuple(feature for feature in features if feature)


def _parse(text: str, notes: Notes) -> Any:
    """Parse JSON; a key written twice in one object is a fault, since one of the two would be lost."""
    twice: list[str] = []

    def unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        out = dict(pairs)
        if len(out) < len(pairs):
            keys = [key for key, _ in pairs]
            twice.extend(sorted({key for key in keys if keys.count(key) > 1}))
        return out

    try:
        content = json.loads(text, object_pairs_hook=unique)
    except json.JSONDecodeError as error:
        what = "cut off" if error.pos >= len(text.rstrip()) else "not valid JSON"
        notes.fault(f"{what} at line {error.lineno}, column {error.colno}: {error.msg}")
        return None
    except (ValueError, RecursionError):
        notes.fault("not usable JSON: a number too long or a structure too deep")
        return None
    if _SURROGATE.search(text) and not _is_text(content):
        notes.fault("text with half a character (a lone surrogate)", allowed="whole Unicode characters")
        return None
    for key in twice:
        notes.fault("key written twice in one object", field=key)
    if content is None:
        notes.fault("not a GeoJSON FeatureCollection", value="null", allowed="FeatureCollection")
    return content


def _is_text(content: Any) -> bool:
    """Whether all text could be written again; JSON can escape half a character, which nothing can print."""
    try:
        json.dumps(content, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        return False
    return True


def _check_crs(member: Any, notes: Notes) -> None:
    """Refuse the ``crs`` member that RFC 7946 (section 4) removed, unless it says what holds anyway."""
    properties = member.get("properties") if isinstance(member, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if name not in _WGS84_LONLAT:
        notes.fault(
            "GeoJSON is always lon/lat WGS 84; another crs is refused",
            field="crs",
            value=member if name is None else name,
            allowed="no crs member, coordinates in degrees of longitude and latitude",
        )


def _feature(number: int, item: Any, notes: Notes) -> Feature | None:
    """Give one feature; the identifier may stand among the properties or beside them."""
    here = notes.at(feature=f"#{number}")
    if not isinstance(item, dict) or item.get("type") != "Feature":
        here.fault("not a GeoJSON Feature", value=item.get("type") if isinstance(item, dict) else shown(item))
        return None
    properties = item.get("properties")
    if properties is not None and not isinstance(properties, dict):
        here.fault("properties must be an object", field="properties", value=properties)
        return None
    values = dict(properties or {})
    if "id" in item and values.get("id") is None:
        values["id"] = item["id"]
    return Feature(number=number, properties=values, geometry=item.get("geometry"))
