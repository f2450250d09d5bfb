"""The request as people write it (TOML). Loads are paths beside the file."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from travel.domain.site import FileModel, Weather


class AcceptedUnknown(FileModel):
    """One unknown accepted by name and reason."""

    id: Annotated[str, Field(min_length=1)]
    reason: Annotated[str, Field(min_length=1)]


class BackTable(FileModel):
    """What differs on the way back."""

    at: dt.datetime | None = None
    load: str | None = None
    weather: Weather = Weather()


class RampTable(FileModel):
    """Where and how the machine goes on or off the trailer; slopes signed as ``ground_slope_pct`` + nose uphill."""

    place: str | None = None
    move: Literal["load", "unload"] | None = None
    first: Literal["nose", "tail"] | None = None
    ground_slope_pct: Annotated[float, Field(ge=-30, le=30)] | None = None
    ground_cross_slope_pct: Annotated[float, Field(ge=-30, le=30)] | None = None


class RequestFile(FileModel):
    """A request: from, to, hours, weather, what is carried and accepted."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, populate_by_name=True)

    format: Literal[1]
    from_place: Annotated[str, Field(alias="from", min_length=1)]
    to_place: Annotated[str, Field(alias="to", min_length=1)]
    at: dt.datetime | None = None
    horizon_min: Annotated[float, Field(gt=0, le=10080)] | None = None
    with_return: Annotated[bool, Field(alias="return")] = True
    aim: str = "exposure"
    load: str | None = None
    unload: str | None = None
    times: Annotated[int, Field(ge=1, le=10000)] | None = None
    accept_unknown: tuple[AcceptedUnknown, ...] = ()
    weather: Weather = Weather()
    back: BackTable | None = None
    ramp: RampTable | None = None


class RampRequestFile(RequestFile):
    """The same file as ``travel ramp`` reads it: no way is asked for, so from and to may be left out."""

    from_place: Annotated[str | None, Field(alias="from", min_length=1)] = None  # type: ignore[assignment]
    to_place: Annotated[str | None, Field(alias="to", min_length=1)] = None  # type: ignore[assignment]
    ramp: RampTable = RampTable()
