"""The root of one continuous function between two ends of unlike sign, in plain scalars."""

import math
from collections.abc import Callable

__all__ = ["bracketed"]

MOST_STEPS = 200


def bracketed(function: Callable[[float], float], low: float, high: float, *, xtol: float, rtol: float) -> float:
    """Where ``function`` is 0 between ``low`` and ``high``, to ``xtol`` + ``rtol`` |root| (rtol at least 1e-15).

    Brent (1973), Algorithms for Minimization without Derivatives, chapter 4: inverse quadratic steps inside a bracket that
    always shrinks. It takes the steps of `scipy.optimize.brentq`, to the bit; to load that for a root or two lasts longer
    than a whole answer. Raises ValueError for ends of the same sign and for values that are no numbers, ArithmeticError for
    a function that is not continuous.

    >>> round(bracketed(lambda x: x * x - 2.0, 0.0, 2.0, xtol=1e-15, rtol=1e-15), 12)
    1.414213562373
    """
    before, here = low, high
    f_before, f_here = _value(function, before), _value(function, here)
    if f_before == 0.0:
        return before
    if f_here == 0.0:
        return here
    if (f_before < 0.0) == (f_here < 0.0):
        raise ValueError("the function has the same sign at both ends")
    across, f_across, step_before, step = before, f_before, here - before, here - before
    for _ in range(MOST_STEPS):
        if f_before != 0.0 and (f_before < 0.0) != (f_here < 0.0):
            across, f_across, step_before, step = before, f_before, here - before, here - before
        if abs(f_across) < abs(f_here):
            before, here, across = here, across, here
            f_before, f_here, f_across = f_here, f_across, f_here
        least, half = (xtol + rtol * abs(here)) / 2.0, (across - here) / 2.0
        if f_here == 0.0 or abs(half) < least:
            return here
        tried = math.inf
        if abs(step_before) > least and abs(f_here) < abs(f_before):
            tried = _ahead(before, here, across, f_before, f_here, f_across)
        if 2.0 * abs(tried) < min(abs(step_before), 3.0 * abs(half) - least):
            step_before, step = step, tried
        else:
            step_before = step = half
        before, f_before = here, f_here
        here += step if abs(step) > least else least if half > 0.0 else -least
        f_here = _value(function, here)
    raise ArithmeticError(f"no root was found within {MOST_STEPS} steps")


def _value(function: Callable[[float], float], at: float) -> float:
    value = float(function(at))
    if value != value:
        raise ValueError(f"the function is no number at {at}")
    return value


def _ahead(before: float, here: float, across: float, f_before: float, f_here: float, f_across: float) -> float:
    """The step to the root of a secant through two points, or of an inverse parabola through three."""
    if before == across:
        return -f_here * (here - before) / (f_here - f_before)
    slope_before = (f_before - f_here) / (before - here)
    slope_across = (f_across - f_here) / (across - here)
    return -f_here * (f_across * slope_across - f_before * slope_before) / (slope_across * slope_before * (f_across - f_before))
