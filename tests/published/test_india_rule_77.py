"""Indian Electricity Rules 1956, rule 77: height of wires over 33 kV, as quoted on a public page.

The page prints 8.84 m for 400 kV from feet of 0.305 m; in metres the rule gives 8.8 m, 0.04 m less.
"""

from __future__ import annotations

import pytest

from travel.mechanics.line_distance import line_height_india_rule_77


@pytest.mark.parametrize(("voltage_kv", "metres"), [(66, 5.5), (132, 6.1), (220, 7.0), (400, 8.8)])
def test_height(voltage_kv: float, metres: float) -> None:
    assert line_height_india_rule_77(voltage_kv * 1000.0) == pytest.approx(metres, abs=1e-9)


def test_printed_value_in_feet() -> None:
    # 17 ft + 12 x 1 ft of 0.305 m
    assert 8.84 - line_height_india_rule_77(400e3) == pytest.approx(0.04, abs=0.005)
