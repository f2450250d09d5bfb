"""The terrain as a shaded picture under the map: a small PNG in the page itself."""

from __future__ import annotations

import base64
import math
import struct
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.domain.site import Site, Terrain
from travel.writers.geo import Floats, Frame

MOST_PIXELS = 900
AZIMUTH_DEG, ALTITUDE_DEG = 315.0, 45.0
"""Light from the north-west at 45°, as hill shading is usually drawn (common practice, no source)."""
_DARKEST, _LIGHTEST, _STEP = 165.0, 250.0, 5.0


@dataclass(frozen=True)
class Shade:
    """A picture as data URI and the corner positions [[south, west], [north, east]]."""

    url: str
    bounds: tuple[tuple[float, float], tuple[float, float]]


def hillshade(site: Site, frame: Frame) -> Shade | None:
    """Give the site's terrain shaded, in the page's projection (Web Mercator), or None without terrain."""
    terrain = site.terrain
    if terrain is None or min(terrain.heights.shape) < 2 or not np.isfinite(terrain.heights).any():
        return None
    lonlat = frame.to_lonlat(_outline(terrain))
    west, south = lonlat.min(axis=0)
    east, north = lonlat.max(axis=0)
    bottom, top = _mercator(south), _mercator(north)
    rows, columns = _shape(terrain)
    lon = west + (np.arange(columns) + 0.5) / columns * (east - west)
    lat = _latitude(top - (np.arange(rows) + 0.5) / rows * (top - bottom))
    grid = np.column_stack([np.tile(lon, rows), np.repeat(lat, columns)])
    heights = _sample(terrain, frame.to_metres(grid)).reshape(rows, columns)
    middle = math.radians((south + north) / 2)
    cell_x = math.radians(east - west) * 6_371_000 * math.cos(middle) / columns
    cell_y = math.radians(north - south) * 6_371_000 / rows
    grey = shade(heights, cell_x, cell_y)
    png = png_grey_alpha(
        np.nan_to_num(grey, nan=255.0).astype(np.uint8), np.where(np.isnan(grey), 0, 255).astype(np.uint8)
    )
    url = "data:image/png;base64," + base64.b64encode(png).decode("ascii")
    return Shade(url, ((float(south), float(west)), (float(north), float(east))))


def shade(heights: Floats, cell_x_m: float, cell_y_m: float) -> Floats:
    """Give grey values (light, few steps) of a height grid whose first row lies north; NaN where height is unknown."""
    down, across = np.gradient(heights, cell_y_m, cell_x_m)
    azimuth, altitude = math.radians(AZIMUTH_DEG), math.radians(ALTITUDE_DEG)
    light = np.array(
        [math.sin(azimuth) * math.cos(altitude), math.cos(azimuth) * math.cos(altitude), math.sin(altitude)]
    )
    normal_size = np.sqrt(across**2 + down**2 + 1.0)
    lit = (-across * light[0] + down * light[1] + light[2]) / normal_size
    lit = np.where(np.isnan(heights), np.nan, np.where(np.isnan(lit), light[2], lit))
    grey = _DARKEST + (_LIGHTEST - _DARKEST) * np.clip(lit, 0.0, 1.0)
    return np.asarray(np.round(grey / _STEP) * _STEP, dtype=np.float64)


def png_grey_alpha(grey: NDArray[np.uint8], alpha: NDArray[np.uint8]) -> bytes:
    """Give an 8-bit grey picture with transparency as a PNG file (W3C Portable Network Graphics, 3rd edition)."""
    rows, columns = grey.shape
    lines = np.zeros((rows, 1 + 2 * columns), dtype=np.uint8)
    lines[:, 1::2], lines[:, 2::2] = grey, alpha

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", columns, rows, 8, 4, 0, 0, 0)
    body = zlib.compress(lines.tobytes(), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def _shape(terrain: Terrain) -> tuple[int, int]:
    rows, columns = terrain.heights.shape
    finest = max(rows * terrain.cell_y_m, columns * terrain.cell_x_m) / MOST_PIXELS
    cell = max(finest, min(terrain.cell_x_m, terrain.cell_y_m) / 2)
    return max(2, round(rows * terrain.cell_y_m / cell)), max(2, round(columns * terrain.cell_x_m / cell))


def _outline(terrain: Terrain) -> Floats:
    rows, columns = terrain.heights.shape
    east, south = terrain.west_m + columns * terrain.cell_x_m, terrain.north_m - rows * terrain.cell_y_m
    x, y = np.linspace(terrain.west_m, east, 9), np.linspace(south, terrain.north_m, 9)
    return np.column_stack([np.tile(x, 9), np.repeat(y, 9)])


def _sample(terrain: Terrain, xy: Floats) -> Floats:
    """Give heights between cell centres (bilinear); NaN outside the grid and beside missing cells."""
    rows, columns = terrain.heights.shape
    c = (xy[:, 0] - terrain.west_m) / terrain.cell_x_m - 0.5
    r = (terrain.north_m - xy[:, 1]) / terrain.cell_y_m - 0.5
    outside = (c < -0.5) | (c > columns - 0.5) | (r < -0.5) | (r > rows - 0.5)
    c, r = np.clip(c, 0, columns - 1), np.clip(r, 0, rows - 1)
    c0, r0 = np.minimum(c.astype(int), columns - 2), np.minimum(r.astype(int), rows - 2)
    fc, fr = c - c0, r - r0
    z = terrain.heights
    upper = z[r0, c0] * (1 - fc) + z[r0, c0 + 1] * fc
    lower = z[r0 + 1, c0] * (1 - fc) + z[r0 + 1, c0 + 1] * fc
    return np.where(outside, np.nan, upper * (1 - fr) + lower * fr)


def _mercator(lat_deg: float) -> float:
    return math.asinh(math.tan(math.radians(lat_deg)))


def _latitude(mercator: Floats) -> Floats:
    return np.degrees(np.arctan(np.sinh(mercator)))
