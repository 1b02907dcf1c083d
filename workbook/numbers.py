"""Number types and the few constants that everything shares."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
Number: TypeAlias = float | FloatArray
"""A figure or an array of figures: everything in the computation takes either."""

STANDARD_GRAVITY_M_S2 = 9.80665
"""Source: ISO 80000-3; 3rd CGPM (1901)."""
