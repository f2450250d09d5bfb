"""One function a use case; command line, page and batch all call these and nothing below."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from travel.service.plan import Answer, exit_code, make_plan, write_plan
    from travel.service.show import rules_text, schema_of
    from travel.service.workspace import Workspace

_HOMES = {
    "Answer": "travel.service.plan",
    "exit_code": "travel.service.plan",
    "make_plan": "travel.service.plan",
    "write_plan": "travel.service.plan",
    "rules_text": "travel.service.show",
    "schema_of": "travel.service.show",
    "Workspace": "travel.service.workspace",
}

__all__ = ["Answer", "Workspace", "exit_code", "make_plan", "rules_text", "schema_of", "write_plan"]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'travel.service' has no attribute {name!r}")
