"""Ground under the belly in a corner of three and more roads: the body rolled from one road on to the other.

Along a chain the profile runs on through a bend; where three roads meet chains end, and which road follows is only
known in the corner. The machine is rolled as on the middle lines, as it is in a bend of one road.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from travel.checks.outcome import Outcome, judge
from travel.checks.tops import bumps
from travel.checks.turn_rules import Asked, TurnPart, corner_pieces
from travel.checks.underbody import clearances, enough_m, over_ends
from travel.survey import Survey, onward_over

RULE = "underbody"
Floats = NDArray[np.float64]


def belly_part(asked: Asked) -> Iterator[TurnPart]:
    """Smallest clearance from one road on to the other; what is not known of either it says itself along the road."""
    case, corners, rows = asked.case, asked.corners, asked.rows
    junction = np.isnan(corners.at_m[rows]) & ~corners.returns[rows]
    junction &= case.survey.network.node_degree[corners.node[rows]] >= 3
    if not junction.any() or RULE in case.left_out or case.lacking(RULE):
        return
    clear = np.full(len(rows), np.inf)
    clear[junction] = _clear_m(asked, np.flatnonzero(junction))
    band = np.max(clearances(case)[1][np.stack(corner_pieces(asked))], axis=0)
    outcome = Outcome(
        demand=case.scalar("underbody.least"),
        capacity=np.broadcast_to(clear[:, None], asked.shape),
        tolerance=np.broadcast_to(band[:, None], asked.shape),
        caution=case.scalar("underbody.caution"),
        applies=np.broadcast_to(np.isfinite(clear)[:, None], asked.shape),
        limit=case.resolved("underbody.least"),
        limit_source="computed",
    )
    yield TurnPart(rule=RULE, outcome=outcome, verdict=judge(outcome))


def _clear_m(asked: Asked, some: NDArray[np.int64]) -> Floats:
    """Give the smallest clearance of some corners, bumps taken off; infinite where all is even or not known."""
    survey, corners = asked.case.survey, asked.corners
    back, on = corners.edge_in[asked.rows[some]] ^ 1, corners.edge_out[asked.rows[some]]
    onward = onward_over(survey, np.concatenate((back, on)), np.concatenate((on, back)))
    piece = _pieces_of(survey, np.unique(onward.chain))
    row, way, clear = over_ends(asked.case, piece, onward, enough_m(asked.case))
    out = np.full(len(some), np.inf)
    np.minimum.at(out, way % len(some), clear - bumps(asked.case, piece[row]))
    return out


def _pieces_of(survey: Survey, chains: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give the pieces of some chains."""
    cells, order = survey.fabric.cells, survey.fabric.order
    first, last = order.start[cells.start[chains]], order.stop[cells.stop[chains] - 1]
    return np.concatenate([order.piece[a:b] for a, b in zip(first.tolist(), last.tolist(), strict=True)])
