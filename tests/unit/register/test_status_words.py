"""What ``travel status`` says first: never a mild word for a plan that is no way, or whose time is over."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.unit.register.test_walk import MACHINE, NOW, SITE, WEATHER, Hut, edited, founded, hut

__all__ = ["founded", "hut"]
ASKED = (SITE, "--machine", MACHINE, "--from", "G1", "--weather", WEATHER, "--out", ".")


def test_a_plan_without_a_way_is_no_way(hut: Hut) -> None:
    hut.travel("plan", *ASKED, "--to", "P5", code=1)
    said = hut.status(SITE, code=1)
    assert said.splitlines()[0].endswith(": NO WAY")
    hut.travel("submit", "plan.json", by="Hanne")
    assert hut.status(SITE, code=1).splitlines()[0].endswith(": NO WAY")


def test_a_draft_lapses_with_the_hours_it_was_planned_for(hut: Hut) -> None:
    hut.travel("plan", *ASKED, "--to", "P4", "--at", "2026-11-25T23:00:00+00:00", code=3)
    ends = json.loads(Path("plan.json").read_text("utf-8"))["departure"]
    assert hut.status(SITE, code=3).splitlines()[0].endswith(": VALID, NOT RELEASED")
    hut.minute = 60 * 24 * 9
    said = hut.status(SITE, code=1)
    assert said.splitlines()[0].endswith(": LAPSED")
    assert "The hours planned for ended at" in said, ends
    assert "The survey of edges holds until" in said


def test_a_survey_made_younger_in_the_file_is_not_released(hut: Hut) -> None:
    def younger(content: dict[str, Any]) -> None:
        for row in content["relied_on"]:
            if row["layer"] == "surveyed":
                row["values"]["date"] = "2027-11-01"

    edited(younger)
    assert "surveyed edges: date was 2027-11-01, is 2026-11-" in hut.status(SITE, code=1)
    hut.travel("submit", "plan.json", by="Hanne")
    assert "the plan is void" in hut.travel("release", "plan.json", *NOW, by="Ruth", code=1)


def test_an_enrolment_on_a_clock_that_was_set_says_so(hut: Hut) -> None:
    said = hut.travel("register", "person", "Olek", "--role", "crew", "--by", "Ruth", by="Ruth", new="Ivo")
    assert "the time was set by SOURCE_DATE_EPOCH, not by this computer's clock" in said
    Path("travel-register.sqlite").unlink()
    Path("travel-register.sqlite.anchor").unlink()
    said = hut.travel("register", "init", "Ruth", by="Ruth")
    assert "the time was set by SOURCE_DATE_EPOCH, not by this computer's clock" in said
