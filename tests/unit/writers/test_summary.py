from __future__ import annotations

import dataclasses
import json

import pytest
from rich.console import Console

from travel.domain.plan import TravelPlan
from travel.domain.rules import Rulebook
from travel.writers.summary import summary, summary_text
from travel.writers.tables import rules_json, rules_json_bytes, rules_table, source_clause
from travel.writers.words import holds_for

NASTY = "x[bold red]y[/bold red]\x1b[31m\u202ez :warning: [/]"


def test_says_the_answer_the_way_and_what_is_open(plan: TravelPlan, rulebook: Rulebook) -> None:
    text = summary_text(plan, rulebook, ("plan.json",))
    for part in (
        "CAUTION  Yes, with care",
        "Way out: G → J → S → P: 140 m, climbs 8.4 m, 1 min 48 s",
        "60 m caution, 80 m clear",
        "R2 is 14.0 % steep",
        "source: Machine sheet of the invented handler, 2026",
        "range: low (was high)",
        "Ground dry; the plan is made again when it is not – site manager",
        "Checked against 5 of 6 rules.",
        "Distance to live lines",
        "competent persons come",
        "flag 1, trip out, place J, road R1, at 60 m",
        "plan.json",
    ):
        assert part in text
    assert "Boom in and down" not in text, "the routine walk-round is not an open condition"


def test_no_way_names_what_stops_it_and_the_remedy(no_way: TravelPlan, rulebook: Rulebook) -> None:
    text = summary_text(no_way, rulebook)
    assert "No way found for the way out and the way back." in text
    assert "gets as far as S, road R2 at 20 m; 60 m short of the goal" in text
    assert "19.0 % asked for, 16.0 % there at R2" in text
    assert "Regrade R2 from 20 to 80 m to 13.5 % – site manager, 3 days" in text
    assert "nobody may accept" in text
    assert text.index("1  blocked") < text.index("2  unknown")


def test_unknowns_that_lack_the_same_are_opened_in_one_line(plan: TravelPlan, rulebook: Rulebook) -> None:
    first = dataclasses.replace(
        plan.findings[0], flag=1, id="twist-1", rule="width", verdict="unknown", reason="missing", missing=("lit",),
        why="", accepted="", acceptable=True,
    )  # fmt: skip
    others = [dataclasses.replace(first, flag=flag, id=f"tip-{flag}") for flag in (2, 3)]
    wire = dataclasses.replace(first, flag=4, id="wire-4", missing=("sag_max_m",), acceptable=False)
    text = summary_text(dataclasses.replace(plan, findings=(first, *others, wire)), rulebook)
    said = " ".join(text.split())
    assert "flag 4 is unknown (greatest sag, from the owner): nobody may accept it: survey it (id wire-4)" in said
    opened = "flags 1–3 are unknown (whether it is lit at night): each may be accepted by name and reason (ids twist-1,"
    assert opened in said
    assert rulebook.rules["width"].title in said, "what is unknown says what was asked"


@pytest.mark.parametrize(
    ("weather", "said"),
    [
        ({"ground": None, "temperature_c": None, "wind_mps": None}, "weather not given; "),
        ({"ground": "damp"}, "ground damp, temperature not given, wind not given, "),
        ({"temperature_c": 0.0, "wind_mps": 0.0}, "ground not given, 0 °C, wind 0.0 m/s, "),
    ],
)
def test_weather_that_was_not_given_is_said(plan: TravelPlan, weather: dict[str, object], said: str) -> None:
    assert holds_for(dataclasses.replace(plan, weather=weather)).startswith(said)


def test_plain_text_is_plain_and_fits(plan: TravelPlan, rulebook: Rulebook) -> None:
    text = summary_text(plan, rulebook)
    assert "\x1b" not in text
    assert max(len(line) for line in text.splitlines()) <= 100


def test_names_are_never_read_as_markup(plan: TravelPlan, rulebook: Rulebook) -> None:
    nasty = dataclasses.replace(
        plan,
        machine={"name": NASTY}, site={"name": NASTY}, doubts=(NASTY,),
        conditions=tuple(dataclasses.replace(item, text=NASTY, owner=NASTY) for item in plan.conditions),
    )  # fmt: skip
    text = summary_text(nasty, rulebook, (NASTY,))
    assert text.count("x[bold red]y[/bold red] [31mz :warning: [/]") == 6
    console = Console(width=100, force_terminal=True, color_system="truecolor")
    with console.capture() as caught:
        for part in summary(nasty, rulebook):
            console.print(part)
    assert "[bold red]" in caught.get()
    assert "\u202e" not in caught.get()


@pytest.mark.parametrize(("verdict", "said"), [("clear", "Yes: the"), ("unknown", "Not yet:"), ("blocked", "Blocked:")])
def test_every_verdict_has_its_answer(plan: TravelPlan, rulebook: Rulebook, verdict: str, said: str) -> None:
    assert said in summary_text(dataclasses.replace(plan, verdict=verdict), rulebook)


def test_limits_table_shows_layer_status_and_source(rulebook: Rulebook) -> None:
    console = Console(width=140, no_color=True)
    with console.capture() as caught:
        console.print(rules_table(rulebook))
    lines = caught.get().splitlines()
    assert [line.split()[0] for line in lines[1:]] == ["gear-for-grade", "width"]
    assert "≤ 8.0 %" in lines[1]
    assert "surface clay, grade > 5" in lines[1]
    assert "Site rules, 4.2" in lines[1]
    assert "common practice, no source" in lines[2]
    assert rules_table(rulebook, "width").row_count == 1


@pytest.mark.parametrize(
    ("source", "known", "said"),
    [
        ("site-rules", "read", "Site rules, 4.2"),
        ("site-rules", "memory", "Site rules, 4.2 (from memory)"),
        ("site-rules", "practice", "Site rules, 4.2 (the value is common practice)"),
        ("common practice, no source", "practice", "common practice, no source, 4.2"),
    ],
)
def test_source_says_how_well_it_is_known(rulebook: Rulebook, source: str, known: str, said: str) -> None:
    limit = dataclasses.replace(rulebook.limits[1], source=source, known=known)
    assert source_clause(limit, rulebook) == said


def test_rules_as_json(rulebook: Rulebook) -> None:
    raw = json.loads(rules_json_bytes(rulebook))
    assert raw == rules_json(rulebook)
    limit = raw["limits"][0]
    assert (limit["id"], limit["rule"], limit["value"], limit["layer"]) == (
        "gear-for-grade.high_range_pct",
        "gear-for-grade",
        8.0,
        "site",
    )
    assert limit["when"] == {"surface": "clay", "grade_over": 5.0}
