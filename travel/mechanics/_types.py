"""The one type all formulas share: a float, or an array of floats that broadcasts."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Number = float | NDArray[np.float64]
