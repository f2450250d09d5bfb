"""What is drawn of the plan: the ways by verdict, arrows, flags, stops, and the positions behind the profile."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np

from travel.domain.plan import ProfileTrip, TravelPlan, Where
from travel.domain.site import Site
from travel.writers.geo import Floats, Frame, TripPath, finding_driven, stretch_xy, where_xy
from travel.writers.map_features import Feature, MapLayer, Style
from travel.writers.numbers import duration, length, quantity
from travel.writers.svg_shunt import move_text
from travel.writers.together import marked
from travel.writers.words import TRIP_WORDS, leg_text, value_text

COLOURS = {"clear": "#0f5470", "caution": "#9a4a00", "unknown": "#5e2a8c", "blocked": "#8e0b25"}
"""Chosen apart in lightness and hue; pattern and weight tell them apart without colour."""
WAY_STYLES: dict[str, Style] = {
    "clear": {"color": COLOURS["clear"], "weight": 6, "lineCap": "butt"},
    "caution": {"color": COLOURS["caution"], "weight": 8, "dashArray": "16 7", "lineCap": "butt"},
    "unknown": {"color": COLOURS["unknown"], "weight": 7, "dashArray": "0.1 12", "lineCap": "round"},
    "blocked": {"color": COLOURS["blocked"], "weight": 4, "lineCap": "butt"},
}
CASING: Style = {"color": "#ffffff", "weight": 11, "opacity": 0.95, "lineCap": "butt"}
SWEPT: Style = {"color": "#1c1c1c", "weight": 1.5, "dashArray": "3 3", "className": "fill-swept"}
MOVES: dict[str, Style] = {
    "forward": {"color": "#111111", "weight": 4},
    "reverse": {"color": "#111111", "weight": 4, "dashArray": "6 4"},
}
"""The moves of a shunt: forwards drawn through, backwards dashed."""
SAMPLES = 300
CROSS_M = 10.0


def runs_of(plan: TravelPlan, path: TripPath, profile: ProfileTrip | None) -> list[tuple[float, float, int, str]]:
    """Give the stretches of a trip with one leg and one verdict: (from, to, leg, verdict) by distance driven.

    Entry i of the profile's ``leg`` and ``verdict`` holds between the distances i and i + 1.
    """
    pieces: list[tuple[float, float, int, str]] = []
    count = 0 if profile is None else len(profile.distance_m) - 1
    if profile is not None and count > 0 and len(profile.verdict) >= count <= len(profile.leg):
        ends = pairwise(profile.distance_m)
        pieces = [(*end, leg, word) for end, leg, word in zip(ends, profile.leg, profile.verdict, strict=False)]
    else:
        start = 0.0
        for leg in plan.legs:
            if leg.trip == path.trip:
                pieces.append((start, start + leg.length_m, leg.leg, leg.verdict))
                start += leg.length_m
    runs: list[tuple[float, float, int, str]] = []
    for begin, end, leg_number, verdict in pieces:
        if end - begin < 1e-6:
            continue
        if runs and runs[-1][2:] == (leg_number, verdict):
            runs[-1] = (runs[-1][0], end, leg_number, verdict)
        else:
            runs.append((begin, end, leg_number, verdict))
    return runs


def way_layer(plan: TravelPlan, path: TripPath, frame: Frame, offset_m: float) -> tuple[MapLayer, list[list[float]]]:
    """Give one trip as features (a white casing under each run) and the positions of crosses on blocked runs."""
    profile = next((item for item in plan.profile if item.trip == path.trip), None)
    beside = path.beside(offset_m)
    layer = MapLayer(path.trip, TRIP_WORDS[path.trip], [], {"casing": CASING, **WAY_STYLES})
    crosses: list[list[float]] = []
    legs = {leg.leg: leg for leg in plan.legs}
    for begin, end, leg_number, verdict in runs_of(plan, path, profile):
        line = frame.to_lonlat(beside.part(begin, end))
        leg = legs.get(leg_number)
        title = f"{TRIP_WORDS[path.trip]}, leg {leg_number}: {verdict}"
        rows = [["from start", f"{length(begin)} to {length(end)}"]]
        if leg is not None:
            rows += [["road", leg.road], ["drive", leg_text(leg)], ["time of the leg", duration(leg.time_s)]]
            rows += [["flags", ", ".join(str(flag) for flag in leg.flags)]] if leg.flags else []
        layer.features += [
            _line(len(layer.features), line, {"title": "", "rows": [], "style": "casing"}),
            _line(len(layer.features) + 1, line, {"title": title, "rows": rows, "style": verdict}),
        ]
        if verdict == "blocked":
            crosses += _crosses(beside, begin, end, frame)
    return layer, crosses


def stretch_layer(plan: TravelPlan, site: Site, frame: Frame) -> tuple[MapLayer, list[list[float]]]:
    """Give flagged stretches that no way runs over (what stops the machine), and crosses on the blocked ones."""
    layer = MapLayer("stretches", "Flagged, not driven", [], {"casing": CASING, **WAY_STYLES})
    crosses: list[list[float]] = []
    for finding in plan.findings:
        xy = stretch_xy(finding.where, site) if finding.leg is None else None
        if xy is None:
            continue
        line = frame.to_lonlat(xy)
        title = f"Flag {finding.flag}: {finding.verdict}"
        layer.features += [
            _line(len(layer.features), line, {"title": "", "rows": [], "style": "casing"}),
            _line(len(layer.features) + 1, line, {"title": title, "rows": [], "style": finding.verdict}),
        ]
        if finding.verdict == "blocked":
            steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
            on_road = TripPath("", xy, steps, np.zeros(len(xy) - 1, dtype=np.int64))
            crosses += _crosses(on_road, 0.0, float(steps[-1]), frame)
    return layer, crosses


def swept_layer(plan: TravelPlan) -> MapLayer | None:
    """Give what the machine sweeps in each corner of the way, or nothing where no corner is known."""
    layer = MapLayer("swept", "Swept in corners and when turning round", [], {"swept": SWEPT})
    for turn in plan.turns:
        if len(turn.swept_lonlat) < 3:
            continue
        rows = [["steering", value_text("steering", turn.steering) if turn.steering else "as before"]]
        if turn.needed_m is not None and turn.room_m is not None:
            rows += [["needs", quantity(turn.needed_m, "m")], ["there", quantity(turn.room_m, "m")]]
        rows += [[f"move {number}", move_text(move)] for number, move in enumerate(turn.moves, start=1)]
        title = f"Turn {turn.turn}, {TRIP_WORDS[turn.trip].lower()}"
        ring = [[lon, lat] for lon, lat in (*turn.swept_lonlat, turn.swept_lonlat[0])]
        layer.features.append(
            {
                "type": "Feature",
                "id": f"swept{turn.turn}",
                "geometry": {"type": "Polygon", "coordinates": [ring]},
                "properties": {"title": title, "rows": rows, "style": "swept"},
            }
        )
    return layer if layer.features else None


def moves_layer(plan: TravelPlan) -> MapLayer | None:
    """Give the moves of every shunt of the way, or nothing without one."""
    layer = MapLayer("moves", "Moves of a shunt", [], dict(MOVES))
    for turn in plan.turns:
        for number, move in enumerate(turn.moves, start=1):
            title = f"Turn {turn.turn}, {TRIP_WORDS[turn.trip].lower()}, move {number}"
            named = {"title": title, "rows": [["", move_text(move)]], "style": move.travel}
            layer.features.append(_line(f"move{turn.turn}-{number}", np.array(move.path_lonlat), named))
    return layer if layer.features else None


def arrows(path: TripPath, frame: Frame, offset_m: float, back: bool) -> list[dict[str, Any]]:
    """Give direction arrows: position and bearing, about fifteen a trip, those of the way back in the gaps."""
    total = float(path.driven_m[-1])
    spacing = max(total / 15.0, min(12.0, total / 3.0))
    beside = path.beside(offset_m)
    found = []
    for distance in np.arange(spacing * (0.75 if back else 0.35), total, spacing):
        ends = np.clip(np.array([distance - 0.5, distance, distance + 0.5]), 0.0, total)
        before, here, after = frame.to_lonlat(beside.at(ends))
        east = (after[0] - before[0]) * math.cos(math.radians(here[1]))
        bearing = math.degrees(math.atan2(east, after[1] - before[1])) % 360.0
        found.append({"lonlat": _position(here), "bearing": round(bearing, 1), "back": back})
    return found


def flag_marks(plan: TravelPlan, site: Site, frame: Frame) -> list[dict[str, Any]]:
    """Give the flags with position (None where a finding has none) and distance driven."""
    marks = []
    for finding in marked(plan):
        point = where_xy(finding.where, site, frame)
        lonlat = None if point is None else _position(frame.to_lonlat(np.array([point]))[0])
        driven = finding_driven(plan, finding)
        marks.append(
            {
                "n": finding.flag,
                "lonlat": lonlat,
                "trip": finding.trip,
                "driven": None if driven is None else round(driven, 1),
                "title": f"Flag {finding.flag}, {finding.verdict}",
            }
        )
    return marks


def nearest_labels(plan: TravelPlan, site: Site, frame: Frame) -> list[dict[str, Any]]:
    """Give a label where the machine gets to when there is no way."""
    labels = []
    for item in plan.nearest:
        where = Where(scope="stretch", road=item.road, at_m=item.at_m, place=item.place, lonlat=item.lonlat)
        point = where_xy(where, site, frame)
        if point is not None:
            lonlat = _position(frame.to_lonlat(np.array([point]))[0])
            labels.append({"text": f"{TRIP_WORDS[item.trip]}: gets to here", "kind": "reach", "lonlat": lonlat})
    return labels


def stop_marks(plan: TravelPlan, site: Site, frame: Frame) -> list[dict[str, Any]]:
    """Give the stops with position and distance driven."""
    marks = []
    for stop in plan.stops:
        where = Where(scope="stop", road=stop.road, at_m=stop.at_m, place=stop.place, lonlat=stop.lonlat)
        point = where_xy(where, site, frame)
        lonlat = None if point is None else _position(frame.to_lonlat(np.array([point]))[0])
        marks.append(
            {
                "n": stop.stop,
                "lonlat": lonlat,
                "trip": stop.trip,
                "driven": round(stop_driven(plan, stop.trip, stop.before_leg), 1),
                "title": f"Stop {stop.stop}",
            }
        )
    return marks


def stop_driven(plan: TravelPlan, trip: str, before_leg: int | None) -> float:
    """Give the distance driven in a trip when it comes to a stop; without a next leg, the whole trip."""
    legs = [leg for leg in plan.legs if leg.trip == trip]
    return sum(leg.length_m for leg in legs if before_leg is None or leg.leg < before_leg)


def positions(plan: TravelPlan, path: TripPath, frame: Frame) -> dict[str, Any]:
    """Give points along a trip for the pointer of its profile: position, height, grade, leg, each in words."""
    total = float(path.driven_m[-1])
    count = int(np.clip(math.ceil(total) + 1, 2, SAMPLES + 1))
    distance = np.linspace(0.0, total, count)
    lonlat = frame.to_lonlat(path.at(distance))
    profile = next((item for item in plan.profile if item.trip == path.trip), None)
    legs = {leg.leg: leg for leg in plan.legs}
    said = []
    for value in distance:
        at = int(np.searchsorted(path.driven_m, value, side="right") - 1)
        leg = legs.get(int(path.leg[min(at, len(path.leg) - 1)]))
        parts = [f"{length(float(value))} driven"]
        height, grade = _profile_at(profile, float(value))
        parts += [f"height {quantity(height, 'm', 1)}"] if height is not None else []
        parts += [f"grade {quantity(grade, '%')}"] if grade is not None else []
        parts += [f"leg {leg.leg}, {leg.range} range, {leg.travel}"] if leg is not None else []
        said.append(", ".join(parts))
    return {"trip": path.trip, "length": round(total, 1), "lonlat": [_position(p) for p in lonlat], "said": said}


def _profile_at(profile: ProfileTrip | None, distance_m: float) -> tuple[float | None, float | None]:
    if profile is None or len(profile.distance_m) < 2:
        return None, None
    row = int(
        np.clip(np.searchsorted(profile.distance_m, distance_m, side="right") - 1, 0, len(profile.distance_m) - 2)
    )
    low, high = profile.height_m[row], profile.height_m[row + 1]
    grade = profile.grade_pct[row] if row < len(profile.grade_pct) else None
    if low is None or high is None:
        return None, grade
    span = profile.distance_m[row + 1] - profile.distance_m[row]
    share = (distance_m - profile.distance_m[row]) / span if span > 0 else 0.0
    return low + min(share, 1.0) * (high - low), grade


def _crosses(path: TripPath, begin: float, end: float, frame: Frame) -> list[list[float]]:
    """Give evenly spaced positions about every ``CROSS_M``, at least one, at most forty."""
    count = int(np.clip(round((end - begin) / CROSS_M), 1, 40))
    distance = begin + (np.arange(count) + 0.5) * (end - begin) / count
    return [_position(point) for point in frame.to_lonlat(path.at(distance))]


def _position(lonlat: Floats) -> list[float]:
    return [round(float(lonlat[0]), 7), round(float(lonlat[1]), 7)]


def _line(number: int | str, lonlat: Floats, properties: dict[str, Any]) -> Feature:
    line = [_position(point) for point in lonlat]
    return {
        "type": "Feature",
        "id": str(number),
        "geometry": {"type": "LineString", "coordinates": line},
        "properties": properties,
    }
