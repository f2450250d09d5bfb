"""The one registry of checks: which code answers which rule, over what."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.rows import Rows

Floats = NDArray[np.float64]
Check = Callable[[Rows, Case], Outcome]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of a rule: over pieces, or over pairs of piece and feature of ``layer``.

    ``beside_m``: how far from the centreline a feature still counts, by case; None = the road's own half width.
    ``each_m``: the same by feature of the layer, where one may count from further off than another. ``by_trip``: it
    looks at which trip it is, so that its answer on the way back is another one.
    """

    rule: str
    check: Check
    layer: str = ""
    beside_m: Callable[[Case], float] | None = None
    each_m: Callable[[Case], Floats] | None = None
    by_trip: bool = False


_PARTS: list[Part] = []


def answers(
    rule: str,
    layer: str = "",
    beside_m: Callable[[Case], float] | None = None,
    each_m: Callable[[Case], Floats] | None = None,
    by_trip: bool = False,
) -> Callable[[Check], Check]:
    """Register a function as (a part of) the answer to a rule."""

    def register(check: Check) -> Check:
        _PARTS.append(Part(rule=rule, check=check, layer=layer, beside_m=beside_m, each_m=each_m, by_trip=by_trip))
        return check

    return register


def parts() -> tuple[Part, ...]:
    """Give every registered part, in the order of registration."""
    return tuple(_PARTS)


def parts_for(case: Case) -> tuple[Part, ...]:
    """Give the parts that are asked of the vehicle of a case."""
    left_out = case.left_out
    return tuple(part for part in _PARTS if part.rule not in left_out) if left_out else tuple(_PARTS)


def ask(part: Part, rows: Rows, case: Case) -> Outcome:
    """Ask one part; what the vehicle's own sheet lacks for its rule is missing everywhere."""
    outcome, lacking = part.check(rows, case), case.lacking(part.rule)
    if not lacking:
        return outcome
    missing = {name: where for name, where in outcome.missing.items() if not name.startswith("machine.")}
    return replace(outcome, missing={**missing, **dict.fromkeys(lacking, np.array(True))})


def built_rules() -> frozenset[str]:
    """Give the ids of the rules that code answers."""
    return frozenset(part.rule for part in _PARTS) | frozenset(_TRIP_RULES)


_TRIP_RULES: set[str] = set()


def answers_trip(rule: str) -> None:
    """Register a rule that is answered once a trip, by conditions and not by pieces."""
    _TRIP_RULES.add(rule)
