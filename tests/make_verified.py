"""Writes ``travel/mechanics/verified.toml``: for each formula the publications its numbers were tested against.

Read from ``tests/published``: a file's first line names its source, its imports the formulas. Run after adding a test.
"""

from __future__ import annotations

import ast
from pathlib import Path

from travel.mechanics.formula import catalogue

HERE = Path(__file__).parent
TARGET = HERE.parent / "travel" / "mechanics" / "verified.toml"


def verified() -> dict[str, list[str]]:
    """Give formula → first lines of the published tests that call it."""
    found: dict[str, list[str]] = {}
    for path in sorted((HERE / "published").glob("test_*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        source = (ast.get_docstring(tree) or path.stem).splitlines()[0].rstrip(".")
        used = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
        imported = {
            alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("travel.mechanics.")
            for alias in node.names
        }
        for name in sorted(imported & used & set(catalogue())):
            found.setdefault(name, []).append(source)
    return dict(sorted(found.items()))


def text() -> str:
    """Give the file's content."""
    rows = ["# Formula = publications its numbers were tested against. Written by tests/make_verified.py.", ""]
    for name, sources in verified().items():
        listed = ", ".join('"' + source.replace("\\", "\\\\").replace('"', '\\"') + '"' for source in sources)
        rows.append(f"{name} = [{listed}]")
    return "\n".join(rows) + "\n"


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
