"""folium without what it loads and never needs here: pandas, requests, and templates that nobody draws.

Each class of folium and branca makes its Jinja template as it is defined, some hundred of them, for a map that uses
ten. While they are loaded ``jinja2.Template`` is a stand-in that makes the template when it is first asked. Each
script once drawn is made a template again: where nothing in it is for Jinja, it is its own text.
"""

from __future__ import annotations

import importlib
import re
import sys
from functools import cache, cached_property
from types import ModuleType
from typing import Any

_FOR_JINJA = re.compile(r"\{[{%#]")
_NEWLINE = re.compile(r"\r\n?")


@cache
def load_folium() -> Any:
    """Give folium. Where it is loaded already it is given as it is."""
    if "folium" in sys.modules:
        return sys.modules["folium"]
    import jinja2

    light: dict[str, ModuleType | None] = {
        "pandas": None,  # an import of it fails, as where it is not installed; nothing here is a table
        "requests": _Waiting("requests"),
    }
    light = {name: module for name, module in light.items() if name not in sys.modules}
    real = jinja2.Template
    sys.modules.update(light)  # type: ignore[arg-type]  # None is what stops an import
    jinja2.Template = _later(real)  # type: ignore[misc]
    try:
        import folium
    finally:
        jinja2.Template = real  # type: ignore[misc]
        for name in light:
            del sys.modules[name]
    return folium


class _Waiting(ModuleType):
    """Stands for a module that is imported when something in it is first asked for."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        return getattr(importlib.import_module(self.__name__), name)


def _later(real: Any) -> Any:
    """Give a class that stands for ``jinja2.Template`` and makes one at the first look at it."""

    class Later:
        environment_class = real.environment_class

        def __init__(self, *args: Any, **options: Any) -> None:
            self._args, self._options = args, options

        @cached_property
        def _made(self) -> Any:
            kind = type("Template", (real,), {"environment_class": type(self).environment_class})
            return kind(*self._args, **self._options)

        def render(self, *args: Any, **values: Any) -> Any:
            plain = len(self._args) == 1 and not self._options and not _FOR_JINJA.search(self._args[0])
            return _NEWLINE.sub("\n", self._args[0]).removesuffix("\n") if plain else self._made.render(*args, **values)

        def __getattr__(self, name: str) -> Any:
            if name in ("_args", "_options") or name.startswith("__"):
                raise AttributeError(name)
            return getattr(self._made, name)

    return Later
