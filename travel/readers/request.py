"""A request file into a PlanRequest."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from travel.domain.request import Acceptance, PlanRequest, TripConditions
from travel.domain.request_file import RampRequestFile, RequestFile
from travel.errors import Fault, InputError
from travel.readers.sheets import read_toml_model

if TYPE_CHECKING:
    from travel.domain.ramp import RampRequest


def read_request(path: Path, base: PlanRequest) -> PlanRequest:
    """Give ``base`` (site, machine, rulebooks, amendments, strict) with everything the request file says.

    Raises ``InputError`` with every fault: unknown keys, times without offset, parts this program does not plan yet.
    """
    wanted, _, _ = read_toml_model(path, RequestFile, "request")
    faults = [
        Fault(
            file=path.name,
            field=field,
            value=at.isoformat(),
            message="has no offset",
            allowed="RFC 3339 with offset, as in 2026-11-25T08:00:00+00:00",
        )
        for field, at in (("at", wanted.at), ("back.at", wanted.back.at if wanted.back else None))
        if at is not None and at.tzinfo is None
    ]
    faults += [
        Fault(
            file=path.name,
            field=field,
            value=str(value),
            message="says something about a trailer, and none is given",
            allowed="--trailer FILE",
        )
        for field, value in (("unload", wanted.unload), ("ramp", wanted.ramp))
        if value is not None and base.trailer is None
    ]
    if faults:
        raise InputError(faults)
    return replace(
        base,
        from_place=wanted.from_place,
        to_place=wanted.to_place,
        at=wanted.at,
        horizon_min=wanted.horizon_min,
        with_return=wanted.with_return,
        aim=wanted.aim,
        times=wanted.times or 1,
        load=_beside(path, wanted.load),
        weather=wanted.weather,
        unload=wanted.unload if base.unload is None else base.unload,
        ramp=wanted.ramp,
        back=None
        if wanted.back is None
        else TripConditions(at=wanted.back.at, weather=wanted.back.weather, load=_beside(path, wanted.back.load)),
        accept_unknown=tuple(Acceptance(id=item.id, reason=item.reason) for item in wanted.accept_unknown),
    )


def read_ramp_request(path: Path) -> RampRequest:
    """Give the question of a request file's ``[ramp]`` and ``[weather]``; what it leaves out is as without a file.

    Raises ``InputError`` with every fault.
    """
    from travel.domain.ramp import SLOPES, RampRequest

    wanted, _, _ = read_toml_model(path, RampRequestFile, "request")
    table, plain = wanted.ramp, RampRequest()
    return RampRequest(
        move=table.move or plain.move,
        first=table.first or plain.first,
        ground_slope_pct=table.ground_slope_pct or 0.0,
        ground_cross_slope_pct=table.ground_cross_slope_pct or 0.0,
        ground=wanted.weather.ground,
        not_stated=tuple(name for name in SLOPES if getattr(table, name) is None),
    )


def _beside(path: Path, name: str | None) -> Path | None:
    return None if name is None else path.parent / name
