"""Every formula is checked against a published number, or is listed in ``tests/unverified.toml`` with the reason."""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

import pytest

from travel.mechanics.formula import catalogue

TESTS = Path(__file__).parents[1]
UNVERIFIED = tomllib.loads((TESTS / "unverified.toml").read_text(encoding="utf-8"))


def _imported(path: Path) -> set[str]:
    """List the formulas a file imports by name and calls."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    imported = {
        alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("travel.mechanics.")
        for alias in node.names
    }
    used = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    return imported & used


def _published() -> set[str]:
    return set().union(*(_imported(path) for path in sorted((TESTS / "published").glob("test_*.py"))))


def test_published_and_unverified_together_are_all_formulas() -> None:
    formulas, published, listed = set(catalogue()), _published() & set(catalogue()), set(UNVERIFIED)
    assert formulas - published - listed == set(), "neither tested against a publication nor listed"
    assert published & listed == set(), "listed as unverified though tested against a publication"
    assert listed - formulas == set(), "listed but no formula"


@pytest.mark.parametrize("name", sorted(UNVERIFIED))
def test_each_unverified_formula_has_its_reason(name: str) -> None:
    assert set(UNVERIFIED[name]) == {"reason"}
    assert UNVERIFIED[name]["reason"].strip()


@pytest.mark.parametrize("path", sorted((TESTS / "published").glob("test_*.py")), ids=lambda path: path.stem)
def test_each_published_file_names_its_source_and_tests_a_formula(path: Path) -> None:
    assert _imported(path) & set(catalogue())
    assert len((ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "").split()) >= 8
