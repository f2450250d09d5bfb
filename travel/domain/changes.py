"""What differs between two plans, or between a plan and what is there now."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from travel.domain.plan import Condition, Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldChange:
    """One value that differs: old and new; None = not there."""

    field: str
    old: Any
    new: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing a plan relied on that differs now, and the findings that go with it."""

    layer: str
    feature: str
    kind: Literal["new", "gone", "changed"]
    fields: tuple[FieldChange, ...] = ()
    findings: tuple[FindingChange, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingChange:
    """A finding only one of two plans has, or that they judge by other numbers."""

    kind: Literal["new", "gone", "changed"]
    old: Finding | None
    new: Finding | None

    @property
    def either(self) -> Finding:
        """The finding as it is now, or as it was where it is gone."""
        found = self.new or self.old
        assert found is not None
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Two plans side by side: whether the ways are alike, and every finding, condition and input that differs."""

    same_way: bool
    findings: tuple[FindingChange, ...]
    new_conditions: tuple[Condition, ...]
    gone_conditions: tuple[Condition, ...]
    relied_on: tuple[Change, ...]
    request: tuple[FieldChange, ...]

    @property
    def alike(self) -> bool:
        """Whether the answers are alike, whatever differs in what they rest on."""
        return self.same_way and not (self.findings or self.new_conditions or self.gone_conditions)


@dataclass(frozen=True, slots=True, kw_only=True)
class Validity:
    """Whether a plan still holds: what it relied on that differs now, and what that does to the answer.

    ``findings`` are those no single change can be named for; ``fault`` says why it cannot be planned again;
    ``not_compared`` names what was not looked at; ``otherwise`` what the file says otherwise than planning again does.
    """

    void: bool
    changes: tuple[Change, ...]
    renewed: tuple[Change, ...] = ()
    findings: tuple[FindingChange, ...] = ()
    verdict: str = ""
    outcome: str = ""
    fault: str = ""
    not_compared: tuple[str, ...] = ()
    otherwise: tuple[str, ...] = ()
