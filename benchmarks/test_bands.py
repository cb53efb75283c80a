"""Bands over 20 bundles and 10 000 draws, against a plain `scipy.optimize.brentq` loop on a sample of the same loops."""

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from benchmarks.clock import in_turn
from benchmarks.conftest import Report
from benchmarks.worlds import problem, sized
from optimizer.bands.band import delivered_flows, of
from optimizer.bands.candidates import Candidate, candidate
from optimizer.bands.draws import Factors, draw, unknowns_of
from optimizer.bands.priors import PRIORS
from optimizer.bands.series import scaled_loops
from optimizer.loop.batch import Loops
from optimizer.loop.standing import standing_loop
from optimizer.physics.water import GRAVITY_MS2
from optimizer.search.best import Seeker

CANDIDATES, DRAWS, SAMPLE = 20, 10_000, 25
"""Bundles, draws of each, and draws of each that the rival solves."""

BUDGETS = range(12_000, 400, -150)


@pytest.fixture(scope="module")
def bundles() -> list[Candidate]:
    """The best bundles for falling budgets, as far as they differ."""
    home, offers = sized("1e6")
    asked = problem(home, offers)
    seeker, found = Seeker(asked), {}
    for budget in BUDGETS:
        best = seeker.with_budget(budget).most_flow().found
        if best is not None and len(found) < CANDIDATES:
            found.setdefault(tuple(best.bundle.path.options), (budget, best.bundle))
    made = []
    for budget, bundle in found.values():
        joints = [asked.joint(flat) for flat in bundle.path.joints]
        made.append(candidate(standing_loop(home, seeker.options_of(bundle), joints), home.limits, f"for {budget}"))
    assert len(made) == CANDIDATES
    return made


def churchill(reynolds: float, roughness: float) -> float:
    """Churchill's friction factor in plain numbers."""
    a = (2.457 * math.log(1.0 / ((7.0 / reynolds) ** 0.9 + 0.27 * roughness))) ** 16
    return float(8.0 * ((8.0 / reynolds) ** 12 + (a + (37530.0 / reynolds) ** 16) ** -1.5) ** (1.0 / 12.0))


def brentq_flow(loops: Loops, row: int) -> float:
    """One loop by bracketing, in plain numbers: what one would write without a batch solver."""
    lift, linear, quadratic = float(loops.lift_m[row]), float(loops.linear[row]), float(loops.quadratic[row])
    head, top, shape = float(loops.max_head_m[row]), float(loops.max_flow_m3s[row]), float(loops.shape[row])
    columns = (loops.run_bore_m, loops.run_length_m, loops.run_roughness_m, loops.run_factor)
    runs = list(zip(*(column[row].tolist() for column in columns), strict=True))

    def short_of(flow: float) -> float:
        total = lift + linear * flow + quadratic * flow * flow - head * (1.0 - (flow / top) ** shape)
        for bore, length, roughness, factor in runs:
            speed = flow / (math.pi * bore * bore / 4.0)
            if speed:
                friction = factor * churchill(speed * bore / loops.kinematic_m2s, roughness / bore)
                total += friction * length / bore * speed * speed / (2.0 * GRAVITY_MS2)
        return total

    return float(brentq(short_of, 0.0, top, xtol=1e-15, rtol=1e-12))


def test_bands_against_a_brentq_loop(benchmark: Any, report: Report, bundles: list[Candidate]) -> None:
    """The same flows; time of all flows, and of the whole answer with its shares, per loop of the rival."""
    factors = Factors(draw(unknowns_of(one.unknowns for one in bundles), DRAWS, seed=1), PRIORS)
    rows = np.random.default_rng(1).choice(DRAWS, SAMPLE, replace=False)
    loops = [scaled_loops(one, factors) for one in bundles]
    assert all(each.curves is None and not np.isfinite(each.run_coil_m).any() for each in loops)

    def theirs() -> NDArray[np.float64]:
        return np.array([[brentq_flow(each, row) for row in rows] for each in loops])

    def flows() -> NDArray[np.float64]:
        fresh = Factors(draw(unknowns_of(one.unknowns for one in bundles), DRAWS, seed=1), PRIORS)
        return delivered_flows(bundles, fresh)

    def whole() -> Any:
        return of(bundles, seed=1, draws=DRAWS, percent=10, made="the best for falling budgets")

    rival, drawn, answered = in_turn(theirs, flows, whole, repeats=5)
    share = SAMPLE / DRAWS
    for what, ours in (("flows of 20 bundles", drawn), ("whole answer with shares", answered)):
        remark = f"{rival.least / share:.3g} s (from {SAMPLE * CANDIDATES} loops) / {ours.least:.3g} s"
        report(f"brentq loop / bands, 1e4 draws, {what}", rival, ours, "for information", remark, per=share)
    band = benchmark.pedantic(whole, rounds=2)
    np.testing.assert_allclose(flows()[:, rows], theirs(), rtol=1e-8)
    assert sum(line.win_share for line in band.lines) == pytest.approx(1.0)
