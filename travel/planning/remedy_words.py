"""Remedies in words: the rulebook's patterns filled with quantities as people say them."""

from __future__ import annotations

from typing import Any

from travel.checks import Case
from travel.domain.layers import LAYERS
from travel.domain.plan import RemedyPart
from travel.planning.remedy_causes import Purchase

WORDS = {
    "gross_kg": "gross",
    "axle_kg": "axle load",
    "wheel_kg": "wheel load",
    "mass_kg": "gross",
    "width_m": "width",
    "height_m": "height",
    "bearing_kpa": "bearing",
    "bearing_wet_kpa": "bearing when wet",
    "pressure_kpa": "tyre pressure",
}
UNITS = (("_kg", "kg", 0), ("_m", "m", 2), ("_pct", "%", 1), ("_kpa", "kPa", 0), ("_deg", "°", 1))


def text_of(purchase: Purchase, parts: tuple[RemedyPart, ...], case: Case) -> str:
    """Give one purchase in words: one clause a change; what is only set beside it is not said again."""
    said = [part for part in parts if part.field not in purchase.row.also]
    return "; ".join(part_text(purchase.row.text, part, case) for part in said)


def part_text(pattern: str, part: RemedyPart, case: Case) -> str:
    """Fill one pattern: {feature} {road} {from} {to} {what} {old} {value}."""
    name = named(case, part.layer, part.feature)
    return pattern.format_map(
        {
            "feature": name,
            "road": name,
            "from": "" if part.from_m is None else f"{part.from_m:.0f} m",
            "to": "" if part.to_m is None else f"{part.to_m:.0f} m",
            "what": WORDS.get(part.field, part.field.replace("_", " ")),
            "old": quantity(part.field, part.old),
            "value": quantity(part.field, part.value),
        }
    )


def named(case: Case, layer: str, feature: str) -> str:
    """Give a feature's id with its name."""
    found = case.survey.site.layers.get(layer) if layer in LAYERS else None
    if found is None or feature not in found.ids:
        return feature
    name = found.text("name")[found.index(feature)]
    return f"{feature} ({name})" if name else feature


def quantity(field: str, value: Any) -> str:
    """Give a value with its unit.

    >>> quantity("gross_kg", 24600.0), quantity("clearance_m", 3.2), quantity("surface", "timber_mat")
    ('24 600 kg', '3.20 m', 'timber mat')
    """
    if value is None:
        return "not known"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value).replace("_", " ")
    for ending, unit, digits in UNITS:
        if field.endswith(ending):
            return f"{value:,.{digits}f}".replace(",", " ") + f" {unit}"
    return f"{value:g}"
