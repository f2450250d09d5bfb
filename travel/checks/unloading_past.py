"""Whether an engine reaches what lies past an unloading place with the roads there shut."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.state import closed

Bools = NDArray[np.bool_]


def way_round(case: Case, place: str | None, width_m: float) -> bool | None:
    """Tell whether every node an engine reaches from the gates it reaches with a place's roads shut; None: on no road.

    Roads narrower than an engine asks for, and those closed on this trip, are none of its ways.
    """
    if place is None:
        return None
    network = case.survey.network
    node = network.place_node[place]
    links = [pair for pair, open_ in zip(_pairs(case), _open(case, width_m), strict=True) if open_]
    gates = _gates(case)
    starts = (gates or {next((a for a, b in links if node not in (a, b)), node)}) - {node}
    if not starts:
        return False
    return _reached(links, starts) - {node} <= _reached([pair for pair in links if node not in pair], starts)


def _pairs(case: Case) -> list[tuple[int, int]]:
    network = case.survey.network
    return list(zip(np.asarray(network.link_a).tolist(), np.asarray(network.link_b).tolist(), strict=True))


def _open(case: Case, width_m: float) -> Bools:
    survey, network = case.survey, case.survey.network
    roads = np.asarray(network.link_road)
    wide = survey.site.layers["roads"].number("width_m")[roads] >= width_m
    layer, bars = survey.site.layers["closures"], closed(case)
    if not bars.any():
        return np.asarray(wide)
    shut = shapely.union_all(layer.geometry[bars])
    ends = zip(np.asarray(network.link_from_m).tolist(), np.asarray(network.link_to_m).tolist(), strict=True)
    lines = [
        shapely.LineString(survey.xy(int(road), *span)[:, :2]) for road, span in zip(roads.tolist(), ends, strict=True)
    ]
    return np.asarray(wide & ~shapely.intersects(np.array(lines, dtype=object), shut))


def _gates(case: Case) -> set[int]:
    places, nodes = case.survey.site.layers["places"], case.survey.network.place_node
    kinds = places.text("kind")
    return {nodes[name] for name, kind in zip(places.ids, kinds, strict=True) if kind == "gate" and name in nodes}


def _reached(links: list[tuple[int, int]], starts: Iterable[int]) -> set[int]:
    near: dict[int, list[int]] = {}
    for a, b in links:
        near.setdefault(a, []).append(b)
        near.setdefault(b, []).append(a)
    seen = set(starts)
    todo = list(seen)
    while todo:
        for node in near.get(todo.pop(), ()):
            if node not in seen:
                seen.add(node)
                todo.append(node)
    return seen
