"""The rules that are asked in a corner: what nobody looked at, and standing upright and sliding at the turn's headings.

A shunt is driven both ways: what is asked of the gear is asked of the other one as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.outcome import Outcome, Verdicts, judge
from travel.checks.registry import ask, parts_for
from travel.checks.turned import TurnedRows, change_between
from travel.survey.corners import Corners

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SHARES = (1 / 3, 2 / 3)
"""Parts of the change of heading at which standing and sliding are looked at again; the ends are the roads' own."""
BETWEEN = (1 / 6, 1 / 2, 5 / 6)
WIDE_RAD = np.radians(100.0)
"""Parts looked at as well where the heading changes by more than this: no two headings lie further than 33° apart."""
ROUND = (1 / 4, 1 / 2, -1 / 4, -1 / 2)
"""The same where the machine turns round, from both ends and to either side: at every eighth of a circle."""
TURNED = ("tip", "slide", "twist")
ACROSS = "side-slope"
"""Asked as well where the machine turns round: it stands across the whole slope there."""
BACK = ("reverse", "hold", "restart")
"""Asked of the moves of a shunt that go the other way."""
LAYERS = ("roads", "obstacles", "edges")


@dataclass(frozen=True, eq=False, kw_only=True)
class TurnPart:
    """One rule's answer over corners × states: ``outcome`` columns are (n, states)."""

    rule: str
    outcome: Outcome
    verdict: Verdicts
    not_looked: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class Asked:
    """Some corners in some states; ``shunted`` those driven in several moves, none when left out; ``stated_ratio`` the
    slope the site states of the ground on which the machine turns round in one go, NaN elsewhere."""

    case: Case
    corners: Corners
    rows: Ints
    states: Ints
    shunted: Bools = field(default_factory=lambda: np.zeros((0, 0), dtype=bool))
    stated_ratio: Floats = field(default_factory=lambda: np.array(np.nan))

    @property
    def shape(self) -> tuple[int, int]:
        """Corners and states."""
        return len(self.rows), len(self.states)

    @property
    def names(self) -> list[tuple[str, str, str, str]]:
        """Travel, range, steering and drive of every state asked about."""
        return [self.case.configurations.states[state] for state in self.states.tolist()]


def not_looked(asked: Asked) -> Iterator[TurnPart]:
    """A layer nobody looked at on either road makes the turn unknown."""
    case, corners, rows = asked.case, asked.corners, asked.rows
    starts = np.asarray(case.survey.network.link_piece_start)
    for layer in LAYERS:
        lacking = np.logical_or.reduceat(~case.survey.looked_at(layer), starts)
        here = lacking[corners.edge_in[rows] >> 1] | lacking[corners.edge_out[rows] >> 1]
        if here.any():
            where = np.broadcast_to(here[:, None], asked.shape)
            outcome = Outcome(applies=where, missing={f"surveyed.{layer}": where})
            yield TurnPart(rule="turn", outcome=outcome, verdict=judge(outcome), not_looked=layer)


def other_gear(case: Case) -> Ints:
    """Give, by state, the one that differs in travel alone; −1 without one."""
    states = case.configurations.states
    turned_back = {"forward": "reverse", "reverse": "forward"}
    number = {state: row for row, state in enumerate(states)}
    return np.array([number.get((turned_back[state[0]], *state[1:]), -1) for state in states], dtype=np.int64)


def first_of(case: Case, states: Ints) -> Ints:
    """Give the first configuration of some states."""
    return np.array([int(np.argmax(case.configurations.state == state)) for state in states.tolist()], dtype=np.int64)


def turned(asked: Asked) -> Iterator[TurnPart]:
    """Standing upright and sliding again, on the ground of both roads, at headings between theirs; in a shunt both ways
    and with what the other gear asks for."""
    one, shape = at_headings(asked, np.zeros(asked.shape, dtype=bool))
    shunted = bool(asked.shunted.any())
    two = at_headings(asked, asked.shunted)[0] if shunted else None
    returns = np.broadcast_to(asked.corners.returns[asked.rows][:, None], asked.shape)
    where = {ACROSS: returns, **dict.fromkeys(BACK, asked.shunted)}
    own = (*TURNED, ACROSS) if returns.any() else TURNED
    for part in parts_for(asked.case):
        if part.layer or part.rule not in (*own, *BACK):
            continue
        found = [ask(part, one, asked.case)] if part.rule in own else []
        if two is not None:
            found.append(ask(part, two, asked.case))
        if found:
            worst = _worst(found, shape)
            yield worst_part(part.rule, _where(worst, where[part.rule]) if part.rule in where else worst)


def worst_part(rule: str, outcome: Outcome) -> TurnPart:
    """Judge what one rule answers."""
    return TurnPart(rule=rule, outcome=outcome, verdict=judge(outcome))


def _where(outcome: Outcome, where: Bools) -> Outcome:
    return replace(outcome, applies=np.asarray(outcome.applies) & where)


def at_headings(asked: Asked, back: Bools) -> tuple[TurnedRows, tuple[int, ...]]:
    """Give the ground of both roads at headings between theirs; ``back``: where in the other gear, the other way."""
    case, corners, rows = asked.case, asked.corners, asked.rows
    first = first_of(case, np.arange(len(case.configurations.states)))
    config = np.where(back, first[other_gear(case)[asked.states]], first[asked.states])
    angle, ends = corners.angle_rad[rows], []
    returns = corners.returns[rows]
    wide = np.abs(angle) > WIDE_RAD
    shares = [np.where(returns, *both) for both in zip(ROUND, SHARES * 2, strict=True)][: 4 if returns.any() else 2]
    shares += [np.where(wide & ~returns, share, shares[0]) for share in BETWEEN] if (wide & ~returns).any() else []
    hand = np.stack([np.sign(share * angle) for share in shares] * 2)
    for edge, piece, sign in zip(
        (corners.edge_in[rows], corners.edge_out[rows]), corner_pieces(asked), (1.0, -1.0), strict=True
    ):
        ends += [(piece, np.where((edge & 1) == 1, -1, 1), sign * share * angle) for share in shares]
    piece, drawn, heading = (np.stack(group) for group in zip(*ends, strict=True))
    shape = (*piece.shape, len(asked.states))

    def flat(values: NDArray[np.generic]) -> NDArray[Any]:
        return np.broadcast_to(values[..., None], shape).ravel()

    turned_rows = TurnedRows(
        case=case,
        piece=flat(piece),
        sense=np.ones(int(np.prod(shape)), dtype=np.int64),
        config=np.broadcast_to(config, shape).ravel(),
        drawn=(drawn[..., None] * np.where(back, -1, 1)).ravel(),
        heading_rad=flat(heading),
        stated_ratio=np.broadcast_to(asked.stated_ratio, shape).ravel(),
        change_ratio=flat(np.broadcast_to(np.where(returns, 0.0, change_between(case, piece, drawn)), piece.shape)),
        hand=flat(hand),
    )
    return turned_rows, shape


def corner_pieces(asked: Asked) -> tuple[Ints, Ints]:
    """Give the pieces before and after some corners; on a bend both are the one it lies on."""
    case, corners, rows = asked.case, asked.corners, asked.rows
    last, first = (
        np.asarray(case.survey.network.link_piece_stop) - 1,
        np.asarray(case.survey.network.link_piece_start),
    )
    bend = ~np.isnan(corners.at_m[rows])
    on_bend = np.where(bend, _piece_at(case, corners, rows), 0)
    into, out = corners.edge_in[rows], corners.edge_out[rows]
    before = np.where((into & 1) == 1, first[into >> 1], last[into >> 1])
    after = np.where((out & 1) == 0, first[out >> 1], last[out >> 1])
    return np.where(bend, on_bend, before), np.where(bend, on_bend, after)


def one_way_there(asked: Asked) -> Bools:
    """Tell where one of the roads of a corner may be driven one way only: nobody goes to and fro on it."""
    allowed = asked.case.survey.text_code("one_way", ("along", "against"))
    return np.asarray((allowed[np.stack(corner_pieces(asked))] >= 0).any(axis=0))


def _worst(outcomes: list[Outcome], shape: tuple[int, ...]) -> Outcome:
    """Keep, for each corner and state, the heading (and the way of driving) that comes out worst."""
    size = int(np.prod(shape))

    def cube(values: list[Any]) -> NDArray[Any]:
        return np.concatenate([np.broadcast_to(np.asarray(some), (size,)).reshape(shape) for some in values])

    with np.errstate(invalid="ignore"):
        margin = cube([np.asarray(o.capacity) - np.asarray(o.demand) - np.asarray(o.tolerance) for o in outcomes])
    verdict = cube([judge(outcome) for outcome in outcomes]).astype(np.float64)
    pick = (verdict * 1e6 - np.clip(np.nan_to_num(margin, nan=-1e3), -1e3, 1e3)).argmax(axis=0)[None]
    one = outcomes[0]

    def kept(name: str) -> NDArray[Any]:
        every = cube([getattr(outcome, name) for outcome in outcomes])
        return np.asarray(np.take_along_axis(every, pick, axis=0)[0])

    def named(name: str) -> dict[str, NDArray[Any]]:
        parts = [getattr(outcome, name) for outcome in outcomes]
        every = {key: cube([some[key] for some in parts]) for key in parts[0]}
        return {key: np.asarray(np.take_along_axis(values, pick, axis=0)[0]) for key, values in every.items()}

    return Outcome(
        demand=kept("demand"),
        capacity=kept("capacity"),
        tolerance=kept("tolerance"),
        caution=kept("caution"),
        applies=kept("applies"),
        missing=named("missing"),
        outside=kept("outside"),
        controlled=kept("controlled"),
        control=one.control,
        permitted=None if one.permitted is None else kept("permitted"),
        terms=named("terms"),
        capacity_terms=named("capacity_terms"),
        limit_source=one.limit_source,
    )


def _piece_at(case: Case, corners: Corners, rows: Ints) -> Ints:
    """Give the piece a bend lies on; the first piece of the link for others."""
    pieces, network = case.survey.pieces, case.survey.network
    link = corners.edge_in[rows] >> 1
    out: Ints = np.asarray(network.link_piece_start)[link].copy()
    for number in np.flatnonzero(~np.isnan(corners.at_m[rows])).tolist():
        own = slice(int(network.link_piece_start[link[number]]), int(network.link_piece_stop[link[number]]))
        at = np.searchsorted(pieces.to_m[own], corners.at_m[rows[number]])
        out[number] += int(np.clip(at, 0, own.stop - own.start - 1))
    return out


def either(first: Bools, one: TurnPart, two: TurnPart) -> TurnPart:
    """Give one answer about the room where something holds, the other elsewhere."""
    a, b = one.outcome, two.outcome

    def pick(x: Any, y: Any) -> NDArray[Any]:
        return np.asarray(np.where(first, x, y))

    outcome = replace(
        b,
        demand=pick(a.demand, b.demand),
        capacity=pick(a.capacity, b.capacity),
        missing={
            name: pick(a.missing.get(name, False), b.missing.get(name, False)) for name in {**b.missing, **a.missing}
        },
        terms={name: pick(a.terms[name], b.terms[name]) for name in b.terms},
        controlled=pick(a.controlled, b.controlled),
        control=a.control,
    )
    return TurnPart(rule=two.rule, outcome=outcome, verdict=pick(one.verdict, two.verdict).astype(np.uint8))
