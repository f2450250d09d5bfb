"""Curves no vertex of which is sharp enough to be looked at as a corner: can the machine follow them at all."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.lane import bend_of, by_mode
from travel.checks.nearby import cells_within
from travel.checks.rows import Rows
from travel.survey.arrays import expand
from travel.survey.corners import find_corners
from travel.survey.cutting import BEND_WINDOW_M

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def too_tight(rows: Rows, case: Case) -> Bools:
    """Tell where a road curves more tightly than the front axle can go round on full lock, and no bend there is looked
    at as a corner: what it sweeps is not known, since it cannot keep to the middle line."""
    least: dict[str, float] = {}
    for mode in case.machine.steering:
        base = case.body.wheelbase_m if mode.mode == "front" else case.body.wheelbase_m / 2.0
        least[mode.mode] = base / math.sin(math.radians(mode.lock_deg)) if mode.mode != "crab" else 0.0
    if case.hinged is not None:
        least["front"] = case.hinged.least_radius_m
    return np.asarray(rows.column(_curvature_per_m(case)) * by_mode(rows, case, least) > 1.0)


def bend_from_wider(rows: Rows, case: Case) -> Floats:
    """Give wheelbase over radius of the bend, or of one that a wider road makes within the body's reach: who goes round
    there is not in line when front or tail come to the narrower one. Bends looked at as corners are left to them."""
    reach = max(case.body.reach_m, 0.0)
    return bend_of(rows, case, case.survey.kept(("bends from wider", reach), lambda: _from_wider(case, reach)))


def _from_wider(case: Case, reach_m: float) -> Floats:
    survey, gentle = case.survey, _curvature_per_m(case)
    width, order = survey.si("width_m"), survey.fabric.order
    cell, other, _ = cells_within(survey, reach_m)
    count = order.stop - order.start
    owner, place = expand(order.start[cell], count[cell])
    piece, there = order.piece[place], other[owner]
    owner, place = expand(order.start[there], count[there])
    piece, near = piece[owner], order.piece[place]
    wider = (width[near] > width[piece]) & (gentle[near] > 0.0)
    out = survey.pieces.curvature_per_m.copy()
    np.maximum.at(out, piece[wider], gentle[near[wider]])
    return out


def _curvature_per_m(case: Case) -> Floats:
    """Give the curvature of every piece, 0 where a bend that is a corner lies in its window, or where a road that is a
    ring with no other joined to it begins and ends: what it bends there is not driven by who starts there."""
    return case.survey.kept(("gentle curvature",), lambda: _made(case))


def _made(case: Case) -> Floats:
    survey, corners = case.survey, find_corners(case.survey)
    of, chain = survey.pieces, np.asarray(survey.fabric.chains.chain)
    rows = np.flatnonzero(corners.bends)
    out = of.curvature_per_m.copy()
    out[_at_seam(case, chain)] = 0.0
    if not len(rows):
        return out
    x, y, _ = survey.fabric.lines.locate(of.road, (of.from_m + of.to_m) / 2.0)
    tree = shapely.STRtree(np.asarray(shapely.points(x, y), dtype=object))
    reach = BEND_WINDOW_M / 2.0 + corners.half_m[rows] + of.length_m.max(initial=0.0)
    bend, piece = tree.query(shapely.points(corners.x_m[rows], corners.y_m[rows]), predicate="dwithin", distance=reach)
    same = chain[of.link[piece]] == chain[corners.edge_in[rows[bend]] >> 1]
    out[piece[same]] = 0.0
    return out


def _at_seam(case: Case, chain: NDArray[np.int64]) -> Bools:
    """Tell which pieces come near the beginning or end of a ring."""
    chains, links, of = case.survey.fabric.chains, case.survey.fabric.links, case.survey.pieces
    along = np.asarray(chains.sign)[of.link] > 0
    from_start = np.where(along, of.from_m - links.from_m[of.link], links.to_m[of.link] - of.to_m)
    low = chains.offset[of.link] + from_start
    ring, left = np.isin(chain[of.link], chains.ring), chains.length[chain[of.link]] - low - of.length_m
    return np.asarray(ring & (np.minimum(low, left) < BEND_WINDOW_M / 2.0))
