"""Arrival, unloading, the machine's own way, loading and leaving as one plan: what the trailer adds to it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from travel.checks.haul import LEFT_OUT, HaulCase, Rig
from travel.checks.ramp import ramp_rules
from travel.checks.ramp_fit import fall_zone
from travel.checks.unloading import RULE
from travel.domain.plan import Checked, Condition, Finding, Nearest
from travel.domain.ramp import SLOPES
from travel.domain.rules import Rulebook
from travel.domain.site import InputFile
from travel.domain.verdict import Verdict
from travel.planning.findings import findings_of
from travel.planning.haul_findings import checked_at, findings_at
from travel.planning.haul_judge import ORDER, Candidate, HaulSheets, Move, known, move_verdict, reasons_of, told
from travel.planning.ramp import ROUTINE, RampAsked
from travel.planning.ramp_compose import RampContext, compose_ramp
from travel.planning.ramp_remedies import ramp_remedies
from travel.planning.trips import Trip
from travel.units import ratio_to_pct

MOST_SAID = 5
"""Reasons said of a place that was not taken; all of them stand beside."""
ANY = "any"
"""Asks for the best place."""
UNLOADING = ("unloading-stand",)
"""Routine of every unloading, besides that of the ramp."""
RAMP_KEYS = ("smallest_clearance", "nose_lift", "rig_hold", "deck_window_m", "best_position_m", "coupling_kg",
             "trailer_axles_kg", "towing_axles_kg", "tip_back_ratio_min")  # fmt: skip


@dataclass(frozen=True, eq=False, kw_only=True)
class Haul:
    """Everything a plan says because a trailer brings the machine.

    ``moves``: what is done at the place chosen. ``empty``: worst of what the empty combination finds on the ways driven
    laden, by trip, and those findings.
    """

    sheets: HaulSheets
    candidates: tuple[Candidate, ...]
    chosen: Candidate
    asked_for: str
    rigs: tuple[Rig, Rig]
    accepted: Mapping[str, str]
    empty: Mapping[str, Verdict] = field(default_factory=dict)
    empty_findings: tuple[Finding, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """The worst of the place chosen, going on and off, and the empty combination."""
        found = [finding for move in self.chosen.moves for finding in self.findings(move)]
        words = ["caution" if finding.accepted else finding.verdict for finding in found]
        return max([Verdict.CLEAR, *(Verdict[word.upper()] for word in words), *self.empty.values()])

    @property
    def stopped(self) -> bool:
        """Whether the plan ends at the unloading place: the ground or the ramp says no there."""
        return self.chosen.at_place == Verdict.BLOCKED

    @property
    def rules(self) -> frozenset[str]:
        """Rules that are answered because there is a trailer."""
        return frozenset((*ramp_rules(), RULE))

    @property
    def looked_over(self) -> Any:
        """The ground where the rig stands with all beside it that its rules look at; None where it is not known."""
        cases = [asked.facts.case for asked in self.chosen.moves.values()]
        far = [case.scalar("unloading-place.line_distance") for case in cases]
        return self.chosen.standing.strip(max([*far, *(fall_zone(case)["beside_m"] for case in cases)]))

    def findings(self, move: Move) -> tuple[Finding, ...]:
        """Give the findings of one move at the place chosen."""
        if move not in self.chosen.moves:
            return ()
        return findings_at(self.chosen, move, self.sheets.rulebook, self.accepted)

    def before(self, trip: Trip) -> tuple[Finding, ...]:
        """Give what is found before a trip starts: loading, before the combination leaves."""
        return self.findings("load") if trip.case.trip == "leave" else ()

    def after(self, trip: Trip) -> tuple[Finding, ...]:
        """Give what is found once a trip has ended: the empty combination on the same way, then unloading; where the
        plan ends there, loading as well.
        """
        name = trip.case.trip
        own = tuple(finding for finding in self.empty_findings if finding.trip == name)
        if name != "arrive":
            return own
        return (*own, *self.findings("unload"), *(self.findings("load") if self.stopped else ()))

    def checked(self, rows: tuple[Checked, ...]) -> tuple[Checked, ...]:
        """Give what was looked at, trailer and place included."""
        return checked_at(rows, self.chosen, self.sheets.rulebook)

    def conditions(self) -> tuple[Condition, ...]:
        """Give the routine of going on and off."""
        controls = self.sheets.rulebook.controls
        names = [name for name in controls if name.startswith(ROUTINE) or name in UNLOADING]
        return tuple(
            Condition(
                id=name,
                kind="pre_travel",
                flags=(),
                text=controls[name].text,
                owner=controls[name].owner,
                due=controls[name].due,
                evidence=controls[name].evidence,
                acceptable=True,
            )
            for name in names
        )

    def cautions(self) -> tuple[str, ...]:
        """Give what of the combination is not judged, and what its sheet does not tell."""
        titles = self.sheets.rulebook.rules
        left = "; ".join(f"{titles[rule].title.lower()} ({why})" for rule, why in LEFT_OUT.items() if rule in titles)
        out = [
            "The combination drives forward only and, but in corners, is taken as one stiff vehicle; driving it "
            "backwards and what its hinge does on uneven ground "
            f"are not judged. Not asked of it: {left}.",
            "Whether the combination may go on the public road to the gate is not looked at.",
        ]
        lacks = sorted({name for rig in self.rigs for names in rig.lacks.values() for name in names})
        if lacks:
            out.append(f"The trailer's sheet does not tell: {', '.join(lacks)}; what needs it is unknown.")
        return tuple(out)

    def nearest(self) -> tuple[Nearest, ...]:
        """Give where the plan ends when no place will do."""
        if not self.stopped:
            return ()
        reasons = reasons_of(self.chosen, Verdict.BLOCKED)
        texts = dict.fromkeys(_reason_text(reason, self.sheets.rulebook) for reason in reasons)
        stopped = tuple({"rule": RULE, "text": text} for text in texts)
        place = self.chosen.ground.place
        return (Nearest(trip="arrive", place=place, road=None, at_m=None, remaining_m=None, stopped_by=stopped),)

    def unloading(self) -> dict[str, Any]:
        """Give the place, why not the others, and how each part was judged."""
        chosen = None if self.stopped else self.chosen
        return {
            "place": None if chosen is None else chosen.ground.place,
            "asked_for": self.asked_for,
            "order": ORDER,
            "stand": _stand(self.chosen),
            "why_not": [
                {
                    "place": candidate.ground.name,
                    "verdict": candidate.verdict.word,
                    "reasons": reasons_of(candidate),
                    "text": _why_not(candidate, chosen, self.sheets.rulebook, self.asked_for),
                }
                for candidate in self.candidates
                if candidate is not chosen
            ],
            "judged": [
                {
                    "place": candidate.ground.name,
                    "verdict": candidate.verdict.word,
                    "parts": [told(answer) for answer in (*candidate.answers, *candidate.later)],
                    "ramp": {move: move_verdict(asked).word for move, asked in candidate.moves.items()},
                }
                for candidate in self.candidates
            ],
        }

    def transport(self, created_at: str, inputs: tuple[InputFile, ...]) -> dict[str, Any]:
        """Give trailer, combination laden and empty, and the ramp's answer in short."""
        laden, empty = self.rigs
        when = dt.datetime.fromisoformat(created_at)
        return {
            "trailer": self.sheets.trailer.name,
            "kind": self.sheets.trailer.kind,
            "combination": {"laden": _rig(laden), "empty": _rig(empty)},
            "empty_on_the_same_ways": {trip: verdict.word for trip, verdict in self.empty.items()},
            "not_judged": dict(LEFT_OUT),
            **{move: _ramp(asked, when, inputs) for move, asked in self.chosen.moves.items()},
        }


def _why_not(candidate: Candidate, chosen: Candidate | None, rulebook: Rulebook, asked_for: str) -> str:
    if asked_for not in (ANY, candidate.ground.place, candidate.ground.area):
        return f"{asked_for} was asked for"
    worst = [reason for reason in reasons_of(candidate) if reason["verdict"] == candidate.verdict.word]
    if worst and (chosen is None or candidate.verdict > chosen.verdict):
        return "; ".join(list(dict.fromkeys(_reason_text(reason, rulebook) for reason in worst))[:MOST_SAID])
    return "the place chosen has less open, or is nearer"


def _reason_text(reason: Mapping[str, Any], rulebook: Rulebook) -> str:
    rule = rulebook.rules.get(str(reason.get("rule", "")))
    said = str(reason["part"]) if rule is None or rule.id == RULE else f"{rule.title}: {reason['part']}"
    if reason.get("missing"):
        return f"{said}: not known ({', '.join(reason['missing'])})"
    unit, demand, capacity = reason.get("unit"), reason.get("demand"), reason.get("capacity")
    if demand is None or capacity is None:
        return f"{said} ({reason['feature']})" if reason.get("feature") else said
    at = f" ({reason['feature']})" if reason.get("feature") else ""
    return f"{said}{at}: {demand:.4g} {unit} asked for, {capacity:.4g} {unit} there".replace("  ", " ")


def _stand(candidate: Candidate) -> dict[str, Any]:
    standing, ground = candidate.standing, candidate.ground
    heading = standing.heading_rad
    slopes = ground.slopes_at(heading)[0]
    return {
        "place": ground.place,
        "area": ground.area,
        "heading_deg": None if heading is None else round((90.0 - math.degrees(heading)) % 360.0, 1),
        "length_m": known(standing.length_m),
        "ramps_m": standing.ramp_m,
        "run_off_m": standing.run_off_m,
        "width_m": standing.width_m,
        "needed_m": known(standing.need_m),
        "room_m": known(standing.room_m),
        "run_off_from_m": known(standing.run_off_end_m),
        "tail_at_m": known(standing.rig_m[0]),
        "nose_at_m": known(standing.rig_m[1]),
        "slope_pct": known(ratio_to_pct(slopes[0])),
        "cross_slope_pct": known(ratio_to_pct(slopes[1])),
        "surface": ground.surface,
    }


def _rig(rig: Rig) -> dict[str, Any]:
    return {
        "gross_kg": rig.mass_kg,
        "height_m": None if "headroom" in rig.lacks else rig.height_m,
        "height_tolerance_m": rig.height_band_m,
        "width_m": rig.width_m,
        "length_m": rig.trailer.combination.length_m,
        "axles": [
            {"name": name, "load_kg": None if "posted-load" in rig.lacks else float(load)}
            for name, load in zip(rig.names, rig.axle_kg, strict=True)
        ],
        "turn_radius_m": rig.trailer.combination.turn_radius_m,
        "not_told": sorted({name for names in rig.lacks.values() for name in names}),
    }


def _ramp(asked: RampAsked, created_at: dt.datetime, inputs: tuple[InputFile, ...]) -> dict[str, Any]:
    context = RampContext(inputs=inputs, doubts=(), created_at=created_at, program={})
    result = compose_ramp(asked, context, ())
    request = asked.facts.case.request
    out: dict[str, Any] = {
        "verdict": move_verdict(asked).word,
        "first": request.first,
        **{name: None if name in request.not_stated else getattr(request, name) for name in SLOPES},
        "surface": request.surface,
        "overall": dict(result.overall),
        "ramps": [{"side": ramp.side, "load_kg": ramp.load_kg, "rating_kg": ramp.rating_kg} for ramp in result.ramps],
        "tie_downs": [tie.name for tie in result.tie_downs],
        "notice": {key: value for key, value in result.earliest.items() if key != "date"},
        "would_help": [remedy.text for remedy in ramp_remedies(asked)],
    }
    for key in RAMP_KEYS:
        value = getattr(result, key)
        out[key] = {"value_m": value.value_m, "at_m": value.at_m, "end": value.end} if key == RAMP_KEYS[0] else value
    return out


def empty_answers(trip: Trip, case: HaulCase, accepted: Mapping[str, str]) -> tuple[Verdict, tuple[Finding, ...]]:
    """Give what the empty combination finds on a way driven laden: the worst, and what laden it does not find.

    Args:
        trip: the trip as driven laden
        case: the same trip empty
        accepted: finding id → the planner's reason
    """
    if trip.way is None or not len(trip.cells):
        return Verdict.CLEAR, ()
    laden = {item.finding.id for item in findings_of(trip, trip.cells, dict(accepted))}
    found = [item.finding for item in findings_of(replace(trip, case=case), trip.cells, dict(accepted))]
    worst = max((Verdict[f.verdict.upper()] for f in found if not f.accepted), default=Verdict.CLEAR)
    only = tuple(f for f in found if f.id not in laden)
    return worst, tuple(replace(f, configuration={**f.configuration, "rig": "empty"}) for f in only)
