"""Pace in a corner: walking pace, and less where the force of the turn makes standing upright or sliding any worse.

What is judged in a corner is judged at rest; the pace told with it is one at which that still holds.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from travel.checks.mover import Mover
from travel.checks.movers import movers
from travel.checks.outcome import judge
from travel.checks.registry import ask, parts_for
from travel.checks.sweep import Yard
from travel.checks.turn_rules import Asked, at_headings

if TYPE_CHECKING:
    from travel.checks.turns import Turns

LEANING = ("tip", "slide")
PACES = 9
"""So many paces are tried, from walking pace to the least the machine keeps steadily."""
LEAST_TAN = 0.2
"""A point that trails turns on no less than this share of its distance from the front axle: 79° of lock; no source."""


def pace_mps(turns: Turns, row: int, state: int) -> float:
    """Give the pace at which a corner that was judged is driven in a state; NaN where the rulebook names none."""
    if (row, state) not in turns.paces_mps:
        turns.paces_mps[row, state] = _pace_mps(turns, row, state)
    return turns.paces_mps[row, state]


def _pace_mps(turns: Turns, row: int, state: int) -> float:
    case, rows, states = turns.case, np.array([row]), np.array([state])
    steering = case.configurations.states[state][2]
    mover, most, least = movers(case).get(steering), case.scalar("turn.speed"), case.scalar("stopping.least_speed")
    if mover is None or np.isnan(most):
        return most
    asked = Asked(
        case=case,
        corners=turns.corners,
        rows=rows,
        states=states,
        shunted=turns.shunted[np.ix_(rows, states)],
        stated_ratio=turns.stated_ratio(rows, states),
    )
    backs = [np.zeros(asked.shape, dtype=bool), *([asked.shunted] if asked.shunted.any() else [])]
    grounds, per_m = [at_headings(asked, back)[0] for back in backs], _curve_per_m(turns, row, state, mover)
    rules = [part for part in parts_for(case) if part.rule in LEANING and not part.layer]

    def worst(curve_mps2: float) -> list[int]:
        rows = [replace(ground, curve_mps2=curve_mps2) for ground in grounds]
        return [int(np.max(judge(ask(rule, one, case)))) for rule in rules for one in rows]

    at_rest, pace = worst(0.0), most
    for pace in np.linspace(most, least, PACES).tolist():
        if all(moving <= still for moving, still in zip(worst(per_m * pace**2), at_rest, strict=True)):
            break
    return float(pace)


def corner_time_s(turns: Turns, row: int, state: int, pace: float) -> float:
    """Give the seconds a corner takes: at the pace told [m/s], and standing at every change of direction."""
    walking = turns.case.scalar("turn.speed")
    if np.isnan(pace) or (turns.corners.returns[row] and turns.circle[row, state]):
        return turns.time_s(row, state)
    return turns.time_s(row, state) + turns.driven(row, state)[0] * (1.0 / pace - 1.0 / walking)


def _curve_per_m(turns: Turns, row: int, state: int, mover: Mover) -> float:
    """Give the acceleration towards the middle of the tightest turn driven, over the square of the pace [1/m]."""
    rows = np.array([row])
    cut = turns.swept(rows, np.array([state]))[1]
    radius_m = mover.least_radius_m
    if not turns.shunted[row, state] and not np.isnan(cut[0, 0]):
        back = turns.case.configurations.states[state][0] == "reverse"
        radius_m = float(Yard(turns.corners, turns.corners.mirror[rows] if back else rows).least_radius(cut)[0, 0])
    return curve_per_m(radius_m, mover.trail_m, turns.case.body.cg_m[0] + mover.trail_m)


def curve_per_m(radius_m: float, trail_m: float, ahead_m: float) -> float:
    """Give the acceleration of the centre of gravity towards the middle of a turn, over the square of the pace [1/m].

    R_c / R^2, R = sqrt(r^2 - L^2) of the point that trails, which the pace is told of, R_c = sqrt(R^2 + x^2)

    Args:
        radius_m: radius r of the front axle's middle [m]
        trail_m: distance L of the point that trails behind it [m]
        ahead_m: distance x of the centre of gravity ahead of that point [m]
    """
    square = max(radius_m**2 - trail_m**2, (LEAST_TAN * trail_m) ** 2)
    return math.sqrt(square + (0.0 if math.isnan(ahead_m) else ahead_m) ** 2) / square
