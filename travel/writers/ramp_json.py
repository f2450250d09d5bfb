"""``ramp.json``: the field names are the keys, in their order; same answer, same bytes."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from collections.abc import Mapping
from typing import Any

from travel.domain.ramp import RAMP_SCHEMA, RampResult

_NUMBER_LIST = re.compile(r"\[\n\s+((?:-?[\d.]+(?:e[-+]?\d+)?|null)(?:,\n\s+(?:-?[\d.]+(?:e[-+]?\d+)?|null))*)\n\s+\]")
_AS_READ = frozenset({"request", "machine", "trailer", "terms", "capacity_terms", "limit"})
SCHEMA_ID = "urn:machine-travel:schema:ramp:1"


def ramp_to_bytes(result: RampResult) -> bytes:
    """Give the answer as UTF-8 JSON; lists of numbers stand on one line. NaN and infinity raise ValueError."""
    text = json.dumps(_plain(result, "ramp"), ensure_ascii=False, allow_nan=False, indent=2)
    text = _NUMBER_LIST.sub(lambda found: "[" + re.sub(r",\s+", ", ", found[1]) + "]", text)
    return text.encode("utf-8") + b"\n"


def ramp_schema() -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of ``ramp.json``. Every key is always written, so every key is required."""
    from pydantic import TypeAdapter

    schema: dict[str, Any] = TypeAdapter(RampResult).json_schema(mode="serialization")
    for part in (schema, *schema.get("$defs", {}).values()):
        if part.get("type") == "object" and "properties" in part:
            part["additionalProperties"] = False
            part["required"] = list(part["properties"])
    schema["properties"]["schema"] = {"const": RAMP_SCHEMA}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": SCHEMA_ID, **schema}


def _plain(value: object, key: str) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: _under(f.name, getattr(value, f.name), key) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(name): _under(str(name), item, key) for name, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(item, key) for item in value]
    if isinstance(value, float):
        return _rounded(value, key)
    return value


def _under(name: str, value: object, parent: str) -> Any:
    return _plain(value, parent if parent in _AS_READ else name)


def _rounded(value: float, key: str) -> float:
    """Round by key: metres 4 decimals, kilograms 1, the rest 6 digits; values as people wrote them not at all."""
    if not math.isfinite(value):
        raise ValueError(f"{key} is {value}: an answer holds finite numbers or null")
    if key in _AS_READ:
        return value
    if key.endswith(("_m", "_xz", "_xzr")):
        return round(value, 4) + 0.0
    if key.endswith("_kg"):
        return round(value, 1) + 0.0
    return float(f"{value:.6g}") + 0.0
