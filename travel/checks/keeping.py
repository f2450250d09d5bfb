"""How far to keep from each overhead line: the rulebook's table, or the owner's word where that is stricter."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.checks.hung import hung, told, voltage_kv
from travel.domain.rules import Limit
from travel.mechanics.conductor_load import swing_offset_at_angle
from travel.rulebook import LimitColumn

Floats = NDArray[np.float64]

KEEP, TRIGGER, CONSULT = "line-clearance.keep", "line-clearance.trigger", "line-clearance.consult"
STRING = "line-clearance.string"


@dataclass(frozen=True, eq=False, kw_only=True)
class Keeping:
    """By overhead: the distance to keep were it live (NaN: not known) with the row that sets it, and where a spotter
    is due, of a voltage not sure no nearer than the owner's word. ``string_m``: insulators that swing with
    the wire, the longest of all where no row tells (voltage not known or only told, or over the table's last).
    ``swing_m``: how far it swings out at its greatest sag, at least at the measured one; 0 where neither is known.
    ``far_m``: how near what is missing matters: the greatest trigger distance of all, the distance to keep and the
    owner's word, whichever is most. ``widest_m``: the greatest distance of any kind and overhead."""

    keep_m: Floats
    limit: LimitColumn
    trigger_m: Floats
    string_m: Floats
    swing_m: Floats
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
    voltage, word_m = voltage_kv(layer), layer.number("owner_clearance_m")
    table = case.resolved(KEEP, voltage_kv=voltage)
    owner = np.where(np.isnan(voltage), np.nan, word_m)
    keep = np.fmax(table.values, owner)
    word = Limit(id=KEEP, value=np.nan, unit="m", sense="at_least", status="owner", source="owner", layer="site")
    larger = ~np.isnan(owner) & ~(table.values >= owner)
    unsure = np.isnan(voltage) | told(layer, "voltage_kv")
    unknown_is_highest = np.where(unsure, np.inf, voltage)
    trigger = case.resolved(TRIGGER, voltage_kv=unknown_is_highest).values
    string = np.nan_to_num(case.resolved(STRING, voltage_kv=unknown_is_highest).values, nan=_greatest(case, STRING))
    sag = np.fmax(hung(case).sag_m, layer.number("sag_m"))
    swing = swing_offset_at_angle(sag, string, case.scalar("line-clearance.swing_angle"))
    far = np.fmax(np.fmax(keep, word_m), _greatest(case, TRIGGER))
    return Keeping(
        keep_m=keep,
        limit=LimitColumn(values=keep, row=np.where(larger, len(table.rows), table.row), rows=(*table.rows, word)),
        trigger_m=np.where(unsure, np.fmax(trigger, word_m), trigger),
        string_m=string,
        swing_m=np.nan_to_num(np.asarray(swing)),
        far_m=far,
        widest_m=max(float(far.max(initial=0.0)), *(_greatest(case, name) for name in (KEEP, TRIGGER, CONSULT))),
    )


def _greatest(case: Case, limit_id: str) -> float:
    return max((row.value for row in case.rulebook.limits if row.id == limit_id), default=0.0)
