"""A good site comes back as it was written, from a folder and from a GeoPackage alike."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from tests.builders import (
    CRS,
    HEADER,
    ORIGIN_M,
    area,
    collection,
    good_layers,
    line,
    point,
    road,
    toml,
    vocabulary,
    write_site,
    write_terrain,
)
from tests.unit.readers.reading import faults_of
from travel.domain.layers import LAYERS
from travel.domain.site import Site
from travel.errors import InputError
from travel.readers.site import read_site

WORDS = vocabulary()


def local(site: Site, layer: str, row: int) -> np.ndarray:
    xyz = shapely.get_coordinates(site.layers[layer].geometry[row], include_z=True)
    return xyz - [*ORIGIN_M, 0]


def test_values_geometry_and_digests_come_back(tmp_path: Path) -> None:
    site = read_site(write_site(tmp_path / "s", **good_layers()), WORDS)
    assert site.doubts == ()
    assert set(site.layers) == set(LAYERS)
    roads = site.layers["roads"]
    assert roads.ids == ("r1", "r2")
    assert roads.values(1) == {
        "id": "r2", "width_m": 5.0, "surface": "compacted_gravel", "lit": 1.0, "not_looked_at": ("people",),
    }  # fmt: skip
    assert np.isnan(roads.number("lit")[0])
    np.testing.assert_allclose(local(site, "roads", 1), [(60, 0, 101), (60, 40, 103), (80, 60, 103)], atol=1e-4)
    assert site.layers["limits"].method("width_m").tolist() == ["told"]
    assert site.layers["people"].text("days")[0] == "mon tue"
    assert site.layers["closures"].text("closed_from")[0] == "2026-05-04T07:00:00+02:00"
    assert len(site.layers["ground"]) == 0
    assert np.isnan(site.layers["ground"].number("bearing_kpa")).all()
    assert [(f.role, f.name) for f in site.inputs][:2] == [("site", "site.toml"), ("layer", "roads.geojson")]
    data = (tmp_path / "s" / "roads.geojson").read_bytes()
    assert site.inputs[1].sha256 == hashlib.sha256(data).hexdigest()
    with pytest.raises(ValueError, match="read-only"):
        roads.number("width_m")[0] = 9.0


def test_a_name_in_other_capitals_is_kept_and_stops_nothing(tmp_path: Path) -> None:
    layers = good_layers()
    layers["roads"][0]["properties"]["NAME"] = "haul road"
    roads = read_site(write_site(tmp_path / "s", **layers), WORDS).layers["roads"]
    assert next(iter(roads.extra["NAME"])) == "haul road"


def test_equal_by_digest_and_not_after_a_change(tmp_path: Path) -> None:
    layers = good_layers()
    one = read_site(write_site(tmp_path / "a", **layers), WORDS)
    two = read_site(write_site(tmp_path / "b", **layers), WORDS)
    layers["roads"][0]["properties"]["width_m"] = 4.9
    three = read_site(write_site(tmp_path / "c", **layers), WORDS)
    assert one == two
    assert one != three


def write_geopackage(path: Path, layers: dict[str, list[dict[str, Any]]], header: str | None, crs: str = CRS) -> Path:
    import geopandas as gpd
    import pandas as pd
    import pyogrio

    for name, features in layers.items():
        content = collection(features)
        for feature in content["features"]:
            if "not_looked_at" in feature["properties"]:
                feature["properties"]["not_looked_at"] = ",".join(feature["properties"]["not_looked_at"])
        frame = gpd.GeoDataFrame.from_features(content, crs="OGC:CRS84").to_crs(crs)
        for column in ("lit", "may_stop"):
            if column in frame:
                frame[column] = frame[column].astype("boolean")
        frame.to_file(path, layer=name, driver="GPKG")
    if header is not None:
        pyogrio.write_dataframe(pd.DataFrame({"toml": [header]}), path, layer="site_header", driver="GPKG")
    return path


def assert_same_values(one: Site, two: Site) -> None:
    assert one.header == two.header
    for name in LAYERS:
        a, b = one.layers[name], two.layers[name]
        assert [a.values(row) for row in range(len(a))] == [b.values(row) for row in range(len(b))]
        for left, right in zip(a.geometry, b.geometry, strict=True):
            assert left.has_z == right.has_z
            assert shapely.equals_exact(left, right, tolerance=1e-4)


@pytest.mark.parametrize("crs", [CRS, "EPSG:4326", "EPSG:32632"])
def test_geopackage_holds_the_same_as_a_folder(tmp_path: Path, crs: str) -> None:
    folder = read_site(write_site(tmp_path / "s", **good_layers()), WORDS)
    package = read_site(write_geopackage(tmp_path / "s.gpkg", good_layers(), toml(HEADER), crs), WORDS)
    assert_same_values(folder, package)
    assert [(f.role, f.name) for f in package.inputs] == [("site", "s.gpkg")]


def sql(path: Path, *commands: str) -> None:
    """Change a GeoPackage by hand, its index of places left alone."""
    with sqlite3.connect(path) as base:
        for (name,) in base.execute("select name from sqlite_master where type = 'trigger'").fetchall():
            base.execute(f'drop trigger "{name}"')
        for command in commands:
            base.execute(command)


STORED_AMISS = {
    "text among numbers": ("update roads set width_m = 'narrow'", "width_m", "text where a number is due"),
    "decimal comma": ("update roads set width_m = '5,5'", "width_m", "text where a number is due"),
    "text among whole numbers": ("update roads set level = 'two'", "level", "text where a number is due"),
    "part of a whole number": ("update roads set level = 1.5", "level", "whole number"),
    "no flag": ("update roads set lit = 'no'", "lit", "true or false"),
    "no date": ("update ground set valid_until = '31.12.2026'", "valid_until", "not a date"),
}


@pytest.mark.parametrize("name", STORED_AMISS)
def test_what_a_geopackage_stores_is_judged_as_stored(tmp_path: Path, name: str) -> None:
    """SQLite keeps any value in any column; what reads it as another value must not decide."""
    command, field, says = STORED_AMISS[name]
    layers = good_layers() | {"roads": [road("r1", [(0, 0), (60, 0)], level=0, lit=True)], "limits": []}
    layers["ground"] = [area("g", [(0, 0), (9, 0), (9, 9)], bearing_kpa=200.0)]
    path = write_geopackage(tmp_path / "s.gpkg", layers, toml(HEADER))
    sql(path, "alter table ground add column valid_until DATE", command)
    assert [(f.field, says in f.message) for f in faults_of(path)] == [(field, True)]


def test_geopackage_columns_of_any_type_are_read(tmp_path: Path) -> None:
    path = write_geopackage(tmp_path / "s.gpkg", good_layers(), toml(HEADER))
    columns = {"one_way": "JSON", "sight_m": "NUMERIC", "lit": "BOOLEAN", "not_looked_at": "JSON"}
    dropped = [f"alter table roads drop column {name}" for name in ("lit", "not_looked_at")]
    added = [f"alter table roads add column {name} {kind}" for name, kind in columns.items()]
    some = '\'["people", "edges"]\''
    sql(path, *dropped, *added, f"update roads set one_way = 'along', sight_m = 40.5, lit = 1, not_looked_at = {some}")
    roads = read_site(path, WORDS).layers["roads"]
    assert roads.text("one_way").tolist() == ["along", "along"]
    assert (roads.number("sight_m") == 40.5).all()
    assert (roads.number("lit") == 1.0).all()
    assert roads.text("not_looked_at")[0] == ("people", "edges")


def test_the_key_of_a_geopackage_layer_may_be_its_id(tmp_path: Path) -> None:
    layers = good_layers() | {"limits": []}
    for number, feature in enumerate(layers["roads"], start=7):
        feature["properties"]["id"] = number
    folder = read_site(write_site(tmp_path / "s", **layers), WORDS)
    path = write_geopackage(tmp_path / "s.gpkg", layers, toml(HEADER))
    sql(path, "update roads set fid = id", "alter table roads drop column id", "alter table roads rename fid to id")
    assert_same_values(folder, read_site(path, WORDS))
    assert read_site(path, WORDS).layers["roads"].ids == ("7", "8")


def test_changes_not_yet_in_the_file_are_doubted(tmp_path: Path) -> None:
    path = write_geopackage(tmp_path / "s.gpkg", good_layers(), toml(HEADER))
    with sqlite3.connect(path) as base:
        base.execute("pragma journal_mode = wal")
        base.execute("create table notes (text)")
        base.commit()
        doubts = read_site(path, WORDS).doubts
        assert [d for d in doubts if "another program" in d.message]


def test_a_table_that_is_no_listed_layer_is_not_taken_for_an_empty_one(tmp_path: Path) -> None:
    header = toml(HEADER | {"surveyed": {"people": HEADER["surveyed_on"]}})
    path = write_geopackage(tmp_path / "s.gpkg", good_layers(), header)
    assert faults_of(path) == ()
    of_people = "where table_name = 'people'"
    sql(path, f"delete from gpkg_geometry_columns {of_people}", f"delete from gpkg_contents {of_people}")
    sql(path, "delete from gpkg_extensions where table_name = 'people'")
    assert [(f.field, f.value) for f in faults_of(path)] == [("surveyed.people", '["people"]')]


@pytest.mark.parametrize(("vertical", "says"), [(6360, "US survey foot"), (5715, "downward"), (5773, "")])
def test_heights_of_a_geopackage_are_metres_upward(tmp_path: Path, vertical: int, says: str) -> None:
    """NAVD88 height (ftUS), MSL depth and EGM96 height of the EPSG registry."""
    header = HEADER | {"crs": f"{CRS}+{vertical}"}
    path = write_geopackage(tmp_path / "s.gpkg", good_layers(), toml(HEADER), f"{CRS}+{vertical}")
    beside = write_geopackage(tmp_path / "t.gpkg", good_layers(), toml(header))
    for found in (faults_of(path), faults_of(beside)):
        assert all(fault.field == "crs" and says in fault.message for fault in found)
        assert bool(found) == bool(says)
    assert [fault.layer for fault in faults_of(path)] == (["roads"] if says else [])  # only roads have heights


FEET = "+proj=tmerc +lat_0=48 +lon_0=15 +k=1 +x_0=3000 +y_0=1000 +units=us-ft +datum=WGS84"


@pytest.mark.parametrize(("crs", "says"), [("EPSG:4979", "above the ellipsoid"), (FEET, "US survey foot")])
def test_heights_that_may_be_of_another_datum_or_unit_are_doubted(tmp_path: Path, crs: str, says: str) -> None:
    site = read_site(write_geopackage(tmp_path / "s.gpkg", good_layers(), toml(HEADER), crs), WORDS)
    doubts = [d for d in site.doubts if d.message.startswith("heights")]
    assert [(d.layer, d.field, says in d.message) for d in doubts] == [("roads", "crs", True)]


@pytest.mark.parametrize(("crs", "says"), [("EPSG:4267", "an accuracy nobody knows"), ("EPSG:25833", "")])
def test_positions_on_another_datum_are_doubted(tmp_path: Path, crs: str, says: str) -> None:
    """NAD27, to which no way is known here; ETRS89, which is taken for WGS 84."""
    doubts = read_site(write_geopackage(tmp_path / "s.gpkg", good_layers(), toml(HEADER), crs), WORDS).doubts
    wanted = [(name, "crs") for name in LAYERS if name in good_layers()] if says else []
    assert [(d.layer, d.field) for d in doubts] == wanted
    assert all(says in d.message for d in doubts)


def test_geopackage_with_its_header_beside_it(tmp_path: Path) -> None:
    (tmp_path / "s.toml").write_text(toml(HEADER))
    site = read_site(write_geopackage(tmp_path / "s.gpkg", good_layers(), None), WORDS)
    assert [f.name for f in site.inputs] == ["s.gpkg", "s.toml"]
    assert site.header.name == HEADER["name"]


def test_geopackage_whole_numbers_with_gaps_stay_whole(tmp_path: Path) -> None:
    layers = good_layers()
    for number, feature in enumerate(layers["roads"], start=1):
        feature["properties"]["id"] = number
    layers["limits"][0]["properties"]["road"] = "2"
    layers["roads"][0]["properties"]["passes_done"] = 3
    site = read_site(write_geopackage(tmp_path / "s.gpkg", layers, toml(HEADER)), WORDS)
    assert site.layers["roads"].ids == ("1", "2")
    np.testing.assert_array_equal(site.layers["roads"].number("passes_done"), [3, np.nan])


@pytest.mark.parametrize(
    ("header", "beside", "says"),
    [
        (None, None, "no header"),
        (toml(HEADER), toml(HEADER | {"name": "other"}), "differs from s.toml"),
    ],
)
def test_geopackage_with_no_header_or_two(tmp_path: Path, header: str | None, beside: str | None, says: str) -> None:
    if beside:
        (tmp_path / "s.toml").write_text(beside)
    path = write_geopackage(tmp_path / "s.gpkg", good_layers(), header)
    with pytest.raises(InputError, match=says):
        read_site(path, WORDS)


def test_what_is_no_geopackage(tmp_path: Path) -> None:
    path = tmp_path / "s.gpkg"
    path.write_bytes(b"PK not a database")
    with pytest.raises(InputError) as caught:
        read_site(path, WORDS)
    assert [fault.message for fault in caught.value.faults] == ["not a GeoPackage"]
    path.write_bytes(b"SQLite format 3\0" + b"\0" * 200)
    with pytest.raises(InputError, match="cannot be read as a GeoPackage") as caught:
        read_site(path, WORDS)
    assert str(tmp_path) not in str(caught.value)


def test_identifier_may_stand_beside_the_properties(tmp_path: Path) -> None:
    content = collection(good_layers()["roads"])
    for feature in content["features"]:
        feature["id"] = feature["properties"].pop("id")
    folder = write_site(tmp_path / "s", **good_layers())
    (folder / "roads.geojson").write_text(json.dumps(content))
    assert read_site(folder, WORDS).layers["roads"].ids == ("r1", "r2")


def test_multi_of_one_part_is_that_part(tmp_path: Path) -> None:
    layers = good_layers()
    shape = layers["roads"][0]["geometry"]
    layers["roads"][0]["geometry"] = {"type": "MultiLineString", "coordinates": [shape["coordinates"]]}
    site = read_site(write_site(tmp_path / "s", **layers), WORDS)
    assert site.layers["roads"].geometry[0].geom_type == "LineString"
    assert site.layers["roads"].geometry[0].has_z


def test_unknown_columns_are_kept(tmp_path: Path) -> None:
    layers = good_layers()
    layers["roads"][0]["properties"]["painted"] = "blue"
    site = read_site(write_site(tmp_path / "s", **layers), WORDS)
    assert site.layers["roads"].extra["painted"].tolist() == ["blue", None]


def test_blank_text_and_null_are_missing(tmp_path: Path) -> None:
    layers = good_layers()
    layers["roads"][0]["properties"] |= {"width_m": "", "surface": None, "name": "  "}
    site = read_site(write_site(tmp_path / "s", **layers), WORDS)
    assert site.layers["roads"].values(0) == {"id": "r1"}


def test_other_layers_lose_their_heights(tmp_path: Path) -> None:
    layers = good_layers() | {"places": [point("gate", (0, 0, 100), kind="gate")]}
    site = read_site(write_site(tmp_path / "s", **layers), WORDS)
    assert not site.layers["places"].geometry[0].has_z


def test_terrain_rows_from_the_north(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "s", header={"terrain": {"file": "dem.tif", "vertical_sd_m": 0.1}}, **good_layers())
    heights = np.full((60, 60), 100.0)
    heights[0, 0], heights[59, 59] = 110.0, -9999.0
    write_terrain(folder / "dem.tif", heights, -20, 90, 2.0)
    site = read_site(folder, WORDS)
    assert site.doubts == ()
    grid = site.terrain
    assert grid is not None
    assert (grid.west_m, grid.north_m, grid.cell_x_m, grid.cell_y_m) == (499980, 5400090, 2, 2)
    assert grid.heights[0, 0] == 110
    assert np.isnan(grid.heights[59, 59])
    assert grid.heights.dtype == np.float64
    assert grid.vertical_sd_m == 0.1
    assert site.inputs[-1].role == "terrain"


DOUBTS = {
    "some vertices without height": (
        {"roads": [road("r1", [(0, 0, 100), (30, 0), (60, 0, 101)])]}, ("roads", "r1", ""), "no height"),
    "all heights zero": (
        {"roads": [road("r1", [(0, 0, 0), (60, 0, 0)])]}, ("roads", "r1", "geometry"), "every height is 0"),
    "a road across itself": (
        {"roads": [road("r1", [(0, 0), (60, 0), (60, 30), (30, -30)])]}, ("roads", "r1", "geometry"), "crosses itself"),
    "a wide road": ({"roads": [road("r1", [(0, 0), (60, 0)], width_m=45)]}, ("roads", "r1", "width_m"), "unusual"),
    "a column without unit": (
        {"roads": [road("r1", [(0, 0), (60, 0)], speed_limit=10)]}, ("roads", "", "speed_limit"), "speed_limit_kmh"),
    "a method without the unit": (
        {"roads": [road("r1", [(0, 0), (60, 0)], cross_slope_method="told")]},
        ("roads", "", "cross_slope_method"), "cross_slope_pct_method"),
    "a method of the whole feature": (
        {"roads": [road("r1", [(0, 0), (60, 0)], method="told")]}, ("roads", "", "method"), "<column>_method"),
    "a kind nobody knows": (
        {"overheads": [line("w", [(3, -9), (3, 9)], kind="unknown", clearance_m=6)]},
        ("overheads", "w", "kind"), "wire"),
    "a kind left out": (
        {"overheads": [line("w", [(3, -9), (3, 9)], clearance_m=6)]}, ("overheads", "w", "kind"), "live wire"),
    "surveyed and no file": (
        {"header": {"surveyed": {"edges": "2026-03-02"}}}, ("", "", "surveyed.edges"), "none found"),
    "a file that is no layer": ({"weather_log": []}, ("", "", ""), "not a layer"),
    "one attachment": (
        {"overheads": [line("w", [(3, -9), (3, 9)], kind="wire", attach_a_m=108)]},
        ("overheads", "w", "attach_b_m"), "says nothing"),
}  # fmt: skip


@pytest.mark.parametrize("name", DOUBTS)
def test_doubts_do_not_stop(tmp_path: Path, name: str) -> None:
    change, where, says = DOUBTS[name]
    layers: dict[str, Any] = good_layers() | {"limits": []} | change
    site = read_site(write_site(tmp_path / "s", **layers), WORDS)
    assert [(d.layer, d.feature, d.field) for d in site.doubts] == [where]
    assert says in site.doubts[0].text()


def test_half_known_heights_are_dropped_and_unknown_kind_is_a_wire(tmp_path: Path) -> None:
    layers = {
        "roads": [road("r1", [(0, 0, 100), (30, 0), (60, 0, 101)])],
        "overheads": [line("w", [(3, -9), (3, 9)], kind=None), line("v", [(9, -9), (9, 9)], kind="Unknown")],
    }
    site = read_site(write_site(tmp_path / "s", **layers), WORDS)
    assert not site.layers["roads"].geometry[0].has_z
    assert site.layers["overheads"].text("kind").tolist() == ["wire", "wire"]


def test_terrain_beside_the_site_is_doubted(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "s", header={"terrain": {"file": "dem.tif"}}, **good_layers())
    write_terrain(folder / "dem.tif", np.full((5, 5), 100.0), 0, 5, 1.0)
    assert ["cover" in doubt.message for doubt in read_site(folder, WORDS).doubts] == [True]
