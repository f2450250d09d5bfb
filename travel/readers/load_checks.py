"""What must hold between the values of a load."""

from __future__ import annotations

from travel.domain.machine import Load, Machine
from travel.domain.site import Doubt
from travel.readers.notes import Notes

HEAD_M = 1.0
_LIGHT, _DENSE = 5.0, 12000.0
"""What is carried weighs between open frames and lead in its own box [kg/m3]; common practice, no source."""
_LIGHTEST_KG = 20.0
"""Less is carried by hand, not by a machine; common practice, no source."""
_LEAST_RIGGING_KG = 1.0
"""A hook with a sling weighs more; common practice, no source."""
_SAIL_RATIO = (0.1, 3.0)
"""The wind catches so much of the greatest side at least, through an open frame, and at most; the same."""
_BY_HOW = {"forks": ("x_m", "y_m", "z_m"), "hook": ("radius_m", "head_height_m", "drop_m"), "deck": ()}


def check_load(load: Load, notes: Notes) -> None:
    """Write down places that belong to another way of carrying, and a centre of gravity outside the load."""
    for how, names in _BY_HOW.items():
        for name in names:
            if how != load.how and getattr(load, name) is not None:
                notes.doubt(f"says where a load on {how} is, and this one is on {load.how}; not used", field=name)
    for axis, size_m, cg_m in zip("xyz", load.size_xyz_m, load.cg_in_load_xyz_m or (), strict=False):
        if abs(cg_m) > size_m:
            allowed = f"-{size_m:g} to {size_m:g} m"
            notes.fault(
                f"centre of gravity outside the load along {axis}",
                field="cg_in_load_xyz_m",
                value=cg_m,
                allowed=allowed,
            )
    _magnitudes(load, notes)
    if load.mass_tolerance_kg is not None and load.mass_tolerance_kg >= load.mass_kg:
        notes.doubt("as uncertain as the load is heavy", field="mass_tolerance_kg")


def _magnitudes(load: Load, notes: Notes) -> None:
    """Write down what looks like another unit: tonnes for kilograms, feet for metres."""
    length_m, across_m, height_m = load.size_xyz_m
    density, side_m2 = load.mass_kg / (length_m * across_m * height_m), max(length_m, across_m) * height_m
    if load.mass_kg < _LIGHTEST_KG or not _LIGHT <= density <= _DENSE:
        notes.doubt(f"{load.mass_kg:g} kg in its size is {density:.3g} kg/m3: kg and m?", field="mass_kg")
    if load.rigging_kg is not None and 0.0 < load.rigging_kg < _LEAST_RIGGING_KG:
        notes.doubt(f"{load.rigging_kg:g} kg of chains and shackles: is it in kg?", field="rigging_kg")
    if load.sail_m2 is not None and not _SAIL_RATIO[0] * side_m2 <= load.sail_m2 <= _SAIL_RATIO[1] * side_m2:
        notes.doubt(f"{load.sail_m2:g} m2 of a load whose greatest side is {side_m2:.3g} m2", field="sail_m2")


def load_on_machine(file: str, machine: Machine, load: Load) -> tuple[Doubt, ...]:
    """Give doubts that show only with sheet and load together: a hook nearer than the boom's head is drawn.

    A head is taken to end within ``HEAD_M`` of its hook; common practice, no source.
    """
    centre, drawn = machine.turret.slew_centre_x_m, [a for a in machine.attitudes if a.name == load.how]
    if load.how != "hook" or load.radius_m is None or centre is None or not drawn or not drawn[0].top_xz_m:
        return ()
    top = drawn[0].top_xz_m
    high = max(z for _, z in top) / 2.0
    head = max(x for x, z in top if z >= high) - centre
    if head <= load.radius_m + HEAD_M:
        return ()
    message = f"the sheet draws the boom's head {head:.2f} m from the slew centre, the hook {load.radius_m:g} m from it"
    return (Doubt(file=file, field="radius_m", message=message),)
