"""Where the sun stands: enough to tell day from dark."""

from __future__ import annotations

import numpy as np

from travel.mechanics._types import Number


def sun_elevation(days_count: Number, latitude_rad: Number, longitude_rad: Number) -> Number:
    """Height of the sun's middle above the level horizon, without refraction.

    sin(a) = sin(φ) sin(δ) + cos(φ) cos(δ) cos(H); δ and right ascension from the mean anomaly and longitude of the
    sun, H from Greenwich mean sidereal time

    Args:
        days_count: days since 2000-01-01 12:00 UTC, with their fraction [-]
        latitude_rad: latitude, + north, φ [rad]
        longitude_rad: longitude, + east [rad]

    Returns:
        elevation; -6 degrees is the end of civil twilight [rad]

    Valid for:
        abs(days_count) < 73000
        abs(latitude_rad) <= 1.5708
        abs(longitude_rad) <= 6.2832

    Example:
        Reda and Andreas, NREL/TP-560-34302, appendix A.5: 2003-10-17 19:30:30 UTC, 39.742476° north, 105.1786° west:
        39.87205° without refraction.

        >>> days = 1385.0 + (7.5 + 30.0 / 3600.0) / 24.0
        >>> print(round(float(np.degrees(sun_elevation(days, np.radians(39.742476), np.radians(-105.1786)))), 2))
        39.87

    References:
        Approximate solar coordinates of the Astronomical Almanac (section C; about 1 arcminute within two centuries
          of 2000), from memory; the low-accuracy method of Meeus, Astronomical Algorithms, ch. 25, is the same series
    """
    anomaly = np.radians(357.529 + 0.98560028 * days_count)
    mean = np.radians(280.459 + 0.98564736 * days_count)
    along = mean + np.radians(1.915) * np.sin(anomaly) + np.radians(0.020) * np.sin(2.0 * anomaly)
    tilt = np.radians(23.439 - 0.00000036 * days_count)
    ascension = np.arctan2(np.cos(tilt) * np.sin(along), np.cos(along))
    declination = np.arcsin(np.sin(tilt) * np.sin(along))
    hour_angle = np.radians(280.46061837 + 360.98564736629 * days_count) + longitude_rad - ascension
    high = np.sin(latitude_rad) * np.sin(declination)
    wide = np.cos(latitude_rad) * np.cos(declination) * np.cos(hour_angle)
    sine = high + wide
    return np.asarray(np.arctan2(sine, np.sqrt(np.maximum(1.0 - sine**2, 0.0))))[()]
