"""State and time: directions, closures, speed limits, attitude for travel."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.hours import active, age_of, dark
from travel.checks.lane import code
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.rulebook import LimitColumn
from travel.units import kmh_to_mps

SIGNED = ("width_m", "height_m", "gross_kg", "axle_kg", "wheel_kg", "speed_kmh")
"""What a sign may limit besides hours."""


@answers("one-way")
def one_way(rows: Rows, case: Case) -> Outcome:
    """Driving along or against the road as drawn, against what is allowed there. Blank = both ways."""
    allowed = code(rows, "one_way", ("along", "against"))
    wrong = ((allowed == 0) & (rows.sense < 0)) | ((allowed == 1) & (rows.sense > 0))
    return Outcome(permitted=~wrong, limit_source="site")


@answers("closure", layer="closures")
def closure(rows: Rows, case: Case) -> Outcome:
    """A closure bars while it lasts; without an hour for the trip, or without its own times, always."""
    return Outcome(permitted=~closed(case)[rows.feature], limit_source="site")


def closed(case: Case) -> NDArray[np.bool_]:
    """Give by closure whether it may bar some time during the trip."""
    layer = case.survey.site.layers["closures"]
    times = zip(layer.text("closed_from"), layer.text("closed_until"), strict=True)
    return np.array([not _open(start, end, case) for start, end in times], dtype=bool)


def _open(start: str | None, end: str | None, case: Case) -> bool:
    """Tell whether a closure is surely over, or not yet begun, over the whole span of the trip."""
    if case.at is None or case.until is None:
        return False
    begun = start is None or dt.datetime.fromisoformat(start) <= case.until
    over = end is not None and dt.datetime.fromisoformat(end) <= case.at
    return over or not begun


def _cap(cap_mps: NDArray[np.float64], case: Case, source: str) -> Outcome:
    return Outcome(
        demand=case.scalar("stopping.least_speed"),
        capacity=cap_mps,
        applies=~np.isnan(cap_mps),
        cap_mps=cap_mps,
        limit_source=source,
    )


@answers("site-speed")
def site_speed(rows: Rows, case: Case) -> Outcome:
    """The road's own limit, and the site's for every road."""
    limit = rows.limit("site-speed.limit")
    outcome = _cap(np.fmin(rows.si("speed_limit_mps"), limit.values), case, "site")
    return Outcome(
        demand=outcome.demand,
        capacity=outcome.capacity,
        applies=outcome.applies,
        cap_mps=outcome.cap_mps,
        limit=limit,
        limit_source="site",
    )


@answers("site-speed", layer="limits")
def posted_speed(rows: Rows, case: Case) -> Outcome:
    """Speed limits posted at single places."""
    return _cap(kmh_to_mps(rows.of_feature("speed_kmh")), case, "site")


@answers("closure", layer="limits")
def signed_hours(rows: Rows, case: Case) -> Outcome:
    """A sign that gives nothing but hours bars in them; hours written on it and not put into times are unknown.

    Where a sign limits something else as well, that limit holds at all hours.
    """
    assert rows.layer is not None
    layer = rows.layer
    other = ~np.isnan(np.stack([layer.number(name) for name in SIGNED])).all(axis=0)
    timed = np.array([text is not None for text in layer.text("from_time")], dtype=bool)
    words = np.array([text is not None for text in layer.text("hours")], dtype=bool) & ~timed
    bars = (timed & ~other)[rows.feature]
    return Outcome(
        permitted=~(bars & active(layer, case)[rows.feature]),
        applies=bars | words[rows.feature],
        missing={"hours": words[rows.feature]},
        limit_source="site",
    )


@answers("light")
def light(rows: Rows, case: Case) -> Outcome:
    """Where it may be dark the road is lit, or lights are brought. Without an hour it may be dark."""
    lit, night = rows.si("lit"), dark(case)
    return Outcome(
        permitted=np.ones(lit.shape, dtype=bool),
        missing={"lit": np.isnan(lit) & night},
        controlled=(lit != 1.0) & night,
        limit=case.resolved("light.sun_elevation"),
    )


@answers("survey-age")
def survey_age(rows: Rows, case: Case) -> Outcome:
    """How old the oldest survey is for its kind, on the day of the trip; one that says until when lapses then."""
    worst, missing = _oldest(case)
    everywhere = np.ones(rows.piece.shape, dtype=bool)
    if worst is None:
        return Outcome(applies=bool(missing), missing=dict.fromkeys(missing, everywhere))
    return Outcome(
        demand=worst.age_s,
        capacity=worst.most_s,
        missing=dict.fromkeys(missing, everywhere),
        limit=worst.limit,
        limit_source="site",
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class _Aged:
    age_s: float
    most_s: float
    limit: LimitColumn


@lru_cache(maxsize=16)
def _oldest(case: Case) -> tuple[_Aged | None, tuple[str, ...]]:
    """Give the survey nearest to its end, and those whose age cannot be told (dated after the trip, or no day)."""
    found: list[_Aged] = []
    missing = []
    for layer, note in case.survey.site.header.surveyed.items():
        limit = case.resolved("survey-age.limit", layer=layer)
        age = age_of(case, note.date.isoformat())
        if age is None or age.days < 0:
            missing.append("at" if age is None else f"surveyed.{layer}")
            continue
        most = float(limit.values)
        if note.until is not None:
            most = float(np.fmin(most, (note.until - note.date).total_seconds()))
        if not np.isnan(most):
            found.append(_Aged(age_s=age.total_seconds(), most_s=most, limit=limit))
    return min(found, key=lambda each: each.most_s - each.age_s, default=None), tuple(dict.fromkeys(missing))
