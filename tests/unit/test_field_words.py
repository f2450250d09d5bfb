"""Columns in words: every one is a column of the site, and no word is left with an underscore in it."""

from __future__ import annotations

from travel.domain.field_words import FIELD_WORDS, field_words
from travel.domain.layers import LAYERS


def test_every_word_is_of_a_column() -> None:
    columns = {field.name for spec in LAYERS.values() for field in spec.fields} | {"grade"}
    assert set(FIELD_WORDS) <= columns
    assert not [words for words in FIELD_WORDS.values() if "_" in words or words != words.strip()]


def test_how_a_value_came_is_told() -> None:
    assert field_words("sag_max_m lapsed") == "greatest sag, from the owner (no longer holds)"
    assert field_words("surveyed.overheads") is None
