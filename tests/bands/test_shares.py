"""First-order shares of the variance, against functions whose shares are known."""

import math

import numpy as np
import pytest
from band_cases import FLAT_PRIORS, KINEMATIC_M2S, flat, lognormal
from numpy.typing import NDArray
from scipy.stats import norm, sobol_indices

from optimizer.bands.candidates import Candidate, Unknown
from optimizer.bands.draws import Draws, Factors, draw
from optimizer.bands.series import delivered_m3s
from optimizer.bands.shares import first_order_shares
from optimizer.loop.pieces import Piece
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve

DRAWS = 40_000
ERROR = 4.0 / math.sqrt(DRAWS)
"""Four standard errors of a share, which are about 1 / sqrt(draws)."""

THREE = [Unknown(prior=name) for name in ("x1", "x2", "x3")]


def samples(unknowns: list[Unknown] | tuple[Unknown, ...], seed: int = 1, draws: int = DRAWS) -> tuple[Draws, Draws]:
    """Two independent samples."""
    return draw(unknowns, draws, seed), draw(unknowns, draws, seed, sample=1)


def ishigami(draws: Draws) -> NDArray[np.float64]:
    """sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1, with x uniform from -pi to pi."""
    x = math.pi * (2.0 * norm.cdf(draws.normals) - 1.0)
    return np.asarray(np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0]))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_ishigami(seed: int) -> None:
    """Ishigami and Homma (1990), in closed form: V1 = (1 + b pi^4 / 5)^2 / 2, V2 = a^2 / 8, V3 = 0, V13 = 8 b^2 pi^8 / 225.

    That gives the shares 0.3139, 0.4424 and 0, published with many codes for sensitivity analysis.
    """
    a, b = 7.0, 0.1
    first, second, both = (1 + b * math.pi**4 / 5) ** 2 / 2, a * a / 8, 8 * b * b * math.pi**8 / 225
    total = first + second + both
    assert (first / total, second / total) == pytest.approx((0.3139, 0.4424), abs=5e-5)
    found = first_order_shares(ishigami, *samples(THREE, seed), {"x1": [0], "x2": [1], "x3": [2], "x1 and x3": [0, 2]})
    expected = {"x1": first / total, "x2": second / total, "x3": 0.0, "x1 and x3": (first + both) / total}
    assert found == pytest.approx(expected, abs=ERROR)


def test_a_product_of_lognormals() -> None:
    """ln Q = (ln h - ln k + 4 ln d) / 2, so shares are (exp(v_i) - 1) / (exp(v_1 + v_2 + v_3) - 1) with v the log variances."""
    priors = {**FLAT_PRIORS, "fittings": lognormal("fittings", 0.8), "pump head": lognormal("pump head", 0.6)}
    made = flat()
    one, other = samples(made.unknowns)
    groups = {name: [n for n, unknown in enumerate(one.unknowns) if unknown.prior == name] for name in priors}
    found = first_order_shares(lambda draws: delivered_m3s(made, Factors(draws, priors)), one, other, groups)
    logs = {"pump head": 0.3**2, "pump flow": 0.0, "fittings": 0.4**2, "fitting bores": 0.04**2}
    expected = {name: math.expm1(v) / math.expm1(sum(logs.values())) for name, v in logs.items()}
    assert found == pytest.approx(expected, abs=ERROR)


def loop() -> Candidate:
    """A loop with lift, hose, loss and a label pump, without a closed form."""
    run = Run(bore_m=0.014, length_m=3.0, roughness_m=1.5e-6)
    curve = PumpCurve(flows_m3s=(0.0, 3e-4), heads_m=(1.8, 0.0), shape=2.0)
    pieces = (
        Piece(part="p", installed=True, curve=curve, head="head", flow="flow"),
        Piece(part="h", installed=True, loss=Loss(run=run), bore_m=0.014, bore="bore", friction="friction"),
        Piece(part="f", installed=True, loss=Loss(quadratic=1e7, linear=200.0, lift_m=0.1), resistance="loss"),
    )
    return Candidate(name="loop", pieces=pieces, kinematic_m2s=KINEMATIC_M2S)


def test_a_whole_loop_against_scipy() -> None:
    """`scipy.stats.sobol_indices` on the same flows, from its own quasi-random samples."""
    made = loop()
    sigmas = {"head": 0.1, "flow": 0.15, "bore": 0.05, "friction": 0.3, "loss": 0.4}
    priors = {name: lognormal(name, sigma) for name, sigma in sigmas.items()}
    one, other = samples(made.unknowns)
    own = [n for n, unknown in enumerate(one.unknowns) if unknown.part]

    def theirs(x: NDArray[np.float64]) -> NDArray[np.float64]:
        normals = np.zeros((x.shape[1], len(one.unknowns)))
        normals[:, own] = x.T
        return delivered_m3s(made, Factors(Draws(unknowns=one.unknowns, normals=normals), priors))

    expected = sobol_indices(func=theirs, n=2**13, dists=[norm()] * len(own), rng=np.random.default_rng(1)).first_order
    groups = {one.unknowns[n].prior: [n] for n in own}
    found = first_order_shares(lambda draws: delivered_m3s(made, Factors(draws, priors)), one, other, groups)
    assert list(found.values()) == pytest.approx(expected.ravel().tolist(), abs=ERROR)
    assert max(found.values()) > 0.2


def test_what_does_not_vary_has_no_shares() -> None:
    found = first_order_shares(lambda draws: np.full(len(draws.normals), 3.0), *samples(THREE, draws=100), {"x1": [0]})
    assert found == {"x1": 0.0}


def test_everything_together_has_the_whole_share() -> None:
    found = first_order_shares(ishigami, *samples(THREE), {"all": [0, 1, 2]})
    assert found["all"] == pytest.approx(1.0, abs=ERROR)


def test_samples_of_different_shape_are_refused() -> None:
    one, other = samples(THREE, draws=100)
    with pytest.raises(ValueError, match="same shape"):
        first_order_shares(ishigami, one, draw(THREE[:2], 100, seed=1), {"x1": [0]})
    assert other.normals.shape == one.normals.shape
