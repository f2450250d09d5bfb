"""One text for one value: JSON as RFC 8785 writes it, so that a signature holds over bytes and not over a layout."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from typing import Any

_SAFE_INTEGER = 2**53
"""Beyond this a JSON number no longer names one integer (RFC 8785, 3.2.2.3; RFC 7493, 2.2)."""
_SURROGATE = re.compile("[\ud800-\udfff]")


def canonical(value: Any) -> bytes:
    """Give the canonical bytes of a JSON value.

    Object members are sorted by the UTF-16 code units of their names, numbers are written as ECMAScript writes them,
    nothing stands between the tokens, and the text is UTF-8.

    >>> canonical({"b": [1.0, 1e30], "a": "€"}).decode()
    '{"a":"€","b":[1,1e+30]}'

    Raises:
        ValueError: NaN, infinity, an integer no double holds, half a surrogate pair, or what is no JSON value
    """
    return _text(value).encode("utf-8")


def _text(value: Any) -> str:
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, str):
        return _string(value)
    if isinstance(value, int):
        if abs(value) > _SAFE_INTEGER:
            raise ValueError(f"{value} is an integer no double holds exactly")
        return str(value)
    if isinstance(value, float):
        return number(value)
    if isinstance(value, Mapping):
        return _object(value)
    if isinstance(value, (list, tuple)):
        return "[" + ",".join(_text(item) for item in value) + "]"
    raise ValueError(f"{type(value).__name__} is no JSON value")


def _object(value: Mapping[Any, Any]) -> str:
    if not all(isinstance(name, str) for name in value):
        raise ValueError("the name of a member is a text")
    names = sorted(value, key=lambda name: name.encode("utf-16-be", "surrogatepass"))
    return "{" + ",".join(f"{_string(name)}:{_text(value[name])}" for name in names) + "}"


def _string(text: str) -> str:
    if _SURROGATE.search(text):
        raise ValueError("half a surrogate pair is no text")
    return json.dumps(text, ensure_ascii=False)


def number(value: float) -> str:
    """Give a double as ECMAScript's Number::toString does: the shortest digits that read back as the same double.

    >>> number(-0.0), number(1e21), number(1e20), number(1e-7)
    ('0', '1e+21', '100000000000000000000', '1e-7')
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} is no JSON number")
    if value == 0:
        return "0"
    if value < 0:
        return "-" + number(-value)
    mantissa, _, exponent = f"{value!r}e0".partition("e")
    whole, _, part = mantissa.partition(".")
    power = int(exponent.removesuffix("e0") or 0)
    part = "" if part == "0" else part
    digits = (whole + part).lstrip("0")
    point = power + len(whole) - (len(whole + part) - len(digits))
    digits = digits.rstrip("0")
    return _laid_out(digits, point)


def _laid_out(digits: str, point: int) -> str:
    """Give digits with the decimal point ``point`` places from their left, as ECMA-262 lays numbers out."""
    count = len(digits)
    if count <= point <= 21:
        return digits + "0" * (point - count)
    if 0 < point <= 21:
        return f"{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return "0." + "0" * -point + digits
    mantissa = digits if count == 1 else f"{digits[0]}.{digits[1:]}"
    return f"{mantissa}e{point - 1:+d}"
