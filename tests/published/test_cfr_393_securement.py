"""49 CFR 393.106 to 393.130: number and aggregate working load limit of tie-downs, in guides and by hand (T1-T5).

T3 is an older navy rule (1.5 times the weight), stricter and not to be mixed with 393. 393.108: working load limits of
chain and webbing, printed in kg and lb; 393.102: 0.435, 0.5 and 0.25 at the working load limit, 0.2 down.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.lashing import aggregate_limit_needed, tiedown_contribution, tiedowns_needed
from travel.rulebook import load_rulebook, resolve

FT, LB = 0.3048, 0.45359237
BOOK = load_rulebook()
CHAINS = {
    7: ((30, 580, 1300), (43, 1180, 2600), (70, 1430, 3150), (80, 1570, 3500), (100, 1950, 4300)),
    8: ((30, 860, 1900), (43, 1770, 3900), (70, 2130, 4700), (80, 2000, 4500), (100, 2600, 5700)),
    10: ((30, 1200, 2650), (43, 2450, 5400), (70, 2990, 6600), (80, 3200, 7100), (100, 4000, 8800)),
    11: ((30, 1680, 3700), (43, 3270, 7200), (70, 3970, 8750)),
    13: ((30, 2030, 4500), (43, 4170, 9200), (70, 5130, 11300), (80, 5400, 12000), (100, 6800, 15000)),
    16: ((30, 3130, 6900), (43, 5910, 13000), (70, 7170, 15800), (80, 8200, 18100), (100, 10300, 22600)),
}


def limit_kg(word: str) -> float:
    """Give the working load limit the rulebook keeps for a chain or web."""
    found = resolve(BOOK, "tie-down.limit", chain=word)
    assert found is not None
    return found.value


def test_t1_article_of_3_65_m() -> None:
    assert tiedowns_needed(3.65, 600.0, 0.0) == 3.0
    needed = aggregate_limit_needed(600.0)
    assert needed == 300.0
    assert needed / tiedowns_needed(3.65, 600.0, 0.0) == 100.0
    assert np.ceil(needed / 50.0) == 6.0
    assert max(np.ceil(needed / 200.0), 3.0) == 3.0


def test_t2_load_of_12_ft() -> None:
    assert tiedowns_needed(12 * FT, 3000.0, 0.0) == 3.0


def test_t3_navy_rule_is_another_one() -> None:
    """A crawler of 55 000 lb: 82 500 lb in chains of 11 000 lb are eight by the navy's rule; by 393 five of them."""
    needed = float(aggregate_limit_needed(55000.0))
    assert np.ceil(3.0 * needed / 11000) == 8
    assert np.ceil(needed / tiedown_contribution(11000.0, 0.0)) == 5


@pytest.mark.parametrize(("size", "grade", "kg", "pounds"), [(d, *row) for d, rows in CHAINS.items() for row in rows])
def test_chain_table(size: int, grade: int, kg: float, pounds: float) -> None:
    """Both columns as printed; they agree to within 3 % with each other."""
    assert limit_kg(f"g{grade}_{size}") == kg
    assert limit_kg(f"g{grade}_{size}") == pytest.approx(pounds * LB, rel=0.03)


@pytest.mark.parametrize("size", CHAINS)
def test_chain_without_a_mark_counts_as_grade_30(size: int) -> None:
    assert limit_kg(f"unmarked_{size}") == CHAINS[size][0][1]


@pytest.mark.parametrize(
    ("mm", "kg", "pounds"), [(45, 790, 1750), (50, 910, 2000), (75, 1360, 3000), (100, 1810, 4000)]
)
def test_webbing(mm: int, kg: float, pounds: float) -> None:
    assert limit_kg(f"web_{mm}") == kg
    assert limit_kg(f"web_{mm}") == pytest.approx(pounds * LB, rel=0.01)


@pytest.mark.parametrize(
    ("limit", "printed"),
    [
        ("at_limit_forward", 0.435),
        ("at_limit_rearward", 0.5),
        ("at_limit_side", 0.25),
        ("up", 0.2),
        ("friction_share", 0.0),
        ("least_number", 4),
    ],
)
def test_shares_of_the_weight(limit: str, printed: float) -> None:
    found = resolve(BOOK, f"tie-down.{limit}", jurisdiction="us")
    assert found is not None
    assert found.value == printed


@pytest.mark.parametrize(("chains", "limit", "holds"), [(4, 6600, False), (6, 6600, True), (4, 11300, True)])
def test_t4_direct_chains(chains: int, limit: float, holds: bool) -> None:
    total = sum(float(tiedown_contribution(limit, 0.0)) for _ in range(chains))
    assert total == {(4, 6600): 13200, (6, 6600): 19800, (4, 11300): 22600}[(chains, limit)]
    assert (total >= aggregate_limit_needed(33000.0)) == holds


@pytest.mark.parametrize(("feet", "free", "blocked"), [(8, 2, 1), (10, 2, 1), (25, 4, 3), (31, 5, 4)])
def test_t5_lengths(feet: float, free: float, blocked: float) -> None:
    assert tiedowns_needed(feet * FT, 9000 * LB, 0.0) == free
    assert tiedowns_needed(feet * FT, 9000 * LB, 1.0) == blocked


@pytest.mark.parametrize(("feet", "pounds", "number"), [(5, 1100, 1), (5, 1101, 2), (5.1, 500, 2), (10.1, 500, 3)])
def test_edges_of_the_short_rows(feet: float, pounds: float, number: float) -> None:
    assert tiedowns_needed(feet * FT, pounds * LB, 0.0) == number


def test_over_the_top_counts_whole() -> None:
    assert tiedown_contribution(1000.0, 1.0) == 1000.0
