"""What is swept through corners: a rigid machine in one steering mode, or a vehicle and what it draws on a hinge."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Towed:
    """What is drawn: its coupling, ``hitch_m`` behind the drawing vehicle's front axle; the rest from that coupling.

    ``drawbar_m`` to the middle of its axles; it ends ``front_x_m`` ahead of the coupling and at ``rear_x_m``.
    """

    hitch_m: float
    drawbar_m: float
    front_x_m: float
    rear_x_m: float
    width_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Mover:
    """A machine in one steering mode, in metres from its front axle; ``trail_m`` to the point that trails."""

    trail_m: float
    front_x_m: float
    rear_x_m: float
    width_m: float
    least_radius_m: float
    towed: Towed | None = None

    @property
    def behind_m(self) -> float:
        """How far the end of all that moves is behind the front axle, stretched out."""
        towed = self.towed
        return max(-self.rear_x_m, towed.hitch_m - towed.rear_x_m if towed else 0.0)

    @property
    def lead_m(self) -> float:
        """How far ahead of the corner the front axle has to be followed from for what trails to be in line."""
        return self.trail_m if self.towed is None else self.towed.hitch_m + self.towed.drawbar_m

    @property
    def swept_m(self) -> float:
        """How far beyond the beginning and end of the arcs anything is swept while it gets in line."""
        return max(self.trail_m, self.lead_m) + self.behind_m + self.front_x_m + self.width_m

    def drawn(self) -> Mover | None:
        """Give what is drawn as a machine of its own, from its coupling; None for nothing."""
        towed = self.towed
        if towed is None:
            return None
        return Mover(
            trail_m=towed.drawbar_m,
            front_x_m=towed.front_x_m,
            rear_x_m=towed.rear_x_m,
            width_m=towed.width_m,
            least_radius_m=self.least_radius_m,
        )
