"""What a ramp's answer says in words, the same on page and screen."""

from __future__ import annotations

from itertools import pairwise

from travel.domain.plan import Condition, Finding
from travel.domain.ramp import CloseUp, RampChecked, RampResult, TieDown
from travel.domain.rules import Rulebook
from travel.writers.law_words import height_text, law_rows
from travel.writers.numbers import MINUS, number, quantity
from travel.writers.sentences import sentence, source_text
from travel.writers.text import isolated

_ORDER = ("blocked", "unknown", "caution", "clear")
_OF_A_PLACE = "unloading-place"
_PLACES = {"load": "on", "unload": "off"}


def heading(result: RampResult) -> str:
    """Give what was asked."""
    request = result.request
    where = "onto" if request["move"] == "load" else "off"
    return f"{isolated(result.machine['name'])} {where} {isolated(result.trailer['name'])}, {request['first']} first"


def outcome(result: RampResult) -> str:
    """Give the answer in one sentence."""
    word = _PLACES[str(result.request["move"])]
    return {
        "clear": f"Yes: the machine can go {word}.",
        "caution": f"Yes, with care: the machine can go {word}; mind the flags.",
        "unknown": f"Not yet: something is not known. Nobody drives {word} as it stands.",
        "blocked": f"No: the machine does not go {word} like this.",
    }[result.verdict]


def holds_for(result: RampResult) -> str:
    """Give the ground, slope and weather the answer holds for."""
    request = result.request
    slope, cross = float(request["ground_slope_pct"]), float(request["ground_cross_slope_pct"])
    nose = f"nose {'uphill' if slope > 0 else 'downhill'} on {quantity(abs(slope), '%')}" if slope else "level along"
    side = f"{quantity(abs(cross), '%')} falling to the {'right' if cross > 0 else 'left'}" if cross else "level across"
    surface = (
        f"rig on {isolated(str(request['surface']).replace('_', ' '))}" if request["surface"] else "ground not stated"
    )
    muddy = request["ground_taken"] == "mud"
    state = f"ramps and deck {'muddy' if muddy else isolated(request['ground_taken'])}"
    state += "" if request["ground"] else " (weather not stated)"
    law = f"jurisdiction {isolated(request['jurisdiction'])}" if request["jurisdiction"] else "jurisdiction not stated"
    nose = "slope along not stated (drawn level)" if "ground_slope_pct" in request["not_stated"] else nose
    side = "slope across not stated" if "ground_cross_slope_pct" in request["not_stated"] else side
    return ", ".join((nose, side, surface, state, law))


def tight_text(result: RampResult) -> str:
    """Give the tightest place as a driver is told it."""
    tight = result.smallest_clearance
    if tight.value_m is None or tight.at_m is None or tight.machine_point is None:
        return "Clearance not known."
    cm = centimetres(tight.value_m)
    where = f"{quantity(abs(tight.at_m), 'm')} {'past' if tight.at_m >= 0 else 'before'} {start_text(result)}"
    axle = "rear" if (result.request["move"] == "load") != (result.request["first"] == "nose") else "front"
    place = f"{tight.end}, {quantity(abs(tight.machine_point[0]), 'm')} "
    place += "ahead of the front axle" if tight.machine_point[0] >= 0 else "behind the front axle"
    said = f"{cm} under the machine" if tight.value_m >= 0 else f"it cuts in by {cm.lstrip(MINUS)}"
    return f"Tightest: {said} ({place}), with the {axle} axle {where}."


def close_up_text(result: RampResult, part: CloseUp) -> str:
    """Give the tightest place of one part of the machine in words."""
    axle = "rear" if (result.request["move"] == "load") != (result.request["first"] == "nose") else "front"
    said = f"cuts in by {centimetres(-part.value_m)}" if part.value_m < 0.0 else f"{centimetres(part.value_m)} left"
    where = f"{quantity(abs(part.at_m), 'm')} {'past' if part.at_m >= 0 else 'before'} {start_text(result)}"
    return f"{part.end[:1].upper()}{part.end[1:]}: {said}, {axle} axle {where}"


def start_text(result: RampResult) -> str:
    """Name where positions are counted from: the ramp's foot, or the edge of a bed that itself comes down."""
    return "the ramp's foot" if result.trailer["ramp_length_m"] else "the deck's edge"


def sizes_text(result: RampResult) -> str:
    """Give the lengths and heights of ramp and deck, and the slope of the ramp on the ground as it was asked."""
    view, length = result.side_view, [float(value) for value in result.trailer["ramp_length_m"]]
    deck = [z for x, z in view.profile_xz if x >= view.edge_x - 1e-6]
    run, rise = view.edge_x - view.foot_x, deck[0]
    said = (
        f"Ramps {quantity(min(length), 'm')} long, {quantity(100.0 * rise / run, '%')} steep; "
        if length and run
        else ""
    )
    if not length:
        points = [point for point in view.profile_xz if point[0] >= view.edge_x - 1e-6]
        slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(points) if b[0] - a[0] > 1e-6]
        return (
            f"No ramps: the bed itself comes down, {quantity(100.0 * max(slopes), '%')} steep; "
            f"{quantity(deck[0], 'm')} high at its edge, {quantity(max(deck), 'm')} at most."
        )
    return f"{said}deck {quantity(deck[0], 'm')} high at its edge, {quantity(max(deck), 'm')} at most."


def centimetres(value_m: float) -> str:
    """Give a clearance in whole centimetres, rounded down.

    >>> centimetres(0.1389), centimetres(-0.021)
    ('13 cm', '−3 cm')
    """
    import math

    whole = math.floor(value_m * 100.0 + 1e-9)
    return f"{MINUS if whole < 0 else ''}{abs(whole)} cm"


def by_severity(result: RampResult) -> list[Finding]:
    """Give the findings, worst first."""
    return sorted(result.findings, key=lambda finding: (_ORDER.index(finding.verdict), finding.flag))


def finding_text(finding: Finding, rulebook: Rulebook) -> str:
    """Give one finding in words, where on the ramp included."""
    said = sentence(finding, rulebook)
    return f"{said[:1].upper()}{said[1:]}"


def finding_where(finding: Finding, result: RampResult) -> str:
    """Give the position of the leading axle at which a finding is worst."""
    return "" if finding.where.at_m is None else _leading(result, finding.where.at_m)


def _leading(result: RampResult, at_m: float) -> str:
    return f"leading axle {quantity(abs(at_m), 'm')} {'past' if at_m >= 0 else 'before'} {start_text(result)}"


def finding_source(finding: Finding, rulebook: Rulebook) -> str:
    """Give the source a finding's limit has."""
    key, _, clause = finding.source.partition(" ")
    text = source_text(key, rulebook)
    return f"{text}, {clause}" if clause else text


def open_conditions(result: RampResult) -> list[Condition]:
    """Give the conditions beyond the routine list."""
    return [condition for condition in result.conditions if condition.kind != "pre_travel"]


def checked_line(result: RampResult) -> str:
    """Give how many rules were asked, of how many."""
    return f"checked against {sum(row.applied for row in result.checked)} of {len(result.checked)} rules"


def not_asked(result: RampResult) -> list[str]:
    """Give the rules that were not asked: not built, or nothing here that they apply to."""
    return [f"{row.title} ({why_not_asked(row)})" for row in result.checked if not row.applied]


def why_not_asked(row: RampChecked) -> str:
    """Give why a rule of the group was not asked here."""
    if row.rule == _OF_A_PLACE:
        return "asked of a place on a site, by travel plan with --trailer"
    return "does not apply" if row.built else "not built yet"


def facts(result: RampResult) -> list[tuple[str, str]]:
    """Give the numbers a driver and a planner look for first."""
    window = result.deck_window_m
    position = "no place on the deck" if window is None else f"{number(window[0], 'm')} to {number(window[1], 'm')} m"
    best = "" if result.best_position_m is None else f", best {quantity(result.best_position_m, 'm')}"
    hold, size = result.rig_hold, result.overall
    rows = [
        ("Smallest clearance", quantity(result.smallest_clearance.value_m, "m", 3)),
        ("Angles of the machine", f"approach {quantity(result.approach_deg, '°')}, departure "
         f"{quantity(result.departure_deg, '°')}, breakover {quantity(result.breakover_deg, '°')}"),
        ("Front axle from the deck's rear edge", position + (best if window else "")),
        ("Least load on the coupling", _at(result, result.nose_lift["coupling_kg_min"], result.nose_lift["at_m"])),
        ("What holds the rig", f"{quantity(hold['available_kn'], 'kN')}, {quantity(hold['needed_kn'], 'kN')} needed"),
    ]  # fmt: skip
    rows += [
        (
            f"{row.side.capitalize()} ramp",
            f"{_at(result, row.load_kg, row.at_m)}; rated {quantity(row.rating_kg, 'kg')}",
        )
        for row in result.ramps
    ]
    rows += [
        ("On the road, coupling", quantity(result.coupling_kg, "kg")),
        ("On the road, trailer axles", ", ".join(quantity(load, "kg") for load in result.trailer_axles_kg)),
        ("On the road, towing axles", ", ".join(quantity(load, "kg") for load in result.towing_axles_kg) or "–"),
        ("Travelling height", height_text(size)),
        ("Width, length, gross", f"{quantity(size['width_m'], 'm')}, {quantity(size['length_m'], 'm')}, "
         f"{quantity(size['gross_kg'], 'kg')}"),
    ]  # fmt: skip
    zone = result.fall_zone
    rows.append(("Nobody nearer than", f"{quantity(zone['beside_m'], 'm')} beside rig and ramps, "
                 f"{quantity(zone['before_edge_m'], 'm')} before the deck's edge"))  # fmt: skip
    rows.append(("Restrained by themselves", "; ".join(result.restrained)))
    return rows + law_rows(size, result.earliest)


def _at(result: RampResult, kg: float | None, at_m: float | None) -> str:
    return quantity(kg, "kg") + ("" if kg is None or at_m is None else f" ({_leading(result, at_m)})")


def tie_text(tied: TieDown) -> str:
    """Give what one tie-down adds."""
    if tied.missing:
        return f"not known: {', '.join(isolated(name) for name in tied.missing)}"
    holds = ", ".join(f"{name} {quantity(value, 'kg')}" for name, value in tied.holds_kg.items() if value)
    said = f"limit {quantity(tied.limit_kg, 'kg')}, counts {quantity(tied.counts_kg, 'kg')}"
    return said + (f"; holds {holds}" if holds else "")
