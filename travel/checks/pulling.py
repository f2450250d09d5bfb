"""Pull: climbing at a speed, and starting again from rest.

``pull`` is a limit at the lowest speed of the gear's curve, and holds the speed to what the curve still gives.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.wheels import (
    Group,
    driven,
    governed,
    grade,
    grip,
    lacks,
    mass_band_ratio,
    slopes,
    steady_share,
    weight_n,
)
from travel.domain.machine import Gear
from travel.mechanics.formula import holds
from travel.mechanics.resistance import total_resistance
from travel.mechanics.slope import share_across, share_normal
from travel.mechanics.traction import altitude_pull_ratio, start_force, start_pull
from travel.survey import Survey
from travel.units import N_PER_KN, kmh_to_mps

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Terms = dict[str, Any]

CURVE = "machine.gears.pull_kn"
LEVEL_N = 1e-6
"""A curve that falls less than this between two points is level there."""
AT_REST = "machine.gears.pull_kn at 0 km/h"
_ALTITUDE: WeakKeyDictionary[Survey, Floats] = WeakKeyDictionary()


@dataclass(frozen=True, eq=False, kw_only=True)
class Curves:
    """Pull curves, one row a configuration, the last point repeated; NaN where the sheet has none.

    From the lowest speed on, and never rising, so that what the curve gives at a speed it gives at every lower one.
    """

    speed_mps: Floats
    pull_n: Floats
    at_rest_n: Floats

    @property
    def lowest_n(self) -> Floats:
        """Pull at the lowest speed, by configuration."""
        return np.asarray(self.pull_n[:, 0])

    def highest_speed(self, rows: Rows, force_n: Floats) -> Floats:
        """Give the highest speed at which the curve still gives a force; NaN where it never does."""
        pull, fall = rows.by_config(self.pull_n), -np.diff(self.pull_n, axis=1)
        per_n = rows.by_config(1.0 / np.maximum(fall, LEVEL_N))
        step = rows.by_config(np.diff(self.speed_mps, axis=1))
        lowest = np.where(np.isnan(pull[..., 0]), np.nan, rows.by_config(self.speed_mps[:, 0]))
        reached = np.where(force_n <= pull[..., 0], lowest, np.nan)
        for k in range(step.shape[-1]):
            part = pull[..., k] - force_n
            part *= per_n[..., k]
            np.clip(part, 0.0, 1.0, out=part)
            part *= step[..., k]
            reached += part
        return reached


def curves(case: Case) -> Curves:
    """Give the pull curves of the machine's gears by configuration."""
    if case not in _CURVES:
        _CURVES[case] = _curves(case)
    return _CURVES[case]


def _curves(case: Case) -> Curves:
    least = case.scalar("stopping.least_speed")
    rows = [_curve(case.machine.gears[index], least) for index in case.configurations.gear_index]
    longest = max((len(speed) for speed, _ in rows), default=1)
    return Curves(
        speed_mps=np.array([_padded(speed, longest) for speed, _ in rows]),
        pull_n=np.array([_padded(pull, longest) for _, pull in rows]),
        at_rest_n=np.array([_at_rest(case.machine.gears[index]) for index in case.configurations.gear_index]),
    )


def _curve(gear: Gear, least_mps: float) -> tuple[Floats, Floats]:
    if not gear.pull_kn:
        return np.array([np.nan]), np.array([np.nan])
    points = np.array(sorted(gear.pull_kn))
    speed, pull = kmh_to_mps(points[:, 0]), points[:, 1] * N_PER_KN
    lowest = max(float(speed[0]), least_mps)
    above = speed > lowest
    ahead = np.concatenate(([np.interp(lowest, speed, pull)], pull[above]))
    return np.concatenate(([lowest], speed[above])), np.minimum.accumulate(ahead)


def _at_rest(gear: Gear) -> float:
    points = sorted(gear.pull_kn)
    return points[0][1] * N_PER_KN if points and points[0][0] == 0.0 else np.nan


def _padded(values: Floats, length: int) -> Floats:
    return np.concatenate((values, np.repeat(values[-1:], length - len(values))))


_CURVES: WeakKeyDictionary[Case, Curves] = WeakKeyDictionary()


@answers("pull")
def pull(rows: Rows, case: Case) -> Outcome:
    """Rolling and grade resistance uphill against the gear's pull at its lowest speed; holds the speed to the curve."""
    rolling, uphill = rows.limit("pull.rolling"), rows.uphill
    terms: Terms = {"weight_n": weight_n(case), "rolling_ratio": rolling.values, "grade_ratio": uphill}
    needed = total_resistance(**terms)
    steepest = total_resistance(terms["weight_n"], rolling.values, uphill + rows.grade_band)
    tolerance = np.maximum(steepest - needed, 0.0) + mass_band_ratio(case) * np.abs(steepest)
    table, (ratio, too_high) = curves(case), altitude_ratio(rows, case)
    lowest = rows.by_config(table.lowest_n)
    return Outcome(
        demand=needed,
        capacity=lowest * ratio,
        tolerance=tolerance,
        caution=case.scalar("pull.caution_share") * np.abs(needed),
        missing=lacks(rows, case, "pull.rolling", rolling.values) | grade(rows) | {CURVE: np.isnan(lowest)},
        outside=too_high | ~holds(total_resistance, **terms),
        cap_mps=table.highest_speed(rows, (needed + tolerance) / ratio),
        terms=terms,
        limit_source="manual",
    )


@answers("restart")
def restart(rows: Rows, case: Case) -> Outcome:
    """Starting from rest uphill: pull at zero speed and grip of the driven wheels, whichever is less."""
    mu, (of, unknown) = grip(rows, case), driven(rows, case)
    (ratio, too_high), at_rest = altitude_ratio(rows, case), rows.by_config(curves(case).at_rest_n)
    terms = _start_terms(rows, case)
    needed = start_force(**terms)
    most = start_force(**{**terms, "grade_ratio": rows.uphill + rows.grade_band})
    given = _Given(of, at_rest * ratio, mu.values, weight_n(case))
    capacity_terms = given.at(rows.uphill, rows.cross, 0.0)
    capacity = start_pull(**capacity_terms)
    least = start_pull(**given.at(rows.uphill + rows.grade_band, np.abs(rows.cross) + rows.cross_band, 1.0))
    return Outcome(
        demand=needed,
        capacity=capacity,
        tolerance=np.maximum(most - needed, 0.0)
        + mass_band_ratio(case) * np.abs(most)
        + np.maximum(capacity - least, 0.0),
        caution=case.scalar("restart.caution_share") * np.abs(needed),
        missing=lacks(rows, case, "pull.rolling", terms["rolling_ratio"])
        | lacks(rows, case, "grip.coefficient", mu.values)
        | slopes(rows)
        | {AT_REST: np.isnan(at_rest)}
        | unknown,
        outside=too_high | ~holds(start_force, **terms),
        terms=terms,
        capacity_terms=capacity_terms,
        limit=governed(rows, capacity, capacity < at_rest * ratio, mu),
        limit_source="manual",
    )


def _start_terms(rows: Rows, case: Case) -> Terms:
    return {
        "weight_n": weight_n(case),
        "rolling_ratio": rows.limit("pull.rolling").values,
        "rest_ratio": case.scalar("restart.rest_ratio"),
        "grade_ratio": rows.uphill,
        "along_mps2": case.scalar("restart.acceleration"),
    }


@dataclass(frozen=True, eq=False)
class _Given:
    """What the driven wheels can give from rest."""

    of: Group
    pull_n: Floats
    mu: Floats
    weight_n: float

    def at(self, along: Floats, across: Floats, band: float) -> Terms:
        """Give the terms of the capacity on a slope, the wheels' share less ``band`` times its own tolerance."""
        share = steady_share(self.of, along, across, band)
        return {
            "pull_n": self.pull_n,
            "grip_ratio": self.mu,
            "driven_load_n": self.weight_n * share * share_normal(along, across),
            "weight_n": self.weight_n,
            "across_ratio": share_across(along, across),
        }


def altitude_ratio(rows: Rows, case: Case) -> tuple[Floats | float, Bools | bool]:
    """Give the share of the pull left at the site's altitude, and where no rule holds so high.

    Only where the survey's heights are said to be above sea level; otherwise nothing is taken off.
    """
    datum = case.survey.site.header.height_datum.casefold()
    if not any(word in datum for word in case.rulebook.vocabulary.words("sea_level_datum")):
        return 1.0, False
    if case.survey not in _ALTITUDE:
        _ALTITUDE[case.survey] = _altitudes(case.survey)
    altitude = rows.at(_ALTITUDE[case.survey])
    known = ~np.isnan(altitude)
    terms: Terms = {
        "altitude_m": np.where(known, altitude, 0.0),
        "free_m": case.scalar("pull.altitude_free"),
        "loss_ratio": case.scalar("pull.altitude_loss"),
        "step_m": case.scalar("pull.altitude_step"),
    }
    return altitude_pull_ratio(**terms), known & ~holds(altitude_pull_ratio, **terms)


def _altitudes(survey: Survey) -> Floats:
    """Give the height of the middle of each piece; where the survey has none the site's highest, NaN without any."""
    fabric, pieces = survey.fabric, survey.pieces
    position = fabric.chains.position(fabric.links, pieces.link, (pieces.from_m + pieces.to_m) / 2.0)
    height = np.asarray(fabric.heights.at(fabric.link_row[pieces.link], position))
    highest = np.max(height, initial=-np.inf, where=~np.isnan(height))
    return np.where(np.isnan(height) & np.isfinite(highest), highest, height)
