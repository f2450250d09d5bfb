"""What a rule answers over rows, and the one function that judges it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from travel.domain.verdict import Verdict
from travel.rulebook import LimitColumn

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Verdicts = NDArray[np.uint8]
Column = Floats | float


@dataclass(frozen=True, eq=False, kw_only=True)
class Outcome:
    """One rule over rows (and directions, and configurations); every array broadcasts with the others.

    SI throughout. ``demand`` is what the place asks, ``capacity`` what machine or ground gives, ``tolerance`` the
    95 % half-bands of both added, ``caution`` the margin below which a pass is thin. ``applies``: outside it the rule
    is silent. ``missing``: name of what is not known → where. ``permitted`` replaces demand and capacity for a yes or
    no. ``controlled``: passes only with the rule's control. ``cap_mps``: a speed, for rules that hold it.
    ``exposed``: metres here count as exposure to a high consequence.
    """

    demand: Column = np.nan
    capacity: Column = np.nan
    tolerance: Column = 0.0
    caution: Column = 0.0
    applies: Bools | bool = True
    missing: Mapping[str, Bools] = field(default_factory=dict)
    outside: Bools | bool = False
    permitted: Bools | None = None
    controlled: Bools | bool = False
    cap_mps: Column | None = None
    exposed: Bools | None = None
    control: str = ""
    terms: Mapping[str, Column] = field(default_factory=dict)
    capacity_terms: Mapping[str, Column] = field(default_factory=dict)
    limit: LimitColumn | None = None
    limit_source: str = ""


def judge(outcome: Outcome) -> Verdicts:
    """Give the verdicts: with m = capacity − demand and t the tolerance, m + t < 0 blocked, else m − t < 0 unknown,
    else m − t < caution margin caution, else clear. Equality passes. Missing or outside validity is unknown, and so is
    a number that is NaN, the caution margin's included."""
    lacking: Bools | bool = False
    if outcome.permitted is not None:
        verdict = _as(Verdict.BLOCKED, ~np.asarray(outcome.permitted))
    else:
        verdict, lacking = _three_way(outcome)
    unknown = outcome.outside | np.asarray(lacking)
    for where in outcome.missing.values():
        unknown = unknown | where
    if not (isinstance(outcome.controlled, bool) and not outcome.controlled):
        verdict = np.maximum(verdict, _as(Verdict.CAUTION, outcome.controlled))
    verdict = np.where(unknown, np.uint8(Verdict.UNKNOWN), verdict)
    return verdict if outcome.applies is True else verdict * np.asarray(outcome.applies, dtype=np.uint8)


def _as(verdict: Verdict, where: Bools | bool) -> Verdicts:
    """Give a verdict where something holds, elsewhere clear, which is 0."""
    return np.multiply(np.asarray(where, dtype=bool).view(np.uint8), np.uint8(verdict))


def _three_way(outcome: Outcome) -> tuple[Verdicts, Bools]:
    """Give the verdicts, of which a worse one holds over a better, and where a number is NaN."""
    with np.errstate(invalid="ignore"):
        margin = np.asarray(outcome.capacity) - np.asarray(outcome.demand)
        sure = margin - outcome.tolerance
        verdict = np.maximum(_as(Verdict.CAUTION, sure < outcome.caution), _as(Verdict.UNKNOWN, sure < 0))
        verdict = np.maximum(verdict, _as(Verdict.BLOCKED, margin + outcome.tolerance < 0))
    return verdict, np.isnan(sure) | np.isnan(outcome.caution)
