"""One feature's values against the layer table: numbers are numbers, words are listed words, times have offsets."""

from __future__ import annotations

import datetime as dt
import difflib
import json
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from travel.domain.layers import LAYERS, FieldSpec, LayerSpec
from travel.domain.rules import Vocabulary
from travel.domain.site import Floats, Objects
from travel.readers.notes import Notes
from travel.readers.source import Feature

_METHOD = "_method"
_CUT = 10
"""Characters of a column's name that the table of a shapefile keeps (common knowledge, from memory)."""
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)", re.ASCII)
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_CLOCK = re.compile(r"([01]\d|2[0-3]):[0-5]\d", re.ASCII)
_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(slots=True, kw_only=True)
class Columns:
    """A layer's values as columns, geometry aside."""

    ids: tuple[str, ...]
    numbers: dict[str, Floats] = field(default_factory=dict)
    texts: dict[str, Objects] = field(default_factory=dict)
    methods: dict[str, Objects] = field(default_factory=dict)
    extra: dict[str, Objects] = field(default_factory=dict)


def columns(spec: LayerSpec, features: tuple[Feature, ...], vocabulary: Vocabulary, notes: Notes) -> Columns:
    """Give a layer's columns; each value that cannot be used is a fault and stands as missing."""
    out = Columns(ids=_ids(features, notes))
    labels = [notes.at(feature=label(feature)) for feature in features]
    for entry in spec.fields:
        if entry.kind == "id":
            continue
        cells = [_cell(spec, entry, f, vocabulary, here) for f, here in zip(features, labels, strict=True)]
        if entry.numeric:
            out.numbers[entry.name] = np.array([math.nan if c is None else c for c in cells], dtype=np.float64)
        else:
            out.texts[entry.name] = _objects(cells)
        methods = [_method(entry, f, vocabulary, here) for f, here in zip(features, labels, strict=True)]
        if any(methods):
            out.methods[entry.name] = _objects(methods)
    known = {s.name for s in spec.fields} | {s.name + _METHOD for s in spec.fields if s.kind != "id"}
    read = known - {"name"}  # what people call it changes no answer
    for name in dict.fromkeys(key for feature in features for key in feature.properties if key not in known):
        out.extra[name] = _objects([feature.properties.get(name) for feature in features])
        meant = _written_otherwise(name, read, {s.name for s in spec.fields if s.unit})
        if meant and not any(meant in feature.properties for feature in features):
            first = next((f for f in features if written(f.properties.get(name))), features[0])
            here, value = notes.at(feature=label(first)), first.properties.get(name)
            here.fault("a column's name written otherwise", field=name, value=value, allowed=meant)
        else:
            _doubt_column(name, spec, notes)
    return out


def _written_otherwise(name: str, known: set[str], with_unit: set[str]) -> str | None:
    """Give the column that a name can only mean: with other capitals, blanks or hyphens, or cut to ten characters as
    shapefiles do; not one that lacks its unit alone, for nobody knows which is meant.

    >>> known = {"width_m", "speed_limit_kmh", "cone_index_kpa", "cone_index_kpa_method", "not_looked_at"}
    >>> names = ("Width_M", "width-m ", "speed_limi", "not_looked", "cone_index", "breadth_m")
    >>> [_written_otherwise(name, known, known - {"not_looked_at"}) for name in names]
    ['width_m', 'width_m', 'speed_limit_kmh', 'not_looked_at', None, None]
    """
    plain = re.sub(r"[\s-]+", "_", name.strip()).lower()
    if plain in known:
        return plain
    cut = [other for other in sorted(known) if len(plain) == _CUT and other.startswith(plain)]
    return next(
        (other for other in cut if not (other.removesuffix(_METHOD) in with_unit and other.startswith(f"{plain}_"))),
        None,
    )


def label(feature: Feature) -> str:
    """Give how a feature is named to people: its id, or its place in the file."""
    return id_text(feature.properties.get("id")) or f"#{feature.number}"


def id_text(value: Any) -> str | None:
    """Give an id as text: 1 and "1" are the same; None for what cannot be an id.

    >>> id_text(1), id_text(" 1 "), id_text(1.0), id_text(1.5), id_text(True)
    ('1', '1', '1', None, None)
    """
    if isinstance(value, str):
        return value.strip() or None
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else None
    return str(value)


def written(value: Any) -> bool:
    """Whether a file holds a value: null and blank text are none."""
    return value is not None and not (isinstance(value, str) and not value.strip())


def _ids(features: tuple[Feature, ...], notes: Notes) -> tuple[str, ...]:
    """Give the ids; a missing, unusable or repeated one is a fault."""
    first: dict[str, int] = {}
    for feature in features:
        value = feature.properties.get("id")
        name = id_text(value)
        here = notes.at(feature=label(feature))
        if not written(value):
            here.fault("is needed", field="id")
        elif name is None:
            here.fault("cannot be an id", field="id", value=value, allowed="text or a whole number")
        elif name in first:
            here.fault(f"id used twice (features {first[name]} and {feature.number})", field="id", value=value)
        else:
            first[name] = feature.number
    return tuple(label(feature) for feature in features)


def _cell(spec: LayerSpec, entry: FieldSpec, feature: Feature, vocabulary: Vocabulary, notes: Notes) -> Any:
    """Give one value as it is stored, or None for missing."""
    value = feature.properties.get(entry.name)
    unknown = not written(value) or (isinstance(value, str) and value.strip().lower() == "unknown")
    if unknown and spec.name == "overheads" and entry.name == "kind":
        notes.doubt("of unknown kind; taken for a live wire", field="kind")
        return "wire"
    if not written(value):
        if entry.needed:
            notes.fault("is needed", field=entry.name, allowed=_allowed(entry, vocabulary))
        return None
    return _KINDS[entry.kind](value, entry, vocabulary, notes)


def _method(entry: FieldSpec, feature: Feature, vocabulary: Vocabulary, notes: Notes) -> str | None:
    """Give how a value was got, where the file says so."""
    value = None if entry.kind == "id" else feature.properties.get(entry.name + _METHOD)
    if not written(value):
        return None
    words = vocabulary.words("method")
    if value in words:
        return str(value)
    notes.fault("not an allowed word", field=entry.name + _METHOD, value=value, allowed=", ".join(words))
    return None


def _number(value: Any, entry: FieldSpec, vocabulary: Vocabulary, notes: Notes) -> float | None:
    allowed = _allowed(entry, vocabulary)
    if isinstance(value, bool) or not isinstance(value, int | float):
        what = "text where a number is due" if isinstance(value, str) else "a number is due"
        notes.fault(what, field=entry.name, value=value, allowed=allowed)
        return None
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        notes.fault("NaN or infinite", field=entry.name, value=value, allowed=allowed)
        return None
    low, high = _range(entry)
    if not low <= number <= high:
        notes.fault("outside what is possible", field=entry.name, value=value, allowed=allowed)
        return None
    if entry.kind == "integer" and number != int(number):
        notes.fault("a whole number is due", field=entry.name, value=value, allowed=allowed)
        return None
    doubt_low = -math.inf if entry.doubt_low is None else entry.doubt_low
    doubt_high = math.inf if entry.doubt_high is None else entry.doubt_high
    if not doubt_low <= number <= doubt_high:
        usual = _span(doubt_low, doubt_high, entry.unit)
        notes.doubt(f"{number:g} {entry.unit} is unusual; usual: {usual}", field=entry.name)
    return number


def _flag(value: Any, entry: FieldSpec, vocabulary: Vocabulary, notes: Notes) -> float | None:
    if isinstance(value, bool):
        return float(value)
    notes.fault("true or false is due", field=entry.name, value=value, allowed=_allowed(entry, vocabulary))
    return None


def _choice(value: Any, entry: FieldSpec, vocabulary: Vocabulary, notes: Notes) -> str | None:
    if isinstance(value, str) and value in vocabulary.words(entry.choices):
        return value
    notes.fault("not an allowed word", field=entry.name, value=value, allowed=_allowed(entry, vocabulary))
    return None


def _text(value: Any, entry: FieldSpec, vocabulary: Vocabulary, notes: Notes) -> str | None:
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, int | float) and not isinstance(value, bool):
        return id_text(value) or str(value)
    notes.fault("text is due", field=entry.name, value=value)
    return None


def _road(value: Any, entry: FieldSpec, vocabulary: Vocabulary, notes: Notes) -> str | None:
    name = id_text(value)
    if name is None:
        notes.fault("not the id of a road", field=entry.name, value=value, allowed=_allowed(entry, vocabulary))
    return name


def _parts(value: Any) -> Any:
    """Give a list written as text, with commas or as JSON (GeoPackage has no lists); anything else as it is."""
    if not isinstance(value, str):
        return value
    if value.lstrip().startswith("["):
        try:
            return json.loads(value)
        except ValueError:
            return None
    return value.split(",")


def _names(value: Any, entry: FieldSpec, vocabulary: Vocabulary, notes: Notes) -> tuple[str, ...] | None:
    parts = _parts(value)
    if not isinstance(parts, list) or not all(isinstance(part, str) for part in parts):
        notes.fault("a list of layer names is due", field=entry.name, value=value, allowed=_allowed(entry, vocabulary))
        return None
    names = tuple(dict.fromkeys(part.strip() for part in parts if part.strip()))
    for name in names:
        if name not in LAYERS:
            notes.fault("not a layer", field=entry.name, value=name, allowed=_allowed(entry, vocabulary))
    return names


def _days(value: Any, entry: FieldSpec, vocabulary: Vocabulary, notes: Notes) -> str | None:
    parts = re.split(r"[\s,]+", value.strip()) if isinstance(value, str) else value
    if not isinstance(parts, list) or not parts or any(part not in _DAYS for part in parts):
        notes.fault("not days of the week", field=entry.name, value=value, allowed=_allowed(entry, vocabulary))
        return None
    return " ".join(day for day in _DAYS if day in parts)


def _moment(pattern: re.Pattern[str], parse: Callable[[str], object], what: str) -> Callable[..., str | None]:
    """Give a check for one way of writing a time: the form first, then whether it exists in the calendar."""

    def check(value: Any, entry: FieldSpec, vocabulary: Vocabulary, notes: Notes) -> str | None:
        text = value.strip() if isinstance(value, str) else ""
        try:
            good = bool(pattern.fullmatch(text)) and parse(text) is not None
        except ValueError:
            good = False
        if good:
            return text
        notes.fault(what, field=entry.name, value=value, allowed=_allowed(entry, vocabulary))
        return None

    return check


_KINDS: dict[str, Callable[[Any, FieldSpec, Vocabulary, Notes], Any]] = {
    "text": _text,
    "number": _number,
    "integer": _number,
    "flag": _flag,
    "choice": _choice,
    "road": _road,
    "names": _names,
    "days": _days,
    "time": _moment(_TIME, dt.datetime.fromisoformat, "not a time with its offset"),
    "date": _moment(_DATE, dt.date.fromisoformat, "not a date"),
    "clock": _moment(_CLOCK, dt.time.fromisoformat, "not a time of day"),
}
_FORMS = {
    "flag": "true or false",
    "road": "the id of a road",
    "names": ", ".join(LAYERS),
    "days": ", ".join(_DAYS),
    "time": "RFC 3339 with offset, as in 2026-05-04T07:30:00+02:00",
    "date": "YYYY-MM-DD",
    "clock": "00:00 to 23:59",
}


def _allowed(entry: FieldSpec, vocabulary: Vocabulary) -> str:
    """Say what a column takes."""
    if entry.kind == "choice":
        return ", ".join(vocabulary.words(entry.choices))
    if entry.kind in ("number", "integer"):
        return _span(*_range(entry), entry.unit)
    return _FORMS.get(entry.kind, "")


def _range(entry: FieldSpec) -> tuple[float, float]:
    low = -math.inf if entry.low is None else entry.low
    return low, math.inf if entry.high is None else entry.high


def _span(low: float, high: float, unit: str) -> str:
    """Say a range, with its unit.

    >>> _span(0.5, 100, "m"), _span(2, math.inf, "kV")
    ('0.5 to 100 m', 'at least 2 kV')
    """
    if math.isinf(low) and math.isinf(high):
        return f"a number [{unit}]" if unit else "a number"
    if math.isinf(high):
        return f"at least {low:.9g} {unit}".strip()
    return (f"at most {high:.9g} {unit}" if math.isinf(low) else f"{low:.9g} to {high:.9g} {unit}").strip()


def _doubt_column(name: str, spec: LayerSpec, notes: Notes) -> None:
    """Doubt a column that looks like a known one misspelt or without its unit: it is kept, and ignored."""
    known = [entry.name for entry in spec.fields]
    wanted = name.lower()
    if wanted == _METHOD[1:]:
        notes.doubt("unknown column, ignored; how a value was got stands in <column>_method", field=name)
        return
    if wanted.endswith(_METHOD[1:]):
        known = [entry.name + _METHOD for entry in spec.fields if entry.kind != "id"]
    with_unit = [other for other in known if other.startswith(f"{wanted}_")]
    near = with_unit or difflib.get_close_matches(wanted, known, n=1, cutoff=0.85)
    if near:
        notes.doubt(f"unknown column, ignored; did you mean {' or '.join(near)}?", field=name)


def _objects(cells: list[Any]) -> Objects:
    out = np.empty(len(cells), dtype=object)
    for row, value in enumerate(cells):
        out[row] = value
    return out
