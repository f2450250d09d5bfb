"""State and time: directions, closures, speed limits, attitude for travel."""

from __future__ import annotations

import datetime as dt

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.registry import answers, answers_trip
from travel.checks.rows import Rows
from travel.units import kmh_to_mps

answers_trip("attitude")


@answers("one-way")
def one_way(rows: Rows, case: Case) -> Outcome:
    """Driving along or against the road as drawn, against what is allowed there. Blank = both ways."""
    wrong = (rows.words("one_way", "along") & (rows.sense < 0)) | (rows.words("one_way", "against") & (rows.sense > 0))
    return Outcome(permitted=~wrong, limit_source="site")


@answers("closure", layer="closures")
def closure(rows: Rows, case: Case) -> Outcome:
    """A closure bars while it lasts; without an hour for the trip, or without its own times, always."""
    assert rows.layer is not None
    start, end = rows.layer.text("closed_from"), rows.layer.text("closed_until")
    open_then = np.array([_open(a, b, case) for a, b in zip(start, end, strict=True)], dtype=bool)
    return Outcome(permitted=open_then[rows.feature], limit_source="site")


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
    return Outcome(demand=outcome.demand, capacity=outcome.capacity, applies=outcome.applies,
                   cap_mps=outcome.cap_mps, limit=limit, limit_source="site")


@answers("site-speed", layer="limits")
def posted_speed(rows: Rows, case: Case) -> Outcome:
    """Speed limits posted at single places."""
    return _cap(kmh_to_mps(rows.of_feature("speed_kmh")), case, "site")
