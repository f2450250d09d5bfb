"""What the ground under a rig's strip carries: its own word and that of every polygon of layer ground under it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely

from travel.checks.case import Case
from travel.checks.ground import WET
from travel.checks.hours import age_of
from travel.checks.ramp_facts import Lacks
from travel.checks.unloading_ground import Ground
from travel.units import PA_PER_KPA

SLIVER_M2 = 0.01
"""So much of a strip may lie between polygons drawn side by side."""


def bearing_under(ground: Ground, strip: Any, case: Case, lacks: Lacks) -> float:
    """Give what the weakest ground under a strip carries in this weather, and note what is missing [Pa].

    A polygon speaks for the ground it covers alone: where there is no word of the ground itself, all must be covered.
    """
    wet = case.weather.ground in WET
    field = "bearing_wet_kpa" if wet else "bearing_kpa"
    lacks.need("surface", ground.surface)
    lacks.need("weather.ground", case.weather.ground)
    lacks.names += [name for name in ground.told if name.startswith("bearing")]
    own = math.nan if wet else ground.bearing_pa  # areas state no bearing when wet
    layer, left, values = case.survey.site.layers["ground"], strip, [own]
    if len(layer) and strip is not None:
        here = np.flatnonzero(shapely.intersects(layer.geometry, strip))
        stated = layer.number(field)[here] * PA_PER_KPA
        values += stated.tolist()
        left = strip.difference(shapely.union_all(layer.geometry[here]))
        if np.isnan(stated).any():
            lacks.need(field, None)
        if any(_lapsed(day, case) for day in layer.text("valid_until")[here]):
            lacks.need("valid_until lapsed", None)
    if math.isnan(own) and (left is None or left.area > SLIVER_M2):
        lacks.need(field, None)
    return min((value for value in values if not math.isnan(value)), default=math.nan)


def _lapsed(day: str | None, case: Case) -> bool:
    age = age_of(case, day)
    return day is not None and (age is None or age.days > 0)
