"""What a corner asks of the road behind the one before it, and whether two are known to be driven as one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.as_one import Both, sweep_both
from travel.checks.lies_beside import barred, too_near
from travel.checks.movers import movers
from travel.checks.turn_cut import body_needs, leaning_m
from travel.checks.turn_rules import first_of

if TYPE_CHECKING:
    from travel.checks.turns import Turns

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

IN_LINE = 2.0
"""So many more lengths to the point that trails a corner is followed for: a twentieth of the angle is then left."""
SWEPT_M = 42.0
"""Nothing that a machine sweeps in a corner lies further from it: as far as the roads' rooms reach."""
SURELY = np.ones((1, 1), dtype=bool)


def asks_m(turns: Turns, rows: Ints, state: int) -> Floats:
    """Give how much road before and after some corners it takes until the machine is nearly in line again, how far off
    their arcs begin, and how much more it takes until hardly an angle is left (n, 4); nothing where one is not driven.
    A bend is looked at on the way as drawn: its arcs are enough."""
    travel, _, steering, _ = turns.case.configurations.states[state]
    mover, cut = movers(turns.case).get(steering), turns.swept(rows, np.array([state]))[1][:, 0]
    if mover is None:
        return np.zeros((len(rows), 4))
    lead = mover.lead_m * ~turns.corners.bends[rows]
    out = np.nan_to_num(np.column_stack((cut, cut + lead, cut, np.where(np.isnan(cut), np.nan, IN_LINE * lead))))
    for number in np.flatnonzero(turns.shunted[rows, state]).tolist():
        shunt = turns.shunt(int(rows[number]), state)
        if shunt is not None:
            ends = shunt.reaches_m(mover)
            out[number] = (*(ends[::-1] if travel == "reverse" else ends), 0.0, 0.0)
    return np.asarray(out)


def as_one(turns: Turns, before: int, row: int, state: int) -> bool | None:
    """Tell whether two corners at nodes, one behind the other, are known to be driven as one on their own arcs.

    None where that cannot be looked at: in moves, where their arcs overlap, where no road joins them.
    """
    travel, _, steering, _ = turns.case.configurations.states[state]
    mover, both = movers(turns.case).get(steering), np.array([before, row])
    alone = ~turns.shunted[both, state] & ~turns.corners.returns[both] & ~turns.corners.bends[both]
    cut = turns.swept(both, np.array([state]))[1][:, 0]
    if mover is None or not alone.all() or np.isnan(cut).any():
        return None
    if travel == "reverse":
        both, cut = turns.corners.mirror[both[::-1]], cut[::-1]
    key = (*both.tolist(), *cut.tolist())
    kept: dict[tuple[float, ...], Both | None] = turns.case.survey.kept(("as one", mover), dict)
    if key not in kept:
        kept[key] = sweep_both(turns.corners, (key[0], key[1]), (key[2], key[3]), mover)
    found = kept[key]
    return None if found is None else _passes(turns, found, before, row, state)


def _passes(turns: Turns, found: Both, before: int, row: int, state: int) -> bool:
    """Tell whether what is swept in two corners driven as one is surely free, soft sides kept from as in moves."""
    both, sides = (before, row), turns.sides.keep_m[[before, row]].max()
    needed = body_needs(turns.case).unknown_m
    needed = max(needed, sides + turns.case.survey.tolerance.width_m / 2.0) if sides > 0.0 else needed
    needed += float(leaning_m(turns.case, turns.corners)[[before, row]].max())
    if found.outside_m > -needed or too_near(turns.case, found.area):
        return False
    config = tuple(first_of(turns.case, np.array([state])).tolist())
    for one, other in (both, both[::-1]):
        area = shapely.difference(found.area, turns.others.about.ground_of(other))
        if turns.others.over(one, config, area, SWEPT_M):
            return False
        if barred(turns.case, turns.corners, (np.array([one]), np.array([state])), lambda *_, a=area: a, SURELY):
            return False
    return True
