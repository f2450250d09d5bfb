"""The rules of trailer and ramps, all of them. A ramp is no piece of road: they stand apart from its registry."""

from __future__ import annotations

from travel.checks import ramp_axles, ramp_deck, ramp_fit, ramp_rig, ramp_road, ramp_shapes, ramp_slope, ramp_ties
from travel.checks.ramp_case import RampCase
from travel.checks.ramp_facts import RampAnswer, RampFacts, ramp_answers, ramp_rules

__all__ = [
    "RampAnswer",
    "RampCase",
    "RampFacts",
    "ramp_answers",
    "ramp_axles",
    "ramp_deck",
    "ramp_fit",
    "ramp_rig",
    "ramp_road",
    "ramp_rules",
    "ramp_shapes",
    "ramp_slope",
    "ramp_ties",
]
