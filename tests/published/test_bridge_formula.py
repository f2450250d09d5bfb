"""US bridge formula (23 USC 127, 23 CFR 658.17) against the tables of California AB 1953 and 67 Pa. Code 185.3.

Exact ties are rounded down in the federal and the California table and up in Pennsylvania's.
"""

from __future__ import annotations

import pytest

from travel.mechanics.axle_law import bridge_formula_raw, bridge_formula_table

FT, LB = 0.3048, 0.45359237
ROWS = [
    (9, 2, 39000, 39000), (10, 2, 40000, 40000), (10, 3, 43500, 43500), (12, 3, 45000, 45000),
    (14, 3, 46500, 46500), (16, 3, 48000, 48000), (20, 3, 51000, 51000), (12, 4, 50000, 50000),
    (13, 4, 50666.7, 50500), (16, 4, 52666.7, 52500), (18, 4, 54000, 54000), (20, 4, 55333.3, 55500),
    (30, 4, 62000, 62000), (32, 4, 63333.3, 63500), (20, 5, 60500, 60500), (24, 5, 63000, 63000),
    (36, 5, 70500, 70500), (40, 5, 73000, 73000), (48, 5, 78000, 78000), (20, 6, 66000, 66000),
    (24, 6, 68400, 68500), (32, 6, 73200, 73000), (40, 6, 78000, 78000), (43, 6, 79800, 80000),
    (24, 7, 74000, 74000),
]  # fmt: skip


@pytest.mark.parametrize(("feet", "axles", "raw", "table"), ROWS)
def test_rows(feet: float, axles: float, raw: float, table: float) -> None:
    assert bridge_formula_raw(feet * FT, axles) / LB == pytest.approx(raw, abs=0.05)
    for ties in (0.0, 1.0):
        assert bridge_formula_table(feet * FT, axles, ties) / LB == pytest.approx(table, abs=1e-6)


def test_exact_ties() -> None:
    assert bridge_formula_raw(9 * FT, 3.0) / LB == pytest.approx(42750.0, abs=1e-6)
    assert bridge_formula_table(9 * FT, 3.0, 0.0) / LB == pytest.approx(42500.0, abs=1e-6)
    assert bridge_formula_table(9 * FT, 3.0, 1.0) / LB == pytest.approx(43000.0, abs=1e-6)


def test_every_three_axle_row_of_california_rounds_its_tie_down() -> None:
    """Odd lengths of three axles are exact ties of 250 or 750: 500 (1.5 L + 72) for L 9 to 28 ft."""
    for feet in range(9, 29):
        raw = 500 * (1.5 * feet + 72)
        down, up = (bridge_formula_table(feet * FT, 3.0, ties) / LB for ties in (0.0, 1.0))
        if feet % 2:
            assert (down, up) == pytest.approx((raw - 250, raw + 250), abs=1e-6)
        else:
            assert (down, up) == pytest.approx((raw, raw), abs=1e-6)


def test_five_axles_51_ft() -> None:
    assert bridge_formula_raw(51 * FT, 5.0) / LB == pytest.approx(79875.0, abs=1e-6)
    assert bridge_formula_table(51 * FT, 5.0, 0.0) / LB == pytest.approx(80000.0, abs=1e-6)


def test_worked_check_of_the_first_three_axles() -> None:
    assert 12000 + 17000 + 17000 == 46000 < bridge_formula_table(20 * FT, 3.0, 0.0) / LB


def test_two_tandems_by_the_formula_alone() -> None:
    """36 to 38 ft: 66 000 to 67 500 lb, so the exception (34 000 lb each) is worth having."""
    found = [bridge_formula_table(feet * FT, 4.0, 0.0) / LB for feet in (36, 37, 38)]
    assert found == pytest.approx([66000, 66500, 67500], abs=1e-6)
