"""Text as people typed it, made safe to set on a page or a screen."""

from __future__ import annotations

import unicodedata

_FIRST_STRONG_ISOLATE, _POP_ISOLATE = "\u2068", "\u2069"
_DIRECTION_MARKS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def upright(text: str) -> str:
    """Give the text without marks that override the direction of what follows; isolates (balanced by us) stay."""
    return "".join(c for c in text if c not in _DIRECTION_MARKS or c in (_FIRST_STRONG_ISOLATE, _POP_ISOLATE))


def plain(text: object) -> str:
    """Give the text without control characters and without marks that turn the direction of what follows.

    >>> plain("haul\\x1b[31m road")
    'haul [31m road'
    """
    kept = []
    for char in str(text):
        if char in _DIRECTION_MARKS:
            continue
        category = unicodedata.category(char)
        kept.append(" " if category in ("Cc", "Zl", "Zp") else "\ufffd" if category == "Cs" else char)
    return "".join(kept)


def isolated(text: object) -> str:
    """Give a name fit for the middle of a sentence: a right-to-left name is kept from reordering its neighbours."""
    cleaned = plain(text)
    if any(unicodedata.bidirectional(char) in ("R", "AL", "AN") for char in cleaned):
        return f"{_FIRST_STRONG_ISOLATE}{cleaned}{_POP_ISOLATE}"
    return cleaned
