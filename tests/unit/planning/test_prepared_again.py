"""The way back is judged anew only where a rule that looks at which trip it is says something else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import case_of, sheet
from tests.unit.planning.test_outlook import place, road
from travel.checks import Case, fold, told_alike
from travel.domain.site import Weather
from travel.domain.verdict import Verdict
from travel.planning.trips import prepare


def on_clay(cone_index_kpa: float) -> Case:
    """A road of soft clay from gate to pick point, the way out."""
    soft = {"surface": "clay", "cone_index_kpa": cone_index_kpa, "remoulding_index": 1.0, "passes_done": 0}
    places = [place("G", 0, 0, "gate"), place("P", 0, 60, "pick_point", may_stop=True)]
    site = make_site([road("R", (0, 0), (0, 60), width_m=6.0, **soft)], places)
    return case_of(site, machine=sheet(), weather=Weather(ground="wet", temperature_c=8.0, wind_mps=2.0))


def back(case: Case) -> Case:
    return replace(case, trip="back")


def passes(case: Case) -> Verdict:
    folded = fold(case)
    return Verdict(int(folded.worst[folded.rule == folded.rules.index("passes")].max(initial=0)))


@pytest.fixture(scope="module")
def between() -> float:
    """A cone index [kPa] at which one pass is borne and two are not."""
    low, high = 50.0, 3000.0
    while high - low > 1e-3:
        middle = (low + high) / 2.0
        low, high = (middle, high) if passes(on_clay(middle)) == Verdict.BLOCKED else (low, middle)
    return high + 1e-3


def test_the_second_pass_is_told_apart_where_it_decides(between: float) -> None:
    case = on_clay(between)
    assert passes(case) < Verdict.BLOCKED
    assert passes(back(case)) == Verdict.BLOCKED
    assert not told_alike(case, back(case))
    ready = prepare(case)
    assert prepare(back(case), before=ready).folded is not ready.folded


@pytest.mark.parametrize("cone_index_kpa", [60.0, 2900.0])
def test_what_is_taken_over_is_what_folding_anew_gives(cone_index_kpa: float) -> None:
    case = on_clay(cone_index_kpa)
    ready, anew = prepare(case), fold(back(case))
    again = prepare(back(case), before=ready)
    assert again.folded is ready.folded
    assert again.case.trip == "back"
    for name in ("worst", "rule", "cap_mps", "cap_rule", "exposed", "unknowns"):
        assert np.array_equal(getattr(again.folded, name), getattr(anew, name)), name


def test_another_weather_load_or_acceptance_is_judged_anew() -> None:
    case = on_clay(2900.0)
    ready = prepare(case)
    wetter = replace(back(case), weather=case.weather.model_copy(update={"ground": "mud"}))
    heavier = replace(back(case), body=replace(case.body, mass_kg=case.body.mass_kg + 1.0))
    for other in (wetter, heavier):
        assert prepare(other, before=ready).folded is not ready.folded
    assert prepare(back(case), frozenset({"passes-00000000"}), before=ready).folded is not ready.folded
