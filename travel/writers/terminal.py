"""Text for a terminal that is never broken inside a number, or between a number and its unit."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from rich.measure import Measurement
from rich.segment import Segment
from rich.text import Text

from travel.writers.numbers import THIN

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderResult

_HELD, _GLUED = "\ue000", "\ue001"
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:m|mm|km|km/h|kg|kPa|kN|kW|kV|t|s|min|h|d|%|°C|m/s|m/s²)(?![\w/]))")


class Kept:
    """Text that wraps between words, a number with its unit being one word.

    Args:
        parts: text, or text with a style, one after the other
        style: of the whole
    """

    def __init__(self, *parts: str | tuple[str, str], style: str = "") -> None:
        self.text = Text.assemble(*parts, style=style)
        self.text.plain = _BEFORE_UNIT.sub(_GLUED, self.text.plain.replace(THIN, _HELD))

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Render with the spaces that hold a quantity together hidden from the wrapping."""
        for segment in console.render(self.text, options):
            text = segment.text.replace(_HELD, THIN).replace(_GLUED, " ")
            yield Segment(text, segment.style, segment.control)

    def __rich_measure__(self, console: Console, options: ConsoleOptions) -> Measurement:
        """Give the width of the longest word and of the whole."""
        return Measurement.get(console, options, self.text)
