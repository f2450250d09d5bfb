"""A surveyed site from a folder of GeoJSON layers or one GeoPackage. Every fault is found before one is raised."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely

from travel.domain.layers import LAYERS, LayerSpec
from travel.domain.rules import Vocabulary
from travel.domain.site import Layer, Objects, Site, Terrain
from travel.errors import InputError
from travel.readers.cross import check_between
from travel.readers.crs import check_scale, is_lonlat, site_crs, to_site
from travel.readers.geojson import open_folder
from travel.readers.geometry import checked
from travel.readers.geopackage import open_geopackage
from travel.readers.header import check_surveyed, read_header
from travel.readers.notes import Notes
from travel.readers.source import RawLayer, Source
from travel.readers.terrain import read_terrain
from travel.readers.values import columns, label

if TYPE_CHECKING:
    from pyproj import CRS

_MOST_NAMED = 6
"""Sites named where somebody gave a folder without one."""


def read_site(path: Path, vocabulary: Vocabulary) -> Site:
    """Give the site at ``path``; doubts go with it.

    Raises ``InputError`` with every fault found in header, layers and terrain. ``Site.layers`` holds every layer
    there is, empty where the site has no file for it. Times, dates and days are stored as checked text,
    ``not_looked_at`` as a tuple of layer names.
    """
    notes = Notes(file=path.name)
    source = _open(path, notes)
    if source is None:
        raise InputError(notes.faults)
    head = notes.at(file=source.header_file)
    header, content = (None, {}) if source.header is None else read_header(source.header, vocabulary, head)
    crs = site_crs(content.get("crs"), head)
    _check_roads(source, notes)
    layers = {name: _layer(spec, source.layers.get(name), vocabulary, crs, notes) for name, spec in LAYERS.items()}
    check_between(source, notes)
    if header is not None:
        check_surveyed(header, source, head)
    bounds = _bounds(layers)
    if crs is not None and bounds is not None:
        each = {name: box for name, layer in layers.items() if (box := _bounds({name: layer}))}
        check_scale(bounds, each, crs, str(content["crs"]), head)
    terrain = None
    if header is not None and header.terrain is not None:
        found = read_terrain(header.terrain, source.folder, crs, head)
        if found:
            terrain, record = found
            source.inputs.append(record)
            _check_cover(terrain, bounds, head.at(file=record.name))
    if notes.faults or header is None or crs is None:
        raise InputError(notes.faults)
    return Site(
        header=header,
        crs_wkt=crs.to_wkt(),
        layers=layers,
        terrain=terrain,
        inputs=tuple(source.inputs),
        doubts=tuple(notes.doubts),
    )


def _open(path: Path, notes: Notes) -> Source | None:
    """Read a site's files by what stands at the path, or None after a fault."""
    if path.is_dir() and not (path / "site.toml").exists() and not any(path.glob("*.geojson")):
        notes.fault("no site in this folder: it has neither site.toml nor a layer", allowed=_elsewhere(path))
    elif path.is_dir():
        return open_folder(path, notes)
    elif not path.exists():
        notes.fault("site not found", allowed=_elsewhere(path.parent))
    elif path.suffix.lower() == ".gpkg":
        return open_geopackage(path, notes)
    else:
        notes.fault("not a site", value=path.name, allowed="a folder with site.toml, or a .gpkg file")
    return None


def _elsewhere(folder: Path) -> str:
    """Give what may be given instead: the sites one level down, else what a site is."""
    found = [*folder.glob("*/site.toml"), *folder.glob("*.gpkg")] if folder.is_dir() else []
    names = sorted(f"{path.parent}" if path.name == "site.toml" else f"{path}" for path in found)[:_MOST_NAMED]
    what = "a folder with site.toml and roads.geojson, or a .gpkg file"
    listed = "travel schema site --text lists every key and column"
    return f"{what}; here: {', '.join(names)}" if names else f"{what} ({listed})"


def _check_roads(source: Source, notes: Notes) -> None:
    """A site without roads has no way to look for."""
    if "roads" in source.broken:
        return
    roads = source.layers.get("roads")
    if roads is None:
        notes.at(layer="roads").fault("the site has no roads", allowed="a layer roads with one road or more")
    elif not roads.features:
        notes.at(file=roads.file, layer="roads").fault("the layer is empty", allowed="one road or more")


def _layer(spec: LayerSpec, raw: RawLayer | None, vocabulary: Vocabulary, crs: CRS | None, notes: Notes) -> Layer:
    """Give one layer; what is faulty in it has been written down."""
    raw = raw or RawLayer(file=f"{spec.name}.geojson")
    here = notes.at(file=raw.file, layer=spec.name)
    values = columns(spec, raw.features, vocabulary, here)
    for table in (values.numbers, values.texts, values.methods, values.extra):
        for column in table.values():
            column.flags.writeable = False
    return Layer(
        name=spec.name,
        ids=values.ids,
        geometry=_shapes(spec, raw, crs, here),
        numbers=values.numbers,
        texts=values.texts,
        methods=values.methods,
        extra=values.extra,
    )


def _shapes(spec: LayerSpec, raw: RawLayer, crs: CRS | None, notes: Notes) -> Objects:
    """Give the shapes in the site's crs; the good ones alone where others are faulty."""
    lonlat = raw.crs is None or is_lonlat(raw.crs)
    shapes = [checked(f.geometry, spec, notes.at(feature=label(f)), lonlat) for f in raw.features]
    good: Objects = np.empty(sum(shape is not None for shape in shapes), dtype=object)
    good[:] = [shape for shape in shapes if shape is not None]
    moved = None if crs is None or raw.crs == "" else to_site(good, raw.crs, crs, notes)
    out: Objects = np.empty(0, dtype=object) if moved is None else moved
    out.flags.writeable = False
    return out


def _bounds(layers: dict[str, Layer]) -> tuple[float, float, float, float] | None:
    """Give west, south, east, north over all layers, or None where no shape is known."""
    shapes = np.concatenate([layer.geometry for layer in layers.values()])
    if not len(shapes):
        return None
    west, south, east, north = shapely.total_bounds(shapes)
    return float(west), float(south), float(east), float(north)


def _check_cover(terrain: Terrain, bounds: tuple[float, float, float, float] | None, notes: Notes) -> None:
    """Doubt a grid that lies elsewhere."""
    if bounds is None:
        return
    rows, columns_ = terrain.heights.shape
    east = terrain.west_m + columns_ * terrain.cell_x_m
    south = terrain.north_m - rows * terrain.cell_y_m
    west, low, right, high = bounds
    if west < terrain.west_m or right > east or low < south or high > terrain.north_m:
        notes.doubt("the height grid does not cover the whole site")
