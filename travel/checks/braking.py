"""Speeds that can be stopped, and speeds that can be held downhill.

Both rules give a cap, never a verdict at a guessed speed: the fold keeps the least cap of all rules with the rule that
set it, and that is the speed shown on the leg and driven by the clock. The verdict only asks whether the cap is a
speed at all: below the least steady speed the cell is blocked. Caps are taken with every tolerance on the bad side, so
the judge takes none again.
"""

from __future__ import annotations

from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.pulling import CURVE, curves
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.told import NOT_MEASURED
from travel.checks.wheels import (
    governed,
    grip,
    group,
    lacks,
    mass_band_ratio,
    share_at_limit,
    sheet,
    slopes,
    stated_mass_ratio,
    weight_n,
)
from travel.mechanics.braking import deceleration_on_grade
from travel.mechanics.formula import holds
from travel.mechanics.retarding import brake_energy
from travel.mechanics.slope import share_along
from travel.mechanics.traction import speed_retarded, speed_stopped_in_sight
from travel.survey import Survey
from travel.units import G_MPS2, W_PER_KW

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Terms = dict[str, Any]

HOLDING_BACK = -1.0
_SIGHT: WeakKeyDictionary[Survey, tuple[Floats, Bools]] = WeakKeyDictionary()


@answers("stopping")
def stopping(rows: Rows, case: Case) -> Outcome:
    """The speed from which the machine stands in what the driver sees; grade, cross slope and mass at their worst."""
    mu, brakes, of = grip(rows, case), case.machine.brakes, group(rows, case, case.body.braked)
    grade = -rows.downhill - rows.grade_band
    cross = np.abs(rows.cross) + rows.cross_band
    stated = np.nan if brakes.service_mps2 is None else brakes.service_mps2
    braking: Terms = {
        "brake_mps2": stated * stated_mass_ratio(case) / (1.0 + mass_band_ratio(case)),
        "grip_ratio": mu.values,
        "braked_share_ratio": share_at_limit(of, mu.values, grade, cross, HOLDING_BACK, 1.0),
        "grade_ratio": grade,
        "cross_slope_ratio": cross,
    }
    decel = deceleration_on_grade(**braking)
    sight, assumed = sight_counted(rows, case)
    terms: Terms = {
        "sight_m": sight,
        "delay_s": delay_s(case),
        "coast_mps2": G_MPS2 * np.maximum(-share_along(grade), 0.0),
        "decel_mps2": decel,
        "held_mps": np.nan_to_num(speed_retarded(**_downhill(rows, case)), nan=0.0, posinf=np.inf),
    }
    cap = speed_stopped_in_sight(**terms)
    return Outcome(
        demand=case.scalar("stopping.least_speed"),
        capacity=cap,
        missing=lacks(rows, case, "grip.coefficient", mu.values)
        | slopes(rows)
        | sheet(rows, case, "service_mps2", brakes.service_mps2),
        outside=~holds(deceleration_on_grade, **braking),
        cap_mps=np.where(cap > 0.0, cap, np.nan),
        capacity_terms=terms,
        limit=governed(rows, cap, assumed, rows.limit("stopping.sight_assumed")),
        limit_source="manual",
    )


def delay_s(case: Case) -> float:
    """Give the driver's reaction time and the brake's lag: the sheet's, or the one of its class of mass."""
    stated = case.machine.brakes.lag_s
    lag = case.scalar("stopping.lag", mass_kg=case.body.mass_kg) if stated is None else stated
    return case.scalar("stopping.reaction") + lag


def sight_counted(rows: Rows, case: Case) -> tuple[Floats, Bools]:
    """Give the sight counted and where the rulebook's least assumed one stands in for it."""
    if case.survey not in _SIGHT:
        survey = case.survey
        not_measured = np.isin(survey.method("sight_m").astype(object), list(NOT_MEASURED))
        _SIGHT[survey] = np.asarray(survey.si("sight_m")), np.asarray(not_measured, dtype=bool)
    sight, told = _SIGHT[case.survey]
    seen, said = rows.at(sight), rows.at(told)
    least = case.scalar("stopping.sight_assumed")
    assumed = np.isnan(seen) | (said & (seen > least))
    return np.where(assumed, least, seen), assumed


@answers("retard")
def retard(rows: Rows, case: Case) -> Outcome:
    """On descents: the speed at which the retarder's power holds the weight, in a gear that takes the force.

    Silent where the descent, tolerance included, is no steeper than the rulebook's grade. A gear is taken to hold back
    no more than it pulls at its lowest speed, which asks for the low range where it is steep.
    """
    steep = rows.downhill + rows.grade_band
    terms = _downhill(rows, case)
    cap = speed_retarded(**terms)
    return Outcome(
        demand=case.scalar("stopping.least_speed"),
        capacity=cap,
        applies=~(steep <= case.scalar("retard.from_grade")),
        missing={
            "grade": np.isnan(steep),
            "machine.retarding.power_kw": np.full(steep.shape, bool(np.isnan(terms["retarder_w"]))),
            CURVE: np.isnan(terms["gear_pull_n"]),
            "rulebook.retard.rolling": np.isnan(terms["rolling_ratio"]),
        },
        outside=~holds(speed_retarded, **terms),
        cap_mps=np.where(cap > 0.0, cap, np.nan),
        capacity_terms=terms,
        limit_source="manual",
    )


def descent_energy(case: Case, piece: Ints, sense: Ints, config: Ints) -> Floats:
    """Give what brakes and drive line take up at most on every cell of a descent that the rule on holding speed
    downhill looks at [J]: 0 on others, NaN where it is not known."""
    rows = Rows(case=case, piece=piece, sense=sense, config=config)
    steep, terms = rows.downhill + rows.grade_band, _downhill(rows, case)
    energy = brake_energy(
        terms["weight_n"], terms["rolling_ratio"], terms["grade_ratio"], case.survey.pieces.length_m[piece]
    )
    return np.where(steep <= case.scalar("retard.from_grade"), 0.0, energy)


def _downhill(rows: Rows, case: Case) -> Terms:
    """Give what holds the machine back downhill, with grade and mass on the bad side; NaN where the sheet lacks it."""
    retarding = case.machine.retarding
    power_kw = np.nan if retarding is None or retarding.power_kw is None else retarding.power_kw
    return {
        "retarder_w": power_kw * W_PER_KW,
        "gear_pull_n": rows.by_config(curves(case).lowest_n),
        "weight_n": weight_n(case) * (1.0 + mass_band_ratio(case)),
        "rolling_ratio": rows.limit("retard.rolling").values,
        "grade_ratio": -(rows.downhill + rows.grade_band),
    }
