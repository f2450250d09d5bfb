"""Small sites and sheets for tests, written as people would write them.

Geometry is given in local metres from (500000, 5400000) of EPSG:32633 and turned into lon/lat at 10 decimals
(10 µm). ``width_m=None`` in a feature leaves the column out.

    write_site(folder, roads=[road("r1", [(0, 0, 1), (50, 0, 2)])], places=[point("gate", (0, 0), kind="gate")])
"""

from __future__ import annotations

import copy
import datetime as dt
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from pyproj import Transformer

from travel.domain.rules import Vocabulary

CRS = "EPSG:32633"
ORIGIN_M = (500000.0, 5400000.0)
Points = Sequence[Sequence[float]]
Feature = dict[str, Any]

HEADER: dict[str, Any] = {
    "format": 1,
    "name": "test ground",
    "crs": CRS,
    "timezone": "UTC",
    "jurisdiction": "none",
    "surveyed_on": dt.date(2026, 3, 2),
    "surveyed": {"roads": dt.date(2026, 3, 2), "places": dt.date(2026, 3, 2)},
}

WORDS: dict[str, str] = {
    "surface": "concrete asphalt compacted_gravel loose_gravel crushed_rock firm_earth clay sand grass timber_mat "
    "steel_plate snow",
    "ground": "dry damp wet mud hard_ice thaw",
    "jurisdiction": "us gb eu au none",
    "place": "gate unloading pick_point junction waiting turning passing",
    "overhead": "power_line wire structure pipe tree",
    "limit": "gateway bridge culvert slab cover_plate buried_service wheel_wash posted",
    "edge_kind": "excavation drop water trench",
    "edge": "kerb wall drop verge none",
    "people": "walkway crossing work_area public",
    "area": "set_up unloading free_ground",
    "one_way": "no along against",
    "traffic": "none one_at_a_time two_way",
    "soil": "rock type_a type_b type_c",
    "method": "measured sign told assumed",
}

MACHINE: dict[str, Any] = {
    "format": 1,
    "name": "test machine 14 t",
    "axles": [
        {
            "name": "front", "x_m": 0.0, "load_kg": 7000.0, "tyres": 2, "track_m": 1.95, "over_tyres_m": 2.4,
            "loaded_radius_m": 0.66, "section_m": 0.45, "pressure_kpa": 450.0, "driven": True, "steered": True,
            "braked": True, "parking_braked": True,
        },
        {
            "name": "rear", "x_m": -3.2, "load_kg": 7000.0, "tyres": 2, "track_m": 1.95, "over_tyres_m": 2.4,
            "loaded_radius_m": 0.66, "section_m": 0.45, "pressure_kpa": 450.0, "driven": True, "steered": True,
            "braked": True, "parking_braked": False, "oscillating": True, "stop_deg": 8.0, "pivot_height_m": 0.7,
        },
    ],
    "attitudes": [
        {
            "name": "stowed", "mass_kg": 14000.0, "mass_tolerance_kg": 200.0, "cg_x_m": -1.6, "cg_y_m": 0.0,
            "cg_z_m": 1.2, "cg_tolerance_m": 0.1, "height_tolerance_m": 0.05,
            "top_xz_m": [[1.6, 1.2], [0.8, 2.2], [-1.2, 3.1], [-4.6, 2.4]],
            "under_xz_m": [[1.6, 0.7], [0.8, 0.5], [-0.9, 0.45], [-2.3, 0.45], [-4.0, 0.5], [-4.6, 0.8]],
            "width_z_m": [[0.0, 2.4], [1.5, 2.4], [3.1, 2.0]],
        },
    ],
    "limits": {"grade_pct": 30.0, "cross_slope_pct": 8.0, "low_range_above_pct": 12.0},
    "capability": {"grade_pct": 45.0},
    "gears": [
        {"name": "1", "travel": "forward", "range": "low", "top_kmh": 8.0, "pull_kn": [[0.0, 90.0], [8.0, 40.0]]},
        {"name": "2", "travel": "forward", "range": "high", "top_kmh": 25.0},
        {"name": "R", "travel": "reverse", "range": "low", "top_kmh": 8.0},
    ],
    "brakes": {"service_mps2": 3.5, "lag_s": 0.4, "parking_grade_pct": 30.0},
    "steering": [{"mode": "front", "lock_deg": 30.0, "top_kmh": 25.0}, {"mode": "all", "lock_deg": 50.0}],
    "turret": {"travel": ["fore"], "slew_centre_x_m": -1.6, "tail_radius_m": 3.0},
}  # fmt: skip


def vocabulary() -> Vocabulary:
    """Give the words the file contract lists, glossed by themselves."""
    return Vocabulary(lists={name: {word: word for word in words.split()} for name, words in WORDS.items()})


def line(id_: str | int, points: Points, **values: Any) -> Feature:
    """Give a LineString feature in local metres; a third number is a height."""
    return _feature(id_, "LineString", points, values)


def point(id_: str | int, at: Sequence[float], **values: Any) -> Feature:
    """Give a Point feature in local metres."""
    return _feature(id_, "Point", at, values)


def area(id_: str | int, ring: Points, **values: Any) -> Feature:
    """Give a Polygon feature from one ring in local metres, closed here if it is not."""
    closed = [*ring] if tuple(ring[0]) == tuple(ring[-1]) else [*ring, ring[0]]
    return _feature(id_, "Polygon", [closed], values)


def road(id_: str | int, points: Points, **values: Any) -> Feature:
    """Give a road of 5 m on compacted gravel unless told otherwise."""
    return line(id_, points, **{"width_m": 5.0, "surface": "compacted_gravel"} | values)


def good_layers() -> dict[str, list[Feature]]:
    """Give a small site without fault or doubt: two roads meeting, a gate, a pick point, a line, a gateway."""
    return {
        "roads": [
            road("r1", [(0, 0, 100), (60, 0, 101)]),
            road("r2", [(60, 0, 101), (60, 40, 103), (80, 60, 103)], not_looked_at=["people"], lit=True),
        ],
        "places": [
            point("gate", (0, 0), kind="gate", may_stop=True),
            point("pick", (80, 60), kind="pick_point", turn_radius_m=12.0),
        ],
        "overheads": [line("w1", [(30, -20), (30, 20)], kind="power_line", clearance_m=7.5, voltage_kv=20.0)],
        "limits": [point("g1", (60, 20), kind="gateway", road="r2", width_m=4.0, width_m_method="told")],
        "people": [area("p1", [(10, -5), (20, -5), (20, 5)], kind="crossing", from_time="07:00", until_time="16:30",
                        days="tue mon")],
        "closures": [area("c1", [(70, 50), (75, 50), (75, 55)], closed_from="2026-05-04T07:00:00+02:00",
                          closed_until="2026-05-05T07:00:00Z", reason="pour")],
    }  # fmt: skip


def write_site(folder: Path, *, header: Mapping[str, Any] | None = None, **layers: Sequence[Feature]) -> Path:
    """Write ``site.toml`` and one GeoJSON file a layer; ``header`` is laid over HEADER, None drops a key."""
    folder.mkdir(parents=True, exist_ok=True)
    content = {key: value for key, value in (HEADER | dict(header or {})).items() if value is not None}
    (folder / "site.toml").write_text(toml(content), encoding="utf-8")
    for name, features in layers.items():
        write_layer(folder, name, features)
    return folder


def write_layer(folder: Path, name: str, features: Sequence[Feature]) -> Path:
    """Write one layer as GeoJSON, local metres turned into lon/lat."""
    path = folder / f"{name}.geojson"
    path.write_text(json.dumps(collection(features), indent=1), encoding="utf-8")
    return path


def collection(features: Sequence[Feature]) -> dict[str, Any]:
    """Give a FeatureCollection in lon/lat from features in local metres."""
    out = []
    for feature in features:
        geometry = feature["geometry"]
        shape = geometry and geometry | {"coordinates": lonlat(geometry["coordinates"])}
        out.append({"type": "Feature", "properties": feature["properties"], "geometry": shape})
    return {"type": "FeatureCollection", "features": out}


def lonlat(coordinates: Any) -> Any:
    """Turn local metres into lon/lat at 10 decimals, however deep; heights untouched."""
    if coordinates and isinstance(coordinates[0], int | float):
        x, y = coordinates[0] + ORIGIN_M[0], coordinates[1] + ORIGIN_M[1]
        lon, lat = _to_lonlat().transform(x, y)
        return [round(lon, 10), round(lat, 10), *coordinates[2:]]
    return [lonlat(part) for part in coordinates]


def write_terrain(path: Path, heights: Any, west_m: float, north_m: float, cell_m: float, **profile: Any) -> Path:
    """Write a GeoTIFF; ``west_m`` and ``north_m`` are local metres of its north-west corner."""
    import rasterio
    from affine import Affine

    grid = np.asarray(heights, dtype="float32")
    place = Affine(cell_m, 0, west_m + ORIGIN_M[0], 0, -cell_m, north_m + ORIGIN_M[1])
    base = {"driver": "GTiff", "height": grid.shape[0], "width": grid.shape[1], "count": 1, "dtype": "float32",
            "crs": CRS, "transform": place, "nodata": -9999.0}  # fmt: skip
    with rasterio.open(path, "w", **(base | profile)) as out:
        for band in range(1, out.count + 1):
            out.write(grid, band)
    return path


def machine(**changes: Any) -> dict[str, Any]:
    """Give the baseline sheet with changes by key path: ``machine(axles__0__load_kg=9000, brakes=None)``.

    ``__`` separates the parts of a path; None drops the key.
    """
    content = copy.deepcopy(MACHINE)
    for path, value in changes.items():
        *parts, last = [int(part) if part.isdigit() else part for part in path.split("__")]
        table: Any = content
        for part in parts:
            table = table[part] if isinstance(part, int) else table.setdefault(part, {})
        if value is None:
            del table[last]
        else:
            table[last] = value
    return content


def write_machine(path: Path, **changes: Any) -> Path:
    """Write the baseline sheet with changes as ``machine`` takes them."""
    path.write_text(toml(machine(**changes)), encoding="utf-8")
    return path


def write_load(path: Path, **changes: Any) -> Path:
    """Write a load of 1.5 t on the forks with changes; None drops a key."""
    base = {"format": 1, "name": "pallet", "mass_kg": 1500.0, "size_xyz_m": [1.2, 1.0, 1.0], "how": "forks",
            "x_m": 2.4, "y_m": 0.0, "z_m": 1.0}  # fmt: skip
    content = {key: value for key, value in (base | changes).items() if value is not None}
    path.write_text(toml(content), encoding="utf-8")
    return path


def toml(content: Mapping[str, Any]) -> str:
    """Give TOML text, one line a key, tables inline."""
    return "".join(f"{json.dumps(key)} = {_toml(value)}\n" for key, value in content.items())


def _toml(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{json.dumps(k)} = {_toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(part) for part in value) + "]"
    if isinstance(value, dt.date):
        return value.isoformat()
    return json.dumps(value, ensure_ascii=False).replace("NaN", "nan").replace("Infinity", "inf")


def _feature(id_: str | int, kind: str, coordinates: Any, values: Mapping[str, Any]) -> Feature:
    properties = {"id": id_} | {key: value for key, value in values.items() if value is not None}
    return {"type": "Feature", "properties": properties, "geometry": {"type": kind, "coordinates": coordinates}}


def _to_lonlat() -> Transformer:
    return Transformer.from_crs(CRS, "OGC:CRS84", always_xy=True)
