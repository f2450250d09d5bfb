"""The least change: the same as by plain bisection, asked for less often; leaps are left to the bisection."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from travel.checks import Outcome, judge
from travel.domain.verdict import Verdict
from travel.planning.remedy_least import PRECISION, least_change, to_spare

CURVES: dict[str, Callable[[float], float]] = {
    "straight": lambda x: x,
    "bent": lambda x: x * abs(x),
    "two lines": lambda x: min(3.0 * x, 0.2 * x),
    "flat from some way on": lambda x: min(x, 0.01),
    "leaps": lambda x: x + math.copysign(5.0, x),
    "no number": lambda x: math.copysign(math.inf, x),
    "a number on one side": lambda x: x if x >= 0.0 else -math.inf,
}


def plain(passes: Callable[[float], bool], start: float, extreme: float) -> float:
    """Bisection that asks at every step."""
    whole, near, share = extreme - start, 0.0, 1e-3
    while share < 1.0 and not passes(start + share * whole):
        near, share = share, min(4.0 * share, 1.0)
    while (share - near) * abs(whole) > PRECISION * max(1.0, abs(start + share * whole)):
        middle = (near + share) / 2.0
        if passes(start + middle * whole):
            share = middle
        else:
            near = middle
    return start + share * whole


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize(("start", "extreme"), [(3.0, 200.0), (24000.0, 9600.0), (2.55, 1.785), (0.0, 1e5)])
def test_it_is_that_of_plain_bisection(name: str, start: float, extreme: float) -> None:
    rng, up = np.random.default_rng(7), 1.0 if extreme > start else -1.0
    asked: list[float] = []
    for share in [*rng.uniform(0.0, 1.0, 25), *10.0 ** rng.uniform(-6, 0, 25)]:
        wanted = start + float(share) * (extreme - start)

        def spare(value: float, wanted: float = wanted) -> float:
            asked.append(value)
            return CURVES[name](up * (value - wanted)) if value != wanted else 0.0

        found = least_change(spare, start, extreme)
        assert found == plain(lambda value: up * (value - wanted) >= 0.0, start, extreme)  # noqa: B023 - called at once
    if name == "straight":
        assert len(asked) < 50 * 8, "numbers tell where it ends"


def test_what_is_spared_tells_by_its_sign_if_a_verdict_will_do() -> None:
    numbers = np.array([-3.0, -0.5, 0.0, 0.5, 0.6, 3.0, np.nan])
    outcome = Outcome(demand=0.0, capacity=numbers, tolerance=0.5, caution=1.0)
    verdict = judge(outcome)
    for wanted in (Verdict.CAUTION, Verdict.UNKNOWN, Verdict.BLOCKED):
        spare = to_spare(outcome, verdict, np.full(7, wanted, dtype=np.uint8))
        np.testing.assert_array_equal(spare >= 0.0, verdict <= wanted)
    np.testing.assert_array_equal(
        to_spare(outcome, verdict, np.full(7, Verdict.CAUTION, dtype=np.uint8)),
        [-3.5, -1.0, -0.5, 0.0, 0.6 - 0.5, 2.5, -np.inf],
    )


def test_nothing_is_told_by_numbers_of_a_yes_or_no() -> None:
    outcome = Outcome(permitted=np.array([True, False]), missing={"a": np.array([False, False])})
    spare = to_spare(outcome, judge(outcome), np.full(2, Verdict.CAUTION, dtype=np.uint8))
    np.testing.assert_array_equal(spare, [np.inf, -np.inf])
