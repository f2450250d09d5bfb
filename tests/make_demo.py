"""Make ``demo_site/site`` from the drawing in ``tests/data/demo_layout.toml`` and ``demo_features.toml``.

Run from anywhere: ``python tests/make_demo.py [folder]``. The same drawing gives the same bytes. The ground is
invented: hills from a few functions, then every road's bench cut and filled into them along a smoothed long profile.
"""

from __future__ import annotations

import json
import math
import shutil
import sys
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio import Affine

Floats = NDArray[np.float64]
HERE = Path(__file__).resolve().parent
DATA = HERE / "data"
CRS = "EPSG:32633"
EAST_0_M, NORTH_0_M = 491_600.0, 4_749_400.0
WIDTH_M, HEIGHT_M, CELL_M = 704.0, 556.0, 2.0
BATTER_RATIO = 0.55  # rise over run of cut and fill faces
SHOULDER_M = 2.4  # bench beyond the road's edge: more than one cell's diagonal off the last sampled point
ROUNDING_M = 8.0  # half length over which the long profile is rounded
STEP_M = 0.5
MOUTH_M = 15.0  # along each road, how far the mouth of a junction reaches


@dataclass
class Node:
    """A point several roads share."""

    x_m: float
    y_m: float
    z_m: float
    clear_m: float  # half width of the road that made it


@dataclass
class Line:
    """An alignment: plan points with chainage, a height profile, and where it is cut into roads."""

    name: str
    points: Floats
    cuts: list[tuple[float, str]]
    tees: list[tuple[float, str]]
    half_width_m: float
    crossfall: float
    drawing: dict[str, Any]
    s: Floats = field(default_factory=lambda: np.zeros(0))
    z: Floats = field(default_factory=lambda: np.zeros(0))

    @property
    def plan(self) -> shapely.LineString:
        return shapely.LineString(self.points)

    def height(self, at_m: Floats) -> Floats:
        return np.asarray(np.interp(at_m, self.s, self.z), dtype=float)


def chainage(points: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def fillet(corners: Floats, radius_m: float, closed: bool, kept: set[int]) -> Floats:
    """Round each corner with an arc of ``radius_m``, or the largest that fits; ``kept`` ones stay as they are."""
    n = len(corners)
    out: list[Floats] = [] if closed else [corners[0]]
    for i in range(n) if closed else range(1, n - 1):
        before, here, after = corners[i - 1], corners[i], corners[(i + 1) % n]
        u, v = before - here, after - here
        lu, lv = float(np.hypot(*u)), float(np.hypot(*v))
        u, v = u / lu, v / lv
        bend = math.pi - math.acos(float(np.clip(u @ v, -1, 1)))
        if bend < 0.01 or i in kept:
            out.append(here)
            continue
        tangent = min(
            radius_m * math.tan(bend / 2),
            0.49 * lu if i - 1 > 0 or closed else 0.97 * lu,
            0.49 * lv if i + 1 < n - 1 or closed else 0.97 * lv,
        )
        r = tangent / math.tan(bend / 2)
        middle = here + (u + v) / np.hypot(*(u + v)) * (r / math.cos(bend / 2))
        start, end = here + u * tangent - middle, here + v * tangent - middle
        a = math.atan2(start[1], start[0])
        sweep = (math.atan2(end[1], end[0]) - a + math.pi) % (2 * math.pi) - math.pi
        count = max(2, math.ceil(max(abs(sweep) / math.radians(7), abs(sweep) * r / 4)))
        angles = a + sweep * np.linspace(0, 1, count + 1)
        out.extend(middle + r * np.column_stack([np.cos(angles), np.sin(angles)]))
    return np.array([*out, out[0]] if closed else [*out, corners[-1]])


def insert(points: Floats, at_m: float) -> Floats:
    """Put a vertex at a chainage, unless one is there already."""
    s = chainage(points)
    if np.abs(s - at_m).min() < 1e-6:
        return points
    k = int(np.searchsorted(s, at_m))
    t = (at_m - s[k - 1]) / (s[k] - s[k - 1])
    return np.insert(points, k, points[k - 1] + t * (points[k] - points[k - 1]), axis=0)


def rotate_to(points: Floats, xy: tuple[float, float]) -> Floats:
    """Start a closed line at the point nearest to ``xy``."""
    at = shapely.LineString(points).project(shapely.Point(xy))
    points = insert(points, at)
    k = int(np.abs(chainage(points) - at).argmin())
    return np.concatenate([points[k:-1], points[: k + 1]])


def draw(raw: dict[str, Any], nodes: dict[str, Node], half_width_m: float) -> Line:
    """Turn one entry of the drawing into an alignment; new nodes are added to ``nodes``."""
    named = [c for c in raw["corners"] if isinstance(c, str)]
    corners = np.array([(nodes[c].x_m, nodes[c].y_m) if isinstance(c, str) else c for c in raw["corners"]], dtype=float)
    closed = bool(raw.get("closed"))
    kept = {i for i, c in enumerate(raw["corners"]) if isinstance(c, str)}
    points = fillet(corners, raw["radius_m"], closed, kept)
    wanted = raw.get("nodes", [])
    if closed:
        points = rotate_to(points, tuple(wanted[0][1:3]))
    for name in [c for c in named if c in nodes]:  # a shared node in the middle pulls the line onto itself
        at = shapely.LineString(points).project(shapely.Point(nodes[name].x_m, nodes[name].y_m))
        points = insert(points, at)
        points[int(np.abs(chainage(points) - at).argmin())] = (nodes[name].x_m, nodes[name].y_m)
    for name, x, y, z in wanted:
        if name not in nodes:
            at = shapely.LineString(points).project(shapely.Point(x, y))
            points = insert(points, at)
            px, py = points[int(np.abs(chainage(points) - at).argmin())]
            nodes[name] = Node(float(px), float(py), z, half_width_m)
    line = Line(raw["name"], points, [], [], half_width_m, raw.get("crossfall_pct", 0.0) / 100, raw)
    s = chainage(points)
    for name in dict.fromkeys([*named, *(w[0] for w in wanted)]):
        at = s[int(np.hypot(points[:, 0] - nodes[name].x_m, points[:, 1] - nodes[name].y_m).argmin())]
        (line.tees if name in raw.get("tees", []) else line.cuts).append((float(at), name))
    line.cuts.sort()
    profile(line, nodes, closed)
    return line


def profile(line: Line, nodes: dict[str, Node], closed: bool) -> None:
    """Lay the long profile through the heights of nodes and pins, rounded at every change of grade."""
    length = float(chainage(line.points)[-1])
    known = {at: nodes[name].z_m for at, name in [*line.cuts, *line.tees]}
    for at, name in line.cuts:  # leave a road that was there before on the level
        flat = nodes[name].clear_m + 3.0
        if nodes[name].clear_m != line.half_width_m and not closed and length > 3 * flat:
            if at < 1e-6:
                known[flat] = nodes[name].z_m
            elif at > length - 1e-6:
                known[length - flat] = nodes[name].z_m
    for x, y, z in line.drawing.get("pins", []):
        known[float(line.plan.project(shapely.Point(x, y)))] = z
    if closed:
        known[length] = known[0.0]
    line.s = np.linspace(0, length, math.ceil(length / STEP_M) + 1)
    stations = sorted(known)
    raw = np.interp(line.s, stations, [known[at] for at in stations])
    reach = round(ROUNDING_M / (length / (len(line.s) - 1)))
    weights = np.bartlett(2 * reach + 3)[1:-1]
    weights /= weights.sum()
    ends = (raw[-reach - 1 : -1], raw[1 : reach + 1]) if closed else (np.full(reach, raw[0]), np.full(reach, raw[-1]))
    line.z = np.convolve(np.concatenate([ends[0], raw, ends[1]]), weights, mode="valid")
    if not closed:  # ends stay where the other road is
        fade = np.clip(line.s / ROUNDING_M, 0, 1)
        line.z = (
            line.z
            + (raw[0] - line.z[0]) * (1 - fade)
            + (raw[-1] - line.z[-1]) * np.clip(1 - (length - line.s) / ROUNDING_M, 0, 1)
        )
    for where, name in [*line.cuts, *line.tees]:
        if nodes[name].clear_m == line.half_width_m or 1e-6 < where < length - 1e-6:
            nodes[name].z_m = float(line.height(np.array([where]))[0])


def hills(x: Floats, y: Floats, layout: dict[str, Any]) -> Floats:
    """Invented ground before any road: a valley with a stream, a plateau, an excavation, gentle rolling."""
    at: Any = shapely.points(x, y)
    z = 41.4 + 0.0125 * y + 0.5 * np.sin(x / 61 + 0.4) * np.cos(y / 73) + 0.25 * np.sin((x + 2 * y) / 34)
    out: Any = shapely.distance(shapely.Polygon(layout["plateau"]), at)
    t = np.clip(1 - out / 46, 0, 1)
    z = z + (12.6 - 0.004 * (y - 300)) * t * t * (3 - 2 * t)
    stream: Any = shapely.distance(shapely.LineString(layout["stream"]), at)
    z = z - 3.4 * np.exp(-((stream / 15) ** 2))
    west = np.clip(1 - np.hypot(x - 60, y - 560) / 260, 0, 1)
    z = z + 9 * west * west
    dug: Any = shapely.distance(shapely.Polygon(layout["pit"]), at)
    return np.asarray(np.minimum(z, layout["pit_floor_m"] + 1.1 * dug), dtype=float)


def widened(line: Line, off: Floats, xy: Floats, places: list[dict[str, Any]]) -> Floats:
    """Distance from the line, counted as near over the whole of each pad and turning circle at its end."""
    ids = {row["id"] for row in line.drawing["roads"]}
    for place in places:
        if place["on"] in ids and place["kind"] in ("pick_point", "turning"):
            away = np.hypot(*(xy - np.array(place["Point"])).T) - place["turn_radius_m"] + line.half_width_m
            off = np.minimum(off, np.clip(away, 0, None))
    return off


def ground(lines: list[Line], layout: dict[str, Any], places: list[dict[str, Any]]) -> Floats:
    """Cut and fill each road's bench into the hills; where benches meet, the nearer one counts more."""
    rows, columns = round(HEIGHT_M / CELL_M), round(WIDTH_M / CELL_M)
    x, y = np.meshgrid((np.arange(columns) + 0.5) * CELL_M, HEIGHT_M - (np.arange(rows) + 0.5) * CELL_M)
    shape, x, y = x.shape, x.ravel(), y.ravel()
    natural = hills(x, y, layout)
    upper, lower = np.full(x.shape, np.inf), np.full(x.shape, -np.inf)
    total, weight = np.zeros(x.shape), np.zeros(x.shape)
    at: Any = shapely.points(x, y)
    for line in lines:
        plan = line.plan
        off = widened(line, np.asarray(shapely.distance(plan, at)), np.column_stack([x, y]), places)
        near = np.flatnonzero(off < 60)
        s: Any = shapely.line_locate_point(plan, at[near])
        bench = line.height(s) - fall(line, s) * offset(line, x[near], y[near], s)
        half = line.half_width_m + SHOULDER_M
        beyond = np.clip(off[near] - half, 0, None)
        if line.name == layout["bridge"]["line"]:  # the cutting below the bridge stays open
            (west, east), clear = layout["bridge"]["open_x"], layout["bridge"]["clear_m"]
            kept = (x[near] < west) | (x[near] > east) | (beyond > clear)
            near, bench, beyond = near[kept], bench[kept], beyond[kept]
        upper[near] = np.minimum(upper[near], bench + BATTER_RATIO * beyond)
        lower[near] = np.maximum(lower[near], bench - BATTER_RATIO * beyond)
        w = np.clip(1 - off[near] / half, 0, None) ** 3
        total[near] += w * bench
        weight[near] += w
    squeezed = lower > upper
    z = np.clip(natural, lower, upper)
    z[squeezed] = (lower[squeezed] + upper[squeezed]) / 2
    z = np.where(weight > 0, total / np.where(weight > 0, weight, 1), z)
    return np.asarray(np.round(z, 3), dtype=float).reshape(shape)


def fall(line: Line, s: Floats) -> Floats:
    """Crossfall to the right, let out near the places where other roads join."""
    joins = np.array([at for at, _ in [*line.cuts, *line.tees]] or [0.0])
    off = np.abs(s[:, None] - joins[None, :]).min(axis=1)
    return np.asarray(line.crossfall * np.clip((off - 8) / 12, 0, 1), dtype=float)


def offset(line: Line, x: Floats, y: Floats, s: Floats) -> Floats:
    """Signed distance from the line, + to the right."""
    along = chainage(line.points)
    k = np.clip(np.searchsorted(along, s, side="right") - 1, 0, len(along) - 2)
    p, d = line.points[k], line.points[k + 1] - line.points[k]
    d = d / np.hypot(d[:, 0], d[:, 1])[:, None]
    return (x - p[:, 0]) * d[:, 1] - (y - p[:, 1]) * d[:, 0]


@dataclass
class Road:
    """One road as it is written: plan in local metres, heights, columns."""

    id: str
    points: Floats
    heights: Floats
    values: dict[str, Any]
    with_z: bool

    @property
    def plan(self) -> shapely.LineString:
        return shapely.LineString(self.points)


def roads_of(line: Line, classes: dict[str, dict[str, Any]]) -> list[Road]:
    """Cut an alignment at its nodes."""
    s = chainage(line.points)
    ends = sorted({0.0, float(s[-1]), *(round(at, 9) for at, _ in line.cuts)})
    ends = [e for i, e in enumerate(ends) if i == 0 or e - ends[i - 1] > 0.01]
    rows = line.drawing["roads"]
    if len(ends) - 1 != len(rows):
        raise ValueError(f"{line.name}: {len(ends) - 1} parts at {ends}, {len(rows)} roads")
    out = []
    for row, start, end in zip(rows, ends[:-1], ends[1:], strict=True):
        with_z = row["id"] in line.drawing.get("z", [])
        points = line.points[(s > start - 1e-6) & (s < end + 1e-6)]
        if with_z:  # levelled every four metres
            for at in np.linspace(0, end - start, math.ceil((end - start) / 4) + 1)[1:-1]:
                points = insert(points, float(at))
        heights = line.height(start + chainage(points))
        out.append(Road(row["id"], points, heights, {**classes[line.drawing["class"]], **row}, with_z))
    return out


def build() -> tuple[list[Line], list[Road], Floats, dict[str, Any]]:
    """Give alignments, roads, the height grid and the features of the drawing."""
    layout = tomllib.loads((DATA / "demo_layout.toml").read_text())
    nodes: dict[str, Node] = {}
    lines = []
    for raw in layout["lines"]:
        widths = [{**layout["classes"][raw["class"]], **row}["width_m"] for row in raw["roads"]]
        lines.append(draw(raw, nodes, max(widths) / 2))
    roads = sorted((r for line in lines for r in roads_of(line, layout["classes"])), key=lambda r: r.id)
    features = tomllib.loads((DATA / "demo_features.toml").read_text())
    features["areas"] += mouths(roads, features.pop("tight"))
    return lines, roads, ground(lines, layout, features["places"]), features


def mouths(roads: list[Road], tight: list[list[float]]) -> list[dict[str, Any]]:
    """Level, free ground where three and more roads meet: between their edges ``MOUTH_M`` away from the junction.

    Junctions within five metres of a ``tight`` point have none.
    """
    ends: dict[tuple[float, float], list[tuple[Floats, float]]] = {}
    points = {tuple(np.round(xy, 2).tolist()) for road in roads for xy in (road.points[0], road.points[-1])}
    for road in roads:
        s, half = chainage(road.points), road.values["width_m"] / 2
        for xy in points:
            off = np.hypot(*(road.points - xy).T)
            if off.min() < 0.1:
                at = s[int(off.argmin())]
                for on in (at - MOUTH_M, at + MOUTH_M):
                    if (on < at and at > 0.1) or (on > at and at < s[-1] - 0.1):
                        near = np.array([np.interp(on, s, axis) for axis in road.points.T])
                        ends.setdefault(xy, []).append((near, half))
    out = []
    for (x, y), arms in sorted(ends.items()):
        if len(arms) < 3 or any(math.dist((x, y), point) < 5.0 for point in tight):
            continue
        corners = []
        for near, half in arms:
            along = (near - (x, y)) / np.hypot(*(near - (x, y)))
            corners += [near + half * np.array([-along[1], along[0]]), near - half * np.array([-along[1], along[0]])]
        hull: Any = shapely.MultiPoint(corners).convex_hull
        ring = [[round(float(a), 2), round(float(b), 2)] for a, b in hull.exterior.coords]
        out.append({"Polygon": ring, "id": f"JM{len(out) + 1}", "use": "free_ground", "name": "Junction mouth"})
    return out


def geometry(kind: str, coordinates: Any, to_lonlat: Transformer, heights: Floats | None = None) -> dict[str, Any]:
    """Write local metres as GeoJSON, eight decimals."""
    flat = np.atleast_2d(np.array(coordinates, dtype=float))
    if kind == "Polygon" and not np.array_equal(flat[0], flat[-1]):
        flat = np.vstack([flat, flat[:1]])
    lon, lat = to_lonlat.transform(flat[:, 0] + EAST_0_M, flat[:, 1] + NORTH_0_M)
    rows = [[round(float(a), 8), round(float(b), 8)] for a, b in zip(lon, lat, strict=True)]
    if heights is not None:
        rows = [[*row, round(float(z), 3)] for row, z in zip(rows, heights, strict=True)]
    return {"type": kind, "coordinates": rows[0] if kind == "Point" else [rows] if kind == "Polygon" else rows}


def feature_of(row: dict[str, Any], roads: dict[str, Road], to_lonlat: Transformer) -> dict[str, Any]:
    """Turn one feature of the drawing into GeoJSON; a point on a road is put onto its centreline."""
    kind = next(k for k in ("Point", "LineString", "Polygon") if k in row)
    where = row[kind]
    on = row.get("on", row.get("road"))
    if kind == "Point" and on:
        plan = roads[on].plan
        where = plan.interpolate(plan.project(shapely.Point(where))).coords[0]
    values = {k: v for k, v in row.items() if k not in ("Point", "LineString", "Polygon", "on")}
    return {"type": "Feature", "properties": values, "geometry": geometry(kind, where, to_lonlat)}


def write_layer(folder: Path, name: str, features: list[dict[str, Any]]) -> None:
    body = ",\n".join(json.dumps(f, ensure_ascii=False, default=str) for f in features)
    text = '{"type": "FeatureCollection", "features": [\n' + body + "\n]}\n"
    (folder / f"{name}.geojson").write_text(text, encoding="utf-8")


def write_terrain(path: Path, heights: Floats) -> None:
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=heights.shape[1],
        height=heights.shape[0],
        count=1,
        dtype="float32",
        crs=CRS,
        transform=Affine(CELL_M, 0, EAST_0_M, 0, -CELL_M, NORTH_0_M + HEIGHT_M),
        nodata=-9999.0,
        compress="deflate",
        predictor=3,
        zlevel=9,
        tiled=True,
        blockxsize=128,
        blockysize=128,
    ) as out:
        out.write(heights.astype("float32"), 1)


def main(folder: Path) -> None:
    """Write the whole site folder anew."""
    _, roads, heights, features = build()
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    to_lonlat = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    by_id = {road.id: road for road in roads}
    write_layer(
        folder,
        "roads",
        [
            {
                "type": "Feature",
                "properties": road.values,
                "geometry": geometry("LineString", road.points, to_lonlat, road.heights if road.with_z else None),
            }
            for road in roads
        ],
    )
    for layer, rows in features.items():
        write_layer(folder, layer, [feature_of(row, by_id, to_lonlat) for row in rows])
    write_terrain(folder / "terrain.tif", heights)
    shutil.copyfile(DATA / "demo_site.toml", folder / "site.toml")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE.parent / "demo_site" / "site")
