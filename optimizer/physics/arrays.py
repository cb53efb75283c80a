"""The number type every law in this package accepts and returns, and the mask operation they share."""

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = float | NDArray[np.float64]


def choose(condition: Any, where_true: Floats, where_false: Floats) -> Any:
    """Return `where_true` where `condition` holds and `where_false` elsewhere, broadcast together.

    All three may be scalars or arrays of any shapes that broadcast. Unlike `numpy.where`, scalars in give a
    scalar out, not an array of no dimensions.

    >>> float(choose(3.0 > 2.0, 1.5, 0.0))
    1.5
    >>> choose(np.array([True, False]), 1.5, 0.0)
    array([1.5, 0. ])
    """
    if isinstance(condition, (bool, np.bool_)) and not any(isinstance(each, np.ndarray) for each in (where_true, where_false)):
        return where_true if condition else where_false  # what numpy would give, in a tenth of its time
    return np.where(condition, where_true, where_false)[()]
