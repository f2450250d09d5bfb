"""The deck on two springs, at bogie and coupling, by moments written out anew."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from tests.unit.ramp.ramps import ramp_case
from travel.checks.ramp_roll import springs


def at(case: Any, *places: float) -> Any:
    """Give the deck with the first wheel at places from the deck's edge, the second a wheelbase behind."""
    lead = np.array(places)
    return springs(case, SimpleNamespace(lead_x=lead, trail_x=lead - case.outline.base))


@pytest.mark.parametrize("place", [1.0, 2.0, 4.0, 7.0])
def test_moments_written_out(place: float) -> None:
    case = ramp_case()
    inner = 9.0
    deck = at(case, place, inner)
    trailer, whole = case.trailer.trailer, case.body.axle_load_kg
    base, hinge = float(trailer.coupling_to_bogie_m or 0), float(trailer.hinge_behind_bogie_m or 0)
    share = whole / whole.sum()

    def loads(lead_x: float) -> tuple[float, float]:
        wheels = ((case.outline.lead, lead_x), (case.outline.trail, lead_x - case.outline.base))
        # on the ramp the deck's edge takes as much of an axle as it has gone up: all of it at the edge
        carried = [(share[axle] * min(max((x - case.foot) / -case.foot, 0.0), 1.0), max(x, 0.0)) for axle, x in wheels]
        total = sum(part for part, _ in carried)
        coupling = sum(part * (x - hinge) for part, x in carried) / base  # moments about the bogie
        return coupling, total - coupling

    now, last = loads(place), loads(inner)
    nose, bogie = (case.sinking * a / b for a, b in zip(now, last, strict=True))
    slope = (bogie - nose) / base
    assert deck.lean[0] == pytest.approx(slope, abs=1e-12)
    assert deck.drop[0] == pytest.approx(bogie + slope * hinge, abs=1e-12)


def test_behind_the_bogie_the_nose_rises_and_the_edge_goes_down_the_more() -> None:
    case = ramp_case()
    deck = at(case, 0.5, 9.0)
    assert deck.lean[0] > 0.0  # inward up
    assert deck.lean[1] == pytest.approx(0.0, abs=1e-12)
    assert deck.drop[1] == pytest.approx(case.sinking)


def test_without_the_places_of_bogie_and_coupling_it_goes_down_evenly() -> None:
    case = ramp_case(trailer__coupling_to_bogie_m=None)
    deck = at(case, 0.5, 9.0)
    assert (deck.lean == 0.0).all()
    assert deck.drop[1] == pytest.approx(case.sinking)
