"""Laws over a span of flows: what is said of how far a law may lie from its polynomial, against dense sampling."""

import numpy as np
import pytest
from numpy.typing import NDArray

from optimizer.loop.option_heads import Heads
from optimizer.loop.pump_heads import Pumps
from optimizer.loop.runs import Runs
from optimizer.model.losses import Run
from optimizer.model.parts import PumpCurve
from optimizer.search.span_laws import CELLS, DEGREE, basis, followed
from optimizer.search.spans import Span

LPH = 1.0 / 3.6e6
SPANS = ((300.0, 420.0), (20.0, 700.0), (0.0, 60.0), (55.0, 130.0), (100.0, 101.0), (1e-3, 2500.0))
"""In l/h: turbulent; all regimes; from nothing; the transition in a narrow hose; a narrow one; nearly everything."""

KINKED = ((0.0, 200.0, 210.0, 500.0, 510.0, 900.0), (2.0, 1.95, 1.2, 1.15, 0.3, 0.0))
"""A pump curve with two cliffs, as no pump has it."""

Reals = NDArray[np.float64]


def hoses(seed: int) -> Runs:
    """Runs of all sorts: straight and coiled, smooth and as rough as concrete, and some whose transition lies in each span."""
    rng = np.random.default_rng(seed)
    coils = (np.inf, np.inf, np.inf, 0.3, 0.05)
    runs = [
        Run(
            bore_m=float(rng.uniform(0.004, 0.04)),
            length_m=float(rng.uniform(0.1, 5.0)),
            roughness_m=float(rng.choice([0.0, 1.5e-6, 1e-4, 2e-3])),
            factor=float(rng.uniform(0.8, 3.0)),
            coil_m=float(rng.choice(coils)),
        )
        for _ in range(60)
    ]
    return Runs.of(runs, 1e-6)


def pumps() -> Pumps:
    """Label curves of many shapes, and curves through points with cliffs, flat ends and too few of them."""
    curves = [
        PumpCurve(flows_m3s=(0.0, 700.0 * LPH), heads_m=(1.8, 0.0), shape=shape)
        for shape in (1.0, 1.01, 1.37, 2.0, 2.6, 3.3, 4.0)
    ]
    tables = (
        KINKED,
        ((0.0, 400.0), (1.5, 0.5)),
        ((0.0, 100.0, 350.0), (1.2, 1.1, 1.05)),
        ((0.0, 60.0, 61.0, 300.0), (1, 0.9, 0.2, 0)),
    )
    curves += [PumpCurve(flows_m3s=tuple(flow * LPH for flow in flows), heads_m=heads) for flows, heads in tables]
    return Pumps.of(curves, np.linspace(0.8, 1.2, len(curves)))


def heads_of(runs: Runs, curves: Pumps) -> Heads:
    """Options that have nothing but one law each."""
    none, count, pump_count = np.zeros(0), len(runs.bore), len(curves.shape)
    both = np.zeros(count + pump_count)
    first, then = np.arange(count), np.arange(pump_count)
    empty = (none.astype(np.intp), none.astype(np.intp))
    return Heads(both, both, both, (first, first), runs, (count + then, then), curves, empty, None)


def dense(low: float, high: float, heads: Heads) -> Reals:
    """Flows in a span: many even ones, and more round each point of a curve and each transition."""
    asked = [np.linspace(low, high, 1001)]
    kinks = (heads.curves.curves.points[0] * heads.curves.curves.flow_scale[:, None]).ravel() if heads.curves.curves else none_at
    critical = 2300.0 * heads.runs.bore * heads.runs.kinematic_m2s * np.pi / 4.0
    for at in np.unique(np.concatenate((kinks, critical))):
        asked.append(at * (1.0 + np.linspace(-0.02, 0.02, 9)))
    flows = np.concatenate(asked)
    return np.unique(flows[(flows >= low) & (flows <= high)])


none_at = np.zeros(0)


@pytest.mark.parametrize("ends", SPANS)
@pytest.mark.parametrize("seed", [1, 2])
def test_no_law_lies_further_from_its_polynomial_than_said(ends: tuple[float, float], seed: int) -> None:
    """At a thousand flows and more, most of them where laws turn; and where a law is ordinary not much less far either."""
    low, high = ends[0] * LPH, ends[1] * LPH
    heads = heads_of(hoses(seed), pumps())
    flow = dense(low, high, heads)
    at, runs = basis((flow - low) / (high - low)), heads.runs
    for (rows, which), (through, far) in followed(heads, low, high):
        value = np.stack([heads.at(float(each))[rows] for each in flow], axis=1)
        off = np.abs(through[which] @ at - value).max(axis=1)
        assert np.all(off <= far[which]), (off - far[which]).max()
        usual = np.isinf(runs.coil) & (runs.roughness < 0.05 * runs.bore) if rows is heads.run_of[0] else far > -1.0
        if ends == (300.0, 420.0):
            assert np.median((off + 1e-12)[usual] / far[usual]) > 0.5


def test_coefficients_hold_what_they_are_said_to() -> None:
    """A loss is nowhere in a span above the largest coefficient and its error, nor below the least."""
    heads = heads_of(hoses(4), pumps())
    for low, high in SPANS:
        for (rows, _), (through, far) in followed(heads, low * LPH, high * LPH):
            for flow in np.linspace(low, high, 50) * LPH:
                value = heads.at(float(flow))[rows]
                assert np.all(value <= through.max(axis=1) + far)
                assert np.all(value >= through.min(axis=1) - far)


def test_a_bound_that_were_left_out_would_show(monkeypatch: pytest.MonkeyPatch) -> None:
    """With neither the rest of Lagrange nor the rise of the law, some law lies further off than said: the test can fail."""
    from optimizer.search import span_laws

    monkeypatch.setattr(span_laws, "LAGRANGE", 1e-300)
    monkeypatch.setattr(span_laws, "CELLS", DEGREE)
    heads, low, high = heads_of(hoses(1), pumps()), 20.0 * LPH, 700.0 * LPH
    flow, missed = dense(low, high, heads), 0
    at = basis((flow - low) / (high - low))
    for (rows, which), (through, far) in followed(heads, low, high):
        value = np.stack([heads.at(float(each))[rows] for each in flow], axis=1)
        missed += int((np.abs(through[which] @ at - value).max(axis=1) > far[which]).sum())
    assert missed > 0


def test_the_product_of_distances_is_that_of_lagrange() -> None:
    """Between flows one apart, at its greatest, and cells that polynomials can share their flows with."""
    along = np.linspace(0.0, DEGREE, 100_001)
    product = np.abs(np.multiply.reduce([along - n for n in range(DEGREE + 1)])).max()
    assert 3.6314 < product <= 3.6315
    assert CELLS % DEGREE == 0


def test_a_flow_from_which_on_a_polynomial_is_above_nothing() -> None:
    """Also of one that turns back on the way: what rises and lies above it has passed 0 by then."""
    span = Span(1.0, 3.0, none_at, none_at, none_at, none_at.astype(np.intp), 0)
    risen = np.array([[-1.0, -0.5, 0.0, 0.5, 1.0], [-1.0, 3.0, -6.0, 3.0, 1.0], [1.0] * 5, [-1.0] * 5])
    crossed = span.crossed(risen)
    assert crossed[0] == pytest.approx(2.0, abs=1e-9)
    assert crossed[2:].tolist() == [1.0, 3.0]
    assert 1.0 < crossed[1] < 3.0
    assert float(risen[1] @ span.at(crossed[1:2])[:, 0]) > -1e-9
