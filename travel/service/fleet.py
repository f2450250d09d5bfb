"""Machines × pick points: verdict, time, tightest finding, least remedy; resumable machine by machine."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import signal
import sys
from collections.abc import Callable, Generator, Mapping
from concurrent.futures import ProcessPoolExecutor
from contextlib import closing
from dataclasses import asdict, dataclass, fields, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import travel
from travel.domain.request import Acceptance, PlanRequest
from travel.domain.site import Amendment, Doubt, Weather
from travel.errors import Fault, InputError
from travel.planning.fleet import FleetPlace, places_of
from travel.planning.nearest import NETWORK
from travel.service.cases import Sheets, merged_weather, now, read_sheets
from travel.service.plan import check_apart, check_request
from travel.service.reach import THERE_ONLY, asked_json, asked_rows, doubt_rows, places_exit, spans_of
from travel.service.workspace import Workspace, together
from travel.writers.files import write_whole
from travel.writers.numbers import length, quantity
from travel.writers.plan_json import plain_json

Tell = Callable[[str, float], None]

PROCESSES = 2
"""Machines looked at side by side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetRow:
    """One machine to one place; the way out only.

    ``remedy``: where there is no way, the least change of site or machine found that opens one ("none found" without),
    with what it costs in the list of remedies.
    """

    machine: str
    place: str
    verdict: str
    length_m: float | None
    time_s: float | None
    binding: str
    at: str
    margin: str
    remedy: str
    remedy_cost: float | None


COLUMNS = [field.name for field in fields(FleetRow)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetRequest:
    """A folder of machines, from one place to the places named (none: every pick point).

    ``remedies``: whether to look for what opens a way where there is none; that takes most of the time.
    """

    site: Path
    machines: Path
    from_place: str
    to_places: tuple[str, ...] = ()
    weather: Weather
    at: dt.datetime | None = None
    rulebooks: tuple[Path, ...] = ()
    accept_unknown: tuple[Acceptance, ...] = ()
    amendments: tuple[Amendment, ...] = ()
    remedies: bool = True

    def of(self, machine: Path) -> PlanRequest:
        """Give what is asked of one machine; ``to_place`` is left open."""
        return PlanRequest(
            site=self.site,
            machine=machine,
            from_place=self.from_place,
            to_place="",
            at=self.at,
            weather=self.weather,
            rulebooks=self.rulebooks,
            accept_unknown=self.accept_unknown,
            amendments=self.amendments,
            with_return=False,
        )


def fleet_request(asked: PlanRequest, to_places: tuple[str, ...], remedies: bool) -> FleetRequest:
    """Give the question for a folder of machines, named in the place of one machine."""
    return FleetRequest(
        site=asked.site,
        machines=asked.machine,
        from_place=asked.from_place,
        to_places=to_places,
        weather=asked.weather,
        at=asked.at,
        rulebooks=asked.rulebooks,
        accept_unknown=asked.accept_unknown,
        amendments=asked.amendments,
        remedies=remedies,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """What ``travel fleet`` found; ``weather`` as known, with what the site declares."""

    request: FleetRequest
    weather: Weather
    rows: tuple[FleetRow, ...]
    doubts: tuple[Doubt, ...] = ()


def fleet(request: FleetRequest, progress_file: Path | None = None, tell: Tell | None = None) -> Fleet:
    """Give every machine of a folder against every pick point (or the places named).

    Rows already in ``progress_file`` for the same inputs are taken from there; each finished machine is added to it.

    Raises:
        InputError: every fault of site, sheets and places
    """
    workspace = Workspace(path=request.site, rulebooks=request.rulebooks, amendments=request.amendments)
    sheets, done, _ = together(
        lambda: _read_machines(request.machines),
        lambda: _read_progress(progress_file),
        lambda: check_request(request.of(request.machines), workspace.site, workspace.rulebook, request.to_places),
    )
    request = replace(request, to_places=_goals(request, workspace))
    rows: list[FleetRow] = []
    keys = {path: _key(path, sheets[path], workspace, request) for path in sheets}
    left = {path: sheets[path] for path in sheets if keys[path] not in done}
    with closing(_found(left, workspace, request, tell)) as found:
        for number, path in enumerate(sheets, 1):
            if path in left:
                done[keys[path]] = [asdict(row) for row in next(found)]
                if progress_file is not None:
                    write_whole(progress_file, (json.dumps(done, ensure_ascii=False) + "\n").encode("utf-8"))
            rows += [FleetRow(**row) for row in done[keys[path]]]
            if tell:
                tell(f"{path.stem}", number / len(sheets))
    weather = merged_weather(request.weather, workspace.site.header.weather)
    of_sheets = (doubt for sheet in sheets.values() for doubt in sheet.doubts)
    doubts = (*workspace.site.doubts, *workspace.survey.doubts, *of_sheets)
    return Fleet(request=request, weather=weather, rows=tuple(rows), doubts=doubts)


def _read_machines(folder: Path) -> dict[Path, Sheets]:
    """Read every sheet of a folder before any is looked at: every fault of all of them at once."""
    paths = sorted(folder.glob("*.toml")) if folder.is_dir() else []
    if not paths:
        raise InputError(
            [Fault(file=str(folder), message="holds no machine sheets", allowed="a folder of .toml files")]
        )
    return dict(zip(paths, together(*(partial(read_sheets, path) for path in paths)), strict=True))


def _goals(request: FleetRequest, workspace: Workspace) -> tuple[str, ...]:
    """Give the places asked for, or every pick point but one where the machines start."""
    node = workspace.survey.network.place_node
    for place in request.to_places:
        check_apart(request.from_place, place, node)
    if request.to_places:
        return tuple(dict.fromkeys(request.to_places))
    places = workspace.site.layers["places"]
    kinds = zip(places.ids, places.text("kind"), strict=True)
    return tuple(place for place, kind in kinds if kind == "pick_point" and node[place] != node[request.from_place])


def _found(
    sheets: Mapping[Path, Sheets], workspace: Workspace, request: FleetRequest, tell: Tell | None
) -> Generator[list[FleetRow], None, None]:
    """Give the rows of some machines, in their order: several at a time where a process can share the site as read."""
    if len(sheets) < PROCESSES or sys.platform != "linux":
        for number, (path, sheet) in enumerate(sheets.items()):
            told = None if tell is None else _telling(tell, path.stem, number, len(sheets))
            yield _machine_rows(path, sheet, workspace, request, told)
        return
    if tell:
        tell("surveying the roads", 0.0)
    assert workspace.survey is not None  # before the processes part, so that each has it
    pool = ProcessPoolExecutor(
        PROCESSES, mp_context=get_context("fork"), initializer=_share, initargs=(sheets, workspace, request)
    )
    try:
        yield from pool.map(_shared_rows, sheets)
    finally:
        pool.shutdown(cancel_futures=True)


_SHARED: list[tuple[Mapping[Path, Sheets], Workspace, FleetRequest]] = []
"""In a process of its own: the sheets, the site and what is asked of every machine."""


def _share(sheets: Mapping[Path, Sheets], workspace: Workspace, request: FleetRequest) -> None:
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # who stops the command stops it silently
    _SHARED[:] = [(sheets, workspace, request)]


def _shared_rows(path: Path) -> list[FleetRow]:
    sheets, workspace, request = _SHARED[0]
    return _machine_rows(path, sheets[path], workspace, request, None)


def _key(path: Path, sheets: Sheets, workspace: Workspace, request: FleetRequest) -> str:
    books = [book.sha256 for book in workspace.rulebook.books]
    text = json.dumps(
        [
            COLUMNS,
            now().date().isoformat(),
            travel.__version__,
            path.stem,
            request.remedies,
            [record.sha256 for record in sheets.inputs],
            workspace.site.digest,
            books,
            request.from_place,
            list(request.to_places),
            asked_json(request.of(path), request.weather),
        ]
    )
    return hashlib.sha256(text.encode()).hexdigest()


def _read_progress(path: Path | None) -> dict[str, list[dict[str, Any]]]:
    if path is None or not path.exists():
        return {}
    try:
        found: dict[str, list[dict[str, Any]]] = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise InputError([Fault(file=str(path), message=f"is no progress file: {error}")]) from error
    if not (isinstance(found, dict) and all(_is_progress(rows) for rows in found.values())):
        raise InputError([Fault(file=str(path), message="is no progress file, and would be written over")])
    return found


def _is_progress(rows: object) -> bool:
    """Tell whether this may be the rows of one machine, of this or an older version."""
    return isinstance(rows, list) and all(isinstance(row, dict) and "machine" in row for row in rows)


def _machine_rows(
    path: Path, sheets: Sheets, workspace: Workspace, request: FleetRequest, tell: Tell | None
) -> list[FleetRow]:
    spans = spans_of(request.of(path), workspace, sheets)
    found = places_of(spans, request.from_place, request.to_places, request.remedies, tell)
    return [_row(path.stem, one, request.remedies) for one in found]


def _telling(tell: Tell, machine: str, number: int, count: int) -> Tell:
    return lambda what, share: tell(f"{machine}: {what}", (number + share) / count)


def _row(machine: str, found: FleetPlace, remedies: bool) -> FleetRow:
    reach, binding = found.reach, found.reach.binding
    where = " ".join(p for p in (binding.where.road, binding.where.feature) if p) if binding else ""
    margin = "" if binding is None or binding.margin is None else quantity(binding.margin, binding.unit)
    return FleetRow(
        machine=machine,
        place=reach.place,
        verdict=reach.verdict,
        length_m=reach.length_m,
        time_s=reach.time_s,
        binding=binding.rule if binding else NETWORK if reach.cut_off else "",
        at=where or reach.cut_off.rstrip("."),
        margin=margin,
        remedy=found.remedy or ("none found" if remedies and reach.length_m is None else ""),
        remedy_cost=found.cost,
    )


def fleet_text(found: Fleet, as_json: bool) -> str:
    """Give the table: a block a machine, a line a place, and one more where something would have to change."""
    asked = found.request.of(found.request.machines)
    if as_json:
        content = {
            "request": asked_json(asked, found.weather),
            "doubts": [doubt.text() for doubt in dict.fromkeys(found.doubts)],
            "rows": [_row_json(row) for row in found.rows],
        }
        return json.dumps(plain_json(content), indent=2, ensure_ascii=False)
    said_above = (*asked_rows(asked, found.weather), *doubt_rows(found.doubts))
    lines = [f"{label}: {said}" for label, said in said_above]
    machine = ""
    for row in found.rows:
        if row.machine != machine:
            machine = row.machine
            lines += ["", machine]
        time = "–" if row.time_s is None else f"{row.time_s / 60:.1f} min"
        way = "–" if row.length_m is None else length(row.length_m)
        stop = f"{row.binding} {row.at} {('(' + row.margin + ')') if row.margin else ''}" if row.binding else ""
        lines.append(f"  {row.place:<8} {row.verdict:<8} {way:>8} {time:>9}  {stop}".rstrip())
        if row.remedy:
            cost = "" if row.remedy_cost is None else f" (cost {row.remedy_cost:.1f})"
            lines.append(f"  {'':<8} least remedy found: {row.remedy}{cost}")
    return "\n".join([*lines, "", THERE_ONLY])


def _row_json(row: FleetRow) -> dict[str, Any]:
    """Give a row with its cost rounded as any cost in JSON."""
    return asdict(row) | {"remedy_cost": plain_json({"cost": row.remedy_cost})["cost"]}


def fleet_exit(found: Fleet) -> int:
    """Give the exit code: 1 some place is not reached by some machine, 3 something is open on a way, 0 all clear."""
    return places_exit(row.verdict for row in found.rows)
