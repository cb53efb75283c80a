"""How much of a variance each unknown alone accounts for: first-order shares by picking and freezing.

Two independent samples A and B of all unknowns. AB_g is A with the unknowns of group g from B, so f(B) and f(AB_g) have
just those in common:

    share of g = mean( (f(B) - m) (f(AB_g) - f(A)) ) / variance

Source: Saltelli et al., Computer Physics Communications 181 (2010) 259-270, table 2 (b), with the common mean m taken off, which
changes nothing in expectation and takes out noise. Of a group of several unknowns it is the closed share: what they do to
the flow alone and with one another. What is missing to 1 is owed to groups together.
"""

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.draws import Draws

Reals = NDArray[np.float64]

FLAT = 1e-9
"""A standard deviation of less than this share of the mean is rounding: then nothing has a share."""


def first_order_shares(
    outcome: Callable[[Draws], Reals], one: Draws, other: Draws, groups: Mapping[str, Sequence[int]]
) -> dict[str, float]:
    """Share of the variance of ``outcome`` (draws to (draws,) numbers) that each group of columns alone accounts for.

    ``one`` and ``other`` are independent samples of the same unknowns. Shares may leave 0 to 1 by their sampling error,
    about 1.5 / sqrt(draws); all are 0 where the outcome does not vary. Raises ValueError for samples that differ in shape.

    >>> from optimizer.bands.candidates import Unknown
    >>> from optimizer.bands.draws import draw
    >>> unknowns = [Unknown(prior="a"), Unknown(prior="b")]
    >>> one, other = (draw(unknowns, 20_000, seed=1, sample=sample) for sample in (0, 1))
    >>> double = lambda draws: 2.0 * draws.normals[:, 0] + draws.normals[:, 1]
    >>> {name: round(share, 1) for name, share in first_order_shares(double, one, other, {"a": [0], "b": [1]}).items()}
    {'a': 0.8, 'b': 0.2}
    """
    if one.normals.shape != other.normals.shape:
        raise ValueError("both samples must have the same shape")
    here, there = outcome(one), outcome(other)
    both = np.concatenate([here, there])
    mean, variance = float(both.mean()), float(both.var())
    if not variance > (FLAT * mean) ** 2:
        return dict.fromkeys(groups, 0.0)
    shares = {}
    for name, columns in groups.items():
        mixed = outcome(one.with_some_of(other, columns))
        shares[name] = float(np.mean((there - mean) * (mixed - here))) / variance
    return shares
