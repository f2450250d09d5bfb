"""One machine on one straight road along x, with what lies beside or under it, for the tests of those rules."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np

from tests.builders import machine
from tests.memory_site import EXACT, make_site
from travel.checks import Case, make_body, make_configurations, parts
from travel.checks.answers import Answer, _answer, _not_looked
from travel.checks.fold import Found, part_over
from travel.domain.machine import Load, Machine
from travel.domain.site import Weather
from travel.domain.verdict import Verdict
from travel.rulebook import load_rulebook
from travel.survey import build_survey

RULEBOOK = load_rulebook()
LOW, HIGH, BACK = 0, 1, 2  # gears of the builders' sheet: low forward, high forward, reverse
CLEAR, CAUTION, UNKNOWN, BLOCKED = Verdict.CLEAR, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED
DAY = dt.datetime(2026, 3, 4, 10, 0, tzinfo=dt.UTC)  # a Wednesday, two days after everything was surveyed
ROAD = {"grade_pct": 0.0, "cross_slope_pct": 0.0, "width_m": 8.0, "surface": "compacted_gravel", "traffic": "none",
        "edge_left": "none", "edge_right": "none", "lit": True, "sight_m": 60.0, "bearing_kpa": 1000.0,
        "bearing_wet_kpa": 900.0, "passes_done": 0}  # fmt: skip
ALL_ROUND = [{"sector_deg": (-180.0, 179.9), "kind": "clear"}]


def case_of(
    road: dict[str, Any] | None = None,
    *,
    sheet: dict[str, Any] | None = None,
    load: Load | None = None,
    xy: Any = ((0.0, 0.0), (5.0, 0.0)),
    weather: Weather | None = None,
    steering: tuple[str, ...] = ("front",),
    header: dict[str, Any] | None = None,
    at: dt.datetime | None = DAY,
    hours: float = 1.0,
    trip: str = "out",
    today: dt.date | None = None,
    surveyed: Any = None,
    piece_m: float = 50.0,
    **layers: Any,
) -> Case:
    """Give the case of the builders' machine (``view`` clear all round unless told) on a road, other layers by name."""
    of = Machine.model_validate(machine(**{"view": ALL_ROUND} | (sheet or {})))
    if load is not None:
        of = of.model_copy(update={"attitudes": (*of.attitudes, of.attitudes[0].model_copy(update={"name": load.how}))})
    body = make_body(of, load)
    assert body is not None
    row = {"id": "r", "xy": list(xy)} | {k: v for k, v in (ROAD | (road or {})).items() if v is not None}
    site = make_site([row], header={"jurisdiction": "none"} | (header or {}), surveyed=surveyed, **layers)
    return Case(
        trip=trip, machine=of, body=body, load=load, rulebook=RULEBOOK, survey=build_survey(site, EXACT, piece_m),
        configurations=make_configurations(of, steering), at=at,
        weather=weather or Weather(ground="dry", temperature_c=15.0, wind_mps=2.0),
        until=None if at is None else at + dt.timedelta(hours=hours), today=today,
    )  # fmt: skip


def without(case: Case, *limits: str) -> Case:
    """Give a case whose rulebook lacks some limits."""
    kept = tuple(row for row in case.rulebook.limits if row.id not in limits)
    return replace(case, rulebook=replace(case.rulebook, limits=kept))


def answers_of(case: Case, rule: str, piece: np.ndarray, sense: np.ndarray, config: np.ndarray) -> list[Answer]:
    """Evaluate the parts of one rule on a list of cells."""
    out = _not_looked(case, rule, piece)
    for part in parts():
        out += _answer(case, part, piece, sense, config) if part.rule == rule else []
    return out


def told(case: Case, rule: str, config: int = LOW, sense: int = 1, piece: int = 0) -> list[tuple[Answer, int]]:
    """Give the rule's answers on one cell: each with its row."""
    found = answers_of(case, rule, np.array([piece]), np.array([sense]), np.array([config]))
    return [(answer, row) for answer in found for row in range(len(answer.position))]


def verdict(case: Case, rule: str, config: int = LOW, sense: int = 1, piece: int = 0) -> Verdict:
    """Give the rule's worst verdict on one cell."""
    return Verdict(max((int(a.verdict[row]) for a, row in told(case, rule, config, sense, piece)), default=0))


def worst(case: Case, rule: str, config: int = LOW, sense: int = 1) -> tuple[Answer, int]:
    """Give the answer that makes the worst verdict."""
    return max(told(case, rule, config, sense), key=lambda item: int(item[0].verdict[item[1]]))


def number(case: Case, rule: str, name: str, config: int = LOW) -> float:
    """Give a number of the rule's worst answer."""
    answer, row = worst(case, rule, config)
    return answer.value(name, row)


def lacking(case: Case, rule: str, config: int = LOW) -> set[str]:
    """Give everything the rule names as missing on one cell."""
    return {name for a, row in told(case, rule, config) if a.applies()[row] for name in a.missing(row)}


def controls(case: Case, rule: str, config: int = LOW, sense: int = 1) -> set[str]:
    """Give the controls the rule asks for on one cell."""
    own = case.rulebook.rules[rule].control
    return {
        a.outcome.control or own
        for a, row in told(case, rule, config, sense)
        if a.verdict[row] == CAUTION and "control" in a.reason(row)
    }


def by_configuration(found: Found) -> np.ndarray:
    """Give the verdicts of one part by configuration instead of by groups of them."""
    groups = np.broadcast_to(found.verdict, (len(found.alike), *found.verdict.shape[1:]))
    return groups[found.alike.group]


def on_grid(case: Case, rule: str) -> np.ndarray:
    """Give the rule's worst verdicts by columns: pieces × directions × configurations."""
    shape = (len(case.survey.pieces), 2, len(case.configurations))
    out = np.zeros(shape, dtype=np.uint8)
    for part in parts():
        if part.rule == rule:
            found = part_over(case, part, slice(0, shape[0]))
            if found is not None:
                piece = np.arange(shape[0])[found.rows]
                verdict = by_configuration(found)
                np.maximum.at(out, piece, np.broadcast_to(verdict, (shape[2], 2, len(piece))).T)
    return out


def on_list(case: Case, rule: str) -> np.ndarray:
    """Give the same row by row."""
    shape = (len(case.survey.pieces), 2, len(case.configurations))
    piece, way, config = (index.ravel() for index in np.indices(shape))
    out = np.zeros(piece.shape, dtype=np.uint8)
    for answer in answers_of(case, rule, piece, 1 - 2 * way, config):
        if not answer.not_looked:
            np.maximum.at(out, answer.position, answer.verdict)
    return out.reshape(shape)
