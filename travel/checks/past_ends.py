"""What the machine stands over past the ends of its trip: where three and more roads meet nothing asks what lies on
from there.

Along a chain and beyond a dead end the body is asked about as far as it reaches. A trip that begins or ends where
chains end has its tail or its front over ground that no cell of the way is asked about.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.lies_beside import NEAR_M, lies_in, pieces_near
from travel.survey.corners import edge_headings

STANDS_ON = ("ground", "edges", "areas")
"""Asked as well of ground that wheels stand on."""


def lies_past(case: Case, edge: int, config: int, arriving: bool) -> str:
    """Name what lies under the machine past the node where a trip begins or ends, and was not asked; "" for nothing.

    Args:
        case: the trip
        edge: the edge driven first or last
        config: the configuration it is driven in there
        arriving: at the end of the trip, else at its beginning
    """
    network, body = case.survey.network, case.body
    out = edge ^ 1 if arriving else edge
    link = out >> 1
    node = int(network.link_a[link] if out & 1 == 0 else network.link_b[link])
    if network.node_degree[node] < 3:
        return ""
    ahead = bool(case.configurations.reverse[config]) != arriving  # the front, else the tail, is past the node
    reach = body.front_x_m if ahead else -body.rear_x_m
    if not reach > 0.0:
        return ""
    away = float(edge_headings(case.survey)[out]) + np.pi
    half = body.width_m / 2.0 + case.scalar("turn.margin")
    area = _rectangle(network.node_xy[node], away, reach, half)
    layers = ("obstacles", "overheads", "limits", "closures", *(() if ahead else STANDS_ON))
    return lies_in(case, pieces_near(case, link, node, NEAR_M), area, layers)


def _rectangle(node_xy: NDArray[np.float64], heading_rad: float, reach_m: float, half_m: float) -> shapely.Polygon:
    """Give the ground from a node on along a heading, so far and so wide."""
    along = np.array([np.cos(heading_rad), np.sin(heading_rad)])
    across = half_m * np.array([-along[1], along[0]])
    end = node_xy + reach_m * along
    return shapely.Polygon([node_xy + across, node_xy - across, end - across, end + across])
