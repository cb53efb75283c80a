"""Priors: each says what it scales and who says so, and none of a pump is tighter than the tolerance of tested pumps."""

import math

import numpy as np
import pytest
from scipy.stats import lognorm, norm

from optimizer.bands.priors import FAR, GRADE_3B_FLOW, GRADE_3B_HEAD, PRIORS, Prior
from optimizer.report.measurement_words import MEASUREMENTS


@pytest.mark.parametrize("prior", PRIORS.values(), ids=lambda prior: prior.name)
def test_the_stated_spread_is_the_stated_quantile(prior: Prior) -> None:
    """Against scipy's lognormal distribution; where the sides differ, against scipy's normal quantiles one by one."""
    if not prior.spread_down:
        assert lognorm(prior.sigma).ppf(prior.quantile) == pytest.approx(prior.spread, rel=1e-12)
        assert lognorm(prior.sigma).median() == pytest.approx(1.0)
    ends = np.array([norm.ppf(1.0 - prior.quantile), 0.0, norm.ppf(prior.quantile)])
    assert np.exp(prior.log_factor(ends)) == pytest.approx(
        [1.0 / (prior.spread_down or prior.spread), 1.0, prior.spread], rel=1e-9
    )
    for at in (-3.0, -0.4, 0.0, 0.7, 2.5):
        assert prior.normal(float(prior.log_factor(np.array(at)))) == pytest.approx(at, abs=1e-9)


def test_labels_err_upwards_and_their_median_stays() -> None:
    """No maker prints less than it measured, so a label's true flow and head reach farther down than up, at least as far as grade
    3B of ISO 9906:2012 allows either way (9 and 7 %, from memory), and half of them lie on either side of the label's figure."""
    for name, least in (("label head", 1.07), ("label flow", 1.09)):
        prior, draws = PRIORS[name], np.random.default_rng(3).standard_normal(200_000)
        factors = np.exp(prior.log_factor(draws))
        low, middle, high = np.quantile(factors, (0.1, 0.5, 0.9))
        assert middle == pytest.approx(1.0, abs=2e-3)
        assert 1.0 / low > high >= least
        assert np.diff(np.exp(prior.log_factor(np.linspace(-4.0, 4.0, 81)))).min() > 0.0


@pytest.mark.parametrize("prior", PRIORS.values(), ids=lambda prior: prior.name)
def test_every_prior_names_a_source_and_has_a_measurement(prior: Prior) -> None:
    known = ("prior of the authors", "common practice, no published source", "ISO", "handbook")
    assert any(words in prior.source for words in known)
    assert prior.group in MEASUREMENTS


def test_pumps_are_at_least_as_uncertain_as_grade_3b() -> None:
    """ISO 9906:2012 grade 3B allows 7 % on head and 9 % on flow (from memory); the 1999 edition's class 2, 5 and 8 %."""
    assert (GRADE_3B_HEAD, GRADE_3B_FLOW) == (1.07, 1.09)
    heads = [prior for prior in PRIORS.values() if prior.scales == "head"]
    flows = [prior for prior in PRIORS.values() if prior.scales == "flow"]
    assert len(flows) == 2  # of points and of a label; a head may be assumed besides
    assert len(heads) == 3
    assert all(prior.sigma >= math.log(1.07) / 1.2816 for prior in heads)
    assert all(prior.sigma >= math.log(1.09) / 1.2816 for prior in flows)


def test_the_bore_of_a_hose_covers_the_standard_s_limits() -> None:
    """EN ISO 1307:2008, hose made without a mandrel, as reprinted by a hose maker: (nominal, least, greatest) in mm."""
    low, high = lognorm(PRIORS["hose bore"].sigma).ppf([0.05, 0.95])
    for nominal, least, greatest in ((16.0, 15.1, 16.7), (19.0, 18.3, 19.9)):
        assert low == pytest.approx(least / nominal, abs=0.02)
        assert high == pytest.approx(greatest / nominal, abs=0.01)


@pytest.mark.parametrize(
    "wrong", [{"spread": 0.9}, {"spread": math.inf}, {"quantile": 0.5}, {"quantile": 1.0}, {"common": 1.1}, {"spread_down": 1.05}]
)
def test_a_prior_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    values = {"name": "x", "group": "x", "scales": "x", "source": "x", "spread": 1.1, "quantile": 0.9, "common": 0.5}
    with pytest.raises(ValueError, match="x"):
        Prior(**{**values, **wrong})  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["label head", "label flow"])
def test_a_lopsided_factor_far_out_is_still_something(name: str) -> None:
    """Where a fit tries fifty deviations below the median a pump has some head left; normal numbers come back from factors."""
    prior = PRIORS[name]
    points = np.array([-50.0, -4.5, -FAR, -1.0, 0.0, 2.0])
    logs = prior.log_factor(points)
    assert (np.exp(logs) > 0.0).all() and (np.diff(logs) > 0.0).all()
    assert [prior.normal(float(log)) for log in logs] == pytest.approx(points.tolist(), abs=1e-9)
