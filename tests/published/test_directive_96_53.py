"""Directive 96/53/EC, Annex I: sizes, axle loads and gross masses of the book; the semitrailer deemed to turn.

Axle and gross rows from a public summary of the Directive, sizes from its text. From memory: the deemed distance
(8.135 m at 2.55 m of width, 8.155 m at 2.50 m), 36 t on four axles, 32 t of a rigid vehicle on four axles.
"""

from __future__ import annotations

import math

import pytest

from travel.mechanics.axle_law import deemed_semitrailer_base
from travel.mechanics.turning import off_tracking_steady
from travel.rulebook import load_rulebook, resolve

BOOK = load_rulebook()


def held(limit: str, **case: object) -> float:
    """Give the value that holds in the European Union; NaN where the Directive says nothing."""
    found = resolve(BOOK, limit, jurisdiction="eu", **case)  # type: ignore[arg-type]
    assert found is None or found.limit.source == "eu-96-53"
    return math.nan if found is None else found.value


@pytest.mark.parametrize(("width", "base"), [(2.55, 8.135), (2.50, 8.155)])
def test_deemed_base(width: float, base: float) -> None:
    outer, inner = held("road-size.ring_outer"), held("road-size.ring_inner")
    front = held("road-size.kingpin_to_front")
    assert deemed_semitrailer_base(width, outer, inner, front) == pytest.approx(base, abs=5e-4)


def test_on_a_steady_circle_the_deemed_semitrailer_runs_on_the_inner_ring() -> None:
    outer, front, width = 12.50, 2.04, 2.55
    base = float(deemed_semitrailer_base(width, outer, 5.30, front))
    inside = outer - front - off_tracking_steady(outer - front, base) - width / 2.0
    assert inside == pytest.approx(held("road-size.ring_inner"), abs=1e-9)
    assert held("road-size.ring_outer") - inside == pytest.approx(7.20)


@pytest.mark.parametrize(
    ("limit", "case", "printed"),
    [
        ("road-size.height", {}, 4.00),
        ("road-size.width", {}, 2.55),
        ("road-size.length", {"combination": "rigid"}, 12.00),
        ("road-size.length", {"combination": "articulated"}, 16.50),
        ("road-size.length", {"combination": "road_train"}, 18.75),
        ("road-size.kingpin_to_rear", {}, 12.00),
        ("road-size.kingpin_to_front", {}, 2.04),
        ("road-size.ring_outer", {}, 12.50),
        ("road-size.ring_inner", {}, 5.30),
    ],
)
def test_sizes(limit: str, case: dict[str, str], printed: float) -> None:
    assert held(limit, **case) == printed


@pytest.mark.parametrize(
    ("limit", "axles", "tonnes"),
    [
        ("axle-law.motor_gross", 2, 18),
        ("axle-law.motor_gross", 3, 25),
        ("axle-law.motor_gross", 4, 32),
        ("axle-law.trailer_gross", 2, 18),
        ("axle-law.trailer_gross", 3, 24),
        ("axle-law.gross", 2, 18),
        ("axle-law.gross", 3, 25),
        ("axle-law.gross", 4, 36),
        ("axle-law.gross", 5, 40),
        ("axle-law.gross", 6, 40),
    ],
)
def test_gross(limit: str, axles: int, tonnes: float) -> None:
    assert held(limit, axles=float(axles)) == 1000.0 * tonnes


@pytest.mark.parametrize(("limit", "tonnes"), [("axle-law.axle", 10.0), ("axle-law.driving_axle", 11.5)])
def test_single_axles(limit: str, tonnes: float) -> None:
    assert held(limit) == 1000.0 * tonnes


@pytest.mark.parametrize(
    ("limit", "vehicle", "apart", "tonnes"),
    [
        ("tandem", "trailer", 0.99, 11.0),
        ("tandem", "trailer", 1.00, 16.0),
        ("tandem", "trailer", 1.29, 16.0),
        ("tandem", "trailer", 1.30, 18.0),
        ("tandem", "trailer", 1.79, 18.0),
        ("tandem", "trailer", 1.80, 20.0),
        ("tandem", "motor", 0.99, 11.5),
        ("tandem", "motor", 1.00, 16.0),
        ("tandem", "motor", 1.29, 16.0),
        ("tandem", "motor", 1.30, 18.0),
        ("tandem", "motor", 1.79, 18.0),
        ("tridem", "trailer", 1.30, 21.0),
        ("tridem", "trailer", 1.31, 24.0),
        ("tridem", "trailer", 1.40, 24.0),
    ],
)
def test_groups(limit: str, vehicle: str, apart: float, tonnes: float) -> None:
    assert held(f"axle-law.{limit}", vehicle=vehicle, spacing_m=apart) == 1000.0 * tonnes


def test_where_the_directive_says_nothing_no_number_stands_in() -> None:
    assert math.isnan(held("axle-law.tridem", vehicle="trailer", spacing_m=1.5))
    assert math.isnan(held("axle-law.tridem", vehicle="motor", spacing_m=1.35))
    assert math.isnan(held("axle-law.trailer_gross", axles=4.0))
    assert math.isnan(held("axle-law.motor_gross", axles=5.0))


def test_driving_axles_carry_a_quarter() -> None:
    assert held("axle-law.driving_share") == 0.25
