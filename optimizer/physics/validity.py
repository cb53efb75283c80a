"""The range in which a published correlation was fitted, as data that a caller can check values against."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.arrays import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Validity:
    """The closed range `[low, high]` of one input in which a correlation was fitted.

    `name` is the correlation, `quantity` the input with its unit (without one where it is `in_metres`), `source` the publication
    that states the range. Outside the range the correlation still gives a finite, continuous value; whoever calls it decides
    whether to tell the user.
    """

    name: str
    quantity: str
    low: float
    high: float
    source: str
    in_metres: bool = False


def outside(validity: Validity, values: Floats) -> bool | NDArray[np.bool_]:
    """Return True where `values` lie outside the closed range of `validity`, or are not a number.

    `values` is a float or an array of any shape, in the unit that `validity.quantity` names; the answer is a
    plain bool for a float and a boolean array of the same shape for an array.

    >>> warm = Validity(name="demo", quantity="temperature in degC", low=0.0, high=40.0, source="made up")
    >>> outside(warm, 25.0), outside(warm, 41.0)
    (False, True)
    >>> outside(warm, np.array([-1.0, 0.0, 40.0]))
    array([ True, False, False])
    """
    checked: Any = ~((np.asarray(values) >= validity.low) & (np.asarray(values) <= validity.high))
    return bool(checked) if np.ndim(checked) == 0 else checked
