"""Cranes and Derricks, 4th ed., p. 278: four-leg reactions, one lifted leg rebalanced.

The page states the rule: set the negative leg to 0, add its amount to the leg diagonally opposite, take it off the
other two; sum and both moments are unchanged. The steps here are that rule carried out on one case.
"""

from __future__ import annotations

import pytest

from travel.mechanics.setup import greatest_leg_reaction, leg_reaction, leg_reaction_rebalanced

V, A, B, X, Y = 200.0, 2.5, 2.5, 1.6, 1.5
SIGNS = [(1, 1), (1, -1), (-1, 1), (-1, -1)]


def test_rule_step_by_step() -> None:
    first = [leg_reaction(V, sx * X, sy * Y, A, B) for sx, sy in SIGNS]
    assert first == pytest.approx([112, 52, 48, -12])
    k = -first[3]
    by_the_rule = [first[0] + k, first[1] - k, first[2] - k, 0.0]
    assert by_the_rule == pytest.approx([124, 40, 36, 0])
    rebalanced = [leg_reaction_rebalanced(V, sx * X, sy * Y, A, B) for sx, sy in SIGNS]
    assert rebalanced == pytest.approx(by_the_rule)
    assert greatest_leg_reaction(V, X, Y, A, B) == pytest.approx(124)
