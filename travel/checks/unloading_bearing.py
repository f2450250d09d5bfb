"""What the ground under a rig's strip carries: its own word and that of every polygon of layer ground under it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.ground import PAVED, WET, lapsed
from travel.checks.ramp_facts import Lacks
from travel.checks.unloading_ground import Ground
from travel.units import PA_PER_KPA

SLIVER_M2 = 0.01
"""So much of a strip may lie between polygons drawn side by side."""


def bearing_under(ground: Ground, strip: Any, case: Case, lacks: Lacks) -> float:
    """Give what the weakest ground under a strip carries in this weather, and note what is missing [Pa].

    A polygon speaks for the ground it covers alone: where there is no word of the ground itself, all must be covered.
    Of paved ground only the patches of another surface are asked.
    """
    wet = case.weather.ground in WET
    field = "bearing_wet_kpa" if wet else "bearing_kpa"
    lacks.need("surface", ground.surface)
    lacks.need("weather.ground", case.weather.ground)
    lacks.names += [name for name in ground.told if name.startswith("bearing")]
    own = math.nan if wet else ground.bearing_pa  # areas state no bearing when wet
    layer, left, values = case.survey.site.layers["ground"], strip, [own]
    paved = ground.surface in PAVED
    if paved:
        own, left, values = math.nan, None, []
    if len(layer) and strip is not None:
        here = soft_patches(strip, case) if paved else np.flatnonzero(shapely.intersects(layer.geometry, strip))
        stated = layer.number(field)[here] * PA_PER_KPA
        values += stated.tolist()
        left = None if paved else strip.difference(shapely.union_all(layer.geometry[here]))
        if np.isnan(stated).any():
            lacks.need(field, None)
        if lapsed(layer, case)[here].any():
            lacks.need("valid_until lapsed", None)
    if not paved and math.isnan(own) and (left is None or left.area > SLIVER_M2):
        lacks.need(field, None)
    return min((value for value in values if not math.isnan(value)), default=math.nan)


def soft_patches(strip: Any, case: Case) -> NDArray[np.int64]:
    """Give the polygons of layer ground under a strip that name a surface which is not paved."""
    layer = case.survey.site.layers["ground"]
    if strip is None or not len(layer):
        return np.empty(0, dtype=np.int64)
    soft = np.array([word is not None and word not in PAVED for word in layer.text("surface")])
    return np.flatnonzero(soft & shapely.intersects(layer.geometry, strip))


def surfaces_under(ground: Ground, strip: Any, case: Case) -> tuple[str | None, ...]:
    """Give the surface of the ground and those of polygons of layer ground under a strip that name their own."""
    layer = case.survey.site.layers["ground"]
    if strip is None or not len(layer):
        return (ground.surface,)
    here = np.flatnonzero(shapely.intersects(layer.geometry, strip))
    own = [str(word) for word in layer.text("surface")[here] if word is not None]
    return tuple(dict.fromkeys([ground.surface, *own]))
