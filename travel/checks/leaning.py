"""How a machine leans and what that asks of its tip lines: shared by the rules of standing upright."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.checks.body import TipLine
from travel.checks.case import Case
from travel.checks.rows import Rows
from travel.checks.told import YES
from travel.mechanics.slope import demand_across, demand_along
from travel.mechanics.stability import tilt_from_drop
from travel.units import G_MPS2

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Terms = Mapping[str, Any]


class Later(Mapping[str, Any]):
    """Terms worked out only when somebody reads them: the grid never does."""

    def __init__(self, make: Callable[[], Terms]) -> None:
        self._make = make

    @cached_property
    def _terms(self) -> Terms:
        return self._make()

    def __getitem__(self, key: str) -> Any:
        return self._terms[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._terms)

    def __len__(self) -> int:
        return len(self._terms)


class Lean:
    """How the machine leans at each row when it travels forward (or in reverse): its own axes, not the travel's.

    ``most`` and ``least`` are the ends of its grade, + nose up; the brake pushes it over the end it moves towards, a
    turn over the outer side.
    """

    def __init__(self, slope: tuple[Floats, Floats, Floats], reverse: bool, brake_mps2: float, left: Floats) -> None:
        up, down, cross = slope
        self.most = down if reverse else up
        self.least = -up if reverse else -down
        self.cross = -cross if reverse else cross
        self._left_mps2 = -left if reverse else left
        self._back_mps2 = brake_mps2 if reverse else 0.0
        self._ahead_mps2 = 0.0 if reverse else -brake_mps2

    @cached_property
    def along_back(self) -> Floats:
        """Demand along that tips most to the rear."""
        return np.asarray(demand_along(self.most, self.cross, self._back_mps2))

    @cached_property
    def along_ahead(self) -> Floats:
        """Demand along that tips most to the front."""
        return np.asarray(demand_along(self.least, self.cross, self._ahead_mps2))

    @cached_property
    def across_back(self) -> Floats:
        """Demand across on the same grade as ``along_back``."""
        return np.asarray(demand_across(self.most, self.cross, self._left_mps2))

    @cached_property
    def across_ahead(self) -> Floats:
        """Demand across on the same grade as ``along_ahead``."""
        return np.asarray(demand_across(self.least, self.cross, self._left_mps2))

    def brake_about(self, line: TipLine) -> float:
        """Give the braking that counts about one tip line, as a ratio to gravity."""
        towards = self._back_mps2 if line.lever_along_m >= 0.0 else self._ahead_mps2
        return abs(towards) / G_MPS2

    def along(self, line: TipLine) -> Floats:
        """Give the demand along that is worst about one tip line."""
        return self.along_back if line.lever_along_m >= 0.0 else self.along_ahead

    def about(self, line: TipLine) -> dict[str, Floats | float]:
        """Give the demand that is worst about one tip line, as arguments of its share."""
        across: Floats | float = 0.0
        if line.lever_across_m != 0.0:
            across = self.across_back if line.lever_along_m >= 0.0 else self.across_ahead
        return {"along_ratio": self.along(line), "across_ratio": across}


def leans(rows: Rows, brake_mps2: float) -> tuple[Lean, Lean]:
    """Give how the machine leans travelling forward and in reverse."""
    slope, left = (rows.uphill, rows.downhill, rows.cross * rows.sense), rows.across_mps2
    return Lean(slope, False, brake_mps2, left), Lean(slope, True, brake_mps2, left)


def braking(case: Case) -> float:
    """Braking counted for overturning: the full service brake; with a load on the hook what the rulebook allows."""
    stated = case.machine.brakes.service_mps2
    full = np.nan if stated is None else stated
    least = case.scalar("tip.braking")
    return full if np.isnan(least) else min(full, least) if not np.isnan(full) else np.nan


@dataclass(frozen=True, eq=False, kw_only=True)
class Tilt:
    """What tilts the machine more than the ground does, along and across.

    ``bump_*``: one wheel (across) or one axle (along) on a bump. ``give_*``: tyres down on the lower and up on the
    upper side at the verge of tipping; before that in proportion to what has moved over, so times the share used,
    which that tilt makes larger again.
    """

    bump_along_ratio: Floats
    bump_across_ratio: Floats
    give_along_ratio: float
    give_across_ratio: float

    def about(self, line: TipLine, demand: Mapping[str, Any]) -> dict[str, Any]:
        """Give the tilt along and across about one tip line under a demand, as arguments of its share."""
        along, across = abs(line.lever_along_m) / line.reach_m, abs(line.lever_across_m) / line.reach_m
        return {
            "tilt_along_ratio": _settled(demand["along_ratio"], self.bump_along_ratio, self.give_along_ratio, along),
            "tilt_across_ratio": _settled(
                demand["across_ratio"], self.bump_across_ratio, self.give_across_ratio, across
            ),
        }

    def at_share(self, share_ratio: float) -> dict[str, Any]:
        """Give the greatest tilt while no more than a share of the tipping limit is used."""
        return {
            "tilt_along_ratio": self.bump_along_ratio + self.give_along_ratio * share_ratio,
            "tilt_across_ratio": self.bump_across_ratio + self.give_across_ratio * share_ratio,
        }


def _settled(demand: Any, bump: Floats, give: float, share_per_ratio: float) -> Any:
    """Give the tilt t = bump + give × share once share = share_per_ratio × (demand + t) has settled."""
    more = give * share_per_ratio
    return np.inf if more >= 1.0 else (bump + more * np.abs(demand)) / (1.0 - more)


def tilt_of(rows: Rows, case: Case) -> Tilt:
    """Give the tilt by bumps of the road and by the tyres."""
    base, track = case.body.wheelbase_m, float(np.min(case.body.track_m))
    bump, squash = rows.si("roughness_m"), 2.0 * float(np.max(case.body.squash_m))
    return Tilt(
        bump_along_ratio=np.asarray(tilt_from_drop(bump, base)),
        bump_across_ratio=np.asarray(tilt_from_drop(bump, track)),
        give_along_ratio=float(tilt_from_drop(squash, base)),
        give_across_ratio=float(tilt_from_drop(squash, track)),
    )


def cg_band(case: Case) -> float:
    """Half-band of the centre of gravity: the sheet's (or the class value), and what the load's weight adds."""
    body, load = case.body, case.load
    own = body.cg_tolerance_m if not np.isnan(body.cg_tolerance_m) else case.scalar("tolerance.cg_m")
    if load is None or body.load_m is None:
        return own
    stated = load.mass_tolerance_kg
    band = case.scalar("carry-capacity.load_share") * load.mass_kg if stated is None else stated
    return own + band / body.mass_kg * float(np.linalg.norm(np.subtract(body.load_m, body.cg_m)))


def nearer_and_higher(line: TipLine, case: Case) -> TipLine:
    """Give a tip line with the centre of gravity nearer to it and higher, by its half-band."""
    height, band = case.body.cg_m[2], cg_band(case)
    rolls = float(np.sqrt(max(1.0 - (line.lever_along_m / height) ** 2, 0.0)))
    return TipLine(
        reach_m=line.reach_m - band,
        lever_along_m=line.lever_along_m * (1.0 + band / height),
        lever_across_m=line.lever_across_m + float(np.copysign(band * rolls, line.lever_across_m)),
    )


def machine_lacks(case: Case, with_brake: bool) -> dict[str, Bools]:
    """Name what of the sheets overturning needs and does not have."""
    body = case.body
    lacking = {
        "machine.axles.squash_m": bool(np.isnan(body.squash_m).any()),
        "machine.axles.pivot_height_m": bool(np.isnan(body.supports_m).any()),
        "machine.axles.oscillating": len(body.supports_m) < 3,
        "machine.attitudes.cg_y_m": bool(np.isnan(body.cg_m[1])) and not body.load_lacks,
        "machine.brakes.service_mps2": with_brake and case.machine.brakes.service_mps2 is None,
        **dict.fromkeys(body.load_lacks, True),
    }
    return {name: YES for name, lacks in lacking.items() if lacks}


def slope_lacks(rows: Rows) -> dict[str, Bools]:
    """Name where grade or cross slope is missing."""
    return {
        "grade": np.isnan(rows.grade) | np.isnan(rows.grade_band),
        "cross_slope_pct": np.isnan(rows.cross) | np.isnan(rows.cross_band),
    }


def sides(line: TipLine) -> dict[str, float]:
    """Give a tip line as arguments of its formulas."""
    return {"reach_m": line.reach_m, "lever_along_m": line.lever_along_m, "lever_across_m": line.lever_across_m}
