"""The list of remedies of a plan: least found sets over all changes of the question, then what is to be measured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from travel.checks import answers_for
from travel.domain.plan import Finding, Remedy
from travel.planning.findings import findings_of
from travel.planning.remedies import Opened, Question, Tell, openings, plan_again, remedy_of
from travel.planning.remedy_causes import Purchase
from travel.planning.remedy_scenarios import Scenario, scenarios
from travel.planning.remedy_stock import stock_of
from travel.planning.remedy_survey import survey_remedies
from travel.planning.remedy_words import named, part_text
from travel.planning.trips import Prepared, Trip, prepare

MOST_LISTED = 5


@dataclass(frozen=True, eq=False, kw_only=True)
class Listed:
    """A remedy with the trips planned again and the question they answer."""

    remedy: Remedy
    opened: Opened
    question: Question


def remedies_of(
    question: Question,
    ready: tuple[Prepared, ...] = (),
    *,
    limit: int = MOST_LISTED,
    thorough: bool = True,
    tell: Tell | None = None,
) -> tuple[Remedy, ...]:
    """Give up to ``limit`` sets that open a question, least cost first, then what is to be measured on the first's way.

    Args:
        question: what is asked, with no way found
        ready: trips already prepared, in order
        limit: how many sets
        thorough: also look at changes of hour, weather and load where changes of the site alone open a way
        tell: called with what is being done and the share done
    """
    found = list(_listed(question, ready, limit, thorough, tell))
    found.sort(key=lambda one: (one.remedy.cost, one.remedy.lead_time_days or 0.0, one.remedy.text))
    found = found[:limit]
    sets = tuple(replace(one.remedy, remedy=n, rank=n) for n, one in enumerate(found, 1))
    if not found:
        return sets
    least = found[0]
    unknown = unknown_on(least.opened.trips, least.question)
    return (*sets, *survey_remedies(unknown, least.question.out, len(sets) + 1))


def unknown_on(trips: Iterable[Trip], question: Question) -> list[Finding]:
    """Give what is unknown on the ways of some trips and not accepted."""
    accepted = dict.fromkeys(question.accepted, "accepted")
    out: list[Finding] = []
    for trip in trips:
        answers = answers_for(trip.case, trip.cells.piece, trip.cells.sense, trip.cells.config)
        out += [found.finding for found in findings_of(trip, trip.cells, accepted, answers)]
    return [finding for finding in out if finding.verdict == "unknown" and not finding.accepted]


def _listed(
    question: Question, ready: tuple[Prepared, ...], limit: int, thorough: bool, tell: Tell | None
) -> Iterator[Listed]:
    stock = stock_of(_prepared(question, ready))
    found: list[frozenset[Purchase]] = []
    for opened in openings(question, limit, stock, tell):
        if not opened.bought:
            return
        found.append(opened.purchases)
        yield Listed(remedy=remedy_of(opened, question, 0), opened=opened, question=question)
    if thorough or not found:
        for scenario in scenarios(question, stock.blocked):
            yield from _in_scenario(question, scenario, limit, tuple(found), tell)


def _prepared(question: Question, ready: tuple[Prepared, ...] = ()) -> tuple[Prepared, ...]:
    """Give the trips of a question prepared, those that are ready as they are."""
    out = list(ready)
    for case in question.cases[len(ready) :]:
        before = out[-1] if out else None
        out.append(prepare(case, question.accepted, question.aim, before=before))
    return tuple(out)


def _in_scenario(
    question: Question, scenario: Scenario, limit: int, without: tuple[frozenset[Purchase], ...], tell: Tell | None
) -> Iterator[Listed]:
    """Give the sets of a changed question; one that opens the question unchanged stands in the list already."""
    asked = scenario.question
    stock = stock_of(_prepared(asked))
    for opened in openings(asked, limit, stock, tell, without):
        if plan_again(question, opened.parts) is not None:
            continue
        site = remedy_of(opened, scenario.question, 0)
        row = scenario.row
        feature = named(question.out, "closures", scenario.feature) if scenario.feature else ""
        pattern = row.text.replace("{feature}", feature)
        words = part_text(pattern, scenario.parts[0], question.out)
        remedy = replace(
            site,
            amendments=(*(replace(part, reason=row.id) for part in scenario.parts), *site.amendments),
            cost=round(site.cost + scenario.cost, 3),
            who="; ".join(dict.fromkeys(part for part in (row.who, site.who) if part)),
            lead_time_days=max(row.lead_time_days, site.lead_time_days or 0.0),
            side_effects="; ".join(part for part in (row.side_effects, site.side_effects) if part),
            text="; ".join(part for part in (words, site.text) if part),
        )
        yield Listed(remedy=remedy, opened=opened, question=scenario.question)
