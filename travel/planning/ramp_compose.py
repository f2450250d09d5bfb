"""Everything asked about one machine and one trailer, put together as it is written."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.ramp import RampCase, RampFacts
from travel.checks.ramp_fit import fall_zone, ratings
from travel.checks.ramp_rig import held
from travel.checks.ramp_road import overall, placed_on_deck
from travel.checks.ramp_roll import Tight, angles_deg, stood_on
from travel.checks.ramp_ties import restrained, ties
from travel.domain.plan import Finding
from travel.domain.ramp import (
    RAMP_SCHEMA,
    CloseUp,
    Pose,
    RampLoad,
    RampRemedy,
    RampResult,
    SideView,
    SmallestClearance,
    TieDown,
)
from travel.domain.rules import Rulebook
from travel.domain.site import Doubt, InputFile
from travel.mechanics.roll_engine import placed
from travel.planning.ramp import RampAsked, checked_ramp, conditions_ramp, earliest_move, thinned
from travel.planning.ramp_positions import axle_loads_kg, clearance, coupling, grip
from travel.units import n_to_kg

SHOWN_M = 0.05
"""Spacing of the positions that are written; the tightest is always among them."""
GHOSTS = 4
Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class RampContext:
    """What the answer was made from."""

    inputs: tuple[InputFile, ...]
    doubts: tuple[Doubt, ...]
    created_at: dt.datetime
    program: Mapping[str, str]


def compose_ramp(asked: RampAsked, context: RampContext, remedies: tuple[RampRemedy, ...]) -> RampResult:
    """Give the result."""
    facts, case = asked.facts, asked.facts.case
    shown = facts.tightest
    tight = shown.rolling.tightest()
    return RampResult(
        schema=RAMP_SCHEMA,
        created_at=context.created_at.isoformat().replace("+00:00", "Z"),
        program=context.program,
        rulebooks=tuple(asdict(book) for book in case.rulebook.books),
        inputs=tuple({"role": i.role, "name": i.name, "sha256": i.sha256} for i in context.inputs),
        verdict=asked.verdict.word,  # type: ignore[arg-type]
        smallest_clearance=_smallest(facts, shown, tight),
        findings=asked.findings,
        checked=checked_ramp(asked),
        conditions=conditions_ramp(asked),
        remedies=remedies,
        cautions=_cautions(case),
        doubts=tuple(f"{d.file} {d.feature} {d.field}: {d.message}".replace("  ", " ") for d in context.doubts),
        sources=_sources(asked.findings, case.rulebook),
        rules={f.rule: {"title": case.rulebook.rules[f.rule].title, "unit": f.unit} for f in asked.findings},
        side_view=_side_view(facts, shown, tight),
        **_asked_about(case),
        **_by_position(facts),
        **_on_the_road(case, context.created_at.date()),
    )


def _asked_about(case: RampCase) -> dict[str, Any]:
    """Give question, machine and trailer as they were taken."""
    trailer = case.trailer
    names = {"ground_taken": case.state, "trailer": trailer.name, "machine": case.machine.name}
    return {
        "request": {**asdict(case.request), **names},
        "machine": {
            "name": case.machine.name,
            "mass_kg": case.body.mass_kg,
            "attitude": case.body.attitude,
            "plan": _plan(case),
        },
        "trailer": {
            "name": trailer.name,
            "kind": trailer.kind,
            "deck_width_m": trailer.deck.width_m,
            "deck_length_m": case.deck_end,
            "ramp_length_m": [ramp.length_m for ramp in trailer.ramps],
        },
    }


def _by_position(facts: RampFacts) -> dict[str, Any]:
    """Give what changes along the way, at the positions that are written, and its extremes."""
    case, clear = facts.case, clearance(facts)
    keep = _shown(facts, clear)
    approach, departure, breakover = angles_deg(case)
    needed, there = grip(facts)
    return {
        "positions_m": tuple(float(x) for x in facts.position_m[keep]),
        "clearance_m": thinned(clear, keep),
        "approach_deg": _known(approach),
        "departure_deg": _known(departure),
        "breakover_deg": _known(breakover),
        "axle_loads_kg": tuple(thinned(row, keep) for row in axle_loads_kg(facts)),
        "coupling_by_position_kg": thinned(n_to_kg(coupling(facts)), keep),
        "ramps": _ramp_rows(facts),
        "grip_needed_ratio": thinned(needed, keep),
        "grip_available_ratio": thinned(there, keep),
        "tip_back_ratio_min": _known(min(float(np.nanmin(pair.loads.tip_ratio)) for pair in facts.carried)),
        "nose_lift": _nose(facts),
        "rig_hold": _rig(facts),
    }


def _on_the_road(case: RampCase, today: dt.date) -> dict[str, Any]:
    """Give where the machine stands best, the loads then, the rig as a whole, notice, tie-downs."""
    standing, size = placed_on_deck(case), overall(case)
    count = case.trailer.trailer.bogie_axles or 1
    return {
        "deck_window_m": standing.window,
        "best_position_m": standing.best,
        "coupling_kg": standing.coupling,
        "trailer_axles_kg": (None if standing.bogie is None else standing.bogie / count,) * count,
        "towing_axles_kg": standing.towing,
        "overall": asdict(size),
        "fall_zone": fall_zone(case),
        "restrained": restrained(case.machine),
        "earliest": earliest_move(case, today, size),
        "tie_downs": tuple(
            TieDown(
                name=tied.name,
                x_m=tied.point.x_m,
                y_m=tied.point.y_m,
                limit_kg=_known(tied.limit_kg),
                counts_kg=_known(tied.counts_kg),
                holds_kg={name: _known(value) for name, value in tied.holds_kg.items()},
                missing=tied.lacks,
            )
            for tied in ties(case)
        ),
    }


def _plan(case: RampCase) -> dict[str, Any]:
    """Give the machine from above, for the plan of the deck."""
    return {
        "faces_nose": case.nose_leads != case.front_entry,
        "front_x_m": case.body.front_x_m,
        "rear_x_m": case.body.rear_x_m,
        "width_m": case.body.width_m,
        "wheelbase_m": case.body.wheelbase_m,
    }


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _shown(facts: RampFacts, clear: Floats) -> NDArray[np.int64]:
    """Give the positions that are written: evenly spaced, the tightest on the grid among them."""
    at = facts.position_m
    every = max(round(SHOWN_M / (at[1] - at[0])), 1)
    tight = int(np.nanargmin(clear))
    return np.unique(np.append(np.arange(0, len(at), every), tight))


def _smallest(facts: RampFacts, shown: RampFacts, tight: Tight) -> SmallestClearance:
    case = facts.case
    known = math.isfinite(tight.value)
    x, z = tight.body_xz
    lead = float(case.body.axle_x_m[case.outline.lead])
    own = (lead + x - shown.ahead_m, z) if case.nose_leads else (lead - x + shown.ahead_m, z)
    return SmallestClearance(
        value_m=_known(tight.value),
        at_m=_known(tight.lead_x - case.foot + shown.ahead_m),
        machine_point=own if known else None,
        profile_point=(tight.profile_xz[0] - case.foot, tight.profile_xz[1]) if known else None,
        end=case.end_of(tight.part),
    )


def _ramp_rows(facts: RampFacts) -> tuple[RampLoad, ...]:
    out = []
    for side, rating in ratings(facts.case).items():
        pair = max(facts.carried, key=lambda stood: float(stood.ramp_n[side].max()))
        load = pair.ramp_n[side]
        at = int(np.argmax(load))
        out.append(
            RampLoad(side=side, load_kg=float(n_to_kg(load[at])), rating_kg=rating, at_m=float(pair.position_m[at]))
        )
    return tuple(out)


def _nose(facts: RampFacts) -> dict[str, float | None]:
    least = coupling(facts)
    if np.isnan(least).all() or facts.case.front_entry:
        return {"coupling_kg_min": None, "at_m": None}
    at = int(np.nanargmin(least))
    return {"coupling_kg_min": float(n_to_kg(least[at])), "at_m": float(facts.position_m[at])}


def _rig(facts: RampFacts) -> dict[str, float | None]:
    facts = min(facts.carried, key=_spare)
    answer = held(facts)
    margin = answer.there - answer.needed
    at = 0 if np.isnan(margin).all() else int(np.nanargmin(margin))
    return {
        "needed_kn": _known(float(answer.needed[at]) / 1000.0),
        "available_kn": _known(float(answer.there[at]) / 1000.0),
        "braked_kg": _known(float(n_to_kg(answer.braked[at]))),
        "grip_ratio": _known(facts.case.ground_grip.value),
        "slope_pct": facts.case.slope * 100.0,
        "at_m": float(facts.position_m[at]),
    }


def _spare(facts: RampFacts) -> float:
    """Give the least force to spare at any position; what is not known comes last."""
    answer = held(facts)
    return float(np.nan_to_num(answer.there - answer.needed, nan=np.inf).min())


def _cautions(case: RampCase) -> tuple[str, ...]:
    out = [*case.rulebook.cautions[:2]]
    out.append("Numbers of law and size on the road are general information: the authority decides.")
    if case.request.ground is None:
        out.append("The weather was not stated: ramps and deck are taken wet and dirty.")
    if case.state == "mud" and case.request.ground != "mud":
        out.append("The ground there gives mud: what tyres carry onto ramps and deck is counted, cleaned or not.")
    if case.trailer.kind == "tilt_bed":
        out.append(
            "The bed comes down as the weight passes its hinge: stop short of it, let it down slowly, then go on."
        )
    if len(case.body.axle_x_m) > 2:
        out.append(
            "How the machine's axles share its weight is not on its sheet: loads are the most of any two axles that can"
            " carry it, clearances the least of any way it can stand, with like springs. Over the crest it may nod."
        )
    if case.sinking == 0.0:
        out.append("Only one height of the deck is stated: its sinking under the machine is not counted.")
    return tuple(out)


def _sources(findings: tuple[Finding, ...], rulebook: Rulebook) -> dict[str, str]:
    keys = {finding.source.split(" ")[0] for finding in findings if finding.source}
    return {key: rulebook.sources[key].title for key in sorted(keys) if key in rulebook.sources}


def _side_view(whole: RampFacts, facts: RampFacts, tight: Tight) -> SideView:
    case = facts.case
    axles = whole.case.outline.rest + np.array([facts.ahead_m, 0.0])
    line = tight.line
    foot = case.foot
    first, last = case.span
    places = [*np.linspace(max(first, foot - 0.5), last, GHOSTS), tight.lead_x]
    poses = tuple(_pose(facts, axles, line, float(x), n == GHOSTS) for n, x in enumerate(places))
    body = case.trailer.trailer
    hinge = body.hinge_behind_bogie_m
    bogie = None if hinge is None else (case.deck_end - hinge if case.front_entry else hinge)
    coupling = None
    if bogie is not None and body.coupling_to_bogie_m is not None and not case.front_entry:
        coupling = bogie + body.coupling_to_bogie_m - foot
    known = math.isfinite(tight.value)
    touch = _machine_point(case, line, tight) if known else None
    return SideView(
        profile_xz=_seen(case, line),
        foot_x=0.0,
        edge_x=-foot,
        deck_end_x=case.deck_end - foot,
        bogie_xs=() if bogie is None else _bogie(case, bogie - foot),
        coupling_x=coupling,
        inward="rear" if case.front_entry else "nose",
        wheel_radius_m=case.trailer.combination.wheel_radius_m,
        poses=poses,
        tight_xz=(tight.profile_xz[0] - foot, tight.profile_xz[1]) if known else None,
        touches_xz=touch,
        close_ups=tuple(_close_up(whole, *part) for part in _parts(whole)),
    )


def _parts(whole: RampFacts) -> list[tuple[RampFacts, Tight]]:
    """Give the tightest place of each part of the machine with the stand it has there, tightest first."""
    found: dict[str, tuple[RampFacts, Tight]] = {}
    for facts in whole.stands:
        for tight in facts.rolling.parts():
            least = found[tight.part][1].value if tight.part in found else math.inf
            if math.isfinite(tight.value) and tight.value < least:
                found[tight.part] = (facts, tight)
    return sorted(found.values(), key=lambda pair: pair[1].value)


def _close_up(whole: RampFacts, facts: RampFacts, tight: Tight) -> CloseUp:
    case, axles = facts.case, whole.case.outline.rest + np.array([facts.ahead_m, 0.0])
    return CloseUp(
        end=case.end_of(tight.part),
        value_m=tight.value,
        at_m=tight.lead_x - case.foot + facts.ahead_m,
        profile_xz=_seen(case, tight.line),
        pose=_pose(facts, axles, tight.line, tight.lead_x, True),
        tight_xz=(tight.profile_xz[0] - case.foot, tight.profile_xz[1]),
        touches_xz=_machine_point(case, tight.line, tight),
    )


def _seen(case: RampCase, line: Floats) -> tuple[tuple[float, float], ...]:
    """Give ramp and deck of a profile, from the ramp's foot."""
    return tuple((float(x - case.foot), float(z)) for x, z in line[1:-1])


def _bogie(case: RampCase, middle: float) -> tuple[float, ...]:
    body = case.trailer.trailer
    count, spacing = body.bogie_axles or 1, body.bogie_spacing_m or 1.3
    return tuple(middle + (number - (count - 1) / 2.0) * spacing for number in range(count))


def _stand(case: RampCase, line: Floats, lead_x: float) -> Any:
    return stood_on(case.outline, line[None], np.array([lead_x]))


def _machine_point(case: RampCase, line: Floats, tight: Tight) -> tuple[float, float]:
    x, z = placed(_stand(case, line, tight.lead_x), case.outline.lead_r, *tight.body_xz)
    return float(x[0] - case.foot), float(z[0])


def _pose(facts: RampFacts, axles: Floats, line: Floats, lead_x: float, tight: bool) -> Pose:
    case = facts.case
    shape, stood = case.outline, _stand(case, line, lead_x)
    middles = zip(*placed(stood, shape.lead_r, *axles.T), axles[:, 1], strict=True)

    def turned(points: Floats) -> tuple[tuple[float, float], ...]:
        x, z = placed(stood, shape.lead_r, points[:, 0], points[:, 1])
        return tuple((float(a - case.foot), float(b)) for a, b in zip(x, z, strict=True))

    return Pose(
        at_m=lead_x - case.foot + facts.ahead_m,
        tight=tight,
        wheels_xzr=tuple((float(x) - case.foot, float(z), float(r)) for x, z, r in middles),
        top_xz=turned(shape.top),
        under_xz=turned(shape.under),
    )
