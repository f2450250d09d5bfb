"""What ``travel ramp`` prints: the answer, the tightest place, flags, what is open, what would help."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from travel.domain.ramp import RampResult
from travel.domain.rules import Rulebook
from travel.writers import ramp_words as words
from travel.writers.text import isolated, plain

if TYPE_CHECKING:
    from rich.console import RenderableType

_STYLE = {"blocked": "bold red", "unknown": "bold magenta", "caution": "yellow", "clear": "green"}


def ramp_summary(result: RampResult, rulebook: Rulebook, files: Sequence[str] = ()) -> list[RenderableType]:
    """Give the summary as rich renderables; nothing in them is read as markup."""
    from travel.writers.terminal import Kept

    parts: list[RenderableType] = [
        Kept(words.heading(result)),
        Kept((f"{result.verdict.upper()}  ", _STYLE[result.verdict]), (words.outcome(result), "bold")),
        Kept(words.tight_text(result)),
        Kept(f"Holds for: {words.holds_for(result)}"),
    ]
    if result.findings:
        parts += [_heading("Flags, worst first"), _rows(_flags(result, rulebook))]
    parts += _listed("Open", [_condition(result, n) for n in range(len(words.open_conditions(result)))])
    parts += _listed("What would help", [f"{remedy.text} (then {remedy.verdict})" for remedy in result.remedies])
    parts += [_heading("Numbers"), _rows(words.facts(result))]
    parts += _listed("Tie-downs", [f"{isolated(t.name)}: {words.tie_text(t)}" for t in result.tie_downs])
    parts.append(Kept(f"\n{words.checked_line(result).capitalize()}.", style="bold"))
    if words.not_asked(result):
        parts.append(Kept(f"Not asked: {'; '.join(words.not_asked(result))}. Not looked at is not clear."))
    parts += _listed("Before anything moves", list(result.cautions))
    parts += _listed("Doubts about the input", list(result.doubts))
    parts += _listed("Written", list(files))
    return parts


def _flags(result: RampResult, rulebook: Rulebook) -> list[tuple[str, ...]]:
    out: list[tuple[str, ...]] = []
    for finding in words.by_severity(result):
        notes = [words.finding_where(finding, result)] if words.finding_where(finding, result) else []
        if finding.source:
            notes.append(f"source: {words.finding_source(finding, rulebook)}")
        if finding.verdict == "unknown" and not finding.acceptable:
            notes.append("nobody may accept this on a form")
        said = words.finding_text(finding, rulebook) + (f"\n({'; '.join(notes)})" if notes else "")
        out.append((str(finding.flag), finding.verdict, rulebook.rules[finding.rule].title, said))
    return out


def _condition(result: RampResult, number: int) -> str:
    item = words.open_conditions(result)[number]
    flags = f" (flag{'s' if len(item.flags) > 1 else ''} {', '.join(map(str, item.flags))})" if item.flags else ""
    who = f"{isolated(item.owner)}, {isolated(item.due)}; evidence: {isolated(item.evidence)}"
    return f"{isolated(item.text)}{flags} – {who}"


def _heading(text: str) -> RenderableType:
    from travel.writers.terminal import Kept

    return Kept(f"\n{text}", style="bold")


def _listed(heading: str, lines: Sequence[str]) -> list[RenderableType]:
    return [_heading(heading), _rows(("-", plain(line)) for line in lines)] if lines else []


def _rows(rows: Iterable[tuple[str, ...]]) -> RenderableType:
    from rich.table import Table

    from travel.writers.terminal import Kept

    found = [tuple(Kept(cell) for cell in row) for row in rows]
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0), pad_edge=False)
    for column in range(len(found[0])):
        table.add_column(no_wrap=column < len(found[0]) - 1, overflow="fold")
    for row in found:
        table.add_row(*row)
    return table
