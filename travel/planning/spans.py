"""Places reached from one, where an hour is asked for: hours are looked at for as long as the plan for each would."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from travel.checks import Case
from travel.checks.hours import clock
from travel.planning.reach import PlaceReach, places_reached
from travel.planning.trips import Prepared, prepare

HORIZON_FACTOR = 1.5
"""Closures and hours are looked at over this many times a trip's duration, as in a plan."""

Told = tuple[object, ...]


@dataclass(frozen=True, eq=False, kw_only=True)
class Reached:
    """One place as reached, what it was searched on, and for how long hours were looked at."""

    reach: PlaceReach
    prepared: Prepared
    span_s: float


def over(case: Case, span_s: float) -> Case:
    """Give a case whose hours are looked at over so long a span at least; one without an hour as it is."""
    if case.at is None or case.until is None:
        return case
    return replace(case, until=max(case.until, case.at + dt.timedelta(seconds=span_s)))


class Spans:
    """The same trip over spans of different length; those that tell every clock the same share one graph."""

    def __init__(
        self,
        case: Case,
        accepted: Mapping[str, str] | None = None,
        progress: Callable[[float], None] | None = None,
        corners: Callable[[int], None] | None = None,
    ) -> None:
        """Take a case whose hour, where it has one, begins every span.

        Args:
            case: machine, load, weather, hour, survey
            accepted: finding id → the planner's reason
            progress: called with the share of the rules folded
            corners: called with how many corners the searches have looked at so far
        """
        self.accepted = dict(accepted or {})
        self._case, self._progress, self._corners, self._looked = case, progress, corners, 0
        self._kept: dict[Told, Prepared] = {}

    @property
    def accepted_ids(self) -> frozenset[str]:
        """Acceptance ids that open a way: those of a second stretch by their base."""
        return frozenset(name.partition(".")[0] for name in self.accepted)

    def prepared(self, span_s: float) -> Prepared:
        """Give what is searched on for a span."""
        case = self._over(span_s)
        told = clock(case)
        if told not in self._kept:
            self._kept[told] = prepare(case, self.accepted_ids, progress=self._progress)
            self._kept[told].graph.corners.told = self._count
        return self._kept[told]

    def _count(self, looked: int) -> None:
        self._looked += looked
        if self._corners is not None:
            self._corners(self._looked)

    def reached(self, start: str, places: Sequence[str]) -> tuple[Reached, ...]:
        """Give the best way to some places, each looked at again over a longer span until that covers its way."""
        found: dict[str, Reached] = {}
        left = dict.fromkeys(places, 0.0)
        while left:  # a longer span only ever shuts more, so the ways settle
            groups: dict[Told, list[str]] = {}
            for place, span_s in left.items():
                groups.setdefault(clock(self._over(span_s)), []).append(place)
            again: dict[str, float] = {}
            for told, some in groups.items():
                prepared = self.prepared(left[some[0]])
                for one in places_reached(prepared, start, some, self.accepted):
                    needed_s = HORIZON_FACTOR * (one.time_s or 0.0)
                    if needed_s <= left[one.place] or clock(self._over(needed_s)) == told:
                        span_s = max(needed_s, left[one.place])
                        found[one.place] = Reached(reach=one, prepared=prepared, span_s=span_s)
                    else:
                        again[one.place] = needed_s
            left = again
        return tuple(found[place] for place in places)

    def _over(self, span_s: float) -> Case:
        at = self._case.at
        return self._case if at is None else replace(self._case, until=at + dt.timedelta(seconds=span_s))
