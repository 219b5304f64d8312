"""Types of arrays, the same everywhere: numbers, truth values, places."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]
Indices = NDArray[np.intp]
