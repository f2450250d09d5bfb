"""Every rule over every piece, direction and configuration, folded at once into the worst verdict and its rule."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome, Verdicts, judge
from travel.checks.registry import Part, ask, parts_for
from travel.checks.rows import Rows
from travel.domain.verdict import Verdict
from travel.survey import Pairs

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

MOST_UNKNOWNS = 255
THREADS = 2
"""Blocks folded side by side."""

BLOCK = 16384
"""Pieces folded together: small enough to stay in cache, large enough to hide the interpreter."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Fold:
    """What is left per piece × direction (0 along, 1 against) × configuration.

    ``rule`` and ``cap_rule`` index ``rules`` (−1 = none). ``cap_mps`` includes the gear's own top speed. ``unknowns``
    counts the answers that are unknown (at most ``MOST_UNKNOWNS``): of two unknown cells one has less to settle.
    """

    worst: Verdicts
    rule: NDArray[np.int16]
    cap_mps: Floats
    cap_rule: NDArray[np.int16]
    exposed: Bools
    unknowns: NDArray[np.uint8]
    rules: tuple[str, ...]


def acceptance_id(rule: str, trip: str, road: str, layer: str = "", feature: str = "") -> str:
    """Give the stable id of one rule's answer about one road (or layer) and feature on one trip."""
    text = "\x1f".join((rule, trip, road, layer, feature))
    return f"{rule}-{hashlib.sha256(text.encode()).hexdigest()[:8]}"


def pairs_of(case: Case, part: Part) -> Pairs:
    """Give the pairs of piece and feature one part of a rule looks at."""
    beside = part.beside_m(case) if part.beside_m else None
    return case.survey.pairs(part.layer, case.body.reach_m if case.body.reach_m > 0 else 0.0, beside)


def fold(case: Case, accepted: frozenset[str] = frozenset(), progress: Callable[[float], None] | None = None) -> Fold:
    """Fold all registered rules over the whole survey.

    Args:
        case: the trip
        accepted: acceptance ids; an acceptable unknown with such an id counts as caution
        progress: called with the share done
    """
    n, c = len(case.survey.pieces.road), len(case.configurations)
    rules = tuple(dict.fromkeys(part.rule for part in parts_for(case)))
    out = Fold(
        worst=np.zeros((n, 2, c), dtype=np.uint8),
        rule=np.full((n, 2, c), -1, dtype=np.int16),
        cap_mps=np.broadcast_to(case.configurations.top_mps, (n, 2, c)).copy(),
        cap_rule=np.full((n, 2, c), -1, dtype=np.int16),
        exposed=np.broadcast_to(case.configurations.reverse, (n, 2, c)).copy(),
        unknowns=np.zeros((n, 2, c), dtype=np.uint8),
        rules=rules,
    )
    starts = range(0, n, BLOCK)
    # the first block alone, so that what the rules share is worked out once; the rest side by side: blocks are disjoint
    # rows, and array arithmetic lets other threads run
    with ThreadPoolExecutor(max_workers=THREADS) as pool:
        done = chain(
            map(lambda start: _fold_block(out, case, start, accepted), starts[:1]),
            pool.map(lambda start: _fold_block(out, case, start, accepted), starts[1:]),
        )
        for number, _ in enumerate(done):
            if progress:
                progress((number + 1) / len(starts))
    return out


def _fold_block(out: Fold, case: Case, start: int, accepted: frozenset[str]) -> None:
    """Fold all rules over one block of pieces."""
    stop = min(start + BLOCK, len(out.worst))
    for index, rule in enumerate(out.rules):
        _add_layers(out, case, rule, index, slice(start, stop), accepted)
    for part in parts_for(case):
        index = out.rules.index(part.rule)
        for piece_rows, verdict, outcome in _part_block(case, part, start, stop, accepted):
            _add(out, piece_rows, index, verdict, outcome, case)


def grid_rows(case: Case, start: int, stop: int) -> Rows:
    """Give the grid of all cells of some pieces."""
    c = len(case.configurations)
    return Rows(
        case=case,
        piece=np.arange(start, stop).reshape(-1, 1, 1),
        sense=np.array([1, -1]).reshape(1, 2, 1),
        config=np.arange(c).reshape(1, 1, c),
    )


def _part_block(
    case: Case, part: Part, start: int, stop: int, accepted: frozenset[str]
) -> Iterator[tuple[Ints | slice, Verdicts, Outcome]]:
    rows = grid_rows(case, start, stop)
    if not part.layer:
        outcome = ask(part, rows, case)
        verdict = np.atleast_3d(judge(outcome))
        if accepted and case.rulebook.rules[part.rule].acceptable:
            verdict = _accept(verdict, case, part, rows.piece.ravel(), None, accepted)
        yield slice(start, stop), verdict, outcome
        return
    pairs = pairs_of(case, part)
    first, last = np.searchsorted(pairs.piece, [start, stop])
    if first == last:
        return
    chosen = np.arange(first, last)
    piece = pairs.piece[chosen]
    rows = Rows(
        case=case,
        piece=piece.reshape(-1, 1, 1),
        sense=rows.sense,
        config=rows.config,
        pairs=pairs,
        pair=chosen.reshape(-1, 1, 1),
        layer=case.survey.site.layers[part.layer],
    )
    outcome = ask(part, rows, case)
    verdict = np.atleast_3d(judge(outcome))
    if accepted and case.rulebook.rules[part.rule].acceptable:
        verdict = _accept(verdict, case, part, piece, pairs.feature[chosen], accepted)
    yield piece, verdict, outcome


def _add(out: Fold, rows: Ints | slice, index: int, verdict: Verdicts, outcome: Outcome, case: Case) -> None:
    """Fold one part's answers over some pieces (pairs: several rows a piece) into the whole."""
    high = case.rulebook.rules[out.rules[index]].high_consequence
    cap = None if outcome.cap_mps is None else np.where(outcome.applies, outcome.cap_mps, np.inf)
    exposed = (verdict >= Verdict.CAUTION) if outcome.exposed is None and high else outcome.exposed
    if not isinstance(rows, slice):
        count = len(rows)
        rows, heads = np.unique(rows, return_index=True)
        verdict = np.maximum.reduceat(_tall(verdict, count), heads, axis=0)
        cap = None if cap is None else np.minimum.reduceat(_tall(cap, count), heads, axis=0)
        exposed = None if exposed is None else np.logical_or.reduceat(_tall(exposed, count), heads, axis=0)
    shape = (len(out.worst[rows]), 2, out.worst.shape[2])
    _worse(out, rows, index, np.broadcast_to(verdict, shape))
    if cap is not None:
        _slower(out, rows, index, np.broadcast_to(np.nan_to_num(np.atleast_3d(cap), nan=np.inf), shape))
    if exposed is not None:
        out.exposed[rows] |= np.broadcast_to(np.atleast_3d(exposed), shape)


def _tall(values: NDArray[Any], count: int) -> NDArray[Any]:
    """Give a column with one row a pair, also where the rule's answer is the same for all of them."""
    cube = np.atleast_3d(values)
    return np.broadcast_to(cube, (count, *cube.shape[1:]))


def _worse(out: Fold, rows: Ints | slice, index: int, verdict: Verdicts) -> None:
    if not verdict.any():
        return
    old, count = out.worst[rows], out.unknowns[rows]
    worse = verdict > old
    out.worst[rows] = np.where(worse, verdict, old)
    out.unknowns[rows] = count + ((verdict == Verdict.UNKNOWN) & (count < MOST_UNKNOWNS))
    out.rule[rows] = np.where(worse, np.int16(index), out.rule[rows])


def _slower(out: Fold, rows: Ints | slice, index: int, cap: Floats) -> None:
    old = out.cap_mps[rows]
    slower = cap < old
    out.cap_mps[rows] = np.where(slower, cap, old)
    out.cap_rule[rows] = np.where(slower, np.int16(index), out.cap_rule[rows])


def _add_layers(out: Fold, case: Case, rule_id: str, index: int, block: slice, accepted: frozenset[str]) -> None:
    """A layer nobody looked at makes its rules unknown there."""
    rule = case.rulebook.rules[rule_id]
    for layer in rule.layers:
        lacking = ~case.survey.looked_at(layer)[block]
        if not lacking.any():
            continue
        verdict = np.where(lacking, np.uint8(Verdict.UNKNOWN), np.uint8(Verdict.CLEAR))
        if accepted and rule.acceptable:
            declared = case.survey.site.note(layer) is not None
            roads = case.survey.pieces.road[block]
            ids = case.survey.site.layers["roads"].ids
            for road in np.unique(roads[lacking]):
                key = acceptance_id(rule_id, case.trip, ids[road] if declared else "", layer)
                if key in accepted:
                    verdict = np.where((roads == road) & lacking, np.uint8(Verdict.CAUTION), verdict)
        _worse(out, block, index, np.broadcast_to(verdict.reshape(-1, 1, 1), (len(verdict), 2, out.worst.shape[2])))


def _accept(
    verdict: Verdicts, case: Case, part: Part, piece: Ints, feature: Ints | None, accepted: frozenset[str]
) -> Verdicts:
    """Turn accepted unknowns into cautions."""
    rows = np.flatnonzero((verdict == Verdict.UNKNOWN).any(axis=(1, 2)))
    if not len(rows):
        return verdict
    if verdict.shape[0] == 1:
        verdict = np.repeat(verdict, len(piece), axis=0)
        rows = np.arange(len(piece))
    roads = case.survey.site.layers["roads"].ids
    ids = case.survey.site.layers[part.layer].ids if part.layer else ()
    which = case.survey.pieces.road[piece[rows]]
    named = np.full(len(rows), -1) if feature is None else feature[rows]
    verdict = verdict.copy()
    for road, row in {(int(a), int(b)) for a, b in zip(which, named, strict=True)}:
        key = acceptance_id(
            part.rule, case.trip, roads[road], part.layer if row >= 0 else "", ids[row] if row >= 0 else ""
        )
        if key in accepted:
            mine = rows[(which == road) & (named == row)]
            verdict[mine] = np.where(verdict[mine] == Verdict.UNKNOWN, np.uint8(Verdict.CAUTION), verdict[mine])
    return verdict
