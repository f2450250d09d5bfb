"""The machine's weight and its groups of wheels (driven, braked, parking-braked) as the rules of motion need them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.mud import mud_carried
from travel.checks.outcome import Outcome
from travel.checks.rows import Rows
from travel.mechanics.slope import demand_along
from travel.mechanics.traction import group_share, group_share_at_limit, tangent_left
from travel.rulebook import LimitColumn
from travel.units import kg_to_n

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Number = Floats | float

MUD = "mud"
_GRIP: WeakKeyDictionary[Case, LimitColumn] = WeakKeyDictionary()


@dataclass(frozen=True, eq=False, kw_only=True)
class Group:
    """A group of axles: share of the load on level ground and what leaves it uphill, in the sense of travel.

    ``band_ratio`` is how far the share may be off by the tolerance of the centre of gravity, per unit of (1 + tangent).
    Single numbers where they are the same for every configuration, else one a row.
    """

    level_share: Number
    transfer: Number
    band_ratio: Number


def weight_n(case: Case) -> float:
    """Give the weight with its load [N]."""
    return kg_to_n(case.body.mass_kg)


def mass_band_ratio(case: Case) -> float:
    """Give the half-band of the mass over the mass; a sheet without one takes the class value."""
    stated = case.body.mass_tolerance_kg
    return case.scalar("tolerance.mass_share") if np.isnan(stated) else stated / case.body.mass_kg


def axle_band_ratio(case: Case) -> Floats:
    """Give the half-band of each axle's load over it: the machine's own mass by its split, the load's by where it acts.

    A mass without a tolerance takes the class value.
    """
    body, klass = case.body, case.scalar("tolerance.mass_share")
    own, share = body.mass_kg - body.carried_kg, body.carried_share
    if share is None:
        return np.full(len(body.axle_load_kg), mass_band_ratio(case))
    stated, carried = body.mass_tolerance_kg - body.carried_tolerance_kg, body.carried_tolerance_kg
    own_band = klass * own if np.isnan(stated) else stated
    load_band = klass * body.carried_kg if np.isnan(carried) else carried
    split = np.abs(body.axle_load_kg - body.carried_kg * share) / own
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((own_band * split + load_band * np.abs(share)) / body.axle_load_kg)


def stated_mass_ratio(case: Case) -> float:
    """Give the stowed mass, at which brakes are stated, over the mass now; NaN without a stowed attitude."""
    stowed = case.machine.attitude("stowed")
    return np.nan if stowed is None else stowed.mass_kg / case.body.mass_kg


def group(rows: Rows, case: Case, axles: Bools) -> Group:
    """Give a group of axles; driving in reverse turns round which of them are ahead."""
    body = case.body
    off = body.axle_x_m - body.axle_x_m.mean()
    per_m = float(off[axles].sum() / (off**2).sum())
    share = float(body.axle_load_kg[axles].sum() / body.axle_load_kg.sum())
    known = body.cg_tolerance_m
    band = abs(per_m) * (case.scalar("tolerance.cg_m") if np.isnan(known) else known)
    if axles.all() or not axles.any():
        return Group(level_share=min(share, 1.0), transfer=0.0, band_ratio=0.0)
    ahead = np.where(rows.reverse, -1.0, 1.0)
    return Group(level_share=min(share, 1.0), transfer=ahead * per_m * body.cg_m[2], band_ratio=band)


def driven(rows: Rows, case: Case) -> tuple[Group, dict[str, Bools]]:
    """Give the driven axles of each configuration: with two-wheel drive of an all-driven machine those left on.

    A two-wheel drive of a machine whose sheet switches no axle off is not described by it.
    """
    body, two = case.body, np.array([drive == "two" for drive in case.configurations.drive])
    every = group(rows, case, body.driven)
    if not (two.any() and body.driven.all()):
        return every, {}
    here = rows.by_config(two)
    left = body.driven & ~body.drive_off
    if left.all() or not left.any():
        return every, {"machine.axles.driven": here}
    some = group(rows, case, left)
    return Group(
        level_share=np.where(here, some.level_share, every.level_share),
        transfer=np.where(here, some.transfer, every.transfer),
        band_ratio=np.where(here, some.band_ratio, every.band_ratio),
    ), {}


def steady_share(of: Group, along: Floats, cross: Floats, band: float) -> Number:
    """Give the share a group carries on a slope, less ``band`` times what the centre of gravity's tolerance moves."""
    if isinstance(of.transfer, float) and of.transfer == 0.0:
        return of.level_share
    share = group_share(of.level_share, of.transfer, along, cross)
    return np.maximum(share - band * _off(of, along, cross), 0.0)


def share_at_limit(of: Group, mu: Floats, along: Floats, cross: Floats, ahead: Number, band: float) -> Number:
    """Give the same as the group begins to slip while it alone pushes ahead (+1) or holds back (−1)."""
    if isinstance(of.transfer, float) and of.transfer == 0.0:
        return of.level_share
    share = group_share_at_limit(of.level_share, of.transfer, ahead * tangent_left(mu, along, cross))
    return np.maximum(share - band * _off(of, along, cross), 0.0)


def _off(of: Group, along: Floats, cross: Floats) -> Number:
    return of.band_ratio * (1.0 + np.abs(demand_along(along, cross, 0.0)))


def grip(rows: Rows, case: Case) -> LimitColumn:
    """Give the coefficient of grip at these rows; paved ground near ground that gives mud is muddy."""
    if case not in _GRIP:
        _GRIP[case] = _grip(case)
    column = _GRIP[case]
    return LimitColumn(values=rows.at(column.values), row=rows.at(column.row), rows=column.rows)


def _grip(case: Case) -> LimitColumn:
    column, muddy = case.column("grip.coefficient"), mud_carried(case)
    if muddy is None:
        return column
    mud = case.by_surface("grip.coefficient", ground=MUD)
    worse = muddy & ~(mud.values > column.values)
    return LimitColumn(
        values=np.where(worse, mud.values, column.values),
        row=np.where(worse, mud.row, column.row),
        rows=column.rows,
    )


def governed(rows: Rows, capacity: Number, by_coefficient: Bools, coefficient: LimitColumn) -> LimitColumn | None:
    """Give the limit to name: the coefficient's row where it sets the capacity. In a grid nobody asks."""
    if rows.piece.ndim > 1:
        return None
    return LimitColumn(
        values=np.where(by_coefficient, capacity, np.nan),
        row=np.where(by_coefficient, coefficient.row, -1),
        rows=coefficient.rows,
    )


def lacks(rows: Rows, case: Case, limit_id: str, values: Floats) -> dict[str, Bools]:
    """Give what is missing for a coefficient by surface and ground, and of the load's sheet."""
    no_surface = rows.surface.codes < 0
    no_ground = np.full(no_surface.shape, case.weather.ground is None)
    out = {"surface": no_surface, "weather.ground": no_ground}
    out[f"rulebook.{limit_id}"] = np.isnan(values) & ~no_surface & ~no_ground
    return out | {name: np.ones(no_surface.shape, dtype=bool) for name in case.body.load_lacks}


def slopes(rows: Rows) -> dict[str, Bools]:
    """Give where grade or cross slope is missing."""
    return grade(rows) | {"cross_slope_pct": np.isnan(rows.cross) | np.isnan(rows.cross_band)}


def grade(rows: Rows) -> dict[str, Bools]:
    """Give where the grade is missing."""
    return {"grade": np.isnan(rows.grade) | np.isnan(rows.grade_band)}


def sheet(rows: Rows, case: Case, field: str, stated: float | None) -> dict[str, Bools]:
    """Give, as entries of ``missing``, a brake value the sheet lacks, or the stowed mass it is stated for."""
    shape = rows.surface.codes.shape
    return {
        f"machine.brakes.{field}": np.full(shape, stated is None),
        "machine.attitudes.stowed": np.full(shape, bool(np.isnan(stated_mass_ratio(case)))),
    }


def worse_of(rows: Rows, first: Outcome, second: Outcome) -> Outcome:
    """Give, row by row, the outcome with less margin; terms only for a list of cells, since in a grid nobody asks."""
    margins = [np.asarray(each.capacity) - each.demand - each.tolerance for each in (first, second)]
    with np.errstate(invalid="ignore"):
        take = ~(margins[1] >= margins[0])

    def pick(a: Number, b: Number) -> Number:
        same = a is b or (isinstance(a, float) and isinstance(b, float) and a == b)
        return a if same else np.where(take, b, a)

    def merged(a: Mapping[str, Number], b: Mapping[str, Number]) -> dict[str, Number]:
        return {name: pick(value, b[name]) for name, value in a.items()} if rows.piece.ndim == 1 else {}

    return Outcome(
        demand=pick(first.demand, second.demand),
        capacity=pick(first.capacity, second.capacity),
        tolerance=pick(first.tolerance, second.tolerance),
        outside=first.outside | np.asarray(second.outside),
        terms=merged(first.terms, second.terms),
        capacity_terms=merged(first.capacity_terms, second.capacity_terms),
    )
