"""On and off a trailer: the answer. Field names are the keys of ``ramp.json``.

Practical units, the unit in the name; loads in kg = force / 9.80665. None = not known. Positions count from the ramp's
foot to the first axle (the one that goes up first), inward +.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from travel.domain.plan import Condition, Finding, Number, Word

RAMP_SCHEMA = "machine-travel ramp 1"
PointXZ = tuple[float, float]
SLOPES = ("ground_slope_pct", "ground_cross_slope_pct")
"""Slopes of the ground under the rig, along and across."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RampRequest:
    """One question: this machine, this trailer, on this ground. Slopes signed as in the request's ``[ramp]`` table.

    ``packing_m``: height of packing under the ramps' feet, with a lead-on no steeper than the ramp. ``not_stated``:
    names of slopes nobody stated: drawn level, and unknown to the rules that need them. ``told``: names of slopes only
    told or assumed: drawn as told, and unknown to the same rules.
    """

    move: Literal["load", "unload"] = "load"
    first: Literal["nose", "tail"] = "nose"
    ground_slope_pct: float = 0.0
    ground_cross_slope_pct: float = 0.0
    surface: str | None = None
    ground: str | None = None
    jurisdiction: str | None = None
    packing_m: float = 0.0
    not_stated: tuple[str, ...] = ()
    told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallestClearance:
    """The tightest place: ``machine_point`` in the machine's own datum, ``profile_point`` from the ramp's foot."""

    value_m: Number
    at_m: Number
    machine_point: PointXZ | None
    profile_point: PointXZ | None
    end: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RampLoad:
    """The greatest load of one ramp and where the first axle is then."""

    side: str
    load_kg: Number
    rating_kg: Number
    at_m: Number


@dataclass(frozen=True, slots=True, kw_only=True)
class TieDown:
    """One tie-down: what it counts towards the aggregate, and what it holds in each direction [kg]."""

    name: str
    x_m: float
    y_m: float
    limit_kg: Number
    counts_kg: Number
    holds_kg: Mapping[str, Number]
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """How the machine stands at one position: its datum's place, pitch, both wheel centres and its outlines."""

    at_m: float
    tight: bool
    wheels_xzr: tuple[tuple[float, float, float], ...]
    top_xz: tuple[PointXZ, ...]
    under_xz: tuple[PointXZ, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseUp:
    """The tightest place of one part of the machine, with the deck and the feet as they stand then."""

    end: str
    value_m: float
    at_m: float
    profile_xz: tuple[PointXZ, ...]
    pose: Pose
    tight_xz: PointXZ
    touches_xz: PointXZ


@dataclass(frozen=True, slots=True, kw_only=True)
class SideView:
    """What the side view is drawn from: x inward from the ramp's foot, z up square to the ground [m]."""

    profile_xz: tuple[PointXZ, ...]
    foot_x: float
    edge_x: float
    deck_end_x: float
    bogie_xs: tuple[float, ...]
    coupling_x: Number
    inward: Literal["nose", "rear"]
    wheel_radius_m: Number
    poses: tuple[Pose, ...]
    tight_xz: PointXZ | None
    touches_xz: PointXZ | None
    close_ups: tuple[CloseUp, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RampChecked:
    """Proof that a rule was asked: its parts, the worst of their verdicts; None where it was not asked or not built."""

    rule: str
    title: str
    built: bool
    applied: bool
    verdict: Word | None
    smallest_margin: Number
    unit: str
    parts: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RampRemedy:
    """A change that helps, its least quantity found on the rules themselves, and the verdict with it."""

    kind: str
    quantity: Number
    exact: Number
    unit: str
    verdict: Word
    opens: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RampResult:
    """The whole answer."""

    schema: str
    created_at: str
    program: Mapping[str, str]
    request: Mapping[str, Any]
    machine: Mapping[str, Any]
    trailer: Mapping[str, Any]
    rulebooks: tuple[Mapping[str, str], ...]
    inputs: tuple[Mapping[str, str], ...]
    verdict: Word
    positions_m: tuple[float, ...]
    clearance_m: tuple[Number, ...]
    smallest_clearance: SmallestClearance
    approach_deg: Number
    departure_deg: Number
    breakover_deg: Number
    axle_loads_kg: tuple[tuple[Number, ...], ...]
    ramps: tuple[RampLoad, ...]
    grip_needed_ratio: tuple[Number, ...]
    grip_available_ratio: tuple[Number, ...]
    tip_back_ratio_min: Number
    nose_lift: Mapping[str, Number]
    rig_hold: Mapping[str, Number]
    deck_window_m: tuple[float, float] | None
    best_position_m: Number
    coupling_kg: Number
    trailer_axles_kg: tuple[Number, ...]
    towing_axles_kg: tuple[Number, ...]
    overall: Mapping[str, Number]
    earliest: Mapping[str, Any]
    tie_downs: tuple[TieDown, ...]
    findings: tuple[Finding, ...]
    checked: tuple[RampChecked, ...]
    conditions: tuple[Condition, ...]
    remedies: tuple[RampRemedy, ...]
    cautions: tuple[str, ...]
    doubts: tuple[str, ...]
    sources: Mapping[str, str]
    rules: Mapping[str, Mapping[str, Any]]
    side_view: SideView
    coupling_by_position_kg: tuple[Number, ...] = field(default=())
    fall_zone: Mapping[str, Number] = field(default_factory=dict)
    restrained: tuple[str, ...] = ()
