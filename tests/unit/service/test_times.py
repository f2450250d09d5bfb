"""A plan driven several times: what its own plant does to soft ground counts from the first trip on."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from tests.memory_site import make_site
from tests.planning import answer_of, sheet
from tests.unit.checks.beside_cases import case_of
from tests.unit.planning.test_outlook import place, road
from travel.domain.plan import TravelPlan
from travel.service.again import Now, request_again


@pytest.mark.parametrize(
    ("trip", "times", "delivered", "passes"),
    [
        ("out", 1, False, 1),
        ("back", 1, False, 2),
        ("out", 3, False, 5),
        ("back", 3, False, 6),
        ("arrive", 1, True, 1),
        ("out", 1, True, 2),
        ("leave", 1, True, 4),
        ("arrive", 2, True, 5),
    ],
)
def test_own_passes(trip: str, times: int, delivered: bool, passes: int) -> None:
    case = dataclasses.replace(case_of(), trip=trip, times=times, delivered=delivered)
    assert case.own_passes == passes


def soft_ground(times: int) -> TravelPlan:
    """40 m of clay with a rating cone index of 400 kPa: enough for one pass (243 kPa), not for more (534 kPa)."""
    clay = {"surface": "clay", "cone_index_kpa": 500.0, "remoulding_index": 0.8, "passes_done": 0}
    site = make_site([road("M", (0, 0), (40, 0)) | clay], [place("G", 0, 0, "gate"), place("P", 40, 0, "pick_point")])
    return answer_of(site, "G", "P", sheet(), times=times).plan


def test_the_request_says_how_often_and_the_first_trip_is_judged_by_it() -> None:
    once, twice = soft_ground(1), soft_ground(2)
    worst = [[row.blocked_m for row in plan.checked if row.rule == "passes"] for plan in (once, twice)]
    stopped = [finding.verdict for finding in twice.findings if finding.rule == "passes"]
    assert (once.outcome, twice.outcome) == ("way", "no_way"), worst
    assert stopped == ["blocked"]
    assert "times" not in once.request
    assert [request_again(plan, Now(site=Path("memory"))).times for plan in (once, twice)] == [1, 2]
