"""What must hold between values: references to roads, limits that limit something, hours that end."""

from __future__ import annotations

import datetime as dt
from typing import Any

from travel.domain.layers import LAYERS
from travel.readers.notes import Notes
from travel.readers.source import Feature, RawLayer, Source
from travel.readers.values import id_text, label, written

_LOADS = ("gross_kg", "axle_kg", "wheel_kg")
_POSTED = ("width_m", "height_m", *_LOADS, "speed_kmh", "hours", "from_time")
_NEEDS_ONE_OF = {
    "bridge": _LOADS,
    "culvert": _LOADS,
    "slab": _LOADS,
    "cover_plate": _LOADS,
    "gateway": ("width_m",),
    "posted": _POSTED,
}


def check_between(source: Source, notes: Notes) -> None:
    """Write down every fault that shows only when values are seen together."""
    for name, layer in source.layers.items():
        here = notes.at(file=layer.file, layer=name)
        for feature in layer.features:
            there = here.at(feature=label(feature))
            _hours(feature, name, there)
            if name == "limits":
                _limit(feature, there)
            elif name == "overheads":
                _span(feature, there)
            elif name == "closures":
                _closure(feature, there)
    if "roads" in source.layers:
        check_roads(source.layers, notes)


def check_roads(layers: dict[str, RawLayer], notes: Notes) -> None:
    """Write down every reference to a road that is not there."""
    roads = road_ids(layers)
    for name, layer in layers.items():
        columns = [entry.name for entry in LAYERS[name].fields if entry.kind == "road"]
        for feature in layer.features:
            for column in columns:
                value = feature.properties.get(column)
                road = id_text(value)
                if road is not None and road not in roads:
                    here = notes.at(file=layer.file, layer=name, feature=label(feature))
                    here.fault("no such road", field=column, value=value, allowed=listed(roads))


def road_ids(layers: dict[str, RawLayer]) -> set[str]:
    """Give the ids of all roads, also of those with other faults."""
    if "roads" not in layers:
        return set()
    ids = (id_text(feature.properties.get("id")) for feature in layers["roads"].features)
    return {name for name in ids if name}


def listed(names: set[str], most: int = 12) -> str:
    """Give names in order, cut where there are many."""
    shown = sorted(names)[:most]
    return ", ".join(shown) + (f" and {len(names) - most} more" if len(names) > most else "")


def _hours(feature: Feature, layer: str, notes: Notes) -> None:
    """Both ends of daily hours or neither; days alone say nothing."""
    if LAYERS[layer].field("from_time") is None:
        return
    has = {name: written(feature.properties.get(name)) for name in ("from_time", "until_time", "days")}
    if has["from_time"] != has["until_time"]:
        missing = "until_time" if has["from_time"] else "from_time"
        notes.fault("daily hours with one end only", field=missing, allowed="both from_time and until_time, or neither")


def _limit(feature: Feature, notes: Notes) -> None:
    kind = feature.properties.get("kind")
    wanted = _NEEDS_ONE_OF.get(kind, ()) if isinstance(kind, str) else ()
    if wanted and not any(written(feature.properties.get(name)) for name in wanted):
        field = wanted[0] if len(wanted) == 1 else "kind"
        notes.fault(f"a {kind} without what it allows", field=field, value=kind, allowed=f"give {' or '.join(wanted)}")


def _span(feature: Feature, notes: Notes) -> None:
    """Attachment heights belong to a span: a line of two vertices."""
    columns = [name for name in ("attach_a_m", "attach_b_m") if written(feature.properties.get(name))]
    shape = feature.geometry if isinstance(feature.geometry, dict) else {}
    coordinates = shape.get("coordinates")
    if shape.get("type") == "MultiLineString" and isinstance(coordinates, list) and len(coordinates) == 1:
        coordinates = coordinates[0]
    two = str(shape.get("type")).endswith("LineString") and isinstance(coordinates, list) and len(coordinates) == 2
    if columns and shape and not two:
        notes.fault("attachment heights on something that is no span", field=columns[0], allowed="a line of 2 vertices")
    if len(columns) == 1:
        missing = "attach_b_m" if columns == ["attach_a_m"] else "attach_a_m"
        notes.doubt("one attachment height without the other says nothing", field=missing)


def _closure(feature: Feature, notes: Notes) -> None:
    start, end = (_time(feature.properties.get(name)) for name in ("closed_from", "closed_until"))
    if start and end and end <= start:
        value = feature.properties["closed_until"]
        notes.fault("ends before it starts", field="closed_until", value=value, allowed="later than closed_from")


def _time(value: Any) -> dt.datetime | None:
    try:
        time = dt.datetime.fromisoformat(value) if isinstance(value, str) else None
    except ValueError:
        return None
    return time if time and time.tzinfo else None
