"""Formulas on the command's side: list, sheet, working, and findings that their own numbers reproduce."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import travel
from tests.make_verified import text
from travel.errors import InputError
from travel.mechanics.formula import catalogue
from travel.service.formulas import all_sheets, explanation, formula_arguments, formula_text, work_out
from travel.units import SI_PER_UNIT

DEMO = Path(__file__).parents[3] / "demo_site"


def test_every_formula_is_listed_with_units_and_a_source() -> None:
    sheets = all_sheets()
    assert {sheet.name for sheet in sheets} == set(catalogue())
    for sheet in sheets:
        assert sheet.references, sheet.name
        assert all(unit for _, unit in sheet.arguments.values()), sheet.name


def test_verified_list_is_the_one_the_published_tests_give() -> None:
    path = Path(__file__).parents[3] / "travel" / "mechanics" / "verified.toml"
    assert path.read_text(encoding="utf-8") == text()


def test_working_shows_the_body_with_numbers_and_its_result() -> None:
    working = work_out("total_resistance", {"weight_n": 1000.0, "rolling_ratio": 0.05, "grade_ratio": 0.75})
    assert working.value == pytest.approx(1000 * (0.6 + 0.05 * 0.8))  # a 3-4-5 slope
    assert "1000 * (0.75 + 0.05)" in working.steps[-1].with_numbers


def test_values_a_formula_does_not_hold_for_are_told() -> None:
    shown, holds = formula_text("grade_over_window", ("rise_m=1", "window_m=0"), as_json=False)
    assert not holds
    assert "window_m > 0" in shown


def test_faults_are_all_listed() -> None:
    with pytest.raises(InputError) as error:
        work_out("grade_over_window", {"rise": 1.0})
    assert {fault.field for fault in error.value.faults} == {"rise", "rise_m", "window_m"}
    with pytest.raises(InputError, match="cannot be read"):
        formula_arguments(("a", "b=x"))
    with pytest.raises(InputError, match="is not a formula"):
        work_out("no_such_formula", {})


@pytest.fixture(scope="module")
def plans(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[travel.TravelPlan, Path]]:
    """Several demo plans, written out."""
    out = []
    weather = travel.Weather(ground="wet", temperature_c=4, wind_mps=6)
    for machine, place in (("middle", "P2"), ("large", "P1"), ("small", "P3"), ("large", "P3")):
        answer = travel.make_plan(
            travel.PlanRequest(
                site=DEMO / "site",
                machine=DEMO / "machines" / f"{machine}.toml",
                from_place="G1",
                to_place=place,
                weather=weather,
            )
        )
        paths = travel.write_plan(answer, tmp_path_factory.mktemp("plan"))
        out.append((answer.plan, paths[0]))
    return out


def test_a_findings_numbers_give_its_demand_again(plans: list[tuple[travel.TravelPlan, Path]]) -> None:
    seen = 0
    for plan, _ in plans:
        for finding in plan.findings:
            unit = SI_PER_UNIT[finding.unit]
            for name, terms, value in (
                (finding.formula, finding.terms, finding.demand),
                (finding.capacity_formula, finding.capacity_terms, finding.capacity),
            ):
                if name and terms and value is not None and not any(np.isnan(v) for v in terms.values()):
                    result = work_out(name, terms).value
                    assert isinstance(result, float)
                    assert result / unit == pytest.approx(value, rel=1e-9), (finding.rule, name)
                    seen += 1
    assert seen


def test_explain_needs_the_plan_alone(plans: list[tuple[travel.TravelPlan, Path]]) -> None:
    for plan, path in plans:
        for finding in plan.findings:
            shown = explanation(path, finding.flag, as_json=False)
            assert f"Flag {finding.flag} of plan {plan.plan_id}" in shown
            json.loads(explanation(path, finding.flag, as_json=True))
    with pytest.raises(InputError, match="not a flag"):
        explanation(plans[0][1], 9999, as_json=False)
