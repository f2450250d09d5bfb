"""The limits in force, as ``travel rules`` shows them."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from travel.domain.rules import Limit, Rulebook
from travel.writers.numbers import quantity
from travel.writers.text import plain

if TYPE_CHECKING:
    from rich.table import Table

_NO_SOURCE = {"memory": "from memory, no source", "practice": "common practice, no source"}
_WITH_SOURCE = {"memory": "from memory", "practice": "the value is common practice"}


def rule_of(limit: Limit) -> str:
    """Give the rule a limit belongs to: what stands before the first dot of its id."""
    return limit.id.split(".", 1)[0]


def when_text(limit: Limit) -> str:
    """Give where a limit holds, in words; blank = everywhere."""
    parts = []
    for name, value in limit.when.items():
        shown = f"{value:g}" if isinstance(value, (int, float)) else plain(value)
        for ending, sign in (("_over", "> "), ("_to", "≤ ")):
            if name.endswith(ending):
                parts.append(f"{name.removesuffix(ending)} {sign}{shown}")
                break
        else:
            parts.append(f"{name} {shown}")
    return ", ".join(parts)


def source_clause(limit: Limit, rulebook: Rulebook) -> str:
    """Give where a limit comes from: title, edition, clause, and whether it was read."""
    source = rulebook.sources.get(limit.source)
    title = limit.source if source is None else ", ".join(p for p in (source.title, source.edition) if p)
    said = ", ".join(part for part in (title, limit.clause) if part)
    if limit.known == "read" or "common practice" in said:
        return said
    if not said:
        return _NO_SOURCE[limit.known]
    return f"{said} ({_WITH_SOURCE[limit.known]})"


def rules_table(rulebook: Rulebook, rule: str | None = None) -> Table:
    """Give the limits in force as a table: rule, limit, value, when, layer that set it, status, source and clause."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("rule", "limit", "value", "when", "layer", "status", "source, clause"):
        table.add_column(name, overflow="fold", justify="right" if name == "value" else "left")
    last = ""
    for limit in _limits(rulebook, rule):
        owner = rule_of(limit)
        sense = "≤ " if limit.sense == "at_most" else "≥ "
        cells = (
            "" if owner == last else owner,
            limit.id.split(".", 1)[-1],
            sense + quantity(limit.value, limit.unit),
            when_text(limit),
            limit.layer,
            limit.status,
            plain(source_clause(limit, rulebook)),
        )
        table.add_row(*(Text(cell) for cell in cells))
        last = owner
    return table


def rules_json(rulebook: Rulebook) -> dict[str, Any]:
    """Give rules, limits and sources as JSON takes them."""
    return {
        "rules": [
            {
                "id": rule.id, "title": rule.title, "group": rule.group, "kind": rule.kind, "unit": rule.unit,
                "scope": rule.scope, "layers": list(rule.layers), "needs": list(rule.needs),
                "acceptable": rule.acceptable, "high_consequence": rule.high_consequence,
            }
            for rule in rulebook.rules.values()
        ],
        "limits": [_limit_json(limit, rulebook) for limit in _limits(rulebook, None)],
        "sources": {
            key: {"title": s.title, "edition": s.edition, "disagrees_with": s.disagrees_with}
            for key, s in rulebook.sources.items()
        },
        "books": [{"layer": book.layer, "name": book.name, "sha256": book.sha256} for book in rulebook.books],
    }  # fmt: skip


def rules_json_bytes(rulebook: Rulebook) -> bytes:
    """Give :func:`rules_json` as UTF-8 with a final newline."""
    return json.dumps(rules_json(rulebook), ensure_ascii=False, allow_nan=False, indent=2).encode("utf-8") + b"\n"


def _limits(rulebook: Rulebook, rule: str | None) -> list[Limit]:
    """Give the limits, those of one rule together, rules in the order of the rulebook."""
    order = {name: row for row, name in enumerate(rulebook.rules)}
    found = [limit for limit in rulebook.limits if rule is None or rule_of(limit) == rule]
    return sorted(found, key=lambda limit: (order.get(rule_of(limit), len(order)), rule_of(limit)))


def _limit_json(limit: Limit, rulebook: Rulebook) -> dict[str, Any]:
    return {
        "id": limit.id, "rule": rule_of(limit), "value": limit.value, "unit": limit.unit, "sense": limit.sense,
        "status": limit.status, "layer": limit.layer, "when": dict(limit.when), "source": limit.source,
        "source_text": source_clause(limit, rulebook), "clause": limit.clause, "known": limit.known,
        "override_reason": limit.override_reason, "note": limit.note,
    }  # fmt: skip
