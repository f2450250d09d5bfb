"""Tie-downs that fall short: how strong each must be where they are, or how many more of the same, by the rule."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement

import numpy as np

from travel.checks.ramp import RampCase, RampFacts, ramp_answers
from travel.checks.ramp_ties import ties
from travel.domain.trailer import TiePoint
from travel.domain.verdict import Verdict

STRONGEST_KG = 20_000.0
"""Stronger lashings than this are not put on by hand; common practice, no source."""
ROUND_KG = 50.0
EXACT_KG = 0.01
MOST_MORE = 8
TRIALS = 100
"""So many sets of more tie-downs that add up are asked of the rule at most."""
SLACK_KG = 1e-6
RULE = frozenset({"tie-down"})


@dataclass(frozen=True, slots=True, kw_only=True)
class TieChange:
    """A change of the tie-downs: its exact least quantity, the one that is said, and the case with it."""

    kind: str
    value: float
    exact: float
    unit: str
    text: str
    case: RampCase


def tie_changes(case: RampCase) -> list[TieChange]:
    """Give what would do, stronger tie-downs first; nothing where a tie-down is not known."""
    if not case.trailer.tie_points or any(tied.lacks for tied in ties(case)):
        return []
    return [change for change in (_stronger(case), _more(case)) if change is not None]


def with_tie_points(case: RampCase, points: tuple[TiePoint, ...]) -> RampCase:
    """Give the case with these tie-downs."""
    return replace(case, trailer=case.trailer.model_copy(update={"tie_points": points}))


def with_least_limit(case: RampCase, limit_kg: float) -> RampCase:
    """Give the case with no tie-down, point and lashing, for less than this working load limit."""
    points = [
        point
        if tied.limit_kg >= limit_kg
        else point.model_copy(update={"rating_kg": limit_kg, "lashing_kg": limit_kg, "chain": None})
        for point, tied in zip(case.trailer.tie_points, ties(case), strict=True)
    ]
    return with_tie_points(case, tuple(points))


def ties_hold(case: RampCase) -> bool:
    """Whether the rule says no nowhere."""
    return all(answer.verdict != Verdict.BLOCKED for answer in ramp_answers(RampFacts(case=case), RULE))


def least_limit_kg(case: RampCase) -> float | None:
    """Give the least working load limit with which these tie-downs do; None = not by strength."""
    low, high = min(tied.limit_kg for tied in ties(case)), STRONGEST_KG
    if not ties_hold(with_least_limit(case, high)):
        return None
    while high - low > EXACT_KG:
        middle = (low + high) / 2.0
        low, high = (low, middle) if ties_hold(with_least_limit(case, middle)) else (middle, high)
    return high


def _stronger(case: RampCase) -> TieChange | None:
    exact = least_limit_kg(case)
    if exact is None:
        return None
    value = math.ceil(exact / ROUND_KG - 1e-9) * ROUND_KG
    weak = [tied for tied in ties(case) if tied.limit_kg < value]
    named = ", ".join(f"{tied.name} ({_spaced(tied.limit_kg)} kg)" for tied in weak)
    text = (
        f"Each tie-down, its deck point, lashing and point on the machine, for at least {_spaced(value)} kg working"
        f" load limit where it now has less: {named}."
    )
    changed = with_least_limit(case, value)
    return TieChange(kind="stronger tie-downs", value=value, exact=exact, unit="kg", text=text, case=changed)


def _more(case: RampCase) -> TieChange | None:
    """Double as few tie-downs as will do; of equal numbers the most even one, over the points and both sides.

    What each adds to a part of the rule is taken from the rule; what then adds up is asked once more.
    """
    old = case.trailer.tie_points
    short, parts = _shortfall(case), []
    for point in old:
        after = _shortfall(with_tie_points(case, (*old, point)))
        parts.append({name: short[name] - after[name] for name in short})
    tried = 0
    for number in range(1, MOST_MORE + 1):
        for rows in sorted(combinations_with_replacement(range(len(old)), number), key=lambda rows: _uneven(old, rows)):
            if any(short[name] > sum(parts[row][name] for row in rows) + SLACK_KG for name in short):
                continue
            tried += 1
            if tried > TRIALS:
                return None
            doubled = tuple(old[row] for row in rows)
            changed = with_tie_points(case, (*old, *doubled))
            if ties_hold(changed):
                return _said(changed, number, doubled)
    return None


def _uneven(points: tuple[TiePoint, ...], rows: tuple[int, ...]) -> tuple[int, float]:
    """Give how often the same point is doubled, and how far the sides differ."""
    return max(rows.count(row) for row in rows), abs(sum(float(np.sign(points[row].y_m)) for row in rows))


def _shortfall(case: RampCase) -> dict[str, float]:
    """Give by how much each part of the rule that may say no is short [kg]."""
    answers = [a for a in ramp_answers(RampFacts(case=case), RULE) if a.outcome.permitted is None]
    return {a.part: float(np.asarray(a.outcome.demand - a.outcome.capacity)) for a in answers}


def _said(changed: RampCase, number: int, doubled: tuple[TiePoint, ...]) -> TieChange:
    names = [point.name or f"({point.x_m:g}, {point.y_m:g})" for point in dict.fromkeys(doubled)]
    times = [sum(point is other for other in doubled) for point in dict.fromkeys(doubled)]
    beside = ", ".join(f"{name}{f' ({n} times)' if n > 1 else ''}" for name, n in zip(names, times, strict=True))
    count = len(changed.trailer.tie_points)
    text = (
        f"{number} more {'tie-down' if number == 1 else 'tie-downs'} ({count} in all), of the same strength and lead,"
        f" each on a point of its own beside: {beside}."
    )
    exact = float(number)
    return TieChange(kind="more tie-downs", value=exact, exact=exact, unit="", text=text, case=changed)


def _spaced(value: float) -> str:
    """Write thousands apart."""
    return f"{value:,.0f}".replace(",", " ")
