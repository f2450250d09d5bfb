"""The pages behind the first one: schedule, profile, findings with working, what was looked at, what is near."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from travel.domain.plan import Finding, Leg, TravelPlan, Trip
from travel.domain.rules import Rulebook
from travel.domain.site import Site
from travel.domain.working import Working
from travel.writers.formula_text import judgement_lines, working_text
from travel.writers.map_features import TITLES, rows_of, title_of
from travel.writers.numbers import chainage, duration, length, number, quantity, ranges, top_speed
from travel.writers.page_lists import SIGNS, FlagCard, Step, flag_card, trip_steps
from travel.writers.paper import Block, Box, Bullets, Figure, Heading, Para, Table
from travel.writers.sentences import Names
from travel.writers.svg_paper import paper_profile
from travel.writers.svg_profile import draw_profile
from travel.writers.svg_shunt import moves_text, shunt_svg
from travel.writers.text import isolated, plain
from travel.writers.words import TRIP_WORDS, by_severity, metres_text, told_speeds, value_text

Workings = Mapping[int, Sequence[Working]]
"""Flag → the working of its demand, and of its capacity where that is computed."""

_BESIDE = ("overheads", "limits", "edges", "people", "closures", "obstacles", "ground", "areas", "places")
"""Layers of what the plan relied on, in the order they are listed."""


def verdict_cell(verdict: str) -> str:
    """Give a verdict with its sign."""
    return f"{SIGNS[verdict]} {verdict}"


def schedule(plan: TravelPlan, rulebook: Rulebook, names: Names, lists: Mapping[str, Any]) -> list[Block]:
    """Give the configuration schedule: every stop, leg and turn in order."""
    blocks: list[Block] = [Heading("Configuration schedule")]
    for trip in plan.trips:
        blocks.append(Heading(TRIP_WORDS[trip.trip], 2))
        if not trip.found:
            blocks.append(Para("No way found.", "strong"))
            continue
        blocks.append(Para(_trip_said(plan, trip)))
        blocks.append(_schedule_table(plan, trip, names))
        blocks += [Para(f"Through corners no faster than {speed}.", "strong") for speed in _corner_speeds(plan, trip)]
        blocks += [
            Figure(drawn, f"Turn {turn.turn} from above: {moves_text(turn)}", f"Turn {turn.turn} in several moves")
            for turn in plan.turns
            if turn.trip == trip.trip and (drawn := shunt_svg(plan, turn))
        ]
    if lists["because"]:
        together: dict[tuple[str, str, str], list[str]] = {}
        for leg, how, title, said in lists["because"]:
            together.setdefault((str(leg), title, said), []).append(how)
        rows = tuple((leg, "; ".join(how), title, said) for (leg, title, said), how in together.items())
        blocks += [
            Heading("Why not otherwise", 2),
            Table(("Leg", "Not driven in", "Because of", "Where, by how much"), rows, (1, 4, 4, 7)),
        ]
    return blocks


def _corner_speeds(plan: TravelPlan, trip: Trip) -> list[str]:
    """Give the top speed in the corners of a trip, if it has any."""
    found = [t.speed_kmh for t in plan.turns if t.trip == trip.trip and t.speed_kmh is not None]
    return [quantity(top_speed(min(found)), "km/h")] if found else []


def _trip_said(plan: TravelPlan, trip: Trip) -> str:
    attitudes = dict.fromkeys(leg.attitude for leg in plan.legs if leg.trip == trip.trip)
    reverse = sum(leg.length_m for leg in plan.legs if leg.trip == trip.trip and leg.travel == "reverse")
    climb = "climb not known" if trip.climb_m is None else f"climbs {length(trip.climb_m)}"
    parts = [length(trip.length_m), climb, duration(trip.time_s), metres_text(trip)]
    parts += [f"attitude {', '.join(isolated(word) for word in attitudes)}"]
    parts += ["load on" if trip.load_on else "without load", f"{length(reverse)} in reverse"]
    return "; ".join(part for part in parts if part) + "."


def _schedule_table(plan: TravelPlan, trip: Trip, names: Names) -> Table:
    legs = {leg.leg: leg for leg in plan.legs}
    rows: list[tuple[str, ...]] = []
    for step in trip_steps(plan, trip.trip, names):
        flags = ranges(step.flags)
        if step.kind == "leg":
            rows.append(_leg_row(legs[step.number], step, flags))
        elif step.kind == "stop":
            rows.append((f"S{step.number}  {step.place}: {step.text}" + (f" Flags {flags}." if flags else ""),))
        elif step.text.split(",")[0] != "Pass" or flags:
            said = " ".join((step.text, *step.extra))
            rows.append((f"Turn {step.number}  {step.place}: {said}" + (f" Flags {flags}." if flags else ""),))
    head = ("Leg", "Road, from–to", "Drive", "Steer", "Top speed, km/h", "Verdict", "Flags")
    return Table(head, tuple(rows), (0.9, 5.4, 5.6, 1.9, 4.1, 2.1, 1.5))


def _leg_row(leg: Leg, step: Step, flags: str) -> tuple[str, ...]:
    where = f"{step.place}, {chainage(leg.from_m, leg.to_m)}, {length(leg.length_m)}"
    drive = f"{leg.travel}, {leg.range} range, gear {isolated(leg.gear)}, {value_text('drive', leg.drive)}"
    parts = [
        f"{chainage(part.from_m, part.to_m)}: {number(part.speed_kmh, 'km/h')} ({part.rule})"
        for part in told_speeds(leg)
    ]
    speed = "not known" if leg.speed_kmh is None else number(top_speed(leg.speed_kmh), "km/h")
    if len(parts) > 1:
        speed = "\n".join(parts)
    elif leg.speeds:
        speed = f"{speed} ({leg.speeds[0].rule})"
    return (str(leg.leg), where, drive, value_text("steering", leg.steering), speed, verdict_cell(leg.verdict), flags)


def profiles(plan: TravelPlan) -> list[Block]:
    """Give the profile of each trip."""
    drawn = [drawing for item in plan.profile if (drawing := draw_profile(plan, item)) is not None]
    if not drawn:
        return []
    blocks: list[Block] = [Heading("Profile")]
    for drawing in drawn:
        blocks.append(Figure(paper_profile(plan, drawing), f"{drawing.title}. {drawing.said}", drawing.title))
        blocks.append(Para(drawing.said, "small"))
    return blocks


def findings(plan: TravelPlan, rulebook: Rulebook, names: Names, workings: Workings) -> list[Block]:
    """Give every finding with its numbers, working and source; those that differ in place alone share a box."""
    blocks: list[Block] = [Heading("Findings with their working")]
    if not plan.findings:
        return [*blocks, Para("None on this way. What was looked at is listed in the next section.")]
    blocks.append(
        Para(
            "left after tolerance = capacity − demand − tolerance; with the tolerance added back below zero: blocked; "
            "else below zero: unknown; thinner than the caution margin: caution. Angles, loads and speeds in the "
            "working are in SI units.",
            "small",
        )
    )
    groups: dict[tuple[Any, ...], list[tuple[Finding, FlagCard]]] = {}
    for finding in by_severity(plan):
        card = flag_card(finding, plan, rulebook, names)
        alone = tuple(note for note in card.notes if note[0] != "id")
        key = (finding.rule, finding.verdict, card.sentence, card.numbers, alone, tuple(finding.terms.items()),
               tuple(finding.capacity_terms.items()))  # fmt: skip
        groups.setdefault(key, []).append((finding, card))
    return [*blocks, *(_finding_box(found, workings) for found in groups.values())]


def _finding_box(found: list[tuple[Finding, FlagCard]], workings: Workings) -> Box:
    finding, card = found[0]
    several = len(found) > 1
    title = (
        f"Flag{'s' if several else ''} {ranges(f.flag for f, _ in found)}: {verdict_cell(card.verdict)} – {card.title}"
    )
    places = [f"flag {f.flag}: {c.trip.lower()}, {c.where}" + (f", leg {f.leg}" if f.leg else "") for f, c in found]
    notes = [("where", "; ".join(places) if several else places[0].split(": ", 1)[1])]
    notes += list(card.numbers)
    notes += [note for note in card.notes if note[0] != "id"]
    notes += [("source", card.source)] if card.source else []
    notes.append(("id", ", ".join(plain(f.id) for f, _ in found)))
    lines: list[str] = []
    if finding.demand is not None and finding.capacity is not None:
        lines += judgement_lines(finding)
    for working in workings.get(finding.flag, ()):
        lines += ["", *working_text(working).splitlines()]
    return Box(title, card.sentence, tuple(notes), tuple(plain(line) for line in lines), card.verdict)


def looked_at(plan: TravelPlan, lists: Mapping[str, Any]) -> list[Block]:
    """Give what was looked at: each rule with metres by verdict and its smallest margin; and what was not."""
    rows = tuple((row["title"], row["applied"], row["said"], row["margin"], row["where"]) for row in lists["checked"])
    head = ("Rule", "Applied over", "Of that", "Smallest margin", "Where")
    blocks: list[Block] = [Heading("What was looked at"), Para(f"{str(lists['checked_line']).capitalize()}.")]
    blocks.append(Table(head, rows, (5, 2.4, 4.4, 2.6, 4.4)) if rows else Para("No rule was looked at."))
    if lists["not_built"]:
        blocks.append(Para("Not looked at in this plan: " + "; ".join(lists["not_built"]) + ".", "warning"))
    return blocks


def beside(plan: TravelPlan, site: Site) -> list[Block]:
    """Give what lies on and beside the way, with the values the plan relied on."""
    blocks: list[Block] = [Heading("On and beside the way")]
    by_layer: dict[str, list[str]] = {}
    for item in plan.relied_on:
        by_layer.setdefault(item.layer, []).append(item.feature)
    alike: dict[tuple[str, str], list[str]] = {}
    for name in _BESIDE:
        layer = site.layers.get(name)
        for feature in by_layer.get(name, []):
            if layer is None or feature not in layer.ids:
                continue
            row = layer.index(feature)
            said = ", ".join(f"{label} {value}" for label, value in rows_of(layer, row))
            alike.setdefault((TITLES[name], said), []).append(title_of(layer, row))
    rows = [(kind, ", ".join(names), said) for (kind, said), names in alike.items()]
    notes = [
        f"{TITLES.get(name, name)}: looked at {note.date.isoformat()}" + (f" by {isolated(note.by)}" if note.by else "")
        + (f", {isolated(note.method)}" if note.method else "")
        for name, note in site.header.surveyed.items()
    ]  # fmt: skip
    missing = [TITLES[name].lower() for name in (*_BESIDE, "roads") if name not in site.header.surveyed]
    blocks.append(Table(("Kind", "What", "As surveyed"), tuple(rows), (2, 4, 10)) if rows
                  else Para("Nothing is recorded beside the way; see below who looked"))  # fmt: skip
    blocks += [Heading("Who looked, when", 2), Bullets(tuple(notes))] if notes else []
    if missing:
        blocks.append(Para(f"Nobody is recorded as having looked for: {', '.join(missing)}.", "warning"))
    return blocks


def remedies(plan: TravelPlan) -> list[Block]:
    """Give what would open a way, as far as found."""
    if not plan.remedies:
        return []
    rows = tuple(
        (
            str(item.remedy),
            isolated(item.text),
            isolated(item.who),
            "not known" if item.lead_time_days is None else quantity(item.lead_time_days, "d"),
            isolated(item.side_effects),
            "by planning again" if item.proven else "to be measured" if item.kind == "survey" else "not proven",
        )
        for item in plan.remedies
    )
    head = ("No.", "What", "Who decides", "Lead time", "Side effects", "Proven")
    return [Heading("Least found that would open a way"), Table(head, rows, (0.8, 6, 3, 1.6, 3.4, 2))]
