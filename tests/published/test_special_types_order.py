"""Special Types General Order (GB) and abnormal-load notices, as police, county and trade pages tell them.

Categories: 46 t on 5 axles, 50 t on 6; 80 t and 150 t on at least 6, axle up to 16.5 t; D 9.0 m gives 67 500 and
112 500 kg. Notice: working days to police and authorities; a special order is applied for about ten weeks ahead.
"""

from __future__ import annotations

import pytest

from travel.mechanics.axle_law import stgo_gross_category_2, stgo_gross_category_3
from travel.rulebook import load_rulebook, resolve

BOOK = load_rulebook()


def held(limit: str, **case: object) -> float:
    """Give the value that holds in Great Britain."""
    found = resolve(BOOK, limit, jurisdiction="gb", **case)  # type: ignore[arg-type]
    assert found is not None
    return found.value


def test_by_axle_distance() -> None:
    assert stgo_gross_category_2(9.0) == pytest.approx(67500.0)
    assert stgo_gross_category_3(9.0) == pytest.approx(112500.0)


@pytest.mark.parametrize(
    ("category", "axles", "tonnes"),
    [("category_1", 5, 46), ("category_1", 6, 50), ("category_2", 6, 80), ("category_3", 6, 150)],
)
def test_ceilings(category: str, axles: int, tonnes: float) -> None:
    assert held("axle-law.special_gross", special=category, axles=float(axles)) == 1000.0 * tonnes
    assert resolve(BOOK, "axle-law.special_gross", jurisdiction="gb", special=category, axles=4.0) is None


@pytest.mark.parametrize(("category", "kg"), [("category_2", 12500.0), ("category_3", 16500.0)])
def test_axles(category: str, kg: float) -> None:
    """16.5 t read; 12.5 t of category 2 from memory; category 1 has no axle of its own, the general limits hold."""
    assert held("axle-law.special_axle", special=category) == kg
    assert resolve(BOOK, "axle-law.special_axle", jurisdiction="gb", special="category_1") is None


@pytest.mark.parametrize(("group", "tonnes"), [("tandem", 20), ("tridem", 24)])
def test_groups_from_memory(group: str, tonnes: float) -> None:
    assert held(f"axle-law.{group}", vehicle="trailer", spacing_m=1.36) == 1000.0 * tonnes


@pytest.mark.parametrize(
    ("limit", "printed"),
    [
        ("axle-law.gross", 44000.0),
        ("axle-law.axle", 10000.0),
        ("axle-law.driving_axle", 11500.0),
        ("road-size.width", 2.9),
        ("road-size.rigid_length", 18.65),
        ("road-size.overhang", 3.05),
        ("road-size.side_overhang", 0.305),
    ],
)
def test_abnormal_over(limit: str, printed: float) -> None:
    assert held(limit) == printed


@pytest.mark.parametrize(("combination", "printed"), [("rigid", 18.65), ("articulated", 25.9), ("road_train", 25.9)])
def test_length(combination: str, printed: float) -> None:
    assert held("road-size.length", combination=combination) == printed


@pytest.mark.parametrize(
    ("limit", "quantity", "value", "days"),
    [
        ("axle-law.notice", "gross_kg", 44000.0, 0),
        ("axle-law.notice", "gross_kg", 44001.0, 2),
        ("axle-law.notice", "gross_kg", 80000.0, 2),
        ("axle-law.notice", "gross_kg", 80001.0, 5),
        ("axle-law.notice", "gross_kg", 150000.0, 5),
        ("axle-law.notice", "gross_kg", 150001.0, 50),
        ("road-size.notice", "width_m", 2.9, 0),
        ("road-size.notice", "width_m", 2.91, 2),
        ("road-size.notice", "width_m", 4.3, 2),
        ("road-size.notice", "width_m", 5.0, 2),
        ("road-size.notice", "width_m", 6.11, 50),
        ("road-size.notice_rigid", "rigid_m", 18.65, 0),
        ("road-size.notice_rigid", "rigid_m", 18.66, 2),
        ("road-size.notice_rigid", "rigid_m", 18.76, 2),
        ("road-size.notice_length", "length_m", 25.9, 0),
        ("road-size.notice_length", "length_m", 25.91, 2),
        ("road-size.notice_overhang", "overhang_m", 3.05, 0),
        ("road-size.notice_overhang", "overhang_m", 3.06, 2),
        ("road-size.notice_side", "side_m", 0.305, 0),
        ("road-size.notice_side", "side_m", 0.306, 2),
        ("axle-law.notice_axle", "axle_share", 1.0, 0),
        ("axle-law.notice_axle", "axle_share", 1.001, 2),
    ],
)
def test_notice_in_working_days(limit: str, quantity: str, value: float, days: float) -> None:
    assert held(limit, **{quantity: value}) == days


def test_where_pages_disagree_on_a_special_order_the_shorter_length_counts() -> None:
    """27.4 m on one page, 30 m of stiff length on others."""
    assert held("road-size.notice_rigid", rigid_m=27.4) == 2
    assert held("road-size.notice_rigid", rigid_m=27.5) == 50


def test_advice_is_asked_for_over_4_95_m() -> None:
    assert held("road-size.height") == 4.95
