"""US customary units for the operator's card: what must be kept is rounded to the safe side, the rest is shown in both.

Factors are those of ``travel.units``.
"""

from __future__ import annotations

import math
import re

from travel.units import (
    KG_PER_LB,
    KMH_PER_MPS,
    M_PER_FT,
    M_PER_IN,
    MPS_PER_MPH,
    N_PER_KN,
    N_PER_LBF,
    PA_PER_KPA,
    PA_PER_PSI,
)
from travel.writers.numbers import MINUS, THIN

IN_PER_M = 1 / M_PER_IN
FT_PER_M = 1 / M_PER_FT
LB_PER_KG = 1 / KG_PER_LB
MPH_PER_KMH = 1 / (KMH_PER_MPS * MPS_PER_MPH)
_NEAR = 1e-9
_QUANTITY = re.compile(
    rf"(?<![\w.{THIN}])([{MINUS}-]?\d[\d{THIN}]*(?:\.\d+)?)[ \u00a0{THIN}](m/s|km/h|kPa|kN|kg|mm|m|t|°C)(?![\w/²])"
)


def feet_inches(value_m: float, up: bool) -> str:
    """Give a length in feet and whole inches, rounded up (what we need) or down (what there is).

    >>> feet_inches(3.15, up=True), feet_inches(3.15, up=False)
    ('10 ft 5 in', '10 ft 4 in')
    """
    exact = value_m * IN_PER_M
    inches = math.ceil(exact - _NEAR) if up else math.floor(exact + _NEAR)
    return f"{inches // 12} ft {inches % 12} in"


def pounds(value_kg: float, up: bool) -> str:
    """Give a mass in pounds, to the next ten on the safe side.

    >>> pounds(16500.0, up=True), pounds(16500.0, up=False)
    ('36,380 lb', '36,370 lb')
    """
    exact = value_kg * LB_PER_KG / 10
    tens = math.ceil(exact - _NEAR) if up else math.floor(exact + _NEAR)
    return f"{tens * 10:,} lb"


def speed_down(value_kmh: float, factor: float, unit: str) -> str:
    """Give a top speed, never faster than it is: whole units, tenths below two.

    >>> speed_down(3.4, 1.0, "km/h"), speed_down(3.4, MPH_PER_KMH, "mph"), speed_down(2.0, MPH_PER_KMH, "mph")
    ('3 km/h', '2 mph', '1.2 mph')
    """
    value = value_kmh * factor
    if value >= 2.0:
        return f"{math.floor(value + _NEAR)} {unit}"
    return f"{math.floor(value * 10 + _NEAR) / 10:g} {unit}"


def both(text: str) -> str:
    """Give a sentence with every metric value in US units, the metric one in brackets behind it.

    >>> both("keep them 4.15 m clear, 8 °C")
    'keep them 13 ft 7.4 in (4.15 m) clear, 46 °F (8 °C)'
    """
    return _QUANTITY.sub(lambda found: f"{_us(found[1], found[2])} ({found[0]})", text)


def _us(digits: str, unit: str) -> str:
    value = float(digits.replace(THIN, "").replace(MINUS, "-"))
    if unit in ("m", "mm"):
        return _length(value if unit == "m" else value / 1000)
    if unit in ("kg", "t"):
        return f"{value * LB_PER_KG * (1000 if unit == 't' else 1):,.0f} lb"
    if unit == "°C":
        return f"{value * 9 / 5 + 32:.0f} °F"
    factor, name, places = {
        "km/h": (MPH_PER_KMH, "mph", 1),
        "m/s": (1 / MPS_PER_MPH, "mph", 1),
        "kPa": (PA_PER_KPA / PA_PER_PSI, "psi", 1),
        "kN": (N_PER_KN / N_PER_LBF, "lbf", 0),
    }[unit]
    return f"{value * factor:,.{places}f} {name}"


def _length(value_m: float) -> str:
    sign = MINUS if value_m < 0 else ""
    size = abs(value_m)
    if size >= 30:
        return f"{sign}{size * FT_PER_M:,.0f} ft"
    tenths = round(size * IN_PER_M * 10)
    return f"{sign}{tenths // 120} ft {tenths % 120 / 10:g} in"
