"""What corners are called, and which of their unknown answers somebody accepted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.fold import acceptance_id
from travel.checks.lies_beside import lies_there
from travel.checks.outcome import Verdicts
from travel.checks.turn_rules import TurnPart
from travel.domain.verdict import Verdict
from travel.survey.corners import Corners

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def corner_name(case: Case, corners: Corners, row: int) -> tuple[str, str]:
    """Give the roads of a corner in the order driven, and its place or where it lies."""
    roads, network = case.survey.site.layers["roads"].ids, case.survey.network
    before, after = (roads[int(network.link_road[int(e[row]) >> 1])] for e in (corners.edge_in, corners.edge_out))
    if not np.isnan(corners.at_m[row]):
        return before, f"bend at {corners.at_m[row]:.0f} m"
    place = next(iter(network.node_places.get(int(corners.node[row]), ())), None)
    return f"{before} > {after}", place or f"x {corners.x_m[row]:.0f}, y {corners.y_m[row]:.0f}"


def turn_id(case: Case, corners: Corners, row: int, rule: str, layer: str = "") -> str:
    """Give the acceptance id of one rule's answer about one corner on one trip; a layer nobody declared has one."""
    if layer and case.survey.site.note(layer) is None:
        return acceptance_id(rule, case.trip, "", layer)
    roads, where = corner_name(case, corners, row)
    return acceptance_id(rule, case.trip, roads, layer or "turn", where)


def close_id(case: Case, corners: Corners, row: int) -> str:
    """Give the acceptance id of a corner that begins before the one behind it is over."""
    roads, where = corner_name(case, corners, row)
    return acceptance_id("turn", case.trip, roads, "behind", where)


def as_accepted(case: Case, corners: Corners, rows: Ints, part: TurnPart, accepted: frozenset[str]) -> Verdicts:
    """Give the verdicts of one rule, its unknowns as caution where they were accepted."""
    if not accepted or not case.rulebook.rules[part.rule].acceptable:
        return part.verdict
    verdict, never = part.verdict.copy(), _never(part)
    for number in np.flatnonzero((verdict == Verdict.UNKNOWN).any(axis=1)).tolist():
        if never[number].any():
            continue
        if turn_id(case, corners, int(rows[number]), part.rule, part.not_looked) in accepted:
            verdict[number] = np.where(verdict[number] == Verdict.UNKNOWN, np.uint8(Verdict.CAUTION), verdict[number])
    return verdict


def _never(part: TurnPart) -> Bools:
    """Tell where something lies in what is swept that nobody may accept on a form."""
    out = np.zeros(part.verdict.shape, dtype=bool)
    for name, where in part.outcome.missing.items():
        if lies_there(name):
            out |= where
    return out
