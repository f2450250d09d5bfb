"""How a corner is cut in one go: as far inside the room as the body needs and, where a side of the road is soft or
falls away, as far from it as the wheels keep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.lane import lean_out_m
from travel.checks.mover import Mover
from travel.checks.sweep import CHUNK, RUNGS, Yard, rungs, sweep
from travel.checks.turn_rules import Asked, corner_pieces
from travel.checks.turn_shoulder import NEAR_M, Shoulders, wheel_yard, wheels_only, wheels_outside
from travel.survey.corners import Corners

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """Where a body or a wheel no longer surely passes, may pass and passes with room to spare: metres inside.

    As in the judgement of the rules: blocked nearer than the first, unknown to the second, caution to the third.
    """

    blocked_m: float
    unknown_m: float
    clear_m: float

    def worst(self, outside_m: Floats, keep_m: Floats | float = 0.0) -> Floats:
        """Give the verdict's number and, behind the point, how much is short of plenty."""
        inside = -outside_m - keep_m
        steps = [(inside < limit).astype(np.float64) for limit in (self.blocked_m, self.unknown_m, self.clear_m)]
        return np.asarray(sum(steps) + np.clip(self.clear_m - inside, 0.0, 9.0) / 10.0)


@dataclass(eq=False)
class Cuts:
    """What a machine sweeps in every corner asked for so far; ``wheels_m``: how far its wheels stick out of the room,
    NaN where no side has to be kept from; ``least_m``: by cut of the ladder, how far the body does at least."""

    outside_m: Floats
    cut_m: Floats
    wheels_m: Floats
    least_m: Floats
    done: Bools


def body_needs(case: Case) -> Needs:
    """Give what the rule on room asks of the body."""
    margin, plan_m, caution = case.scalar("turn.margin"), case.survey.tolerance.plan_m, case.scalar("turn.caution")
    return Needs(
        blocked_m=margin - plan_m / 2.0, unknown_m=margin + plan_m / 2.0, clear_m=margin + (plan_m + caution) / 2.0
    )


def wheel_needs(case: Case) -> Needs:
    """Give what the rule on shoulders asks of the wheels, besides the distance kept."""
    margin, half_m, caution = (
        case.scalar("turn.margin"), case.survey.tolerance.width_m / 2.0, case.scalar("shoulder.caution")
    )  # fmt: skip
    return Needs(blocked_m=margin - half_m, unknown_m=margin + half_m, clear_m=margin + half_m + caution)


def cuts(case: Case, corners: Corners, mover: Mover, rows: Ints, sides: Shoulders) -> Cuts:
    """Give how some corners are cut, looked for once each.

    Args:
        case: the trip
        corners: the corners of the site
        mover: the machine in one steering mode
        rows: corners
        sides: what the wheels keep from the sides of the roads, at every corner of the site
    """
    enough = body_needs(case).clear_m + leaning_m(case, corners)
    kept: Cuts = case.survey.kept(
        ("cuts", mover, enough.tobytes(), wheels_only(mover, case), wheel_needs(case), sides.key),
        lambda: _none(len(corners)),
    )
    todo = np.unique(rows[~kept.done[rows]])
    if len(todo):
        body = _of_body(case, corners, mover, todo, enough)
        kept.outside_m[todo], kept.cut_m[todo], kept.done[todo] = body.outside_m[todo], body.cut_m[todo], True
        kept.least_m[todo] = body.least_m[todo]
        asked = todo[(sides.keep_m[todo] > 0.0) & ~np.isnan(body.cut_m[todo])]
        for part in np.array_split(asked, -(-len(asked) // CHUNK)) if len(asked) else ():
            _keep_from_sides(corners, part, (mover, wheels_only(mover, case)), (body_needs(case), wheel_needs(case)),
                             sides, kept)  # fmt: skip
    return kept


def _none(count: int) -> Cuts:
    blank = [np.full(count, np.nan) for _ in range(3)]
    least, done = np.full((count, RUNGS), -np.inf), np.zeros(count, dtype=bool)
    return Cuts(outside_m=blank[0], cut_m=blank[1], wheels_m=blank[2], least_m=least, done=done)


def leaning_m(case: Case, corners: Corners) -> Floats:
    """Give by corner how far the body leans out over its greatest width, across all of the slope of either road [m].

    The steepest counts of what a road does as near to the corner as its width is looked at. A slope that is not known
    is left to the rules on standing, which are asked there.
    """
    body = case.body
    key = "leaning", body.width_z_m.tobytes(), body.hung_m, id(case.window)  # kept with the survey as well
    made: Floats = case.survey.kept(key, lambda: _leaning(case, corners))
    return made


def _leaning(case: Case, corners: Corners) -> Floats:
    rows = np.arange(len(corners))
    pieces = np.stack(corner_pieces(Asked(case=case, corners=corners, rows=rows, states=rows[:0])))
    slope = np.hypot(case.survey.cross_slope_ratio, case.window.grade_worst)
    return lean_out_m(case, _steepest_near(case, np.nan_to_num(slope), pieces).max(axis=0))


def _steepest_near(case: Case, slope: Floats, pieces: Ints) -> Floats:
    """Give the steepest slope of the same road, and of what goes on from it with no other, about some pieces."""
    of, far = case.survey.pieces, float(case.survey.pieces.cell_to_m.max()) + 3.0 * NEAR_M
    low, high = (of.chain * far + at for at in (of.cell_from_m, of.cell_to_m))
    order = np.lexsort((high, low))
    first = np.searchsorted(high[order], low[pieces] - NEAR_M, "right")
    last = np.searchsorted(low[order], high[pieces] + NEAR_M, "left")
    ends = np.stack((first, last), axis=-1).ravel()
    found = np.maximum.reduceat(np.append(slope[order], 0.0), ends)[::2] if ends.size else np.zeros(0)
    return np.asarray(found.reshape(pieces.shape))


def _of_body(case: Case, corners: Corners, mover: Mover, rows: Ints, enough_m: Floats) -> Cuts:
    """Give how the corners are cut for the body alone: the same in every weather; ``enough_m`` by corner of all."""
    kept: Cuts = case.survey.kept(("sweep", mover, enough_m.tobytes()), lambda: _none(len(corners)))
    todo = rows[~kept.done[rows]]
    if len(todo):
        found = sweep(corners, todo, mover, enough_m)
        kept.outside_m[todo], kept.cut_m[todo], kept.done[todo] = found.outside_m, found.cut_m, True
        kept.least_m[todo] = found.least_m
    return kept


def _keep_from_sides(
    corners: Corners,
    rows: Ints,
    movers: tuple[Mover, Mover],
    needs: tuple[Needs, Needs],
    sides: Shoulders,
    kept: Cuts,
) -> None:
    """Look at the wheels; where they come too near a side, take the cut that is best for both."""
    (mover, wheels), keep_m, every = movers, sides.keep_m[rows], np.arange(len(rows))
    yard, ground = Yard(corners, rows), wheel_yard(corners, rows, sides.link_m, keep_m)
    kept.wheels_m[rows] = wheels_outside(ground, every, kept.cut_m[rows], wheels)

    def worst(body_m: Floats, wheels_m: Floats, keep: Floats) -> Floats:
        return np.maximum(needs[0].worst(body_m), needs[1].worst(wheels_m, keep))

    best = worst(kept.outside_m[rows], kept.wheels_m[rows], keep_m)
    near = best > needs[0].worst(kept.outside_m[rows])  # the body is cut as well as it can be
    cuts = rungs(corners, rows)
    radius = yard.least_radius(cuts)
    driven = (radius >= mover.least_radius_m - 1e-9) & (corners.half_m[rows][:, None] <= cuts + 1e-9)
    for number in range(RUNGS) if near.any() else ():
        some = np.flatnonzero(driven[:, number] & near & (needs[0].worst(kept.least_m[rows, number]) < best))
        if not len(some):
            continue
        few_m = yard.few(yard.driven(some, cuts[some, number], mover), -needs[0].clear_m)
        some = some[needs[0].worst(few_m) < best[some]]
        if not len(some):
            continue
        at = cuts[some, number]
        body_m = yard.outside(some, at, mover, -needs[0].clear_m)
        left = needs[0].worst(body_m) < best[some]
        some, at, body_m = some[left], at[left], body_m[left]
        wheels_m = wheels_outside(ground, some, at, wheels) if len(some) else body_m
        found = worst(body_m, wheels_m, keep_m[some])
        better = found < best[some] - 1e-9
        best[some[better]], row = found[better], rows[some[better]]
        kept.outside_m[row], kept.cut_m[row], kept.wheels_m[row] = body_m[better], at[better], wheels_m[better]
