"""Flags that wait for one and the same entry of the request or of a sheet, or for a column that no road of the way
has: said once, not once a stretch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from travel.domain.field_words import FIELD_WORDS, field_words
from travel.domain.plan import Finding, TravelPlan
from travel.domain.rules import Rulebook
from travel.writers.numbers import ranges
from travel.writers.text import isolated, plain

LEAST = 3
"""Fewer flags than this are listed one by one."""
_SEAM_M = 0.1
"""Stretches this near to each other meet: their ends are written to a centimetre."""
_ENTRIES = {
    "weather.": "give it with --weather",
    "machine.": "it belongs in the machine's sheet",
    "load.": "it belongs in the load's sheet",
    "at": "give the hour with --at",
}


@dataclass(frozen=True)
class Together:
    """Flags that one entry would settle, with what is said of them."""

    missing: tuple[str, ...]
    findings: tuple[Finding, ...]
    said: str
    todo: str


def gathered(
    found: Sequence[Finding], rulebook: Rulebook, nowhere: Mapping[str, bool] = MappingProxyType({})
) -> tuple[list[Together], list[Finding]]:
    """Give the groups of findings that lack the same, largest first, and the findings left to list alone.

    Args:
        found: the findings
        rulebook: for the titles of rules
        nowhere: columns missing on every road of the way, and whether all along (:func:`known_nowhere`)
    """
    groups, alone = _split(found, nowhere)
    out = [Together(key, tuple(group), *_said(key, group, rulebook, nowhere)) for key, group in groups.items()]
    return sorted(out, key=lambda one: -len(one.findings)), alone


def marked(plan: TravelPlan) -> list[Finding]:
    """Give the findings that get a mark of their own on a map or a profile."""
    return _split(plan.findings, known_nowhere(plan))[1]


def known_nowhere(plan: TravelPlan) -> dict[str, bool]:
    """Give the columns of roads that are missing on every road of the way, and whether all along each: nobody has got
    them yet. A window or a corner that reaches on to a neighbour without a value makes but one end of a road unknown.
    """
    driven: dict[str, list[tuple[float, float]]] = {}
    for leg in plan.legs:
        driven.setdefault(leg.road, []).append((leg.from_m, leg.to_m))
    lacking: dict[str, dict[str, list[tuple[float, float]]]] = {}
    for finding in plan.findings:
        where = finding.where
        if _of_the_road(finding) and where.road is not None:
            for name in finding.missing:
                spans = lacking.setdefault(name, {}).setdefault(where.road, [])
                spans += [] if where.from_m is None or where.to_m is None else [(where.from_m, where.to_m)]
    return {
        name: all(_covered(spans, roads[road]) for road, spans in driven.items())
        for name, roads in lacking.items()
        if name in FIELD_WORDS and len(driven) > 1 and driven.keys() <= roads.keys()
    }


def _covered(driven: list[tuple[float, float]], lacking: list[tuple[float, float]]) -> bool:
    """Tell whether stretches [m] that lack something leave nothing of what is driven."""
    for begin, end in driven:
        at = begin
        for low, high in sorted(lacking):
            at = max(at, high) if low <= at + _SEAM_M else at
        if at < end - _SEAM_M:
            return False
    return True


def _of_the_road(finding: Finding) -> bool:
    return finding.verdict == "unknown" and finding.reason == "missing" and finding.where.feature is None


def _split(
    found: Sequence[Finding], nowhere: Mapping[str, bool]
) -> tuple[dict[tuple[str, ...], list[Finding]], list[Finding]]:
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding in found:
        key = _entries(finding)
        if not key and _of_the_road(finding) and finding.acceptable and not finding.accepted:
            key = tuple(sorted(finding.missing)) if nowhere.keys() >= set(finding.missing) else ()
        groups.setdefault(key, []).append(finding)
    kept = {key: group for key, group in groups.items() if key and len(group) >= LEAST}
    joined = {id(finding) for group in kept.values() for finding in group}
    return kept, [finding for finding in found if id(finding) not in joined]


def _entries(finding: Finding) -> tuple[str, ...]:
    if finding.verdict != "unknown" or finding.accepted:
        return ()
    return tuple(sorted(name for name in finding.missing if _where(name)))


def _where(name: str) -> str:
    """Give where an entry is given; nothing for what is surveyed on site."""
    name = name.removesuffix(" told").removesuffix(" assumed").removesuffix(" lapsed")
    return next(
        (said for key, said in _ENTRIES.items() if name == key or (key.endswith(".") and name.startswith(key))), ""
    )


def _said(
    missing: tuple[str, ...], group: list[Finding], rulebook: Rulebook, nowhere: Mapping[str, bool]
) -> tuple[str, str]:
    names = ", ".join(_name(name) for name in missing)
    if not _where(missing[0]):
        where = (
            "Known nowhere on the way" if all(nowhere[name] for name in missing) else "Missing on part of every road"
        )
        lead, todo = (
            f"{where}: {names}.",
            f"{names}: survey it, or accept each flag by name and reason",
        )
    else:
        hints = "; ".join(dict.fromkeys(_where(name) for name in missing))
        lead, todo = f"Not given: {names}.", f"{names} not given: {hints}"
    titles = dict.fromkeys(plain(rulebook.rules[f.rule].title if f.rule in rulebook.rules else f.rule) for f in group)
    others = dict.fromkeys(_name(name) for f in group for name in f.missing if name not in missing)
    also = f" Some lack as well: {', '.join(others)}." if others else ""
    flags = ranges(finding.flag for finding in group)
    return f"{lead} What hangs on it: {', '.join(titles)}.{also} Flags {flags}.", todo


def _name(name: str) -> str:
    return field_words(name) or isolated(
        name.replace(".", " ", 1) if name.startswith(("weather.", "machine.", "load.")) else name
    )
