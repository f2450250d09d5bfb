"""The route map: one HTML file that needs no network.

Everything people typed passes through the template's escaping or stands in a data block that the script sets as text;
the page's own content policy allows just the scripts that were written into it, by digest.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from concurrent.futures import Future, ThreadPoolExecutor
from importlib.resources import files
from typing import Any

import numpy as np

from travel.domain.plan import TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.site import Site
from travel.writers.geo import Floats, Frame, TripPath, frame_of, names_of, stretch_xy, trip_path, where_xy
from travel.writers.hillshade import Shade, hillshade
from travel.writers.map_features import MapLayer, labels_of, place_labels, site_layers
from travel.writers.map_rig import rig_layer
from travel.writers.map_way import (
    arrows,
    flag_marks,
    moves_layer,
    nearest_labels,
    positions,
    stop_marks,
    stretch_layer,
    swept_layer,
    way_layer,
)
from travel.writers.offline_map import DrawnMap, draw, leaflet_script, leaflet_style
from travel.writers.page_lists import page_lists
from travel.writers.svg_marks import arrow_svg, flag_svg, stop_svg, swatch_svg
from travel.writers.svg_profile import draw_profile
from travel.writers.text import upright

_SCRIPT = re.compile(r"<script>(.*?)</script>", re.S)
_NUMBER_UNIT = re.compile(r"(\d) (?=(?:m|%|kg|km/h|s|min|h|kPa|kN|kW|kV|t|m/s|°C)(?![\w/]))")
_MARGIN_M = 12.0
_EMPTY = {"arrows": "Direction arrows", "labels": "Names", "flags": "Flags", "stops": "Stops"}


def map_page(plan: TravelPlan, site: Site, rulebook: Rulebook) -> str:
    """Give the whole page of a plan on its site; sentences come from the rulebook's patterns."""
    frame = frame_of(site)
    with ThreadPoolExecutor(max_workers=1) as aside:
        shade = aside.submit(hillshade, site, frame)  # arrays and packing, which let other threads run
        template = page_environment().get_template("page.html.j2")
        lists = page_lists(plan, rulebook, names_of(site))
        profiles = [drawing for item in plan.profile if (drawing := draw_profile(plan, item)) is not None]
        paths = [path for trip in plan.trips if (path := trip_path(plan, trip.trip, frame)) is not None]
        box = way_box(plan, site, frame, paths)
        drawn, data = _map(plan, site, frame, paths, (box, shade))
    html = template.render(
        plan=plan,
        lists=lists,
        profiles=profiles,
        data=data_block(data),
        container=drawn.container,
        shown=set(drawn.groups),
        leaflet_css=leaflet_style(),
        page_css=asset("page.css"),
        scripts=[leaflet_script(), drawn.script, asset("page.js")],
        has_back=any(path.trip == "back" for path in paths),
        has_swept=any(turn.swept_lonlat for turn in plan.turns),
    )
    return with_policy(html)


def _map(
    plan: TravelPlan, site: Site, frame: Frame, paths: list[TripPath], about: tuple[Floats, Future[Shade | None]]
) -> tuple[DrawnMap, dict[str, Any]]:
    """Give the drawn map and the data behind it; ``about``: the corners of what it shows, and the terrain's picture."""
    box, shade = about
    offset_m = float(np.clip(0.006 * np.ptp(box, axis=0).max(), 0.8, 1.5)) if len(paths) > 1 else 0.0
    layers = site_layers(site, frame, {leg.road for leg in plan.legs}, box)
    crosses: list[list[float]] = []
    flagged, found = stretch_layer(plan, site, frame)
    crosses += found
    swept = swept_layer(plan)
    ways: list[MapLayer] = [layer for layer in (swept, flagged) if layer is not None and layer.features]
    marks: list[dict[str, Any]] = []
    for path in reversed(paths):
        layer, found = way_layer(plan, path, frame, offset_m)
        ways.append(layer)
        crosses += found
        marks += arrows(path, frame, offset_m, back=path.trip in ("back", "leave"))
    places = {place for stop in plan.stops if (place := stop.place)} | {t.place for t in plan.turns if t.place}
    places |= {name for trip in plan.trips for name in (trip.from_place, trip.to_place)}
    corners = frame.to_lonlat(box)
    bounds = [
        [float(corners[:, 1].min()), float(corners[:, 0].min())],
        [float(corners[:, 1].max()), float(corners[:, 0].max())],
    ]
    below = [layer for layer in layers if layer.key != "limits"]
    above = [layer for layer in layers if layer.key == "limits"]
    rig = rig_layer(plan, site, frame)
    above += [layer for layer in (rig, moves_layer(plan)) if layer is not None]
    drawn = draw([*below, *ways, *above], shade.result(), bounds, _EMPTY)
    data = {
        "bounds": bounds,
        "groups": drawn.groups,
        "about": drawn.about,
        "beside": {drawn.drawn[path.trip]: round(offset_m, 2) for path in paths},
        "flags": flag_marks(plan, site, frame),
        "stops": stop_marks(plan, site, frame),
        "labels": [
            *nearest_labels(plan, site, frame),
            *place_labels(site, frame, places),
            *labels_of(site, frame, box, way_shape(plan, site, paths)),
        ],
        "arrows": marks,
        "crosses": crosses,
        "trips": [positions(plan, path, frame) for path in paths],
    }
    return drawn, data


def way_shape(plan: TravelPlan, site: Site, paths: list[TripPath]) -> Any:
    """Give what is driven or flagged as one geometry, or None."""
    import shapely

    lines = [path.xy for path in paths]
    lines += [xy for finding in plan.findings if (xy := stretch_xy(finding.where, site)) is not None]
    return shapely.union_all(np.array([shapely.LineString(xy) for xy in lines], dtype=object)) if lines else None


def way_box(plan: TravelPlan, site: Site, frame: Frame, paths: list[TripPath]) -> Floats:
    """Give the corners [m] of what the plan is about: ways, flags, places asked for; else the whole site."""
    points = [path.xy for path in paths]
    for finding in plan.findings:
        point = where_xy(finding.where, site, frame)
        stretch = stretch_xy(finding.where, site) if finding.leg is None else None
        points += [np.array([point])] if point is not None else []
        points += [stretch] if stretch is not None else []
    places = site.layers.get("places")
    for name in (plan.request.get("from"), plan.request.get("to")):
        if places is not None and name in places.ids:
            geometry = places.geometry[places.index(str(name))]
            points.append(np.array([[geometry.x, geometry.y]]))
    if not points:
        points = [_site_corners(site)]
    every = np.vstack(points)
    low, high = every.min(axis=0) - _MARGIN_M, every.max(axis=0) + _MARGIN_M
    return np.array([[low[0], low[1]], [low[0], high[1]], [high[0], low[1]], [high[0], high[1]]])


def _site_corners(site: Site) -> Floats:
    import shapely

    shapes = [layer.geometry for layer in site.layers.values() if len(layer)]
    if not shapes:
        raise ValueError("a site without a single feature cannot be drawn")
    bounds = shapely.total_bounds(np.concatenate(shapes))
    return np.array([bounds[:2], bounds[2:]])


def page_environment() -> Any:
    """Give the templates of the pages: everything escaped, nothing undefined."""
    import jinja2

    loader = jinja2.FunctionLoader(asset)
    environment = jinja2.Environment(
        loader=loader,
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=kept_together,
    )
    environment.globals.update(flag_svg=flag_svg, stop_svg=stop_svg, swatch_svg=swatch_svg, arrow_svg=arrow_svg)
    return environment


def kept_together(value: object) -> object:
    """Keep a number and its unit on one line, and what people typed from turning the line round."""
    return _NUMBER_UNIT.sub("\\1\u00a0", upright(value)) if type(value) is str else value


def asset(name: str) -> str:
    """Give a file that is shipped with the writers."""
    return (files("travel.writers") / "assets" / name).read_text("utf-8")


def data_block(data: dict[str, Any]) -> str:
    """Give JSON that cannot end the element it stands in."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for char in "<>&\u2028\u2029":
        text = text.replace(char, f"\\u{ord(char):04x}")
    return text


def with_policy(html: str) -> str:
    """Put the content policy into the page: nothing from outside, only the scripts that stand in it."""
    digests = [
        "'sha256-" + base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii") + "'"
        for script in _SCRIPT.findall(html)
    ]
    policy = (
        f"default-src 'none'; script-src {' '.join(digests)}; style-src 'unsafe-inline'; img-src data:; "
        "form-action 'none'; base-uri 'none'"
    )
    return html.replace("@@POLICY@@", policy, 1)
