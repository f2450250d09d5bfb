"""Corners for tests of the room to turn: two roads that meet at a right angle, and one that bends by as much."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import case_of, sheet
from travel.checks import Case, check_turns
from travel.checks.turn_rules import TurnPart
from travel.checks.turns import Turns
from travel.domain.verdict import Verdict

CLEAR, CAUTION, UNKNOWN, BLOCKED = Verdict.CLEAR, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED
ROAD: dict[str, Any] = {"surface": "compacted_gravel", "grade_pct": 0.0, "cross_slope_pct": 0.0, "roughness_m": 0.0}
HEADER = {"tolerance": {"plan_m": 0.1}}
LEFT, RIGHT = 1.0, -1.0


def junction(
    width_m: float = 8.0,
    side_m: float | None = None,
    *,
    stated_m: float | None = None,
    steering: tuple[str, ...] = ("front",),
    changes: Mapping[str, Any] | None = None,
    flip: float = 1.0,
    backwards: bool = False,
    unmeasured: tuple[str, ...] = (),
    unseen: Mapping[str, str] | None = None,
    stop: bool = False,
    roads_say: Mapping[str, Any] | None = None,
    side_says: Mapping[str, Any] | None = None,
    **site: Any,
) -> Case:
    """Give a trip over a road along x and one that leaves it at x = 0 to the left (``flip`` -1: to the right).

    ``unmeasured`` roads have no width; on ``unseen`` roads nobody looked for a layer;
    ``backwards`` has both roads drawn the other way in their file; ``stop``: the machine may stand at the junction;
    ``roads_say`` is stated of both roads, ``side_says`` of the second.
    """
    side_m = width_m if side_m is None else side_m
    ways = {"main": [(-60.0, 0.0), (60.0, 0.0)], "side": [(0.0, 0.0), (0.0, 60.0 * flip)]}
    roads = [
        ROAD | {"id": name, "xy": line[::-1] if backwards else line} | ({} if name in unmeasured else {"width_m": wide})
        for (name, line), wide in zip(ways.items(), (width_m, side_m), strict=True)
    ]
    for road in roads:
        road |= dict(roads_say or {})
    roads[1] |= dict(side_says or {})
    for road in roads:
        road["not_looked_at"] = (unseen or {}).get(road["id"])
    places: list[dict[str, Any]] = [
        {"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"},
        {"id": "far", "xy": (60.0, 0.0), "kind": "waiting"},
        {"id": "pick", "xy": (0.0, 60.0 * flip), "kind": "pick_point"},
    ]
    if stated_m is not None or stop:
        yard = {"id": "yard", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": stated_m}
        places.append(yard | ({"may_stop": True} if stop else {}))
    made = make_site(roads, places, header=HEADER, **site)
    return case_of(made, sheet(**(changes or {})), steering=steering)


def corner(turns: Turns, before: str, after: str, hand: float) -> int:
    """Give the row of the corner from one road into another, to one hand."""
    found = [
        row
        for row in range(len(turns.corners))
        if turns.name(row)[0] == f"{before} > {after}" and turns.corners.angle_rad[row] * hand > 0
    ]
    assert len(found) == 1
    return found[0]


def state_of(case: Case, travel: str = "forward", steering: str = "front") -> int:
    """Give the first state in one sense of travel and steering mode."""
    return next(n for n, s in enumerate(case.configurations.states) if (s[0], s[2]) == (travel, steering))


def answers(
    case: Case, *, hand: float = LEFT, before: str = "main", after: str = "side", **state: str
) -> tuple[TurnPart, ...]:
    """Give every rule's answer about one corner in one state."""
    turns = check_turns(case)
    row = corner(turns, before, after, hand)
    return turns.parts(np.array([row]), np.array([state_of(case, **state)]))


def room(case: Case, **where: Any) -> TurnPart:
    """Give the answer on room itself."""
    return answers(case, **where)[0]


def told(case: Case, **where: Any) -> tuple[Verdict, float]:
    """Give verdict and asked width of one corner."""
    part = room(case, **where)
    return Verdict(int(part.verdict[0, 0])), float(np.asarray(part.outcome.demand)[0, 0])


def outside(case: Case, **where: Any) -> float:
    """Give how far the swept area of one corner sticks out of what is free."""
    return float(np.asarray(room(case, **where).outcome.terms["outside_m"])[0, 0])


def worst_of_turn(case: Case, **where: Any) -> Verdict:
    """Give the worst answer of the rule about one corner, layers nobody looked at among them."""
    return Verdict(max(int(part.verdict[0, 0]) for part in answers(case, **where) if part.rule == "turn"))


def bend(width_m: float, *, backwards: bool = False, flip: float = 1.0) -> Case:
    """Give a trip over one road that turns through a right angle at a vertex, 40 m from its start."""
    line = [(-40.0, 0.0), (0.0, 0.0), (0.0, 40.0 * flip)]
    road = ROAD | {"id": "r", "xy": line[::-1] if backwards else line, "width_m": width_m}
    return case_of(make_site([road], header=HEADER), sheet())


def bend_told(case: Case, hand: float = LEFT, travel: str = "forward") -> tuple[Verdict, float]:
    """Give verdict and asked width of the only bend, driven to one hand."""
    turns = check_turns(case)
    assert len(turns.corners) == 2  # along and against
    row = next(row for row in range(2) if turns.corners.angle_rad[row] * hand > 0)
    assert turns.name(row) == ("r", "bend at 40 m")
    assert turns.corners.angle_rad[row] == pytest.approx(hand * math.pi / 2)
    part = turns.parts(np.array([row]), np.array([state_of(case, travel)]))[0]
    return Verdict(int(part.verdict[0, 0])), float(np.asarray(part.outcome.demand)[0, 0])
