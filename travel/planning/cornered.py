"""The corners of a way: what every rule says about them, where they are, and the area swept in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks import Answer, Outcome, Shunt, TurnPart, close_id, judge, turn_id
from travel.checks.lies_beside import lies_there
from travel.domain.plan import ShuntMove, Where
from travel.domain.verdict import Verdict
from travel.planning.trips import Cells, Corner, Trip

Ints = NDArray[np.int64]
TOO_CLOSE = "corner before too near"
"""What stands in the way of an answer where two corners are driven as one."""
CIRCLE_POINTS = 48
SMOOTH_M = 0.03
"""Corners of the outline of a swept area that stick out less are left out of the drawing."""


@dataclass(frozen=True, eq=False, kw_only=True)
class TurnAnswer(Answer):
    """One rule's answer about corners met: ``corner`` is each row's number among the trip's turns."""

    corner: Ints

    def reason(self, row: int) -> str:
        """Give why a row is unknown or only caution; ``lies_there`` where something lies in what is swept, and
        ``corners_close`` where the corner before is not over."""
        if TOO_CLOSE in self.missing(row):
            return "corners_close"
        if self.verdict[row] == Verdict.UNKNOWN and any(lies_there(name) for name in self.missing(row)):
            return "lies_there"
        return super().reason(row)


def turn_answers(trip: Trip, cells: Cells) -> tuple[TurnAnswer, ...]:
    """Give what the rules say about the corners of a way, each told at the cell where it is met.

    Args:
        trip: the trip
        cells: its cells, or those of its least-blocked way
    """
    met = trip.corners
    if not met or not len(cells):
        return ()
    rows, states = (np.array([getattr(c, name) for c in met], dtype=np.int64) for name in ("row", "state"))
    position = np.array([_cell(trip, cells, corner) for corner in met], dtype=np.int64)
    some, at = np.unique(states, return_inverse=True)
    answers = tuple(_answer(part, at, rows, position) for part in trip.turns.parts(rows, some))
    return (*answers, _close(trip, cells)) if trip.close else answers


def _close(trip: Trip, cells: Cells) -> TurnAnswer:
    """Give what is not known of corners too close behind others."""
    close = trip.close
    where = np.ones(len(close), dtype=bool)
    outcome = Outcome(applies=where, missing={TOO_CLOSE: where})
    return TurnAnswer(
        rule="turn",
        position=np.array([_cell(trip, cells, corner) for corner in close], dtype=np.int64),
        feature=np.full(len(close), -1),
        layer="",
        verdict=judge(outcome),
        outcome=outcome,
        part="turn",
        corner=np.array([corner.row for corner in close], dtype=np.int64),
    )


def _answer(part: TurnPart, state: Ints, rows: Ints, position: Ints) -> TurnAnswer:
    every = np.arange(len(rows))

    def own(values: Any) -> Any:
        column = np.asarray(values)
        return column if column.ndim == 0 else np.broadcast_to(column, part.verdict.shape)[every, state]

    def named(values: Mapping[str, Any]) -> dict[str, Any]:
        return {name: own(value) for name, value in values.items()}

    of = part.outcome
    outcome = Outcome(
        demand=own(of.demand),
        capacity=own(of.capacity),
        tolerance=own(of.tolerance),
        caution=own(of.caution),
        applies=own(of.applies),
        missing=named(of.missing),
        outside=own(of.outside),
        permitted=None if of.permitted is None else own(of.permitted),
        controlled=own(of.controlled),
        control=of.control,
        terms=named(of.terms),
        capacity_terms=named(of.capacity_terms),
        limit=None if of.limit is None else replace(of.limit, values=own(of.limit.values), row=own(of.limit.row)),
        limit_source=of.limit_source,
    )
    return TurnAnswer(
        rule=part.rule,
        position=position,
        feature=np.full(len(rows), -1),
        layer=part.not_looked,
        verdict=part.verdict[every, state],
        outcome=outcome,
        not_looked=bool(part.not_looked),
        part="turn",
        corner=rows,
    )


def _cell(trip: Trip, cells: Cells, corner: Corner) -> int:
    """Give the cell at which a corner is met: the first after it, or the one it lies on."""
    first = int(np.searchsorted(cells.step, corner.step))
    at_m = float(trip.turns.corners.at_m[corner.row])
    if np.isnan(at_m):
        return first
    pieces, last = trip.case.survey.pieces, int(np.searchsorted(cells.step, corner.step, side="right"))
    piece = cells.piece[first:last]
    off = np.maximum(pieces.from_m[piece] - at_m, at_m - pieces.to_m[piece])
    return first + int(np.argmin(off))


def where_turn(trip: Trip, row: int) -> Where:
    """Give the place of a corner: the road it leads into, at its beginning; for a bend the road it lies on."""
    case, corners = trip.case, trip.turns.corners
    network, edge = case.survey.network, int(corners.edge_out[row])
    link, bend = edge >> 1, not np.isnan(corners.at_m[row])
    tail = network.link_to_m[link] if edge & 1 else network.link_from_m[link]
    at_m = float(corners.at_m[row] if bend else tail)
    point = case.survey.lonlat(np.array([[corners.x_m[row], corners.y_m[row]]]))[0]
    return Where(
        scope="turn",
        road=case.survey.site.layers["roads"].ids[int(network.link_road[link])],
        at_m=at_m,
        place=next(iter(network.node_places.get(int(corners.node[row]), ())), None),
        lonlat=(float(point[0]), float(point[1])),
    )


def id_of(trip: Trip, answer: TurnAnswer, row: int) -> str:
    """Give the acceptance id of one rule's answer about one corner."""
    if TOO_CLOSE in answer.missing(row):
        return close_id(trip.case, trip.turns.corners, int(answer.corner[row]))
    return turn_id(trip.case, trip.turns.corners, int(answer.corner[row]), answer.rule, answer.layer)


def blocked_corner(trip: Trip, cells: Cells) -> tuple[int, int] | None:
    """Give the first corner of a way that is blocked: the cell at which it is met, and its row."""
    found = [
        (_cell(trip, cells, corner), corner.row)
        for corner in trip.corners
        if trip.turns.worst[corner.row, corner.state] == Verdict.BLOCKED
    ]
    return min(found, default=None)


def room_of(trip: Trip, corner: Corner) -> tuple[float | None, float | None]:
    """Give the road there is and the road needed at a corner, no less than the body is wide [m]."""
    part = trip.turns.parts(np.array([corner.row]), np.array([corner.state]))[0]
    room, needed = (float(np.ravel(v)[0]) for v in (part.outcome.capacity, part.outcome.demand))
    needed = max(needed, trip.case.body.width_m) if np.isfinite(needed) else needed
    return (room if np.isfinite(room) else None, needed if np.isfinite(needed) else None)


def swept_lonlat(trip: Trip, corner: Corner) -> tuple[tuple[float, float], ...]:
    """Give the outline of the area swept at a corner, anticlockwise; nothing where it cannot be driven."""
    area = trip.turns.area(corner.row, corner.state)
    if not isinstance(area, shapely.Polygon) or area.is_empty:
        return ()
    outline = shapely.get_coordinates(shapely.get_exterior_ring(area.simplify(SMOOTH_M)))
    return tuple((float(lon), float(lat)) for lon, lat in trip.case.survey.lonlat(outline)[:, :2])


def circle_lonlat(trip: Trip, node: int, radius_m: float) -> tuple[tuple[float, float], ...]:
    """Give the circle in which the machine turns round at a node, anticlockwise."""
    angle = np.linspace(0.0, 2.0 * np.pi, CIRCLE_POINTS, endpoint=False)
    around = trip.case.survey.network.node_xy[node] + radius_m * np.column_stack((np.cos(angle), np.sin(angle)))
    return tuple((float(lon), float(lat)) for lon, lat in trip.case.survey.lonlat(around)[:, :2])


def moves_of(trip: Trip, shunt: Shunt, reverse: bool) -> tuple[ShuntMove, ...]:
    """Give the moves of a shunt in the order driven, each with the way of the front axle's middle."""
    out = []
    for move, xy in shunt.driven(reverse):
        lonlat = trip.case.survey.lonlat(xy)[:, :2]
        out.append(
            ShuntMove(
                travel="forward" if move.forward else "reverse",
                side=move.side,
                lock_pct=100.0 * move.lock_ratio,
                length_m=float(np.hypot(*np.diff(xy, axis=0).T).sum()),
                path_lonlat=tuple((float(lon), float(lat)) for lon, lat in lonlat),
            )
        )
    return tuple(out)
