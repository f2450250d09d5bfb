"""A machine with one value of its body changed, for remedies that are another machine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from travel.checks import Body
from travel.units import PA_PER_KPA, pct_to_ratio, ratio_to_pct

FIELDS = ("width_m", "height_m", "mass_kg", "grade_pct", "cross_slope_pct", "pressure_kpa")


def machine_value(body: Body, field: str) -> float:
    """Give the present value of one of :data:`FIELDS`, in the unit of its name."""
    if field == "grade_pct":
        return ratio_to_pct(body.grade_limit_ratio)
    if field == "cross_slope_pct":
        return ratio_to_pct(body.cross_limit_ratio)
    if field == "pressure_kpa":
        return float(body.pressure_pa.max()) / PA_PER_KPA
    return float(getattr(body, field))


def changed_body(body: Body, field: str, value: float) -> Body:
    """Give the body with one value changed.

    Width and height cut the outline (what is narrower or lower stays); gross keeps the axles' shares and the centre of
    gravity; the pressure is that of the hardest tyre, and no tyre is harder.
    """
    if field == "width_m":
        outline = np.column_stack([body.width_z_m[:, 0], np.minimum(body.width_z_m[:, 1], value)])
        return replace(body, width_m=value, over_tyres_m=min(body.over_tyres_m, value), width_z_m=outline)
    if field == "height_m":
        top = np.column_stack([body.top_xz_m[:, 0], np.minimum(body.top_xz_m[:, 1], value)])
        return replace(body, height_m=value, top_xz_m=top)
    if field == "mass_kg":
        share = value / body.mass_kg
        band = body.mass_tolerance_kg * share
        return replace(body, mass_kg=value, axle_load_kg=body.axle_load_kg * share, mass_tolerance_kg=band)
    if field == "grade_pct":
        return replace(body, grade_limit_ratio=pct_to_ratio(value))
    if field == "cross_slope_pct":
        return replace(body, cross_limit_ratio=pct_to_ratio(value))
    if field == "pressure_kpa":
        return replace(body, pressure_pa=np.minimum(body.pressure_pa, value * PA_PER_KPA))
    raise ValueError(f"{field} is not one of {', '.join(FIELDS)}")
