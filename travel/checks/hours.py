"""The hours of a trip against daily hours, daylight and dates, in the site's own time."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.domain.layers import LAYERS
from travel.domain.site import Layer
from travel.mechanics.sun import sun_elevation

Bools = NDArray[np.bool_]

EPOCH = dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)
"""Where the days of ``sun_elevation`` begin."""
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
LOOKS = 48
"""How many times within the span of a trip the sun is looked at; the sun moves evenly, so a few are enough."""
DAY = dt.timedelta(days=1)
DAILY = tuple(name for name, spec in LAYERS.items() if any(field.kind == "clock" for field in spec.fields))
"""Layers whose features may have daily hours."""
TIMES = tuple((name, field.name) for name, spec in LAYERS.items() for field in spec.fields if field.kind == "time")
"""Fields that state a moment: closures begin and end, a written word lapses."""


def span(case: Case) -> tuple[dt.datetime, dt.datetime] | None:
    """Give begin and end of the span a trip is looked at, in the site's time; None where no hour is stated."""
    if case.at is None or case.until is None:
        return None
    zone = ZoneInfo(case.survey.site.header.timezone)
    return case.at.astimezone(zone), case.until.astimezone(zone)


def travel_date(case: Case) -> dt.date | None:
    """Give the day of the trip in the site's time; without an hour the day the plan is made."""
    when = span(case)
    return when[0].date() if when else case.today


@lru_cache(maxsize=16)
def active(layer: Layer, case: Case) -> Bools:
    """Give by feature whether its daily hours touch the trip; without hours, or without an hour of the trip, always."""
    when = span(case)
    start, end, days = (layer.text(name) for name in ("from_time", "until_time", "days"))
    touches = [when is None or _touches(a, b, c, when) for a, b, c in zip(start, end, days, strict=True)]
    return np.array(touches, dtype=np.bool_)


def _touches(start: str | None, stop: str | None, days: str | None, when: tuple[dt.datetime, dt.datetime]) -> bool:
    """Tell whether daily hours and a span have a moment in common; hours past midnight belong to the day they begin.

    In a night in which the clock is put back, hours last from the first time they begin until the last time they end.
    """
    if start is None or stop is None:
        return True
    first, last = dt.time.fromisoformat(start), dt.time.fromisoformat(stop)
    begin, end = (moment.astimezone(dt.UTC) for moment in when)
    wanted = set(days.lower().replace(",", " ").split()) if days else set(DAYS)
    day = when[0].date() - DAY
    while day <= when[1].date():
        if DAYS[day.weekday()] in wanted:
            opens = min(moments_of(day, first, when[0].tzinfo))
            shuts = max(moments_of(day if last > first else day + DAY, last, when[0].tzinfo))
            if opens <= end and shuts >= begin:
                return True
        day += DAY
    return False


def moments_of(day: dt.date, time: dt.time, zone: dt.tzinfo | None) -> tuple[dt.datetime, dt.datetime]:
    """Give when a clock shows a time on a day, in UTC: two moments in a night in which it is put back or forward.

    Two times of one zone are otherwise compared by what the clock shows, not by which comes first.
    """
    shown = dt.datetime.combine(day, time, tzinfo=zone)
    return shown.astimezone(dt.UTC), shown.replace(fold=1).astimezone(dt.UTC)


@lru_cache(maxsize=16)
def dark(case: Case) -> bool:
    """Tell whether it may be dark at some moment of the trip: the sun below the rulebook's elevation, or no hour."""
    if case.at is None or case.until is None:
        return True
    middle = case.survey.network.node_xy.mean(axis=0, keepdims=True)
    lon, lat = np.radians(case.survey.lonlat(middle)[0, :2])
    moments = np.linspace((case.at - EPOCH) / DAY, (case.until - EPOCH) / DAY, LOOKS)
    return bool(np.any(sun_elevation(moments, lat, lon) < case.scalar("light.sun_elevation")))


def age_of(case: Case, day: str | None) -> dt.timedelta | None:
    """Give how old something dated is on the day of the trip; None where either day is not known."""
    now = travel_date(case)
    return None if now is None or day is None else now - dt.date.fromisoformat(day)


def clock(case: Case) -> tuple[object, ...]:
    """Give all that the rules can tell of the hour of a trip: where it is the same, they answer the same.

    The day, whether it may be dark, whose daily hours touch the trip, and on which side of its begin and its end each
    stated moment lies. No rule looks at the hour itself.
    """
    if case.at is None or case.until is None:
        return (case.today,)
    layers, at, until = case.survey.site.layers, case.at, case.until
    texts = [text for name, field in TIMES for text in layers[name].text(field) if text is not None]
    moments = [dt.datetime.fromisoformat(text) for text in texts]
    sides = bytes((m > at) + (m >= at) + 3 * ((m > until) + (m >= until)) for m in moments)
    return travel_date(case), dark(case), *(active(layers[name], case).tobytes() for name in DAILY), sides
