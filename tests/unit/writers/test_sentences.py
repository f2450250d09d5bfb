from __future__ import annotations

import dataclasses

import pytest

from travel.domain.plan import TravelPlan, Where
from travel.domain.rules import Rulebook
from travel.rulebook import load_rulebook
from travel.writers.numbers import THIN, decimals_for, number, quantity, term
from travel.writers.sentences import sentence, where_text
from travel.writers.text import isolated, plain


def with_pattern(rulebook: Rulebook, **say: str) -> Rulebook:
    rule = dataclasses.replace(rulebook.rules["grade-limit"], say=say)
    return dataclasses.replace(rulebook, rules={**rulebook.rules, "grade-limit": rule})


def test_fills_the_rules_pattern(plan: TravelPlan, rulebook: Rulebook) -> None:
    said = sentence(plan.findings[0], rulebook, {("roads", "R2"): "Ramp"})
    assert said == "Ramp (R2) is 14.0 % steep; 16.0 % permitted, 1.4 % left, tolerance 0.6 %."


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ("{rise_m} over {window_m}", "0.700 m over 5.000 m"),
        ("{limit}, {source}", "16.0 %, Machine sheet of the invented handler, 2026"),
        ("{gear} {range}", "L1 low"),
        ("{nonsense} {demand", "{nonsense} {demand"),
        ("{0} {demand.__class__}", "{0} {demand.__class__}"),
        ("{demand}{unit} of {capacity} {unit}", "14.0% of 16.0 %"),
    ],
)
def test_any_term_and_any_gap(plan: TravelPlan, rulebook: Rulebook, pattern: str, said: str) -> None:
    assert sentence(plan.findings[0], with_pattern(rulebook, caution=pattern)) == said


def test_pattern_of_the_reason_comes_first(plan: TravelPlan, rulebook: Rulebook) -> None:
    unknown = dataclasses.replace(plan.findings[0], verdict="unknown", why="", missing=("clearance_m", "owner"))
    book = with_pattern(rulebook, unknown="Not known: {missing}.")
    missing = dataclasses.replace(unknown, reason="missing")
    assert sentence(missing, book) == "Not known: clearance above the road, owner."
    unseen = dataclasses.replace(unknown, reason="layer", missing=("surveyed.overheads",))
    assert sentence(unseen, book) == "Nobody is recorded as having looked for overheads."


def test_a_value_only_told_is_named_after_what_is_wrong_with_it(plan: TravelPlan) -> None:
    told = dataclasses.replace(
        plan.findings[0], rule="posted-load", verdict="unknown", why="", reason="method", missing=("span_m told",)
    )
    said = sentence(told, load_rulebook())
    assert said.endswith("Not measured, which does not count here: span (so far only told).")


def test_control_is_said_in_words(plan: TravelPlan, rulebook: Rulebook) -> None:
    finding = dataclasses.replace(plan.findings[0], why="control", control="banksman", rule="not-in-the-book")
    assert "A banksman walks ahead" in sentence(finding, rulebook)


@pytest.mark.parametrize("verdict", ["blocked", "caution", "unknown", "clear"])
def test_every_verdict_is_said_even_without_numbers(plan: TravelPlan, rulebook: Rulebook, verdict: str) -> None:
    finding = dataclasses.replace(
        plan.findings[0], verdict=verdict, rule="other",
        demand=None, capacity=None, margin=None, tolerance=None, limit=None,
    )  # fmt: skip
    assert "{" not in sentence(finding, rulebook)


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        (18500.4, "kg", f"18{THIN}500 kg"),
        (4.2, "m", "4.20 m"),
        (0.004, "m", "0.004 m"),
        (-0.0004, "m", "−0.0004 m"),
        (0.0, "m", "0.00 m"),
        (-0.0, "m", "0.00 m"),
        (0.03, "%", "0.03 %"),
        (12.0, "km/h", "12 km/h"),
        (4.55, "km/h", "4.5 km/h"),
        (0.31, "-", "0.31"),
        (-7.25, "°", "−7.2°"),
        (float("nan"), "m", "not known"),
        (None, "kg", "not known"),
    ],
)
def test_numbers_with_units(value: float | None, unit: str, said: str) -> None:
    assert quantity(value, unit) == said


def test_two_different_numbers_never_look_alike() -> None:
    places = decimals_for((15.04, 15.0), "%")
    assert number(15.04, "%", places) != number(15.0, "%", places)
    assert decimals_for((15.0, 15.0), "%") == 1


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("load_n", 9806.65, ("load", "9.8 kN")),
        ("ground_pressure_pa", 250000.0, ("ground pressure", "250 kPa")),
        ("slope_rad", 0.1, ("slope", "5.7°")),
        ("friction_ratio", 0.35, ("friction", "0.350")),
        ("deceleration_mps2", 2.5, ("deceleration", "2.50 m/s²")),
        ("count", 3.0, ("count", "3.000")),
    ],
)
def test_terms_take_their_unit_from_the_name(name: str, value: float, said: tuple[str, str]) -> None:
    assert term(name, value) == said


def test_names_cannot_turn_the_line_or_drive_the_terminal() -> None:
    assert plain("a\u202eb\x1b[2J\nc\ud800") == "ab [2J c\ufffd"
    assert isolated("שער") == "\u2068שער\u2069"
    assert isolated("gate") == "gate"


def test_places_in_words() -> None:
    assert (
        where_text(Where(scope="stretch", road="R2", from_m=20, to_m=80, feature="OH1", layer="overheads"))
        == "R2 20–80 m, OH1"
    )
    assert where_text(Where(scope="layer", layer="edges")) == "layer edges, everywhere"
    assert where_text(Where(scope="plan")) == "whole plan"
