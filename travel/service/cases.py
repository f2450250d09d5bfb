"""Sheets and weather into the cases that trips are checked in; shared by every use case that plans."""

from __future__ import annotations

import datetime as dt
import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from travel.checks import Case, make_body, make_configurations
from travel.domain.machine import Load, Machine
from travel.domain.request import PlanRequest, TripConditions
from travel.domain.site import Doubt, InputFile, Weather
from travel.errors import Fault, InputError
from travel.readers.load_checks import load_on_machine
from travel.readers.sheets import read_load, read_machine
from travel.service.workspace import Workspace

if TYPE_CHECKING:
    from travel.domain.trailer import Trailer

STEERING = ("front", "all")
"""Steering modes the search chooses from; crab holds the heading and is left to the operator."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Sheets:
    """The machine's sheet and the loads out and back, as read."""

    machine: Machine
    load: Load | None
    back_load: Load | None
    inputs: tuple[InputFile, ...]
    doubts: tuple[Doubt, ...]
    trailer: Trailer | None = None


def read_sheets(machine: Path, load: Path | None = None, back_load: Path | None = None) -> Sheets:
    """Read machine and loads; every fault of all of them at once."""
    faults: list[Fault] = []
    inputs: list[InputFile] = []
    doubts: list[Doubt] = []

    def read(path: Path | None, reader: Any) -> Any:
        if path is None:
            return None
        try:
            value, doubt, record = reader(path)
        except InputError as error:
            faults.extend(error.faults)
            return None
        inputs.append(record)
        doubts.extend(doubt)
        return value

    sheet, out, back = read(machine, read_machine), read(load, read_load), read(back_load, read_load)
    if faults:
        raise InputError(faults)
    for path, carried in ((load, out), (back_load, back)):
        doubts.extend(load_on_machine(path.name, sheet, carried) if path and carried else ())
    return Sheets(machine=sheet, load=out, back_load=back, inputs=tuple(inputs), doubts=tuple(doubts))


def make_case(
    workspace: Workspace,
    machine: Machine,
    load: Load | None,
    *,
    trip: str = "out",
    weather: Weather,
    at: dt.datetime | None = None,
    horizon_s: float | None = None,
    file: str = "machine",
) -> Case:
    """Give the case of one trip.

    Args:
        workspace: the site with its rulebook and survey
        machine, load: the sheet, and what is carried
        trip: out, back …
        weather: as known, all layers merged
        at, horizon_s: start, and for how long hours and closures are looked at
        file: name of the machine's file, for faults
    """
    if load and load.how == "deck":
        message = "is for the deck of a trailer; a machine carries on forks or on the hook"
        raise InputError([Fault(file=load.name, field="how", value=load.how, message=message, allowed="forks, hook")])
    body = make_body(machine, load)
    if body is None:
        message = "the sheet has no values for the attitude this load is carried in"
        raise InputError([Fault(file=file, layer="attitudes", value=load.how if load else "stowed", message=message)])
    return Case(
        trip=trip,
        machine=machine,
        body=body,
        load=load,
        rulebook=workspace.rulebook,
        survey=workspace.survey,
        configurations=make_configurations(machine, STEERING),
        weather=weather,
        at=at,
        until=at + dt.timedelta(seconds=horizon_s or 0.0) if at else None,
        today=now().date(),
    )


def trip_case(request: PlanRequest, workspace: Workspace, sheets: Sheets, trip: str, horizon_s: float) -> Case:
    """Give the case of one of the machine's trips (out or back) of a request."""
    back = trip == "back"
    conditions = (request.back or TripConditions()) if back else TripConditions(at=request.at, weather=request.weather)
    declared = workspace.site.header.weather
    case = make_case(
        workspace,
        sheets.machine,
        sheets.back_load if back else sheets.load,
        trip=trip,
        weather=merged_weather(conditions.weather, request.weather if back else Weather(), declared),
        at=conditions.at,
        horizon_s=horizon_s,
        file=request.machine.name,
    )
    return replace(case, times=request.times, delivered=sheets.trailer is not None)


def accepted_ids(request: PlanRequest) -> frozenset[str]:
    """Give the acceptance ids of a request: those of a second stretch open the way by their base."""
    return frozenset(item.id.partition(".")[0] for item in request.accept_unknown)


def merged_weather(*layers: Weather) -> Weather:
    """Give each value from the first of several that knows it."""
    merged = Weather()
    for layer in layers:
        known = {key: value for key, value in layer.model_dump().items() if getattr(merged, key) is None}
        merged = merged.model_copy(update=known)
    return merged


EPOCH = "SOURCE_DATE_EPOCH"
"""The variable of the environment that stops the clock."""


def clock_told() -> str:
    """Give what the time is taken from where it is not the computer's own clock; else nothing."""
    return EPOCH if os.environ.get(EPOCH) is not None else ""


def now() -> dt.datetime:
    """Give the time an answer is made: SOURCE_DATE_EPOCH where set, so that reruns give the same bytes."""
    epoch = os.environ.get(EPOCH)
    if epoch is not None:
        try:
            return dt.datetime.fromtimestamp(int(epoch), tz=dt.UTC)
        except (ValueError, OverflowError, OSError) as error:
            message = "is not a time in whole seconds since 1970"
            raise InputError([Fault(file="environment", field=EPOCH, value=epoch, message=message)]) from error
    return dt.datetime.now(tz=dt.UTC).replace(microsecond=0)
