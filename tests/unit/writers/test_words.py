"""Speeds as an order: never above what holds, and no more of them than anybody can keep to."""

from __future__ import annotations

import dataclasses

import pytest

from travel.domain.plan import SpeedStretch, TravelPlan
from travel.domain.rules import Rulebook
from travel.writers.formula_text import explain_text
from travel.writers.words import leg_text, speed_texts, told_speeds


def stretch(from_m: float, to_m: float, speed_kmh: float, rule: str = "people") -> SpeedStretch:
    return SpeedStretch(from_m=from_m, to_m=to_m, speed_kmh=speed_kmh, rule=rule)


def test_neighbours_that_hardly_differ_are_one_at_the_least_of_them(plan: TravelPlan) -> None:
    speeds = (
        stretch(20, 28, 10.0, "site-speed"), stretch(28, 41, 3.4), stretch(41, 41.8, 3.5), stretch(41.8, 42.2, 3.6),
        stretch(42.2, 61, 10.0, "site-speed"),
    )  # fmt: skip
    leg = dataclasses.replace(plan.legs[0], speeds=speeds)
    assert [(s.from_m, s.to_m, s.speed_kmh) for s in told_speeds(leg)] == [
        (20, 28, 10),
        (28, 42.2, 3.4),
        (42.2, 61, 10),
    ]
    assert speed_texts(leg)[1] == "28–42 m: 3.4 km/h (people)"
    steps = tuple(stretch(n, n + 1, 5.0 + 0.4 * n) for n in range(6))
    told = told_speeds(dataclasses.replace(leg, speeds=steps))
    for part in steps:
        (held,) = [t for t in told if t.from_m <= part.from_m and part.to_m <= t.to_m]
        assert held.speed_kmh <= part.speed_kmh


@pytest.mark.parametrize(("speed_kmh", "said"), [(3.46, "3.4 km/h"), (14.99999999, "15 km/h"), (8.0, "8 km/h")])
def test_a_top_speed_is_never_rounded_up(plan: TravelPlan, speed_kmh: float, said: str) -> None:
    assert f"no faster than {said}" in leg_text(dataclasses.replace(plan.legs[0], speed_kmh=speed_kmh))


def test_an_explanation_says_why_a_negative_margin_is_no_bar_and_what_lacks(
    plan: TravelPlan, rulebook: Rulebook
) -> None:
    name, control = next(iter(rulebook.controls.items()))
    held = dataclasses.replace(
        plan.findings[0],
        verdict="caution",
        demand=4.0,
        capacity=1.0,
        margin=-3.1,
        tolerance=0.1,
        control=name,
        missing=(),
    )
    text = explain_text(plan, held, (), rulebook)
    assert "It passes only with the control named below" in text
    assert f"Control: {name}: {control.text}" in text
    blocked = dataclasses.replace(held, verdict="blocked")
    assert "passes only" not in explain_text(plan, blocked, (), rulebook)
    unknown = dataclasses.replace(held, verdict="unknown", missing=("sag_max_m", "machine.view"))
    said = explain_text(plan, unknown, (), rulebook)
    assert "Missing: sag_max_m (greatest sag, from the owner), machine.view; without it the answer is unknown" in said
