"""What a column of a site is called in a sentence."""

from __future__ import annotations

from types import MappingProxyType

FIELD_WORDS = MappingProxyType(
    {
        "attach_a_m": "height of the first attachment", "attach_b_m": "height of the second attachment",
        "at_temperature_c": "conductor temperature at which the sag holds", "axle_kg": "greatest axle load",
        "batter_deg": "slope of the face", "bearing_kpa": "bearing of the ground",
        "bearing_wet_kpa": "bearing of the ground when wet", "berm_height_m": "height of the berm",
        "clearance_m": "clearance above the road", "cone_index_kpa": "cone index of the ground",
        "control": "what keeps people apart from plant", "cover_m": "cover over the pipe or service",
        "cross_slope_pct": "cross slope", "depth_m": "depth", "edge_left": "what is at the left edge",
        "edge_right": "what is at the right edge", "grade": "grade", "grade_pct": "grade",
        "gross_kg": "greatest gross", "half_spread_m": "distance of the outer wire from the centre line",
        "lit": "whether it is lit at night", "measured_at_c": "conductor temperature at the measurement",
        "narrow_to_m": "height up to which the width holds",
        "other_width_m": "width of the oncoming vehicle", "owner_clearance_m": "distance the owner asks for",
        "passes_done": "passes of plant so far", "remoulding_index": "remoulding index of the ground",
        "roughness_m": "height of single bumps", "sag_m": "sag", "sag_max_m": "greatest sag, from the owner",
        "sight_m": "sight distance", "slope_pct": "slope of the ground", "soil": "soil class", "span_m": "span",
        "supported": "whether the face is shored", "surcharge_kpa": "surcharge the support is designed for",
        "surface": "surface", "traffic": "other traffic",
        "turn_radius_m": "radius of the ground free to turn on", "until_time": "until which hour people are there",
        "voltage_kv": "voltage", "wheel_kg": "greatest wheel load", "width_m": "width",
    }
)  # fmt: skip
"""Column → words that stand after *not known here:* and *establish*."""

_HOW_GOT = {" told": "so far only told", " assumed": "so far only assumed", " lapsed": "no longer holds"}


def field_words(name: str) -> str | None:
    """Give a column (or what is words already) in words, with what is wrong with its value; None where it has no words
    of its own.

    >>> field_words("lit"), field_words("voltage_kv told"), field_words("weather.ground")
    ('whether it is lit at night', 'voltage (so far only told)', None)
    """
    for ending, said in _HOW_GOT.items():
        if name.endswith(ending):
            plain = name.removesuffix(ending)
            words = plain if " " in plain else FIELD_WORDS.get(plain)
            return f"{words} ({said})" if words else None
    return FIELD_WORDS.get(name)
