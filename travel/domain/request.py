"""What was asked: one value for command line, page and batch alike."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from travel.domain.site import Amendment, Weather

if TYPE_CHECKING:
    from travel.domain.request_file import RampTable

NO_WEATHER = Weather()
"""Nothing known about the weather."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Acceptance:
    """A planner accepts one unknown by name and reason."""

    id: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TripConditions:
    """What differs between the way out and the way back: hour, weather, load."""

    at: dt.datetime | None = None
    weather: Weather = NO_WEATHER
    load: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRequest:
    """One question. Without ``back`` the way back is planned stowed, at no stated hour, in the same weather.

    With ``trailer`` the machine comes on it: ``unload`` names the place, or any; ``ramp`` what is asked about the ramp.
    """

    site: Path
    machine: Path
    from_place: str
    to_place: str
    at: dt.datetime | None = None
    horizon_min: float | None = None
    with_return: bool = True
    load: Path | None = None
    weather: Weather = NO_WEATHER
    back: TripConditions | None = None
    aim: str = "exposure"
    rulebooks: tuple[Path, ...] = ()
    accept_unknown: tuple[Acceptance, ...] = ()
    amendments: tuple[Amendment, ...] = ()
    strict: bool = False
    times: int = 1
    trailer: Path | None = None
    unload: str | None = None
    ramp: RampTable | None = None
