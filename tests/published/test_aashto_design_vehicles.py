"""AASHTO design vehicles: minimum inside radius in a 180-degree turn (Green Book table of turning radii).

Found by driving the front axle's middle along a straight, a half circle of the centre-line turning radius (CTR),
and a straight, each axle following as a tractrix; inside radius = least distance of the last axle's middle from the
centre of the half circle, less half the width. Wheelbases of the 2011 edition (BUS-40 25.3 ft, WB-62 19.5 + 41.0 ft).
Inside radii of P (14.4 ft), SU-30 (8.64 m), CITY-BUS (24.5 ft), WB-62 (7.4 ft) read; the others, and CTR, from
memory, reproduced by the simulation. Tolerance 0.025 m: half the printed digit, and 0.02 m because CTR, wheelbase and
width are themselves rounded to 0.1 ft, each worth up to 0.015 m here (worst row: BUS-40, 7.388 against 7.41).
Outer front wheel: half the overall width stands for half the track, which agrees to about 0.4 ft only.
Left out: WB-50, which no dimensions reproduce; one reference page that has the two row labels swapped.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.checks.half_turn import inside_radius_m
from travel.checks.mover import Mover, Towed
from travel.mechanics.tractrix import trailing_axles
from travel.mechanics.turning import off_tracking_steady, outer_corner_radius
from travel.units import M_PER_FT

# name, CTR ft, wheelbases ft, width ft, printed inside radius m
ROWS = [
    ("P", 21.0, (11.0,), 7.0, 4.39),
    ("SU-30", 38.0, (20.0,), 8.0, 8.64),
    ("SU-40", 47.4, (25.0,), 8.0, 11.09),
    ("BUS-40", 37.8, (25.3,), 8.5, 7.41),
    ("CITY-BUS", 37.8, (25.0,), 8.5, 7.45),
    ("MH", 36.0, (20.0,), 8.0, 7.92),
    ("WB-62", 41.0, (19.5, 41.0), 8.5, 2.25),
]
STEP_M = 0.02


def _half_turn(radius_m: float) -> np.ndarray:
    """Give the path: along +x to the origin, left round (0, radius), back along -x."""
    before = np.column_stack([np.arange(-40.0, 0.0, STEP_M), np.zeros(2000)])
    angle = np.linspace(0.0, np.pi, int(np.pi * radius_m / STEP_M))
    arc = np.column_stack([radius_m * np.sin(angle), radius_m * (1.0 - np.cos(angle))])
    after = np.column_stack([np.arange(-STEP_M, -40.0, -STEP_M), np.full(1999, 2.0 * radius_m)])
    return np.vstack([before, arc, after])


def _inside_radius_m(radius_m: float, wheelbases_m: np.ndarray, width_m: float) -> float:
    count = len(wheelbases_m)
    axles = trailing_axles(_half_turn(radius_m), np.zeros(count), wheelbases_m, np.zeros(count))
    last = axles[-1, :, :2]
    return float(np.min(np.hypot(last[:, 0], last[:, 1] - radius_m)) - width_m / 2.0)


@pytest.mark.parametrize(
    ("ctr_ft", "wheelbases_ft", "width_ft", "printed_m"), [row[1:] for row in ROWS], ids=[row[0] for row in ROWS]
)
def test_inside_radius(ctr_ft: float, wheelbases_ft: tuple[float, ...], width_ft: float, printed_m: float) -> None:
    wheelbases_m = np.array(wheelbases_ft) * M_PER_FT
    inside = _inside_radius_m(ctr_ft * M_PER_FT, wheelbases_m, width_ft * M_PER_FT)
    assert abs(inside - printed_m) <= 0.025


RIGID = [row for row in ROWS if len(row[2]) == 1]


@pytest.mark.parametrize(
    ("ctr_ft", "wheelbases_ft", "width_ft", "printed_m"), [row[1:] for row in RIGID], ids=[row[0] for row in RIGID]
)
def test_inside_radius_of_the_sweep_in_corners(
    ctr_ft: float, wheelbases_ft: tuple[float, ...], width_ft: float, printed_m: float
) -> None:
    """The same turn as a corner of two parallel arms, by the sweep that judges corners: coarser steps, so 0.03 m."""
    wheelbase_m = wheelbases_ft[0] * M_PER_FT
    mover = Mover(
        trail_m=wheelbase_m,
        front_x_m=0.0,  # the body from axle to axle: overhangs are not printed beside the radii
        rear_x_m=-wheelbase_m,
        width_m=width_ft * M_PER_FT,
        least_radius_m=ctr_ft * M_PER_FT - 1e-6,
    )
    assert abs(inside_radius_m(ctr_ft * M_PER_FT, mover) - printed_m) <= 0.03


def test_inside_radius_of_a_semitrailer_by_the_sweep_in_corners() -> None:
    """WB-62, 19.5 + 41.0 ft on 41 ft: printed 2.25 m; towing vehicle and trailer as the sweep has them, hinged."""
    first_m, second_m, width_m = 19.5 * M_PER_FT, 41.0 * M_PER_FT, 8.5 * M_PER_FT
    mover = Mover(
        trail_m=first_m,
        front_x_m=0.0,
        rear_x_m=-first_m,
        width_m=width_m,
        least_radius_m=41.0 * M_PER_FT - 1e-6,
        towed=Towed(hitch_m=first_m, drawbar_m=second_m, front_x_m=0.0, rear_x_m=-second_m, width_m=width_m),
    )
    assert abs(inside_radius_m(41.0 * M_PER_FT, mover) - 2.25) <= 0.03


def test_passenger_car_in_us_units() -> None:
    """CTR 21, wheelbase 11, width 7 ft: printed 14.4 ft."""
    inside = _inside_radius_m(21 * M_PER_FT, np.array([11 * M_PER_FT]), 7 * M_PER_FT)
    assert abs(inside / M_PER_FT - 14.4) <= 0.05


@pytest.mark.parametrize(
    ("ctr_ft", "wheelbase_ft", "width_ft", "outer_ft"),
    [(21.0, 11.0, 7.0, 23.8), (38.0, 20.0, 8.0, 41.8), (41.0, 19.5, 8.5, 44.8)],
    ids=["P", "SU-30", "WB-62"],
)
def test_outer_front_wheel(ctr_ft: float, wheelbase_ft: float, width_ft: float, outer_ft: float) -> None:
    rear_ft = ctr_ft - off_tracking_steady(ctr_ft, wheelbase_ft)
    assert abs(outer_corner_radius(rear_ft, width_ft, wheelbase_ft) - outer_ft) <= 0.4


def test_no_steady_state_for_wb_62() -> None:
    """Why the table needs the tractrix: the squares of the wheelbases exceed the square of the radius."""
    assert 19.5**2 + 41.0**2 > 41.0**2
