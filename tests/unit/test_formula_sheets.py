"""Every formula says what it is, in one fixed form, and that form is true: names, units, limits, body, broadcasting."""

from __future__ import annotations

import ast
import importlib
import inspect
import operator
import textwrap
from functools import cache
from typing import Any

import numpy as np
import pytest

from travel import units
from travel.errors import OutsideValidity
from travel.mechanics.formula import catalogue, holds, insist, is_procedure, sheet, working

FORMULAS = sorted(catalogue())
TOPICS = sorted({formula.__module__ for formula in catalogue().values()})
ALLOWED_IMPORTS = (
    "__future__",
    "typing",
    "collections.abc",
    "math",
    "numpy",
    "travel.units",
    "travel.errors",
    "travel.mechanics",
)
UNITS = {
    "_n_per_m3": {"N/m³"}, "_kg_per_m3": {"kg/m³"}, "_n_per_m": {"N/m"}, "_per_k": {"1/K"}, "_mps2": {"m/s2", "m/s²"},
    "_m2": {"m2", "m²"}, "_mps": {"m/s"}, "_nm": {"N m"}, "_n_m": {"N m", "N·m"}, "_m": {"m"}, "_ratio": {"-"},
    "_count": {"-"}, "_n": {"N"}, "_rad": {"rad"}, "_pa": {"Pa"}, "_kg": {"kg"}, "_s": {"s"}, "_w": {"W"},
    "_v": {"V"}, "_c": {"°C", "K"},
}  # fmt: skip
RANGES = {
    "m": (0.05, 50.0), "-": (0.01, 1.2), "N": (1e3, 1e6), "N/m": (1.0, 1e3), "m/s2": (0.1, 6.0), "m/s²": (0.1, 6.0),
    "rad": (0.01, 1.4), "Pa": (2e3, 1e6), "m/s": (0.5, 12.0), "kg": (100.0, 3e4), "s": (0.1, 3.0), "W": (1e3, 2e5),
    "V": (1e3, 4e5), "m2": (0.01, 50.0), "m²": (0.01, 10.0), "N m": (10.0, 1e4), "N·m": (10.0, 1e6),
    "N/m³": (5e3, 2.5e4), "kg/m³": (0.5, 2e3), "1/K": (1e-5, 3e-5), "K": (1.0, 60.0), "°C": (-20.0, 60.0),
}  # fmt: skip
SHAPED = {
    "supports_m": np.array([[0.0, 1.0, 0.0], [-3.0, 0.0, 0.6], [0.0, -1.0, 0.0]]),
    "path_m": np.array([[0.0, 0.0], [1.0, 0.1], [2.0, 0.3]]),
    "headings_rad": np.array([0.1, 0.0]),
    "drawbars_m": np.array([3.0, 5.0]),
    "hitches_m": np.array([0.5, 0.0]),
    "profile_x_m": np.linspace(-100.0, 200.0, 61),
    "profile_z_m": np.sin(np.linspace(-100.0, 200.0, 61) / 20.0),
    "under_x_m": np.array([-4.0, -2.0, 1.0]),
    "under_z_m": np.array([0.9, 0.4, 0.7]),
    "ground_x_m": np.linspace(0.0, 60.0, 7),
    "ground_z_m": np.array([0.0, 0.2, 0.1, 0.4, 0.3, 0.0, -0.2]),
    "axle_x_m": np.array([0.0, 3.0, 4.3]),
    "axle_load_kg": np.array([6000.0, 9000.0, 9000.0]),
    "point_xyz_m": np.array([1.0, 2.0, 3.0]),
    "end_a_xyz_m": np.array([-10.0, 0.0, 8.0]),
    "end_b_xyz_m": np.array([20.0, 5.0, 9.0]),
}
COMPARE = {ast.Lt: operator.lt, ast.LtE: operator.le, ast.Gt: operator.gt, ast.GtE: operator.ge}


def _one_sample(name: str, rng: np.random.Generator) -> dict[str, Any]:
    values: dict[str, Any] = {}
    ends = _two_ends(name)
    for argument, (text, unit) in sheet(catalogue()[name])["arguments"].items():
        low, high = ends.get(argument, RANGES[unit])
        if "shape (" in text:
            values[argument] = SHAPED[argument]
        elif argument.endswith("_count"):
            values[argument] = float(rng.integers(1, 5))
        elif low > 0:
            values[argument] = float(np.exp(rng.uniform(np.log(low), np.log(high))))
        else:
            values[argument] = float(rng.uniform(low, high))
    return values


@cache
def _two_ends(name: str) -> dict[str, tuple[float, float]]:
    """Give the range of each argument that a line bounds by numbers on both sides, to draw from there at once."""
    found = {}
    for line in sheet(catalogue()[name])["valid_for"]:
        tree = ast.parse(line, mode="eval").body
        assert isinstance(tree, ast.Compare)
        if len(tree.ops) == 2 and isinstance(tree.comparators[0], ast.Name):
            numbers = [side for side in (tree.left, tree.comparators[1]) if not _names_in(side)]
            if len(numbers) == 2:
                low, high = (float(eval(ast.unparse(number))) for number in numbers)
                found[tree.comparators[0].id] = (low, high)
    return found


def _names_in(node: ast.AST) -> set[str]:
    return {inner.id for inner in ast.walk(node) if isinstance(inner, ast.Name)} - {"np", "abs"}


def _samples(name: str, count: int) -> list[dict[str, Any]]:
    """Draw arguments until enough lie within the formula's validity."""
    rng = np.random.default_rng(sum(map(ord, name)))
    found: list[dict[str, Any]] = []
    for _ in range(20_000):
        values = _one_sample(name, rng)
        if bool(holds(catalogue()[name], **values)):
            found.append(values)
            if len(found) == count:
                return found
    raise AssertionError(f"no arguments found within the validity of {name}")


def _scalars(name: str) -> list[str]:
    return [a for a, (text, _) in sheet(catalogue()[name])["arguments"].items() if "shape (" not in text]


def _broadcasting(name: str) -> list[str]:
    """List the arguments that take arrays of any shape; a procedure may take single values, annotated ``float``."""
    parameters = inspect.signature(catalogue()[name]).parameters
    single = {key for key, parameter in parameters.items() if parameter.annotation == "float"}
    assert not single or is_procedure(catalogue()[name])
    return [argument for argument in _scalars(name) if argument not in single]


# --- the sheet -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FORMULAS)
def test_sheet_is_complete_and_names_the_signature(name: str) -> None:
    formula = catalogue()[name]
    parts = sheet(formula)
    assert list(parts["arguments"]) == list(inspect.signature(formula).parameters)
    assert parts["gives"].endswith(".")
    assert parts["equation"]
    assert all(text and unit for text, unit in parts["arguments"].values())
    assert all(parts["returns"])
    assert parts["valid_for"]
    assert ">>>" in parts["example"]
    assert parts["references"]


@pytest.mark.parametrize("name", FORMULAS)
def test_unit_in_the_name_is_the_unit_in_the_text(name: str) -> None:
    for argument, (_, unit) in sheet(catalogue()[name])["arguments"].items():
        suffix = next((s for s in sorted(UNITS, key=len, reverse=True) if argument.endswith(s)), None)
        assert suffix is not None, argument
        assert unit in UNITS[suffix], argument


@pytest.mark.parametrize("name", FORMULAS)
def test_valid_for_speaks_of_arguments_only(name: str) -> None:
    formula = catalogue()[name]
    for line in sheet(formula)["valid_for"]:
        tree = ast.parse(line, mode="eval")
        assert isinstance(tree.body, ast.Compare), line
        named = _names_in(tree)
        assert named, line
        assert named <= set(inspect.signature(formula).parameters), line


@pytest.mark.parametrize("name", FORMULAS)
def test_body_is_assignments_and_a_return_or_says_procedure(name: str) -> None:
    formula = catalogue()[name]
    said = "Procedure" in (inspect.getdoc(formula) or "")
    assert is_procedure(formula) == said


# --- limits ----------------------------------------------------------------------------------------------------


@cache
def _sides(line: str) -> tuple[tuple[Any, ...], tuple[type, ...]]:
    tree = ast.parse(line, mode="eval").body
    assert isinstance(tree, ast.Compare)
    sides = (compile(ast.Expression(side), "<side>", "eval") for side in (tree.left, *tree.comparators))
    return tuple(sides), tuple(type(op) for op in tree.ops)


def _true(line: str, values: dict[str, Any]) -> bool:
    """Evaluate one inequality as plain Python, for single values; of an array argument every element must hold."""
    sides, ops = _sides(line)
    worth = [eval(side, {"np": np, "abs": np.abs}, dict(values)) for side in sides]
    return all(bool(np.all(COMPARE[op](a, b))) for op, a, b in zip(ops, worth, worth[1:], strict=False))


def _every_true(formula: Any, values: dict[str, Any]) -> bool:
    return all(_true(line, values) for line in sheet(formula)["valid_for"])


def _bare_limits() -> list[tuple[str, str, str, type, float]]:
    """List the comparisons of one argument with a number: (formula, line, argument, operator, number)."""
    found = []
    for name in FORMULAS:
        for line in sheet(catalogue()[name])["valid_for"]:
            tree = ast.parse(line, mode="eval").body
            assert isinstance(tree, ast.Compare)
            for left, op, right in zip([tree.left, *tree.comparators], tree.ops, tree.comparators, strict=False):
                argument, bound, kind = (left, right, type(op))
                if isinstance(right, ast.Name):
                    flip = {ast.Lt: ast.Gt, ast.LtE: ast.GtE, ast.Gt: ast.Lt, ast.GtE: ast.LtE}
                    argument, bound, kind = (right, left, flip[type(op)])
                plain = isinstance(argument, ast.Name) and not _names_in(bound)
                if plain and isinstance(argument, ast.Name) and argument.id in _scalars(name):
                    number = float(eval(compile(ast.Expression(bound), "<bound>", "eval")))
                    found.append((name, line, argument.id, kind, number))
    return found


@pytest.mark.parametrize(("name", "line", "argument", "kind", "bound"), _bare_limits())
def test_holds_inside_at_and_outside_each_limit(name: str, line: str, argument: str, kind: type, bound: float) -> None:
    formula = catalogue()[name]
    values = _samples(name, 1)[0]
    nudge = max(abs(bound), 1.0) * 1e-9
    inwards = 1.0 if kind in (ast.Gt, ast.GtE) else -1.0
    at, outside, inside = (values | {argument: v} for v in (bound, bound - inwards * nudge, bound + inwards * nudge))
    assert _true(line, inside)
    assert _true(line, at) == (kind in (ast.GtE, ast.LtE))
    assert not bool(holds(formula, **outside))
    for case in (inside, at):
        assert bool(holds(formula, **case)) == _every_true(formula, case)
    with pytest.raises(OutsideValidity, match=argument):
        insist(formula, **outside)


@pytest.mark.parametrize("name", FORMULAS)
def test_every_inequality_can_fail_and_holds_follows_it(name: str) -> None:
    """For limits between arguments: move one argument far enough out; the mask over an array shows where it fails."""
    formula = catalogue()[name]
    values = _samples(name, 1)[0]
    steps = np.geomspace(1e-6, 1e9, 11)
    cases = [dict.fromkeys(values, same) for same in (0.0, 1.0) if not set(values) & set(SHAPED)]
    for argument, base in values.items():
        for step in (*-steps, 0.0, *steps):
            cases.append(values | {argument: np.full_like(base, step) if isinstance(base, np.ndarray) else float(step)})
    broken = set()
    for case in cases:
        assert bool(holds(formula, **case)) == _every_true(formula, case)
        broken |= {line for line in sheet(formula)["valid_for"] if not _true(line, case)}
    assert broken == set(sheet(formula)["valid_for"])


@pytest.mark.parametrize("name", FORMULAS)
def test_a_missing_value_never_holds(name: str) -> None:
    values = _samples(name, 1)[0]
    for argument, base in values.items():
        missing = (
            np.where(np.arange(base.size).reshape(base.shape) == 0, np.nan, base)
            if isinstance(base, np.ndarray)
            else float("nan")
        )
        assert not np.any(holds(catalogue()[name], **(values | {argument: missing})))


def test_mask_over_slopes_with_an_array_argument() -> None:
    """The shape of an argument that is an array by itself does not get into the mask."""
    mask = holds(
        catalogue()["tip_factor"], grade_ratio=np.array([0.1, 1.5, np.nan, -0.2, 0.0]), cross_slope_ratio=0.0,
        along_mps2=0.0, across_mps2=0.0, cg_x_m=-1.2, cg_y_m=0.0, cg_z_m=1.2, supports_m=SHAPED["supports_m"],
    )  # fmt: skip
    assert mask.tolist() == [True, False, False, True, True]


# --- body ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", FORMULAS)
def test_arrays_give_what_single_values_give(name: str) -> None:
    formula = catalogue()[name]
    free = _broadcasting(name)
    if not free:
        pytest.skip("takes single values, or arrays by themselves, only")
    samples = _samples(name, 6)
    fixed = {key: value for key, value in samples[0].items() if key not in free}
    samples = [values | fixed for values in samples if bool(holds(formula, **(values | fixed)))]
    single = [formula(**values) for values in samples]
    stacked = {key: np.array([values[key] for values in samples]) for key in free}
    np.testing.assert_allclose(np.asarray(formula(**fixed, **stacked)), np.array(single), rtol=1e-10)
    assert all(np.ndim(value) > 0 or not isinstance(value, np.ndarray) for value in single)  # floats in, floats out


@pytest.mark.parametrize("name", FORMULAS)
def test_arguments_broadcast_against_each_other(name: str) -> None:
    formula = catalogue()[name]
    free = _broadcasting(name)
    if len(free) < 2:
        pytest.skip("nothing to broadcast")
    first, second = _samples(name, 2)
    crossed = {
        key: np.array([[first[key]], [second[key]]]) if i % 2 else np.array([first[key], second[key]])
        for i, key in enumerate(free)
    }
    fixed = {key: value for key, value in first.items() if key not in free}
    with np.errstate(all="ignore"):
        whole = np.asarray(formula(**fixed, **crossed))
    for row, odd in enumerate((first, second)):
        for column, even in enumerate((first, second)):
            values = {key: (odd if i % 2 else even)[key] for i, key in enumerate(free)}
            if bool(holds(formula, **fixed, **values)):
                np.testing.assert_allclose(whole[row, column], formula(**fixed, **values), rtol=1e-10)


@pytest.mark.parametrize("name", FORMULAS)
def test_working_ends_with_the_value(name: str) -> None:
    values = _samples(name, 1)[0]
    steps = working(catalogue()[name], **values)
    assert steps[-1][0] == "result"
    np.testing.assert_array_equal(np.asarray(steps[-1][3]), np.asarray(catalogue()[name](**values)))


# --- the modules -----------------------------------------------------------------------------------------------


def _tree(module: str) -> ast.Module:
    return ast.parse(inspect.getsource(importlib.import_module(module)))


@pytest.mark.parametrize("module", TOPICS)
def test_module_has_no_class_and_imports_arithmetic_only(module: str) -> None:
    for node in ast.walk(_tree(module)):
        assert not isinstance(node, ast.ClassDef)
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        for name in names:
            assert any(name == root or name.startswith(root + ".") for root in ALLOWED_IMPORTS), name


@pytest.mark.parametrize("module", TOPICS)
def test_conversion_factors_come_from_units(module: str) -> None:
    factors = {
        value for key, value in vars(units).items()
        if key.isupper() and isinstance(value, float) and value not in (1000.0, 60.0, 3600.0, 0.01)
    }  # fmt: skip
    for node in ast.walk(_tree(module)):
        if isinstance(node, ast.Constant) and isinstance(node.value, float):
            assert node.value not in factors, f"{module}, line {node.lineno}"


def test_examples_of_the_formulas_run_as_doctests() -> None:
    """They are collected from the package by the test run; here only that none is skipped."""
    for name in FORMULAS:
        assert "doctest: +SKIP" not in textwrap.dedent(sheet(catalogue()[name])["example"])
