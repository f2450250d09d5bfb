"""Two plans side by side, in words."""

from __future__ import annotations

from tests.planning import plan_of
from tests.unit.planning.remedy_cases import site_with, straight
from travel.planning.differences import compare_plans
from travel.writers.changes_text import comparison_text


def test_a_trip_without_a_way_has_no_metres() -> None:
    open_, shut = (plan_of(site_with(straight(width_m=width)), "gate", "pick") for width in (6.0, 2.0))
    lines = comparison_text(open_, shut, compare_plans(open_, shut)).splitlines()
    assert any(line.startswith("  A: ") and "; 100 m " in line for line in lines)
    assert "no way found" in next(line for line in lines if line.startswith("  B: "))
    assert not any(line.rstrip().endswith(";") for line in lines)
