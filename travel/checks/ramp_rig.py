"""What holds the rig: the load left on the coupling, the braked wheels at every position, sliding on the deck."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.checks.outcome import Outcome
from travel.checks.ramp_case import RampCase
from travel.checks.ramp_facts import Lacks, RampAnswer, RampFacts, column, ramp_rule
from travel.checks.ramp_loads import tare_loads
from travel.domain.ramp import SLOPES
from travel.mechanics.grip import slide_demand, usable_pull
from travel.mechanics.ramp_statics import rig_hold_needed
from travel.units import kg_to_n, n_to_kg

Floats = NDArray[np.float64]


@ramp_rule("nose-lift")
def nose_lift(facts: RampFacts) -> list[RampAnswer]:
    """Least load on the coupling (of a rigid vehicle: on its front axle) while the machine goes on or off."""
    case, lacks = facts.case, Lacks()
    if case.front_entry:
        return []
    coupling = facts.rig.coupling
    lacks.names += facts.rig.lacks
    lacks.stated(case, "ground_slope_pct")
    at = int(np.argmin(np.nan_to_num(coupling, nan=np.inf)))
    legs = case.trailer.trailer.rear_legs == "down"
    least = case.limit("nose-lift.least_share")
    tare = abs(case.trailer.trailer.coupling_kg)
    demand = least.value * tare
    return [
        RampAnswer(
            rule="nose-lift",
            part="front axle" if case.trailer.kind == "rigid" else "coupling",
            at_m=float(facts.position_m[at]),
            outcome=Outcome(
                demand=demand,
                capacity=float(n_to_kg(coupling[at])),
                tolerance=_band_kg(case),
                caution=case.scalar("nose-lift.caution_share") * tare,
                missing=lacks.table(),
                permitted=np.array(True) if legs else None,
                controlled=legs,
                control="ramp-rear-legs" if legs else "",
                limit=column(least),
                limit_source="computed",
            ),
        )
    ]


def _band_kg(case: RampCase) -> float:
    """Give how much less the coupling may carry: a heavier machine at the hinge, its centre of gravity further back."""
    body = case.trailer.trailer
    if body.coupling_to_bogie_m is None or body.hinge_behind_bogie_m is None:
        return 0.0
    heavier = case.mass_band_kg * abs(body.hinge_behind_bogie_m)
    return (heavier + case.body.mass_kg * case.cg_band_m) / body.coupling_to_bogie_m


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Held:
    """Force needed and there at every position [N], what is not known, and whether chocks are counted."""

    needed: Floats
    there: Floats
    lacks: tuple[str, ...]
    braked: Floats


def held(facts: RampFacts) -> Held:
    """Give what holds the rig against rolling, position by position."""
    case, rig, body = facts.case, facts.rig, facts.case.trailer.trailer
    lacks = Lacks()
    lacks.names += rig.lacks
    what = "surface" if case.request.surface is None else "state (dry, damp, wet, …)"
    lacks.need(f"{what} of the ground under the rig", case.ground_grip.value)
    lacks.stated(case, "ground_slope_pct")
    tare_coupling, tare_bogie = tare_loads(case, case.slope)
    legs = body.rear_legs == "down"
    coupling = np.maximum(rig.coupling, tare_coupling) if legs else rig.coupling
    bogie = np.full(rig.on_rig.shape, tare_bogie) if legs or case.front_entry else rig.bogie
    if body.rear_legs is None:  # where nobody says whether legs are down, they may take what the bogie would carry
        bogie = np.minimum(bogie, tare_bogie)
    braked = _towing(case, coupling, lacks)
    if body.bogie_parking_braked is None and not body.chocked:
        lacks.need("trailer.bogie_parking_braked", None)
    if body.bogie_parking_braked or body.chocked:
        braked = braked + np.maximum(bogie, 0.0)
    weight = float(kg_to_n(case.towing_kg + body.mass_kg)) + rig.leans
    shove = case.scalar("rig-hold.shove")
    needed = rig_hold_needed(weight, case.slope, float(kg_to_n(case.body.mass_kg)), shove)
    there = usable_pull(case.ground_grip.value, braked)
    return Held(needed=np.asarray(needed), there=np.asarray(there), lacks=tuple(lacks.names), braked=braked)


def _towing(case: RampCase, coupling: Floats, lacks: Lacks) -> Floats:
    """Give the load on the towing vehicle's (or a rigid vehicle's front) wheels that are braked standing."""
    body, towing = case.trailer.trailer, case.trailer.towing
    if case.trailer.kind == "rigid":
        lacks.need("trailer.front_parking_braked", body.front_parking_braked)
        return np.maximum(coupling, 0.0) if body.front_parking_braked else np.zeros(coupling.shape)
    total = np.zeros(coupling.shape)
    if towing is None:
        if not case.front_entry:
            lacks.need("towing", None)
        return total
    if case.front_entry:
        return total
    if all(axle.parking_braked is False for axle in towing.axles):
        # every towing vehicle has a parking brake: a sheet that gives it none tells it wrong
        lacks.need("towing.axles.parking_braked (no axle is)", None)
    for axle, share in zip(towing.axles, coupling_parts(case), strict=True):
        lacks.need(f"towing.axles.{axle.name}.parking_braked", axle.parking_braked)
        if axle.parking_braked:
            # where the coupling stands is not known: what it adds is not counted, what it takes off all is
            part = np.minimum(coupling, 0.0) if math.isnan(share) else share * coupling
            total = total + np.maximum(kg_to_n(axle.load_kg) + part, 0.0)
    return total


def coupling_parts(case: RampCase) -> tuple[float, ...]:
    """Give the share of the coupling's load on each towing axle, the rear ones as one group; NaN = not known."""
    towing = case.trailer.towing
    if towing is None:
        return ()
    if towing.coupling_x_m is None:
        return (math.nan,) * len(towing.axles)
    rear = [axle.x_m for axle in towing.axles[1:]]
    share = (towing.coupling_x_m - towing.axles[0].x_m) / (sum(rear) / len(rear) - towing.axles[0].x_m)
    return (1.0 - share, *(share / len(rear) for _ in rear))


@ramp_rule("rig-hold")
def rig_hold(facts: RampFacts) -> list[RampAnswer]:
    """Weight down the slope and the machine's shove against grip of the wheels braked, at every position."""
    case, answer = facts.case, held(facts)
    margin = answer.there - answer.needed
    at = int(np.argmin(np.nan_to_num(margin, nan=np.inf)))
    chocked = case.trailer.trailer.chocked and not case.trailer.trailer.bogie_parking_braked
    weight = float(kg_to_n(case.towing_kg + case.trailer.trailer.mass_kg) + facts.rig.leans[at])
    return [
        RampAnswer(
            rule="rig-hold",
            part="wheels braked" + (" and chocked" if chocked else ""),
            at_m=float(facts.position_m[at]),
            outcome=Outcome(
                demand=float(answer.needed[at]),
                capacity=float(answer.there[at]),
                tolerance=case.scalar("rig-hold.tolerance_share") * float(answer.needed[at]),
                caution=case.scalar("rig-hold.caution_share") * float(answer.needed[at]),
                missing={name: np.array(True) for name in answer.lacks},
                controlled=chocked,
                control="ramp-chocks" if chocked else "",
                terms={
                    "weight_n": weight,
                    "slope_ratio": case.slope,
                    "machine_n": float(kg_to_n(case.body.mass_kg)),
                    "shove_mps2": case.scalar("rig-hold.shove"),
                },
                capacity_terms={"grip_ratio": case.ground_grip.value, "driven_load_n": float(answer.braked[at])},
                limit=column(case.ground_grip),
                limit_source="computed",
            ),
        )
    ]


@ramp_rule("deck-slide")
def deck_slide(facts: RampFacts) -> list[RampAnswer]:
    """Along and across on the deck until it is tied: its slope, the ground's, and the road's cross fall."""
    case, lacks = facts.case, Lacks()
    grade = math.tan(math.atan(case.level_part[2]) + math.atan(abs(case.slope)))
    grip = case.grip(case.trailer.deck.surface)
    lacks.need("grip of the deck", grip.value)
    lacks.stated(case, *SLOPES)
    road = case.scalar("deck-slide.road_cross_fall")
    across, band = max(abs(case.cross), road), case.scalar("ramp-angle.slope_tolerance")
    demand, worst = (float(slide_demand(grade + more, across + more, 0.0, 0.0)) for more in (0.0, band))
    return [
        RampAnswer(
            rule="deck-slide",
            part="standing on the deck",
            outcome=Outcome(
                demand=demand,
                capacity=grip.value,
                tolerance=worst - demand,
                caution=case.scalar("deck-slide.caution"),
                missing=lacks.table(),
                terms={"grade_ratio": grade, "cross_slope_ratio": across, "along_mps2": 0.0, "across_mps2": 0.0},
                limit=column(grip),
                limit_source="computed",
            ),
        )
    ]
