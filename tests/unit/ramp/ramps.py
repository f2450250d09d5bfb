"""Trailers and cases for the tests of ramps: the demo's sheets with single values changed by key path."""

from __future__ import annotations

import os
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from tests import builders
from travel.checks import make_body
from travel.checks.ramp import RampCase, RampFacts, ramp_answers
from travel.domain.machine import Machine
from travel.domain.ramp import RampRequest
from travel.domain.trailer import Trailer
from travel.domain.verdict import Verdict
from travel.planning.ramp import RampAsked, ask_ramp
from travel.rulebook import load_rulebook
from travel.service.ramp import Ramped, make_ramp

DEMO = Path(builders.__file__).resolve().parents[1] / "demo_site"
RULEBOOK = load_rulebook()
HERE = {"surface": "asphalt", "ground": "wet", "jurisdiction": "gb"}


def demo_answer(name: str = "semi_low_loader", **request: Any) -> Ramped:
    """Give what is answered about the demo's middle machine and one of its trailers: once a day and question."""
    return _answered(name, tuple(sorted((HERE | request).items())), os.environ["SOURCE_DATE_EPOCH"])


@cache
def _answered(name: str, request: tuple[tuple[str, Any], ...], _day: str) -> Ramped:
    return ask_demo(name, **dict(request))


def ask_demo(name: str = "semi_low_loader", **request: Any) -> Ramped:
    """Ask the same anew."""
    machine, trailer = DEMO / "machines" / "middle.toml", DEMO / "trailers" / f"{name}.toml"
    return make_ramp(machine, trailer, RampRequest(**HERE | request))


def changed(content: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """Give a sheet with changes by key path (``a__0__b``); None drops the key."""
    for path, value in changes.items():
        *parts, last = [int(part) if part.isdigit() else part for part in path.split("__")]
        table: Any = content
        for part in parts:
            table = table[part] if isinstance(part, int) else table.setdefault(part, {})
        if value is None:
            table.pop(last)
        else:
            table[last] = value
    return content


def sheet(name: str, /, **changes: Any) -> dict[str, Any]:
    """Give a trailer's sheet of the demo with changes."""
    return changed(tomllib.loads((DEMO / "trailers" / f"{name}.toml").read_text("utf-8")), changes)


def machine(**changes: Any) -> Machine:
    """Give the demo's middle machine with changes."""
    content = tomllib.loads((DEMO / "machines" / "middle.toml").read_text("utf-8"))
    return Machine.model_validate(changed(content, changes))


def ramp_case(
    name: str = "semi_low_loader",
    *,
    request: dict[str, Any] | None = None,
    own: dict[str, Any] | None = None,
    **changes: Any,
) -> RampCase:
    """Give a case: trailer changes by keyword, the machine's by ``own``, the question's by ``request``."""
    asked = {key: value for key, value in (HERE | (request or {})).items() if value is not None}
    sheet_of = machine(**(own or {}))
    body = make_body(sheet_of, None)
    assert body is not None
    return RampCase(
        machine=sheet_of,
        body=body,
        trailer=Trailer.model_validate(sheet(name, **changes)),
        request=RampRequest(**asked),
        rulebook=RULEBOOK,
    )


def asked(*args: Any, **kwargs: Any) -> RampAsked:
    """Ask every rule of a case."""
    return ask_ramp(ramp_case(*args, **kwargs))


def verdicts(case: RampCase, *rules: str) -> dict[str, Verdict]:
    """Give the worst verdict of each rule."""
    out: dict[str, Verdict] = {}
    for answer in ramp_answers(RampFacts(case=case), frozenset(rules) if rules else None):
        out[answer.rule] = max(out.get(answer.rule, Verdict.CLEAR), answer.verdict)
    return out
