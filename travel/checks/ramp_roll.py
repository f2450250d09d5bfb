"""The machine rolled up the ramp: clearance by position, the tightest place of overhangs and belly, angles."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.ramp_case import Outline, RampCase
from travel.domain.trailer import Ramp
from travel.mechanics.formula import holds
from travel.mechanics.ramp_angles import approach_angle, breakover_angle
from travel.mechanics.roll_engine import Gap, RollCase, Stand, roll, smallest_gap, stand, stand_sprung

Floats = NDArray[np.float64]

STEP_M = 0.01
PAIR = 2
PER_EDGE = 21
SPRING_SHARE = 0.05
"""Share of the machine's weight below which two heights of the deck say nothing about a spring."""
PARTS = ("leading overhang", "belly", "trailing overhang")


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Tight:
    """The tightest place of one part of the machine, or of all, over all variants of deck and foot."""

    part: str
    value: float
    lead_x: float
    body_xz: tuple[float, float]
    profile_xz: tuple[float, float]
    line: Floats


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Variant:
    """One way the deck and the ramps' feet may stand, and where the leading axle runs then."""

    span: tuple[float, float]
    drop: float = 0.0
    sink: float = 0.0
    lean: float = 0.0


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Rolling:
    """All positions: leading axle, how the machine stands (deck not sunk), clearance; and what is tightest."""

    lead_x: Floats
    stood: Stand
    clearance: Floats
    firm: dict[str, Tight]
    sunk: dict[str, Tight]

    def parts(self) -> list[Tight]:
        """Give the smallest of each part, tightest first."""
        found: dict[str, Tight] = {}
        for tight in (*self.firm.values(), *self.sunk.values()):
            if tight.part not in found or tight.value < found[tight.part].value:
                found[tight.part] = tight
        return sorted(found.values(), key=lambda tight: tight.value)

    def tightest(self) -> Tight:
        """Give the smallest of all."""
        return min((*self.firm.values(), *self.sunk.values()), key=lambda tight: tight.value)


def rolled(case: RampCase, step_m: float = STEP_M) -> Rolling:
    """Roll the machine from the ground to the end of the deck."""
    shape = case.outline
    first, last = case.span
    lead_x, stood = standing_by(case, step_m)
    clearance = _clearance(case.line, stood, shape)
    sinks = [case.foot_sink] if not math.isnan(case.foot_sink) and case.trailer.ramps else []
    for ramp in alike(case):
        for sink in dict.fromkeys([0.0, *sinks]):
            if ramp is not case.ramps[0] or sink > 0.0:
                clearance = np.fmin(clearance, _over(case, case.profile(ramp, sink=sink), lead_x))
    leaning: list[Variant] = []
    if case.sinking > 0.0:
        deck = springs(case, stood)
        moving = _moving(case, lead_x, deck)
        at = int(np.nanargmin(moving))
        if moving[at] < np.nanmin(clearance):
            near = (max(lead_x[at] - step_m, first), min(lead_x[at] + step_m, last))
            leaning = [Variant(drop=float(deck.drop[at]), lean=float(deck.lean[at]), span=near)]
        clearance = np.fmin(clearance, moving)
    drops = [0.0] + ([case.sinking] if case.sinking > 0.0 else [])
    return Rolling(
        lead_x=lead_x,
        stood=stood,
        clearance=clearance,
        firm=_tightest(case, [*(Variant(drop=drop, span=case.span) for drop in drops), *leaning]),
        sunk=_tightest(case, [Variant(drop=drop, sink=sink, span=case.span) for drop in drops for sink in sinks]),
    )


def standing_by(case: RampCase, step_m: float = STEP_M) -> tuple[Floats, Stand]:
    """Give every position of the leading axle, and how the machine stands there on the case's own line."""
    first, last = case.span
    lead_x = np.linspace(first, last, math.ceil((last - first) / step_m) + 1)
    return lead_x, stood_on(case.outline, case.line[None], lead_x)


def stood_on(shape: Outline, lines: Floats, lead_x: Floats) -> Stand:
    """Stand the machine on profiles (…, V, 2): on two axles rigidly, on more on like springs."""
    px, pz = lines[..., 0], lines[..., 1]
    if len(shape.rest) > PAIR:
        return stand_sprung(px, pz, lead_x, *shape.rest.T)
    return stand(px, pz, lead_x, (shape.lead_r, shape.trail_r), shape.base)


def alike(case: RampCase) -> list[Ramp | None]:
    """Give the ramps, of those alike the first."""
    return list({ramp and (ramp.length_m, ramp.foot_sink_m): ramp for ramp in reversed(case.ramps)}.values())[::-1]


def _clearance(line: Floats, stood: Stand, shape: Outline) -> Floats:
    under = (shape.under[None, :, 0], shape.under[None, :, 1])
    return smallest_gap(line[None, :, 0], line[None, :, 1], stood, shape.lead_r, under).value


def _over(case: RampCase, line: Floats, lead_x: Floats) -> Floats:
    """Give the clearance by position over another profile."""
    shape = case.outline
    stood = stood_on(shape, line[None], lead_x)
    return _clearance(line, stood, shape)


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Deck:
    """The deck on its springs by position: how far its loading edge is down, the slope it has taken (+ inward up)."""

    drop: Floats
    lean: Floats


def springs(case: RampCase, stood: Stand) -> Deck:
    """Give how the deck goes down and leans as the machine comes on: linear springs at bogie and coupling.

    Their rates come from the two heights of the sheet, taken with the machine at the deck's inner end. Behind the bogie
    the weight lifts the coupling: the nose rises, the edge goes down the more. Where the places of bogie and coupling
    are not known, or either carries next to nothing then, or the deck's front lies on the ground, it goes down evenly.
    """
    loads = case.body.axle_load_kg / case.body.axle_load_kg[[case.outline.lead, case.outline.trail]].sum()
    run = -case.foot if case.foot < 0.0 else 1e-9
    body, total, moment = case.trailer.trailer, np.zeros(stood.lead_x.shape), np.zeros(stood.lead_x.shape)
    for axle, x in ((case.outline.lead, stood.lead_x), (case.outline.trail, stood.trail_x)):
        part = loads[axle] * np.clip((x - case.foot) / run, 0.0, 1.0)
        total, moment = total + part, moment + part * np.maximum(x, 0.0)
    even = Deck(drop=case.sinking * total, lean=np.zeros(total.shape))
    base, hinge = body.coupling_to_bogie_m, body.hinge_behind_bogie_m
    if base is None or hinge is None or case.front_entry:
        return even
    coupling = (moment - hinge * total) / base
    bogie = total - coupling
    if min(coupling[-1], bogie[-1]) < SPRING_SHARE:
        return even
    nose, rear = (case.sinking * part / part[-1] for part in (coupling, bogie))
    lean = (rear - nose) / base
    return Deck(drop=rear + lean * hinge, lean=lean)


def _moving(case: RampCase, lead_x: Floats, deck: Deck) -> Floats:
    """Give the clearance with the deck moving on its springs as the machine's weight comes on it."""
    shape = case.outline
    at = zip(deck.drop, deck.lean, strict=True)
    lines = np.array([case.profile(case.ramps[0], drop=float(drop), lean=float(lean)) for drop, lean in at])
    px, pz = lines[..., 0], lines[..., 1]
    stood = stood_on(shape, lines, lead_x)
    return smallest_gap(px, pz, stood, shape.lead_r, (shape.under[None, :, 0], shape.under[None, :, 1])).value


def parts_of(shape: Outline) -> dict[str, Floats]:
    """Give the underbody cut at the axles."""
    x, z = shape.under.T
    cuts = {"leading overhang": (0.0, np.inf), "belly": (-shape.base, 0.0), "trailing overhang": (-np.inf, -shape.base)}
    out = {}
    for name, (low, high) in cuts.items():
        inside = shape.under[(x >= low) & (x <= high)]
        ends = [[cut, np.interp(cut, x, z)] for cut in (low, high) if np.isfinite(cut) and x[0] < cut < x[-1]]
        points = np.vstack([inside, *[np.array([end]) for end in ends]]) if ends else inside
        points = points[np.argsort(points[:, 0], kind="stable")]
        if len(points) > 1:
            out[name] = points
    return out


def _tightest(case: RampCase, variants: list[Variant]) -> dict[str, Tight]:
    """Give the tightest place of each part over the ramps and over how deck and feet may stand."""
    keys = [(part, ramp, variant) for part in parts_of(case.outline) for ramp in alike(case) for variant in variants]
    if not keys:
        return {}
    gap, lead_x = _roll_all(case, keys)
    out: dict[str, Tight] = {}
    for row, (part, ramp, variant) in enumerate(keys):
        value = float(gap.value[row])
        if part not in out or not value >= out[part].value:
            out[part] = Tight(
                part=part,
                value=value,
                lead_x=float(lead_x[row]),
                body_xz=(float(gap.body_x[row]), float(gap.body_z[row])),
                profile_xz=(float(gap.profile_x[row]), float(gap.profile_z[row])),
                line=case.profile(ramp, variant.drop, variant.sink, variant.lean),
            )
    return out


def _roll_all(case: RampCase, keys: list[tuple[str, Ramp | None, Variant]]) -> tuple[Gap, Floats]:
    shape, parts = case.outline, parts_of(case.outline)
    lines = np.array([case.profile(ramp, v.drop, v.sink, v.lean) for _, ramp, v in keys])
    under = [parts[part] for part, _, _ in keys]
    most = max(len(points) for points in under)
    padded = np.array([np.vstack([points, np.repeat(points[-1:], most - len(points), axis=0)]) for points in under])
    one = np.ones(len(keys))
    rest = np.tile(shape.rest, (len(keys), 1, 1)) if len(shape.rest) > PAIR else None
    found = roll(
        RollCase(
            profile_x=lines[..., 0],
            profile_z=lines[..., 1],
            under_x=padded[..., 0],
            under_z=padded[..., 1],
            lead_r=shape.lead_r * one,
            trail_r=shape.trail_r * one,
            base=shape.base * one,
            from_x=np.array([v.span[0] for _, _, v in keys]),
            to_x=np.array([v.span[1] for _, _, v in keys]),
            rest_x=None if rest is None else rest[..., 0],
            rest_r=None if rest is None else rest[..., 1],
        ),
        STEP_M,
    )
    return found.gap, found.lead_x


def angles_deg(case: RampCase) -> tuple[float, float, float]:
    """Give approach, departure and breakover angle of the machine as it stands on level ground; NaN = none."""
    body = case.body
    x, z = _dense(body.under_xz_m)
    front, rear = float(body.axle_x_m[0]), float(body.axle_x_m[-1])
    ahead = _least_angle(x - front, z, float(body.radius_m[0]))
    behind = _least_angle(rear - x, z, float(body.radius_m[-1]))
    radius = float(min(body.radius_m[0], body.radius_m[-1]))
    terms: dict[str, Any] = {"height_m": z, "from_rear_m": x - rear, "from_front_m": front - x, "radius_m": radius}
    good = holds(breakover_angle, **terms)
    with np.errstate(invalid="ignore", divide="ignore"):
        over = np.where(good, breakover_angle(**terms), np.inf)
    least = float(np.degrees(over.min(initial=np.inf)))
    return ahead, behind, least if math.isfinite(least) else math.nan


def _least_angle(ahead: Floats, z: Floats, radius: float) -> float:
    good = holds(approach_angle, ahead_m=ahead, height_m=z, radius_m=radius)
    with np.errstate(invalid="ignore", divide="ignore"):
        angle = np.where(good, approach_angle(ahead, z, radius), np.inf)
    least = float(np.degrees(angle.min(initial=np.inf)))
    return least if math.isfinite(least) else math.nan


def _dense(points: Floats) -> tuple[Floats, Floats]:
    """Give points along a line close enough that the least angle lies at one of them."""
    order = np.argsort(points[:, 0], kind="stable")
    x, z = points[order].T
    share = np.linspace(0.0, 1.0, PER_EDGE)
    return (
        np.concatenate([a + share * (b - a) for a, b in pairwise(x)]),
        np.concatenate([a + share * (b - a) for a, b in pairwise(z)]),
    )
