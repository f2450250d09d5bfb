"""What a document holds, apart from how it is set: the PDF and the page are made of the same blocks."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any, Literal


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading of the first or second level below the title."""

    text: str
    level: int = 1
    kind: Literal["heading"] = "heading"


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph; ``tone`` is plain, strong, small or warning (framed)."""

    text: str
    tone: Literal["plain", "strong", "small", "warning"] = "plain"
    kind: Literal["para"] = "para"


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list; ``boxes``: a box to tick before each."""

    items: tuple[str, ...]
    boxes: bool = False
    kind: Literal["bullets"] = "bullets"


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a heading row; ``shares`` are the columns' widths in parts; a row of one cell runs across."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    tall: bool = False
    kind: Literal["table"] = "table"


@dataclass(frozen=True, slots=True)
class Pairs:
    """Labels with values."""

    rows: tuple[tuple[str, str], ...]
    kind: Literal["pairs"] = "pairs"


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing with what it shows in words; ``wide``: on a page of its own, across."""

    svg: str
    said: str
    caption: str = ""
    wide: bool = False
    kind: Literal["figure"] = "figure"


@dataclass(frozen=True, slots=True)
class Forms:
    """Lines to fill in by hand."""

    rows: tuple[str, ...]
    kind: Literal["forms"] = "forms"


@dataclass(frozen=True, slots=True)
class Box:
    """One finding: a title, text, label–value notes, and lines of working set as they stand."""

    title: str
    text: str
    notes: tuple[tuple[str, str], ...]
    working: tuple[str, ...]
    verdict: str
    kind: Literal["box"] = "box"


Block = Heading | Para | Bullets | Table | Pairs | Figure | Forms | Box


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """The first page: what a supervisor decides on."""

    heading: str
    verdict: str
    sign: str
    outcome: str
    facts: tuple[tuple[str, str], ...]
    ways: tuple[tuple[str, str], ...]
    counted: str
    conditions: tuple[tuple[str, ...], ...]
    more_conditions: str
    unknowns: tuple[tuple[str, ...], ...]
    more_unknowns: str
    stops: tuple[str, ...]
    holds: tuple[tuple[str, str], ...]
    release: str
    remark: str
    releasable: bool
    signatures: tuple[str, ...]
    plan_id: str
    fingerprint: str
    qr_svg: str
    qr_said: str
    map_said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """The whole document; the first page's map is drawn when the room for it is known."""

    title: str
    front: Front
    blocks: tuple[Block, ...] = field(default=())


def as_plain(value: Any) -> dict[str, Any]:
    """Give a document or a part of it as plain values for JSON."""
    found: dict[str, Any] = asdict(value)
    return found


@cache
def fixed_words() -> Mapping[str, Any]:
    """Give the fixed lists of document and card."""
    return tomllib.loads((files("travel.writers") / "assets" / "paper.toml").read_text("utf-8"))
