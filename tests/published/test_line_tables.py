"""Distances to lines and heights of lines as published, row by row, against the rows of the rulebook.

29 CFR 1926.1408 Table A and 1926.1411 Table T (feet, nominal kV; "to" includes the upper value), 29 CFR 1926.600(a)(6)
in transit and working, and Schedule 2 of the British Regulations of 2002 (SI 2002/2665) were read. The heights of
Northern Ireland (ENA 6/025) and Sri Lanka were read as restated; they are not rows of the rulebook, but compared where
their bands touch the British ones. Rows from memory (ENA 43-8, EN 50110-1, New South Wales) are tested as marked so.
"""

from __future__ import annotations

import pytest

from travel.domain.rules import Limit
from travel.mechanics.line_distance import line_height_india_rule_77, working_clearance_osha_1926_600
from travel.rulebook import load_rulebook, resolve
from travel.units import M_PER_FT, V_PER_KV

BOOK = load_rulebook()
KEEP = "line-clearance.keep"

TABLE_A = [(50, 10), (200, 15), (350, 20), (500, 25), (750, 35), (1000, 45)]
TABLE_T = [(0.75, 4), (50, 6), (345, 10), (750, 16), (1000, 20)]
IN_TRANSIT = [(50, 4), (345, 10), (750, 16)]
SCHEDULE_2 = [(33, 5.8, 5.2), (66, 6.0, 6.0), (132, 6.7, 6.7), (275, 7.0, 7.0), (400, 7.3, 7.3)]
NORTHERN_IRELAND = [(0.4, 5.2, 5.8), (11, 6.1, 6.1), (33, 6.4, 6.4), (110, 6.4, 6.4), (220, 7.0, 7.4), (400, 7.0, 8.1)]
SRI_LANKA_OVER_ROAD = [(1, 5.5), (11, 6.1), (33, 6.4), (132, 6.7), (220, 7.0)]


def keep(voltage_kv: float, load_state: str, jurisdiction: str | None = "us") -> Limit | None:
    found = resolve(BOOK, KEEP, voltage_kv=voltage_kv, load_state=load_state, jurisdiction=jurisdiction)
    return found.limit if found else None


def built(voltage_kv: float, where: str) -> float:
    found = resolve(BOOK, f"line-clearance.built_{where}", voltage_kv=voltage_kv, jurisdiction="gb")
    assert found is not None
    return found.value


def rows(source: str, jurisdiction: str) -> list[tuple[float, float]]:
    """Give (upper voltage, feet) of one source's rows of one jurisdiction."""
    found = [
        r for r in BOOK.limits if r.id == KEEP and r.source == source and r.when.get("jurisdiction") == jurisdiction
    ]
    return [(float(r.when["voltage_kv_to"]), round(r.value / M_PER_FT, 6)) for r in found]


@pytest.mark.parametrize(
    ("source", "table"), [("cfr-1926-1408", TABLE_A), ("cfr-1926-1411", TABLE_T), ("cfr-1926-600", IN_TRANSIT)]
)
def test_rows_are_the_tables(source: str, table: list[tuple[float, float]]) -> None:
    assert rows(source, "us") == table
    assert all(r.known == "read" and r.status == "law" for r in BOOK.limits if r.id == KEEP and r.source == source)


@pytest.mark.parametrize(("upper", "feet"), TABLE_A)
def test_loaded_by_table_a_upper_value_included(upper: float, feet: float) -> None:
    row = keep(upper, "loaded")
    assert row is not None
    assert (row.source, row.value) == ("cfr-1926-1408", pytest.approx(feet * M_PER_FT))
    above = keep(upper + 0.01, "loaded")
    assert above is None if upper == 1000 else above is not None and above.value > row.value


@pytest.mark.parametrize(("upper", "feet"), TABLE_T)
def test_no_load_by_table_t_and_the_older_row_never_loosens_it(upper: float, feet: float) -> None:
    row = keep(upper, "none")
    assert row is not None
    assert row.value == pytest.approx(feet * M_PER_FT)


def test_the_two_us_rows_disagree_to_50_kv_and_the_larger_wins() -> None:
    # over 0.75 to 50 kV: 6 ft by 1411, 4 ft by 600(a)(6)
    row = keep(11, "none")
    assert row is not None
    assert (row.source, row.value) == ("cfr-1926-1411", pytest.approx(1.8288))


@pytest.mark.parametrize("voltage_kv", [0.4, 11, 50, 69, 115, 138, 161, 200, 230, 345, 350, 500, 750, 1000])
def test_table_a_is_never_under_the_older_working_formula(voltage_kv: float) -> None:
    # which is why the formula needs no row: 10 ft + 0.4 in a kV over 50; equal at 50, 200, 350 and 500 kV
    row = keep(voltage_kv, "loaded")
    assert row is not None
    assert row.value >= working_clearance_osha_1926_600(voltage_kv * V_PER_KV) - 1e-6


def test_over_1000_kv_there_is_no_row() -> None:
    for jurisdiction in ("us", "gb", "eu", "au", "none", None):
        for load_state in ("none", "loaded"):
            assert keep(1000.1, load_state, jurisdiction) is None


@pytest.mark.parametrize("load_state", ["none", "loaded"])
@pytest.mark.parametrize(
    "voltage_kv", [0.0, 0.23, 0.4, 1, 11, 20, 33, 36, 66, 110, 132, 220, 275, 345, 380, 400, 750, 1000]
)
def test_without_a_jurisdiction_no_law_is_stricter(voltage_kv: float, load_state: str) -> None:
    strictest = keep(voltage_kv, load_state, None)
    assert strictest is not None
    for jurisdiction in ("us", "gb", "eu", "au"):
        row = keep(voltage_kv, load_state, jurisdiction)
        assert row is not None
        assert strictest.value >= row.value


def test_rows_from_memory_say_so() -> None:
    for source in ("ena-43-8", "en-50110", "nsw-plant"):
        mine = [row for row in BOOK.limits if row.id == KEEP and row.source == source]
        assert mine
        assert {row.known for row in mine} == {"memory"}


@pytest.mark.parametrize(("upper", "over_road", "elsewhere"), SCHEDULE_2)
def test_heights_of_schedule_2(upper: float, over_road: float, elsewhere: float) -> None:
    assert (built(upper, "over_road"), built(upper, "elsewhere")) == (over_road, elsewhere)


def test_heights_are_information_and_no_height_of_a_rule() -> None:
    # a floor for a span nobody surveyed; by statute, so only ever "at least"
    for row in BOOK.limits:
        if row.id.startswith("line-clearance.built_"):
            assert (row.sense, row.status, row.when["jurisdiction"]) == ("at_least", "law", "gb")


def test_neighbours_build_no_lower_where_their_bands_touch() -> None:
    # Northern Ireland above the British floor from 11 kV on, but for 66 to 132 kV: 6.4 m at 110 kV against 6.7 m
    for voltage_kv, elsewhere, road in NORTHERN_IRELAND:
        if voltage_kv == 110:
            assert road < built(voltage_kv, "over_road")
        else:
            assert road >= built(voltage_kv, "over_road")
            assert elsewhere >= built(voltage_kv, "elsewhere") or voltage_kv == 400  # 7.0 m against 7.3 m
    # Sri Lanka: lower only at 1 kV (5.5 m against 5.8 m)
    for voltage_kv, road in SRI_LANKA_OVER_ROAD:
        assert (road >= built(voltage_kv, "over_road")) == (voltage_kv > 1)
    # India's rule 77, over 33 kV: 5.5 m at 66 kV against 6.0 m, 6.1 m at 132 kV against 6.7 m
    for voltage_kv, height in ((66, 5.5), (132, 6.1)):
        assert line_height_india_rule_77(voltage_kv * V_PER_KV) == pytest.approx(height)
        assert height < built(voltage_kv, "over_road")


def test_bars_by_either_regime_differ_by_a_metre() -> None:
    # 33 kV at 5.2 m: 5.2 − 0.8 = 4.40 m and 5.2 − 1.8288 = 3.37 m (computed, not published)
    british, american = keep(33, "none", "gb"), keep(33, "none", "us")
    assert british is not None
    assert american is not None
    assert built(33, "elsewhere") - british.value == pytest.approx(4.40)
    assert built(33, "elsewhere") - american.value == pytest.approx(3.37, abs=0.005)
