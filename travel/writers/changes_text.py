"""What differs, in words: two plans, or a plan and what is there now."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from travel.domain.changes import Change, Comparison, FieldChange, FindingChange, Validity
from travel.domain.decision import Standing
from travel.domain.plan import Condition, Finding, TravelPlan
from travel.domain.what_if import wished
from travel.writers.numbers import chainage, quantity
from travel.writers.register_text import OVER, standing_lines
from travel.writers.sentences import where_text
from travel.writers.text import isolated, plain
from travel.writers.words import metres_text, moment, trip_line

LONGEST = 160
UNKNOWN = "not known"
MOST_VALUES = 8
_LISTS = ("coordinates", "polygons")
_UNITS = {
    "": "", "m": "m", "m2": "m²", "pct": "%", "deg": "°", "kg": "kg", "kpa": "kPa", "kmh": "km/h", "mps": "m/s",
    "mps2": "m/s²", "kv": "kV", "kn": "kN", "kw": "kW", "c": "°C", "d": "days", "s": "s", "min": "min",
}  # fmt: skip
"""Units by the ending of a field's name."""


def change_lines(validity: Validity) -> list[str]:
    """Give what a plan falls with: each change with old and new value, and the findings it changes."""
    lines = []
    for change in validity.changes:
        texts = _field_texts(change)
        if len(texts) > MOST_VALUES and change.layer == "machine" and any(f.field == "name" for f in change.fields):
            texts = [texts[0], f"another machine's sheet: {len(texts) - 1} more values differ (--json lists each)"]
        lines += [f"{_what(change)}: {text}" for text in texts]
        lines += [f"  {finding_line(item)}" for item in change.findings]
    if validity.otherwise:
        parts = ", ".join(validity.otherwise)
        lines.append(f"The file does not say what planning again on the same facts says. Otherwise: {parts}")
    lines += _other_findings(validity)
    if validity.fault:
        lines.append(f"It cannot be planned again: {plain(validity.fault)}")
    elif validity.outcome:
        same = (
            not validity.otherwise and not validity.findings and not any(change.findings for change in validity.changes)
        )
        lines += ["No finding changes with it; it has to be planned and released again all the same."] if same else []
        lines.append(f"Planned again on what is there now: {validity.outcome.replace('_', ' ')}, {validity.verdict}")
    return lines


def _other_findings(validity: Validity) -> list[str]:
    """Give the findings no single change is named for; where no way is left, those of the old way fall with it."""
    fallen = [item for item in validity.findings if item.kind == "gone" and validity.outcome == "no_way"]
    told = [f"  {finding_line(item)}" for item in validity.findings if item not in fallen]
    head = ["Other findings that change:" if validity.changes else "Findings that change:"] if told else []
    return head + told + ([f"The other {len(fallen)} findings of the old way fall with it."] if fallen else [])


def _what(change: Change) -> str:
    return f"{isolated(change.layer)} {isolated(change.feature)}"


def _field_texts(change: Change) -> list[str]:
    if change.kind != "changed":
        word = "new" if change.kind == "new" else "no longer there"
        values = [(field.field, field.new if change.kind == "new" else field.old) for field in change.fields]
        told = [(name, value) for name, value in values if name not in _LISTS and value is not None]
        said = ", ".join(f"{_words(name)} {_value(value, name)}" for name, value in told[:MOST_VALUES])
        return [f"{word} ({said})" if said else word]
    absent = "none" if change.layer == "rulebook" else UNKNOWN
    return [field_text(field, absent) for field in change.fields]


def field_text(field: FieldChange, absent: str = UNKNOWN) -> str:
    """Give one value that differs: what it was and what it is; ``absent`` is the word where there is none."""
    name = field.field.rpartition(".")[2]
    if name == "amendments":
        return f"changes of the site: were {amendments_text(field.old)}, are {amendments_text(field.new)}"
    if name == "sha256":
        return "the heights are not the same"
    if name in _LISTS:
        return f"{_words(field.field.removesuffix(name))}line moved{_moved(field.old, field.new)}"
    old, new = (absent if value is None else _value(value, field.field) for value in (field.old, field.new))
    return f"{_words(field.field)} was {old}, is {new}"


def amendments_text(rows: Sequence[Mapping[str, Any]] | None) -> str:
    """Give changes laid over the site, each with the stretch it holds on where it has one."""
    told = []
    for row in rows or ():
        what = f"{isolated(row['layer'])} {isolated(row['feature'])} {_words(row['field'])}"
        where = chainage(row.get("from_m"), row.get("to_m"))
        told.append(f"{what} {_value(row['value'], row['field'])}" + (f" ({where})" if where else ""))
    return "; ".join(told) or "none"


def _words(field: str) -> str:
    """Give a field's name without underscores and unit.

    >>> _words("width_m"), _words("limits.cross_slope_pct"), _words("kind")
    ('width', 'limits cross slope', 'kind')
    >>> _words("voltage_kv_over 0.75, voltage_kv_to 50.0")
    'voltage kv over 0.75, voltage kv to 50'
    """
    words = re.sub(r"\.(?!\d)", " ", field.removesuffix(f"_{_unit_key(field)}").replace("_", " "))
    return isolated(re.sub(r"(\d)\.0\b", r"\1", words))


def _unit_key(field: str) -> str:
    last = field.rpartition("_")[2]
    return last if "_" in field and last in _UNITS else ""


def _moved(old: Any, new: Any) -> str:
    """Give how far a line moved at its points, where it has as many as before."""
    try:
        pairs = list(zip(old, new, strict=True))
        far = max(sum((a - b) ** 2 for a, b in zip(p, q, strict=True)) ** 0.5 for p, q in pairs)
    except (TypeError, ValueError):
        return f" ({len(old or ())} points were, {len(new or ())} are)"
    return f" by up to {quantity(far, 'm')}"


def _value(value: Any, field: str = "") -> str:
    if value is None:
        return UNKNOWN
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return f"{value:{'.7g' if abs(value) < 1e7 else '.10g'}} {_UNITS[_unit_key(field)]}".rstrip()
    if isinstance(value, Mapping):
        value = ", ".join(f"{_words(key)} {_value(item, key)}" for key, item in value.items() if item is not None)
    elif isinstance(value, (list, tuple)):
        value = ", ".join(_value(item) for item in value) or "none"
    text = isolated(value)
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"


def finding_line(change: FindingChange) -> str:
    """Give a finding that is new, gone or judged by other numbers, in one line."""
    finding = change.either
    where = where_text(finding.where)
    head = f"{isolated(finding.rule)}, {isolated(finding.trip)}, {where}"
    if change.kind == "new":
        return f"new: {head}: {finding.verdict}{_numbers(finding)}"
    if change.kind == "gone":
        return f"gone: {head}: was {finding.verdict}{_numbers(finding)}"
    old = change.old
    return f"changed: {head}: was {old.verdict if old else ''}{_numbers(old)}, is {finding.verdict}{_numbers(finding)}"


def _numbers(finding: Finding | None) -> str:
    if finding is None or finding.demand is None or finding.capacity is None:
        return ""
    return f" ({quantity(finding.demand, finding.unit)} of {quantity(finding.capacity, finding.unit)})"


def status_text(
    plan: TravelPlan, validity: Validity, standing: Standing | None, lapsed: bool, notes: Sequence[str]
) -> str:
    """Give whether a plan holds: the answer in a word, what it rests on, and where it stands in the register."""
    lines = [f"{isolated(plan.plan_id)}: {status_word(plan, validity, standing, lapsed)}"]
    if validity.void:
        same = validity.otherwise and not validity.changes
        why = "It is not what planning gives:" if same else "What it relied on is not what is there now:"
        lines += [why, *(f"  {line}" for line in change_lines(validity))]
    else:
        but = ", as far as it was compared" if validity.not_compared else ""
        lines.append(f"  Everything it relied on is as it was{but}.")
    lines += [f"  Looked at again since: {isolated(change.feature)}" for change in validity.renewed]
    lines += [f"  Not compared: {name}, which was not given" for name in validity.not_compared]
    lines += [f"  {plain(note)}" for note in notes]
    gone = validity.void or (None if validity.not_compared else False)
    return "\n".join([*lines, *(["", *standing_lines(standing, gone)] if standing else [])])


def no_way(plan: TravelPlan) -> bool:
    """Tell whether the plan's own answer is that the machine does not get there and back."""
    return plan.outcome != "way" or plan.verdict == "blocked"


def status_word(plan: TravelPlan, validity: Validity, standing: Standing | None, lapsed: bool) -> str:
    """Give the answer in a word: void, lapsed, over, no way, what if, not released or open, valid."""
    if validity.void:
        return "VOID"
    if lapsed or (standing and standing.state == "lapsed"):
        return "LAPSED"
    if standing and standing.state in OVER:
        return standing.state.upper()
    if no_way(plan):
        return "NO WAY"
    if wished(plan):
        return "WHAT IF, NOT WHAT IS THERE"
    if standing is None or standing.state == "submitted":
        return "VALID, NOT RELEASED"
    if standing.open:
        return "VALID, CONDITIONS OPEN"
    if not standing.accepted_by:
        return "VALID, NOT ACCEPTED"
    return "VALID, NOT BEFORE ITS HOUR" if standing.early else "VALID"


WAYS, RESTED = "Ways", "What they rest on"


def comparison_text(old: TravelPlan, new: TravelPlan, compared: Comparison) -> str:
    """Give two plans side by side."""
    lines = [f"A: {title_line(old)}", f"B: {title_line(new)}", ""]
    lines.append("The ways are the same." if compared.same_way else "The ways differ.")
    for name, found in comparison_sections(old, new, compared):
        lines.append(f"{name}:" if found else f"{name}: no difference.")
        lines += [f"  {line}" for line in found]
    return "\n".join(lines)


def comparison_sections(old: TravelPlan, new: TravelPlan, compared: Comparison) -> list[tuple[str, list[str]]]:
    """Give what differs between two plans by what it is; rows they rest on carry their numbers on the map."""
    ways = [
        f"{name}: {'; '.join(filter(None, (trip_line(plan, trip), metres_text(trip))))}"
        for name, plan in (("A", old), ("B", new))
        for trip in plan.trips
    ]
    conditions = [f"new: {_condition(item)}" for item in compared.new_conditions]
    conditions += [f"gone: {_condition(item)}" for item in compared.gone_conditions]
    rested = [
        f"{number}. {_what(change)}: {text}"
        for number, change in enumerate(numbered_changes(compared), 1)
        for text in _field_texts(change)
    ]
    return [
        (WAYS, [] if compared.same_way else ways),
        ("Findings", [finding_line(item) for item in compared.findings]),
        ("Conditions", conditions),
        ("Asked for", [field_text(field) for field in compared.request]),
        (RESTED, [*rested, *_only_beside(compared)]),
    ]


def numbered_changes(compared: Comparison) -> tuple[Change, ...]:
    """Give what is told one by one: on the same way everything that differs, on two ways what both rely on."""
    rows = [change for change in compared.relied_on if change.layer != "corridor"]
    if compared.same_way:
        return tuple(rows)
    return tuple(change for change in rows if change.kind == "changed" and change.layer != "terrain")


def _only_beside(compared: Comparison) -> list[str]:
    """Give what stands beside one of two ways only, by layer."""
    lines = []
    for kind, name in (("gone", "A"), ("new", "B")):
        found: dict[str, list[str]] = {}
        for change in compared.relied_on if not compared.same_way else ():
            if change.kind == kind and change.layer != "corridor":
                found.setdefault(change.layer, []).append(isolated(change.feature))
        lines += [f"only {name} relies on {isolated(layer)} {', '.join(ids)}" for layer, ids in found.items()]
    return lines


def title_line(plan: TravelPlan) -> str:
    """Give a plan in one line: number, when made, machine, ends, answer."""
    when = moment(plan.created_at)
    asked = plan.request
    ends = f"{isolated(asked.get('from', ''))} → {isolated(asked.get('to', ''))}"
    said = f"{plan.outcome.replace('_', ' ')}, {plan.verdict}"
    return f"{isolated(plan.plan_id)} of {when}, {isolated(plan.machine.get('name', ''))}, {ends}: {said}"


def _condition(condition: Condition) -> str:
    return f"{isolated(condition.id)}: {isolated(condition.text)} – {isolated(condition.owner)}"
