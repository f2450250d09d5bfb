"""How much of a remedy is needed: by bisection on the rule itself, on the cells of the way it is to open."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks import Case, answers_for
from travel.domain.layers import LAYERS
from travel.domain.plan import RemedyPart
from travel.domain.site import Amendment
from travel.domain.verdict import Verdict
from travel.planning.remedy_causes import BY_STRETCH, Purchase
from travel.planning.remedy_least import least_change, round_safely, to_spare
from travel.planning.remedy_machine import changed_body, machine_value
from travel.planning.trips import Cells
from travel.survey import Survey
from travel.survey.changed import changed_survey

Verdicts = NDArray[np.uint8]
Ints = NDArray[np.int64]

REMOVED = "removed"
SMALLEST_RATIO = {"width_m": 0.7, "height_m": 0.7, "mass_kg": 0.4}
"""How much smaller another machine for the same work is looked for; common practice, no source."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Drive:
    """One trip's way through blocked links: its case, and its cells with the gear that is to pass on each."""

    case: Case
    cells: Cells


Drives = tuple[Drive, ...]
Parts = tuple[RemedyPart, ...]


class Quantities:
    """Quantities of purchases, kept by the cells they were found on: many sets hold the same purchase."""

    def __init__(self) -> None:
        self._kept: dict[tuple[Any, ...], Parts | None] = {}

    def of(self, purchase: Purchase, drives: Drives, before: Parts = ()) -> Parts | None:
        """Give the least changes by which a purchase opens what it is to open on some ways, or None where it cannot.

        Args:
            purchase: what is bought
            drives: the ways
            before: changes already decided, laid on first
        """
        drives = tuple(_about(purchase, replace(drive, case=changed_case(drive.case, before))) for drive in drives)
        cells = tuple(column.tobytes() for d in drives for column in (d.cells.piece, d.cells.sense, d.cells.config))
        key = (purchase, before, cells)
        if key not in self._kept:
            self._kept[key] = _parts_for(purchase, drives)
        return self._kept[key]


def _about(purchase: Purchase, drive: Drive) -> Drive:
    """Give a drive's cells of which a purchase's rules say anything about what is bought."""
    keep = np.zeros(len(drive.cells), dtype=bool)
    for answer, mine in _answers(drive.case, drive.cells, purchase):
        keep[answer.position[mine]] = True
    cells = drive.cells
    some = Cells(piece=cells.piece[keep], sense=cells.sense[keep], config=cells.config[keep], step=cells.step[keep])
    return replace(drive, cells=some)


def _parts_for(purchase: Purchase, drives: Drives) -> Parts | None:
    row = purchase.row
    if row.sense == "remove":
        return (RemedyPart(layer=purchase.layer, feature=purchase.feature, field=REMOVED, old=None, value=True),)
    targets = tuple(_targets(purchase, drives))
    if not targets:
        return ()
    if row.sense == "set":
        return _set(purchase, drives, targets)
    return _measured(purchase, drives, targets)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Target:
    """Where the value is laid: the whole feature, or one part of a road; ``sign`` of a slope there."""

    from_m: float | None = None
    to_m: float | None = None
    old: Any = None
    sign: float = 1.0


def _targets(purchase: Purchase, drives: Drives) -> Iterator[_Target]:
    """Give where a purchase is laid. Slopes of one road may lean either way, so each sign is a part of its own."""
    case = drives[0].case
    if purchase.layer != "roads":
        yield _Target()
        return
    pieces = case.survey.pieces
    hit = np.unique(np.concatenate([d.cells.piece[_barred(purchase, d).any(axis=0)] for d in drives]))
    if not len(hit):
        return
    field = purchase.row.fields[0]
    column = _road_column(case, field, hit)
    sign = np.sign(column) if purchase.row.sense == "lower" else np.ones(len(hit))
    split = np.flatnonzero((np.diff(hit) > 1) | (np.diff(sign) != 0)) + 1
    for run in np.split(np.arange(len(hit)), split):
        some = column[run]
        if purchase.row.sense == "set":
            old: Any = case.survey.text(field)[hit[run[0]]]
        else:
            old = float(some[np.argmax(np.abs(some))] if purchase.row.sense == "lower" else some.min())
        yield _Target(
            from_m=float(pieces.from_m[hit[run[0]]]),
            to_m=float(pieces.to_m[hit[run[-1]]]),
            old=old,
            sign=float(sign[run[0]]),
        )


def _road_column(case: Case, field: str, pieces: Ints) -> NDArray[np.float64]:
    if field == "grade_pct":
        return np.asarray(case.window.grade_worst[pieces] * 100.0)
    if field == "cross_slope_pct":
        return np.asarray(case.survey.cross_slope_ratio[pieces] * 100.0)
    spec = LAYERS["roads"].field(field)
    return np.asarray(case.survey.number(field)[pieces]) if spec and spec.numeric else np.zeros(len(pieces))


def _barred(purchase: Purchase, drive: Drive) -> NDArray[np.bool_]:
    """Tell by rule and cell where a purchase's rules bar, or leave open whether they do within the tolerance."""
    out = verdicts(drive.case, drive.cells, purchase) == Verdict.BLOCKED
    for answer, mine in _answers(drive.case, drive.cells, purchase):
        rule = purchase.row.rules.index(answer.rule)
        for row in np.flatnonzero(mine & (answer.verdict == Verdict.UNKNOWN)):
            out[rule, answer.position[row]] |= answer.reason(int(row)) == "within_tolerance"
    return np.asarray(out)


def _answers(case: Case, cells: Cells, purchase: Purchase) -> Iterator[tuple[Any, NDArray[np.bool_]]]:
    """Give the answers of a purchase's rules with the rows that speak of what is bought."""
    link = np.asarray(case.survey.pieces.link)[cells.piece]
    for answer in answers_for(case, cells.piece, cells.sense, cells.config, frozenset(purchase.row.rules)):
        mine = np.ones(len(answer.verdict), dtype=bool)
        if purchase.layer == "roads":
            mine &= (answer.layer in BY_STRETCH) & (link[answer.position] == purchase.link)
        elif purchase.layer in LAYERS:
            ids = case.survey.site.layers[purchase.layer].ids
            mine &= (answer.layer == purchase.layer) & (answer.feature == ids.index(purchase.feature))
        yield answer, mine


def verdicts(case: Case, cells: Cells, purchase: Purchase) -> Verdicts:
    """Give the worst verdict by rule and cell of the rules a purchase opens, about what is bought alone."""
    rules = purchase.row.rules
    out = np.zeros((len(rules), len(cells)), dtype=np.uint8)
    for answer, mine in _answers(case, cells, purchase):
        np.maximum.at(out[rules.index(answer.rule)], answer.position[mine], answer.verdict[mine])
    return out


def _judged(purchase: Purchase, drives: Drives, parts: Parts) -> list[Verdicts]:
    return [verdicts(changed_case(drive.case, parts), drive.cells, purchase) for drive in drives]


def _spare(purchase: Purchase, drives: Drives, parts: Parts, wanted: list[Verdicts]) -> float:
    """Give how much the rules of a purchase have to spare at least with changes laid on; negative: it does not open."""
    rules, least = purchase.row.rules, math.inf
    for drive, asked in zip(drives, wanted, strict=True):
        for answer, mine in _answers(changed_case(drive.case, parts), drive.cells, purchase):
            most = asked[rules.index(answer.rule), answer.position]
            spare = to_spare(answer.outcome, answer.verdict, most)[mine]
            least = min(least, float(spare.min(initial=math.inf)))
    return least


def _wanted(purchase: Purchase, drives: Drives, best: list[Verdicts]) -> list[Verdicts] | None:
    """Give what is asked of each rule and cell: where it bars, caution at worst (unknown only where no value does
    better); elsewhere that it is no worse than now, so that nothing is bought to go round a value nobody knows."""
    if any(bool((verdict == Verdict.BLOCKED).any()) for verdict in best):
        return None
    out = []
    for drive, far in zip(drives, best, strict=True):
        now = verdicts(drive.case, drive.cells, purchase)
        asked = np.where(_barred(purchase, drive), far, now)
        out.append(np.maximum(asked, np.uint8(Verdict.CAUTION)))
    return out


def _part(purchase: Purchase, target: _Target, field: str, value: Any, exact: float | None = None) -> RemedyPart:
    return RemedyPart(
        layer=purchase.layer,
        feature=purchase.feature,
        field=field,
        old=target.old,
        value=value,
        from_m=target.from_m,
        to_m=target.to_m,
        exact=exact,
    )


def _set(purchase: Purchase, drives: Drives, targets: tuple[_Target, ...]) -> Parts | None:
    """Take the first of the row's values with which nothing bars; one that leaves nothing unknown before others."""
    field = purchase.row.fields[0]
    open_: Parts | None = None
    for value in purchase.row.values:
        parts = tuple(_part(purchase, target, field, value) for target in targets)
        found = _judged(purchase, drives, parts)
        if any(bool((verdict == Verdict.BLOCKED).any()) for verdict in found):
            continue
        doubtful = (verdict[_barred(purchase, d)] > Verdict.CAUTION for d, verdict in zip(drives, found, strict=True))
        if not any(bool(some.any()) for some in doubtful):
            return parts
        open_ = open_ or parts
    return open_


def _measured(purchase: Purchase, drives: Drives, targets: tuple[_Target, ...]) -> Parts | None:
    """Find the least change of each field, the others taken as far as they go."""
    fields = [(t, f) for f in purchase.row.fields for t in _with_old(purchase, drives[0].case, f, targets)]
    if not fields:
        return None
    far = tuple(_value(purchase, t, f, _extreme(purchase, t, f)) for t, f in fields)
    also = tuple(_part(purchase, replace(t, old=None), name, value)
                 for t in targets for name, value in purchase.row.also.items())  # fmt: skip
    wanted = _wanted(purchase, drives, _judged(purchase, drives, (*far, *also)))
    if wanted is None:
        return None
    parts: list[RemedyPart] = []
    for number, (target, field) in enumerate(fields):
        others = (*far[:number], *far[number + 1 :], *also)

        def spare(value: float, target: _Target = target, field: str = field, others: Parts = others) -> float:
            return _spare(purchase, drives, (*others, _value(purchase, target, field, value)), wanted)

        start = 0.0 if target.old is None else abs(target.old) if purchase.row.sense == "lower" else float(target.old)
        if target.old is not None and _spare(purchase, drives, others, wanted) >= 0.0:
            continue
        exact = least_change(spare, start, _extreme(purchase, target, field))
        rounded = round_safely(exact, purchase.row.step, up=purchase.row.sense == "raise")
        if spare(rounded) < 0.0:
            rounded = exact
        part = _value(purchase, target, field, rounded)
        parts.append(replace(part, exact=exact * target.sign))
    return (*parts, *also)


def _with_old(purchase: Purchase, case: Case, field: str, targets: tuple[_Target, ...]) -> Iterator[_Target]:
    """Give the targets of one field with its present value; a figure nobody states is only given where it is set up."""
    if purchase.layer == "roads":
        for target in targets:
            own = target
            if field != purchase.row.fields[0]:
                middle = ((target.from_m or 0.0) + (target.to_m or 0.0)) / 2.0
                road = case.survey.site.layers["roads"].index(purchase.feature)
                pieces = case.survey.pieces
                at = np.flatnonzero((pieces.road == road) & (pieces.from_m <= middle) & (pieces.to_m >= middle))[:1]
                own = replace(target, old=float(_road_column(case, field, at)[0]))
            if not math.isnan(own.old):
                yield own
        return
    if purchase.layer == "machine":
        yield _Target(old=machine_value(case.body, field))
        return
    layer = case.survey.site.layers[purchase.layer]
    old = float(layer.number(field)[layer.index(purchase.feature)])
    if not math.isnan(old):
        yield _Target(old=old)
    elif purchase.row.also:
        yield _Target()


def _value(purchase: Purchase, target: _Target, field: str, value: float) -> RemedyPart:
    return _part(purchase, target, field, value * target.sign)


def _extreme(purchase: Purchase, target: _Target, field: str) -> float:
    return far_value(purchase, field, 0.0 if target.old is None else float(target.old))


def far_value(purchase: Purchase, field: str, old: float) -> float:
    """Give how far a field may be taken: the bound of its column; of a machine, what another for the same work has."""
    if purchase.layer == "machine":
        return old * (10.0 if purchase.row.sense == "raise" else SMALLEST_RATIO.get(field, 0.1))
    if purchase.row.sense == "lower":
        return 0.0
    spec = LAYERS[purchase.layer].field(field)
    assert spec is not None
    assert spec.high is not None
    return spec.high


def changed_case(case: Case, parts: Parts) -> Case:
    """Give a case with changes laid on its survey as cut, its machine, its weather; features are not taken away."""
    if not parts:
        return case
    layers = tuple(amendment(part) for part in parts if part.layer in LAYERS and part.field != REMOVED)
    body = case.body
    for part in parts:
        if part.layer == "machine":
            body = changed_body(body, part.field, float(part.value))
    survey = _surveyed(case.survey, layers) if layers else case.survey
    return replace(case, survey=survey, body=body)


@lru_cache(maxsize=4)
def _surveyed(survey: Survey, layers: tuple[Amendment, ...]) -> Survey:
    """Give a changed survey, the same for the trips one after the other."""
    return changed_survey(survey, layers)


def key_of(parts: Parts) -> tuple[object, ...]:
    """Give what tells changes apart."""
    return tuple((part.layer, part.feature, part.field, part.value, part.from_m, part.to_m) for part in parts)


def amendment(part: RemedyPart) -> Amendment:
    """Give a part of a remedy as an amendment of the site."""
    return Amendment(
        layer=part.layer,
        feature=part.feature,
        field=part.field,
        value=part.value,
        from_m=part.from_m,
        to_m=part.to_m,
        reason=part.reason,
    )
