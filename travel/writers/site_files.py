"""A site written out: a folder of GeoJSON layers with ``site.toml``, or one GeoPackage with the header inside.

Both hold the same values; numbers are written as read, coordinates to 1 mm or better.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from travel.domain.layers import LAYERS
from travel.domain.site import Layer, Site
from travel.writers.files import write_whole

LONLAT_DECIMALS = 10
"""About 0.01 mm on the ground."""


def write_site_folder(site: Site, folder: Path, header: bytes, terrain: tuple[str, bytes] | None) -> tuple[Path, ...]:
    """Write a site as GeoJSON layers (RFC 7946, lon/lat) and give the paths written.

    Args:
        site: the site
        folder: where to
        header: ``site.toml`` as it stands
        terrain: name and bytes of the height grid
    """
    contents: dict[str, bytes] = {"site.toml": header}
    if terrain:
        contents[terrain[0]] = terrain[1]
    for name, layer in site.layers.items():
        if len(layer) or site.note(name) is not None:
            contents[f"{name}.geojson"] = _geojson(layer, site)
    for name, data in contents.items():
        write_whole(folder / name, data)
    return tuple(folder / name for name in contents)


def write_site_geopackage(site: Site, path: Path, header: bytes, terrain: tuple[str, bytes] | None) -> tuple[Path, ...]:
    """Write a site as one GeoPackage in its own CRS, header in ``site_header``; the height grid goes beside it."""
    import tempfile

    import geopandas
    import pandas

    with tempfile.TemporaryDirectory() as folder:
        work = Path(folder) / "site.gpkg"
        for name, layer in site.layers.items():
            if len(layer):
                frame = geopandas.GeoDataFrame(columns_of(layer), geometry=list(layer.geometry), crs=site.crs_wkt)
                frame.to_file(work, layer=name, driver="GPKG", engine="pyogrio")
        rows = pandas.DataFrame({"toml": [header.decode("utf-8")]})
        geopandas.GeoDataFrame(rows, geometry=[None], crs=site.crs_wkt).to_file(
            work, layer="site_header", driver="GPKG", engine="pyogrio"
        )
        write_whole(path, work.read_bytes())
    if terrain:
        write_whole(path.parent / terrain[0], terrain[1])
        return (path, path.parent / terrain[0])
    return (path,)


def _rows(layer: Layer) -> list[dict[str, Any]]:
    """Give each feature's known values, flags as true and false, lists as lists, unknown columns too."""
    out = []
    for row in range(len(layer)):
        values: dict[str, Any] = {}
        for name, value in layer.values(row).items():
            values[name] = _written(layer, name, value)
        values |= {name: column[row] for name, column in layer.extra.items() if column[row] is not None}
        out.append(values)
    return out


def _written(layer: Layer, name: str, value: Any) -> Any:
    spec = LAYERS[layer.name].field(name)
    if spec is not None and spec.kind == "flag":
        return bool(value)
    if spec is not None and spec.kind == "integer":
        return int(value)
    return list(value) if isinstance(value, tuple) else value


def _geojson(layer: Layer, site: Site) -> bytes:
    import shapely
    from pyproj import Transformer

    to_lonlat = Transformer.from_crs(site.crs_wkt, "EPSG:4326", always_xy=True)

    def moved(points: Any) -> Any:
        lon, lat = to_lonlat.transform(points[:, 0], points[:, 1])
        return np.column_stack([np.round(lon, LONLAT_DECIMALS), np.round(lat, LONLAT_DECIMALS), points[:, 2:]])

    features = []
    for values, geometry in zip(_rows(layer), layer.geometry, strict=True):
        shape = shapely.transform(geometry, moved, include_z=bool(shapely.has_z(geometry)))
        features.append({"type": "Feature", "properties": values, "geometry": json.loads(shapely.to_geojson(shape))})
    collection = {"type": "FeatureCollection", "features": features}
    return (json.dumps(collection, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode("utf-8")


def columns_of(layer: Layer) -> dict[str, Any]:
    """Give the columns with the types a GeoPackage keeps: booleans with gaps, text, lists as comma-separated text."""
    import pandas

    rows = _rows(layer)
    names = dict.fromkeys(name for row in rows for name in row)
    held = _held(layer, tuple(names))
    out: dict[str, Any] = {}
    for name in names:
        values = [row.get(name) for row in rows]
        spec = LAYERS[layer.name].field(name)
        if spec is not None and spec.kind == "flag":
            out[name] = pandas.array(values, dtype="boolean")
        elif spec is not None and spec.kind == "integer":
            out[name] = pandas.array(values, dtype="Int64")
        elif name in layer.extra:
            out[held[name]] = _alike(values)
        else:
            out[name] = [", ".join(v) if isinstance(v, list) else v for v in values]
    return out


def _held(layer: Layer, names: tuple[str, ...]) -> dict[str, str]:
    """Give unknown columns names a GeoPackage can hold: it does not tell capitals apart and has columns of its own."""
    taken = {"fid", "geom", "geometry", *(name.lower() for name in names if name not in layer.extra)}
    out: dict[str, str] = {}
    for name in names:
        if name in layer.extra:
            free = name
            while free.lower() in taken:
                free += "_"
            taken.add(free.lower())
            out[name] = free
    return out


def _alike(values: list[Any]) -> list[Any]:
    """Give an unknown column's values as one type: as they are where they are alike, else each as JSON text."""
    types = {type(value) for value in values if value is not None}
    if types <= {str} or types <= {int, float} or (types == {bool} and None not in values):
        return values
    return [v if v is None or isinstance(v, str) else json.dumps(v, ensure_ascii=False) for v in values]
