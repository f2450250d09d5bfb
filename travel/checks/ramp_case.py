"""One machine and one trailer: the profile that is driven on, the machine as it goes on, and the limits that hold.

Everything here is seen from where the machine comes on: x inward from the loading edge of the deck, z up, square to the
ground the rig stands on (ground and rig lean together, so the shapes do not know the slope; the loads do).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from travel.checks.body import Body
from travel.domain.machine import Machine
from travel.domain.ramp import RampRequest
from travel.domain.rules import Limit, Rulebook
from travel.domain.trailer import Ramp, Trailer
from travel.mechanics.ramp_angles import ramp_angle
from travel.rulebook import resolve
from travel.units import SI_PER_UNIT, pct_to_ratio

Floats = NDArray[np.float64]

AHEAD_M = 40.0
"""Level ground before the ramp and deck line carried on behind it, so that no position runs off the profile."""
FRONT_ENTRY = "detachable_neck"


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """A resolved limit in SI, with the row that won."""

    value: float
    row: Limit | None


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Outline:
    """The machine from its leading axle: x inward, z up; underbody and top in order of x; axle 0 leads."""

    under: Floats
    top: Floats
    lead_r: float
    trail_r: float
    base: float
    cg_x: float
    cg_z: float
    lead: int
    trail: int
    rest: Floats
    """Every axle it rests on, leading first: place from the leading one and radius, (n, 2)."""

    @property
    def reach(self) -> float:
        """How far the body reaches beyond its leading axle [m]."""
        return float(max(self.under[:, 0].max(), self.top[:, 0].max(), 0.0))

    @property
    def tail(self) -> float:
        """How far the body reaches beyond its trailing axle [m]."""
        return float(max(-self.base - min(self.under[:, 0].min(), self.top[:, 0].min()), 0.0))


@dataclass(frozen=True, eq=False, kw_only=True)
class RampCase:
    """What the rules of ramps may look at."""

    machine: Machine
    body: Body
    trailer: Trailer
    request: RampRequest
    rulebook: Rulebook
    inner: tuple[bool, ...] = (False, False)
    """Whether the leading and the trailing axle have others beyond them, about which the machine cannot tip."""
    gone_in_m: float = 0.0
    """How far the ramps' feet have gone into the ground while loads are taken."""

    # -- words and limits
    def limit(self, limit_id: str, **axes: str | float | None) -> Value:
        """Give one limit in SI; NaN where the rulebook has none for this case."""
        key = (limit_id, *sorted(axes.items()))
        if key not in self._limits:
            words = {"jurisdiction": self.request.jurisdiction or "none", "attitude": self.body.attitude}
            found = resolve(self.rulebook, limit_id, **{**words, **axes})
            self._limits[key] = (
                Value(value=math.nan, row=None)
                if found is None
                else Value(value=found.value * SI_PER_UNIT[found.limit.unit], row=found.limit)
            )
        return self._limits[key]

    @cached_property
    def _limits(self) -> dict[tuple[object, ...], Value]:
        """Limits asked for so far."""
        return {}

    def scalar(self, limit_id: str, **axes: str | float | None) -> float:
        """Give one limit's value in SI."""
        return self.limit(limit_id, **axes).value

    @cached_property
    def state(self) -> str:
        """State of ramps and deck: as the weather says, else wet; muddy where tyres come off ground that gives mud."""
        stated, surface = self.request.ground or "wet", self.request.surface
        return "mud" if surface and self.scalar("grip.gives_mud", surface=surface, ground=stated) > 0.0 else stated

    def grip(self, surface: str | None) -> Value:
        """Coefficient of grip on ramps or deck; a surface not stated is smooth steel."""
        return self.limit("grip.coefficient", surface=surface or "steel_plate", ground=self.state)

    @cached_property
    def ground_grip(self) -> Value:
        """Coefficient of grip of the ground the rig stands on; NaN where its surface is not stated."""
        if self.request.surface is None:
            return Value(value=math.nan, row=None)
        return self.limit("grip.coefficient", surface=self.request.surface, ground=self.request.ground)

    # -- how far the machine's sheet may be off
    @cached_property
    def mass_band_kg(self) -> float:
        """Half-band of the machine's mass: the sheet's, else the share of its class."""
        own = self.body.mass_tolerance_kg
        return self.scalar("tolerance.mass_share") * self.body.mass_kg if math.isnan(own) else own

    @cached_property
    def cg_band_m(self) -> float:
        """Half-band of its centre of gravity: the sheet's, else the class value."""
        own = self.body.cg_tolerance_m
        return self.scalar("tolerance.cg_m") if math.isnan(own) else own

    @cached_property
    def height_band_m(self) -> float:
        """Half-band of its own heights: the sheet's, else the class value."""
        own = self.body.height_tolerance_m
        return self.scalar("tolerance.height_m", method="measured") if math.isnan(own) else own

    # -- which way round
    @cached_property
    def front_entry(self) -> bool:
        """Whether the machine comes on over the trailer's front (neck taken off)."""
        return self.trailer.kind == FRONT_ENTRY

    @cached_property
    def nose_leads(self) -> bool:
        """Whether the machine's nose points inward, up the ramp."""
        return (self.request.move == "load") == (self.request.first == "nose")

    @cached_property
    def slope(self) -> float:
        """Slope of the ground, + rising inward."""
        given = pct_to_ratio(self.request.ground_slope_pct)
        return -given if self.front_entry else given

    @cached_property
    def cross(self) -> float:
        """Slope across, + falling to the right of the trailer."""
        return pct_to_ratio(self.request.ground_cross_slope_pct)

    # -- shapes
    @cached_property
    def deck(self) -> Floats:
        """Deck points (x, z) from the loading edge inward."""
        points = np.array(self.trailer.deck.profile_xz_m, dtype=float)
        points = points[np.argsort(points[:, 0], kind="stable")]
        if self.front_entry:
            points = points[::-1] * [-1.0, 1.0]
        return np.asarray(points - [points[0, 0], 0.0])

    @cached_property
    def deck_end(self) -> float:
        """Length of the deck [m]."""
        return float(self.deck[-1, 0])

    @cached_property
    def level_part(self) -> tuple[float, float, float]:
        """Where wheels may stand on the deck, from the loading edge to the last, and the steepest there.

        The longest part without a slope like that of a beavertail or a neck; of a tilting bed all of it.
        """
        run, rise = np.diff(self.deck, axis=0).T
        slopes = np.abs(rise / run)
        if self.trailer.kind == "tilt_bed":
            return 0.0, self.deck_end, float(slopes.max())
        even = slopes <= self.scalar("deck-position.level")
        parts, start = [(0.0, 0.0, 0.0)], 0
        for end in range(1, len(even) + 1):
            if not even[start:end].all():
                start = end
            else:
                parts.append((float(self.deck[start, 0]), float(self.deck[end, 0]), float(slopes[start:end].max())))
        return max(parts, key=lambda part: part[1] - part[0])

    @cached_property
    def stands_at_m(self) -> float:
        """Height of the deck, empty, where wheels may stand on it [m]."""
        first, last, _ = self.level_part
        x, z = self.deck.T
        return float(z[(x >= first) & (x <= last)].max())

    @cached_property
    def frame_behind(self) -> bool:
        """Whether an axle of the bogie stands behind the bed's rear edge, with its frame and wheels above the bed."""
        body = self.trailer.trailer
        last = ((body.bogie_axles or 1) - 1) / 2.0 * (body.bogie_spacing_m or 0.0)
        return body.hinge_behind_bogie_m is not None and body.hinge_behind_bogie_m < last

    @cached_property
    def sinking(self) -> float:
        """How far the deck goes down under the machine; 0 where only one height is stated [m]."""
        loaded = self.trailer.deck.height_loaded_m
        if self.trailer.kind == "tilt_bed":
            return 0.0  # stated level, driven on tilted
        return max(self.stands_at_m - loaded, 0.0) if loaded is not None else 0.0

    @cached_property
    def ramps(self) -> tuple[Ramp | None, ...]:
        """The ramps, or one None where the deck itself reaches the ground."""
        return self.trailer.ramps or (None,)

    @cached_property
    def foot_sink(self) -> float:
        """How far a ramp's foot may go into the ground: as stated, else by the ground's surface; NaN = not known."""
        given = [ramp.foot_sink_m for ramp in self.trailer.ramps if ramp.foot_sink_m is not None]
        if given:
            return max(given)
        return self.scalar("ramp-foot.sink", surface=self.request.surface) if self.request.surface else math.nan

    def run(self, ramp: Ramp | None, drop: float = 0.0, sink: float = 0.0) -> float:
        """Level length of a ramp, packing taken as its prolongation [m]."""
        if ramp is None:
            return 0.0
        edge = float(self.deck[0, 1]) - drop
        angle = self.ramp_rad(ramp, drop, sink)
        return (edge + sink) / math.tan(angle) if angle > 0.0 else ramp.length_m

    def ramp_rad(self, ramp: Ramp, drop: float = 0.0, sink: float = 0.0) -> float:
        """Angle of a ramp to the ground; packing under its foot lowers it [rad]."""
        high = max(float(self.deck[0, 1]) - drop + sink - self.request.packing_m, 0.0)
        return float(ramp_angle(min(high, ramp.length_m * 0.9999), ramp.length_m))

    def profile(self, ramp: Ramp | None, drop: float = 0.0, sink: float = 0.0, lean: float = 0.0) -> Floats:
        """Give the profile (x, z): level ground, the ramp where it is above it, the deck, the deck's end carried on.

        ``drop``: of the deck's loading edge; ``lean``: slope the deck has taken, + its inner end higher.
        """
        deck = self.deck + np.column_stack((np.zeros(len(self.deck)), lean * self.deck[:, 0] - drop))
        edge = float(deck[0, 1])
        run = self.run(ramp, drop, sink)
        meets = -run * edge / (edge + sink) if ramp is not None and edge + sink > 0.0 else 0.0
        return np.vstack(
            [[meets - AHEAD_M, 0.0], [meets, 0.0], deck, [self.deck_end + AHEAD_M, deck[-1, 1] + lean * AHEAD_M]]
        )

    @cached_property
    def line(self) -> Floats:
        """The profile over the first ramp, on which loads are taken."""
        return self.profile(self.ramps[0], sink=self.gone_in_m)

    @cached_property
    def foot(self) -> float:
        """Where the (first) ramp meets the ground, from the loading edge [m]."""
        return float(self.line[1, 0])

    def foot_of(self, side: str) -> float:
        """Give where the ramp of one side meets the ground [m]."""
        ramp = next((ramp for ramp in self.trailer.ramps if ramp.side in (side, "both")), None)
        return self.foot if ramp is None else float(self.profile(ramp, sink=self.gone_in_m)[1, 0])

    @cached_property
    def outline(self) -> Outline:
        """The machine as it goes on."""
        body = self.body
        lead, trail = (0, -1) if self.nose_leads else (-1, 0)
        sign, datum = (1.0, 0.0) if self.nose_leads else (-1.0, float(body.axle_x_m[-1]))
        turned = [sign * (line - [datum, 0.0]) * [1.0, sign] for line in (body.under_xz_m, body.top_xz_m)]
        under, top = (line[np.argsort(line[:, 0], kind="stable")] for line in turned)
        places = np.column_stack((sign * (body.axle_x_m - datum), body.radius_m))
        return Outline(
            rest=places if self.nose_leads else places[::-1],
            under=under,
            top=top,
            lead_r=float(body.radius_m[lead]),
            trail_r=float(body.radius_m[trail]),
            base=body.wheelbase_m,
            cg_x=sign * (body.cg_m[0] - datum),
            cg_z=body.cg_m[2],
            lead=lead,
            trail=trail,
        )

    def end_of(self, part: str) -> str:
        """Give a part of the machine as its driver calls it."""
        leading, trailing = ("front", "rear") if self.outline.lead == 0 else ("rear", "front")
        return {"leading overhang": f"{leading} overhang", "trailing overhang": f"{trailing} overhang"}.get(part, part)

    @cached_property
    def span(self) -> tuple[float, float]:
        """Where the leading axle runs: from clear of the ramp to the machine's nose at the deck's far end."""
        shape = self.outline
        last = self.deck_end - shape.reach
        return self.foot - shape.reach - 1.0, last if last > shape.base + 0.3 else self.deck_end

    @cached_property
    def towing_kg(self) -> float:
        """Mass of the towing vehicle that stands coupled to the rig; none of a rigid vehicle or a neck taken off."""
        return 0.0 if self.trailer.towing is None or self.front_entry else self.trailer.towing.mass_kg
