"""What is written: JSON by its schema and to the byte, the page without network, the command's exit codes."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import jsonschema
import pytest

from tests.builders import toml
from tests.unit.ramp.ramps import DEMO, RULEBOOK, ask_demo, asked, sheet
from tests.unit.ramp.ramps import demo_answer as answer
from travel.domain.ramp import RampRequest
from travel.errors import InputError
from travel.service.ramp import make_ramp, ramp_exit, ramp_request, ramp_text, with_nose, write_ramp
from travel.service.show import schema_of
from travel.writers.ramp_json import ramp_schema, ramp_to_bytes
from travel.writers.ramp_page import ramp_page
from travel.writers.ramp_png import side_view_png
from travel.writers.ramp_words import centimetres, facts, finding_where, tight_text
from travel.writers.sentences import sentence
from travel.writers.svg_ramp import side_view_file, zoom_view

MACHINE = DEMO / "machines" / "middle.toml"
NAMES = sorted(path.stem for path in (DEMO / "trailers").glob("*.toml"))


@pytest.fixture(autouse=True)
def _one_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1795608000")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("more", [{}, {"first": "tail", "move": "unload", "ground_slope_pct": -3.0}])
def test_every_demo_answer_meets_the_schema(name: str, more: dict[str, Any]) -> None:
    result = answer(name, **more).result
    data = json.loads(ramp_to_bytes(result))
    jsonschema.validate(data, ramp_schema())
    rows = len(data["positions_m"])
    for key in ("clearance_m", "grip_needed_ratio", "grip_available_ratio", "coupling_by_position_kg"):
        assert len(data[key]) == rows
    assert [len(axle) for axle in data["axle_loads_kg"]] == [rows, rows]
    assert data["positions_m"] == sorted(data["positions_m"])


def test_front_axle_stands_first_and_gets_lighter_nose_up() -> None:
    front, rear = answer().result.axle_loads_kg
    assert front[0] == pytest.approx(16500 * 1.424 / 2.9, rel=1e-3)
    assert min(x for x in front if x is not None) < (front[0] or 0.0) - 300
    assert max(x for x in rear if x is not None) > (rear[0] or 0.0) + 300


def test_same_question_same_bytes() -> None:
    assert ramp_to_bytes(ask_demo().result) == ramp_to_bytes(ask_demo().result)


def test_the_smallest_is_no_more_than_any_position_shows() -> None:
    for name in NAMES:
        result = answer(name).result
        shown = min(value for value in result.clearance_m if value is not None)
        assert result.smallest_clearance.value_m is not None
        assert result.smallest_clearance.value_m <= shown + 1e-9


@pytest.mark.parametrize("name", NAMES)
def test_page_stands_alone_and_says_no_more_than_the_answer(name: str) -> None:
    found = answer(name)
    page = ramp_page(found.result, found.trailer, found.rulebook)
    assert "default-src 'none'" in page
    assert "<script" not in page
    assert not re.findall(r"(?:src|href)=\"(?!#)", page)
    assert not re.findall(r"https?://(?!www\.w3\.org)", page)
    for svg in re.findall(r"<svg class=\"r[vc]\".*?</svg>", page, re.S):
        root = ElementTree.fromstring(svg)
        assert root.attrib["role"] == "img"
        assert len(root.attrib["aria-label"]) > 20
    assert ("Yes:" in page) == (found.result.verdict == "clear")
    for rule in found.result.checked:
        if rule.verdict is None:
            assert not re.search(rf"<td>{re.escape(rule.title)}</td><td>clear", page)


def test_what_people_typed_is_escaped(tmp_path: Path) -> None:
    nasty = '<script>alert(1)</script> & "quotes"'
    path = tmp_path / "t.toml"
    path.write_text(toml(sheet("semi_low_loader", name=nasty, tie_points__0__name=nasty)), encoding="utf-8")
    found = make_ramp(MACHINE, path, RampRequest(surface="asphalt", ground="wet", jurisdiction="gb"))
    page = ramp_page(found.result, found.trailer, found.rulebook)
    assert "<script" not in page
    ElementTree.fromstring(side_view_file(found.result).partition("\n")[2])
    assert "alert" in page


def test_tightest_place_is_told_in_whole_centimetres_never_rounded_up() -> None:
    result = answer().result
    value = result.smallest_clearance.value_m
    assert value is not None
    assert centimetres(value) in tight_text(result)
    assert centimetres(0.1299) == "12 cm"
    assert f">{centimetres(value)}<" in zoom_view(result)
    blocked = answer("short_ramps_drawbar").result
    assert "cuts in" in tight_text(blocked)


def test_exit_codes() -> None:
    assert ramp_exit(answer("detachable_neck")) == 0
    assert ramp_exit(answer("semi_low_loader")) == 3
    assert ramp_exit(answer("light_rig_rolls", ground_slope_pct=4.0)) == 1
    assert ramp_exit(answer("semi_low_loader", surface=None)) == 3


def test_summary_names_flags_numbers_and_what_was_not_looked_at() -> None:
    from rich.console import Console

    console = Console(width=120, record=True, file=io.StringIO())
    for part in ramp_text(answer("light_rig_rolls", ground_slope_pct=4.0), ("x",), False):
        console.print(part)
    text = console.export_text()
    for word in ("BLOCKED", "The rig rolls", "Chock the trailer", "not built yet", "Not looked at is not clear"):
        assert word in text
    assert "asked of a place on a site, by travel plan with --trailer" in " ".join(text.split())
    assert json.loads(str(ramp_text(answer(), (), True)))["schema"]


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"surface": "lava"}, "surface"),
        ({"ground": "soup"}, "weather"),
        ({"jurisdiction": "mars"}, "jurisdiction"),
        ({"move": "fly"}, "move"),
        ({"first": "side"}, "first"),
        ({"ground_slope_pct": 45.0}, "ground-slope"),
        ({"ground_cross_slope_pct": float("nan")}, "cross-slope"),
    ],
)
def test_a_bad_question_is_refused(bad: dict[str, Any], field: str) -> None:
    with pytest.raises(InputError) as error:
        answer(**bad)
    assert any(fault.field == field for fault in error.value.faults)


@pytest.mark.parametrize(("nose", "slope", "signed"), [("up", 4.0, 4.0), ("down", 4.0, -4.0), (None, -4.0, -4.0)])
def test_nose_gives_the_slope_its_sign(nose: str | None, slope: float, signed: float) -> None:
    assert with_nose(ramp_request(ground_slope=slope), nose).ground_slope_pct == signed


def test_a_request_file_asks_and_the_command_line_comes_before_it(tmp_path: Path) -> None:
    path = tmp_path / "request.toml"
    path.write_text(
        'format = 1\n[weather]\nground = "damp"\n[ramp]\nmove = "unload"\nfirst = "tail"\n'
        "ground_slope_pct = -3.0\nground_cross_slope_pct = 1.5\n",
        encoding="utf-8",
    )
    asked = ramp_request(file=path, surface="asphalt")
    assert asked == RampRequest(move="unload", first="tail", ground_slope_pct=-3.0, ground_cross_slope_pct=1.5,
                                ground="damp", surface="asphalt")  # fmt: skip
    told = ramp_request(file=path, move="load", ground_slope=0.0, weather="ground=wet")
    assert (told.move, told.first, told.ground_slope_pct, told.ground) == ("load", "tail", 0.0, "wet")
    assert with_nose(ramp_request(file=path), "up").ground_slope_pct == 3.0


def test_every_fault_of_a_request_file_is_named(tmp_path: Path) -> None:
    path = tmp_path / "request.toml"
    path.write_text('format = 1\n[ramp]\nmove = "fly"\nground_slope_pct = 44\nground_slope = 1\n', encoding="utf-8")
    with pytest.raises(InputError) as error:
        ramp_request(file=path)
    assert {fault.field for fault in error.value.faults} == {"ramp.move", "ramp.ground_slope_pct", "ramp.ground_slope"}


def test_schemas_of_sheet_and_answer() -> None:
    jsonschema.Draft202012Validator.check_schema(schema_of("trailer"))
    jsonschema.validate(sheet("tilt_bed"), schema_of("trailer"))
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(sheet("tilt_bed", kind="sledge"), schema_of("trailer"))
    assert schema_of("ramp") == ramp_schema()


def test_picture_is_the_side_view_and_the_same_twice() -> None:
    first, again = side_view_png(answer().result), side_view_png(answer().result)
    assert first[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(first[16:20], "big") == 2000
    assert first == again
    assert first != side_view_png(answer("short_ramps_drawbar").result)


@pytest.mark.slow
def test_the_command_writes_whole_and_exits_as_told(tmp_path: Path) -> None:
    def run(*more: str) -> subprocess.CompletedProcess[str]:
        base = [sys.executable, "-m", "travel", "ramp", "--machine", str(MACHINE), "--out", str(tmp_path / "out")]
        return subprocess.run([*base, *more], capture_output=True, text=True, check=False)

    level = ("--ground-slope", "0", "--cross-slope", "0")
    good = run("--trailer", str(DEMO / "trailers" / "tilt_bed.toml"), *level, "--surface", "asphalt", "--weather",
               "ground=wet", "--jurisdiction", "gb", "--json")  # fmt: skip
    assert good.returncode == 0
    assert json.loads(good.stdout)["verdict"] == "clear"
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"ramp.json", "ramp.html", "ramp.svg", "ramp.png"}
    bad = run("--trailer", str(tmp_path / "none.toml"))
    assert bad.returncode == 2
    assert "none.toml" in bad.stderr


def test_files_are_written_where_asked(tmp_path: Path) -> None:
    paths = write_ramp(answer(), tmp_path / "deep" / "folder")
    assert [path.name for path in paths] == ["ramp.json", "ramp.html", "ramp.svg", "ramp.png"]
    assert all(path.stat().st_size > 1000 for path in paths)


def test_what_is_closer_than_the_sheets_tell_is_told_with_its_part() -> None:
    found = asked(request={"jurisdiction": "us", "ground_slope_pct": 1.0}).findings
    said = [sentence(f, RULEBOOK) for f in found if f.reason == "within_tolerance"]
    assert [text.partition(":")[0] for text in said] == ["Axles bogie 1 to bogie 3 (bridge formula)", "Permitted slope"]


def test_a_bed_that_comes_down_itself_has_no_ramp_s_foot_in_words() -> None:
    made = answer("tilt_bed", surface="clay", ground_slope_pct=-3.0)
    said = [finding_where(f, made.result) for f in made.result.findings] + [text for _, text in facts(made.result)]
    assert any("the deck's edge" in text for text in said)
    assert not any("ramp's foot" in text or "axle −" in text for text in said)
