"""Check what people wrote in TOML against a model; every fault named by its key, with what is allowed."""

from __future__ import annotations

import datetime as dt
import difflib
import json
from collections.abc import Mapping
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from travel.readers.notes import Notes

Model = TypeVar("Model", bound=BaseModel)
Loc = tuple[int | str, ...]

_BOUNDS = {"ge": "at least", "gt": "more than", "le": "at most", "lt": "less than"}
_WANTED = {
    "float_type": "a number",
    "float_parsing": "a number",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "string_type": "text",
    "tuple_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "date_type": "a date YYYY-MM-DD",
    "date_parsing": "a date YYYY-MM-DD",
    "date_from_datetime_parsing": "a date YYYY-MM-DD",
    "date_from_datetime_inexact": "a date YYYY-MM-DD",
    **dict.fromkeys(
        ("datetime_type", "datetime_parsing", "datetime_from_date_parsing"), "a time YYYY-MM-DDTHH:MM+HH:MM"
    ),
    "finite_number": "a finite number",
}


def build(model: type[Model], content: Mapping[str, Any], notes: Notes) -> Model | None:
    """Give the model, or None after one fault for each thing wrong. Strict: text is no number, 1 is no flag."""
    try:
        return model.model_validate_json(json.dumps(content, default=_plain), strict=True)
    except ValidationError as error:
        for item in error.errors(include_url=False, include_context=True):
            if item["type"] == "too_short" and len(item["input"]) >= item["ctx"]["min_length"]:
                continue  # long enough as written; its faulty entries are told on their own
            _write(model, content, item, notes)  # type: ignore[arg-type]
        return None


def path_text(loc: Loc) -> str:
    """Give a key path as people write it.

    >>> path_text(("axles", 0, "load_kg"))
    'axles[0].load_kg'
    """
    return "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in loc).lstrip(".")


def _plain(value: object) -> str:
    """Give a TOML date or time as text."""
    return value.isoformat() if isinstance(value, dt.date | dt.time) else str(value)


def _write(model: type[BaseModel], content: Mapping[str, Any], item: dict[str, Any], notes: Notes) -> None:
    """Turn one validation error into a fault."""
    loc: Loc = item["loc"]
    kind: str = item["type"]
    here = notes.at(feature=_entry_name(content, loc))
    field = path_text(loc)
    if kind == "missing":
        here.fault("is needed", field=field)
    elif kind == "extra_forbidden":
        message, allowed = _unknown_key(model, loc)
        here.fault(message, field=field, value=item["input"], allowed=allowed)
    elif kind == "literal_error":
        here.fault("not an allowed value", field=field, value=item["input"], allowed=item["ctx"]["expected"])
    elif kind == "too_short":
        least = item["ctx"]["min_length"]
        here.fault("too few entries", field=field, value=item["input"], allowed=f"at least {least}")
    elif kind in _WANTED:
        text = isinstance(item["input"], str) and "number" in _WANTED[kind]
        message = "text where a number is due" if text else f"{_WANTED[kind]} is due"
        here.fault(message, field=field, value=item["input"], allowed=_WANTED[kind])
    elif bounds := [f"{word} {item['ctx'][key]:g}" for key, word in _BOUNDS.items() if key in item.get("ctx", {})]:
        here.fault("outside what is possible", field=field, value=item["input"], allowed=" and ".join(bounds))
    else:
        here.fault(item["msg"].lower(), field=field, value=item["input"])


def _unknown_key(model: type[BaseModel], loc: Loc) -> tuple[str, str]:
    """Say what may stand there instead of an unknown key: the key with its unit, a near one, or all."""
    key = str(loc[-1])
    keys = sorted(field.alias or name for name, field in _model_at(model, loc[:-1]).model_fields.items())
    if with_unit := [k for k in keys if k.startswith(f"{key}_")]:
        return "a key without a unit", " or ".join(with_unit)
    near = difflib.get_close_matches(key, keys, n=1)
    return "unknown key", f"did you mean {near[0]}?" if near else ", ".join(keys)


def _model_at(model: type[BaseModel], loc: Loc) -> type[BaseModel]:
    """Give the model that describes the table at a key path; keys of free tables are passed over."""
    current = model
    for part in loc:
        if part in current.model_fields:
            current = _inner(current.model_fields[str(part)].annotation) or current
    return current


def _inner(annotation: Any) -> type[BaseModel] | None:
    """Give the model inside an annotation such as ``tuple[Axle, ...] | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for part in get_args(annotation) if (found := _inner(part))), None)


def _entry_name(content: Mapping[str, Any], loc: Loc) -> str:
    """Give the name of the innermost list entry on a key path (an axle's, a gear's), if it has one."""
    name = ""
    value: Any = content
    for part in loc:
        try:
            value = value[part]
        except (KeyError, IndexError, TypeError):
            break
        if isinstance(part, int) and isinstance(value, dict) and isinstance(value.get("name"), str):
            name = value["name"]
    return name
