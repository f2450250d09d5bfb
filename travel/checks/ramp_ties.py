"""Tied down: each lashing with what it counts or holds, by the rule of the jurisdiction; rules are not mixed.

49 CFR 393 counts tie-downs and their working load limits; what it asks of forces (393.102) counts as met by that, so
that tie-downs short of a force there are a caution. EN 12195-1 and the Australian guide ask for the forces themselves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from travel.checks.outcome import Outcome
from travel.checks.ramp_case import RampCase
from travel.checks.ramp_facts import Lacks, RampAnswer, RampFacts, column, ramp_rule
from travel.checks.ramp_road import placed_on_deck
from travel.domain.machine import Machine
from travel.domain.trailer import TiePoint
from travel.mechanics.lashing import (
    aggregate_limit_needed,
    direct_needed,
    direct_restraint,
    tiedown_contribution,
    tiedowns_needed,
)
from travel.mechanics.ramp_statics import tip_back_ratio
from travel.units import kg_to_n, n_to_kg

DIRECTIONS = {"forward": (1.0, 0.0), "rearward": (-1.0, 0.0), "left": (0.0, 1.0), "right": (0.0, -1.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Tied:
    """One tie-down of the plan."""

    point: TiePoint
    name: str
    limit_kg: float
    counts_kg: float
    holds_kg: dict[str, float]
    down_kg: float
    lacks: tuple[str, ...]


def ties(case: RampCase) -> tuple[Tied, ...]:
    """Give every tie-down with its limit (the least of point and lashing) and its part."""
    return tuple(_tied(case, point, number) for number, point in enumerate(case.trailer.tie_points))


def _tied(case: RampCase, point: TiePoint, number: int) -> Tied:
    lacks = Lacks()
    name = point.name or f"point {number + 1}"
    lacks.need(f"tie_points.{name}.rating_kg", point.rating_kg)
    chain = case.scalar("tie-down.limit", chain=point.chain) if point.chain else None
    parts = [value for value in (point.rating_kg, chain, point.lashing_kg) if value is not None]
    limit = min(parts) if point.rating_kg is not None else math.nan
    if chain is None and point.lashing_kg is None:
        lacks.need(f"tie_points.{name}.chain or lashing_kg", None)
        limit = math.nan
    holds, down = _holds(case, point, limit), _down(case, point, limit)
    if point.over and not by_393(case):
        lacks.need(f"force of {name} over the top (not worked out here)", None)
    elif point.to_xyz_m is None and not by_393(case):
        lacks.need(f"tie_points.{name}.to_xyz_m", None)
    counts = float(tiedown_contribution(limit, 1.0 if point.over else 0.0))
    return Tied(
        point=point,
        name=name,
        limit_kg=limit,
        counts_kg=counts,
        holds_kg=holds,
        down_kg=down,
        lacks=tuple(lacks.names),
    )


def restrained(machine: Machine) -> tuple[str, ...]:
    """Give what of the machine is secured besides its frame, named from its sheet."""
    stand = (
        " or ".join(machine.turret.travel) or "as its maker says (its sheet does not say how it is locked for travel)"
    )
    out = [
        "boom: fully in and down, held there by its transport lock or a lashing of its own",
        f"turret: {stand}, its lock or pin in",
        "park brake on, low range engaged, wheels straight",
    ]
    if machine.stabilisers is not None:
        out.append("stabilisers: fully in and up, pinned")
    out += [f"attachment {attachment.name}: secured or taken off" for attachment in machine.attachments]
    return tuple(out)


def by_393(case: RampCase) -> bool:
    """Whether 49 CFR 393 is the rule."""
    return case.request.jurisdiction == "us"


@lru_cache(maxsize=4)
def friction(case: RampCase) -> float:
    """Friction under the tied machine as tie-down rules take it: by what it stands on, and the weather."""
    return case.scalar("tie-down.friction", contact=case.trailer.deck.contact or "tyres", ground=case.state)


@lru_cache(maxsize=4)
def _friction_share(case: RampCase) -> float:
    """Share of the friction that counts with direct lashings."""
    return case.scalar("tie-down.friction_share")


def _holds(case: RampCase, point: TiePoint, limit: float) -> dict[str, float]:
    """Give what one direct lashing holds in each direction it acts in [kg]; from the machine's point to the deck's."""
    lead = _lead(case, point)
    if lead is None or math.isnan(limit):
        return dict.fromkeys(DIRECTIONS, math.nan)
    run, across, rise = lead
    level = math.hypot(run, across)
    down = math.atan2(rise, level)
    out = {}
    for direction, (along, side) in DIRECTIONS.items():
        # a lashing holds against moving one way if it pulls the other way
        pull = -(run * along + across * side) / level if level > 0.0 else 0.0
        held = 0.0
        if pull > 1e-9:
            mu, share = friction(case), _friction_share(case)
            force = direct_restraint(float(kg_to_n(limit)), down, math.acos(min(pull, 1.0)), mu, share)
            held = n_to_kg(float(force))
        out[direction] = held
    return out


def _lead(case: RampCase, point: TiePoint) -> tuple[float, float, float] | None:
    """Give a direct lashing's lead from machine to deck: along, across, and how far it comes down [m].

    None where it is not told, and of a lashing over the top, which holds by what it presses down alone.
    """
    best = placed_on_deck(case).best
    if point.over or point.to_xyz_m is None or best is None:
        return None
    nose_in = ((case.request.move == "load") == (case.request.first == "nose")) != case.front_entry
    sign = 1.0 if nose_in else -1.0
    x, y, z = point.to_xyz_m
    return point.x_m - (best + sign * x), point.y_m - sign * y, z


def _down(case: RampCase, point: TiePoint, limit: float) -> float:
    """Give what one direct lashing holds against lifting [kg]."""
    lead = _lead(case, point)
    return math.nan if lead is None else limit * max(lead[2], 0.0) / math.hypot(*lead)


@ramp_rule("tie-down")
def tie_down(facts: RampFacts) -> list[RampAnswer]:
    """Aggregate and number (49 CFR 393), or force in every direction (EN 12195-1, Australia), whichever rule holds."""
    case = facts.case
    found = ties(case)
    lacks = Lacks()
    lacks.need("jurisdiction", case.request.jurisdiction)
    if not found:
        lacks.need("tie_points", None)
    for tied in found:
        lacks.names += tied.lacks
    if not by_393(case):
        lacks.need("a place on the deck", placed_on_deck(case).window)
    if by_393(case):
        number = [_number(case, found), _ends(case, found), _sides(case, found)]
        return [_aggregate(case, found, lacks), *number, *_by_force(case, found)]
    answers = [_direction(case, found, lacks, direction) for direction in DIRECTIONS]
    answers += _lifting(case, found, lacks)
    return answers[:1] if lacks.names else [*answers, _tilting(case)]


def _heaviest_kg(case: RampCase) -> float:
    """Give the machine's mass with its tolerance: the sheet's, else the share of its class."""
    return case.body.mass_kg + case.mass_band_kg


def _aggregate(case: RampCase, found: tuple[Tied, ...], lacks: Lacks) -> RampAnswer:
    mass = _heaviest_kg(case)
    total = sum(tied.counts_kg for tied in found)
    return RampAnswer(
        rule="tie-down",
        part="aggregate working load limit",
        outcome=Outcome(
            demand=float(aggregate_limit_needed(mass)),
            capacity=total,
            missing=lacks.table(),
            limit=column(case.limit("tie-down.least_number")),
            limit_source="computed",
        ),
    )


def _number(case: RampCase, found: tuple[Tied, ...]) -> RampAnswer:
    least = case.limit("tie-down.least_number")
    needed = max(least.value, float(tiedowns_needed(case.body.length_m, case.body.mass_kg, 0.0)))
    enough = len(found) >= needed
    return RampAnswer(
        rule="tie-down",
        part=f"number of tie-downs: {len(found)} of {needed:.0f}",
        outcome=Outcome(permitted=np.array(enough), limit=column(least)),
    )


def _ends(case: RampCase, found: tuple[Tied, ...]) -> RampAnswer:
    """Front and rear both held: tie-downs ahead of and behind the machine's middle, two each."""
    best, lacks = placed_on_deck(case).best, Lacks()
    lacks.need("a place on the deck", best)
    nose_in = ((case.request.move == "load") == (case.request.first == "nose")) != case.front_entry
    middle = (best or 0.0) - (1.0 if nose_in else -1.0) * case.body.wheelbase_m / 2.0
    ahead = sum(tied.point.x_m > middle for tied in found)
    return RampAnswer(
        rule="tie-down",
        part=f"held at both ends: {ahead} ahead and {len(found) - ahead} behind, 2 each wanted",
        outcome=Outcome(
            permitted=np.array(min(ahead, len(found) - ahead) >= 2),
            missing=lacks.table(),
            limit=column(case.limit("tie-down.least_number")),
        ),
    )


def _sides(case: RampCase, found: tuple[Tied, ...]) -> RampAnswer:
    """Held to both sides: a tie-down on one side alone does not hold the machine from moving to it."""
    leads = [(tied.point, _lead(case, tied.point)) for tied in found]
    pulls = [(point.over, point.y_m if lead is None else lead[1]) for point, lead in leads]
    left, right = (sum(over or sign * pull > 0.0 for over, pull in pulls) for sign in (1.0, -1.0))
    return RampAnswer(
        rule="tie-down",
        part=f"held to both sides: {left} left and {right} right, 1 each wanted",
        outcome=Outcome(permitted=np.array(min(left, right) >= 1), limit=column(case.limit("tie-down.least_number"))),
    )


def _tilting(case: RampCase) -> RampAnswer:
    """Against tilting no lashing is needed where half the base over the height exceeds the acceleration's share."""
    body, lacks = case.body, Lacks()
    side, ahead = case.limit("tie-down.tilting"), case.scalar("tie-down.forward")
    lacks.need("machine.attitudes.cg_y_m", body.cg_m[1])
    band = case.cg_band_m
    high = body.cg_m[2] + band
    across = float(body.track_m.min()) / 2.0 - abs(body.cg_m[1]) - band
    along = min(-body.cg_m[0], body.wheelbase_m + body.cg_m[0]) - band
    stable = min(tip_back_ratio(across, high) / side.value, tip_back_ratio(along, high) / ahead)
    if stable < 1.0:
        lacks.need("lashings against tilting (not worked out here)", None)
    return RampAnswer(
        rule="tie-down",
        part="against tilting",
        outcome=Outcome(permitted=np.array(stable >= 1.0), missing=lacks.table(), limit=column(side)),
    )


def _direction(case: RampCase, found: tuple[Tied, ...], lacks: Lacks, direction: str) -> RampAnswer:
    c = case.limit(
        f"tie-down.{'forward' if direction == 'forward' else 'rearward' if direction == 'rearward' else 'side'}"
    )
    mass = _heaviest_kg(case)
    needed = n_to_kg(float(direct_needed(mass, c.value, 1.0, friction(case), _friction_share(case))))
    total = sum(tied.holds_kg[direction] for tied in found)
    return RampAnswer(
        rule="tie-down",
        part="tie-downs as a whole" if lacks.names else f"against moving {direction}",
        outcome=Outcome(
            demand=needed,
            capacity=total,
            tolerance=0.0,
            caution=0.0,
            missing=lacks.table(),
            limit=column(c),
            limit_source="computed",
        ),
    )


def _lifting(case: RampCase, found: tuple[Tied, ...], lacks: Lacks) -> list[RampAnswer]:
    """Held down against lifting, where the rule asks for it."""
    up = case.limit("tie-down.up")
    if math.isnan(up.value):
        return []
    return [
        RampAnswer(
            rule="tie-down",
            part="against lifting",
            outcome=Outcome(
                demand=up.value * _heaviest_kg(case),
                capacity=sum(tied.down_kg for tied in found),
                missing=lacks.table(),
                limit=column(up),
                limit_source="computed",
            ),
        )
    ]


def _by_force(case: RampCase, found: tuple[Tied, ...]) -> list[RampAnswer]:
    """Working load limits against the forces of 49 CFR 393.102; told only where the angles of every one are known."""
    mass, out = _heaviest_kg(case), []
    sums = {name: sum(tied.holds_kg[name] for tied in found) for name in DIRECTIONS}
    sums["lifting"] = sum(tied.down_kg for tied in found)
    for name, there in sums.items():
        kind = name if name in ("forward", "rearward") else "side"
        share = case.limit("tie-down.up" if name == "lifting" else f"tie-down.at_limit_{kind}")
        short = share.value * mass > there
        if math.isnan(there) or math.isnan(share.value):
            continue
        out.append(
            RampAnswer(
                rule="tie-down",
                part=f"against {'' if name == 'lifting' else 'moving '}{name}, forces of 393.102",
                outcome=Outcome(
                    demand=share.value * mass,
                    capacity=there,
                    permitted=np.array(True) if short else None,
                    controlled=short,
                    control="tie-down-directions" if short else "",
                    limit=column(share),
                    limit_source="computed",
                ),
            )
        )
    return out
