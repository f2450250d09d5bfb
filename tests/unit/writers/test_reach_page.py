"""How far a machine gets, as page and as layers: verdicts as told, greatest sizes never rounded up."""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Callable
from pathlib import Path

import geopandas
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.writers.paper_tools import NASTY
from travel.domain.site import Site
from travel.writers.plan_gpkg import write_sheets
from travel.writers.reach_page import Passable, Reached, ReachView, greatest_rows, reach_page, reach_sheets

GREATEST = {"height_m": 4.119, "width_m": None, "gross_kg": 17_690.0, "axle_kg": 9_000.0}


def row(place: str, verdict: str, **other: object) -> Reached:
    values = {"length_m": 80.0, "time_s": 60.0, "severity": 0.5, "rule": "width", "stopper": f"tight at {place}",
              "greatest": GREATEST} | other  # fmt: skip
    return Reached(place=place, verdict=verdict, **values)


@pytest.fixture
def view() -> ReachView:
    return ReachView(
        machine="invented handler",
        from_place="G",
        asked=(("Holds for", "ground wet, no hour given"), ("Changed for this answer", "limits LM1 width 3.00 m")),
        places=(
            row("J", "clear", stopper="", severity=None),
            row("S", "caution"),
            row("P", "blocked", length_m=None, time_s=None, severity=-2.0),
        ),
        stretches=(
            Passable(road="R1", from_m=0.0, to_m=60.0, verdict="clear"),
            Passable(road="R1", from_m=60.0, to_m=120.0, verdict="unknown"),
            Passable(road="R2", from_m=0.0, to_m=80.0, verdict="blocked"),
        ),
    )


def test_same_view_same_page(view: ReachView, site: Site) -> None:
    assert reach_page(view, site) == reach_page(view, site)


def test_each_place_has_mark_row_and_popup(view: ReachView, site: Site) -> None:
    page = reach_page(view, site)
    data = json.loads(re.search(r'id="page-data">(.*?)</script>', page, re.S)[1])
    assert len(data["flags"]) == len(view.places)
    assert all(item["lonlat"] for item in data["flags"])
    for number, (place, verdict) in enumerate((("P", "blocked"), ("S", "caution"), ("J", "clear")), start=1):
        assert re.search(rf'id="row-flag-{number}">.*?<span>{verdict}</span>.*?\({place}\)|>{place}<', page, re.S)
        assert re.search(rf'<template id="icon-flag-{number}"><svg[^>]*><\w+ class="m-{verdict}"', page)
        popup = re.search(rf'<template id="card-flag-{number}">(.*?)</template>', page, re.S)[1].replace("\u00a0", " ")
        assert "4.11 m" in popup
        assert "not limited" in popup
        assert "no posted limit" not in popup
        assert "17.6 t" in popup


def test_roads_are_drawn_by_verdict(view: ReachView, site: Site) -> None:
    page = reach_page(view, site)
    data = json.loads(re.search(r'id="page-data">(.*?)</script>', page, re.S)[1])
    titles = [title for texts in data["about"].values() for title, _ in texts.values()]
    assert "Road R1, 60–120 m: unknown" in titles
    assert "Road R2, 0–80 m: blocked" in titles
    assert data["crosses"]
    none = dataclasses.replace(view, stretches=view.stretches[:1])
    assert not json.loads(re.search(r'id="page-data">(.*?)</script>', reach_page(none, site), re.S)[1])["crosses"]


def test_page_loads_nothing_and_typed_words_stay_words(view: ReachView, make_site: Callable[..., Site]) -> None:
    site = make_site(NASTY)
    typed = dataclasses.replace(
        view, machine=NASTY, places=tuple(dataclasses.replace(item, stopper=NASTY) for item in view.places)
    )
    page = reach_page(typed, site)
    assert "<script>alert(1)" not in page
    assert "\u202e" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)[1]
    assert policy.startswith("default-src 'none'; script-src 'sha256-")


def test_layers_for_a_gis(view: ReachView, site: Site, tmp_path: Path) -> None:
    target, again = tmp_path / "reach.gpkg", tmp_path / "again.gpkg"
    write_sheets(target, reach_sheets(view, site), site.crs_wkt)
    write_sheets(again, reach_sheets(view, site), site.crs_wkt)
    assert target.read_bytes() == again.read_bytes()
    places = geopandas.read_file(target, layer="places_reached")
    assert dict(zip(places["place"], places["verdict"], strict=True)) == {
        item.place: item.verdict for item in view.places
    }
    assert set(places["greatest_gross_kg"]) == {17_690.0}
    assert not places["width_limited"].any()
    roads = geopandas.read_file(target, layer="stretches")
    assert list(roads["verdict"]) == [item.verdict for item in view.stretches]
    assert [line.length for line in roads.geometry] == pytest.approx([60.0, 60.0, 80.4], abs=0.5)


@given(st.floats(0.5, 60.0), st.floats(500.0, 99_000.0))
def test_greatest_sizes_are_never_rounded_up(height_m: float, gross_kg: float) -> None:
    rows = dict(greatest_rows({"height_m": height_m, "gross_kg": gross_kg}))
    assert float(rows["height"].split()[0]) <= height_m + 1e-6
    assert float(rows["gross"].split()[0]) * 1000 <= gross_kg + 1e-6


def test_a_mass_no_sign_limits_is_not_called_unlimited(view: ReachView, site: Site) -> None:
    """Ground, services and grades may still stop a heavier machine; the page says so once."""
    assert dict(greatest_rows({"gross_kg": None, "axle_kg": 0.0, "height_m": None})) == {
        "gross": "no posted limit",
        "axle load": "none known",
        "height": "not limited",
    }
    assert reach_page(view, site).count("signs and rated structures alone") == 1


def test_what_was_asked_and_margins_of_what_is_not_known(view: ReachView, site: Site) -> None:
    unknown = dataclasses.replace(view, places=(row("S", "unknown", severity=0.97), row("P", "caution", severity=0.5)))
    page = reach_page(unknown, site)
    assert "97 %" not in page.replace("\u00a0", " ")
    assert "50 % of the caution margin" in page.replace("\u00a0", " ")
    assert page.count("<td>not known</td>") == 1
    for said in ("Changed for this answer", "limits LM1 width 3.00", "no hour given"):
        assert said in page.replace("\u00a0", " ")
