"""Road columns laid out over pieces, with the changes of parts of roads laid over them, in practical units or SI."""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np

from travel.domain.site import Amendment, Layer
from travel.survey.arrays import Bools, Floats, Ints, Objects
from travel.survey.records import Pieces
from travel.units import PA_PER_KPA, RATIO_PER_PCT, kmh_to_mps

Ranged = tuple[int, Amendment]


def spread_number(layer: Layer, pieces: Pieces, ranged: Iterable[Ranged], field: str) -> Floats:
    """Give a numeric road column by piece, in the unit of its name."""
    out: Floats = layer.number(field)[pieces.road]
    for row, change in _of(ranged, field):
        out[covered(pieces, row, change)] = np.nan if change.value is None else float(change.value)
    return out


def spread_text(layer: Layer, pieces: Pieces, ranged: Iterable[Ranged], field: str) -> Objects:
    """Give a text road column by piece."""
    out: Objects = layer.text(field)[pieces.road]
    for row, change in _of(ranged, field):
        out[covered(pieces, row, change)] = change.value
    return out


def spread_code(layer: Layer, pieces: Pieces, ranged: Iterable[Ranged], field: str, words: tuple[str, ...]) -> Ints:
    """Give by piece the place of a text among the words, −1 for a missing or unlisted one."""
    number: dict[object, int] = {word: k for k, word in enumerate(words)}
    out: Ints = np.array([number.get(text, -1) for text in layer.text(field)], dtype=np.int64)[pieces.road]
    for row, change in _of(ranged, field):
        out[covered(pieces, row, change)] = number.get(change.value, -1)
    return out


def spread_method(layer: Layer, pieces: Pieces, ranged: Iterable[Ranged], field: str) -> Objects:
    """Give by piece how a number was got; a change of a part may carry a ``<field>_method`` of its own."""
    out: Objects = layer.method(field)[pieces.road]
    for row, change in _of(ranged, f"{field}_method"):
        out[covered(pieces, row, change)] = change.value or "measured"
    return out


def left_out(layer: Layer, pieces: Pieces, ranged: Iterable[Ranged], name: str) -> Bools:
    """Say by piece whether the road's ``not_looked_at`` names a layer."""
    field = "not_looked_at"
    out: Bools = np.array([name in names(value) for value in layer.text(field)], dtype=bool)[pieces.road]
    for row, change in _of(ranged, field):
        out[covered(pieces, row, change)] = name in names(change.value)
    return out


def _of(ranged: Iterable[Ranged], field: str) -> list[Ranged]:
    return [(row, change) for row, change in ranged if change.field == field]


def covered(pieces: Pieces, row: int, change: Amendment) -> Bools:
    """Say which pieces a change of part of a road covers."""
    low = -np.inf if change.from_m is None else change.from_m
    high = np.inf if change.to_m is None else change.to_m
    middle = (pieces.from_m + pieces.to_m) / 2.0
    out: Bools = (pieces.road == row) & (middle >= low) & (middle <= high)
    return out


def practical(field: str) -> str:
    """Give the file's column for a quantity in SI.

    >>> practical("speed_limit_mps"), practical("bearing_pa"), practical("width_m")
    ('speed_limit_kmh', 'bearing_kpa', 'width_m')
    """
    for si, file in (("_mps", "_kmh"), ("_ratio", "_pct"), ("_pa", "_kpa"), ("_rad", "_deg")):
        if field.endswith(si):
            return field.removesuffix(si) + file
    return field


def to_si(field: str, values: Floats) -> Floats:
    """Bring a file column to the SI quantity ``field``."""
    if field.endswith("_mps"):
        return kmh_to_mps(values)
    if field.endswith("_ratio"):
        return values * RATIO_PER_PCT
    if field.endswith("_pa"):
        return values * PA_PER_KPA
    return np.radians(values) if field.endswith("_rad") else values


def names(value: object) -> frozenset[str]:
    """Give the names in a list written as one text or held as several.

    >>> sorted(names("overheads, edges"))
    ['edges', 'overheads']
    """
    if value is None:
        return frozenset()
    if isinstance(value, str):
        return frozenset(part for part in re.split(r"[\s,;]+", value) if part)
    return frozenset(str(part) for part in value) if isinstance(value, Iterable) else frozenset((str(value),))
