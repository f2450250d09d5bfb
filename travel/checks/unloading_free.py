"""What of the ground to unload on is taken: things that stand there, crests with what a wheel keeps from them, what is
closed, structures in it that are not known to carry the rig.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from travel.checks.case import Case
from travel.checks.edges import crest_standoffs, faces
from travel.checks.lane import wheel_out_m
from travel.checks.lies_beside import FAR_M, LAYERS
from travel.checks.state import closed
from travel.checks.unloading_ground import Ground, Taken

TAKING = ("obstacles", "edges", "closures", "limits")
"""Layers that must have been looked at before ground counts as free."""
LEFT_TO_ROADS = ("gateway", "buried_service")
LEAST_M = 1e-3
"""A point or a line is widened by this at least, so that it takes something."""


def free_of(ground: Ground, cases: Iterable[Case]) -> Ground:
    """Give the ground without what is taken on it at the hour of any of these trips, and what that is."""
    if ground.shape is None:
        return ground
    found: dict[tuple[str, str], Taken] = {}
    for case in cases:
        for layer in TAKING:
            for one in _taken(case, layer, ground.shape):
                found.setdefault((layer, one.feature), one)
    if not found:
        return ground
    shape = ground.shape.difference(shapely.union_all([one.shape for one in found.values()]))
    return replace(ground, shape=shape, taken=tuple(found.values()))


def _taken(case: Case, layer: str, shape: Any) -> list[Taken]:
    features = case.survey.fabric.features.get(layer)
    if features is None or not len(features):
        return []
    near = np.flatnonzero(shapely.distance(features.plan, shape) <= FAR_M)
    keep, sure = features.spread_m + case.survey.tolerance.plan_m, np.ones(len(features), dtype=bool)
    if layer == "edges":
        off = crest_standoffs(case)
        sure = ~np.isnan(off)
        keep = keep + np.where(sure, off, faces(case).reach_m - wheel_out_m(case))
    ids, out = case.survey.site.layers[layer].ids, []
    for row in near[_takes(case, layer, near)].tolist():
        wide = shapely.buffer(features.plan[row], max(float(keep[row]), LEAST_M))
        if shapely.intersects(wide, shape):
            out.append(Taken(layer=layer, feature=ids[row], shape=wide, sure=bool(sure[row])))
    return out


def _takes(case: Case, layer: str, near: Any) -> Any:
    """Give which of these features take the ground they lie on."""
    if layer == "closures":
        return closed(case)[near]
    if layer != "limits" or not len(near):
        return np.ones(len(near), dtype=bool)
    bars = LAYERS[layer](case, np.zeros(0, dtype=np.int64), near, np.zeros(len(near))) < np.inf
    kinds = case.survey.site.layers[layer].text("kind")[near].astype(object)
    low = ~np.isnan(case.survey.site.layers[layer].number("height_m")[near])
    return bars & (low | ~np.isin(kinds, LEFT_TO_ROADS))
