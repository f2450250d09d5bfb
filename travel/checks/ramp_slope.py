"""Up the ramp: permitted slope, grip, tipping back, pull in the low range."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from travel.checks.outcome import Outcome
from travel.checks.ramp_facts import Lacks, RampAnswer, RampFacts, column, ramp_rule
from travel.checks.ramp_loads import unequal
from travel.domain.ramp import SLOPES
from travel.mechanics.grip import grip_demand
from travel.mechanics.ramp_statics import tip_back_ratio
from travel.mechanics.slope import share_across
from travel.units import kg_to_n

Floats = NDArray[np.float64]

SURFACE_M = 0.3
"""A shorter part of the profile is a lip; common practice, no source."""


@ramp_rule("ramp-angle")
def ramp_angle_parts(facts: RampFacts) -> list[RampAnswer]:
    """Ramp, tail and ground together against permission, grip, tipping back and the low range's pull."""
    up, body = facts.case.request.move == "load", facts.case.body
    stops = not up or bool((body.driven & ~body.braked).any())  # else they stop where they drive
    grip = [_grip_part(facts, driven) for driven, asked in ((True, up), (False, stops)) if asked]
    return [_permission(facts), _across(facts), *grip, _tipping(facts), _pull(facts)]


def _steepest(facts: RampFacts) -> tuple[float, int]:
    """Give the steepest slope stood on: of each surface long enough for a tyre, of sunk ramps, and of the body.

    The corner of a lip is a step to climb (it counts for grip), not a slope that the maker's permission speaks of.
    """
    case = facts.case
    at = int(np.nanargmax(np.abs(facts.loads.pitch)))
    sinks = [0.0] + ([case.foot_sink] if not math.isnan(case.foot_sink) and case.trailer.ramps else [])
    found = [float(abs(facts.loads.pitch[at]))]
    for ramp in case.ramps:
        for sink in sinks:
            run, rise = np.diff(case.profile(ramp, sink=sink), axis=0).T
            long = run >= SURFACE_M
            slopes = np.tan(np.arctan(rise[long] / run[long]) + np.arctan(case.slope))
            found.append(float(np.abs(slopes).max(initial=0.0)))
    return max(found), at


def _permission(facts: RampFacts) -> RampAnswer:
    case, lacks = facts.case, Lacks()
    steepest, at = _steepest(facts)
    lacks.need("machine.limits.grade_pct", case.body.grade_limit_ratio)
    lacks.stated(case, "ground_slope_pct")
    return RampAnswer(
        rule="ramp-angle",
        part="permitted slope",
        at_m=float(facts.position_m[at]),
        outcome=Outcome(
            demand=steepest,
            capacity=case.body.grade_limit_ratio,
            tolerance=case.scalar("ramp-angle.slope_tolerance"),
            caution=case.scalar("ramp-angle.caution"),
            missing=lacks.table(),
            limit_source="manual",
        ),
    )


def _across(facts: RampFacts) -> RampAnswer:
    """The ground's slope across, and what ramps not alike lean the machine besides, against what is permitted."""
    case, lacks = facts.case, Lacks()
    lacks.need("machine.limits.cross_slope_pct", case.body.cross_limit_ratio)
    lacks.stated(case, "ground_cross_slope_pct")
    lean = max(unequal(case, side) for side in ("left", "right"))
    return RampAnswer(
        rule="ramp-angle",
        part="permitted slope across",
        outcome=Outcome(
            demand=math.tan(math.atan(abs(case.cross)) + math.atan(lean)),
            capacity=case.body.cross_limit_ratio,
            tolerance=case.scalar("ramp-angle.slope_tolerance"),
            caution=case.scalar("ramp-angle.caution"),
            missing=lacks.table(),
            limit_source="manual",
        ),
    )


def wheel_grip(facts: RampFacts) -> Floats:
    """Give the coefficient under each wheel by position (2, p)."""
    case, loads = facts.case, facts.loads
    deck = case.grip(case.trailer.deck.surface).value
    stated = [ramp.surface for ramp in case.trailer.ramps] or [case.trailer.deck.surface]
    ramp = min(case.grip(surface).value for surface in stated)
    ground = case.ground_grip.value
    return np.where(loads.on_deck, deck, np.where(loads.on_ramp, ramp, ground))


def grip_by_position(facts: RampFacts, driven: bool | None = None) -> tuple[Floats, Floats]:
    """Going up the driven wheels (and, to stop there, the braked ones), coming down the braked ones.

    A wheel on ground not stated grips as on steel.
    """
    case, loads, body = facts.case, facts.loads, facts.case.body
    up = case.request.move == "load" if driven is None else driven
    weight = float(kg_to_n(body.mass_kg))
    acting = (body.driven if up else body.braked)[[case.outline.lead, case.outline.trail]]
    along = (np.maximum(loads.square, 0.0) * loads.slope).sum(axis=0) / weight
    rolling = case.scalar("pull.rolling", surface="steel_plate") if up else 0.0
    along = np.maximum(along, 0.0) + rolling
    across = np.abs(share_across(0.0, case.cross))
    level = 1.0 / math.sqrt(1.0 + case.cross**2)
    mu = np.nan_to_num(wheel_grip(facts), nan=case.grip("steel_plate").value)
    held = (np.maximum(loads.square, 0.0) * mu * acting[:, None]).sum(axis=0) * level / weight
    return np.asarray(grip_demand(along, across)), held


def _grip_part(facts: RampFacts, driven: bool) -> RampAnswer:
    case, lacks = facts.case, Lacks()
    needed, there = grip_by_position(facts, driven)
    touched = (facts.loads.on_ramp | facts.loads.on_deck).any(axis=0)
    margin = np.where(touched, there - needed, np.inf)
    at = int(np.nanargmin(margin))
    for value in (case.grip(s).value for s in [case.trailer.deck.surface, *(r.surface for r in case.trailer.ramps)]):
        lacks.need("grip of ramps and deck", value)
    lacks.stated(case, *SLOPES)
    surfaces = [ramp.surface for ramp in case.trailer.ramps] or [case.trailer.deck.surface]
    row = min((case.grip(surface) for surface in surfaces), key=lambda value: value.value)
    return RampAnswer(
        rule="ramp-angle",
        part="grip of the driven wheels" if driven else "grip of the braked wheels",
        at_m=float(facts.position_m[at]),
        outcome=Outcome(
            demand=float(needed[at]),
            capacity=float(there[at]),
            tolerance=case.scalar("ramp-angle.slope_tolerance"),
            caution=case.scalar("ramp-angle.grip_caution"),
            missing=lacks.table(),
            limit=column(row),
            limit_source="computed",
        ),
    )


def _tipping(facts: RampFacts) -> RampAnswer:
    case, loads, lacks = facts.case, facts.loads, Lacks()
    share = case.limit("ramp-angle.tip_share")
    ratio = np.where(np.isnan(loads.tip_ratio), np.inf, loads.tip_ratio) * share.value
    at = int(np.argmin(ratio - np.abs(loads.pitch)))
    shape, band = case.outline, case.body.cg_tolerance_m
    lacks.need("machine.cg_tolerance_m", band)
    lacks.stated(case, "ground_slope_pct")
    ends = zip((-shape.cg_x, shape.base + shape.cg_x), case.inner, strict=True)
    reach = min((lever for lever, inner in ends if not inner), default=shape.base)
    slip = tip_back_ratio(reach, shape.cg_z) - tip_back_ratio(max(reach - band, 1e-6), shape.cg_z + band)
    return RampAnswer(
        rule="ramp-angle",
        part="tipping back",
        at_m=float(facts.position_m[at]),
        outcome=Outcome(
            demand=float(abs(loads.pitch[at])),
            capacity=float(ratio[at]),
            tolerance=float(slip) * share.value,
            caution=case.scalar("ramp-angle.caution"),
            missing=lacks.table(),
            limit=column(share),
            limit_source="computed",
        ),
    )


def _pull(facts: RampFacts) -> RampAnswer:
    case, loads, lacks = facts.case, facts.loads, Lacks()
    weight = float(kg_to_n(case.body.mass_kg))
    rolling = case.scalar("pull.rolling", surface="steel_plate")
    travel = "forward" if (case.request.first == "nose") else "reverse"
    pulls = [
        max(kn for _, kn in gear.pull_kn) * 1000.0
        for gear in case.machine.gears
        if gear.range == "low" and gear.travel == travel and gear.pull_kn
    ]
    lacks.need(f"gears.pull_kn (low range, {travel})", max(pulls, default=math.nan))
    lacks.stated(case, "ground_slope_pct")
    along = (loads.square * loads.slope).sum(axis=0) / weight + rolling
    at = int(np.nanargmax(along))
    band = case.mass_band_kg / case.body.mass_kg
    return RampAnswer(
        rule="ramp-angle",
        part="pull in the low range",
        at_m=float(facts.position_m[at]),
        outcome=Outcome(
            demand=float(along[at]),
            capacity=max(pulls, default=math.nan) / weight,
            tolerance=band * float(along[at]),
            caution=case.scalar("ramp-angle.caution"),
            applies=case.request.move == "load",
            missing=lacks.table(),
            limit_source="manual",
        ),
    )
