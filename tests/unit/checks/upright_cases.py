"""One machine on three points and one road, for the tests of standing upright and carrying."""

from __future__ import annotations

import copy
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
FORWARD, REVERSE = 1, 2  # places of a forward and a reverse gear in the sheet of the builders
ALONG, AGAINST = 0, 1


def sheet(**changes: Any) -> Machine:
    """Give a machine with a swinging rear axle in all attitudes: track 1.95, wheelbase 3.2, cg 1.6 back, 1.2 up."""
    own = {"axles__0__squash_m": 0.03, "axles__1__squash_m": 0.03, "attitudes__0__cg_tolerance_m": 0.02}
    content = machine(**own | {k: v for k, v in changes.items() if v is not None or k not in own})
    for path in (k for k, v in changes.items() if v is None and k in own):
        group, place, key = path.split("__")
        del content[group][int(place)][key]
    for name in ("forks", "hook"):
        content["attitudes"].append(copy.deepcopy(content["attitudes"][0]) | {"name": name})
    return Machine.model_validate(content)


def forks(**changes: Any) -> Load:
    """Give 1.5 t on the forks, 1.8 m ahead of the front axle."""
    base = {"format": 1, "name": "pallet", "mass_kg": 1500.0, "mass_tolerance_kg": 50.0, "size_xyz_m": (1.2, 1.0, 1.0),
            "how": "forks", "x_m": 1.8, "y_m": 0.0, "z_m": 1.0, "sail_m2": 1.3}  # fmt: skip
    return Load.model_validate({key: value for key, value in (base | changes).items() if value is not None})


def hook(**changes: Any) -> Load:
    """Give 1.2 t and 0.1 t of rigging on the hook, 5 m from the slew centre, head 5 m up, 4 m of drop."""
    base = {"format": 1, "name": "beam", "mass_kg": 1200.0, "mass_tolerance_kg": 40.0, "rigging_kg": 100.0,
            "size_xyz_m": (3.0, 0.3, 0.4), "how": "hook", "radius_m": 5.0, "head_height_m": 5.0, "drop_m": 4.0,
            "sail_m2": 1.5}  # fmt: skip
    return Load.model_validate({key: value for key, value in (base | changes).items() if value is not None})


def road_case(
    machine: Machine | None = None,
    load: Load | None = None,
    *,
    weather: Weather | None = None,
    jurisdiction: str = "none",
    xy: Any = ((0, 0), (10, 0)),
    rulebook: Any = RULEBOOK,
    steering: tuple[str, ...] = ("front",),
    **road: Any,
) -> Case:
    """Give the case of one road without heights; columns of the road by keyword."""
    own = {"grade_pct": 0.0, "cross_slope_pct": 0.0, "roughness_m": 0.04, "width_m": 5.0}
    rows = [{"id": "r", "xy": list(xy), "surface": "compacted_gravel"} | own | road]
    return case_on(
        rows, machine, load, weather=weather, jurisdiction=jurisdiction, rulebook=rulebook, steering=steering
    )


def case_on(
    roads: list[dict[str, Any]],
    machine: Machine | None = None,
    load: Load | None = None,
    *,
    weather: Weather | None = None,
    jurisdiction: str = "none",
    rulebook: Any = RULEBOOK,
    steering: tuple[str, ...] = ("front",),
) -> Case:
    """Give the case of a machine (with a load) on some roads."""
    machine = machine or sheet()
    body = make_body(machine, load)
    assert body is not None
    return Case(
        trip="out",
        machine=machine,
        body=body,
        load=load,
        rulebook=rulebook,
        survey=build_survey(make_site(roads, header={"jurisdiction": jurisdiction}), EXACT),
        configurations=make_configurations(machine, steering),
        weather=weather or Weather(ground="dry", temperature_c=15.0, wind_mps=2.0),
    )


def outcome_of(case: Case, rule: str) -> Outcome:
    """Give the rule's answer over the whole grid."""
    (part,) = [part for part in parts() if part.rule == rule]
    return part.check(grid_rows(case, 0, len(case.survey.pieces)), case)


def on_grid(case: Case, values: Any) -> np.ndarray:
    """Give a column spread over pieces × directions × configurations."""
    return np.broadcast_to(np.asarray(values), (len(case.configurations), 2, len(case.survey.pieces))).T


def verdict(case: Case, rule: str, way: int = ALONG, config: int = FORWARD, piece: int = 0) -> Verdict:
    """Give the verdict of one cell."""
    return Verdict(int(on_grid(case, judge(outcome_of(case, rule)))[piece, way, config]))


def value(case: Case, rule: str, name: str, way: int = ALONG, config: int = FORWARD, piece: int = 0) -> float:
    """Give a number of the rule's outcome at one cell."""
    return float(on_grid(case, getattr(outcome_of(case, rule), name))[piece, way, config])


def missing(case: Case, rule: str) -> set[str]:
    """Give what the rule misses anywhere."""
    return {name for name, where in outcome_of(case, rule).missing.items() if np.any(where)}


def cells(case: Case) -> Rows:
    """Give all cells as a list."""
    n, c = len(case.survey.pieces), len(case.configurations)
    piece, way, config = (a.ravel() for a in np.meshgrid(np.arange(n), [1, -1], np.arange(c), indexing="ij"))
    return Rows(case=case, piece=piece, sense=way, config=config)
