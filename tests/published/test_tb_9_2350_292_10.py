"""US Army TB 9-2350-292-10, p. 21: grade as rise over horizontal run, in percent."""

from __future__ import annotations

from travel.mechanics.slope import grade_over_window
from travel.units import M_PER_FT, ratio_to_pct


def test_page_21_25_ft_in_100_ft_is_25_percent() -> None:
    assert abs(ratio_to_pct(grade_over_window(25 * M_PER_FT, 100 * M_PER_FT)) - 25) <= 0.5
