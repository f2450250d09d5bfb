"""People, traffic, reversing: every verdict once, by numbers worked out by hand.

The builders' machine is 3.1 m high and 2.4 m wide: 4.1 m to keep clear of people (its height and 1 m). On a straight
the body reaches 1.2 m from the centreline, 0.25 m of wander, band in plan 0.10 m.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest

from tests.unit.checks.beside_cases import (
    ALL_ROUND,
    BACK,
    BLOCKED,
    CAUTION,
    CLEAR,
    DAY,
    LOW,
    UNKNOWN,
    case_of,
    controls,
    lacking,
    number,
    on_grid,
    on_list,
    told,
    verdict,
)
from travel.checks import fold
from travel.domain.site import Weather
from travel.mechanics.braking import stopping_distance_coasting
from travel.mechanics.formula import catalogue
from travel.units import kmh_to_mps

MINE = ("people", "traffic", "reverse")
BLIND_RIGHT = [{"sector_deg": (-180.0, 30.0), "kind": "clear"}, {"sector_deg": (30.0, 179.9), "kind": "mirror"}]
CAMERA_BEHIND = [{"sector_deg": (-130.0, 130.0), "kind": "clear"}, {"sector_deg": (130.0, 230.0), "kind": "camera"}]
NIGHT = DAY.replace(hour=21)


def with_people(away: float, *, of: dict[str, Any] | None = None, **changes: Any) -> Any:
    """Give the road with people all along it, ``away`` metres to the left; ``of``: the case's other settings."""
    row = {"id": "p", "kind": "walkway", "xy": [(-20.0, away), (30.0, away)]} | changes
    return case_of(people=[{k: v for k, v in row.items() if v is not None}], **(of or {}))


# --- people -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("away", "kind", "control", "expected"),
    [
        (5.70, "walkway", None, CLEAR),  # 5.70 - 1.45 - 0.1 = 4.15 of 4.1
        (5.60, "walkway", None, CAUTION),  # 4.05
        (1.60, "public", None, CAUTION),  # 0.05: beside the way
        (1.50, "public", None, BLOCKED),  # -0.05: in it, and nothing keeps them out
        (1.50, "work_area", None, BLOCKED),
        (1.50, "public", "gates", CAUTION),
        (1.50, "work_area", "fenced", CAUTION),
        (1.50, "crossing", None, CAUTION),
        (1.50, "walkway", None, CAUTION),
    ],
)
def test_people(away: float, kind: str, control: str | None, expected: int):
    case = with_people(away, kind=kind, control=control)
    assert verdict(case, "people") == expected
    assert controls(case, "people") == ({"people-kept-out"} if expected == CAUTION else set())


def test_keep_clear_by_numbers():
    case = with_people(5.0)
    assert number(case, "people", "demand") == pytest.approx(4.1)
    assert number(case, "people", "capacity") == pytest.approx(3.55)


def test_speed_where_people_are_in_the_way_stops_within_the_fall_zone():
    """2.9 s, grip 0.35 g on gravel, 1 % of grade's band: 4.1 m from 1.163 m/s (4.2 km/h), 3.37 + 0.41 + 0.31."""
    case = with_people(1.0)
    folded = fold(case)
    cap = float(folded.cap_mps[0, 0, LOW])
    assert folded.rules[folded.cap_rule[0, 0, LOW]] == "people"
    decel = (0.35 * 0.99985 - 0.01) * 9.80665
    assert stopping_distance_coasting(cap, 2.9, 0.01 * 9.80665, decel) == pytest.approx(4.1, abs=0.02)
    assert cap == pytest.approx(1.163, abs=0.01)
    assert fold(with_people(5.0)).cap_mps[0, 0, LOW] > 2.0


def test_ice_that_stops_nothing_bars_the_way_through_people():
    case = with_people(1.0, of={"road": {"grade_pct": 12.0}, "weather": Weather(ground="hard_ice")})
    assert verdict(case, "people") == BLOCKED
    assert verdict(with_people(5.0, of={"weather": Weather(ground="hard_ice")}), "people") == CAUTION


@pytest.mark.parametrize(
    ("hours", "at", "expected"),
    [
        ({}, DAY, CAUTION),  # blank: always
        ({}, None, CAUTION),
        ({"from_time": "07:00", "until_time": "16:00"}, DAY, CAUTION),
        ({"from_time": "07:00", "until_time": "16:00"}, None, CAUTION),  # no hour stated: as if always
        ({"from_time": "12:00", "until_time": "16:00"}, DAY, CLEAR),  # 10 to 11
        ({"from_time": "11:00", "until_time": "16:00"}, DAY, CAUTION),  # meets at 11
        ({"from_time": "07:00", "until_time": "16:00", "days": "mon tue"}, DAY, CLEAR),  # a Wednesday
        ({"from_time": "07:00", "until_time": "16:00", "days": "wed"}, DAY, CAUTION),
        ({"days": "mon"}, DAY, CAUTION),  # days alone say nothing
        ({"from_time": "22:00", "until_time": "11:00", "days": "tue"}, DAY, CAUTION),  # past midnight, from Tuesday
        ({"from_time": "22:00", "until_time": "09:00", "days": "tue"}, DAY, CLEAR),
    ],
)
def test_hours_in_the_sites_time(hours: dict[str, str], at: dt.datetime | None, expected: int):
    assert verdict(with_people(5.0, of={"at": at}, **hours), "people") == expected


def test_hours_are_the_sites_own():
    """10 to 11 UTC are 11 to 12 in Berlin."""
    hours = {"from_time": "11:30", "until_time": "16:00"}
    assert verdict(with_people(5.0, **hours), "people") == CLEAR
    assert verdict(with_people(5.0, of={"header": {"timezone": "Europe/Berlin"}}, **hours), "people") == CAUTION


def test_people_on_a_side_the_driver_does_not_see():
    """Left as drawn is left going along, right going against; and the other way round in reverse."""
    case = with_people(4.0, of={"sheet": {"view": BLIND_RIGHT}})
    assert "spotter" not in controls(case, "people", LOW, 1)
    assert "spotter" in controls(case, "people", LOW, -1)
    assert "spotter" in controls(case, "people", BACK, 1)
    assert "spotter" in controls(with_people(4.0, of={"sheet": {"view": []}}), "people", LOW, 1)


@pytest.mark.parametrize("view", [BLIND_RIGHT, ALL_ROUND])
def test_people_who_cross_the_way_come_from_both_sides(view: list[dict[str, Any]]):
    """A walkway that ends beside the road is on one side; one that goes on over it is on both."""
    beside, across = (
        case_of(sheet={"view": view}, people=[{"id": "p", "kind": "walkway", "xy": [(2.5, from_y), (2.5, 6.0)]}])
        for from_y in (2.0, -6.0)
    )
    for sense in (1, -1):
        assert ("spotter" in controls(across, "people", LOW, sense)) == (view is BLIND_RIGHT)
        assert ("spotter" in controls(beside, "people", LOW, sense)) == (view is BLIND_RIGHT and sense < 0)


@pytest.mark.parametrize(
    ("of", "named"),
    [
        ({"weather": Weather()}, "weather.ground"),
        ({"road": {"surface": None}}, "surface"),
        ({"road": {"grade_pct": None}}, "grade"),
        ({"road": {"cross_slope_pct": None}}, "cross_slope_pct"),
        ({"sheet": {"brakes__service_mps2": None}}, "machine.brakes.service_mps2"),
    ],
)
def test_speed_among_people_needs_its_values(of: dict[str, Any], named: str):
    case = with_people(1.0, of=of)
    assert named in lacking(case, "people")
    assert verdict(case, "people") == UNKNOWN
    assert verdict(with_people(5.0, of=of), "people") == CAUTION  # no speed asked for beside them


# --- traffic ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("road", "expected", "control"),
    [
        ({"traffic": "none"}, CLEAR, set()),
        ({"traffic": "one_at_a_time"}, CAUTION, {"traffic-held"}),
        ({"traffic": None}, UNKNOWN, set()),
        ({"traffic": "two_way", "width_m": 6.36}, CLEAR, set()),  # 2 x 2.4 + 3 x 0.5 = 6.3, band 0.05
        ({"traffic": "two_way", "width_m": 6.34}, CAUTION, {"traffic-held"}),
        ({"traffic": "two_way", "width_m": 6.34, "other_width_m": 2.0}, CLEAR, set()),
        ({"traffic": "two_way", "width_m": 5.0, "sight_m": None}, UNKNOWN, set()),
        ({"traffic": "two_way", "width_m": None}, UNKNOWN, set()),
        ({"traffic": "two_way", "width_m": 5.0, "sight_m": 1.0}, BLOCKED, set()),  # 0.28 m/s x 2.9 s twice is 1.6 m
        ({"traffic": "two_way", "width_m": 5.0, "sight_m": 30.0, "other_speed_kmh": 60.0}, BLOCKED, set()),
        ({"traffic": "two_way", "width_m": 5.0, "surface": None}, UNKNOWN, set()),
        ({"traffic": "two_way", "width_m": 5.0, "sight_m_method": "told"}, CAUTION, {"traffic-held"}),
        (
            {"traffic": "two_way", "width_m": 5.0, "sight_m": 200.0, "sight_m_method": "told", "other_speed_kmh": 60.0},
            UNKNOWN,
            set(),
        ),
    ],
)
def test_traffic(road: dict[str, Any], expected: int, control: set[str]):
    assert verdict(case_of(road), "traffic") == expected
    assert controls(case_of(road), "traffic") == control


def test_each_of_two_stops_in_half_of_what_is_seen():
    case = case_of({"traffic": "two_way", "width_m": 5.0, "sight_m": 20.0})
    ((answer, row),) = [(a, r) for a, r in told(case, "traffic") if a.outcome.cap_mps is not None]
    cap = answer.value("cap_mps", row)
    decel = (0.35 * 0.99985 - 0.01) * 9.80665
    assert stopping_distance_coasting(cap, 2.9, 0.01 * 9.80665, decel) == pytest.approx(10.0, abs=0.05)
    slow = case_of({"traffic": "two_way", "width_m": 5.0, "sight_m": 20.0, "other_speed_kmh": 5.0})
    assert max(a.value("cap_mps", r) for a, r in told(slow, "traffic") if a.outcome.cap_mps is not None) > cap


def test_a_sight_only_told_is_counted_no_further_than_the_least_assumed_one():
    """10 m, as for stopping."""

    def cap(**road: Any) -> Any:
        case = case_of({"traffic": "two_way", "width_m": 5.0} | road)
        return [a.value("cap_mps", r) for a, r in told(case, "traffic") if a.outcome.cap_mps is not None]

    assert cap(sight_m=60.0, sight_m_method="told") == pytest.approx(cap(sight_m=10.0))
    assert cap(sight_m=8.0, sight_m_method="told") == pytest.approx(cap(sight_m=8.0))


@pytest.mark.parametrize("sight", [1.0, 1.5, 2.0, 5.0, 40.0])
def test_cap_and_verdict_agree(sight: float):
    """A cap under the least steady speed (1 km/h) and a sight shorter than both stopping distances are one thing."""
    case = case_of({"traffic": "two_way", "width_m": 5.0, "sight_m": sight})
    ((answer, row),) = [(a, r) for a, r in told(case, "traffic") if a.outcome.cap_mps is not None]
    assert (answer.value("cap_mps", row) < kmh_to_mps(1.0)) == (verdict(case, "traffic") == BLOCKED)


# --- reversing --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("of", "expected", "asked"),
    [
        ({}, CLEAR, set()),
        ({"sheet": {"view": CAMERA_BEHIND}}, CAUTION, {"spotter"}),
        ({"sheet": {"view": []}}, UNKNOWN, set()),
        ({"at": NIGHT}, CLEAR, set()),  # lit
        ({"at": NIGHT, "road": {"lit": False}}, CAUTION, {"lights"}),
        ({"at": NIGHT, "road": {"lit": None}}, UNKNOWN, set()),
        ({"at": None, "road": {"lit": False}}, CAUTION, {"lights"}),
        ({"road": {"lit": None}}, CLEAR, set()),  # by day
    ],
)
def test_reversing(of: dict[str, Any], expected: int, asked: set[str]):
    case = case_of(**of)
    assert verdict(case, "reverse", BACK) == expected
    assert controls(case, "reverse", BACK) == asked
    assert verdict(case, "reverse", LOW) == CLEAR  # silent forwards


def test_reversing_near_people_or_an_edge_takes_a_spotter():
    edge = {"id": "e", "kind": "drop", "depth_m": 2.0, "soil": "rock", "batter_deg": 80.0, "berm_height_m": 2.0,
            "xy": [(-20.0, 4.0), (30.0, 4.0)]}  # fmt: skip
    assert controls(case_of(edges=[edge]), "reverse", BACK) == {"spotter"}
    assert controls(case_of(edges=[edge | {"xy": [(-20.0, 9.0), (30.0, 9.0)]}]), "reverse", BACK) == set()
    assert controls(with_people(4.0), "reverse", BACK) == {"spotter"}
    assert controls(with_people(8.0), "reverse", BACK) == set()


def test_reversing_is_at_walking_pace_and_counts_as_exposure():
    folded = fold(case_of(sheet={"gears__2__top_kmh": 20.0}))
    assert folded.cap_mps[0, 0, BACK] == pytest.approx(kmh_to_mps(5.0))
    assert folded.rules[folded.cap_rule[0, 0, BACK]] == "reverse"
    assert folded.exposed[0, :, BACK].all()


# --- every rule here ---------------------------------------------------------------------------------------------


def busy() -> Any:
    """Give a road on which every part speaks."""
    return case_of(
        {"traffic": "two_way", "width_m": 5.0, "lit": False, "sight_m": 20.0},
        sheet={"view": CAMERA_BEHIND}, at=NIGHT, xy=[(0, 0), (30, 0), (60, 10)],
        people=[{"id": "a", "kind": "public", "xy": [(20.0, 1.0), (25.0, 1.0)]},
                {"id": "b", "kind": "crossing", "xy": [(40.0, -20.0), (40.0, 20.0)], "control": "marshal"}],
        edges=[{"id": "e", "kind": "drop", "depth_m": 2.0, "soil": "rock", "batter_deg": 80.0, "berm_height_m": 2.0,
                "xy": [(-20.0, 4.0), (10.0, 4.0)]}],
    )  # fmt: skip


@pytest.mark.parametrize("rule", MINE)
def test_by_columns_and_by_rows(rule: str):
    case = busy()
    assert on_grid(case, rule).max() >= CAUTION
    np.testing.assert_array_equal(on_grid(case, rule), on_list(case, rule))


@pytest.mark.parametrize("rule", MINE)
def test_terms_put_through_the_formula_give_the_numbers(rule: str):
    formulas, of = catalogue(), busy().rulebook.rules[rule]
    for answer, row in told(busy(), rule):
        for name, terms, formula in (("demand", answer.outcome.terms, of.formula),
                                     ("capacity", answer.outcome.capacity_terms, of.capacity_formula)):  # fmt: skip
            if terms:
                values = {key: float(np.broadcast_to(v, answer.position.shape)[row]) for key, v in terms.items()}
                assert formulas[formula](**values) == pytest.approx(answer.value(name, row))


@pytest.mark.parametrize("away", np.linspace(0.5, 7.0, 14))
def test_nearer_or_higher_or_more_hours_is_never_better(away: float):
    base = with_people(away, kind="public", from_time="12:00", until_time="14:00")
    worse = [
        with_people(max(away - 0.4, 0.0), kind="public", from_time="12:00", until_time="14:00"),
        with_people(away, kind="public", from_time="10:30", until_time="14:00"),
        with_people(away, kind="public"),
    ]
    higher = with_people(away, kind="public", of={"sheet": {"attitudes__0__top_xz_m": [[1.6, 1.2], [-4.6, 4.0]]}})
    assert all(verdict(each, "people") >= verdict(base, "people") for each in worse)
    assert verdict(higher, "people") >= verdict(with_people(away, kind="public"), "people")


def test_layers_nobody_looked_at():
    case = case_of(surveyed={"roads": {"date": DAY.date()}})
    assert verdict(case, "people") == UNKNOWN
