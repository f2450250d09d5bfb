"""US bridge formula (23 USC 127, 23 CFR 658.17) against the tables of California AB 1953 and 67 Pa. Code 185.3.

Exact ties are rounded down in the federal and the California table and up in Pennsylvania's. Caps: single axle 20 000,
tandem 34 000, gross 80 000 lb; two axles 4 to 7 ft apart 34 000 lb (California).
"""

from __future__ import annotations

import pytest

from travel.mechanics.axle_law import axle_group_weight_us, bridge_formula_raw, bridge_formula_table
from travel.rulebook import load_rulebook, resolve

FT, IN, LB = 0.3048, 0.0254, 0.45359237
BOOK = load_rulebook()


def cap_kg(name: str) -> float:
    """Give a federal cap as the rulebook keeps it."""
    found = resolve(BOOK, f"axle-law.{name}", jurisdiction="us")
    assert found is not None
    return found.value


def group_lb(outer_m: float, axles: float, ties: float = 0.0) -> float:
    """Give what a group may carry, with the rulebook's caps."""
    return float(axle_group_weight_us(outer_m, axles, ties, cap_kg("axle"), cap_kg("tandem"))) / LB


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


@pytest.mark.parametrize("feet", [4, 5, 6, 7])
def test_two_axles_close_together_are_a_tandem(feet: float) -> None:
    assert group_lb(feet * FT, 2.0) == pytest.approx(34000, abs=0.5)


@pytest.mark.parametrize(("name", "pounds"), [("axle", 20000), ("driving_axle", 20000), ("tandem", 34000),
                                              ("gross", 80000)])  # fmt: skip
def test_caps(name: str, pounds: float) -> None:
    assert cap_kg(name) / LB == pytest.approx(pounds, abs=0.5)


@pytest.mark.parametrize(("inches", "axles", "pounds"), [(40, 2, 20000), (40.1, 2, 34000), (96, 2, 34000),
                                                         (96, 3, 34000), (96.1, 2, 38000)])  # fmt: skip
def test_edges_of_single_and_tandem(inches: float, axles: float, pounds: float) -> None:
    """Within 40 in one single axle, within 96 in a tandem, however many axles; then the formula."""
    assert group_lb(inches * IN, axles) == pytest.approx(pounds, abs=0.5)


@pytest.mark.parametrize(("feet", "axles", "raw", "table"), ROWS)
def test_beyond_a_tandem_the_group_is_the_table(feet: float, axles: float, raw: float, table: float) -> None:
    assert group_lb(feet * FT, axles) == pytest.approx(table, abs=0.5)


def test_ties_go_down_unless_a_book_says_otherwise() -> None:
    found = resolve(BOOK, "axle-law.ties_up")
    assert found is not None
    assert group_lb(9 * FT, 3.0, found.value) == pytest.approx(42500, abs=0.5)


def test_california_stops_at_twice_a_single_axle() -> None:
    """The two-axle column ends at 40 000 lb: further apart each axle's own cap holds, not the formula."""
    assert bridge_formula_table(12 * FT, 2.0, 0.0) / LB > 40000
    assert 2 * cap_kg("axle") / LB == pytest.approx(40000, abs=0.5)


def test_worked_check_of_the_first_three_axles() -> None:
    """Axles of 12 000, 17 000 and 17 000 lb on 20 ft: 46 000 of 51 000 lb (the 20 ft from memory)."""
    assert group_lb(20 * FT, 3.0) == pytest.approx(51000, abs=0.5)
    assert group_lb(20 * FT, 3.0) >= 12000 + 17000 + 17000
    assert group_lb(13 * FT, 3.0) < 12000 + 17000 + 17000


def test_two_tandems_by_the_formula_alone() -> None:
    """36 to 38 ft: 66 000 to 67 500 lb, so the exception (34 000 lb each) is worth having."""
    found = [bridge_formula_table(feet * FT, 4.0, 0.0) / LB for feet in (36, 37, 38)]
    assert found == pytest.approx([66000, 66500, 67500], abs=1e-6)
