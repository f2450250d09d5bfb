"""Changes laid over a site: of whole features into the layers, of parts of roads beside them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from travel.domain.layers import LAYERS, FieldSpec
from travel.domain.site import Amendment, InputFile, Layer, Site
from travel.errors import Fault, InputError
from travel.survey.arrays import Objects

METHODS = ("measured", "sign", "told", "assumed")
NOT_IN_PART = ("id", "level", "removed")
REMOVED = "removed"
"""The field of an amendment that takes a feature away."""
NEVER_REMOVED = ("roads", "places")


def lay_on(site: Site, amendments: tuple[Amendment, ...]) -> Site:
    """Give the site with the changes laid over it.

    Whole features change in new layers; parts of roads (``from_m`` or ``to_m``) are kept in ``site.amendments`` and
    take effect on pieces. A road's ``grade_pct`` holds instead of its heights from then on (regrading); the field
    ``removed`` with the value true takes a feature away.

    Raises:
        InputError: with every fault, where a layer, feature, field or value does not exist or is not allowed.
    """
    faults = [fault for amendment in amendments for fault in _faults(site, amendment)]
    if faults:
        raise InputError(faults)
    amendments = tuple(part for amendment in amendments for part in _with_regrading(amendment))
    layers: dict[str, Layer] = dict(site.layers)
    whole = tuple(a for a in amendments if a.from_m is None and a.to_m is None)
    for amendment in sorted(whole, key=lambda a: a.field == REMOVED):
        layers[amendment.layer] = _changed(layers[amendment.layer], amendment)
    inputs = tuple(
        InputFile(
            role="amendment",
            name=f"{a.layer}/{a.feature}/{a.field}",
            sha256=hashlib.sha256(repr(a).encode()).hexdigest(),
        )
        for a in whole
    )
    ranged = tuple(a for a in amendments if a not in whole)
    return replace(site, layers=layers, inputs=site.inputs + inputs, amendments=site.amendments + ranged)


def _with_regrading(amendment: Amendment) -> tuple[Amendment, ...]:
    """A new grade of a road comes with the word that it holds instead of heights."""
    if amendment.layer != "roads" or amendment.field != "grade_pct":
        return (amendment,)
    regraded = None if amendment.value is None else True
    return amendment, replace(amendment, field="regraded", value=regraded)


def ranged_rows(site: Site) -> tuple[tuple[int, Amendment], ...]:
    """Give the changes of parts of roads with the road's row, in the order they were laid on."""
    roads = site.layers["roads"]
    return tuple((roads.index(a.feature), a) for a in site.amendments if a.layer == "roads" and a.feature in roads.ids)


def _faults(site: Site, amendment: Amendment) -> list[Fault]:
    def fault(message: str, value: object = "", allowed: str = "") -> list[Fault]:
        return [
            Fault(
                file="amendments",
                layer=amendment.layer,
                feature=amendment.feature,
                field=amendment.field,
                message=message,
                value=str(value),
                allowed=allowed,
            )
        ]

    if amendment.layer not in site.layers or amendment.layer not in LAYERS:
        return fault("no such layer", amendment.layer, ", ".join(sorted(site.layers)))
    layer = site.layers[amendment.layer]
    if amendment.feature not in layer.ids:
        return fault("no such feature", amendment.feature)
    if amendment.field == REMOVED:
        if amendment.layer in NEVER_REMOVED or amendment.value is not True:
            return fault("cannot be taken away", amendment.value, f"true, for layers other than {NEVER_REMOVED}")
        return []
    method = amendment.field.endswith("_method")
    spec = LAYERS[amendment.layer].field(amendment.field.removesuffix("_method"))
    if spec is None or spec.kind == "id":
        known = ", ".join(f.name for f in LAYERS[amendment.layer].fields if f.kind != "id")
        return fault("no such field" if spec is None else "cannot be changed", amendment.field, known)
    out = _method_fault(amendment.value) if method else _value_fault(spec, amendment.value, site.layers)
    found = fault(*out) if out else []
    part = _range_fault(layer, amendment)
    return found + (fault(*part) if part else [])


Trouble = tuple[str, object, str] | None


def _method_fault(value: object) -> Trouble:
    return None if value is None or value in METHODS else ("not a method", value, ", ".join(METHODS))


def _value_fault(spec: FieldSpec, value: object, layers: Mapping[str, Layer]) -> Trouble:
    if value is None:
        return None
    if spec.kind == "flag":
        return None if isinstance(value, bool) else ("not true or false", value, "true, false")
    if spec.numeric:
        return _number_fault(spec, value)
    if not isinstance(value, str) or not value:
        return "not a text", value, "a text"
    if spec.kind == "road" and value not in layers["roads"].ids:
        return "no such road", value, ""
    return None


def _number_fault(spec: FieldSpec, value: object) -> Trouble:
    if isinstance(value, bool) or not isinstance(value, int | float) or not np.isfinite(value):
        return "not a number", value, f"a number in {spec.unit or 'its unit'}"
    low = -np.inf if spec.low is None else spec.low
    high = np.inf if spec.high is None else spec.high
    if not low <= value <= high:
        return "outside what is allowed", value, f"{low:g} to {high:g} {spec.unit}".strip()
    if spec.kind == "integer" and value != int(value):
        return "not a whole number", value, "a whole number"
    return None


def _range_fault(layer: Layer, amendment: Amendment) -> Trouble:
    if amendment.from_m is None and amendment.to_m is None:
        return None
    if layer.name != "roads":
        return "only roads change in part", f"{amendment.from_m} to {amendment.to_m}", "no from_m and to_m"
    if amendment.field in NOT_IN_PART:
        return "holds for a whole road", amendment.field, "no from_m and to_m"
    length = float(shapely.length(layer.geometry[layer.index(amendment.feature)]))
    low = 0.0 if amendment.from_m is None else amendment.from_m
    high = length if amendment.to_m is None else amendment.to_m
    if not 0.0 <= low < high <= length + 0.01:
        return "not a part of the road", f"{low:g} to {high:g} m", f"within 0 to {length:.2f} m, from_m below to_m"
    return None


def _changed(layer: Layer, amendment: Amendment) -> Layer:
    row, name = layer.index(amendment.feature), amendment.field
    if name == REMOVED:
        return _without(layer, row)
    if name.endswith("_method"):
        name = name.removesuffix("_method")
        column = layer.methods[name].copy() if name in layer.methods else np.full(len(layer), None, dtype=object)
        return replace(layer, methods={**layer.methods, name: _put(column, row, amendment.value)})
    spec = LAYERS[layer.name].field(name)
    if spec is not None and spec.numeric:
        numbers = layer.number(name).copy()
        numbers[row] = np.nan if amendment.value is None else float(amendment.value)
        numbers.setflags(write=False)
        return replace(layer, numbers={**layer.numbers, name: numbers})
    return replace(layer, texts={**layer.texts, name: _put(layer.text(name).copy(), row, amendment.value)})


def _without(layer: Layer, row: int) -> Layer:
    keep = np.arange(len(layer)) != row

    def kept(columns: Mapping[str, Any]) -> dict[str, Any]:
        return {name: column[keep] for name, column in columns.items()}

    return replace(
        layer,
        ids=tuple(name for k, name in enumerate(layer.ids) if k != row),
        geometry=layer.geometry[keep],
        numbers=kept(layer.numbers),
        texts=kept(layer.texts),
        methods=kept(layer.methods),
        extra=kept(layer.extra),
    )


def _put(column: Objects, row: int, value: object) -> Objects:
    column[row] = value
    column.setflags(write=False)
    return column
