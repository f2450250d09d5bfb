"""The machine's sheet and the load, as people write them: practical units, the unit in the name.

Datum: x forward from the front axle's centre, y left, z up from level ground under the loaded tyres.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from travel.domain.site import FileModel

# What no machine, load or rig comes near: a slip of the hand by powers of ten is a fault, not a long calculation.
Positive = Annotated[float, Field(gt=0, le=1e6)]
NotNegative = Annotated[float, Field(ge=0, le=1e6)]
Metres = Annotated[float, Field(ge=-100, le=100)]
Length = Annotated[float, Field(gt=0, le=100)]
Height = Annotated[float, Field(ge=0, le=100)]
Point = tuple[Metres, Metres]
PullPoint = tuple[Annotated[float, Field(ge=-200, le=200)], Annotated[float, Field(ge=-10000, le=10000)]]
Bearing = Annotated[float, Field(ge=-720, le=720)]
AttitudeName = Literal["stowed", "forks", "hook"]
Slope = Annotated[float, Field(ge=0, le=100)]
SlopeDeg = Annotated[float, Field(ge=0, le=45)]


class Axle(FileModel):
    """One axle, front first. ``drive_off``: the driver can switch this axle's drive off."""

    name: Annotated[str, Field(min_length=1)]
    x_m: Annotated[float, Field(ge=-30, le=0.001)]
    load_kg: Annotated[float, Field(gt=0, le=60000)]
    tyres: Annotated[int, Field(ge=1, le=8)]
    track_m: Annotated[float, Field(gt=0.5, le=5)]
    over_tyres_m: Annotated[float, Field(gt=0.5, le=6)]
    loaded_radius_m: Annotated[float, Field(gt=0.1, le=2)]
    section_m: Annotated[float, Field(gt=0.05, le=1.5)]
    driven: bool
    steered: bool
    braked: bool
    parking_braked: bool
    pressure_kpa: Annotated[float, Field(gt=10, le=1500)] | None = None
    squash_m: Annotated[float, Field(ge=0, le=0.5)] | None = None
    rating_kg: Positive | None = None
    oscillating: bool | None = None
    stop_deg: Annotated[float, Field(ge=0, le=30)] | None = None
    pivot_height_m: Annotated[float, Field(ge=0, le=3)] | None = None
    locked_by: str = ""
    drive_off: bool = False


class Attitude(FileModel):
    """Mass, centre of gravity and outline in one attitude; ``width_z_m`` holds (height, whole width there)."""

    name: AttitudeName
    mass_kg: Annotated[float, Field(gt=100, le=200000)]
    cg_x_m: Annotated[float, Field(ge=-30, le=10)]
    cg_z_m: Annotated[float, Field(gt=0, le=10)]
    top_xz_m: Annotated[tuple[Point, ...], Field(min_length=2)]
    under_xz_m: Annotated[tuple[Point, ...], Field(min_length=2)]
    width_z_m: Annotated[tuple[Point, ...], Field(min_length=1)]
    cg_y_m: Annotated[float, Field(ge=-2, le=2)] | None = None
    mass_tolerance_kg: NotNegative | None = None
    cg_tolerance_m: Height | None = None
    height_tolerance_m: Height | None = None


class SlopeLimits(FileModel):
    """Slopes by percent or degrees; one of the two for each, never both."""

    grade_pct: Slope | None = None
    grade_deg: SlopeDeg | None = None
    cross_slope_pct: Slope | None = None
    cross_slope_deg: SlopeDeg | None = None
    low_range_above_pct: Slope | None = None


class Permission(SlopeLimits):
    """What the maker permits stowed; carrying attitudes have tables of their own (a missing one is unknown)."""

    forks: SlopeLimits | None = None
    hook: SlopeLimits | None = None


class Gear(FileModel):
    """One gear. ``pull_kn`` holds (speed km/h, pull kN) points; ``drive``: only in this drive, blank = in either."""

    name: Annotated[str, Field(min_length=1)]
    travel: Literal["forward", "reverse"]
    range: Literal["low", "high"]
    top_kmh: Annotated[float, Field(gt=0, le=120)]
    pull_kn: tuple[PullPoint, ...] = ()
    drive: Literal["two", "four"] | None = None


class Brakes(FileModel):
    """Service brake on the level, its lag, and the grade the parking brake is stated to hold."""

    service_mps2: Annotated[float, Field(gt=0, le=12)] | None = None
    lag_s: Annotated[float, Field(ge=0, le=5)] | None = None
    parking_grade_pct: Slope | None = None


class Retarding(FileModel):
    """What holds the machine on a long descent."""

    kind: str
    power_kw: Positive | None = None


class Steering(FileModel):
    """One steering mode. ``lock_deg`` is the greatest angle of the virtual centre wheel."""

    mode: Literal["front", "all", "crab"]
    lock_deg: Annotated[float, Field(gt=0, lt=90)]
    top_kmh: Annotated[float, Field(gt=0, le=120)] | None = None


class Turret(FileModel):
    """How the slewing part may stand for travel."""

    travel: tuple[Literal["fore", "aft"], ...] = ()
    slew_centre_x_m: Metres | None = None
    tail_radius_m: Height | None = None


class CarryingRow(FileModel):
    """One row of the maker's table: what may be carried, on what support, where, on what slope."""

    support: Literal["tyres_moving", "tyres_standing", "stabilisers_full", "stabilisers_part"]
    how: Literal["forks", "hook"]
    sector: Annotated[str, Field(min_length=1)]
    slope_max_pct: Slope
    capacity_kg: NotNegative
    radius_m: Height | None = None
    x_m: Metres | None = None


class Stabilisers(FileModel):
    """Footprint, stroke and pad of the stabilisers."""

    spread_m: Length
    base_m: Length
    stroke_m: Height | None = None
    pad_m2: Positive | None = None


class ViewSector(FileModel):
    """A sector (from, to; degrees clockwise from ahead) and how well the driver sees it."""

    sector_deg: tuple[Bearing, Bearing]
    kind: Literal["clear", "mirror", "camera", "blind"]


class Attachment(FileModel):
    """An attachment and its mass."""

    name: str
    mass_kg: NotNegative | None = None


class Machine(FileModel):
    """The machine's sheet."""

    format: Literal[1]
    name: Annotated[str, Field(min_length=1)]
    axles: Annotated[tuple[Axle, ...], Field(min_length=2, max_length=5)]
    attitudes: Annotated[tuple[Attitude, ...], Field(min_length=1)]
    limits: Permission
    gears: Annotated[tuple[Gear, ...], Field(min_length=1)]
    steering: Annotated[tuple[Steering, ...], Field(min_length=1)]
    capability: SlopeLimits = SlopeLimits()
    brakes: Brakes = Brakes()
    retarding: Retarding | None = None
    turret: Turret = Turret()
    carrying: tuple[CarryingRow, ...] = ()
    stabilisers: Stabilisers | None = None
    view: tuple[ViewSector, ...] = ()
    attachments: tuple[Attachment, ...] = ()
    power_kw: Positive | None = None

    def attitude(self, name: str) -> Attitude | None:
        """Give one attitude's values, or None where the sheet has none."""
        return next((a for a in self.attitudes if a.name == name), None)


class Load(FileModel):
    """What is carried: mass alone is not a load."""

    format: Literal[1]
    name: Annotated[str, Field(min_length=1)]
    mass_kg: Positive
    size_xyz_m: tuple[Length, Length, Length]
    how: Literal["forks", "hook", "deck"]
    cg_in_load_xyz_m: tuple[Metres, Metres, Metres] | None = None
    mass_tolerance_kg: NotNegative | None = None
    rigging_kg: NotNegative | None = None
    sail_m2: NotNegative | None = None
    x_m: Metres | None = None
    y_m: Metres | None = None
    z_m: Metres | None = None
    radius_m: Height | None = None
    head_height_m: Height | None = None
    drop_m: Height | None = None
