"""Room to turn: what the machine sweeps in every corner of the network, in every state, against what is free there."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.fold import acceptance_id
from travel.checks.outcome import Outcome, Verdicts, judge
from travel.checks.registry import answers_trip, parts
from travel.checks.rows import Rows
from travel.checks.sweep import Mover, Swept, sweep
from travel.checks.turned import TurnedRows
from travel.domain.verdict import Verdict
from travel.survey.corners import Corners, find_corners

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SHARES = (1 / 3, 2 / 3)
"""Parts of the change of heading at which standing and sliding are looked at again; the ends are the roads' own."""
TURNED = ("tip", "slide")
LAYERS = ("roads", "obstacles", "edges")

answers_trip("turn")


@dataclass(frozen=True, eq=False, kw_only=True)
class TurnPart:
    """One rule's answer over corners × states: ``outcome`` columns are (n, states)."""

    rule: str
    outcome: Outcome
    verdict: Verdicts
    not_looked: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class Turns:
    """Every corner in every state. ``worst`` over all rules, accepted unknowns as caution; ``row`` of a pair of edges.

    ``arc_m`` is the length driven in the arcs; ``cut_m`` how far from the corner they begin.
    """

    case: Case
    corners: Corners
    mirror: Ints
    parts: tuple[TurnPart, ...]
    worst: Verdicts
    arc_m: Floats
    radius_m: Floats
    cut_m: Floats

    @cached_property
    def by_pair(self) -> Mapping[tuple[int, int], int]:
        """Row of each pair of edges that meet at a node."""
        found = self.corners
        at_node = np.flatnonzero(np.isnan(found.at_m)).tolist()
        return {(int(found.edge_in[row]), int(found.edge_out[row])): row for row in at_node}

    @cached_property
    def by_edge(self) -> Mapping[int, tuple[int, ...]]:
        """Rows of the bends on each edge."""
        out: dict[int, tuple[int, ...]] = {}
        for row in np.flatnonzero(~np.isnan(self.corners.at_m)).tolist():
            edge = int(self.corners.edge_in[row])
            out[edge] = (*out.get(edge, ()), row)
        return out

    def name(self, row: int) -> tuple[str, str]:
        """Give a corner's roads and its place (or where it lies) as words."""
        return corner_name(self.case, self.corners, row)

    def area_row(self, row: int, state: int) -> tuple[int, Mover]:
        """Give the corner and the machine whose forward turn sweeps the area of a turn in a state."""
        travel, _, steering, _ = self.case.configurations.states[state]
        return int(self.mirror[row]) if travel == "reverse" else row, movers(self.case)[steering]


def movers(case: Case) -> dict[str, Mover]:
    """Give the machine by steering mode, crab left out: it does not turn."""
    return {
        mode: Mover(
            trail_m=base,
            front_x_m=case.body.front_x_m,
            rear_x_m=case.body.rear_x_m,
            width_m=case.body.width_m,
            least_radius_m=base / math.sin(lock),
        )
        for mode, (base, lock) in _trailing(case).items()
    }


def _trailing(case: Case) -> dict[str, tuple[float, float]]:
    """Give, by mode, how far behind the front axle the point lies that trails it, and the lock."""
    base = case.body.wheelbase_m
    return {
        mode.mode: (base if mode.mode == "front" else base / 2.0, math.radians(mode.lock_deg))
        for mode in case.machine.steering
        if mode.mode != "crab" and mode.mode in case.configurations.steering
    }


def check_turns(case: Case, accepted: frozenset[str] = frozenset()) -> Turns:
    """Judge every corner of the site in every state of the search.

    Args:
        case: the trip
        accepted: acceptance ids; an acceptable unknown with such an id counts as caution
    """
    corners = find_corners(case.survey)
    mirror = _mirror(corners)
    states = case.configurations.states
    swept = {mode: _swept(case, corners, mover) for mode, mover in movers(case).items()}
    columns = [_state(swept.get(state[2]), mirror if state[0] == "reverse" else None, len(corners)) for state in states]
    outside, cut, radius = (np.stack(list(group), axis=1) for group in zip(*columns, strict=True))
    room = _room_part(case, corners, outside)
    found = (room, *_not_looked(case, corners), *_turned(case, corners))
    worst = np.zeros((len(corners), len(states)), dtype=np.uint8)
    for part in found:
        worst = np.maximum(worst, _accepted(case, corners, part, accepted))
    angle = np.abs(corners.angle_rad)[:, None]
    arc = np.where(np.isfinite(radius), radius * angle, case.body.length_m)
    return Turns(
        case=case, corners=corners, mirror=mirror, parts=found, worst=worst, arc_m=arc, radius_m=radius, cut_m=cut
    )


def _swept(case: Case, corners: Corners, mover: Mover) -> Swept:
    enough = case.scalar("turn.margin") + (case.survey.tolerance.plan_m + case.scalar("turn.caution")) / 2.0
    made: Swept = case.survey.kept(
        ("sweep", mover, enough), lambda: sweep(corners, np.arange(len(corners)), mover, enough)
    )
    return made


def _state(swept: Swept | None, mirror: Ints | None, count: int) -> tuple[Floats, Floats, Floats]:
    """Give one state's columns; in reverse the turn is that of the way back, driven the other way round."""
    if swept is None:
        return np.full(count, -np.inf), np.full(count, np.nan), np.full(count, np.nan)
    rows = np.arange(count) if mirror is None else mirror
    return swept.outside_m[rows], swept.cut_m[rows], swept.radius_m[rows]


def _mirror(corners: Corners) -> Ints:
    keys = {
        (int(a), int(b), float(s)): row
        for row, (a, b, s) in enumerate(
            zip(corners.edge_in, corners.edge_out, np.nan_to_num(corners.at_m, nan=-1.0), strict=True)
        )
    }
    return np.array([keys[b ^ 1, a ^ 1, s] for a, b, s in keys], dtype=np.int64)


def _room_part(case: Case, corners: Corners, outside: Floats) -> TurnPart:
    """Width of road the turn asks for, against the narrower road: twice as much more as the area sticks out."""
    road = corners.road_m[:, None]
    beyond = np.minimum(outside, _on_a_circle(case, corners))
    crab = np.array([state[2] == "crab" for state in case.configurations.states])
    beyond = np.where(crab, -road / 2.0, beyond)
    load = {name: np.ones(outside.shape, dtype=bool) for name in case.body.load_lacks}
    outcome = Outcome(
        demand=road + 2.0 * (beyond + case.scalar("turn.margin")),
        capacity=np.broadcast_to(road, outside.shape),
        tolerance=case.survey.tolerance.plan_m,
        caution=case.scalar("turn.caution"),
        applies=np.broadcast_to(~crab, outside.shape),
        missing={"width_m": np.broadcast_to(np.isnan(road), outside.shape), **load},
        terms={},
        limit_source="site",
    )
    return TurnPart(rule="turn", outcome=outcome, verdict=judge(outcome))


def _on_a_circle(case: Case, corners: Corners) -> Floats:
    """Give how far the outer corner sticks out of the circle free to turn on there, or of the road's own width."""
    free = np.zeros(len(corners))
    network, places = case.survey.network, case.survey.site.layers["places"]
    radius = places.number("turn_radius_m")
    for node, ids in network.node_places.items():
        widest = max((radius[places.index(i)] for i in ids), key=lambda r: -np.inf if np.isnan(r) else r)
        free[corners.node == node] = np.nan_to_num(widest)
    need = np.array([case.outer_radius_m.get(state[2], np.inf) for state in case.configurations.states])
    return np.asarray(need - np.fmax(free, corners.road_m / 2.0)[:, None])


def _not_looked(case: Case, corners: Corners) -> Iterator[TurnPart]:
    """A layer nobody looked at on either road makes the turn unknown."""
    starts = np.asarray(case.survey.network.link_piece_start)
    shape = (len(corners), len(case.configurations.states))
    for layer in LAYERS:
        lacking = np.logical_or.reduceat(~case.survey.looked_at(layer), starts)
        here = lacking[corners.edge_in >> 1] | lacking[corners.edge_out >> 1]
        if here.any():
            where = np.broadcast_to(here[:, None], shape)
            outcome = Outcome(applies=where, missing={f"surveyed.{layer}": where})
            yield TurnPart(rule="turn", outcome=outcome, verdict=judge(outcome), not_looked=layer)


def _turned(case: Case, corners: Corners) -> Iterator[TurnPart]:
    """Standing upright and sliding again, on the ground of both roads, at headings between theirs."""
    states = case.configurations.states
    if not len(corners):
        return
    slowest = [int(np.flatnonzero(case.configurations.state == state)[0]) for state in range(len(states))]
    network = case.survey.network
    last, first = np.asarray(network.link_piece_stop) - 1, np.asarray(network.link_piece_start)
    bend = ~np.isnan(corners.at_m)
    ends = []
    for edge, heads, sign in ((corners.edge_in, True, 1.0), (corners.edge_out, False, -1.0)):
        against = (edge & 1) == 1
        piece = np.where(against == heads, first[edge >> 1], last[edge >> 1])
        piece = np.where(bend, _piece_at(case, corners), piece)
        ends += [(piece, np.where(against, -1, 1), sign * share * corners.angle_rad) for share in SHARES]
    piece, drawn, heading = (np.stack(group) for group in zip(*ends, strict=True))
    shape = (*piece.shape, len(states))
    config = np.broadcast_to(np.array(slowest), shape).ravel()

    def flat(values: NDArray[np.generic]) -> NDArray[np.generic]:
        return np.broadcast_to(values[..., None], shape).ravel()

    rows = TurnedRows(
        case=case,
        piece=flat(piece),  # type: ignore[arg-type]
        sense=np.ones(config.shape, dtype=np.int64),
        config=config,
        drawn=flat(drawn),  # type: ignore[arg-type]
        heading_rad=flat(heading),  # type: ignore[arg-type]
    )
    for part in parts():
        if part.rule in TURNED and not part.layer:
            yield _worst_heading(part.rule, part.check(rows, case), rows, shape)


def _worst_heading(rule: str, outcome: Outcome, rows: Rows, shape: tuple[int, ...]) -> TurnPart:
    """Keep, for each corner and state, the heading that comes out worst."""
    size = int(np.prod(shape))

    def cube(values: object) -> NDArray[np.generic]:
        return np.asarray(np.broadcast_to(np.asarray(values), (size,)).reshape(shape))

    verdict = cube(judge(outcome))
    with np.errstate(invalid="ignore"):
        margin = cube(np.asarray(outcome.capacity) - np.asarray(outcome.demand) - np.asarray(outcome.tolerance))
    key = verdict.astype(np.float64) * 1e6 - np.clip(np.nan_to_num(margin.astype(np.float64), nan=-1e3), -1e3, 1e3)
    pick = key.argmax(axis=0)[None]

    def kept(values: object) -> NDArray[np.generic]:
        return np.asarray(np.take_along_axis(cube(values), pick, axis=0)[0])

    best = Outcome(
        demand=kept(outcome.demand),  # type: ignore[arg-type]
        capacity=kept(outcome.capacity),  # type: ignore[arg-type]
        tolerance=kept(outcome.tolerance),  # type: ignore[arg-type]
        caution=kept(outcome.caution),  # type: ignore[arg-type]
        applies=kept(outcome.applies),  # type: ignore[arg-type]
        missing={name: kept(where) for name, where in outcome.missing.items()},  # type: ignore[misc]
        outside=kept(outcome.outside),  # type: ignore[arg-type]
        limit_source=outcome.limit_source,
    )
    return TurnPart(rule=rule, outcome=best, verdict=judge(best))


def _piece_at(case: Case, corners: Corners) -> Ints:
    """Give the piece a bend lies on; the first piece of the link for others."""
    pieces, network = case.survey.pieces, case.survey.network
    out = np.asarray(network.link_piece_start)[corners.edge_in >> 1].copy()
    for row in np.flatnonzero(~np.isnan(corners.at_m)):
        link = int(corners.edge_in[row]) >> 1
        own = slice(int(network.link_piece_start[link]), int(network.link_piece_stop[link]))
        out[row] += int(np.clip(np.searchsorted(pieces.to_m[own], corners.at_m[row]), 0, own.stop - own.start - 1))
    return np.asarray(out)


def corner_name(case: Case, corners: Corners, row: int) -> tuple[str, str]:
    """Give the roads of a corner in the order driven, and its place or where it lies."""
    roads, network = case.survey.site.layers["roads"].ids, case.survey.network
    before, after = (roads[int(network.link_road[int(e[row]) >> 1])] for e in (corners.edge_in, corners.edge_out))
    if not np.isnan(corners.at_m[row]):
        return before, f"bend at {corners.at_m[row]:.0f} m"
    place = next(iter(network.node_places.get(int(corners.node[row]), ())), None)
    return f"{before} > {after}", place or f"x {corners.x_m[row]:.0f}, y {corners.y_m[row]:.0f}"


def turn_id(case: Case, corners: Corners, row: int, rule: str, layer: str = "") -> str:
    """Give the acceptance id of one rule's answer about one corner on one trip."""
    roads, where = corner_name(case, corners, row)
    return acceptance_id(rule, case.trip, roads, layer or "turn", where)


def _accepted(case: Case, corners: Corners, part: TurnPart, accepted: frozenset[str]) -> Verdicts:
    if not accepted or not case.rulebook.rules[part.rule].acceptable:
        return part.verdict
    verdict = part.verdict.copy()
    for row in np.flatnonzero((verdict == Verdict.UNKNOWN).any(axis=1)).tolist():
        if turn_id(case, corners, row, part.rule, part.not_looked) in accepted:
            verdict[row] = np.where(verdict[row] == Verdict.UNKNOWN, np.uint8(Verdict.CAUTION), verdict[row])
    return verdict
