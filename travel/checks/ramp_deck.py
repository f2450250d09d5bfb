"""Where the machine may stand on the deck: coupling, bogie and towing axles within what they are rated for."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from travel.checks.outcome import Outcome
from travel.checks.ramp_case import RampCase
from travel.checks.ramp_facts import Lacks, RampAnswer, RampFacts, ramp_rule
from travel.checks.ramp_rig import coupling_parts


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """``at_edge`` + ``per_m`` × (front axle from the rear edge) must lie within ``least`` and ``most`` [kg]."""

    name: str
    at_edge: float
    per_m: float
    least: float
    most: float

    def value(self, x_m: float) -> float:
        """Give the load with the front axle at x [kg]."""
        return self.at_edge + self.per_m * x_m

    def room(self, x_m: float) -> float:
        """Give the least room left, over what is allowed."""
        load = self.value(x_m)
        above = (self.most - load) / self.most if math.isfinite(self.most) else math.inf
        below = (load - self.least) / max(abs(self.least), abs(self.at_edge), 1.0) if math.isfinite(self.least) else 1e9
        return min(above, below)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The window of the front axle from the deck's rear edge, the best place in it, and the loads there [kg]."""

    window: tuple[float, float] | None
    best: float | None
    coupling: float | None
    bogie: float | None
    towing: tuple[float | None, ...]
    bounds: tuple[Bound, ...]
    lacks: tuple[str, ...]


def standing(case: RampCase) -> Standing:
    """Give where the machine may stand: straight lines of load over place, cut exactly."""
    lacks = Lacks()
    bounds = _bounds(case, lacks)
    low, high = _within(case, bounds)
    if lacks.names and not bounds:
        return Standing(
            window=None, best=None, coupling=None, bogie=None, towing=(), bounds=(), lacks=tuple(lacks.names)
        )
    window = (low, high) if low <= high else None
    best = _best(bounds, *(window or _room(case)))
    if _room(case)[0] > _room(case)[1]:
        window = None
    return _stood(case, window, best, bounds, tuple(dict.fromkeys(lacks.names)))


def _stood(
    case: RampCase, window: tuple[float, float] | None, best: float, bounds: list[Bound], lacks: tuple[str, ...]
) -> Standing:
    loads = {bound.name: bound.value(best) for bound in bounds}
    towing = case.trailer.towing
    return Standing(
        window=window,
        best=best,
        coupling=loads.get("coupling"),
        bogie=loads.get("bogie"),
        towing=tuple(loads.get(f"axle {axle.name}") for axle in towing.axles) if towing else (),
        bounds=tuple(bounds),
        lacks=lacks,
    )


def standing_otherwise(case: RampCase, there: Standing) -> tuple[tuple[RampCase, Standing], ...]:
    """Give the case and its loads at the same place with mass and centre of gravity at the corners of their bands."""
    if there.best is None:
        return ()
    others = [_moved(case, mass, cg) for mass, cg in _corners(case)]
    return tuple((one, _stood(one, there.window, there.best, _bounds(one, Lacks()), there.lacks)) for one in others)


def _corners(case: RampCase) -> list[tuple[float, float]]:
    return list(product((-case.mass_band_kg, case.mass_band_kg), (-case.cg_band_m, case.cg_band_m)))


def _moved(case: RampCase, mass_kg: float, cg_m: float) -> RampCase:
    """Give the case with the machine heavier and its centre of gravity further forward by so much."""
    body = case.body
    moved = replace(body, mass_kg=body.mass_kg + mass_kg, cg_m=(body.cg_m[0] + cg_m, *body.cg_m[1:]))
    return replace(case, body=moved)


def _within(case: RampCase, bounds: list[Bound]) -> tuple[float, float]:
    """Give the window's ends; the second before the first where there is none."""
    low, high = _room(case)
    for bound in bounds:
        low, high = _cut(bound, low, high)
    return low, high


def _shorter_m(case: RampCase) -> tuple[float, float]:
    """Give the window's length, negative where there is none, and by how much less it may be.

    Mass and centre of gravity may be anywhere within their half-bands; the shortest of their corners counts.
    """
    lengths = []
    for mass, cg in ((0.0, 0.0), *_corners(case)):
        other = _moved(case, mass, cg)
        low, high = _within(other, _bounds(other, Lacks()))
        lengths.append(high - low)
    there = lengths[0] if math.isfinite(lengths[0]) else -1.0
    least = min(lengths)
    return there, there - least if math.isfinite(least) else there + 1.0


def _room(case: RampCase) -> tuple[float, float]:
    """Give where the front axle may be so that wheels are on the deck's level part and the body within its length.

    At the deck's front end the tyres stay within it as the body does, and at its rear where a frame stands behind.
    """
    body, (begins, ends, _) = case.body, case.level_part
    if case.front_entry:
        begins, ends = case.deck_end - ends, case.deck_end - begins
    nose_in = (case.request.move == "load") == (case.request.first == "nose")
    faces_nose = nose_in != case.front_entry
    margin, (near, far) = case.scalar("deck-position.edge"), body.radius_m[[-1, 0] if faces_nose else [0, -1]]
    ahead = max(body.front_x_m if faces_nose else -body.rear_x_m - body.wheelbase_m, float(far))
    first = max(begins + margin, float(near) if case.frame_behind else 0.0) + (body.wheelbase_m if faces_nose else 0.0)
    last = min(case.deck_end - ahead, ends) - (0.0 if faces_nose else body.wheelbase_m)
    return first, last


def _bounds(case: RampCase, lacks: Lacks) -> list[Bound]:
    body, mass = case.trailer.trailer, case.body.mass_kg
    lacks.need("trailer.coupling_to_bogie_m", body.coupling_to_bogie_m)
    lacks.need("trailer.hinge_behind_bogie_m", body.hinge_behind_bogie_m)
    if body.coupling_to_bogie_m is None or body.hinge_behind_bogie_m is None:
        return []
    base, hinge = body.coupling_to_bogie_m, body.hinge_behind_bogie_m
    nose_in = (case.request.move == "load") == (case.request.first == "nose")
    sign = 1.0 if nose_in != case.front_entry else -1.0
    cg = sign * case.body.cg_m[0]
    # front axle at x from the rear edge: centre of gravity at x + cg, behind the coupling base + hinge - x - cg
    coupling_at = body.coupling_kg + mass * (cg - hinge) / base
    bogie_at = body.bogie_kg + mass * (base + hinge - cg) / base
    lacks.need("trailer.coupling_rating_kg", body.coupling_rating_kg)
    lacks.need("trailer.bogie_rating_kg", body.bogie_rating_kg)
    least = case.scalar("deck-position.least_coupling_share") * (body.mass_kg + mass)
    bounds = [
        Bound(name="coupling", at_edge=coupling_at, per_m=mass / base, least=least,
              most=math.inf if body.coupling_rating_kg is None else body.coupling_rating_kg),
        Bound(name="bogie", at_edge=bogie_at, per_m=-mass / base, least=0.0,
              most=math.inf if body.bogie_rating_kg is None else body.bogie_rating_kg),
    ]  # fmt: skip
    return bounds + _towing_bounds(case, bounds[0], lacks)


def _towing_bounds(case: RampCase, coupling: Bound, lacks: Lacks) -> list[Bound]:
    out: list[Bound] = []
    towing = case.trailer.towing
    if towing is None:
        return out
    lacks.need("towing.coupling_x_m", towing.coupling_x_m)
    for axle, share in zip(towing.axles, coupling_parts(case), strict=True):
        lacks.need(f"towing.axles.{axle.name}.rating_kg", axle.rating_kg)
        if not math.isnan(share):
            out.append(
                Bound(
                    name=f"axle {axle.name}",
                    at_edge=axle.load_kg + share * coupling.at_edge,
                    per_m=share * coupling.per_m,
                    least=0.0,
                    most=math.inf if axle.rating_kg is None else axle.rating_kg,
                )
            )
    return out


def _cut(bound: Bound, low: float, high: float) -> tuple[float, float]:
    for limit, upper in ((bound.most, True), (bound.least, False)):
        if not math.isfinite(limit):
            continue
        if abs(bound.per_m) < 1e-12:
            bad = bound.at_edge > limit if upper else bound.at_edge < limit
            low, high = (math.inf, -math.inf) if bad else (low, high)
        elif (bound.per_m > 0.0) == upper:
            high = min(high, (limit - bound.at_edge) / bound.per_m)
        else:
            low = max(low, (limit - bound.at_edge) / bound.per_m)
    return low, high


def _best(bounds: list[Bound], low: float, high: float) -> float:
    """Give the place with the greatest least room: a peak of straight lines, found at their crossings or the ends."""
    if low >= high:
        return (low + high) / 2.0
    places = np.linspace(low, high, 401)
    for _ in range(4):
        rooms = [min(bound.room(float(x)) for bound in bounds) for x in places]
        at = int(np.argmax(rooms))
        places = np.linspace(places[max(at - 1, 0)], places[min(at + 1, len(places) - 1)], 41)
    return float(places[int(np.argmax([min(b.room(float(x)) for b in bounds) for x in places]))])


@ramp_rule("deck-position")
def deck_position(facts: RampFacts) -> list[RampAnswer]:
    """Whether there is a place, and how long the window is."""
    case = facts.case
    found = standing(case)
    length, band = _shorter_m(case)
    room = _room(case)
    worst = min(found.bounds, key=lambda b: b.room(found.best or 0.0), default=None)
    part = "length of the window" if room[0] <= room[1] else "the deck is too short for the machine"
    if not found.window and worst is not None and found.best is not None:
        part = f"{worst.name} {worst.value(found.best):.0f} kg of {worst.most:.0f}" if room[0] <= room[1] else part
    return [
        RampAnswer(
            rule="deck-position",
            part=part,
            outcome=Outcome(
                demand=0.0,
                capacity=length,
                tolerance=max(band, 0.0),
                caution=case.scalar("deck-position.caution"),
                missing={name: np.array(True) for name in found.lacks},
                limit_source="manual",
            ),
        )
    ]
