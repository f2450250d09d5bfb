"""A box on wheels, 3 m high and 2.4 m wide, and one road under a few things, for the tests of headroom and wires."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from tests.builders import machine
from tests.memory_site import EXACT, make_site
from travel.checks import Case, make_body, make_configurations
from travel.checks.fold import grid_rows, pairs_of
from travel.checks.outcome import Outcome, judge
from travel.checks.registry import Part, parts
from travel.checks.rows import Rows
from travel.domain.machine import Load, Machine
from travel.domain.site import Weather
from travel.domain.verdict import Verdict
from travel.rulebook import load_rulebook
from travel.survey import build_survey

RULEBOOK = load_rulebook()
LEVEL = ((0.0, 0.0, 0.0), (60.0, 0.0, 0.0))
ALONGSIDE = ((-60.0, 8.0), (120.0, 8.0))
ACROSS = ((30.0, -40.0), (30.0, 40.0))
SAG_KNOWN = {"sag_m": 1.0, "at_temperature_c": 10.0, "sag_max_m": 1.0, "measured_at_c": 10.0}
LINE = {
    "id": "w",
    "kind": "power_line",
    "voltage_kv": 11.0,
    "owner_clearance_m": 3.0,
    "clearance_m": 7.0,
    "half_spread_m": 0.0,
} | SAG_KNOWN


def box(**changes: Any) -> Machine:
    """Give a box from 1.6 m ahead of the front axle to 4.6 m behind it (wheelbase 3.2), 3 m high, ± 0.05."""
    own = {"attitudes__0__top_xz_m": [[1.6, 3.0], [-4.6, 3.0]], "attitudes__0__width_z_m": [[0.0, 2.4], [3.0, 2.4]]}
    return Machine.model_validate(machine(**own | changes))


def case_under(
    overheads: Sequence[Mapping[str, Any]] = (),
    *,
    xyz: Sequence[Sequence[float]] = LEVEL,
    jurisdiction: str | None = "us",
    sheet: Machine | None = None,
    load: Load | None = None,
    until: dt.datetime | None = None,
    roads: Sequence[Mapping[str, Any]] = (),
    limits: Sequence[Mapping[str, Any]] = (),
    rulebook: Any = RULEBOOK,
    **road: Any,
) -> Case:
    """Give the case of one smooth level road, 6 m wide, without cross slope; columns of the road by keyword."""
    own = {"id": "r", "xyz": list(xyz), "width_m": 6.0, "surface": "compacted_gravel", "cross_slope_pct": 0.0,
           "roughness_m": 0.0}  # fmt: skip
    site = make_site([own | road, *roads], overheads=overheads, limits=limits, header={"jurisdiction": jurisdiction})
    sheet = sheet or box()
    body = make_body(sheet, load)
    assert body is not None
    return Case(
        trip="out",
        machine=sheet,
        body=body,
        load=load,
        rulebook=rulebook,
        survey=build_survey(site, EXACT),
        configurations=make_configurations(sheet),
        weather=Weather(ground="dry", temperature_c=15.0, wind_mps=2.0),
        until=until,
    )


def part_of(name: str) -> Part:
    """Give the registered part whose function has this name."""
    (found,) = [part for part in parts() if part.check.__name__ == name]
    return found


def rows_of(case: Case, part: Part, grid: bool = True) -> Rows:
    """Give all pairs of a part, as a grid or as the list of their cells."""
    pairs = pairs_of(case, part)
    pair, c = np.arange(len(pairs)), len(case.configurations)
    layer = case.survey.site.layers[part.layer]
    if grid:
        plain = grid_rows(case, 0, 0)
        return Rows(case=case, piece=pairs.piece.reshape(1, 1, -1), sense=plain.sense, config=plain.config,
                    pairs=pairs, pair=pair.reshape(1, 1, -1), layer=layer)  # fmt: skip
    k, way, config = (a.ravel() for a in np.meshgrid(pair, [1, -1], np.arange(c), indexing="ij"))
    return Rows(case=case, piece=pairs.piece[k], sense=way, config=config, pairs=pairs, pair=k, layer=layer)


def answer(
    case: Case, name: str, feature: int = 0, road: str | None = None
) -> tuple[Verdict, dict[str, float], set[str]]:
    """Give a part's worst verdict for one feature, demand, capacity and tolerance there, and all that is missing."""
    part = part_of(name)
    rows = rows_of(case, part)
    outcome: Outcome = part.check(rows, case)
    shape = (len(case.configurations), 2, rows.piece.size)
    verdict = np.broadcast_to(judge(outcome), shape)[0, 0]
    mine = rows.feature.ravel() == feature
    if road is not None:
        ids = np.array(case.survey.site.layers["roads"].ids)
        mine &= ids[case.survey.pieces.road[rows.piece.ravel()]] == road
    numbers = {key: _flat(getattr(outcome, key), shape) for key in ("demand", "capacity", "tolerance")}
    margin = np.nan_to_num(numbers["capacity"] - numbers["demand"], nan=-np.inf)
    order = np.lexsort((margin, -verdict.astype(int)))
    worst = next((int(k) for k in order if mine[k]), None)
    if worst is None:
        return Verdict.CLEAR, {}, set()
    applies = _flat(outcome.applies, shape)
    missing = {key for key, where in outcome.missing.items() if (_flat(where, shape) & mine & applies).any()}
    return Verdict(int(verdict[worst])), {key: float(column[worst]) for key, column in numbers.items()}, missing


def _flat(values: Any, shape: tuple[int, ...]) -> np.ndarray:
    return np.broadcast_to(np.asarray(values), shape)[0, 0]
