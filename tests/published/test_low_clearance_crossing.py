"""Eck and Kang, TRR 1356 (1992): a vehicle of 36 ft wheelbase and 5 in clearance, on a crossing of 3 in in 30 ft.

Profile: AASHTO figure in a Texas design manual (level to 2 ft outside the nearest rail, then 3 in down at 30 ft; rails
4.708 ft apart). Derived: wheels 1.462 in below the plane, 3.538 in left.
"""

from __future__ import annotations

import numpy as np
import pytest

from travel.mechanics.rolling import rolled_clearance, wheel_centre_height

FT, IN = 0.3048, 0.0254


def test_the_vehicle_passes_the_crossing() -> None:
    plane = 4.708 / 2 + 2
    x = np.array([-plane - 28, -plane, plane, plane + 28]) * FT
    z = np.array([-3.0, 0.0, 0.0, -3.0]) * IN
    low = wheel_centre_height(x, z, 18 * FT, 0.0)
    assert -low / IN == pytest.approx(1.462, abs=5e-4)
    belly = np.array([-36.0, 0.0]) * FT, np.array([5.0, 5.0]) * IN
    left = rolled_clearance(x, z, 18 * FT, 0.0, 0.0, 36 * FT, *belly)
    assert left / IN == pytest.approx(3.538, abs=1e-3)
