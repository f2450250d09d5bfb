"""Reach as asked: the options a plan has change it as they change the plan, and what was asked stands in the answer."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.builders import point, road, write_site
from tests.planning import DEMO
from travel.cli import app
from travel.domain.request import Acceptance, PlanRequest
from travel.domain.site import Amendment, Weather
from travel.errors import InputError
from travel.service.fleet import fleet, fleet_request, fleet_text
from travel.service.plan import make_plan
from travel.service.reach import places_exit, reach, reach_text, rounded_down, view_of
from travel.service.workspace import Workspace
from travel.writers.reach_page import reach_page

SITE = DEMO / "site"
POUR = dt.datetime(2026, 11, 30, 6, tzinfo=dt.UTC)
"""When the demo's slab pour closes its road."""
ASKED = PlanRequest(
    site=SITE,
    machine=DEMO / "machines" / "middle.toml",
    from_place="G1",
    to_place="",
    weather=Weather(ground="damp", temperature_c=8.0, wind_mps=4.0),
    with_return=False,
)
COVERED = Amendment(layer="limits", feature="LM12", field="cover_m", value=0.9, reason="asked on the command line")


@pytest.fixture(scope="module")
def width_id() -> str:
    """Give the id of what is not known on the way to pick point 3: a width within the tolerance."""
    row = next(row for row in reach(ASKED).rows if row.place == "P3")
    assert row.verdict == "unknown"
    assert row.binding is not None
    assert row.binding.rule == "width"
    return row.binding.id


def test_places_are_told_as_single_plans_tell_them_with_the_same_options(width_id: str) -> None:
    asked = replace(
        ASKED,
        at=POUR - dt.timedelta(minutes=5),
        amendments=(COVERED,),
        accept_unknown=(Acceptance(id=width_id, reason="measured again"),),
    )
    workspace = Workspace(path=SITE, amendments=asked.amendments)
    plain, found = ({row.place: row for row in reach(question).rows} for question in (ASKED, asked))
    for place in ("P1", "P2", "P3", "P5", "P6", "T5"):
        plan = make_plan(replace(asked, to_place=place), workspace, remedies="none", outlook=False).plan
        row, trip = found[place], plan.trips[0]
        assert row.verdict == ("blocked" if plan.outcome == "no_way" else trip.verdict)
        assert (row.length_m or 0.0, row.time_s or 0.0) == (pytest.approx(trip.length_m), pytest.approx(trip.time_s))
    changed = {place for place, row in found.items() if row.verdict != plain[place].verdict}
    assert {"P3", "P5"} <= changed  # accepted, covered
    assert (plain["P3"].verdict, found["P3"].verdict) == ("unknown", "caution")
    assert found["P3"].binding is not None


def test_what_was_asked_stands_in_text_json_and_page(width_id: str, tmp_path: Path) -> None:
    words = ("--at", "2026-11-30T05:55:00+00:00", "--amend", "limits:LM12:cover_m=0.9")
    accept = ("--accept-unknown", f"{width_id}:measured again")
    ask = ("reach", str(SITE), "--machine", str(ASKED.machine), "--from", "G1", "--out", str(tmp_path), *words, *accept)
    done = CliRunner().invoke(app, [*ask, "--weather", "ground=damp,temperature_c=8,wind_mps=4"])
    told = json.loads((tmp_path / "reach.json").read_text(encoding="utf-8"))
    assert told["request"]["at"] == "2026-11-30T05:55:00+00:00"
    assert [(row["feature"], row["value"]) for row in told["request"]["amendments"]] == [("LM12", 0.9)]
    assert told["request"]["accept_unknown"] == [{"id": width_id, "reason": "measured again"}]
    page = (tmp_path / "reach.html").read_text(encoding="utf-8")
    for text in (done.stdout, page.replace("\u00a0", " ")):
        assert "at 2026-11-30 05:55 +00:00" in text
        assert "limits LM12 cover 0.9 m" in text
        assert f"{width_id} (measured again)" in text
        assert "Weather not given" not in text
    assert done.exit_code == (1 if any(row["verdict"] == "blocked" for row in told["places"]) else 3)


def test_without_weather_it_is_said_once_and_how_to_give_it() -> None:
    found = reach(replace(ASKED, weather=Weather(temperature_c=8.0)))
    text, page = reach_text(found, as_json=False), reach_page(view_of(found), found.workspace.site)
    for said in (text, page):
        assert said.count("Weather not given") == 1
        assert "--weather ground=WORD,wind_mps=NUMBER" in said
    unknown = [row for row in view_of(found).places if row.verdict == "unknown"]
    assert any(row.severity is not None for row in unknown)
    assert page.count("<td>not known</td>") == len(unknown)


def test_numbers_in_json_are_rounded_as_in_a_plan_and_greatest_sizes_down() -> None:
    found = reach(ASKED)
    told = json.loads(reach_text(found, as_json=True))
    for row, one in zip(told["places"], found.rows, strict=True):
        for name, value in row["greatest"].items():
            exact = one.greatest[name]
            assert (value is None) == (exact is None)
            if value is not None:
                assert exact - 0.0011 < value <= exact + 1e-8
                assert value == round(value, 3)
        for name in ("length_m", "time_s"):
            exact = getattr(one, name)
            assert row[name] == (None if exact is None else round(exact, 3))
    assert rounded_down(39.99999979) == 39.999
    lengths = {row["place"]: row["length_m"] for row in told["places"]}
    lines = reach_text(found, as_json=False).splitlines()
    assert lengths["P1"] == 849.529
    assert next(line for line in lines if line.startswith("P1 ")).split()[2:4] == ["850", "m"]


def test_exit_codes_of_many_places() -> None:
    assert [places_exit(words) for words in (("clear",), ("clear", "caution"), ("unknown",), ("clear", "blocked"))] == [
        0,
        3,
        3,
        1,
    ]


def test_faults_are_those_of_a_plan() -> None:
    with pytest.raises(InputError) as error:
        reach(replace(ASKED, from_place="nowhere", weather=Weather(ground="mushy")))
    assert {fault.field for fault in error.value.faults} == {"from", "weather.ground"}


def test_a_place_no_road_leads_to_says_so_and_one_at_the_start_is_left_out(tmp_path: Path) -> None:
    site = write_site(
        tmp_path,
        roads=[road("r1", [(0, 0, 1), (60, 0, 1)]), road("r2", [(200, 0, 1), (260, 0, 1)])],
        places=[
            point(name, at, kind="gate")
            for name, at in (("a", (0, 0)), ("a2", (0, 1)), ("b", (60, 0)), ("c", (200, 0)))
        ],
    )
    found = reach(replace(ASKED, site=site, from_place="a"))
    assert {row.place for row in found.rows} == {"b", "c"}
    plan = make_plan(replace(ASKED, site=site, from_place="a", to_place="c"), remedies="none", outlook=False).plan
    assert plan.nearest is not None
    (why,) = (stopper["text"] for near in plan.nearest for stopper in near.stopped_by)
    row = next(row for row in json.loads(reach_text(found, as_json=True))["places"] if row["place"] == "c")
    assert (row["verdict"], row["binding"], row["cut_off"]) == ("blocked", None, why)
    assert f"blocked: network. {why}" in reach_text(found, as_json=False)
    assert [(card.rule, card.stopper) for card in view_of(found).places if card.place == "c"] == [("network", why)]


def test_what_is_doubtful_in_the_files_is_said_as_in_a_plan(tmp_path: Path) -> None:
    """Two roads that cross without a shared point do not meet: what cannot be reached may be a slip of the survey."""
    site = write_site(
        tmp_path / "site",
        roads=[road("r1", [(0, 0, 1), (60, 0, 1)]), road("r2", [(30, -30, 1), (30, 30, 1)])],
        places=[point("a", (0, 0), kind="gate"), point("b", (30, 30), kind="gate")],
    )
    asked = replace(ASKED, site=site, from_place="a")
    doubts = make_plan(replace(asked, to_place="b"), remedies="none", outlook=False).plan.doubts
    assert doubts
    found = reach(asked)
    assert json.loads(reach_text(found, as_json=True))["doubts"] == list(doubts)
    page = reach_page(view_of(found), found.workspace.site)
    machines = tmp_path / "machines"
    machines.mkdir()
    shutil.copy(ASKED.machine, machines)
    table = fleet(fleet_request(replace(asked, machine=machines), ("b",), remedies=False))
    assert json.loads(fleet_text(table, as_json=True))["doubts"] == list(doubts)
    for text in (reach_text(found, as_json=False), fleet_text(table, as_json=False)):
        assert all(f"Doubt about the input: {doubt}" in text for doubt in doubts)
    assert page.count("Doubt about the input") == len(doubts)
