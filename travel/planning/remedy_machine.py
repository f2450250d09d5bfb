"""A machine with one value of its body changed, for remedies that are another machine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from travel.checks import Body
from travel.units import PA_PER_KPA, pct_to_ratio, ratio_to_pct

Floats = NDArray[np.float64]

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

    A lesser width or height cuts the outline (what is narrower or lower stays), a greater one widens or raises the
    whole of it, tyres kept; gross keeps the axles' shares and the centre of gravity; the pressure is that of the
    hardest tyre, and no tyre is harder.
    """
    if field == "width_m":
        more = max(value - body.width_m, 0.0)
        outline = _cut(body.width_z_m, more, value)
        return replace(body, width_m=value, over_tyres_m=min(body.over_tyres_m, value), width_z_m=outline)
    if field == "height_m":
        more = max(value - body.height_m, 0.0)
        return replace(body, height_m=value, top_xz_m=_cut(body.top_xz_m, more, value))
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


def _cut(outline: Floats, more: float, most: float) -> Floats:
    """Give an outline with so much added everywhere, then cut off level where it crosses ``most``."""
    line = outline[np.argsort(outline[:, 0], kind="stable")] + np.array([0.0, more])
    (at, value), (at_next, value_next) = line[:-1].T, line[1:].T
    crossed = (value - most) * (value_next - most) < 0.0
    share = (most - value[crossed]) / (value_next[crossed] - value[crossed])
    met = np.column_stack([at[crossed] + share * (at_next[crossed] - at[crossed]), np.full(crossed.sum(), most)])
    line = np.insert(line, np.flatnonzero(crossed) + 1, met, axis=0)
    return np.asarray(np.column_stack([line[:, 0], np.minimum(line[:, 1], most)]))
