"""Closures, hours on signs, light, age of the survey; directions and speeds at their limits."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest

from tests.unit.checks.beside_cases import (
    BLOCKED,
    CAUTION,
    CLEAR,
    DAY,
    UNKNOWN,
    case_of,
    controls,
    lacking,
    number,
    on_grid,
    on_list,
    verdict,
    worst,
)
from travel.checks.hours import dark
from travel.mechanics.sun import sun_elevation

MINE = ("one-way", "closure", "site-speed", "light", "survey-age")
RING = [(-1.0, -2.0), (6.0, -2.0), (6.0, 2.0), (-1.0, 2.0)]
DAY_S = 86400.0
FRESH = {"places": {"date": DAY.date()}}


# --- directions and speeds ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("word", "along", "against"),
    [("no", CLEAR, CLEAR), (None, CLEAR, CLEAR), ("along", CLEAR, BLOCKED), ("against", BLOCKED, CLEAR)],
)
def test_one_way(word: str | None, along: int, against: int):
    case = case_of({"one_way": word})
    assert (verdict(case, "one-way", sense=1), verdict(case, "one-way", sense=-1)) == (along, against)


@pytest.mark.parametrize(("limit", "expected"), [(10.0, 10.0), (60.0, 15.0), (None, 15.0)])
def test_site_speed(limit: float | None, expected: float):
    case = case_of({"speed_limit_kmh": limit})
    assert number(case, "site-speed", "capacity") * 3.6 == pytest.approx(expected)


# --- closures ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "end", "at", "expected"),
    [
        # looked at from 10:00 to 11:00
        (None, None, DAY, BLOCKED),
        ("2026-03-04T09:00:00Z", "2026-03-04T12:00:00Z", DAY, BLOCKED),
        ("2026-03-04T10:30:00Z", "2026-03-04T12:00:00Z", DAY, BLOCKED),  # begins during the trip
        ("2026-03-04T11:30:00Z", None, DAY, CLEAR),
        (None, "2026-03-04T09:59:00Z", DAY, CLEAR),
        ("2026-03-04T12:00:00+02:00", "2026-03-04T13:00:00+02:00", DAY, BLOCKED),  # 10:00 to 11:00 UTC
        ("2026-03-04T14:00:00+02:00", None, DAY, CLEAR),
        ("2026-03-05T09:00:00Z", None, None, BLOCKED),  # no hour: always
    ],
)
def test_closure(start: str | None, end: str | None, at: dt.datetime | None, expected: int):
    row = {"id": "c", "polygon": RING, "closed_from": start, "closed_until": end}
    assert verdict(case_of(at=at, closures=[{k: v for k, v in row.items() if v is not None}]), "closure") == expected


def test_a_closure_beside_the_road_shuts_nothing():
    case = case_of(closures=[{"id": "c", "polygon": [(x, y + 40.0) for x, y in RING]}])
    assert verdict(case, "closure") == CLEAR


@pytest.mark.parametrize(
    ("sign", "at", "expected"),
    [
        ({"from_time": "07:00", "until_time": "10:30"}, DAY, BLOCKED),
        ({"from_time": "12:00", "until_time": "13:00"}, DAY, CLEAR),
        ({"from_time": "12:00", "until_time": "13:00"}, None, BLOCKED),
        ({"from_time": "07:00", "until_time": "10:30", "days": "mon"}, DAY, CLEAR),
        ({"from_time": "07:00", "until_time": "10:30", "speed_kmh": 5.0}, DAY, CLEAR),  # the hours are the limit's
        ({"hours": "not in school hours"}, DAY, UNKNOWN),
        ({"hours": "7 to 10.30", "from_time": "07:00", "until_time": "10:30"}, DAY, BLOCKED),  # put into times
        ({"hours": "Mon to Fri", "width_m": 4.0}, DAY, UNKNOWN),
        ({"speed_kmh": 5.0}, DAY, CLEAR),
    ],
)
def test_hours_on_signs(sign: dict[str, Any], at: dt.datetime | None, expected: int):
    case = case_of(at=at, limits=[{"id": "s", "xy": (2.5, 0.0), "kind": "posted", "road": "r"} | sign])
    assert verdict(case, "closure") == expected
    assert lacking(case, "closure") == ({"hours"} if expected == UNKNOWN else set())


# --- light -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "lit", "expected"),
    [
        # 45.15° north, 15° east: on 4 March the sun sets about 16:50 UTC, civil twilight ends half an hour later
        (DAY, None, CLEAR),
        (DAY, False, CLEAR),
        (DAY.replace(hour=15, minute=50), False, CLEAR),  # to 16:50
        (DAY.replace(hour=17, minute=30), False, CAUTION),
        (DAY.replace(hour=16, minute=50), False, CAUTION),  # it gets dark before 17:50
        (DAY.replace(hour=17, minute=30), True, CLEAR),
        (DAY.replace(hour=17, minute=30), None, UNKNOWN),
        (None, True, CLEAR),
        (None, False, CAUTION),  # no hour: it may be dark
        (None, None, UNKNOWN),
    ],
)
def test_light(at: dt.datetime | None, lit: bool | None, expected: int):
    case = case_of({"lit": lit}, at=at)
    assert verdict(case, "light") == expected
    assert controls(case, "light") == ({"lights"} if expected == CAUTION else set())


def test_midnight_sun_and_polar_night():
    """At 80° north: never dark in June, never light in December; at the equator both every day."""
    days = np.linspace(0.0, 1.0, 97)
    june, december = 9668.0 + days, 9851.0 + days  # 21 June and 21 December 2026
    north = np.radians(80.0)
    assert sun_elevation(june, north, 0.0).min() > np.radians(13.0)  # 80 + 23.4 - 90
    assert sun_elevation(december, north, 0.0).max() < np.radians(-13.0)
    assert sun_elevation(june, 0.0, 0.0).max() == pytest.approx(np.radians(90.0 - 23.43), abs=0.02)


def test_dark_by_the_hour():
    hours = [case_of(at=DAY.replace(hour=h), hours=0.1) for h in (3, 8, 12, 16, 20)]
    assert [dark(case) for case in hours] == [True, False, False, False, True]


# --- age ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("layer", "days", "expected"),
    [
        ("edges", 14, CLEAR),
        ("edges", 15, BLOCKED),
        ("roads", 90, CLEAR),
        ("roads", 91, BLOCKED),
        ("ground", 31, BLOCKED),
    ],
)
def test_age_by_kind(layer: str, days: int, expected: int):
    case = case_of(surveyed=FRESH | {layer: {"date": DAY.date() - dt.timedelta(days=days)}})
    assert verdict(case, "survey-age") == expected
    answer, row = worst(case, "survey-age")
    assert answer.value("demand", row) == days * DAY_S


def test_a_survey_lapses_when_it_says_so():
    note = {"date": dt.date(2026, 3, 1), "until": dt.date(2026, 3, 3)}
    assert verdict(case_of(surveyed=FRESH | {"roads": note}), "survey-age") == BLOCKED
    assert verdict(case_of(surveyed=FRESH | {"roads": note | {"until": dt.date(2026, 3, 4)}}), "survey-age") == CLEAR


def test_without_an_hour_the_day_of_the_plan_counts():
    old = {"roads": {"date": dt.date(2026, 3, 1)}}
    assert verdict(case_of(at=None, today=dt.date(2026, 3, 20), surveyed=FRESH | old), "survey-age") == CLEAR
    assert verdict(case_of(at=None, today=dt.date(2026, 6, 20), surveyed=FRESH | old), "survey-age") == BLOCKED
    assert lacking(case_of(at=None, surveyed=FRESH | old), "survey-age") == {"at"}


def test_a_survey_dated_after_the_trip_is_no_survey():
    case = case_of(surveyed=FRESH | {"roads": {"date": dt.date(2062, 3, 2)}, "edges": {"date": dt.date(2026, 3, 2)}})
    assert verdict(case, "survey-age") == UNKNOWN
    assert lacking(case, "survey-age") == {"surveyed.roads"}


# --- every rule here ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rule", MINE)
def test_by_columns_and_by_rows(rule: str):
    case = case_of(
        {"one_way": "along", "lit": False, "speed_limit_kmh": 10.0}, at=DAY.replace(hour=20),
        closures=[{"id": "c", "polygon": RING}], surveyed={"roads": {"date": dt.date(2025, 1, 1)}},
        limits=[{"id": "s", "xy": (2.5, 0.0), "kind": "posted", "road": "r", "hours": "as signed"},
                {"id": "t", "xy": (2.5, 0.0), "kind": "posted", "road": "r", "speed_kmh": 5.0}],
    )  # fmt: skip
    np.testing.assert_array_equal(on_grid(case, rule), on_list(case, rule))
    assert rule == "site-speed" or on_grid(case, rule).max() > CLEAR
