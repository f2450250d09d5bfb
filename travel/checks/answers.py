"""The same rules again, on the few cells of a way: numbers, reasons and terms for findings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.fold import pairs_of
from travel.checks.outcome import Outcome, Verdicts, judge
from travel.checks.registry import Part, ask, parts_for
from travel.checks.rows import Rows
from travel.domain.verdict import Verdict

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NUMBERS = ("demand", "capacity", "tolerance", "caution")
"""What a rule gives in numbers."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Answer:
    """One part of a rule over a list of cells. ``position`` tells each row's cell; ``feature`` −1 = none.

    ``layer`` names the feature's layer, or the layer nobody looked at (then ``not_looked`` is set).
    """

    rule: str
    position: Ints
    feature: Ints
    layer: str
    verdict: Verdicts
    outcome: Outcome
    not_looked: bool = False
    part: str = ""

    def value(self, name: str, row: int) -> float:
        """Give a number of the outcome (``demand``, ``capacity``, ``tolerance``, ``caution``) at one row."""
        return float(at(getattr(self.outcome, name), row))

    def applies(self) -> Bools:
        """Give where the rule applied."""
        return np.broadcast_to(np.asarray(self.outcome.applies, dtype=bool), self.verdict.shape)

    def missing(self, row: int) -> tuple[str, ...]:
        """Give what is missing at one row; a number the rule could not give is named by what it stands for."""
        named = tuple(name for name, where in self.outcome.missing.items() if bool(at(where, row)))
        if named or self.outcome.permitted is not None or bool(at(self.outcome.outside, row)):
            return named
        return tuple(name for name in NUMBERS if np.isnan(self.value(name, row)))

    def reason(self, row: int) -> str:
        """Give why a row is unknown or only caution: one word for files, filled into sentences by writers."""
        return self.reasons(np.array([row]))[0]

    def reasons(self, rows: Ints) -> list[str]:
        """Give the same for some rows."""
        verdict, shape = self.verdict[rows], self.verdict.shape
        capacity, demand, tolerance, caution, controlled = (
            np.broadcast_to(np.asarray(getattr(self.outcome, name)), shape)[rows]
            for name in ("capacity", "demand", "tolerance", "caution", "controlled")
        )
        thin, controlled = capacity - demand - tolerance < caution, controlled.astype(bool)
        said = np.where(controlled, np.where(thin, "margin and control", "control"), "margin")
        out: list[str] = np.where(verdict == Verdict.CAUTION, said, "").tolist()
        unknown = np.flatnonzero(verdict == Verdict.UNKNOWN)
        if len(unknown):
            _, first, alike = np.unique(self._lacking(rows[unknown]), axis=0, return_index=True, return_inverse=True)
            words = [self._unknown(int(rows[unknown[number]])) for number in first.tolist()]
            for number, word in zip(unknown.tolist(), alike.ravel().tolist(), strict=True):
                out[number] = words[word]
        return out

    def _lacking(self, rows: Ints) -> Bools:
        """Give, by row, all that tells why it is unknown: what is missing, what is outside, what is no number."""
        columns = [*self.outcome.missing.values(), self.outcome.outside]
        columns += [np.isnan(getattr(self.outcome, name)) for name in NUMBERS]
        every = [np.broadcast_to(np.asarray(column, dtype=bool), self.verdict.shape)[rows] for column in columns]
        return np.stack(every, axis=1)

    def _unknown(self, row: int) -> str:
        if self.not_looked:
            return "not_looked_at"
        missing = self.missing(row)
        if missing and all(name.endswith(" lapsed") for name in missing):
            return "lapsed"
        if missing:
            return "method" if all(name.endswith((" told", " assumed")) for name in missing) else "missing"
        return "outside_validity" if bool(at(self.outcome.outside, row)) else "within_tolerance"


def at(column: Any, row: int) -> Any:
    """Give one row of a column or of a single value."""
    values = np.asarray(column)
    return values.item() if values.ndim == 0 else values[row if len(values) > 1 else 0].item()


def answers_for(
    case: Case, piece: Ints, sense: Ints, config: Ints, only: frozenset[str] | None = None
) -> tuple[Answer, ...]:
    """Evaluate every rule on a list of cells.

    Args:
        case: the trip
        piece, sense, config: the cells: piece index, +1 along or −1 against, configuration index, each (r,)
        only: rules to evaluate; None = all
    """
    out: list[Answer] = []
    wanted = [part for part in parts_for(case) if only is None or part.rule in only]
    for rule in dict.fromkeys(part.rule for part in wanted):
        out += _not_looked(case, rule, piece)
    for part in wanted:
        out += _answer(case, part, piece, sense, config)
    return tuple(out)


def _answer(case: Case, part: Part, piece: Ints, sense: Ints, config: Ints) -> list[Answer]:
    if not part.layer:
        rows = Rows(case=case, piece=piece, sense=sense, config=config)
        position, feature = np.arange(len(piece)), np.full(len(piece), -1)
    else:
        pairs = pairs_of(case, part)
        first, last = np.searchsorted(pairs.piece, piece), np.searchsorted(pairs.piece, piece, side="right")
        count = last - first
        if not count.sum():
            return []
        position = np.repeat(np.arange(len(piece)), count)
        pair = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)
        feature = pairs.feature[pair]
        rows = Rows(
            case=case,
            piece=piece[position],
            sense=sense[position],
            config=config[position],
            pairs=pairs,
            pair=pair,
            layer=case.survey.site.layers[part.layer],
        )
    outcome = ask(part, rows, case)
    verdict = np.broadcast_to(judge(outcome), position.shape)
    return [
        Answer(
            rule=part.rule,
            position=position,
            feature=feature,
            layer=part.layer,
            verdict=verdict,
            outcome=outcome,
            part=part.check.__name__,
        )
    ]


def _not_looked(case: Case, rule: str, piece: Ints) -> list[Answer]:
    out = []
    for layer in case.rulebook.rules[rule].layers:
        lacking = ~case.survey.looked_at(layer)[piece]
        if lacking.any():
            position = np.flatnonzero(lacking)
            outcome = Outcome(missing={f"surveyed.{layer}": np.ones(len(position), dtype=bool)})
            out.append(
                Answer(
                    rule=rule,
                    position=position,
                    feature=np.full(len(position), -1),
                    layer=layer,
                    verdict=np.full(len(position), Verdict.UNKNOWN, dtype=np.uint8),
                    outcome=outcome,
                    not_looked=True,
                )
            )
    return out
