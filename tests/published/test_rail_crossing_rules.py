"""Heights of a road at a level crossing by rules that disagree: AASHTO (Texas manuals), US Army, Victoria (Australia).

AASHTO: level to 2 ft outside the rail, then within 3 in at 30 ft. Older army text: not more than 9 in below nor 3 in
above the rail within 30 ft. Victoria: not more than 75 mm above nor 150 mm below at 10 m. The vehicle is Eck and Kang's
(TRR 1356, 1992): wheelbase 36 ft, clearance 5 in. Rails 4.708 ft apart; where no level part is stated the fall begins
at the rail.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.rolling import rolled_clearance
from travel.rulebook import load_rulebook, resolve

FT, IN = 0.3048, 0.0254
BASE, BELLY = 36 * FT, 5 * IN
RAIL = 4.708 / 2 * FT


def cleared(level_m: float, run_m: float, fall_m: float) -> float:
    """Give the least clearance over a crossing: level to so far beyond the rail, then falling (+) or rising."""
    flat = RAIL + level_m
    far = 10.0
    x = np.array([-flat - far * run_m, -flat, flat, flat + far * run_m])
    z = np.array([-far * fall_m, 0.0, 0.0, -far * fall_m])
    under = np.array([-BASE, 0.0]), np.full(2, BELLY)
    lead = np.linspace(-2.0, BASE + 2.0, 801)
    found = [float(rolled_clearance(x, z, at, 0.0, 0.0, BASE, *under)) for at in (*lead, BASE / 2)]
    return min(found)


def centred(level_m: float, run_m: float, fall_m: float) -> float:
    """Give the clearance of the vehicle in the middle by hand: its wheels are down by the fall so far out."""
    return BELLY - fall_m / run_m * (BASE / 2 - RAIL - level_m)


def worst(level_m: float, run_m: float, fall_m: float) -> float:
    """Give the least by hand: half the level part off the middle it leans, and one edge of the level comes nearer."""
    return centred(level_m, run_m, fall_m) - fall_m / run_m * (RAIL + level_m) ** 2 / (2 * BASE)


@pytest.mark.parametrize(
    ("level_m", "run_m", "fall_m", "middle_in", "least_in"),
    [
        (2 * FT, 28 * FT, 3 * IN, 3.538, 3.510),
        (0.0, 30 * FT, 9 * IN, 0.306, 0.283),
        (0.0, 10.0, 0.150, 2.184, 2.170),
    ],
)
def test_the_low_vehicle_passes_each_rule_s_hump(
    level_m: float, run_m: float, fall_m: float, middle_in: float, least_in: float
) -> None:
    assert centred(level_m, run_m, fall_m) / IN == pytest.approx(middle_in, abs=1e-3)
    assert worst(level_m, run_m, fall_m) / IN == pytest.approx(least_in, abs=1e-3)
    assert cleared(level_m, run_m, fall_m) / IN == pytest.approx(least_in, abs=2e-3)


@pytest.mark.parametrize(("run_m", "rise_m"), [(30 * FT, 3 * IN), (10.0, 0.075)])
def test_a_road_that_rises_away_from_the_rail_takes_nothing_but_at_its_foot(run_m: float, rise_m: float) -> None:
    """Between the wheels a dip only adds; a flat belly is never lower than where a wheel stands on the rising road."""
    assert cleared(0.0, run_m, -rise_m) == pytest.approx(BELLY, abs=2e-3)


def test_only_the_army_s_hump_leaves_less_than_the_rulebook_keeps() -> None:
    least = resolve(load_rulebook(), "underbody.least")
    assert least is not None
    assert (
        cleared(0.0, 30 * FT, 9 * IN) < least.value < min(cleared(2 * FT, 28 * FT, 3 * IN), cleared(0.0, 10.0, 0.150))
    )
