"""Loading the default book and laying company and site books over it."""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import replace
from functools import cache
from importlib.resources import files
from pathlib import Path

from pydantic import ValidationError

from travel.domain.rules import BookLayer, Control, Limit, Patterns, RemedyRow, Rule, Rulebook, Source, Vocabulary
from travel.errors import Fault, RulebookError
from travel.rulebook.faults import over_faults, row_faults
from travel.rulebook.model import Book


def load_rulebook(books: tuple[Path, ...] = ()) -> Rulebook:
    """Give the default rulebook with the given books laid over it, in their order.

    Raises:
        RulebookError: every fault of every book: bad rows, unknown sources or words, a law or standard loosened
            without ``override_reason``
    """
    rulebook = _default()
    faults: list[Fault] = []
    for path in books:
        try:
            rulebook = lay_over(rulebook, path)
        except RulebookError as error:
            faults += error.faults
    if faults:
        raise RulebookError(faults)
    return rulebook


def lay_over(base: Rulebook, path: Path) -> Rulebook:
    """Give ``base`` with one more book laid over it: it may tighten freely and add rules, words and sources."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise RulebookError([Fault(file=str(path), message=f"cannot be read: {error.strerror}")]) from error
    book = _parse(data, str(path))
    if book.layer == "default":
        raise RulebookError(
            [Fault(file=str(path), field="layer", value="default", message="is taken", allowed="company, site")]
        )
    merged = _merge(
        base, book, BookLayer(layer=book.layer, name=book.name or path.name, sha256=hashlib.sha256(data).hexdigest())
    )
    faults = [*row_faults(book, merged, str(path)), *over_faults(base, book, str(path))]
    if faults:
        raise RulebookError(faults)
    loosened = tuple(limit for limit in merged.limits if limit.override_reason)
    return replace(merged, loosened=loosened)


@cache
def _default() -> Rulebook:
    folder = files("travel.rulebook") / "data"
    rulebook = Rulebook(
        rules={},
        limits=(),
        sources={},
        controls={},
        vocabulary=Vocabulary(lists={}),
        patterns=Patterns(sentences={}),
        cautions=(),
        books=(),
    )
    digest = hashlib.sha256()
    faults: list[Fault] = []
    books = []
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if entry.name.endswith(".toml"):
            data = entry.read_bytes()
            digest.update(data)
            book = _parse(data, entry.name)
            books.append((book, entry.name))
            rulebook = _merge(rulebook, book, None)
    for book, name in books:
        faults += row_faults(book, rulebook, name)
    if faults:
        raise RulebookError(faults)
    layer = BookLayer(layer="default", name="default", sha256=digest.hexdigest())
    return replace(rulebook, books=(layer,))


def _parse(data: bytes, name: str) -> Book:
    try:
        return Book.model_validate(tomllib.loads(data.decode("utf-8")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RulebookError([Fault(file=name, message=f"is not a TOML file: {error}")]) from error
    except ValidationError as error:
        raise RulebookError(
            [
                Fault(
                    file=name,
                    field=".".join(str(part) for part in item["loc"]),
                    value=repr(item["input"])[:80],
                    message=item["msg"],
                )
                for item in error.errors()
            ]
        ) from error


def _merge(base: Rulebook, book: Book, layer: BookLayer | None) -> Rulebook:
    rules = dict(base.rules)
    for row in book.rules:
        rules[row.id] = Rule(**row.model_dump())
    limits = (*base.limits, *(Limit(**row.model_dump(), layer=book.layer) for row in book.limits))
    lists = {name: dict(words) for name, words in base.vocabulary.lists.items()}
    for name, words in book.vocabulary.items():
        lists.setdefault(name, {}).update(words)
    remedies = {row.id: row for row in base.remedies}
    remedies |= {row.id: RemedyRow(**row.model_dump()) for row in book.remedies}
    return Rulebook(
        rules=rules,
        limits=limits,
        sources={**base.sources, **{key: Source(key=key, **row.model_dump()) for key, row in book.sources.items()}},
        controls={**base.controls, **{row.id: Control(**row.model_dump()) for row in book.controls}},
        vocabulary=Vocabulary(lists=lists),
        patterns=Patterns(sentences={**base.patterns.sentences, **book.sentences}),
        cautions=(*base.cautions, *book.cautions),
        books=(*base.books, layer) if layer else base.books,
        remedies=tuple(remedies.values()),
    )
