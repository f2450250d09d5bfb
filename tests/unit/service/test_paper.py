"""Document, card and files of the demo's plans, from the files to the files."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from tests.planning import DEMO, ROOT
from tests.unit.writers.paper_tools import needs_poppler, pdf_facts, pdf_text, squeezed
from travel.cli import app
from travel.errors import InputError
from travel.service.document import NEWER_BOOK, plan_on_site, workings_of, write_card, write_document
from travel.service.export import export_plan
from travel.service.formulas import explain, read_plan

WEATHER = "ground=damp,temperature_c=8,wind_mps=4"
CASES = {"caution": ("middle", "P1"), "unknown": ("middle", "P2"), "blocked": ("large", "P3")}


def run(*arguments: object) -> Result:
    return CliRunner().invoke(app, [str(item) for item in arguments])


@pytest.fixture(scope="module")
def plans(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("plans")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1796212800")  # within the validity of the demo's survey
        for name, (machine, place) in CASES.items():
            run(
                "plan",
                DEMO / "site",
                "--machine",
                DEMO / "machines" / f"{machine}.toml",
                "--from",
                "G1",
                "--to",
                place,
                "--weather",
                WEATHER,
                "--out",
                folder / name,
            )
    return {name: folder / name / "plan.json" for name in CASES}


@pytest.mark.parametrize("name", CASES)
@needs_poppler
def test_document_of_the_demo(name: str, plans: dict[str, Path], tmp_path: Path) -> None:
    plan = read_plan(plans[name])
    assert plan.verdict == name
    pdf, page = tmp_path / "plan.pdf", tmp_path / "plan.html"
    assert run("document", plans[name], "--site", DEMO / "site", "--out", pdf, "--html", page).exit_code == 0
    before = pdf.read_bytes(), page.read_bytes()
    assert run("document", plans[name], "--site", DEMO / "site", "--out", pdf, "--html", page).exit_code == 0
    assert (pdf.read_bytes(), page.read_bytes()) == before
    assert pdf_facts(before[0], tmp_path)["Tagged"] == "yes"
    first = squeezed(pdf_text(before[0], tmp_path, 1, 1))
    assert name.upper() in first
    assert plan.fingerprint in first
    assert ("Released by" in first) == (name == "caution")
    everything = squeezed(pdf_text(before[0], tmp_path))
    assert all(item.id in everything.replace("- ", "-") for item in plan.findings)


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", CASES)
@needs_poppler
def test_card_of_the_demo(name: str, units: str, plans: dict[str, Path], tmp_path: Path) -> None:
    card = tmp_path / "card.pdf"
    assert run("card", plans[name], "--units", units, "--out", card).exit_code == 0
    data = card.read_bytes()
    assert int(pdf_facts(data, tmp_path)["Pages"]) <= 2
    text = squeezed(pdf_text(data, tmp_path))
    assert ("DO NOT MOVE" in text) == (name != "caution")
    assert ("FORWARD" in text) == (name == "caution")
    assert "Tomas, hut 1" in text
    write_card(plans[name], card, units)
    assert card.read_bytes() == data


def test_files_stand_beside_the_plan_without_out(plans: dict[str, Path]) -> None:
    plan = plans["caution"]
    assert write_document(plan, DEMO / "site") == (plan.with_name("travel_plan.pdf"),)
    assert write_card(plan) == (plan.with_name("card.pdf"),)


def test_workings_are_those_explain_gives(plans: dict[str, Path]) -> None:
    plan = read_plan(plans["blocked"])
    worked = 0
    for finding in plan.findings:
        assert workings_of(finding) == explain(plans["blocked"], finding.flag)[2]
        worked += len(workings_of(finding))
    assert worked


def test_a_changed_site_is_refused(plans: dict[str, Path], tmp_path: Path) -> None:
    shutil.copytree(DEMO / "site", tmp_path / "site")
    roads = tmp_path / "site" / "roads.geojson"
    roads.write_bytes(roads.read_bytes() + b"\n")
    for command in (("document", "--out", "x.pdf"), ("export", "--out", "x")):
        done = run(command[0], plans["caution"], "--site", tmp_path / "site", command[1], tmp_path / command[2])
        assert done.exit_code == 2
        assert "plan again" in done.stderr
    assert [item.name for item in tmp_path.iterdir()] == ["site"]


def test_another_company_book_is_refused(plans: dict[str, Path]) -> None:
    book = DEMO / "rulebooks" / "company.toml"
    with pytest.raises(InputError, match="not one the plan was made with"):
        plan_on_site(plans["caution"], DEMO / "site", (book,))
    with pytest.raises(InputError, match="not one the plan was made with"):
        write_card(plans["caution"], rulebooks=(book,))


@needs_poppler
def test_a_newer_default_book_is_told(plans: dict[str, Path], tmp_path: Path) -> None:
    raw = json.loads(plans["caution"].read_text("utf-8"))
    older = tmp_path / "plan.json"
    text = plans["caution"].read_text("utf-8").replace(raw["rulebooks"][0]["sha256"], "0" * 64)
    older.write_text(text, "utf-8")
    pdf, card = tmp_path / "plan.pdf", tmp_path / "card.pdf"
    write_document(older, DEMO / "site", pdf)
    write_card(older, card)
    assert squeezed(NEWER_BOOK) in squeezed(pdf_text(pdf.read_bytes(), tmp_path, 1, 1))
    assert squeezed(NEWER_BOOK) in squeezed(pdf_text(card.read_bytes(), tmp_path))
    write_card(plans["caution"], card)
    assert "has changed since" not in squeezed(pdf_text(card.read_bytes(), tmp_path))


def test_amended_plans_are_drawn_on_the_amended_site(tmp_path: Path) -> None:
    out = tmp_path / "wide"
    run(
        "plan",
        DEMO / "site",
        "--machine",
        DEMO / "machines" / "middle.toml",
        "--from",
        "G1",
        "--to",
        "P1",
        "--weather",
        WEATHER,
        "--amend",
        "limits:LM1:width_m=6.0",
        "--out",
        out,
    )
    _, site, _ = plan_on_site(out / "plan.json", DEMO / "site")
    limits = site.layers["limits"]
    assert limits.number("width_m")[limits.index("LM1")] == 6.0


def test_export_of_the_demo(plans: dict[str, Path], tmp_path: Path) -> None:
    import geopandas

    assert run("export", plans["caution"], "--site", DEMO / "site", "--out", tmp_path / "a").exit_code == 0
    export_plan(plans["caution"], DEMO / "site", tmp_path / "b")
    plan = read_plan(plans["caution"])
    for name in ("way.gpx", "plan.gpkg"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    assert len(geopandas.read_file(tmp_path / "a" / "plan.gpkg", layer="legs")) == len(plan.legs)
    assert len(geopandas.read_file(tmp_path / "a" / "plan.gpkg", layer="flags")) == len(plan.findings)
    points = geopandas.read_file(tmp_path / "a" / "way.gpx", layer="waypoints")
    assert len(points) == len(plan.stops) + len(plan.findings)


def test_reach_writes_page_and_layers(tmp_path: Path) -> None:
    import geopandas

    done = run(
        "reach",
        DEMO / "site",
        "--machine",
        DEMO / "machines" / "large.toml",
        "--from",
        "G1",
        "--weather",
        WEATHER,
        "--out",
        tmp_path,
    )
    rows = {row["place"]: row["verdict"] for row in json.loads((tmp_path / "reach.json").read_text("utf-8"))["places"]}
    assert "blocked" in rows.values()
    assert done.exit_code == 1
    places = geopandas.read_file(tmp_path / "reach.gpkg", layer="places_reached")
    assert dict(zip(places["place"], places["verdict"], strict=True)) == rows
    page = (tmp_path / "reach.html").read_text("utf-8")
    for place, verdict in rows.items():
        assert f"({place})" in page
        assert verdict in page
    roads = geopandas.read_file(tmp_path / "reach.gpkg", layer="stretches")
    site = geopandas.read_file(DEMO / "site" / "roads.geojson")
    assert set(roads["road"]) == set(site["id"])


def test_roads_of_reach_are_never_better_than_the_way(plans: dict[str, Path], tmp_path: Path) -> None:
    """A stretch a plan drives cannot be worse than the best verdict reach gives for it."""
    from travel.domain.request import PlanRequest
    from travel.domain.site import Weather
    from travel.service.reach import reach

    order = ("clear", "caution", "unknown", "blocked")
    weather = Weather(ground="damp", temperature_c=8, wind_mps=4)
    machine = DEMO / "machines" / "middle.toml"
    found = reach(PlanRequest(site=DEMO / "site", machine=machine, from_place="G1", to_place="", weather=weather))
    best = {}
    for part in found.stretches:
        best.setdefault(part.road, []).append(part)
    plan = read_plan(plans["unknown"])
    for leg in plan.legs:
        middle = (leg.from_m + leg.to_m) / 2
        part = next(item for item in best[leg.road] if item.from_m <= middle <= item.to_m)
        assert order.index(part.verdict) <= order.index(leg.verdict)


def test_nothing_is_left_where_writing_fails(plans: dict[str, Path], tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(InputError):
        export_plan(plans["caution"], DEMO / "site", tmp_path / "file" / "deeper")
    assert [item.name for item in tmp_path.iterdir()] == ["file"]


def test_help_loads_no_setter() -> None:
    code = "import sys, travel.cli; print([m for m in ('typst', 'segno', 'geopandas', 'jinja2') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"
