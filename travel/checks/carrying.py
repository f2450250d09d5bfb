"""With a load on: which end looks uphill, what the table allows while moving, wind on the load, pace."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.told import NO, YES, told
from travel.domain.machine import CarryingRow, Load
from travel.mechanics.formula import holds
from travel.mechanics.hook import pendulum_offset, radius_with_swing
from travel.mechanics.slope import tilt
from travel.mechanics.upright import wind_limit_of_load
from travel.units import pct_to_ratio, ratio_to_pct

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

FORE = "fore"
"""How the turret stands for a load over the front."""


@answers("attitude")
def locked_for_travel(rows: Rows, case: Case) -> Outcome:
    """Turret locked fore or aft, as the sheet names them for travel; what else the attitude asks is on the card."""
    standing = bool(case.machine.turret.travel)
    return Outcome(
        permitted=np.ones(np.shape(rows.piece), dtype=bool),
        missing={"machine.turret.travel": np.asarray(not standing)},
        limit_source="manual",
    )


@answers("heavy-end-uphill")
def load_uphill(rows: Rows, case: Case) -> Outcome:
    """With a load on and above the rule's grade the end that carries it looks uphill; not for a stowed machine.

    Above the grade of law and standard the other way round is barred; above the grade of practice it takes a control.
    The survey's tolerance counts against the answer.
    """
    place = case.body.load_m
    if place is None:
        return Outcome(permitted=np.ones(np.shape(rows.piece), dtype=bool), applies=NO)
    middle = float(case.body.axle_x_m.mean())
    towards_load = np.where(rows.reverse, rows.uphill, rows.downhill)
    towards_other = np.where(rows.reverse, rows.downhill, rows.uphill)
    fall = (towards_load if place[0] > middle else towards_other) + rows.grade_band
    barred = case.scalar("heavy-end-uphill.grade")
    practice = np.fmax(case.scalar("heavy-end-uphill.any_slope"), case.scalar("heavy-end-uphill.level"))
    known = not np.isnan(case.scalar("heavy-end-uphill.any_slope"))
    return Outcome(
        demand=fall,
        capacity=barred,
        permitted=fall <= barred,
        controlled=(fall > practice) & known,
        missing={
            "grade": np.isnan(fall),
            **dict.fromkeys(_places(case), YES),
        },
        limit=case.resolved("heavy-end-uphill.grade"),
    )


def _places(case: Case) -> tuple[str, ...]:
    """Name what is missing to say where the load is along the machine."""
    wanted = ("load.x_m", "load.radius_m", "machine.turret.slew_centre_x_m")
    return tuple(name for name in case.body.load_lacks if name in wanted)


@answers("carry-capacity")
def carried_while_moving(rows: Rows, case: Case) -> Outcome:
    """Load and rigging against the table for moving on tyres, on this slope, at the next longer row.

    Slope and radius are looked up with the survey's tolerance against the answer; a case beyond every row is not
    allowed (capacity 0), a machine without such a table is unknown.
    """
    load = case.load
    if load is None:
        return Outcome(demand=0.0, capacity=0.0, applies=NO)
    table = _table(case, load)
    along, across = np.abs(rows.grade), np.abs(rows.cross)
    surely = np.asarray(
        tilt(np.maximum(along - rows.grade_band, 0.0), np.maximum(across - rows.cross_band, 0.0)), dtype=np.float64
    )
    steepest = np.asarray(tilt(along + rows.grade_band, across + rows.cross_band), dtype=np.float64)
    demand, band = load.mass_kg + (load.rigging_kg or 0.0), _load_band(case, load)
    standing = case.machine.turret.travel
    usable = table if FORE in standing else []
    allowed, radius = _allowed(usable, load, case, steepest)
    at_best, _ = _allowed(usable, load, case, surely)
    near = (demand + band > allowed) & (demand - band <= at_best) & (allowed < at_best)
    return Outcome(
        demand=demand,
        capacity=allowed,
        tolerance=band,
        caution=case.scalar("carry-capacity.caution"),
        missing={
            "grade": np.isnan(along) | np.isnan(rows.grade_band),
            "cross_slope_pct": np.isnan(across) | np.isnan(rows.cross_band),
            **dict.fromkeys(case.body.load_lacks, YES),
            "load.drop_m": np.asarray(load.how == "hook" and load.drop_m is None),
            "machine.carrying": np.asarray(not table),
            "machine.turret.travel": np.asarray(not standing),
            "a slope surely within the table": near,
            **told(rows, case, "grade_pct", "cross_slope_pct"),
        },
        capacity_terms={"slope_pct": ratio_to_pct(steepest), "distance_m": radius},
        limit_source="manual",
    )


def _table(case: Case, load: Load) -> list[CarryingRow]:
    """Give the rows of the sheet that speak of moving on tyres with the load over the front."""
    over_front = case.rulebook.vocabulary.words("carry_sector")
    return [
        row
        for row in case.machine.carrying
        if row.support == "tyres_moving"
        and row.how == load.how
        and row.sector.strip().lower() in over_front
        and _distance(row) is not None
    ]


def _distance(row: CarryingRow) -> float | None:
    return row.radius_m if row.how == "hook" else row.x_m


def _load_band(case: Case, load: Load) -> float:
    stated = load.mass_tolerance_kg
    return case.scalar("carry-capacity.load_share") * load.mass_kg if stated is None else stated


def _allowed(table: list[CarryingRow], load: Load, case: Case, slope: Floats) -> tuple[Floats, Floats]:
    """Give what the table allows on a slope, 0 beyond it, and the distance it was looked up at.

    A row holds up to its slope and up to its distance; the best of those that hold is the next longer one.
    """
    at = _looked_up(load, case, slope)
    best: Any = np.zeros(np.shape(at))
    for row in table:
        within = (slope <= pct_to_ratio(row.slope_max_pct)) & (at <= np.float64(_distance(row)))
        best = np.maximum(best, np.where(within, row.capacity_kg, 0.0))
    return np.where(np.isnan(at), np.nan, best), at


def _looked_up(load: Load, case: Case, slope: Floats) -> Floats:
    """Give the distance to look up: on forks that of the load; on the hook the radius leaned and swung out."""
    if load.how != "hook":
        return np.where(np.isnan(slope), np.nan, np.nan if load.x_m is None else load.x_m)
    radius, head, drop = (np.float64(np.nan if v is None else v) for v in _hook(load))
    swing = pendulum_offset(drop, case.scalar("carry-capacity.acceleration"))
    return np.asarray(radius_with_swing(radius, head, slope, swing))


def _hook(load: Load) -> tuple[float | None, float | None, float | None]:
    return load.radius_m, load.head_height_m, load.drop_m


@answers("wind")
def wind(rows: Rows, case: Case) -> Outcome:
    """Wind against the limit of this attitude, with a load cut by its sail. Silent where no book sets a limit."""
    limit, load = case.scalar("wind.limit"), case.load
    given = case.weather.wind_mps
    terms: dict[str, float] = {}
    capacity: float = limit
    if load is not None:
        terms = {
            "wind_limit_mps": limit,
            "load_kg": load.mass_kg,
            "shape_ratio": case.scalar("wind.shape"),
            "area_m2": np.nan if load.sail_m2 is None else load.sail_m2,
        }
        capacity = float(wind_limit_of_load(**terms)) if load.sail_m2 != 0 else limit
    return Outcome(
        demand=np.nan if given is None else given,
        capacity=capacity,
        caution=case.scalar("wind.caution"),
        applies=np.asarray(load is not None or not np.isnan(limit)),
        missing={
            "weather.wind_mps": np.asarray(given is None),
            "load.sail_m2": np.asarray(load is not None and load.sail_m2 is None),
        },
        outside=~holds(wind_limit_of_load, **terms) if load is not None and load.sail_m2 else NO,
        capacity_terms=terms if load is not None and load.sail_m2 else {},
        limit=case.resolved("wind.limit"),
    )


@answers("hook-pace")
def hook_pace(rows: Rows, case: Case) -> Outcome:
    """With a load on the hook no faster than the pace for suspended loads."""
    pace = case.scalar("hook-pace.limit")
    return Outcome(
        demand=case.scalar("stopping.least_speed"),
        capacity=pace,
        applies=np.asarray(case.body.attitude == "hook"),
        missing={"hook-pace.limit": np.asarray(np.isnan(pace))},
        cap_mps=pace,
        limit=case.resolved("hook-pace.limit"),
    )
