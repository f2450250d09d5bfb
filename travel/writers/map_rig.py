"""Where the rig stands, its ramps and the machine's run-off, drawn on the map."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from travel.domain.plan import TravelPlan
from travel.domain.site import Site
from travel.writers.geo import Floats, Frame
from travel.writers.haul_words import HEADING, place_lines
from travel.writers.map_features import Feature, MapLayer, Style

STYLES: dict[str, Style] = {
    "rig": {"color": "#1c1c1c", "weight": 2.5, "lineCap": "butt"},
    "run_off": {"color": "#1c1c1c", "weight": 2, "dashArray": "3 4", "lineCap": "butt"},
}
"""The rig's outline is a whole line, that of ramps and run-off is dashed."""


def rig_layer(plan: TravelPlan, site: Site, frame: Frame) -> MapLayer | None:
    """Give the strip of the place chosen (or of the best one looked at); None where it is not known."""
    stand: dict[str, Any] = dict((plan.unloading or {}).get("stand") or {})
    needed = ("place", "heading_deg", "run_off_from_m", "tail_at_m", "nose_at_m", "width_m")
    places = site.layers.get("places")
    if places is None or any(stand.get(key) is None for key in needed) or stand["place"] not in places.ids:
        return None
    point = places.geometry[places.index(str(stand["place"]))]
    far, tail, nose = (float(stand[key]) for key in ("run_off_from_m", "tail_at_m", "nose_at_m"))
    beyond = (far, tail) if far < tail else (nose, far)
    heading = math.radians(90.0 - float(stand["heading_deg"]))
    layer = MapLayer("rig", HEADING, [], STYLES)
    said = place_lines(plan)
    for style, title, ends in (
        ("run_off", "Ramps and run-off", beyond),
        ("rig", "The rig", (tail, nose)),
    ):
        ring = frame.to_lonlat(_ring((point.x, point.y), heading, ends, float(stand["width_m"])))
        rows = [["at", said[0]], ["room", said[2]]] if style == "rig" and len(said) > 2 else []
        layer.features.append(_outline(len(layer.features), ring, {"title": title, "rows": rows, "style": style}))
    return layer


def _ring(at: tuple[float, float], heading_rad: float, ends: tuple[float, float], width_m: float) -> Floats:
    along = np.array([math.cos(heading_rad), math.sin(heading_rad)])
    left = np.array([-along[1], along[0]]) * width_m / 2.0
    first, last = (np.array(at) + along * end for end in ends)
    return np.array([first - left, last - left, last + left, first + left, first - left])


def _outline(number: int, lonlat: Floats, properties: dict[str, Any]) -> Feature:
    line = [[round(float(lon), 7), round(float(lat), 7)] for lon, lat in lonlat]
    return {
        "type": "Feature",
        "id": str(number),
        "geometry": {"type": "LineString", "coordinates": line},
        "properties": properties,
    }
