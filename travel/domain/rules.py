"""Rules, limits, sources and words as values; where they are written down is no concern here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

RuleKind = Literal["limit", "cap", "permit"]
Scope = Literal["piece", "pair", "turn", "stop", "trip", "plan"]
Sense = Literal["at_most", "at_least"]
Status = Literal["law", "standard", "maker", "owner", "site", "practice"]
Known = Literal["read", "memory", "practice"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A publication: enough to find it."""

    key: str
    title: str
    edition: str = ""
    disagrees_with: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """What a named person does so that a stretch may be passed."""

    id: str
    text: str
    owner: str
    due: str
    evidence: str
    pre_travel: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One question asked everywhere. ``needs`` names the values without which the answer is unknown.

    ``layers`` names the survey layers that must have been looked at; ``acceptable`` tells whether a planner may
    accept its unknown by name and reason; ``say`` holds sentence patterns by verdict, filled by the writers.
    """

    id: str
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
    say: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One row: a limit or a coefficient with its source. ``when`` narrows where it holds.

    Keys of ``when`` are words of the vocabulary (``surface``, ``ground``, ``range``, ``attitude``, ``jurisdiction`` …)
    or a quantity with ``_over`` (exclusive) or ``_to`` (inclusive).
    """

    id: str
    value: float
    unit: str
    sense: Sense
    status: Status
    source: str
    when: Mapping[str, str | float] = field(default_factory=lambda: MappingProxyType({}))
    clause: str = ""
    known: Known = "practice"
    override_reason: str = ""
    layer: str = "default"
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Resolved:
    """A limit as it holds in one case: the value, and the row that won."""

    value: float
    limit: Limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Vocabulary:
    """The words a file may use, by list (``surface``, ``place``, ``overhead``, ``ground`` …), each with its gloss."""

    lists: Mapping[str, Mapping[str, str]]

    def words(self, name: str) -> tuple[str, ...]:
        """Give the words of one list."""
        return tuple(self.lists[name])

    def gloss(self, name: str, word: str) -> str:
        """Give what a word means."""
        return self.lists[name].get(word, word)


@dataclass(frozen=True, slots=True, kw_only=True)
class BookLayer:
    """One layer of the rulebook: default, company or site."""

    layer: str
    name: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Patterns:
    """Sentences to fill, by name."""

    sentences: Mapping[str, str]


@dataclass(frozen=True, eq=False, kw_only=True)
class Rulebook:
    """Every rule, every limit that may apply, every source, the words and the sentences."""

    rules: Mapping[str, Rule]
    limits: tuple[Limit, ...]
    sources: Mapping[str, Source]
    controls: Mapping[str, Control]
    vocabulary: Vocabulary
    patterns: Patterns
    cautions: tuple[str, ...]
    books: tuple[BookLayer, ...]
    loosened: tuple[Limit, ...] = ()
