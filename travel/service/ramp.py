"""On and off a trailer: read both sheets, ask the rules, find what helps, write."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import travel
from travel.checks import make_body
from travel.checks.ramp import RampCase
from travel.domain.machine import Machine
from travel.domain.ramp import SLOPES, RampRequest, RampResult
from travel.domain.rules import Rulebook
from travel.domain.site import Doubt, InputFile
from travel.domain.trailer import Trailer
from travel.errors import Fault, InputError
from travel.planning.ramp import ask_ramp
from travel.planning.ramp_compose import RampContext, compose_ramp
from travel.planning.ramp_remedies import ramp_remedies
from travel.readers.sheets import read_machine, read_trailer
from travel.rulebook import load_rulebook
from travel.service.cases import now
from travel.writers.files import write_whole
from travel.writers.ramp_json import ramp_to_bytes

if TYPE_CHECKING:
    from rich.console import RenderableType

Tell = Callable[[str, float], None]
ROUTINE = ("pre_travel",)


@dataclass(frozen=True, eq=False, kw_only=True)
class Ramped:
    """An answer with what it takes to write it."""

    result: RampResult
    rulebook: Rulebook
    trailer: Trailer


def make_ramp(
    machine: Path,
    trailer: Path,
    request: RampRequest,
    rulebooks: tuple[Path, ...] = (),
    tell: Tell | None = None,
) -> Ramped:
    """Give the answer for one machine and one trailer.

    Raises:
        InputError: every fault of both sheets and of the question
    """
    say = tell or (lambda what, share: None)
    say("reading the sheets", 0.0)
    rulebook = load_rulebook(rulebooks)
    sheet, rig, inputs, doubts = _read(machine, trailer, rulebook, request)
    body = make_body(sheet, None)
    assert body is not None  # the reader insists on a stowed attitude
    case = RampCase(machine=sheet, body=body, trailer=rig, request=request, rulebook=rulebook)
    say("rolling the machine on", 0.2)
    asked = ask_ramp(case)
    say("looking for what would help", 0.5)
    remedies = ramp_remedies(asked)
    context = RampContext(
        inputs=inputs,
        doubts=doubts,
        created_at=now(),
        program={"name": "machine-travel", "version": travel.__version__},
    )
    return Ramped(result=compose_ramp(asked, context, remedies), rulebook=rulebook, trailer=rig)


def _read(
    machine: Path, trailer: Path, rulebook: Rulebook, request: RampRequest
) -> tuple[Machine, Trailer, tuple[InputFile, ...], tuple[Doubt, ...]]:
    faults: list[Fault] = [*_words(request, rulebook)]
    sheet = rig = None
    inputs: list[InputFile] = []
    doubts: list[Doubt] = []
    try:
        sheet, more, record = read_machine(machine)
        inputs.append(record)
        doubts += more
    except InputError as error:
        faults += error.faults
    try:
        rig, more, record = read_trailer(trailer, rulebook.vocabulary)
        inputs.append(record)
        doubts += more
    except InputError as error:
        faults += error.faults
    if faults or sheet is None or rig is None:
        raise InputError(faults)
    return sheet, rig, tuple(inputs), tuple(doubts)


def _words(request: RampRequest, rulebook: Rulebook) -> list[Fault]:
    out = []
    for field, name, word in (
        ("surface", "surface", request.surface),
        ("weather", "ground", request.ground),
        ("jurisdiction", "jurisdiction", request.jurisdiction),
        ("move", "", request.move),
        ("first", "", request.first),
    ):
        allowed = {"move": ("load", "unload"), "first": ("nose", "tail")}.get(field) or rulebook.vocabulary.words(name)
        if word is not None and word not in allowed:
            out.append(
                Fault(file="command", field=field, value=word, message="is not a word here", allowed=", ".join(allowed))
            )
    for field, slope in (("ground-slope", request.ground_slope_pct), ("cross-slope", request.ground_cross_slope_pct)):
        if not abs(slope) <= 30.0:
            out.append(
                Fault(file="command", field=field, value=f"{slope:g}", message="is not possible", allowed="-30 to 30 %")
            )
    return out


def ramp_request(
    *,
    move: str | None = None,
    first: str | None = None,
    ground_slope: float | None = None,
    cross_slope: float | None = None,
    surface: str | None = None,
    weather: str = "",
    jurisdiction: str | None = None,
    file: Path | None = None,
) -> RampRequest:
    """Give the question: of a request file, the command line before it.

    Raises:
        InputError: every word or number that cannot be used
    """
    from travel.readers.request import read_ramp_request
    from travel.service.ask import weather_of

    base = read_ramp_request(file) if file is not None else RampRequest(not_stated=SLOPES)
    given = dict(zip(SLOPES, (ground_slope, cross_slope), strict=True))
    return RampRequest(
        move=move or base.move,  # type: ignore[arg-type]
        first=first or base.first,  # type: ignore[arg-type]
        ground_slope_pct=base.ground_slope_pct if ground_slope is None else ground_slope,
        ground_cross_slope_pct=base.ground_cross_slope_pct if cross_slope is None else cross_slope,
        surface=surface,
        ground=weather_of(weather).ground or base.ground,
        jurisdiction=jurisdiction,
        not_stated=tuple(name for name in base.not_stated if given[name] is None),
    )


def with_nose(request: RampRequest, nose: str | None) -> RampRequest:
    """Give the question with the slope's sign by the trailer's nose, up or down the slope; None leaves it.

    Raises:
        InputError: another word
    """
    if nose is None:
        return request
    if nose not in ("up", "down"):
        raise InputError(
            [Fault(file="command", field="--nose", value=nose, message="is not a word here", allowed="up, down")]
        )
    return replace(request, ground_slope_pct=abs(request.ground_slope_pct) * (1.0 if nose == "up" else -1.0))


def write_ramp(answer: Ramped, folder: Path) -> tuple[Path, ...]:
    """Write ``ramp.json``, the page and the side view (SVG and PNG) whole into a folder and give their paths."""
    from travel.writers.ramp_page import ramp_page
    from travel.writers.ramp_png import side_view_png
    from travel.writers.svg_ramp import side_view_file

    files = {
        "ramp.json": ramp_to_bytes(answer.result),
        "ramp.html": ramp_page(answer.result, answer.trailer, answer.rulebook).encode("utf-8"),
        "ramp.svg": side_view_file(answer.result).encode("utf-8"),
        "ramp.png": side_view_png(answer.result),
    }
    for name, data in files.items():
        write_whole(folder / name, data)
    return tuple(folder / name for name in files)


def ramp_folder(machine: Path, trailer: Path) -> Path:
    """Give ``maps/ramp-<machine>-<trailer>``."""
    return Path("maps") / f"ramp-{machine.stem}-{trailer.stem}"


def ramp_text(answer: Ramped, files: tuple[str, ...], as_json: bool) -> list[RenderableType] | str:
    """Give what ``travel ramp`` prints: the summary, or ``ramp.json`` itself."""
    if as_json:
        return ramp_to_bytes(answer.result).decode("utf-8").rstrip("\n")
    from travel.writers.ramp_summary import ramp_summary

    return ramp_summary(answer.result, answer.rulebook, files)


def ramp_exit(answer: Ramped) -> int:
    """Give the exit code: 0 yes and nothing open, 3 yes with something open, 1 no."""
    if answer.result.verdict == "blocked":
        return 1
    opened = any(condition.kind not in ROUTINE for condition in answer.result.conditions)
    return 3 if opened or answer.result.verdict != "clear" else 0
