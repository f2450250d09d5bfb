"""The best passing gear on every piece, for each state that needs no stop to keep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.checks import Case, Fold

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
MM_PER_M = 1000
MS_PER_S = 1000
LEAST_STEADY_MPS = 1e-3
"""Below this a cap is no speed at all; the rules have already blocked such a cell."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Choice:
    """Per piece × direction × state: the configuration taken, its verdict, and integer costs.

    Lengths in whole millimetres, time in whole milliseconds (at least one).
    """

    config: Ints
    worst: NDArray[np.uint8]
    length_mm: Ints
    time_ms: Ints
    exposed: NDArray[np.bool_]
    unknowns: NDArray[np.uint8]


def choose(case: Case, folded: Fold) -> Choice:
    """Give each piece the best verdict among a state's gears, then the fewest unknowns, then the fastest gear; ties the
    lowest.

    Args:
        case: the trip
        folded: all rules over all configurations
    """
    length = case.survey.pieces.length_m.reshape(-1, 1, 1)
    time_ms = np.ceil(length / np.maximum(folded.cap_mps, LEAST_STEADY_MPS) * MS_PER_S).astype(np.int64)
    time_ms = np.maximum(time_ms, 1)
    key = (folded.worst.astype(np.int64) << 56) + (folded.unknowns.astype(np.int64) << 48) + time_ms
    states = len(case.configurations.states)
    shape = (*folded.worst.shape[:2], states)
    config = np.zeros(shape, dtype=np.int64)
    for state in range(states):
        members = np.flatnonzero(case.configurations.state == state)
        members = members[np.argsort(case.configurations.top_mps[members], kind="stable")]
        config[:, :, state] = members[np.argmin(key[:, :, members], axis=2)]
    return Choice(
        config=config,
        worst=np.take_along_axis(folded.worst, config, axis=2),
        length_mm=np.rint(length[:, 0, 0] * MM_PER_M).astype(np.int64),
        time_ms=np.take_along_axis(time_ms, config, axis=2),
        exposed=np.take_along_axis(folded.exposed, config, axis=2),
        unknowns=np.take_along_axis(folded.unknowns, config, axis=2),
    )
