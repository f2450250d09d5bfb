"""What the ground carries: contact pressure of the worst tyre, passes over soft ground."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.hours import age_of
from travel.checks.lane import wheel_out_m, wheels_out_m
from travel.checks.loads import tyre_lacks, worst_tyre
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows
from travel.checks.wheels import axle_band_ratio, mass_band_ratio, slopes
from travel.domain.site import Layer
from travel.mechanics.formula import holds
from travel.mechanics.ground_load import tyre_pressure_under_load, vehicle_cone_index
from travel.mechanics.trafficability import (
    axle_weight_factor,
    clearance_factor,
    contact_pressure_factor,
    mobility_index,
    rating_cone_index,
    tyre_factor,
    wheel_load_factor,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Number = Floats | float

PAVED = ("concrete", "asphalt", "steel_plate", "timber_mat")
"""Surfaces whose own strength carries the wheel; what lies below is for whoever laid them."""
FINE = ("clay", "firm_earth", "grass")
NOT_FINE = ("sand",)
"""Clean sand has no remoulding index; gravel and rock are judged by the ground below them, where it was measured."""
WET = ("wet", "mud", "thaw")
MOIST = ("damp", *WET)
_KEPT: WeakKeyDictionary[Case, Bools] = WeakKeyDictionary()


@dataclass(frozen=True, eq=False, kw_only=True)
class Ground:
    """Where the numbers of one part come from: the road, or a polygon laid over it."""

    value: Callable[[str], Floats]
    surface: Ints
    here: Bools
    lapsed: Bools


def _of_road(rows: Rows, case: Case) -> Ground:
    return Ground(
        value=lambda field: rows.column(case.survey.number(field)),
        surface=rows.surface.codes,
        here=~rows.at(covered(case)),
        lapsed=np.zeros(rows.piece.shape, dtype=bool),
    )


def _of_polygon(rows: Rows, case: Case) -> Ground:
    """Give a polygon's own numbers where a wheel may come on it; the surface is the road's where it names none."""
    assert rows.layer is not None
    names = {word: number for number, word in enumerate(case.surface.words)}
    own = np.array([names.get(word, -1) for word in rows.layer.text("surface")], dtype=np.int64)[rows.feature]
    return Ground(
        value=rows.of_feature,
        surface=np.where(own >= 0, own, rows.surface.codes),
        here=np.asarray(rows.distance_m <= wheels_out_m(rows, case) + case.survey.tolerance.plan_m),
        lapsed=lapsed(rows.layer, case)[rows.feature],
    )


def lapsed(layer: Layer, case: Case) -> Bools:
    """Tell which polygons were said to hold until a day before the trip, or until one nobody can read."""
    days = layer.text("valid_until")
    ages = [age_of(case, day) for day in days]
    late = [day is not None and (age is None or age.days > 0) for day, age in zip(days, ages, strict=True)]
    return np.array(late, dtype=bool)


def ground_reach(case: Case) -> float:
    """Give how far from the centreline ground can still lie under a wheel, however narrow the road [m]."""
    return wheel_out_m(case) + case.survey.tolerance.plan_m


def covered(case: Case) -> Bools:
    """Give the pieces whose wheel tracks surely lie on one polygon of layer ground, which then stands for them."""
    if case not in _KEPT:
        survey, fabric, base = case.survey, case.survey.fabric, case.body.wheelbase_m
        out = np.zeros(len(survey.pieces), dtype=bool)
        pairs = survey.pairs("ground", 0.0)
        if len(pairs):
            cell, bend = survey.pieces.cell[pairs.piece], survey.pieces.curvature_per_m[pairs.piece] * base
            ends = survey.pieces.cell_from_m[pairs.piece], survey.pieces.cell_to_m[pairs.piece]
            lines = fabric.course.stretches(fabric.cells.chain[cell], *ends)
            half = case.body.over_tyres_m / 2.0 + case.scalar("piece.wander") + survey.tolerance.plan_m
            tracks = shapely.buffer(lines, half + base * np.minimum(bend, 1.0), cap_style="flat")
            inside = shapely.covers(fabric.features["ground"].plan[pairs.feature], tracks)
            out[pairs.piece[inside]] = True
        _KEPT[case] = out
    return _KEPT[case]


def _is(case: Case, codes: Ints, words: tuple[str, ...]) -> Bools:
    known = [case.surface.words.index(word) for word in words if word in case.surface.words]
    return np.isin(codes, known)


@answers("bearing")
def bearing_of_road(rows: Rows, case: Case) -> Outcome:
    """The worst tyre's contact pressure against what the road's ground carries, or against what has passed there.

    The tolerances of mass and slopes are taken against it.
    """
    return _bearing(rows, case, _of_road(rows, case))


@answers("bearing", layer="ground", beside_m=ground_reach)
def bearing_of_polygon(rows: Rows, case: Case) -> Outcome:
    """The same on ground that was looked at by itself."""
    return _bearing(rows, case, _of_polygon(rows, case))


def _bearing(rows: Rows, case: Case, ground: Ground) -> Outcome:
    body, brake = case.body, case.machine.brakes.service_mps2
    static = np.array([axle.load_kg / axle.tyres for axle in case.machine.axles])
    braking = np.nan if brake is None else brake
    wall, heavier = case.scalar("bearing.wall_ratio"), 1.0 + axle_band_ratio(case)

    def pressure(axle: Any, load_kg: Floats) -> Floats:
        return np.asarray(tyre_pressure_under_load(body.pressure_pa[axle], wall, static[axle], load_kg))

    def heavy(axle: Any, load_kg: Floats) -> Floats:
        return pressure(axle, load_kg * heavier[axle])

    wheel, worst = worst_tyre(rows, case, braking, pressure), worst_tyre(rows, case, braking, heavy, band=1.0)
    terms: dict[str, Number] = {
        "inflation_pa": body.pressure_pa[wheel.axle],
        "wall_ratio": wall,
        "static_load_kg": static[wheel.axle],
        "worst_load_kg": wheel.load_kg,
    }
    demand = np.asarray(tyre_pressure_under_load(**terms))
    bearing, field = _strength(case, ground)
    proven = _proven(rows, case, demand, ground)
    capacity = np.fmax(bearing, proven)
    paved = _is(case, ground.surface, PAVED)
    return Outcome(
        demand=demand,
        capacity=capacity,
        tolerance=np.maximum(heavy(worst.axle, worst.load_kg) - demand, 0.0),
        caution=case.scalar("bearing.caution"),
        applies=ground.here & ~paved,
        missing={
            "surface": ground.surface < 0,
            "weather.ground": np.full(demand.shape, case.weather.ground is None),
            field: np.isnan(capacity),
            "valid_until lapsed": ground.lapsed,
            "machine.axles.pressure_kpa": np.full(demand.shape, np.isnan(body.pressure_pa).any()),
            "machine.brakes.service_mps2": np.full(demand.shape, brake is None),
            **slopes(rows),
            **{name: np.ones(demand.shape, dtype=bool) for name in (*body.load_lacks, *tyre_lacks(case))},
        },
        terms=terms,
        limit_source="site",
    )


def _strength(case: Case, ground: Ground) -> tuple[Floats, str]:
    """Give what the ground carries in the weather of the trip, and the column it stands in; frozen counts as now."""
    field = "bearing_wet_kpa" if case.weather.ground in WET else "bearing_kpa"
    now = ground.value("bearing_kpa") * 1000.0
    wet = ground.value("bearing_wet_kpa") * 1000.0
    return (np.where(wet > now, now, wet) if field == "bearing_wet_kpa" else now), field


def _proven(rows: Rows, case: Case, demand_pa: Floats, ground: Ground) -> Floats:
    """Give what an axle load that passed without damage proves, as a pressure; nothing once the ground is wet."""
    if case.weather.ground in WET or case.weather.ground is None or rows.layer is not None:
        return np.full(demand_pa.shape, np.nan)
    heaviest = float(np.max(case.body.axle_load_kg))
    return np.asarray(demand_pa * ground.value("proven_axle_kg") / heaviest)


@answers("passes", by_trip=True)
def passes_on_road(rows: Rows, case: Case) -> Outcome:
    """Strength that this machine needs of soft ground, by passes, against what the ground keeps under traffic."""
    return _passes(rows, case, _of_road(rows, case), rows.column(case.survey.number("passes_done")))


@answers("passes", layer="ground", beside_m=ground_reach, by_trip=True)
def passes_on_polygon(rows: Rows, case: Case) -> Outcome:
    """The same on ground that was looked at by itself; the passes are the road's."""
    return _passes(rows, case, _of_polygon(rows, case), rows.column(case.survey.number("passes_done")))


def _passes(rows: Rows, case: Case, ground: Ground, done: Floats) -> Outcome:
    index, remoulding = ground.value("cone_index_kpa") * 1000.0, ground.value("remoulding_index")
    soft = _is(case, ground.surface, FINE) & (case.weather.ground in MOIST or case.weather.ground is None)
    mobility, heavier = mobility_of(case), mobility_of(case, 1.0 + mass_band_ratio(case))
    terms: dict[str, Number] = {"mobility_ratio": mobility, "passes_count": done + float(case.own_passes)}
    strength: dict[str, Number] = {"cone_index_pa": index, "remoulding_ratio": remoulding}
    here = np.ones(index.shape, dtype=bool)
    demand = vehicle_cone_index(**terms)
    return Outcome(
        demand=demand,
        capacity=rating_cone_index(**strength),
        tolerance=np.maximum(vehicle_cone_index(**{**terms, "mobility_ratio": heavier}) - demand, 0.0),
        caution=case.scalar("passes.caution"),
        applies=ground.here & ~_is(case, ground.surface, PAVED) & (soft | ~np.isnan(index)),
        missing={
            "cone_index_kpa": np.isnan(index),
            "remoulding_index": np.isnan(remoulding),
            "passes_done": np.isnan(done),
            "valid_until lapsed": ground.lapsed,
            "machine.height": np.isnan(mobility) & here,
            **dict.fromkeys(case.body.load_lacks, here),
        },
        outside=_is(case, ground.surface, NOT_FINE) | ~_all_drive(rows, case) | ~holds(vehicle_cone_index, **terms),
        terms=terms,
        capacity_terms=strength,
        limit_source="site",
    )


def _all_drive(rows: Rows, case: Case) -> Bools:
    """Tell where every wheel drives, as the mobility index has it: not with an axle switched off."""
    if not case.body.driven.all():
        return np.zeros((), dtype=bool)
    four = np.array([drive == "four" for drive in case.configurations.drive])
    return np.ones((), dtype=bool) if four.all() else rows.by_config(four)


def mobility_of(case: Case, mass_ratio: float = 1.0) -> float:
    """Give the machine's mobility index at so much of its mass; engine and transmission count as the weaker kind."""
    body = case.body
    axle, tyres = mass_ratio * body.mass_kg / len(body.axle_x_m), float(body.tyres.sum()) / len(body.axle_x_m)
    narrow, small = float(body.section_m.min()), 2.0 * float(body.radius_m.min())
    return float(
        mobility_index(
            contact_pressure_factor(axle, tyres, narrow, small),
            axle_weight_factor(axle),
            tyre_factor(narrow),
            case.scalar("passes.grouser_factor"),
            wheel_load_factor(axle),
            clearance_factor(max(float(body.under_xz_m[:, 1].min()), 0.0)),
            case.scalar("passes.engine_factor"),
            case.scalar("passes.transmission_factor"),
        )
    )
