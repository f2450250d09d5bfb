"""Reda and Andreas, Solar Position Algorithm, NREL/TP-560-34302, appendix A.5: elevation 39.872046° without refraction.

The report's algorithm holds to 0.0003°; the short series here is about a minute of arc off, and needs only day or dark.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from travel.mechanics.sun import sun_elevation

EPOCH = dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)


def test_appendix_a5() -> None:
    moment = dt.datetime(2003, 10, 17, 19, 30, 30, tzinfo=dt.UTC)  # 12:30:30 at UTC - 7
    days = (moment - EPOCH) / dt.timedelta(days=1)
    assert days == pytest.approx(2452930.312847 - 2451545.0, abs=1e-6)  # the report's Julian day
    elevation = sun_elevation(days, np.radians(39.742476), np.radians(-105.1786))
    assert np.degrees(elevation) == pytest.approx(39.872046, abs=0.02)
