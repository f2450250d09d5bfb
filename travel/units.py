"""Every conversion factor, once. Inside the package: SI, angles in radians, slopes as rise over run.

Factors are exact by definition unless the line says otherwise (NIST SP 811, 2008, appendix B).
"""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])

G_MPS2 = 9.80665
"""Standard acceleration of free fall [m/s²] (3rd CGPM 1901)."""

KMH_PER_MPS = 3.6
M_PER_FT = 0.3048
M_PER_IN = 0.0254
KG_PER_LB = 0.45359237
KG_PER_SHORT_TON = 2000 * KG_PER_LB
N_PER_LBF = KG_PER_LB * G_MPS2
PA_PER_KPA = 1000.0
PA_PER_PSI = N_PER_LBF / M_PER_IN**2
N_PER_KN = 1000.0
W_PER_KW = 1000.0
V_PER_KV = 1000.0
MM_PER_M = 1000.0
MPS_PER_MPH = 0.44704
RATIO_PER_PCT = 0.01
S_PER_MIN = 60.0
S_PER_H = 3600.0


def kmh_to_mps(speed_kmh: Number) -> Number:
    """Give a speed in m/s from km/h."""
    return speed_kmh / KMH_PER_MPS


def mps_to_kmh(speed_mps: Number) -> Number:
    """Give a speed in km/h from m/s."""
    return speed_mps * KMH_PER_MPS


def pct_to_ratio(slope_pct: Number) -> Number:
    """Give rise over run from percent."""
    return slope_pct * RATIO_PER_PCT


def ratio_to_pct(slope_ratio: Number) -> Number:
    """Give percent from rise over run."""
    return slope_ratio / RATIO_PER_PCT


def deg_to_ratio(slope_deg: float) -> float:
    """Give rise over run from degrees: 10° is 17.6 %, not 10 %."""
    return math.tan(math.radians(slope_deg))


def ratio_to_deg(slope_ratio: float) -> float:
    """Give degrees from rise over run."""
    return math.degrees(math.atan(slope_ratio))


def kg_to_n(mass_kg: Number) -> Number:
    """Give the weight [N] of a mass [kg]."""
    return mass_kg * G_MPS2


def n_to_kg(force_n: Number) -> Number:
    """Give the mass [kg] whose weight is this force [N]."""
    return force_n / G_MPS2


SI_PER_UNIT = {
    "": 1.0,
    "-": 1.0,
    "m": 1.0,
    "mm": 1 / MM_PER_M,
    "kg": 1.0,
    "s": 1.0,
    "d": 24 * S_PER_H,
    "h": S_PER_H,
    "%": RATIO_PER_PCT,
    "°": math.pi / 180,
    "km/h": 1 / KMH_PER_MPS,
    "m/s": 1.0,
    "m/s²": 1.0,
    "kPa": PA_PER_KPA,
    "kN": N_PER_KN,
    "N": 1.0,
    "kV": V_PER_KV,
    "°C": 1.0,
}
"""Factor from each unit the rulebook may use to base SI (slopes as rise over run, angles in radians)."""
