"""Reach of one machine from one place, and a fleet of machines over many places."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from travel.domain.plan import Finding
from travel.domain.rules import Rulebook
from travel.domain.site import Weather
from travel.domain.verdict import Verdict
from travel.errors import Fault, InputError
from travel.planning import prepare
from travel.planning.reach import PlaceReach, reach_of
from travel.planning.trips import Prepared
from travel.service.cases import make_case, merged_weather, read_sheets
from travel.service.workspace import Workspace
from travel.writers.files import write_whole
from travel.writers.geo import names_of
from travel.writers.plan_gpkg import write_sheets
from travel.writers.reach_page import Passable, Reached, ReachView, greatest_rows, reach_page, reach_sheets
from travel.writers.sentences import sentence, where_text

Tell = Callable[[str, float], None]
THERE_ONLY = "One way each, without the way back. A plan for the place itself decides."


@dataclass(frozen=True, eq=False, kw_only=True)
class Reach:
    """What ``travel reach`` found."""

    site: str
    machine: str
    from_place: str
    rows: tuple[PlaceReach, ...]
    stretches: tuple[Passable, ...]
    weather: Weather
    rulebook: Rulebook
    workspace: Workspace


def reach(
    site: Path,
    machine: Path,
    from_place: str,
    weather: Weather,
    rulebooks: tuple[Path, ...] = (),
    load: Path | None = None,
    tell: Tell | None = None,
) -> Reach:
    """Give every place reached or not from one place.

    Raises:
        InputError: every fault of the files; a place the site does not have
    """
    workspace = Workspace(path=site, rulebooks=rulebooks)
    sheets = read_sheets(machine, load)
    check_place(workspace, "from", from_place)
    merged = merged_weather(weather, workspace.site.header.weather)
    case = make_case(workspace, sheets.machine, sheets.load, weather=merged, file=machine.name)
    prepared = prepare(case, progress=lambda share: tell("checking all roads", share) if tell else None)
    return Reach(
        site=workspace.site.header.name,
        machine=sheets.machine.name,
        from_place=from_place,
        rows=reach_of(prepared, from_place),
        stretches=_stretches(prepared),
        weather=merged,
        rulebook=workspace.rulebook,
        workspace=workspace,
    )


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
        stopper = ""
        if binding is not None:
            stopper = f"{sentence(binding, found.rulebook, names)} {where_text(binding.where, names)}"
        rows.append(
            Reached(
                place=row.place,
                verdict=row.verdict,
                length_m=row.length_m,
                time_s=row.time_s,
                severity=binding.severity if binding else None,
                rule=binding.rule if binding else "",
                stopper=stopper,
                greatest=row.greatest,
            )
        )
    return ReachView(
        machine=found.machine,
        from_place=found.from_place,
        weather=found.weather.model_dump(),
        places=tuple(rows),
        stretches=found.stretches,
    )


def check_place(workspace: Workspace, field: str, place: str) -> None:
    """Refuse a place the site does not have, listing those it has."""
    places = workspace.site.layers["places"].ids
    if place not in places:
        raise InputError(
            [
                Fault(
                    file="request",
                    field=field,
                    value=place,
                    message="is not a place of this site",
                    allowed=", ".join(places),
                )
            ]
        )


def reach_text(found: Reach, as_json: bool) -> str:
    """Give what ``travel reach`` prints."""
    if as_json:
        return json.dumps([_row_json(row) for row in found.rows], indent=2, ensure_ascii=False)
    lines = [f"{found.machine} on {found.site}, from {found.from_place}", ""]
    order = {"clear": 0, "caution": 1, "unknown": 2, "blocked": 3}
    lines.append(f"{'place':<8} {'verdict':<8} {'way':>8} {'time':>8}  greatest that some way lets through")
    for row in sorted(found.rows, key=lambda r: (order[r.verdict], r.place)):
        way = "–" if row.length_m is None else f"{row.length_m:.0f} m"
        time = "–" if row.time_s is None else f"{row.time_s / 60:.1f} min"
        great = ", ".join(f"{label} {said}" for label, said in greatest_rows(row.greatest))
        lines.append(f"{row.place:<8} {row.verdict:<8} {way:>8} {time:>8}  {great}")
        if row.binding is not None and row.verdict != "clear":
            lines.append(f"{'':<8} {'':<8} {_stopper(row.binding, found.rulebook)}")
    return "\n".join([*lines, "", THERE_ONLY])


def _stopper(finding: Finding, rulebook: Rulebook) -> str:
    where = " ".join(part for part in (finding.where.road, finding.where.feature) if part)
    return f"{finding.verdict}: {finding.rule} at {where or finding.where.scope}. {sentence(finding, rulebook)}"


def _row_json(row: PlaceReach) -> dict[str, Any]:
    binding = row.binding
    return {
        "place": row.place,
        "verdict": row.verdict,
        "length_m": row.length_m,
        "time_s": row.time_s,
        "greatest": row.greatest,
        "binding": None
        if binding is None
        else {
            "rule": binding.rule,
            "verdict": binding.verdict,
            "road": binding.where.road,
            "feature": binding.where.feature,
            "demand": binding.demand,
            "capacity": binding.capacity,
            "unit": binding.unit,
            "severity": binding.severity,
        },
    }


def reach_exit(found: Reach) -> int:
    """Give the exit code: 0 every place reached clear, 3 some open or not reached."""
    return 0 if all(row.verdict == "clear" for row in found.rows) else 3


def write_reach(found: Reach, folder: Path) -> tuple[Path, ...]:
    """Write ``reach.json``, ``reach.html`` and ``reach.gpkg`` whole into a folder and give their paths."""
    site, view = found.workspace.site, view_of(found)
    paths = (folder / "reach.json", folder / "reach.html", folder / "reach.gpkg")
    page = reach_page(view, site).encode("utf-8")
    write_whole(paths[0], (reach_text(found, as_json=True) + "\n").encode("utf-8"))
    write_whole(paths[1], page)
    write_sheets(paths[2], reach_sheets(view, site), site.crs_wkt)
    return paths
