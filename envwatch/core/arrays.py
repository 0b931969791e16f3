"""What an array may hold, for annotations."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Whole = NDArray[np.integer[Any]]  # rows, counts, levels, microseconds
Number = float | Array

__all__ = ["Array", "ArrayLike", "Mask", "Number", "Whole"]
