"""Over the ramp: overhangs, belly, and the whole machine with the feet gone into the ground."""

from __future__ import annotations

import math

from travel.checks.outcome import Outcome
from travel.checks.ramp_facts import Lacks, RampAnswer, RampFacts, column, ramp_rule
from travel.checks.ramp_roll import Tight


def _clear(facts: RampFacts, rule: str, tight: Tight | None, lacks: Lacks) -> RampAnswer:
    case = facts.case
    least = case.limit(f"{rule}.least")
    deck = case.scalar("ramp-crest.height_tolerance")
    value = math.nan if tight is None else tight.value
    return RampAnswer(
        rule=rule,
        part=tight.part if tight else "",
        at_m=tight.lead_x - case.foot + facts.ahead_m if tight else None,
        outcome=Outcome(
            demand=least.value,
            capacity=value,
            tolerance=math.hypot(case.height_band_m, deck),
            caution=case.scalar(f"{rule}.caution"),
            missing=lacks.table(),
            limit=column(least),
            limit_source="computed",
        ),
    )


@ramp_rule("ramp-approach")
def ramp_approach(facts: RampFacts) -> list[RampAnswer]:
    """Overhangs over ramp, tail and deck."""
    firm = facts.rolling.firm
    return [_clear(facts, "ramp-approach", firm[p], Lacks()) for p in firm if p != "belly"]


@ramp_rule("ramp-crest")
def ramp_crest(facts: RampFacts) -> list[RampAnswer]:
    """The belly over every change of grade."""
    return [_clear(facts, "ramp-crest", facts.rolling.firm.get("belly"), Lacks())]


@ramp_rule("ramp-foot")
def ramp_foot(facts: RampFacts) -> list[RampAnswer]:
    """The whole machine with the ramps' feet gone into the ground."""
    if not facts.case.trailer.ramps:
        return []
    lacks = Lacks()
    if math.isnan(facts.case.foot_sink):
        lacks.need("ramps.foot_sink_m, or the surface of the ground", None)
    sunk = facts.rolling.sunk
    tight = min(sunk.values(), key=lambda t: t.value) if sunk else None
    return [_clear(facts, "ramp-foot", tight, lacks)]
