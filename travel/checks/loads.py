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
    none = np.zeros(len(case.body.tyres))
    return _worst(case, np.asarray(share_along(grade)), (none + 1.0, [0.0] * len(none)))


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
    aside = _asides(case, along, np.asarray(demand_across(grade, cross, 0.0)))
    return _worst(case, along, (case.body.tyres, aside), rank)


def tyre_lacks(case: Case) -> tuple[str, ...]:
    """Name what of the machine's sheet the load of a tyre needs and does not have."""
    body = case.body
    lacks = {
        "machine.axles.oscillating": not body.swing_known,
        "machine.attitudes.cg_y_m": bool(np.isnan(body.cg_m[1])) and not body.load_lacks,
    }
    return tuple(name for name, lacking in lacks.items() if lacking)


def _asides(case: Case, along: Floats, across: Floats) -> list[Number]:
    """Give by axle how far from its middle what it bears acts, slope across and centre of gravity together [m].

    An axle that swings takes no more than at its pivot, all in its middle; what is left the rigid ones take. A pivot
    whose height the sheet does not tell leaves them all of it.
    """
    body, height, off = case.body, case.body.cg_m[2], abs(float(np.nan_to_num(case.body.cg_m[1])))
    swings = body.oscillating
    if swings.all() or not swings.any():
        return [across * height + off] * len(swings)
    pivots = np.nan_to_num(np.minimum(body.pivot_height_m, body.radius_m), nan=0.0)
    low = min(float(pivots[swings].min()), height)
    moved = body.mass_kg * height * along / arms_m(case)[~swings][0] if (~swings).sum() == 1 else 0.0
    borne = float(body.axle_load_kg[~swings].sum()) + moved  # one rigid axle alone bears what is moved to it too
    left = np.maximum(body.mass_kg - borne, 0.0)
    rigid = (across * (body.mass_kg * height - left * low) + body.mass_kg * off) / borne
    highest = np.nan_to_num(body.pivot_height_m, nan=height)
    return [across * float(highest[k]) if swings[k] else rigid for k in range(len(swings))]


def _worst(case: Case, along: Floats, bears: tuple[Floats, list[Number]], rank: Rank | None = None) -> Worst:
    """Give the most loaded axle or tyre; ``bears``: tyres by axle, and how far aside what it bears acts."""
    (tyres, asides), body, arms = bears, case.body, arms_m(case)
    varying = {"axle_load_kg": body.axle_load_kg, "arm_m": arms, "tyres_count": tyres, "track_m": body.track_m}
    common: dict[str, Number] = {"mass_kg": body.mass_kg, "cg_height_m": body.cg_m[2], "along_ratio": along}
    axles = range(len(arms))
    each = [
        standing_load(**common, aside_m=asides[i], **{name: float(values[i]) for name, values in varying.items()})
        for i in axles
    ]
    *far, _ = np.broadcast_arrays(*asides, each[0])
    loads = np.stack(np.broadcast_arrays(*each))
    ranks = loads if rank is None else np.stack([rank(i, loads[i]) for i in axles])
    axle = np.argmax(ranks, axis=0)
    load, aside = (np.take_along_axis(np.stack(list(of)), axle[np.newaxis], axis=0)[0] for of in (loads, far))
    own = {name: values[axle] for name, values in varying.items()}
    return Worst(load_kg=load, axle=axle, terms={**common, **own, "aside_m": aside})
