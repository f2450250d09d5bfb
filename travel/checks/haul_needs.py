"""What each rule of the way needs of a trailer's sheet; what is not there leaves that rule unknown, by name."""

from __future__ import annotations

from typing import Any

from travel.checks.ramp_case import FRONT_ENTRY, RampCase
from travel.checks.ramp_deck import Standing
from travel.domain.trailer import Trailer

SIZE = (
    "combination.length_m",
    "combination.front_overhang_m",
    "trailer.width_m",
    "trailer.coupling_to_bogie_m",
    "trailer.hinge_behind_bogie_m",
)
AXLES = ("trailer.bogie_axles", "trailer.bogie_spacing_m", "trailer.coupling_to_bogie_m")
LOADS = (*AXLES, "trailer.hinge_behind_bogie_m", "towing.coupling_x_m")
HEIGHT = ("combination.height_m",)
CENTRE = ("combination.cg_height_m",)
BRAKES = ("towing.axles.braked", "trailer.bogie_braked")
PARKING = ("towing.axles.parking_braked", "trailer.bogie_parking_braked")
NEEDS: dict[str, tuple[str, ...]] = {
    "grade-limit": ("combination.grade_pct",),
    "side-slope": ("combination.cross_slope_pct",),
    "pull": ("combination.gears",),
    "restart": ("combination.gears", *CENTRE, *LOADS),
    "grip": (*CENTRE, *LOADS, *BRAKES),
    "hold": ("combination.parking_grade_pct", *CENTRE, *LOADS, *PARKING),
    "stopping": ("combination.brake_mps2", *CENTRE, *LOADS, *BRAKES),
    "retard": ("combination.retarder_kw", "combination.gears"),
    "tip": ("combination.track_m", "combination.squash_m", "combination.brake_mps2", *CENTRE, *LOADS),
    "curve-speed": ("combination.track_m", *CENTRE, *LOADS),
    "headroom": HEIGHT,
    "line-clearance": (*HEIGHT, "trailer.width_m"),
    "width": SIZE,
    "shoulder": SIZE,
    "edge-standoff": (*SIZE, *LOADS),
    "people": (*SIZE, *HEIGHT, "combination.brake_mps2"),
    "traffic": (*SIZE, "combination.brake_mps2"),
    "wind": (*SIZE, *HEIGHT),
    "turn": (*SIZE, "combination.turn_radius_m"),
    "bearing": ("combination.tyres", "combination.tyre_section_m", "combination.tyre_pressure_kpa",
                "combination.wheel_radius_m", "combination.track_m", *CENTRE, *LOADS),
    "passes": ("combination.tyres", "combination.tyre_section_m", "combination.wheel_radius_m", "trailer.bogie_axles"),
    "posted-load": ("combination.tyres", "combination.track_m", *CENTRE, *LOADS),
    "buried-service": ("combination.tyres", "combination.track_m", *CENTRE, *LOADS),
    "underbody": ("combination.under_xz_m", "combination.wheel_radius_m", "trailer.coupling_to_bogie_m"),
}  # fmt: skip


def lacks_of(case: RampCase, stand: Standing, laden: bool) -> dict[str, tuple[str, ...]]:
    """Give, by rule, what is not told; laden, a machine with no place on the deck leaves the axle loads open."""
    absent = _absent(case.trailer)
    lost = laden and (stand.coupling is None or stand.bogie is None or stand.window is None)
    out: dict[str, tuple[str, ...]] = {}
    for rule, needed in NEEDS.items():
        names = [name for name in needed if name in absent]
        if lost and set(LOADS) & set(needed):
            names.append("a place of the machine on the deck")
        if names:
            out[rule] = tuple(dict.fromkeys(names))
    return out


def _absent(trailer: Trailer) -> frozenset[str]:
    """Name every value of the sheet that is left out and could be needed."""
    body, towing, of = trailer.trailer, trailer.towing, trailer.combination
    values: dict[str, Any] = {f"combination.{name}": getattr(of, name) or None for name in type(of).model_fields}
    for name in ("front_overhang_m", "cross_slope_pct", "squash_m", "grade_pct", "parking_grade_pct"):
        values[f"combination.{name}"] = getattr(of, name)
    if trailer.kind != FRONT_ENTRY and of.front_overhang_m is None:
        values["combination.front_overhang_m"] = 0.0  # the deck's rear edge is the rig's end
    values |= {f"trailer.{name}": getattr(body, name) for name in type(body).model_fields}
    if (body.bogie_axles or 1) == 1:
        values["trailer.bogie_spacing_m"] = 0.0
    if towing is None:
        values["towing.axles.braked"] = body.front_braked
        values["towing.axles.parking_braked"] = body.front_parking_braked
        if trailer.kind != "rigid":
            values |= dict.fromkeys(("towing.coupling_x_m", "towing.axles.braked", "towing.axles.parking_braked"))
    else:
        values["towing.coupling_x_m"] = towing.coupling_x_m
        values["towing.axles.braked"] = all(axle.braked is not None for axle in towing.axles) or None
        values["towing.axles.parking_braked"] = all(a.parking_braked is not None for a in towing.axles) or None
    return frozenset(name for name, value in values.items() if value is None)
