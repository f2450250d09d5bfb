"""What must hold between the values of a trailer's sheet; that a machine does not go on it is an answer, no fault."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

from travel.domain.rules import Vocabulary
from travel.domain.trailer import Trailer
from travel.readers.notes import Notes

_TARE_APART_RATIO = 0.02
"""Tare parts and mass agree within 2 %, as the machine's axle loads do."""
_SAME_M = 0.001
_LEVEL_M, _SINKS_M, _NEVER_M = 0.05, 0.25, 0.5
"""A part of the deck that changes no more is level; springs rarely give more than the second, never the third; common
practice, no source."""
TIE_BEYOND_M = 3.0
"""Points on a neck may stand this far before the deck; common practice, no source."""


def check_trailer(trailer: Trailer, vocabulary: Vocabulary, notes: Notes) -> None:
    """Write down every fault and doubt that shows only between the values."""
    _deck(trailer, notes)
    _ramps(trailer, notes)
    _tare(trailer, notes)
    _brakes(trailer, notes)
    _ties(trailer, notes)
    _words(trailer, vocabulary, notes)


def _deck(trailer: Trailer, notes: Notes) -> None:
    """Points from the rear edge forward; the loaded deck no higher than the empty one."""
    points = trailer.deck.profile_xz_m
    for number, ((before, _), (x, _)) in enumerate(itertools.pairwise(points), 1):
        if x <= before:
            notes.fault(
                "deck points not in order",
                field=f"deck.profile_xz_m[{number}]",
                value=list(points[number]),
                allowed="x rising from the rear edge forward",
            )
    if abs(points[0][0]) > _SAME_M:
        notes.fault(
            "the deck's rear edge is the datum", field="deck.profile_xz_m[0]", value=list(points[0]), allowed="0"
        )
    for number, (x, z) in enumerate(points):
        if z < 0.0:
            notes.fault("below the ground", field=f"deck.profile_xz_m[{number}]", value=[x, z], allowed="at least 0 m")
    loaded, highest = trailer.deck.height_loaded_m, max(z for _, z in points)
    if loaded is not None and loaded > highest + _SAME_M:
        notes.fault(
            "stands higher loaded than empty",
            field="deck.height_loaded_m",
            value=loaded,
            allowed=f"at most {highest:g} m",
        )
    _sinking(trailer, notes)
    if loaded is None:
        notes.doubt("the deck's height with the machine on is not stated", field="deck.height_loaded_m")


def _sinking(trailer: Trailer, notes: Notes) -> None:
    """How far the deck goes down under the machine: its long level part, empty, less its height with the machine on."""
    pairs = itertools.pairwise(trailer.deck.profile_xz_m)
    levels = [(b[0] - a[0], max(a[1], b[1])) for a, b in pairs if abs(b[1] - a[1]) < _LEVEL_M]
    loaded = trailer.deck.height_loaded_m
    if loaded is None or not levels or trailer.kind == "tilt_bed":
        return
    down = max(levels)[1] - loaded
    if down > _NEVER_M:
        notes.fault(
            f"goes down {down:.2f} m under the machine",
            field="deck.height_loaded_m",
            value=loaded,
            allowed=f"at least {max(levels)[1] - _NEVER_M:g} m",
        )
    elif down > _SINKS_M:
        notes.doubt(f"the deck goes down {down:.2f} m under the machine", field="deck.height_loaded_m")


def _ramps(trailer: Trailer, notes: Notes) -> None:
    """A ramp longer than its edge is high; one a side, or one entry for both."""
    points = trailer.deck.profile_xz_m
    edge = points[-1][1] if trailer.kind == "detachable_neck" else points[0][1]
    sides = [ramp.side for ramp in trailer.ramps]
    if len(set(sides)) < len(sides) or ("both" in sides and len(sides) > 1):
        notes.fault("ramps named twice", field="ramps", value=sides, allowed="left and right, or both alone")
    if len(sides) == 1 and sides != ["both"]:
        notes.fault("one ramp only", field="ramps", value=sides, allowed="left and right, or both")
    gaps = [ramp.gap_m for ramp in trailer.ramps if ramp.gap_m is not None]
    if len(set(gaps)) > 1:
        notes.fault("one gap between the two ramps", field="ramps", value=gaps, allowed="the same gap_m of both")
    for number, ramp in enumerate(trailer.ramps):
        if ramp.length_m <= edge + (ramp.foot_sink_m or 0.0):
            notes.fault(
                f"shorter than the deck is high at its edge ({edge:g} m)",
                field=f"ramps[{number}].length_m",
                value=ramp.length_m,
                allowed=f"more than {edge:g} m",
            )
        if ramp.rating_kg is None:
            notes.doubt("what the ramp may carry is not stated: unknown", field=f"ramps[{number}].rating_kg")
    if not trailer.ramps and trailer.kind not in ("tilt_bed", "detachable_neck"):
        notes.fault("no ramps", field="ramps", allowed="ramps, unless the deck itself comes down")
    if not trailer.ramps and edge > 0.15:
        notes.doubt(f"the deck's edge stands {edge:g} m above the ground and there are no ramps", field="ramps")


def _tare(trailer: Trailer, notes: Notes) -> None:
    """Coupling + bogie = the trailer's mass; the towing axles = the towing mass (stated without the trailer's load)."""
    body = trailer.trailer
    total = body.coupling_kg + body.bogie_kg
    if abs(total - body.mass_kg) > _TARE_APART_RATIO * body.mass_kg:
        notes.fault(
            f"coupling and bogie add up to {total:g} kg",
            field="trailer.mass_kg",
            value=body.mass_kg,
            allowed="within 2 % of coupling_kg + bogie_kg",
        )
    if trailer.towing is None:
        if trailer.kind != "rigid":
            notes.fault("is needed", field="towing", allowed="mass_kg and axles of the towing vehicle")
        return
    if trailer.kind == "rigid":
        notes.fault(
            "a rigid vehicle tows nothing", field="towing", allowed="its own loads under [trailer], no [towing]"
        )
    axles = sum(axle.load_kg for axle in trailer.towing.axles)
    if abs(axles - trailer.towing.mass_kg) > _TARE_APART_RATIO * trailer.towing.mass_kg:
        notes.fault(
            f"axle loads add up to {axles:g} kg",
            field="towing.mass_kg",
            value=trailer.towing.mass_kg,
            allowed="within 2 % of the sum of axle loads, coupled, without the trailer's load",
        )
    _towing_axles(trailer, notes)


def _towing_axles(trailer: Trailer, notes: Notes) -> None:
    assert trailer.towing is not None
    _unique((axle.name for axle in trailer.towing.axles), "towing.axles", notes)
    places = [axle.x_m for axle in trailer.towing.axles]
    if abs(places[0]) > _SAME_M or any(b >= a for a, b in itertools.pairwise(places)):
        notes.fault("axles stand front first", field="towing.axles", value=places, allowed="0 first, then falling")
    for number, axle in enumerate(trailer.towing.axles):
        if axle.rating_kg is not None and axle.load_kg > axle.rating_kg:
            notes.at(feature=axle.name).doubt(
                f"carries {axle.load_kg:g} kg, rated {axle.rating_kg:g} kg", field=f"towing.axles[{number}].load_kg"
            )


def _brakes(trailer: Trailer, notes: Notes) -> None:
    """Brakes not stated are unknown, never yes."""
    if trailer.towing is not None:
        for number, axle in enumerate(trailer.towing.axles):
            if axle.parking_braked is None:
                notes.at(feature=axle.name).doubt(
                    "whether the parking brake acts on it is not stated: unknown",
                    field=f"towing.axles[{number}].parking_braked",
                )
        if all(axle.parking_braked is False for axle in trailer.towing.axles):
            notes.doubt("no axle is held by the parking brake", field="towing.axles")
    if trailer.trailer.bogie_parking_braked is None:
        notes.doubt("whether the bogie is held standing is not stated: unknown", field="trailer.bogie_parking_braked")


def _ties(trailer: Trailer, notes: Notes) -> None:
    length = max((x for x, _ in trailer.deck.profile_xz_m), default=0.0)
    _unique((point.name for point in trailer.tie_points if point.name), "tie_points", notes)
    for number, point in enumerate(trailer.tie_points):
        here = notes.at(feature=point.name or f"point {number + 1}")
        if point.rating_kg is None:
            here.doubt("what the point may take is not stated: unknown", field=f"tie_points[{number}].rating_kg")
        if abs(point.y_m) > trailer.deck.width_m / 2.0 + 0.1:
            here.fault(
                "off the deck",
                field=f"tie_points[{number}].y_m",
                value=point.y_m,
                allowed=f"within {trailer.deck.width_m / 2.0:g} m of the middle",
            )
        if not -TIE_BEYOND_M <= point.x_m <= length + TIE_BEYOND_M:
            here.fault(
                "off the deck",
                field=f"tie_points[{number}].x_m",
                value=point.x_m,
                allowed=f"0 to {length:g} m from the rear edge",
            )


def _words(trailer: Trailer, vocabulary: Vocabulary, notes: Notes) -> None:
    entries = [("deck.surface", "surface", trailer.deck.surface)]
    entries += [("deck.contact", "contact", trailer.deck.contact)]
    entries += [(f"ramps[{n}].surface", "surface", ramp.surface) for n, ramp in enumerate(trailer.ramps)]
    entries += [(f"tie_points[{n}].chain", "chain", point.chain) for n, point in enumerate(trailer.tie_points)]
    for field, name, word in entries:
        if word is not None and word not in vocabulary.words(name):
            notes.fault("not an allowed word", field=field, value=word, allowed=", ".join(vocabulary.words(name)))


def _unique(names: Iterable[str], field: str, notes: Notes) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            notes.at(feature=name).fault("named twice", field=field, value=name)
        seen.add(name)
