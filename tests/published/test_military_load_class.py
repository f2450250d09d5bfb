"""US Army FM 3-34-343, app. B, and the expedient method E-9 to E-11: class of wheeled vehicles; STANAG 2021 weights.

Expedient: W = A p N / 2000 short tons, class = 0.85 W; towing closer than 30.5 m: 0.9 (A + B) under 60, else A + B.
Gross masses of the wheeled hypothetical vehicles, printed: class 40 42.6 t, class 80 83.5 t.
"""

from __future__ import annotations

import pytest

from travel.mechanics.structures import (
    gross_from_tyres_expedient,
    load_class_towing_expedient,
    load_class_wheeled_expedient,
)
from travel.units import KG_PER_SHORT_TON, M_PER_IN, PA_PER_PSI

STANDARD_CLASSES = (4, 8, 12, 16, 20, 24, 30, 40, 50, 60, 70, 80, 90, 100, 120, 150)


def test_tyre_prints() -> None:
    gross = gross_from_tyres_expedient(60 * M_PER_IN**2, 75 * PA_PER_PSI, 4)
    assert gross / KG_PER_SHORT_TON == pytest.approx(60 * 75 * 4 / 2000, rel=1e-9)
    assert load_class_wheeled_expedient(gross) == pytest.approx(7.65)


@pytest.mark.parametrize(("gross_t", "load_class"), [(42.6, 40), (83.5, 80)])
def test_hypothetical_vehicles_round_up_to_their_class(gross_t: float, load_class: int) -> None:
    rule = load_class_wheeled_expedient(gross_t * 1000)
    assert min(c for c in STANDARD_CLASSES if c >= rule) == load_class
    assert rule == pytest.approx(load_class, rel=0.025)


@pytest.mark.parametrize(("a", "b", "ccn"), [(20, 30, 45), (30, 30, 60), (29, 30, 53.1), (70, 30, 100)])
def test_towing(a: float, b: float, ccn: float) -> None:
    assert load_class_towing_expedient(float(a), float(b)) == pytest.approx(ccn)
