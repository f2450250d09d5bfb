"""Gateways and other narrow places on the roads: where they stand, and what width they leave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from travel.survey.arrays import Floats, Ints
from travel.survey.features import POINT_M
from travel.survey.signs import Way, stands_on
from travel.survey.survey import Survey


@dataclass(frozen=True, eq=False, kw_only=True)
class Narrows:
    """Stretches of links that something narrows, sorted by link: road chainage from–to and the width left [m]."""

    link: Ints
    from_m: Floats
    to_m: Floats
    width_m: Floats

    def of(self, link: int) -> tuple[Floats, Floats, Floats]:
        """Give from, to and width on one link."""
        own = slice(*np.searchsorted(self.link, [link, link + 1]).tolist())
        return self.from_m[own], self.to_m[own], self.width_m[own]


def narrows(survey: Survey) -> Narrows:
    """Give where limits with a width narrow the roads, each no longer than it is, as a bare point is wide."""
    fabric, features = survey.fabric, survey.fabric.features.get("limits")
    none = np.zeros(0)
    if features is None:
        return Narrows(link=np.zeros(0, dtype=np.int64), from_m=none, to_m=none, width_m=none)
    width = survey.site.layers["limits"].number("width_m")
    way = Way(lines=fabric.lines, links=fabric.links, chains=fabric.chains, course=fabric.course)
    stand, chains, links = stands_on(way, features, POINT_M), fabric.chains, fabric.links
    every, length = np.arange(len(chains.chain)), links.to_m - links.from_m
    found = []
    for row in np.flatnonzero(~np.isnan(width[stand.feature])).tolist():
        on = every[chains.chain == stand.chain[row]]
        low, high = stand.from_m[row], stand.to_m[row]
        on = on[(chains.offset[on] < high) & (chains.offset[on] + length[on] > low)]
        ends = [chains.chainage(links, on, np.full(len(on), at)) for at in (low, high)]
        found.append(
            np.column_stack((on, np.minimum(*ends), np.maximum(*ends), np.full(len(on), width[stand.feature[row]])))
        )
    table = np.vstack([np.empty((0, 4)), *found])
    table = table[np.lexsort((table[:, 1], table[:, 0]))]
    return Narrows(link=table[:, 0].astype(np.int64), from_m=table[:, 1], to_m=table[:, 2], width_m=table[:, 3])


def clear_width(survey: Survey) -> Floats:
    """Give the least clear width of every piece, gateways that its stretch of road meets taken off."""
    width = survey.number("width_m").copy()
    pairs = survey.pairs("limits", 0.0)
    if len(pairs):
        narrow = survey.site.layers["limits"].number("width_m")[pairs.feature]
        known = ~np.isnan(narrow)
        with np.errstate(invalid="ignore"):  # a width nobody knows stays unknown
            np.minimum.at(width, pairs.piece[known], narrow[known])
    return width
