"""The trailer with its towing vehicle, as people write it: practical units, the unit in the name.

Deck datum: x forward from the deck's rear edge, z up from level ground under the loaded tyres; the profile runs from
the rear edge forward, beavertail included. Combination: x from the coupling. Towing vehicle: x from its front axle.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from travel.domain.machine import Gear, Height, Length, Metres, Point, Positive, Slope
from travel.domain.site import FileModel

# What a slip of the unit (85 for 0.85 m, 900 cm² for 0.09 m², 8.5 bar for 850 kPa) would make look safe is a fault.
Breadth = Annotated[float, Field(gt=0, le=8)]
RampBreadth = Annotated[float, Field(gt=0, le=4)]
TrailerKind = Literal["semitrailer", "drawbar", "rigid", "detachable_neck", "tilt_bed"]


class TowingAxle(FileModel):
    """One axle of the towing vehicle; ``braked``/``parking_braked`` absent = not known, never yes."""

    name: Annotated[str, Field(min_length=1)]
    x_m: Annotated[float, Field(ge=-20, le=0.001)]
    load_kg: Annotated[float, Field(gt=0, le=40000)]
    rating_kg: Positive | None = None
    driven: bool = False
    braked: bool | None = None
    parking_braked: bool | None = None


class Towing(FileModel):
    """The towing vehicle, coupled and without the trailer's load on it; ``mass_kg`` is the sum of its axle loads.

    ``coupling_x_m``: kingpin or hook, from the front axle.
    """

    mass_kg: Annotated[float, Field(gt=500, le=60000)]
    axles: Annotated[tuple[TowingAxle, ...], Field(min_length=2, max_length=6)]
    coupling_x_m: Annotated[float, Field(ge=-20, le=1)] | None = None


class TrailerBody(FileModel):
    """Masses, brakes and geometry of the trailer; ``mass_kg`` = ``coupling_kg`` + ``bogie_kg`` when empty.

    Of a rigid vehicle these are its own: coupling = front axle, bogie = rear axles, the distance its wheelbase; only
    there the ``front_…`` values say how many axles that is, how far apart, and whether they are braked.
    ``coupling_to_front_m``: kingpin to the farthest point of a semitrailer's front, corners included.
    """

    mass_kg: Positive
    coupling_kg: Annotated[float, Field(ge=-1e6, le=1e6)]
    bogie_kg: Positive
    coupling_rating_kg: Positive | None = None
    bogie_rating_kg: Positive | None = None
    coupling_to_bogie_m: Annotated[float, Field(gt=0, le=30)] | None = None
    coupling_to_front_m: Annotated[float, Field(ge=0, le=6)] | None = None
    hinge_behind_bogie_m: Annotated[float, Field(ge=-10, le=10)] | None = None
    bogie_axles: Annotated[int, Field(ge=1, le=8)] | None = None
    bogie_spacing_m: Annotated[float, Field(gt=0, le=5)] | None = None
    bogie_braked: bool | None = None
    bogie_parking_braked: bool | None = None
    front_axles: Annotated[int, Field(ge=1, le=3)] = 1
    front_spacing_m: Annotated[float, Field(gt=0, le=5)] | None = None
    front_braked: bool | None = None
    front_parking_braked: bool | None = None
    rear_legs: Literal["up", "down"] | None = None
    leg_pad_m2: Annotated[float, Field(gt=0, le=4)] | None = None
    chocked: bool = False
    width_m: Breadth | None = None


class Deck(FileModel):
    """The deck as driven on. ``height_loaded_m``: height with the load on; two heights give the sinking.

    ``contact``: what the tied machine stands on the deck with, a word of the rulebook; without it tyres as they come.
    ``behind_height_m``: of a bed whose rear edge stands ahead of the bogie: highest part of frame and wheels behind it.
    """

    profile_xz_m: Annotated[tuple[Point, ...], Field(min_length=2)]
    width_m: Breadth
    height_loaded_m: Length | None = None
    surface: str | None = None
    contact: str | None = None
    behind_height_m: Length | None = None


class Ramp(FileModel):
    """One ramp; ``length_m`` along its slope; ``gap_m`` clear width between the pair."""

    side: Literal["left", "right", "both"]
    length_m: Length
    width_m: RampBreadth
    gap_m: Annotated[float, Field(ge=0, le=4)] | None = None
    rating_kg: Positive | None = None
    surface: str | None = None
    foot_sink_m: Height | None = None
    mass_kg: Positive | None = None


class TiePoint(FileModel):
    """One lashing point of the deck (x from the rear edge, y left), what it is rated for, and the lashing put there.

    ``chain``: a word of the rulebook, or ``lashing_kg``: its working load limit; ``to_xyz_m``: where it holds the
    machine (the machine's own datum). Without these the point counts alone, or is unknown where angles are needed.
    """

    x_m: Metres
    y_m: Metres
    name: str = ""
    rating_kg: Positive | None = None
    chain: str | None = None
    lashing_kg: Positive | None = None
    to_xyz_m: tuple[Metres, Metres, Metres] | None = None
    over: bool = False


class Combination(FileModel):
    """The whole rig on the road and on site; what is left out is unknown to the rules that need it.

    ``front_overhang_m``: before the first axle; without it the deck's rear edge is taken as the rig's end (where the
    neck comes off it is needed). ``turn_radius_m``: of the ground it turns round on; ``under_xz_m``: x forward from the
    coupling. Empty:
    ``height_m`` is its highest part, ``cg_height_m`` its centre of gravity. ``squash_m``: tyres and springs at a wheel;
    ``tyres`` of the axle that has fewest; brakes, retarder and ``gears`` as on a machine's sheet, laden.
    """

    length_m: Length | None = None
    front_overhang_m: Height | None = None
    wheel_radius_m: Annotated[float, Field(gt=0.1, le=2)] | None = None
    under_xz_m: tuple[Point, ...] = ()
    turn_radius_m: Length | None = None
    grade_pct: Slope | None = None
    cross_slope_pct: Slope | None = None
    height_m: Length | None = None
    cg_height_m: Length | None = None
    track_m: Annotated[float, Field(gt=0.5, le=5)] | None = None
    squash_m: Annotated[float, Field(ge=0, le=0.5)] | None = None
    tyres: Annotated[int, Field(ge=2, le=8)] | None = None
    tyre_section_m: Annotated[float, Field(gt=0.05, le=1.5)] | None = None
    tyre_pressure_kpa: Annotated[float, Field(gt=50, le=1500)] | None = None
    brake_mps2: Annotated[float, Field(gt=0, le=12)] | None = None
    brake_lag_s: Annotated[float, Field(ge=0, le=5)] | None = None
    parking_grade_pct: Slope | None = None
    retarder_kw: Positive | None = None
    gears: tuple[Gear, ...] = ()


class Trailer(FileModel):
    """The trailer's sheet."""

    format: Literal[1]
    name: Annotated[str, Field(min_length=1)]
    kind: TrailerKind
    towing: Towing | None = None
    trailer: TrailerBody
    deck: Deck
    ramps: tuple[Ramp, ...] = ()
    tie_points: tuple[TiePoint, ...] = ()
    combination: Combination = Combination()
