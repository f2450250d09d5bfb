"""Text on a terminal: a number is never broken inside, nor off its unit."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from travel.writers.numbers import quantity
from travel.writers.terminal import Kept

SAID = (
    f"Gross at most {quantity(17200.0, 'kg')} (now {quantity(24000.0, 'kg')}), 12 km/h on the {quantity(0.5, 'm')} step"
)


@pytest.mark.parametrize("width", range(16, 70))
def test_no_line_breaks_inside_a_quantity(width: int) -> None:
    stream = io.StringIO()
    Console(file=stream, width=width, markup=False, highlight=False).print(Kept(SAID))
    lines = [line.rstrip() for line in stream.getvalue().splitlines()]
    assert " ".join(lines).split() == SAID.split()
    for whole in (quantity(17200.0, "kg"), quantity(24000.0, "kg"), "12 km/h", quantity(0.5, "m")):
        assert sum(whole in line for line in lines) == 1
    assert len(lines) == 1 or max(len(line) for line in lines) <= width


def test_styles_stay_on_their_words() -> None:
    stream = io.StringIO()
    console = Console(file=stream, width=11, force_terminal=True, color_system="standard")
    console.print(Kept(("17\u202f200 kg", "bold"), " at most here"))
    lines = [line.rstrip() for line in stream.getvalue().splitlines()]
    assert lines == ["\x1b[1m17\u202f200 kg\x1b[0m", "at most", "here"]
