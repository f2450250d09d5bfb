"""Two lessons on rolling resistance, in kilograms-force.

1. Construction Engineering & Management, vol. 1, lesson "Rolling resistance calculation": 50 t, 28 kg/t.
2. Examination question (tractor hauled by cable at a steady speed up 2 %, 10 kg/t for each percent): the
   choices are 20, 30, 40, 50 kg/t and the key was not visible; only 40 balances the cable's 720 kg.
"""

from __future__ import annotations

from travel.mechanics.resistance import rolling_resistance, total_resistance_percent_rule
from travel.units import kg_to_n, n_to_kg


def test_50_t_at_28_kg_per_t() -> None:
    assert abs(n_to_kg(rolling_resistance(kg_to_n(50_000.0), 0.028, 0.0)) - 1400) <= 0.5


def test_cable_of_720_kg_leaves_only_the_choice_of_40_kg_per_t() -> None:
    weight = kg_to_n(12_000.0)
    balanced = [
        choice
        for choice in (20, 30, 40, 50)
        if abs(n_to_kg(total_resistance_percent_rule(weight, choice / 1000, 0.02)) - 720) <= 0.5
    ]
    assert balanced == [40]
