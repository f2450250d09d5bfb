"""Room to turn: what the machine sweeps in every corner of the network, in every state, against what is free there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from travel.checks.about import find_about
from travel.checks.case import Case
from travel.checks.circle import free_to_turn, stated_slopes
from travel.checks.lies_beside import barred, beside_points, beside_things, steep_nodes
from travel.checks.mover import Mover
from travel.checks.movers import movers
from travel.checks.other_roads import OtherRoads
from travel.checks.outcome import Verdicts
from travel.checks.registry import answers_trip
from travel.checks.shunt_ground import may_shunt, shunts_barred
from travel.checks.shunts import Shunt, find_shunt, stops_in
from travel.checks.strays import boxes_round, each_once, on_rows, run_over, strays
from travel.checks.sweep import swept_area
from travel.checks.turn_belly import belly_part
from travel.checks.turn_cut import Cuts, cuts
from travel.checks.turn_ids import as_accepted, corner_name
from travel.checks.turn_room import returning, room_left_m, room_part
from travel.checks.turn_rules import Asked, TurnPart, either, first_of, not_looked, one_way_there, turned
from travel.checks.turn_shoulder import Shoulders, shoulder_part, shoulders
from travel.domain.verdict import Verdict
from travel.survey.corners import Corners, find_corners

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Find = Callable[[Ints, Floats, Mover], Floats]

QUADRANT = 24

answers_trip("turn")


@dataclass(eq=False)
class Turns:
    """The corners of a site in every state of one trip, judged when they are asked for.

    ``worst`` over all rules, accepted unknowns as caution; it and ``unknowns`` (answers that are unknown), ``exposed``
    (a rule of high consequence is not clear) and ``shunted`` (driven in several moves) hold where ``judged`` does, by
    corner and state. ``from_sides``: wheels keep from soft sides of the roads. ``arc_m``: length of the tightest arc
    through the corner, known for all; ``paces_mps``: the paces told so far, by corner and state. Turning round is a
    corner that returns: in one go where the place is free as far as the machine's outer circle, else in several moves,
    or not at all.
    """

    case: Case
    accepted: frozenset[str] = frozenset()
    from_sides: bool = True
    corners: Corners = field(init=False)
    arc_m: Floats = field(init=False)
    judged: Bools = field(init=False)
    worst: Verdicts = field(init=False)
    unknowns: NDArray[np.uint8] = field(init=False)
    exposed: Bools = field(init=False)
    shunted: Bools = field(init=False)

    paces_mps: dict[tuple[int, int], float] = field(init=False, default_factory=dict)
    _close: dict[Mover, dict[tuple[int, float], float]] = field(init=False, default_factory=dict)
    _free: dict[int, list[bool]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        case = self.case
        self.corners = find_corners(case.survey)
        states, count = case.configurations.states, len(self.corners)
        least = {mode: mover.least_radius_m for mode, mover in movers(case).items()}
        radius = np.array([least.get(state[2], 0.0) for state in states])
        self.arc_m = np.abs(self.corners.angle_rad)[:, None] * radius
        self.judged = np.zeros((count, len(states)), dtype=bool)
        self.worst = np.zeros((count, len(states)), dtype=np.uint8)
        self.unknowns = np.zeros((count, len(states)), dtype=np.uint8)
        self.exposed = np.zeros((count, len(states)), dtype=bool)
        self.shunted = np.zeros((count, len(states)), dtype=bool)

    @cached_property
    def circle(self) -> Bools:
        """Where the machine turns round in one go, by corner and state."""
        out = np.zeros(self.worst.shape, dtype=bool)
        rows = np.flatnonzero(self.corners.returns)
        if len(rows):
            out[rows] = np.array(self.free_to_turn, dtype=bool)[self.corners.node[rows]]
        return out

    @cached_property
    def free_to_turn(self) -> list[list[bool]]:
        """Where there is room to turn round in one go, node by state."""
        return free_to_turn(self.case)

    def judge(self, rows: Ints, states: Ints | None = None) -> None:
        """Judge some corners in some states (all), once."""
        states = np.arange(self.worst.shape[1]) if states is None else states
        rows = rows[~self.judged[np.ix_(rows, states)].all(axis=1)]
        if not len(rows):
            return
        cells = np.ix_(rows, states)
        shape = (len(rows), len(states))
        worst, unknowns = np.zeros(shape, dtype=np.uint8), np.zeros(shape, dtype=np.uint8)
        for part in self._parts(rows, states, whole=bool(self.accepted)):
            verdict = as_accepted(self.case, self.corners, rows, part, self.accepted)
            worst = np.maximum(worst, verdict)
            unknowns += verdict == Verdict.UNKNOWN
            if self.case.rulebook.rules[part.rule].high_consequence:
                self.exposed[cells] |= verdict >= Verdict.CAUTION
        self.worst[cells], self.unknowns[cells], self.judged[cells] = worst, unknowns, True

    def parts(self, rows: Ints, states: Ints) -> tuple[TurnPart, ...]:
        """Give every rule's answer about some corners in some states."""
        return self._parts(rows, states, whole=True)

    def _parts(self, rows: Ints, states: Ints, whole: bool) -> tuple[TurnPart, ...]:
        """Give the same. What is in the way is left out, unless ``whole``, where the room alone is not known: it makes
        that no worse."""
        asked, room, shunted, wheels = self._asked(rows, states, whole)
        return (
            room,
            *not_looked(asked),
            *shoulder_part(asked, self.sides.at(rows), np.where(shunted, np.nan, wheels)),
            *belly_part(asked),
            *turned(replace(asked, shunted=shunted, stated_ratio=self.stated_ratio(rows, states))),
        )

    def stated_ratio(self, rows: Ints, states: Ints) -> Floats:
        """Give the slope the site states where the machine turns round in one go, NaN elsewhere."""
        if not self.corners.returns[rows].any():
            return np.full((len(rows), len(states)), np.nan)
        known = np.where(self.corners.returns[rows], self._slope_ratio[self.corners.node[rows]], np.nan)
        return np.where(self._circle_at(rows, states), known[:, None], np.nan)

    def _circle_at(self, rows: Ints, states: Ints) -> Bools:
        """Tell where the machine turns round in one go at some corners; looked into only where there are such."""
        out, returns = np.zeros((len(rows), len(states)), dtype=bool), np.flatnonzero(self.corners.returns[rows])
        nodes = self.corners.node[rows[returns]].tolist()
        new = frozenset(nodes) - self._free.keys()
        if new:
            found = self.free_to_turn if "free_to_turn" in vars(self) else free_to_turn(self.case, nodes=new)
            self._free.update((node, found[node]) for node in new)
        for number, node in zip(returns.tolist(), nodes, strict=True):
            out[number] = np.array(self._free[node], dtype=bool)[states]
        return out

    @cached_property
    def _slope_ratio(self) -> Floats:
        return stated_slopes(self.case)

    def one_go_left_m(self, rows: Ints, states: Ints, *, every: bool) -> Floats:
        """Give how much more road there is at some corners than a turn in one go in some states asks for; −∞ where it
        is not known to pass (rows, states) [m]. What else may be in the way is asked in ``every`` state, or of each
        corner until most is left where nothing is: then the other states may tell too much, but no more than that."""
        asked = Asked(case=self.case, corners=self.corners, rows=rows, states=states)
        left, done = room_left_m(room_part(asked, self.swept(rows, states)[0], {})), np.zeros(asked.shape, dtype=bool)
        for part in not_looked(asked):
            left[part.outcome.applies] = -np.inf
        while (todo := (left >= 0.0) & ~done & (every | (left == left.max(axis=1, keepdims=True)))).any():
            for lies in self._lying(rows, states, todo).values():
                left[lies & todo] = -np.inf
            done |= todo
        return left

    def in_moves_left_m(self, rows: Ints, state: int) -> Floats:
        """Give the same in one state in several moves, whatever one go does there, by row [m]."""
        asked = Asked(case=self.case, corners=self.corners, rows=rows, states=np.array([state]))
        wanted = np.ones(asked.shape, dtype=bool)
        moves, done = self._in_moves(
            asked, self.sides.at(rows), room_part(asked, np.full(asked.shape, np.inf), {}), wanted
        )
        left = np.where(done, room_left_m(moves), -np.inf)
        for part in not_looked(asked):
            left[part.outcome.applies] = -np.inf
        return left[:, 0]

    def _lying(self, rows: Ints, states: Ints, where: Bools) -> dict[str, Bools]:
        """Give, by what is in the way of one go besides the room, where it is, at some of the corners and states."""
        some = np.flatnonzero(where.any(axis=1))
        if not len(some):
            return {}
        at, asked = (rows[some], states), where[some]
        lies = barred(self.case, self.corners, at, self._one_go, asked & self._beside(*at))
        strays = np.where(asked, self._strays(*at), 0.0)
        lies |= run_over(self.others, at, strays, first_of(self.case, states), self._one_go)
        return {name: on_rows(here, some, len(rows)) for name, here in lies.items()}

    def _asked(self, rows: Ints, states: Ints, whole: bool) -> tuple[Asked, TurnPart, Bools, Floats]:
        asked = Asked(case=self.case, corners=self.corners, rows=rows, states=states)
        outside = self.swept(rows, states)[0]
        room = room_part(asked, outside, {})
        room = room_part(asked, outside, self._lying(rows, states, whole | (room.verdict != Verdict.UNKNOWN)))
        circle = self._circle_at(rows, states)
        room = returning(asked, room, circle)
        wheels, sides = self._wheels(rows, states), self.sides.at(rows)
        soft = [part.verdict >= Verdict.UNKNOWN for part in shoulder_part(asked, sides, wheels)]
        room, shunted = self._in_moves(
            asked, sides, room, np.logical_or.reduce([room.verdict >= Verdict.UNKNOWN, *soft])
        )
        self.shunted[np.ix_(rows, states)] = shunted
        return asked, room, shunted, wheels

    def _in_moves(self, asked: Asked, sides: Shoulders, room: TurnPart, wanted: Bools) -> tuple[TurnPart, Bools]:
        """Take those corners in several moves that one go is not known to do, and moves are, where one may stand."""
        rows, states = asked.rows, asked.states
        tried = wanted & self._may_shunt[np.ix_(rows, states)]
        outside = np.full(asked.shape, np.inf)
        for number, column in np.argwhere(tried).tolist():
            shunt = self._shunt(int(rows[number]), int(states[column]))
            outside[number, column] = np.inf if shunt is None else shunt.outside_m
        moves = room_part(asked, outside, {}, shunted=np.isfinite(outside))
        sure = self.case.survey.tolerance.width_m / 2.0
        done = (outside <= np.where(sides.keep_m > 0.0, -sides.keep_m - sure, np.inf)[:, None]) & np.isfinite(outside)
        done &= (moves.verdict <= Verdict.CAUTION) & ~one_way_there(asked)[:, None]
        if done.any():
            done &= ~shunts_barred(self.others, asked, done, self._shunt, self._nothing_within_m)
        return (either(done, moves, room), done) if done.any() else (room, done)

    @cached_property
    def others(self) -> OtherRoads:
        """The roads about the corners."""
        return OtherRoads(self.case, self.corners)

    def _by_corner(self, at: tuple[Ints, Ints], wanted: Bools, find: Find) -> Floats:
        """Give a number of what one go sweeps at some corners in some states; NaN where it is not wanted."""
        (rows, states), found = at, movers(self.case)
        out, cut = np.full((len(rows), len(states)), np.nan), self.swept(rows, states)[1]
        for number, state in enumerate(states.tolist()):
            travel, _, steering, _ = self.case.configurations.states[state]
            some = np.flatnonzero(~np.isnan(cut[:, number]) & wanted)
            if steering in found and len(some):
                one = self.corners.mirror[rows[some]] if travel == "reverse" else rows[some]
                out[some, number] = find(one, cut[some, number], found[steering])
        return out

    def _strays(self, rows: Ints, states: Ints) -> Floats:
        """Give how far one go may sweep anything beyond both roads of a corner and the mouth of its junction [m]."""

        def find(rows: Ints, cut_m: Floats, mover: Mover) -> Floats:
            def new(todo: Ints) -> Floats:
                mouth = np.array([self.others.about.mouth_m(row) for row in rows[todo].tolist()])
                return strays(self.corners, rows[todo], cut_m[todo], mover, mouth)

            return each_once(self.case.survey.kept(("strays", mover), dict), rows, cut_m, new)

        return np.nan_to_num(self._by_corner((rows, states), np.ones(len(rows), dtype=bool), find))

    def _wheels(self, rows: Ints, states: Ints) -> Floats:
        """Give how far the wheels stick out of the room in one go, where a side has to be kept from; else NaN."""

        def find(rows: Ints, _: Floats, mover: Mover) -> Floats:
            return self._cuts(mover, rows).wheels_m[rows]

        return self._by_corner((rows, states), self.sides.keep_m[rows] > 0.0, find)

    @cached_property
    def sides(self) -> Shoulders:
        """What is kept from the sides of the roads at every corner."""
        return shoulders(self.case, self.corners, self.from_sides)

    def _cuts(self, mover: Mover, rows: Ints) -> Cuts:
        return cuts(self.case, self.corners, mover, rows, self.sides)

    @cached_property
    def _may_shunt(self) -> Bools:
        return may_shunt(self.case, self.corners)

    def _shunt(self, row: int, state: int) -> Shunt | None:
        """Give the best way in moves; in reverse that of the mirrored corner."""
        travel, _, steering, _ = self.case.configurations.states[state]
        mover = movers(self.case)[steering]
        enough = self.case.scalar("turn.margin") + self.case.survey.tolerance.plan_m / 2.0
        one = int(self.corners.mirror[row]) if travel == "reverse" else row
        kept: dict[int, Shunt | None] = self.case.survey.kept(("shunts", mover, enough), dict)
        if one not in kept:
            find = find_about if self.corners.returns[one] else find_shunt
            kept[one] = find(self.corners, one, mover, enough)
        return kept[one]

    def shunt(self, row: int, state: int) -> Shunt | None:
        """Give how a corner that was judged is driven in several moves; None where it is driven in one go."""
        return self._shunt(row, state) if self.shunted[row, state] else None

    def driven(self, row: int, state: int) -> tuple[float, int, float]:
        """Give the length driven in a corner [m], how often the direction is changed in it, and what goes back [m]."""
        shunt = self.shunt(row, state)
        if shunt is None:
            return float(self.arc_m[row, state]), 0, 0.0
        reverse = self.case.configurations.states[state][0] == "reverse"
        length = max(shunt.length_m, float(self.arc_m[row, state]))
        return length, stops_in(shunt.moves), shunt.back_m(reverse)

    def time_s(self, row: int, state: int) -> float:
        """Give the seconds a corner takes: at the speed of turning, and standing at every change of direction."""
        if self.corners.returns[row] and self.circle[row, state]:
            return self.case.scalar("turn.round_time")
        length, stops, _ = self.driven(row, state)
        return length / self.case.scalar("turn.speed") + stops * self.case.scalar("turn.shunt_time")

    @cached_property
    def _nothing_within_m(self) -> Floats:
        """How far from every corner nothing would bar in what is swept there; 0 where the ground itself does [m]."""
        free = beside_points(self.case, self.corners.x_m, self.corners.y_m)
        return np.where(np.isin(self.corners.node, steep_nodes(self.case)), 0.0, free)

    @cached_property
    def _things(self) -> tuple[NDArray[np.object_], Floats]:
        """What would bar where it is swept, and how far from each thing it does [m]."""
        things = beside_things(self.case)
        plans = np.array([plan for plan, _ in things], dtype=object)
        return plans, np.array([keep for _, keep in things], dtype=np.float64)

    def _beside(self, rows: Ints, states: Ints) -> Bools:
        """Tell where anything that would bar may lie in what one go sweeps, (rows, states)."""
        near = self._nothing_within_m[rows][:, None] <= self._reach_m(rows, states)

        def find(rows: Ints, cut_m: Floats, mover: Mover) -> Floats:
            def new(todo: Ints) -> Floats:
                boxes, out = boxes_round(self.corners, rows[todo], cut_m[todo], mover), np.zeros(len(todo))
                plans, keep_m = self._things
                out[shapely.STRtree(boxes).query(plans, predicate="dwithin", distance=keep_m)[1]] = 1.0
                return out

            return each_once(self._close.setdefault(mover, {}), rows, cut_m, new)

        asked = near.any(axis=1) & (self._nothing_within_m[rows] > 0.0)  # a slope bars wherever anything is swept
        return np.asarray(near & (self._by_corner((rows, states), asked, find) != 0.0))

    def _reach_m(self, rows: Ints, states: Ints) -> Floats:
        """Give how far from some corners anything lies that one go sweeps; −∞ where there is none [m]."""
        out, found = self.swept(rows, states)[1], movers(self.case)
        for number, state in enumerate(states.tolist()):
            mover = found.get(self.case.configurations.states[state][2])
            out[:, number] += 0.0 if mover is None else mover.swept_m
        return np.nan_to_num(out, nan=-np.inf)

    def swept(self, rows: Ints, states: Ints) -> tuple[Floats, Floats]:
        """Give how far the swept area sticks out, and where its arcs begin; in reverse as the way back."""
        names, found = self.case.configurations.states, movers(self.case)
        shape = len(rows), len(states)
        outside, cut, returns = np.full(shape, -np.inf), np.full(shape, np.nan), self.corners.returns[rows]
        driven = [(names[state][2], names[state][0] == "reverse") for state in states.tolist()]
        for steering in dict.fromkeys(mode for mode, _ in driven if mode in found):
            ways = {back: self.corners.mirror[rows] if back else rows for mode, back in driven if mode == steering}
            kept = self._cuts(found[steering], np.concatenate([way[~returns] for way in ways.values()]))
            for number, (mode, back) in enumerate(driven):
                if mode == steering:
                    outside[:, number] = np.where(returns, np.inf, kept.outside_m[ways[back]])
                    cut[:, number] = np.where(returns, np.nan, kept.cut_m[ways[back]])
        return outside, cut

    def name(self, row: int) -> tuple[str, str]:
        """Give a corner's roads and its place (or where it lies) as words."""
        return corner_name(self.case, self.corners, row)

    def area(self, row: int, state: int) -> BaseGeometry | None:
        """Give the area swept in a corner in a state, turning round in one go the circle; None where no cut can be
        driven, or the machine does not turn."""
        shunt = self.shunt(row, state)
        if shunt is not None:
            return shunt.area(movers(self.case)[self.case.configurations.states[state][2]])
        if self.corners.returns[row]:
            radius = self.case.outer_radius_m.get(self.case.configurations.states[state][2], np.inf)
            middle = shapely.Point(self.corners.x_m[row], self.corners.y_m[row])
            return middle.buffer(radius, QUADRANT) if np.isfinite(radius) else None
        return self._one_go(row, state)

    def _one_go(self, row: int, state: int) -> BaseGeometry | None:
        travel, _, steering, _ = self.case.configurations.states[state]
        mover = movers(self.case).get(steering)
        cut = float(self.swept(np.array([row]), np.array([state]))[1][0, 0])
        if mover is None or np.isnan(cut):
            return None
        one = int(self.corners.mirror[row]) if travel == "reverse" else row
        kept: dict[tuple[int, float], BaseGeometry] = self.case.survey.kept(("areas", mover), dict)
        if (one, cut) not in kept:
            kept[one, cut] = swept_area(self.corners, one, mover, cut)
        return kept[one, cut]


def check_turns(case: Case, accepted: frozenset[str] = frozenset(), from_sides: bool = True) -> Turns:
    """Give the corners of the site for one trip; each is judged when it is first asked for.

    Args:
        case: the trip
        accepted: acceptance ids; an acceptable unknown with such an id counts as caution
        from_sides: whether wheels keep from soft sides of the roads; without, corners are cut for the room alone
    """
    return Turns(case, accepted, from_sides)
