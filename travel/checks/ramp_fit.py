"""On the ramps: what each is rated for, and whether the tyres stand on them."""

from __future__ import annotations

import math

import numpy as np

from travel.checks.outcome import Outcome
from travel.checks.ramp_case import RampCase
from travel.checks.ramp_facts import Lacks, RampAnswer, RampFacts, column, ramp_rule
from travel.domain.ramp import SLOPES
from travel.mechanics.beside import keep_clear
from travel.units import n_to_kg


@ramp_rule("ramp-rating")
def ramp_rating(facts: RampFacts) -> list[RampAnswer]:
    """Each ramp's greatest load against what it is rated for."""
    case, out = facts.case, []
    band = case.body.mass_tolerance_kg / case.body.mass_kg
    for side, rating in ratings(case).items():
        load = facts.ramp_n[side]
        at, lacks = int(np.argmax(load)), Lacks()
        lacks.need("ramps.rating_kg", rating)
        lacks.need("machine.mass_tolerance_kg", band)
        lacks.need("machine.attitudes.cg_y_m", case.body.cg_m[1])
        lacks.stated(case, *SLOPES)
        demand = float(n_to_kg(load[at]))
        out.append(
            RampAnswer(
                rule="ramp-rating",
                part=f"{side} ramp",
                at_m=float(facts.position_m[at]),
                outcome=Outcome(
                    demand=demand,
                    capacity=math.nan if rating is None else rating,
                    tolerance=band * demand,
                    caution=case.scalar("ramp-rating.caution_share") * demand,
                    missing=lacks.table(),
                    limit_source="manual",
                ),
            )
        )
    return out


def ratings(case: RampCase) -> dict[str, float | None]:
    """Give each ramp's rating by side; a ramp named both stands for a pair alike."""
    out: dict[str, float | None] = {}
    for ramp in case.trailer.ramps:
        for side in ("left", "right") if ramp.side == "both" else (ramp.side,):
            out[side] = ramp.rating_kg
    return out


def fall_zone(case: RampCase) -> dict[str, float]:
    """Give how far nobody may be: beside the rig, should the machine come off; before the edge, where a ramp may drop
    and the machine runs in line before and after.
    """
    margin, ramp = case.scalar("people.margin"), max((ramp.length_m for ramp in case.trailer.ramps), default=0.0)
    run_off = case.body.length_m + case.scalar("unloading-place.run_off")
    high = case.body.height_m + float(case.deck[:, 1].max())
    return {
        "beside_m": float(keep_clear(high, case.scalar("people.height_ratio"), margin)),
        "before_edge_m": float(keep_clear(ramp, 1.0, max(margin, run_off))),
    }


def stated_gaps(case: RampCase) -> list[float]:
    """Give the clear width between the pair, as stated with either ramp [m]."""
    return [ramp.gap_m for ramp in case.trailer.ramps if ramp.gap_m is not None]


@ramp_rule("ramp-width")
def ramp_width(facts: RampFacts) -> list[RampAnswer]:
    """Outside of the tyres, with room to wander, within the outside of the ramps, and of the deck."""
    case, lacks = facts.case, Lacks()
    wander = case.limit("ramp-width.wander")
    out, over = [], case.body.over_tyres_m
    widths = [("deck", case.trailer.deck.width_m)]
    if case.trailer.ramps:
        gap = min(stated_gaps(case), default=None)
        lacks.need("ramps.gap_m", gap)
        total = (math.nan if gap is None else gap) + 2.0 * min(ramp.width_m for ramp in case.trailer.ramps)
        widths.append(("ramps", total))
    for part, width in widths:
        out.append(
            RampAnswer(
                rule="ramp-width",
                part=f"outside of the {part}",
                outcome=Outcome(
                    demand=round(over + (2.0 * wander.value if part == "ramps" else 0.0), 9),
                    capacity=round(width, 9),
                    tolerance=case.scalar("ramp-width.tolerance"),
                    caution=case.scalar("ramp-width.caution") if part == "ramps" else 0.0,
                    missing=lacks.table() if part == "ramps" else {},
                    limit=column(wander),
                    limit_source="manual",
                ),
            )
        )
    return out


@ramp_rule("ramp-gap")
def ramp_gap(facts: RampFacts) -> list[RampAnswer]:
    """Inside of the tyres, with room to wander, outside the gap between the ramps."""
    case, lacks = facts.case, Lacks()
    if not case.trailer.ramps:
        return []
    gap, wander = max(stated_gaps(case), default=None), case.limit("ramp-width.wander")
    lacks.need("ramps.gap_m", gap)
    # the sections of twins lie side by side, inside what is over the tyres
    within = [min(a.track_m - a.section_m, a.over_tyres_m - a.tyres * a.section_m) for a in case.machine.axles]
    inner = min(within)
    return [
        RampAnswer(
            rule="ramp-gap",
            part="inside of the tyres",
            outcome=Outcome(
                demand=round((math.nan if gap is None else gap) + 2.0 * wander.value, 9),
                capacity=inner,
                tolerance=case.scalar("ramp-width.tolerance"),
                caution=case.scalar("ramp-width.caution"),
                applies=gap is None or gap > 0.0,
                missing=lacks.table(),
                limit=column(wander),
                limit_source="manual",
            ),
        )
    ]
