"""The two kinds of array the balance statistics work with, named once."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Vector: TypeAlias = NDArray[np.float64]
Matrix: TypeAlias = NDArray[np.float64]
Indices: TypeAlias = NDArray[np.intp]
Flags: TypeAlias = NDArray[np.bool_]
