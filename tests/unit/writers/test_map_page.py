from __future__ import annotations

import base64
import dataclasses
import hashlib
import json
import re
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable
from html.parser import HTMLParser

import numpy as np
import pytest

from travel.domain.plan import TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.site import Layer, Site
from travel.writers import map_features
from travel.writers.geo import driven_at, frame_of, trip_path
from travel.writers.hillshade import hillshade, png_grey_alpha, shade
from travel.writers.map_features import SEPARATE_ROADS, site_layers
from travel.writers.map_page import map_page
from travel.writers.map_way import arrows, flag_marks, runs_of, way_layer
from travel.writers.offline_map import leaflet_script
from travel.writers.page_lists import title_rows
from travel.writers.svg_profile import draw_profile

NASTY = '"><script>alert(1)</script><img src=x onerror="alert(1)">\'</template></style>{{7*7}}@@POLICY@@\u202eשער'


class Elements(HTMLParser):
    """Collects tags with attributes and the text of each script."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[tuple[dict[str, str | None], str]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "script":
            self.scripts.append((dict(attrs), ""))

    def handle_data(self, data: str) -> None:
        if self.cdata_elem == "script":
            about, text = self.scripts[-1]
            self.scripts[-1] = (about, text + data)


@pytest.fixture(scope="module")
def page(plan: TravelPlan, site: Site, rulebook: Rulebook) -> str:
    return map_page(plan, site, rulebook)


def test_same_plan_same_page(page: str, plan: TravelPlan, site: Site, rulebook: Rulebook) -> None:
    assert map_page(plan, site, rulebook) == page


def test_leaflet_is_the_release(page: str) -> None:
    assert hashlib.sha256(leaflet_script().encode("utf-8")).hexdigest().startswith("db49d009c841f5ca")
    assert leaflet_script() in page


def test_nothing_comes_from_outside(page: str) -> None:
    own = page.replace(leaflet_script(), "")
    assert not re.findall(r"(?:https?:)?//[\w.-]+\.\w{2,}", re.sub(r"data:image/png;base64,[\w+/=]+", "", own))
    found = Elements(page)
    assert not [about for tag, about in found.tags if tag in ("link", "iframe", "object", "base")]
    assert not [about for _, about in found.tags if about.get("src") or (about.get("href") or "#")[0] != "#"]
    urls = re.findall(r"url\(([^)]*)\)", own)
    assert urls
    assert all(url.startswith(("data:image/png", "#")) for url in urls)


def test_policy_allows_just_these_scripts(page: str) -> None:
    found = Elements(page)
    policy = next(about["content"] for tag, about in found.tags if about.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    running = [text for about, text in found.scripts if about.get("type") != "application/json"]
    digests = ["'sha256-" + base64.b64encode(hashlib.sha256(t.encode()).digest()).decode() + "'" for t in running]
    assert len(running) == 3
    assert re.search(r"script-src ([^;]*);", policy)[1].split() == digests  # type: ignore[index]
    assert policy.startswith("default-src 'none';")
    assert not [about for _, about in found.tags if any(name.startswith("on") for name in about)]


def nasty_plan(plan: TravelPlan) -> TravelPlan:
    """Every free text of the plan replaced."""
    return dataclasses.replace(
        plan,
        machine={"name": NASTY, "attitude": NASTY}, site={"name": NASTY}, load={"name": NASTY}, plan_id=NASTY,
        created_at=NASTY, weather={"ground": NASTY}, request=dict(plan.request) | {"at": NASTY},
        doubts=(NASTY,), cautions=(NASTY,), sources={"machine-sheet": NASTY},
        checked=tuple(dataclasses.replace(row, title=NASTY) for row in plan.checked),
        legs=tuple(dataclasses.replace(leg, gear=NASTY) for leg in plan.legs),
        stops=tuple(dataclasses.replace(stop, note=NASTY) for stop in plan.stops),
        findings=tuple(
            dataclasses.replace(item, source=NASTY, id=NASTY, accepted=NASTY, formula=NASTY) for item in plan.findings
        ),
        conditions=tuple(
            dataclasses.replace(item, text=NASTY, owner=NASTY, due=NASTY, evidence=NASTY) for item in plan.conditions
        ),
    )  # fmt: skip


def test_markup_in_every_name_is_text(
    page: str, plan: TravelPlan, make_site: Callable[..., Site], rulebook: Rulebook
) -> None:
    nasty = map_page(nasty_plan(plan), make_site(NASTY), rulebook)
    found, clean = Elements(nasty), Elements(page)
    assert len(found.scripts) == len(clean.scripts)
    assert "img" not in {tag for tag, _ in found.tags}
    assert {tag for tag, _ in found.tags} == {tag for tag, _ in clean.tags}
    assert nasty.count("&lt;script&gt;alert(1)") > 30
    assert "49@@" not in nasty, "a name must never be read as a template"
    assert "{{7*7}}" in nasty
    assert "\u202e" not in nasty.replace(leaflet_script(), "").split('id="page-data"')[0]
    assert all("onerror" not in about for _, about in found.tags)
    data = next(text for about, text in found.scripts if about.get("id") == "page-data")
    assert any("<script>" in label["text"] for label in json.loads(data)["labels"])


def test_page_says_everything_in_words_without_scripts(page: str) -> None:
    for part in ("Flags", "Driver's order", "Conditions", "Before anything moves", "checked against 5 of 6 rules"):
        assert part in page.replace("&#39;", "'")
    for number in (1, 2):
        assert f'id="row-flag-{number}"' in page
    for number in range(1, 7):
        assert f'id="row-stop-{number}"' in page
    assert "Not looked at is not clear" in page
    assert page.count('role="img"') == 2


def test_no_way_page_says_what_stops_it(no_way: TravelPlan, site: Site, rulebook: Rulebook) -> None:
    page = map_page(no_way, site, rulebook).replace("\u00a0", " ")
    assert "How far it gets" in page
    assert "19.0 % asked for, 16.0 % there" in page
    assert "Regrade R2 from 20 to 80 m" in page
    assert "nobody may accept this on a form" in page
    data = json.loads(next(text for about, text in Elements(page).scripts if about.get("id") == "page-data"))
    assert [flag["lonlat"] is not None for flag in data["flags"]] == [True, True]
    assert data["flags"][0]["lonlat"] == pytest.approx([9.0008021, 47.8535669], abs=2e-7), "R2 at 25 m"
    assert len(data["crosses"]) == 6
    assert data["labels"][0]["text"] == "Way out: gets to here"


def test_importing_the_writers_loads_no_map_library() -> None:
    code = (
        "import sys, travel.writers.map_page, travel.writers.summary, travel.writers.tables, travel.writers.plan_json\n"
        "print([name for name in ('folium', 'branca', 'jinja2', 'pyproj', 'rich') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_way_runs_follow_leg_and_verdict(plan: TravelPlan, site: Site) -> None:
    frame = frame_of(site)
    path = trip_path(plan, "out", frame)
    assert path is not None
    assert path.driven_m[-1] == pytest.approx(140.0)
    expected = [(0, 60, 1, "clear"), (60, 70, 2, "clear"), (70, 80, 3, "clear"), (80, 140, 3, "caution")]
    assert runs_of(plan, path, plan.profile[0]) == expected
    by_leg = [(0, 60, 1, "clear"), (60, 70, 2, "clear"), (70, 140, 3, "caution")]
    assert runs_of(plan, path, None) == by_leg
    layer, crosses = way_layer(plan, path, frame, 1.0)
    assert [f["properties"]["style"] for f in layer.features] == ["casing", "clear"] * 3 + ["casing", "caution"]
    assert crosses == []


def test_ways_are_drawn_right_of_their_direction(plan: TravelPlan, site: Site) -> None:
    frame = frame_of(site)
    out, back = trip_path(plan, "out", frame), trip_path(plan, "back", frame)
    assert out is not None
    assert back is not None
    assert out.beside(1.0).at(np.array([30.0]))[0, 1] == pytest.approx(5299999.0, abs=0.05), "eastwards: south"
    assert back.beside(1.0).at(np.array([110.0]))[0, 1] == pytest.approx(5300001.0, abs=0.05), "westwards: north"
    bearings = {round(arrow["bearing"] / 90) % 4 for arrow in arrows(out, frame, 1.0, back=False)}
    assert bearings == {0, 1}, "north and east"


def test_flags_stand_where_they_are_driven_to(plan: TravelPlan, site: Site) -> None:
    assert driven_at(plan, 3, 25.0) == 85.0
    assert driven_at(plan, 4, 75.0) == 5.0
    marks = flag_marks(plan, site, frame_of(site))
    assert [(mark["n"], mark["driven"]) for mark in marks] == [(1, 85.0), (2, 5.0)]
    drawing = draw_profile(plan, plan.profile[1])
    assert drawing is not None
    assert [(mark.kind, mark.number) for mark in drawing.marks] == [("stop", 4), ("flag", 2), ("stop", 5), ("stop", 6)]
    assert drawing.rows == 2, "flag 2 stands above stop 4"
    assert "steepest descent 14.0 % between 0 and 60 m" in drawing.said


def test_profile_shows_what_is_not_known(plan: TravelPlan) -> None:
    profile = dataclasses.replace(plan.profile[0], height_m=(100.0, None, 100.0, 100.0, 108.4), grade_pct=(None,) * 4)
    drawing = draw_profile(plan, profile)
    assert drawing is not None
    assert "height not known on part of it" in drawing.said
    assert drawing.svg.count('class="gap"') == 3
    unknown = draw_profile(plan, dataclasses.replace(profile, height_m=(None,) * 5))
    assert unknown is not None
    assert "height not known" in unknown.svg


def test_many_roads_beside_the_way_become_one_feature_a_class(site: Site) -> None:
    roads = site.layers["roads"]
    count = SEPARATE_ROADS + 50
    many = Layer(
        name="roads", ids=("R1", *(f"X{i}" for i in range(count))),
        geometry=np.concatenate([roads.geometry[:1], np.repeat(roads.geometry[1:2], count)]),
        numbers={"width_m": np.full(count + 1, 4.0)},
        texts={"surface": np.array(["clay", *(["asphalt", "clay"] * (count // 2))], dtype=object)},
    )  # fmt: skip
    crowded = dataclasses.replace(site, layers={"roads": many})
    (layer,) = site_layers(crowded, frame_of(site), {"R1"}, None)
    assert [f["properties"]["style"] for f in layer.features] == ["unpaved", "rest paved", "rest unpaved"]
    assert len(layer.features[1]["geometry"]["coordinates"]) == count // 2


def test_huge_sites_show_the_corridor_only(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(map_features, "ALL_ROADS", 1)
    monkeypatch.setattr(map_features, "CORRIDOR_M", 10.0)
    box = np.array([[500000.0, 5300000.0], [500060.0, 5300080.0]])
    (layer,) = site_layers(
        dataclasses.replace(site, layers={"roads": site.layers["roads"]}), frame_of(site), {"R1"}, box
    )
    assert [f["properties"]["title"] for f in layer.features] == ["Haul road (R1)", "Ramp (R2)"], "R3 lies 60 m away"
    assert "within 10 m" in layer.title


def test_page_without_terrain_or_most_layers(
    plan: TravelPlan, make_site: Callable[..., Site], rulebook: Rulebook
) -> None:
    bare = make_site(with_terrain=False)
    bare = dataclasses.replace(bare, layers={"roads": bare.layers["roads"]})
    page = map_page(plan, bare, rulebook)
    assert "imageOverlay" not in page.replace(leaflet_script(), "")
    assert hillshade(bare, frame_of(bare)) is None


def test_light_comes_from_the_north_west() -> None:
    rows, columns = np.mgrid[0:9, 0:9].astype(float)
    flat, facing, turned = (shade(slope, 1.0, 1.0)[4, 4] for slope in (rows * 0, columns + rows, -(columns + rows)))
    assert facing > flat > turned, "row 0 is north: ground that rises to the south-east faces the light"


def test_png_is_read_back_by_its_own_rules() -> None:
    grey, alpha = np.arange(12, dtype=np.uint8).reshape(3, 4), np.full((3, 4), 255, dtype=np.uint8)
    png = png_grey_alpha(grey, alpha)
    assert struct.unpack(">II", png[16:24]) == (4, 3)
    body = png[png.index(b"IDAT") + 4 : png.index(b"IEND") - 8]
    lines = np.frombuffer(zlib.decompress(body), dtype=np.uint8).reshape(3, 9)
    assert (lines[:, 1::2] == grey).all()
    assert (lines[:, 0] == 0).all()


def test_terrain_lies_where_it_was_surveyed(site: Site) -> None:
    picture = hillshade(site, frame_of(site))
    assert picture is not None
    (south, west), (north, east) = picture.bounds
    corners = frame_of(site).to_metres(np.array([[west, south], [east, north]]))
    assert corners == pytest.approx(np.array([[499_970.0, 5_299_960.0], [500_150.0, 5_300_120.0]]), abs=0.1)


def test_what_is_swept_in_a_corner_is_drawn(plan: TravelPlan) -> None:
    from travel.writers.map_way import swept_layer

    turn = dataclasses.replace(
        plan.turns[0],
        steering="all",
        room_m=5.2,
        needed_m=4.99,
        swept_lonlat=((9.0, 45.0), (9.001, 45.0), (9.0, 45.001)),
    )
    layer = swept_layer(dataclasses.replace(plan, turns=(turn,)))
    assert layer is not None
    (feature,) = layer.features
    ring = feature["geometry"]["coordinates"][0]
    assert ring[0] == ring[-1] == [9.0, 45.0]
    assert ["needs", "4.99 m"] in feature["properties"]["rows"]
    assert swept_layer(dataclasses.replace(plan, turns=(dataclasses.replace(turn, swept_lonlat=()),))) is None


def test_the_trailer_stands_in_the_facts(plan: TravelPlan) -> None:
    assert "Trailer" not in dict(title_rows(plan))
    rig = dataclasses.replace(plan, transport={"trailer": "Low rig"}, unloading={"place": "U1"})
    assert dict(title_rows(rig))["Trailer"] == "Low rig, unloads at U1"
    nowhere = dataclasses.replace(rig, unloading={"place": None})
    assert dict(title_rows(nowhere))["Trailer"] == "Low rig, no place found to unload"
