"""Numbers as people read them: practical units, no more digits than mean something, no false zero."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable

THIN = "\u202f"
MINUS = "\u2212"
NOT_KNOWN = "not known"
_DECIMALS = {
    "m": 2, "mm": 0, "km": 2, "%": 1, "km/h": 1, "kg": 0, "t": 1, "kPa": 0, "kN": 1, "kW": 0, "s": 0, "min": 0,
    "°": 1, "°C": 0, "kV": 0, "m/s": 1, "m/s²": 2, "d": 0, "-": 2, "": 2,
}  # fmt: skip
_SUFFIXES: tuple[tuple[str, str, float], ...] = (
    ("_m_per_s2", "m/s²", 1.0), ("_mps2", "m/s²", 1.0), ("_mps", "m/s", 1.0), ("_kmh", "km/h", 1.0),
    ("_ratio", "-", 1.0), ("_pct", "%", 1.0), ("_rad", "°", 180.0 / math.pi), ("_deg", "°", 1.0),
    ("_kpa", "kPa", 1.0), ("_pa", "kPa", 1e-3), ("_kn", "kN", 1.0), ("_n", "kN", 1e-3), ("_kg", "kg", 1.0),
    ("_kw", "kW", 1.0), ("_w", "kW", 1e-3), ("_kv", "kV", 1.0), ("_v", "kV", 1e-3), ("_m2", "m²", 1.0),
    ("_mm", "mm", 1.0), ("_m", "m", 1.0), ("_min", "min", 1.0), ("_s", "s", 1.0), ("_c", "°C", 1.0),
)  # fmt: skip
_EXTRA_DIGITS = 4


def number(value: float | None, unit: str, decimals: int | None = None) -> str:
    """Give a number without its unit.

    >>> number(-0.004, "m"), number(3.0, "m"), number(12.0, "km/h")
    ('−0.004', '3.00', '12')
    """
    if value is None or not math.isfinite(value):
        return NOT_KNOWN
    places = _DECIMALS.get(unit, 2) if decimals is None else decimals
    if value and round(value, places) == 0:
        first = -math.floor(math.log10(abs(value)))
        places = first if math.isclose(round(value, first), value, rel_tol=1e-6) else first + 1
    text = f"{abs(value):,.{places}f}".replace(",", THIN)
    if unit == "km/h" and text.endswith(".0"):
        text = text[:-2]
    return (MINUS if value < 0 and float(text.replace(THIN, "")) else "") + text


def quantity(value: float | None, unit: str, decimals: int | None = None) -> str:
    """Give a number with its unit.

    >>> quantity(18500.0, "kg").replace(THIN, " "), quantity(14.04, "%"), quantity(None, "m")
    ('18 500 kg', '14.0 %', 'not known')
    """
    text = number(value, unit, decimals)
    if text == NOT_KNOWN or unit in ("", "-"):
        return text
    return f"{text}{unit}" if unit == "°" else f"{text} {unit}"


def decimals_for(values: Iterable[float | None], unit: str) -> int:
    """Give the decimals at which two different numbers of one finding do not look the same.

    >>> decimals_for((15.04, 15.0), "%")
    2
    """
    places = _DECIMALS.get(unit, 2)
    known = sorted({value for value in values if value is not None and math.isfinite(value)})
    for low, high in itertools.pairwise(known):
        wanted = places
        while wanted < places + _EXTRA_DIGITS and round(low, wanted) == round(high, wanted):
            wanted += 1
        places = wanted
    return places


def term(name: str, value: float) -> tuple[str, str]:
    """Give a working term as (what it is, value with unit), the unit taken from the end of its name.

    >>> term("wheel_load_n", 45000.0)
    ('wheel load', '45.0 kN')
    """
    for suffix, unit, factor in _SUFFIXES:
        if name.endswith(suffix):
            decimals = 3 if unit in ("-", "m") else None
            return name[: -len(suffix)].replace("_", " "), quantity(value * factor, unit, decimals)
    return name.replace("_", " "), number(value, "", 3)


def length(value_m: float | None) -> str:
    """Give a length driven: whole metres from ten upwards.

    >>> length(140.2), length(2.5)
    ('140 m', '2.5 m')
    """
    return quantity(value_m, "m", 0 if value_m is not None and (abs(value_m) >= 10 or value_m == 0) else 1)


def top_speed(value_kmh: float) -> float:
    """Give a speed nobody may go beyond at the tenth below it.

    >>> top_speed(3.46), top_speed(15.000000001), top_speed(14.99999999)
    (3.4, 15.0, 15.0)
    """
    return math.floor(10.0 * value_kmh + 1e-6) / 10.0


def chainage(from_m: float | None, to_m: float | None, at_m: float | None = None) -> str:
    """Give where on a road: from–to, or at one point; a stretch that rounds to nothing is a point.

    >>> chainage(28.3, 42.3), chainage(18.8, 19.4)
    ('28–42 m', 'at 19 m')
    """
    if from_m is not None and to_m is not None:
        begin, end = number(from_m, "m", 0), number(to_m, "m", 0)
        return f"{begin}–{end} m" if begin != end else f"at {end} m"
    return "" if at_m is None else f"at {number(at_m, 'm', 0)} m"


def duration(seconds: float | None) -> str:
    """Give a time span.

    >>> duration(87.2), duration(7500.0), duration(20.0)
    ('1 min 27 s', '2 h 05 min', '20 s')
    """
    if seconds is None:
        return NOT_KNOWN
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60:02d} s"
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60:02d} min"


def ranges(numbers: Iterable[int]) -> str:
    """Give numbers in order, runs of three and more as from–to.

    >>> ranges([1, 3, 4, 5, 17])
    '1, 3–5, 17'
    """
    runs: list[list[int]] = []
    for value in sorted(set(numbers)):
        if runs and value == runs[-1][-1] + 1:
            runs[-1].append(value)
        else:
            runs.append([value])
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 2 else ", ".join(str(value) for value in run) for run in runs)
