"""Which limit holds: the most specific row of each layer, then the strictest over the layers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from travel.domain.rules import Limit, Resolved, Rulebook

Floats = NDArray[np.float64]
BOUND = ("law", "standard")
LAYER_ORDER = ("default", "company", "site")


@dataclass(frozen=True, eq=False, slots=True)
class Axis:
    """A column of words as codes into ``words``; −1 = missing."""

    codes: NDArray[np.int64]
    words: tuple[str, ...]

    def is_word(self, word: str) -> NDArray[np.bool_]:
        """Give where the column holds this word."""
        if word not in self.words:
            return np.zeros(np.shape(self.codes), dtype=bool)
        return np.asarray(self.codes == self.words.index(word))


@dataclass(frozen=True, eq=False, slots=True)
class LimitColumn:
    """A resolved limit: the value per row (NaN where no row of the rulebook holds) and which row won (−1 = none)."""

    values: Floats
    row: NDArray[np.int64]
    rows: tuple[Limit, ...]

    def limit(self, position: tuple[int, ...]) -> Limit | None:
        """Give the row that won at one position of the (broadcast) column."""
        index = int(np.asarray(self.row)[position] if np.ndim(self.row) else self.row)
        return self.rows[index] if index >= 0 else None


AxisValue = Axis | Floats | float | str | None


def stricter(a: float, b: float, sense: str) -> bool:
    """Tell whether ``a`` is stricter than ``b``: smaller for ``at_most``, larger for ``at_least``."""
    return a < b if sense == "at_most" else a > b


def compatible(old: Mapping[str, str | float], new: Mapping[str, str | float]) -> bool:
    """Tell whether a case may exist in which both rows hold: no word of one contradicts the other, no bands are apart.

    >>> compatible({"ground": "wet"}, {"surface": "clay"}), compatible({"ground": "wet"}, {"ground": "dry"})
    (True, False)
    >>> compatible({"voltage_kv_to": 50.0}, {"voltage_kv_over": 50.0})
    False
    """
    for key, wanted in old.items():
        if isinstance(wanted, str):
            if new.get(key, wanted) != wanted:
                return False
            continue
        name, _, end = key.rpartition("_")
        other = new.get(f"{name}_over" if end == "to" else f"{name}_to")
        low, high = (other, wanted) if end == "to" else (wanted, other)
        if isinstance(low, int | float) and isinstance(high, int | float) and low >= high:
            return False
    return True


def implies(new: Mapping[str, str | float], old: Mapping[str, str | float]) -> bool:
    """Tell whether ``old`` holds wherever ``new`` does.

    >>> implies({"surface": "clay", "voltage_kv_to": 20.0}, {"voltage_kv_to": 50.0})
    True
    >>> implies({"surface": "clay"}, {"surface": "clay", "ground": "wet"})
    False
    """
    for key, wanted in old.items():
        given = new.get(key)
        if isinstance(wanted, str) or isinstance(given, str) or given is None:
            if given != wanted:
                return False
        elif given > wanted if key.endswith("_to") else given < wanted:
            return False
    return True


def resolve(rulebook: Rulebook, limit_id: str, **case: AxisValue) -> Resolved | None:
    """Give the limit that holds in one case, or None where the rulebook has none."""
    column = resolve_column(rulebook, limit_id, **case)
    won = column.limit(())
    return Resolved(value=float(column.values), limit=won) if won else None


def resolve_column(rulebook: Rulebook, limit_id: str, **case: AxisValue) -> LimitColumn:
    """Give the limit that holds in each row.

    Words may be one word or an ``Axis``; quantities (for ``…_over``/``…_to`` conditions) one number or an array.
    Within a layer the row with the most conditions wins, among equals the strictest; over the layers the strictest
    wins, except that a later layer may replace a row that is neither law nor standard, or one it overrides with a
    reason. A condition nobody can check (the word or quantity is missing, or the case has no such axis) never lets a
    row loosen: such a row only counts where it is stricter than the one that surely holds.
    """
    rows = rulebook.limits_of.get(limit_id, ())
    shape = np.broadcast_shapes(
        *(
            np.shape(v.codes) if isinstance(v, Axis) else np.shape(v)
            for v in case.values()
            if v is not None and not isinstance(v, str)
        )
    )
    values, won = np.full(shape, np.nan), np.full(shape, -1, dtype=np.int64)
    bound = np.zeros(shape, dtype=bool)
    for layer in LAYER_ORDER:
        new_values, new_won = _layer_best(rows, layer, case, shape)
        has = new_won >= 0
        if not has.any():
            continue
        sense = rows[int(new_won[has].flat[0])].sense
        tighter = (new_values < values) if sense == "at_most" else (new_values > values)
        free = ~bound | np.isin(new_won, [i for i, r in enumerate(rows) if r.override_reason])
        take = has & ((won < 0) | tighter | free)
        values, won = np.where(take, new_values, values), np.where(take, new_won, won)
        bound = np.isin(won, [i for i, r in enumerate(rows) if r.status in BOUND])
    for index, row in enumerate(rows):
        possible, surely = _holds(row, case, shape)
        tighter = (row.value < values) if row.sense == "at_most" else (row.value > values)
        take = possible & ~surely & (won >= 0) & tighter
        values, won = np.where(take, row.value, values), np.where(take, index, won)
    return LimitColumn(values=values, row=won, rows=rows)


def _layer_best(
    rows: tuple[Limit, ...], layer: str, case: Mapping[str, AxisValue], shape: tuple[int, ...]
) -> tuple[Floats, NDArray[np.int64]]:
    values, won = np.full(shape, np.nan), np.full(shape, -1, dtype=np.int64)
    depth = np.full(shape, -1)
    for index, row in enumerate(rows):
        if row.layer != layer:
            continue
        _, mask = _holds(row, case, shape)
        better = (row.value < values) if row.sense == "at_most" else (row.value > values)
        take = mask & ((len(row.when) > depth) | ((len(row.when) == depth) & better))
        values = np.where(take, row.value, values)
        won = np.where(take, index, won)
        depth = np.where(take, len(row.when), depth)
    return values, won


def _holds(
    row: Limit, case: Mapping[str, AxisValue], shape: tuple[int, ...]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Give where a row may hold as far as is known, and where it surely holds."""
    possible, known = np.ones(shape, dtype=bool), np.ones(shape, dtype=bool)
    for key, wanted in row.when.items():
        band = not isinstance(wanted, str)
        given = case.get(key.rpartition("_")[0] if band else key)
        if given is None or (band and isinstance(given, (str, Axis))):
            known = np.zeros(shape, dtype=bool)
        elif isinstance(given, Axis):
            missing = np.asarray(given.codes) < 0
            possible, known = possible & (missing | given.is_word(str(wanted))), known & ~missing
        elif isinstance(given, str):
            possible = possible & (given == wanted)
        else:
            value = np.asarray(given, dtype=np.float64)
            missing = np.isnan(value)
            limit = float(wanted)
            inside = value > limit if key.endswith("_over") else value <= limit
            possible, known = possible & (missing | inside), known & ~missing
    return possible, possible & known
