"""What a plan says in words, the same on page and screen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from travel.domain.plan import Change, Condition, Finding, Leg, Nearest, Remedy, SpeedStretch, Stop, TravelPlan, Trip
from travel.domain.rules import Rulebook
from travel.domain.what_if import wished
from travel.writers.numbers import chainage, duration, length, quantity, top_speed
from travel.writers.outlook_words import alternative_text, departure_text, single_point_text, turn_back_texts
from travel.writers.text import isolated

VERDICTS = ("blocked", "unknown", "caution", "clear")
"""Worst first."""

TRIP_WORDS = {"arrive": "Way in by road", "out": "Way out", "back": "Way back", "leave": "Way off the site"}
_STOP_WORDS = {
    "start": "Start here",
    "change": "Stop and change",
    "spotter": "Stop; spotter takes over",
    "end": "End here",
}
CHANGE_WORDS = {
    "range": "range", "gear": "gear", "steering": "steering", "drive": "driven wheels", "travel": "direction of travel",
    "attitude": "attitude", "load": "load",
}  # fmt: skip
_VALUE_WORDS = {
    ("steering", "front"): "front wheels", ("steering", "all"): "all wheels", ("steering", "crab"): "crab",
    ("drive", "two"): "two-wheel drive", ("drive", "four"): "four-wheel drive",
}  # fmt: skip
SPEED_APART_KMH = 0.5
"""Nobody keeps to a speed more closely than this."""
FIRST_CAUTION = (
    "The machine's manual, local codes, owners of lines and structures, and competent persons come before this plan."
)


def outcome_text(plan: TravelPlan) -> str:
    """Give the answer in one sentence; of a site that is not so, it says that first."""
    return f"What if, not what is there. {_outcome(plan)}" if wished(plan) else _outcome(plan)


def _outcome(plan: TravelPlan) -> str:
    both = "there and back" if any(trip.trip == "back" for trip in plan.trips) else "there"
    if plan.outcome == "no_way":
        missing = [TRIP_WORDS[trip.trip].lower() for trip in plan.trips if not trip.found]
        if not missing and plan.unloading is not None and plan.unloading.get("place") is None:
            return "No: the machine does not get off its trailer at any place looked at."
        return f"No way found{' for the ' + ' and the '.join(missing) if missing else ''}."
    if plan.verdict == "clear":
        return f"Yes: the machine can get {both}."
    if plan.verdict == "caution":
        return f"Yes, with care: the machine can get {both}; mind the flags."
    if plan.verdict == "unknown":
        return f"Not yet: there is a way {both}, but something on it is not known. Not to be released as it stands."
    return f"Blocked: the way {both} does not pass."


_PROOF = {"clear": "a way, nothing open", "caution": "a way, with care", "unknown": "a way, not everything on it known"}


def proof_text(remedy: Remedy) -> str:
    """Give what planning again with a remedy done came to."""
    return f"planned again with it: {_PROOF.get(remedy.verdict or '', 'not known')}"


def trip_places(plan: TravelPlan, trip: Trip) -> list[str]:
    """Give the places of a trip in order: start, junctions, stops, end."""
    legs = [leg for leg in plan.legs if leg.trip == trip.trip]
    found = [trip.from_place]
    for leg in legs:
        found += [stop.place for stop in plan.stops if stop.before_leg == leg.leg and stop.place]
        found += [t.place for t in plan.turns if t.after_leg == leg.leg and t.place and t.trip == trip.trip]
    found.append(trip.to_place)
    return [name for i, name in enumerate(found) if i == 0 or name != found[i - 1]]


def trip_line(plan: TravelPlan, trip: Trip, name_of: Mapping[str, str] | None = None) -> str:
    """Give a trip in one line: places, length, climb, time."""
    names = name_of or {}
    if not trip.found:
        return f"{isolated(trip.from_place)} → {isolated(trip.to_place)}: no way found"
    places = " → ".join(isolated(names.get(place, place)) for place in trip_places(plan, trip))
    climb = "" if trip.climb_m is None or trip.climb_m < 0.5 else f", climbs {length(trip.climb_m)}"
    return f"{places}: {length(trip.length_m)}{climb}, {duration(trip.time_s)}"


def metres_text(trip: Trip) -> str:
    """Give the metres of a trip by verdict, worst first, the empty ones left out."""
    counted = {"unknown": trip.unknown_m, "caution": trip.caution_m, "clear": trip.clear_m}
    return ", ".join(f"{length(value)} {word}" for word, value in counted.items() if value > 0)


def change_text(change: Change) -> str:
    """Give one change of configuration as an order."""
    what = CHANGE_WORDS.get(change.what, change.what.replace("_", " "))
    new = value_text(change.what, change.new)
    old = f" (was {value_text(change.what, change.old)})" if change.old else ""
    return f"{what}: {new}{old}"


def value_text(what: str, value: str) -> str:
    """Give a value of a configuration in words."""
    return _VALUE_WORDS.get((what, value), isolated(value.replace("_", " ")))


def stop_text(stop: Stop) -> str:
    """Give a stop as an order."""
    changes = "; ".join(change_text(change) for change in stop.changes)
    said = f"{_STOP_WORDS[stop.kind]} – {changes}" if changes else _STOP_WORDS[stop.kind]
    note = isolated(stop.note)
    return f"{said}. {note[:1].upper()}{note[1:]}." if note else f"{said}."


def leg_text(leg: Leg) -> str:
    """Give a leg as an order: how to drive, no faster than what."""
    speed = (
        "speed not known" if leg.speed_kmh is None else f"no faster than {quantity(top_speed(leg.speed_kmh), 'km/h')}"
    )
    return (
        f"{leg.travel.capitalize()} {length(leg.length_m)}, {leg.range} range (gear {isolated(leg.gear)}), "
        f"{value_text('drive', leg.drive)}, steer {value_text('steering', leg.steering)}, {speed}."
    )


def speed_texts(leg: Leg) -> list[str]:
    """Give the stretches of a leg with their own speed, where they differ."""
    told = told_speeds(leg)
    if len({part.speed_kmh for part in told}) < 2:
        return []
    return [f"{chainage(part.from_m, part.to_m)}: {quantity(part.speed_kmh, 'km/h')} ({part.rule})" for part in told]


def told_speeds(leg: Leg) -> list[SpeedStretch]:
    """Give the top speeds of a leg in order, neighbours of one rule that hardly differ as one, at the least of them."""
    told: list[SpeedStretch] = []
    for part in leg.speeds:
        last = told[-1] if told else None
        if last is None or last.rule != part.rule or abs(last.speed_kmh - part.speed_kmh) > SPEED_APART_KMH:
            told.append(part)
        else:
            least = min(last.speed_kmh, part.speed_kmh)
            span = (min(last.from_m, part.from_m), max(last.to_m, part.to_m))
            told[-1] = replace(last, from_m=span[0], to_m=span[1], speed_kmh=least)
    return told


def checked_line(plan: TravelPlan) -> str:
    """Give how many rules were looked at, of how many."""
    built = sum(row.built for row in plan.checked)
    return f"checked against {built} of {len(plan.checked)} rules"


def not_built(plan: TravelPlan) -> list[str]:
    """Give the titles of rules without code, unless one of the cautions names them all already."""
    missing = [isolated(row.title) for row in plan.checked if not row.built]
    return [] if any(all(title in text for title in missing) for text in plan.cautions) else missing


def open_conditions(plan: TravelPlan) -> list[Condition]:
    """Give the conditions that keep the plan from being a plain yes; the routine walk-round is not among them."""
    return [condition for condition in plan.conditions if condition.kind != "pre_travel"]


def open_unknowns(plan: TravelPlan) -> list[Finding]:
    """Give the unknowns nobody accepted, those that nobody may accept first."""
    found = [finding for finding in plan.findings if finding.verdict == "unknown" and not finding.accepted]
    return sorted(found, key=lambda finding: (finding.acceptable, finding.flag))


def by_severity(plan: TravelPlan) -> list[Finding]:
    """Give the findings, worst first, then in order of travel."""
    return sorted(plan.findings, key=lambda finding: (VERDICTS.index(finding.verdict), finding.flag))


def nearest_text(nearest: Nearest) -> str:
    """Give how far the machine gets where there is no way."""
    place = f"{isolated(nearest.place)}, " if nearest.place else ""
    road = f"road {isolated(nearest.road)} {chainage(None, None, nearest.at_m)}" if nearest.road else ""
    left = "" if nearest.remaining_m is None else f"; {length(nearest.remaining_m)} short of the goal"
    return f"{TRIP_WORDS.get(nearest.trip, nearest.trip)}: gets as far as {place}{road}".rstrip(", ") + left


def stopped_by_texts(nearest: Nearest, rulebook: Rulebook) -> list[str]:
    """Give what stops the machine there, one line each, whatever keys the entry holds."""
    lines = []
    for entry in nearest.stopped_by:
        rule = rulebook.rules.get(str(entry.get("rule", "")))
        if entry.get("text"):
            lines.append(isolated(entry["text"]))
            continue
        unit = str(entry.get("unit", rule.unit if rule else ""))
        said = rule.title if rule else str(entry.get("rule", "not known"))
        feature = entry.get("feature") or entry.get("road")
        numbers = [
            f"{quantity(float(entry[word]), unit)} {said_as}"
            for word, said_as in (("demand", "asked for"), ("capacity", "there"))
            if isinstance(entry.get(word), (int, float))
        ]
        lines.append(
            ": ".join(part for part in (said, ", ".join(numbers)) if part)
            + (f" at {isolated(feature)}" if feature else "")
        )
    return lines


def entry_text(entry: Mapping[str, Any]) -> str:
    """Give an entry of a list without fixed keys as words: its own text, else key and value one after the other."""
    if entry.get("text"):
        return isolated(entry["text"])
    known = {
        key: value for key, value in entry.items() if value is not None and not isinstance(value, (list, dict, tuple))
    }
    return ", ".join(
        f"{key.removesuffix('_m').replace('_', ' ')} {_entry_value(key, value)}" for key, value in known.items()
    )


def _entry_value(key: str, value: object) -> str:
    number_of = isinstance(value, (int, float)) and not isinstance(value, bool)
    return length(float(str(value))) if number_of and key.endswith("_m") else isolated(value)


def also(plan: TravelPlan) -> list[tuple[str, list[str]]]:
    """Give what else the plan names, by heading: last places to turn back, single points, other ways, departure."""
    back = turn_back_texts([entry for entry in plan.turn_back if "kind" in entry])
    back += [entry_text(entry) for entry in plan.turn_back if "kind" not in entry]
    found = [
        ("Last place to turn back", back),
        ("Points whose loss strands the machine", [_entry(entry, "roads", plan) for entry in plan.single_points]),
        ("Next best ways", [_entry(entry, "instead", plan) for entry in plan.alternatives]),
        ("Latest departure", [latest_text(plan)] if plan.latest_departure or plan.departure else []),
    ]
    return [(heading, lines) for heading, lines in found if lines]


def latest_text(plan: TravelPlan) -> str:
    """Give the latest departure, or why there is none."""
    return departure_text(plan, moment(plan.latest_departure) if plan.latest_departure else "")


def _entry(entry: Mapping[str, Any], key: str, plan: TravelPlan) -> str:
    """Give an entry of the outlook in words; one of other shape as far as it can be told."""
    if key not in entry:
        return entry_text(entry)
    return single_point_text(entry) if key == "roads" else alternative_text(entry, plan)


def holds_for(plan: TravelPlan) -> str:
    """Give the weather and the hour a plan holds for, what of the weather was not given, and what is not there yet."""
    said = weather_and_hour(plan.weather, plan.request.get("at"))
    changes = "; ".join(isolated(text) for text in wished(plan))
    return f"{said}; only with the site changed, which it is not: {changes}" if changes else said


def weather_and_hour(weather: Mapping[str, Any], hour: object) -> str:
    """Give weather and hour in words, and what of them was not given."""
    at = f"at {moment(hour)}" if hour else "no hour given: closures and hours bar always"
    ground, heat, wind = weather.get("ground"), weather.get("temperature_c"), weather.get("wind_mps")
    if not ground and heat is None and wind is None:
        return f"weather not given; {at}"
    parts = (
        f"ground {isolated(ground)}" if ground else "ground not given",
        "temperature not given" if heat is None else quantity(float(heat), "°C"),
        "wind not given" if wind is None else f"wind {quantity(float(wind), 'm/s')}",
    )
    return ", ".join((*parts, at))


def moment(value: object) -> str:
    """Give a time as people read it.

    >>> moment("2026-01-15T08:00:00+01:00")
    '2026-01-15 08:00 +01:00'
    """
    try:
        when = dt.datetime.fromisoformat(str(value))
    except ValueError:
        return isolated(value)
    zone = when.strftime("%z")
    return when.strftime("%Y-%m-%d %H:%M") + (f" {zone[:3]}:{zone[3:5]}" if zone else "")


def cautions(plan: TravelPlan) -> list[str]:
    """Give the cautions, the one that outranks the plan first and always."""
    outranked = any("manual" in text and "competent person" in text for text in plan.cautions)
    return list(plan.cautions) if outranked else [FIRST_CAUTION, *plan.cautions]
