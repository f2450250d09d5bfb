"""The operator's card: every stretch and every flag on it, safe roundings, no steps where nobody may drive."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.unit.writers.paper_tools import (
    NASTY,
    every_verdict,
    needs_poppler,
    pdf_facts,
    pdf_text,
    squeezed,
    typed_over,
)
from travel.domain.plan import ReliedOn, TravelPlan
from travel.domain.rules import Rulebook
from travel.writers.card import card_of
from travel.writers.card_pdf import card_pdf
from travel.writers.page_lists import SIGNS
from travel.writers.us_units import IN_PER_M, LB_PER_KG, MPH_PER_KMH, both, feet_inches, pounds, speed_down
from travel.writers.words import VERDICTS


@pytest.mark.parametrize("units", ["metric", "us"])
@needs_poppler
def test_card_is_one_or_two_sheets_tagged_and_the_same_again(
    units: str, plan: TravelPlan, rulebook: Rulebook, tmp_path: Path
) -> None:
    pdf = card_pdf(card_of(plan, rulebook, units))
    facts = pdf_facts(pdf, tmp_path)
    assert int(facts["Pages"]) <= 2
    assert facts["Tagged"] == "yes"
    assert card_pdf(card_of(plan, rulebook, units)) == pdf


@needs_poppler
def test_card_says_what_an_operator_needs(plan: TravelPlan, rulebook: Rulebook, tmp_path: Path) -> None:
    text = squeezed(pdf_text(card_pdf(card_of(plan, rulebook)), tmp_path))
    for words in (
        plan.plan_id, "3.10 m", "2.55 m", "18 000 kg", "Before the machine moves", "Spotter", "wheels straight",
        "foot brake pressed", "engine idling", "in neutral", "gate hut", "touches a wire",
        "If it is not as the card says", "Stay in the cab", "both feet together", "LOW range", "HIGH range",
        "no faster than", "Way out", "Way back",
    ):  # fmt: skip
        assert words.lower() in text.replace("\u202f", " ").lower(), words


@pytest.mark.parametrize(("units", "said"), [("metric", "5 km/h"), ("us", "3 mph")])
def test_card_says_the_pace_of_corners_beside_the_sizes(
    units: str, said: str, plan: TravelPlan, rulebook: Rulebook
) -> None:
    turn = dataclasses.replace(plan.turns[0], speed_kmh=5.0)
    assert dict(card_of(dataclasses.replace(plan, turns=(turn,)), rulebook, units).sizes)["At most in corners"] == said
    without = dataclasses.replace(plan, turns=())
    assert "At most in corners" not in dict(card_of(without, rulebook, units).sizes)


def drives(plan: TravelPlan, rulebook: Rulebook):
    return [[step for step in steps if step.kind == "drive"] for _, steps in card_of(plan, rulebook).trips]


def test_steps_cover_every_leg_stop_and_flag(plan: TravelPlan, rulebook: Rulebook) -> None:
    card = card_of(plan, rulebook)
    steps = [step for _, steps in card.trips for step in steps]
    assert [step.sign for step in steps if step.kind == "stop"] == [f"S{stop.stop}" for stop in plan.stops]
    flags = {int(n) for step in steps for numbers, _ in step.watch for n in re.findall(r"\d+", numbers)}
    assert flags == {flag for leg in plan.legs for flag in leg.flags} | {f for s in plan.stops for f in s.flags}
    assert len([step for step in steps if step.kind == "turn"]) == len([t for t in plan.turns if t.kind != "through"])


@pytest.mark.parametrize("verdict", ["clear", "caution"])
def test_each_stretch_carries_the_worst_verdict_of_its_legs(verdict: str, plan: TravelPlan, rulebook: Rulebook) -> None:
    for steps in drives(every_verdict(plan, verdict), rulebook):
        assert [step.verdict for step in steps] == [verdict] * len(steps)
        assert {step.sign for step in steps} == {SIGNS[verdict]}
    for trip, steps in zip(("out", "back"), drives(plan, rulebook), strict=True):
        legs = {leg.verdict for leg in plan.legs if leg.trip == trip}
        assert min((step.verdict for step in steps), key=VERDICTS.index) == min(legs, key=VERDICTS.index)


def test_one_worse_leg_makes_the_stretch_worse(plan: TravelPlan, rulebook: Rulebook) -> None:
    for number in range(len(plan.legs)):
        legs = tuple(
            dataclasses.replace(leg, verdict="caution" if n == number else "clear") for n, leg in enumerate(plan.legs)
        )
        found = [step.verdict for steps in drives(dataclasses.replace(plan, legs=legs), rulebook) for step in steps]
        assert found.count("caution") == 1


def test_no_steps_where_nobody_may_drive(plan: TravelPlan, no_way: TravelPlan, rulebook: Rulebook) -> None:
    for worse in (no_way, every_verdict(plan, "unknown"), every_verdict(plan, "blocked")):
        card = card_of(worse, rulebook)
        assert not card.go
        assert "DO NOT MOVE" in card.answer
        assert not [step for _, steps in card.trips for step in steps]


@needs_poppler
def test_card_without_way_says_so_in_print(no_way: TravelPlan, rulebook: Rulebook, tmp_path: Path) -> None:
    text = squeezed(pdf_text(card_pdf(card_of(no_way, rulebook)), tmp_path))
    assert "DO NOT MOVE ON THIS CARD" in text
    assert "FORWARD" not in text


@pytest.mark.parametrize("units", ["metric", "us"])
def test_speeds_are_never_above_the_plans(units: str, plan: TravelPlan, rulebook: Rulebook) -> None:
    slow = dataclasses.replace(plan, legs=tuple(dataclasses.replace(leg, speed_kmh=3.97) for leg in plan.legs))
    card = card_of(slow, rulebook, units)
    orders = [step.order for _, steps in card.trips for step in steps if step.kind == "drive"]
    assert orders
    for order in orders:
        value, unit = re.search(r"no faster than ([\d.]+) (km/h|mph)", order).groups()
        assert float(value) / (MPH_PER_KMH if unit == "mph" else 1.0) <= 3.97


def test_unknown_speed_is_walking_pace(plan: TravelPlan, rulebook: Rulebook) -> None:
    unknown = dataclasses.replace(plan, legs=tuple(dataclasses.replace(leg, speed_kmh=None) for leg in plan.legs))
    assert all("walking pace" in step.order for steps in drives(unknown, rulebook) for step in steps)


def test_signs_on_the_way_stand_beside_our_size(plan: TravelPlan, rulebook: Rulebook) -> None:
    values = {"name": "Low beam", "road": "R1", "height_m": 3.31, "gross_kg": 20000.0}
    relied = (
        ReliedOn(layer="limits", feature="L1", values=values, digest=""),
        ReliedOn(layer="limits", feature="L9", values=values | {"road": "R99"}, digest=""),
        ReliedOn(layer="overheads", feature="O1", values={"clearance_m": 5.0}, digest=""),
    )
    signed = dataclasses.replace(plan, relied_on=relied)
    assert card_of(signed, rulebook).signs == (
        ("Low beam (L1)", "height 3.31 m", "3.10 m"),
        ("Low beam (L1)", "gross 20\u202f000 kg", "18\u202f000 kg"),
        ("O1", "clearance 5.00 m", "3.10 m"),
    )
    us = card_of(signed, rulebook, "us").signs
    assert us[0][1:] == ("height 10 ft 10 in\n(3.31 m)", "10 ft 3 in\n(3.10 m)")


def test_a_wheel_load_is_not_called_unknown_where_each_tyre_was_judged(plan: TravelPlan, rulebook: Rulebook) -> None:
    relied = (ReliedOn(layer="limits", feature="L1", values={"road": "R1", "wheel_kg": 5500.0}, digest=""),)
    for transport in (None, {"trailer": "low loader"}):
        signed = dataclasses.replace(plan, relied_on=relied, transport=transport)
        assert card_of(signed, rulebook).signs == (("L1", "wheel 5\u202f500 kg", "judged tyre by tyre"),)


@needs_poppler
def test_typed_words_survive(plan: TravelPlan, rulebook: Rulebook, tmp_path: Path) -> None:
    typed = dataclasses.replace(typed_over(plan, NASTY), legs=plan.legs, turns=plan.turns)
    for units in ("metric", "us"):
        text = squeezed(pdf_text(card_pdf(card_of(typed, rulebook, units)), tmp_path))
        assert "<script>alert(1)</script>" in text
        assert "[U+4E2D][U+6587]" in text


def test_no_contacts_leave_lines_to_fill_in(plan: TravelPlan, rulebook: Rulebook) -> None:
    bare = dataclasses.replace(plan, site={**plan.site, "contacts": {}})
    assert card_of(bare, rulebook).contacts == ()
    assert card_pdf(card_of(bare, rulebook)).startswith(b"%PDF")


# -- units


@given(st.floats(0.01, 60.0))
def test_lengths_round_to_the_safe_side(value_m: float) -> None:
    def inches(text: str) -> int:
        feet, rest = re.fullmatch(r"(\d+) ft (\d+) in", text).groups()
        return 12 * int(feet) + int(rest)

    up, down = inches(feet_inches(value_m, up=True)), inches(feet_inches(value_m, up=False))
    assert down - 1e-6 <= value_m * IN_PER_M <= up + 1e-6
    assert up - down <= 1


@given(st.floats(1.0, 99999.0))
def test_masses_round_to_the_safe_side(value_kg: float) -> None:
    up, down = (int(pounds(value_kg, up=side)[:-3].replace(",", "")) for side in (True, False))
    assert down - 1e-3 <= value_kg * LB_PER_KG <= up + 1e-3
    assert up - down in (0, 10)


@given(st.floats(0.1, 60.0))
def test_speeds_round_down(value_kmh: float) -> None:
    assert float(speed_down(value_kmh, 1.0, "km/h").split()[0]) <= value_kmh + 1e-6
    assert float(speed_down(value_kmh, MPH_PER_KMH, "mph").split()[0]) <= value_kmh * MPH_PER_KMH + 1e-6


def test_values_in_sentences_are_shown_in_both_units() -> None:
    said = both("12.0 m, −1.48 m, 18\u202f000 kg, 15 km/h, 120 kPa, 8 °C, 5.0 %, 4 m/s, R13, 5.0 m²")
    assert "39 ft 4.4 in (12.0 m)" in said
    assert "−4 ft 10.3 in (−1.48 m)" in said
    assert "39,683 lb (18\u202f000 kg)" in said
    assert "9.3 mph (15 km/h)" in said
    assert "17.4 psi (120 kPa)" in said
    assert "46 °F (8 °C)" in said
    assert "8.9 mph (4 m/s)" in said
    assert said.endswith("R13, 5.0 m²")
    assert "5.0 %" in said
