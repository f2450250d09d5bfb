"""Height and grade along a trip, and what its descents ask of brakes and drive line."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from travel.checks import descent_energy
from travel.domain.plan import Descent, Leg, Number, ProfileTrip
from travel.domain.verdict import Verdict
from travel.planning.legs import runs_of
from travel.planning.trips import Trip

Floats = NDArray[np.float64]
J_PER_MJ = 1e6


def profile_of(trip: Trip, legs: list[Leg]) -> ProfileTrip:
    """Give heights at the ends of the pieces, grade and verdict of each piece, and the descents, by distance driven."""
    survey, cells = trip.case.survey, trip.cells
    pieces = survey.pieces
    entry = np.where(cells.sense > 0, pieces.from_m[cells.piece], pieces.to_m[cells.piece])
    leave = np.where(cells.sense > 0, pieces.to_m[cells.piece], pieces.from_m[cells.piece])
    road = pieces.road[cells.piece]
    ends = np.r_[entry[:1], leave]
    heights = survey.heights_at(np.r_[road[:1], road], ends)
    grade = np.where(cells.sense > 0, 1, -1) * trip.case.window.grade_worst[cells.piece] * 100
    mine = [leg for leg in legs if leg.trip == trip.case.trip]
    runs = runs_of(trip)
    leg = np.empty(len(cells), dtype=np.int64)
    for run, item in zip(runs, mine, strict=True):
        leg[run.first : run.last + 1] = item.leg
    driven = np.r_[0.0, np.cumsum(pieces.length_m[cells.piece])]
    return ProfileTrip(
        trip=trip.case.trip,
        distance_m=tuple(float(v) for v in driven),
        height_m=tuple(None if np.isnan(v) else float(v) for v in heights),
        grade_pct=tuple(None if np.isnan(v) else float(v) for v in grade),
        leg=tuple(int(v) for v in leg),
        verdict=tuple(Verdict(int(v)).word for v in trip.cell_worst),  # type: ignore[misc]
        descents=tuple(_descents(trip, driven, grade)),
    )


def _descents(trip: Trip, driven: Floats, grade_pct: Floats) -> Iterator[Descent]:
    """Give the stretches driven down that the rule on holding speed downhill looks at, neighbouring pieces as one."""
    cells = trip.cells
    energy = descent_energy(trip.case, cells.piece, cells.sense, cells.config)
    down = (energy != 0.0).astype(np.int8)  # where it is not known, too
    edges = np.diff(np.r_[np.int8(0), down, np.int8(0)])
    for first, stop in zip(np.flatnonzero(edges > 0).tolist(), np.flatnonzero(edges < 0).tolist(), strict=True):
        yield Descent(
            from_m=float(driven[first]),
            to_m=float(driven[stop]),
            steepest_pct=_number(-grade_pct[first:stop].min()),
            energy_mj=_number(energy[first:stop].sum() / J_PER_MJ),
        )


def _number(value: float) -> Number:
    return None if np.isnan(value) else float(value)
