"""On and off the trailer in words: where the rig stands, why not elsewhere, each move, the combination."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from travel.domain.plan import TravelPlan
from travel.writers.law_words import law_rows
from travel.writers.numbers import quantity
from travel.writers.text import isolated

HEADING = "On and off the trailer"
MOVE_WORDS = {"unload": "Off the trailer", "load": "Onto the trailer"}
AFTER = {"arrive": "unload"}
BEFORE = {"leave": "load"}
"""Which move follows, or comes before, a trip."""


def haul_sections(plan: TravelPlan) -> list[tuple[str, list[str]]]:
    """Give what is to be said about the trailer, by heading; nothing in a plan without one."""
    if plan.transport is None or plan.unloading is None:
        return []
    found = [("Where the rig stands", place_lines(plan)), ("Not elsewhere", why_not_lines(plan))]
    found += [(words, move_lines(plan, move)) for move, words in MOVE_WORDS.items()]
    found.append(("The combination on site", rig_lines(plan)))
    return [(heading, lines) for heading, lines in found if lines]


def place_lines(plan: TravelPlan) -> list[str]:
    """Give where the rig stands, which way it faces, what room it takes and has."""
    told = plan.unloading or {}
    stand = told.get("stand") or {}
    place = told.get("place")
    name = isolated(stand.get("place") or stand.get("area") or "?")
    if place is None:
        lines = [f"No place will do; the best of those looked at is {name}."]
    else:
        lines = [f"{name}" + (f", on ground {isolated(stand['area'])}" if stand.get("area") else "") + "."]
    heading = stand.get("heading_deg")
    if heading is not None:
        lines.append(f"The rig's nose faces {heading:.0f}° (grid, clockwise from north).")
    lines.append(
        f"In line it needs {_m(stand.get('needed_m'))}: rig {_m(stand.get('length_m'))}, ramps "
        f"{_m(stand.get('ramps_m'))}, run-off {_m(stand.get('run_off_m'))}; there are {_m(stand.get('room_m'))}."
    )
    if stand.get("run_off_from_m") is not None and stand.get("nose_at_m") is not None:
        ends = [_ahead(float(stand[key])) for key in ("run_off_from_m", "nose_at_m")]
        lines.append(f"The run-off ends {ends[0]} the place, the rig's nose stands {ends[1]} it.")
    slope, cross = stand.get("slope_pct"), stand.get("cross_slope_pct")
    lines.append(
        "Slope of the ground: "
        + ("along not known" if slope is None else f"{_pct(slope)} {'up' if slope >= 0 else 'down'} towards the nose")
        + ", "
        + ("across not known" if cross is None else f"{_pct(cross)} down to the {'right' if cross >= 0 else 'left'}")
        + "."
    )
    lines.append(f"Chosen by: {told.get('order', '')}.")
    return lines


def _ahead(metres: float) -> str:
    return f"{_m(abs(metres))} {'beyond' if metres >= 0 else 'before'}"


def why_not_lines(plan: TravelPlan) -> list[str]:
    """Give each other place with the reason."""
    told = plan.unloading or {}
    return [
        f"{isolated(item.get('place', '?'))}: {item.get('verdict', '')} – {isolated(item.get('text', ''))}."
        for item in told.get("why_not", ())
    ]


def move_lines(plan: TravelPlan, move: str) -> list[str]:
    """Give one move in words: which end first, clearance, ramps, what holds the rig, where it stands on the deck."""
    told: Mapping[str, Any] = (plan.transport or {}).get(move) or {}
    if not told:
        return []
    lines = [f"{str(told.get('first', '?')).capitalize()} first; {told.get('verdict')}."]
    gap = told.get("smallest_clearance") or {}
    if gap.get("value_m") is not None:
        lines.append(f"Smallest clearance {_m(gap['value_m'])} ({isolated(gap.get('end', ''))}).")
    for ramp in told.get("ramps", ()):
        rating = "rating not known" if ramp.get("rating_kg") is None else f"of {_kg(ramp['rating_kg'])}"
        lines.append(f"Ramp {isolated(ramp.get('side', ''))}: up to {_kg(ramp.get('load_kg'))} {rating}.")
    nose = told.get("nose_lift") or {}
    if nose.get("coupling_kg_min") is not None:
        least = float(nose["coupling_kg_min"])
        said = (
            "The coupling keeps at least"
            if least > 0.0
            else "Without legs under the tail the nose lifts: the coupling has"
        )
        lines.append(f"{said} {_kg(least)}.")
    hold = told.get("rig_hold") or {}
    if hold.get("needed_kn") is not None and hold.get("available_kn") is not None:
        lines.append(
            f"Holding the rig asks for {quantity(hold['needed_kn'], 'kN')}, its braked wheels find "
            f"{quantity(hold['available_kn'], 'kN')}."
        )
    if move == "load" and told.get("best_position_m") is not None:
        lines.append(f"On the deck the front axle stands best {_m(told['best_position_m'])} from the rear edge.")
    ties = [isolated(name) for name in told.get("tie_downs", ())]
    if move == "load" and ties:
        lines.append(f"Tied down before the rig moves, {len(ties)} tie-downs: {', '.join(ties)}.")
    if move == "unload":
        rows = law_rows(told.get("overall") or {}, told.get("notice") or {})
        lines += [f"On the road: {label.lower()}: {text}." for label, text in rows]
    lines += [f"Would help: {isolated(text)}" for text in told.get("would_help", ())]
    return lines


def rig_lines(plan: TravelPlan) -> list[str]:
    """Give the combination's own size and mass, laden and empty, and what it finds empty."""
    told = plan.transport or {}
    lines = [f"{isolated(told.get('trailer', '?'))}."]
    for state, rig in (told.get("combination") or {}).items():
        height = (
            "height not known"
            if rig.get("height_m") is None
            else f"{_m(rig['height_m'] + (rig.get('height_tolerance_m') or 0.0))} high"
        )
        length = "length not known" if rig.get("length_m") is None else f"{_m(rig['length_m'])} long"
        lines.append(
            f"{state.capitalize()}: {_kg(rig.get('gross_kg'))}, {height}, {_m(rig.get('width_m'))} wide, {length}."
        )
        axles = [f"{isolated(axle['name'])} ({_kg(axle.get('load_kg'))})" for axle in rig.get("axles", ())]
        lines += [f"{state.capitalize()}, by axle: {', '.join(axles)}."] if axles else []
    empty = told.get("empty_on_the_same_ways") or {}
    lines += [f"Empty on the {_way(trip)}: {verdict}." for trip, verdict in empty.items()]
    return lines


def laden_value(plan: TravelPlan, key: str) -> float | None:
    """Give a size or mass of the combination with the machine on it; its height with the tolerance added."""
    rig: Mapping[str, Any] = ((plan.transport or {}).get("combination") or {}).get("laden") or {}
    if key == "axle_kg":
        loads = [axle.get("load_kg") for axle in rig.get("axles", ())]
        return None if not loads or None in loads else max(float(load) for load in loads)
    found = rig.get(key)
    if found is None:
        return None
    return float(found) + (float(rig.get("height_tolerance_m") or 0.0) if key == "height_m" else 0.0)


def _way(trip: str) -> str:
    return {"arrive": "way in", "leave": "way off the site"}.get(trip, trip)


def _m(value: Any) -> str:
    return "not known" if value is None else quantity(float(value), "m")


def _kg(value: Any) -> str:
    return "not known" if value is None else quantity(float(value), "kg")


def _pct(value: Any) -> str:
    return quantity(abs(float(value)), "%")
