"""The four answers, from best to worst."""

from __future__ import annotations

from enum import IntEnum, StrEnum


class Verdict(IntEnum):
    """An answer; the larger the worse, so that ``max`` takes the worst."""

    CLEAR = 0
    CAUTION = 1
    UNKNOWN = 2
    BLOCKED = 3

    @property
    def word(self) -> str:
        """The verdict as written in files and on screens."""
        return self.name.lower()


class Travel(StrEnum):
    """Forward or reverse gear."""

    FORWARD = "forward"
    REVERSE = "reverse"


class Direction(StrEnum):
    """Along a road as drawn, or against it."""

    ALONG = "along"
    AGAINST = "against"
