"""The machine as the checks see it: one attitude with its load, in SI."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from travel.domain.machine import Attitude, Load, Machine, SlopeLimits
from travel.mechanics.tipping import tip_line_lever_across, tip_line_lever_along, tip_line_reach
from travel.units import deg_to_ratio, pct_to_ratio

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class TipLine:
    """One line of the support polygon about which the machine may tip: where the weight lies inside it, its levers."""

    reach_m: float
    lever_along_m: float
    lever_across_m: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Body:
    """One machine in one attitude, load included. Missing numbers are NaN.

    ``axle_*`` arrays run front first; ``top_xz_m``/``under_xz_m`` hold (x, z) points, ``width_z_m`` (height, whole
    width). Permissions are rise over run. ``load_lacks`` names what of the load's sheet (or of the machine's, to place
    it) is missing, so that mass and centre of gravity do not count; ``shape_lacks`` what is, so that the outline does
    not. ``carried_kg`` of the mass is the load, rigging and
    all, ``carried_tolerance_kg`` its half-band; ``carried_share``: how much of it each axle bears, below 0 where it is
    relieved.
    ``hung_m``: of a load on the hook its lowest and highest point, half its width, and how high it hangs from.
    """

    name: str
    attitude: str
    mass_kg: float
    mass_tolerance_kg: float
    cg_m: tuple[float, float, float]
    cg_tolerance_m: float
    height_m: float
    height_tolerance_m: float
    width_m: float
    over_tyres_m: float
    front_x_m: float
    rear_x_m: float
    wheelbase_m: float
    axle_x_m: Floats
    axle_load_kg: Floats
    tyres: Floats
    track_m: Floats
    radius_m: Floats
    section_m: Floats
    pressure_pa: Floats
    squash_m: Floats
    driven: Bools
    drive_off: Bools
    braked: Bools
    parking_braked: Bools
    steered: Bools
    oscillating: Bools
    swing_known: bool = True
    stop_rad: Floats
    pivot_height_m: Floats
    top_xz_m: Floats
    under_xz_m: Floats
    width_z_m: Floats
    grade_limit_ratio: float
    cross_limit_ratio: float
    low_range_above_ratio: float
    load_m: tuple[float, float, float] | None = None
    carried_kg: float = 0.0
    carried_tolerance_kg: float = 0.0
    carried_share: Floats | None = None
    hung_m: tuple[float, float, float, float] | None = None
    load_lacks: tuple[str, ...] = ()
    shape_lacks: tuple[str, ...] = ()

    @cached_property
    def supports_m(self) -> Floats:
        """What the machine stands on while moving: points counter-clockwise, (x, y, height of sideways force) [m].

        A swinging axle is its pivot (a lock is not credited while moving). The sheet does not give the mass of the
        axle itself, so the point is put no higher than the axle's centre, which is on the safe side
        (``travel.mechanics.tipping``). Fewer than three points: no base.
        """
        if not self.swing_known:
            return np.zeros((0, 3))
        points: list[tuple[float, float, float]] = []
        for x, track, swings, pivot, radius in zip(
            self.axle_x_m, self.track_m, self.oscillating, self.pivot_height_m, self.radius_m, strict=True
        ):
            if swings:
                points.append((float(x), 0.0, float(min(pivot, radius) if not math.isnan(pivot) else math.nan)))
            else:
                points += [(float(x), track / 2.0, 0.0), (float(x), -track / 2.0, 0.0)]
        return np.array(_around(points)).reshape(-1, 3)

    @cached_property
    def tip_lines(self) -> tuple[TipLine, ...]:
        """Every line of the support polygon with the levers of this centre of gravity; none where there is no base."""
        x, y, z = self.cg_m
        ends = self.supports_m
        if len(ends) < 3:
            return ()
        return tuple(
            TipLine(
                reach_m=float(tip_line_reach(x, y, a[0], a[1], b[0], b[1])),
                lever_along_m=float(tip_line_lever_along(z, a[0], a[1], b[0], b[1])),
                lever_across_m=float(tip_line_lever_across(x, z, *a, *b)),
            )
            for a, b in zip(ends, np.roll(ends, -1, axis=0), strict=True)
        )

    @property
    def length_m(self) -> float:
        """Overall length, load included [m]."""
        return self.front_x_m - self.rear_x_m

    @property
    def reach_m(self) -> float:
        """How far the body reaches from the front axle along the road, the longer end [m]."""
        return max(self.front_x_m, -self.rear_x_m)


def make_body(machine: Machine, load: Load | None) -> Body | None:
    """Give the machine with its load in SI, or None where the sheet has no values for the attitude.

    Args:
        machine: the sheet
        load: what is carried; None = stowed
    """
    name = load.how if load and load.how in ("forks", "hook") else "stowed"
    attitude = machine.attitude(name)
    if attitude is None:
        return None
    mass, cg, place = _with_load(attitude, load, machine)
    axle_x = np.array([axle.x_m for axle in machine.axles])
    permission = _permission(machine, name)
    top, under, widths = _outline(attitude, load, place)
    return Body(
        name=machine.name,
        attitude=name,
        mass_kg=mass,
        mass_tolerance_kg=_sum(attitude.mass_tolerance_kg, load.mass_tolerance_kg if load else 0.0),
        cg_m=cg,
        cg_tolerance_m=_nan(attitude.cg_tolerance_m),
        height_m=float(top[:, 1].max()),
        height_tolerance_m=_nan(attitude.height_tolerance_m),
        width_m=float(widths[:, 1].max()),
        over_tyres_m=max(axle.over_tyres_m for axle in machine.axles),
        front_x_m=float(max(top[:, 0].max(), under[:, 0].max())),
        rear_x_m=float(min(top[:, 0].min(), under[:, 0].min())),
        wheelbase_m=float(axle_x[0] - axle_x[-1]),
        axle_x_m=axle_x,
        axle_load_kg=_axle_loads(machine, name, mass, cg[0]),
        tyres=np.array([float(axle.tyres) for axle in machine.axles]),
        track_m=np.array([axle.track_m for axle in machine.axles]),
        radius_m=np.array([axle.loaded_radius_m for axle in machine.axles]),
        section_m=np.array([axle.section_m for axle in machine.axles]),
        pressure_pa=np.array([_nan(axle.pressure_kpa) * 1000.0 for axle in machine.axles]),
        squash_m=np.array([_nan(axle.squash_m) for axle in machine.axles]),
        driven=np.array([axle.driven for axle in machine.axles]),
        drive_off=np.array([axle.drive_off for axle in machine.axles]),
        braked=np.array([axle.braked for axle in machine.axles]),
        parking_braked=np.array([axle.parking_braked for axle in machine.axles]),
        steered=np.array([axle.steered for axle in machine.axles]),
        oscillating=np.array([bool(axle.oscillating) for axle in machine.axles]),
        swing_known=_swing_known(machine),
        stop_rad=np.array([math.radians(_nan(axle.stop_deg)) for axle in machine.axles]),
        pivot_height_m=np.array([_nan(axle.pivot_height_m) for axle in machine.axles]),
        top_xz_m=top,
        under_xz_m=under,
        width_z_m=widths,
        grade_limit_ratio=_ratio(permission.grade_pct, permission.grade_deg),
        cross_limit_ratio=_ratio(permission.cross_slope_pct, permission.cross_slope_deg),
        low_range_above_ratio=_ratio(permission.low_range_above_pct, None),
        load_m=place,
        carried_kg=mass - attitude.mass_kg,
        carried_tolerance_kg=_nan(load.mass_tolerance_kg) if load and place else 0.0,
        carried_share=None if place is None else _shares(axle_x, place[0]),
        hung_m=_hung(load, place, widths),
        load_lacks=_lacks(machine, load),
        shape_lacks=_shape_lacks(machine, load),
    )


def _swing_known(machine: Machine) -> bool:
    """Tell whether the sheet says which axle swings: one does, or each says it does not; an axle without a word has
    neither stop nor pivot."""
    silent = [axle for axle in machine.axles if axle.oscillating is None]
    told = any(axle.oscillating for axle in machine.axles) or not silent
    return told and not any(axle.stop_deg is not None or axle.pivot_height_m is not None for axle in silent)


def _around(points: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """Give the outer points counter-clockwise as seen from above (monotone chain)."""
    ordered = sorted(points)

    def half(run: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
        kept: list[tuple[float, float, float]] = []
        for p in run:
            while len(kept) > 1 and _turns_left(kept[-2], kept[-1], p) <= 0.0:
                kept.pop()
            kept.append(p)
        return kept[:-1]

    return half(ordered) + half(ordered[::-1])


def _turns_left(a: tuple[float, ...], b: tuple[float, ...], c: tuple[float, ...]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _lacks(machine: Machine, load: Load | None) -> tuple[str, ...]:
    """Name what is not known of where and how heavy the load is; a load on a deck is not carried by the machine."""
    if load is None:
        return ()
    if load.how == "deck":
        return ("load.how forks or hook",)
    needed: dict[str, float | None] = {"load.x_m": load.x_m, "load.y_m": load.y_m, "load.z_m": load.z_m}
    if load.how == "hook":
        needed = {
            "machine.turret.slew_centre_x_m": machine.turret.slew_centre_x_m,
            "load.radius_m": load.radius_m,
            "load.head_height_m": load.head_height_m,
            "load.rigging_kg": load.rigging_kg,
        }
    return tuple(name for name, value in needed.items() if value is None)


def _shape_lacks(machine: Machine, load: Load | None) -> tuple[str, ...]:
    """Name what is not known of where a load stands out; its middle is taken only to have something to draw."""
    if load is None or load.how == "deck":
        return ()
    lacks = {"load.cg_in_load_xyz_m": load.cg_in_load_xyz_m is None}
    lacks["load.drop_m"] = load.how == "hook" and load.drop_m is None
    placed = [name for name in _lacks(machine, load) if name != "load.rigging_kg"]
    return (*(name for name, missing in lacks.items() if missing), *placed)


def _permission(machine: Machine, attitude: str) -> SlopeLimits:
    """Permission by attitude: the maker's stowed figure never stands in for a carrying one."""
    if attitude == "stowed":
        return machine.limits
    own = machine.limits.forks if attitude == "forks" else machine.limits.hook
    return own or SlopeLimits()


def _ratio(percent: float | None, degrees: float | None) -> float:
    if percent is not None:
        return pct_to_ratio(percent)
    return deg_to_ratio(degrees) if degrees is not None else math.nan


def _nan(value: float | None) -> float:
    return math.nan if value is None else value


def _sum(*values: float | None) -> float:
    return sum(_nan(value) for value in values)


def _load_place(load: Load, machine: Machine) -> tuple[float, float, float]:
    """Give where the load's weight acts: its centre of gravity on forks, the boom head on the hook; NaN = not known."""
    if load.how == "hook":
        centre = machine.turret.slew_centre_x_m
        x = math.nan if centre is None or load.radius_m is None else centre + load.radius_m
        return x, 0.0, _nan(load.head_height_m)
    return _nan(load.x_m), _nan(load.y_m), _nan(load.z_m)


def _with_load(
    attitude: Attitude, load: Load | None, machine: Machine
) -> tuple[float, tuple[float, float, float], tuple[float, float, float] | None]:
    own = (attitude.cg_x_m, _nan(attitude.cg_y_m), attitude.cg_z_m)
    if load is None or attitude.name == "stowed":
        return attitude.mass_kg, own, None
    carried = load.mass_kg + (load.rigging_kg or 0.0)
    place = _load_place(load, machine)
    mass = attitude.mass_kg + carried
    x, y, z = ((attitude.mass_kg * a + carried * b) / mass for a, b in zip(own, place, strict=True))
    return mass, (x, y, z), place


def _axle_loads(machine: Machine, attitude: str, mass_kg: float, cg_x_m: float) -> Floats:
    """Give the loads on level ground: as stated when stowed, else from the centre of gravity (axles equally stiff)."""
    if attitude == "stowed":
        return np.array([axle.load_kg for axle in machine.axles])
    return mass_kg * _shares(np.array([axle.x_m for axle in machine.axles]), cg_x_m)


def _shares(axle_x_m: Floats, at_m: float) -> Floats:
    """Give how much of a weight each axle bears that acts at a place along the machine (axles equally stiff)."""
    centred = axle_x_m - axle_x_m.mean()
    return np.asarray(1.0 / len(axle_x_m) + (at_m - axle_x_m.mean()) * centred / (centred**2).sum())


def _outline(
    attitude: Attitude, load: Load | None, place: tuple[float, float, float] | None
) -> tuple[Floats, Floats, Floats]:
    """Give top, underside and widths; a load on forks adds its own box, a hanging one too, at carry height.

    Where it is not known how high or how far aside the load is, it is drawn on the ground and in the middle.
    """
    top, under = np.array(attitude.top_xz_m), np.array(attitude.under_xz_m)
    widths = np.array(attitude.width_z_m)
    if load is None or place is None or math.isnan(place[0]):
        return top, under, widths
    length, across, height = load.size_xyz_m
    cg = load.cg_in_load_xyz_m or (length / 2, across / 2, height / 2)
    low = place[2] - cg[2] if load.how == "forks" else place[2] - _nan(load.drop_m) - height
    low, aside = np.nan_to_num(low), np.nan_to_num(place[1])
    ends = place[0] - cg[0], place[0] + length - cg[0]
    top = _wrapped(top, ends, low + height, np.maximum)
    under = _wrapped(under, ends, low, np.minimum)
    half = max(abs(aside) + across - cg[1], abs(aside) + cg[1])
    return top, under, np.vstack([widths, [[max(low, 0.0), 2 * half], [low + height, 2 * half]]])


def _hung(
    load: Load | None, place: tuple[float, float, float] | None, widths: Floats
) -> tuple[float, float, float, float] | None:
    """Give a hanging load's lowest and highest point, half its width (the outline's last rows), and the boom head."""
    if load is None or load.how != "hook" or place is None or math.isnan(place[0]) or math.isnan(place[2]):
        return None
    (low, width), (high, _) = widths[-2], widths[-1]
    return float(low), float(high), float(width) / 2.0, place[2]


def _wrapped(line: Floats, ends: tuple[float, float], level_m: float, pick: np.ufunc) -> Floats:
    """Give an outline with a level box laid over it: the higher of both (or the lower), never between their points."""
    line = line[np.argsort(line[:, 0], kind="stable")]
    rear, front = ends
    inside = (line[:, 0] >= rear) & (line[:, 0] <= front)
    at_ends = np.interp(np.array(ends), line[:, 0], line[:, 1], left=level_m, right=level_m)
    box = np.array([[rear, at_ends[0]], [rear, pick(at_ends[0], level_m)], [front, pick(at_ends[1], level_m)],
                    [front, at_ends[1]]])  # fmt: skip
    middle = np.column_stack((line[inside, 0], pick(line[inside, 1], level_m)))
    before, after = line[line[:, 0] < rear], line[line[:, 0] > front]
    return np.vstack((before, box[:2], middle, box[2:], after))
