"""Room to turn: every verdict once by numbers worked out by hand, what nobody knows, and what must only get worse.

The builders' machine in front steer: wheelbase 3.2 m, front end 1.6 m ahead of the front axle, rear end 4.6 m behind
it, 2.4 m wide, lock 30 degrees; its front axle cannot turn tighter than 3.2 / sin 30 = 6.4 m. Between straight roads
at a right angle the arc that begins c metres from the corner has the radius c; the shortest on the ladder that the
lock allows is 7 m. Bands of the site: plan 0.1 m. Margin 0.1 m a side, caution 0.25 m of road width.

With the arc's middle 7 m from both roads, the body's inner side comes nearest to it at the rear axle. Steady, that
is r = sqrt(7^2 - 3.2^2) - 1.2 = 6.226 - 1.2 = 5.026 m; a rear axle that had not begun to cut in would give 5.8 m. On
the line that halves the corner a point r from the arc's middle lies 7 - r / sqrt 2 from both roads: 3.45 m and 2.90 m.
A quarter turn ends nearly steady: the sweep gives 3.37 m. The road that leaves the margin is then
2 (3.37 + 0.1) = 6.94 m wide, whatever its width is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from tests.memory_site import make_site
from tests.planning import case_of, sheet
from travel.checks import Case, check_turns
from travel.checks.turns import TurnPart, Turns
from travel.domain.verdict import Verdict

CLEAR, CAUTION, UNKNOWN, BLOCKED = Verdict.CLEAR, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED
ROAD: dict[str, Any] = {"surface": "compacted_gravel", "grade_pct": 0.0, "cross_slope_pct": 0.0, "roughness_m": 0.0}
HEADER = {"tolerance": {"plan_m": 0.1}}
NEED_M = 6.94
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
    **site: Any,
) -> Case:
    """Give a trip over a road along x and one that leaves it at x = 0 to the left (``flip`` -1: to the right).

    ``unmeasured`` roads have no width; ``backwards`` has both roads drawn the other way in their file.
    """
    side_m = width_m if side_m is None else side_m
    ways = {"main": [(-60.0, 0.0), (60.0, 0.0)], "side": [(0.0, 0.0), (0.0, 60.0 * flip)]}
    roads = [
        ROAD | {"id": name, "xy": line[::-1] if backwards else line} | ({} if name in unmeasured else {"width_m": wide})
        for (name, line), wide in zip(ways.items(), (width_m, side_m), strict=True)
    ]
    places: list[dict[str, Any]] = [{"id": "gate", "xy": (-60.0, 0.0), "kind": "gate"}, {"id": "far", "xy": (60.0, 0.0), "kind": "waiting"},
              {"id": "pick", "xy": (0.0, 60.0 * flip), "kind": "pick_point"}]  # fmt: skip
    if stated_m is not None:
        places.append({"id": "yard", "xy": (0.0, 0.0), "kind": "junction", "turn_radius_m": stated_m})
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


# --- verdicts ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("width_m", "stated_m", "expected"),
    [
        (7.40, None, CLEAR),  # 7.40 - 6.94 - 0.10 = 0.36 of 0.25
        (7.15, None, CAUTION),  # 0.11
        (6.95, None, UNKNOWN),  # 0.01 left, band 0.10
        (6.70, None, UNKNOWN),  # 0.24 short: beyond the roads, where nobody said what is there
        (6.70, 3.0, BLOCKED),  # 0.24 short, more than the band; the ground stated is no wider than the road
        (5.00, 3.0, BLOCKED),
        (6.95, 3.0, UNKNOWN),  # stated, but within the band
        (7.15, 3.0, CAUTION),
        (7.40, 3.0, CLEAR),
    ],
)
def test_each_verdict(width_m: float, stated_m: float | None, expected: Verdict) -> None:
    verdict, need_m = told(junction(width_m, stated_m=stated_m))
    assert verdict == expected
    assert need_m == pytest.approx(NEED_M, abs=0.02)


def test_unknown_names_what_would_settle_it() -> None:
    part = room(junction(6.7))
    assert [name for name, where in part.outcome.missing.items() if where.any()] == ["turn_radius_m"]
    part = room(junction(6.7, stated_m=3.0))
    assert not any(where.any() for where in part.outcome.missing.values())


def test_stated_ground_wide_enough_to_turn_round_is_clear() -> None:
    """Outer front corner at full lock: R = 3.2 / tan 30 = 5.543 m; sqrt((5.543 + 1.2)^2 + 4.8^2) = 8.277 m.

    A stated radius of 9 m leaves 0.723 m beyond it: a 5 m road would be asked for 5 + 2 (0.1 - 0.723) = 3.75 m or less.
    """
    verdict, need_m = told(junction(5.0, stated_m=9.0))
    assert verdict == CLEAR
    assert need_m <= 5.0 + 2.0 * (0.1 - (9.0 - math.hypot(5.543 + 1.2, 4.8))) + 1e-3


# --- what nobody knows ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unmeasured", [("main",), ("side",), ("main", "side")])
def test_a_road_without_width_is_unknown(unmeasured: tuple[str, ...]) -> None:
    part = room(junction(8.0, stated_m=9.0, unmeasured=unmeasured))
    assert Verdict(int(part.verdict[0, 0])) == UNKNOWN
    assert part.outcome.missing["width_m"].all()


@pytest.mark.parametrize("layer", ["roads", "obstacles", "edges"])
def test_a_layer_nobody_looked_at_is_unknown(layer: str) -> None:
    case = junction(8.0, surveyed=[name for name in ("roads", "places", "obstacles", "edges") if name != layer])
    assert Verdict(int(room(case).verdict[0, 0])) == CLEAR  # the room itself
    assert [part.not_looked for part in answers(case) if part.not_looked] == [layer]
    assert worst_of_turn(case) == UNKNOWN


def test_all_layers_looked_at_is_clear() -> None:
    assert worst_of_turn(junction(8.0, surveyed=["roads", "places", "obstacles", "edges"])) == CLEAR


# --- obstacles and edges ----------------------------------------------------------------------------------------


def post(x: float, y: float) -> list[dict[str, Any]]:
    """Give a thing 0.2 m square round a point."""
    return [{"id": "post", "polygon": [(x - 0.1, y - 0.1), (x + 0.1, y - 0.1), (x + 0.1, y + 0.1), (x - 0.1, y + 0.1)],
             "height_m": 2.0}]  # fmt: skip


def test_an_obstacle_where_the_machine_passes_is_blocked() -> None:
    """On the arc itself: its middle is at (-7, 7), a point of it at (-7 + 7 sin 45, 7 - 7 cos 45) = (-2.05, 2.05)."""
    case = junction(8.0, stated_m=3.0, obstacles=post(-2.05, 2.05))
    assert worst_of_turn(case) == BLOCKED
    assert worst_of_turn(junction(8.0, obstacles=post(-2.05, 2.05))) != CLEAR


def test_an_edge_where_the_machine_passes_is_not_clear() -> None:
    crest = [{"id": "pit", "xy": [(-3.0, 3.0), (-2.0, 2.0)], "kind": "excavation", "depth_m": 2.0}]
    assert worst_of_turn(junction(8.0, edges=crest)) != CLEAR


def test_an_obstacle_the_machine_does_not_come_near_changes_nothing() -> None:
    assert told(junction(8.0, obstacles=post(20.0, 20.0))) == told(junction(8.0))


# --- monotone ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("stated_m", [None, 2.0])
def test_a_wider_road_is_never_worse(stated_m: float | None) -> None:
    cases = [junction(width, stated_m=stated_m) for width in (3.0, 4.0, 5.0, 6.0, 6.5, 7.0, 7.2, 7.5, 9.0)]
    verdicts = [told(case)[0] for case in cases]
    assert verdicts == sorted(verdicts, reverse=True)
    assert verdicts[0] > verdicts[-1]
    sticks_out = [outside(case) for case in cases]
    assert sticks_out == sorted(sticks_out, reverse=True)
