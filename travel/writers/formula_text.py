"""Formulas, workings and explained findings, as text a supervising engineer follows by hand."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from travel.domain.field_words import field_words
from travel.domain.plan import Finding, TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.working import FormulaSheet, Working
from travel.writers.sentences import limit_unit, sentence, source_text, where_text

Value = float | tuple[float, ...] | None


def _number(value: Value) -> str:
    if value is None:
        return "–"
    if isinstance(value, tuple):
        return "(" + ", ".join(f"{v:.6g}" for v in value) + ")"
    return f"{value:.6g}"


def list_text(sheets: Iterable[FormulaSheet]) -> str:
    """Give every formula in two lines, by topic: name and arguments with units; what it gives, verified or not."""
    lines: list[str] = []
    topic = ""
    for sheet in sheets:
        if sheet.topic != topic:
            topic = sheet.topic
            lines += ["", topic.replace("_", " ").upper()]
        units = ", ".join(f"{name} [{unit}]" for name, (_, unit) in sheet.arguments.items())
        verified = "verified" if sheet.verified_against else "no published number"
        lines += [f"  {sheet.name}({units}) → [{sheet.returns[1]}]", f"      {sheet.gives} ({verified})"]
    return "\n".join(lines[1:])


def sheet_text(sheet: FormulaSheet) -> str:
    """Give one formula's sheet in full."""
    lines = [
        f"{sheet.name}  ({sheet.topic})",
        sheet.gives,
        "",
        *(f"    {line}" for line in sheet.equation.splitlines()),
        "",
    ]
    width = max((len(name) for name in sheet.arguments), default=0)
    lines += [f"  {name:<{width}}  {text} [{unit}]" for name, (text, unit) in sheet.arguments.items()]
    lines += [f"  {'result':<{width}}  {sheet.returns[0]} [{sheet.returns[1]}]", ""]
    lines += ["Valid for: " + ("; ".join(sheet.valid_for) or "all values")]
    lines += [f"Source: {reference}" for reference in sheet.references]
    lines += [f"Verified against: {source}" for source in sheet.verified_against]
    if not sheet.verified_against:
        lines.append("Verified against: no published number; see the project's tests")
    return "\n".join(lines)


def working_text(working: Working) -> str:
    """Give a formula evaluated step by step."""
    sheet = working.sheet
    lines = [f"{sheet.name}: {sheet.gives}"]
    lines += [f"    {line}" for line in sheet.equation.splitlines()]
    width = max((len(name) for name in working.arguments), default=0)
    lines += [f"  {name:<{width}} = {value:.6g} {_unit(sheet, name)}" for name, value in working.arguments.items()]
    if not working.holds:
        lines += ["  Outside the values it holds for: " + "; ".join(working.broken)]
        return "\n".join(lines)
    for step in working.steps:
        lines.append(f"  {step.symbol} = {step.expression}")
        if step.with_numbers and step.with_numbers != step.expression:
            lines.append(f"  {'':<{len(step.symbol)}} = {step.with_numbers}")
        unit = f" {sheet.returns[1]}" if step.symbol == "result" and sheet.returns[1] != "-" else ""
        lines.append(f"  {'':<{len(step.symbol)}} = {_number(step.value)}{unit}")
    lines += [f"  Source: {reference}" for reference in sheet.references]
    return "\n".join(lines)


def _unit(sheet: FormulaSheet, name: str) -> str:
    unit = sheet.arguments.get(name, ("", ""))[1]
    return f"[{unit}]" if unit else ""


def explain_text(plan: TravelPlan, finding: Finding, workings: Iterable[Working], rulebook: Rulebook) -> str:
    """Give one finding: where, the sentence, the arithmetic of the judgement, the working, limit and source."""
    lines = [
        f"Flag {finding.flag} of plan {plan.plan_id}: {finding.verdict.upper()}  {finding.rule} ({finding.id})",
        where_text(finding.where),
        sentence(finding, rulebook),
        "",
    ]
    if finding.demand is not None and finding.capacity is not None:
        lines += judgement_lines(finding)
        if finding.verdict == "caution" and finding.control and (finding.margin or 0.0) < 0.0:
            lines.append("It passes only with the control named below, and only as long as that is in place.")
    if finding.missing:
        words = [f"{name} ({said})" if (said := field_words(name)) else name for name in finding.missing]
        lines.append(f"Missing: {', '.join(words)}; without it the answer is unknown, whatever the other numbers are.")
    if finding.limit is not None:
        limit = finding.limit
        lines.append(
            f"Limit: {limit.id} = {_number(limit.value)} {limit_unit(finding, rulebook)}, from the {limit.layer} "
            f"({limit.status}); {source_text(limit.source, rulebook, plan.sources)}"
        )
    if finding.control:
        control = rulebook.controls.get(finding.control)
        lines.append(f"Control: {finding.control}" + (f": {control.text}" if control else ""))
    for working in workings:
        lines += ["", working_text(working)]
    return "\n".join(lines)


def judgement_lines(finding: Finding) -> list[str]:
    """Give the arithmetic that judges a finding."""
    demand, capacity = finding.demand or 0.0, finding.capacity or 0.0
    tolerance = finding.tolerance or 0.0
    unit = finding.unit
    return [
        f"margin = capacity − demand − tolerance = {capacity:.6g} − {demand:.6g} − {tolerance:.6g} "
        f"= {capacity - demand - tolerance:.4g} {unit}",
        f"{capacity:.6g} − {demand:.6g} + {tolerance:.6g} = {capacity - demand + tolerance:.4g} {unit} "
        "(below zero: blocked; else margin below zero: unknown; else below the caution margin: caution)",
    ]


def working_json(working: Working) -> dict[str, Any]:
    """Give a working as plain values for JSON."""
    return {
        "formula": working.sheet.name,
        "gives": working.sheet.gives,
        "unit": working.sheet.returns[1],
        "arguments": dict(working.arguments),
        "holds": working.holds,
        "broken": list(working.broken),
        "steps": [
            {
                "symbol": s.symbol,
                "expression": s.expression,
                "with_numbers": s.with_numbers,
                "value": list(s.value) if isinstance(s.value, tuple) else s.value,
            }
            for s in working.steps
        ],
        "value": list(working.value) if isinstance(working.value, tuple) else working.value,
        "references": list(working.sheet.references),
    }


def sheet_json(sheet: FormulaSheet) -> dict[str, Any]:
    """Give a sheet as plain values for JSON."""
    return {
        "name": sheet.name,
        "topic": sheet.topic,
        "gives": sheet.gives,
        "equation": sheet.equation,
        "arguments": {name: {"about": text, "unit": unit} for name, (text, unit) in sheet.arguments.items()},
        "returns": {"about": sheet.returns[0], "unit": sheet.returns[1]},
        "valid_for": list(sheet.valid_for),
        "references": list(sheet.references),
        "verified_against": list(sheet.verified_against),
    }
