"""Where the machine may stand still to change something: a place to stop, nearly level, before the slope."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case

Bools = NDArray[np.bool_]


def may_stand(case: Case) -> Bools:
    """Tell where the site allows to stop and the ground is level enough, at the head of every edge, (edges,).

    Args:
        case: the trip
    """
    network, window = case.survey.network, case.window
    places = case.survey.site.layers["places"]
    may_stop = places.number("may_stop")
    starts, stops = np.asarray(network.link_piece_start), np.asarray(network.link_piece_stop)
    at_head = np.stack([stops - 1, starts], axis=1).ravel()
    grade = np.abs(window.grade_worst[at_head]) + window.half_band[at_head]
    head = np.stack((network.link_b, network.link_a), axis=1).ravel()
    nodes = [node for node, ids in network.node_places.items() if any(may_stop[places.index(i)] == 1 for i in ids)]
    with np.errstate(invalid="ignore"):
        level = grade <= case.scalar("hold.standing_grade")
    return np.asarray(level & np.isin(head, nodes))
