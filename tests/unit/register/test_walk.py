"""The demo's plan from its submission to its withdrawal, as people would do it on the command line."""

from __future__ import annotations

import base64
import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from tests import builders
from tests.planning import DEMO
from tests.unit.register.tools import LIGHT
from travel.cli import app
from travel.register import Register
from travel.service.register import DEFAULT_LOCATION, Place
from travel.service.subject import values_end
from travel.writers.plan_json import plan_from_bytes

SITE, MACHINE = DEMO / "site", DEMO / "machines" / "middle.toml"
WEATHER = "ground=damp,temperature_c=8,wind_mps=4"
DAY = 1795600800  # 2026-11-25 10:00 UTC
UNTIL = "2026-11-25T17:00:00+00:00"
SECRETS = {"Ruth": "Ruth-ruth-pass", "Hanne": "Hanne-hanne-pass", "Ivo": "Ivo-ivo-ivo-pass"}


class Hut:
    """A site hut: one folder with the plan and the register, a clock, and people who type commands."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder, self.patch, self.minute = folder, monkeypatch, 0
        monkeypatch.chdir(folder)
        light = lambda place: Register(place.location or DEFAULT_LOCATION, place.anchor, cost=LIGHT)  # noqa: E731
        monkeypatch.setattr(Place, "open", light)

    def travel(self, *words: object, by: str = "", new: str = "", code: int = 0) -> str:
        """Run a command as somebody, a minute after the last; give what it printed."""
        self.minute += 1
        self.patch.setenv("SOURCE_DATE_EPOCH", str(DAY + 60 * self.minute))
        environment = {"TRAVEL_PASSWORD": SECRETS.get(by, "nobody's"), "TRAVEL_NEW_PASSWORD": SECRETS.get(new, "")}
        arguments = [*map(str, words), *(["--by", by] if by and words[0] != "register" else [])]
        result = CliRunner().invoke(app, arguments, env=environment)
        assert result.exit_code == code, result.output
        return result.output

    def status(self, site: Path, *more: object, code: int) -> str:
        """Ask whether the plan holds on a site."""
        return self.travel("status", "plan.json", "--site", site, "--machine", MACHINE, *more, code=code)

    def site(self, name: str, change: Callable[[dict[str, list[dict[str, Any]]]], None]) -> Path:
        """Give a copy of the demo's site on which something is different; ``change`` gets the features by layer."""
        copy = self.folder / name
        shutil.copytree(SITE, copy)
        files = {path.stem: json.loads(path.read_text("utf-8")) for path in copy.glob("*.geojson")}
        change({layer: content["features"] for layer, content in files.items()})
        for layer, content in files.items():
            (copy / f"{layer}.geojson").write_text(json.dumps(content, ensure_ascii=False), "utf-8")
        return copy


def of(features: list[dict[str, Any]], name: str) -> dict[str, Any]:
    found: dict[str, Any] = next(f for f in features if f["properties"]["id"] == name)
    return found


@pytest.fixture(scope="module")
def founded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make the demo's plan, and a register with a supervisor, a planner and an operator, to be copied."""
    folder = tmp_path_factory.mktemp("founded")
    with pytest.MonkeyPatch.context() as patch:
        hut = Hut(folder, patch)
        asked = ("--from", "G1", "--to", "P1", "--weather", WEATHER, "--out", ".")
        hut.travel("plan", SITE, "--machine", MACHINE, *asked, code=3)
        hut.travel("register", "init", "Ruth", by="Ruth")
        hut.travel("register", "person", "Hanne", "--role", "planner", "--by", "Ruth", by="Ruth", new="Hanne")
        hut.travel("register", "person", "Ivo", "--role", "operator", "--by", "Ruth", by="Ruth", new="Ivo")
    return folder


@pytest.fixture
def hut(founded: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Hut:
    """Give a hut with the plan and the register."""
    shutil.copytree(founded, tmp_path / "hut")
    hut = Hut(tmp_path / "hut", monkeypatch)
    hut.minute = 10
    return hut


NOW = ("--site", SITE, "--machine", MACHINE, "--until", UNTIL)


def test_from_submission_to_withdrawal(hut: Hut) -> None:
    assert "VALID, NOT RELEASED" in hut.status(SITE, code=3)
    assert "DRAFT: it was never submitted" in hut.status(SITE, code=3)

    # submitted, and not by whoever releases it
    assert "NOT GO: the plan is submitted" in hut.travel("submit", "plan.json", by="Hanne")
    refused = hut.travel("release", "plan.json", *NOW, by="Hanne", code=1)
    assert "Hanne submitted this plan; somebody else has to release it" in refused

    # released with the plan's own conditions and one of the supervisor's
    wash = "Wash the wheels|operator|before leaving|seen at the gate"
    said = hut.travel("release", "plan.json", *NOW, "--condition", wash, by="Ruth", code=3)
    assert "RELEASED WITH CONDITIONS by Ruth" in said
    assert "NOT GO: 4 conditions are open; no operator has accepted it by name" in said
    assert (
        "supervisor-1: Wash the wheels\n      who: operator; when: before leaving; shown by: seen at the gate" in said
    )
    assert "VALID, CONDITIONS OPEN" in hut.status(SITE, code=3)
    assert "condition spotter is open" in hut.travel("accept", "plan.json", by="Ivo", code=1)

    # closed one by one, each with what shows it
    said = hut.travel("close-condition", "plan.json", "spotter", "--evidence", "Olek, channel 4", by="Ivo")
    assert "spotter: Olek, channel 4 – Ivo, 2026-11-25 10:" in said
    for condition in ("people-kept-out", "traffic-held", "supervisor-1"):
        hut.travel("close-condition", "plan.json", condition, "--evidence", "seen", by="Ruth")
    assert "VALID, NOT ACCEPTED" in hut.status(SITE, code=3)
    assert "GO AS DECIDED" in hut.travel("accept", "plan.json", by="Ivo")
    said = hut.status(SITE, code=0)
    assert said.splitlines()[0].endswith(": VALID")
    assert "\n  GO\n" in said

    # a change on the way: the culvert is found to bear less
    weaker = hut.site("weaker", lambda layers: of(layers["limits"], "LM6")["properties"].update(axle_kg=9000.0))
    said = hut.status(weaker, code=1)
    assert said.splitlines()[0].endswith(": VOID")
    assert "limits LM6: axle was 16000 kg, is 9000 kg" in said
    assert "new: posted-load, out, R47" in said
    assert "NOT GO: the plan is void" in said

    closed = hut.site("closed", lambda layers: of(layers["limits"], "LM6")["properties"].update(axle_kg=5000.0))
    said = hut.status(closed, code=1)
    assert "no way, blocked" in said
    assert "findings of the old way fall with it" in said

    # one off it
    relied = {row["feature"] for row in json.loads(Path("plan.json").read_text("utf-8"))["relied_on"]}

    def elsewhere(layers: dict[str, list[dict[str, Any]]]) -> None:
        far = [f for f in layers["roads"] if f["properties"]["id"] not in relied]
        assert len(far) > 10
        for feature in far:
            feature["properties"]["width_m"] += 0.5

    assert "\n  GO\n" in hut.status(hut.site("elsewhere", elsewhere), code=0)

    # a new feature beside the way, and the same far from it
    def dug(place: str) -> Callable[[dict[str, list[dict[str, Any]]]], None]:
        def change(layers: dict[str, list[dict[str, Any]]]) -> None:
            x, y = of(layers["places"], place)["geometry"]["coordinates"][:2]
            new = {"id": "ED99", "kind": "trench", "depth_m": 1.5}
            line = {"type": "LineString", "coordinates": [[x + 1e-5, y], [x + 1e-5, y + 5e-5]]}
            layers["edges"].append({"type": "Feature", "properties": new, "geometry": line})

        return change

    said = hut.status(hut.site("dug", dug("W1")), code=1)
    assert "edges ED99: new (depth 1.5 m, kind trench)" in said
    assert "edge-standoff" in said
    assert "\n  GO\n" in hut.status(hut.site("dug_far_off", dug("P3")), code=0)

    # withdrawn, and what is left holds together
    assert "NOT GO: the plan is withdrawn" in hut.travel("withdraw", "plan.json", "--reason", "called off", by="Hanne")
    assert hut.status(SITE, code=1).splitlines()[0].endswith(": WITHDRAWN")
    assert "The register holds together: 11 decisions" in hut.travel("register", "verify")
    said = hut.travel("register", "show", "plan.json")
    assert [line.split()[0] for line in said.splitlines() if "2026-11-25 10:" in line and line[0].isdigit()] == [
        "4", "5", "6", "7", "8", "9", "10", "11"
    ]  # fmt: skip


def test_what_was_changed_behind_a_release_is_found(hut: Hut) -> None:
    hut.travel("submit", "plan.json", by="Hanne")
    plan = Path("plan.json").read_bytes()
    Path("plan.json").write_bytes(plan.replace(b'"verdict": "caution"', b'"verdict": "clear"', 1))
    assert Path("plan.json").read_bytes() != plan
    said = hut.status(SITE, code=1)
    assert "This is not the file submitted under its number" in said
    refused = hut.travel("release", "plan.json", *NOW, by="Ruth", code=1)
    assert "is not the file submitted as TP-" in refused
    Path("plan.json").write_bytes(plan)

    # a rulebook of the company's that came later
    row = {
        "id": "people.margin",
        "value": 1.5,
        "unit": "m",
        "sense": "at_least",
        "status": "site",
        "source": "practice",
    }
    Path("book.toml").write_text(builders.toml({"format": 1, "layer": "company", "limits": [row]}), "utf-8")
    refused = hut.travel("release", "plan.json", *NOW, "--rulebook", "book.toml", by="Ruth", code=1)
    assert "rulebook people.margin: always (company) was none, is 1.5" in refused
    assert "the plan is void" in refused

    # a machine's sheet that was put right
    sheet = MACHINE.read_text("utf-8")
    Path("machine.toml").write_text(sheet.replace("top_kmh = ", "top_kmh = 1", 1), "utf-8")
    said = hut.travel("status", "plan.json", "--site", SITE, "--machine", "machine.toml", code=1)
    assert "machine sheet: gears 1 top was 8 km/h, is 18 km/h" in said
    assert "NOT GO: the plan is submitted" in hut.travel("register", "list") + hut.travel(
        "register", "show", "plan.json"
    )


def test_a_release_that_ran_out_is_renewed(hut: Hut) -> None:
    hut.travel("submit", "plan.json", by="Hanne")
    hut.travel("release", "plan.json", *NOW, by="Ruth", code=3)
    hut.minute = 8 * 60
    assert "LAPSED" in hut.status(SITE, code=1).splitlines()[0]
    later = ("--site", SITE, "--machine", MACHINE, "--until", "2026-11-26T17:00:00+00:00")
    said = hut.travel("renew", "plan.json", *later, by="Ruth", code=3)
    assert "RELEASED WITH CONDITIONS by Ruth" in said
    assert "3 conditions are open" in said
    too_far = ("--site", SITE, "--machine", MACHINE, "--until", "2026-12-24T17:00:00+00:00")
    assert "the survey of edges holds until 2026-12-05" in hut.travel("renew", "plan.json", *too_far, by="Ruth", code=1)
    hut.minute = 60 * 24 * 20
    said = hut.status(SITE, code=1)
    assert "LAPSED" in said.splitlines()[0]
    assert "The survey of edges held until 2026-12-05" in said


def test_an_amended_site_is_not_what_is_there(hut: Hut) -> None:
    hut.travel(
        "plan", SITE, "--machine", MACHINE, "--from", "G1", "--to", "P1", "--weather", WEATHER,
        "--amend", "overheads:OV1:clearance_m=4", "--out", "amended", code=3,
    )  # fmt: skip
    hut.travel("submit", "amended/plan.json", by="Hanne")
    said = hut.travel("release", "amended/plan.json", *NOW, by="Ruth", code=1)
    assert "planned on a changed copy of the site: make the change, survey it, plan on what is there" in said


def drawn(page: str) -> str:
    """Give the map of a comparison, which stands in its page as a picture."""
    picture = re.search(r"data:image/svg\+xml;base64,([^\"]+)", page)
    assert picture is not None
    return base64.b64decode(picture[1]).decode("utf-8")


def test_compare_in_words_and_on_a_map(hut: Hut) -> None:
    narrower = hut.site("narrower", lambda layers: of(layers["roads"], "R48")["properties"].update(width_m=4.4))
    hut.travel(
        "plan", narrower, "--machine", MACHINE, "--from", "G1", "--to", "P1", "--weather", WEATHER, "--out", "b", code=3
    )
    said = hut.travel("compare", "plan.json", "plan.json")
    assert "The ways are the same." in said
    said = hut.travel("compare", "plan.json", "b/plan.json", "--site", narrower, "--out", "compare.html")
    assert "1. roads R48: width was 6.4 m, is 4.4 m" in said
    page = Path("compare.html").read_text("utf-8")
    assert "roads R48: width was 6.4" in page
    assert "<script" not in page
    rings = "what differs, by its number in the list"
    assert rings in drawn(page)
    hut.travel("compare", "plan.json", "plan.json", "--site", narrower, "--out", "same.html")
    assert rings not in drawn(Path("same.html").read_text("utf-8"))
    told = json.loads(hut.travel("compare", "plan.json", "b/plan.json", "--json"))
    assert told["alike"]
    assert [change["feature"] for change in told["relied_on"]] == ["R48"]
    assert "go together" in hut.travel("compare", "plan.json", "b/plan.json", "--out", "x.html", code=2)


def test_another_machines_sheet_is_told_in_one_line(hut: Hut) -> None:
    small = MACHINE.with_name("small.toml")
    said = hut.travel("status", "plan.json", "--site", SITE, "--machine", small, code=1)
    assert "machine sheet: name was Middle, 16.5 t, is Small, 11 t" in said
    told = [line for line in said.splitlines() if "machine sheet: " in line]
    assert len(told) == 2
    raw = json.loads(hut.travel("status", "plan.json", "--site", SITE, "--machine", small, "--json", code=1))
    (sheet,) = [change for change in raw["changes"] if change["layer"] == "machine"]
    assert f"{len(sheet['fields']) - 1} more values differ (--json lists each)" in told[1]


def test_a_release_ends_with_the_first_dated_value_beside_the_way(founded: Path, hut: Hut) -> None:
    def dated(layers: dict[str, list[dict[str, Any]]]) -> None:
        start = of(layers["places"], "P1")["geometry"]["coordinates"]
        ring = [[start[0] + dx * 1e-5, start[1] + dy * 1e-5] for dx, dy in ((8, 8), (9, 8), (9, 9), (8, 8))]
        own = {"id": "GX", "surface": "clay", "bearing_kpa": 200, "valid_until": "2026-11-26"}
        layers["ground"].append(
            {"type": "Feature", "properties": own, "geometry": {"type": "Polygon", "coordinates": [ring]}}
        )

    site = hut.site("dated", dated)
    here = ("--site", site, "--machine", MACHINE)
    asked = ("--from", "G1", "--to", "P1", "--weather", WEATHER, "--out", ".")
    hut.travel("plan", site, "--machine", MACHINE, *asked, code=3)
    hut.travel("submit", "plan.json", by="Hanne")
    said = hut.travel("release", "plan.json", *here, "--until", "2026-11-27T01:00:00+00:00", by="Ruth", code=1)
    assert "what is said of ground GX holds until 2026-11-27T00:00:00+00:00, not longer" in " ".join(said.split())
    hut.travel("release", "plan.json", *here, "--until", "2026-11-27T00:00:00+00:00", by="Ruth", code=3)
    assert "What is said of ground GX holds until 2026-11-27 00:00" in hut.status(site, code=3)
    hut.minute = 14 * 60 + 24 * 60
    later = hut.status(site, code=1)
    assert "LAPSED" in later
    assert "What is said of ground GX held until 2026-11-27 00:00" in later


@pytest.mark.parametrize(("inspected", "ends"), [
    ("2026-11-25", "2026-11-26T00:00:00+00:00"), ("2026-11-20", None), (None, None),
])  # fmt: skip
def test_an_edge_inspected_on_the_day_is_to_be_inspected_again_the_next(
    founded: Path, inspected: str | None, ends: str | None
) -> None:
    content = json.loads((founded / "plan.json").read_text("utf-8"))
    for row in content["relied_on"]:
        if row["layer"] == "edges":
            row["values"]["inspected_on"] = inspected
    end, feature = values_end(plan_from_bytes(json.dumps(content).encode(), "plan.json"))
    assert (end.isoformat() if end else None) == ends
    assert feature.startswith("edges ED") == (ends is not None)


def edited(change: Callable[[dict[str, Any]], None]) -> None:
    """Change the plan file by hand."""
    content = json.loads(Path("plan.json").read_text("utf-8"))
    change(content)
    Path("plan.json").write_text(json.dumps(content), "utf-8")


def no_spotter(content: dict[str, Any]) -> None:
    content["conditions"] = [c for c in content["conditions"] if c["id"] != "spotter"]


def milder(content: dict[str, Any]) -> None:
    content["findings"][0]["verdict"] = "caution"
    content["findings"][0]["capacity"] = 99.0


def no_people(content: dict[str, Any]) -> None:
    content["findings"] = [finding for finding in content["findings"] if finding["rule"] != "people"]


def faster(content: dict[str, Any]) -> None:
    content["legs"][0]["speed_kmh"] += 1.0


def faster_of_another_version(content: dict[str, Any]) -> None:
    faster(content)
    content["program"]["version"] = "0.0.1"


def no_stop(content: dict[str, Any]) -> None:
    content["stops"] = [stop for stop in content["stops"] if stop["kind"] != "change"]


@pytest.mark.parametrize(("change", "part"), [
    (no_spotter, "conditions"), (milder, "findings"), (no_people, "findings"), (faster, "speeds"), (no_stop, "stops"),
    (faster_of_another_version, "speeds"),
])  # fmt: skip
def test_a_file_changed_by_hand_before_it_is_submitted_is_not_released(
    hut: Hut, change: Callable[[dict[str, Any]], None], part: str
) -> None:
    edited(change)
    said = " ".join(hut.status(SITE, code=1).split())
    assert ": VOID It is not what planning gives: The file does not say" in said
    assert f"Otherwise: {part}" in said
    hut.travel("submit", "plan.json", by="Hanne")
    said = " ".join(hut.travel("release", "plan.json", *NOW, by="Ruth", code=1).split())
    assert f"The file does not say what planning again on the same facts says. Otherwise: {part}" in said
