"""Random small sites in memory: every layer, every column the table of layers knows, some of them blank.

Values are drawn from what ``travel.domain.layers`` allows (its doubt range where it has one), so that a new column is
drawn as soon as it stands there. ``blank`` is the share of values left out.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tests.memory_site import make_site, make_terrain
from travel.domain.layers import LAYERS, FieldSpec
from travel.domain.site import Site
from travel.rulebook import load_rulebook

STEP_M = 60.0


def random_site(seed: int, blank: float = 0.25, features: int = 4, **options: Any) -> Site:
    """Draw a site of up to nine places on a bent grid; ``options`` go to ``make_site``."""
    rng = np.random.default_rng(seed)
    corner = np.stack(np.meshgrid(np.arange(3), np.arange(3), indexing="ij"), -1) * STEP_M
    corner = corner + rng.uniform(-8, 8, corner.shape)
    level = rng.uniform(0, 5, (3, 3))
    roads = _roads(rng, corner, level, blank)
    places = [
        _filled(rng, "places", f"p{i}{j}", blank, {"xy": tuple(corner[i, j]), "kind": _place(rng)})
        for i in range(3)
        for j in range(3)
        if any(np.allclose(end, corner[i, j]) for road in roads for end in _ends(road))
    ]
    names = [road["id"] for road in roads]
    layers = {
        name: [_feature(rng, name, f"{name[0]}{k}", blank, names) for k in range(int(rng.integers(0, features + 1)))]
        for name in LAYERS
        if name not in ("roads", "places")
    }
    terrain = None
    if rng.random() < 0.3:
        terrain = make_terrain(
            lambda x, y: 2 * np.sin(x / 11) + y / 30, west=-40, south=-40, columns=110, rows=110, cell_m=2.0
        )
    return make_site(roads, places, terrain=terrain, **layers, **options)


def _roads(rng: np.random.Generator, corner: np.ndarray, level: np.ndarray, blank: float) -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = []
    for i, j, di, dj in [(i, j, *d) for i in range(3) for j in range(3) for d in ((1, 0), (0, 1))]:
        if i + di > 2 or j + dj > 2 or (out and rng.random() < 0.35):
            continue
        inner = int(rng.integers(0, 3))
        t = np.linspace(0, 1, inner + 2)[:, None]
        xy = corner[i, j] + t * (corner[i + di, j + dj] - corner[i, j])
        xy[1:-1] += rng.uniform(-2, 2, (inner, 2))
        z = level[i, j] + t[:, 0] * (level[i + di, j + dj] - level[i, j])
        line = {"xyz": np.column_stack((xy, z))} if rng.random() < 0.6 else {"xy": xy}
        row = _filled(rng, "roads", f"r{len(out)}", blank, line)
        out.append({k: v for k, v in row.items() if k != "level"})
    return out


def _ends(road: dict[str, Any]) -> list[np.ndarray]:
    points = np.asarray(road.get("xyz", road.get("xy")))[:, :2]
    return [points[0], points[-1]]


def _place(rng: np.random.Generator) -> str:
    return str(rng.choice(load_rulebook().vocabulary.words("place")))


def _feature(rng: np.random.Generator, layer: str, id_: str, blank: float, roads: list[str]) -> dict[str, Any]:
    at = rng.uniform(-5, 2 * STEP_M + 5, 2)
    shape = str(rng.choice(LAYERS[layer].geometry))
    if shape == "Point":
        geometry: dict[str, Any] = {"xy": tuple(at)}
    elif shape == "LineString":
        geometry = {"xy": [tuple(at), tuple(at + rng.uniform(-40, 40, 2))]}
    else:
        wide, deep = rng.uniform(4, 30, 2)
        geometry = {"polygon": [tuple(at + np.array(c)) for c in ((0, 0), (wide, 0), (wide, deep), (0, deep))]}
    return _filled(rng, layer, id_, blank, geometry, roads)


def _filled(
    rng: np.random.Generator, layer: str, id_: str, blank: float, base: dict[str, Any], roads: list[str] | None = None
) -> dict[str, Any]:
    row = {"id": id_}
    for spec in LAYERS[layer].fields:
        if spec.kind == "id" or (not spec.needed and rng.random() < blank):
            continue
        value = _value(rng, spec, roads or [])
        if value is not None:
            row[spec.name] = value
            if spec.kind == "number" and rng.random() < 0.1:
                row[f"{spec.name}_method"] = str(rng.choice(["sign", "told", "assumed"]))
    hours = [name for name in ("from_time", "until_time") if name in row]
    if len(hours) == 1:
        del row[hours[0]]
    return row | base


def _value(rng: np.random.Generator, spec: FieldSpec, roads: list[str]) -> Any:
    if spec.kind in ("number", "integer"):
        low = next(v for v in (spec.doubt_low, spec.low, 0.0) if v is not None)
        high = next(v for v in (spec.doubt_high, spec.high, 50.0) if v is not None)
        value = float(rng.uniform(low, min(high, low + 1000)))
        return round(value) if spec.kind == "integer" else value
    if spec.kind == "flag":
        return bool(rng.random() < 0.5)
    if spec.kind == "choice":
        return str(rng.choice(load_rulebook().vocabulary.words(spec.choices)))
    if spec.kind == "road":
        return str(rng.choice(roads)) if roads and rng.random() < 0.4 else None
    if spec.kind == "names":
        return str(rng.choice(list(LAYERS))) if rng.random() < 0.15 else None
    text = {"clock": "07:00" if spec.name.startswith("from") else "16:30", "days": "mon tue", "text": "as written",
            "date": "2026-05-01", "time": f"2026-0{rng.integers(1, 9)}-10T07:00:00+00:00"}  # fmt: skip
    return text[spec.kind]
