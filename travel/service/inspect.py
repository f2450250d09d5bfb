"""What is doubtful or not known about a site, ranked by what one more measurement would settle."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from travel.domain.field_words import field_words
from travel.domain.plan import TravelPlan
from travel.domain.request import PlanRequest
from travel.domain.rules import Rulebook
from travel.service.plan import make_plan
from travel.service.workspace import Workspace
from travel.survey import Survey

_IN_THE_WAY = "It lies in or too near what the machine sweeps turning there: moved, protected, or another way taken."


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """One value somebody should get: where, which rules wait for it, how many metres of the way, how to get it safely.

    ``settles_m``: metres of the way for which this value alone is missing.
    """

    layer: str
    feature: str
    field: str
    rules: tuple[str, ...]
    metres: float
    settles_m: float
    acceptable: bool
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """What ``travel inspect`` found: ``gaps`` of the way asked for, most worth first; ``site_gaps`` elsewhere."""

    doubts: tuple[str, ...]
    undeclared: tuple[str, ...]
    gaps: tuple[Gap, ...]
    site_gaps: tuple[Gap, ...]
    way: str


def inspect(
    request: PlanRequest | None,
    site: Path,
    rulebooks: tuple[Path, ...] = (),
    progress: Callable[[str, float], None] | None = None,
) -> Inspection:
    """Look a site over; with a request also the ways that matter to it.

    Raises:
        InputError: every fault of the files
    """
    workspace = Workspace(path=site, rulebooks=rulebooks)
    survey, rulebook = workspace.survey, workspace.rulebook
    gaps: tuple[Gap, ...] = ()
    way = ""
    doubts = (*workspace.site.doubts, *survey.doubts)
    if request is not None:
        plan = make_plan(request, workspace, progress, remedies="none", outlook=False).plan
        gaps = _way_gaps(plan, rulebook)
        way = f"{request.from_place} → {request.to_place}: {plan.verdict}"
    asked = {(gap.layer, gap.feature, gap.field) for gap in gaps}
    undeclared = tuple(name for name in workspace.site.layers if workspace.site.note(name) is None)
    return Inspection(
        doubts=tuple(d.text() for d in doubts),
        undeclared=undeclared,
        gaps=gaps,
        site_gaps=tuple(g for g in _site_gaps(survey, rulebook) if (g.layer, g.feature, g.field) not in asked),
        way=way,
    )


def _way_gaps(plan: TravelPlan, rulebook: Rulebook) -> tuple[Gap, ...]:
    """Give the missing values behind a plan's unknown findings: nobody may accept first, then by metres settled."""
    rows: dict[tuple[str, str, str], list[tuple[str, float, bool, bool]]] = {}
    swept: set[tuple[str, str, str]] = set()
    for finding in plan.findings:
        if finding.verdict != "unknown":
            continue
        where = finding.where
        length = (where.to_m or 0.0) - (where.from_m or 0.0)
        if where.scope == "layer":
            length = sum(trip.length_m for trip in plan.trips if trip.trip == finding.trip)
        missing = finding.missing or (finding.reason,)
        for name in missing:
            key = _home(name, where.layer, where.feature, where.road)
            if finding.reason == "lies_there":
                swept.add(key)
            rows.setdefault(key, []).append((finding.rule, length, len(missing) == 1, finding.acceptable))
    gaps = [
        Gap(
            layer=layer,
            feature=feature,
            field=field,
            rules=tuple(dict.fromkeys(r[0] for r in found)),
            metres=max(r[1] for r in found),
            settles_m=max((r[1] for r in found if r[2]), default=0.0),
            acceptable=all(r[3] for r in found),
            how=_IN_THE_WAY if (layer, feature, field) in swept else _how(field, rulebook),
        )
        for (layer, feature, field), found in rows.items()
    ]
    return tuple(sorted(gaps, key=lambda g: (g.acceptable, -g.settles_m, -g.metres, g.layer, g.feature, g.field)))


def _home(name: str, layer: str | None, feature: str | None, road: str | None) -> tuple[str, str, str]:
    """Give layer, feature and field a missing name belongs to."""
    name = name.removesuffix(" told").removesuffix(" assumed").removesuffix(" lapsed")
    if name.startswith("surveyed."):
        return "site.toml", road or "", name
    if name.startswith(
        ("machine.", "brakes.", "load.", "carrying", "weather.", "gears.", "retarding", "steering", "view", "axles")
    ):
        return name.partition(".")[0], "", name
    return layer or "roads", feature or road or "", name


def _how(field: str, rulebook: Rulebook) -> str:
    names = [key.removeprefix("measure.") for key in rulebook.patterns.sentences if key.startswith("measure.")]
    best = max((name for name in names if field.startswith(name)), key=len, default="")
    return rulebook.patterns.sentences.get(f"measure.{best}", "") if best else ""


def _site_gaps(survey: Survey, rulebook: Rulebook) -> tuple[Gap, ...]:
    """Give the road columns with missing values, by metres of road."""
    roads = survey.site.layers["roads"]
    length = survey.pieces.length_m
    out = []
    for field in ("width_m", "surface", "sight_m", "traffic", "lit"):
        lacking = (
            np.array([v is None for v in survey.text(field)])
            if field in ("surface", "traffic")
            else np.isnan(survey.number(field))
        )
        out += _road_gaps(lacking, field, roads.ids, survey, length, rulebook)
    grade = np.isnan(survey.windowed(4.0).grade_worst)
    out += _road_gaps(grade, "grade", roads.ids, survey, length, rulebook)
    out += _road_gaps(np.isnan(survey.cross_slope_ratio), "cross_slope_pct", roads.ids, survey, length, rulebook)
    return tuple(sorted(out, key=lambda g: -g.metres))


def _road_gaps(
    lacking: np.ndarray[tuple[int], np.dtype[np.bool_]],
    field: str,
    ids: tuple[str, ...],
    survey: Survey,
    length: np.ndarray[tuple[int], np.dtype[np.float64]],
    rulebook: Rulebook,
) -> list[Gap]:
    metres = np.bincount(survey.pieces.road[lacking], weights=length[lacking], minlength=len(ids))
    return [
        Gap(
            layer="roads",
            feature=ids[i],
            field=field,
            rules=(),
            metres=float(metres[i]),
            settles_m=0.0,
            acceptable=True,
            how=_how(field, rulebook),
        )
        for i in np.flatnonzero(metres > 0)
    ]


def inspection_text(found: Inspection, as_json: bool) -> str:
    """Give what ``travel inspect`` prints."""
    if as_json:
        return json.dumps(asdict(found), indent=2, ensure_ascii=False)
    lines = [f"Doubts: {len(found.doubts)}", *(f"  {text}" for text in found.doubts)]
    if found.undeclared:
        lines += ["Nobody is recorded as having looked for: " + ", ".join(found.undeclared)]
    if found.way:
        lines += ["", f"What one more measurement would settle for {found.way}"]
        none = "  no way as it stands: travel remedy lists what would open one"
        none = none if found.way.endswith("blocked") else "  nothing is missing on it"
        lines += [_gap_line(number, gap) for number, gap in enumerate(found.gaps, 1)] or [none]
    elsewhere = " elsewhere" if found.way else ""
    lines += ["", f"Road values that most rules ask for, missing{elsewhere}: {len(found.site_gaps)}"]
    lines += [f"  {gap.feature}: {_named(gap.field)}, {gap.metres:.0f} m" for gap in found.site_gaps[:30]]
    if len(found.site_gaps) > 30:
        lines.append(f"  … and {len(found.site_gaps) - 30} more (--json lists all)")
    if not found.way:
        lines += ["", "With --machine, --from and --to: what is missing on the way of a machine, most worth first."]
    return "\n".join(lines)


def _gap_line(number: int, gap: Gap) -> str:
    where = " ".join(part for part in (gap.layer, gap.feature) if part)
    rank = "nobody may accept it unknown" if not gap.acceptable else "may be accepted by name and reason"
    if gap.settles_m:
        settles = f"settles {gap.settles_m:.0f} m alone"
    else:
        settles = f"one of several missing over {gap.metres:.0f} m" if gap.metres else "in a corner"
    line = f"  {number}. {where}: {_named(gap.field)} ({', '.join(gap.rules)}; {settles}; {rank})"
    return f"{line}\n     {gap.how}" if gap.how else line


def _named(field: str) -> str:
    """Give a column by its name in the file, with what it is in words."""
    words = field_words(field)
    return f"{field}, {words}" if words and words != field else field
