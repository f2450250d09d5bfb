"""One trip: fold the rules, search twice, keep the cells of the way."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from travel.checks import Case, Fold, Turns, check_turns, corner_time_s, fold, lies_past, pace_mps, told_alike
from travel.domain.verdict import Verdict
from travel.routing import (
    Arrivals,
    Choice,
    Graph,
    Speeds,
    Step,
    Way,
    choose,
    corners_of,
    drivable_steps,
    find_way,
    lay_over,
    make_graph,
    nearest_reached,
    rates,
    steady_mps,
    too_close,
)

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class TripRequest:
    """From where to where, how the machine stands at the start, and what has been accepted.

    ``last``: the arrivals (edge, state) at the goal it may end with; None = any.
    """

    start: int
    goal: int
    from_place: str
    to_place: str
    came: Step | None = None
    accepted: frozenset[str] = frozenset()
    aim: str = "exposure"
    last: Arrivals | None = None


@dataclass(frozen=True, eq=False, kw_only=True)
class Cells:
    """The cells of a way in the order driven: piece, sense, configuration, and the step each belongs to."""

    piece: Ints
    sense: Ints
    config: Ints
    step: Ints

    def __len__(self) -> int:
        return len(self.piece)


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """A corner met on a way: its row among the trip's turns, the state it is driven in, and the step it belongs to."""

    row: int
    state: int
    step: int


@dataclass(frozen=True, eq=False, kw_only=True)
class Trip:
    """A solved trip. ``way`` None: none was found; then ``blocked_way`` is the least-blocked one, if any connects.

    ``drivable`` counts the steps of ``blocked_way`` before the first blocked link.
    """

    case: Case
    request: TripRequest
    folded: Fold
    choice: Choice
    graph: Graph
    turns: Turns
    way: Way | None
    blocked_way: Way | None
    drivable: int
    cells: Cells

    @property
    def prepared(self) -> Prepared:
        """What the trip was searched on."""
        return Prepared(case=self.case, folded=self.folded, choice=self.choice, turns=self.turns, graph=self.graph)

    @property
    def worst(self) -> Verdict:
        """The worst verdict on the way, corners included."""
        if self.way is None:
            return Verdict.BLOCKED
        if not len(self.cells):
            return Verdict.CLEAR
        return Verdict(max(int(self.cell_worst.max()), self.worst_corner))

    @cached_property
    def worst_corner(self) -> int:
        """The worst verdict of the corners of the way; one too close behind another is not known to be driven."""
        worst = max((int(self.turns.worst[corner.row, corner.state]) for corner in self.corners), default=0)
        accepts = self.graph.corners.accepts
        close = (Verdict.CAUTION if accepts(corner.row) else Verdict.UNKNOWN for corner in self.close)
        return max(worst, *(int(verdict) for verdict in close), 0)

    @cached_property
    def close(self) -> tuple[Corner, ...]:
        """The corners of the way that begin before the machine is in line behind the last one, in the order driven."""
        way = self.way or self.blocked_way
        found = too_close(self.graph, way.steps, self.request.came) if way else ()
        return tuple(Corner(row=row, state=state, step=step) for step, row, state, _ in found)

    @cached_property
    def corners(self) -> tuple[Corner, ...]:
        """The corners of the way, or of the least-blocked way where there is none, in the order driven."""
        return corners_met(self.graph, self.way or self.blocked_way, self.request.came)

    @property
    def cell_worst(self) -> NDArray[np.uint8]:
        """The verdict of every cell of the way."""
        way = (1 - self.cells.sense) // 2
        worst = np.array(self.folded.worst[self.cells.piece, way, self.cells.config])
        for first, stop, _ in self.long_reverses:
            worst[first:stop] = np.maximum(worst[first:stop], np.uint8(Verdict.CAUTION))
        for cell, _ in self.past_ends:
            worst[cell] = max(int(worst[cell]), int(Verdict.UNKNOWN))
        return worst

    @cached_property
    def past_ends(self) -> tuple[tuple[int, str], ...]:
        """What lies under the machine past the first and the last node of the way: the cell beside it, and its name."""
        if self.way is None or not self.way.steps:
            return ()
        ends = (0, self.way.steps[0].edge, False), (len(self.cells) - 1, self.way.steps[-1].edge, True)
        named = [(cell, lies_past(self.case, edge, int(self.cells.config[cell]), last)) for cell, edge, last in ends]
        return tuple((cell, name) for cell, name in named if name)

    @cached_property
    def long_reverses(self) -> tuple[tuple[int, int, float], ...]:
        """Stretches driven backwards at one go further than the rulebook's length: first cell, one past the last, m."""
        back = self.case.configurations.reverse[self.cells.config].astype(np.int8)
        edges = np.diff(np.r_[np.int8(0), back, np.int8(0)])
        at_m = np.r_[0.0, np.cumsum(self.case.survey.pieces.length_m[self.cells.piece])]
        most = self.case.scalar("reverse.length")
        spans = zip(np.flatnonzero(edges > 0).tolist(), np.flatnonzero(edges < 0).tolist(), strict=True)
        return tuple((a, b, float(at_m[b] - at_m[a])) for a, b in spans if not at_m[b] - at_m[a] <= most)

    @cached_property
    def speeds(self) -> Speeds:
        """Gaining and losing speed laid over the cells: standing at start, end and wherever something is changed."""
        length = self.case.survey.pieces.length_m[self.cells.piece]
        stands = np.zeros(len(length) + 1, dtype=bool)
        steps = self.way.steps if self.way else ()
        standing = [number for number, step in enumerate(steps) if step.before != "drive"]
        standing += [corner.step for corner in self.corners if self.turns.shunted[corner.row, corner.state]]
        stands[np.searchsorted(self.cells.step, standing)] = True
        steady = steady_mps(self.case, self.cell_cap_mps, self.case.configurations.top_mps[self.cells.config])
        return lay_over(length, steady, stands, *rates(self.case))

    @property
    def cell_time_s(self) -> NDArray[np.float64]:
        """Seconds on every cell, with gaining and losing speed."""
        return self.speeds.time_s

    @property
    def time_s(self) -> float:
        """Seconds of the whole trip: driving, gaining and losing speed, corners, standing changes, turning round."""
        if not len(self.cells):
            return 0.0
        steps = self.way.steps if self.way else ()
        changes = sum(step.old_state is not None and step.old_state != step.state for step in steps)
        standing = changes * self.case.scalar("hold.change_time")
        return float(self.cell_time_s.sum()) + standing + self.corners_time_s

    @cached_property
    def corners_time_s(self) -> float:
        """Seconds in the corners: in their arcs at the pace told there, and standing where they are shunted; those of
        turning round."""
        driven = zip(self.corners, self.paces_mps, strict=True) if self.way else ()
        return sum(corner_time_s(self.turns, corner.row, corner.state, pace) for corner, pace in driven)

    @cached_property
    def paces_mps(self) -> tuple[float, ...]:
        """The pace told with each corner of the way [m/s]."""
        return tuple(pace_mps(self.turns, corner.row, corner.state) for corner in self.corners)

    @property
    def cell_cap_mps(self) -> NDArray[np.float64]:
        """Top speed on every cell [m/s]."""
        way = (1 - self.cells.sense) // 2
        return np.asarray(self.folded.cap_mps[self.cells.piece, way, self.cells.config])


@dataclass(frozen=True, eq=False, kw_only=True)
class Prepared:
    """A case with its rules folded and its graph built: many searches share it."""

    case: Case
    folded: Fold
    choice: Choice
    turns: Turns
    graph: Graph


def prepare(
    case: Case,
    accepted: frozenset[str] = frozenset(),
    aim: str = "exposure",
    progress: Callable[[float], None] | None = None,
    before: Prepared | None = None,
) -> Prepared:
    """Fold the rules, choose the gears, build the graph.

    Args:
        case: machine, load, weather, hour, survey
        accepted: acceptance ids that count as caution
        aim: which way is best
        progress: called with the share of the folding done
        before: the trip before with the same acceptance ids and aim; where nothing is different it serves again
    """
    if before is not None and not accepted and case.but_for_trip(before.case) and told_alike(case, before.case):
        return replace(before, case=case)
    folded = fold(case, accepted, progress)
    choice = choose(case, folded)
    turns = check_turns(case, accepted)
    graph = make_graph(case, choice, aim, turns)
    return Prepared(case=case, folded=folded, choice=choice, turns=turns, graph=graph)


def search(prepared: Prepared, request: TripRequest, nearest: bool = True) -> Trip:
    """Find the way of one trip: first with blocked and unaccepted unknown shut, then with unknown passable.

    Args:
        prepared: the case with its graph
        request: from where to where
        nearest: whether the least-blocked way is looked for where there is none
    """
    graph, way = prepared.graph, None
    for worst in (Verdict.CAUTION, Verdict.UNKNOWN):
        way = find_way(graph, request.start, request.goal, worst, request.came, request.last)
        if way is not None:
            break
    blocked, drivable = None, 0
    if way is None and nearest:
        blocked, drivable = nearest_reached(graph, request.start, request.goal, request.came)
    return _trip(prepared, request, way, blocked, drivable)


def trips_found(
    prepared: Prepared, requests: Sequence[TripRequest], open_: Mapping[int, Way], blocked: Mapping[int, Way]
) -> tuple[Trip, ...]:
    """Give trips from one place that were searched all at once.

    Args:
        prepared: the case with its graph
        requests: from where to where, facing either way
        open_, blocked: by node the way there, or where there is none the least-blocked one, if any
    """
    trips = []
    for request in requests:
        way, least = open_.get(request.goal), blocked.get(request.goal)
        drivable = 0 if least is None else drivable_steps(prepared.graph, least, None)
        trips.append(_trip(prepared, request, way, least, drivable))
    return tuple(trips)


def _trip(prepared: Prepared, request: TripRequest, way: Way | None, blocked: Way | None, drivable: int) -> Trip:
    return Trip(
        case=prepared.case,
        request=request,
        folded=prepared.folded,
        choice=prepared.choice,
        graph=prepared.graph,
        turns=prepared.turns,
        way=way,
        blocked_way=blocked,
        drivable=drivable,
        cells=cells_of(prepared.case, prepared.choice, way.steps if way else ()),
    )


def solve(
    case: Case,
    request: TripRequest,
    progress: Callable[[float], None] | None = None,
    before: Trip | None = None,
    corners: Callable[[int], None] | None = None,
) -> Trip:
    """Prepare one trip and search it.

    Args:
        case: machine, load, weather, hour, survey
        request: from where to where
        progress: called with the share of the rules done
        before: the trip before it, with the same acceptance ids and aim
        corners: called with how many corners the search has looked at so far
    """
    prepared = prepare(case, request.accepted, request.aim, progress, before.prepared if before else None)
    looked = 0

    def told(count: int) -> None:
        nonlocal looked
        looked += count
        if corners is not None:
            corners(looked)

    costs = prepared.graph.corners
    before_it, costs.told = costs.told, told
    try:
        return search(prepared, request)
    finally:
        costs.told = before_it


def corners_met(graph: Graph, way: Way | None, came: Step | None) -> tuple[Corner, ...]:
    """Give the corners of a way in the order driven."""
    steps = way.steps if way else ()
    return tuple(Corner(row=row, state=state, step=step) for step, row, state in corners_of(graph, steps, came))


def cells_of(case: Case, choice: Choice, steps: tuple[Step, ...]) -> Cells:
    """Give the cells of some steps, in the order driven."""
    network = case.survey.network
    piece, sense, config, number = [], [], [], []
    for index, step in enumerate(steps):
        link, against = step.edge >> 1, step.edge & 1
        run = np.arange(int(network.link_piece_start[link]), int(network.link_piece_stop[link]))
        run = run[::-1] if against else run
        piece.append(run)
        sense.append(np.full(len(run), -1 if against else 1))
        config.append(choice.config[run, against, step.state])
        number.append(np.full(len(run), index))

    def joined(parts: list[Ints]) -> Ints:
        return np.concatenate(parts).astype(np.int64) if parts else np.empty(0, dtype=np.int64)

    return Cells(piece=joined(piece), sense=joined(sense), config=joined(config), step=joined(number))
