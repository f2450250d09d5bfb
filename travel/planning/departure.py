"""How late a plan may start: the rules that look at the clock, asked again whenever their answer may change.

Between the moments at which hours begin or end, the day changes, the sun sets or a written word lapses, no answer
changes; so asking at those moments, to the minute, is asking at every minute. Rules that only get better where nobody
else is about and it is light are asked where people come or it gets dark. A later start shifts every trip that has an
hour by as much, with the same span looked at.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from travel.checks import Answer, Case, answers_for
from travel.checks.hours import DAY, EPOCH, active, dark, moments_of, travel_date
from travel.domain.layers import LAYERS
from travel.domain.verdict import Verdict
from travel.mechanics.sun import sun_elevation
from travel.planning.trips import Trip

LOOK_AHEAD = dt.timedelta(hours=24)
"""How far behind the start asked for a later one is looked for; the weather will not hold longer either."""
ALWAYS = frozenset({"closure", "light"})
"""Asked at every moment."""
PEOPLE = frozenset({"people", "reverse"})
"""Asked where people come into their hours; the second also where it gets dark."""
BY_DATE = {"edges": ("edge-standoff",), "ground": ("bearing", "passes")}
"""Asked where the day changes and the layer has dated values, by layer; ``survey-age`` on every other day."""
BY_WORD = frozenset({"line-clearance"})
"""Asked at every moment where a line's owner has put a time into writing."""
CLOCKLESS = ("hours", "at", "surveyed.")
"""Beginnings of the names of what is missing where a rule cannot tell its hours."""
HOURLESS = ("window", "surface", "jurisdiction", "loaded", "_columns")
"""What a case has worked out that holds at any hour: grades, surfaces, limits."""
MINUTE = dt.timedelta(minutes=1)
DAY_MINUTES = 1440


@dataclass(frozen=True, eq=False, kw_only=True)
class _Clocked:
    """One trip with an hour: rules asked at every moment and on each other day, answers as planned, what was asked."""

    trip: Trip
    always: frozenset[str]
    by_date: frozenset[str]
    planned: dict[str, tuple[Answer, ...]]
    held: set[tuple[object, ...]]

    def as_planned(self, rule: str) -> tuple[Answer, ...]:
        """Give a rule's answers at the hour planned."""
        if rule not in self.planned:
            self.planned[rule] = _answers(self.trip, self.trip.case, rule)
        return self.planned[rule]

    def asked(self) -> tuple[Answer, ...]:
        """Give the answers of the rules that may have hours, as planned."""
        rules = (*self.always, *PEOPLE, "survey-age")
        return tuple(answer for rule in rules for answer in self.as_planned(rule))


def departure_of(trips: Sequence[Trip], found: bool) -> dict[str, Any]:
    """Give the latest hour the plan may start at, and what ends it.

    ``state``: ``no_way`` there is nothing to start; ``any_hour`` no hour was asked for, so every closure and hour was
    taken to hold and it was taken to be dark; ``unknown`` a rule on the way cannot tell its hours; ``limited`` with
    ``latest`` and ``limited_by``; ``not_limited`` within ``looked_until``.

    Args:
        trips: the solved trips, in the order driven
        found: whether every trip has its way
    """
    if not found:
        return _said("no_way")
    timed = [trip for trip in trips if trip.case.at is not None and trip.case.until is not None and len(trip.cells)]
    if not timed:
        return _said("any_hour")
    clocked = [_clocked(trip) for trip in timed]
    missing = sorted({name for each in clocked for name in _clockless(each.asked())})
    if missing:
        return _said("unknown", missing=missing)
    first = timed[0].case
    assert first.at is not None
    span = {"looked_until": (first.at + LOOK_AHEAD).isoformat(), "span_min": _minutes(first)}
    for minutes in sorted({m for each in clocked for m in _moments(each)}):
        worse = [entry for each in clocked for entry in _worse(each, dt.timedelta(minutes=minutes))]
        if worse:
            latest = (first.at + dt.timedelta(minutes=minutes - 1)).isoformat()
            return _said("limited", latest=latest, limited_by=_once(worse), **span)
    return _said("not_limited", **span)


def _said(state: str, **known: Any) -> dict[str, Any]:
    empty: dict[str, Any] = {"latest": None, "looked_until": None, "span_min": None, "limited_by": [], "missing": []}
    return {"state": state, **empty, **known}


def _minutes(case: Case) -> float:
    assert case.at is not None
    assert case.until is not None
    return (case.until - case.at) / MINUTE


def _once(entries: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    return list({tuple(entry.values()): entry for entry in entries}.values())


def _clocked(trip: Trip) -> _Clocked:
    by_date = {name for layer, names in BY_DATE.items() if _dated(trip.case, layer) for name in names}
    always = ALWAYS | BY_WORD if _dated(trip.case, "overheads") else ALWAYS
    return _Clocked(
        trip=trip,
        always=always,
        by_date=frozenset({"survey-age"} | by_date),
        planned={},
        held=set(),
    )


def _dated(case: Case, layer: str) -> bool:
    rows = case.survey.site.layers[layer]
    names = [field.name for field in LAYERS[layer].fields if field.kind in ("date", "time")]
    return any(value is not None for name in names for value in rows.text(name))


def _answers(trip: Trip, case: Case, rule: str) -> tuple[Answer, ...]:
    return answers_for(case, trip.cells.piece, trip.cells.sense, trip.cells.config, frozenset({rule}))


def _clockless(answers: Sequence[Answer]) -> Iterator[str]:
    """Give what is missing on the way for telling hours: hours on a sign nobody put into times, a day not known."""
    for answer in answers:
        if answer.rule in ("closure", "survey-age") and not answer.not_looked:
            for row in np.flatnonzero(answer.verdict == Verdict.UNKNOWN).tolist():
                yield from (name for name in answer.missing(row) if name.startswith(CLOCKLESS))


# --- when anything may change ---------------------------------------------------------------------------------------


def _moments(each: _Clocked) -> Iterator[int]:
    """Give the whole minutes after the planned start at which some answer may change: before and after each change."""
    case = each.trip.case
    assert case.at is not None
    assert case.until is not None
    most = int(LOOK_AHEAD / MINUTE)
    for event in _events(each):
        for touched in (case.at, case.until):
            minutes = int((event - touched) // MINUTE)
            yield from (m for m in (minutes, minutes + 1) if 0 < m <= most)
    yield from _dusk(case, most)


def _events(each: _Clocked) -> Iterator[dt.datetime]:
    """Give when hours begin or end, closures and written words begin or end, and the day changes."""
    case = each.trip.case
    assert case.at is not None
    assert case.until is not None
    zone = ZoneInfo(case.survey.site.header.timezone)
    first, last = case.at.astimezone(zone).date() - DAY, (case.until + LOOK_AHEAD).astimezone(zone).date() + DAY
    days = [first + DAY * number for number in range((last - first).days + 1)]
    clocks = {dt.time()}
    for layer, rows in _features(each.asked()).items():
        for field in LAYERS[layer].fields:
            texts = [case.survey.site.layers[layer].text(field.name)[row] for row in rows] if not field.numeric else []
            if field.kind == "clock":
                clocks |= {dt.time.fromisoformat(text) for text in texts if text is not None}
            elif field.kind == "time":
                yield from (dt.datetime.fromisoformat(text) for text in texts if text is not None)
    for day in days:
        yield from (moment for clock in clocks for moment in moments_of(day, clock, zone))


def _features(answers: Sequence[Answer]) -> Mapping[str, list[int]]:
    out: dict[str, set[int]] = {}
    for answer in answers:
        if answer.layer and not answer.not_looked:
            out.setdefault(answer.layer, set()).update(np.unique(answer.feature[answer.feature >= 0]).tolist())
    return {layer: sorted(rows) for layer, rows in out.items()}


def _dusk(case: Case, most: int) -> Iterator[int]:
    """Give the minutes at which the sun passes the rulebook's elevation at the start or at the end of the span."""
    assert case.at is not None
    middle = case.survey.network.node_xy.mean(axis=0, keepdims=True)
    lon, lat = np.radians(case.survey.lonlat(middle)[0, :2])
    span = int(np.ceil(_minutes(case)))
    minutes = np.arange(most + span + 2)
    days: NDArray[np.float64] = (case.at - EPOCH) / DAY + minutes / DAY_MINUTES
    dark = np.asarray(sun_elevation(days, lat, lon) < case.scalar("light.sun_elevation"))
    for change in np.flatnonzero(dark[1:] != dark[:-1]).tolist():
        for base in (change, change - span):
            yield from (m for m in range(base - 1, base + 3) if 0 < m <= most)


# --- whether it still holds -----------------------------------------------------------------------------------------


def _worse(each: _Clocked, later: dt.timedelta) -> Iterator[dict[str, Any]]:
    """Give what a later start makes worse than planned: a worse verdict, or a lower top speed."""
    case = each.trip.case
    assert case.at is not None
    assert case.until is not None
    shifted = replace(case, at=case.at + later, until=case.until + later)
    vars(shifted).update({name: vars(case)[name] for name in HOURLESS if name in vars(case)})
    for rule in sorted(_rules(each, shifted)):
        for old, new in zip(each.as_planned(rule), _answers(each.trip, shifted, rule), strict=True):
            worse = new.verdict > old.verdict
            if new.outcome.cap_mps is not None:
                worse = worse | (_cap(new) < _cap(old))
            if worse.any():
                yield _named(each.trip, new, int(np.argmax(worse)))


def _rules(each: _Clocked, shifted: Case) -> frozenset[str]:
    """Give the rules that may answer worse at another hour, but those asked before with the same people, light, day."""
    case, layer = each.trip.case, shifted.survey.site.layers["people"]
    here, night, day = active(layer, shifted), dark(shifted), travel_date(shifted)
    keys: dict[str, tuple[object, ...]] = {}
    if bool((here & ~active(layer, case)).any()):
        keys |= {rule: (rule, here.tobytes(), night) for rule in PEOPLE}
    elif night and not dark(case):
        keys["reverse"] = ("reverse", here.tobytes(), night)
    if day != travel_date(case):
        keys |= {rule: (rule, day) for rule in each.by_date}
    new = frozenset(rule for rule, key in keys.items() if key not in each.held)
    each.held.update(keys.values())
    return each.always | new


def _cap(answer: Answer) -> NDArray[np.float64]:
    cap = answer.outcome.cap_mps
    values = np.broadcast_to(np.nan_to_num(np.asarray(cap, dtype=np.float64), nan=np.inf), answer.verdict.shape)
    return np.where(answer.applies(), values, np.inf)


def _named(trip: Trip, answer: Answer, row: int) -> dict[str, Any]:
    survey, feature = trip.case.survey, int(answer.feature[row])
    road = int(survey.pieces.road[trip.cells.piece[answer.position[row]]])
    return {
        "rule": answer.rule,
        "trip": trip.case.trip,
        "road": survey.site.layers["roads"].ids[road],
        "layer": answer.layer or None,
        "feature": survey.site.layers[answer.layer].ids[feature] if feature >= 0 else None,
    }
