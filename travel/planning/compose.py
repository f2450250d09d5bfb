"""Solved trips into one TravelPlan."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from travel.checks import Answer, built_rules
from travel.domain.machine import Load, Machine
from travel.domain.plan import SCHEMA, Finding, Leg, Stop, TravelPlan, Turn
from travel.domain.plan import Trip as TripSummary
from travel.domain.request import PlanRequest
from travel.domain.rules import Rulebook
from travel.domain.site import Doubt, InputFile
from travel.domain.verdict import Verdict
from travel.planning.checked import because_of, checked_of, judged_of
from travel.planning.conditions import conditions_of
from travel.planning.findings import Found, all_answers, findings_of
from travel.planning.legs import Run, leg_of, runs_of, stops_of, turns_of
from travel.planning.nearest import nearest_of, stopping_findings
from travel.planning.profile import profile_of
from travel.planning.relied import basis_of, corridor_of, digest, fingerprint, relied_on
from travel.planning.reversing import long_reverse_findings
from travel.planning.trips import Trip
from travel.planning.turning import circles_taken
from travel.survey import Survey

if TYPE_CHECKING:
    from travel.planning.haul import Haul


@dataclass(frozen=True, eq=False, kw_only=True)
class Facts:
    """Everything about the question that is not a trip."""

    request: PlanRequest
    request_json: Mapping[str, Any]
    machine: Machine
    load: Load | None
    survey: Survey
    rulebook: Rulebook
    inputs: tuple[InputFile, ...]
    doubts: tuple[Doubt, ...]
    created_at: str
    program: Mapping[str, str]
    haul: Haul | None = None


@dataclass(slots=True)
class _Parts:
    """The plan's lists while they grow trip by trip."""

    legs: list[Leg]
    turns: list[Turn]
    stops: list[Stop]
    findings: list[Finding]
    answers: list[tuple[Trip, tuple[Answer, ...]]]


def compose(trips: list[Trip], facts: Facts) -> TravelPlan:
    """Put the trips together: flags in the order of travel, legs and stops that point to them, conditions, digests.

    Args:
        trips: in the order driven; a trip whose predecessor was not found is not in the list
        facts: the question
    """
    parts = _Parts(legs=[], turns=[], stops=[], findings=[], answers=[])
    haul = facts.haul
    for trip in trips:
        _add_found(parts, haul.before(trip) if haul else ())
        _add_trip(parts, trip, facts)
        _add_found(parts, haul.after(trip) if haul else ())
    findings = tuple(parts.findings)
    summaries = tuple(_summary(trip, facts, findings) for trip in trips)
    wanted = (2 if facts.request.with_return else 1) + (2 if haul else 0)
    found = len(trips) == wanted and all(trip.way is not None for trip in trips)
    worst = max((Verdict[s.verdict.upper()] for s in summaries), default=Verdict.BLOCKED)
    worst = max(worst, haul.verdict) if haul else worst
    case = next((trip.case for trip in trips if trip.case.vehicle == "machine"), trips[0].case)
    basis_read = basis_of(trips, facts.machine, facts.rulebook, haul.sheets.trailer if haul else None)
    relied = relied_on(corridor_of(trips, haul.looked_over if haul else None), basis_read)
    weather = case.weather.model_dump()
    books = [[book.layer, book.sha256] for book in facts.rulebook.books]
    basis = {"request": dict(facts.request_json), "inputs": [[f.role, f.sha256] for f in facts.inputs], "books": books}
    built = built_rules() | (haul.rules if haul else frozenset())
    checked = checked_of(parts.answers, facts.rulebook)
    return TravelPlan(
        schema=SCHEMA,
        plan_id=f"TP-{digest(basis)[:10].upper()}",
        created_at=facts.created_at,
        program=facts.program,
        request=facts.request_json,
        site=_site(facts),
        machine=_machine(haul.sheets.body if haul and case.vehicle != "machine" else case.body, facts.machine),
        trailer=haul.sheets.trailer.model_dump(mode="json") if haul else None,
        load=facts.load.model_dump(mode="json") if facts.load else None,
        weather=weather,
        rulebooks=tuple({"layer": b.layer, "name": b.name, "sha256": b.sha256} for b in facts.rulebook.books),
        inputs=tuple({"role": f.role, "name": f.name, "sha256": f.sha256} for f in facts.inputs),
        outcome="way" if found else "no_way",
        verdict=worst.word if found else "blocked",  # type: ignore[arg-type]
        trips=summaries,
        legs=tuple(parts.legs),
        turns=tuple(parts.turns),
        stops=tuple(parts.stops),
        findings=findings,
        checked=haul.checked(checked) if haul else checked,
        conditions=(
            *(haul.conditions() if haul else ()),
            *conditions_of(
                findings,
                facts.request,
                facts.rulebook,
                case.weather,
                {trip.case.body.attitude for trip in trips},
                _kept_apart(case.survey),
            ),
        ),
        remedies=(),
        nearest=(
            *(nearest_of(trip, findings) for trip in trips if trip.way is None),
            *(haul.nearest() if haul else ()),
        ),
        alternatives=(),
        turn_back=(),
        single_points=(),
        latest_departure=None,
        profile=tuple(profile_of(trip, parts.legs) for trip in trips if trip.way is not None),
        transport=haul.transport(facts.created_at, facts.inputs) if haul else None,
        setup=None,
        cautions=(
            *facts.rulebook.cautions,
            *_not_built(facts.rulebook, built),
            *(haul.cautions() if haul else ()),
        ),
        doubts=(
            *(doubt.text() for doubt in facts.doubts),
            *_vain_acceptances(facts, findings),
            *_back_too_early(trips),
            *dict.fromkeys(said for trip in trips for said in circles_taken(trip)),
        ),
        sources={
            key: " ".join(p for p in (s.title, f"({s.edition})" if s.edition else "") if p)
            for key, s in facts.rulebook.sources.items()
        },
        rules={
            rule.id: {
                "title": rule.title,
                "kind": rule.kind,
                "unit": rule.unit,
                "built": rule.id in built,
                "acceptable": rule.acceptable,
                "high_consequence": rule.high_consequence,
            }
            for rule in facts.rulebook.rules.values()
        },
        relied_on=relied,
        fingerprint=fingerprint(relied, facts.request_json),
        unloading=haul.unloading() if haul else None,
        judged=tuple(row for trip in trips if trip.way is not None for row in judged_of(trip)),
    )


def _vain_acceptances(facts: Facts, findings: tuple[Finding, ...]) -> Iterator[str]:
    """Tell of every acceptance asked for that accepts nothing."""
    by_id = {finding.id: finding for finding in findings}
    for asked in facts.request.accept_unknown:
        found = by_id.get(asked.id)
        if found is None:
            yield f"accepted unknown {asked.id}: no finding of this plan has this id; it accepts nothing"
        elif not found.acceptable:
            yield f"accepted unknown {asked.id} ({found.rule}): nobody may accept it on a form; it has to be surveyed"
        elif found.verdict != "unknown":
            yield f"accepted unknown {asked.id} ({found.rule}): is {found.verdict}, not unknown; it accepts nothing"


def _back_too_early(trips: Sequence[Trip]) -> Iterator[str]:
    """Tell of an hour asked for the way back at which the trips before it cannot have ended.

    It is no fault: hours are looked at over more than both trips take, so that the way back is judged later too.
    """
    number = next((number for number, trip in enumerate(trips) if trip.case.trip == "back"), 0)
    before, hour = trips[:number], trips[number].case.at
    if not before or hour is None or before[0].case.at is None:
        return
    ends = before[0].case.at + dt.timedelta(seconds=math.ceil(sum(trip.time_s for trip in before)))
    if hour < ends:
        yield (
            f"request › back › at: {hour.isoformat()} is before the machine can be there: started at "
            f"{before[0].case.at.isoformat()} it arrives at {ends.isoformat()} at the earliest"
        )


def _add_found(parts: _Parts, findings: Sequence[Finding]) -> None:
    """Number findings that belong to no leg of their own, or to a leg driven already."""
    for finding in findings:
        parts.findings.append(replace(finding, flag=len(parts.findings) + 1))


def _add_trip(parts: _Parts, trip: Trip, facts: Facts) -> None:
    accepted = {item.id: item.reason for item in facts.request.accept_unknown}
    if trip.way is None:
        for found in stopping_findings(trip, accepted):
            parts.findings.append(replace(found.finding, flag=len(parts.findings) + 1))
        return
    runs = runs_of(trip)
    first_leg = len(parts.legs) + 1
    answers = all_answers(trip, trip.cells)
    parts.answers.append((trip, answers))
    numbered = []
    judged = [*findings_of(trip, trip.cells, accepted, answers), *long_reverse_findings(trip)]
    for found in sorted(judged, key=lambda item: item.order):
        leg = None if found.finding.where.scope == "layer" else first_leg + _run_of(runs, int(found.cells[0]))
        finding = replace(found.finding, flag=len(parts.findings) + 1, leg=leg)
        parts.findings.append(finding)
        numbered.append(Found(finding=finding, cells=found.cells, order=found.order))
    flags = [
        tuple(
            f.finding.flag
            for f in numbered
            if f.finding.where.scope != "layer" and ((f.cells >= run.first) & (f.cells <= run.last)).any()
        )
        for run in runs
    ]
    for number, (run, mine, because) in enumerate(zip(runs, flags, because_of(trip, runs), strict=True)):
        parts.legs.append(replace(leg_of(trip, run, first_leg + number), flags=mine, because=because))
    parts.turns += turns_of(trip, runs, len(parts.turns) + 1, first_leg, tuple(f.finding for f in numbered))
    parts.stops += stops_of(trip, runs, len(parts.stops) + 1, first_leg)


def _run_of(runs: tuple[Run, ...], cell: int) -> int:
    return next(i for i, run in enumerate(runs) if run.first <= cell <= run.last)


def _summary(trip: Trip, facts: Facts, findings: tuple[Finding, ...]) -> TripSummary:
    length = trip.case.survey.pieces.length_m[trip.cells.piece]
    worst, by = trip.cell_worst if len(trip.cells) else np.empty(0, dtype=np.uint8), trip.case
    open_unknown = any(f.trip == by.trip and f.verdict == "unknown" and not f.accepted for f in findings)
    verdict = max(trip.worst, Verdict.UNKNOWN) if open_unknown else trip.worst
    rise = np.where(trip.cells.sense > 0, 1, -1) * by.window.grade_worst[trip.cells.piece] * length
    return TripSummary(
        trip=by.trip,  # type: ignore[arg-type]
        vehicle=by.vehicle,
        load_on=by.loaded,
        found=trip.way is not None,
        from_place=trip.request.from_place,
        to_place=trip.request.to_place,
        verdict=verdict.word,  # type: ignore[arg-type]
        length_m=float(length.sum()),
        climb_m=None if np.isnan(rise).any() else float(np.maximum(rise, 0).sum()),
        time_s=trip.time_s,
        clear_m=float(length[worst == Verdict.CLEAR].sum()),
        caution_m=float(length[worst == Verdict.CAUTION].sum()),
        unknown_m=float(length[worst == Verdict.UNKNOWN].sum()),
    )


def _site(facts: Facts) -> dict[str, Any]:
    header = facts.survey.site.header
    return {
        "name": header.name,
        "crs": header.crs,
        "timezone": header.timezone,
        "surveyed_on": header.surveyed_on.isoformat(),
        "jurisdiction": header.jurisdiction,
        "height_datum": header.height_datum,
        "contacts": dict(header.contacts),
        "digest": facts.survey.site.digest,
        **({"changed_copy": list(header.changed_copy)} if header.changed_copy else {}),
    }


def _machine(body: Any, machine: Machine) -> dict[str, Any]:
    return {
        "name": machine.name,
        "attitude": body.attitude,
        "gross_kg": body.mass_kg,
        "height_m": body.height_m,
        "width_m": body.width_m,
        "length_m": body.length_m,
        "wheelbase_m": body.wheelbase_m,
        "axles": [
            {"name": a.name, "load_kg": float(load)} for a, load in zip(machine.axles, body.axle_load_kg, strict=True)
        ],
    }


def _kept_apart(survey: Survey) -> dict[str, str]:
    people = survey.site.layers["people"]
    return {name: str(text) for name, text in zip(people.ids, people.text("control"), strict=True) if text}


ANSWERED_BY = {"trailer and ramps": "travel ramp answers most of it, travel plan with --trailer for the whole day"}
"""By group of rules, where the program does answer them."""


def _not_built(rulebook: Rulebook, built: frozenset[str]) -> tuple[str, ...]:
    """Say by group which rules this plan does not answer."""
    groups: dict[str, list[str]] = {}
    for rule in rulebook.rules.values():
        if rule.id not in built:
            groups.setdefault(rule.group, []).append(rule.title.lower())
    return tuple(
        f"Not answered by this plan, so to be looked at by a competent person – {group}: {', '.join(titles)}"
        + (f" ({ANSWERED_BY[group]})." if group in ANSWERED_BY else ".")
        for group, titles in groups.items()
    )
