"""Distance to wires: in space, from every part of machine and load, crossing and alongside.

Any wire not identified is live. Within the trigger distance a spotter stands by; that distance is also where a boom
raised by mistake would reach first, so the zone needs no flag of its own. Where sag or height is not known the gap
sideways or upwards is taken as nothing: what is still far enough away then is far enough away, and of what is not the
distance is not told at all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.hung import Hung, any_of, hung, told, voltage_kv
from travel.checks.keeping import CONSULT, keeping
from travel.checks.lane import kick_m
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.spans import Seen, height_lacks, plan_offsets, span_pairs, walk_spans
from travel.checks.tops import Tops, body_lacks, own_height_band, tops_of
from travel.mechanics.beside import lean_over
from travel.mechanics.conductor_load import swing_offset_at_angle
from travel.mechanics.passing import distance_past_wire
from travel.rulebook import LimitColumn
from travel.survey import Pairs

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Past:
    """By pair: the least distance to the wire, the numbers that give it, what is missing, how far it may be off.

    ``still_m``: plan distance from the centreline to the wires hanging still; ``aside_m``: from the side of the body to
    the wires swung out as far as any sag is stated, at least. ``outer_m``, ``outer_aside_m``: the same were the outer
    wire as far out as it may be where nobody stated how far it is.
    """

    distance_m: Floats
    terms: Mapping[str, Floats]
    still_m: Floats
    band_m: Floats
    outer_m: Floats
    aside_m: Floats
    outer_aside_m: Floats
    lacks: Mapping[str, Bools]
    bound: Mapping[str, Bools]

    @cached_property
    def lacking(self) -> Bools:
        """Where anything at all is missing."""
        return any_of({**self.lacks, **{f"exact {name}": where for name, where in self.bound.items()}})


_PAST: WeakKeyDictionary[Case, Past] = WeakKeyDictionary()
_BESIDE: WeakKeyDictionary[Case, float] = WeakKeyDictionary()


def beside(case: Case) -> float:
    """Give how far from a road wires are looked at: the greatest distance of rulebook or owner, swing and the body,
    with the margin and all bands on the far side."""
    if case not in _BESIDE:
        _BESIDE[case] = _most_beside(case)
    return _BESIDE[case]


def each_beside(case: Case) -> Floats:
    """Give the same by overhead, from its middle line as drawn."""
    spread = np.nan_to_num(case.survey.site.layers["overheads"].number("half_spread_m"))
    asked = np.fmax(keeping(case).far_m, case.scalar(CONSULT))
    return np.asarray(asked + keeping(case).swing_m + spread + wider_m(case) + _body_out_m(case))


def _most_beside(case: Case) -> float:
    aside = keeping(case).swing_m + wider_m(case)
    return keeping(case).widest_m + _body_out_m(case) + float(aside.max(initial=0.0))


def _body_out_m(case: Case) -> float:
    """Give how far from the centreline the body can be, at most, on the roads of the site, with the margin that is thin
    and the bands of what is known [m]."""
    kick = float(kick_m(case, np.arange(len(case.survey.pieces))).max(initial=0.0))
    high = max(case.body.height_m, case.body.hung_m[3] if case.body.hung_m else 0.0)
    lean = high * float(np.abs(np.nan_to_num(case.survey.cross_slope_ratio)).max(initial=0.0))
    body = case.body.width_m / 2.0 + kick + lean + case.scalar("line-clearance.wander") + max(case.body.reach_m, 0.0)
    thin, tolerance = case.scalar("line-clearance.caution"), case.survey.tolerance
    return float(np.nan_to_num(body)) + thin + tolerance.plan_m + tolerance.height_m + own_height_band(case)


@answers("line-clearance", layer="overheads", beside_m=beside, each_m=each_beside)
def distance_to_wires(rows: Rows, case: Case) -> Outcome:
    """Distance to the nearest wire at its greatest sag and swing against the distance to keep; spotter when near."""
    past, what, to_keep = _past(rows, case), hung(case), keeping(case)
    layer = case.survey.site.layers["overheads"]
    unsure = np.isnan(voltage_kv(layer)) | told(layer, "voltage_kv")
    i, k = rows.pair, rows.feature
    distance, band = past.distance_m[i], past.band_m[i]
    reached, far = distance - band, to_keep.far_m[k]
    near = (reached < far) & (past.aside_m[i] < far)
    short = ~(reached >= to_keep.keep_m[k]) & near
    missing = {name: where[i] & short for name, where in past.lacks.items()}
    missing |= {name: missing.get(name, False) | (where[i] & short) for name, where in past.bound.items()}
    # a body drawn without knowing where its load stands tells no distance, however far off the line seems
    drawn = dict.fromkeys(case.body.shape_lacks, np.ones(near.shape, dtype=bool))
    missing |= drawn
    within = (past.outer_m[i] - band < far) & (past.outer_aside_m[i] < far)
    missing["half_spread_m"] = _spread_lacks(case)[k] & within
    missing["half_spread_m told"] = told(layer, "half_spread_m")[k] & within
    missing["voltage_kv"] = np.isnan(voltage_kv(layer))[k] & near
    missing["voltage_kv told"] = told(layer, "voltage_kv")[k] & near
    missing["owner_clearance_m"] = (~unsure & np.isnan(to_keep.keep_m))[k]
    by_word = np.fmax(to_keep.trigger_m, to_keep.keep_m)
    missing["owner_clearance_m told"] = told(layer, "owner_clearance_m")[k] & (reached < by_word[k])
    hidden = past.lacking[i] & ~(reached >= to_keep.keep_m[k])
    live, close = (what.wire & ~what.isolated)[k], reached < to_keep.trigger_m[k]
    return Outcome(
        demand=to_keep.keep_m[k],
        capacity=np.where(hidden, np.nan, distance),
        tolerance=band,
        caution=case.scalar("line-clearance.caution"),
        applies=live & (near | within | bool(drawn) | ~(unsure[k] | past.lacking[i])),
        missing=missing,
        outside=what.outside[k] & short,
        controlled=close,
        exposed=live & close,
        control="spotter",
        capacity_terms={name: np.where(hidden, np.nan, value[i]) for name, value in past.terms.items()},
        limit=_limit(rows, case),
    )


def _spread_lacks(case: Case) -> Bools:
    """Tell which power lines state no distance of their outer wire from the middle."""
    layer = case.survey.site.layers["overheads"]
    power = np.array([kind == "power_line" for kind in layer.text("kind")], dtype=bool)
    return np.asarray(power & np.isnan(layer.number("half_spread_m")))


def wider_m(case: Case) -> Floats:
    """Give how much further out than drawn the outer wire of each line may hang: not stated, or only told."""
    layer = case.survey.site.layers["overheads"]
    stated = np.nan_to_num(layer.number("half_spread_m"))
    unsure = _spread_lacks(case) | told(layer, "half_spread_m")
    return np.where(unsure, np.maximum(case.scalar("line-clearance.spread_unknown") - stated, 0.0), 0.0)


@answers("line-clearance", layer="overheads", beside_m=beside, each_m=each_beside)
def owners_word(rows: Rows, case: Case) -> Outcome:
    """A live line whose owner has not said in writing which distance to keep: he confirms it."""
    past, what, to_keep = _past(rows, case), hung(case), keeping(case)
    i, k = rows.pair, rows.feature
    consult = case.scalar(CONSULT)
    asked = past.distance_m[i] - past.band_m[i] < to_keep.trigger_m[k]
    if not np.isnan(consult):
        asked = asked | (past.still_m[i] < consult)
    layer = case.survey.site.layers["overheads"]
    unwritten = np.isnan(layer.number("owner_clearance_m")) | told(layer, "owner_clearance_m")
    silent = what.wire & ~what.isolated & unwritten & ~np.isnan(to_keep.keep_m)
    return _word(rows, case, silent[k] & asked, "owner-in-writing")


@answers("line-clearance", layer="overheads", beside_m=beside, each_m=each_beside)
def isolated_line(rows: Rows, case: Case) -> Outcome:
    """A line dead and earthed until after the trip by its owner's written word: not live, but only as long as that."""
    past, far = _past(rows, case), keeping(case).far_m[rows.feature]
    near = (past.distance_m[rows.pair] - past.band_m[rows.pair] < far) & (past.aside_m[rows.pair] < far)
    return _word(rows, case, hung(case).isolated[rows.feature] & near, "line-isolated")


def _word(rows: Rows, case: Case, applies: Bools, control: str) -> Outcome:
    """Give a yes that rests on a control, with the numbers of the place for whoever reads it."""
    past, keep_m = _past(rows, case), keeping(case).keep_m[rows.feature]
    hidden = past.lacking[rows.pair] & ~(past.distance_m[rows.pair] - past.band_m[rows.pair] >= keep_m)
    return Outcome(
        demand=keep_m,
        capacity=np.where(hidden, np.nan, past.distance_m[rows.pair]),
        tolerance=past.band_m[rows.pair],
        applies=applies,
        permitted=np.ones(applies.shape, dtype=bool),
        controlled=applies,
        exposed=np.zeros(applies.shape, dtype=bool),
        control=control,
        capacity_terms={name: np.where(hidden, np.nan, value[rows.pair]) for name, value in past.terms.items()},
        limit=_limit(rows, case),
    )


def _limit(rows: Rows, case: Case) -> LimitColumn:
    limit = keeping(case).limit
    return LimitColumn(values=limit.values[rows.feature], row=limit.row[rows.feature], rows=limit.rows)


def _past(rows: Rows, case: Case) -> Past:
    if case not in _PAST:
        assert rows.pairs is not None
        _PAST[case] = _make_past(case, rows.pairs, hung(case))
    return _PAST[case]


def _make_past(case: Case, pairs: Pairs, what: Hung) -> Past:
    tops, feature = tops_of(case, np.unique(pairs.piece)), pairs.feature
    row = tops.row(pairs.piece)
    pick = span_pairs(what, pairs)
    seen = walk_spans(case, pairs, pick, beside(case))
    known = np.zeros(len(pairs), dtype=bool)
    known[pick] = seen.known
    lacks, clear = height_lacks(case, pairs, what, pick, known)
    still = plan_offsets(case, pairs)
    no_sag = any_of(what.sag_lacks)[feature]
    sag = np.where(no_sag, np.nan, what.sag_m[feature])
    height = np.where(clear, what.clearance_m[feature], np.nan)
    kick = kick_m(case, pairs.piece)
    good = seen.known & ~any_of(what.span_lacks)[feature[pick]]

    def least(wider: Floats) -> tuple[Floats, dict[str, Floats]]:
        place = _one_place(np.maximum(still - wider, 0.0), height, sag)
        distance, terms = _nearest(case, tops, (row, feature, kick), place)
        these, span = (row[pick], feature[pick], kick[pick]), _only(seen, good, ~no_sag[pick])
        span = replace(span, offset_m=np.maximum(span.offset_m - wider[pick, None], 0.0))
        walked, walked_terms = _nearest(case, tops, these, span)
        better = ~clear[pick] | (good & (walked < distance[pick]))
        distance[pick[better]] = walked[better]
        for name, column in terms.items():
            column[pick[better]] = walked_terms[name][better]
        return distance, terms

    wider = wider_m(case)[feature]
    distance, terms = least(np.zeros(len(pairs)))
    out = np.max([_leans_out_m(case, tops, row, level) for level in range(len(tops.level_m))], axis=0)
    aside = still - out - kick - case.scalar("line-clearance.wander")
    swung = aside - keeping(case).swing_m[feature]
    for name, where in what.sag_lacks.items():
        lacks[name] = lacks.get(name, np.zeros(len(pairs), dtype=bool)) | (where[feature] & (aside > 0))
    return Past(
        distance_m=distance,
        outer_m=least(wider)[0] if wider.any() else distance,
        terms=terms,
        still_m=still,
        band_m=_band(case, distance, terms),
        aside_m=np.asarray(swung - case.survey.tolerance.plan_m),
        outer_aside_m=np.asarray(swung - wider - case.survey.tolerance.plan_m),
        lacks=lacks | body_lacks(case, tops, row),
        bound={name: where[feature] & clear & ~known for name, where in what.bound_lacks.items()},
    )


def _one_place(offset_m: Floats, height_m: Floats, sag_m: Floats) -> Seen:
    """Give features with a measured clearance as seen at the nearest place alone."""
    known = ~np.isnan(height_m)
    return Seen(
        offset_m=offset_m[:, None], height_m=height_m[:, None], sag_m=sag_m[:, None], over_m=height_m, known=known
    )


def _leans_out_m(case: Case, tops: Tops, row: Ints, level: int) -> Floats:
    """Give how far a box of the body stands out towards the side the road falls to; a wire there is nearer to it.

    A load on the hook hangs plumb under the boom head.
    """
    half, cross = tops.half_width_m[level], np.abs(np.nan_to_num(tops.cross_ratio))[row]
    out = np.maximum(lean_over(half, tops.level_m[level], cross), half)
    hung, below = case.body.hung_m, tops.level_m[level - 1] if level else 0.0
    return np.asarray(np.maximum(out, lean_over(hung[2], hung[3], cross)) if hung and below < hung[1] else out)


def _only(seen: Seen, height: Bools, sag: Bools) -> Seen:
    """Give spans with heights and sags only where they may be used."""
    return Seen(
        offset_m=seen.offset_m,
        height_m=np.where(height[:, None], seen.height_m, np.nan),
        sag_m=np.where(sag[:, None], seen.sag_m, np.nan),
        over_m=seen.over_m,
        known=seen.known & height,
    )


def _nearest(case: Case, tops: Tops, of: tuple[Ints, Ints, Floats], seen: Seen) -> tuple[Floats, dict[str, Floats]]:
    """Give the least distance over all places and all boxes of the body, and the numbers that give it.

    ``of``: row of the tops, feature, and how much more the body sweeps in a bend, by pair; all of that is taken on the
    wire's side.
    """
    (row, feature, kick), wander = of, case.scalar("line-clearance.wander")
    swing = swing_offset_at_angle(
        seen.sag_m, keeping(case).string_m[feature][:, None], case.scalar("line-clearance.swing_angle")
    )
    swing = np.where(np.isnan(swing), seen.offset_m, swing)
    steep = np.nan_to_num(tops.steepest_ratio)[row]
    best, terms = np.full(len(row), np.inf), _no_terms(len(row))
    for level in range(len(tops.level_m)):
        top = tops.height_m[row, level][:, None]
        known = ~np.isnan(seen.height_m) & ~np.isnan(top)
        top, wire = np.where(known, top, 0.0), np.where(known, seen.height_m, 0.0)
        out = _leans_out_m(case, tops, row, level) + kick
        away = np.asarray(distance_past_wire(seen.offset_m, swing, wander, out[:, None], wire, top, steep[:, None]))
        place = np.argmin(away, axis=1)[:, None]
        least = np.take_along_axis(away, place, axis=1)[:, 0]
        found = {"offset_m": seen.offset_m, "swing_m": swing, "wire_height_m": wire, "body_top_m": top}
        nearer = least < best
        best = np.where(nearer, least, best)
        for name, column in found.items():
            value = np.take_along_axis(column, place, axis=1)[:, 0]
            terms[name] = np.where(nearer, value, terms[name])
        terms["body_half_width_m"] = np.where(nearer, out, terms["body_half_width_m"])
    terms["wander_m"], terms["grade_ratio"] = np.full(len(row), wander), steep
    return best, terms


def _no_terms(count: int) -> dict[str, Floats]:
    names = ("offset_m", "swing_m", "wander_m", "body_half_width_m", "wire_height_m", "body_top_m", "grade_ratio")
    return {name: np.zeros(count) for name in names}


def _band(case: Case, distance_m: Floats, terms: Mapping[str, Floats]) -> Floats:
    """Give the half-band of the distance: of the plan for its part sideways, of the height for its part upwards."""
    sideways = np.maximum(terms["offset_m"] - terms["swing_m"] - terms["wander_m"] - terms["body_half_width_m"], 0.0)
    upwards = np.maximum(terms["wire_height_m"] - terms["body_top_m"], 0.0) / np.sqrt(1.0 + terms["grade_ratio"] ** 2)
    height = case.survey.tolerance.height_m + own_height_band(case)
    span = np.where(distance_m > 0, distance_m, 1.0)
    part = (sideways * case.survey.tolerance.plan_m + upwards * height) / span
    return np.where(distance_m > 0, part, height)
