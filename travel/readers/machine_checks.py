"""What must hold between the values of a machine's sheet."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable

import numpy as np

from travel import units
from travel.domain.machine import Attitude, Axle, Machine, Point, SlopeLimits
from travel.readers.notes import Notes

_SAME_M = 0.001
"""Positions closer than this are one; common practice, no source."""
_MASS_APART_RATIO = 0.02
"""Axle loads and mass agree within 2 % (the file contract for the machine's sheet)."""
_CG_APART_RATIO = 0.03
"""Centre of gravity and axle loads agree within 3 % of the wheelbase; common practice, no source."""
_CG_WRONG_RATIO = 0.15
"""Further apart than this share of the wheelbase one of them is wrong; common practice, no source."""
_SLOPES = ("grade", "cross_slope")
_STEEP_PCT = {"grade": 40.0, "cross_slope": 20.0}
"""A maker hardly permits more: percent written as degrees, perhaps; common practice, no source."""


def check_machine(machine: Machine, notes: Notes) -> None:
    """Write down every fault and doubt that shows only between the values."""
    _axles(machine, notes)
    _attitudes(machine, notes)
    _loads(machine, notes)
    _low_centre(machine, notes)
    _slopes(machine, notes)
    _gears(machine, notes)


def _axles(machine: Machine, notes: Notes) -> None:
    """Front first, the first at x = 0, each with its own name; an oscillating axle with stop and pivot."""
    _unique((axle.name for axle in machine.axles), "axles", "axle", notes)
    if abs(machine.axles[0].x_m) > _SAME_M:
        notes.at(feature=machine.axles[0].name).fault(
            "the front axle is the datum", field="axles[0].x_m", value=machine.axles[0].x_m, allowed="0"
        )
    for number in range(1, len(machine.axles)):
        axle, before = machine.axles[number], machine.axles[number - 1]
        if axle.x_m > before.x_m - _SAME_M:
            notes.at(feature=axle.name).fault(
                "axles stand front first",
                field=f"axles[{number}].x_m",
                value=axle.x_m,
                allowed=f"less than {before.x_m:g}",
            )
    for number, axle in enumerate(machine.axles):
        here = notes.at(feature=axle.name)
        if axle.over_tyres_m < axle.track_m:
            allowed = f"at least track_m, {axle.track_m:g}"
            here.fault(
                "narrower than its track",
                field=f"axles[{number}].over_tyres_m",
                value=axle.over_tyres_m,
                allowed=allowed,
            )
        on_tyre_n = units.kg_to_n(axle.load_kg / axle.tyres)
        pressure_pa = (axle.pressure_kpa or math.inf) * units.PA_PER_KPA
        if on_tyre_n / (pressure_pa * axle.section_m) > 2.0 * axle.loaded_radius_m:
            message = f"{axle.pressure_kpa:g} kPa would press a tyre flat over more than its own height"
            here.doubt(f"{message}: is it in kPa?", field=f"axles[{number}].pressure_kpa")
        if axle.rating_kg is not None and axle.load_kg > axle.rating_kg:
            here.doubt(f"carries {axle.load_kg:g} kg, rated {axle.rating_kg:g} kg", field=f"axles[{number}].load_kg")
        if axle.oscillating:
            for name in ("pivot_height_m", "stop_deg"):
                if getattr(axle, name) is None:
                    here.doubt(
                        "oscillates; without this its share in tipping is unknown", field=f"axles[{number}].{name}"
                    )


def _attitudes(machine: Machine, notes: Notes) -> None:
    """Each attitude once, stowed among them, each outline possible."""
    _unique((attitude.name for attitude in machine.attitudes), "attitudes", "attitude", notes)
    if machine.attitude("stowed") is None:
        notes.fault("no attitude stowed", field="attitudes", allowed="one attitude named stowed")
    for number, attitude in enumerate(machine.attitudes):
        here = notes.at(feature=attitude.name)
        field = f"attitudes[{number}]"
        _outline(attitude, field, here)
        _width(attitude, machine.axles, field, here)
        _tyres(attitude, machine.axles, field, here)


OUTLINE_APART_M = 0.5
"""Top and underside may end this far apart: bumpers, lamps, carriage."""


def _outline(attitude: Attitude, field: str, notes: Notes) -> None:
    """Points in order along the machine; nowhere is the top below the underside."""
    ordered = True
    for name in ("top_xz_m", "under_xz_m"):
        steps = np.diff([x for x, _ in getattr(attitude, name)])
        if (steps < 0).any() and (steps > 0).any():
            ordered = False
            notes.fault("points not in order of x", field=f"{field}.{name}", allowed="x rising throughout, or falling")
    if not ordered:
        return
    top, under = _sorted(attitude.top_xz_m), _sorted(attitude.under_xz_m)
    for name, line, other in (("top_xz_m", top, under), ("under_xz_m", under, top)):
        short = max(line[0][0] - other[0][0], other[-1][0] - line[-1][0])
        if short > OUTLINE_APART_M:
            notes.fault(
                f"ends {short:.2f} m short of the other outline",
                field=f"{field}.{name}",
                value=[line[0][0], line[-1][0]],
                allowed=f"from {other[0][0]:g} to {other[-1][0]:g} m, as far as the machine reaches",
            )
    stations = np.unique([x for x, _ in (*top, *under)])
    stations = np.unique(np.concatenate([stations, (stations[1:] + stations[:-1]) / 2]))
    for x_m in stations:
        high, low = _reach(top, float(x_m), max), _reach(under, float(x_m), min)
        if high < low - _SAME_M:
            notes.fault(
                f"top {high:g} m below underside {low:g} m at x = {x_m:g} m",
                field=f"{field}.top_xz_m",
                allowed="top_xz_m above under_xz_m",
            )
            return


def _sorted(points: tuple[Point, ...]) -> tuple[Point, ...]:
    """Give points with x rising, steps kept in their order."""
    return points if points[-1][0] >= points[0][0] else points[::-1]


def _reach(points: tuple[Point, ...], x_m: float, pick: Callable[[list[float]], float]) -> float:
    """Give the height at x, at a step the higher or lower as ``pick`` says; NaN beyond the ends."""
    here = [z for x, z in points if x == x_m]
    if here:
        return float(pick(here))
    xs, zs = zip(*points, strict=True)
    return float(np.interp(x_m, xs, zs, left=math.nan, right=math.nan))


def _width(attitude: Attitude, axles: tuple[Axle, ...], field: str, notes: Notes) -> None:
    """As high as the tyres reach, the machine is at least as wide as over its tyres."""
    heights = [z for z, _ in attitude.width_z_m]
    if any(b < a for a, b in itertools.pairwise(heights)):
        notes.fault("heights not rising", field=f"{field}.width_z_m", value=heights, allowed="(height, width) upward")
        return
    axle = max(axles, key=lambda a: a.over_tyres_m)
    top_m = 2 * axle.loaded_radius_m
    ends = np.interp([0.0, top_m], heights, [width for _, width in attitude.width_z_m])
    widest = max(*map(float, ends), *(width for z, width in attitude.width_z_m if z <= top_m))
    if widest < axle.over_tyres_m - _SAME_M:
        notes.fault(
            f"narrower than over the tyres of axle {axle.name}",
            field=f"{field}.width_z_m",
            value=widest,
            allowed=f"at least {axle.over_tyres_m:g} m up to {top_m:g} m above ground",
        )


def _tyres(attitude: Attitude, axles: tuple[Axle, ...], field: str, notes: Notes) -> None:
    """A point of the underside inside a tyre's circle cannot be measured there: the datum is likely wrong."""
    for number, (x_m, z_m) in enumerate(attitude.under_xz_m):
        for axle in axles:
            away_m = math.hypot(x_m - axle.x_m, z_m - axle.loaded_radius_m)
            if away_m < axle.loaded_radius_m - _SAME_M:
                notes.fault(
                    f"inside the tyre of axle {axle.name}",
                    field=f"{field}.under_xz_m[{number}]",
                    value=[x_m, z_m],
                    allowed="points outside the tyre circles; x from the front axle, z from the ground",
                )


def _loads(machine: Machine, notes: Notes) -> None:
    """Axle loads against the stowed mass, and their moment against its centre of gravity."""
    stowed = machine.attitude("stowed")
    if stowed is None:
        return
    total_kg = sum(axle.load_kg for axle in machine.axles)
    apart = abs(total_kg - stowed.mass_kg) / stowed.mass_kg
    if apart > _MASS_APART_RATIO:
        number = machine.attitudes.index(stowed)
        notes.at(feature="stowed").fault(
            f"axle loads sum to {total_kg:g} kg, {units.ratio_to_pct(apart):.1f} % away",
            field=f"attitudes[{number}].mass_kg",
            value=stowed.mass_kg,
            allowed="within 2 % of the sum of axle loads",
        )
    wheelbase_m = machine.axles[0].x_m - machine.axles[-1].x_m
    cg_x_m = sum(axle.load_kg * axle.x_m for axle in machine.axles) / total_kg
    off_m, number = abs(cg_x_m - stowed.cg_x_m), machine.attitudes.index(stowed)
    message = f"axle loads put the centre of gravity at x = {cg_x_m:.2f} m, the sheet says {stowed.cg_x_m:g} m"
    field = f"attitudes[{number}].cg_x_m"
    if off_m > _CG_WRONG_RATIO * wheelbase_m > 0.0:
        allowed = f"within {_CG_WRONG_RATIO * wheelbase_m:.2f} m of what the axle loads give"
        notes.at(feature="stowed").fault(message, field=field, value=stowed.cg_x_m, allowed=allowed)
    elif off_m > _CG_APART_RATIO * wheelbase_m:
        notes.at(feature="stowed").doubt(message, field=field)


def _low_centre(machine: Machine, notes: Notes) -> None:
    """A centre of gravity below half a wheel is a slip of the pen; below the belly it is unusual."""
    least_m = min(axle.loaded_radius_m for axle in machine.axles) / 2.0
    for number, attitude in enumerate(machine.attitudes):
        here, field = notes.at(feature=attitude.name), f"attitudes[{number}].cg_z_m"
        belly_m = min((z for _, z in attitude.under_xz_m), default=0.0)
        if attitude.cg_z_m < least_m:
            allowed = f"at least {least_m:.2f} m, half the radius of a wheel"
            here.fault("lower than a machine's can be", field=field, value=attitude.cg_z_m, allowed=allowed)
        elif attitude.cg_z_m < belly_m:
            here.doubt(f"{attitude.cg_z_m:g} m lies below the belly ({belly_m:g} m)", field=field)


def _slopes(machine: Machine, notes: Notes) -> None:
    """Percent or degrees, not both; what is permitted is no more than what can be done."""
    tables = {
        "limits": machine.limits,
        "limits.forks": machine.limits.forks,
        "limits.hook": machine.limits.hook,
        "capability": machine.capability,
    }
    for field, table in tables.items():
        for name in _SLOPES if table else ():
            pct, deg = getattr(table, f"{name}_pct"), getattr(table, f"{name}_deg")
            if pct is not None and deg is not None:
                notes.fault(
                    "percent and degrees both given",
                    field=f"{field}.{name}_deg",
                    value=deg,
                    allowed=f"{name}_pct or {name}_deg, one of the two",
                )
        for name in _SLOPES if field != "capability" else ():
            steep = _slope_pct(table, name)
            if steep is not None and steep > _STEEP_PCT[name]:
                message = f"{steep:.1f} % is more than makers permit: is it in the unit its name says?"
                notes.doubt(message, field=f"{field}.{name}_pct")
    for name in _SLOPES:
        able = _slope_pct(machine.capability, name)
        for field in ("limits", "limits.forks", "limits.hook"):
            permitted = _slope_pct(tables[field], name)
            if able is not None and permitted is not None and able < permitted:
                notes.doubt(
                    f"capability {able:.1f} % is below the permission {permitted:.1f} %", field=f"{field}.{name}_pct"
                )


def _slope_pct(table: SlopeLimits | None, name: str) -> float | None:
    """Give a slope in percent however it was written, or None."""
    if table is None:
        return None
    pct: float | None = getattr(table, f"{name}_pct")
    deg: float | None = getattr(table, f"{name}_deg")
    if pct is None and deg is not None:
        return units.ratio_to_pct(units.deg_to_ratio(deg))
    return pct


def _gears(machine: Machine, notes: Notes) -> None:
    """Each gear once, one forward at least, pull against rising speed."""
    _unique((gear.name for gear in machine.gears), "gears", "gear", notes)
    if not any(gear.travel == "forward" for gear in machine.gears):
        notes.fault("no forward gear", field="gears", allowed="one gear with travel = forward or more")
    for number, gear in enumerate(machine.gears):
        here = notes.at(feature=gear.name)
        field = f"gears[{number}].pull_kn"
        speeds = [speed for speed, _ in gear.pull_kn]
        if any(b <= a for a, b in itertools.pairwise(speeds)):
            here.fault("speeds not rising", field=field, value=speeds, allowed="(km/h, kN), speed rising")
        if any(value < 0 for point in gear.pull_kn for value in point):
            here.fault("speed or pull below zero", field=field, value=gear.pull_kn, allowed="(km/h, kN), none negative")
        if speeds and max(speeds) > gear.top_kmh:
            here.doubt(f"pull is given beyond the top speed of {gear.top_kmh:g} km/h", field=field)
        most_kn, weight_kn = max((pull for _, pull in gear.pull_kn), default=0.0), _weight_kn(machine)
        if most_kn > weight_kn:
            message = f"pulls {most_kn:g} kN at the tyres, more than the machine's weight of {weight_kn:.0f} kN"
            here.doubt(f"{message}: is it in kN?", field=field)


def _weight_kn(machine: Machine) -> float:
    return units.kg_to_n(sum(axle.load_kg for axle in machine.axles)) / units.N_PER_KN


def _unique(names: Iterable[str], field: str, what: str, notes: Notes) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            notes.at(feature=name).fault(f"{what} named twice", field=field, value=name)
        seen.add(name)
