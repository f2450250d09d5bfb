"""``travel weather``: the plan's own question in other weather, with its changes of the site and what was accepted."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests import builders
from tests.planning import on_day
from tests.unit.service.test_remedy import asked, written
from travel.domain.request import TripConditions
from travel.domain.site import Weather
from travel.errors import InputError
from travel.service.again import Now
from travel.service.plan import make_plan, write_plan
from travel.service.weather import weather_text, weather_window


@pytest.fixture(autouse=True)
def _day() -> Iterator[None]:
    with on_day(dt.date(2026, 3, 3)):
        yield


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return builders.write_machine(tmp_path / "machine.toml")


def site_of(tmp_path: Path, **values: Any) -> Path:
    return written(tmp_path / "site", [(0, 0, 10), (120, 0, 10)], **values)


def test_the_plans_changes_of_the_site_hold_in_other_weather_too(tmp_path: Path, sheet: Path) -> None:
    gateway = builders.point("gw", (50, 0), kind="gateway", road="r1", width_m=2.0)
    site = site_of(tmp_path, limits=[gateway], width_m=6.0, surface="asphalt")
    assert make_plan(asked(site, sheet), remedies="none").plan.outcome == "no_way"
    answer = make_plan(asked(site, sheet, amendments=("limits:gw:width_m=4",)))
    file, _ = write_plan(answer, tmp_path / "out")
    plan, rows = weather_window(file, Now(site=site, machine=sheet))
    own = next(row for row in rows if (row.ground, row.temperature_c, row.wind_mps) == ("dry", 15.0, 2.0))
    assert (own.outcome, own.verdict, own.same_way) == ("way", answer.plan.verdict, True)
    text = weather_text(plan, rows, as_json=False)
    assert "as planned" in text
    assert "−10 °C" in text
    unsure = dataclasses.replace(own, ground="wet", verdict="unknown")
    assert "Not known in: ground wet (" in weather_text(plan, (unsure,), as_json=False)


def test_a_sheet_the_plan_has_not_is_refused(tmp_path: Path, sheet: Path) -> None:
    site = site_of(tmp_path, width_m=6.0, surface="asphalt")
    file, _ = write_plan(make_plan(asked(site, sheet)), tmp_path / "out")
    with pytest.raises(InputError) as error:
        weather_window(file, Now(site=site, machine=sheet, load=sheet, back_load=sheet, trailer=sheet))
    assert [fault.field for fault in error.value.faults] == ["--load", "--back-load", "--trailer"]


def test_a_way_back_planned_for_its_own_weather_keeps_what_the_row_does_not_set(tmp_path: Path, sheet: Path) -> None:
    """Wet ground that bears nothing is met on the way back alone: wind and temperature do not dry it."""
    site = site_of(tmp_path, width_m=6.0, surface="firm_earth")
    ring = [(40, -9), (60, -9), (60, 9), (40, 9)]
    builders.write_layer(site, "ground", [builders.area("soft", ring, bearing_kpa=900.0, bearing_wet_kpa=50.0)])
    back = TripConditions(weather=Weather(ground="wet"))
    answer = make_plan(asked(site, sheet, back=back), remedies="none")
    assert answer.plan.outcome == "no_way"
    file, _ = write_plan(answer, tmp_path / "out")
    plan, rows = weather_window(file, Now(site=site, machine=sheet))
    told = {(row.changed, getattr(row, row.changed)): row for row in rows}
    assert all(row.outcome == "no_way" for (changed, _), row in told.items() if changed != "ground")
    assert (told["ground", "dry"].outcome, told["ground", "wet"].outcome) == ("way", "no_way")
    text = weather_text(plan, rows, as_json=False)
    assert "planned for dry, 15 °C, wind 2 m/s; back for wet, 15 °C, wind 2 m/s" in " ".join(text.split())
    lines = [line for line in text.splitlines() if line.startswith("  dry, 15 °C, wind 2 m/s")]
    assert not [line for line in lines if "as planned" in line]
    assert "ground dry" in text.split("Not known in:")[1]
