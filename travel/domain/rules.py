"""Rules, limits, sources and words as values; where they are written down is no concern here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Literal

RuleKind = Literal["limit", "cap", "permit"]
Scope = Literal["piece", "pair", "turn", "stop", "trip", "plan"]
Sense = Literal["at_most", "at_least"]
Status = Literal["law", "standard", "maker", "owner", "site", "practice"]
Known = Literal["read", "memory", "practice"]
RemedySense = Literal["raise", "lower", "set", "remove", "measure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A publication: enough to find it."""

    key: str
    title: str
    edition: str = ""
    disagrees_with: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """What a named person does so that a stretch may be passed.

    ``pre_travel``: part of every move's list; ``when`` narrows that to one attitude.
    """

    id: str
    text: str
    owner: str
    due: str
    evidence: str
    pre_travel: bool = False
    when: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


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
class RemedyRow:
    """One way to open what a rule has shut, or (``forbidden``) one that is never offered and why.

    ``layer`` is a layer of the site, or ``machine``, ``weather``, ``request`` or ``survey``. Price = ``price`` (once
    for each feature or road, shared by the rows of one ``group``) + ``price_per_m`` × length + ``price_per_unit`` ×
    change (× length on roads). ``values`` are what a field is set to, the first that opens is taken; ``also`` what is
    set beside it. A forbidden row names in ``forbids`` the rows it takes away: always, in some ``attitudes``, or with
    an overhead of the kinds ``near`` within ``within_m`` of the stretch.
    """

    id: str
    rules: tuple[str, ...] = ()
    layer: str = ""
    fields: tuple[str, ...] = ()
    sense: RemedySense = "set"
    values: tuple[str | float | bool, ...] = ()
    also: Mapping[str, str | float | bool] = field(default_factory=lambda: MappingProxyType({}))
    step: float = 0.0
    kinds: tuple[str, ...] = ()
    attitudes: tuple[str, ...] = ()
    group: str = ""
    price: float = 0.0
    price_per_unit: float = 0.0
    price_per_m: float = 0.0
    who: str = ""
    lead_time_days: float = 0.0
    side_effects: str = ""
    needs_survey: bool = False
    text: str = ""
    forbidden: bool = False
    forbids: tuple[str, ...] = ()
    near: tuple[str, ...] = ()
    within_m: float = 0.0
    reason: str = ""
    status: Status = "practice"
    source: str = "practice"
    known: Known = "practice"


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
    remedies: tuple[RemedyRow, ...] = ()

    @cached_property
    def limits_of(self) -> Mapping[str, tuple[Limit, ...]]:
        """The limits that may apply by their id, in their order."""
        out: dict[str, tuple[Limit, ...]] = {}
        for limit in self.limits:
            out[limit.id] = (*out.get(limit.id, ()), limit)
        return out
