"""A machine on more than two axles: what may carry it on the ramp, each way taken in turn.

How such a machine shares its weight between its axles depends on springs, tyres and equalising beams, which the sheet
does not give. So it is bounded. Loads: whatever the suspension, every load on the ground is a mean of those with the
machine on two axles alone that have the centre of gravity between them (the corners of all that statics allows), so
that the worst of these pairs is never passed. Shape: the body is stood on each of these pairs, as a rigid machine
stands, and on like plumb springs at every three or more axles that have the centre of gravity between them (those
that hang free are left out); the least clearance of all counts. Equal stiffness is an assumption, common practice, no
source. Beams that share a pair of axles evenly lie between the pairs.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np

from travel.checks.body import Body
from travel.checks.ramp_case import RampCase

Axles = tuple[int, ...]


def may_carry(case: RampCase) -> tuple[Axles, ...]:
    """Give every set of axles that may carry the machine alone, outermost pair first; axles count from the front."""
    body = case.body
    x, (cg, _, _) = body.axle_x_m, body.cg_m
    band = case.scalar("tolerance.cg_m") if math.isnan(body.cg_tolerance_m) else body.cg_tolerance_m
    found = [
        axles
        for number in range(2, len(x) + 1)
        for axles in combinations(range(len(x)), number)
        if x[axles[0]] > cg - band and x[axles[-1]] < cg + band
    ]
    outer = (0, len(x) - 1)
    return (outer, *(axles for axles in found if axles != outer))


def carried_by(case: RampCase, axles: Axles) -> RampCase:
    """Give the case with these axles alone; x of the machine then runs from the foremost of them."""
    body = case.body
    last = len(body.axle_x_m) - 1
    inner = tuple(axle not in (0, last) for axle in (axles[0], axles[-1]))
    if not case.nose_leads:
        inner = inner[::-1]
    return replace(case, body=_on(body, axles), inner=inner)


def _on(body: Body, axles: Axles) -> Body:
    """Give the machine with these axles alone, their loads by the lever (on more than two as like springs share it)."""
    rows, front = list(axles), float(body.axle_x_m[axles[0]])
    x = body.axle_x_m[rows] - front
    cg = (body.cg_m[0] - front, body.cg_m[1], body.cg_m[2])
    off = x - x.mean()
    share = 1.0 / len(x) + off * (cg[0] - x.mean()) / float(off @ off)
    arrays = {
        name: getattr(body, name)[rows]
        for name in ("tyres", "track_m", "radius_m", "section_m", "pressure_pa", "squash_m", "driven", "drive_off",
                     "braked", "parking_braked", "steered", "oscillating", "stop_rad", "pivot_height_m")
    }  # fmt: skip
    return replace(
        body,
        cg_m=cg,
        front_x_m=body.front_x_m - front,
        rear_x_m=body.rear_x_m - front,
        wheelbase_m=float(x[0] - x[-1]),
        axle_x_m=x,
        axle_load_kg=np.maximum(share, 0.0) * body.mass_kg,
        top_xz_m=body.top_xz_m - [front, 0.0],
        under_xz_m=body.under_xz_m - [front, 0.0],
        load_m=None if body.load_m is None else (body.load_m[0] - front, *body.load_m[1:]),
        **arrays,
    )


def lead_ahead_m(case: RampCase, axles: Axles) -> float:
    """Give how far the machine's leading axle is ahead of the leading one of these [m]."""
    x = case.body.axle_x_m
    return float(x[0] - x[axles[0]]) if case.nose_leads else float(x[axles[-1]] - x[-1])
