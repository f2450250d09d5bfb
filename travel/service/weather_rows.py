"""What the plan answers in one other weather or at some other hours, as one row."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from travel.domain.plan import TravelPlan
from travel.domain.site import Weather
from travel.domain.verdict import Verdict
from travel.planning.tightest import tightest

WIDE = 80
"""Columns of the text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherRow:
    """The answer in one other weather: outcome, verdict, whether the same roads are taken, the tightest finding.

    ``starts``: the hours it holds for where other hours are asked, in the site's time; empty: the plan's own hour.
    ``time_s``: driving time of all trips; None where there is no way. ``more``: rules with a worse verdict than in the
    plan (where there is no way, those that block), with the trips where it is not on all of them. ``changed``: what of
    the weather the row sets, there and back; all else of it is as planned for each trip.
    """

    ground: str | None
    temperature_c: float | None
    wind_mps: float | None
    outcome: str
    verdict: str
    same_way: bool
    binding: str
    at: str
    time_s: float | None = None
    more: tuple[str, ...] = ()
    starts: tuple[str, ...] = ()
    changed: str = ""

    @property
    def fails(self) -> bool:
        """Whether the machine cannot get there and back."""
        return self.outcome == "no_way" or self.verdict == "blocked"

    @property
    def because(self) -> str:
        """The binding finding: rule, road, feature."""
        return f"{self.binding} {self.at}".strip()

    @property
    def said(self) -> str:
        """The binding finding, and the other rules that say worse than in the plan."""
        more = [words for words in self.more if words.split()[0] != self.binding]
        return "; also ".join(filter(None, (self.because, ", ".join(more))))

    def mark(self, planned: bool, had_way: bool) -> str:
        """Say how it compares with the plan.

        Args:
            planned: whether this is what was planned for
            had_way: whether the plan has a way
        """
        if planned:
            return "as planned"
        if self.outcome == "no_way":
            return "no way"
        return "same way" if self.same_way else "another way" if had_way else "a way"


def row_of(
    weather: Weather, plan: TravelPlan, old: TravelPlan, starts: Sequence[str] = (), changed: str = ""
) -> WeatherRow:
    """Give the row of one plan.

    Args:
        weather: what it was asked in
        plan: its answer
        old: the plan it is compared with
        starts: the hours it was asked at, where they are not the plan's own
        changed: what of the weather was set
    """
    binding = tightest(list(plan.findings))
    where = " ".join(p for p in (binding.where.road, binding.where.feature) if p) if binding else ""
    same = [(leg.road, leg.direction) for leg in plan.legs] == [(leg.road, leg.direction) for leg in old.legs]
    return WeatherRow(
        **weather.model_dump(),
        outcome=plan.outcome,
        verdict=plan.verdict,
        same_way=same,
        binding=binding.rule if binding else "",
        at=where,
        time_s=sum(trip.time_s for trip in plan.trips) if plan.outcome == "way" else None,
        more=tuple(_more(plan, old)),
        starts=tuple(starts),
        changed=changed,
    )


def _more(plan: TravelPlan, old: TravelPlan) -> Iterator[str]:
    """Give the rules that say worse than in another plan of the same question."""
    before, least = _worst(old), Verdict.CAUTION if plan.outcome == "way" else Verdict.BLOCKED
    trips: dict[str, list[str]] = {}
    for (rule, trip), verdict in _worst(plan).items():
        if verdict >= least and verdict > before.get((rule, trip), 0):
            trips.setdefault(rule, []).append(trip)
    for rule, where in trips.items():
        yield rule if len(where) == len(plan.trips) else f"{rule} ({', '.join(where)})"


def _worst(plan: TravelPlan) -> dict[tuple[str, str], int]:
    """Give the worst verdict of each rule with a flag on each trip, in the order of the flags."""
    out: dict[tuple[str, str], int] = {}
    for finding in plan.findings:
        key = finding.rule, finding.trip
        out[key] = max(out.get(key, 0), int(Verdict[finding.verdict.upper()]))
    return out


def broken(text: str, head: str = "") -> str:
    """Give text in lines; those after the first stand under it, behind a head as wide as the first's."""
    space = " " * (len(head) or 2)
    return (
        textwrap.fill(
            text, WIDE, initial_indent=head, subsequent_indent=space, break_long_words=False, break_on_hyphens=False
        )
        or head.rstrip()
    )
