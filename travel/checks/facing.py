"""How near a feature is to the centreline under the body, as the machine faces: its front ahead, its tail behind."""

from __future__ import annotations

from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.rows import Rows

Floats = NDArray[np.float64]

_KEPT: WeakKeyDictionary[Case, dict[tuple[str, int], tuple[Floats, Floats]]] = WeakKeyDictionary()


def distance_as_faced_m(rows: Rows, case: Case) -> Floats:
    """Give the least plan distance from the feature's footprint to the centreline from the machine's tail to its front.

    Beyond a dead end the centreline is carried straight on. In reverse the tail is ahead.
    """
    assert rows.pair is not None
    along, against = _both(rows, case)
    facing = rows.sense * case.survey.pieces.sign[rows.piece] * np.where(rows.reverse, -1, 1)
    return np.asarray(np.where(facing > 0, along[rows.pair], against[rows.pair]))


def _both(rows: Rows, case: Case) -> tuple[Floats, Floats]:
    """Give the distance of every pair, facing along its chain and against it."""
    assert rows.pairs is not None
    assert rows.layer is not None
    pairs, kept = rows.pairs, _KEPT.setdefault(case, {})
    key = (rows.layer.name, id(pairs))
    if key not in kept:
        survey, body = case.survey, case.body
        features = survey.fabric.features[rows.layer.name]
        wanted, back = np.unique(pairs.piece, return_inverse=True)
        found = []
        for front, rear in ((body.front_x_m, -body.rear_x_m), (-body.rear_x_m, body.front_x_m)):
            lines = survey.body_lines(wanted, front, rear)[back]
            away = shapely.distance(lines, features.plan[pairs.feature]) - features.spread_m[pairs.feature]
            found.append(np.maximum(np.asarray(away, dtype=np.float64), 0.0))
        kept[key] = found[0], found[1]
    return kept[key]
