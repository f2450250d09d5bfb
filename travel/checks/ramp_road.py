"""Size of the loaded rig on the road: height, width, lengths, what stands over. General information: the authority
decides. What is over a general limit needs its permit or notice, and is never clear.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from travel.checks.outcome import Outcome
from travel.checks.ramp_case import RampCase, Value
from travel.checks.ramp_deck import Standing, standing
from travel.checks.ramp_facts import Lacks, RampAnswer, RampFacts, column, ramp_rule
from travel.mechanics.axle_law import deemed_semitrailer_base
from travel.mechanics.headroom import loaded_height, sag_curve_loss
from travel.mechanics.signed_height import headroom_left, headroom_without_sign

WITH_KINGPIN = ("semitrailer", "detachable_neck")
ON_A_DRAWBAR = ("drawbar", "tilt_bed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Overall:
    """The loaded rig as a whole.

    ``unsigned_…``: headroom to be expected where no height is signed, and what of it is left. ``cab_notice_m``: height
    from which it is to be shown in the cab, where the rig is over it. Overhangs: of the machine over the vehicle.
    """

    height_m: float
    width_m: float
    length_m: float | None
    gross_kg: float
    sag_loss_m: float | None
    sag_radius_m: float
    rigid_length_m: float | None = None
    unsigned_headroom_m: float | None = None
    unsigned_left_m: float | None = None
    cab_notice_m: float | None = None
    overhang_m: float | None = None
    side_overhang_m: float | None = None


@lru_cache(maxsize=4)
def placed_on_deck(case: RampCase) -> Standing:
    """Give the standing of a case, once."""
    return standing(case)


def overall(case: RampCase) -> Overall:
    """Give height with its tolerance, width, lengths, overhangs and gross mass of the loaded rig."""
    body, trailer = case.body, case.trailer
    cab = (trailer.combination.height_m or 0.0) + case.scalar("ramp-crest.height_tolerance")
    height = max(machine_top_m(case), cab)
    base, radius = trailer.trailer.coupling_to_bogie_m, case.scalar("road-size.sag_radius")
    sag_loss = float(sag_curve_loss(base, radius)) if base else None
    vehicle = max(trailer.trailer.width_m or 0.0, trailer.deck.width_m)
    headroom, notice = unsigned_headroom(case), case.scalar("road-size.cab_notice")
    return Overall(
        height_m=height,
        width_m=max(body.width_m, vehicle),
        length_m=trailer.combination.length_m,
        gross_kg=(trailer.towing.mass_kg if trailer.towing else 0.0) + trailer.trailer.mass_kg + body.mass_kg,
        sag_loss_m=sag_loss,
        sag_radius_m=radius,
        rigid_length_m=rigid_length(case),
        unsigned_headroom_m=headroom,
        unsigned_left_m=float(headroom_left(headroom, height, sag_loss)) if headroom and sag_loss is not None else None,
        cab_notice_m=notice if height > notice else None,
        overhang_m=_overhang(case),
        side_overhang_m=max(body.width_m - vehicle, 0.0) / 2.0,
    )


def machine_top_m(case: RampCase) -> float:
    """Give the height of the machine on the deck, with its tolerance."""
    deck = case.trailer.deck.height_loaded_m or case.stands_at_m
    tolerance = case.height_band_m + case.scalar("ramp-crest.height_tolerance")
    return float(loaded_height(deck, case.body.height_m, 0.0, 0.0, tolerance))


def _unsure(case: RampCase) -> dict[str, str]:
    """Name, by part, what the sheet does not tell of the rig itself, so that the part may be more than its number."""
    trailer = case.trailer
    needed = {
        "height": ("combination.height_m", trailer.combination.height_m),
        "width": ("trailer.width_m", trailer.trailer.width_m),
    }
    return {part: name for part, (name, value) in needed.items() if value is None}


def unsigned_headroom(case: RampCase) -> float | None:
    """Give the headroom below which this jurisdiction asks for a sign; None where no rule is kept."""
    over, least = case.scalar("road-size.sign_over"), case.scalar("road-size.sign_least")
    if math.isnan(over) and math.isnan(least):
        return None
    legal = 0.0 if math.isnan(over) else case.scalar("road-size.height")
    return float(headroom_without_sign(legal, np.nan_to_num(over), np.nan_to_num(least)))


def kingpin_to_rear(case: RampCase) -> float | None:
    """Give the distance from coupling to the rig's end: deck's rear edge, last axle, or further by the lengths."""
    body, towing = case.trailer.trailer, case.trailer.towing
    if body.coupling_to_bogie_m is None or body.hinge_behind_bogie_m is None:
        return None
    axles = ((body.bogie_axles or 1) - 1) / 2.0 * (body.bogie_spacing_m or 0.0)
    sure = body.coupling_to_bogie_m + max(body.hinge_behind_bogie_m, axles)
    whole, front = case.trailer.combination.length_m, case.trailer.combination.front_overhang_m
    if whole is None or front is None or (towing is not None and towing.coupling_x_m is None):
        return sure
    return max(sure, whole - front + ((towing.coupling_x_m or 0.0) if towing is not None else 0.0))


def rigid_length(case: RampCase) -> float | None:
    """Give the length of the longest stiff part; where the sheet does not tell, the whole rig stands for it."""
    kind, whole, front = case.trailer.kind, case.trailer.combination.length_m, case.trailer.trailer.coupling_to_front_m
    rear = kingpin_to_rear(case)
    if kind in WITH_KINGPIN and front is not None and rear is not None:
        return front + rear
    if kind in ON_A_DRAWBAR and whole is not None and rear is not None:
        return max(rear, whole - rear)
    return whole


def _overhang(case: RampCase) -> float | None:
    """Give how far the machine stands out behind the rig's end, or ahead of the deck, at its best place."""
    best, body, rear = placed_on_deck(case).best, case.trailer.trailer, kingpin_to_rear(case)
    if best is None or rear is None or body.coupling_to_bogie_m is None or body.hinge_behind_bogie_m is None:
        return None
    behind = rear - body.coupling_to_bogie_m - body.hinge_behind_bogie_m
    nose_in = ((case.request.move == "load") == (case.request.first == "nose")) != case.front_entry
    ends = [best + (1.0 if nose_in else -1.0) * end for end in (case.body.front_x_m, case.body.rear_x_m)]
    return max(-min(ends) - behind, max(ends) - case.deck_end, 0.0)


def over_frame(case: RampCase) -> float | None:
    """Give how high above the ground the machine's underside is where it reaches behind the bed [m].

    None where it stays on the bed, has no place on it, or no axle of the bogie stands behind the bed's rear edge.
    """
    best, under = placed_on_deck(case).best, case.body.under_xz_m
    if best is None or not case.frame_behind:
        return None
    nose_in = ((case.request.move == "load") == (case.request.first == "nose")) != case.front_entry
    x, z = best + (1.0 if nose_in else -1.0) * under[:, 0], under[:, 1]
    order = np.argsort(x, kind="stable")
    x, z = x[order], z[order]
    if x[0] >= 0.0:
        return None
    lowest = min(float(z[x < 0.0].min()), float(np.interp(0.0, x, z)))
    deck = case.trailer.deck.height_loaded_m or case.stands_at_m
    return deck + lowest


def law_keeps(case: RampCase, limit_id: str) -> bool:
    """Whether the rulebook keeps rows of a limit for this jurisdiction."""
    here = case.request.jurisdiction
    return any(row.id == limit_id and row.when.get("jurisdiction", here) == here for row in case.rulebook.limits)


def over_limit(rule: str, part: str, demand: float, limit: Value, lacks: Lacks, tolerance: float = 0.0) -> RampAnswer:
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
            tolerance=tolerance,
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
    """Height, width and lengths of the loaded rig, and what stands over, by the jurisdiction's general limits."""
    case = facts.case
    size, out = overall(case), []
    kind = (
        "road_train"
        if case.trailer.kind in ON_A_DRAWBAR
        else "rigid"
        if case.trailer.kind == "rigid"
        else "articulated"
    )
    for part, value in (("height", size.height_m), ("width", size.width_m), ("length", size.length_m)):
        limit = case.limit(f"road-size.{part}", combination=kind)
        if math.isnan(limit.value) and case.request.jurisdiction == "us" and part == "length":
            continue  # no length limit is kept for this jurisdiction: states set it
        sure = value is not None and value > limit.value  # over it already, whatever is not on the sheet
        needed = _unsure(case).get(part) if not sure else None
        out.append(_size(case, part, value, limit, "combination.length_m", *((needed,) if needed else ())))
    standing_over = (
        ("rigid_length", "longest stiff part", size.rigid_length_m, "combination.length_m"),
        ("overhang", "machine over the vehicle's end", size.overhang_m, "a place on the deck"),
        ("side_overhang", "machine over the vehicle's side", size.side_overhang_m, "width"),
    )
    for limit_id, part, value, name in standing_over:
        if law_keeps(case, f"road-size.{limit_id}"):
            out.append(_size(case, part, value, case.limit(f"road-size.{limit_id}"), name))
    return out + (_kingpin(case) if case.trailer.kind in WITH_KINGPIN else [])


def _size(case: RampCase, part: str, value: float | None, limit: Value, name: str, *unsure: str) -> RampAnswer:
    lacks = Lacks(names=list(unsure))
    lacks.need("jurisdiction", case.request.jurisdiction)
    lacks.need(name, value)
    return over_limit("road-size", part, math.nan if value is None else value, limit, lacks)


def _kingpin(case: RampCase) -> list[RampAnswer]:
    """Distances of a semitrailer from its kingpin: to its rear, its front, and to the bogie, where a law keeps them."""
    if not law_keeps(case, "road-size.kingpin_to_rear"):
        return []
    body = case.trailer.trailer
    front, outer, inner = (case.limit(f"road-size.{name}") for name in ("kingpin_to_front", "ring_outer", "ring_inner"))
    width = max(body.width_m or 0.0, case.trailer.deck.width_m)
    base = float(deemed_semitrailer_base(width, outer.value, inner.value, front.value))
    rear, bogie = kingpin_to_rear(case), "kingpin to the bogie (deemed to turn in the ring of the Directive)"
    return [
        _size(
            case, "kingpin to the rear", rear, case.limit("road-size.kingpin_to_rear"), "trailer.coupling_to_bogie_m"
        ),
        _size(case, "kingpin to the front", body.coupling_to_front_m, front, "trailer.coupling_to_front_m"),
        _size(case, bogie, body.coupling_to_bogie_m, Value(value=base, row=outer.row), "trailer.coupling_to_bogie_m"),
    ]
