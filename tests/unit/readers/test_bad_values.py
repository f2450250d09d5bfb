"""One wrong value at a time: named by file, layer, feature and field, with what is allowed."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from tests.builders import area, collection, good_layers, line, point, road, write_site
from tests.unit.readers.reading import faults_of, places_of

ROAD = [(0, 0, 100), (60, 0, 101)]


def bare(layer: str, shape: str, coordinates: Any, **values: Any) -> dict[str, Any]:
    """Give a site with one feature of a raw geometry in one layer."""
    return {layer: [{"properties": {"id": "x"} | values, "geometry": {"type": shape, "coordinates": coordinates}}]}


# name: (layers laid over the good site, layer feature field, part of the message, part of what is allowed)
ONE_FAULT: dict[str, tuple[dict[str, Any], str, str, str]] = {
    "text for a number": (
        {"places": [point("p", (0, 0), kind="gate", slope_pct="4.5")]}, "places p slope_pct",
        "text where a number is due", "-100 to 100 %"),
    "flag for a number": (
        {"places": [point("p", (0, 0), kind="gate", turn_radius_m=True)]}, "places p turn_radius_m",
        "a number is due", "0 to 500 m"),
    "number for a flag": (
        {"places": [point("p", (0, 0), kind="gate", may_stop=1)]}, "places p may_stop", "true or false", ""),
    "text for a flag": (
        {"places": [point("p", (0, 0), kind="gate", may_stop="yes")]}, "places p may_stop", "true or false", ""),
    "negative depth": (
        {"edges": [line("e", [(0, 9), (9, 9)], kind="drop", depth_m=-2)]}, "edges e depth_m", "outside", "0 to"),
    "NaN value": (
        {"obstacles": [point("o", (0, 9), height_m=float("nan"))]}, "obstacles o height_m", "NaN", "0 to 300 m"),
    "infinite value": (
        {"obstacles": [point("o", (0, 9), height_m=float("inf"))]}, "obstacles o height_m", "infinite", ""),
    "a number beyond any": (
        {"obstacles": [point("o", (0, 9), height_m=10**400)]}, "obstacles o height_m", "infinite", ""),
    "half a level": (
        {"roads": [road("r2", ROAD, level=0.5)]}, "roads r2 level", "whole number", "-10 to 10"),
    "unlisted surface": (
        {"roads": [road("r2", ROAD, surface="tarmac")]}, "roads r2 surface", "not an allowed word", "asphalt"),
    "unlisted overhead": (
        {"overheads": [line("w", [(3, -9), (3, 9)], kind="cable")]}, "overheads w kind", "allowed", "power_line"),
    "a number for a word": (
        {"roads": [road("r2", ROAD, surface=3)]}, "roads r2 surface", "not an allowed word", "concrete"),
    "needed word missing": (
        {"places": [point("p", (0, 0))]}, "places p kind", "is needed", "pick_point"),
    "needed number missing": (
        {"edges": [line("e", [(0, 9), (9, 9)], kind="drop")]}, "edges e depth_m", "is needed", ""),
    "unlisted method": (
        {"roads": [road("r2", ROAD, width_m_method="guessed")]}, "roads r2 width_m_method", "allowed", "told"),
    "not_looked_at no layer": (
        {"roads": [road("r2", ROAD, not_looked_at="people, wires")]}, "roads r2 not_looked_at", "not a layer",
        "overheads"),
    "time without offset": (
        {"closures": [area("c", [(0, 9), (9, 9), (9, 0)], closed_from="2026-05-04T07:00:00")]},
        "closures c closed_from", "offset", "+02:00"),
    "time on no day": (
        {"closures": [area("c", [(0, 9), (9, 9), (9, 0)], closed_from="2026-02-30T07:00:00Z")]},
        "closures c closed_from", "not a time", "RFC 3339"),
    "closure backwards": (
        {"closures": [area("c", [(0, 9), (9, 9), (9, 0)], closed_from="2026-05-04T07:00Z",
                           closed_until="2026-05-04T08:30+02:00")]},
        "closures c closed_until", "ends before it starts", ""),
    "date on no day": (
        {"ground": [area("g", [(0, 9), (9, 9), (9, 0)], valid_until="2026-13-01")]}, "ground g valid_until",
        "not a date", "YYYY-MM-DD"),
    "clock past midnight": (
        {"people": [area("p", [(0, 9), (9, 9), (9, 0)], kind="public", from_time="24:00", until_time="06:00")]},
        "people p from_time", "time of day", "23:59"),
    "hours without end": (
        {"people": [area("p", [(0, 9), (9, 9), (9, 0)], kind="public", from_time="07:00")]},
        "people p until_time", "one end", "both"),
    "day unknown": (
        {"people": [area("p", [(0, 9), (9, 9), (9, 0)], kind="public", days="mon moon")]}, "people p days",
        "days of the week", "sun"),
    "road unknown": (
        {"limits": [point("g", (9, 0), kind="posted", speed_kmh=10, road="r9")]}, "limits g road", "no such road",
        "r1, r2"),
    "bridge without load": (
        {"limits": [point("b", (9, 0), kind="bridge", width_m=4)]}, "limits b kind", "without what it allows",
        "gross_kg or axle_kg or wheel_kg"),
    "gateway without width": (
        {"limits": [point("b", (9, 0), kind="gateway", height_m=4)]}, "limits b width_m", "without", "width_m"),
    "empty sign": ({"limits": [point("b", (9, 0), kind="posted")]}, "limits b kind", "posted", "speed_kmh"),
    "1 and text 1": (
        {"obstacles": [point(1, (9, 9)), point("1", (8, 8))]}, "obstacles 1 id", "used twice (features 1 and 2)", ""),
    "no id": ({"obstacles": [point("", (9, 9))]}, "obstacles #1 id", "is needed", ""),
    "id a flag": ({"obstacles": [point(True, (9, 9))]}, "obstacles #1 id", "cannot be an id", "text"),
    "point for a road": (bare("edges", "Point", [15, 48.7], kind="drop", depth_m=1), "edges x geometry", "wrong",
                         "LineString"),
    "several parts": (bare("edges", "MultiLineString", [[[15, 48.7], [15.001, 48.7]]] * 2, kind="drop", depth_m=1),
                      "edges x geometry", "of 2 parts", "one part"),
    "one-point line": (bare("edges", "LineString", [[15, 48.7]], kind="drop", depth_m=1), "edges x geometry",
                       "fewer than two", "two"),
    "line of no length": (bare("edges", "LineString", [[15, 48.7]] * 3, kind="drop", depth_m=1),
                          "edges x geometry", "no length", ""),
    "metres as degrees": (bare("obstacles", "Point", [500000.0, 5400000.0]), "obstacles x crs", "metres", "±180"),
    "NaN coordinate": (bare("obstacles", "Point", [15, float("nan")]), "obstacles x geometry", "NaN", "finite"),
    "infinite coordinate": (bare("obstacles", "Point", [float("inf"), 48]), "obstacles x geometry", "infinite", ""),
    "text coordinate": (bare("obstacles", "Point", ["15", 48.7]), "obstacles x geometry", "not a number", ""),
    "four numbers": (bare("obstacles", "Point", [15, 48.7, 1, 2]), "obstacles x geometry", "not a position", "three"),
    "flat list": (bare("edges", "LineString", [15, 48.7], kind="drop", depth_m=1), "edges x geometry",
                  "not those of a LineString", ""),
    "height of the moon": (bare("roads", "LineString", [[15, 48.7, -9999], [15.001, 48.7, 100]]),
                           "roads x geometry", "no such height", "9000"),
    "open ring": (bare("ground", "Polygon", [[[15, 48.7], [15.001, 48.7], [15.001, 48.701]]]), "ground x geometry",
                  "not closed", ""),
    "crossed ring": (
        bare("ground", "Polygon", [[[15, 48.7], [15.001, 48.701], [15.001, 48.7], [15, 48.701], [15, 48.7]]]),
        "ground x geometry", "Self-intersection", ""),
    "column in capitals": (
        {"roads": [road("r2", ROAD, ONE_WAY="along")]}, "roads r2 ONE_WAY", "written otherwise", "one_way"),
    "column with a blank": (
        {"roads": [road("r2", ROAD, **{"Not looked-at": "overheads"})]}, "roads r2 Not looked-at",
        "written otherwise", "not_looked_at"),
    "column cut to ten": (
        {"roads": [road("r2", ROAD, speed_limi=10)]}, "roads r2 speed_limi", "written otherwise", "speed_limit_kmh"),
    "null geometry": ({"obstacles": [{"properties": {"id": "x"}, "geometry": None}]}, "obstacles x geometry",
                      "no geometry", "Point"),
    "span of three": (
        {"overheads": [line("w", [(3, -9), (3, 0), (3, 9)], kind="wire", attach_a_m=108, attach_b_m=108)]},
        "overheads w attach_a_m", "no span", "2 vertices"),
}  # fmt: skip


@pytest.mark.parametrize("name", ONE_FAULT)
def test_one_fault_is_named(tmp_path: Path, name: str) -> None:
    layers, where, message, allowed = copy.deepcopy(ONE_FAULT[name])
    if "roads" in layers:
        layers |= {"roads": [road("r1", ROAD), *layers["roads"]], "limits": []}
    raw = {layer: features for layer, features in layers.items() if any("type" not in f for f in features[-1:])}
    folder = write_site(tmp_path / "s", **(good_layers() | {k: v for k, v in layers.items() if k not in raw}))
    for layer, features in raw.items():
        items = [collection([f])["features"][0] if "type" in f else {"type": "Feature"} | f for f in features]
        (folder / f"{layer}.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": items}))
    layer, feature, field = where.split(" ", 2)
    found = faults_of(folder)
    assert places_of(found) == [(f"{layer}.geojson", layer, feature, field)]
    assert message in found[0].message
    assert allowed in found[0].allowed
