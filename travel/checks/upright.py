"""Standing upright: overturning, load on the steered wheels, cross slope, twist.

The slope is one vector and the machine stands on three points where an axle swings. Overturning is judged as the share
of the tipping limit that the slope, the brake and an allowance for tyres and bumps use up about the worst tip line.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.body import TipLine
from travel.checks.case import Case
from travel.checks.leaning import (
    Later,
    Lean,
    Terms,
    Tilt,
    braking,
    cg_band,
    leans,
    machine_lacks,
    sides,
    slope_lacks,
    tilt_of,
)
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.told import YES, told
from travel.mechanics.formula import holds
from travel.mechanics.slope import demand_along
from travel.mechanics.upright import axle_share_on_slope, tip_line_share, twist_of_ground, twist_taken_up
from travel.units import G_MPS2

Floats = NDArray[np.float64]

LEAST_OFFSET_M = 1e-6
"""An axle in the very middle keeps its share; its base is then very long instead of endless."""


@answers("tip")
def overturning(rows: Rows, case: Case) -> Outcome:
    """Share of the tipping limit used about the worst tip line, at rest and with the brake full on."""
    lines, brake, tilt = case.body.tip_lines, braking(case), tilt_of(rows, case)
    stands = not any(line.reach_m <= 0.0 for line in lines)
    ahead, back = leans(rows, brake)
    forward, backward = (_worst_share(rows, case, lean, tilt) for lean in (ahead, back))
    return Outcome(
        demand=np.where(rows.reverse, backward[0], forward[0]) if stands else np.inf,
        capacity=case.scalar("tip.share"),
        tolerance=np.where(rows.reverse, backward[1], forward[1]) if stands else 0.0,
        caution=case.scalar("tip.caution"),
        missing={
            **slope_lacks(rows),
            "roughness_m": np.isnan(rows.si("roughness_m")),
            **machine_lacks(case, with_brake=True),
            **told(rows, case, "grade_pct", "cross_slope_pct", "roughness_m"),
        },
        outside=~holds(demand_along, grade_ratio=rows.grade, cross_slope_ratio=rows.cross, along_mps2=0.0),
        limit=case.resolved("tip.share"),
        terms=Later(lambda: _governing(rows, lines, (ahead, back), tilt)) if lines and stands else {},
    )


def _worst_share(rows: Rows, case: Case, lean: Lean, tilt: Tilt) -> tuple[Any, Any]:
    """Give the largest share over the tip lines and its half-band: slopes and centre of gravity, about that line."""
    lines = case.body.tip_lines
    if not lines:
        return np.nan, np.nan
    share: Any = None
    worst: Any = np.zeros((), dtype=np.intp)
    for number, line in enumerate(lines):
        here = _share(line, lean.about(line), tilt)
        worst = worst if share is None else np.where(here > share, number, worst)
        share = here if share is None else np.fmax(share, here)
    coefficient = np.array([_sizes(line, lean, case) for line in lines]).T
    along, across, cg, pitch, roll, brake = (row[worst] for row in coefficient)
    ground = np.sqrt((along * rows.grade_band) ** 2 + (across * rows.cross_band) ** 2)
    higher = pitch * np.abs(rows.grade) + roll * (np.abs(rows.cross) + np.abs(rows.across_mps2) / G_MPS2) + brake
    return share, ground + np.sqrt((cg * share) ** 2 + higher**2)


def _share(line: TipLine, demand: Mapping[str, Any], tilt: Tilt) -> Any:
    return tip_line_share(**sides(line), **demand, **tilt.about(line, demand))


def _sizes(line: TipLine, lean: Lean, case: Case) -> tuple[float, ...]:
    """Give what a line's share gains by grade and by cross slope, and by the half-band of the centre of gravity: when
    that is nearer to the line, and when it is higher, by grade, by cross slope and by the brake."""
    reach, height, band = line.reach_m, case.body.cg_m[2], cg_band(case)
    pitches = abs(line.lever_along_m) / height
    rolls = np.sqrt(max(1.0 - pitches**2, 0.0))
    return (
        abs(line.lever_along_m) / reach,
        abs(line.lever_across_m) / reach,
        band / reach,
        band / reach * pitches,
        band / reach * rolls,
        band / reach * pitches * lean.brake_about(line),
    )


def _governing(rows: Rows, lines: tuple[TipLine, ...], both: tuple[Lean, Lean], tilt: Tilt) -> Terms:
    """Give the arguments of ``tip_line_share`` for the line that governs each row."""
    shape = np.broadcast_shapes(np.shape(rows.piece), np.shape(rows.sense), np.shape(rows.config))
    stacks: dict[str, list[Floats]] = {}
    for line in lines:
        ahead, back = (lean.about(line) for lean in both)
        demand = {name: np.where(rows.reverse, back[name], ahead[name]) for name in ahead}
        here = {**sides(line), **demand, **tilt.about(line, demand)}
        for name, value in {**here, "share": _share(line, demand, tilt)}.items():
            stacks.setdefault(name, []).append(np.broadcast_to(np.asarray(value, dtype=np.float64), shape))
    share = np.stack(stacks.pop("share"))
    worst = np.argmax(np.where(np.isnan(share), -np.inf, share), axis=0)[None]
    return {name: np.take_along_axis(np.stack(values), worst, axis=0)[0] for name, values in stacks.items()}


@answers("steer-load")
def steered_wheels(rows: Rows, case: Case) -> Outcome:
    """Least share of the weight on a steered axle, on the slope and at rest: light wheels do not steer."""
    body, modes = case.body, case.configurations.steering
    both = leans(rows, 0.0)
    share: Any = np.inf
    for axle in np.flatnonzero(body.steered):
        steers = np.array([int(axle) in _steered(case, mode) for mode in modes])
        if steers.any():
            mine = axle_share_on_slope(**_axle_terms(rows, both, int(axle), case))
            share = np.minimum(share, mine if steers.all() else np.where(rows.by_config(steers), mine, np.inf))
    shortest = float(np.min(np.abs(_share_base_m(case))))
    return Outcome(
        demand=case.scalar("steer-load.share"),
        capacity=share,
        tolerance=(body.cg_m[2] * rows.grade_band + cg_band(case)) / shortest,
        caution=case.scalar("steer-load.caution"),
        missing={
            "grade": slope_lacks(rows)["grade"],
            "cross_slope_pct": np.isnan(rows.cross),
            "machine.axles.steered": np.asarray(not body.steered.any()),
            **dict.fromkeys(body.load_lacks, YES),
        },
        capacity_terms=Later(lambda: _lightest(rows, both, case)),
        limit=case.resolved("steer-load.share"),
    )


def _lightest(rows: Rows, both: tuple[Lean, Lean], case: Case) -> Terms:
    """Give the arguments of ``axle_share_on_slope`` for the lightest steered axle of each row."""
    share: Any = np.inf
    terms: dict[str, Any] = {}
    for axle in np.flatnonzero(case.body.steered):
        here = _axle_terms(rows, both, int(axle), case)
        steers = np.array([int(axle) in _steered(case, mode) for mode in case.configurations.steering])
        mine = np.where(rows.by_config(steers), axle_share_on_slope(**here), np.inf)
        less = mine < share
        terms = {name: np.where(less, value, terms.get(name, np.nan)) for name, value in here.items()}
        share = np.where(less, mine, share)
    return terms


def _steered(case: Case, mode: str) -> tuple[int, ...]:
    """Give the axles that steer in a mode: in front steering the first that does, else all that can."""
    steered = tuple(int(i) for i in np.flatnonzero(case.body.steered))
    return steered[:1] if mode == "front" else steered


def _share_base_m(case: Case) -> Floats:
    """Give by axle how far forward the centre of gravity must move to add a whole share, axles equally stiff [m]."""
    centred = case.body.axle_x_m - case.body.axle_x_m.mean()
    return np.asarray((centred**2).sum() / np.where(np.abs(centred) > LEAST_OFFSET_M, centred, LEAST_OFFSET_M))


def _axle_terms(rows: Rows, both: tuple[Lean, Lean], axle: int, case: Case) -> dict[str, Any]:
    base = float(_share_base_m(case)[axle])
    ahead, back = (lean.along_back if base > 0 else lean.along_ahead for lean in both)
    loads = case.body.axle_load_kg
    return {
        "level_share_ratio": float(loads[axle] / loads.sum()),
        "base_m": base,
        "cg_height_m": case.body.cg_m[2],
        "along_ratio": np.where(rows.reverse, back, ahead),
    }


@answers("side-slope")
def side_slope(rows: Rows, case: Case) -> Outcome:
    """Cross slope against what the maker permits in this attitude."""
    permitted = case.body.cross_limit_ratio
    return Outcome(
        demand=np.abs(rows.cross),
        capacity=permitted,
        tolerance=rows.cross_band,
        caution=case.scalar("side-slope.caution"),
        missing={
            "cross_slope_pct": np.isnan(rows.cross) | np.isnan(rows.cross_band),
            "machine.limits.cross_slope_pct": np.asarray(np.isnan(permitted)),
        },
        limit_source="manual",
    )


@answers("twist")
def twist(rows: Rows, case: Case) -> Outcome:
    """Change of cross slope over the wheelbase, and a wheel on a bump, against the swing (rigid: against the tyres)."""
    body = case.body
    change = rows.cross_change(body.wheelbase_m)
    terms: dict[str, Any] = {
        "change_ratio": change,
        "bump_m": rows.si("roughness_m"),
        "track_m": float(np.min(body.track_m)),
    }
    swings = bool(body.oscillating.any())
    wheels = body.axle_load_kg / body.tyres
    taken = {
        "stop_rad": float(np.min(body.stop_rad[body.oscillating])) if swings else 0.0,
        "squash_m": 0.0 if swings else float(np.min(body.squash_m)),
        "lightest_ratio": float(np.min(wheels) / np.max(wheels)),
        "track_m": float(np.max(body.track_m)),
    }
    return Outcome(
        demand=twist_of_ground(**terms),
        capacity=twist_taken_up(**taken),
        tolerance=rows.change_band,
        caution=case.scalar("twist.caution"),
        missing={
            "cross_slope_pct": np.isnan(change) | np.isnan(rows.change_band),
            "roughness_m": np.isnan(terms["bump_m"]),
            "machine.axles.stop_deg": np.asarray(np.isnan(taken["stop_rad"])),
            "machine.axles.squash_m": np.asarray(np.isnan(taken["squash_m"])),
            "machine.axles.oscillating": np.asarray(not body.swing_known),
            **dict.fromkeys(() if swings else body.load_lacks, YES),
        },
        outside=(len(body.axle_x_m) > 2) | ~holds(twist_of_ground, **terms),
        terms=terms,
        capacity_terms=taken,
        limit_source="manual",
    )
