"""Plan and site as GeoPackage layers: all of it, in the site's CRS, drawn by verdict, the same bytes again."""

from __future__ import annotations

import dataclasses
import sqlite3
import xml.etree.ElementTree as ET
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import geopandas
import numpy as np
import pyogrio
import pytest

from tests.unit.writers.paper_tools import NASTY, every_verdict, typed_over
from travel.domain.plan import TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.site import Site
from travel.errors import InputError
from travel.writers.gis_styles import style_of
from travel.writers.plan_gpkg import plan_sheets, site_sheets, write_sheets

WORDS = ("clear", "caution", "unknown", "blocked")


@pytest.fixture
def path(plan: TravelPlan, site: Site, rulebook: Rulebook, tmp_path: Path) -> Path:
    target = tmp_path / "plan.gpkg"
    write_sheets(target, plan_sheets(plan, site, rulebook), site.crs_wkt)
    return target


def test_layers_and_counts(path: Path, plan: TravelPlan, site: Site) -> None:
    assert len(geopandas.read_file(path, layer="legs")) == len(plan.legs)
    assert len(geopandas.read_file(path, layer="flags")) == len(plan.findings)
    assert len(geopandas.read_file(path, layer="stops")) == len(plan.stops)
    for name, layer in site.layers.items():
        found = geopandas.read_file(path, layer=f"site_{name}")
        assert sorted(found["id"]) == sorted(layer.ids)
        assert found.crs.to_epsg() == 32632


def test_verdicts_and_numbers_are_the_plans(path: Path, plan: TravelPlan) -> None:
    legs = geopandas.read_file(path, layer="legs")
    assert list(legs["verdict"]) == [leg.verdict for leg in plan.legs]
    assert list(legs["speed_kmh"]) == [leg.speed_kmh for leg in plan.legs]
    assert [line.length for line in legs.geometry] == pytest.approx([leg.length_m for leg in plan.legs], abs=0.1)
    flags = geopandas.read_file(path, layer="flags")
    assert list(flags["margin"]) == [item.margin for item in plan.findings]
    assert list(flags["id"]) == [item.id for item in plan.findings]


@pytest.mark.parametrize("verdict", WORDS)
def test_every_verdict_is_kept(verdict: str, plan: TravelPlan, site: Site, rulebook: Rulebook, tmp_path: Path) -> None:
    target = tmp_path / "one.gpkg"
    write_sheets(target, plan_sheets(every_verdict(plan, verdict), site, rulebook), site.crs_wkt)
    assert set(geopandas.read_file(target, layer="legs")["verdict"]) == {verdict}
    assert set(geopandas.read_file(target, layer="flags")["verdict"]) == {verdict}


def test_each_layer_has_a_style_a_gis_finds(path: Path) -> None:
    with closing(sqlite3.connect(path)) as base:
        rows = base.execute(
            "select f_table_name, f_geometry_column, styleQML, styleSLD, useAsDefault from layer_styles"
        )
        styles = {row[0]: row[1:] for row in rows}
        columns = dict(base.execute("select table_name, column_name from gpkg_geometry_columns"))
        kinds = dict(base.execute("select table_name, data_type from gpkg_contents"))
    assert set(styles) == set(columns)
    assert kinds["layer_styles"] == "attributes"
    for name, (column, qml, sld, default) in styles.items():
        assert column == columns[name]
        assert default == 1
        assert ET.fromstring(qml).tag == "qgis"
        assert ET.fromstring(sld).tag.endswith("StyledLayerDescriptor")


@pytest.mark.parametrize("layer", ["legs", "flags", "stretches", "places_reached"])
def test_verdicts_differ_without_colour(layer: str) -> None:
    style = style_of(layer)
    assert style is not None
    root = ET.fromstring(style.qml)
    assert [item.attrib["value"] for item in root.iter("category")] == list(WORDS)
    drawn = set()
    for symbol in root.iter("symbol"):
        properties = {item.attrib["k"]: item.attrib["v"] for item in symbol.iter("prop")}
        drawn.add(tuple(sorted((k, v) for k, v in properties.items() if "color" not in k)))
    assert len(drawn) == len(WORDS)
    for word in WORDS:
        assert f"<Literal>{word}</Literal>" in style.sld


def test_mixed_layers_are_parted(site: Site) -> None:
    import shapely

    layer = site.layers["obstacles"]
    both = dataclasses.replace(
        layer, ids=("B1", "B2"),
        geometry=np.array([layer.geometry[0], shapely.Point(500000, 5300000)], dtype=object),
        numbers={"height_m": np.array([3.0, 4.0])},
        texts={"name": np.array(["Hut", "Mast"], dtype=object)},
    )  # fmt: skip
    mixed = dataclasses.replace(site, layers={"obstacles": both})
    sheets = {sheet.name: sheet for sheet in site_sheets(mixed)}
    assert set(sheets) == {"site_obstacles_areas", "site_obstacles_points"}
    assert list(sheets["site_obstacles_points"].columns["id"]) == ["B2"]
    assert all(sheet.style is not None for sheet in sheets.values())


def test_same_plan_same_bytes(path: Path, plan: TravelPlan, site: Site, rulebook: Rulebook, tmp_path: Path) -> None:
    again = tmp_path / "again.gpkg"
    write_sheets(again, plan_sheets(plan, site, rulebook), site.crs_wkt)
    assert again.read_bytes() == path.read_bytes()
    assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") is None


def test_typed_words_survive(
    plan: TravelPlan, make_site: Callable[..., Site], rulebook: Rulebook, tmp_path: Path
) -> None:
    site = make_site(NASTY)
    typed = dataclasses.replace(typed_over(plan, NASTY), legs=plan.legs)
    target = tmp_path / "typed.gpkg"
    write_sheets(target, plan_sheets(typed, site, rulebook), site.crs_wkt)
    said = " ".join(geopandas.read_file(target, layer="flags")["said"])
    assert "<script>alert(1)</script>" in said
    assert any(NASTY.replace("\x07", "") in name.replace("\x07", "") for name in
               geopandas.read_file(target, layer="site_places")["name"].dropna())  # fmt: skip


def test_no_way_still_has_flags_and_site(no_way: TravelPlan, site: Site, rulebook: Rulebook, tmp_path: Path) -> None:
    target = tmp_path / "no.gpkg"
    write_sheets(target, plan_sheets(no_way, site, rulebook), site.crs_wkt)
    layers = {name for name, _ in pyogrio.list_layers(target)}
    assert "legs" not in layers
    assert "flags" in layers


def test_nothing_to_write_is_a_fault(site: Site, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no layer"):
        write_sheets(tmp_path / "empty.gpkg", [], site.crs_wkt)
    assert not list(tmp_path.iterdir())
