"""A hopeless site, repaired one fault at a time."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import numpy as np

from tests.builders import good_layers, point, write_layer, write_site, write_terrain
from tests.unit.readers.reading import WORDS, faults_of
from travel.readers.site import read_site

Place = tuple[str, str]


GOOD = good_layers()
BAD_HEADER: dict[str, Any] = {
    "crs": "EPSG:3857",
    "timezone": "Nowhere/Town",
    "jurisdiction": "xx",
    "colour": "red",
    "surveyed": {"skies": "2026-03-02"},
    "weather": {"ground": "soggy"},
}
BAD_VALUES: list[tuple[str, int, str, Any]] = [
    ("roads", 0, "width_m", "5"),
    ("roads", 0, "surface", "tarmac"),
    ("roads", 1, "cross_slope_pct", 400),
    ("roads", 1, "lit", "yes"),
    ("roads", 1, "not_looked_at", ["skies"]),
    ("places", 0, "kind", "door"),
    ("places", 0, "may_stop", 1),
    ("limits", 0, "width_m", None),
    ("limits", 0, "road", "r9"),
    ("people", 0, "until_time", None),
    ("people", 0, "days", "noday"),
    ("closures", 0, "closed_until", "2026-05-05T07:00:00"),
]
SURVEYED = {"surveyed.skies": "surveyed", "weather.ground": "weather"}


def broken(layers: dict[str, Any]) -> dict[str, Any]:
    """Give the good layers with everything wrong that the table lists."""
    for layer, row, field, value in BAD_VALUES:
        layers[layer][row]["properties"][field] = value
    layers["places"].append(point("pick", (1, 1), kind="gate"))
    layers["overheads"][0]["geometry"] = {"type": "LineString", "coordinates": [[30, -20]]}
    return layers


def found(folder: Path) -> set[Place]:
    """Give file and field of each fault; no fault is told twice."""
    faults = faults_of(folder)
    places = {(fault.file, fault.field) for fault in faults}
    assert len(places) == len(faults)
    return places


def mend(layers: dict[str, Any], place: Place) -> str:
    """Repair one fault in the layers; give the layer."""
    layer, field = place[0].removesuffix(".geojson"), place[1]
    if field == "id":
        layers[layer].pop()
    elif field == "geometry":
        layers[layer][0]["geometry"] = copy.deepcopy(GOOD[layer][0]["geometry"])
    else:
        row = next(row for name, row, column, _ in BAD_VALUES if (name, column) == (layer, field))
        good = GOOD[layer][row]["properties"].get(field)
        layers[layer][row]["properties"][field] = good
    return layer


def test_a_hopeless_site_repaired_one_fault_at_a_time(tmp_path: Path) -> None:
    """Everything wrong is told at once; each repair takes away its own fault and brings no new one."""
    layers, header = broken(copy.deepcopy(GOOD)), BAD_HEADER | {}
    folder = write_site(tmp_path / "s", header=header, **layers)
    left = found(folder)
    in_header = {("site.toml", name) for name in ("crs", "timezone", "jurisdiction", "colour", *SURVEYED)}
    in_layers = {(f"{layer}.geojson", field) for layer, _, field, _ in BAD_VALUES}
    assert left == in_header | in_layers | {("places.geojson", "id"), ("overheads.geojson", "geometry")}
    for place in sorted(left):
        if place[0] == "site.toml":
            header.pop(SURVEYED.get(place[1], place[1]))
            write_site(folder, header=header)
        else:
            layer = mend(layers, place)
            write_layer(folder, layer, layers[layer])
        assert found(folder) == left - {place}
        left = left - {place}
    assert read_site(folder, WORDS).doubts == ()


def test_terrain_is_read_beside_other_faults(tmp_path: Path) -> None:
    """A header that stands brings its terrain's faults along with the layers' faults."""
    folder = write_site(tmp_path / "s", header={"terrain": {"file": "dem.tif"}}, **broken(copy.deepcopy(GOOD)))
    assert {("dem.tif", ""), ("roads.geojson", "surface")} < found(folder)
    write_terrain(folder / "dem.tif", np.full((60, 60), 100.0), -20, 90, 2.0)
    assert ("dem.tif", "") not in found(folder)
