"""How a rig would stand on some ground: in line with its ramps and the run-off, as near the place as may be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import affinity

from travel.checks.ramp_facts import RampFacts
from travel.checks.unloading_ground import Ground, Taken

FAR_M = 500.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Standing:
    """How the rig would stand: its heading (anticlockwise from east), and the strip from run-off to nose.

    ``room_m``: the free length in line through the place; ``from_m``/``to_m``: the strip along the heading from the
    place; NaN or None where the ground is not known. ``ahead``: the machine comes off over the trailer's front.
    """

    ground: Ground
    heading_rad: float | None
    length_m: float
    ramp_m: float
    run_off_m: float
    width_m: float
    room_m: float
    from_m: float
    ahead: bool = False
    lane_m: float = 0.0
    """Width that is to be free, with what is kept beside the rig."""

    @property
    def need_m(self) -> float:
        """Length in line: rig, ramps, run-off."""
        return self.length_m + self.ramp_m + self.run_off_m

    @property
    def to_m(self) -> float:
        """Where the strip ends."""
        return self.from_m + self.need_m

    @property
    def rig_m(self) -> tuple[float, float]:
        """Where the rig's tail and nose stand."""
        tail = self.from_m if self.ahead else self.from_m + self.ramp_m + self.run_off_m
        return tail, tail + self.length_m

    @property
    def run_off_end_m(self) -> float:
        """Where the machine's run-off ends, away from the rig."""
        return self.to_m if self.ahead else self.from_m

    def cut_by(self) -> Taken | None:
        """Give what lies in the rig's lane nearest to the place and takes ground there; None where nothing does."""
        if self.heading_rad is None:
            return None
        lane = turned(shapely.box(-FAR_M, -self.lane_m / 2.0, FAR_M, self.lane_m / 2.0), self)
        place = shapely.Point(self.ground.xy)
        found = [one for one in self.ground.taken if shapely.intersects(one.shape, lane)]
        return min(found, key=lambda one: (one.sure, float(shapely.distance(one.shape, place))), default=None)

    def strip(self, beside_m: float = 0.0, rig_only: bool = False) -> Any:
        """Give the strip, widened on each side; on all headings where the heading is not known."""
        half = self.width_m / 2.0 + beside_m
        if math.isnan(self.need_m):
            return None
        if self.heading_rad is None:
            return shapely.buffer(shapely.Point(self.ground.xy), self.need_m + half)
        start, end = self.rig_m if rig_only else (self.from_m - beside_m, self.to_m + beside_m)
        return turned(shapely.box(start, -half, end, half), self)


def turned(shape: Any, standing: Standing) -> Any:
    """Give a shape drawn along the heading, the place at its origin, where it lies on the site."""
    x, y = standing.ground.xy
    heading = standing.heading_rad or 0.0
    return affinity.translate(affinity.rotate(shape, heading, origin=(0, 0), use_radians=True), x, y)


def stand_on(ground: Ground, facts: RampFacts, heading_rad: float | None) -> Standing:
    """Give how the rig stands on some ground."""
    case = facts.case
    length = case.trailer.combination.length_m
    ramp = max((case.run(ramp) for ramp in case.ramps), default=0.0)
    run_off = case.body.length_m + case.scalar("unloading-place.run_off")
    width = max(case.body.width_m, case.trailer.deck.width_m, case.trailer.trailer.width_m or 0.0)
    whole = (math.nan if length is None else length) + ramp + run_off
    lane = width + 2.0 * case.scalar("unloading-place.beside")
    low, high = _interval(ground, heading_rad, lane)
    start = float(np.clip(-whole / 2.0, low, max(high - whole, low))) if not math.isnan(low + whole) else -whole / 2.0
    return Standing(
        ground=ground,
        heading_rad=heading_rad,
        length_m=math.nan if length is None else length,
        ramp_m=ramp,
        run_off_m=run_off,
        width_m=width,
        room_m=high - low,
        from_m=start,
        ahead=case.front_entry,
        lane_m=lane,
    )


def _interval(ground: Ground, heading_rad: float | None, width_m: float) -> tuple[float, float]:
    """Give the stretch along the heading, the place in it, over which the whole width is free; NaN = not known."""
    if ground.shape is None or heading_rad is None:
        return math.nan, math.nan
    x, y = ground.xy
    around = affinity.rotate(affinity.translate(ground.shape, -x, -y), -heading_rad, origin=(0, 0), use_radians=True)
    taken = shapely.box(-FAR_M, -width_m / 2.0, FAR_M, width_m / 2.0).difference(around)
    low, high = -FAR_M, FAR_M
    for part in shapely.get_parts(taken):
        first, _, last, _ = part.bounds
        if last <= 0.0:
            low = max(low, last)
        elif first >= 0.0:
            high = min(high, first)
        else:
            return 0.0, 0.0
    return low, high
