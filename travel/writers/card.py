"""The operator's card: what to do, in order, in as few words as it takes; one or two sheets for the cab."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from travel.domain.plan import Condition, Finding, Leg, ReliedOn, Stop, TravelPlan, Turn
from travel.domain.rules import Rulebook
from travel.writers.document_front import LATEST, flags_text, holds_rows, releasable, release_text
from travel.writers.haul_words import AFTER, BEFORE, MOVE_WORDS, laden_value, move_lines, place_lines
from travel.writers.numbers import length, number, quantity, ranges
from travel.writers.outlook_words import turn_back_texts
from travel.writers.page_lists import SIGNS
from travel.writers.paper import fixed_words
from travel.writers.sentences import Names, sentence
from travel.writers.svg_shunt import begin_text, move_text, moves_text, shunt_svg
from travel.writers.text import isolated, plain
from travel.writers.us_units import MPH_PER_KMH, both, feet_inches, pounds, speed_down
from travel.writers.words import TRIP_WORDS, VERDICTS, change_text, value_text

Units = Literal["metric", "us"]
_ELSEWHERE = ("pre_travel", "weather", "hours")
"""Conditions that stand in a place of their own on the card."""
_PLACES = {"height_m": "height", "width_m": "width", "gross_kg": "gross", "axle_kg": "axle", "wheel_kg": "wheel"}


@dataclass(frozen=True, slots=True)
class CardStep:
    """One thing to do: its sign, the order in large letters, what belongs to it, who helps."""

    kind: Literal["stop", "drive", "turn"]
    sign: str
    order: str
    lines: tuple[str, ...]
    watch: tuple[tuple[str, str], ...] = ()
    verdict: str = ""
    helper: bool = False
    picture_svg: str = ""
    picture_said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """The whole card."""

    title: str
    plan_id: str
    fingerprint: str
    verdict: str
    sign: str
    answer: str
    go: bool
    machine: str
    ends: str
    facts: tuple[tuple[str, str], ...]
    sizes: tuple[tuple[str, str], ...]
    signs: tuple[tuple[str, str, str], ...]
    before: tuple[str, ...]
    conditions: tuple[tuple[str, str], ...]
    trips: tuple[tuple[str, tuple[CardStep, ...]], ...]
    contacts: tuple[tuple[str, str], ...]
    wire_heading: str
    wire: tuple[str, ...]
    wire_source: str
    differs: str
    note: str


def card_of(plan: TravelPlan, rulebook: Rulebook, units: Units = "metric", remark: str = "") -> Card:
    """Give the card of a plan; ``remark`` stands with the answer."""
    writer = _Writer(plan, rulebook, units)
    words = fixed_words()
    contacts = plan.site.get("contacts") or {}
    verdict = "blocked" if plan.outcome == "no_way" else plan.verdict
    ends = " → ".join(writer.named("places", str(plan.request.get(key, "?"))) for key in ("from", "to"))
    return Card(
        title=f"Operator's card, travel plan {plain(plan.plan_id)}",
        plan_id=plain(plan.plan_id),
        fingerprint=plain(plan.fingerprint[:16]),
        verdict=verdict,
        sign=SIGNS[verdict],
        answer=release_text(plan) if releasable(plan) else f"DO NOT MOVE ON THIS CARD. {release_text(plan)}",
        go=releasable(plan),
        machine=plain(plan.machine.get("name", "Machine not named")),
        ends=ends,
        facts=tuple((label, writer.said(text)) for label, text in _facts(plan)),
        sizes=writer.sizes(),
        signs=writer.signs(),
        before=tuple(writer.said(plain(item.text)) for item in plan.conditions if item.kind == "pre_travel"),
        conditions=writer.conditions(item for item in plan.conditions if item.kind not in _ELSEWHERE),
        trips=tuple(item for trip in plan.trips if releasable(plan) for item in writer.with_moves(trip.trip)),
        contacts=tuple((plain(str(who).replace("_", " ")), plain(how)) for who, how in contacts.items()),
        wire_heading=words["wire"]["heading"],
        wire=tuple(words["wire"]["steps"]),
        wire_source=words["wire"]["source"],
        differs=words["differs"]["text"],
        note=" ".join(text for text in ("Metric values in brackets govern." if units == "us" else "", remark) if text),
    )


def _facts(plan: TravelPlan) -> list[tuple[str, str]]:
    """Give what the card holds for, the latest departure where the hour matters, and where to turn back."""
    told = plan.departure is not None and plan.departure["state"] not in ("any_hour", "no_way")
    rows = [row for row in holds_rows(plan) if told or plan.latest_departure or row[0] != LATEST]
    back = turn_back_texts([entry for entry in plan.turn_back if "kind" in entry]) if releasable(plan) else []
    return [*rows, *(("If stopped", text) for text in back)]


class _Writer:
    """Puts a plan's values into the card's words, in one system of units."""

    def __init__(self, plan: TravelPlan, rulebook: Rulebook, units: Units) -> None:
        self.plan, self.rulebook, self.us = plan, rulebook, units == "us"
        self.names: Names = {
            (item.layer, item.feature): str(item.values["name"]) for item in plan.relied_on if item.values.get("name")
        }
        self.how = fixed_words()["change"]["how"]

    def named(self, layer: str, feature: str) -> str:
        name = self.names.get((layer, feature))
        return f"{isolated(name)} ({isolated(feature)})" if name and name != feature else isolated(feature)

    def said(self, text: str) -> str:
        return both(text) if self.us else text

    def value(self, key: str, value: float, up: bool) -> str:
        """Give a size or mass, rounded to the safe side where the units are not those it was written in."""
        metric = quantity(value, "kg" if key.endswith("_kg") else "m")
        if not self.us:
            return metric
        return f"{pounds(value, up) if key.endswith('_kg') else feet_inches(value, up)}\n({metric})"

    def speed(self, value_kmh: float | None) -> str:
        if value_kmh is None:
            return "speed not known: walking pace"
        if self.us:
            return speed_down(value_kmh, MPH_PER_KMH, "mph")
        return speed_down(value_kmh, 1.0, "km/h")

    def own(self, key: str) -> float | None:
        machine = self.plan.machine
        if key == "axle_kg":
            loads = [axle.get("load_kg") for axle in machine.get("axles") or ()]
            return max((float(load) for load in loads if load is not None), default=None)
        found = machine.get(key)
        return float(found) if isinstance(found, (int, float)) else None

    def sizes(self) -> tuple[tuple[str, str], ...]:
        rows = []
        for label, key in (("Our height", "height_m"), ("Our width", "width_m"), ("Our mass", "gross_kg")):
            own = self.own(key)
            rows.append((label, "not in this plan" if own is None else self.value(key, own, up=True)))
        if self.plan.transport is not None:
            rows.append(("Height on the trailer", self.carried("height_m")))
        pace = min((turn.speed_kmh for turn in self.plan.turns if turn.speed_kmh is not None), default=None)
        return tuple(rows if pace is None else [*rows, ("At most in corners", self.speed(pace))])

    def carried(self, key: str) -> str:
        """Give a size or mass of the combination with the machine on it, its height with the tolerance."""
        found = laden_value(self.plan, key)
        return "not known" if found is None else self.value(key, found, up=True)

    def signs(self) -> tuple[tuple[str, str, str], ...]:
        """Give what stands on the way with a size or mass of its own, beside ours."""
        roads = {leg.road for leg in self.plan.legs}
        rows = []
        for item in self.plan.relied_on:
            road = item.values.get("road")
            if item.layer not in ("limits", "overheads") or (road is not None and road not in roads):
                continue
            for field, own_key in (*((key, key) for key in _PLACES), ("clearance_m", "height_m"),
                                   ("bar_height_m", "height_m")):  # fmt: skip
                there = item.values.get(field)
                if not isinstance(there, (int, float)) or (field == "clearance_m" and self.live(item)):
                    continue
                own = self.own(own_key)
                label = _PLACES.get(field, field.removesuffix("_m").replace("_", " "))
                ours = "not in this plan" if own is None else self.value(own_key, own, up=True)
                if own_key == "wheel_kg":  # no plan tells one number for all tyres and slopes
                    ours = "judged tyre by tyre"
                elif self.plan.transport is not None:
                    ours += f"; on the trailer {self.carried(own_key)}"
                rows.append((self.named(item.layer, item.feature),
                             f"{label} {self.value(own_key, float(there), up=False)}", ours))  # fmt: skip
            if self.live(item):
                rows.append((self.named(item.layer, item.feature), self.kept(item.feature), "stowed low"))
        return tuple(rows)

    @staticmethod
    def live(item: ReliedOn) -> bool:
        """Tell whether an overhead is a wire: its measured height says nothing of how near one may come."""
        volts = item.values.get("voltage_kv")
        kind = item.layer == "overheads" and item.values.get("kind") in ("power_line", "wire")
        return kind or (item.layer == "overheads" and isinstance(volts, (int, float)) and volts > 0.0)

    def kept(self, feature: str) -> str:
        """Give the distance to keep from a wire as the plan holds it: the greatest asked for on the way."""
        asked = [
            found.demand
            for found in self.plan.findings
            if found.rule == "line-clearance" and found.where.feature == feature and found.demand is not None
        ]
        return f"live line: keep {self.value('height_m', max(asked), up=True)} away" if asked else "live line"

    def conditions(self, items: Iterable[Condition]) -> tuple[tuple[str, str], ...]:
        """Give conditions with who sees to them; those that say the same stand once, with the flags of all."""
        told: dict[tuple[str, str], set[int]] = {}
        for item in items:
            text = plain(item.text)
            if item.kind in ("unknown", "accepted_unknown"):
                found = next((f for f in self.plan.findings if f.id == item.id), None)
                text = sentence(found, self.rulebook, self.names) if found else text
            key = self.said(text), f"{isolated(item.owner)}, {isolated(item.due)}"
            told.setdefault(key, set()).update(item.flags)
        return tuple(
            (text + (f" ({flags_text(tuple(sorted(flags)))})" if flags else ""), who)
            for (text, who), flags in told.items()
        )

    def with_moves(self, trip: str) -> list[tuple[str, tuple[CardStep, ...]]]:
        """Give a trip, with going onto the trailer before it or off it after it."""
        out = [(TRIP_WORDS[trip], self.steps(trip))]
        if trip in BEFORE and (self.plan.transport or {}).get(BEFORE[trip]):
            out.insert(0, (MOVE_WORDS[BEFORE[trip]], (self.move(BEFORE[trip], trip),)))
        if trip in AFTER and (self.plan.transport or {}).get(AFTER[trip]):
            out.append((MOVE_WORDS[AFTER[trip]], (self.move(AFTER[trip], trip),)))
        return out

    def move(self, move: str, trip: str) -> CardStep:
        """Give one move on or off the trailer, with what to watch there."""
        stand = (self.plan.unloading or {}).get("stand") or {}
        place = self.named("places", str(stand.get("place", "?")))
        first = str(((self.plan.transport or {}).get(move) or {}).get("first", "?"))
        flags = [f.flag for f in self.plan.findings if f.trip == trip and f.leg is None and f.where.scope == "place"]
        lines = tuple(self.said(line) for line in (*place_lines(self.plan)[1:-1], *move_lines(self.plan, move)[1:]))
        order = f"{MOVE_WORDS[move].upper()}: {place}, {first.upper()} FIRST, LOW range, walking pace"
        return CardStep("stop", "▤", order, lines, self.watch(flags), helper=True)

    def steps(self, trip: str) -> tuple[CardStep, ...]:
        """Give the steps of a trip: each stop, and each stretch between two of them."""
        legs = [leg for leg in self.plan.legs if leg.trip == trip]
        stops = [stop for stop in self.plan.stops if stop.trip == trip]
        turns = [turn for turn in self.plan.turns if turn.trip == trip and turn.kind != "through"]
        steps: list[CardStep] = []
        run: list[Leg] = []
        for position, leg in enumerate(legs):
            here = [stop for stop in stops if stop.before_leg == leg.leg]
            before = [turn for turn in turns if position == 0 and turn.after_leg < leg.leg]
            if run and (here or before or _state(run[-1]) != _state(leg)):
                steps.append(self.drive(run))
                run = []
            steps += [self.stop(stop) for stop in here] + [self.turn(turn) for turn in before]
            run.append(leg)
            after = [turn for turn in turns if turn.after_leg == leg.leg]
            if after:
                steps.append(self.drive(run))
                run = []
                steps += [self.turn(turn) for turn in after]
        if run:
            steps.append(self.drive(run))
        return (*steps, *(self.stop(stop) for stop in stops if stop.before_leg is None))

    def stop(self, stop: Stop) -> CardStep:
        place = self.named("places", stop.place) if stop.place else self.named("roads", stop.road)
        order = {"start": "START", "change": "STOP", "spotter": "STOP for the spotter", "end": "END"}[stop.kind]
        lines = []
        changes = "; ".join(change_text(change) for change in stop.changes)
        if changes:
            said = f"{self.how[:1].upper()}{self.how[1:]}. Then: {changes}."
            lines.append(f"Set: {_setting(stop)}." if stop.kind == "start" else said)
        if stop.note:
            lines.append(f"{isolated(stop.note)}.")
        watch = self.watch(stop.flags)
        return CardStep("stop", f"S{stop.stop}", f"{order}: {place}", tuple(lines), watch)

    def turn(self, turn: Turn) -> CardStep:
        order = {"shunt": "SHUNT ROUND", "turn_round": "TURN ROUND"}[turn.kind]
        place = f": {self.named('places', turn.place)}" if turn.place else ""
        line = f"Steer {value_text('steering', turn.steering)}" if turn.steering else "Steer as before"
        if turn.needed_m is not None:
            line += self.said(f", needs {quantity(turn.needed_m, 'm')}, has {quantity(turn.room_m, 'm')}")
        moves = tuple(f"{number}  {self.said(move_text(move))}" for number, move in enumerate(turn.moves, start=1))
        return CardStep(
            "turn",
            "↺",
            f"{order}{place}",
            (f"{line}.", *((self.said(f"{begin_text(turn)}."),) if moves else ()), *moves),
            self.watch(turn.flags),
            helper=bool(moves),
            picture_svg=shunt_svg(self.plan, turn),
            picture_said=f"Seen from above: {moves_text(turn)}" if moves else "",
        )

    def drive(self, legs: Sequence[Leg]) -> CardStep:
        """Give one stretch between stops; its verdict is the worst of its legs."""
        first = legs[0]
        gears = " then ".join(dict.fromkeys(isolated(leg.gear) for leg in legs))
        speeds = _runs([(self.named("roads", leg.road), self.speed(leg.speed_kmh)) for leg in legs])
        verdict = min((leg.verdict for leg in legs), key=VERDICTS.index)
        total = sum(leg.length_m for leg in legs)
        order = f"{first.travel.upper()}, {first.range.upper()} range, {self.said(length(total))}"
        if len(speeds) == 1:
            order += f", no faster than {speeds[0][1]}"
            along = [speeds[0][0]]
        else:
            order += ", top speeds below"
            along = [f"{speed}: {road}" for road, speed in speeds]
        how = f"Gear {gears}, steer {value_text('steering', first.steering)}, {value_text('drive', first.drive)}."
        grade = self.grade(legs)
        told = {flag for turn in self.plan.turns if turn.moves for flag in turn.flags}
        flags = tuple(dict.fromkeys(flag for leg in legs for flag in leg.flags if flag not in told))
        along[-1] += "."
        lines = (how, *along, *([grade] if grade else []))
        helper = any(item.control for item in self.found(flags))
        return CardStep("drive", SIGNS[verdict], order, lines, self.watch(flags), verdict, helper)

    def grade(self, legs: Sequence[Leg]) -> str:
        """Give the steepest grade of a stretch, up or down."""
        numbers = {leg.leg for leg in legs}
        found = [
            grade
            for profile in self.plan.profile
            for grade, leg in zip(profile.grade_pct, profile.leg, strict=False)
            if leg in numbers
        ]
        if not found or any(grade is None for grade in found):
            return "Grade not known."
        steepest = max((grade for grade in found if grade is not None), key=abs)
        if abs(steepest) < 2.0:
            return ""
        return f"Steepest {number(abs(steepest), '%')} % {'up' if steepest > 0 else 'down'}."

    def found(self, flags: Sequence[int]) -> list[Finding]:
        return [finding for finding in self.plan.findings if finding.flag in flags]

    def watch(self, flags: Sequence[int]) -> tuple[tuple[str, str], ...]:
        """Give what to watch on a stretch: each different sentence once, the worst first, with its flags."""
        said: dict[str, list[int]] = {}
        for finding in sorted(self.found(flags), key=lambda item: VERDICTS.index(item.verdict)):
            text = sentence(finding, self.rulebook, self.names)
            mark = "" if finding.verdict == "caution" else f"{finding.verdict.upper()}: "
            said.setdefault(f"{mark}{text}", []).append(finding.flag)
        return tuple((ranges(numbers), self.said(text)) for text, numbers in said.items())


def _setting(stop: Stop) -> str:
    """Give how the machine is set at the start, without what the words tell by themselves."""
    words = {"range": "{} range", "steering": "steer {}", "gear": "gear {}"}
    return ", ".join(
        words.get(change.what, "{}").format(value_text(change.what, change.new)) for change in stop.changes
    )


def _state(leg: Leg) -> tuple[Any, ...]:
    return (leg.travel, leg.range, leg.steering, leg.drive, leg.attitude)


def _runs(pairs: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """Give neighbouring roads of one speed as one."""
    runs: list[tuple[list[str], str]] = []
    for road, speed in pairs:
        if runs and runs[-1][1] == speed:
            runs[-1][0].append(road)
        else:
            runs.append(([road], speed))
    return [(" → ".join(dict.fromkeys(roads)), speed) for roads, speed in runs]
