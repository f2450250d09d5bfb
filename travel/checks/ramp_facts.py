"""What the rules of trailer and ramps look at, each computed once, and how they answer: one answer a part."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from travel.checks.outcome import Outcome, judge
from travel.checks.ramp_case import RampCase, Value
from travel.checks.ramp_loads import Loads, Rig, loads_of, ramp_loads, rig_loads
from travel.checks.ramp_pairs import carried_by, lead_ahead_m, may_carry
from travel.checks.ramp_roll import Rolling, alike, rolled, standing_by
from travel.domain.trailer import Ramp
from travel.domain.verdict import Verdict
from travel.mechanics.roll_engine import Stand
from travel.rulebook import LimitColumn

Floats = NDArray[np.float64]

PAIR = 2
SLOPE_WORDS = {
    "ground_slope_pct": "slope of the ground along the rig",
    "ground_cross_slope_pct": "slope of the ground across the rig",
}
SHAPES = frozenset({"ramp-approach", "ramp-crest", "ramp-foot"})
"""Rules asked of every stand, also on springs at more than two axles."""
LOADS = frozenset({"ramp-angle", "ramp-rating", "nose-lift", "rig-hold"})
"""Rules asked of every pair of axles, on every ramp alike to none before, with firm feet and with feet gone in."""


@dataclass(frozen=True, eq=False, kw_only=True)
class RampFacts:
    """One case with what is computed from it, each once."""

    case: RampCase
    ahead_m: float = 0.0
    """How far the machine's own leading axle is ahead of the leading one here."""
    foot_ahead_m: float = 0.0
    """How far the foot of the ramp here is ahead of the first ramp's firm foot."""

    @cached_property
    def carried(self) -> tuple[RampFacts, ...]:
        """Every pair of axles that may carry the machine alone, the outermost first (itself on two axles), over the
        first ramp, then over others not like it, and with feet gone in.
        """
        pairs = [facts for facts in self.stands if len(facts.case.body.axle_x_m) == PAIR]
        return tuple(facts for pair in pairs for facts in pair._over_ramps)

    @cached_property
    def _over_ramps(self) -> tuple[RampFacts, ...]:
        case = self.case
        sinks = [0.0] if math.isnan(case.foot_sink) or not case.trailer.ramps else [0.0, case.foot_sink]
        ways = [(ramp, sink) for ramp in alike(case) for sink in dict.fromkeys(sinks)]
        return (self, *(self._over(ramp, sink) for ramp, sink in ways[1:]))

    def _over(self, ramp: Ramp | None, sink_m: float) -> RampFacts:
        """Give the same with loads taken over this ramp, its foot gone in."""
        case = self.case
        ramps = tuple(sorted(case.trailer.ramps, key=lambda one: one is not ramp))
        turned = replace(case, trailer=case.trailer.model_copy(update={"ramps": ramps}), gone_in_m=sink_m)
        return replace(self, case=turned, foot_ahead_m=turned.foot - case.foot)

    @cached_property
    def stands(self) -> tuple[RampFacts, ...]:
        """Every set of axles that it may stand on."""
        if not many_axles(self.case):
            return (self,)
        case = self.case
        return tuple(
            RampFacts(case=carried_by(case, axles), ahead_m=lead_ahead_m(case, axles)) for axles in may_carry(case)
        )

    @cached_property
    def tightest(self) -> RampFacts:
        """The stand with the smallest clearance."""
        return min(self.stands, key=lambda facts: facts.rolling.tightest().value)

    @cached_property
    def rolling(self) -> Rolling:
        """All positions and the tightest places."""
        return rolled(self.case)

    @cached_property
    def loads(self) -> Loads:
        """Loads by position."""
        return loads_of(self.case, self._stood[1])

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
        """Positions as people read them: the machine's leading axle from the ramp's foot."""
        return np.asarray(self._stood[0] - self.case.foot + self.ahead_m + self.foot_ahead_m)

    @cached_property
    def _stood(self) -> tuple[Floats, Stand]:
        """Places of the leading axle, and how the machine stands there."""
        return standing_by(self.case)


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
    return tuple(
        a for rule, check in _CHECKS.items() if only is None or rule in only for a in _asked(rule, check, facts)
    )


def _asked(rule: str, check: Check, facts: RampFacts) -> list[RampAnswer]:
    """Ask a rule of every way in which axles and ramps may carry the machine, and keep the worst of each part."""
    stands = facts.stands if rule in SHAPES else facts.carried if rule in LOADS else (facts,)
    if len(stands) == 1:
        return check(facts)
    worst: dict[str, RampAnswer] = {}
    for stood in stands:
        for answer in check(stood):
            old = worst.get(answer.part)
            if old is None or _bad(answer) > _bad(old):
                worst[answer.part] = answer
    return list(worst.values())


def _bad(answer: RampAnswer) -> tuple[int, float]:
    outcome = answer.outcome
    margin = float(np.asarray(outcome.capacity - outcome.demand - outcome.tolerance))
    return int(answer.verdict), math.inf if math.isnan(margin) else -margin


@dataclass(slots=True, kw_only=True)
class Lacks:
    """Names of what is missing, as the judge takes them."""

    names: list[str] = field(default_factory=list)

    def need(self, name: str, value: object) -> None:
        """Note a name where its value is not known."""
        if value is None or (isinstance(value, float) and math.isnan(value)):
            self.names.append(name)

    def stated(self, case: RampCase, *names: str) -> None:
        """Note those slopes of the ground that nobody stated, or that were only told."""
        asked = case.request
        self.names += [SLOPE_WORDS[name] for name in names if name in asked.not_stated]
        self.names += [f"{SLOPE_WORDS[name]} told" for name in names if name in asked.told]

    def table(self) -> dict[str, NDArray[np.bool_]]:
        """Give the table of an outcome."""
        return {name: np.array(True) for name in dict.fromkeys(self.names)}


def column(value: Value) -> LimitColumn | None:
    """Give a resolved limit as outcomes carry it."""
    if value.row is None:
        return None
    return LimitColumn(values=np.array(value.value), row=np.array(0), rows=(value.row,))


def many_axles(case: RampCase) -> bool:
    """Whether the machine has more than two axles, so that it is not known how they share its weight."""
    return len(case.body.axle_x_m) > PAIR
