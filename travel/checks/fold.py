"""Every rule over every piece, direction and configuration, folded at once into the worst verdict and its rule."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.alike import Alike
from travel.checks.case import Case
from travel.checks.outcome import Outcome, Verdicts, judge
from travel.checks.registry import Part, ask, parts_for
from travel.checks.rows import Rows
from travel.checks.summed import LAST_TURN, Summed, exposed_of, slowest_of, worst_of
from travel.domain.verdict import Verdict
from travel.survey import Pairs

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

THREADS = 2
"""Blocks folded side by side."""

FIRST = 64
BLOCK = 18000
"""Pieces folded together: small enough to stay in cache, large enough to hide the interpreter."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Fold:
    """What is left per piece × direction (0 along, 1 against) × configuration.

    ``rule`` and ``cap_rule`` index ``rules`` (−1 = none). ``cap_mps`` includes the gear's own top speed. ``unknowns``
    counts the answers that are unknown: of two unknown cells one has less to settle.
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
    out = Fold(
        worst=np.empty((n, 2, c), dtype=np.uint8, order="F"),
        rule=np.empty((n, 2, c), dtype=np.int16, order="F"),
        cap_mps=np.empty((n, 2, c), order="F"),
        cap_rule=np.empty((n, 2, c), dtype=np.int16, order="F"),
        exposed=np.empty((n, 2, c), dtype=bool, order="F"),
        unknowns=np.empty((n, 2, c), dtype=np.uint8, order="F"),
        rules=tuple(dict.fromkeys(part.rule for part in parts_for(case))),
    )
    folding = _Folding(case, out, accepted)
    # a few pieces alone, so that what the rules share is worked out once; the rest side by side: blocks are disjoint
    # rows, and array arithmetic lets other threads run
    blocks = _blocks(n)
    for block in blocks[:1]:
        folding.block(block)
    with ThreadPoolExecutor(max_workers=THREADS) as pool:
        for number, _ in enumerate(pool.map(folding.block, blocks[1:]), start=2):
            if progress:
                progress(number / len(blocks))
    if progress:
        progress(1.0)
    return out


def told_alike(case: Case, other: Case) -> bool:
    """Tell whether the rules that look at which trip it is say the same on two trips that are alike but for that."""
    whole = slice(0, len(case.survey.pieces))
    for part in parts_for(case):
        if part.by_trip:
            one, two = part_over(case, part, whole), part_over(other, part, whole)
            if one is not None and two is not None and not np.array_equal(one.verdict, two.verdict):
                return False
    return True


def _blocks(pieces: int) -> list[slice]:
    """Give the first few pieces, then blocks of one size, as many to each thread; what is no more than one, whole.

    A block costs some 15 ms of its own, as much as the arithmetic of several thousand pieces.
    """
    if pieces <= BLOCK:
        return [slice(0, pieces)] if pieces else []
    rounds = -(-(pieces - FIRST) // (BLOCK * THREADS))
    cuts = np.linspace(FIRST, pieces, rounds * THREADS + 1).astype(int).tolist()
    return [slice(a, b) for a, b in zip([0, *cuts[:-1]], cuts, strict=True)]


class _Folding:
    """Folds blocks of pieces; what one block tells of alike configurations serves the next."""

    def __init__(self, case: Case, out: Fold, accepted: frozenset[str]) -> None:
        self._case, self._out, self._accepted = case, out, accepted
        self._alike: dict[Part, Alike] = {}
        # the layers nobody looked at are asked for first, rule by rule, then part by part
        asked = [*range(len(out.rules)), *(out.rules.index(part.rule) for part in parts_for(case))]
        assert len(asked) < LAST_TURN
        self._rule_of_turn = np.full(LAST_TURN + 1, -1, dtype=np.int16)  # cells on which nothing spoke stay without
        self._rule_of_turn[1 : len(asked) + 1] = asked
        self._rule_of_rank = np.tile(self._rule_of_turn[::-1], len(Verdict))
        self._rule_of_rank[: LAST_TURN + 1] = -1

    def block(self, block: slice) -> None:
        """Fold all rules over one block of pieces."""
        case, out = self._case, self._out
        sums: dict[bytes, Summed] = {}
        everywhere = _sum_of(sums, block, Alike.all(len(case.configurations)))
        for index, rule in enumerate(out.rules):
            _add_layers(everywhere, case, rule, 1 + index, block, self._accepted)
        for turn, part in enumerate(parts_for(case), start=1 + len(out.rules)):
            alike = self._alike.get(part) or Alike.all(len(case.configurations))
            found = part_over(case, part, block, self._accepted, alike)
            if found is not None:
                self._alike[part] = found.alike
                _add(_sum_of(sums, block, found.alike), turn, found, case.rulebook.rules[part.rule].high_consequence)
        self._settle(block, list(sums.values()))

    def _settle(self, block: slice, sums: list[Summed]) -> None:
        """Write what a block comes to, configuration by configuration."""
        configurations, out, shape = self._case.configurations, self._out, (2, block.stop - block.start)
        for config in range(len(configurations)):
            rank, unknowns = worst_of(sums, config, shape)
            out.worst[block, :, config] = (rank >> 8).T
            out.rule[block, :, config] = np.take(self._rule_of_rank, rank).T
            out.unknowns[block, :, config] = unknowns.T
            cap_mps, turn = slowest_of(sums, config, np.full(shape, configurations.top_mps[config]))
            out.cap_mps[block, :, config] = cap_mps.T
            out.cap_rule[block, :, config] = np.take(self._rule_of_turn, turn).T
            out.exposed[block, :, config] = exposed_of(sums, config, np.full(shape, configurations.reverse[config])).T


def _sum_of(sums: dict[bytes, Summed], block: slice, alike: Alike) -> Summed:
    key = alike.group.tobytes()
    if key not in sums:
        sums[key] = Summed(block.stop - block.start, alike)
    return sums[key]


def grid_rows(case: Case, start: int, stop: int, alike: Alike | None = None) -> Rows:
    """Give the grid of all cells of some pieces; with ``alike`` one for each group of configurations."""
    return Rows(
        case=case,
        piece=np.arange(start, stop).reshape(1, 1, -1),
        sense=np.array([1, -1]).reshape(1, 2, 1),
        config=np.arange(len(case.configurations)).reshape(-1, 1, 1) if alike is None else alike.config,
        alike=alike,
        span=slice(start, stop),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class Found:
    """One part's answers over some pieces (pairs: several rows a piece), by groups of alike configurations.

    ``rows`` are the pieces counted from the start of the block.
    """

    rows: Ints | slice
    verdict: Verdicts
    outcome: Outcome
    alike: Alike


def part_over(
    case: Case, part: Part, block: slice, accepted: frozenset[str] = frozenset(), alike: Alike | None = None
) -> Found | None:
    """Give one part's answers over a block of pieces, or None where it meets no feature there.

    Args:
        case: the trip
        part: one part of a rule
        block: the pieces
        accepted: acceptance ids
        alike: the groups of configurations to begin with; they are split until the rule sees no difference in any
    """
    groups = Alike.all(len(case.configurations)) if alike is None else alike.anew()
    rows = _grid_of(case, part, block, groups)
    if not rows.piece.size:
        return None
    outcome = ask(part, rows, case)
    while (finer := groups.split()) is not None:
        groups = finer
        outcome = ask(part, dataclasses.replace(rows, config=groups.config, alike=groups), case)
    verdict = _cube(judge(outcome))
    piece = rows.piece.ravel()
    if accepted and case.rulebook.rules[part.rule].acceptable:
        feature = None if rows.pairs is None else rows.feature.ravel()
        verdict = _accept(verdict, case, part, piece, feature, accepted)
    here = slice(0, len(piece)) if rows.pairs is None else piece - block.start
    return Found(rows=here, verdict=verdict, outcome=outcome, alike=groups)


def _grid_of(case: Case, part: Part, block: slice, alike: Alike) -> Rows:
    """Give the cells of a block, or of its pairs with the features the part looks at."""
    rows = grid_rows(case, block.start, block.stop, alike)
    if not part.layer:
        return rows
    pairs = pairs_of(case, part)
    pair = np.arange(*np.searchsorted(pairs.piece, [block.start, block.stop]))
    return dataclasses.replace(
        rows,
        piece=pairs.piece[pair].reshape(1, 1, -1),
        pairs=pairs,
        pair=pair.reshape(1, 1, -1),
        span=None,
        layer=case.survey.site.layers[part.layer],
    )


def _add(into: Summed, turn: int, found: Found, high: bool) -> None:
    """Add one part's answers; ``high``: of high consequence, so that what is not clear counts as exposure."""
    rows, verdict, outcome = found.rows, found.verdict, found.outcome
    cap = None if outcome.cap_mps is None else _cube(np.where(outcome.applies, outcome.cap_mps, np.inf))
    exposed = (verdict >= Verdict.CAUTION) if outcome.exposed is None and high else outcome.exposed
    exposed = None if exposed is None else _cube(exposed)
    if not isinstance(rows, slice):
        count = len(rows)
        rows, heads = np.unique(rows, return_index=True)
        verdict = np.maximum.reduceat(_long(verdict, count), heads, axis=-1)
        cap = None if cap is None else np.minimum.reduceat(_long(cap, count), heads, axis=-1)
        exposed = None if exposed is None else np.logical_or.reduceat(_long(exposed, count), heads, axis=-1)
    into.worse(rows, turn, verdict)
    if cap is not None:
        into.slower(rows, turn, cap)
    if exposed is not None:
        into.expose(rows, exposed)


def _cube(values: Any) -> NDArray[Any]:
    """Give an answer with all three axes of the grid, also where it is the same everywhere."""
    return np.array(values, copy=None, ndmin=3)


def _long(values: NDArray[Any], count: int) -> NDArray[Any]:
    """Give a column with one place a pair, also where the rule's answer is the same for all of them."""
    return np.broadcast_to(values, (*values.shape[:-1], count))


def _add_layers(into: Summed, case: Case, rule_id: str, turn: int, block: slice, accepted: frozenset[str]) -> None:
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
        into.worse(slice(0, len(verdict)), turn, verdict.reshape(1, 1, -1))


def _accept(
    verdict: Verdicts, case: Case, part: Part, piece: Ints, feature: Ints | None, accepted: frozenset[str]
) -> Verdicts:
    """Turn accepted unknowns into cautions."""
    rows = np.flatnonzero((verdict == Verdict.UNKNOWN).any(axis=(0, 1)))
    if not len(rows):
        return verdict
    if verdict.shape[-1] == 1:
        verdict = np.repeat(verdict, len(piece), axis=-1)
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
            old = verdict[..., mine]
            verdict[..., mine] = np.where(old == Verdict.UNKNOWN, np.uint8(Verdict.CAUTION), old)
    return verdict
