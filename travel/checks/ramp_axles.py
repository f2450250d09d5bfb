"""Axles of the loaded rig against the law, one by one, in groups and together. General information: the authority
decides. What no general limit is kept for is unknown, never passed over.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from travel.checks.outcome import Outcome
from travel.checks.ramp_case import RampCase, Value
from travel.checks.ramp_deck import Standing, standing_otherwise
from travel.checks.ramp_facts import Lacks, RampAnswer, RampFacts, column, ramp_rule
from travel.checks.ramp_road import ON_A_DRAWBAR, law_keeps, over_limit, placed_on_deck
from travel.domain.verdict import Verdict
from travel.mechanics.axle_law import axle_group_weight_us
from travel.units import M_PER_FT, M_PER_IN

GROUP_M = 1.8
"""Axles nearer than this are one group (Directive 96/53/EC, Annex I, 3.2 to 3.4: less than 1.8 m)."""
SINGLE_IN, TANDEM_IN = 40.0, 96.0
"""Axles within the first are one single axle, within the second a tandem (23 CFR 658.5, from memory)."""
SHOWN = 3
"""So many are told at least: the most used. All that is unknown or over a limit is; of runs of axles the worst."""
Part = tuple[str, float, Value]


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadAxle:
    """One axle of the loaded rig: place behind the first axle, load, whether it is driven, whether it is towed."""

    name: str
    behind_m: float
    load_kg: float
    driven: bool
    towed: bool


def road_axles(case: RampCase, lacks: Lacks, stood: Standing | None = None) -> tuple[RoadAxle, ...]:
    """Give the axles of the loaded rig front to rear; empty where something is missing, which is then named.

    ``stood``: with these loads instead of those at the best place.
    """
    stand, trailer, body = stood or placed_on_deck(case), case.trailer, case.trailer.trailer
    lacks.need("a place on the deck", stand.window)
    lacks.names += [name for name in stand.lacks if not name.endswith("rating_kg")]
    lacks.need("trailer.bogie_axles", body.bogie_axles)
    lacks.need("trailer.bogie_spacing_m", body.bogie_spacing_m if (body.bogie_axles or 2) > 1 else 0.0)
    if trailer.kind == "rigid" and body.front_axles > 1:
        lacks.need("trailer.front_spacing_m", body.front_spacing_m)
    if lacks.names or stand.bogie is None or stand.coupling is None or body.bogie_axles is None:
        return ()
    out = _pulling(case, stand.towing, stand.coupling)
    towing, rigid = trailer.towing, trailer.kind == "rigid"
    hitch = -towing.coupling_x_m if towing is not None and towing.coupling_x_m is not None else 0.0
    middle = hitch + (body.coupling_to_bogie_m or 0.0)
    spacing, count = body.bogie_spacing_m or 0.0, body.bogie_axles
    for number in range(count):
        at = middle + (number - (count - 1) / 2.0) * spacing
        out.append(
            RoadAxle(
                name=f"bogie {number + 1}", behind_m=at, load_kg=stand.bogie / count, driven=rigid, towed=not rigid
            )
        )
    return tuple(out)


def _pulling(case: RampCase, towing_kg: tuple[float | None, ...], coupling_kg: float) -> list[RoadAxle]:
    """Axles of the towing vehicle, or the front axles of a rigid one."""
    trailer, body = case.trailer, case.trailer.trailer
    if trailer.towing is not None and trailer.towing.coupling_x_m is not None:
        return [
            RoadAxle(name=axle.name, behind_m=-axle.x_m, load_kg=load or 0.0, driven=axle.driven, towed=False)
            for axle, load in zip(trailer.towing.axles, towing_kg, strict=True)
        ]
    return [
        RoadAxle(
            name=f"front {number + 1}" if body.front_axles > 1 else "front",
            behind_m=(number - (body.front_axles - 1) / 2.0) * (body.front_spacing_m or 0.0),
            load_kg=coupling_kg / body.front_axles,
            driven=False,
            towed=False,
        )
        for number in range(body.front_axles)
    ]


@ramp_rule("axle-law")
def axle_law(facts: RampFacts) -> list[RampAnswer]:
    """Gross, each vehicle, each axle and each group by the jurisdiction's general limits."""
    case, lacks = facts.case, Lacks()
    lacks.need("jurisdiction", case.request.jurisdiction)
    axles = road_axles(case, lacks)
    if not axles:
        return [over_limit("axle-law", "axles", math.nan, Value(value=math.nan, row=None), lacks)]
    gross, parts = sum(axle.load_kg for axle in axles), _parts(case, axles)
    if all(math.isnan(limit.value) for _, _, limit in parts):
        lacks.need("general limits of this jurisdiction", None)
        return [over_limit("axle-law", "gross", gross, parts[0][2], lacks)]
    bands = _bands(case, parts)
    if case.request.jurisdiction == "us":
        kept, runs = parts[: -_runs(len(axles))], parts[-_runs(len(axles)) :]
        worst = sorted(runs, key=lambda part: (part[1] + bands[part[0]]) / part[2].value, reverse=True)
        parts = kept + worst[:SHOWN]
    answers = [
        over_limit("axle-law", name, load, limit, Lacks(names=list(lacks.names)), bands[name])
        for name, load, limit in parts
    ]
    share = case.limit("axle-law.driving_share")
    if not math.isnan(share.value):
        answers.append(_driving(case, axles, share))
    unknown = [answer for answer in answers if answer.verdict == Verdict.UNKNOWN]
    known = sorted((answer for answer in answers if answer.verdict != Verdict.UNKNOWN), key=_used, reverse=True)
    return [*known[:SHOWN], *(answer for answer in known[SHOWN:] if answer.verdict > Verdict.CLEAR), *unknown]


def _runs(count: int) -> int:
    """Give the number of runs of two axles or more."""
    return count * (count - 1) // 2


def _parts(case: RampCase, axles: tuple[RoadAxle, ...]) -> list[Part]:
    """Gross, each vehicle, each axle, each group (US: each run)."""
    gross = sum(axle.load_kg for axle in axles)
    parts: list[Part] = [("gross", gross, case.limit("axle-law.gross", axles=float(len(axles))))]
    parts += _vehicles(case, axles)
    parts += [(f"axle {axle.name}", axle.load_kg, axle_limit(case, axle)) for axle in axles]
    return parts + (_groups_us(case, axles) if case.request.jurisdiction == "us" else _groups(case, axles))


def _bands(case: RampCase, parts: list[Part]) -> dict[str, float]:
    """Give how much more each part may be by the machine's mass and centre of gravity, at the place it stands [kg]."""
    out = dict.fromkeys((name for name, _, _ in parts), 0.0)
    for other in _otherwise(case):
        for (name, load, _), (_, more, _) in zip(parts, _parts(other[0], road_axles(*other)), strict=True):
            out[name] = max(out[name], more - load)
    return out


def _otherwise(case: RampCase) -> list[tuple[RampCase, Lacks, Standing]]:
    return [(other, Lacks(), stood) for other, stood in standing_otherwise(case, placed_on_deck(case))]


def _driven(axles: tuple[RoadAxle, ...]) -> tuple[float, float]:
    """Give the load on the driving axles, and on all."""
    return sum(axle.load_kg for axle in axles if axle.driven), sum(axle.load_kg for axle in axles)


def axle_limit(case: RampCase, axle: RoadAxle) -> Value:
    """Give the general limit of one axle."""
    return case.limit("axle-law.driving_axle" if axle.driven else "axle-law.axle")


def _vehicles(case: RampCase, axles: tuple[RoadAxle, ...]) -> list[Part]:
    """Towing or rigid vehicle by itself, and a trailer on a drawbar with all that rests on its coupling."""
    out: list[Part] = []
    own = [axle for axle in axles if not axle.towed]
    if law_keeps(case, "axle-law.motor_gross"):
        name = "rigid vehicle" if case.trailer.kind == "rigid" else "towing vehicle"
        limit = case.limit("axle-law.motor_gross", axles=float(len(own)))
        out.append((name, sum(axle.load_kg for axle in own), limit))
    if law_keeps(case, "axle-law.trailer_gross") and case.trailer.kind in ON_A_DRAWBAR:
        limit = case.limit("axle-law.trailer_gross", axles=float(len(axles) - len(own)))
        out.append(("trailer", case.trailer.trailer.mass_kg + case.body.mass_kg, limit))
    return out


def _driving(case: RampCase, axles: tuple[RoadAxle, ...], share: Value) -> RampAnswer:
    """The driving axles carry no less than their share of the gross; where none is named it is unknown."""
    lacks, (driven, gross) = Lacks(), _driven(axles)
    lacks.need("which axles are driven", driven or None)
    enough = driven >= share.value * gross
    others = [_driven(road_axles(*other)) for other in _otherwise(case)]
    less = max(driven - share.value * gross - (there - share.value * whole) for there, whole in others)
    return RampAnswer(
        rule="axle-law",
        part="load on the driving axles, least wanted",
        outcome=Outcome(
            demand=share.value * gross,
            capacity=driven or math.nan,
            tolerance=max(less, 0.0),
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


def _groups(case: RampCase, axles: tuple[RoadAxle, ...]) -> list[Part]:
    """Tandems, tridems and longer groups of motor vehicle and trailer, by their least spacing."""
    out: list[Part] = []
    for group in groups(axles):
        if len(group) < 2:
            continue
        spacing = min(b.behind_m - a.behind_m for a, b in pairwise(group))
        kind = "tandem" if len(group) == 2 else "tridem" if len(group) == 3 else "group"
        where = "trailer" if group[0].towed else "motor"
        limit = case.limit(f"axle-law.{kind}", spacing_m=spacing, vehicle=where)
        out.append((f"{kind} {group[0].name} to {group[-1].name}", sum(a.load_kg for a in group), limit))
    return out


def _groups_us(case: RampCase, axles: tuple[RoadAxle, ...]) -> list[Part]:
    """Every run of axles: close ones as single or tandem, others by the bridge formula with its exception."""
    ties, single = case.scalar("axle-law.ties_up"), case.limit("axle-law.axle")
    tandem, gross = case.limit("axle-law.tandem"), case.limit("axle-law.gross")
    out: list[Part] = []
    for first in range(len(axles)):
        for last in range(first + 1, len(axles)):
            part = axles[first : last + 1]
            span = part[-1].behind_m - part[0].behind_m
            allowed = float(axle_group_weight_us(span, float(len(part)), ties, single.value, tandem.value))
            how, row = "bridge formula", gross.row
            if round(span / M_PER_IN, 6) <= TANDEM_IN:
                within = round(span / M_PER_IN, 6) <= SINGLE_IN
                how, row = ("as one axle", single.row) if within else ("as a tandem", tandem.row)
            elif tandem_pair(part, span):
                how, allowed = "two tandems", max(allowed, 2.0 * tandem.value)
            name = f"axles {part[0].name} to {part[-1].name} ({how})"
            out.append((name, sum(a.load_kg for a in part), Value(value=allowed, row=row)))
    return out


def tandem_pair(part: tuple[RoadAxle, ...], span_m: float) -> bool:
    """Whether a group is two tandems one behind the other with outer axles 36 ft or more apart."""
    if len(part) != 4 or span_m < 36 * M_PER_FT - 1e-9:
        return False
    gaps = [b.behind_m - a.behind_m for a, b in pairwise(part)]
    close = [SINGLE_IN * M_PER_IN < gap <= TANDEM_IN * M_PER_IN for gap in gaps]
    return close == [True, False, True]
