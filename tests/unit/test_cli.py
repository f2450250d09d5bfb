"""The command line: arguments in, exit code and text out; nothing half-written, no traceback."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import jsonschema
import pytest
from typer.testing import CliRunner, Result

from tests import builders
from tests.planning import DEMO, ROOT
from travel.cli import app, only_asked
from travel.errors import Cancelled
from travel.service.show import KINDS, schema_of
from travel.writers.plan_json import plan_schema

EPOCH = "1796212800"  # 2026-12-02, within the validity of the demo's survey
SITE, MACHINE = str(DEMO / "site"), str(DEMO / "machines" / "middle.toml")
WEATHER = "ground=damp,temperature_c=8,wind_mps=4"


@pytest.fixture(autouse=True)
def _same_day(monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", EPOCH)


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, [str(a) for a in arguments])


def plan(out: Path, *more: str, to: str = "P1", machine: str = MACHINE, weather: str = WEATHER) -> Result:
    return run(
        "plan", SITE, "--machine", machine, "--from", "G1", "--to", to, "--weather", weather, "--out", out, *more
    )


# -- exit codes


@pytest.mark.parametrize(
    ("to", "machine", "weather", "code", "says"),
    [
        ("P1", "middle", WEATHER, 3, "Yes, with care"),
        ("P2", "middle", WEATHER, 3, "unknown"),
        ("P3", "large", WEATHER, 1, "No"),
        ("P1", "middle", "", 3, "unknown"),
        ("P9", "middle", WEATHER, 2, "is not a place of this site"),
        ("P1", "middle", "ground=soggy", 2, "is not a state of the ground"),
        ("P1", "middle", "rain=heavy", 2, "cannot be read"),
        ("P1", "middle", "wind_mps=strong", 2, "wind_mps=strong"),
        ("P1", "middle", "wind_mps=nan", 2, "wind_mps=nan"),
        ("P1", "middle", "ground=mud,ground=dry", 2, "ground is said twice"),
        ("G1", "middle", WEATHER, 2, "where the machine starts"),
    ],
)
def test_answers_and_faults(tmp_path, to, machine, weather, code, says):
    result = plan(tmp_path, to=to, machine=str(DEMO / "machines" / f"{machine}.toml"), weather=weather)
    assert result.exit_code == code, result.output
    assert says.lower() in result.output.lower()
    assert "Traceback" not in result.output
    assert (tmp_path / "plan.json").exists() == (code != 2)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--at", "tomorrow"), "is not a time"),
        (("--at", "2026-12-02T08:00:00"), "has no offset"),
        (("--accept-unknown", "headroom-12345678"), "needs an id and a reason"),
        (("--accept-unknown", "headroom-12345678: "), "needs an id and a reason"),
        (("--amend", "roads/R48"), "cannot be read"),
        (("--amend", "roads:R48:width_m=4@1..2-3"), "cannot be read"),
        (("--amend", "roads:R99:width_m=4"), "no such feature"),
        (("--amend", "roads:R48:surface=ice_cream"), "not an allowed word"),
        (("--amend", "closures:CL1:closed_until=tomorrow"), "not a time with its offset"),
        (("--amend", "edges:ED1:depth_m="), "is needed"),
        (("--amend", "roads:R48:width_m=nan"), "not a number"),
        (("--amend", "limits:LM1:road=7"), "no such road"),
        (("--amend", "limits:LM5:axle_kg="), "without what it allows"),
        (("--amend", "people:PE1:from_time="), "one end only"),
        (("--at", "0001-01-01T00:00:00+14:00"), "from 1900 to 2099"),
        (("--at", "9999-12-31T23:59:00-12:00"), "from 1900 to 2099"),
        (("--aim", "scenery"), "is not an aim"),
        (("--rulebook", "no_such_book.toml"), "cannot be read"),
        (("--load", "no_such_load.toml"), "no_such_load.toml"),
    ],
)
def test_every_word_that_cannot_be_read_is_a_fault(tmp_path, arguments, says):
    result = plan(tmp_path, *arguments)
    assert result.exit_code == 2, result.output
    assert says in result.output
    assert not list(tmp_path.iterdir())


def test_faults_of_all_options_are_told_at_once(tmp_path):
    result = plan(tmp_path, "--at", "soon", "--amend", "x", "--accept-unknown", "y", weather="rain=1")
    assert result.exit_code == 2
    assert result.output.startswith("4 faults; nothing was written:")


@pytest.mark.parametrize("command", ["plan", "reach"])
def test_faults_of_all_files_are_told_at_once(tmp_path, command):
    ground = [builders.area("g", [(0, 0), (9, 0), (9, 9)], bearing_kpa=-5)]
    site = builders.write_site(tmp_path / "s", **builders.good_layers() | {"ground": ground})
    for name in ("machine", "load"):
        (tmp_path / f"{name}.toml").write_text("format = 1\nbogus = 3\n")
    to = ("--to", "pick") if command == "plan" else ()
    sheets = ("--machine", tmp_path / "machine.toml", "--load", tmp_path / "load.toml")
    result = run(command, site, *sheets, "--from", "gate", *to, "--out", tmp_path / "out")
    assert result.exit_code == 2
    for file in ("ground.geojson", "machine.toml › bogus", "load.toml › bogus"):
        assert result.output.count(file) == 1
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("missing", ["site", "machine"])
def test_a_missing_file_is_a_fault_with_its_name(tmp_path, missing):
    site, machine = (str(tmp_path / "none"), MACHINE) if missing == "site" else (SITE, str(tmp_path / "none.toml"))
    result = run("plan", site, "--machine", machine, "--from", "G1", "--to", "P1", "--out", tmp_path / "out")
    assert result.exit_code == 2, result.output
    assert "none" in result.output
    assert result.output.startswith("1 fault")
    assert not (tmp_path / "out").exists()


def test_a_slip_in_a_place_lists_the_places(tmp_path):
    result = plan(tmp_path, to="P11")
    assert result.exit_code == 2
    for place in ("G1", "P1", "P2", "P3"):
        assert re.search(rf"\b{place}\b", result.output)


@pytest.mark.parametrize("stop", [KeyboardInterrupt, Cancelled])
def test_cancelled(tmp_path, monkeypatch, stop):
    def interrupted(*_, **__):
        raise stop

    monkeypatch.setattr("travel.planning.trips.fold", interrupted)
    result = plan(tmp_path)
    assert result.exit_code == 130
    assert "nothing was half-written" in result.output
    assert not list(tmp_path.iterdir())


def test_the_rulebook_of_a_company_counts_and_its_faults_stop(tmp_path):
    book = tmp_path / "book.toml"
    row = {"id": "grade-limit.caution", "value": 20.0, "unit": "%", "sense": "at_least", "status": "practice",
           "source": "practice"}  # fmt: skip
    book.write_text(builders.toml({"format": 1, "layer": "company", "limits": [row]}), encoding="utf-8")
    result = plan(tmp_path / "out", "--rulebook", str(book), "--json")
    assert result.exit_code == 3
    content = json.loads(result.output)
    assert [b["layer"] for b in content["rulebooks"]] == ["default", "company"]
    assert any(f["rule"] == "grade-limit" for f in content["findings"]), "a margin of 20 % makes the slope thin"
    assert content["plan_id"] != json.loads(plan(tmp_path / "plain", "--json").output)["plan_id"]
    book.write_text(builders.toml({"format": 1, "layer": "company", "limits": [row | {"source": "x"}]}), "utf-8")
    result = plan(tmp_path / "out2", "--rulebook", str(book))
    assert result.exit_code == 2
    assert "names no source" in result.output


# -- what is written


def test_json_is_valid_and_is_what_stands_in_the_folder(tmp_path):
    result = plan(tmp_path, "--json")
    jsonschema.validate(json.loads(result.output), plan_schema())
    written = (tmp_path / "plan.json").read_text(encoding="utf-8")
    assert json.loads(written) == json.loads(result.output)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["map.html", "plan.json"]
    assert (tmp_path / "map.html").read_text(encoding="utf-8").rstrip().endswith("</html>")


def test_json_of_reach_is_json_alone_where_files_are_written_too(tmp_path):
    ask = ("reach", SITE, "--machine", MACHINE, "--from", "G1", "--weather", WEATHER, "--json", "--out", tmp_path)
    result = run(*ask)
    assert {row["place"] for row in json.loads(result.stdout)["places"]} >= {"P1", "P2"}
    assert "written: " in result.stderr


def test_no_remedy_has_the_number_nought(tmp_path):
    large = str(DEMO / "machines" / "large.toml")
    ask = ("--machine", large, "--from", "G1", "--to", "P3", "--weather", WEATHER)
    (tmp_path / "full").write_text("")
    ask = (*ask[:-1], "ground=soggy,wind_mps=strong")
    result = run("remedy", SITE, *ask, "--apply", "0", "--to-dir", tmp_path)
    assert result.exit_code == 2
    for fault in ("is not one", "nothing is overwritten", "wind_mps=strong"):
        assert fault in result.output
    assert [path.name for path in tmp_path.iterdir()] == ["full"]


def test_same_question_same_bytes(tmp_path):
    for name in ("a", "b"):
        plan(tmp_path / name)
    for file in ("plan.json", "map.html"):
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes()


def test_an_epoch_that_is_no_time_is_a_fault(tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "yesterday")
    result = plan(tmp_path)
    assert result.exit_code == 2
    assert "SOURCE_DATE_EPOCH" in result.output


@pytest.mark.parametrize("before", [None, b"old plan"])
def test_both_files_or_none(tmp_path, before):
    """The map cannot be written: the plan beside it is as it was."""
    (tmp_path / "map.html").mkdir()
    (tmp_path / "map.html" / "in the way").touch()
    if before is not None:
        (tmp_path / "plan.json").write_bytes(before)
    result = plan(tmp_path)
    assert result.exit_code == 2
    assert "map.html: cannot be written" in result.output
    assert (tmp_path / "plan.json").exists() == (before is not None)
    if before is not None:
        assert (tmp_path / "plan.json").read_bytes() == before
    assert not list(tmp_path.glob(".*"))


def test_out_that_is_a_file_is_a_fault(tmp_path):
    (tmp_path / "out").write_text("here already")
    result = plan(tmp_path / "out")
    assert result.exit_code == 2
    assert "cannot be written" in result.output


def test_a_name_no_disk_takes_is_a_fault(tmp_path):
    result = plan(tmp_path / ("n" * 300))
    assert result.exit_code == 2
    assert "cannot be read or written: File name too long" in result.output


def test_default_folder_is_named_for_site_machine_and_place(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run("plan", SITE, "--machine", MACHINE, "--from", "G1", "--to", "P1", "--weather", WEATHER)
    assert result.exit_code == 3
    assert (tmp_path / "maps" / "demo_site-middle-P1" / "map.html").exists()


def test_an_accepted_unknown_counts_and_is_named(tmp_path):
    before = json.loads(plan(tmp_path / "a", "--json", weather="temperature_c=8,wind_mps=4").output)
    unknown = [f for f in before["findings"] if f["verdict"] == "unknown" and f["acceptable"]]
    assert unknown
    again = plan(tmp_path / "b", "--json", "--accept-unknown", f"{unknown[0]['id']}:seen on the walk",
                 weather="temperature_c=8,wind_mps=4")  # fmt: skip
    accepted = [f for f in json.loads(again.output)["findings"] if f["accepted"]]
    assert [f["accepted"] for f in accepted] == ["seen on the walk"]


def test_strict_turns_doubts_into_faults(tmp_path):
    site = tmp_path / "site"
    layers = builders.good_layers()
    layers["roads"].append(builders.road("r3", [(30, -20, 100), (30, 20, 101)]))  # crosses r1, no vertex shared
    builders.write_site(site, **layers)
    machine = builders.write_machine(tmp_path / "machine.toml")
    words = [
        "plan",
        str(site),
        "--machine",
        str(machine),
        "--from",
        "gate",
        "--to",
        "pick",
        "--out",
        str(tmp_path / "o"),
    ]
    loose, strict = run(*words), run(*words, "--strict")
    assert loose.exit_code in (1, 3), loose.output
    assert json.loads((tmp_path / "o" / "plan.json").read_text())["doubts"]
    shutil.rmtree(tmp_path / "o")
    assert strict.exit_code == 2
    assert "a doubt; faults under --strict" in strict.output
    assert not (tmp_path / "o").exists()


# -- rules and schemas


def test_rules_lists_each_limit_with_its_source():
    rows = json.loads(run("rules", "--json").output)
    rows = rows if isinstance(rows, list) else rows["limits"]
    assert len(rows) >= 20
    for row in rows:
        for key in ("id", "unit", "value", "layer", "status", "source"):
            assert key in row, row
        assert row["source"]
    text = run("rules")
    assert text.exit_code == 0
    for row in rows:
        assert row["id"].partition(".")[0] in text.output


@pytest.mark.parametrize("kind", KINDS)
def test_schemas_are_schemas(kind):
    result = run("schema", kind)
    assert result.exit_code == 0
    content = json.loads(result.output)
    assert content == schema_of(kind)
    jsonschema.Draft202012Validator.check_schema(content)


@pytest.mark.parametrize("kind", KINDS)
def test_a_schema_can_be_read(kind):
    result = run("schema", kind, "--text")
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert max(len(line) for line in lines) <= 112
    known = {line.split()[1 if line.strip().startswith("* ") else 0] for line in lines if line.startswith("  ")}
    schema = schema_of(kind)
    assert set(schema["properties"]) <= known
    needed = {line.split()[1] for line in lines if line.startswith("  * ")}
    assert set(schema.get("required", ())) <= needed
    for name, layer in schema.get("x-layers", {}).items():
        at = next(n for n, line in enumerate(lines) if line.startswith(f"{name}.geojson: "))
        told = [line.strip(" *").split(" ")[0] for line in lines[at + 1 :] if line.startswith("  ")]
        assert [column for column in layer["columns"] if column not in told] == []


def test_a_schema_of_nothing_is_a_fault():
    result = run("schema", "weather_balloon")
    assert result.exit_code == 2
    for kind in KINDS:
        assert kind in result.output


# -- help


def commands() -> list[str]:
    return [command.name or command.callback.__name__ for command in app.registered_commands]  # type: ignore[union-attr]


@pytest.mark.parametrize("name", commands())
def test_every_command_has_an_example_that_names_itself(name):
    command = next(c for c in app.registered_commands if (c.name or c.callback.__name__) == name)  # type: ignore[union-attr]
    assert f"travel {name}" in (command.epilog or "")
    result = run(name, "--help")
    assert result.exit_code == 0
    assert (command.callback.__doc__ or "").split("\n")[0].rstrip(".")[:20] in result.output  # type: ignore[union-attr]


@pytest.mark.parametrize("name", commands())
def test_every_command_stands_in_the_readme(name):
    assert f"travel {name}" in (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("words", [["plan", "--help"], ["plan"], ["plan", SITE, "--bogus"], ["register", "--help"],
                                   ["register", "nothing"], ["rules", "--help"]])  # fmt: skip
def test_what_is_asked_alone_says_what_it_says_among_all(words):
    alone, among = only_asked(words), run(*words)
    assert len(alone.registered_commands) + len(alone.registered_groups) == 1
    said = CliRunner().invoke(alone, words)
    assert (said.exit_code, said.output) == (among.exit_code, among.output)


def test_a_word_that_is_no_command_leaves_all_of_them():
    count = len(app.registered_commands)
    assert len(only_asked(["plan"]).registered_commands) == 1
    for words in ([], ["--help"], ["plann"], ["--version", "plan"]):
        assert only_asked(words) is app
    assert len(app.registered_commands) == count


@pytest.mark.parametrize("arguments", [["plan"], ["nonsense"], ["plan", SITE, "--machine"], ["plan", SITE, "--bogus"]])
def test_wrong_usage_is_bad_input(arguments):
    assert run(*arguments).exit_code == 2


HEAVY = ("numpy", "shapely", "pyproj", "geopandas", "pyogrio", "rasterio", "folium", "pandas", "networkx", "pydantic")


def test_the_command_line_loads_nothing_heavy():
    code = f"import sys, travel.cli, travel, travel.service; print([m for m in {HEAVY!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_help_is_quick():
    took = []
    for _ in range(3):
        start = time.perf_counter()
        done = subprocess.run([sys.executable, "-m", "travel", "--help"], capture_output=True, text=True, cwd=ROOT)
        took.append(time.perf_counter() - start)
        assert done.returncode == 0
        assert "Exit codes" in done.stdout
    assert min(took) < 0.5


def test_lazy_names_are_the_names_said():
    import travel
    from travel import service

    for module in (travel, service):
        for name in module.__all__:
            assert getattr(module, name) is not None
        with pytest.raises(AttributeError):
            module.nothing_of_the_kind  # noqa: B018
