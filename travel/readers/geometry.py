"""One feature's geometry: every position judged first, the shape built afterwards."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from travel.domain.layers import LayerSpec
from travel.readers.notes import Notes, shown

Position = tuple[float, ...]
_MULTI = {"MultiPoint": "Point", "MultiLineString": "LineString", "MultiPolygon": "Polygon"}
_SAME_PLACE_M = 0.001
_SAME_PLACE_DEG = 1e-8  # about 1 mm on the ground
_HEIGHT_M = (-500.0, 9000.0)  # lowest and highest dry land, rounded outward; common practice, no source
_DEPTH = {"Point": 0, "LineString": 1, "Polygon": 2}


def checked(geometry: Any, spec: LayerSpec, notes: Notes, lonlat: bool) -> BaseGeometry | None:
    """Give the shape in the file's own coordinates, or None after a fault. Only roads keep heights."""
    found = _single(geometry, spec, notes)
    if found is None:
        return None
    kind, coordinates = found
    if not _nested(coordinates, _DEPTH[kind]):
        notes.fault(f"coordinates are not those of a {kind}", field="geometry", value=coordinates)
        return None
    if not _positions_good(list(_positions(coordinates, _DEPTH[kind])), notes, lonlat):
        return None
    if kind == "Point":
        return shapely.Point(coordinates[:2])
    if kind == "LineString":
        return _line(coordinates, spec.name == "roads", notes, lonlat)
    return _polygon(coordinates, notes)


def _single(geometry: Any, spec: LayerSpec, notes: Notes) -> tuple[str, Any] | None:
    """Give type and coordinates; a multi-geometry of one part counts as that part."""
    allowed = " or ".join(spec.geometry)
    if geometry is None:
        notes.fault("no geometry", field="geometry", allowed=allowed)
        return None
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    if not isinstance(kind, str):
        notes.fault("not a geometry", field="geometry", value=geometry, allowed=allowed)
        return None
    coordinates = geometry.get("coordinates")
    if kind in _MULTI and _MULTI[kind] in spec.geometry:
        parts = len(coordinates) if isinstance(coordinates, list) else 0
        if parts != 1:
            notes.fault(f"{kind} of {parts} parts", field="geometry", value=kind, allowed="one part a feature")
            return None
        return _MULTI[kind], coordinates[0]
    if kind not in spec.geometry:
        notes.fault("wrong geometry for this layer", field="geometry", value=kind, allowed=allowed)
        return None
    return kind, coordinates


def _nested(coordinates: Any, depth: int) -> bool:
    """Whether the lists are nested as deep as the type asks for, positions not looked at."""
    if not isinstance(coordinates, list):
        return False
    if depth == 0:
        return not any(isinstance(part, list | dict) for part in coordinates)
    return all(_nested(part, depth - 1) for part in coordinates)


def _positions(coordinates: Any, depth: int) -> Iterator[list[Any]]:
    if depth == 0:
        yield coordinates
    else:
        for part in coordinates:
            yield from _positions(part, depth - 1)


def _positions_good(positions: list[list[Any]], notes: Notes, lonlat: bool) -> bool:
    """Write down each kind of wrong position once, at the first vertex that has it."""
    wrong: dict[tuple[str, str, str], list[int]] = {}
    for number, position in enumerate(positions, start=1):
        if found := _position_fault(position, lonlat):
            wrong.setdefault(found, []).append(number)
    for (message, field, allowed), numbers in wrong.items():
        more = f" and {len(numbers) - 1} more" if len(numbers) > 1 else ""
        where = f"vertex {numbers[0]}{more}: "
        notes.fault(where + message, field=field, value=positions[numbers[0] - 1], allowed=allowed)
    return not wrong


def _position_fault(position: list[Any], lonlat: bool) -> tuple[str, str, str] | None:
    """Give message, field and what is allowed for a wrong position, else None."""
    if len(position) not in (2, 3):
        return "not a position", "geometry", "two or three numbers"
    if any(isinstance(value, bool) or not isinstance(value, int | float) for value in position):
        return "not a number among the coordinates", "geometry", "two or three numbers"
    try:
        finite = all(math.isfinite(value) for value in position)
    except OverflowError:
        finite = False
    if not finite:
        return "NaN or infinite coordinate", "geometry", "finite numbers"
    if lonlat and (abs(position[0]) > 180 or abs(position[1]) > 90):
        return "not longitude and latitude: metres of a crs?", "crs", "±180, ±90 degrees, lon/lat WGS 84 (RFC 7946)"
    if len(position) == 3 and not _HEIGHT_M[0] <= position[2] <= _HEIGHT_M[1]:
        return "no such height on dry land", "geometry", f"{_HEIGHT_M[0]:g} to {_HEIGHT_M[1]:g} m"
    return None


def _line(positions: list[list[float]], heights: bool, notes: Notes, lonlat: bool) -> BaseGeometry | None:
    """Give a line of two different points at least; heights only where every vertex has one."""
    if len(positions) < 2:
        notes.fault("a line of fewer than two points", field="geometry", value=positions, allowed="two points or more")
        return None
    limit = _SAME_PLACE_DEG if lonlat else _SAME_PLACE_M
    if all(max(abs(p[0] - positions[0][0]), abs(p[1] - positions[0][1])) <= limit for p in positions):
        notes.fault("a line of no length", field="geometry", value=positions, allowed="two different points or more")
        return None
    with_height = sum(len(position) == 3 for position in positions)
    keep = heights and with_height == len(positions)
    if heights and 0 < with_height < len(positions):
        notes.doubt(f"{len(positions) - with_height} of {len(positions)} vertices have no height; none is used")
    if keep and all(position[2] == 0 for position in positions):
        notes.doubt("every height is 0: flat, or heights lost on the way here?", field="geometry")
    line = shapely.LineString([p if keep else p[:2] for p in positions])
    if heights and not line.is_simple:
        notes.doubt("crosses itself; the two passes do not meet there", field="geometry")
    return line


def _polygon(rings: list[list[list[float]]], notes: Notes) -> BaseGeometry | None:
    """Give a polygon whose rings are closed and do not cross."""
    if not rings:
        notes.fault("a polygon without a ring", field="geometry", allowed="one closed ring or more")
        return None
    for ring in rings:
        if len(ring) < 4 or ring[0][:2] != ring[-1][:2]:
            notes.fault("ring not closed", field="geometry", value=shown(ring), allowed="four positions, last = first")
            return None
    shell, *holes = [[position[:2] for position in ring] for ring in rings]
    polygon = shapely.Polygon(shell, holes)
    if not polygon.is_valid:
        notes.fault(f"not a usable area: {shapely.is_valid_reason(polygon)}", field="geometry")
        return None
    return polygon
