"""What a rule may look at besides the rows: machine, load, weather, hour, configurations, limits."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.body import Body
from travel.checks.mover import Mover
from travel.domain.machine import Load, Machine
from travel.domain.rules import Rulebook
from travel.domain.site import Weather
from travel.mechanics.turning import outer_corner_radius, turn_centre_ahead, turn_radius
from travel.rulebook import Axis, LimitColumn, resolve_column
from travel.survey import Survey, Windowed
from travel.units import SI_PER_UNIT, kmh_to_mps

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


Key = tuple[object, ...]
_SCALARS: WeakKeyDictionary[Rulebook, dict[Key, float]] = WeakKeyDictionary()
_RESOLVED: WeakKeyDictionary[Rulebook, dict[Key, LimitColumn]] = WeakKeyDictionary()
_BY_SURFACE: WeakKeyDictionary[Rulebook, dict[Key, LimitColumn]] = WeakKeyDictionary()
"""Limits of a rulebook as they were resolved, for all cases."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Configurations:
    """Every gear × steering × drive of a machine, as columns; ``state`` numbers what needs a stop to change.

    Gears of one range change on the move: configurations that differ only in gear share a state.
    """

    gear: tuple[str, ...]
    travel: tuple[str, ...]
    range: tuple[str, ...]
    steering: tuple[str, ...]
    drive: tuple[str, ...]
    top_mps: Floats
    reverse: Bools
    low: Bools
    gear_index: Ints
    state: Ints
    states: tuple[tuple[str, str, str, str], ...]

    def __len__(self) -> int:
        return len(self.gear)


def make_configurations(machine: Machine, steering: tuple[str, ...] = ("front",)) -> Configurations:
    """Give the configurations a search may choose: steering mode by mode, drive by drive, gear by gear.

    Args:
        machine: the sheet
        steering: modes to choose among, those the sheet has; ``steering_modes`` tells which are worth it
    """
    modes = [mode.mode for mode in machine.steering if mode.mode in steering]
    rows = [
        (gear, mode, drive, index)
        for mode in modes
        for drive in _drives(machine)
        for index, gear in enumerate(machine.gears)
        if gear.drive in (None, drive)
    ]
    keys = [(gear.travel, gear.range, mode, drive) for gear, mode, drive, _ in rows]
    states = tuple(dict.fromkeys(keys))
    return Configurations(
        gear=tuple(gear.name for gear, _, _, _ in rows),
        travel=tuple(gear.travel for gear, _, _, _ in rows),
        range=tuple(gear.range for gear, _, _, _ in rows),
        steering=tuple(mode for _, mode, _, _ in rows),
        drive=tuple(drive for _, _, drive, _ in rows),
        top_mps=np.array([kmh_to_mps(gear.top_kmh) for gear, _, _, _ in rows]),
        reverse=np.array([gear.travel == "reverse" for gear, _, _, _ in rows]),
        low=np.array([gear.range == "low" for gear, _, _, _ in rows]),
        gear_index=np.array([index for _, _, _, index in rows], dtype=np.int64),
        state=np.array([states.index(key) for key in keys], dtype=np.int64),
        states=states,
    )


def _drives(machine: Machine) -> tuple[str, ...]:
    """Give the drives the driver can choose: all axles, or fewer where the sheet lets him switch an axle off."""
    if not all(axle.driven for axle in machine.axles):
        return ("two",)
    off = [axle.drive_off for axle in machine.axles]
    return ("four", "two") if any(off) and not all(off) else ("four",)


@dataclass(frozen=True, eq=False, kw_only=True)
class Case:
    """One trip of one machine: everything a rule may look at that is not a row.

    ``at`` None: hours and closures always bar. ``until`` ends the span for which they are looked at. ``today`` is the
    day the plan is made, against which surveys age where no hour is given. ``times``: how often the whole plan is
    driven; ``delivered``: a combination brings the machine and takes it away.
    """

    trip: str
    machine: Machine
    body: Body
    load: Load | None
    rulebook: Rulebook
    survey: Survey
    configurations: Configurations
    weather: Weather
    at: dt.datetime | None = None
    until: dt.datetime | None = None
    today: dt.date | None = None
    times: int = 1
    delivered: bool = False

    @property
    def own_passes(self) -> int:
        """Most passes a stretch has taken once this trip is over the last time: all trips of the plan may use it."""
        trips = ("arrive", "out", "back", "leave") if self.delivered else ("out", "back")
        number = trips.index(self.trip) + 1 if self.trip in trips else len(trips)
        return (self.times - 1) * len(trips) + number

    @cached_property
    def window(self) -> Windowed:
        """Grades over the longer of wheelbase and the window the site or the rulebook asks for."""
        least = self.survey.site.header.window_m or self.scalar("survey.window_m")
        return self.survey.windowed(max(self.body.wheelbase_m, least))

    @cached_property
    def surface(self) -> Axis:
        """Surface of every piece, as its road has it."""
        words = self.rulebook.vocabulary.words("surface")
        return Axis(self.survey.text_code("surface", words), words)

    @cached_property
    def jurisdiction(self) -> str | None:
        """Whose law holds."""
        return self.survey.site.header.jurisdiction

    @cached_property
    def loaded(self) -> bool:
        """Whether something is carried."""
        return self.load is not None

    @property
    def vehicle(self) -> str:
        """What drives: the machine, or the combination that carries it."""
        return "machine"

    @property
    def left_out(self) -> frozenset[str]:
        """Rules that are not asked of this vehicle; the plan says so."""
        return frozenset()

    @property
    def belly(self) -> Body:
        """The two-axle body whose underside is rolled over the road."""
        return self.body

    @property
    def hinged(self) -> Mover | None:
        """What drives through corners drawing something on a hinge; None: the body alone."""
        return None

    def lacking(self, rule: str) -> tuple[str, ...]:
        """Give what of the vehicle's own sheet a rule needs and does not find; the rule is then unknown."""
        del rule
        return ()

    @cached_property
    def outer_radius_m(self) -> Mapping[str, float]:
        """Least radius of the body's outer corners when turning round, by steering mode of the search [m].

        Front and rear corner both count: with all-wheel steering the rear swings out. Crab turns nothing.
        """
        base, body = self.body.wheelbase_m, self.body
        out = {"crab": math.inf}
        for mode in self.machine.steering:
            if mode.mode in self.configurations.steering and mode.mode != "crab":
                lock = math.radians(mode.lock_deg)
                rear = lock if mode.mode == "all" else 0.0
                radius, centre = turn_radius(base, lock, rear), turn_centre_ahead(base, lock, rear)
                ends = (base + body.front_x_m - centre, -body.rear_x_m - base + centre)
                out[mode.mode] = max(float(outer_corner_radius(radius, body.width_m, end)) for end in ends)
        return out

    @cached_property
    def _columns(self) -> dict[str, LimitColumn]:
        return {}

    @cached_property
    def _words(self) -> dict[str, str | None]:
        return {
            "jurisdiction": self.jurisdiction,
            "attitude": self.body.attitude,
            "ground": self.weather.ground,
            "load_state": "loaded" if self.loaded else "none",
        }

    def scalar(self, limit_id: str, **axes: str | float | None) -> float:
        """Give one limit of the rulebook in SI; NaN where it has none for this case."""
        known, key = _SCALARS.setdefault(self.rulebook, {}), self._key(limit_id, axes)
        if key not in known:
            known[key] = float(self.resolved(limit_id, **axes).values)
        return known[key]

    def column(self, limit_id: str) -> LimitColumn:
        """Give a limit over all pieces (by surface, ground, jurisdiction, attitude), in SI."""
        if limit_id not in self._columns:
            self._columns[limit_id] = self.by_surface(limit_id)
        return self._columns[limit_id]

    def by_surface(self, limit_id: str, **axes: str | float | None) -> LimitColumn:
        """Give a limit over all pieces in SI, with words of the case replaced (``ground="mud"``).

        It is resolved once a word and then dealt out to the pieces; the last code stands for a missing surface. Where
        a wheel may stand on ground laid out with a surface of its own, the stricter of both holds.
        """
        words, codes = self.surface.words, self.surface.codes
        axis = Axis(np.append(np.arange(len(words)), -1), words)
        known, key = _BY_SURFACE.setdefault(self.rulebook, {}), self._key(limit_id, axes)
        if key not in known:
            known[key] = self.resolved(limit_id, surface=axis, **axes)
        table = known[key]
        if not np.ndim(table.values):
            return LimitColumn(values=table.values[codes], row=table.row[codes], rows=table.rows)
        values, row = table.values[codes], table.row[codes]
        piece, other = self.laid
        for word in np.unique(other).tolist():
            here = piece[other == word]
            new = float(table.values[word])
            smaller = table.row[word] < 0 or table.rows[int(table.row[word])].sense == "at_most"
            worse = ~np.isnan(values[here]) & (
                np.isnan(new) | ((new < values[here]) == smaller) & (new != values[here])
            )
            values[here[worse]], row[here[worse]] = new, table.row[word]
        return LimitColumn(values=values, row=row, rows=table.rows)

    @cached_property
    def laid(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Give piece and surface of the ground polygons with a surface of their own that a wheel may stand on."""
        layer = self.survey.site.layers["ground"]
        names = {word: number for number, word in enumerate(self.surface.words)}
        own = np.array([names.get(word, -1) for word in layer.text("surface")], dtype=np.int64)
        wander = self.scalar("piece.wander") + self.survey.tolerance.plan_m
        most = self.body.over_tyres_m / 2.0 + self.body.wheelbase_m + wander
        pairs = self.survey.pairs("ground", max(self.body.reach_m, 0.0), most)
        if not len(own) or not len(pairs):
            return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
        out = self.body.over_tyres_m / 2.0 + self.body.wheelbase_m * np.minimum(
            self.survey.pieces.curvature_per_m[pairs.piece] * self.body.wheelbase_m, 1.0
        )
        near = pairs.distance_m <= out + wander
        keep = near & (own[pairs.feature] >= 0)
        return pairs.piece[keep], own[pairs.feature][keep]

    def resolved(self, limit_id: str, **axes: Axis | Floats | float | str | None) -> LimitColumn:
        """Give a limit over given axes, in SI; kept where every axis is a single value."""
        if any(isinstance(value, (Axis, np.ndarray)) for value in axes.values()):
            return _si(resolve_column(self.rulebook, limit_id, **{**self._words, **axes}))
        known, key = _RESOLVED.setdefault(self.rulebook, {}), self._key(limit_id, axes)
        if key not in known:
            known[key] = _si(resolve_column(self.rulebook, limit_id, **{**self._words, **axes}))
        return known[key]

    def _key(self, limit_id: str, axes: Mapping[str, object]) -> Key:
        """Give what tells a limit of this case from those of others of the same rulebook."""
        return limit_id, *self._words.values(), *sorted(axes.items())

    def tolerance(self, field: str, method: str = "measured") -> float:
        """Give the class tolerance of a field by method, in SI."""
        return self.scalar(f"tolerance.{field}", method=method)

    def but_for_trip(self, other: Case) -> bool:
        """Tell whether this is the same machine on the same site in the same state as on another trip."""
        return type(self) is type(other) is Case and _same(replace(self, trip=other.trip), other)


def _same(one: Any, other: Any) -> bool:
    """Compare two values of a case: what is read or surveyed once by identity, bodies and arrays by what they hold."""
    if one is other:
        return True
    if isinstance(one, np.ndarray):
        return np.array_equal(one, other, equal_nan=True)
    if isinstance(one, (Case, Body, Configurations)):
        return all(_same(getattr(one, f.name), getattr(other, f.name)) for f in fields(one))
    return bool(one == other or (one != one and other != other))


def _si(column: LimitColumn) -> LimitColumn:
    factors = np.array([SI_PER_UNIT[row.unit] for row in column.rows] + [np.nan])
    return LimitColumn(values=column.values * factors[column.row], row=column.row, rows=column.rows)
