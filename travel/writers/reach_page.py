"""How far one machine gets: a map page that needs no network, and the same as layers for a GIS."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from travel.domain.site import Site
from travel.writers.geo import Floats, Frame, frame_of, names_of, stretch_of
from travel.writers.gis_styles import style_of
from travel.writers.hillshade import hillshade
from travel.writers.map_features import MapLayer, geojson, labels_of, site_layers
from travel.writers.map_page import asset, data_block, page_environment, with_policy
from travel.writers.map_way import CASING, WAY_STYLES
from travel.writers.numbers import duration, length, number, quantity
from travel.writers.offline_map import DrawnMap, draw, leaflet_script, leaflet_style
from travel.writers.page_lists import SIGNS
from travel.writers.plan_gpkg import Sheet, clean_columns, site_sheets
from travel.writers.text import isolated, plain

ORDER = ("clear", "caution", "unknown", "blocked")
CROSS_M = 10.0
_MARGIN_M = 25.0
_LABELS = {"height_m": "height", "width_m": "width", "gross_kg": "gross", "axle_kg": "axle load"}
_WORDS = {"clear": "reached", "caution": "reached with care", "unknown": "not known", "blocked": "not reached"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reached:
    """One place: verdict of the best way there, how far, what is tightest, the greatest that some way lets through."""

    place: str
    verdict: str
    length_m: float | None
    time_s: float | None
    severity: float | None
    rule: str
    stopper: str
    greatest: Mapping[str, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Passable:
    """A stretch of road and the best verdict over both directions and all configurations."""

    road: str
    from_m: float
    to_m: float
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachView:
    """What is shown: whose reach, from where, what was asked (label, words), places and stretches."""

    machine: str
    from_place: str
    asked: tuple[tuple[str, str], ...]
    places: tuple[Reached, ...]
    stretches: tuple[Passable, ...]


def greatest_rows(greatest: Mapping[str, float | None]) -> list[tuple[str, str]]:
    """Give the greatest height, width, gross, axle load some way lets through, rounded down; 0 and None in words.

    Masses are limited by signs and rated structures alone, so where those are silent nothing is said of the ground.
    """
    rows = []
    for key, value in greatest.items():
        label = _LABELS.get(key, key.replace("_", " "))
        if value is None:
            rows.append((label, "no posted limit" if key.endswith("_kg") else "not limited"))
        elif value <= 0.0:
            rows.append((label, "none known"))
        elif key.endswith("_kg"):
            rows.append((label, quantity(float(np.floor(value / 100) / 10), "t", 1)))
        else:
            rows.append((label, quantity(float(np.floor(value * 100 + 1e-9) / 100), "m", 2)))
    return rows


def reach_page(view: ReachView, site: Site) -> str:
    """Give the page."""
    frame = frame_of(site)
    names = names_of(site)
    cards = [_card(row, n, names) for n, row in enumerate(_sorted(view.places), start=1)]
    drawn, data = _map(view, site, frame, cards)
    counts = {word: sum(row.verdict == word for row in view.places) for word in ORDER}
    html = page_environment().get_template("reach.html.j2").render(
        heading=f"{plain(view.machine)}: how far it gets from {_named(names, view.from_place)}",
        counted=", ".join(f"{count} {_WORDS[word]}" for word, count in counts.items() if count) or "no other place",
        facts=[("Site", plain(site.header.name)), ("Surveyed", site.header.surveyed_on.isoformat()), *view.asked],
        cards=cards,
        signs=SIGNS,
        shown=set(drawn.groups),
        container=drawn.container,
        data=data_block(data),
        leaflet_css=leaflet_style(),
        page_css=asset("page.css"),
        scripts=[leaflet_script(), drawn.script, asset("page.js")],
    )  # fmt: skip
    return with_policy(html)


def reach_sheets(view: ReachView, site: Site) -> list[Sheet]:
    """Give places, stretches and the site's layers for a GIS."""
    import shapely

    places = site.layers["places"]
    rows = [row for row in view.places if row.place in places.ids]
    columns: dict[str, list[Any]] = {
        key: [getattr(row, key) for row in rows]
        for key in ("place", "verdict", "length_m", "time_s", "severity", "rule", "stopper")
    }
    for key in _LABELS:
        columns[f"greatest_{key}"] = [row.greatest.get(key) for row in rows]
        columns[f"{key.rpartition('_')[0]}_limited"] = [row.greatest.get(key) is not None for row in rows]
    points = [places.geometry[places.index(row.place)] for row in rows]
    lines = [(row, stretch_of(site, row.road, row.from_m, row.to_m)) for row in view.stretches]
    kept = [(row, xy) for row, xy in lines if xy is not None]
    stretches = {key: [getattr(row, key) for row, _ in kept] for key in ("road", "from_m", "to_m", "verdict")}
    sheets = [
        Sheet(name="places_reached", columns=clean_columns(columns), geometry=points, style=style_of("places_reached")),
        Sheet(name="stretches", columns=clean_columns(stretches), geometry=[shapely.LineString(xy) for _, xy in kept],
              style=style_of("stretches")),
    ]  # fmt: skip
    return [sheet for sheet in sheets if len(sheet.geometry)] + site_sheets(site)


def _sorted(rows: tuple[Reached, ...]) -> list[Reached]:
    return sorted(rows, key=lambda row: (-ORDER.index(row.verdict), row.place))


def _named(names: Mapping[tuple[str, str], str], place: str) -> str:
    name = names.get(("places", place))
    return f"{isolated(name)} ({isolated(place)})" if name and name != place else isolated(place)


def _card(row: Reached, mark: int, names: Mapping[tuple[str, str], str]) -> dict[str, Any]:
    way = "no way" if row.length_m is None else f"{length(row.length_m)}, {duration(row.time_s)}"
    severity = "–" if row.severity is None else f"{number(100 * row.severity, '%', 0)} % of the caution margin"
    severity = "not known" if row.verdict == "unknown" else severity
    return {
        "number": mark,
        "place": row.place,
        "title": _named(names, row.place),
        "verdict": row.verdict,
        "said": _WORDS[row.verdict],
        "way": way,
        "severity": severity,
        "stopper": plain(row.stopper) or ("nothing" if row.verdict == "clear" else "not named"),
        "greatest": greatest_rows(row.greatest),
    }


def _map(view: ReachView, site: Site, frame: Frame, cards: list[dict[str, Any]]) -> tuple[DrawnMap, dict[str, Any]]:
    box = _box(view, site)
    layers = site_layers(site, frame, set(), box)
    ways, crosses = _stretches(view, site, frame)
    corners = frame.to_lonlat(box)
    bounds = [[float(corners[:, 1].min()), float(corners[:, 0].min())],
              [float(corners[:, 1].max()), float(corners[:, 0].max())]]  # fmt: skip
    above = [layer for layer in layers if layer.key == "limits"]
    below = [layer for layer in layers if layer.key != "limits"]
    empty = {"arrows": "Crosses", "labels": "Names", "flags": "Places", "stops": "Start"}
    drawn = draw([*below, ways, *above], hillshade(site, frame), bounds, empty)
    places = site.layers["places"]
    wanted = zip(places.ids, places.text("kind"), strict=True)
    first = {place for place, kind in wanted if kind in ("gate", "pick_point", "unloading")}

    def lonlat(place: str) -> list[float] | None:
        if place not in places.ids:
            return None
        point = places.geometry[places.index(place)]
        lon, lat = frame.to_lonlat(np.array([[point.x, point.y]]))[0]
        return [round(float(lon), 7), round(float(lat), 7)]

    data = {
        "bounds": bounds, "groups": drawn.groups, "about": drawn.about, "beside": {}, "arrows": [], "crosses": crosses,
        "flags": [{"n": card["number"], "lonlat": lonlat(card["place"]), "trip": "", "driven": None,
                   "title": f"{card['title']}: {card['said']}"} for card in cards],
        "stops": [{"n": 0, "lonlat": lonlat(view.from_place), "trip": "", "driven": 0, "title": "Start"}],
        "labels": [
            *({"text": card["title"], "kind": "place", "lonlat": lonlat(card["place"]), "title": card["title"],
               "rows": [], "far": card["place"] not in first} for card in cards if lonlat(card["place"])),
            *(label | {"far": True} for label in labels_of(site, frame, box, None)),
        ],
        "trips": [],
    }  # fmt: skip
    return drawn, data


def _box(view: ReachView, site: Site) -> Floats:
    """Give the corners [m] of all places and roads."""
    import shapely

    shapes = [layer.geometry for name in ("places", "roads") if (layer := site.layers.get(name)) and len(layer)]
    west, south, east, north = shapely.total_bounds(np.concatenate(shapes))
    low, high = (west - _MARGIN_M, south - _MARGIN_M), (east + _MARGIN_M, north + _MARGIN_M)
    return np.array([low, (low[0], high[1]), (high[0], low[1]), high])


def _stretches(view: ReachView, site: Site, frame: Frame) -> tuple[MapLayer, list[list[float]]]:
    """Give the roads by verdict, and crosses along what is blocked."""
    import shapely

    layer = MapLayer("reach", "Roads by verdict", [], {"casing": CASING, **WAY_STYLES})
    crosses: list[list[float]] = []
    for row in view.stretches:
        xy = stretch_of(site, row.road, row.from_m, row.to_m)
        if xy is None:
            continue
        line = shapely.LineString(xy)
        title = f"Road {plain(row.road)}, {number(row.from_m, 'm', 0)}–{number(row.to_m, 'm', 0)} m: {row.verdict}"
        for properties in (
            {"title": "", "rows": [], "style": "casing"},
            {"title": title, "rows": [], "style": row.verdict},
        ):
            layer.features.append({"type": "Feature", "id": str(len(layer.features)), "geometry": geojson(line, frame),
                                   "properties": properties})  # fmt: skip
        if row.verdict == "blocked":
            count = int(np.clip(round(line.length / CROSS_M), 1, 40))
            at = [line.interpolate((k + 0.5) / count, normalized=True) for k in range(count)]
            found = frame.to_lonlat(np.array([[point.x, point.y] for point in at]))
            crosses += [[round(float(lon), 7), round(float(lat), 7)] for lon, lat in found]
    return layer, crosses
