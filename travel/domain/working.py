"""A formula's sheet and its working with numbers, as values to print."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class FormulaSheet:
    """What a formula gives, its equation, arguments (name → text, unit), validity, references, what verified it."""

    name: str
    topic: str
    gives: str
    equation: str
    arguments: Mapping[str, tuple[str, str]]
    returns: tuple[str, str]
    valid_for: tuple[str, ...]
    references: tuple[str, ...]
    verified_against: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingStep:
    """One line of a formula's body: symbol, as written, with the numbers put in, value."""

    symbol: str
    expression: str
    with_numbers: str
    value: float | tuple[float, ...] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Working:
    """A formula evaluated step by step."""

    sheet: FormulaSheet
    arguments: Mapping[str, float]
    steps: tuple[WorkingStep, ...]
    value: float | tuple[float, ...] | None
    holds: bool
    broken: tuple[str, ...] = field(default=())
