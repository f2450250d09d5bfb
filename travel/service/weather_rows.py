"""What the plan answers in one other weather or at some other hours, as one row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from travel.domain.plan import TravelPlan
from travel.domain.site import Weather
from travel.planning.tightest import tightest


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherRow:
    """The answer in one other weather: outcome, verdict, whether the same roads are taken, the tightest finding.

    ``starts``: the hours it holds for where other hours are asked, in the site's time; empty: the plan's own hour.
    ``time_s``: driving time of all trips; None where there is no way.
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
    starts: tuple[str, ...] = ()

    @property
    def fails(self) -> bool:
        """Whether the machine cannot get there and back."""
        return self.outcome == "no_way" or self.verdict == "blocked"

    @property
    def because(self) -> str:
        """The binding finding: rule, road, feature."""
        return f"{self.binding} {self.at}".strip()

    def mark(self, planned: bool) -> str:
        """Say how it compares with the plan.

        Args:
            planned: whether this is what was planned for
        """
        other = "another way" if self.outcome == "way" else "no way"
        return "as planned" if planned else "same way" if self.same_way else other


def row_of(weather: Weather, plan: TravelPlan, old: TravelPlan, starts: Sequence[str] = ()) -> WeatherRow:
    """Give the row of one plan.

    Args:
        weather: what it was asked in
        plan: its answer
        old: the plan it is compared with
        starts: the hours it was asked at, where they are not the plan's own
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
        starts=tuple(starts),
    )
