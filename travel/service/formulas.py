"""Every formula with its sheet; one evaluated with its working; a finding explained from ``plan.json`` alone."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np

from travel.domain.plan import Finding, TravelPlan
from travel.domain.working import FormulaSheet, Working, WorkingStep
from travel.errors import Fault, InputError
from travel.mechanics import formula as formulas
from travel.readers.files import read_bytes
from travel.readers.notes import Notes
from travel.rulebook import load_rulebook
from travel.writers.formula_text import explain_text, list_text, sheet_json, sheet_text, working_json, working_text
from travel.writers.plan_json import plan_from_bytes


@cache
def _verified() -> dict[str, list[str]]:
    return tomllib.loads((files("travel.mechanics") / "verified.toml").read_text(encoding="utf-8"))


def all_sheets() -> tuple[FormulaSheet, ...]:
    """Give the sheet of every formula, by topic and name."""
    return tuple(sorted((sheet_of(name) for name in formulas.catalogue()), key=lambda s: (s.topic, s.name)))


def sheet_of(name: str) -> FormulaSheet:
    """Give one formula's sheet; an unknown name is a fault that lists near ones."""
    if name not in formulas.catalogue():
        near = [other for other in formulas.catalogue() if name and (name in other or other in name)]
        raise InputError(
            [
                Fault(
                    file="command",
                    field="NAME",
                    value=name,
                    message="is not a formula",
                    allowed=", ".join(near) or "see 'travel formula'",
                )
            ]
        )
    own = formulas.sheet(formulas.catalogue()[name])
    return FormulaSheet(
        name=name,
        topic=own["topic"],
        gives=own["gives"],
        equation=own["equation"],
        arguments=own["arguments"],
        returns=own["returns"],
        valid_for=own["valid_for"],
        references=own["references"],
        verified_against=tuple(_verified().get(name, ())),
    )


def work_out(name: str, arguments: Mapping[str, float]) -> Working:
    """Evaluate one formula step by step.

    Raises:
        InputError: arguments missing or not the formula's
    """
    sheet = sheet_of(name)
    faults = [
        Fault(file="command", field=key, message=f"is not an argument of {name}", allowed=", ".join(sheet.arguments))
        for key in arguments
        if key not in sheet.arguments
    ]
    faults += [
        Fault(file="command", field=key, message=f"is needed: {text} [{unit}]")
        for key, (text, unit) in sheet.arguments.items()
        if key not in arguments
    ]
    if faults:
        raise InputError(faults)
    own = formulas.catalogue()[name]
    broken = formulas.broken_lines(own, **arguments)
    steps: tuple[WorkingStep, ...] = ()
    if not broken:
        with np.errstate(all="ignore"):
            steps = tuple(
                WorkingStep(symbol=a, expression=b, with_numbers=c, value=_plain(d))
                for a, b, c, d in formulas.working(own, **arguments)
            )
    return Working(
        sheet=sheet,
        arguments=dict(arguments),
        steps=steps,
        value=steps[-1].value if steps else None,
        holds=not broken,
        broken=broken,
    )


def _plain(value: Any) -> float | tuple[float, ...] | None:
    array = np.asarray(value)
    if array.dtype.kind not in "fiub":
        return None
    return float(array) if array.ndim == 0 else tuple(float(v) for v in array.ravel())


def formula_arguments(words: tuple[str, ...]) -> dict[str, float]:
    """Read ``key=value`` words into numbers; every fault at once."""
    out, faults = {}, []
    for word in words:
        key, equals, value = word.partition("=")
        try:
            out[key] = float(value)
        except ValueError:
            equals = ""
        if not equals:
            faults.append(
                Fault(
                    file="command",
                    field=key,
                    value=word,
                    message="cannot be read",
                    allowed="name=number, SI units as the formula's sheet says",
                )
            )
    if faults:
        raise InputError(faults)
    return out


def read_plan(path: Path) -> TravelPlan:
    """Read a ``plan.json``."""
    notes = Notes(file=path.name)
    read = read_bytes(path, "plan", notes)
    if read is None:
        raise InputError(notes.faults)
    return plan_from_bytes(read[0], path.name)


def explain(path: Path, flag: int) -> tuple[TravelPlan, Finding, tuple[Working, ...]]:
    """Give one finding of a plan with the working of its demand, and of its capacity where that is computed."""
    plan = read_plan(path)
    finding = next((f for f in plan.findings if f.flag == flag), None)
    if finding is None:
        flags = ", ".join(str(f.flag) for f in plan.findings) or "none"
        raise InputError(
            [Fault(file=path.name, field="FLAG", value=str(flag), message="is not a flag of this plan", allowed=flags)]
        )
    pairs = ((finding.formula, finding.terms), (finding.capacity_formula, finding.capacity_terms))
    workings = tuple(
        work_out(name, terms)
        for name, terms in pairs
        if name and terms and not any(np.isnan(v) for v in terms.values())
    )
    return plan, finding, workings


def formula_text(name: str | None, words: tuple[str, ...], as_json: bool) -> tuple[str, bool]:
    """Give what ``travel formula`` prints, and whether the values were ones the formula holds for."""
    if name is None:
        sheets = all_sheets()
        return (
            json.dumps([sheet_json(s) for s in sheets], indent=2, ensure_ascii=False) if as_json else list_text(sheets)
        ), True
    if not words:
        sheet = sheet_of(name)
        return (json.dumps(sheet_json(sheet), indent=2, ensure_ascii=False) if as_json else sheet_text(sheet)), True
    working = work_out(name, formula_arguments(words))
    return (
        json.dumps(working_json(working), indent=2, ensure_ascii=False) if as_json else working_text(working)
    ), working.holds


def explanation(path: Path, flag: int, as_json: bool) -> str:
    """Give what ``travel explain`` prints."""
    plan, finding, workings = explain(path, flag)
    if as_json:
        return json.dumps(
            {"finding": finding.id, "flag": flag, "workings": [working_json(w) for w in workings]},
            indent=2,
            ensure_ascii=False,
        )
    return explain_text(plan, finding, workings, load_rulebook())
