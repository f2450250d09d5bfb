"""The outlook of a plan: other ways, where to turn back, what nothing may happen to, and how late it may start."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from travel.domain.plan import TravelPlan
from travel.domain.verdict import Verdict
from travel.planning.departure import departure_of
from travel.planning.outlook_back import turn_back_of
from travel.planning.outlook_ways import Outlook, alternatives_of, single_points_of
from travel.planning.trips import Trip
from travel.routing.outlook import Ask, Other, other_ways, single_links

MOST_OTHERS = 2
"""Next best ways named a trip."""

Entry = Mapping[str, Any]


def outlook_of(trips: Sequence[Trip], plan: TravelPlan) -> dict[str, Any]:
    """Give the plan's fields ``alternatives``, ``turn_back``, ``single_points``, ``latest_departure``, ``departure``.

    Args:
        trips: the solved trips, in the order driven; those without a way have no outlook
        plan: what was composed of them
    """
    found = [look(trip) for trip in trips if trip.way is not None and trip.way.steps]
    accepted = {item["id"]: item["reason"] for item in plan.request.get("accept_unknown", ())}
    departure = departure_of(trips, plan.outcome == "way")
    return {
        "alternatives": alternatives_of(found, accepted),
        "turn_back": turn_back_of([each.trip for each in found], plan),
        "single_points": single_points_of(found),
        "latest_departure": departure["latest"],
        "departure": departure,
    }


def look(trip: Trip) -> Outlook:
    """Search what one trip's graph offers besides its way.

    Other ways are looked for as good as the way itself is open; where that gives none, also over what is not known.
    """
    assert trip.way is not None
    question = question_of(trip)
    others, single = _others(trip, question)
    if not others and question.worst < Verdict.UNKNOWN:
        unsure = Ask(start=question.start, goal=question.goal, worst=Verdict.UNKNOWN, came=question.came)
        others, _ = _others(trip, unsure)
    return Outlook(trip=trip, question=question, single=single, others=others)


def question_of(trip: Trip) -> Ask:
    """Give what was asked of the graph where the way was found: caution at worst, or unknown where nothing else is."""
    worst = Verdict.UNKNOWN if trip.worst >= Verdict.UNKNOWN else Verdict.CAUTION
    return Ask(start=trip.request.start, goal=trip.request.goal, worst=worst, came=trip.request.came)


def _others(trip: Trip, question: Ask) -> tuple[tuple[Other, ...], frozenset[int]]:
    """Give other ways, and the links every way needs."""
    assert trip.way is not None
    single = single_links(trip.graph, question, trip.way)
    return other_ways(trip.graph, question, trip.way, single, MOST_OTHERS), single
