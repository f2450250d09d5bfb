"""Machines over pick points: the table agrees with plans, names the least remedy, and goes on where it was stopped."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.planning import DEMO
from travel.domain.request import PlanRequest
from travel.domain.site import Amendment, Weather
from travel.errors import InputError
from travel.service import fleet as fleet_module
from travel.service.fleet import Fleet, FleetRequest, FleetRow, fleet, fleet_exit, fleet_text
from travel.service.plan import make_plan
from travel.service.reach import reach, reach_text
from travel.service.remedy import find_remedies
from travel.service.workspace import Workspace

WEATHER = Weather(ground="damp", temperature_c=8.0, wind_mps=4.0)
SITE = DEMO / "site"


def rows(machines: Path, *places: str, remedies: bool = True, **options: Any) -> tuple[FleetRow, ...]:
    """Give the table of the demo from its gate."""
    return fleet(question(machines, *places, remedies=remedies), **options).rows


def question(machines: Path, *places: str, remedies: bool = True, **asked: Any) -> FleetRequest:
    return FleetRequest(
        site=SITE, machines=machines, from_place="G1", to_places=places, weather=WEATHER, remedies=remedies, **asked
    )


def told(table: tuple[FleetRow, ...], machines: Path, as_json: bool) -> str:
    """Give what is printed of some rows."""
    return fleet_text(Fleet(request=question(machines), weather=WEATHER, rows=table), as_json)


def asked(machine: Path, place: str) -> PlanRequest:
    """Give the same question for one machine, the way out only."""
    return PlanRequest(site=SITE, machine=machine, from_place="G1", to_place=place, weather=WEATHER, with_return=False)


@pytest.fixture(scope="module")
def middle(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with one machine of the demo."""
    folder = tmp_path_factory.mktemp("machines")
    shutil.copy(DEMO / "machines" / "middle.toml", folder)
    return folder


@pytest.fixture(scope="module")
def table(middle: Path) -> tuple[FleetRow, ...]:
    """Give its table: a place with a way, one it may not get to."""
    return rows(middle, "P1", "P5")


def test_rows_say_what_plans_say(middle: Path, table: tuple[FleetRow, ...]) -> None:
    for row in table:
        request = asked(middle / "middle.toml", row.place)
        plan = make_plan(request, Workspace(path=SITE)).plan
        assert (row.verdict == "blocked") == (plan.outcome == "no_way")
        if row.length_m is not None:
            assert row.verdict == plan.trips[0].verdict
            assert row.length_m == pytest.approx(sum(leg.length_m for leg in plan.legs))
            assert row.binding in {finding.rule for finding in plan.findings}


def test_the_least_remedy_is_that_of_the_list(middle: Path, table: tuple[FleetRow, ...]) -> None:
    by_place = {row.place: row for row in table}
    assert by_place["P1"].remedy == ""
    assert by_place["P1"].remedy_cost is None
    listed = find_remedies(asked(middle / "middle.toml", "P5"))[0].plan.remedies
    first = next(remedy for remedy in listed if remedy.kind == "change")
    assert by_place["P5"].remedy == first.text
    assert by_place["P5"].remedy_cost == pytest.approx(first.cost)
    assert f"least remedy found: {first.text}" in told(table, middle, as_json=False)


def test_what_is_printed_says_that_the_way_back_is_not_looked_at(middle: Path, table: tuple[FleetRow, ...]) -> None:
    """A one-way road in may be no way out: what reads as clear here is no plan yet."""
    found = reach(asked(middle / "middle.toml", ""))
    for text in (told(table, middle, as_json=False), reach_text(found, as_json=False)):
        assert "without the way back" in text


def test_where_nothing_opens_a_way_the_table_says_so(middle: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("travel.planning.fleet.openings", lambda *_: iter(()))
    (row,) = rows(middle, "P5")
    assert (row.remedy, row.remedy_cost) == ("none found", None)
    (quick,) = rows(middle, "P5", remedies=False)
    assert quick.remedy == ""


def test_it_goes_on_where_it_was_stopped(
    middle: Path, table: tuple[FleetRow, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = tmp_path / "kept.json"
    told: list[str] = []
    assert rows(middle, "P1", "P5", progress_file=kept, tell=lambda what, share: told.append(what)) == table
    assert "middle: remedy for P5" in told
    held = json.loads(kept.read_text(encoding="utf-8"))
    monkeypatch.setattr(fleet_module, "_machine_rows", lambda *_: pytest.fail("worked out again"))
    assert rows(middle, "P1", "P5", progress_file=kept) == table
    monkeypatch.undo()
    old = {key + "0": [{"machine": "middle"}] for key in held}  # rows of other columns are never taken
    kept.write_text(json.dumps(old), encoding="utf-8")
    assert rows(middle, "P1", progress_file=kept) == table[:1]
    assert set(old) < set(json.loads(kept.read_text(encoding="utf-8")))


def test_stopped_half_way_the_finished_machines_are_kept(
    middle: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    two, kept = tmp_path / "two", tmp_path / "kept.json"
    two.mkdir()
    for name in ("a", "b"):
        shutil.copy(middle / "middle.toml", two / f"{name}.toml")
    real = fleet_module._machine_rows

    def stopped(path: Path, *rest: Any) -> list[FleetRow]:
        if path.stem == "b":
            raise KeyboardInterrupt
        return real(path, *rest)

    monkeypatch.setattr(fleet_module, "_machine_rows", stopped)
    with pytest.raises(KeyboardInterrupt):
        rows(two, "P1", remedies=False, progress_file=kept)
    assert [row["machine"] for done in json.loads(kept.read_text(encoding="utf-8")).values() for row in done] == ["a"]


def test_machines_side_by_side_give_their_rows_in_order_and_their_faults(
    middle: Path, table: tuple[FleetRow, ...], tmp_path: Path
) -> None:
    for name in ("b", "a"):
        shutil.copy(middle / "middle.toml", tmp_path / f"{name}.toml")
    found = rows(tmp_path, "P1", remedies=False)
    assert [row.machine for row in found] == ["a", "b"]
    assert [replace(row, machine="middle") for row in found] == [table[0], table[0]]
    (tmp_path / "b.toml").write_text("name = 3\n", encoding="utf-8")
    with pytest.raises(InputError) as error:
        rows(tmp_path, "P1", remedies=False)
    assert {fault.file for fault in error.value.faults} == {"b.toml"}


def test_hour_changes_and_acceptances_are_those_of_plans_and_stand_in_the_table(middle: Path, tmp_path: Path) -> None:
    """More cover opens the way to pick point 5; the rows kept are not those of another question."""
    kept = tmp_path / "kept.json"
    shut = fleet(question(middle, "P5", remedies=False), progress_file=kept)
    covered = Amendment(layer="limits", feature="LM12", field="cover_m", value=0.9)
    at = dt.datetime(2026, 11, 26, 9, tzinfo=dt.UTC)
    found = fleet(question(middle, "P5", remedies=False, at=at, amendments=(covered,)), progress_file=kept)
    request = replace(asked(middle / "middle.toml", "P5"), at=at, amendments=(covered,))
    plan = make_plan(request, remedies="none").plan
    assert (shut.rows[0].verdict, fleet_exit(shut)) == ("blocked", 1)
    assert (found.rows[0].verdict, fleet_exit(found)) == (plan.trips[0].verdict, 3)
    assert found.rows[0].length_m == pytest.approx(plan.trips[0].length_m)
    assert "at 2026-11-26 09:00 +00:00" in fleet_text(found, as_json=False)
    told_json = json.loads(fleet_text(found, as_json=True))
    assert told_json["request"]["at"] == at.isoformat()
    assert told_json["request"]["amendments"][0]["feature"] == "LM12"
    assert told_json["rows"][0]["length_m"] == round(found.rows[0].length_m or 0.0, 3)


def test_costs_in_json_are_rounded_as_in_a_plan(middle: Path, table: tuple[FleetRow, ...]) -> None:
    row = replace(table[-1], remedy_cost=2.4000000000000004)
    assert json.loads(told((row,), middle, as_json=True))["rows"][0]["remedy_cost"] == 2.4


def test_every_sheet_is_read_before_any_machine_is_looked_at(middle: Path, tmp_path: Path) -> None:
    shutil.copy(middle / "middle.toml", tmp_path / "a.toml")
    for name in ("b", "c"):
        (tmp_path / f"{name}.toml").write_text("name = 3\n", encoding="utf-8")
    kept = tmp_path / "kept.json"
    with pytest.raises(InputError) as error:
        fleet(question(tmp_path, "P1", "nowhere", remedies=False), progress_file=kept)
    assert {fault.file for fault in error.value.faults} == {"b.toml", "c.toml", "request"}
    assert not kept.exists()


@pytest.mark.parametrize("content", ["[]", "3", "null", '{"schema": "plan", "legs": []}', '{"a": [1]}'])
def test_a_file_that_holds_no_finished_machines_is_not_written_over(middle: Path, tmp_path: Path, content: str) -> None:
    other = tmp_path / "other.json"
    other.write_text(content, encoding="utf-8")
    with pytest.raises(InputError, match="no progress file"):
        rows(middle, "P1", remedies=False, progress_file=other)
    assert other.read_text(encoding="utf-8") == content


def test_the_place_the_machines_start_at_is_no_place_to_get_to(middle: Path) -> None:
    """Nothing is looked at on a way of no length, and it would read as clear: a plan refuses it too."""
    from_p1 = replace(question(middle, remedies=False), from_place="P1")
    assert [row.place for row in fleet(from_p1).rows] == ["P2", "P3", "P4", "P5", "P6"]
    with pytest.raises(InputError, match="same point of the roads"):
        fleet(replace(from_p1, to_places=("P2", "P1")))
    (row,) = fleet(replace(from_p1, to_places=("P4", "P4"))).rows
    assert row.place == "P4"
