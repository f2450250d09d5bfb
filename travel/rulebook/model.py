"""The shape of a rulebook file. Unknown keys are refused; every fault is listed."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from travel.domain.machine import AttitudeName
from travel.domain.rules import Known, RemedySense, RuleKind, Scope, Sense, Status
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
    when: dict[Literal["attitude"], AttitudeName] = {}


class RemedyModel(FileModel):
    """One remedy, or one that is forbidden. The fields are those of :class:`travel.domain.rules.RemedyRow`."""

    id: Id
    rules: tuple[str, ...] = ()
    layer: str = ""
    fields: tuple[str, ...] = ()
    sense: RemedySense = "set"
    values: tuple[str | float | bool, ...] = ()
    also: dict[str, str | float | bool] = {}
    step: Annotated[float, Field(ge=0)] = 0.0
    kinds: tuple[str, ...] = ()
    attitudes: tuple[str, ...] = ()
    group: str = ""
    price: Annotated[float, Field(ge=0)] = 0.0
    price_per_unit: Annotated[float, Field(ge=0)] = 0.0
    price_per_m: Annotated[float, Field(ge=0)] = 0.0
    who: str = ""
    lead_time_days: Annotated[float, Field(ge=0)] = 0.0
    side_effects: str = ""
    needs_survey: bool = False
    text: str = ""
    forbidden: bool = False
    forbids: tuple[str, ...] = ()
    near: tuple[str, ...] = ()
    within_m: Annotated[float, Field(ge=0)] = 0.0
    reason: str = ""
    status: Status = "practice"
    source: str = "practice"
    known: Known = "practice"


class Book(FileModel):
    """A rulebook file: the default book's parts, a company's book or a site's."""

    format: Literal[1]
    layer: Literal["default", "company", "site"]
    name: str = ""
    rules: tuple[RuleRow, ...] = ()
    limits: tuple[LimitRow, ...] = ()
    controls: tuple[ControlRow, ...] = ()
    remedies: tuple[RemedyModel, ...] = ()
    sources: dict[str, SourceRow] = {}
    vocabulary: dict[str, dict[str, str]] = {}
    sentences: dict[str, str] = {}
    cautions: tuple[str, ...] = ()
