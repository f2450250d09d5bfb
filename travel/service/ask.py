"""The words of a command into a PlanRequest; every fault at once."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

from pydantic import ValidationError

from travel.domain.layers import LAYERS
from travel.domain.request import Acceptance, PlanRequest, TripConditions
from travel.domain.site import Amendment, Weather
from travel.errors import Fault, InputError

_AMEND = re.compile(
    r"^(?P<layer>[a-z_]+):(?P<feature>[^:]+):(?P<field>[a-z_]+)=(?P<value>[^@]*)"
    r"(?:@(?P<start>[0-9]+(?:\.[0-9]*)?)-(?P<end>[0-9]+(?:\.[0-9]*)?))?$"
)


def plan_request(  # noqa: PLR0913 - one argument an option
    *,
    site: Path,
    machine: Path,
    from_place: str | None,
    to_place: str | None,
    weather: str = "",
    at: str | None = None,
    load: Path | None = None,
    aim: str = "exposure",
    rulebooks: tuple[Path, ...] = (),
    accept_unknown: tuple[str, ...] = (),
    amendments: tuple[str, ...] = (),
    with_return: bool = True,
    strict: bool = False,
    back: TripConditions | None = None,
    request_file: Path | None = None,
    trailer: Path | None = None,
    unload: str | None = None,
) -> PlanRequest:
    """Give the request a command's words ask for.

    Raises:
        InputError: every word that cannot be read
    """
    faults: list[Fault] = []
    if request_file is None:
        faults += [
            _fault(name, "", "is needed", "a place of the site, or --request FILE")
            for name, value in (("--from", from_place), ("--to", to_place))
            if value is None
        ]
    else:
        given = {"--from": from_place, "--to": to_place, "--weather": weather, "--at": at, "--load": load}
        faults += [
            _fault(name, str(value), "is said in the request file already", "one of the two")
            for name, value in given.items()
            if value
        ]
    if unload is not None and trailer is None:
        faults.append(_fault("--unload", unload, "needs a trailer", "--trailer FILE"))
    request = PlanRequest(
        site=site,
        machine=machine,
        from_place=from_place or "",
        to_place=to_place or "",
        at=_time(at, faults),
        load=load,
        aim=aim,
        weather=_weather(weather, faults),
        rulebooks=rulebooks,
        with_return=with_return,
        strict=strict,
        back=back,
        trailer=trailer,
        unload=unload,
        accept_unknown=tuple(_acceptance(text, faults) for text in accept_unknown),
        amendments=tuple(_amendment(text, faults) for text in amendments),
    )
    if faults:
        raise InputError(faults)
    if request_file is None:
        return request
    from travel.readers.request import read_request

    return read_request(request_file, request)


def _fault(option: str, value: str, message: str, allowed: str) -> Fault:
    return Fault(file="command", field=option, value=value, message=message, allowed=allowed)


def _time(text: str | None, faults: list[Fault]) -> dt.datetime | None:
    if text is None:
        return None
    allowed = "RFC 3339 with offset, as in 2026-11-25T08:00:00+00:00"
    try:
        at = dt.datetime.fromisoformat(text)
    except ValueError:
        faults.append(_fault("--at", text, "is not a time", allowed))
        return None
    if at.tzinfo is None:
        faults.append(_fault("--at", text, "has no offset", allowed))
    return at


def _weather(text: str, faults: list[Fault]) -> Weather:
    values: dict[str, str] = {}
    allowed = "ground=WORD,temperature_c=NUMBER,wind_mps=NUMBER"
    for part in filter(None, (p.strip() for p in text.split(","))):
        key, equals, value = part.partition("=")
        if not equals or key not in Weather.model_fields:
            faults.append(_fault("--weather", part, "cannot be read", allowed))
        elif key in values:
            faults.append(_fault("--weather", part, f"{key} is said twice", allowed))
        else:
            values[key] = value
    try:
        return Weather.model_validate(values)
    except ValidationError as error:
        for item in error.errors():
            faults.append(_fault("--weather", f"{item['loc'][0]}={item['input']}", item["msg"], allowed))
        return Weather()


def _acceptance(text: str, faults: list[Fault]) -> Acceptance:
    name, colon, reason = text.partition(":")
    if not colon or not name.strip() or not reason.strip():
        faults.append(_fault("--accept-unknown", text, "needs an id and a reason", "ID:REASON, the finding's id"))
    return Acceptance(id=name.strip(), reason=reason.strip())


def _amendment(text: str, faults: list[Fault]) -> Amendment:
    match = _AMEND.match(text)
    if not match:
        faults.append(_fault("--amend", text, "cannot be read", "layer:feature:field=value[@from-to]"))
        return Amendment(layer="", feature="", field="", value=None)
    start, end = match["start"], match["end"]
    return Amendment(
        layer=match["layer"],
        feature=match["feature"],
        field=match["field"],
        value=_value(match["layer"], match["field"], match["value"]),
        from_m=float(start) if start else None,
        to_m=float(end) if end else None,
        reason="asked on the command line",
    )


def _value(layer: str, field: str, text: str) -> float | str | bool | None:
    """Give a value as its column takes it: what a text or an id looks like does not matter."""
    entry = LAYERS[layer].field(field) if layer in LAYERS else None
    if text == "":
        return None
    if entry is not None and entry.kind not in ("number", "integer", "flag"):
        return text
    if text in ("true", "false"):
        return text == "true"
    try:
        return float(text)
    except ValueError:
        return text


def inspect_request(
    site: Path,
    machine: Path | None,
    from_place: str | None,
    to_place: str | None,
    weather: str,
    load: Path | None,
    rulebooks: tuple[Path, ...],
) -> PlanRequest | None:
    """Give the request whose ways matter to an inspection, or None where only the site is looked over."""
    named = {"--machine": machine, "--from": from_place, "--to": to_place}
    lacking = [name for name, value in named.items() if value is None]
    if len(lacking) == len(named):
        return None
    if machine is None or from_place is None or to_place is None:
        raise InputError(
            [_fault(name, "", "is needed with the others", "--machine, --from and --to together") for name in lacking]
        )
    return plan_request(
        site=site,
        machine=machine,
        from_place=from_place,
        to_place=to_place,
        weather=weather,
        load=load,
        rulebooks=rulebooks,
    )


def places_request(  # noqa: PLR0913 - one argument an option
    *,
    site: Path,
    machine: Path,
    from_place: str,
    weather: str = "",
    at: str | None = None,
    load: Path | None = None,
    rulebooks: tuple[Path, ...] = (),
    accept_unknown: tuple[str, ...] = (),
    amendments: tuple[str, ...] = (),
) -> PlanRequest:
    """Give the request for many places at once: one way each, ``to_place`` left open."""
    return plan_request(
        site=site,
        machine=machine,
        from_place=from_place,
        to_place="",
        weather=weather,
        at=at,
        load=load,
        rulebooks=rulebooks,
        accept_unknown=accept_unknown,
        amendments=amendments,
        with_return=False,
    )


def weather_of(text: str) -> Weather:
    """Read ``ground=…,temperature_c=…,wind_mps=…``; every fault at once."""
    faults: list[Fault] = []
    weather = _weather(text, faults)
    if faults:
        raise InputError(faults)
    return weather
