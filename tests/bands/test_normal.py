"""Quantiles of the normal distribution against SciPy's (Cephes)."""

import numpy as np
import pytest
from scipy.special import ndtri

from optimizer.bands.normal import quantiles


def test_they_are_those_of_the_library() -> None:
    """In the middle, on the flanks, in the tails, and where the three approximations meet."""
    shares = np.concatenate(
        [
            np.random.default_rng(1).random(20_000),
            10.0 ** -np.arange(1.0, 300.0),
            1.0 - 10.0 ** -np.arange(1.0, 16.0),
            np.array([0.075, 0.925, np.exp(-25.0), 0.5]),
        ]
    )
    assert quantiles(shares) == pytest.approx(ndtri(shares), rel=1e-14, abs=1e-15)


def test_a_table_agrees() -> None:
    """z of 90, 95, 97.5 and 99 % (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1)."""
    assert quantiles(np.array([0.90, 0.95, 0.975, 0.99])) == pytest.approx([1.28155, 1.64485, 1.95996, 2.32635], abs=5e-6)
