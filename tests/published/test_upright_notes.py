"""Share of the tipping limit, bends and wind against printed numbers.

1. Accident-reconstruction note on sideways slides: SSF 1.20 at 70 % and SSF 0.94 at 90 % both lift at 0.84 g.
2. Textbook bend: 20 m, track 1.8 m, height 1.0 m, v = sqrt(g R t / 2h) (no number printed; 13.3 m/s by hand).
3. Loader-crane manual, p. 23-24: 2 t, 9 m2, c_w 1: the table's wind speeds times 0.5 (0.516, cut): 36 and 50 km/h
   become 18 and 25.
"""

from __future__ import annotations

import pytest

from travel.mechanics.upright import curve_speed, tip_line_share, wind_limit_of_load


@pytest.mark.parametrize(("ssf", "share"), [(1.20, 0.70), (0.94, 0.90)])
def test_share_at_which_wheels_were_seen_to_lift(ssf: float, share: float) -> None:
    """Half a track of SSF metres, one metre high, 0.84 g sideways (0.846 is printed as 0.84 for the second)."""
    assert float(tip_line_share(ssf, 0.0, 1.0, 0.0, 0.84, 0.0, 0.0)) == pytest.approx(share, abs=0.01)


def test_bend_of_the_textbook() -> None:
    assert float(curve_speed(20.0, 0.0, 1.5, 0.9)) == pytest.approx(13.3, abs=0.05)


@pytest.mark.parametrize(("table_kmh", "printed_kmh"), [(36.0, 18.0), (50.0, 25.0)])
def test_wind_with_a_large_sail(table_kmh: float, printed_kmh: float) -> None:
    assert float(wind_limit_of_load(table_kmh / 3.6, 2000.0, 1.0, 9.0)) * 3.6 == pytest.approx(printed_kmh, rel=0.04)
