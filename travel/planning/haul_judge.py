"""Where a machine goes on or off its trailer: each candidate of the site judged whole, and the best chosen."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from travel.checks import Body, Case
from travel.checks.ramp import RampCase, RampFacts
from travel.checks.unloading import PlaceAnswer, judge_place
from travel.checks.unloading_bearing import surfaces_under
from travel.checks.unloading_free import free_of
from travel.checks.unloading_ground import Ground
from travel.checks.unloading_stand import Standing, stand_on
from travel.domain.machine import Machine
from travel.domain.ramp import SLOPES, RampRequest
from travel.domain.request_file import RampTable
from travel.domain.rules import Rulebook
from travel.domain.trailer import Trailer
from travel.domain.verdict import Verdict
from travel.planning.ramp import RampAsked, ask_ramp
from travel.planning.trips import Trip
from travel.units import SI_PER_UNIT, pct_to_ratio, ratio_to_pct

End = Literal["nose", "tail"]
Move = Literal["load", "unload"]
ONCE = frozenset({"deck-position", "axle-law", "road-size", "road-way", "tie-down"})
"""Rules of the laden rig that depend neither on the place nor on the move."""
ORDER = "best verdict of way in, place and ramp together; then fewest things open; then the shorter way in; then the id"


@dataclass(frozen=True, eq=False, kw_only=True)
class HaulSheets:
    """Machine and trailer as read, and what was asked about the ramp."""

    machine: Machine
    body: Body
    trailer: Trailer
    rulebook: Rulebook
    ramp: RampTable


@dataclass(frozen=True, eq=False, kw_only=True)
class Candidate:
    """One place for one rig. ``moves``: on and off, each at the worse of the slopes it may stand on.

    ``answers`` holds for unloading; ``later`` is what is worse, or there besides, at the hour and weather of loading.
    """

    ground: Ground
    arrive: Trip | None
    standing: Standing
    answers: tuple[PlaceAnswer, ...]
    moves: Mapping[Move, RampAsked]
    later: tuple[PlaceAnswer, ...] = ()

    @property
    def at_place(self) -> Verdict:
        """The worst of the place and of going on and off there; the laden rig on the road is the same everywhere."""
        found = [answer.verdict for answer in (*self.answers, *self.later)]
        found += [move_verdict(asked) for asked in self.moves.values()]
        return max(found, default=Verdict.UNKNOWN)

    @property
    def verdict(self) -> Verdict:
        """The worst of way in, place and ramp."""
        return max(self.at_place, Verdict.BLOCKED if self.arrive is None else self.arrive.worst)

    @property
    def rank(self) -> tuple[int, int, float, str]:
        """What the choice goes by, the least first."""
        opened = sum(answer.verdict > Verdict.CLEAR for answer in (*self.answers, *self.later))
        opened += sum(f.rule not in ONCE for asked in self.moves.values() for f in asked.findings)
        return int(self.verdict), opened, way_m(self.arrive), self.ground.name


def move_verdict(asked: RampAsked) -> Verdict:
    """Give the worst of going on or off, without the rules of the laden rig on the road."""
    return max((a.verdict for a in asked.answers if a.rule not in ONCE), default=Verdict.UNKNOWN)


def way_m(trip: Trip | None) -> float:
    """Give the length of a way, endless where there is none."""
    if trip is None or trip.way is None:
        return math.inf
    return float(trip.case.survey.pieces.length_m[trip.cells.piece].sum())


def heading_in(trip: Trip | None) -> float | None:
    """Give the heading of the vehicle where a trip ends, anticlockwise from east; None where it does not."""
    return _heading(trip, -1)


def heading_out(trip: Trip | None) -> float | None:
    """Give the heading of the vehicle where a trip starts."""
    return _heading(trip, 0)


def _heading(trip: Trip | None, cell: int) -> float | None:
    if trip is None or trip.way is None or not len(trip.cells):
        return None
    grid = float(trip.case.survey.pieces.heading_rad[trip.cells.piece[cell]])  # clockwise from north
    heading = math.pi / 2.0 - grid
    turned = (trip.cells.sense[cell] < 0) != bool(trip.case.configurations.reverse[trip.cells.config[cell]])
    return heading + (math.pi if turned else 0.0)


def same_way(a: float | None, b: float | None) -> bool:
    """Tell whether two headings point the same way; not known counts as the same."""
    return a is None or b is None or math.cos(a - b) >= 0.0


def judge_candidate(
    ground: Ground, arrive: Trip | None, sheets: HaulSheets, cases: Mapping[Move, Case], firsts: Mapping[Move, End]
) -> Candidate:
    """Judge one place.

    Args:
        ground: the candidate
        arrive: the way of the laden combination to it, where it has a place of the roads
        sheets: machine and trailer
        cases: the combination's trip before or after each move: site, hour, weather
        firsts: which end of the machine goes first, by move; one move a key
    """
    heading = heading_in(arrive)
    if sheets.ramp.place in (ground.place, ground.area) and sheets.ramp.place is not None:
        ground = _measured(ground, sheets.ramp, heading)
    slopes, told = ground.slopes_at(heading), ground.slopes_told(heading)
    move, first = next(iter(firsts.items()))
    shape = RampFacts(case=_ramp_case(sheets, cases[move], ground, move, first, slopes[0], told))
    standing = stand_on(free_of(ground, cases.values()), shape, heading)
    surfaces = surfaces_under(ground, standing.strip(), cases[move])
    moves: dict[Move, RampAsked] = {}
    for move, first in firsts.items():
        grounds = [replace(ground, surface=surface) for surface in surfaces]
        each = [_ramp_case(sheets, cases[move], one, move, first, slope, told) for slope in slopes for one in grounds]
        moves[move] = max(map(ask_ramp, each), key=_bad)
    ground = standing.ground
    asked = [judge_place(standing, asked.facts, cases[move]) for move, asked in moves.items()]
    return Candidate(
        ground=ground,
        arrive=arrive,
        standing=standing,
        answers=asked[0],
        moves=moves,
        later=tuple(answer for others in asked[1:] for answer in _worse(others, asked[0])),
    )


def _bad(asked: RampAsked) -> tuple[int, int, float]:
    """Rank what was asked on different slopes and surfaces, the worst last."""
    grip = asked.facts.case.ground_grip.value
    return int(asked.verdict), len(asked.findings), 0.0 if math.isnan(grip) else -grip


def _worse(answers: tuple[PlaceAnswer, ...], than: tuple[PlaceAnswer, ...]) -> list[PlaceAnswer]:
    """Give the answers that are worse than those of the same part about the same feature."""
    known: dict[tuple[str, str], Verdict] = {}
    for answer in than:
        key = (answer.part, answer.feature)
        known[key] = max(answer.verdict, known.get(key, Verdict.CLEAR))
    return [a for a in answers if a.verdict > known.get((a.part, a.feature), Verdict.CLEAR)]


def _measured(ground: Ground, ramp: RampTable, heading: float | None) -> Ground:
    """Lay the slopes stated with the question over those of the site; they are along and across the rig."""
    if ramp.ground_slope_pct is None and ramp.ground_cross_slope_pct is None:
        return ground
    here = 0.0 if heading is None else heading
    old, hearsay = ground.slopes_at(heading)[0], ground.slopes_told(heading)
    given = (ramp.ground_slope_pct, ramp.ground_cross_slope_pct)
    along, across = (site if value is None else pct_to_ratio(value) for value, site in zip(given, old, strict=True))
    told = [name for name in ground.told if "slope" not in name]
    for name, value, word in zip(("slope_pct", "cross_slope_pct"), given, hearsay, strict=True):
        told += [f"{name} told"] if word and value is None else []
    return replace(ground, slope_ratio=along, cross_ratio=across, heading_rad=here, told=tuple(told))


def _ramp_case(
    sheets: HaulSheets,
    case: Case,
    ground: Ground,
    move: Move,
    first: End,
    slope: tuple[float, float],
    told: tuple[bool, bool],
) -> RampCase:
    along, across = (0.0 if math.isnan(value) else ratio_to_pct(value) for value in slope)
    known = [not math.isnan(value) for value in slope]
    return RampCase(
        machine=sheets.machine,
        body=sheets.body,
        trailer=sheets.trailer,
        rulebook=sheets.rulebook,
        request=RampRequest(
            move=move,
            first=first,
            ground_slope_pct=along,
            ground_cross_slope_pct=across,
            surface=ground.surface,
            ground=case.weather.ground,
            jurisdiction=case.jurisdiction,
            not_stated=tuple(name for name, stated in zip(SLOPES, known, strict=True) if not stated),
            told=tuple(name for name, stated, word in zip(SLOPES, known, told, strict=True) if stated and word),
        ),
    )


def reasons_of(candidate: Candidate, at_least: Verdict = Verdict.CAUTION) -> list[dict[str, Any]]:
    """Give what speaks against a place, worst first: part or rule, verdict, numbers in their unit, what is missing."""
    out: list[tuple[int, dict[str, Any]]] = []
    if candidate.arrive is None or candidate.arrive.way is None:
        said = "no place of the roads lies on it" if candidate.arrive is None else "no way in for the combination"
        out.append((int(Verdict.BLOCKED), {"part": said, "rule": "", "verdict": Verdict.BLOCKED.word}))
    for answer in (*candidate.answers, *candidate.later):
        if answer.verdict >= at_least:
            out.append((int(answer.verdict), {"rule": "unloading-place", **told(answer)}))
    for move, asked in candidate.moves.items():
        for finding in asked.findings:
            if Verdict[finding.verdict.upper()] >= at_least:
                out.append(
                    (
                        int(Verdict[finding.verdict.upper()]),
                        {
                            "part": finding.configuration.get("part", ""),
                            "rule": finding.rule,
                            "move": move,
                            "verdict": finding.verdict,
                            "demand": finding.demand,
                            "capacity": finding.capacity,
                            "unit": finding.unit,
                            "missing": list(finding.missing),
                        },
                    )
                )
    return [reason for _, reason in sorted(out, key=lambda pair: -pair[0])]


def told(answer: PlaceAnswer) -> dict[str, Any]:
    """Give one part of a place's judgement as it is written."""
    factor = SI_PER_UNIT[answer.unit]
    return {
        "part": answer.part,
        "verdict": answer.verdict.word,
        "demand": known(float(np.asarray(answer.outcome.demand)) / factor),
        "capacity": known(float(np.asarray(answer.outcome.capacity)) / factor),
        "unit": answer.unit,
        "missing": list(answer.missing),
        "feature": answer.feature or None,
    }


def known(value: float) -> float | None:
    """Give a finite number, or None."""
    return float(value) if math.isfinite(value) else None
