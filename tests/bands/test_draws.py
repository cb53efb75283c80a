"""Draws: reproducible, normal, independent, and the same for a part in whatever company."""

import numpy as np
import pytest
from band_cases import candidates, lognormal
from scipy.stats import kstest, norm

from optimizer.bands.candidates import Unknown
from optimizer.bands.draws import Factors, draw, unknowns_of

MANY = [Unknown(prior="fittings", part=name) for name in ("", "A", "B", "C")]


def test_the_same_seed_draws_the_same_and_another_does_not() -> None:
    one, again, other = (draw(MANY, 100, seed).normals for seed in (4, 4, 5))
    assert one.tobytes() == again.tobytes()
    assert not np.isin(one, other).any()
    assert not np.isin(one, draw(MANY, 100, 4, sample=1).normals).any()


def test_a_part_is_drawn_alike_in_any_company() -> None:
    """Common random numbers: another bundle in the set changes nothing for those that are there."""
    made = candidates(4)
    alone, together = (draw(unknowns_of(c.unknowns for c in some), 60, seed=1) for some in (made[:1], made))
    for column, unknown in enumerate(alone.unknowns):
        assert alone.normals[:, column].tolist() == together.normals[:, together.unknowns.index(unknown)].tolist()


def test_columns_are_standard_normal_and_independent() -> None:
    """Kolmogorov and Smirnov's test of scipy; correlations within four standard errors."""
    normals = draw(MANY, 4000, seed=2).normals
    for column in normals.T:
        assert kstest(column, "norm").pvalue > 0.01
    off_diagonal = np.corrcoef(normals.T)[np.triu_indices(len(MANY), 1)]
    assert np.abs(off_diagonal).max() < 4.0 / np.sqrt(4000)


def test_every_step_of_the_distribution_is_hit_once() -> None:
    """Latin hypercube: 50 draws, one in each of 50 equally likely steps."""
    steps = np.floor(norm.cdf(draw(MANY, 50, seed=3).normals) * 50).astype(int)
    assert all(sorted(column.tolist()) == list(range(50)) for column in steps.T)


@pytest.mark.parametrize("common", [0.0, 0.4, 1.0])
def test_factors_have_the_prior_s_spread_and_common_part(common: float) -> None:
    """ln factor has the prior's standard deviation; two parts are correlated by the common share."""
    factors = Factors(draw(MANY, 40_000, seed=1), {"fittings": lognormal("fittings", 0.3, common)})
    logs = np.log([factors.of("fittings", name) for name in ("A", "B")])
    assert logs.std(axis=1) == pytest.approx([0.3, 0.3], rel=0.01)
    assert np.corrcoef(logs)[0, 1] == pytest.approx(common, abs=4.0 / np.sqrt(40_000))
    assert np.median(np.exp(logs), axis=1) == pytest.approx([1.0, 1.0], rel=0.01)


def test_what_has_no_prior_is_certain_and_what_was_not_drawn_is_an_error() -> None:
    factors = Factors(draw(MANY, 10, seed=1), {"fittings": lognormal("fittings", 0.3)})
    assert factors.of("", "A").tolist() == [1.0] * 10
    with pytest.raises(KeyError):
        factors.of("fittings", "Z")


@pytest.mark.parametrize(("count", "seed"), [(1, 1), (10**8, 1), (10, -1)])
def test_a_count_or_seed_that_cannot_be_is_refused(count: int, seed: int) -> None:
    with pytest.raises(ValueError, match="must"):
        draw(MANY, count, seed)
