"""Other traffic on the lane."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.braking import sight_counted
from travel.checks.case import Case
from travel.checks.lane import code, sweep_terms
from travel.checks.outcome import Outcome
from travel.checks.registry import answers
from travel.checks.room_to_stop import Brakes, brakes
from travel.checks.rows import Rows
from travel.mechanics.beside import sight_on_one_lane, swept_width
from travel.mechanics.braking import stopping_distance_coasting

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def _is(rows: Rows, case: Case, word: str) -> Bools:
    words = case.rulebook.vocabulary.words("traffic")
    return np.asarray(code(rows, "traffic", words) == words.index(word))


def _room_for_both(rows: Rows, case: Case) -> Floats:
    """Give what is left of the width with both vehicles side by side; the other is alike where nothing is told."""
    own = swept_width(**sweep_terms(rows, case, case.body.width_m))
    told = rows.si("other_width_m")
    other = np.where(np.isnan(told), own, told)
    left: Floats = rows.si("width_m") - own - other - 3 * case.scalar("traffic.margin")
    return left - case.survey.tolerance.width_m


@answers("traffic")
def taken_in_turns(rows: Rows, case: Case) -> Outcome:
    """One vehicle at a time: somebody holds the others. What kind of traffic there is must be known."""
    words = case.rulebook.vocabulary.words("traffic")
    lacking = code(rows, "traffic", words) < 0
    held = _is(rows, case, "one_at_a_time")
    return Outcome(
        permitted=np.ones(held.shape, dtype=bool),
        applies=held | lacking,
        missing={"traffic": lacking},
        controlled=held,
    )


@answers("traffic")
def room_to_pass(rows: Rows, case: Case) -> Outcome:
    """Traffic both ways on a road wide enough for both."""
    left = _room_for_both(rows, case)
    return Outcome(
        permitted=np.ones(left.shape, dtype=bool),
        applies=_is(rows, case, "two_way") & ((left >= 0.0) | np.isnan(rows.si("width_m"))),
        missing={
            "width_m": np.isnan(rows.si("width_m")),
            **dict.fromkeys(case.body.shape_lacks, np.ones(left.shape, dtype=bool)),
        },
    )


@answers("traffic")
def one_lane_both_ways(rows: Rows, case: Case) -> Outcome:
    """Traffic both ways on a road too narrow for both: each stops in half of what is seen, and traffic is held.

    Where the other's speed is told, the machine stops in what the other leaves. A sight that was only told or assumed
    counts as for stopping: no further than the rulebook's least.
    """
    applies = _is(rows, case, "two_way") & ~(_room_for_both(rows, case) >= 0.0) & ~np.isnan(rows.si("width_m"))
    if not applies.any():
        return Outcome(applies=applies, permitted=np.ones(applies.shape, dtype=bool))
    stop, least = brakes(rows, case), case.scalar("stopping.least_speed")
    sight = rows.si("sight_m")
    counted = np.where(np.isnan(sight), np.nan, sight_counted(rows, case)[0])
    other = rows.si("other_speed_mps")
    cap = stop.speed_within(np.where(np.isnan(other), counted / 2.0, counted - _other_stops(stop, other)))
    terms: dict[str, Any] = {
        "speed_mps": least,
        "other_speed_mps": np.where(np.isnan(other), least, other),
        "delay_s": stop.delay_s,
        "coast_mps2": stop.coast_mps2,
        "decel_mps2": stop.decel_mps2,
    }
    with np.errstate(invalid="ignore", divide="ignore"):
        needed = np.where(stop.decel_mps2 > 0.0, sight_on_one_lane(**terms), np.inf)
    return Outcome(
        demand=needed,
        capacity=sight,
        applies=applies,
        missing={
            "sight_m": np.isnan(sight),
            "sight_m told": (counted < sight) & ~(needed <= counted),
            **stop.missing,
        },
        controlled=True,
        cap_mps=np.nan_to_num(cap, nan=0.0),
        terms=terms,
        limit_source="site",
    )


def _other_stops(stop: Brakes, other_mps: Floats) -> Floats:
    """Give how far the other runs before it stands; it brakes as well as the machine."""
    with np.errstate(invalid="ignore", divide="ignore"):
        away = stopping_distance_coasting(other_mps, stop.delay_s, stop.coast_mps2, stop.decel_mps2)
        return np.asarray(np.where(stop.decel_mps2 > 0.0, away, np.inf))
