"""A released plan is go in the hours it was checked for, neither before nor after: what two plans are kept apart by."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.unit.register.tools import START, Desk
from travel.domain.decision import Subject, why_not_go
from travel.service.subject import same_words, subject_of
from travel.writers.register_text import standing_json, standing_lines

HOURS = {"begins": START + dt.timedelta(hours=1), "ends": START + dt.timedelta(hours=3)}
PLAN = Path(__file__).resolve().parents[3] / "maps" / "demo_site-middle-P1" / "plan.json"


def gone(desk: Desk, content: bytes = b"plan", **changes: Any) -> Subject:
    """Bring a plan with hours as far as go, released for eight hours."""
    about = desk.submit(content, **changes)
    desk.release(about)
    desk.close(about)
    desk.decide("accept", "Ivo", about)
    return about


@pytest.mark.parametrize(("after_h", "state", "go"), [
    (0.9, "released with conditions", False), (1.0, "released with conditions", True),
    (2.99, "released with conditions", True), (3.0, "lapsed", False), (7.0, "lapsed", False),
])  # fmt: skip
def test_go_only_in_the_hours_planned_for(desk: Desk, after_h: float, state: str, go: bool) -> None:
    about = gone(desk, **HOURS)
    there = desk.standing(about, START + dt.timedelta(hours=after_h) - desk.now)
    assert (there.state, not why_not_go(there)) == (state, go)
    assert ("  GO" in standing_lines(there, False)) == go
    assert standing_json(there)["ends"] == HOURS["ends"].isoformat()


def test_the_end_shown_is_that_of_the_hours_where_the_release_is_longer(desk: Desk) -> None:
    about = gone(desk, **HOURS)
    lines = standing_lines(desk.standing(about), False)
    assert "  holds until 2026-11-25 11:00 +00:00, the end of the hours planned for" in lines
    assert "  NOT GO: planned for 2026-11-25 09:00 +00:00, not before" in lines


def test_two_plans_that_are_released_one_after_the_other_are_never_go_at_once(desk: Desk) -> None:
    first = gone(desk, b"first", **HOURS)
    second = gone(desk, b"second", begins=HOURS["ends"], ends=HOURS["ends"] + dt.timedelta(hours=2))
    for minutes in range(0, 420, 15):
        later = START + dt.timedelta(minutes=minutes) - desk.now
        both = [not why_not_go(desk.standing(about, later)) for about in (first, second)]
        assert both != [True, True]


@pytest.mark.parametrize(("departure", "later_h"), [
    ({"state": "limited", "latest": "2026-11-25T12:30:00+00:00"}, 2.5),
    ({"state": "not_limited", "looked_until": "2026-11-26T10:00:00+00:00"}, 24.0),
    ({"state": "unknown"}, 0.0),
    (None, 0.0),
])  # fmt: skip
def test_hours_last_until_the_latest_departure_is_over(departure: dict[str, Any] | None, later_h: float) -> None:
    plan = json.loads(PLAN.read_text("utf-8"))
    plan["request"]["at"] = "2026-11-25T10:00:00+00:00"
    plan["departure"] = departure
    told, _ = subject_of(json.dumps(plan).encode(), "plan.json")
    took = sum(trip["time_s"] for trip in plan["trips"]) * 1.5
    start = dt.datetime(2026, 11, 25, 10, tzinfo=dt.UTC)
    assert told.begins == start
    assert told.ends is not None
    assert told.ends - start == pytest.approx(dt.timedelta(hours=later_h, seconds=took), abs=dt.timedelta(seconds=1))
    assert same_words(told, replace(told, ends=told.ends - dt.timedelta(hours=1)))
    assert not same_words(told, replace(told, ends=told.ends + dt.timedelta(hours=1)))
    assert not same_words(told, replace(told, ends=None))
