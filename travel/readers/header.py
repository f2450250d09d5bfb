"""``site.toml``: the keys against their model, the words against the vocabulary."""

from __future__ import annotations

import datetime as dt
import re
import zoneinfo
from typing import Any

from travel.domain.layers import LAYERS
from travel.domain.rules import Vocabulary
from travel.domain.site import SiteHeader
from travel.readers.cross import listed, road_ids
from travel.readers.files import parse_toml
from travel.readers.models import build
from travel.readers.notes import Notes
from travel.readers.source import Source

_WORD = re.compile("[^a-z]+")
_ABOUT = (".pdf", ".jpg", ".jpeg", ".png", ".md", ".docx", ".odt", ".qml", ".sld")
"""Endings of what tells or shows something of a layer and cannot be the layer itself."""


def read_header(data: bytes, vocabulary: Vocabulary, notes: Notes) -> tuple[SiteHeader | None, dict[str, Any]]:
    """Give the header, or None after its faults, and the content as written."""
    content = parse_toml(data, notes)
    if content is None:
        return None, {}
    surveyed = content.get("surveyed")
    if isinstance(surveyed, dict):
        notes_by_layer = {name: {"date": v} if isinstance(v, str | dt.date) else v for name, v in surveyed.items()}
        content = content | {"surveyed": notes_by_layer}
    header = build(SiteHeader, content, notes)
    _words(content, vocabulary, notes)
    for text in header.changed_copy if header else ():
        notes.doubt(f"a changed copy of a site: wished for, not there: {text}", field="changed_copy")
    return header, content


def check_surveyed(header: SiteHeader, source: Source, notes: Notes) -> None:
    """Check what the header says of the layers: roads that exist, dates in order, files that are there."""
    layers, roads = source.layers, road_ids(source.layers)
    for name, note in header.surveyed.items():
        field = f"surveyed.{name}"
        if "roads" in layers:
            for road in note.roads:
                if road not in roads:
                    notes.fault("no such road", field=f"{field}.roads", value=road, allowed=listed(roads))
        if note.until and note.until < note.date:
            notes.fault("ends before it was surveyed", field=f"{field}.until", value=note.until, allowed="a later date")
        if name in LAYERS and name not in layers and name not in source.broken:
            _no_file(name, source, notes)


def _no_file(layer: str, source: Source, notes: Notes) -> None:
    """Doubt a layer that was looked at and has no file; where another file bears its name it may well be in there."""
    field, allowed = f"surveyed.{layer}", f"a layer {layer}, without features where none was found"
    bearing = [n for n in source.unread if not n.lower().endswith(_ABOUT) and layer in _WORD.split(n.lower())]
    if bearing:
        notes.fault(
            "declared surveyed, and what bears its name is not read", field=field, value=bearing, allowed=allowed
        )
    else:
        notes.doubt("declared surveyed and has no file: read as looked at, none found", field=field)


def _words(content: dict[str, Any], vocabulary: Vocabulary, notes: Notes) -> None:
    """Check the header's words even where other keys are wrong, so that all is told at once."""
    _word(content.get("jurisdiction"), "jurisdiction", vocabulary.words("jurisdiction"), notes)
    weather = content.get("weather")
    if isinstance(weather, dict):
        _word(weather.get("ground"), "weather.ground", vocabulary.words("ground"), notes)
    zone = content.get("timezone")
    if isinstance(zone, str) and zone and not _is_zone(zone):
        notes.fault("not a known time zone", field="timezone", value=zone, allowed="a name as in Europe/Prague or UTC")
    surveyed = content.get("surveyed")
    for name in surveyed if isinstance(surveyed, dict) else ():
        if name not in LAYERS:
            notes.fault("not a layer", field=f"surveyed.{name}", value=name, allowed=", ".join(LAYERS))


def _word(value: Any, field: str, words: tuple[str, ...], notes: Notes) -> None:
    if isinstance(value, str) and value not in words:
        notes.fault("not an allowed word", field=field, value=value, allowed=", ".join(words))


def _is_zone(name: str) -> bool:
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True
