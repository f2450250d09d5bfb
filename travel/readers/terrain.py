"""The height grid: one band of a GeoTIFF in the site's crs, north up, metres."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from travel.domain.site import Floats, InputFile, Terrain, TerrainEntry
from travel.readers.crs import heights_not_metres_up, horizontal
from travel.readers.files import read_bytes
from travel.readers.notes import Notes

if TYPE_CHECKING:
    from pyproj import CRS

_METRES = {"", "m", "metre", "metres", "meter", "meters"}
_HEIGHT_M = (-500.0, 9000.0)  # lowest and highest dry land, rounded outward; common practice, no source


def read_terrain(entry: TerrainEntry, folder: Path, site: CRS | None, notes: Notes) -> tuple[Terrain, InputFile] | None:
    """Give the grid and its record, or None after its faults."""
    if Path(entry.file).is_absolute() or "://" in entry.file:
        allowed = "a path from the site's folder"
        notes.fault("not a path inside the site", field="terrain.file", value=entry.file, allowed=allowed)
        return None
    path = folder / entry.file
    here = notes.at(file=entry.file)
    read = read_bytes(path, "terrain", here)
    if read is None:
        return None
    grid = _read_grid(path, entry, site, here)
    return (grid, read[1]) if grid else None


def _read_grid(path: Path, entry: TerrainEntry, site: CRS | None, notes: Notes) -> Terrain | None:
    import rasterio
    from rasterio.errors import RasterioError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with rasterio.open(path, driver="GTiff") as grid:
                before = len(notes.faults)
                _check_grid(grid, site, notes)
                if len(notes.faults) > before:
                    return None
                heights = _heights(grid, notes)
                place = grid.transform
    except (RasterioError, OSError, ValueError):
        notes.fault("not a readable GeoTIFF (cut off, or another format)", allowed="a GeoTIFF of one band")
        return None
    if heights is None:
        return None
    return Terrain(
        heights=heights,
        west_m=float(place.c),
        north_m=float(place.f),
        cell_x_m=float(place.a),
        cell_y_m=float(-place.e),
        vertical_sd_m=entry.vertical_sd_m,
    )


def _check_grid(grid: Any, site: CRS | None, notes: Notes) -> None:
    """Write down everything about the grid that cannot be used."""
    if grid.count != 1:
        notes.fault("not one band", field="bands", value=grid.count, allowed="1")
    place = grid.transform
    if place.is_identity or place.b or place.d or place.a <= 0 or place.e >= 0:
        notes.fault("not a north-up grid with a place on the ground", field="transform", value=list(place)[:6])
    unit = (grid.units[0] or "").strip().lower() if grid.units else ""
    if unit not in _METRES:
        notes.fault("heights are not in metres", field="units", value=unit, allowed="metre")
    if grid.crs is None:
        notes.fault("the grid declares no crs", field="crs", allowed="" if site is None else site.name)
        return
    from pyproj import CRS

    own = CRS.from_wkt(grid.crs.to_wkt())
    if wrong := heights_not_metres_up(own):
        notes.fault("heights are not in metres upward", field="crs", value=wrong, allowed="metre")
    if site is not None and not _same(horizontal(own), site, grid.bounds):
        notes.fault("not in the site's crs", field="crs", value=own.name, allowed=site.name)


def _same(own: CRS, site: CRS, bounds: tuple[float, float, float, float]) -> bool:
    """Whether two crs are one: by code, by definition, or (no code) by the corners falling on themselves."""
    if own.equals(site, ignore_axis_order=True):
        return True
    codes = own.to_epsg(), site.to_epsg()
    if None not in codes:
        return codes[0] == codes[1]
    if own.is_geographic or any(axis.unit_conversion_factor != 1 for axis in own.axis_info):
        return False
    from pyproj import Transformer

    x, y = np.array(bounds[::2]), np.array(bounds[1::2])
    moved = Transformer.from_crs(own, site, always_xy=True).transform(x, y)
    return bool(np.allclose(moved, (x, y), rtol=0, atol=1e-3))


def _heights(grid: Any, notes: Notes) -> Floats | None:
    """Give heights in metres with NaN where there is none; a void that was not declared is a fault."""
    raw = grid.read(1, masked=True)
    heights: Floats = np.asarray(raw.filled(0), dtype=np.float64) * grid.scales[0] + grid.offsets[0]
    heights[np.ma.getmaskarray(raw) | ~np.isfinite(heights)] = np.nan
    known = heights[np.isfinite(heights)]
    if not known.size:
        notes.fault("no height in the grid", field="heights")
        return None
    worst = known.min() if known.min() < _HEIGHT_M[0] else known.max()
    if not _HEIGHT_M[0] <= worst <= _HEIGHT_M[1]:
        allowed = f"{_HEIGHT_M[0]:g} to {_HEIGHT_M[1]:g} m, or declared as nodata"
        notes.fault("no such height on dry land", field="heights", value=float(worst), allowed=allowed)
        return None
    heights.flags.writeable = False
    return heights
