"""The site's ``crs``: what may be used, how true it is there, and bringing geometry to it (Z untouched)."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from travel.domain.site import Objects
from travel.readers.notes import Notes

if TYPE_CHECKING:
    from pyproj import CRS, Transformer

LONLAT = "OGC:CRS84"
SCALE_ERROR_MAX = 1e-3
"""Greatest scale error of the grid over the site: 1 m in 1 km (the file contract for ``crs``)."""
_WIDE_M = 20000.0  # a site wider than this is doubted; common practice, no source
_DATUM_M = 1.0  # datums taken for one another, as WGS 84 and ETRS89 are, stay below; common practice, no source
_WANTED = "a projected crs in metres, east and north, as in EPSG:32633"


def site_crs(text: Any, notes: Notes) -> CRS | None:
    """Give the horizontal part of the site's crs, or None after a fault."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    if not isinstance(text, str) or not text:
        return None  # the header's own check says so
    try:
        crs = CRS.from_user_input(text)
    except CRSError:
        notes.fault("not a known crs", field="crs", value=text, allowed=_WANTED)
        return None
    flat = horizontal(crs)
    if wrong := heights_not_metres_up(crs):
        notes.fault(f"heights in {wrong}, not metres upward", field="crs", value=text, allowed=_WANTED)
        return None
    if not flat.is_projected:
        notes.fault("not a projected crs: degrees are not metres", field="crs", value=text, allowed=_WANTED)
        return None
    if any(axis.unit_conversion_factor != 1 for axis in flat.axis_info):
        unit = flat.axis_info[0].unit_name
        notes.fault(f"a crs in {unit}, not metres", field="crs", value=text, allowed=_WANTED)
        return None
    if {axis.direction for axis in flat.axis_info} != {"east", "north"}:
        notes.fault("a crs whose axes do not point east and north", field="crs", value=text, allowed=_WANTED)
        return None
    return flat


def horizontal(crs: CRS) -> CRS:
    """Give the two-dimensional part of a crs."""
    return (crs.sub_crs_list[0] if crs.is_compound else crs).to_2d()


def heights_not_metres_up(crs: CRS) -> str:
    """Give what a crs counts heights in where it is not metres upward, else nothing."""
    for axis in crs.axis_info:
        if axis.direction == "down":
            return f"{axis.unit_name} downward"
        if axis.direction == "up" and axis.unit_conversion_factor != 1:
            return str(axis.unit_name)
    return ""


def _heights_doubtful(crs: CRS) -> str:
    """Give what heights may be that come with a crs without a vertical part of its own, where not metres of a datum."""
    if crs.is_compound:
        return ""
    if len(crs.axis_info) == 3:
        return "above the ellipsoid"
    unit = crs.axis_info[0].unit_name
    in_metres = crs.is_geographic or crs.axis_info[0].unit_conversion_factor == 1
    return "" if in_metres else f"that come with positions in {unit}"


def is_lonlat(declared: str) -> bool:
    """Whether a layer's own crs is in degrees."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        return bool(CRS.from_user_input(declared).is_geographic)
    except CRSError:
        return False


def to_site(shapes: Objects, declared: str | None, site: CRS, notes: Notes) -> Objects | None:
    """Give shapes in the site's crs; ``declared`` is the file's crs, None for lon/lat WGS 84."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError, ProjError

    try:
        move = _way_to(declared or LONLAT, site)
    except (CRSError, ProjError):
        notes.fault("the layer's crs is not known", field="crs", value=declared)
        return None

    def moved(xy: Any) -> Any:
        if not len(xy):
            return xy
        x, y = move.transform(xy[:, 0], xy[:, 1])
        return np.column_stack([x, y, xy[:, 2:]])

    out = np.empty(len(shapes), dtype=object)
    high = shapely.has_z(shapes)
    own = CRS.from_user_input(declared or LONLAT)
    if high.any() and (wrong := heights_not_metres_up(own)):
        notes.fault(f"heights in {wrong}", field="crs", value=own.name, allowed="metres upward, in height_datum")
        return None
    if high.any() and (other := _heights_doubtful(own)):
        notes.doubt(f"heights {other} (crs {own.name}); they are taken as metres in height_datum", field="crs")
    for rows, include_z in ((~high, False), (high, True)):
        out[rows] = shapely.transform(shapes[rows], moved, include_z=include_z)
    if declared is not None and len(out):
        _doubt_datum(move, own, notes)
    if not np.isfinite(shapely.get_coordinates(out)).all():
        hint = "; longitude comes before latitude" if is_lonlat(declared or LONLAT) else ""
        notes.fault(f"positions outside the reach of the site's crs{hint}", field="crs", value=site.name)
        return None
    return out


def _doubt_datum(move: Transformer, own: CRS, notes: Notes) -> None:
    """Doubt positions on another datum whose way to the site's is not known, or only roughly."""
    from pyproj.exceptions import ProjError

    try:
        accuracy_m = move.get_last_used_operation().accuracy
    except ProjError:  # nothing had to be done
        return
    if not 0.0 <= accuracy_m <= _DATUM_M:
        rough = "an accuracy nobody knows" if accuracy_m < 0.0 else f"an accuracy of {accuracy_m:g} m"
        notes.doubt(f"brought from {own.name} to the site's crs with {rough}", field="crs")


@lru_cache(maxsize=16)
def _way_to(own: str, site: CRS) -> Transformer:
    """Give what moves positions to the site's crs; the layers of a site mostly share one."""
    from pyproj import CRS, Transformer

    return Transformer.from_crs(horizontal(CRS.from_user_input(own)), site, always_xy=True)


Bounds = tuple[float, float, float, float]
"""West, south, east, north."""


def check_scale(bounds: Bounds, layers: Mapping[str, Bounds], site: CRS, text: str, notes: Notes) -> None:
    """Refuse a crs that stretches lengths at the site by more than 1/1000, in any direction.

    Args:
        bounds: of the whole site
        layers: of each layer; those that alone lie where the crs is not true are named
        site: the crs
        text: the crs as it stands in the header
        notes: where to write it down
    """
    west, south, east, north = bounds
    worst, (lon, lat) = _over(bounds, site)
    if not worst <= SCALE_ERROR_MAX:
        off = {name: found for name, found in layers.items() if not _over(found, site)[0] <= SCALE_ERROR_MAX}
        some = 0 < len(off) < len(layers)
        if some:
            worst, (lon, lat) = _over(next(iter(off.values())), site)
        hint = f"; only {', '.join(off)} lies there: another crs, or a position misplaced?" if some else ""
        if _stretch(lat, lon, site, lonlat=True)[0] <= SCALE_ERROR_MAX:
            hint += "; it is with each position the other way round: are longitude and latitude swapped?"
        notes.fault(
            f"the crs is not true to length at the site: error {worst * 1000:.3g}/1000{hint}",
            field="crs",
            value=text,
            allowed="scale error up to 1/1000",
        )
    if max(east - west, north - south) > _WIDE_M:
        size = max(east - west, north - south) / 1000
        notes.doubt(f"the site is {size:.0f} km across; is a position misplaced?", field="crs")


def _over(bounds: Bounds, site: CRS) -> tuple[float, tuple[Any, Any]]:
    """Give how far from true to length a crs is over some bounds, and the lon/lat looked at."""
    west, south, east, north = bounds
    x, y = np.meshgrid(np.linspace(west, east, 3), np.linspace(south, north, 3))
    return _stretch(x.ravel(), y.ravel(), site)


def _stretch(x: Any, y: Any, site: CRS, lonlat: bool = False) -> tuple[float, tuple[Any, Any]]:
    """Give how far from true to length a crs is at some positions (∞ where it is none), and their lon/lat."""
    from pyproj import Proj
    from pyproj.exceptions import ProjError

    lon = lat = np.full(len(x), np.nan)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            grid = Proj(site)
            lon, lat = (x, y) if lonlat else grid(x, y, inverse=True)
            factors = grid.get_factors(lon, lat)
        stretch = np.array([factors.tissot_semimajor, factors.tissot_semiminor])
    except ProjError:
        stretch = np.array([np.inf])
    worst = float(np.max(np.abs(stretch - 1))) if np.isfinite(stretch).all() else np.inf
    return worst, (lon, lat)
