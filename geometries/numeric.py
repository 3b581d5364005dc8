"""The one numeric type of the house: a float, or an array whose last axis is a batch of designs."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
Numeric: TypeAlias = float | Array
