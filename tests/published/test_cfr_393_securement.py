"""49 CFR 393.106 to 393.130: number and aggregate working load limit of tie-downs, in guides and by hand (T1-T5).

T3 is an older navy rule (1.5 times the weight), stricter and not to be mixed with 393.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.lashing import aggregate_limit_needed, tiedown_contribution, tiedowns_needed

FT, LB = 0.3048, 0.45359237


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
    assert 1.5 * 55000 == 82500
    assert np.ceil(82500 / 11000) == 8
    assert aggregate_limit_needed(55000.0) == 27500.0


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
