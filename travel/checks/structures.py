"""Under the machine: what a structure or a sign allows."""

from __future__ import annotations

import numpy as np

from travel.checks.case import Case
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.rows import Rows


def _posted(rows: Rows, case: Case, field: str, demand_kg: float, tolerance_kg: float) -> Outcome:
    allowed = rows.of_feature(field)
    return Outcome(
        demand=demand_kg,
        capacity=allowed,
        tolerance=tolerance_kg,
        caution=case.scalar("posted-load.caution"),
        applies=~np.isnan(allowed),
        missing={f"{field} told": rows.method_is(field, "told", "assumed"),
                 f"machine.{field}": np.full(allowed.shape, np.isnan(demand_kg))},
        limit_source="site",
    )


@answers("posted-load", layer="limits")
def posted_gross(rows: Rows, case: Case) -> Outcome:
    """Gross against the posted gross."""
    return _posted(rows, case, "gross_kg", case.body.mass_kg, _mass_band(case))


@answers("posted-load", layer="limits")
def posted_axle(rows: Rows, case: Case) -> Outcome:
    """The heaviest axle against the posted axle load."""
    share = float(np.max(case.body.axle_load_kg)) / case.body.mass_kg
    return _posted(rows, case, "axle_kg", float(np.max(case.body.axle_load_kg)), _mass_band(case) * share)


@answers("posted-load", layer="limits")
def posted_wheel(rows: Rows, case: Case) -> Outcome:
    """The heaviest wheel against the posted wheel load."""
    wheels = case.body.axle_load_kg / case.body.tyres
    share = float(np.max(wheels)) / case.body.mass_kg
    return _posted(rows, case, "wheel_kg", float(np.max(wheels)), _mass_band(case) * share)


def _mass_band(case: Case) -> float:
    """Half-band of the mass; a sheet without one takes the class value."""
    stated = case.body.mass_tolerance_kg
    return stated if not np.isnan(stated) else case.scalar("tolerance.mass_share") * case.body.mass_kg
