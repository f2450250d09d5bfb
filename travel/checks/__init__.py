"""Rules over pieces: one file a rule group, one registry, one judge, one fold."""

from travel.checks import (
    bends,
    beside,
    braking,
    carrying,
    edges,
    gripping,
    ground,
    overhead,
    people,
    pulling,
    slopes,
    state,
    structures,
    traffic,
    underbody,
    upright,
    wires,
)
from travel.checks.answers import Answer, answers_for
from travel.checks.behind import as_one, asks_m
from travel.checks.body import Body, make_body
from travel.checks.braking import descent_energy
from travel.checks.case import Case, Configurations, make_configurations
from travel.checks.circle import FreeCircle, free_circle, free_to_turn
from travel.checks.fold import Fold, acceptance_id, fold, told_alike
from travel.checks.outcome import Outcome, judge
from travel.checks.past_ends import lies_past
from travel.checks.registry import built_rules, parts
from travel.checks.shunts import Shunt
from travel.checks.standing import may_stand
from travel.checks.turn_ids import close_id, corner_name, turn_id
from travel.checks.turn_pace import corner_time_s, pace_mps
from travel.checks.turn_rules import TurnPart
from travel.checks.turns import Turns, check_turns

__all__ = [
    "Answer",
    "Body",
    "Case",
    "Configurations",
    "Fold",
    "FreeCircle",
    "Outcome",
    "Shunt",
    "TurnPart",
    "Turns",
    "acceptance_id",
    "answers_for",
    "as_one",
    "asks_m",
    "bends",
    "beside",
    "braking",
    "built_rules",
    "carrying",
    "check_turns",
    "close_id",
    "corner_name",
    "corner_time_s",
    "descent_energy",
    "edges",
    "fold",
    "free_circle",
    "free_to_turn",
    "gripping",
    "ground",
    "judge",
    "lies_past",
    "make_body",
    "make_configurations",
    "may_stand",
    "overhead",
    "pace_mps",
    "parts",
    "people",
    "pulling",
    "slopes",
    "state",
    "structures",
    "told_alike",
    "traffic",
    "turn_id",
    "underbody",
    "upright",
    "wires",
]
