"""A plan asked again: its own request, on what is there now; and whether what it relied on still holds."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from travel.domain.changes import Change, Validity
from travel.domain.machine import Load, Machine
from travel.domain.plan import ReliedOn, TravelPlan
from travel.domain.request import Acceptance, PlanRequest, TripConditions
from travel.domain.site import Amendment, Weather
from travel.domain.trailer import Trailer
from travel.errors import Fault, InputError
from travel.planning.differences import compare_plans, relied_changes, told_otherwise, with_findings
from travel.planning.relied import SURVEYED, VOIDING_NOTE, Basis, corridor_from, journey_of, relied_on
from travel.readers.sheets import read_load, read_machine, read_trailer
from travel.rulebook import load_rulebook
from travel.service.cases import Sheets
from travel.service.haul import any_case, haul_request
from travel.service.plan import make_plan
from travel.service.workspace import Progress, Workspace
from travel.writers.plan_json import plan_from_bytes, plan_to_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Now:
    """What is there now: the site, and as far as given the sheets of machine and loads, books, the weather."""

    site: Path
    machine: Path | None = None
    load: Path | None = None
    back_load: Path | None = None
    trailer: Path | None = None
    rulebooks: tuple[Path, ...] = ()
    weather: Weather | None = None


def still_valid(plan: TravelPlan, now: Now, progress: Progress | None = None, to_the_letter: bool = False) -> Validity:
    """Tell whether a plan still holds on what is there now; where it does not, plan again to see what that changes.

    Args:
        plan: as its file says
        now: what is there
        progress: told how far it is
        to_the_letter: plan again in any case; a file that says otherwise than planning again does is void

    Raises:
        InputError: files that cannot be read, or that are not of the kind the plan was made with
    """
    tell = progress or (lambda what, share: None)
    request = request_again(plan, now)
    sheets, not_compared = _sheets(plan, now)
    workspace = Workspace(path=now.site, rulebooks=now.rulebooks, amendments=request.amendments)
    tell("reading what is there now", 0.1)
    rows = _rows_now(plan, request, workspace, sheets)
    every = relied_changes(plan.relied_on, rows)
    renewed = tuple(change for change in every if _only_later(change))
    changes = tuple(change for change in every if change not in renewed)
    older = plan.program.get("version") != _version()
    if not changes and not older and not to_the_letter:
        return Validity(void=False, changes=(), renewed=renewed, not_compared=not_compared)
    tell("planning again", 0.3)
    try:
        again = make_plan(request, workspace, remedies="none", sheets=sheets).plan
    except InputError as error:
        faults = "; ".join(fault.text() for fault in error.faults)
        return Validity(void=True, changes=changes, renewed=renewed, fault=faults, not_compared=not_compared)
    again = plan_from_bytes(plan_to_bytes(again))  # rounded as a file is
    compared = compare_plans(plan, again)
    owned, left = with_findings(changes, compared.findings)
    asked = to_the_letter or not older  # who changed a file may have changed the version it names
    otherwise = told_otherwise(plan, again, compared) if asked and not changes else ()
    return Validity(
        void=bool(changes or otherwise) or (older and not compared.alike),
        changes=owned,
        renewed=renewed,
        findings=left,
        verdict=again.verdict,
        outcome=again.outcome,
        not_compared=not_compared,
        otherwise=otherwise,
    )


def request_again(plan: TravelPlan, now: Now) -> PlanRequest:
    """Give the request a plan answered, for the site, sheets and weather there are now."""
    asked = plan.request
    back = asked.get("back")
    weather = now.weather or Weather.model_validate(asked["weather"])
    return PlanRequest(
        site=now.site,
        machine=now.machine or Path(_input_name(plan, "machine")),
        from_place=str(asked["from"]),
        to_place=str(asked["to"]),
        at=_time(asked.get("at")),
        horizon_min=asked.get("horizon_min"),
        with_return=bool(asked["return"]),
        load=_path(now.load, asked.get("load")),
        weather=weather,
        back=None
        if back is None
        else TripConditions(
            at=_time(back.get("at")),
            weather=now.weather or Weather.model_validate(back["weather"]),
            load=_path(now.back_load, back.get("load")),
        ),
        aim=str(asked["aim"]),
        times=int(asked.get("times", 1)),
        rulebooks=now.rulebooks,
        accept_unknown=tuple(Acceptance(**item) for item in asked.get("accept_unknown", ())),
        amendments=tuple(Amendment(**item) for item in asked.get("amendments", ())),
        **haul_request(asked),
    )


def _rows_now(plan: TravelPlan, request: PlanRequest, workspace: Workspace, sheets: Sheets) -> tuple[ReliedOn, ...]:
    corridor = next((corridor_from(row.values) for row in plan.relied_on if row.layer == "corridor"), None)
    cases = [any_case(request, workspace, sheets, trip.trip, 0.0) for trip in plan.trips]
    basis = Basis(
        site=workspace.site,
        rulebook=workspace.rulebook,
        machine=sheets.machine,
        journeys=tuple(journey_of(case) for case in cases),
        trailer=sheets.trailer,
    )
    return relied_on(corridor, basis)


def _sheets(plan: TravelPlan, now: Now) -> tuple[Sheets, tuple[str, ...]]:
    """Give the sheets there are now; those not given are taken from the plan, and named."""
    loads = {row.feature: Load.model_validate(row.values) for row in plan.relied_on if row.layer == "load"}
    faults = [
        Fault(file="command", field=option, value=str(path), message="is not carried in this plan")
        for option, path, trip in (("--load", now.load, "out"), ("--back-load", now.back_load, "back"))
        if path is not None and trip not in loads
    ]
    if now.trailer is not None and plan.trailer is None:
        message = "brings no machine in this plan"
        faults.append(Fault(file="command", field="--trailer", value=str(now.trailer), message=message))
    if faults:
        raise InputError(faults)
    kept = Sheets(
        machine=_machine(plan),
        load=loads.get("out"),
        back_load=loads.get("back"),
        inputs=(),
        doubts=(),
        trailer=None if plan.trailer is None else Trailer.model_validate(plan.trailer),
    )
    not_compared = [name for name, path in (("the machine's sheet", now.machine),) if path is None]
    not_compared += [] if plan.trailer is None or now.trailer is not None else ["the trailer's sheet"]
    not_compared += [
        f"the load {words}"
        for words, path, trip in (("out", now.load, "out"), ("back", now.back_load, "back"))
        if path is None and trip in loads
    ]
    if now.trailer is not None:
        kept = replace(kept, trailer=read_trailer(now.trailer, load_rulebook(now.rulebooks).vocabulary)[0])
    if now.machine is not None:
        kept = replace(kept, machine=read_machine(now.machine)[0])
    if now.load is not None:
        kept = replace(kept, load=read_load(now.load)[0])
    if now.back_load is not None:
        kept = replace(kept, back_load=read_load(now.back_load)[0])
    return kept, tuple(not_compared)


def _machine(plan: TravelPlan) -> Machine:
    found = next((row for row in plan.relied_on if row.layer == "machine"), None)
    if found is None:
        message = "holds no machine sheet: it was made by an older version; plan again"
        raise InputError([Fault(file=plan.plan_id, layer="relied_on", message=message)])
    return Machine.model_validate(found.values)


def _only_later(change: Change) -> bool:
    """Tell whether a layer was only looked at again, later, and that holds no less long: no plan falls with that."""
    if change.layer != SURVEYED or change.kind != "changed":
        return False
    fields = {field.field: (field.old, field.new) for field in change.fields}
    was, now = fields.get("date", ("", ""))
    ends, end = fields.get("until", (None, None))
    held, holds = fields.get("age_limit_d", (0.0, 0.0))
    sooner = end is not None and (ends is None or str(end) < str(ends))
    shorter = holds is not None and (held is None or holds < held)
    return not fields.keys() & set(VOIDING_NOTE) and str(now or "") >= str(was or "") and not sooner and not shorter


def _input_name(plan: TravelPlan, role: str) -> str:
    return next((row["name"] for row in plan.inputs if row["role"] == role), role)


def _path(given: Path | None, name: Any) -> Path | None:
    return given or (Path(str(name)) if name else None)


def _time(text: Any) -> dt.datetime | None:
    return dt.datetime.fromisoformat(str(text)) if text else None


def _version() -> str:
    import travel

    return travel.__version__
