"""Directive 96/53/EC, Annex I: the semitrailer deemed to turn in the ring of 12.50 and 5.30 m (formula from memory).

Derived: 8.135 m at a width of 2.55 m, 8.155 m at 2.50 m; the ring is 7.20 m wide.
"""

from __future__ import annotations

import pytest

from travel.mechanics.axle_law import deemed_semitrailer_base


def test_deemed_base() -> None:
    assert deemed_semitrailer_base(2.55) == pytest.approx(8.135, abs=5e-4)
    assert deemed_semitrailer_base(2.50) == pytest.approx(8.155, abs=5e-4)
    assert pytest.approx(7.20) == 12.50 - 5.30
