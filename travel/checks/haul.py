"""The combination as a vehicle on site: towing vehicle, trailer and, laden, the machine on its deck.

To the rules of the way it is one stiff vehicle that keeps to one side of what the rig does:

* across, its wheelbase is that of the sum of squares: its last axle runs inside a bend as far as the rig's does; in
  corners the rig itself is swept, towing vehicle and trailer, where its sheet tells where it bends;
* along, every axle stands where it stands and bears what it bears with the machine at its best place on the deck;
* upwards, its whole length is as high as its highest part;
* below, the trailer alone is rolled, from coupling to bogie.

What the sheet does not tell leaves the rules that need it unknown, by name. Rules that mean nothing for a sprung,
hinged vehicle are left out, and the plan says which.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from travel.checks.body import Body
from travel.checks.case import Case
from travel.checks.haul_needs import lacks_of
from travel.checks.mover import Mover, Towed
from travel.checks.ramp_case import FRONT_ENTRY, RampCase
from travel.checks.ramp_deck import Standing
from travel.checks.ramp_road import machine_top_m, overall, placed_on_deck
from travel.domain.machine import Attitude, Axle, Brakes, Gear, Machine, Permission, Retarding, Steering, Turret
from travel.domain.trailer import Trailer
from travel.units import PA_PER_KPA, mps_to_kmh, pct_to_ratio

Floats = NDArray[np.float64]

LEFT_OUT = {
    "twist": "the springs of a road vehicle take it up",
    "steer-load": "the load on the steered axle while braking and climbing",
    "steer-mode": "a rig is steered one way only",
    "attitude": "the machine is tied on the deck",
    "carry-capacity": "the machine stands on the deck, it is not carried by a machine",
}
"""Rules not asked of a combination, and why."""
WIDEST_LOCK_RAD = math.radians(60.0)
PLACEHOLDER_M = 0.5
"""Stands in for a length that is missing, so that arithmetic runs; every rule that uses it is unknown by name."""
LONGEST_M = 25.25
"""As far as things beside the way are looked for where the rig's length is not known (Directive 96/53/EC, Art. 4)."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Rig:
    """Lengths and loads of one combination, laden or empty; missing numbers are NaN. x from its first axle, + ahead."""

    trailer: Trailer
    names: tuple[str, ...]
    axle_x_m: Floats
    axle_kg: Floats
    driven: NDArray[np.bool_]
    braked: NDArray[np.bool_]
    parked: NDArray[np.bool_]
    base_m: float
    front_x_m: float
    rear_x_m: float
    mass_kg: float
    height_m: float
    height_band_m: float
    width_m: float
    cg_height_m: float
    mass_band_kg: float
    lacks: Mapping[str, tuple[str, ...]]

    @property
    def turn_lock_rad(self) -> float:
        """Steer angle with which the stiff vehicle turns on the circle of ground that the sheet asks for."""
        return math.atan2(self.base_m, _radius_abreast_m(self, self.base_m))


@dataclass(frozen=True, eq=False, kw_only=True)
class HaulCase(Case):
    """One trip of a combination; ``machine`` and ``body`` are its stand-ins."""

    rig: Rig
    laden: bool

    @property
    def vehicle(self) -> str:
        """The combination drives."""
        return "combination"

    @property
    def left_out(self) -> frozenset[str]:
        """Rules that mean nothing for it."""
        return frozenset(LEFT_OUT)

    @cached_property
    def loaded(self) -> bool:
        """Whether the machine is on the deck."""
        return self.laden

    @cached_property
    def belly(self) -> Body:
        """The trailer from coupling to bogie."""
        return _belly(self.rig, self.body)

    @cached_property
    def hinged(self) -> Mover | None:
        """Towing vehicle and trailer with the hinge between them, for corners."""
        return hinged(self.rig)

    def lacking(self, rule: str) -> tuple[str, ...]:
        """Give what the trailer's sheet does not tell a rule."""
        return self.rig.lacks.get(rule, ())

    @cached_property
    def outer_radius_m(self) -> Mapping[str, float]:
        """Radius of the ground it turns round on, as stated; without one it turns round nowhere."""
        circle = self.rig.trailer.combination.turn_radius_m
        return {"front": math.inf if circle is None else circle, "crab": math.inf}


def make_rig(case: RampCase, laden: bool) -> Rig:
    """Give the combination of a trailer with the machine of the case on its deck, or empty."""
    stand, trailer = placed_on_deck(case), case.trailer
    x, base, behind = _axles(trailer)
    size, combination = overall(case), trailer.combination
    load = case.body.mass_kg if laden else 0.0
    mass = size.gross_kg - case.body.mass_kg + load
    deck = machine_top_m(case) - case.body.height_m - _band(case)
    stated = combination.height_m if combination.height_m is not None else math.nan
    height = max(stated, deck + case.body.height_m) if laden else stated
    hinge = trailer.trailer.hinge_behind_bogie_m
    length = combination.length_m if combination.length_m is not None else LONGEST_M
    overhang = combination.front_overhang_m
    if overhang is None and trailer.kind == FRONT_ENTRY:
        overhang = PLACEHOLDER_M
    tail = max(PLACEHOLDER_M if hinge is None else hinge, (float(x[-1]) + behind) * -1.0)
    tail = tail if overhang is None else max(length - overhang - behind, tail)
    names, kinds = _wheels(trailer)
    return Rig(
        trailer=trailer,
        names=names,
        axle_x_m=x,
        axle_kg=_loads(trailer, stand if laden else None, len(x)),
        driven=kinds[0],
        braked=kinds[1],
        parked=kinds[2],
        base_m=base,
        front_x_m=max(length - behind - tail, 0.0) if overhang is None else overhang,
        rear_x_m=-(base + tail),
        mass_kg=mass,
        height_m=height if not math.isnan(height) else deck + case.body.height_m,
        height_band_m=_band(case),
        width_m=max(size.width_m, case.body.width_m) if laden else _own_width(trailer),
        cg_height_m=_cg_height(case, deck, mass - load, load),
        mass_band_kg=case.scalar("tolerance.mass_share") * (mass - load) + (case.mass_band_kg if laden else 0.0),
        lacks=lacks_of(case, stand, laden),
    )


def hinged(rig: Rig) -> Mover | None:
    """Give a rig that bends at its coupling; None for one without a hinge, or whose sheet does not tell all of it.

    As narrow as the ground stated for turning round on lets it turn, and as wide in both parts as in the wider one.
    """
    towing, body, kind = rig.trailer.towing, rig.trailer.trailer, rig.trailer.kind
    last, front = body.coupling_to_bogie_m, 0.0 if kind == "drawbar" else body.coupling_to_front_m
    if towing is None or towing.coupling_x_m is None or last is None or front is None:
        return None
    axles = rig.axle_x_m[: len(towing.axles)]
    own, hitch = -float(axles[1:].mean()), towing.axles[0].x_m - towing.coupling_x_m
    ahead = math.sqrt(max(front**2 - (rig.width_m / 2.0) ** 2, 0.0))
    return Mover(
        trail_m=own,
        front_x_m=rig.front_x_m,
        rear_x_m=float(axles.min()) - PLACEHOLDER_M,
        width_m=rig.width_m,
        least_radius_m=math.hypot(_radius_abreast_m(rig, own), own),
        towed=Towed(
            hitch_m=hitch,
            drawbar_m=last,
            front_x_m=ahead,
            rear_x_m=-last + rig.rear_x_m + rig.base_m,
            width_m=rig.width_m,
        ),
    )


def _radius_abreast_m(rig: Rig, base_m: float) -> float:
    """Give the radius abreast of the turning centre with which the outer front corner keeps to the ground stated."""
    circle = rig.trailer.combination.turn_radius_m or 2.0 * (rig.base_m + rig.front_x_m)
    inner = circle**2 - (base_m + rig.front_x_m) ** 2
    radius = math.sqrt(inner) - rig.width_m / 2.0 if inner > 0.0 else 0.0
    return max(radius, base_m / math.tan(WIDEST_LOCK_RAD))


def _band(case: RampCase) -> float:
    """Half-band of the laden height: the machine's, and that of the deck's ride height."""
    return case.height_band_m + case.scalar("ramp-crest.height_tolerance")


def _own_width(trailer: Trailer) -> float:
    return max(trailer.trailer.width_m or 0.0, trailer.deck.width_m)


def _cg_height(case: RampCase, deck: float, own_kg: float, load_kg: float) -> float:
    stated = case.trailer.combination.cg_height_m
    if stated is None:
        return PLACEHOLDER_M
    return (own_kg * stated + load_kg * (deck + case.body.cg_m[2])) / (own_kg + load_kg)


def _axles(trailer: Trailer) -> tuple[Floats, float, float]:
    """Give axle places from the first, the stiff vehicle's wheelbase, and how far the bogie is behind the first."""
    body, towing = trailer.trailer, trailer.towing
    last = body.coupling_to_bogie_m or PLACEHOLDER_M
    ahead: list[float]
    if towing is None:
        ahead = [-i * (body.front_spacing_m or 0.0) for i in range(body.front_axles)]
        middle, base = last, last
    else:
        ahead = [axle.x_m - towing.axles[0].x_m for axle in towing.axles]
        own = -float(np.mean(ahead[1:]))
        hitch = own if towing.coupling_x_m is None else towing.axles[0].x_m - towing.coupling_x_m
        middle = hitch + last
        # what the squares take off the first axle's radius (mechanics.turning.trailing_radius_sum_of_squares), as one
        base = math.sqrt(own**2 + last**2 - (hitch - own) ** 2)
    count, spacing = body.bogie_axles or 1, body.bogie_spacing_m or 0.0
    bogie = [-(middle + (i - (count - 1) / 2.0) * spacing) for i in range(count)]
    return np.array([*ahead, *bogie]), base, middle


def _wheels(trailer: Trailer) -> tuple[tuple[str, ...], NDArray[np.bool_]]:
    """Give names of the axles, and which are driven, braked, braked standing."""
    body, towing = trailer.trailer, trailer.towing
    rigid = towing is None
    if towing is None:
        rows = [("front", False, bool(body.front_braked), bool(body.front_parking_braked))] * body.front_axles
    else:
        rows = [(a.name, a.driven, bool(a.braked), bool(a.parking_braked)) for a in towing.axles]
    rows += [("bogie", rigid, bool(body.bogie_braked), bool(body.bogie_parking_braked))] * (body.bogie_axles or 1)
    return tuple(row[0] for row in rows), np.array([row[1:] for row in rows], dtype=bool).T


def _loads(trailer: Trailer, stand: Standing | None, count: int) -> Floats:
    """Give the axle loads on level ground; a bogie shares equally. Not known: NaN turned into equal parts by name."""
    body, towing = trailer.trailer, trailer.towing
    coupling = body.coupling_kg if stand is None else stand.coupling
    bogie = body.bogie_kg if stand is None else stand.bogie
    axles = body.bogie_axles or 1
    if towing is None:
        front = [(coupling or 0.0) / body.front_axles] * body.front_axles
    elif stand is not None and stand.towing and all(load is not None for load in stand.towing):
        front = [float(load or 0.0) for load in stand.towing]
    else:
        front = _empty_towing(trailer)
    out = np.array([*front, *[(bogie or 0.0) / axles] * axles])
    return out if len(out) == count and out.min() > 0.0 else np.maximum(out, 1.0)


def _empty_towing(trailer: Trailer) -> list[float]:
    towing, body = trailer.towing, trailer.trailer
    assert towing is not None
    own = [axle.load_kg for axle in towing.axles]
    if towing.coupling_x_m is None:
        return own
    rear = [axle.x_m for axle in towing.axles[1:]]
    first = towing.axles[0].x_m
    share = (towing.coupling_x_m - first) / (sum(rear) / len(rear) - first)
    parts = [1.0 - share, *[share / len(rear)] * len(rear)]
    return [load + body.coupling_kg * part for load, part in zip(own, parts, strict=True)]


def haul_body(rig: Rig) -> Body:
    """Give the combination as the rules see it."""
    count, of = len(rig.axle_x_m), rig.trailer.combination
    track = of.track_m if of.track_m is not None else rig.width_m
    total = float(rig.axle_kg.sum())
    ends = np.array([rig.rear_x_m, rig.front_x_m])

    def every(value: float | None, instead: float = PLACEHOLDER_M) -> Floats:
        return np.full(count, instead if value is None else value)

    return Body(
        name=rig.trailer.name,
        attitude="stowed",
        mass_kg=rig.mass_kg,
        mass_tolerance_kg=rig.mass_band_kg,
        cg_m=(float((rig.axle_kg * rig.axle_x_m).sum() / total), 0.0, rig.cg_height_m),
        cg_tolerance_m=math.nan,
        height_m=rig.height_m,
        height_tolerance_m=rig.height_band_m,
        width_m=rig.width_m,
        over_tyres_m=_own_width(rig.trailer),
        front_x_m=rig.front_x_m,
        rear_x_m=rig.rear_x_m,
        wheelbase_m=rig.base_m,
        axle_x_m=rig.axle_x_m,
        axle_load_kg=rig.axle_kg,
        tyres=every(of.tyres, 2.0),
        track_m=np.full(count, track),
        radius_m=every(of.wheel_radius_m),
        section_m=every(of.tyre_section_m),
        pressure_pa=every(of.tyre_pressure_kpa, 100.0) * PA_PER_KPA,
        squash_m=every(of.squash_m, 0.1),
        driven=rig.driven,
        drive_off=np.zeros(count, dtype=bool),
        braked=rig.braked,
        parking_braked=rig.parked,
        steered=np.arange(count) == 0,
        oscillating=np.zeros(count, dtype=bool),
        stop_rad=np.full(count, np.nan),
        pivot_height_m=np.full(count, np.nan),
        top_xz_m=np.column_stack((ends, [rig.height_m, rig.height_m])),
        under_xz_m=np.column_stack((ends, [PLACEHOLDER_M, PLACEHOLDER_M])),
        width_z_m=np.array([[0.0, rig.width_m], [rig.height_m, rig.width_m]]),
        grade_limit_ratio=math.nan if of.grade_pct is None else pct_to_ratio(of.grade_pct),
        cross_limit_ratio=math.nan if of.cross_slope_pct is None else pct_to_ratio(of.cross_slope_pct),
        low_range_above_ratio=math.nan,
    )


def _belly(rig: Rig, body: Body) -> Body:
    """Give the trailer as a two-axle body: its wheels at the coupling, where the towing vehicle holds it, and bogie."""
    base = rig.trailer.trailer.coupling_to_bogie_m or PLACEHOLDER_M
    under = np.array(rig.trailer.combination.under_xz_m or [(0.0, PLACEHOLDER_M), (-base, PLACEHOLDER_M)])
    two = np.array([0, -1])
    return replace(
        body,
        wheelbase_m=base,
        axle_x_m=np.array([0.0, -base]),
        axle_load_kg=body.axle_load_kg[two],
        radius_m=body.radius_m[two],
        front_x_m=float(max(under[:, 0].max(), 0.0)),
        rear_x_m=float(min(under[:, 0].min(), -base)),
        under_xz_m=under,
        top_xz_m=np.array([[0.0, body.height_m], [-base, body.height_m]]),
    )


def haul_machine(case: RampCase, rig: Rig) -> Machine:
    """Give the stand-in of the machine's sheet: gears, steering, brakes and axles of the combination.

    Without gears on the sheet it crawls in one, forward, and what its pull would be needed for is unknown.
    """
    body, of = haul_body(rig), rig.trailer.combination
    crawl = mps_to_kmh(case.scalar("unloading-place.site_speed"))
    gears = tuple(gear for gear in of.gears if gear.travel == "forward") or (
        Gear(name="crawl", travel="forward", range="low", top_kmh=crawl),
    )
    axles = tuple(
        Axle.model_construct(
            name=name,
            x_m=float(body.axle_x_m[i]),
            load_kg=float(body.axle_load_kg[i]),
            tyres=int(body.tyres[i]),
            track_m=float(body.track_m[i]),
            driven=bool(body.driven[i]),
            braked=bool(body.braked[i]),
            steered=bool(body.steered[i]),
            parking_braked=bool(body.parking_braked[i]),
        )
        for i, name in enumerate(rig.names)
    )
    attitude = Attitude.model_construct(
        name="stowed", mass_kg=rig.mass_kg, cg_x_m=body.cg_m[0], cg_z_m=body.cg_m[2], height_tolerance_m=None
    )
    retarder = None if of.retarder_kw is None else Retarding(kind="retarder", power_kw=of.retarder_kw)
    return Machine.model_construct(
        format=1,
        name=rig.trailer.name,
        axles=axles,
        attitudes=(attitude,),
        limits=Permission(grade_pct=of.grade_pct, cross_slope_pct=of.cross_slope_pct),
        gears=gears,
        steering=(Steering.model_construct(mode="front", lock_deg=math.degrees(rig.turn_lock_rad), top_kmh=None),),
        brakes=Brakes(service_mps2=of.brake_mps2, lag_s=of.brake_lag_s, parking_grade_pct=of.parking_grade_pct),
        retarding=retarder,
        turret=Turret(),
        carrying=(),
        view=(),
    )
