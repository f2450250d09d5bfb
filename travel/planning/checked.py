"""Proof that each rule was looked at, and what stood against the configurations not chosen."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from travel.checks import Answer, answers_for, built_rules
from travel.domain.plan import Because, Checked, Judged, Where
from travel.domain.rules import Rulebook
from travel.domain.verdict import Verdict
from travel.planning.findings import where_of
from travel.planning.legs import Run
from travel.planning.trips import Cells, Trip
from travel.units import SI_PER_UNIT

Floats = NDArray[np.float64]


@dataclass(slots=True)
class _Tally:
    """Metres by verdict of one rule over all trips, and the smallest margin met."""

    metres: dict[Verdict, float] = field(default_factory=lambda: dict.fromkeys(Verdict, 0.0))
    applied_m: float = 0.0
    smallest: float = np.inf
    at: Where | None = None


def checked_of(trips: list[tuple[Trip, tuple[Answer, ...]]], rulebook: Rulebook) -> tuple[Checked, ...]:
    """Give one row a rule: where it applied, metres by verdict, the smallest margin and where."""
    tallies = {rule: _Tally() for rule in rulebook.rules}
    for trip, answers in trips:
        length = trip.case.survey.pieces.length_m[trip.cells.piece]
        for rule in dict.fromkeys(answer.rule for answer in answers):
            _tally(tallies[rule], trip, [a for a in answers if a.rule == rule], length)
    built = built_rules()
    return tuple(_checked(rule, tally, rulebook, rule in built) for rule, tally in tallies.items())


def _tally(tally: _Tally, trip: Trip, answers: list[Answer], length: Floats) -> None:
    worst = np.zeros(len(length), dtype=np.uint8)
    applied = np.zeros(len(length), dtype=bool)
    for answer in answers:
        applies = answer.applies() | (answer.verdict > Verdict.CLEAR)
        np.maximum.at(worst, answer.position, answer.verdict)
        np.logical_or.at(applied, answer.position, applies)
        _smallest(tally, trip, answer, applies)
    for verdict in Verdict:
        tally.metres[verdict] += float(length[applied & (worst == verdict)].sum())
    tally.applied_m += float(length[applied].sum())


def _smallest(tally: _Tally, trip: Trip, answer: Answer, applies: NDArray[np.bool_]) -> None:
    outcome = answer.outcome
    if outcome.permitted is not None or not applies.any():
        return
    margin = np.broadcast_to(np.asarray(outcome.capacity) - outcome.demand - outcome.tolerance, applies.shape)
    margin = np.where(applies & ~np.isnan(margin), margin, np.inf)
    row = int(np.argmin(margin))
    if margin[row] < tally.smallest:
        tally.smallest = float(margin[row])
        tally.at = where_of(trip, trip.cells, answer, row, answer.position[[row]])


def _checked(rule_id: str, tally: _Tally, rulebook: Rulebook, built: bool) -> Checked:
    rule = rulebook.rules[rule_id]
    return Checked(
        rule=rule_id,
        title=rule.title,
        built=built,
        applied_m=tally.applied_m,
        clear_m=tally.metres[Verdict.CLEAR],
        caution_m=tally.metres[Verdict.CAUTION],
        unknown_m=tally.metres[Verdict.UNKNOWN],
        blocked_m=tally.metres[Verdict.BLOCKED],
        smallest_margin=tally.smallest / SI_PER_UNIT[rule.unit] if np.isfinite(tally.smallest) else None,
        unit=rule.unit,
        at=tally.at,
    )


def because_of(trip: Trip, runs: tuple[Run, ...]) -> list[tuple[Because, ...]]:
    """Give, leg by leg, what stands against each state the leg was not driven in (same sense, same place)."""
    states = trip.case.configurations.states
    out: list[tuple[Because, ...]] = []
    for run in runs:
        cells = slice(run.first, run.last + 1)
        piece, sense = trip.cells.piece[cells], trip.cells.sense[cells]
        own = int(trip.cell_worst[cells].max())
        rows = []
        for state, words in enumerate(states):
            if state != run.steps[0].state:
                because = _against(trip, piece, sense, state, words, own)
                rows += [because] if because else []
        out.append(tuple(rows))
    return out


def _against(
    trip: Trip, piece: NDArray[np.int64], sense: NDArray[np.int64], state: int, words: tuple[str, ...], own: int
) -> Because | None:
    way = (1 - sense) // 2
    config = trip.choice.config[piece, way, state]
    worst = trip.folded.worst[piece, way, config]
    index = int(np.argmax(worst))
    if worst[index] <= own:
        return None
    one = Cells(piece=piece[[index]], sense=sense[[index]], config=config[[index]], step=np.zeros(1, dtype=np.int64))
    rule_id = trip.folded.rules[trip.folded.rule[piece[index], way[index], config[index]]]
    answers = answers_for(trip.case, one.piece, one.sense, one.config, frozenset({rule_id}))
    answer = max(answers, key=lambda a: int(a.verdict.max()) if len(a.verdict) else 0)
    row = int(np.argmax(answer.verdict))
    rule = trip.case.rulebook.rules[answer.rule]
    demand, capacity = (answer.value(name, row) / SI_PER_UNIT[rule.unit] for name in ("demand", "capacity"))
    return Because(
        configuration=" ".join(words),
        rule=answer.rule,
        where=where_of(trip, one, answer, row, np.zeros(1, dtype=np.int64)),
        demand=None if np.isnan(demand) else demand,
        capacity=None if np.isnan(capacity) else capacity,
        unit=rule.unit,
    )


def judged_of(trip: Trip) -> tuple[Judged, ...]:
    """Give the worst cell of each rule on each road of the way, in every direction and travel, chosen or not."""
    case = trip.case
    pieces = np.flatnonzero(np.isin(case.survey.pieces.road, case.survey.pieces.road[trip.cells.piece]))
    c, n = len(case.configurations), len(pieces)
    piece = np.repeat(pieces, 2 * c)
    sense = np.tile(np.repeat([1, -1], c), n)
    config = np.tile(np.arange(c), 2 * n)
    roads, rows = case.survey.site.layers["roads"].ids, []
    reverse = case.configurations.reverse[config].astype(np.int64)
    group = (case.survey.pieces.road[piece] * 2 + (sense < 0)) * 2 + reverse
    order = np.argsort(group, kind="stable")
    codes, starts = np.unique(group[order], return_index=True)
    for rule, answers in _by_rule(answers_for(case, piece, sense, config)).items():
        unit = SI_PER_UNIT[case.rulebook.rules[rule].unit]
        verdict, margin = np.zeros(len(piece), dtype=np.uint8), np.full(len(piece), np.inf)
        for answer in answers:
            np.maximum.at(verdict, answer.position, answer.verdict)
            gap = np.asarray(answer.outcome.capacity) - answer.outcome.demand - answer.outcome.tolerance
            gap = np.where(answer.applies(), np.broadcast_to(gap, answer.verdict.shape), np.inf)
            np.minimum.at(margin, answer.position, np.where(np.isnan(gap), np.inf, gap))
        worst = np.maximum.reduceat(verdict[order], starts).tolist()
        leasts = np.minimum.reduceat(margin[order], starts).tolist()
        for code, code_worst, least in zip(codes.tolist(), worst, leasts, strict=True):
            rows.append(
                Judged(
                    rule=rule,
                    road=roads[code // 4],
                    direction="against" if code // 2 % 2 else "along",
                    travel="reverse" if code % 2 else "forward",
                    verdict=Verdict(code_worst).word,  # type: ignore[arg-type]
                    margin=least / unit if np.isfinite(least) else None,
                )
            )
    return tuple(rows)


def _by_rule(answers: tuple[Answer, ...]) -> dict[str, list[Answer]]:
    out: dict[str, list[Answer]] = {}
    for answer in answers:
        out.setdefault(answer.rule, []).append(answer)
    return out
