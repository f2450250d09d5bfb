"""What ``travel plan`` prints: the answer, the flags, what is open, what was looked at."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from travel.domain.plan import Finding, TravelPlan
from travel.domain.rules import Rulebook
from travel.writers.haul_words import haul_sections
from travel.writers.numbers import ranges
from travel.writers.sentences import missing_text, sentence, source_text, where_text
from travel.writers.text import isolated, plain
from travel.writers.together import gathered, known_nowhere
from travel.writers.words import (
    TRIP_WORDS,
    also,
    by_severity,
    cautions,
    checked_line,
    holds_for,
    metres_text,
    nearest_text,
    not_built,
    open_conditions,
    open_unknowns,
    outcome_text,
    proof_text,
    stop_text,
    stopped_by_texts,
    trip_line,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

WIDTH = 100
_STYLE = {"blocked": "bold red", "unknown": "bold magenta", "caution": "yellow", "clear": "green"}


def summary(plan: TravelPlan, rulebook: Rulebook, files: Sequence[str] = ()) -> list[RenderableType]:
    """Give the summary as rich renderables, in order; nothing in them is read as markup."""
    parts: list[RenderableType] = [*_answer(plan)]
    parts += _nearest(plan, rulebook)
    parts += _flags(plan, rulebook)
    parts += _stops(plan)
    parts += _open(plan, rulebook)
    parts += _remedies(plan)
    for heading, lines in haul_sections(plan):
        parts += _listed(heading, lines)
    for heading, lines in also(plan):
        parts += _listed(heading, lines)
    parts += _looked_at(plan)
    parts += _listed("Before anything moves", cautions(plan))
    parts += _listed("Doubts about the input", plan.doubts)
    parts += _listed("Written", files)
    return parts


def summary_text(plan: TravelPlan, rulebook: Rulebook, files: Sequence[str] = (), width: int = WIDTH) -> str:
    """Give the summary as plain text without colour, for pipes and files."""
    from rich.console import Console

    stream = io.StringIO()
    console = Console(file=stream, width=width, no_color=True, highlight=False, markup=False, emoji=False)
    for part in summary(plan, rulebook, files):
        console.print(part)
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines()) + "\n"


def _answer(plan: TravelPlan) -> list[RenderableType]:
    from travel.writers.terminal import Kept

    style = _STYLE["blocked" if plan.outcome == "no_way" else plan.verdict]
    title = f"{plain(plan.machine.get('name', 'machine'))} on {plain(plan.site.get('name', 'site'))}"
    asked = f"{isolated(plan.request.get('from', '?'))} → {isolated(plan.request.get('to', '?'))}"
    lines: list[RenderableType] = [
        Kept(f"{title}, {asked}"),
        Kept((f"{plan.verdict.upper()}  ", style), (outcome_text(plan), "bold")),
    ]
    for trip in plan.trips:
        lines.append(Kept(f"{TRIP_WORDS[trip.trip]}: {trip_line(plan, trip)}"))
        if trip.found:
            lines.append(Kept(f"  {metres_text(trip)}"))
    lines.append(Kept(f"Holds for: {holds_for(plan)}"))
    return lines


def _heading(text: str) -> RenderableType:
    from travel.writers.terminal import Kept

    return Kept(f"\n{text}", style="bold")


def _rows(rows: Iterable[tuple[str, ...]]) -> RenderableType:
    """Give rows in columns that line up; the last one wraps under itself."""
    from rich.table import Table

    from travel.writers.terminal import Kept

    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0), pad_edge=False)
    found = [tuple(Kept(cell) for cell in row) for row in rows]
    for column in range(len(found[0])):
        table.add_column(no_wrap=column < len(found[0]) - 1, overflow="fold")
    for row in found:
        table.add_row(*row)
    return table


def _listed(heading: str, lines: Sequence[str]) -> list[RenderableType]:
    return [_heading(heading), _rows(("-", plain(line)) for line in lines)] if lines else []


def _nearest(plan: TravelPlan, rulebook: Rulebook) -> list[RenderableType]:
    lines = []
    for nearest in plan.nearest:
        lines.append(nearest_text(nearest))
        lines += [f"stopped by {text}" for text in stopped_by_texts(nearest, rulebook)]
    return _listed("How far it gets", lines)


def _said(finding: Finding, rulebook: Rulebook) -> str:
    """Give a finding in words; what is unknown begins with what was asked, for its sentence only tells what lacks."""
    said, rule = sentence(finding, rulebook), rulebook.rules.get(finding.rule)
    if finding.verdict != "unknown" or rule is None or said.startswith(rule.title):
        return said
    return f"{rule.title}. {said}"


def _flag_row(found: Sequence[Finding], plan: TravelPlan, rulebook: Rulebook) -> tuple[str, ...]:
    """Give one row for findings that say the same of different places."""
    first = found[0]
    notes = ["; ".join(dict.fromkeys(where_text(finding.where) for finding in found))]
    if first.source:
        notes.append(f"source: {source_text(first.source, rulebook, plan.sources)}")
    if first.accepted:
        notes.append(f"accepted: {isolated(first.accepted)}")
    elif first.verdict == "unknown" and not first.acceptable:
        notes.append("nobody may accept this on a form")
    trips = ", ".join(dict.fromkeys(finding.trip for finding in found))
    said = f"{_said(first, rulebook)}\n({'; '.join(notes)})"
    if len(found) == 1:
        return (str(first.flag), first.verdict, trips, said)
    return (f"{len(found)} ×", first.verdict, trips, f"{said} Flags {ranges(finding.flag for finding in found)}.")


def _alike(found: Sequence[Finding], rulebook: Rulebook) -> list[list[Finding]]:
    """Put findings together that say the same."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for finding in found:
        key = (finding.verdict, _said(finding, rulebook), finding.source, finding.accepted, finding.acceptable)
        groups.setdefault(key, []).append(finding)
    return list(groups.values())


def _flags(plan: TravelPlan, rulebook: Rulebook) -> list[RenderableType]:
    if not plan.findings:
        return []
    groups, alone = gathered(by_severity(plan), rulebook, known_nowhere(plan))
    rows: list[tuple[str, ...]] = [(f"{len(group.findings)} ×", "unknown", "", group.said) for group in groups]
    rows += [_flag_row(found, plan, rulebook) for found in _alike(alone, rulebook)]
    return [_heading("Flags, worst first"), _rows(rows)]


def _stops(plan: TravelPlan) -> list[RenderableType]:
    rows = [(f"S{s.stop}", s.trip, isolated(s.place or s.road), stop_text(s)) for s in plan.stops]
    return [_heading("Stops"), _rows(rows)] if rows else []


def _open(plan: TravelPlan, rulebook: Rulebook) -> list[RenderableType]:
    unknown = {finding.id for finding in open_unknowns(plan)}
    groups, alone = gathered(open_unknowns(plan), rulebook)
    lines = [
        f"{isolated(item.text)}{_flags_of(item.flags)} – {isolated(item.owner)}, {isolated(item.due)}; "
        f"evidence: {isolated(item.evidence)}"
        for item in open_conditions(plan)
        if item.id not in unknown
    ]
    lines += [f"flags {ranges(f.flag for f in group.findings)} are unknown: {group.todo}" for group in groups]
    return _listed("Open", [*lines, *_unknown_lines(alone)])


def _unknown_lines(found: Sequence[Finding]) -> list[str]:
    """Give one line for unknowns that lack the same value: who may accept them, and the ids to do it by."""
    groups: dict[tuple[bool, str], list[Finding]] = {}
    for finding in found:
        lacks = missing_text(finding) or finding.reason.replace("_", " ")
        groups.setdefault((finding.acceptable, lacks), []).append(finding)
    lines = []
    for (acceptable, lacks), group in groups.items():
        one = len(group) == 1
        flags = f"flag{'' if one else 's'} {ranges(item.flag for item in group)} {'is' if one else 'are'} unknown"
        each = "" if one else "each "
        who = f"{each}may be accepted by name and reason" if acceptable else "nobody may accept it: survey it"
        ids = f"{'id' if one else 'ids'} {', '.join(item.id for item in group)}"
        lines.append(f"{flags}{f' ({lacks})' if lacks else ''}: {who} ({ids})")
    return lines


def _flags_of(flags: Sequence[int]) -> str:
    return f" (flag{'s' if len(flags) > 1 else ''} {ranges(flags)})" if flags else ""


def _remedies(plan: TravelPlan) -> list[RenderableType]:
    lines = [
        f"{isolated(remedy.text)} – {isolated(remedy.who)}"
        + ("" if remedy.lead_time_days is None else f", {remedy.lead_time_days:g} days")
        + (f"; {proof_text(remedy)}" if remedy.proven else " (not proven by planning again)")
        for remedy in plan.remedies
        if remedy.kind != "survey"
    ]
    looked = [f"{isolated(item.text)} – {isolated(item.who)}" for item in plan.remedies if item.kind == "survey"]
    return [
        *_listed("Least found that would open a way", lines),
        *_listed("Not known on the first of these ways, to be measured besides", looked),
    ]


def _looked_at(plan: TravelPlan) -> list[RenderableType]:
    from travel.writers.terminal import Kept

    missing = not_built(plan)
    lines: list[RenderableType] = [Kept(f"\n{checked_line(plan).capitalize()}.", style="bold")]
    if missing:
        lines.append(Kept(f"Not looked at in this plan: {'; '.join(missing)}."))
    return lines
