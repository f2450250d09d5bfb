"""One machine and one road for the tests of pull, grip, holding, stopping and retarding."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from tests.builders import machine
from tests.memory_site import EXACT, make_site
from travel.checks import Case, make_body, make_configurations
from travel.checks.fold import grid_rows
from travel.checks.outcome import Outcome, judge
from travel.checks.registry import parts
from travel.checks.rows import Rows
from travel.domain.machine import Load, Machine
from travel.domain.site import Weather
from travel.domain.verdict import Verdict
from travel.rulebook import load_rulebook
from travel.survey import build_survey

RULEBOOK = load_rulebook()
MINE = ("pull", "restart", "grip", "slide", "hold", "stopping", "retard")
LOW, HIGH, REVERSE = 0, 1, 2
ALONG, AGAINST = 0, 1
WEIGHT_N = 14000.0 * 9.80665
GEARS = {
    "gears__0__pull_kn": [[0.0, 90.0], [8.0, 40.0]],
    "gears__1__pull_kn": [[0.0, 40.0], [10.0, 20.0], [25.0, 8.0]],
    "gears__2__pull_kn": [[0.0, 80.0], [8.0, 35.0]],
    "retarding": {"kind": "hydrostatic", "power_kw": 60.0},
}


def sheet(**changes: Any) -> Machine:
    """Give 14 t on two driven, braked axles 3.2 m apart, half the load on each, cg 1.2 m up; parking brake in front.

    Changes by key path, None leaves a value out.
    """
    given = GEARS | changes
    content = machine(**{path: value for path, value in given.items() if value is not None or path not in GEARS})
    if given["gears__0__pull_kn"] is None:
        del content["gears"][0]["pull_kn"]
    return Machine.model_validate(content)


def road_case(
    of: Machine | None = None,
    *,
    load: Load | None = None,
    ground: str | None = "dry",
    header: dict[str, Any] | None = None,
    rulebook: Any = RULEBOOK,
    tolerance: Any = EXACT,
    roads: list[dict[str, Any]] | None = None,
    laid: Sequence[dict[str, Any]] = (),
    **road: Any,
) -> Case:
    """Give the case of one road of 10 m on compacted gravel; columns by keyword, None leaves one out; ``laid`` on it
    polygons of ground."""
    own = {"grade_pct": 0.0, "cross_slope_pct": 0.0, "width_m": 5.0, "surface": "compacted_gravel", "sight_m": 20.0}
    row = {"id": "r"} | ({} if "xyz" in road else {"xy": [(0, 0), (10, 0)]}) | own | road
    of = of or sheet()
    body = make_body(of, load)
    assert body is not None
    return Case(
        trip="out",
        machine=of,
        body=body,
        load=load,
        rulebook=rulebook,
        survey=build_survey(make_site(roads or [row], header=header, ground=laid), tolerance),
        configurations=make_configurations(of),
        weather=Weather(ground=ground, temperature_c=10.0, wind_mps=2.0),
    )


def outcome_of(case: Case, rule: str) -> Outcome:
    """Give the rule's answer over the whole grid."""
    (part,) = [part for part in parts() if part.rule == rule and not part.layer]
    return part.check(grid_rows(case, 0, len(case.survey.pieces)), case)


def on_list(case: Case, rule: str) -> tuple[Rows, Outcome]:
    """Give all cells as a list and the rule's answer over it."""
    n, c = len(case.survey.pieces), len(case.configurations)
    piece, sense, config = (a.ravel() for a in np.meshgrid(np.arange(n), [1, -1], np.arange(c), indexing="ij"))
    rows = Rows(case=case, piece=piece, sense=sense, config=config)
    (part,) = [part for part in parts() if part.rule == rule and not part.layer]
    return rows, part.check(rows, case)


def on_grid(case: Case, values: Any) -> np.ndarray:
    """Give a column spread over pieces × directions × configurations."""
    return np.broadcast_to(np.asarray(values), (len(case.configurations), 2, len(case.survey.pieces))).T


def verdict(case: Case, rule: str, way: int = ALONG, config: int = LOW, piece: int = 0) -> Verdict:
    """Give the verdict of one cell."""
    return Verdict(int(on_grid(case, judge(outcome_of(case, rule)))[piece, way, config]))


def value(case: Case, rule: str, name: str, way: int = ALONG, config: int = LOW, piece: int = 0) -> float:
    """Give a number of the rule's outcome at one cell."""
    return float(on_grid(case, getattr(outcome_of(case, rule), name))[piece, way, config])


def missing(case: Case, rule: str) -> set[str]:
    """Give what the rule misses anywhere."""
    return {name for name, where in outcome_of(case, rule).missing.items() if np.any(where)}
