"""Remedies that change weather or load: of the way out, of the way back with its own, or of both."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest

from tests import builders
from tests.planning import day_of, on_day, workspace_of
from tests.property.test_plan_properties import strong
from tests.unit.planning.remedy_cases import site_with, straight
from travel.domain.request import PlanRequest, TripConditions
from travel.domain.site import Site, Weather
from travel.service.plan import make_plan
from travel.service.remedy import _asked

SOFT = site_with(straight(surface="firm_earth", bearing_kpa=900.0, bearing_wet_kpa=100.0))


def ground(state: str) -> Weather:
    return Weather(ground=state, temperature_c=5.0, wind_mps=2.0)


def changed(site: Site, machine: Path, row: str, **asked: Any) -> list[str]:
    """Give the ways changed by the remedies that are one row alone, each of which has to open what it says."""
    request = PlanRequest(site=Path("memory"), machine=machine, from_place="gate", to_place="pick",
                          **({"weather": ground("dry")} | asked))  # fmt: skip
    with on_day(day_of(site)):
        plan = make_plan(request, workspace_of(site), remedies="all", outlook=False).plan
        assert plan.outcome == "no_way"
        found = [r for r in plan.remedies if {part.reason for part in r.amendments} == {row}]
        for remedy in found:
            again = make_plan(_asked(request, remedy), workspace_of(site), remedies="none", outlook=False).plan
            assert (again.outcome, again.verdict) == ("way", remedy.verdict)
    assert found
    return sorted({part.feature for remedy in found for part in remedy.amendments})


@pytest.mark.parametrize(
    ("out", "back", "ways"),
    [("wet", None, [""]), ("wet", "wet", [""]), ("wet", "mud", ["", "back"]), ("dry", "wet", ["back"])],
)
def test_ground_is_waited_for_on_the_way_that_has_it(
    out: str, back: str | None, ways: list[str], tmp_path: Path
) -> None:
    machine = tmp_path / "machine.toml"
    machine.write_text(builders.toml(strong()), encoding="utf-8")
    own = None if back is None else TripConditions(weather=ground(back))
    assert changed(SOFT, machine, "drier-ground", weather=ground(out), back=own) == ways


@pytest.mark.parametrize("ways", [["", "back"], ["back"]])
def test_a_load_is_left_behind_on_the_way_that_has_it(ways: list[str], tmp_path: Path) -> None:
    sheet, machine = strong(), tmp_path / "machine.toml"
    sheet["attitudes"].append(copy.deepcopy(sheet["attitudes"][0]) | {"name": "forks"})
    sheet["limits"]["forks"] = {"grade_pct": 5.0, "cross_slope_pct": 6.0}
    sheet["carrying"] = [{"support": "tyres_moving", "how": "forks", "sector": "front", "slope_max_pct": 5.0,
                          "x_m": 2.4, "capacity_kg": 1000.0}]  # fmt: skip
    machine.write_text(builders.toml(sheet), encoding="utf-8")
    load = builders.write_load(tmp_path / "load.toml", cg_in_load_xyz_m=[0.6, 0.5, 0.5], sail_m2=1.0)
    asked = {"load": load if "" in ways else None, "back": TripConditions(load=load)}
    assert changed(site_with(straight(rise=8.0)), machine, "travel-stowed", **asked) == ways
