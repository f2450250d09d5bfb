"""``plan.json``: the dataclass field names are the keys, in their order; same plan, same bytes."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

from travel.domain.plan import SCHEMA, TravelPlan
from travel.errors import Fault, InputError

_AS_READ = frozenset(
    {
        "request",
        "site",
        "machine",
        "trailer",
        "load",
        "weather",
        "relied_on",
        "limit",
        "transport",
        "setup",
    }
)
"""Subtrees that hold values as people wrote them; they are never rounded."""
_JUDGED = frozenset({"demand", "capacity", "margin", "tolerance", "severity", "smallest_margin", "cost", "exact"})
_TERMS = frozenset({"terms", "capacity_terms"})
_NUMBERS = frozenset({int, float})
_TEXT = json.encoder.encode_basestring
_ONE_LINE = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode
SCHEMA_ID = "urn:machine-travel:schema:plan:1"


def plan_to_bytes(plan: TravelPlan) -> bytes:
    """Give a plan as UTF-8 JSON: keys in the order of the fields, two spaces, a final newline.

    Lists of numbers stand on one line. Raises ValueError for NaN and infinity: such a number is a bug of the
    program and must not reach a file.
    """
    parts: list[str] = []
    _write(_plain(plan, "plan"), "\n", parts.append)
    return "".join((*parts, "\n")).encode("utf-8")


def plain_json(value: object) -> Any:
    """Give any part of an answer as JSON takes it, numbers rounded by their keys as in ``plan.json``."""
    return _plain(value, "")


def _write(value: Any, line: str, put: Callable[[str], None]) -> None:
    """Write a plain value in parts; ``line`` is what a new line at its depth begins with."""
    kind = type(value)
    if kind is str:
        put(_TEXT(value))
    elif kind is float:
        put(repr(value))
    elif kind is dict and value:
        inner, mark = line + "  ", "{"
        for key, item in value.items():
            put(f"{mark}{inner}{_TEXT(key)}: ")
            _write(item, inner, put)
            mark = ","
        put(line + "}")
    elif kind is list and not all(item is None or type(item) in _NUMBERS for item in value):
        inner, mark = line + "  ", "["
        for item in value:
            put(mark + inner)
            _write(item, inner, put)
            mark = ","
        put(line + "]")
    else:
        put(_ONE_LINE(value))


def plan_from_bytes(data: bytes, name: str = "plan.json") -> TravelPlan:
    """Give the plan written in a file; every fault found is in the InputError."""
    import pydantic

    try:
        raw = json.loads(data.decode("utf-8"), parse_constant=_refuse)
    except ValueError as error:
        raise InputError([Fault(file=name, message=f"not a JSON file: {error}")]) from error
    faults = _header_faults(raw, name)
    if faults:
        raise InputError(faults)
    try:
        return _adapter().validate_python(raw)  # type: ignore[no-any-return]
    except pydantic.ValidationError as error:
        found = [
            Fault(
                file=name,
                field=".".join(str(part) for part in item["loc"]),
                message=item["msg"],
                value=_short(item["input"]),
            )
            for item in error.errors(include_url=False)
        ]
        raise InputError(found) from error


def plan_schema() -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of ``plan.json``. Every key is always written, so every key is required."""
    schema: dict[str, Any] = _adapter().json_schema(mode="serialization")
    for part in (schema, *schema.get("$defs", {}).values()):
        if part.get("type") == "object" and "properties" in part:
            part["additionalProperties"] = False
            part["required"] = list(part["properties"])
    schema["properties"]["schema"] = {"const": SCHEMA}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": SCHEMA_ID, **schema}


@cache
def _adapter() -> Any:
    from pydantic import TypeAdapter

    return TypeAdapter(TravelPlan)


def _refuse(word: str) -> float:
    raise ValueError(f"{word} is not a number a plan may hold")


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _header_faults(raw: object, name: str) -> list[Fault]:
    if not isinstance(raw, dict):
        return [Fault(file=name, message="a plan is one JSON object")]
    if raw.get("schema") != SCHEMA:
        return [
            Fault(
                file=name,
                field="schema",
                value=_short(raw.get("schema")),
                message="this program does not know the version of this plan",
                allowed=SCHEMA,
            )
        ]
    known = {field.name for field in dataclasses.fields(TravelPlan)}
    return [Fault(file=name, field=str(key), message="unknown key") for key in raw if key not in known]


def _plain(value: object, key: str) -> Any:
    """Give a value as JSON takes it, rounded by the key it stands under."""
    if value is None or type(value) in (str, int, bool):
        return value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {name: _under(name, getattr(value, name), key) for name in _fields(type(value))}
    if isinstance(value, Mapping):
        return {str(name): _under(str(name), item, key) for name, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(item, key) for item in value]
    if isinstance(value, float):
        return float(_rounded(value, key))  # a plain number, where NumPy's came
    return value


@cache
def _fields(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in dataclasses.fields(kind))


def _under(name: str, value: object, parent: str) -> Any:
    keep = parent in _AS_READ or parent in _TERMS
    return _plain(value, parent if keep else name)


def _rounded(value: float, key: str) -> float:
    """Round by key: positions 7 decimals, metres, seconds, percent and km/h 3, judged numbers 6 digits, terms 9."""
    if not math.isfinite(value):
        raise ValueError(f"{key} is {value}: a plan holds finite numbers or null")
    if key in _AS_READ:
        return value
    if key in _TERMS:
        return _significant(value, 9)
    if "lonlat" in key:
        return round(value, 7) + 0.0
    if key.endswith(("_m", "_s", "_pct", "_kmh")):
        return round(value, 3) + 0.0
    return _significant(value, 6) if key in _JUDGED else value


def _significant(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}") + 0.0
