"""The shape of a rulebook file. Unknown keys are refused; every fault is listed."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from travel.domain.rules import Known, RuleKind, Scope, Sense, Status
from travel.domain.site import FileModel

Id = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*(\.[a-z][a-z0-9_-]*)*$")]


class RuleRow(FileModel):
    """One rule."""

    id: Id
    title: str
    group: str
    kind: RuleKind
    unit: str
    scope: Scope
    layers: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    acceptable: bool = True
    high_consequence: bool = False
    formula: str = ""
    capacity_formula: str = ""
    control: str = ""
    say: dict[str, str] = {}


class LimitRow(FileModel):
    """One limit or coefficient."""

    id: Id
    value: float
    unit: str
    sense: Sense
    status: Status
    source: str
    when: dict[str, str | float] = {}
    clause: str = ""
    known: Known = "practice"
    override_reason: str = ""
    note: str = ""


class SourceRow(FileModel):
    """One publication."""

    title: str
    edition: str = ""
    disagrees_with: str = ""


class ControlRow(FileModel):
    """One control."""

    id: Id
    text: str
    owner: str
    due: str
    evidence: str
    pre_travel: bool = False


class Book(FileModel):
    """A rulebook file: the default book's parts, a company's book or a site's."""

    format: Literal[1]
    layer: Literal["default", "company", "site"]
    name: str = ""
    rules: tuple[RuleRow, ...] = ()
    limits: tuple[LimitRow, ...] = ()
    controls: tuple[ControlRow, ...] = ()
    sources: dict[str, SourceRow] = {}
    vocabulary: dict[str, dict[str, str]] = {}
    sentences: dict[str, str] = {}
    cautions: tuple[str, ...] = ()
