"""The rule on room in a corner: the width of road a turn asks for, against the road there is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome, judge
from travel.checks.turn_cut import leaning_m
from travel.checks.turn_rules import Asked, TurnPart
from travel.domain.verdict import Verdict
from travel.mechanics.turning import turn_road_width
from travel.survey.corners import Corners

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def room_part(asked: Asked, outside: Floats, lies: Mapping[str, Bools], shunted: Bools | None = None) -> TurnPart:
    """Width of road the turn asks for, against the narrower road: twice as much more as the area sticks out.

    The ground stated free round a place is part of the room. At a junction whose ground nobody measured, what goes
    beyond the roads is not known.
    """
    case, corners, rows = asked.case, asked.corners, asked.rows
    road = corners.road_m[rows][:, None]
    stated = _stated(case, corners, rows)
    crab = np.array([state[2] == "crab" for state in asked.names])
    margin, plan_m = case.scalar("turn.margin"), case.survey.tolerance.plan_m
    # no road is asked for narrower than the body
    beyond = np.maximum(outside + leaning_m(case, corners)[rows][:, None], (case.body.width_m - road) / 2.0 - margin)
    beyond = np.where(crab, -road / 2.0, beyond)
    demand = np.asarray(turn_road_width(road, beyond, margin))
    lacking = ~corners.bends[rows][:, None] & ~stated[:, None] & ~(demand + plan_m <= road)
    load = {
        name: np.ones(outside.shape, dtype=bool)
        for name in (*case.body.load_lacks, *case.body.shape_lacks, *case.lacking("turn"))
    }
    outcome = Outcome(
        demand=demand,
        capacity=np.broadcast_to(road, outside.shape),
        tolerance=plan_m,
        caution=case.scalar("turn.caution"),
        applies=np.broadcast_to(~crab, outside.shape),
        missing={"width_m": np.broadcast_to(np.isnan(road), outside.shape), "turn_radius_m": lacking, **load, **lies},
        terms={"road_m": np.broadcast_to(road, outside.shape), "outside_m": beyond, "margin_m": margin},
        limit_source="site",
        controlled=False if shunted is None else shunted,
        control="" if shunted is None else "shunt",
    )
    return TurnPart(rule="turn", outcome=outcome, verdict=judge(outcome))


def room_left_m(room: TurnPart) -> Floats:
    """Give how much more road there is than the turn asks for; −∞ where something is not known [m]."""
    outcome = room.outcome
    margin = np.asarray(outcome.capacity) - outcome.demand - outcome.tolerance
    lacking = np.logical_or.reduce([np.broadcast_to(where, margin.shape) for where in outcome.missing.values()])
    return np.asarray(np.where(lacking | np.isnan(margin), -np.inf, margin))


def returning(asked: Asked, room: TurnPart, circle: Bools) -> TurnPart:
    """Take turning round out of the rule on room: in one go (``circle``, by corner and state) it is not asked, else it
    is blocked as long as no moves are known to do it."""
    returns = asked.corners.returns[asked.rows][:, None]
    if not returns.any():
        return room
    outcome = replace(room.outcome, applies=np.asarray(room.outcome.applies) & ~circle)
    verdict = np.where(returns, np.where(circle, Verdict.CLEAR, Verdict.BLOCKED), room.verdict).astype(np.uint8)
    return replace(room, outcome=outcome, verdict=verdict)


def _stated(case: Case, corners: Corners, rows: Ints) -> Bools:
    """Tell where the site states the radius of the ground that is free at a corner's place."""
    nodes: list[int] = case.survey.kept(("stated radius",), lambda: _stated_nodes(case))
    return np.isin(corners.node[rows], nodes)


def _stated_nodes(case: Case) -> list[int]:
    network, places = case.survey.network, case.survey.site.layers["places"]
    known = ~np.isnan(places.number("turn_radius_m"))
    return [node for node, ids in network.node_places.items() if any(known[places.index(i)] for i in ids)]
