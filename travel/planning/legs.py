"""The way as a driver takes it: legs, turns, stops."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.domain.plan import Change, Finding, Leg, SpeedStretch, Stop, Turn
from travel.domain.verdict import Verdict
from travel.planning.cornered import circle_lonlat, moves_of, room_of, swept_lonlat, where_turn
from travel.planning.trips import Corner, Trip
from travel.routing import Step
from travel.units import mps_to_kmh

_NEAR = 1e-6
"""What a speed of a whole tenth may lose in its conversions."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Consecutive steps on one road in one state without a stop: the cells ``first``–``last`` (inclusive)."""

    steps: tuple[Step, ...]
    first: int
    last: int


def runs_of(trip: Trip) -> tuple[Run, ...]:
    """Cut the way where the road, its chainage, the state or the direction changes, or the machine stops."""
    steps = trip.way.steps if trip.way else ()
    network, first = trip.case.survey.network, 0
    shunted = {corner.step for corner in trip.corners if trip.turns.shunted[corner.row, corner.state]}
    runs: list[Run] = []
    open_steps: list[Step] = []
    for number, step in enumerate(steps):
        if open_steps:
            last = open_steps[-1]
            same = (
                network.link_road[last.edge >> 1] == network.link_road[step.edge >> 1]
                and last.state == step.state
                and _goes_on(last.edge, step.edge)
                and step.before == "drive"
                and number not in shunted
            )
            if not same:
                end = int(np.searchsorted(trip.cells.step, number))
                runs.append(Run(steps=tuple(open_steps), first=first, last=end - 1))
                open_steps, first = [], end
        open_steps.append(step)
    if open_steps:
        runs.append(Run(steps=tuple(open_steps), first=first, last=len(trip.cells) - 1))
    return tuple(runs)


def _goes_on(edge: int, after: int) -> bool:
    """Whether a road's link follows on another as it is drawn: a road that comes back to itself may be cut short."""
    return (edge & 1) == (after & 1) and (after >> 1) - (edge >> 1) == (-1 if edge & 1 else 1)


def leg_of(trip: Trip, run: Run, number: int) -> Leg:
    """Give one leg without its flags and reasons (they are added once the findings are numbered)."""
    case, cells = trip.case, slice(run.first, run.last + 1)
    pieces, config = trip.cells.piece[cells], trip.cells.config[cells]
    survey, configurations = case.survey, case.configurations
    ascending = np.sort(pieces)
    from_m, to_m = float(survey.pieces.from_m[ascending[0]]), float(survey.pieces.to_m[ascending[-1]])
    road = int(survey.pieces.road[pieces[0]])
    lowest = int(config[np.argmin(configurations.top_mps[config])])
    caps = trip.cell_cap_mps[cells]
    path = survey.lonlat(survey.xyz(road, from_m, to_m))
    against = bool(run.steps[0].edge & 1)
    return Leg(
        leg=number,
        trip=case.trip,
        vehicle=case.vehicle,
        road=survey.site.layers["roads"].ids[road],
        direction="against" if against else "along",
        travel="reverse" if configurations.reverse[lowest] else "forward",
        from_m=from_m,
        to_m=to_m,
        length_m=to_m - from_m,
        time_s=float(trip.cell_time_s[cells].sum()),
        gear=configurations.gear[lowest],
        range="low" if configurations.low[lowest] else "high",
        steering=configurations.steering[lowest],  # type: ignore[arg-type]
        drive=configurations.drive[lowest],  # type: ignore[arg-type]
        attitude=case.body.attitude,
        speed_kmh=float(mps_to_kmh(caps.min())),
        speeds=_speeds(trip, run),
        because=(),
        verdict=Verdict(int(trip.cell_worst[cells].max())).word,  # type: ignore[arg-type]
        flags=(),
        path_lonlat=_path(path[::-1] if against else path),
    )


def _path(points: NDArray[np.float64]) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(float(v) for v in point if not np.isnan(v)) for point in points)


def _speeds(trip: Trip, run: Run) -> tuple[SpeedStretch, ...]:
    """Give the top speed by chainage, ascending, neighbouring equal ones joined."""
    cells = np.arange(run.first, run.last + 1)
    survey = trip.case.survey
    cells = cells[np.argsort(survey.pieces.from_m[trip.cells.piece[cells]])]
    piece, config = trip.cells.piece[cells], trip.cells.config[cells]
    way = (1 - trip.cells.sense[cells]) // 2
    cap = np.floor(10.0 * mps_to_kmh(trip.folded.cap_mps[piece, way, config]) + _NEAR) / 10.0  # never above the cap
    rule = trip.folded.cap_rule[piece, way, config]
    starts = np.flatnonzero(np.r_[True, (cap[1:] != cap[:-1]) | (rule[1:] != rule[:-1])])
    ends = np.r_[starts[1:], len(cells)] - 1
    return tuple(
        SpeedStretch(
            from_m=float(survey.pieces.from_m[piece[a]]),
            to_m=float(survey.pieces.to_m[piece[b]]),
            speed_kmh=float(cap[a]),
            rule=trip.folded.rules[rule[a]] if rule[a] >= 0 else "gear",
        )
        for a, b in zip(starts, ends, strict=True)
    )


def turns_of(
    trip: Trip, runs: tuple[Run, ...], first_turn: int, first_leg: int, findings: tuple[Finding, ...]
) -> tuple[Turn, ...]:
    """Give the corners driven and the places turned round at; ``after_leg`` is the leg that ends (or bends) there."""
    starts = np.array([run.first for run in runs])
    out: list[Turn] = []
    for corner, mps in zip(trip.corners, trip.paces_mps, strict=True):
        cell = int(np.searchsorted(trip.cells.step, corner.step))
        bend = not np.isnan(trip.turns.corners.at_m[corner.row])
        leg = first_leg + int(np.searchsorted(starts, cell if bend else cell - 1, side="right")) - 1
        made = _turned_round if trip.turns.corners.returns[corner.row] else _through
        pace = mps_to_kmh(mps)
        speed = None if np.isnan(pace) else float(np.floor(10.0 * pace + _NEAR) / 10.0)
        out.append(replace(made(trip, corner, leg, findings), speed_kmh=speed))
    return tuple(replace(turn, turn=first_turn + number) for number, turn in enumerate(out))


def _through(trip: Trip, corner: Corner, after_leg: int, findings: tuple[Finding, ...]) -> Turn:
    where = where_turn(trip, corner.row)
    room, needed = room_of(trip, corner)
    return Turn(
        turn=0,
        trip=trip.case.trip,
        place=where.place,
        after_leg=after_leg,
        kind="shunt" if trip.turns.shunted[corner.row, corner.state] else "through",
        steering=trip.case.configurations.states[corner.state][2],
        room_m=room,
        needed_m=needed,
        flags=tuple(f.flag for f in findings if f.where == where),
        lonlat=where.lonlat,
        swept_lonlat=swept_lonlat(trip, corner),
        **_moves(trip, corner),
    )


def _moves(trip: Trip, corner: Corner) -> dict[str, Any]:
    """Give how a corner is driven in several moves, if it is."""
    shunt = trip.turns.shunt(corner.row, corner.state)
    reverse = trip.case.configurations.states[corner.state][0] == "reverse"
    return {} if shunt is None else {"moves": moves_of(trip, shunt, reverse), "begin_m": shunt.begins_m(reverse)}


def _turned_round(trip: Trip, corner: Corner, after_leg: int, findings: tuple[Finding, ...]) -> Turn:
    """Give turning round, in one go in the machine's outer circle or in several moves."""
    where, node = where_turn(trip, corner.row), int(trip.turns.corners.node[corner.row])
    place, places = _place(trip, node), trip.case.survey.site.layers["places"]
    room = float(places.number("turn_radius_m")[places.index(place)]) if place else np.nan
    steering = trip.case.configurations.states[corner.state][2]
    circle = bool(trip.turns.circle[corner.row, corner.state])
    needed = trip.case.outer_radius_m[steering]
    return Turn(
        turn=0,
        trip=trip.case.trip,
        place=place,
        after_leg=after_leg,
        kind="turn_round",
        steering=steering,
        room_m=None if np.isnan(room) else room,
        needed_m=needed if circle else None,
        flags=tuple(f.flag for f in findings if f.where == where),
        lonlat=_lonlat(trip, node),
        swept_lonlat=circle_lonlat(trip, node, needed) if circle else swept_lonlat(trip, corner),
        **_moves(trip, corner),
    )


def stops_of(trip: Trip, runs: tuple[Run, ...], first_stop: int, first_leg: int) -> tuple[Stop, ...]:
    """Give the start, every standing change, and the end."""
    if not runs:
        return ()
    out = [_start(trip, runs, first_stop, first_leg)]
    for number in range(1, len(runs)):
        step = runs[number].steps[0]
        changes = _changes(trip, step)
        if changes:
            out.append(_stop(trip, runs, number, first_stop + len(out), first_leg, changes))
    out.append(_end(trip, runs, first_stop + len(out)))
    return tuple(out)


def _changes(trip: Trip, step: Step) -> tuple[Change, ...]:
    if step.old_state is None or step.old_state == step.state:
        return ()
    states = trip.case.configurations.states
    names = ("travel", "range", "steering", "drive")
    return tuple(
        Change(what=name, old=old, new=new)
        for name, old, new in zip(names, states[step.old_state], states[step.state], strict=True)
        if old != new
    )


def _start(trip: Trip, runs: tuple[Run, ...], number: int, first_leg: int) -> Stop:
    step = runs[0].steps[0]
    state = trip.case.configurations.states[step.state]
    changes = (
        _changes(trip, step)
        if step.old_state is not None
        else tuple(
            Change(what=name, old=None, new=value)
            for name, value in zip(("travel", "range", "steering", "drive"), state, strict=True)
        )
    )
    note = ""
    if trip.request.came is None:
        piece, sense = int(trip.cells.piece[0]), int(trip.cells.sense[0])
        heading = trip.case.survey.pieces.heading_rad[piece] + (np.pi if sense < 0 else 0.0)
        heading += np.pi if trip.case.configurations.reverse[trip.cells.config[0]] else 0.0
        note = (
            f"The {trip.case.vehicle} must stand facing {np.degrees(heading) % 360:.0f}° (grid, clockwise from north)"
        )
    elif step.before in ("turn_round", "turn_in_moves"):
        note = "Turn round here first"
    return Stop(
        stop=number,
        trip=trip.case.trip,
        before_leg=first_leg,
        place=trip.request.from_place,
        road=_road(trip, runs[0].first),
        at_m=_entry(trip, runs[0].first),
        kind="start",
        changes=changes,
        time_s=_change_time(trip) if step.old_state is not None and changes else 0.0,
        note=note,
        lonlat=_lonlat(trip, trip.request.start),
    )


def _stop(
    trip: Trip, runs: tuple[Run, ...], number: int, stop: int, first_leg: int, changes: tuple[Change, ...]
) -> Stop:
    node = trip.graph.tail[runs[number].steps[0].edge]
    return Stop(
        stop=stop,
        trip=trip.case.trip,
        before_leg=first_leg + number,
        place=_place(trip, node),
        road=_road(trip, runs[number - 1].last),
        at_m=_exit(trip, runs[number - 1].last),
        kind="change",
        changes=changes,
        time_s=_change_time(trip),
        lonlat=_lonlat(trip, node),
    )


def _end(trip: Trip, runs: tuple[Run, ...], number: int) -> Stop:
    return Stop(
        stop=number,
        trip=trip.case.trip,
        before_leg=None,
        place=trip.request.to_place,
        road=_road(trip, runs[-1].last),
        at_m=_exit(trip, runs[-1].last),
        kind="end",
        changes=(),
        time_s=0.0,
        lonlat=_lonlat(trip, trip.request.goal),
    )


def _change_time(trip: Trip) -> float:
    return trip.case.scalar("hold.change_time")


def _road(trip: Trip, cell: int) -> str:
    survey = trip.case.survey
    return survey.site.layers["roads"].ids[int(survey.pieces.road[trip.cells.piece[cell]])]


def _entry(trip: Trip, cell: int) -> float:
    pieces, sense = trip.case.survey.pieces, trip.cells.sense[cell]
    piece = trip.cells.piece[cell]
    return float(pieces.from_m[piece] if sense > 0 else pieces.to_m[piece])


def _exit(trip: Trip, cell: int) -> float:
    pieces, sense = trip.case.survey.pieces, trip.cells.sense[cell]
    piece = trip.cells.piece[cell]
    return float(pieces.to_m[piece] if sense > 0 else pieces.from_m[piece])


def _place(trip: Trip, node: int) -> str | None:
    """Give the place at a node; where several lie together, the one to stop at."""
    places = trip.case.survey.site.layers["places"]
    ids = trip.case.survey.network.node_places.get(node, ())
    return max(ids, key=lambda i: places.number("may_stop")[places.index(i)] == 1, default=None)


def _lonlat(trip: Trip, node: int) -> tuple[float, float]:
    point = trip.case.survey.lonlat(trip.case.survey.network.node_xy[[node]])[0]
    return float(point[0]), float(point[1])
