"""What a file may hold, as a list to read: every key with what it takes, * before what is needed."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

Schema = Mapping[str, Any]
_WIDE, _NAME = 110, 24
_TYPES = {"string": "text", "number": "number", "integer": "whole number", "boolean": "true or false", "null": ""}


def schema_text(schema: Schema) -> str:
    """Give a JSON Schema, and the layers of a site beside it, as text."""
    lines = ["* = needed; what is left out is not known, which is never taken as clear."]
    lines += ["", str(schema.get("description") or schema.get("title", "")).strip(" .`").replace("``", "")]
    lines += list(_keys(schema, schema.get("$defs", {}), 1, ()))
    for name, layer in schema.get("x-layers", {}).items():
        lines += ["", f"{name}.geojson: {layer['about']} ({', '.join(layer['geometry'])})"]
        for column, spec in layer["columns"].items():
            lines += _line(column, bool(spec.get("needed")), _column(spec), 1)
    return "\n".join(lines)


def _column(spec: Schema) -> str:
    """Give what a column takes: its unit and range, its words, and what it is."""
    words = ", ".join(spec.get("words") or ())
    least, greatest, unit = spec.get("least"), spec.get("greatest"), spec.get("unit", "")
    kind = {"choice": "", "flag": "true or false", "number": unit or "number"}.get(spec["kind"], spec["kind"])
    taken = words or " ".join(part for part in (_span(least, greatest), "" if kind == "-" else kind) if part)
    return "; ".join(part for part in (spec.get("about", ""), taken) if part)


def _span(least: float | None, greatest: float | None) -> str:
    """Give a range in words.

    >>> _span(0.5, 10), _span(None, 2000000), _span(0, None), _span(None, None)
    ('0.5 to 10', 'up to 2000000', 'from 0', '')
    """
    if least is None or greatest is None:
        return "" if least is greatest else f"from {least:.12g}" if greatest is None else f"up to {greatest:.12g}"
    return f"{least:.12g} to {greatest:.12g}"


def _keys(schema: Schema, shared: Schema, depth: int, inside: tuple[str, ...]) -> Iterator[str]:
    """Give the keys of an object, those of the objects in it set in below them."""
    needed = set(schema.get("required", ()))
    for name, spec in schema.get("properties", {}).items():
        below, many, named = _object(spec, shared)
        yield from _line(name, name in needed, _said(spec, shared, many), depth)
        if below is not None and named not in inside and depth < 5:
            yield from _keys(below, shared, depth + 1, (*inside, named))


def _object(spec: Schema, shared: Schema) -> tuple[Schema | None, str, str]:
    """Give the object a key holds, whether one or many, and its name in the schema."""
    for one in (spec, *spec.get("anyOf", ())):
        if "$ref" in one:
            name = str(one["$ref"]).rpartition("/")[2]
            found = shared.get(name, {})
            if "properties" in found:
                return found, "", name
        for key, word in (("items", "list of"), ("additionalProperties", "by name")):
            inner = one.get(key)
            if isinstance(inner, Mapping):
                found, _, name = _object(inner, shared)
                if found is not None:
                    return found, word, name
    return None, "", ""


def _said(spec: Schema, shared: Schema, many: str) -> str:
    """Give what a key takes in words: its kind, range and words."""
    kinds = [part for one in spec.get("anyOf", (spec,)) if (part := _kind(one, shared))]
    kind = " or ".join(dict.fromkeys(kinds))
    return " ".join(part for part in (many, kind) if part and part != many)


def _kind(spec: Schema, shared: Schema) -> str:
    if "$ref" in spec:
        found = shared.get(str(spec["$ref"]).rpartition("/")[2], {})
        about = str(found.get("description", "")).strip().split("\n")[0].replace("``", "")
        return about if "properties" in found else _kind(found, shared)
    if "const" in spec:
        return f"{spec['const']}"
    if "enum" in spec:
        return ", ".join(str(word) for word in spec["enum"])
    if spec.get("type") == "array":
        inner = _kind(spec["items"], shared) if isinstance(spec.get("items"), Mapping) else "values"
        return inner if "$ref" in spec.get("items", {}) else f"list of {inner or 'values'}"
    if spec.get("type") == "object":
        named = spec.get("additionalProperties")
        return f"name = {_kind(named, shared) or 'value'}" if isinstance(named, Mapping) else "table"
    low = spec.get("minimum", spec.get("exclusiveMinimum"))
    high = spec.get("maximum", spec.get("exclusiveMaximum"))
    kind = spec.get("format") or _TYPES.get(spec.get("type", ""), "")
    return f"{kind} {_span(low, high)}".strip()


def _line(name: str, needed: bool, said: str, depth: int) -> list[str]:
    """Give one key, wrapped under what is said of it."""
    head = f"{'  ' * depth}{'*' if needed else ' '} {name}".ljust(_NAME)
    space = " " * (len(head) + 1)
    return textwrap.wrap(said, _WIDE, initial_indent=f"{head} ", subsequent_indent=space) or [head.rstrip()]
