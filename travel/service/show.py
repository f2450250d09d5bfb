"""Schemas and limits, as people and programs read them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from travel.domain.layers import LAYERS
from travel.domain.machine import Load, Machine
from travel.domain.rules import Rulebook
from travel.domain.site import SiteHeader
from travel.errors import Fault, InputError
from travel.rulebook import load_rulebook
from travel.rulebook.model import Book
from travel.writers.plan_json import plan_schema, plan_to_bytes
from travel.writers.schema_text import schema_text
from travel.writers.summary import summary
from travel.writers.tables import rules_json, rules_table

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

    from travel.service.plan import Answer

KINDS = ("site", "machine", "load", "trailer", "request", "plan", "ramp", "rulebook")


def schema_of(kind: str) -> dict[str, Any]:
    """Give the JSON Schema of a kind of file; for a site its header, with every layer and column beside it."""
    from travel.domain.request_file import RequestFile
    from travel.domain.trailer import Trailer
    from travel.writers.ramp_json import ramp_schema

    if kind == "plan":
        return plan_schema()
    if kind == "ramp":
        return ramp_schema()
    if kind == "site":
        return {**SiteHeader.model_json_schema(), "x-layers": _layers(load_rulebook())}
    models: dict[str, Any] = {
        "machine": Machine,
        "load": Load,
        "trailer": Trailer,
        "request": RequestFile,
        "rulebook": Book,
    }
    if kind not in models:
        raise InputError(
            [Fault(file="command", field="kind", value=kind, message="is not a kind of file", allowed=", ".join(KINDS))]
        )
    schema: dict[str, Any] = models[kind].model_json_schema()
    return schema


def schema_shown(kind: str, as_text: bool) -> str:
    """Give what ``travel schema`` prints."""
    schema = schema_of(kind)
    return schema_text(schema) if as_text else json.dumps(schema, indent=2, ensure_ascii=False)


def _layers(rulebook: Rulebook) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for layer in LAYERS.values():
        out[layer.name] = {
            "about": layer.about,
            "geometry": list(layer.geometry),
            "columns": {
                field.name: {
                    key: value
                    for key, value in {
                        "kind": field.kind,
                        "unit": field.unit,
                        "about": field.about,
                        "needed": field.needed,
                        "least": field.low,
                        "greatest": field.high,
                        "words": list(rulebook.vocabulary.words(field.choices)) if field.choices else None,
                    }.items()
                    if value not in (None, "", False)
                }
                for field in layer.fields
            },
        }
    return out


def rules_text(books: tuple[Path, ...] = ()) -> tuple[Table, str]:
    """Give the limits in force, books laid over the default, as a table and as JSON."""
    rulebook = load_rulebook(books)
    return rules_table(rulebook), json.dumps(rules_json(rulebook), indent=2, ensure_ascii=False)


def plan_text(answer: Answer, files: tuple[str, ...], as_json: bool) -> list[RenderableType] | str:
    """Give what ``travel plan`` prints: the summary, or ``plan.json`` itself."""
    if as_json:
        return plan_to_bytes(answer.plan).decode("utf-8").rstrip("\n")
    return summary(answer.plan, answer.rulebook, files)
