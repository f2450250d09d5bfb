"""What a formula says about itself: its sheet, where it holds, its working.

A formula is a public function of a topic module in this folder. Its docstring has five parts (what it
gives with the equation, ``Args``/``Returns`` with units in brackets, ``Valid for``, ``Example``,
``References``), its body is assignments and one return. Nothing about it is typed twice: the list of
formulas, the validity mask and the worked lines are all read from there.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import re
import textwrap
from collections.abc import Callable
from functools import cache
from types import FunctionType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from travel.errors import OutsideValidity

Formula = Callable[..., Any]

SECTIONS = ("Args", "Returns", "Valid for", "Example", "References")
_NOT_TOPICS = {"formula", "roll_engine"}


@cache
def catalogue() -> dict[str, Formula]:
    """Give every formula by name, topic by topic.

    Returns:
        name of the function → the function; names are unique over all topics
    """
    found: dict[str, Formula] = {}
    package = importlib.import_module("travel.mechanics")
    for info in pkgutil.iter_modules(package.__path__):
        if info.name in _NOT_TOPICS:
            continue
        module = importlib.import_module(f"travel.mechanics.{info.name}")
        for name, member in vars(module).items():
            if isinstance(member, FunctionType) and member.__module__ == module.__name__ and not name.startswith("_"):
                if name in found:
                    raise ValueError(f"two formulas are called {name}")
                found[name] = member
    return found


@cache
def sheet(formula: Formula) -> dict[str, Any]:
    """Give a formula's docstring taken apart.

    Returns:
        ``name``, ``topic``, ``gives`` (first line), ``equation`` (rest of the head), ``arguments``
        (name → (text, unit)), ``returns`` (text, unit), ``valid_for`` (inequalities), ``example``,
        ``references`` (lines)
    """
    text = inspect.getdoc(formula) or ""
    parts = re.split(rf"^({'|'.join(SECTIONS)}):\s*$", text, flags=re.MULTILINE)
    head, blocks = parts[0], dict(zip(parts[1::2], parts[2::2], strict=True))
    gives, _, equation = head.partition("\n")
    return {
        "name": formula.__name__,
        "topic": formula.__module__.rpartition(".")[2],
        "gives": gives.strip(),
        "equation": equation.strip(),
        "arguments": _arguments(blocks.get("Args", "")),
        "returns": _with_unit(_joined(blocks.get("Returns", ""))),
        "valid_for": tuple(line.strip() for line in blocks.get("Valid for", "").splitlines() if line.strip()),
        "example": textwrap.dedent(blocks.get("Example", "")).strip("\n"),
        "references": tuple(
            _joined(block) for block in re.split(r"\n(?=    \S)", blocks.get("References", "")) if block.strip()
        ),
    }


def holds(formula: Formula, **arguments: Any) -> NDArray[np.bool_]:
    """Give where all *Valid for* inequalities hold; a missing value (NaN) never holds.

    Args are the formula's own, floats or arrays; the result is broadcast over them. An argument that is an array
    by itself (its text says ``shape (n, 3)``, or ``shape (…, 3)`` for one that may also broadcast) counts as one value.
    """
    names, (lines, own_axes) = _names(formula), _conditions(formula)
    mask: Any = np.bool_(True)
    with np.errstate(invalid="ignore", divide="ignore"):
        for condition, axes in lines:
            mask = mask & _all_over_last(eval(condition, names, dict(arguments)), axes)
        for name, value in arguments.items():
            if isinstance(value, (int, float)) or (isinstance(value, np.ndarray) and value.dtype.kind == "f"):
                mask = mask & _all_over_last(~np.isnan(value), own_axes.get(name, 0))
    return np.asarray(mask, dtype=bool)


@cache
def _conditions(formula: Formula) -> tuple[tuple[tuple[Any, int], ...], dict[str, int]]:
    """Give the *Valid for* inequalities, compiled, with the axes of their own they run over; the same by argument."""
    own_axes = {name: _own_axes(text) for name, (text, _) in sheet(formula)["arguments"].items()}
    lines = []
    for line in sheet(formula)["valid_for"]:
        axes = max((n for name, n in own_axes.items() if re.search(rf"\b{name}\b", line)), default=0)
        lines.append((_compiled(line), axes))
    return tuple(lines), own_axes


def broken_lines(formula: Formula, **arguments: Any) -> tuple[str, ...]:
    """Give the *Valid for* inequalities that single values break."""
    names = _names(formula)
    with np.errstate(invalid="ignore", divide="ignore"):
        return tuple(
            line
            for line in sheet(formula)["valid_for"]
            if not bool(np.all(eval(_compiled(line), names, dict(arguments))))
        )


def insist(formula: Formula, **arguments: Any) -> Any:
    """Give the formula's value for single values, or raise ``OutsideValidity`` naming the inequality broken."""
    names = _names(formula)
    for line in sheet(formula)["valid_for"]:
        if not bool(np.all(eval(_compiled(line), names, dict(arguments)))):
            given = ", ".join(
                f"{key} = {value:g}"
                for key, value in arguments.items()
                if re.search(rf"\b{key}\b", line) and isinstance(value, (int, float))
            )
            raise OutsideValidity(f"{formula.__name__} holds for {line}; given {given}")
    return formula(**arguments)


def working(formula: Formula, **arguments: Any) -> tuple[tuple[str, str, str, Any], ...]:
    """Give the formula's steps for single values, read from its own body.

    Returns:
        for each line of the body (symbol, expression as written, expression with the numbers put in, value);
        the last symbol is ``result``
    """
    tree = ast.parse(textwrap.dedent(inspect.getsource(formula)))
    body = [node for node in tree.body[0].body if not _is_docstring(node)]  # type: ignore[attr-defined]
    values: dict[str, Any] = dict(arguments)
    steps = []
    for node in body:
        if isinstance(node, ast.Assign):
            symbol, expression = ast.unparse(node.targets[0]), node.value
        elif isinstance(node, ast.Return) and node.value is not None:
            symbol, expression = "result", node.value
        else:  # a procedure (a loop): only its result is shown
            return (("result", f"{formula.__name__}(…), a procedure", "", formula(**arguments)),)
        value = eval(compile(ast.Expression(expression), "<working>", "eval"), _names(formula), values)
        steps.append((symbol, ast.unparse(expression), _with_numbers(expression, values), value))
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Tuple):
            values.update({ast.unparse(t): v for t, v in zip(node.targets[0].elts, value, strict=True)})
        else:
            values[symbol] = value
    return tuple(steps)


def is_procedure(formula: Formula) -> bool:
    """Tell whether the body is more than assignments and a return, so that only its result can be shown."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(formula)))
    body = [node for node in tree.body[0].body if not _is_docstring(node)]  # type: ignore[attr-defined]
    return not all(isinstance(node, (ast.Assign, ast.Return)) for node in body)


def _own_axes(text: str) -> int:
    """Count the axes an argument has by itself: two for ``shape (n, 3)``, one for ``shape (…, 3)``, else none."""
    match = re.search(r"\bshape \(([^)]*)\)", text)
    return len([part for part in match.group(1).split(",") if part.strip() not in ("", "…")]) if match else 0


def _all_over_last(condition: Any, axes: int) -> Any:
    return np.all(condition, axis=tuple(range(-axes, 0))) if axes else condition


def _names(formula: Formula) -> dict[str, Any]:
    return {**vars(importlib.import_module(formula.__module__)), "np": np, "abs": np.abs}


@cache
def _compiled(line: str) -> Any:
    """Turn ``0 < a <= 1`` into an expression that also works on arrays (chains become ``&``)."""
    tree = ast.parse(line, mode="eval")
    return compile(ast.fix_missing_locations(_Chains().visit(tree)), "<valid for>", "eval")


def _chain_to_and(node: ast.Compare) -> ast.expr:
    left, terms = node.left, []
    for operator, right in zip(node.ops, node.comparators, strict=True):
        terms.append(ast.Compare(left=left, ops=[operator], comparators=[right]))
        left = right
    result: ast.expr = terms[0]
    for term in terms[1:]:
        result = ast.BinOp(left=result, op=ast.BitAnd(), right=term)
    return result


_Chains = type(
    "_Chains",
    (ast.NodeTransformer,),
    {"visit_Compare": lambda self, node: _chain_to_and(node)},
)


def _with_numbers(expression: ast.expr, values: dict[str, Any]) -> str:
    text = ast.unparse(expression)
    for name in sorted(values, key=len, reverse=True):
        if isinstance(values[name], (int, float, np.floating)):
            text = re.sub(rf"\b{name}\b(?!\()", f"{float(values[name]):.6g}", text)
    return text


def _is_docstring(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)


def _joined(block: str) -> str:
    return " ".join(line.strip() for line in block.splitlines() if line.strip())


def _with_unit(text: str) -> tuple[str, str]:
    match = re.search(r"\[([^\]]*)\]", text)
    return (text[: match.start()].strip(), match.group(1)) if match else (text, "")


def _arguments(block: str) -> dict[str, tuple[str, str]]:
    items = re.split(r"\n(?=    \w+:)", "\n" + block)
    pairs = (item.strip().partition(":") for item in items if item.strip())
    return {name.strip(): _with_unit(_joined(text)) for name, _, text in pairs}
