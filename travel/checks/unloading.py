"""Where a machine goes on or off a trailer: one place judged for one rig, part by part.

The rig stands in line with its ramps and the machine's run-off on free ground; the strip it takes is as near the place
as the ground lets it. A value that is not known leaves its part unknown.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely

from travel.checks.case import Case
from travel.checks.ground import PAVED
from travel.checks.hours import active
from travel.checks.hung import hung
from travel.checks.outcome import Outcome, judge
from travel.checks.ramp_case import Value
from travel.checks.ramp_facts import Lacks, RampFacts, column
from travel.checks.ramp_loads import deck_height
from travel.checks.unloading_bearing import bearing_under, soft_patches
from travel.checks.unloading_free import TAKING
from travel.checks.unloading_ground import footprint, roads_at, surveyed
from travel.checks.unloading_past import way_round
from travel.checks.unloading_stand import FAR_M, Standing, turned
from travel.domain.ramp import SLOPES
from travel.domain.verdict import Verdict
from travel.mechanics.beside import keep_clear
from travel.mechanics.ramp_statics import ramp_share
from travel.mechanics.roll_engine import placed
from travel.units import kg_to_n

RULE = "unloading-place"
BARRED = ("public", "work_area")
"""Kinds of people that may not be in the fall zone unless something named keeps them out."""


@dataclass(frozen=True, eq=False, kw_only=True)
class PlaceAnswer:
    """One part of the rule at one place; ``unit`` is that of the part."""

    part: str
    unit: str
    outcome: Outcome
    layer: str = ""
    feature: str = ""
    acceptable: bool = True

    @cached_property
    def verdict(self) -> Verdict:
        """The judge's answer."""
        return Verdict(int(np.asarray(judge(self.outcome)).max()))

    @cached_property
    def missing(self) -> tuple[str, ...]:
        """What is not known."""
        return tuple(name for name, where in self.outcome.missing.items() if bool(np.asarray(where).any()))


def judge_place(standing: Standing, facts: RampFacts, case: Case) -> tuple[PlaceAnswer, ...]:
    """Ask every part of the rule.

    Args:
        standing: how the rig would stand
        facts: machine and trailer, with the slopes of this ground
        case: the trip on which the rig comes: site, hour, weather, limits
    """
    ask = _Ask(standing, facts, case)
    parts: tuple[Callable[[], list[PlaceAnswer]], ...] = (
        ask.room, ask.slopes, ask.feet, ask.legs, ask.overhead, ask.people, ask.traffic, ask.past,
    )  # fmt: skip
    return tuple(answer for part in parts for answer in part())


class _Ask:
    """The parts of the rule at one place."""

    def __init__(self, standing: Standing, facts: RampFacts, case: Case) -> None:
        self.standing, self.facts, self.case = standing, facts, case
        self.ground, self.site = standing.ground, case.survey.site

    def limit(self, name: str) -> Value:
        return self.facts.case.limit(f"unloading-place.{name}")

    def answer(
        self, part: str, unit: str, lacks: Lacks, limit: Value | None = None, acceptable: bool = True, **outcome: Any
    ) -> PlaceAnswer:
        where: dict[str, str] = {name: outcome.pop(name, "") for name in ("layer", "feature")}
        known = None if limit is None else column(limit)
        return PlaceAnswer(
            part=part,
            unit=unit,
            outcome=Outcome(missing=lacks.table(), limit=known, **outcome),
            acceptable=acceptable,
            **where,
        )

    def looked(self, *layers: str) -> Lacks:
        lacks = Lacks()
        for layer in layers:
            lacks.need(f"surveyed.{layer}", True if surveyed(self.site, layer) else None)
        return lacks

    def room(self) -> list[PlaceAnswer]:
        lacks = self.looked("places" if self.ground.area is None else "areas", *TAKING)
        lacks.need("free ground (an unloading area, or turn_radius_m)", self.ground.shape)
        lacks.need("heading of the rig", self.standing.heading_rad)
        lacks.need("combination.length_m", self.standing.length_m)
        taken = self.standing.cut_by()
        if taken and not taken.sure and not self.standing.room_m > self.standing.need_m:
            lacks.need(f"distance to keep from {taken.feature} (depth, batter)", None)
        return [
            self.answer(
                "room in line",
                "m",
                lacks,
                layer=taken.layer if taken else "",
                feature=taken.feature if taken else "",
                demand=self.standing.need_m,
                capacity=self.standing.room_m,
                tolerance=2.0 * self.case.survey.tolerance.plan_m,
                caution=self.limit("room_caution").value,
                limit_source="site",
            )
        ]

    def slopes(self) -> list[PlaceAnswer]:
        along, across = self.facts.case.slope, self.facts.case.cross
        stated = self.ground.slopes_at(self.standing.heading_rad)[0]
        told = self.ground.slopes_told(self.standing.heading_rad)
        out = []
        for part, name, value, known, hearsay, band in (
            ("slope along", "slope", along, stated[0], told[0], self.case.survey.tolerance.grade_ratio),
            ("slope across", "cross_slope", across, stated[1], told[1], self.case.survey.tolerance.cross_slope_ratio),
        ):
            limit, lacks = self.limit(name), Lacks()
            lacks.names += [word for word in self.ground.told if hearsay and word.endswith("slope_pct told")]
            lacks.need(f"{name}_pct", known)
            out.append(
                self.answer(
                    part,
                    "%",
                    lacks,
                    limit,
                    demand=abs(value),
                    capacity=limit.value,
                    tolerance=band,
                    caution=self.limit("slope_caution").value,
                )
            )
        return out

    def _pressed(self, part: str, load_n: float, area_m2: float, lacks: Lacks) -> list[PlaceAnswer]:
        lacks.names += self.looked("ground").names
        strip = self.standing.strip()
        bearing = bearing_under(self.ground, strip, self.case, lacks)
        if self.ground.surface in PAVED and not len(soft_patches(strip, self.case)):
            return []  # paved throughout, which is for whoever laid it
        return [
            self.answer(
                part,
                "kPa",
                lacks,
                acceptable=False,
                demand=load_n / area_m2,
                capacity=bearing,
                tolerance=self.limit("bearing_tolerance").value * load_n / area_m2,
                caution=self.limit("bearing_caution").value * load_n / area_m2,
                limit_source="site",
            )
        ]

    def feet(self) -> list[PlaceAnswer]:
        trailer = self.facts.case.trailer
        if not trailer.ramps:
            return []
        narrow = min(ramp.width_m for ramp in trailer.ramps)
        load = max(float(np.nanmax(side)) for facts in self.facts.carried for side in facts.ramp_n.values())
        lacks = Lacks()
        lacks.stated(self.facts.case, *SLOPES)
        return self._pressed("ground under the ramp feet", load, narrow * self.limit("foot_length").value, lacks)

    def legs(self) -> list[PlaceAnswer]:
        """One of two legs takes at most half the machine, more on a cross slope; what stands ahead takes from it."""
        case, lacks = self.facts.case, Lacks()
        if case.trailer.trailer.rear_legs == "up":
            return []
        lacks.need("trailer.rear_legs (up or down)", case.trailer.trailer.rear_legs)
        pad, body = case.trailer.trailer.leg_pad_m2, case.body
        lacks.need("trailer.leg_pad_m2", pad)
        lacks.need("machine.attitudes.cg_y_m", body.cg_m[1])
        lacks.stated(case, "ground_cross_slope_pct")
        heaviest = kg_to_n(body.mass_kg + case.mass_band_kg)
        aside = abs(body.cg_m[1]) + case.cg_band_m
        leg = ramp_share(heaviest, aside, abs(case.cross), body.cg_m[2] + deck_height(case),
                         float(body.track_m.min()))  # fmt: skip
        return self._pressed("ground under the rear legs", float(leg), pad or 1.0, lacks)

    @cached_property
    def top_m(self) -> float:
        """Greatest height of machine or deck while it goes on or off, square to the ground."""
        heights = []
        for facts in self.facts.stands:
            stood, shape = facts.rolling.stood, facts.case.outline
            heights += [np.nanmax(placed(stood, shape.lead_r, float(x), float(z))[1]) for x, z in shape.top]
        return float(max(heights))

    def _solid(self, row: int, named: dict[str, Any]) -> PlaceAnswer:
        """Give a thing overhead that is no wire: its height against the highest that machine and rig stand there."""
        layer, lacks = self.site.layers["overheads"], Lacks()
        height = float(layer.number("clearance_m")[row])
        lacks.need("clearance_m", height)
        lacks.names += ["clearance_m told"] if layer.method("clearance_m")[row] in ("told", "assumed") else []
        rig = self.facts.case.trailer.combination.height_m
        lacks.need("combination.height_m", rig)
        return self.answer(
            "overhead",
            "m",
            lacks,
            acceptable=False,
            demand=max(self.top_m, rig or 0.0) + self.limit("overhead_margin").value,
            capacity=height,
            tolerance=self.case.survey.tolerance.height_m + self.facts.case.height_band_m,
            caution=self.limit("overhead_caution").value,
            limit_source="site",
            **named,
        )

    def overhead(self) -> list[PlaceAnswer]:
        layer, strip = self.site.layers["overheads"], self.standing.strip()
        if strip is None or not surveyed(self.site, "overheads"):
            lacks = self.looked("overheads")
            lacks.need("combination.length_m", self.standing.length_m)
            return [self.answer("overhead", "m", lacks, acceptable=False)]
        out, what = [], hung(self.case)
        for row in range(len(layer)):
            distance = float(shapely.distance(footprint(layer, row), strip)) - self.case.survey.tolerance.plan_m
            wire = bool(what.wire[row] and not what.isolated[row])
            named: dict[str, Any] = {"layer": "overheads", "feature": layer.ids[row]}
            if wire and distance < self.limit("line_distance").value:
                limit = self.limit("line_distance")
                out.append(
                    self.answer(
                        "line overhead or near",
                        "m",
                        Lacks(),
                        limit,
                        acceptable=False,
                        demand=limit.value,
                        capacity=max(distance, 0.0),
                        **named,
                    )
                )
            elif not wire and distance <= 0.0:
                out.append(self._solid(row, named))
        return out or [self.answer("overhead", "m", Lacks(), permitted=np.array(True))]

    @cached_property
    def fall_m(self) -> float:
        """Width beside the ramps and the deck that a machine coming off sideways may reach."""
        case = self.facts.case
        return float(
            keep_clear(
                height_m=case.body.height_m + deck_height(case),
                height_ratio=self.case.scalar("people.height_ratio"),
                margin_m=self.case.scalar("people.margin"),
            )
        )

    def people(self) -> list[PlaceAnswer]:
        """The fall zone is free of people; where something named keeps them out, a marshal sees to it."""
        strip, layer, out = self.standing.strip(), self.site.layers["people"], []
        if strip is None or not surveyed(self.site, "people"):
            lacks = self.looked("people")
            lacks.need("combination.length_m", self.standing.length_m)
            return [self.answer("people in the fall zone", "m", lacks)]
        here = active(layer, self.case) if len(layer) else np.empty(0, dtype=bool)
        for row in np.flatnonzero(here):
            gap = float(shapely.distance(layer.geometry[row], strip))
            if gap - self.case.survey.tolerance.plan_m >= self.fall_m:
                continue
            barred = layer.text("kind")[row] in BARRED and not layer.text("control")[row]
            out.append(
                self.answer(
                    "people in the fall zone",
                    "m",
                    Lacks(),
                    demand=self.fall_m,
                    capacity=gap,
                    tolerance=self.case.survey.tolerance.plan_m,
                    permitted=np.array(not barred),
                    controlled=True,
                    control="people-kept-out",
                    layer="people",
                    feature=layer.ids[row],
                )
            )
        return out or [self.answer("people in the fall zone", "m", Lacks(), permitted=np.array(True))]

    def traffic(self) -> list[PlaceAnswer]:
        """Other traffic on any road through the fall zone is held; whether there is any must be known."""
        strip, roads, lacks = self.standing.strip(self.fall_m), self.site.layers["roads"], Lacks()
        if strip is None:
            lacks.need("combination.length_m", None)
            return [self.answer("traffic in the fall zone", "", lacks)]
        near = [row for row in range(len(roads)) if shapely.intersects(roads.geometry[row], strip)]
        own = () if self.ground.place is None else self._own_roads()
        words = {row: roads.text("traffic")[row] for row in near}
        unknown = [row for row, word in words.items() if word is None]
        busy = [row for row, word in words.items() if word in ("two_way", "one_at_a_time")]
        shown = next(iter([r for r in unknown if r in own] or unknown or busy), None)
        lacks.names += ["traffic"] if unknown else []
        feature = "" if shown is None else roads.ids[shown]
        return [
            self.answer(
                "traffic in the fall zone",
                "",
                lacks,
                permitted=np.array(True),
                controlled=bool(busy),
                control="traffic-held",
                layer="roads" if feature else "",
                feature=feature,
            )
        ]

    def _own_roads(self) -> tuple[int, ...]:
        assert self.ground.place is not None
        return roads_at(self.case.survey, self.case.survey.network.place_node[self.ground.place])

    def past(self) -> list[PlaceAnswer]:
        """An engine passes beside the rig on its ground, or the site is reached without the road it stands on."""
        lacks, limit = Lacks(), self.limit("emergency_way")
        round_it = way_round(self.case, self.ground.place, limit.value)
        free = self._beside()
        if round_it is None:
            lacks.need("a place of the roads", None)
        if not round_it:
            lacks.need("free ground (an unloading area, or turn_radius_m)", self.ground.shape)
            lacks.need("combination.length_m", self.standing.length_m)
            lacks.need("heading of the rig", self.standing.heading_rad)
        part = "emergency way past it"
        if round_it:
            return [self.answer(part, "m", lacks, limit, demand=limit.value, capacity=free, permitted=np.array(True))]
        return [self.answer(part, "m", lacks, limit, demand=limit.value, capacity=free,
                            tolerance=self.case.survey.tolerance.plan_m, caution=0.0)]  # fmt: skip

    def _beside(self) -> float:
        """Give the width left free beside the rig over its whole length, on the wider side."""
        strip, standing = self.standing.strip(rig_only=True), self.standing
        if strip is None or self.ground.shape is None or standing.heading_rad is None:
            return math.nan
        (first, last), best = standing.rig_m, 0.0
        for side in (1.0, -1.0):
            edge = side * standing.width_m / 2.0
            band = shapely.box(first, min(edge, side * FAR_M), last, max(edge, side * FAR_M))
            taken = turned(band, standing).difference(self.ground.shape)
            line = turned(shapely.LineString([(first, edge), (last, edge)]), standing)
            best = max(best, float(shapely.distance(taken, line)))
        return best
