"""Reach of one machine from one place, and a fleet of machines over many places."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from travel.domain.plan import Finding
from travel.domain.request import PlanRequest
from travel.domain.rules import Rulebook
from travel.domain.site import Doubt, Weather
from travel.domain.verdict import Verdict
from travel.planning.nearest import NETWORK
from travel.planning.reach import PlaceReach, reach_of
from travel.planning.spans import Spans
from travel.planning.trips import Prepared
from travel.service.cases import Sheets, read_sheets, trip_case
from travel.service.plan import check_request
from travel.service.workspace import Workspace, together
from travel.writers.changes_text import amendments_text
from travel.writers.files import write_whole
from travel.writers.geo import names_of
from travel.writers.numbers import length
from travel.writers.plan_gpkg import write_sheets
from travel.writers.plan_json import plain_json
from travel.writers.reach_page import Passable, Reached, ReachView, greatest_rows, reach_page, reach_sheets
from travel.writers.sentences import sentence, where_text
from travel.writers.text import isolated
from travel.writers.words import weather_and_hour

Tell = Callable[[str, float], None]
THERE_ONLY = "One way each, without the way back. A plan for the place itself decides."
WEATHER_HINTS = {"ground": "WORD", "temperature_c": "NUMBER", "wind_mps": "NUMBER"}
"""What ``--weather`` takes."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Reach:
    """What ``travel reach`` found."""

    request: PlanRequest
    site: str
    machine: str
    from_place: str
    rows: tuple[PlaceReach, ...]
    stretches: tuple[Passable, ...]
    weather: Weather
    rulebook: Rulebook
    workspace: Workspace
    doubts: tuple[Doubt, ...] = ()


def reach(request: PlanRequest, tell: Tell | None = None) -> Reach:
    """Give every place reached or not from one place, as plans for them one by one would, the way out only.

    Stretches and greatest sizes are looked at over the longest of the spans the places need.

    Args:
        request: the question; its ``to_place`` is left open
        tell: called with what is being done and the share done

    Raises:
        InputError: every fault of the files; a place the site does not have
    """
    workspace = Workspace(path=request.site, rulebooks=request.rulebooks, amendments=request.amendments)
    sheets, _ = together(
        lambda: read_sheets(request.machine, request.load),
        lambda: check_request(request, workspace.site, workspace.rulebook, ()),
    )
    told = tell or (lambda what, share: None)
    spans = spans_of(request, workspace, sheets, lambda what, share: told(what, 0.5 * share))
    start = request.from_place
    nodes = workspace.survey.network.place_node
    others = tuple(place for place, node in nodes.items() if node != nodes[start])
    found = spans.reached(start, others)
    longest = spans.prepared(max((one.span_s for one in found), default=0.0))
    return Reach(
        request=request,
        site=workspace.site.header.name,
        machine=sheets.machine.name,
        from_place=start,
        rows=reach_of(longest, start, [one.reach for one in found], lambda what, share: told(what, 0.6 + 0.4 * share)),
        stretches=_stretches(longest),
        weather=longest.case.weather,
        rulebook=workspace.rulebook,
        workspace=workspace,
        doubts=(*workspace.site.doubts, *workspace.survey.doubts, *sheets.doubts),
    )


def spans_of(request: PlanRequest, workspace: Workspace, sheets: Sheets, tell: Tell | None = None) -> Spans:
    """Give one machine's case for many places at once."""
    accepted = {item.id: item.reason for item in request.accept_unknown}
    case = trip_case(request, workspace, sheets, "out", 0.0)
    if tell is None:
        return Spans(case, accepted)
    return Spans(
        case,
        accepted,
        lambda share: tell("checking all roads", share),
        lambda count: tell(f"looking for the ways: {count} corners looked at", 1.0),
    )


def asked_json(request: PlanRequest, weather: Weather) -> dict[str, Any]:
    """Give what was asked of all places alike, by the names ``plan.json`` has for it."""
    return {
        "from": request.from_place,
        "at": request.at.isoformat() if request.at else None,
        "load": request.load.name if request.load else None,
        "weather": weather.model_dump(),
        "accept_unknown": [asdict(item) for item in request.accept_unknown],
        "amendments": [asdict(item) for item in request.amendments],
    }


def asked_rows(request: PlanRequest, weather: Weather) -> tuple[tuple[str, str], ...]:
    """Give in words what the answer holds for: weather, hour, changes, acceptances."""
    asked = asked_json(request, weather)
    rows = [("Holds for", weather_and_hour(asked["weather"], asked["at"]))]
    rows += [("Load", isolated(asked["load"]))] if asked["load"] else []
    rows += [("Changed for this answer", amendments_text(asked["amendments"]))] if asked["amendments"] else []
    accepted = [f"{isolated(item['id'])} ({isolated(item['reason'])})" for item in asked["accept_unknown"]]
    rows += [("Accepted unknowns", "; ".join(accepted))] if accepted else []
    lacking = {name: hint for name, hint in WEATHER_HINTS.items() if asked["weather"][name] is None}
    words = ",".join(f"{name}={hint}" for name, hint in lacking.items())
    said = f"{', '.join(lacking)}: rules that need it are unknown. To give it: --weather {words}"
    return (*rows, ("Weather not given", said)) if lacking else tuple(rows)


def doubt_rows(doubts: Sequence[Doubt]) -> tuple[tuple[str, str], ...]:
    """Give in words what is doubtful in the files, as a plan on them says it; nothing where nothing is."""
    return tuple(("Doubt about the input", isolated(doubt.text())) for doubt in dict.fromkeys(doubts))


def _stretches(prepared: Prepared) -> tuple[Passable, ...]:
    """Give every road by the best verdict over both directions and all configurations, like neighbours joined."""
    pieces, survey = prepared.case.survey.pieces, prepared.case.survey
    best = prepared.folded.worst.min(axis=(1, 2))
    out: list[Passable] = []
    for road, from_m, to_m, verdict in zip(pieces.road, pieces.from_m, pieces.to_m, best, strict=True):
        name, word = survey.site.layers["roads"].ids[int(road)], Verdict(int(verdict)).word
        if out and (out[-1].road, out[-1].verdict) == (name, word) and abs(out[-1].to_m - from_m) < 1e-6:
            out[-1] = replace(out[-1], to_m=float(to_m))
        else:
            out.append(Passable(road=name, from_m=float(from_m), to_m=float(to_m), verdict=word))
    return tuple(out)


def view_of(found: Reach) -> ReachView:
    """Give what page and GIS layers show."""
    names = names_of(found.workspace.site)
    rows = []
    for row in found.rows:
        binding = row.binding
        stopper = isolated(row.cut_off) if row.cut_off else ""
        if binding is not None:
            stopper = f"{sentence(binding, found.rulebook, names)} {where_text(binding.where, names)}"
            stopper += f" Accepted: {isolated(binding.accepted)}." if binding.accepted else ""
        rows.append(
            Reached(
                place=row.place,
                verdict=row.verdict,
                length_m=row.length_m,
                time_s=row.time_s,
                severity=binding.severity if binding and not binding.accepted else None,
                rule=binding.rule if binding else NETWORK if row.cut_off else "",
                stopper=stopper,
                greatest=row.greatest,
            )
        )
    return ReachView(
        machine=found.machine,
        from_place=found.from_place,
        asked=(*asked_rows(found.request, found.weather), *doubt_rows(found.doubts)),
        places=tuple(rows),
        stretches=found.stretches,
    )


def reach_text(found: Reach, as_json: bool) -> str:
    """Give what ``travel reach`` prints."""
    if as_json:
        content = {
            "request": asked_json(found.request, found.weather),
            "site": found.site,
            "machine": found.machine,
            "doubts": [doubt.text() for doubt in dict.fromkeys(found.doubts)],
            "places": [_row_json(row) for row in found.rows],
        }
        return json.dumps(plain_json(content), indent=2, ensure_ascii=False)
    lines = [f"{found.machine} on {found.site}, from {found.from_place}"]
    said_above = (*asked_rows(found.request, found.weather), *doubt_rows(found.doubts))
    lines += [*(f"{label}: {said}" for label, said in said_above), ""]
    order = {"clear": 0, "caution": 1, "unknown": 2, "blocked": 3}
    lines.append(f"{'place':<8} {'verdict':<8} {'way':>8} {'time':>8}  greatest that some way lets through")
    for row in sorted(found.rows, key=lambda r: (order[r.verdict], r.place)):
        way = "–" if row.length_m is None else length(row.length_m)
        time = "–" if row.time_s is None else f"{row.time_s / 60:.1f} min"
        great = ", ".join(f"{label} {said}" for label, said in greatest_rows(row.greatest))
        lines.append(f"{row.place:<8} {row.verdict:<8} {way:>8} {time:>8}  {great}")
        if row.binding is not None and row.verdict != "clear":
            lines.append(f"{'':<8} {'':<8} {_stopper(row.binding, found.rulebook)}")
        if row.cut_off:
            lines.append(f"{'':<8} {'':<8} {row.verdict}: {NETWORK}. {row.cut_off}")
    return "\n".join([*lines, "", THERE_ONLY])


def _stopper(finding: Finding, rulebook: Rulebook) -> str:
    where = " ".join(part for part in (finding.where.road, finding.where.feature) if part)
    word = f"{finding.verdict}, accepted ({finding.accepted})" if finding.accepted else finding.verdict
    return f"{word}: {finding.rule} at {where or finding.where.scope}. {sentence(finding, rulebook)}"


def _row_json(row: PlaceReach) -> dict[str, Any]:
    binding = row.binding
    return {
        "place": row.place,
        "verdict": row.verdict,
        "length_m": row.length_m,
        "time_s": row.time_s,
        "greatest": {name: None if value is None else rounded_down(value) for name, value in row.greatest.items()},
        "binding": None
        if binding is None
        else {
            "id": binding.id,
            "rule": binding.rule,
            "verdict": binding.verdict,
            "road": binding.where.road,
            "feature": binding.where.feature,
            "demand": binding.demand,
            "capacity": binding.capacity,
            "unit": binding.unit,
            "severity": binding.severity,
        },
        "cut_off": row.cut_off or None,
    }


def places_exit(verdicts: Iterable[str]) -> int:
    """Give the exit code for many places: 1 some place is not reached, 3 something is open on a way, 0 all clear."""
    found = set(verdicts)
    return 1 if "blocked" in found else 3 if found - {"clear"} else 0


def rounded_down(value: float) -> float:
    """Give a greatest size at the thousandth below it: what is told is never more than gets through.

    >>> rounded_down(39.99999979), rounded_down(15650.0)
    (39.999, 15650.0)
    """
    return math.floor(1000.0 * value + 1e-6) / 1000.0


def write_reach(found: Reach, folder: Path) -> tuple[Path, ...]:
    """Write ``reach.json``, ``reach.html`` and ``reach.gpkg`` whole into a folder and give their paths."""
    site, view = found.workspace.site, view_of(found)
    paths = (folder / "reach.json", folder / "reach.html", folder / "reach.gpkg")
    page = reach_page(view, site).encode("utf-8")
    write_whole(paths[0], (reach_text(found, as_json=True) + "\n").encode("utf-8"))
    write_whole(paths[1], page)
    write_sheets(paths[2], reach_sheets(view, site), site.crs_wkt)
    return paths
