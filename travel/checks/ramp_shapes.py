"""Over the ramp: overhangs, belly, and the whole machine with the feet gone into the ground."""

from __future__ import annotations

import math

from travel.checks.outcome import Outcome
from travel.checks.ramp_facts import Lacks, RampAnswer, RampFacts, column, ramp_rule
from travel.checks.ramp_road import over_frame
from travel.checks.ramp_roll import Tight


def _clear(facts: RampFacts, rule: str, tight: Tight | None, lacks: Lacks) -> RampAnswer:
    if tight is None:
        return _left(facts, rule, "", math.nan, lacks)
    at_m = tight.lead_x - facts.case.foot + facts.ahead_m
    return _left(facts, rule, facts.case.end_of(tight.part), tight.value, lacks, at_m)


def _left(facts: RampFacts, rule: str, part: str, value: float, lacks: Lacks, at_m: float | None = None) -> RampAnswer:
    case = facts.case
    least = case.limit(f"{rule}.least")
    deck = case.scalar("ramp-crest.height_tolerance")
    return RampAnswer(
        rule=rule,
        part=part,
        at_m=at_m,
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
    out = [_clear(facts, "ramp-approach", firm[p], Lacks()) for p in firm if p != "belly"]
    whole = len(facts.case.body.axle_x_m) == len(facts.case.machine.axles)
    return out + (_behind(facts) if whole else [])


def _behind(facts: RampFacts) -> list[RampAnswer]:
    """At its best place on the bed, over frame and wheels of a bogie that stands behind the bed."""
    lacks, over, frame = Lacks(), over_frame(facts.case), facts.case.trailer.deck.behind_height_m
    if over is None:
        return []
    lacks.need("deck.behind_height_m", frame)
    value = math.nan if frame is None else over - frame
    return [_left(facts, "ramp-approach", "over the frame behind the bed", value, lacks)]


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
