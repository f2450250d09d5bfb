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


def steady_mps(case: Case, cap_mps: Floats, top_mps: Floats) -> Floats:
    """Give the speed time is reckoned with [m/s]: the cap, but no slower than a machine keeps steadily in its gear. A
    cap below that is no speed: the rules bar such a cell, or do not know whether it is barred."""
    return np.maximum(cap_mps, np.minimum(top_mps, case.scalar("stopping.least_speed")))


def choose(case: Case, folded: Fold) -> Choice:
    """Give each piece the best verdict among a state's gears, then the fewest unknowns, then the fastest gear; ties the
    lowest.

    Args:
        case: the trip
        folded: all rules over all configurations
    """
    length = case.survey.pieces.length_m.reshape(-1, 1, 1)
    speed = steady_mps(case, folded.cap_mps, case.configurations.top_mps)
    time_ms = np.ceil(length / speed * MS_PER_S).astype(np.int64)
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
