"""What arrays of numbers are called in annotations. Shapes and units stand in the docstrings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
"""Double precision, any shape."""
