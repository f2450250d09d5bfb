"""The travel plan and its parts. Field names are the keys of ``plan.json``; nothing is listed twice.

Practical units, the unit in the name. None = not known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Word = Literal["clear", "caution", "unknown", "blocked"]
Number = float | None
SCHEMA = "machine-travel plan 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """One place: a stretch of a road, a place, a turn, a stop, a layer, a trip or the plan."""

    scope: Literal["stretch", "place", "turn", "stop", "layer", "trip", "plan"]
    road: str | None = None
    from_m: Number = None
    to_m: Number = None
    at_m: Number = None
    place: str | None = None
    layer: str | None = None
    feature: str | None = None
    lonlat: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitUsed:
    """The limit a finding was judged by: value in its own unit, layer of the rulebook, source."""

    id: str
    value: Number
    layer: str
    source: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One rule's answer at one place. capacity − demand − tolerance = margin, in ``unit``."""

    flag: int
    id: str
    rule: str
    trip: str
    leg: int | None
    where: Where
    configuration: Mapping[str, str]
    demand: Number
    capacity: Number
    margin: Number
    unit: str
    tolerance: Number
    severity: Number
    verdict: Word
    why: str
    reason: str
    missing: tuple[str, ...] = ()
    control: str = ""
    formula: str = ""
    terms: Mapping[str, float] = field(default_factory=dict)
    capacity_formula: str = ""
    capacity_terms: Mapping[str, float] = field(default_factory=dict)
    limit: LimitUsed | None = None
    source: str = ""
    accepted: str = ""
    acceptable: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Because:
    """Why another configuration was not chosen on a leg."""

    configuration: str
    rule: str
    where: Where
    demand: Number
    capacity: Number
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedStretch:
    """The top speed on part of a leg and the rule that sets it."""

    from_m: float
    to_m: float
    speed_kmh: float
    rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One road, one configuration, no stop inside. ``from_m`` < ``to_m`` in the road's own chainage."""

    leg: int
    trip: str
    vehicle: str
    road: str
    direction: Literal["along", "against"]
    travel: Literal["forward", "reverse"]
    from_m: float
    to_m: float
    length_m: float
    time_s: float
    gear: str
    range: Literal["low", "high"]
    steering: Literal["front", "all", "crab"]
    drive: Literal["two", "four"]
    attitude: str
    speed_kmh: Number
    speeds: tuple[SpeedStretch, ...]
    because: tuple[Because, ...]
    verdict: Word
    flags: tuple[int, ...]
    path_lonlat: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShuntMove:
    """One move of a shunt: which way, the wheels to which side and how far of full lock, how far it goes.

    ``length_m`` and ``path_lonlat`` are those of the front axle's middle.
    """

    travel: Literal["forward", "reverse"]
    side: Literal["left", "right"]
    lock_pct: float
    length_m: float
    path_lonlat: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """A junction or sharp bend driven through, shunted or turned round at.

    ``room_m`` and ``needed_m`` are widths of road, when turning round radii, of which none is needed in several moves.
    ``swept_lonlat`` is the outline of the area swept; ``moves`` those of a shunt or of turning round, in the order
    driven, ``begin_m`` how far past the corner (− before it) the front axle stands when they begin. ``speed_kmh`` is
    the top speed in its arcs, at which room and time are reckoned.
    """

    turn: int
    trip: str
    place: str | None
    after_leg: int
    kind: Literal["through", "shunt", "turn_round"]
    steering: str
    room_m: Number
    needed_m: Number
    flags: tuple[int, ...] = ()
    lonlat: tuple[float, float] | None = None
    swept_lonlat: tuple[tuple[float, float], ...] = ()
    moves: tuple[ShuntMove, ...] = ()
    begin_m: Number = None
    speed_kmh: Number = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing changed at a stop."""

    what: str
    old: str | None
    new: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A standstill: start, configuration change, spotter, end."""

    stop: int
    trip: str
    before_leg: int | None
    place: str | None
    road: str
    at_m: float
    kind: Literal["start", "change", "spotter", "end"]
    changes: tuple[Change, ...]
    time_s: float
    flags: tuple[int, ...] = ()
    note: str = ""
    lonlat: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """One journey of the plan and how it adds up."""

    trip: Literal["arrive", "out", "back", "leave"]
    vehicle: str
    load_on: bool
    found: bool
    from_place: str
    to_place: str
    verdict: Word
    length_m: float
    climb_m: Number
    time_s: float
    clear_m: float
    caution_m: float
    unknown_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """Proof that a rule was looked at: metres by verdict over the way, smallest margin and where."""

    rule: str
    title: str
    built: bool
    applied_m: float
    clear_m: float
    caution_m: float
    unknown_m: float
    blocked_m: float
    smallest_margin: Number
    unit: str
    at: Where | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The worst cell of one rule on one road, also for configurations not chosen."""

    rule: str
    road: str
    direction: str
    travel: str
    verdict: Word
    margin: Number


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What must be true or done before or during the move. Kinds: pre_travel, control, unknown, weather, hours, …"""

    id: str
    kind: str
    flags: tuple[int, ...]
    text: str
    owner: str
    due: str
    evidence: str
    acceptable: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RemedyPart:
    """One amendment of a remedy, as it would stand in the file; ``layer`` may also be machine, weather or request.

    ``exact`` is the quantity from which the rule no longer bars; ``value`` is that, rounded to the safe side.
    """

    layer: str
    feature: str
    field: str
    old: Any
    value: Any
    from_m: Number = None
    to_m: Number = None
    reason: str = ""
    exact: Number = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """A set of changes that opens a way, proven by planning again; or (kind ``survey``) what is to be measured."""

    remedy: int
    rank: int
    amendments: tuple[RemedyPart, ...]
    cost: float
    who: str
    lead_time_days: Number
    side_effects: str
    proven: bool
    text: str
    kind: Literal["change", "survey"] = "change"
    verdict: Word | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearest:
    """Where the machine gets to when there is no way, and what stops it there."""

    trip: str
    place: str | None
    road: str | None
    at_m: Number
    remaining_m: Number
    stopped_by: tuple[Mapping[str, Any], ...]
    lonlat: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Descent:
    """A stretch driven down that is steep enough to ask how speed is held: from and to by distance driven.

    ``energy_mj``: what brakes and drive line take up on it at most; None where it is not known.
    """

    from_m: float
    to_m: float
    steepest_pct: Number
    energy_mj: Number


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileTrip:
    """Heights and grades along one trip, by distance driven; None where not known."""

    trip: str
    distance_m: tuple[float, ...]
    height_m: tuple[Number, ...]
    grade_pct: tuple[Number, ...]
    leg: tuple[int, ...]
    verdict: tuple[Word, ...]
    descents: tuple[Descent, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReliedOn:
    """One feature the plan relied on, with the values as read."""

    layer: str
    feature: str
    values: Mapping[str, Any]
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TravelPlan:
    """The whole answer."""

    schema: str
    plan_id: str
    created_at: str
    program: Mapping[str, str]
    request: Mapping[str, Any]
    site: Mapping[str, Any]
    machine: Mapping[str, Any]
    trailer: Mapping[str, Any] | None
    load: Mapping[str, Any] | None
    weather: Mapping[str, Any]
    rulebooks: tuple[Mapping[str, str], ...]
    inputs: tuple[Mapping[str, str], ...]
    outcome: Literal["way", "no_way"]
    verdict: Word
    trips: tuple[Trip, ...]
    legs: tuple[Leg, ...]
    turns: tuple[Turn, ...]
    stops: tuple[Stop, ...]
    findings: tuple[Finding, ...]
    checked: tuple[Checked, ...]
    conditions: tuple[Condition, ...]
    remedies: tuple[Remedy, ...]
    nearest: tuple[Nearest, ...]
    alternatives: tuple[Mapping[str, Any], ...]
    turn_back: tuple[Mapping[str, Any], ...]
    single_points: tuple[Mapping[str, Any], ...]
    latest_departure: str | None
    profile: tuple[ProfileTrip, ...]
    transport: Mapping[str, Any] | None
    setup: Mapping[str, Any] | None
    cautions: tuple[str, ...]
    doubts: tuple[str, ...]
    sources: Mapping[str, str]
    rules: Mapping[str, Mapping[str, Any]]
    relied_on: tuple[ReliedOn, ...]
    fingerprint: str
    unloading: Mapping[str, Any] | None = None
    judged: tuple[Judged, ...] = ()
    departure: Mapping[str, Any] | None = None
