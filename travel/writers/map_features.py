"""What is drawn of the site itself: layers as GeoJSON features with a label and the known values."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from travel.domain.layers import LAYERS, FieldSpec
from travel.domain.site import Layer, Site
from travel.writers.geo import Floats, Frame
from travel.writers.numbers import quantity, term
from travel.writers.text import plain

Feature = dict[str, Any]
Style = dict[str, Any]

SEPARATE_ROADS = 300
"""Up to this many roads beside the way are drawn one by one to their width; more are drawn by class as lines."""
ALL_ROADS = 50_000
"""Above this many roads beside the way, only those within ``CORRIDOR_M`` of it are drawn."""
CORRIDOR_M = 500.0
_PAVED = ("concrete", "asphalt", "steel_plate", "timber_mat")
_LINE: Style = {"color": "#4a4a4a", "weight": 2, "fillOpacity": 0.35}

STYLES: dict[str, Style] = {
    "areas": {"color": "#5c6b2e", "weight": 1, "dashArray": "6 3", "className": "fill-area"},
    "ground": {"color": "#6b5a3a", "weight": 1, "dashArray": "2 4", "fillColor": "#c9b48a", "fillOpacity": 0.2},
    "closures": {"color": "#3b0d0d", "weight": 2, "className": "fill-closed"},
    "people": {"color": "#0b5d57", "weight": 2, "dashArray": "4 3", "className": "fill-people"},
    "obstacles": {"color": "#333333", "weight": 2, "fillColor": "#777777", "fillOpacity": 0.6},
    "edges": {"color": "#6d3208", "weight": 5, "dashArray": "12 3 3 3", "fill": False},
    "overheads": {
        "color": "#14142b",
        "weight": 3,
        "dashArray": "16 5 2 5",
        "fillColor": "#14142b",
        "fillOpacity": 0.15,
    },
    "limits": {"color": "#3f3a00", "weight": 3, "fillColor": "#f2e9a0", "fillOpacity": 0.8},
}
TITLES = {
    "areas": "Areas", "ground": "Ground zones", "closures": "Closures", "people": "People", "obstacles": "Obstacles",
    "edges": "Edges", "overheads": "Overhead", "limits": "Limits", "roads": "Roads", "places": "Places",
}  # fmt: skip
LABELLED = ("overheads", "edges", "limits", "closures", "people")
MOST_LABELS = 80
BESIDE_M = 25.0


@dataclass(eq=False)
class MapLayer:
    """One group of the layer control: features, the style of each by its ``style`` property, shown or not."""

    key: str
    title: str
    features: list[Feature] = field(default_factory=list)
    styles: dict[str, Style] = field(default_factory=dict)
    show: bool = True


def site_layers(site: Site, frame: Frame, way_roads: set[str], way_box: Floats | None) -> list[MapLayer]:
    """Give the site's layers in drawing order, lowest first; empty ones are left out."""
    found = [_plain_layer(site.layers[key], frame) for key in ("areas", "ground") if key in site.layers]
    if "roads" in site.layers:
        found.append(_roads(site.layers["roads"], frame, way_roads, way_box))
    found += [
        _plain_layer(site.layers[key], frame) for key in STYLES if key in site.layers and key not in ("areas", "ground")
    ]
    return [layer for layer in found if layer.features]


def rows_of(layer: Layer, row: int) -> list[list[str]]:
    """Give a feature's known values as (label, value) in words; method and id aside."""
    spec = LAYERS.get(layer.name)
    fields: dict[str, FieldSpec] = {item.name: item for item in spec.fields} if spec else {}
    rows = []
    for name, value in layer.values(row).items():
        if name in ("id", "name") or (name.endswith("_method") and value == "measured"):
            continue
        about = fields.get(name)
        if about is not None and about.kind == "flag":
            rows.append([name.replace("_", " "), "yes" if value else "no"])
        elif isinstance(value, float):
            label, shown = term(name, value)
            rows.append([label, quantity(value, about.unit) if about is not None and about.unit else shown])
        else:
            rows.append([name.replace("_", " "), plain(value).replace("_", " ")])
    return rows


def title_of(layer: Layer, row: int) -> str:
    """Give a feature's name, with its id where they differ."""
    feature, name = layer.ids[row], layer.text("name")[row]
    return plain(f"{name} ({feature})" if name and name != feature else feature)


def labels_of(site: Site, frame: Frame, box: Floats, way: Any) -> list[dict[str, Any]]:
    """Give short labels for what can stop the machine, at most ``MOST_LABELS``, those beside the way first.

    ``way`` is the way as one geometry, or None; what lies further from it than ``BESIDE_M`` is labelled only when
    the reader comes closer.
    """
    labels: list[dict[str, Any]] = []
    for key in LABELLED:
        layer = site.layers.get(key)
        for row in range(len(layer) if layer else 0):
            assert layer is not None
            kind = layer.text("kind")[row] or TITLES[key].lower().rstrip("s")
            point = _label_point(layer.geometry[row], box)
            lonlat = frame.to_lonlat(np.array([point]))[0]
            text = f"{plain(kind).replace('_', ' ')} {plain(layer.ids[row])}"
            far = way is not None and layer.geometry[row].distance(way) > BESIDE_M
            labels.append({"text": text, "kind": "hazard", "lonlat": _listed(lonlat), "far": far})
    return sorted(labels, key=lambda label: bool(label["far"]))[:MOST_LABELS]


def place_labels(site: Site, frame: Frame, way_places: set[str]) -> list[dict[str, Any]]:
    """Give labels for places: those of the way, then gates, pick points, unloading places."""
    layer = site.layers.get("places")
    if layer is None:
        return []
    kinds = layer.text("kind")
    labels = []
    for row, feature in enumerate(layer.ids):
        on_way = feature in way_places
        point = layer.geometry[row]
        lonlat = frame.to_lonlat(np.array([[point.x, point.y]]))[0]
        labels.append(
            {
                "text": title_of(layer, row) if on_way or kinds[row] in ("gate", "pick_point", "unloading") else "",
                "kind": "place",
                "lonlat": _listed(lonlat),
                "title": title_of(layer, row),
                "rows": rows_of(layer, row),
                "far": bool(way_places) and not on_way,
            }
        )
    return sorted(labels, key=lambda label: bool(label["far"]))


def geojson(geometry: Any, frame: Frame, decimals: int = 7) -> dict[str, Any]:
    """Give a geometry as GeoJSON in longitude and latitude, heights left out."""
    return geojsons([geometry], frame, decimals)[0]


def geojsons(geometries: Iterable[Any], frame: Frame, decimals: int = 7) -> list[dict[str, Any]]:
    """Give several, their positions turned together."""
    import shapely

    flat = shapely.force_2d(np.array(list(geometries), dtype=object))
    turned = shapely.transform(flat, lambda xy: np.round(frame.to_lonlat(xy), decimals))
    return [dict(shapely.geometry.mapping(one)) for one in turned]


def _listed(lonlat: Floats) -> list[float]:
    return [round(float(lonlat[0]), 7), round(float(lonlat[1]), 7)]


def _label_point(geometry: Any, box: Floats) -> tuple[float, float]:
    """Give where a label points to: inside the part of the site the page opens on, if the feature comes there."""
    import shapely

    (west, south), (east, north) = box.min(axis=0), box.max(axis=0)
    inside = shapely.force_2d(geometry).intersection(shapely.box(west, south, east, north))
    geometry = geometry if inside.is_empty else inside
    if geometry.geom_type == "LineString":
        point = geometry.interpolate(0.2, normalized=True)
    else:
        point = geometry.representative_point()
    return float(point.x), float(point.y)


def _plain_layer(layer: Layer, frame: Frame) -> MapLayer:
    style = _LINE | STYLES[layer.name]
    shapes = geojsons(layer.geometry, frame)
    features = [
        _feature(row, shape, title_of(layer, row), rows_of(layer, row), "all") for row, shape in enumerate(shapes)
    ]
    return MapLayer(layer.name, TITLES[layer.name], features, {"all": style}, show=layer.name != "ground")


def _feature(row: int, geometry: dict[str, Any], title: str, rows: list[list[str]], style: str) -> Feature:
    return {
        "type": "Feature",
        "id": str(row),
        "geometry": geometry,
        "properties": {"title": title, "rows": rows, "style": style},
    }


def _roads(layer: Layer, frame: Frame, way_roads: set[str], way_box: Floats | None) -> MapLayer:
    on_way = [row for row, feature in enumerate(layer.ids) if feature in way_roads]
    rest = [row for row, feature in enumerate(layer.ids) if feature not in way_roads]
    title = TITLES["roads"]
    if len(rest) > ALL_ROADS and way_box is not None:
        rest = _near(layer, rest, way_box)
        title = f"Roads (beside the way within {CORRIDOR_M:.0f} m)"
    each = [*on_way, *(rest if len(rest) <= SEPARATE_ROADS else [])]
    shapes = geojsons([_road(layer, row) for row in each], frame)
    features = [
        _feature(row, shape, title_of(layer, row), rows_of(layer, row), _class(layer, row))
        for row, shape in zip(each, shapes, strict=True)
    ]
    if len(rest) > SEPARATE_ROADS:
        features += _by_class(layer, rest, frame)
    return MapLayer("roads", title, features, _road_styles())


def _road_styles() -> dict[str, Style]:
    edge: Style = {"color": "#5f5a4e", "weight": 1.2, "fillOpacity": 0.9, "lineJoin": "round"}
    line: Style = {"color": "#5f5a4e", "weight": 2, "fill": False}
    return {
        "paved": edge | {"fillColor": "#d3d8dc"},
        "unpaved": edge | {"fillColor": "#e6dcc4"},
        "no width": line | {"dashArray": "3 4"},
        "rest paved": line | {"color": "#7d8389"},
        "rest unpaved": line | {"color": "#8f8062"},
    }


def _near(layer: Layer, rows: Iterable[int], box: Floats) -> list[int]:
    import shapely

    chosen = np.array(list(rows))
    bounds = shapely.bounds(layer.geometry[chosen])
    west, south = box.min(axis=0) - CORRIDOR_M
    east, north = box.max(axis=0) + CORRIDOR_M
    inside = (bounds[:, 2] >= west) & (bounds[:, 0] <= east) & (bounds[:, 3] >= south) & (bounds[:, 1] <= north)
    return [int(row) for row in chosen[inside]]


def _class(layer: Layer, row: int) -> str:
    return "no width" if np.isnan(layer.number("width_m")[row]) else _surface(layer, row)


def _surface(layer: Layer, row: int) -> str:
    return "paved" if layer.text("surface")[row] in _PAVED else "unpaved"


def _road(layer: Layer, row: int) -> Any:
    """Give the ground of a road, or its line where nobody knows its width."""
    import shapely

    width, line = layer.number("width_m")[row], layer.geometry[row]
    return line if np.isnan(width) else shapely.buffer(shapely.force_2d(line), width / 2, quad_segs=3, cap_style="flat")


def _by_class(layer: Layer, rows: list[int], frame: Frame) -> list[Feature]:
    import shapely

    groups: dict[str, list[Any]] = {}
    for row in rows:
        groups.setdefault(_surface(layer, row), []).append(layer.geometry[row])
    make: Callable[[list[Any]], Any] = shapely.multilinestrings
    return [
        _feature(
            len(layer) + number,
            geojson(make(lines), frame, decimals=6),
            f"{len(lines)} roads beside the way, {name}",
            [],
            f"rest {name}",
        )
        for number, (name, lines) in enumerate(sorted(groups.items()))
    ]
