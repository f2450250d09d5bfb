"""On the road: axles, groups and gross against the law, height, width and length. General information: the authority
decides. What is over a general limit needs its permit or notice, and is never clear.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from travel.checks.outcome import Outcome
from travel.checks.ramp_case import RampCase, Value
from travel.checks.ramp_deck import Standing, standing
from travel.checks.ramp_facts import Lacks, RampAnswer, RampFacts, column, ramp_rule
from travel.mechanics.axle_law import bridge_formula_table
from travel.mechanics.headroom import loaded_height, sag_curve_loss
from travel.units import M_PER_FT, M_PER_IN

GROUP_M = 1.8
"""Axles nearer than this are one group (Directive 96/53/EC, Annex I, 3.2 to 3.4: less than 1.8 m)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadAxle:
    """One axle of the loaded rig: place behind the first axle, load, whether it is driven, whether it is towed."""

    name: str
    behind_m: float
    load_kg: float
    driven: bool
    towed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Overall:
    """The loaded rig as a whole."""

    height_m: float
    width_m: float
    length_m: float | None
    gross_kg: float
    sag_loss_m: float | None
    sag_radius_m: float


@lru_cache(maxsize=4)
def placed_on_deck(case: RampCase) -> Standing:
    """Give the standing of a case, once."""
    return standing(case)


def overall(case: RampCase) -> Overall:
    """Give height with its tolerance, width, length and gross mass of the loaded rig."""
    body, trailer = case.body, case.trailer
    deck = trailer.deck.height_loaded_m or float(case.deck[:, 1].max())
    own = (
        body.height_tolerance_m
        if not math.isnan(body.height_tolerance_m)
        else case.scalar("ramp-crest.height_tolerance")
    )
    tolerance = own + case.scalar("ramp-crest.height_tolerance")
    base, radius = trailer.trailer.coupling_to_bogie_m, case.scalar("road-size.sag_radius")
    return Overall(
        height_m=float(loaded_height(deck, body.height_m, 0.0, 0.0, tolerance)),
        width_m=max(body.width_m, trailer.trailer.width_m or 0.0, trailer.deck.width_m),
        length_m=trailer.combination.length_m,
        gross_kg=(trailer.towing.mass_kg if trailer.towing else 0.0) + trailer.trailer.mass_kg + body.mass_kg,
        sag_loss_m=float(sag_curve_loss(base, radius)) if base else None,
        sag_radius_m=radius,
    )


def road_axles(case: RampCase, lacks: Lacks) -> tuple[RoadAxle, ...]:
    """Give the axles of the loaded rig front to rear; empty where something is missing, which is then named."""
    stand, trailer, body = placed_on_deck(case), case.trailer, case.trailer.trailer
    lacks.need("a place on the deck", stand.window)
    lacks.names += [name for name in stand.lacks if not name.endswith("rating_kg")]
    lacks.need("trailer.bogie_axles", body.bogie_axles)
    lacks.need("trailer.bogie_spacing_m", body.bogie_spacing_m if (body.bogie_axles or 2) > 1 else 0.0)
    if trailer.kind == "rigid" and body.front_axles > 1:
        lacks.need("trailer.front_spacing_m", body.front_spacing_m)
    if lacks.names or stand.bogie is None or stand.coupling is None or body.bogie_axles is None:
        return ()
    out = []
    if trailer.towing is not None and trailer.towing.coupling_x_m is not None:
        for axle, load in zip(trailer.towing.axles, stand.towing, strict=True):
            out.append(
                RoadAxle(name=axle.name, behind_m=-axle.x_m, load_kg=load or 0.0, driven=axle.driven, towed=False)
            )
        middle = -trailer.towing.coupling_x_m + (body.coupling_to_bogie_m or 0.0)
    else:
        out += [
            RoadAxle(
                name=f"front {number + 1}" if body.front_axles > 1 else "front",
                behind_m=(number - (body.front_axles - 1) / 2.0) * (body.front_spacing_m or 0.0),
                load_kg=stand.coupling / body.front_axles,
                driven=False,
                towed=False,
            )
            for number in range(body.front_axles)
        ]
        middle = body.coupling_to_bogie_m or 0.0
    spacing, count = body.bogie_spacing_m or 0.0, body.bogie_axles
    rigid = trailer.kind == "rigid"
    for number in range(count):
        at = middle + (number - (count - 1) / 2.0) * spacing
        out.append(
            RoadAxle(
                name=f"bogie {number + 1}", behind_m=at, load_kg=stand.bogie / count, driven=rigid, towed=not rigid
            )
        )
    return tuple(out)


@ramp_rule("axle-law")
def axle_law(facts: RampFacts) -> list[RampAnswer]:
    """Gross, each axle and each group by the jurisdiction's general limits."""
    case, lacks = facts.case, Lacks()
    lacks.need("jurisdiction", case.request.jurisdiction)
    axles = road_axles(case, lacks)
    if not axles:
        return [_over("axle-law", "axles", math.nan, Value(value=math.nan, row=None), lacks)]
    gross = sum(axle.load_kg for axle in axles)
    parts: list[tuple[str, float, Value]] = [("gross", gross, case.limit("axle-law.gross", axles=float(len(axles))))]
    for axle in axles:
        limit = case.limit("axle-law.driving_axle" if axle.driven else "axle-law.axle")
        parts.append((f"axle {axle.name}", axle.load_kg, limit))
    for group in groups(axles):
        if len(group) > 1:
            parts.append(_group(case, group))
    if case.request.jurisdiction == "us":
        parts += _bridges(case, axles)
    answers = [_over("axle-law", name, load, limit, Lacks(names=list(lacks.names))) for name, load, limit in parts]
    share = case.limit("axle-law.driving_share")
    driving = [_driving(axles, gross, share)] if not math.isnan(share.value) else []
    answers += driving
    known = [answer for answer in answers if not math.isnan(float(np.asarray(answer.outcome.capacity)))]
    if not known:
        lacks.need("general limits of this jurisdiction", None)
        return [_over("axle-law", "gross", gross, parts[0][2], lacks)]
    worst = sorted(known, key=_used, reverse=True)
    return worst[:3] + [answer for answer in driving if answer not in known]


def _driving(axles: tuple[RoadAxle, ...], gross: float, share: Value) -> RampAnswer:
    """The driving axles carry no less than their share of the gross; where none is named it is unknown."""
    lacks, driven = Lacks(), sum(axle.load_kg for axle in axles if axle.driven)
    lacks.need("which axles are driven", driven or None)
    enough = driven >= share.value * gross
    return RampAnswer(
        rule="axle-law",
        part="load on the driving axles, least wanted",
        outcome=Outcome(
            demand=share.value * gross,
            capacity=driven or math.nan,
            tolerance=0.0,
            caution=0.0,
            permitted=None if enough else np.array(True),
            controlled=not enough,
            control="" if enough else "road-permit",
            missing=lacks.table(),
            limit=column(share),
        ),
    )


def _used(answer: RampAnswer) -> float:
    return float(np.asarray(answer.outcome.demand)) / float(np.asarray(answer.outcome.capacity))


def groups(axles: tuple[RoadAxle, ...]) -> list[tuple[RoadAxle, ...]]:
    """Give axles that stand close together as one group."""
    out: list[list[RoadAxle]] = []
    for axle in axles:
        near = out and axle.behind_m - out[-1][-1].behind_m < GROUP_M and out[-1][-1].towed == axle.towed
        if near:
            out[-1].append(axle)
        else:
            out.append([axle])
    return [tuple(group) for group in out]


def _group(case: RampCase, group: tuple[RoadAxle, ...]) -> tuple[str, float, Value]:
    spacing = min(b.behind_m - a.behind_m for a, b in pairwise(group))
    kind = "tandem" if len(group) == 2 else "tridem" if len(group) == 3 else "group"
    where = "trailer" if group[0].towed else "motor"
    limit = case.limit(f"axle-law.{kind}", spacing_m=spacing, vehicle=where)
    return f"{kind} {group[0].name} to {group[-1].name}", sum(a.load_kg for a in group), limit


def _bridges(case: RampCase, axles: tuple[RoadAxle, ...]) -> list[tuple[str, float, Value]]:
    """Give every group of consecutive axles against the bridge formula, with tie rule and the exception for tandems."""
    ties, row = case.scalar("axle-law.ties_up"), case.limit("axle-law.gross", axles=float(len(axles))).row
    out = []
    for first in range(len(axles)):
        for last in range(first + 1, len(axles)):
            part = axles[first : last + 1]
            span = part[-1].behind_m - part[0].behind_m
            if span <= 96 * M_PER_IN:
                continue  # a tandem, held by its own cap
            allowed = float(bridge_formula_table(span, float(len(part)), ties))
            if tandem_pair(part, span):
                allowed = max(allowed, 2.0 * case.scalar("axle-law.tandem", spacing_m=1.2, vehicle="trailer"))
            out.append((f"axles {part[0].name} to {part[-1].name} (bridge formula)", sum(a.load_kg for a in part),
                        Value(value=allowed, row=row)))  # fmt: skip
    return out


def tandem_pair(part: tuple[RoadAxle, ...], span_m: float) -> bool:
    """Whether a group is two tandems one behind the other with outer axles 36 ft or more apart."""
    if len(part) != 4 or span_m < 36 * M_PER_FT - 1e-9:
        return False
    gaps = [b.behind_m - a.behind_m for a, b in pairwise(part)]
    close = [40 * M_PER_IN < gap <= 96 * M_PER_IN for gap in gaps]
    return close == [True, False, True]


def _over(rule: str, part: str, demand: float, limit: Value, lacks: Lacks) -> RampAnswer:
    """Over a general limit: passes only with the authority's permit or notice."""
    over = not math.isnan(limit.value) and demand > limit.value
    if math.isnan(limit.value) and not lacks.names:
        lacks.need(f"general limit of {part}", None)
    return RampAnswer(
        rule=rule,
        part=part,
        outcome=Outcome(
            demand=demand,
            capacity=limit.value,
            tolerance=0.0,
            caution=0.0,
            permitted=np.array(True) if over else None,
            controlled=over,
            control="road-permit" if over else "",
            missing=lacks.table(),
            limit=column(limit),
        ),
    )


@ramp_rule("road-size")
def road_size(facts: RampFacts) -> list[RampAnswer]:
    """Height, width and length of the loaded rig by the jurisdiction's general limits."""
    case = facts.case
    size, out = overall(case), []
    kind = (
        "road_train" if case.trailer.kind == "drawbar" else "rigid" if case.trailer.kind == "rigid" else "articulated"
    )
    for part, value in (("height", size.height_m), ("width", size.width_m), ("length", size.length_m)):
        lacks = Lacks()
        lacks.need("jurisdiction", case.request.jurisdiction)
        if part == "length":
            lacks.need("combination.length_m", value)
        limit = case.limit(f"road-size.{part}", combination=kind)
        if math.isnan(limit.value) and case.request.jurisdiction == "us" and part == "length":
            continue  # no length limit is kept for this jurisdiction: states set it
        out.append(_over("road-size", part, math.nan if value is None else value, limit, lacks))
    return out
