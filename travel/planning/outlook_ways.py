"""Other ways in words of the plan, and the points whose loss leaves no way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks import Answer, answers_for
from travel.domain.plan import Finding
from travel.domain.verdict import Verdict
from travel.planning.findings import finding_at, verdict_of
from travel.planning.trips import Trip, cells_of
from travel.routing.outlook import Ask, Other, cuts, links_of

Floats = NDArray[np.float64]

LOSABLE = ("bridge", "culvert", "slab", "cover_plate", "gateway", "wheel_wash")
"""Kinds of ``limits`` that can give way, fill up or be shut as one thing."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Outlook:
    """What one trip's graph offers besides its way: the links every way needs, and other ways, best first."""

    trip: Trip
    question: Ask
    single: frozenset[int]
    others: tuple[Other, ...]


# --- other ways -----------------------------------------------------------------------------------------------------


def alternatives_of(outlooks: Sequence[Outlook], accepted: dict[str, str]) -> tuple[Mapping[str, Any], ...]:
    """Give the next best ways of every trip, best first.

    Args:
        outlooks: one a trip
        accepted: finding id → the planner's reason
    """
    out: list[dict[str, Any]] = []
    for outlook in outlooks:
        for rank, other in enumerate(outlook.others, 1):
            entry = _alternative(outlook.trip, other, accepted)
            out.append({"alternative": len(out) + 1, "trip": outlook.trip.case.trip, "rank": rank, **entry})
    return tuple(out)


def _alternative(best: Trip, other: Other, accepted: dict[str, str]) -> dict[str, Any]:
    """Give one other way: how good, how long, what is worst on it, and what differs from the best way."""
    trip = replace(best, way=other.way, cells=cells_of(best.case, best.choice, other.way.steps))
    length = _length_m(trip)
    roads, own = _roads(trip), _roads(best)
    return {
        "verdict": verdict_of(trip, accepted).word,
        "length_m": length,
        "time_s": trip.time_s,
        "longer_m": length - _length_m(best),
        "later_s": trip.time_s - best.time_s,
        "shared_m": other.shared_mm / 1000.0,
        "shared_ratio": round(other.shared_mm / 1000.0 / _length_m(best), 3),
        "stops": sum(step.old_state is not None and step.old_state != step.state for step in other.way.steps),
        "places": _places(trip),
        "roads": list(roads),
        "instead": [road for road in roads if road not in own],
        "left_out": [road for road in own if road not in roads],
        "worst": _worst(trip),
    }


def _length_m(trip: Trip) -> float:
    return float(trip.case.survey.pieces.length_m[trip.cells.piece].sum())


def _roads(trip: Trip) -> tuple[str, ...]:
    survey = trip.case.survey
    ids = survey.site.layers["roads"].ids
    return tuple(dict.fromkeys(ids[int(road)] for road in survey.pieces.road[trip.cells.piece]))


def _places(trip: Trip) -> list[str]:
    """Give the places passed, in order."""
    assert trip.way is not None
    passed = [trip.graph.tail[step.edge] for step in trip.way.steps] + [trip.request.goal]
    names = [next(iter(trip.case.survey.network.node_places.get(node, ())), None) for node in passed]
    return [name for name in dict.fromkeys(names) if name]


def _worst(trip: Trip) -> dict[str, Any] | None:
    """Give the worst finding of a way: among those with its worst verdict the tightest; a turn where that is worse."""
    worst = Verdict(int(trip.cell_worst.max()))
    if worst < trip.worst:
        return {"rule": "turn", "verdict": trip.worst.word}
    if worst == Verdict.CLEAR:
        return None
    cells = trip.cells
    rules = trip.folded.rule[cells.piece, (1 - cells.sense) // 2, cells.config][trip.cell_worst == worst]
    only = frozenset(trip.folded.rules[row] for row in np.unique(rules) if row >= 0)
    tightest: tuple[float, Answer, int] | None = None
    for answer in answers_for(trip.case, cells.piece, cells.sense, cells.config, only):
        rows = np.flatnonzero(answer.verdict >= worst)  # worse ones are accepted unknowns
        if len(rows):
            severity = _severity(answer)[rows]
            row = int(np.lexsort((_left(answer)[rows], severity))[0])
            if tightest is None or severity[row] < tightest[0]:
                tightest = (float(severity[row]), answer, int(rows[row]))
    if tightest is None:
        return None
    _, answer, row = tightest
    return _said(finding_at(trip, cells, answer, row, answer.position[[row]]))


def _severity(answer: Answer) -> Floats:
    """Give margin over caution margin by row; +inf for permits, controls and what is not known."""
    outcome = answer.outcome
    if outcome.permitted is not None:
        return np.full(answer.verdict.shape, np.inf)
    caution = np.asarray(outcome.caution, dtype=np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(caution > 0.0, (outcome.capacity - outcome.demand - outcome.tolerance) / caution, np.inf)
    return np.broadcast_to(np.where(np.isnan(ratio), np.inf, ratio), answer.verdict.shape)


def _left(answer: Answer) -> Floats:
    """Give what is left before tolerances by row, which tells rows of one rule apart where severity does not."""
    left = np.asarray(answer.outcome.capacity, dtype=np.float64) - answer.outcome.demand
    return np.broadcast_to(np.where(np.isnan(left), np.inf, left), answer.verdict.shape)


def _said(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "verdict": finding.verdict,
        "road": finding.where.road,
        "at_m": finding.where.at_m,
        "layer": finding.where.layer,
        "feature": finding.where.feature,
        "demand": finding.demand,
        "capacity": finding.capacity,
        "unit": finding.unit,
        "severity": finding.severity,
        "control": finding.control,
        "missing": list(finding.missing),
    }


# --- single points --------------------------------------------------------------------------------------------------


def single_points_of(outlooks: Sequence[Outlook]) -> tuple[Mapping[str, Any], ...]:
    """Give every stretch and every structure without which no way is left; the same one of several trips once."""
    out: list[dict[str, Any]] = []
    rows: dict[frozenset[int], dict[str, Any]] = {}
    for outlook in outlooks:
        for kind, links, features in (*_stretches(outlook), *_structures(outlook)):
            key = frozenset(links)
            if key in rows:
                if outlook.trip.case.trip not in rows[key]["trips"]:
                    rows[key]["trips"].append(outlook.trip.case.trip)
                continue
            entry = _single(outlook.trip, kind, links, features)
            rows[key] = {"single_point": len(out) + 1, "trips": [outlook.trip.case.trip], **entry}
            out.append(rows[key])
    return tuple(out)


Point = tuple[str, list[int], list[str]]


def _stretches(outlook: Outlook) -> Iterator[Point]:
    """Give neighbouring links every way needs as one stretch, with the structures on it."""
    assert outlook.trip.way is not None
    run: list[int] = []
    links = [link for link in links_of(outlook.trip.way) if link in outlook.single]
    order = {link: number for number, link in enumerate(links_of(outlook.trip.way))}
    carried = _carried(outlook.trip)
    for link, after in pairwise([*links, None]):
        assert link is not None
        run.append(link)
        if after is None or order[after] != order[link] + 1:
            yield "stretch", run, [name for name, own in carried.items() if own & set(run)]
            run = []


def _structures(outlook: Outlook) -> Iterator[Point]:
    """Give structures that carry several links, none of which is needed by itself, but one of them is."""
    for name, links in _carried(outlook.trip).items():
        if not links & outlook.single and len(links) > 1 and cuts(outlook.trip.graph, outlook.question, links):
            yield "structure", sorted(links), [name]


def _carried(trip: Trip) -> dict[str, set[int]]:
    """Give the links that lie on each losable structure of the way."""
    survey = trip.case.survey
    layer, pairs = survey.site.layers["limits"], survey.pairs("limits", 0.0)
    if not len(pairs):
        return {}
    kinds = layer.text("kind")
    mine = np.unique(pairs.feature[np.isin(pairs.piece, trip.cells.piece)])
    return {
        layer.ids[row]: {int(link) for link in survey.pieces.link[pairs.piece[pairs.feature == row]]}
        for row in mine.tolist()
        if kinds[row] in LOSABLE
    }


def _single(trip: Trip, kind: str, links: Sequence[int], features: Sequence[str]) -> dict[str, Any]:
    network, survey = trip.case.survey.network, trip.case.survey
    ids = survey.site.layers["roads"].ids
    layer = survey.site.layers["limits"]
    kinds = layer.text("kind") if features else ()
    middle = links[len(links) // 2]
    road, from_m, to_m = int(network.link_road[middle]), network.link_from_m[middle], network.link_to_m[middle]
    line = survey.lonlat(survey.xy(road, float(from_m), float(to_m)))
    point = line[len(line) // 2]
    ends = _ends(trip, links) if kind == "stretch" else (None, None)
    return {
        "kind": kind,
        "roads": _joined(trip, links, ids),
        "length_m": float((network.link_to_m[links] - network.link_from_m[links]).sum()),
        "from_place": ends[0],
        "to_place": ends[1],
        "features": [{"layer": "limits", "feature": f, "kind": str(kinds[layer.index(f)])} for f in features],
        "lonlat": (float(point[0]), float(point[1])),
    }


def _joined(trip: Trip, links: Sequence[int], ids: Sequence[str]) -> list[dict[str, Any]]:
    """Give the links as stretches of road, neighbours on one road joined, in the order driven."""
    network = trip.case.survey.network
    out: list[dict[str, Any]] = []
    for link in links:
        road = ids[int(network.link_road[link])]
        from_m, to_m = float(network.link_from_m[link]), float(network.link_to_m[link])
        last = out[-1] if out else None
        if last and last["road"] == road and (last["to_m"] == from_m or last["from_m"] == to_m):
            last["from_m"], last["to_m"] = min(last["from_m"], from_m), max(last["to_m"], to_m)
        else:
            out.append({"road": road, "from_m": from_m, "to_m": to_m})
    return out


def _ends(trip: Trip, links: Sequence[int]) -> tuple[str | None, str | None]:
    """Give the places at both ends of a stretch, in the order driven; None where there is none."""
    assert trip.way is not None
    steps = {step.edge >> 1: step.edge for step in reversed(trip.way.steps)}
    nodes = trip.graph.tail[steps[links[0]]], trip.graph.head[steps[links[-1]]]
    places = trip.case.survey.network.node_places
    first, last = (next(iter(places.get(node, ())), None) for node in nodes)
    return first, last
