"""Bad headers, files and terrain: each fault named."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.builders import good_layers, write_site, write_terrain
from tests.unit.readers.reading import faults_of, places_of

HEADER_FAULTS: dict[str, tuple[dict[str, Any], str, str, str]] = {
    "newer format": ({"format": 2}, "format", "written by a newer program", "1"),
    "format as text": ({"format": "1"}, "format", "not an allowed value", "1"),
    "no name": ({"name": None}, "name", "is needed", ""),
    "unknown key": ({"heightdatum": "x"}, "heightdatum", "unknown key", "height_datum"),
    "key without unit": ({"tolerance": {"width": 0.1}}, "tolerance.width", "without a unit", "width_m"),
    "text tolerance": ({"tolerance": {"width_m": "0.1"}}, "tolerance.width_m", "text where a number", "a number"),
    "negative tolerance": ({"tolerance": {"width_m": -0.1}}, "tolerance.width_m", "outside", "at least 0"),
    "degrees": ({"crs": "EPSG:4326"}, "crs", "not a projected crs", "metres"),
    "feet": ({"crs": "EPSG:2263"}, "crs", "US survey foot", "metres"),
    "south and west": ({"crs": "EPSG:2053"}, "crs", "east and north", ""),
    "no crs": ({"crs": "EPSG:999999"}, "crs", "not a known crs", "EPSG:32633"),
    "blank crs": ({"crs": " "}, "crs", "not a known crs", "EPSG:32633"),
    "stretched": ({"crs": "EPSG:3857"}, "crs", "not true to length", "1/1000"),
    "next zone but one": ({"crs": "EPSG:32631"}, "crs", "not true to length", "1/1000"),
    "timezone": ({"timezone": "Mars/Base"}, "timezone", "not a known time zone", ""),
    "timezone a folder": ({"timezone": "Europe"}, "timezone", "not a known time zone", ""),
    "jurisdiction": ({"jurisdiction": "fr"}, "jurisdiction", "not an allowed word", "us, gb, eu, au, none"),
    "ground": ({"weather": {"ground": "soggy"}}, "weather.ground", "not an allowed word", "wet"),
    "surveyed what": ({"surveyed": {"wires": "2026-03-02"}}, "surveyed.wires", "not a layer", "overheads"),
    "surveyed road": ({"surveyed": {"people": {"date": "2026-03-02", "roads": ["r7"]}}}, "surveyed.people.roads", "no",
                      "r1, r2"),
    "surveyed date": ({"surveyed": {"people": {"date": "2026-02-30"}}}, "surveyed.people.date", "date", "YYYY"),
    "survey lapses first": ({"surveyed": {"people": {"date": "2026-03-02", "until": "2026-03-01"}}},
                            "surveyed.people.until", "ends before", "later"),
    "absolute terrain": ({"terrain": {"file": "/dem.tif"}}, "terrain.file", "inside the site", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", HEADER_FAULTS)
def test_header_fault_is_named(tmp_path: Path, name: str) -> None:
    header, field, message, allowed = HEADER_FAULTS[name]
    found = faults_of(write_site(tmp_path / "s", header=header, **good_layers()))
    assert places_of(found) == [("site.toml", "", "", field)]
    assert message in found[0].message
    assert allowed in found[0].allowed


FILE_FAULTS: dict[str, tuple[str, str | bytes | None, str, str]] = {
    "no header": ("site.toml", None, "", "file not found"),
    "bad TOML": ("site.toml", "format = 1\nname = \n", "", "not valid TOML at line 2"),
    "header not UTF-8": ("site.toml", b"name = 1\n# \xff\n", "", "not UTF-8 text (line 2)"),
    "no roads": ("roads.geojson", None, "", "the site has no roads"),
    "empty roads": ("roads.geojson", '{"type": "FeatureCollection", "features": []}', "", "the layer is empty"),
    "cut off": ("roads.geojson", '{"type": "FeatureCollection",\n "features": [{"type": ', "", "cut off at line 2"),
    "not JSON": ("people.geojson", '{"type": "FeatureCollection",\n x}', "", "not valid JSON at line 2, column 2"),
    "empty file": ("people.geojson", "", "", "cut off at line 1"),
    "a bare feature": ("people.geojson", '{"type": "Feature"}', "type", "not a GeoJSON FeatureCollection"),
    "null": ("people.geojson", "null", "", "not a GeoJSON FeatureCollection"),
    "no list": ("people.geojson", '{"type": "FeatureCollection", "features": {}}', "features", "a list of features"),
    "no feature": ("people.geojson", '{"type": "FeatureCollection", "features": [3]}', "", "not a GeoJSON Feature"),
    "foreign crs": (
        "people.geojson",
        '{"type": "FeatureCollection", "features": [], "crs": {"properties": {"name": "EPSG:32633"}}}',
        "crs", "another crs is refused"),
    "key twice": (
        "people.geojson", '{"type": "Feature", "features": [], "type": "FeatureCollection"}', "type", "written twice"),
    "half a character": (
        "people.geojson", '{"type": "FeatureCollection", "features": [], "name": "\\ud83d"}', "", "half a character"),
    "deep": ("people.geojson", "[" * 100000, "", "too deep"),
    "misspelt layer": ("overhead.geojson", '{"type": "FeatureCollection", "features": []}', "", "not a layer name"),
    "other ending": ("people.json", "{}", "", "another ending"),
    "ending in capitals": ("people.GeoJSON", "{}", "", "another ending"),
    "JSON in capitals": ("obstacles.JSON", "{}", "", "another ending"),
    "ending hidden behind another": ("obstacles.geojson.txt", "{}", "", "another ending"),
    "layer of another program": ("obstacles.shp", "x", "", "another ending"),
    "amendments": ("amendments.json", "[]", "", "amendments"),
}  # fmt: skip


@pytest.mark.parametrize("name", FILE_FAULTS)
def test_file_fault_is_named(tmp_path: Path, name: str) -> None:
    file, content, field, message = FILE_FAULTS[name]
    folder = write_site(tmp_path / "s", **good_layers())
    if content is None:
        (folder / file).unlink()
    else:
        (folder / file).write_bytes(content.encode() if isinstance(content, str) else content)
    found = [fault for fault in faults_of(folder) if fault.message != "no such road"]
    assert [(fault.field, message in fault.message) for fault in found] == [(field, True)]
    assert found[0].file == ("s" if name == "no roads" else file)
    assert str(tmp_path) not in found[0].text()


UNREAD = [
    "people.zip",
    "people.gz",
    "people.dbf",
    "people.txt",
    "people.geojson~",
    "people_2026-03-02.geojson",
    "a people",
]


@pytest.mark.parametrize("name", UNREAD)
def test_a_layer_looked_for_is_not_taken_for_empty_where_a_file_bears_its_name(tmp_path: Path, name: str) -> None:
    header = {"surveyed": {"people": "2026-03-02"}}
    folder = write_site(tmp_path / "s", header=header, **good_layers() | {"people": [], "overheads": []})
    (folder / "people.geojson").rename(folder / name)
    (fault,) = (fault for fault in faults_of(folder) if "bears its name" in fault.message)
    assert (fault.file, fault.field, name in fault.value) == ("site.toml", "surveyed.people", True)
    (folder / name).rename(folder / "people seen from the gate.jpg")
    assert faults_of(folder) == ()
    write_site(folder, header=header, **good_layers())
    (folder / "people_2026-03-02.geojson").write_text("an old one")
    (folder / "._people.geojson").write_bytes(b"\0\5\x16\7")
    assert faults_of(folder) == ()


@pytest.mark.parametrize(
    ("leads_to", "says"), [("nowhere", "a link to a file that is not there"), ("people.geojson", "cannot be read")]
)
def test_a_layer_that_is_a_link_to_nothing_is_not_taken_for_empty(tmp_path: Path, leads_to: str, says: str) -> None:
    folder = write_site(tmp_path / "s", **good_layers())
    (folder / "people.geojson").unlink()
    (folder / "people.geojson").symlink_to(leads_to)
    assert [(f.file, f.layer, says in f.message) for f in faults_of(folder)] == [("people.geojson", "people", True)]


def test_what_a_layer_was_made_of_may_stand_beside_it(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "s", **good_layers())
    for name in ("roads.shp", "roads.csv", "notes.txt", "photo.JPG"):
        (folder / name).write_text("x")
    assert faults_of(folder) == ()


def test_a_character_escaped_as_a_pair_is_whole(tmp_path: Path) -> None:
    layers = good_layers()
    layers["roads"][0]["properties"]["name"] = "\U0001f6a7"
    folder = write_site(tmp_path / "s", **layers)
    assert "\\ud83d\\udea7" in (folder / "roads.geojson").read_text()
    assert faults_of(folder) == ()


def test_crs_member_that_says_what_holds_anyway(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "s", **good_layers())
    content = json.loads((folder / "roads.geojson").read_text())
    content["crs"] = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    (folder / "roads.geojson").write_text(json.dumps(content))
    assert faults_of(folder) == ()


@pytest.mark.parametrize(("name", "says"), [("none", "site not found"), ("file.txt", "not a site")])
def test_what_is_no_site(tmp_path: Path, name: str, says: str) -> None:
    (tmp_path / "file.txt").write_text("x")
    assert [fault.message for fault in faults_of(tmp_path / name)] == [says]


def test_a_folder_above_the_site_says_where_the_site_is(tmp_path: Path) -> None:
    write_site(tmp_path / "works" / "site", **good_layers())
    (tmp_path / "empty").mkdir()
    (fault,) = faults_of(tmp_path / "works")
    assert "neither site.toml nor a layer" in fault.message
    assert str(tmp_path / "works" / "site") in fault.allowed
    (fault,) = faults_of(tmp_path / "works" / "sitte")
    assert fault.message == "site not found"
    assert str(tmp_path / "works" / "site") in fault.allowed
    (fault,) = faults_of(tmp_path / "empty")
    assert "travel schema site" in fault.allowed
    assert "here:" not in fault.allowed


TERRAIN_FAULTS: dict[str, tuple[Callable[[Path], object], str, str]] = {
    "missing": (lambda path: None, "", "file not found"),
    "no GeoTIFF": (lambda path: path.write_bytes(b"height 100"), "", "not a readable GeoTIFF"),
    "another crs": (lambda path: write_terrain(path, np.ones((9, 9)), 0, 9, 1, crs="EPSG:32634"), "crs", "site's crs"),
    "no crs": (lambda path: write_terrain(path, np.ones((9, 9)), 0, 9, 1, crs=None), "crs", "no crs"),
    "two bands": (lambda path: write_terrain(path, np.ones((9, 9)), 0, 9, 1, count=2), "bands", "not one band"),
    "south up": (lambda path: write_terrain(path, np.ones((9, 9)), 0, 9, -1), "transform", "north-up"),
    "void": (lambda path: write_terrain(path, np.full((9, 9), -9999.0), 0, 9, 1), "heights", "no height"),
    "void not declared": (
        lambda path: write_terrain(path, np.full((9, 9), -9999.0), 0, 9, 1, nodata=None), "heights", "no such height"),
    "feet": (lambda path: write_feet(path), "units", "not in metres"),
}  # fmt: skip


def write_feet(path: Path) -> None:
    import rasterio

    write_terrain(path, np.ones((9, 9)), 0, 9, 1)
    with rasterio.open(path, "r+") as grid:
        grid.units = ["ft"]


@pytest.mark.parametrize("name", TERRAIN_FAULTS)
def test_terrain_fault_is_named(tmp_path: Path, name: str) -> None:
    write, field, message = TERRAIN_FAULTS[name]
    folder = write_site(tmp_path / "s", header={"terrain": {"file": "dem.tif"}}, **good_layers())
    write(folder / "dem.tif")
    found = faults_of(folder)
    assert [(fault.file, fault.field, message in fault.message) for fault in found] == [("dem.tif", field, True)]
    if name == "another crs":
        assert "34N" in found[0].value
        assert "33N" in found[0].allowed


def test_terrain_cut_off(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "s", header={"terrain": {"file": "dem.tif"}}, **good_layers())
    path = write_terrain(folder / "dem.tif", np.random.default_rng(1).random((200, 200)), 0, 200, 1)
    path.write_bytes(path.read_bytes()[:2000])
    assert ["not a readable GeoTIFF" in fault.message for fault in faults_of(folder)] == [True]


def test_longitude_and_latitude_swapped_is_asked_about(tmp_path: Path) -> None:
    site = write_site(tmp_path / "s", **good_layers())
    assert not [fault for fault in faults_of(site) if fault.field == "crs"]
    for layer in site.glob("*.geojson"):
        content = json.loads(layer.read_text("utf-8"))
        for feature in content["features"]:
            feature["geometry"]["coordinates"] = _swapped(feature["geometry"]["coordinates"])
        layer.write_text(json.dumps(content), "utf-8")
    (found,) = faults_of(site)
    assert "are longitude and latitude swapped?" in found.message


def test_the_layer_that_lies_elsewhere_is_named(tmp_path: Path) -> None:
    site = write_site(tmp_path / "s", **good_layers())
    for name in ("people", "overheads"):
        content = json.loads((site / f"{name}.geojson").read_text("utf-8"))
        for feature in content["features"]:
            feature["geometry"]["coordinates"] = _swapped(feature["geometry"]["coordinates"])
        (site / f"{name}.geojson").write_text(json.dumps(content), "utf-8")
    (found,) = faults_of(site)
    assert "only overheads, people lies there" in found.message
    assert "are longitude and latitude swapped?" in found.message


def _swapped(coordinates: Any) -> Any:
    if isinstance(coordinates[0], list):
        return [_swapped(part) for part in coordinates]
    return [coordinates[1], coordinates[0], *coordinates[2:]]
