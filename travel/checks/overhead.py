"""Over the machine: headroom under everything that hangs over the road, and under the bar of a passage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.hung import Hung, hung
from travel.checks.keeping import keeping
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.spans import height_lacks, own_road, span_pairs, walk_spans
from travel.checks.tops import Tops, body_lacks, own_height_band, tops_of
from travel.mechanics.line_distance import bar_height
from travel.survey import Pairs

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Over:
    """Pairs of piece and overhead: how high it hangs over the road, what is missing for that, how sure it is."""

    tops: Tops
    row: Ints
    height_m: Floats
    lacks: Mapping[str, Bools]
    bound: Mapping[str, Bools]
    outside: Bools


_TOPS: WeakKeyDictionary[Case, dict[str, Tops]] = WeakKeyDictionary()
_OVER: WeakKeyDictionary[Case, Over] = WeakKeyDictionary()


@answers("headroom", layer="overheads")
def under_overheads(rows: Rows, case: Case) -> Outcome:
    """The top of the body on the real profile against the least height over the road, wires at their greatest sag."""
    over, what = _over(rows, case), hung(case)
    assert rows.pair is not None
    outcome = _headroom(rows, case, over.tops, over.height_m[rows.pair], rows.method_is("clearance_m", "sign"))
    short = np.asarray(outcome.capacity) - outcome.tolerance < outcome.demand
    missing = {name: where[rows.pair] for name, where in over.lacks.items()}
    missing |= {name: missing.get(name, False) | (where[rows.pair] & short) for name, where in over.bound.items()}
    return _with(outcome, missing, what.outside[rows.feature] & over.outside[rows.pair])


@answers("headroom", layer="limits")
def under_signs(rows: Rows, case: Case) -> Outcome:
    """The same against a signed height, which is already rounded down."""
    assert rows.pairs is not None
    height = rows.of_feature("height_m")
    outcome = _headroom(rows, case, _tops(case, "limits", rows.pairs), height, np.ones(height.shape, dtype=bool))
    missing = {"height_m told": rows.method_is("height_m", "told", "assumed")}
    return _with(outcome, missing, False, applies=~np.isnan(height))


@answers("headroom", layer="overheads")
def under_bar(rows: Rows, case: Case) -> Outcome:
    """The bar of a passage under a live line: as set, but no higher than line and distance to keep leave room for.

    A line that leaves no room for the machine is told by ``line-clearance``; here the passage is the control.
    """
    over, what = _over(rows, case), hung(case)
    assert rows.pair is not None
    bar, line = rows.of_feature("bar_height_m"), over.height_m[rows.pair]
    live = (what.wire & ~what.isolated)[rows.feature]
    keep = keeping(case)
    allowed = bar_height(line, keep.keep_m[rows.feature], case.survey.tolerance.height_m)
    given = ~np.isnan(bar)
    own, row = own_height_band(case), over.tops.row(rows.piece)
    room = allowed - own >= over.tops.height_m[row, over.tops.highest()[row]]
    too_high = given & live & room & (bar > allowed)
    as_set = given & ~too_high
    outcome = _headroom(rows, case, over.tops, np.where(as_set, bar, allowed), ~as_set)
    near = line - np.asarray(outcome.demand) - outcome.tolerance < keep.trigger_m[rows.feature]
    missing = {"bar_height_m told": given & rows.method_is("bar_height_m", "told", "assumed")}
    crossing = live & room & near & ~given
    return _with(outcome, missing, False, applies=given | crossing, controlled=live & (given | crossing))


def _headroom(rows: Rows, case: Case, tops: Tops, height_m: Floats, signed: Bools) -> Outcome:
    row = tops.row(rows.piece)
    level = tops.highest()[row]
    tolerance = np.where(signed, case.tolerance("height_m", "sign"), case.survey.tolerance.height_m)
    return Outcome(
        demand=tops.height_m[row, level],
        capacity=height_m,
        tolerance=tolerance + own_height_band(case),
        caution=case.scalar("headroom.caution"),
        missing=body_lacks(case, tops, row),
        terms=tops.terms(row),
        limit_source="site",
    )


def _with(
    outcome: Outcome,
    missing: Mapping[str, Bools],
    outside: Bools | bool,
    applies: Bools | bool = True,
    controlled: Bools | bool = False,
) -> Outcome:
    return Outcome(
        demand=outcome.demand,
        capacity=outcome.capacity,
        tolerance=outcome.tolerance,
        caution=outcome.caution,
        applies=applies,
        missing={**missing, **outcome.missing},
        outside=outside,
        controlled=controlled,
        control="fenced-passage" if controlled is not False else "",
        terms=outcome.terms,
        limit_source=outcome.limit_source,
    )


def _tops(case: Case, layer: str, pairs: Pairs) -> Tops:
    kept = _TOPS.setdefault(case, {})
    if layer not in kept:
        kept[layer] = tops_of(case, np.unique(pairs.piece))
    return kept[layer]


def _over(rows: Rows, case: Case) -> Over:
    if case not in _OVER:
        assert rows.pairs is not None
        _OVER[case] = _make_over(case, rows.pairs, hung(case))
    return _OVER[case]


def _make_over(case: Case, pairs: Pairs, what: Hung) -> Over:
    feature = pairs.feature
    tops = _tops(case, "overheads", pairs)
    pick = span_pairs(what, pairs)
    half = case.survey.fabric.lines.half_width
    wide = float(half.max(initial=0.0)) + case.body.width_m
    seen = walk_spans(case, pairs, pick, wide, wide)
    from_span, known = np.full(len(pairs), np.nan), np.zeros(len(pairs), dtype=bool)
    from_span[pick], known[pick] = np.where(seen.known, seen.over_m, np.nan), seen.known
    lacks, clear = height_lacks(case, pairs, what, pick, known)
    height = np.fmin(from_span, np.where(own_road(case, pairs), what.clearance_m[feature], np.nan))
    bound = {name: where[feature] & clear & np.isnan(from_span) for name, where in what.bound_lacks.items()}
    return Over(
        tops=tops,
        row=tops.row(pairs.piece),
        height_m=height,
        lacks=lacks,
        bound=bound,
        outside=~clear & np.isnan(from_span),
    )
