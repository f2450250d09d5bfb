"""What the rules of trailer and ramps look at, each computed once, and how they answer: one answer a part."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from travel.checks.outcome import Outcome, judge
from travel.checks.ramp_case import RampCase, Value
from travel.checks.ramp_loads import Loads, Rig, loads_of, ramp_loads, rig_loads
from travel.checks.ramp_roll import Rolling, rolled
from travel.domain.verdict import Verdict
from travel.rulebook import LimitColumn

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class RampFacts:
    """One case with what is computed from it, each once."""

    case: RampCase

    @cached_property
    def rolling(self) -> Rolling:
        """All positions and the tightest places."""
        return rolled(self.case)

    @cached_property
    def loads(self) -> Loads:
        """Loads by position."""
        return loads_of(self.case, self.rolling.stood)

    @cached_property
    def ramp_n(self) -> dict[str, Floats]:
        """Load of each ramp by position [N]."""
        return ramp_loads(self.case, self.loads)

    @cached_property
    def rig(self) -> Rig:
        """Coupling and bogie by position [N]."""
        return rig_loads(self.case, self.loads)

    @cached_property
    def position_m(self) -> Floats:
        """Positions as people read them: leading axle from the ramp's foot."""
        return np.asarray(self.rolling.lead_x - self.case.foot)


@dataclass(frozen=True, eq=False, kw_only=True)
class RampAnswer:
    """One part of one rule: outcome with single values, and where the leading axle is then (from the ramp's foot)."""

    rule: str
    part: str
    outcome: Outcome
    at_m: float | None = None
    note: str = ""

    @cached_property
    def verdict(self) -> Verdict:
        """The judge's answer."""
        return Verdict(int(np.asarray(judge(self.outcome)).max()))


Check = Callable[[RampFacts], list[RampAnswer]]
_CHECKS: dict[str, Check] = {}


def ramp_rule(rule: str) -> Callable[[Check], Check]:
    """Register a function as the answer to a rule of trailer and ramps."""

    def register(check: Check) -> Check:
        _CHECKS[rule] = check
        return check

    return register


def ramp_rules() -> tuple[str, ...]:
    """Give the rules answered for a ramp question."""
    return tuple(_CHECKS)


def ramp_answers(facts: RampFacts, only: frozenset[str] | None = None) -> tuple[RampAnswer, ...]:
    """Ask every rule."""
    return tuple(a for rule, check in _CHECKS.items() if only is None or rule in only for a in check(facts))


@dataclass(slots=True, kw_only=True)
class Lacks:
    """Names of what is missing, as the judge takes them."""

    names: list[str] = field(default_factory=list)

    def need(self, name: str, value: object) -> None:
        """Note a name where its value is not known."""
        if value is None or (isinstance(value, float) and math.isnan(value)):
            self.names.append(name)

    def table(self) -> dict[str, NDArray[np.bool_]]:
        """Give the table of an outcome."""
        return {name: np.array(True) for name in dict.fromkeys(self.names)}


def column(value: Value) -> LimitColumn | None:
    """Give a resolved limit as outcomes carry it."""
    if value.row is None:
        return None
    return LimitColumn(values=np.array(value.value), row=np.array(0), rows=(value.row,))


def many_axles(case: RampCase) -> bool:
    """Whether the machine has more than two axles: the rolled body has two."""
    return len(case.body.axle_x_m) != 2
