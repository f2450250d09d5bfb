"""How far to keep from each overhead line: the rulebook's table, or the owner's word where that is stricter."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.hung import voltage_kv
from travel.domain.rules import Limit
from travel.rulebook import LimitColumn

Floats = NDArray[np.float64]

KEEP, TRIGGER, CONSULT = "line-clearance.keep", "line-clearance.trigger", "line-clearance.consult"
STRING = "line-clearance.string"


@dataclass(frozen=True, eq=False, kw_only=True)
class Keeping:
    """By overhead: the distance to keep were it live (NaN: not known) with the row that sets it, and where a spotter
    is due, of a voltage not known no nearer than the owner's word. ``string_m``: insulators that swing with the wire,
    the longest of all where no row tells (voltage not known, or over the table's last). ``far_m``: how near what is
    missing matters: the greatest trigger distance of all, the distance to keep and the owner's word, whichever is most.
    ``widest_m``: the greatest distance of any kind."""

    keep_m: Floats
    limit: LimitColumn
    trigger_m: Floats
    string_m: Floats
    far_m: Floats
    widest_m: float


_KEPT: WeakKeyDictionary[Case, Keeping] = WeakKeyDictionary()


def keeping(case: Case) -> Keeping:
    """Give the distances of a case, once. Over the table's last voltage only the owner's word holds."""
    if case not in _KEPT:
        _KEPT[case] = _keeping(case)
    return _KEPT[case]


def _keeping(case: Case) -> Keeping:
    layer = case.survey.site.layers["overheads"]
    voltage = voltage_kv(layer)
    table = case.resolved(KEEP, voltage_kv=voltage)
    said = layer.number("owner_clearance_m")
    owner = np.where(np.isnan(voltage), np.nan, said)
    keep = np.fmax(table.values, owner)
    word = Limit(id=KEEP, value=np.nan, unit="m", sense="at_least", status="owner", source="owner", layer="site")
    larger = ~np.isnan(owner) & ~(table.values >= owner)
    unknown_is_highest = np.nan_to_num(voltage, nan=np.inf)
    trigger = case.resolved(TRIGGER, voltage_kv=unknown_is_highest).values
    return Keeping(
        keep_m=keep,
        limit=LimitColumn(values=keep, row=np.where(larger, len(table.rows), table.row), rows=(*table.rows, word)),
        trigger_m=np.where(np.isnan(voltage), np.fmax(trigger, said), trigger),
        string_m=np.nan_to_num(
            case.resolved(STRING, voltage_kv=unknown_is_highest).values, nan=_greatest(case, STRING)
        ),
        far_m=np.fmax(np.fmax(keep, said), _greatest(case, TRIGGER)),
        widest_m=max(
            float(np.nan_to_num(said).max(initial=0.0)), *(_greatest(case, name) for name in (KEEP, TRIGGER, CONSULT))
        ),
    )


def _greatest(case: Case, limit_id: str) -> float:
    return max((row.value for row in case.rulebook.limits if row.id == limit_id), default=0.0)
