"""Loads by position: axles on the slope with weight moved, each ramp, grip, tipping back; what the trailer carries.

How drive and braking share out between the axles cannot be seen from outside. The loads shown are those with each axle
holding itself; where a load is held against a rating, the worst of that and of either axle holding all of it counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.checks.ramp_case import RampCase
from travel.domain.trailer import Ramp
from travel.mechanics.ramp_statics import (
    bogie_share,
    coupling_share,
    free_axle_load,
    hinge_reaction,
    holding_axle_load,
    ramp_share,
    reaction_share,
)
from travel.mechanics.roll_engine import Stand, placed
from travel.mechanics.slope import share_across
from travel.units import kg_to_n

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Loads:
    """By axle (leading, trailing) and position (2, p), SI. ``plumb`` reactions, ``square`` to the ground there,
    ``worst`` the greatest over ways of holding; contacts ``x`` from the deck's edge; ``slope`` under each wheel
    against the level. ``pitch`` of the body against the level and ``tip_ratio`` at which it tips about the lower axle
    (none where that is not the outermost).
    """

    x: Floats
    slope: Floats
    plumb: Floats
    square: Floats
    worst: Floats
    on_ramp: Bools
    on_deck: Bools
    pitch: Floats
    tip_ratio: Floats


def loads_of(case: RampCase, stood: Stand) -> Loads:
    """Give the loads at every position."""
    shape, weight = case.outline, float(kg_to_n(case.body.mass_kg))
    tan = np.array([stood.lead_tan, stood.trail_tan])
    centre = np.array([[stood.lead_x, stood.lead_z], [stood.trail_x, stood.trail_z]])
    radius = np.array([shape.lead_r, shape.trail_r])[:, None]
    cos = 1.0 / np.sqrt(1.0 + tan**2)
    x, z = centre[:, 0] + radius * tan * cos, centre[:, 1] - radius * cos
    cg_x, cg_z = placed(stood, shape.lead_r, shape.cg_x, shape.cg_z)
    px, pz = _leaned(case, x, z)
    gx, gz = _leaned(case, cg_x, cg_z)
    slope = np.tan(np.arctan(tan) + np.arctan(case.slope))
    plumb = np.array([reaction_share(weight, gx, px[i], px[1 - i]) for i in (0, 1)])
    square = plumb / np.sqrt(1.0 + slope**2)
    free = [free_axle_load(weight, gx, px[i], pz[i], slope[i], px[1 - i], pz[1 - i]) for i in (0, 1)]
    held = [holding_axle_load(weight, slope[i], free[1 - i], slope[1 - i]) for i in (0, 1)]
    worst = np.max([plumb, np.array(free), np.array(held)], axis=0)
    low = np.argmin(pz, axis=0)
    low_x, low_z = (np.take_along_axis(part, low[None], axis=0)[0] for part in (px, pz))
    run, rise = px[0] - px[1], pz[0] - pz[1]
    pitch = rise / run
    inward = np.where(low == 0, -1.0, 1.0) * np.sign(run)  # past the lower contact it has tipped already
    lever, height = (gx - low_x) * inward, np.maximum(gz - low_z, 1e-9)
    lean = np.arctan(lever / height) + np.arctan(np.abs(pitch))
    edge = case.foot < 0.0
    inner = np.take(np.array(case.inner), low)
    return Loads(
        x=x,
        slope=slope,
        plumb=plumb,
        square=square,
        worst=worst,
        on_ramp=(x >= case.foot) & (x < 0.0) & edge,
        on_deck=x >= 0.0,
        pitch=pitch,
        tip_ratio=np.where(inner, np.inf, np.tan(lean)),
    )


def _leaned(case: RampCase, x: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Turn what leans with the ground into level and plumb."""
    cos = 1.0 / np.sqrt(1.0 + case.slope**2)
    sin = case.slope * cos
    return x * cos - z * sin, x * sin + z * cos


def ramp_loads(case: RampCase, loads: Loads) -> dict[str, Floats]:
    """Give the load of the left and the right ramp by position [N], each from its own foot; a shorter or sunk ramp
    leans the machine on it.
    """
    body, shape = case.body, case.outline
    out = {}
    facing = 1.0 if case.nose_leads else -1.0
    inward = -1.0 if case.front_entry else 1.0
    for side, sign in (("left", 1.0), ("right", -1.0)):
        total, foot = np.zeros(loads.x.shape[1]), case.foot_of(side)
        for i, axle in enumerate((shape.lead, shape.trail)):
            offset = sign * facing * inward * body.cg_m[1]
            across = -sign * share_across(0.0, case.cross) + unequal(case, side)
            share = ramp_share(
                np.maximum(loads.worst[i], 0.0), offset + case.cg_band_m, across, shape.cg_z, body.track_m[axle]
            )
            total += np.where((loads.x[i] >= foot) & (loads.x[i] < 0.0), share, 0.0)
        out[side] = total
    return out


def _sides(ramp: Ramp) -> tuple[str, ...]:
    return ("left", "right") if ramp.side == "both" else (ramp.side,)


def unequal(case: RampCase, side: str) -> float:
    """Give how much the machine leans towards one side because the two ramps are not alike, or the foot of that side
    alone has gone in (greatest, over track).
    """
    by_side = {word: ramp for ramp in case.trailer.ramps for word in _sides(ramp)}
    if not by_side:
        return 0.0
    own, other = by_side[side], by_side["left" if side == "right" else "right"]
    sink = own.foot_sink_m if own.foot_sink_m is not None else case.foot_sink
    lines = [case.profile(own, sink=0.0 if math.isnan(sink) else sink), case.profile(other)]
    at = np.linspace(min(line[1, 0] for line in lines), 0.0, 50)
    heights = [np.interp(at, line[:, 0], line[:, 1]) for line in lines]
    track = float(case.body.track_m.min())
    return float(max((heights[1] - heights[0]).max(), 0.0)) / track


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Rig:
    """What coupling and bogie carry by position (or NaN), the weight of the machine on the rig, and the weight that
    leans down a slope on it: all on ramps and deck, since the friction of the ramps' feet is not counted [N].
    """

    coupling: Floats
    bogie: Floats
    on_rig: Floats
    leans: Floats
    lacks: tuple[str, ...]


def rig_loads(case: RampCase, loads: Loads) -> Rig:
    """Give the trailer's loads by position, square to the ground."""
    body = case.trailer.trailer
    on_deck = np.where(loads.on_deck, loads.plumb, 0.0)
    run = max(-case.foot, 1e-9)
    at_hinge = np.where(loads.on_ramp, hinge_reaction(np.maximum(loads.plumb, 0.0), loads.x - case.foot, run), 0.0)
    on_rig = (on_deck + at_hinge).sum(axis=0)
    leans = np.where(loads.on_deck | loads.on_ramp, np.maximum(loads.plumb, 0.0), 0.0).sum(axis=0)
    lacks = tuple(
        name
        for name, value in (
            ("trailer.coupling_to_bogie_m", body.coupling_to_bogie_m),
            ("trailer.hinge_behind_bogie_m", body.hinge_behind_bogie_m),
        )
        if value is None
    )
    if lacks or body.coupling_to_bogie_m is None or body.hinge_behind_bogie_m is None:
        lost = np.full(on_rig.shape, np.nan)
        return Rig(coupling=lost, bogie=lost, on_rig=on_rig, leans=leans, lacks=lacks)
    base = body.coupling_to_bogie_m
    edge = base + body.hinge_behind_bogie_m
    coupling, bogie = tare_loads(case, case.slope)
    # the wheels' forces act on the deck; its height over the line of the supports is taken whole, downhill not credited
    high = deck_height(case) if case.slope > 0.0 else 0.0
    for weight, behind in ((on_deck, edge - loads.x), (at_hinge, np.full(loads.x.shape, edge))):
        coupling = coupling + np.sum(coupling_share(weight, behind, base, high, case.slope), axis=0)
        bogie = bogie + np.sum(bogie_share(weight, behind, base, 0.0, case.slope), axis=0)
    if case.trailer.kind == "tilt_bed":
        # tilted, the bed's rear edge stands on the ground and holds the nose down; level, the weight is past the hinge
        coupling = np.maximum(coupling, tare_loads(case, case.slope)[0])
    return Rig(coupling=np.asarray(coupling), bogie=np.asarray(bogie), on_rig=on_rig, leans=leans, lacks=())


def deck_height(case: RampCase) -> float:
    """Give the highest part of the deck [m]."""
    return float(case.deck[:, 1].max())


def tare_loads(case: RampCase, slope: float) -> tuple[float, float]:
    """Give coupling and bogie load of the empty trailer on a slope [N].

    The height of its centre of gravity is not on the sheet; nose uphill the deck's height is taken, which takes more
    off the coupling than is there; nose downhill nothing is credited.
    """
    body = case.trailer.trailer
    base = body.coupling_to_bogie_m or 1.0
    total = float(kg_to_n(body.coupling_kg + body.bogie_kg))
    behind = base * body.bogie_kg / max(body.coupling_kg + body.bogie_kg, 1e-9)
    height = deck_height(case) if slope > 0.0 else 0.0
    return (
        float(coupling_share(total, behind, base, height, slope)),
        float(bogie_share(total, behind, base, 0.0, slope)),
    )
