"""The surveyed site: layers as columns, who looked at what and when, terrain as a grid."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field

Floats = NDArray[np.float64]
Objects = NDArray[np.object_]


class FileModel(BaseModel):
    """Base of everything people write in files: frozen, unknown keys refused."""

    model_config = ConfigDict(defer_build=True, extra="forbid", frozen=True, allow_inf_nan=False)


class SurveyNote(FileModel):
    """That a layer was looked at: when, by whom, how, until when it holds, on which roads (none named = all)."""

    date: dt.date
    by: str = ""
    method: str = ""
    until: dt.date | None = None
    roads: tuple[str, ...] = ()


class Tolerances(FileModel):
    """95 % half-bands of the survey; a missing one takes the class value of the rulebook, never zero."""

    height_m: Annotated[float, Field(ge=0, le=10)] | None = None
    width_m: Annotated[float, Field(ge=0, le=10)] | None = None
    grade_pct: Annotated[float, Field(ge=0, le=50)] | None = None
    cross_slope_pct: Annotated[float, Field(ge=0, le=50)] | None = None
    plan_m: Annotated[float, Field(ge=0, le=50)] | None = None


class TerrainEntry(FileModel):
    """Where the height grid is and how good it is (one standard deviation)."""

    file: str
    vertical_sd_m: Annotated[float, Field(ge=0, le=100)] | None = None


class Weather(FileModel):
    """The weather a plan holds for. Absent = not known; there is no mild default."""

    ground: str | None = None
    temperature_c: Annotated[float, Field(ge=-60, le=70)] | None = None
    wind_mps: Annotated[float, Field(ge=0, le=100)] | None = None


class SiteHeader(FileModel):
    """``site.toml``."""

    format: Literal[1]
    name: Annotated[str, Field(min_length=1)]
    crs: Annotated[str, Field(min_length=1)]
    timezone: Annotated[str, Field(min_length=1)]
    surveyed_on: dt.date
    height_datum: str = ""
    jurisdiction: str | None = None
    rulebooks: tuple[str, ...] = ()
    snap_m: Annotated[float, Field(gt=0, le=5)] = 0.1
    window_m: Annotated[float, Field(gt=0, le=100)] | None = None
    surveyed: dict[str, SurveyNote] = {}
    tolerance: Tolerances = Tolerances()
    terrain: TerrainEntry | None = None
    weather: Weather = Weather()
    contacts: dict[str, str] = {}
    changed_copy: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False, kw_only=True)
class Layer:
    """One layer as columns of equal length, in the site's ``crs``.

    ``numbers`` float64 with NaN for missing (practical units, as the column name says), ``texts`` objects
    with None for missing, ``extra`` the columns nobody asked for, ``methods`` how a person got a number
    (``measured``, ``sign``, ``told``, ``assumed``) for the columns where a method was written.
    """

    name: str
    ids: tuple[str, ...]
    geometry: Objects
    numbers: Mapping[str, Floats]
    texts: Mapping[str, Objects]
    methods: Mapping[str, Objects] = field(default_factory=dict)
    extra: Mapping[str, Objects] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.ids)

    def number(self, name: str) -> Floats:
        """Give a numeric column, all missing where the file has none."""
        return self.numbers[name] if name in self.numbers else np.full(len(self), np.nan)

    def text(self, name: str) -> Objects:
        """Give a text column, all None where the file has none."""
        return self.texts[name] if name in self.texts else np.full(len(self), None, dtype=object)

    def method(self, name: str) -> Objects:
        """Give how each number was got; ``measured`` where nothing was written."""
        if name not in self.methods:
            return np.full(len(self), "measured", dtype=object)
        return np.array([value or "measured" for value in self.methods[name]], dtype=object)

    def index(self, feature: str) -> int:
        """Give the row of a feature."""
        return self.ids.index(feature)

    def values(self, row: int) -> dict[str, Any]:
        """Give one feature's known values by column, geometry aside."""
        out: dict[str, Any] = {"id": self.ids[row]}
        out |= {name: float(column[row]) for name, column in self.numbers.items() if not np.isnan(column[row])}
        out |= {name: column[row] for name, column in self.texts.items() if column[row] is not None}
        out |= {f"{name}_method": column[row] for name, column in self.methods.items() if column[row] is not None}
        return out


@dataclass(frozen=True, eq=False, kw_only=True)
class Terrain:
    """A height grid. Row 0 is the northern edge; ``heights`` [m] with NaN for nodata; cell centres at half cells.

    x = west_m + (column + 0.5) · cell_x_m, y = north_m − (row + 0.5) · cell_y_m.
    """

    heights: Floats
    west_m: float
    north_m: float
    cell_x_m: float
    cell_y_m: float
    vertical_sd_m: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """One file that was read, by role, and its digest."""

    role: str
    name: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Something possible but suspicious; stops only under ``--strict``."""

    file: str
    message: str
    layer: str = ""
    feature: str = ""
    field: str = ""

    def text(self) -> str:
        """Give the doubt as one line."""
        where = " › ".join(part for part in (self.file, self.layer, self.feature, self.field) if part)
        return f"{where}: {self.message}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Amendment:
    """The smallest part of a change to the site; ``value`` as it would stand in the file."""

    layer: str
    feature: str
    field: str
    value: float | str | bool | None
    from_m: float | None = None
    to_m: float | None = None
    reason: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class Site:
    """A surveyed site. Two sites are equal when their digests are.

    ``amendments`` holds the changes laid over part of a road by chainage; changes of a whole feature stand in the
    layers themselves.
    """

    header: SiteHeader
    crs_wkt: str
    layers: Mapping[str, Layer]
    terrain: Terrain | None
    inputs: tuple[InputFile, ...]
    doubts: tuple[Doubt, ...] = ()
    amendments: tuple[Amendment, ...] = ()

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Site) and self.digest == other.digest

    def __hash__(self) -> int:
        return hash(self.digest)

    @property
    def digest(self) -> str:
        """Digest over the files as read."""
        text = "\n".join([*sorted(f"{f.role} {f.name} {f.sha256}" for f in self.inputs), repr(self.amendments)])
        return hashlib.sha256(text.encode()).hexdigest()

    def note(self, layer: str) -> SurveyNote | None:
        """Give who looked at a layer, or None: nobody."""
        return self.header.surveyed.get(layer)
