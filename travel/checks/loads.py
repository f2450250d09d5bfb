"""The worst axle and the worst tyre on a slope, as the rules about ground and structures need them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.rows import Rows
from travel.mechanics.ground_load import standing_load
from travel.mechanics.slope import demand_across, share_along
from travel.units import G_MPS2

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Number = Floats | float
Rank = Callable[[int, Floats], Floats]

FAR_M = 1e6
"""Arm of an axle in the very middle of three: nothing is moved to it."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Worst:
    """The most loaded axle or tyre of each row: mass it bears, which axle, and the arguments of ``standing_load``."""

    load_kg: Floats
    axle: Ints
    terms: Mapping[str, Number]


def arms_m(case: Case) -> Floats:
    """Give by axle how far the machine's moment has to reach to move load to it."""
    off = np.abs(case.body.axle_x_m - case.body.axle_x_m.mean())
    with np.errstate(divide="ignore"):
        return np.asarray(np.minimum((off**2).sum() / off, FAR_M))


def worst_axle(rows: Rows, case: Case, band: float = 0.0) -> Worst:
    """Give the most loaded axle on the slope of the rows, either way up, or that many half-bands steeper."""
    grade = np.abs(rows.grade) + band * rows.grade_band
    return _worst(case, np.asarray(share_along(grade)), 0.0, np.ones(len(case.body.tyres)))


def worst_tyre(rows: Rows, case: Case, braking_mps2: float = 0.0, rank: Rank | None = None, band: float = 0.0) -> Worst:
    """Give the most loaded tyre on the slope, braking downhill.

    Args:
        rows: where
        case: the trip
        braking_mps2: deceleration
        rank: what makes one worse than another, from axle and load; the load itself where nothing is given
        band: how many half-bands the slopes are steeper than surveyed
    """
    grade, cross = np.abs(rows.grade) + band * rows.grade_band, np.abs(rows.cross) + band * rows.cross_band
    along = np.asarray(share_along(grade)) + braking_mps2 / G_MPS2
    return _worst(case, along, np.asarray(demand_across(grade, cross, 0.0)), case.body.tyres, rank)


def _worst(case: Case, along: Floats, across: Number, tyres: Floats, rank: Rank | None = None) -> Worst:
    body, arms = case.body, arms_m(case)
    varying = {"axle_load_kg": body.axle_load_kg, "arm_m": arms, "tyres_count": tyres, "track_m": body.track_m}
    common: dict[str, Number] = {
        "mass_kg": body.mass_kg,
        "cg_height_m": body.cg_m[2],
        "along_ratio": along,
        "across_ratio": across,
    }
    axles = range(len(arms))
    each = [standing_load(**common, **{name: float(values[i]) for name, values in varying.items()}) for i in axles]
    loads = np.stack(np.broadcast_arrays(*each))
    ranks = loads if rank is None else np.stack([rank(i, loads[i]) for i in axles])
    axle = np.argmax(ranks, axis=0)
    load = np.take_along_axis(loads, axle[np.newaxis], axis=0)[0]
    return Worst(load_kg=load, axle=axle, terms={**common, **{name: v[axle] for name, v in varying.items()}})
