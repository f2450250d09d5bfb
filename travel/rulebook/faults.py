"""What is wrong with a book: rows nobody can use, and rows that loosen what they may not."""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Iterable, Mapping

from travel.domain.layers import LAYERS
from travel.domain.rules import Limit, Rulebook, Vocabulary
from travel.errors import Fault
from travel.rulebook.model import Book, LimitRow, RemedyModel, RuleRow
from travel.rulebook.resolve import BOUND, compatible, implies, stricter
from travel.units import SI_PER_UNIT

_BAND = re.compile(r"^(?P<axis>[a-z_]+)_(over|to)$")
FREE_PREFIXES = ("tolerance.", "survey.", "piece.", "timing.")
"""Limits that belong to no rule."""
BESIDE_LAYERS = ("machine", "weather", "request", "survey")
"""What a remedy may change besides the site's layers."""


def row_faults(book: Book, merged: Rulebook, name: str) -> list[Fault]:
    """Find rows that name a source, rule, control, layer, unit or word nobody knows, and ids written twice."""
    faults = _twice(book, name)
    for rule in book.rules:
        faults += _rule_faults(rule, merged, name)
    for row in book.limits:
        faults += _limit_faults(row, merged, name)
        for key, word in row.when.items():
            faults += _when_faults(key, word, row.id, merged.vocabulary, name)
    for remedy in book.remedies:
        faults += _remedy_faults(remedy, merged, name)
    return faults


def over_faults(base: Rulebook, book: Book, name: str) -> list[Fault]:
    """Find rows laid over ``base`` that loosen a law, a standard or a rule, or name a quantity nobody compares."""
    return [
        *_strange_limits(base, book, name),
        *_loosened_limits(base, book, name),
        *_loosened_rules(base, book, name),
        *_strange_bands(base, book, name),
        *_allowed_again(base, book, name),
    ]


def _fault(name: str, layer: str, feature: str, field: str, message: str, value: str = "", allowed: str = "") -> Fault:
    return Fault(file=name, layer=layer, feature=feature, field=field, message=message, value=value, allowed=allowed)


def _twice(book: Book, name: str) -> list[Fault]:
    out = []
    for layer, rows in (("rules", book.rules), ("controls", book.controls), ("remedies", book.remedies)):
        counts = Counter(row.id for row in rows)
        out += [_fault(name, layer, i, "id", "is written twice") for i, count in counts.items() if count > 1]
    return out


def _rule_faults(rule: RuleRow, merged: Rulebook, name: str) -> list[Fault]:
    out = []
    if rule.control and rule.control not in merged.controls:
        out.append(_fault(name, "rules", rule.id, "control", "names no control of the rulebook", rule.control))
    out += [
        _fault(name, "rules", rule.id, "layers", "is not a layer of a site", layer, ", ".join(LAYERS))
        for layer in rule.layers
        if layer not in LAYERS
    ]
    if rule.unit not in SI_PER_UNIT:
        out.append(_unit_fault(name, "rules", rule.id, rule.unit))
    return out


def _remedy_faults(row: RemedyModel, merged: Rulebook, name: str) -> list[Fault]:
    """Find what a remedy row names that nobody knows, and what it lacks."""
    out = [
        _fault(name, "remedies", row.id, "rules", "is not a rule of the rulebook", rule)
        for rule in row.rules
        if rule not in merged.rules
    ]
    if row.source not in merged.sources:
        out.append(_fault(name, "remedies", row.id, "source", "names no source of the rulebook", row.source))
    if row.forbidden:
        known = {other.id for other in merged.remedies}
        lacking = [other for other in row.forbids if other not in known]
        out += [_fault(name, "remedies", row.id, "forbids", "is not a remedy", other) for other in lacking]
        return out if row.reason else [*out, _fault(name, "remedies", row.id, "reason", "is needed")]
    if row.layer not in LAYERS and row.layer not in BESIDE_LAYERS:
        allowed = ", ".join((*LAYERS, *BESIDE_LAYERS))
        return [*out, _fault(name, "remedies", row.id, "layer", "is not a layer", row.layer, allowed)]
    out += [
        _fault(name, "remedies", row.id, "fields", f"is not a column of {row.layer}", field)
        for field in ((*row.fields, *row.also) if row.layer in LAYERS else ())
        if LAYERS[row.layer].field(field) is None
    ]
    out += [_fault(name, "remedies", row.id, key, "is needed") for key in ("text", "who") if not getattr(row, key)]
    return out


def _allowed_again(base: Rulebook, book: Book, name: str) -> list[Fault]:
    """Find forbidden remedies written anew that forbid less than before."""
    old = {row.id: row for row in base.remedies if row.forbidden}
    return [
        _fault(name, "remedies", row.id, "forbidden", "allows again what was forbidden")
        for row in book.remedies
        if row.id in old
        and (
            not row.forbidden
            or not set(old[row.id].forbids) <= set(row.forbids)
            or (bool(row.attitudes) and not set(old[row.id].attitudes or ("*",)) <= set(row.attitudes))
            or (bool(row.near) and not set(old[row.id].near or ("*",)) <= set(row.near))
            or (bool(row.near) and row.within_m < old[row.id].within_m)
        )
    ]


def _unit_fault(name: str, layer: str, feature: str, unit: str) -> Fault:
    return _fault(
        name, layer, feature, "unit", "is not a unit of the rulebook", unit, ", ".join(filter(None, SI_PER_UNIT))
    )


def _limit_faults(row: LimitRow, merged: Rulebook, name: str) -> list[Fault]:
    out = []
    if row.source not in merged.sources:
        out.append(_fault(name, "limits", row.id, "source", "names no source of the rulebook", row.source))
    if row.id.partition(".")[0] not in merged.rules and not row.id.startswith(FREE_PREFIXES):
        out.append(_fault(name, "limits", row.id, "id", "belongs to no rule"))
    if row.unit not in SI_PER_UNIT:
        out.append(_unit_fault(name, "limits", row.id, row.unit))
    first = next(limit for limit in merged.limits if limit.id == row.id)
    for field in ("unit", "sense"):
        mine, theirs = getattr(row, field), getattr(first, field)
        if mine != theirs:
            out.append(_fault(name, "limits", row.id, field, "differs from the other rows of this id", mine, theirs))
    return out


def _when_faults(key: str, word: str | float, row: str, vocabulary: Vocabulary, name: str) -> list[Fault]:
    def fault(message: str, value: str = "", allowed: str = "") -> list[Fault]:
        return [_fault(name, "limits", row, f"when.{key}", message, value, allowed)]

    if _BAND.match(key):
        return fault("must be a number", str(word)) if isinstance(word, str) else []
    if key not in vocabulary.lists:
        allowed = ", ".join([*sorted(vocabulary.lists), "<quantity>_over", "<quantity>_to"])
        return fault("is not a known condition", allowed=allowed)
    if word not in vocabulary.lists[key]:
        return fault("is not a word of the list", str(word), ", ".join(vocabulary.words(key)))
    return []


def _strange_limits(base: Rulebook, book: Book, name: str) -> list[Fault]:
    """Find limits nothing asks for, and values below zero of a quantity that is never below it: slips of the pen.

    A limit of a rule of the base that has no such limit, or of none, would never be looked at.
    """
    floor: dict[str, float] = {}
    for limit in base.limits:
        floor[limit.id] = min(limit.value, floor.get(limit.id, limit.value))
    faults = []
    for row in book.limits:
        rule = row.id.partition(".")[0]
        if row.id in floor:
            if row.value < 0.0 <= floor[row.id]:
                found = f"{row.value:g} {row.unit}"
                faults.append(_fault(name, "limits", row.id, "value", "is below zero", found, "0 or more"))
        elif rule in base.rules or row.id.startswith(FREE_PREFIXES):
            known = [one for one in floor if one.partition(".")[0] == rule]
            near = difflib.get_close_matches(row.id, known, n=1)
            allowed = f"did you mean {near[0]}?" if near else ", ".join(known)
            faults.append(_fault(name, "limits", row.id, "id", "is not a limit of the rulebook", allowed=allowed))
    return faults


def _loosened_limits(base: Rulebook, book: Book, name: str) -> list[Fault]:
    """Find rows that loosen a law or a standard without saying why."""
    faults = []
    for row in book.limits:
        if row.override_reason:
            continue
        old_rows = [old for old in base.limits if old.id == row.id and compatible(old.when, row.when)]
        for old in old_rows:
            if (
                old.status in BOUND
                and old.unit == row.unit
                and stricter(old.value, row.value, old.sense)
                and not _stands_back(old, old_rows, row.when)
            ):
                faults.append(
                    _fault(
                        name,
                        "limits",
                        row.id,
                        "value",
                        f"loosens a {old.status} ({old.value:g} {old.unit}, {old.source} {old.clause}) without "
                        "override_reason",
                        f"{row.value:g} {row.unit}",
                    )
                )
    return faults


def _stands_back(old: Limit, rows: Iterable[Limit], when: Mapping[str, str | float]) -> bool:
    """Tell whether another row of the same layer, with more conditions, always holds instead wherever ``when`` does."""
    return any(
        other.layer == old.layer and len(other.when) > len(old.when) and implies(when, other.when) for other in rows
    )


def _loosened_rules(base: Rulebook, book: Book, name: str) -> list[Fault]:
    """Find rules written anew that ask for less than before: no book may do that, whatever its reason."""
    out = []
    for row in book.rules:
        old = base.rules.get(row.id)
        if old is None:
            continue
        if row.acceptable and not old.acceptable:
            out.append(_fault(name, "rules", row.id, "acceptable", "loosens the rule", "true", "false"))
        if old.high_consequence and not row.high_consequence:
            out.append(_fault(name, "rules", row.id, "high_consequence", "loosens the rule", "false", "true"))
        for field in ("layers", "needs"):
            less = [word for word in getattr(old, field) if word not in getattr(row, field)]
            if less:
                out.append(_fault(name, "rules", row.id, field, f"loosens the rule: leaves out {', '.join(less)}"))
    return out


def _strange_bands(base: Rulebook, book: Book, name: str) -> list[Fault]:
    """Find ``…_over`` and ``…_to`` on quantities no row of the base compares: a slip of the pen, never looked at."""
    known = {match["axis"] for limit in base.limits for key in limit.when if (match := _BAND.match(key))}
    return [
        _fault(
            name, "limits", row.id, f"when.{key}", "is not a quantity of the rulebook", allowed=", ".join(sorted(known))
        )
        for row in book.limits
        for key in row.when
        if (match := _BAND.match(key)) and match["axis"] not in known
    ]
