"""A folium map that needs no network: the library's files go into the page, no link is left.

folium draws the layers; its own page, its links to other people's servers and its plugins are not used. It reads
every script it has made as a template once more, so no text that people typed may pass through it: it gets shapes,
row numbers and names of styles, nothing else; titles and values reach the page by its data block.
Variable names are numbered so that the same plan gives the same page.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from travel.writers.folium_light import load_folium
from travel.writers.hillshade import Shade
from travel.writers.map_features import MapLayer

_COMMENT = re.compile(r"/\*.*?\*/", re.S)
_URL = re.compile(r"url\((?!#)[\"']?([^)\"']+)[\"']?\)")


@dataclass(frozen=True)
class DrawnMap:
    """The script that draws the map, the id of its container, and what the page's own script has to find.

    ``groups``: key of a layer → name of its group; ``drawn``: key → name of what is drawn in it; ``about``: that
    name → id of the feature → (title, rows).
    """

    script: str
    container: str
    groups: dict[str, str]
    drawn: dict[str, str]
    about: dict[str, dict[str, tuple[str, list[list[str]]]]]


def leaflet_script() -> str:
    """Give Leaflet's own script as released."""
    return str((_leaflet() / "leaflet.js").read_text("utf-8"))


def leaflet_style() -> str:
    """Give Leaflet's style sheet with its pictures written into it, remarks (which hold addresses) left out."""

    def inline(found: re.Match[str]) -> str:
        data = (_leaflet() / found[1]).read_bytes()
        return f"url(data:image/png;base64,{base64.b64encode(data).decode('ascii')})"

    style = (_leaflet() / "leaflet.css").read_text("utf-8")
    return _URL.sub(inline, _COMMENT.sub("", style))


def draw(layers: list[MapLayer], shade: Shade | None, bounds: list[list[float]], empty: dict[str, str]) -> DrawnMap:
    """Give the map as a script. ``bounds`` [[south, west], [north, east]]; ``empty`` names groups the page fills."""
    folium = load_folium()
    middle = [(bounds[0][axis] + bounds[1][axis]) / 2 for axis in (0, 1)]
    page_map = folium.Map(
        location=middle, tiles=None, zoom_start=17, attribution_control=False,
        zoom_snap=0.25, zoom_delta=0.5, wheel_px_per_zoom_level=120,
    )  # fmt: skip
    if shade is not None:
        picture = folium.raster_layers.ImageOverlay(
            image=shade.url, bounds=[list(corner) for corner in shade.bounds], name="Terrain", opacity=0.9
        )
        picture.add_to(page_map)
    groups: dict[str, Any] = {}
    drawn: list[tuple[Any, MapLayer]] = []
    for layer in layers:
        groups[layer.key] = folium.FeatureGroup(name=layer.title, show=layer.show).add_to(page_map)
        drawn.append((_geojson(layer).add_to(groups[layer.key]), layer))
    for key, title in empty.items():
        groups[key] = folium.FeatureGroup(name=title).add_to(page_map)
    folium.LayerControl(collapsed=True).add_to(page_map)
    return _rendered(page_map, groups, drawn)


def _geojson(layer: MapLayer) -> Any:
    folium = load_folium()
    marker = folium.CircleMarker(radius=7, weight=3)
    shapes = [feature | {"properties": {"style": feature["properties"]["style"]}} for feature in layer.features]
    data = {"type": "FeatureCollection", "features": shapes}
    styles = layer.styles
    return folium.GeoJson(
        data, style_function=lambda feature: styles[feature["properties"]["style"]], marker=marker, smooth_factor=0.5
    )


def _rendered(page_map: Any, groups: dict[str, Any], drawn: list[tuple[Any, MapLayer]]) -> DrawnMap:
    figure = page_map.get_root()
    figure.render()
    script = "".join(child.render() for child in figure.script._children.values())
    numbered = {element._id: str(number) for number, element in enumerate(_elements(page_map))}
    names = re.compile("|".join(numbered))

    def short(text: str) -> str:
        return names.sub(lambda found: numbered[found[0]], text)

    return DrawnMap(
        script=short(script),
        container=short(page_map.get_name()),
        groups={key: short(group.get_name()) for key, group in groups.items()} | {"map": short(page_map.get_name())},
        drawn={layer.key: short(item.get_name()) for item, layer in drawn},
        about={short(item.get_name()): _about(layer) for item, layer in drawn},
    )


def _about(layer: MapLayer) -> dict[str, tuple[str, list[list[str]]]]:
    """Give title and rows of the features that have any."""
    return {
        feature["id"]: (feature["properties"]["title"], feature["properties"]["rows"])
        for feature in layer.features
        if feature["properties"]["title"]
    }


def _elements(element: Any) -> Iterator[Any]:
    yield element
    marker = getattr(element, "marker", None)
    if marker is not None:
        yield marker
    for child in element._children.values():
        yield from _elements(child)


def _leaflet() -> Any:
    return files("js_lib_leaflet") / "static" / "js_lib_leaflet"
