"""The way as GPX 1.1: a track a trip, a waypoint for each stop and flag.

Element order and types follow the published schema (GPX 1.1, 2004). Heights are those of the site's height datum.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

from travel.domain.plan import Finding, Leg, Stop, TravelPlan
from travel.domain.rules import Rulebook
from travel.writers.numbers import duration, length
from travel.writers.sentences import Names, sentence, where_text
from travel.writers.text import plain
from travel.writers.words import TRIP_WORDS, holds_for, leg_text, metres_text, outcome_text, stop_text

NAMESPACE = "http://www.topografix.com/GPX/1/1"
"""Name of the format, not fetched."""


def gpx(plan: TravelPlan, rulebook: Rulebook, names: Names, points: dict[int, tuple[float, float]]) -> bytes:
    """Give the file.

    Args:
        plan: the plan
        rulebook: for its sentences
        names: what people call the features
        points: longitude and latitude of flags, by number; a flag without one has no waypoint
    """
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<gpx xmlns="{NAMESPACE}" version="1.1" creator={_quoted(plan.program.get("name", "machine-travel"))}>',
        *_metadata(plan),
    ]
    for stop in plan.stops:
        if stop.lonlat is not None:
            lines += _stop(stop, names)
    for finding in plan.findings:
        point = points.get(finding.flag)
        if point is not None:
            lines += _flag(finding, point, rulebook, names)
    for number, trip in enumerate((trip for trip in plan.trips if trip.found), start=1):
        legs = [leg for leg in plan.legs if leg.trip == trip.trip]
        said = f"{trip.verdict.upper()}. {length(trip.length_m)}, {duration(trip.time_s)}; {metres_text(trip)}."
        lines += ["<trk>", _element("name", TRIP_WORDS[trip.trip]), _element("desc", said)]
        lines += [f"<number>{number}</number>", _element("type", trip.verdict)]
        lines += [line for leg in legs for line in _segment(leg)]
        lines.append("</trk>")
    lines.append("</gpx>")
    return ("\n".join(lines) + "\n").encode("utf-8")


def _metadata(plan: TravelPlan) -> Iterator[str]:
    yield "<metadata>"
    yield _element("name", f"Travel plan {plan.plan_id}")
    yield _element(
        "desc",
        f"{plan.verdict.upper()}: {outcome_text(plan)} Holds for {holds_for(plan)}. Fingerprint {plan.fingerprint}. "
        "A picture of the plan, not the plan: conditions and findings are in the document.",
    )
    yield f"<time>{escape(_moment(plan.created_at))}</time>"
    yield "</metadata>"


def _moment(created_at: str) -> str:
    """Give a time as the schema wants it: UTC with Z."""
    import datetime as dt

    when = dt.datetime.fromisoformat(created_at)
    return when.astimezone(dt.UTC).replace(microsecond=0).isoformat().replace("+00:00", "Z")


def _stop(stop: Stop, names: Names) -> Iterator[str]:
    assert stop.lonlat is not None
    place = names.get(("places", stop.place or ""), stop.place or stop.road)
    yield _opening("wpt", stop.lonlat)
    yield _element("name", f"S{stop.stop} {place}")
    yield _element("desc", f"{TRIP_WORDS.get(stop.trip, stop.trip)}: {stop_text(stop)}")
    yield _element("type", "stop")
    yield "</wpt>"


def _flag(finding: Finding, point: tuple[float, float], rulebook: Rulebook, names: Names) -> Iterator[str]:
    yield _opening("wpt", point)
    yield _element("name", f"Flag {finding.flag} {finding.verdict}")
    trip = TRIP_WORDS.get(finding.trip, finding.trip)
    yield _element("desc", f"{trip}, {where_text(finding.where, names)}: {sentence(finding, rulebook, names)}")
    yield _element("type", finding.verdict)
    yield "</wpt>"


def _segment(leg: Leg) -> Iterator[str]:
    """Give one leg as a segment of its track; a comment cannot stand on it, so its first point carries the order."""
    yield "<trkseg>"
    for position, point in enumerate(leg.path_lonlat):
        said = f"Leg {leg.leg}: {leg.verdict}. {leg_text(leg)}" if position == 0 else ""
        height = f"<ele>{point[2]:.2f}</ele>" if len(point) > 2 else ""
        if not height and not said:
            yield _opening("trkpt", point, close="/")
            continue
        yield f"{_opening('trkpt', point)}{height}{_element('desc', said) if said else ''}</trkpt>"
    yield "</trkseg>"


def _opening(tag: str, point: tuple[float, ...], close: str = "") -> str:
    return f'<{tag} lat="{point[1]:.7f}" lon="{point[0]:.7f}"{close}>'


def _element(tag: str, text: object) -> str:
    return f"<{tag}>{escape(_legal(text))}</{tag}>"


def _quoted(text: object) -> str:
    return quoteattr(_legal(text))


def _legal(text: object) -> str:
    """Give text of characters XML 1.0 allows."""
    return "".join(
        "\ufffd" if unicodedata.category(char) == "Cn" or char in "\ufffe\uffff" else char for char in plain(text)
    )
