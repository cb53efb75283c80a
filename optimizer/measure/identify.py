"""Which unknowns the measurements can tell apart."""

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Unknown
from optimizer.measure.calibrate import Posterior, factor_rows
from optimizer.model.measuring import Confused, Identified
from optimizer.model.part_names import named

Reals = NDArray[np.float64]

ALIKE = 0.9
"""Correlation beyond which two factors are not told apart."""

UNTOUCHED = 0.1
"""Share of the prior's variance below which nothing was learned."""


def identified(posterior: Posterior) -> Identified:
    """Singular values of the whitened Jacobian, pairs of factors with a correlation beyond 0.9, factors about which less than
    10 % of the prior's variance was learned.

    A singular value s means: along one combination of the unknowns, standard deviation fell from 1 to 1 / sqrt(1 + s^2).
    """
    singular = tuple(np.linalg.svd(posterior.jacobian, compute_uv=False).tolist()) if len(posterior.jacobian) else ()
    owned, rows = factor_rows(posterior)
    names = [name_of(unknown) for unknown in owned]
    covariance = rows @ posterior.covariance @ rows.T
    untouched = tuple(name for name, left in zip(names, np.diag(covariance), strict=True) if left > 1.0 - UNTOUCHED)
    confused = tuple(_pairs(names, covariance))
    facts = sum(value > 1.0 for value in singular)
    return Identified(
        singular=singular,
        facts=facts,
        confused=confused,
        untouched=untouched,
        measurements=len(posterior.jacobian),
        factors=len(names),
    )


def name_of(unknown: Unknown) -> str:
    """A factor as a keeper would call it.

    >>> name_of(Unknown(prior="media", part="FOAM-20"))
    'media of FOAM-20'
    """
    return f"{unknown.prior} of {' - '.join(named(unknown.part))}"


def _pairs(names: list[str], covariance: Reals) -> Iterator[Confused]:
    """Pairs beyond `ALIKE`, the closest first."""
    sigma = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    correlation = covariance / np.outer(sigma, sigma)
    above = np.argwhere(np.triu(np.abs(correlation) > ALIKE, 1)).tolist()
    for one, other in sorted(above, key=lambda pair: (-abs(correlation[pair[0], pair[1]]), pair)):
        yield Confused(one=names[one], other=names[other], correlation=float(correlation[one, other]))


def learned(posterior: Posterior) -> float:
    """What the measurements tell about all unknowns together, in bits: 1/2 sum log2(1 + s^2) over the singular values.

    >>> import numpy as np
    >>> learned(Posterior(unknowns=(), mean=np.zeros(1), covariance=np.eye(1), jacobian=np.array([[3.0**0.5]]), priors={}))
    1.0
    """
    singular = np.linalg.svd(posterior.jacobian, compute_uv=False) if len(posterior.jacobian) else np.zeros(0)
    return round(math.fsum(0.5 * math.log2(1.0 + value**2) for value in singular.tolist()), 12)
