"""The outlook of a plan in words: other ways, where to turn back, single points, the latest departure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from travel.domain.plan import TravelPlan
from travel.writers.numbers import chainage, duration, length, quantity, ranges
from travel.writers.text import isolated, plain

TRIPS = {"arrive": "way in by road", "out": "way out", "back": "way back", "leave": "way off the site"}
VERDICTS = ("clear", "caution", "unknown", "blocked")
MOST_ROADS = 5
NOT_BY_HOUR = "Weather, ground, other traffic and other plans are not looked at by the hour."
CORNERS = "corners driven backwards are not looked at"

Entry = Mapping[str, Any]


def alternative_text(entry: Entry, plan: TravelPlan) -> str:
    """Give another way: how good, how long, what differs, and the worst on it."""
    said = [
        f"{_trip(entry['trip'])}, {_rank(int(entry['rank']))} best: {entry['verdict']}, "
        f"{length(entry['length_m'])}, {duration(entry['time_s'])} ({_more(entry)})",
        f"by {_roads(entry['instead'])}" + (f" instead of {_roads(entry['left_out'])}" if entry["left_out"] else ""),
        f"{length(entry['shared_m'])} are the same",
    ]
    return "; ".join(said) + "." + _worst(entry.get("worst"), plan)


def turn_back_texts(entries: Iterable[Entry]) -> list[str]:
    """Give where to turn back, flags with the same place in one line."""
    groups: dict[tuple[Any, ...], list[Entry]] = {}
    for entry in entries:
        groups.setdefault((entry["trip"], entry["kind"], entry["road"], entry["at_m"]), []).append(entry)
    return [_turn_back(group) for group in groups.values()]


def single_point_text(entry: Entry) -> str:
    """Give a stretch or structure every way needs."""
    trips = " and ".join(TRIPS.get(trip, trip) for trip in entry["trips"])
    ends = [
        f"{word} {isolated(entry[key])}" for word, key in (("from", "from_place"), ("to", "to_place")) if entry[key]
    ]
    roads = [f"{isolated(r['road'])} {chainage(r['from_m'], r['to_m'])}" for r in entry["roads"]]
    if len(roads) > MOST_ROADS:
        roads = [*roads[:2], "…", roads[-1]]
    on_it = ", ".join(f"{plain(f['kind']).replace('_', ' ')} {isolated(f['feature'])}" for f in entry["features"])
    if entry["kind"] == "structure":
        return f"{_first(trips)}: {on_it}, on {', '.join(roads)}."
    said = f"{_first(trips)}: {length(entry['length_m'])}{' ' if ends else ''}{' '.join(ends)}, {', '.join(roads)}"
    return said + (f"; on it {on_it}." if on_it else ".")


def departure_text(plan: TravelPlan, said: str) -> str:
    """Give the latest departure, or why there is none; ``said`` is the hour itself, as people read it."""
    found = plan.departure
    if found is None:
        return said or "none worked out in this plan"
    if found["state"] == "limited":
        return f"{said}. Then: {'; '.join(_ends(entry, plan) for entry in found['limited_by'])}. {NOT_BY_HOUR}"
    if found["state"] == "not_limited":
        return f"no limit by the clock within 24 hours of the hour asked for. {NOT_BY_HOUR}"
    if found["state"] == "unknown":
        return f"not known: {', '.join(plain(name) for name in found['missing'])} missing on the way"
    if found["state"] == "no_way":
        return "none: there is no way"
    return f"any hour: checked in the dark and with every closure and hour in force. {NOT_BY_HOUR}"


def _trip(trip: str) -> str:
    return _first(TRIPS.get(trip, trip))


def _first(text: str) -> str:
    return text[:1].upper() + text[1:]


def _rank(rank: int) -> str:
    return {1: "next", 2: "second next"}.get(rank, f"{rank}th next")


def _more(entry: Entry) -> str:
    longer, later = float(entry["longer_m"]), float(entry["later_s"])
    ways = f"{length(abs(longer))} {'longer' if longer >= 0 else 'shorter'}"
    return f"{ways}, {duration(abs(later))} {'more' if later >= 0 else 'less'}"


def _roads(roads: Sequence[str]) -> str:
    if not roads:
        return "the same roads"
    shown = [isolated(road) for road in roads]
    return ", ".join(shown if len(shown) <= MOST_ROADS else [*shown[:3], "…", shown[-1]])


def _worst(worst: Entry | None, plan: TravelPlan) -> str:
    if not worst:
        return ""
    at = [isolated(worst[key]) for key in ("feature", "road") if worst.get(key)]
    numbers = ""
    if worst.get("demand") is not None and worst.get("capacity") is not None:
        unit = str(worst["unit"])
        numbers = f", {quantity(worst['demand'], unit)} asked for, {quantity(worst['capacity'], unit)} there"
    return f" Worst on it: {_title(str(worst['rule']), plan)}{' at ' + ', '.join(at) if at else ''}{numbers}."


def _title(rule: str, plan: TravelPlan) -> str:
    return plain(plan.rules.get(rule, {}).get("title", rule))


def _ends(entry: Entry, plan: TravelPlan) -> str:
    at = [isolated(entry[key]) for key in ("feature", "road") if entry.get(key)]
    return f"{_title(str(entry['rule']), plan)} at {', '.join(at)}, {TRIPS.get(entry['trip'], entry['trip'])}"


def _turn_back(group: Sequence[Entry]) -> str:
    first, flags = group[0], ranges([int(entry["flag"]) for entry in group])
    least, most = (pick(float(entry["reverse_m"]) for entry in group) for pick in (min, max))
    far = length(most) if length(least) == length(most) else f"{length(least)} to {length(most)}"
    word = f"{_trip(first['trip'])}, flag{'s' if len(group) > 1 else ''} {flags}"
    verdicts = [entry["reverse_verdict"] for entry in group if entry["reverse_verdict"]]
    judged = f" (backwards: {max(verdicts, key=VERDICTS.index)}; {CORNERS})" if verdicts else ""
    place = isolated(first["place"]) if first["place"] else ""
    road = f"{isolated(first['road'])} {chainage(None, None, first['at_m'])}"
    if first["kind"] == "turn_round":
        back = f"; stopped at a flag, {far} to reverse to there{judged}" if most >= 0.5 else ""
        return f"{word}: turn round at {place + ', ' if place else ''}{road}{back}."
    back = f"; stopped at a flag, {far} to reverse{judged}" if most >= 0.5 else ""
    return f"{word}: no place to turn round before, so make sure of them before setting off from {place or road}{back}."
