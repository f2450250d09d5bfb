"""The hours of a day: every row is the single plan made at that hour; what is alike is solved once; first to fail."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from typer.testing import CliRunner

import travel
from tests import builders
from tests.memory_site import DATE, make_site
from tests.planning import DEMO, MILD, case_of, on_day, workspace_of
from tests.unit.planning.test_departure import GROUND, hourly, straight
from tests.unit.service.test_remedy import asked, written
from travel.checks.hours import active
from travel.cli import app
from travel.domain.layers import LAYERS
from travel.domain.request import PlanRequest, TripConditions
from travel.domain.site import Site, Weather
from travel.errors import InputError
from travel.service import hours, weather
from travel.service.again import Now
from travel.service.hours import day_of, hour_rows, hours_text, moved, starts_of
from travel.service.plan import make_plan, write_plan
from travel.service.weather import weather_text, weather_window
from travel.service.weather_rows import WeatherRow, row_of
from travel.service.workspace import Workspace

UTC = ZoneInfo("UTC")
LONDON = ZoneInfo("Europe/London")
TUESDAY = DATE + dt.timedelta(days=1)
WALKERS = {"id": "H", "kind": "crossing", "polygon": [(-4, 90), (4, 90), (4, 96), (-4, 96)]}
SIGN = {"id": "S", "kind": "posted", "xy": (0, 100), "road": "R1"}


@pytest.fixture(autouse=True)
def _day() -> Iterator[None]:
    with on_day(TUESDAY):
        yield


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return builders.write_machine(tmp_path / "machine.toml")


def at(hour: int, minute: int = 20, day: int = 0) -> dt.datetime:
    return dt.datetime.combine(TUESDAY, dt.time(hour, minute), tzinfo=UTC) + dt.timedelta(days=day)


def request_of(sheet: Path, **values: Any) -> PlanRequest:
    plain = {"weather": MILD, "with_return": False}
    return PlanRequest(site=Path("memory"), machine=sheet, from_place="G", to_place="P", **(plain | values))


def quiet(what: str, share: float) -> None:
    assert what
    assert 0.0 <= share <= 1.0


def single(request: PlanRequest, workspace: Workspace, plan: Any, start: dt.datetime) -> WeatherRow:
    """Give the row of a plan made at one hour by itself."""
    answer = make_plan(moved(request, start), workspace, remedies="none", outlook=False)
    return row_of(Weather(**plan.weather), answer.plan, plan)


def hours_of(request: PlanRequest, workspace: Workspace, on: dt.date | None = None) -> tuple[Any, list[WeatherRow]]:
    plan = make_plan(request, workspace, remedies="none", outlook=False).plan
    zone = ZoneInfo(workspace.site.header.timezone)
    return plan, list(hour_rows(request, workspace, plan, starts_of(request, on, zone), quiet))


def check_each(request: PlanRequest, workspace: Workspace, every: int = 1) -> list[WeatherRow]:
    """Compare the first and the last hour of each row, and every so many hours, with the plan made at that hour alone;
    rows that follow each other differ."""
    plan, rows = hours_of(request, workspace)
    by_start = [(text, row) for row in rows for text in row.starts]
    assert len(by_start) == 24
    ends = {text for row in rows for text in (row.starts[0], row.starts[-1])} | {text for text, _ in by_start[::every]}
    for text, row in ((text, row) for text, row in by_start if text in ends):
        alone = single(request, workspace, plan, dt.datetime.fromisoformat(text))
        assert dataclasses.replace(row, starts=(), time_s=None) == dataclasses.replace(alone, time_s=None), text
        assert row.time_s == (None if alone.time_s is None else pytest.approx(alone.time_s, abs=0.5)), text
    for one, other in pairwise(rows):
        assert dataclasses.replace(one, starts=()) != dataclasses.replace(other, starts=())
    return rows


def spans(rows: Sequence[WeatherRow]) -> list[tuple[str, str, str]]:
    """Give first and last hour of each row, and its verdict."""
    return [(row.starts[0][11:16], row.starts[-1][11:16], row.verdict) for row in rows]


# --- each hour is the plan made at that hour ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("site", "values"),
    [
        (straight(limits=[SIGN | {"from_time": "22:00", "until_time": "05:00"}]), {}),
        (straight(limits=[SIGN | {"from_time": "22:00", "until_time": "05:00", "days": "mon"}]), {}),
        (straight(people=[WALKERS | {"from_time": "07:00", "until_time": "09:00", "days": "tue"}]), {}),
        (straight(people=[WALKERS | {"from_time": "07:00", "until_time": "09:00", "days": "wed"}]), {}),
        (straight(road={"lit": False}), {"horizon_min": 60.0}),
        (straight(closures=[{"id": "C", "polygon": WALKERS["polygon"], "closed_from": at(14, 0).isoformat(),
                                       "closed_until": at(2, 0, 1).isoformat()}]), {"horizon_min": 45.0}),
        (straight(limits=[SIGN | {"hours": "school hours"}]), {}),
    ],
)  # fmt: skip
def test_every_hour_is_the_plan_made_then(site: Site, values: dict[str, Any], sheet: Path) -> None:
    check_each(request_of(sheet, at=at(10), **values), workspace_of(site))


def test_hours_on_drawn_sites_out_and_back(sheet: Path) -> None:
    """People, signs, closures, a wire with a written word, ground and an edge with dates, at a drawn hour."""
    several = 0
    for seed in range(5):
        site, minute, span = hourly(seed)
        start = at(0, 0) + dt.timedelta(minutes=minute)
        back = TripConditions(at=start + dt.timedelta(hours=5)) if seed % 3 else None
        request = request_of(sheet, at=start, with_return=True, back=back, horizon_min=span if seed % 2 else None)
        several += len(check_each(request, workspace_of(site), every=11)) > 1
    assert several >= 3


def test_two_roads_one_shut_at_night(sheet: Path) -> None:
    """While the short road is shut the long one is taken: another way, and longer."""
    site = make_site(
        roads=[
            {"id": "R1", "xyz": [(0, 0, 10), (0, 200, 10)], **GROUND},
            {"id": "R2", "xyz": [(0, 0, 10), (-60, 100, 10), (0, 200, 10)], **GROUND},
        ],
        places=[
            {"id": "G", "xy": (0, 0), "kind": "gate", "turn_radius_m": 30.0},
            {"id": "P", "xy": (0, 200), "kind": "pick_point", "turn_radius_m": 30.0, "may_stop": True},
        ],
        limits=[SIGN | {"from_time": "20:00", "until_time": "06:00"}],
    )
    rows = check_each(request_of(sheet, at=at(10)), workspace_of(site))
    assert [(first, last) for first, last, _ in spans(rows)] == [
        ("00:20", "05:20"),
        ("06:20", "19:20"),
        ("20:20", "23:20"),
    ]
    night, day, evening = rows
    assert (night.same_way, day.same_way, evening.same_way) == (False, True, False)
    assert {row.outcome for row in rows} == {"way"}
    assert night.time_s > day.time_s


@pytest.mark.parametrize(("machine", "goal"), [("middle", "P3")])
def test_hours_on_the_demo(machine: str, goal: str) -> None:
    request = PlanRequest(
        site=DEMO / "site",
        machine=DEMO / "machines" / f"{machine}.toml",
        from_place="G1",
        to_place=goal,
        with_return=False,
        at=dt.datetime(2026, 12, 4, 15, 10, tzinfo=UTC),
        weather=Weather(ground="damp", temperature_c=8.0, wind_mps=4.0),
    )
    with on_day(dt.date(2026, 11, 25)):
        rows = check_each(request, Workspace(path=request.site), every=5)
    assert any("light" in row.more for row in rows)


def test_hours_with_a_trailer_on_the_demo() -> None:
    request = PlanRequest(
        site=DEMO / "site",
        machine=DEMO / "machines" / "small.toml",
        trailer=DEMO / "trailers" / "rigid_beavertail.toml",
        from_place="G1",
        to_place="P4",
        at=dt.datetime(2026, 11, 26, 10, tzinfo=UTC),
        back=TripConditions(at=dt.datetime(2026, 11, 26, 15, tzinfo=UTC)),
        weather=Weather(ground="damp", temperature_c=8.0, wind_mps=4.0),
    )
    workspace = Workspace(path=request.site)
    starts = [dt.datetime(2026, 11, 26, hour, tzinfo=UTC) for hour in (8, 9, 18)]
    with on_day(dt.date(2026, 11, 25)):
        plan = make_plan(request, workspace, remedies="none", outlook=False).plan
        rows = hour_rows(request, workspace, plan, starts, quiet)
        by_start = {text: row for row in rows for text in row.starts}
        for start in starts[1:]:
            alone = single(request, workspace, plan, start)
            assert dataclasses.replace(by_start[start.isoformat()], starts=()) == dataclasses.replace(alone, starts=())


def test_hours_the_rules_cannot_tell_apart_are_solved_once(sheet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a lit road with people from 7 to 9 there is night, night with people, day with them, day without: four."""
    asked_for: list[float] = []
    real = hours.solve_for
    monkeypatch.setattr(hours, "solve_for", lambda *args: (asked_for.append(args[3]), real(*args))[1])
    site = straight(people=[WALKERS | {"from_time": "06:00", "until_time": "09:00"}])
    hours_of(request_of(sheet, at=at(10), horizon_min=20.0), workspace_of(site))
    assert 2 <= len(asked_for) <= 6


def test_no_rule_looks_at_the_hour_but_through_what_is_compared() -> None:
    """``clock`` covers daily hours, darkness, the day and stated moments: no rule may read the hour elsewhere."""
    checks = Path(travel.__file__).parent / "checks"
    reads = re.compile(r"case\.(at|until|today)\b(?!\()")
    readers = {path.name for path in checks.glob("*.py") if reads.search(path.read_text(encoding="utf-8"))}
    assert readers == {"hours.py", "state.py", "hung.py"}


# --- the table ------------------------------------------------------------------------------------------------------


def test_rows_are_joined_and_the_first_to_fail_is_named(sheet: Path) -> None:
    """The gate's sign bars from 18:00 to 06:00, so from 18:20 to 05:20 there is no way."""
    site = straight(limits=[SIGN | {"from_time": "18:00", "until_time": "06:00"}])
    plan, rows = hours_of(request_of(sheet, at=at(10)), workspace_of(site))
    assert [row[:2] for row in spans(rows)] == [("00:20", "05:20"), ("06:20", "17:20"), ("18:20", "23:20")]
    assert [row.fails for row in rows] == [True, False, True]
    text = "\n".join(hours_text(plan, rows))
    assert "At other hours of Tuesday 2026-03-03 (UTC)" in text
    assert re.search(r"00:20–05:20  blocked  no way       –  +closure R1 S", text)
    assert re.search(r"06:20–17:20  \w+ +as planned ", text)
    assert "Fails at: 00:20–05:20 (closure R1 S); 18:20–23:20 (closure R1 S)" in text
    assert "Fails first before 10:20: 05:20 (blocked: closure R1 S); after: 18:20 (blocked:" in " ".join(text.split())
    assert max(len(line) for line in text.splitlines()) <= 80


def test_a_plan_that_fails_is_told_when_it_would_not(sheet: Path) -> None:
    site = straight(limits=[SIGN | {"from_time": "18:00", "until_time": "06:00"}])
    plan, rows = hours_of(request_of(sheet, at=at(19)), workspace_of(site))
    text = " ".join("\n".join(hours_text(plan, rows)).split())
    assert re.search(r"Nearest that does not fail, before 19:20: 17:20 \(\w+: .*?\); after: none", text)
    shut = straight(road={"width_m": 1.0})
    plan, rows = hours_of(request_of(sheet, at=at(19)), workspace_of(shut))
    assert "Nearest that does not fail, before or after 19:20: none" in "\n".join(hours_text(plan, rows))


def test_what_asks_more_without_failing(sheet: Path) -> None:
    site = straight(road={"lit": False})
    plan, rows = hours_of(request_of(sheet, at=at(10)), workspace_of(site))
    text = " ".join("\n".join(hours_text(plan, rows)).split())
    assert "Fails at: none of these" in text
    assert "Fails first" not in text
    assert re.search(
        r"Asks more first before 10:20: 0\d:20 \(\w+: [^)]*light\); after: 1\d:20 \(\w+: [^)]*light\)", text
    )


def test_what_is_asked_on_one_of_the_ways_alone_names_it(sheet: Path) -> None:
    """Out at 10:20, back at 18:20 in the dark: before dawn and from dusk on lights are asked for on the way out too."""
    request = request_of(sheet, at=at(10), with_return=True, back=TripConditions(at=at(18)))
    plan, rows = hours_of(request, workspace_of(straight(road={"lit": False})))
    assert {finding.trip for finding in plan.findings if finding.rule == "light"} == {"back"}
    assert [row.more for row in rows if row.starts[0] == at(0).isoformat()] == [("light (out)",)]
    own = next(row for row in rows if at(10).isoformat() in row.starts)
    assert own.more == ()
    assert "also light (out)" in "\n".join(hours_text(plan, rows))


# --- which hours ----------------------------------------------------------------------------------------------------


def test_the_hours_of_a_day_on_which_the_clock_changes(sheet: Path) -> None:
    noon = dt.datetime(2026, 3, 29, 12, 20, tzinfo=LONDON)
    spring = starts_of(request_of(sheet, at=noon), None, LONDON)
    assert len(spring) == 23
    assert not any(hour.hour == 1 for hour in spring)
    autumn = starts_of(request_of(sheet, at=noon), dt.date(2026, 10, 25), LONDON)
    assert len(autumn) == 25
    assert [hour.utcoffset() for hour in autumn if hour.hour == 1] == [dt.timedelta(hours=1), dt.timedelta()]
    for some in (spring, autumn):
        gaps = {other.astimezone(UTC) - one.astimezone(UTC) for one, other in pairwise(some)}
        assert gaps == {dt.timedelta(hours=1)}
        assert {hour.minute for hour in some} == {20}


def test_hours_are_those_of_the_site_not_of_the_offset_given(sheet: Path) -> None:
    """Half past midnight in Auckland on the 4th is noon and a half in London on the 3rd."""
    given = dt.datetime(2026, 3, 4, 0, 30, tzinfo=dt.timezone(dt.timedelta(hours=12)))
    some = starts_of(request_of(sheet, at=given), None, LONDON)
    assert {hour.date() for hour in some} == {TUESDAY}
    assert given in some
    assert [f"{hour:%H:%M}" for hour in (some[0], some[-1])] == ["00:30", "23:30"]


def test_a_day_on_which_the_clock_changes_is_written_with_offsets(sheet: Path) -> None:
    surveyed = {name: {"date": dt.date(2026, 10, 20)} for name in LAYERS}
    site = straight(surveyed, limits=[SIGN | {"from_time": "01:10", "until_time": "01:30"}])
    header = site.header.model_copy(update={"timezone": "Europe/London"})
    workspace = workspace_of(dataclasses.replace(site, header=header))
    request = request_of(sheet, at=dt.datetime(2026, 10, 25, 10, 20, tzinfo=LONDON))
    plan, rows = hours_of(request, workspace)
    shut = [row for row in rows if row.binding == "closure"]
    assert [row.starts for row in shut] == [("2026-10-25T01:20:00+01:00", "2026-10-25T01:20:00+00:00")]
    assert "01:20+01:00–01:20+00:00  blocked" in "\n".join(hours_text(plan, rows))
    for start in shut[0].starts:
        assert single(request, workspace, plan, dt.datetime.fromisoformat(start)).outcome == "no_way"


@pytest.mark.parametrize(
    ("begin", "minutes", "hours_given", "meets"),
    [
        ("2026-10-25T01:50:00+01:00", 20, ("01:55", "02:30"), True),  # the clock shows 01:10 at the end
        ("2026-10-25T01:40:00+01:00", 10, ("01:55", "02:30"), False),
        ("2026-10-25T01:50:00+01:00", 5, ("01:10", "01:30"), True),  # between the first 01:30 and the second
        ("2026-10-25T01:35:00+00:00", 5, ("01:10", "01:30"), False),
        ("2026-10-25T00:55:00+01:00", 5, ("01:10", "01:30"), False),
        ("2026-03-29T00:50:00+00:00", 15, ("01:20", "01:40"), True),  # never shown: 00:59 is followed by 02:00
        ("2026-03-29T03:00:00+01:00", 15, ("01:20", "01:40"), False),
    ],
)
def test_hours_in_a_night_in_which_the_clock_is_changed(
    begin: str, minutes: int, hours_given: tuple[str, str], meets: bool
) -> None:
    """Worked by hand in UTC: put back at 01:00 on 25 October, forward at 01:00 on 29 March."""
    site = straight(people=[WALKERS | dict(zip(("from_time", "until_time"), hours_given, strict=True))])
    header = site.header.model_copy(update={"timezone": "Europe/London"})
    start = dt.datetime.fromisoformat(begin)
    case = case_of(dataclasses.replace(site, header=header), at=start, until=start + dt.timedelta(minutes=minutes))
    assert active(case.survey.site.layers["people"], case).tolist() == [meets]


def test_the_way_back_moves_by_as_much(sheet: Path) -> None:
    """Back five hours after the start; the road is barred from 18:00 on: a start at 13:20 meets it on the way back."""
    site = straight(limits=[SIGN | {"from_time": "18:00", "until_time": "23:59"}])
    request = request_of(sheet, at=at(10), with_return=True, back=TripConditions(at=at(15)))
    assert moved(request, at(8)).back == TripConditions(at=at(13))
    plan, rows = hours_of(request, workspace_of(site))
    first = next(row for row in rows if row.fails)
    assert first.starts[0] == at(13).isoformat()
    assert "states no hour" not in "\n".join(hours_text(plan, rows))
    bare = request_of(sheet, at=at(10), with_return=True)
    plan, rows = hours_of(bare, workspace_of(straight()))
    assert "The way back states no hour: in every row all closures and hours" in "\n".join(hours_text(plan, rows))


def test_a_plan_with_an_hour_for_its_way_back_alone(sheet: Path) -> None:
    request = request_of(sheet, with_return=True, back=TripConditions(at=at(15)))
    assert moved(request, at(16)) == dataclasses.replace(request, back=TripConditions(at=at(16)))
    plan, rows = hours_of(request, workspace_of(straight()))
    text = "\n".join(hours_text(plan, rows))
    assert "The way out states no hour" in text
    assert "as planned" in text


def test_a_plan_without_an_hour_says_so_and_takes_a_day(sheet: Path) -> None:
    site = straight(limits=[SIGN | {"from_time": "18:00", "until_time": "06:00", "days": "wed thu"}])
    plan, rows = hours_of(request_of(sheet), workspace_of(site))
    assert rows == []
    text = " ".join("\n".join(hours_text(plan, rows)).split())
    assert text.startswith("The plan states no hour: every closure and all hours were taken to hold, and it was taken")
    assert text.endswith("as in --on 2026-03-03.")
    plan, rows = hours_of(request_of(sheet), workspace_of(site), on=TUESDAY + dt.timedelta(days=1))
    assert spans(rows)[0][:2] == ("00:00", "17:00")
    assert [row.fails for row in rows] == [False, True]
    text = "\n".join(hours_text(plan, rows))
    assert re.search(r"00:00–17:00  \w+ +a way ", text)
    assert re.search(r"18:00–23:00  blocked +no way ", text)
    assert "Fails at: 18:00–23:00 (closure R1 S)" in text


@pytest.mark.parametrize("text", ["26.11.2026", "2026-02-30", "", "0001-01-01", "9999-12-31"])
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(InputError) as error:
        day_of(text)
    assert [fault.field for fault in error.value.faults] == ["--on"]


# --- the command ----------------------------------------------------------------------------------------------------


def test_the_command_gives_the_same_rows_as_json(tmp_path: Path, sheet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(weather, "TEMPERATURES_C", ())
    monkeypatch.setattr(weather, "WINDS_MPS", (0.0,))
    sign = builders.point("s", (60, 0), kind="posted", road="r1", from_time="18:00", until_time="06:00")
    site = written(tmp_path / "site", [(0, 0, 10), (120, 0, 10)], width_m=6.0, surface="asphalt", limits=[sign])
    file, _ = write_plan(make_plan(dataclasses.replace(asked(site, sheet), at=at(10))), tmp_path / "out")
    plan, rows = weather_window(file, Now(site=site, machine=sheet), quiet)
    command = ["weather", str(file), str(site), "--machine", str(sheet)]
    found = CliRunner().invoke(app, [*command, "--json"])
    assert found.exit_code == 1, found.output
    given = json.loads(found.output)
    assert given == json.loads(json.dumps([dataclasses.asdict(row) for row in rows]))
    assert [text for row in given for text in row["starts"]] == [at(hour).isoformat() for hour in range(24)]
    said = CliRunner().invoke(app, command).output
    assert said.strip() == weather_text(plan, rows, as_json=False)
    assert max(len(line) for line in said.splitlines()) <= 80
    other = CliRunner().invoke(app, [*command, "--on", "2026-03-05"]).output
    assert "At other hours of Thursday 2026-03-05" in other
    assert CliRunner().invoke(app, [*command, "--on", "soon"]).exit_code == 2
