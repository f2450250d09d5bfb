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
    if outcome.permitted is not None:
        verdict = np.where(outcome.permitted, Verdict.CLEAR, Verdict.BLOCKED).astype(np.uint8)
        lacking: Bools | bool = False
    else:
        verdict, lacking = _three_way(outcome)
    unknown = outcome.outside | np.asarray(lacking)
    for where in outcome.missing.values():
        unknown = unknown | where
    held = np.maximum(verdict, np.where(outcome.controlled, Verdict.CAUTION, Verdict.CLEAR).astype(np.uint8))
    answer = np.where(unknown, np.uint8(Verdict.UNKNOWN), held)
    return np.where(outcome.applies, answer, np.uint8(Verdict.CLEAR))


def _three_way(outcome: Outcome) -> tuple[Verdicts, Bools]:
    with np.errstate(invalid="ignore"):
        margin = np.asarray(outcome.capacity) - np.asarray(outcome.demand)
        sure = margin - outcome.tolerance
        verdict = np.where(sure < outcome.caution, np.uint8(Verdict.CAUTION), np.uint8(Verdict.CLEAR))
        verdict = np.where(sure < 0, np.uint8(Verdict.UNKNOWN), verdict)
        verdict = np.where(margin + outcome.tolerance < 0, np.uint8(Verdict.BLOCKED), verdict)
    return verdict, np.isnan(sure) | np.isnan(outcome.caution)
