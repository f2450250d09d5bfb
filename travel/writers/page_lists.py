"""The lists of the page, in words; the template only sets them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from travel.domain.plan import Finding, TravelPlan
from travel.domain.rules import Rulebook
from travel.domain.what_if import wished
from travel.writers.haul_words import haul_sections
from travel.writers.numbers import length, quantity, term, top_speed
from travel.writers.sentences import Names, judged, limit_unit, missing_text, sentence, source_text, where_text
from travel.writers.svg_shunt import moves_text
from travel.writers.text import isolated, plain
from travel.writers.together import gathered, known_nowhere
from travel.writers.words import (
    TRIP_WORDS,
    also,
    by_severity,
    cautions,
    checked_line,
    holds_for,
    leg_text,
    metres_text,
    moment,
    nearest_text,
    open_conditions,
    open_unknowns,
    outcome_text,
    speed_texts,
    stop_text,
    stopped_by_texts,
    trip_line,
    value_text,
)

_TURNS = {"through": "Pass", "shunt": "Shunt round", "turn_round": "Turn round"}
SIGNS = {"clear": "✓", "caution": "▲", "unknown": "?", "blocked": "✕"}


@dataclass(frozen=True)
class FlagCard:
    """One flag in words: what list, popup and profile show."""

    number: int
    verdict: str
    trip: str
    leg: int | None
    title: str
    sentence: str
    where: str
    numbers: tuple[tuple[str, str], ...]
    notes: tuple[tuple[str, str], ...]
    working: tuple[tuple[str, str], ...]
    formula: str
    source: str


@dataclass(frozen=True)
class Step:
    """One line of the driver's order: a stop, a leg or a turn."""

    kind: str
    number: int
    place: str
    text: str
    extra: tuple[str, ...]
    flags: tuple[int, ...]


def page_lists(plan: TravelPlan, rulebook: Rulebook, names: Names) -> dict[str, Any]:
    """Give every list of the page by name."""
    groups, alone = gathered(by_severity(plan), rulebook, known_nowhere(plan))
    joined = {finding.id for group in groups for finding in group.findings}
    place_names = {feature: name for (layer, feature), name in names.items() if layer == "places"}
    return {
        "title_rows": title_rows(plan),
        "heading": f"{plain(plan.machine.get('name', 'Machine'))}: {_asked(plan)}",
        "outcome": outcome_text(plan),
        "proposal": plan.outcome == "way" and plan.verdict != "blocked" and not wished(plan),
        "sign": SIGNS["blocked" if plan.outcome == "no_way" else plan.verdict],
        "trips": [
            (TRIP_WORDS[trip.trip], trip_line(plan, trip, place_names), metres_text(trip) if trip.found else "")
            for trip in plan.trips
        ],
        "cards": [flag_card(finding, plan, rulebook, names) for finding in by_severity(plan)],
        "alone": {finding.flag for finding in alone},
        "groups": [(group.said, group.todo, {finding.flag for finding in group.findings}) for group in groups],
        "steps": [(TRIP_WORDS[trip.trip], trip_steps(plan, trip.trip, names)) for trip in plan.trips if trip.found],
        "conditions": [item for item in plan.conditions if item.id not in joined],
        "open_count": sum(item.id not in joined for item in open_conditions(plan)) + len(groups),
        "unknowns": [finding for finding in open_unknowns(plan) if finding.id not in joined],
        "nearest": [(nearest_text(item), stopped_by_texts(item, rulebook)) for item in plan.nearest],
        "remedies": plan.remedies,
        "checked": _checked_rows(plan, names),
        "checked_line": checked_line(plan),
        "not_built": [isolated(row.title) for row in plan.checked if not row.built],
        "because": _because_rows(plan, rulebook, names),
        "also": also(plan),
        "haul": haul_sections(plan),
        "cautions": cautions(plan),
        "doubts": plan.doubts,
    }


def flag_card(finding: Finding, plan: TravelPlan, rulebook: Rulebook, names: Names) -> FlagCard:
    """Give one flag in words."""
    rule = rulebook.rules.get(finding.rule)
    title = rule.title if rule else str(plan.rules.get(finding.rule, {}).get("title", finding.rule))
    numbers = judged(finding)
    shown = [
        ("asked for", numbers["demand"]),
        ("there", numbers["capacity"]),
        ("left after tolerance", numbers["margin"]),
        ("tolerance", numbers["tolerance"]),
    ]
    if finding.severity is not None:
        shown.append(("of the caution margin", quantity(100 * finding.severity, "%", 0)))
    terms = [term(name, value) for name, value in finding.terms.items()]
    terms += [term(name, value) for name, value in finding.capacity_terms.items()]
    formula = ", ".join(name for name in (finding.formula, finding.capacity_formula) if name)
    return FlagCard(
        number=finding.flag,
        verdict=finding.verdict,
        trip=TRIP_WORDS.get(finding.trip, finding.trip),
        leg=finding.leg,
        title=plain(title),
        sentence=sentence(finding, rulebook, names),
        where=where_text(finding.where, names),
        numbers=tuple(shown) if finding.demand is not None or finding.capacity is not None else (),
        notes=tuple(_notes(finding, plan, rulebook)),
        working=tuple(terms),
        formula=plain(formula),
        source=source_text(finding.source, rulebook, plan.sources),
    )


def _notes(finding: Finding, plan: TravelPlan, rulebook: Rulebook) -> list[tuple[str, str]]:
    notes = []
    if finding.why:
        notes.append(("why", isolated(finding.why)))
    if finding.reason:
        notes.append(("reason", isolated(finding.reason.replace("_", " "))))
    if finding.missing:
        notes.append(("missing", missing_text(finding)))
    if finding.control:
        control = rulebook.controls.get(finding.control)
        notes.append(("control", control.text if control else isolated(finding.control)))
    if finding.limit is not None:
        limit = finding.limit
        value = quantity(limit.value, limit_unit(finding, rulebook))
        notes.append(("limit", f"{value} ({limit.id}, {limit.status}, layer {limit.layer})"))
        notes.append(("limit from", source_text(limit.source, rulebook, plan.sources)))
    if finding.configuration:
        said = ", ".join(f"{name} {value_text(name, value)}" for name, value in finding.configuration.items())
        notes.append(("driven in", said))
    if finding.verdict == "unknown":
        who = "by name and reason" if finding.acceptable else "by nobody on a form: survey it"
        notes.append(("may be accepted", who))
    if finding.accepted:
        notes.append(("accepted", isolated(finding.accepted)))
    notes.append(("id", isolated(finding.id)))
    return notes


def trip_steps(plan: TravelPlan, trip: str, names: Names) -> list[Step]:
    """Give the driver's order of one trip: stops, legs, turns as they come."""
    steps: list[Step] = []
    stops = [stop for stop in plan.stops if stop.trip == trip]
    legs = [leg for leg in plan.legs if leg.trip == trip]
    first = legs[0].leg if legs else 0
    turned = [turn for turn in plan.turns if turn.trip == trip]
    for leg in legs:
        for stop in stops:
            if stop.before_leg == leg.leg:
                steps.append(
                    Step("stop", stop.stop, _place(stop.place or stop.road, names), stop_text(stop), (), stop.flags)
                )
        if leg.leg == first:
            steps += [_turn_step(turn, names) for turn in turned if turn.after_leg < first]
        steps.append(Step("leg", leg.leg, _road(leg.road, names), leg_text(leg), tuple(speed_texts(leg)), leg.flags))
        steps += [_turn_step(turn, names) for turn in turned if turn.after_leg == leg.leg]
    for stop in stops:
        if stop.before_leg is None:
            steps.append(
                Step("stop", stop.stop, _place(stop.place or stop.road, names), stop_text(stop), (), stop.flags)
            )
    return steps


def _turn_step(turn: Any, names: Names) -> Step:
    room = ""
    if turn.needed_m is not None:
        room = f", needs {quantity(turn.needed_m, 'm')}, has {quantity(turn.room_m, 'm')}"
    steer = value_text("steering", turn.steering) if turn.steering else "as before"
    speed = "" if turn.speed_kmh is None else f", no faster than {quantity(top_speed(turn.speed_kmh), 'km/h')}"
    text = f"{_TURNS[turn.kind]}, steer {steer}{room}{speed}."
    moves = (f"{moves_text(turn)}.",) if turn.moves else ()
    return Step("turn", turn.turn, _place(turn.place or "", names), text, moves, turn.flags)


def _place(place: str, names: Names) -> str:
    name = names.get(("places", place))
    return f"{isolated(name)} ({isolated(place)})" if name and name != place else isolated(place)


def _road(road: str, names: Names) -> str:
    name = names.get(("roads", road))
    return f"{isolated(name)} ({isolated(road)})" if name and name != road else isolated(road)


def _asked(plan: TravelPlan) -> str:
    return f"{isolated(plan.request.get('from', '?'))} → {isolated(plan.request.get('to', '?'))}"


def title_rows(plan: TravelPlan) -> list[tuple[str, str]]:
    """Give what the plan is about: site, machine, ends, load, weather, number, fingerprint."""
    surveyed = plan.site.get("surveyed_on")
    load = plan.load.get("name") if plan.load else None
    mass = plan.machine.get("gross_kg")
    machine = isolated(plan.machine.get("name", "not named"))
    if isinstance(mass, (int, float)):
        machine += f", {quantity(float(mass), 'kg')}"
    if plan.machine.get("attitude"):
        machine += f", {isolated(plan.machine['attitude'])}"
    return [
        (
            "Site",
            isolated(plan.site.get("name", "not named")) + (f", surveyed {isolated(surveyed)}" if surveyed else ""),
        ),
        ("Machine", machine),
        ("From – to", _asked(plan)),
        ("Load", isolated(load) if load else "none"),
        *_trailer_row(plan),
        ("Holds for", holds_for(plan)),
        ("Plan", f"{isolated(plan.plan_id)}, made {moment(plan.created_at)}"),
        ("Fingerprint", isolated(plan.fingerprint[:16]) + ("…" if len(plan.fingerprint) > 16 else "")),
    ]


def _trailer_row(plan: TravelPlan) -> list[tuple[str, str]]:
    """Give the trailer and the place it stands at, where the machine comes on one."""
    name, place = (plan.transport or {}).get("trailer"), (plan.unloading or {}).get("place")
    if not name:
        return []
    return [
        ("Trailer", isolated(name) + (f", unloads at {isolated(place)}" if place else ", no place found to unload"))
    ]


def _checked_rows(plan: TravelPlan, names: Names) -> list[dict[str, Any]]:
    rows = []
    for row in plan.checked:
        if not row.built:
            continue
        counted = {"blocked": row.blocked_m, "unknown": row.unknown_m, "caution": row.caution_m, "clear": row.clear_m}
        margin = "–" if row.smallest_margin is None else quantity(row.smallest_margin, row.unit)
        if not row.applied_m and not any(counted.values()):
            said = "nothing on the way it applies to"
        else:
            said = ", ".join(f"{length(value)} {word}" for word, value in counted.items() if value > 0)
        rows.append(
            {
                "rule": row.rule,
                "title": plain(row.title),
                "said": said,
                "applied": length(row.applied_m),
                "margin": margin,
                "where": where_text(row.at, names) if row.at is not None else "",
            }
        )
    return rows


def _because_rows(plan: TravelPlan, rulebook: Rulebook, names: Names) -> list[tuple[int, str, str, str]]:
    """Give why another configuration was not chosen: leg, configuration, rule, where and by how much."""
    rows = []
    for leg in plan.legs:
        for item in leg.because:
            rule = rulebook.rules.get(item.rule)
            numbers = ""
            if item.demand is not None or item.capacity is not None:
                numbers = f": {quantity(item.demand, item.unit)} asked for, {quantity(item.capacity, item.unit)} there"
            title = plain(rule.title if rule else plan.rules.get(item.rule, {}).get("title", item.rule))
            rows.append((leg.leg, isolated(item.configuration), title, f"{where_text(item.where, names)}{numbers}"))
    return rows
