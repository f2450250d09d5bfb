"""What hangs over the ground, feature by feature: is it a wire, is it live, how low does it come.

A wire is taken at its greatest sag: the owner's; else from the sag measured at a conductor temperature and the
conductor's own data up to its greatest temperature; else the height is not known. The day's weather plays no part: sag
follows the conductor's temperature, hence its current.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import NDArray

from travel.checks.case import Case
from travel.domain.site import Layer
from travel.mechanics.conductor_load import sag_after_warming
from travel.mechanics.formula import holds
from travel.mechanics.passing import greatest_drop_thermal_only
from travel.mechanics.wire_clearance import greatest_sag_thermal_only

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

NOT_A_WIRE = ("structure", "pipe", "tree")
NOT_MEASURED = ("told", "assumed")
HEATED = ("sag_m", "at_temperature_c", "conductor_max_c", "expansion_per_k")
SPRINGY = ("weight_n_per_m", "stiffness_n")


@dataclass(frozen=True, eq=False, kw_only=True)
class Hung:
    """One row a feature of the layer ``overheads``; numbers NaN where not known.

    ``span``: two vertices with an attachment given, so the height comes from the attachments; ``ends_m`` (x, y, x, y).
    ``sag_m`` is the greatest. ``clearance_m`` is the height above the road it was measured over, at the greatest sag;
    ``bound``: only a lower bound, with what would make it exact in ``bound_lacks``. The ``…_lacks`` name what stands
    in the way of either height.
    """

    wire: Bools
    isolated: Bools
    span: Bools
    ends_m: Floats
    attach_m: Floats
    sag_m: Floats
    clearance_m: Floats
    bound: Bools
    span_lacks: Mapping[str, Bools]
    clear_lacks: Mapping[str, Bools]
    bound_lacks: Mapping[str, Bools]
    sag_lacks: Mapping[str, Bools]
    outside: Bools


_KEPT: WeakKeyDictionary[Case, Hung] = WeakKeyDictionary()


def hung(case: Case) -> Hung:
    """Give the overheads of a case, once."""
    if case not in _KEPT:
        _KEPT[case] = _hung(case, case.survey.site.layers["overheads"])
    return _KEPT[case]


def voltage_kv(layer: Layer) -> Floats:
    """Give the voltage of overheads; a line of 0 kV is one whose voltage nobody knows."""
    volts = layer.number("voltage_kv")
    return np.where(volts > 0.0, volts, np.nan)


def told(layer: Layer, field: str) -> Bools:
    """Give where a number was only told or assumed."""
    return np.isin(layer.method(field).astype(object), list(NOT_MEASURED)) & ~np.isnan(layer.number(field))


def any_of(lacks: Mapping[str, Bools]) -> Bools:
    """Give where anything at all is missing."""
    return np.asarray(np.logical_or.reduce(list(lacks.values())), dtype=bool)


def _hung(case: Case, layer: Layer) -> Hung:
    wire = ~np.isin(layer.text("kind").astype(object), list(NOT_A_WIRE))
    wire |= np.isin(layer.method("kind").astype(object), list(NOT_MEASURED))  # a kind only told is not established
    wire |= layer.number("voltage_kv") > 0  # whatever it is called, it is live
    straight = (shapely.get_type_id(layer.geometry) == 1) & (shapely.get_num_points(layer.geometry) == 2)
    ends = np.full((len(layer), 4), np.nan)
    if straight.any():
        ends[straight] = shapely.get_coordinates(layer.geometry[straight]).reshape(-1, 4)
    attach = np.column_stack((layer.number("attach_a_m"), layer.number("attach_b_m")))
    length = np.hypot(ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1])
    sag, sag_lacks, outside = _greatest_sag(layer, wire, length)
    clearance, bound, clear_lacks, bound_lacks = _clearance(layer, wire, (sag, outside), length)
    return Hung(
        wire=wire,
        isolated=wire & _isolated(case, layer),
        span=np.asarray(~np.isnan(attach).all(axis=1)),
        ends_m=ends,
        attach_m=attach,
        sag_m=sag,
        clearance_m=clearance,
        bound=bound,
        span_lacks={
            "geometry": ~straight,
            **{name: np.isnan(layer.number(name)) for name in ("attach_a_m", "attach_b_m")},
            **{f"{name} told": told(layer, name) for name in ("attach_a_m", "attach_b_m")},
            **sag_lacks,
        },
        clear_lacks={**clear_lacks, **{name: wire & where for name, where in sag_lacks.items() if "told" in name}},
        bound_lacks=bound_lacks,
        sag_lacks=sag_lacks,
        outside=outside,
    )


def _isolated(case: Case, layer: Layer) -> Bools:
    """Tell where the owner's written word covers the whole trip; without an hour for the trip it covers nothing."""
    word = layer.text("isolated_until")
    if case.until is None:
        return np.zeros(len(layer), dtype=bool)
    ends = [text is not None and dt.datetime.fromisoformat(text) >= case.until for text in word]
    return np.array(ends, dtype=bool) & ~np.isin(layer.method("isolated_until").astype(object), list(NOT_MEASURED))


def _greatest_sag(layer: Layer, wire: Bools, length_m: Floats) -> tuple[Floats, dict[str, Bools], Bools]:
    """Give the greatest sag, what is missing for it, and where the formula does not hold."""
    owner, measured = layer.number("sag_max_m"), layer.number("sag_m")
    warm, outside = _warmed(layer, length_m)
    from_owner = ~np.isnan(owner)
    sag = np.where(from_owner, owner, np.where(wire, warm, measured))
    sag = np.where(np.isnan(sag), sag, np.fmax(sag, measured))
    used = {name: ~from_owner & (wire if name != "sag_m" else True) for name in (*HEATED, *SPRINGY)}
    lacks = {f"{name} told": told(layer, name) & where for name, where in used.items()}
    lacks["sag_max_m told"] = told(layer, "sag_max_m")
    lacks["sag_max_m"] = wire & np.isnan(sag)
    lacks["sag_m"] = ~wire & np.isnan(sag)
    return sag, lacks, outside & wire & ~from_owner


def _warmed(layer: Layer, length_m: Floats) -> tuple[Floats, Bools]:
    """Give the sag at the greatest conductor temperature, from a sag measured colder, and where it cannot be had."""
    sag, expansion = layer.number("sag_m"), layer.number("expansion_per_k")
    warming = np.maximum(layer.number("conductor_max_c") - layer.number("at_temperature_c"), 0.0)
    weight, stiffness = layer.number("weight_n_per_m"), layer.number("stiffness_n")
    heat = {"sag_m": sag, "span_m": length_m, "expansion_per_k": expansion, "warming_c": warming}
    spring = {**heat, "weight_n_per_m": weight, "stiffness_n": stiffness}
    known = ~np.isnan(sag + length_m + expansion + warming)
    by_heat, by_spring = holds(greatest_sag_thermal_only, **heat), holds(sag_after_warming, **spring)
    out = np.full(len(layer), np.nan)
    out[by_heat] = greatest_sag_thermal_only(**{name: value[by_heat] for name, value in heat.items()})
    if by_spring.any():
        out[by_spring] = sag_after_warming(**{name: value[by_spring] for name, value in spring.items()})
    return out, known & np.isnan(out)


def _clearance(
    layer: Layer, wire: Bools, greatest: tuple[Floats, Bools], length_m: Floats
) -> tuple[Floats, Bools, dict[str, Bools], dict[str, Bools]]:
    """Give the clearance at the greatest sag, whether it is only a bound, and what is missing for either.

    The place where the clearance was taken drops by no more than the middle of the span does.
    ``greatest``: the greatest sag, and where its formula does not hold.
    """
    sag_m, outside = greatest
    measured, then, cold = (layer.number(name) for name in ("clearance_m", "measured_at_c", "at_temperature_c"))
    sure = (cold <= then) & ~told(layer, "sag_m") & ~told(layer, "at_temperature_c")
    at_hand = np.where(sure, layer.number("sag_m"), np.nan)
    by_sag = sag_m - np.nan_to_num(at_hand)
    warming = np.maximum(layer.number("conductor_max_c") - then, 0.0)
    heat = {"span_m": length_m, "expansion_per_k": layer.number("expansion_per_k"), "warming_c": warming}
    by_heat = np.where(holds(greatest_drop_thermal_only, **heat) & ~outside, greatest_drop_thermal_only(**heat), np.nan)
    drop = np.where(wire, np.fmin(np.maximum(by_sag, 0.0), by_heat), 0.0)
    exact = (~np.isnan(at_hand) & ~np.isnan(sag_m)) | (drop == 0.0)
    bound = wire & ~exact & ~np.isnan(measured - drop)
    lacks = {
        "clearance_m": np.isnan(measured),
        "clearance_m told": told(layer, "clearance_m"),
        "measured_at_c told": wire & told(layer, "measured_at_c"),
        "sag_max_m": wire & np.isnan(drop),
    }
    for_exact = {
        "sag_max_m": bound & np.isnan(sag_m),
        "sag_m": bound & np.isnan(layer.number("sag_m")),
        "measured_at_c": bound & np.isnan(then),
        "at_temperature_c": bound & ~(cold <= then),
    }
    return measured - drop, bound, lacks, for_exact
