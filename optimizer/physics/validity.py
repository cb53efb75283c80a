"""The range in which a published correlation was fitted, as data that a caller can check values against."""

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.arrays import Floats

Kind = Literal["number", "length", "temperature", "share"]
"""What a range is one of, in the unit of all values inside: a length in m, a temperature in degC, a share of 1; a number has the
unit of its range."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Validity:
    """The closed range `[low, high]` of one input in which a correlation was fitted.

    `name` is the correlation, `quantity` the input in words, `kind` what it is one of and `unit` what stands behind a "number"
    (empty: nothing), `source` the publication that states the range. A side that nothing is known to lie beyond is infinite. With
    `inside` it is the other way round: the law is uncertain within the range. Where a law is uncertain it still gives a finite,
    continuous value; whoever calls it decides whether to tell the user (`doubtful`).
    """

    name: str
    quantity: str
    low: float
    high: float
    source: str
    kind: Kind = "number"
    unit: str = ""
    inside: bool = False


def outside(validity: Validity, values: Floats) -> bool | NDArray[np.bool_]:
    """Return True where `values` lie outside the closed range of `validity`, or are not a number.

    `values` is a float or an array of any shape, in the unit of its kind; the answer is a plain bool for a float
    and a boolean array of the same shape for an array.

    >>> warm = Validity(name="demo", quantity="temperature", kind="temperature", low=0.0, high=40.0, source="made up")
    >>> outside(warm, 25.0), outside(warm, 41.0)
    (False, True)
    >>> outside(warm, np.array([-1.0, 0.0, 40.0]))
    array([ True, False, False])
    """
    checked: Any = ~((np.asarray(values) >= validity.low) & (np.asarray(values) <= validity.high))
    return bool(checked) if np.ndim(checked) == 0 else checked


def doubtful(validity: Validity, value: float) -> bool:
    """Return True where a law is uncertain at `value`: `outside` its range, or within one that says where it is.

    >>> between = Validity(name="demo", quantity="Reynolds number", low=2000.0, high=4000.0, source="made up", inside=True)
    >>> doubtful(between, 3000.0), doubtful(between, 5000.0), doubtful(between, float("nan"))
    (True, False, False)
    """
    return bool(outside(validity, value)) != validity.inside
