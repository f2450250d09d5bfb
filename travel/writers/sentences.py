"""Fills the rulebook's sentence patterns with what a finding carries.

A pattern holds names in braces. ``{demand} {capacity} {margin} {tolerance} {limit}`` come with their unit, unless the
pattern puts ``{unit}`` right behind them; ``{missing} {feature} {road} {place} {where} {control} {source} {reason}
{title}`` are words; every other name is a term of the working or part of the configuration. A name nobody knows stays
in its braces: a sentence with a gap is better than no answer.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from travel.domain.field_words import field_words
from travel.domain.plan import Finding, Where
from travel.domain.rules import Rule, Rulebook
from travel.writers.numbers import chainage, decimals_for, number, quantity, term
from travel.writers.text import isolated

Names = Mapping[tuple[str, str], str]
"""(layer, id) → what people call the feature."""

_SLOT = re.compile(r"\{([^{}]*)\}")
_UNIT_FOLLOWS = re.compile(r"\s?\{unit\}")
_JUDGED = ("demand", "capacity", "margin", "tolerance", "limit")
_FALLBACK = {
    "blocked": "{title}: {demand} asked for, {capacity} there; it does not pass.",
    "caution": "{title}: {demand} asked for, {capacity} there; {margin} left after tolerances.",
    "caution.control": "{title}: passes only with this in place: {control}.",
    "unknown": "{title}: not known, because {missing} is missing.",
    "unknown.within_tolerance": "{title}: {demand} against {capacity} is closer than the survey tells (± {tolerance}).",
    "unknown.not_looked_at": "{title}: nobody looked at {missing} here.",
    "unknown.not_built": "{title}: the program cannot judge this yet.",
    "clear": "{title}: clear.",
}


def sentence(finding: Finding, rulebook: Rulebook, names: Names | None = None) -> str:
    """Give one finding in words."""
    rule = rulebook.rules.get(finding.rule)
    pattern = _pattern(finding, rule, rulebook)
    said = fill(pattern, _values(finding, rule, rulebook, names or {}), finding)
    return f"{said[:1].upper()}{said[1:]}" if pattern.startswith("{part}") else said


def fill(pattern: str, values: Mapping[str, str], finding: Finding) -> str:
    """Put values into a pattern; names nobody knows stay as they are."""

    def put(found: re.Match[str]) -> str:
        key = found[1]
        if key in _JUDGED and _UNIT_FOLLOWS.match(pattern, found.end()):
            return _bare(finding, key)
        return values.get(key, found[0])

    return _SLOT.sub(put, pattern)


def where_text(where: Where, names: Names | None = None) -> str:
    """Give a place in words: road with chainage, place, layer, or the whole trip."""
    known = names or {}
    parts = []
    if where.road is not None:
        stretch = chainage(where.from_m, where.to_m, where.at_m)
        parts.append(f"{_named(known, 'roads', where.road)} {stretch}".rstrip())
    if where.place is not None:
        parts.append(_named(known, "places", where.place))
    if where.feature is not None and where.feature not in (where.road, where.place):
        parts.append(_named(known, where.layer or "", where.feature))
    if where.scope == "layer" and where.layer is not None:
        parts.append(f"layer {isolated(where.layer)}, everywhere")
    said = ", ".join(part for part in parts if part)
    return said or {"trip": "whole trip", "plan": "whole plan"}.get(where.scope, "whole site")


def missing_text(finding: Finding) -> str:
    """Give what is missing in words: no units at the end of column names, no ``surveyed.`` before those of layers."""
    words = (field_words(item) or term(item.removeprefix("surveyed."), 0.0)[0] for item in finding.missing)
    return ", ".join(isolated(word) for word in words)


def source_text(key: str, rulebook: Rulebook, sources: Mapping[str, str] | None = None) -> str:
    """Give a source by title and edition; a key without an entry is shown as it stands."""
    found = rulebook.sources.get(key)
    if found is not None:
        return f"{found.title}, {found.edition}" if found.edition else found.title
    return (sources or {}).get(key, key)


def _named(names: Names, layer: str, feature: str) -> str:
    said = names.get((layer, feature), "")
    return f"{isolated(said)} ({isolated(feature)})" if said and said != feature else isolated(feature)


def _pattern(finding: Finding, rule: Rule | None, rulebook: Rulebook) -> str:
    keys: list[str] = [finding.verdict]
    if finding.reason:
        keys.insert(0, f"{finding.verdict}.{finding.reason}")
    if finding.why:
        keys.insert(0, f"{finding.verdict}.{finding.why}")
    for key in keys:
        for patterns in (rule.say if rule else {}, rulebook.patterns.sentences, _FALLBACK):
            if patterns.get(key) and (key != finding.verdict or patterns is not _FALLBACK):
                return patterns[key]
    return _FALLBACK[finding.verdict]


def _judged_values(finding: Finding) -> dict[str, float | None]:
    limit = finding.limit.value if finding.limit else None
    return {
        "demand": finding.demand,
        "capacity": finding.capacity,
        "margin": finding.margin,
        "tolerance": finding.tolerance,
        "limit": limit,
    }


def limit_unit(finding: Finding, rulebook: Rulebook) -> str:
    """Give the unit of a finding's limit: a coefficient has its own, everything else that of the rule."""
    name = finding.limit.id if finding.limit else ""
    return next((limit.unit for limit in rulebook.limits if limit.id == name), finding.unit)


def _decimals(finding: Finding) -> int:
    return decimals_for((finding.demand, finding.capacity), finding.unit)


def _bare(finding: Finding, key: str) -> str:
    return number(_judged_values(finding)[key], finding.unit, _decimals(finding))


def judged(finding: Finding) -> dict[str, str]:
    """Give demand, capacity, margin, tolerance and limit with units, at decimals that tell them apart."""
    places = _decimals(finding)
    return {key: quantity(value, finding.unit, places) for key, value in _judged_values(finding).items()}


def _values(finding: Finding, rule: Rule | None, rulebook: Rulebook, names: Names) -> dict[str, str]:
    where = finding.where
    control = rulebook.controls.get(finding.control)
    words: dict[str, str] = {name: isolated(value) for name, value in finding.configuration.items()}
    for terms in (finding.capacity_terms, finding.terms):
        words |= {name: term(name, value)[1] for name, value in terms.items()}
    words |= judged(finding)
    words |= {
        "unit": finding.unit,
        "missing": missing_text(finding) or "something it needs",
        "feature": _named(names, where.layer or "", where.feature) if where.feature else where_text(where, names),
        "road": _named(names, "roads", where.road) if where.road else "the way",
        "place": _named(names, "places", where.place) if where.place else where_text(where, names),
        "layer": isolated(where.layer or "?"),
        "where": where_text(where, names),
        "from_m": quantity(where.from_m, "m", 0),
        "to_m": quantity(where.to_m, "m", 0),
        "at_m": quantity(where.at_m, "m", 0),
        "control": control.text if control else isolated(finding.control) or "a control",
        "source": source_text(finding.source, rulebook),
        "reason": finding.reason.replace("_", " "),
        "title": rule.title if rule else finding.rule,
        "rule": finding.rule,
        "trip": finding.trip,
    }
    return words
