"""What measurements can tell apart: closed forms, and twins that nothing can tell apart."""

import math
from dataclasses import replace

import numpy as np
import pytest
from band_cases import KINEMATIC_M2S, lognormal
from grids import HEAD_M, THREE, Datum, three
from measuring_worlds import ARRANGEMENTS, Truth, rig_of

from optimizer.bands.candidates import Candidate
from optimizer.loop.pieces import Piece
from optimizer.measure.calibrate import calibrate, factor_lines
from optimizer.measure.fill_loop import FillLoop
from optimizer.measure.identify import identified, learned
from optimizer.measure.observations import FlowObservation, seen_fill
from optimizer.model.losses import Loss
from optimizer.model.parts import PumpCurve
from optimizer.model.unknowns import FITTINGS, GUARD, PUMP_FLOW, PUMP_HEAD
from optimizer.report.diagnose_text import told_apart_words

PRIORS = {
    PUMP_HEAD: lognormal(PUMP_HEAD, 0.06),
    PUMP_FLOW: lognormal(PUMP_FLOW, 0.06),
    FITTINGS: lognormal(FITTINGS, 0.3),
    GUARD: lognormal(GUARD, 0.8),
}


def quadratic(guard: bool = True, share: float = 0.5) -> FillLoop:
    """A pump of constant head against two quadratic losses, the guard's and the fittings': Q = sqrt(H / (b_F + b_G))."""
    curve = PumpCurve(flows_m3s=(0.0, 1e4), heads_m=(HEAD_M, 0.0), shape=2.0)
    pieces = [
        Piece(part="P", installed=True, curve=curve, head=PUMP_HEAD),
        Piece(part="F", installed=True, loss=Loss(quadratic=2e7 * (1 - share)), resistance=FITTINGS),
    ]
    if guard:
        pieces.append(Piece(part="G", installed=True, loss=Loss(quadratic=2e7 * share), resistance=GUARD))
    return FillLoop(candidate=Candidate(name="loop", pieces=tuple(pieces), kinematic_m2s=KINEMATIC_M2S), lift_m=0.0)


def fill(loop: FillLoop, flow_m3s: float, relative: float = 0.01) -> FlowObservation:
    return FlowObservation(label="fill", loop=loop, log_value=math.log(flow_m3s), relative=relative)


EXPECTED_M3S = math.sqrt(HEAD_M / 2e7)


def test_the_singular_value_of_one_fill() -> None:
    """dlnQ/dlnH = 1/2, dlnQ/dlnb_i = -1/2 times its share of the loss: s = sqrt(sum of squares of slope x sigma) / u."""
    found = identified(calibrate([fill(quadratic(), EXPECTED_M3S)], PRIORS))
    slopes = (0.5 * 0.06, 0.25 * 0.3, 0.25 * 0.8)
    assert found.singular == pytest.approx((math.hypot(*slopes) / 0.01,), rel=1e-5)
    assert found.facts == 1
    assert next(told_apart_words(found)) == "One measurement tells 1 independent fact about 3 unknown factors."


def test_one_fill_cannot_tell_guard_from_fittings_and_a_second_one_can() -> None:
    """Correlation of two unknowns under one sure measurement of their sum, by hand: -s1 s2 / sqrt((s2^2 + r)(s1^2 + r)) with
    the rest r small: near -1."""
    tight = PRIORS | {PUMP_HEAD: lognormal(PUMP_HEAD, 0.005), FITTINGS: lognormal(FITTINGS, 0.5)}
    one = fill(quadratic(), EXPECTED_M3S, 0.002)
    alone = identified(calibrate([one], tight))
    pair = next(each for each in alone.confused if {each.one, each.other} == {"fittings of F", "guard of G"})
    slopes = np.array([0.5 * 0.005, -0.25 * 0.5, -0.25 * 0.8]) / 0.002
    covariance = np.linalg.inv(np.eye(3) + np.outer(slopes, slopes))
    expected = covariance[1, 2] / math.sqrt(covariance[1, 1] * covariance[2, 2])
    assert pair.correlation == pytest.approx(expected, rel=1e-4) and expected < -0.99
    assert any(
        "cannot tell fittings of F from guard of G: what one takes the other may give back" in word
        for word in told_apart_words(alone)
    )
    both = identified(calibrate([one, fill(quadratic(guard=False), EXPECTED_M3S * math.sqrt(2.0), 0.002)], tight))
    assert both.confused == () and both.facts == 2


def test_what_nothing_was_learned_about_is_named() -> None:
    """A guard of 1 % of the loss moves the flow by about 0.4 %: a fill of 1 % tells nothing about it. The limit is 10 %."""
    posterior = calibrate([fill(quadratic(share=0.01), EXPECTED_M3S)], PRIORS)
    found = identified(posterior)
    lines = {f"{line.unknown} of {line.part}": line.information for line in factor_lines(posterior)}
    assert set(found.untouched) == {name for name, information in lines.items() if information < 0.1}
    assert "guard of G" in found.untouched and "fittings of F" not in found.untouched
    assert "Next to nothing was learned about guard of G" in list(told_apart_words(found))[-1]


def test_twins_are_never_told_apart() -> None:
    """Two fittings of the same loss in series look the same to any flow, however many fills there are."""
    loop = quadratic()
    twins = tuple(
        replace(piece, part="F2", resistance=FITTINGS) if piece.part == "G" else piece for piece in loop.candidate.pieces
    )
    twin = replace(loop, candidate=replace(loop.candidate, pieces=twins))
    seen = [
        fill(replace(twin, lift_m=lift), EXPECTED_M3S * math.sqrt(1.0 - lift / HEAD_M), 0.001) for lift in (0.0, 0.5, 1.0, 1.5)
    ]
    posterior = calibrate(seen, PRIORS | {FITTINGS: lognormal(FITTINGS, 0.6)})
    pair = identified(posterior).confused[0]
    assert {pair.one, pair.other} == {"fittings of F", "fittings of F2"}
    one, other = (next(line for line in factor_lines(posterior) if line.part == part) for part in ("F", "F2"))
    assert one.information == pytest.approx(other.information, rel=1e-6)


def test_nothing_measured() -> None:
    found = identified(calibrate([], PRIORS, quadratic().candidate.unknowns))
    assert (found.singular, found.facts, found.confused) == ((), 0, ())
    assert list(told_apart_words(found)) == ["Nothing is measured yet: all factors are as assumed."]
    assert learned(calibrate([], PRIORS, quadratic().candidate.unknowns)) == 0.0


def test_bits_add_up_to_the_shrink_of_the_volume() -> None:
    """Information of a normal posterior: half the logarithm of the ratio of determinants."""
    posterior = calibrate(
        [Datum(-8.4, 0.02).seen(), Datum(-8.1, 0.02, guard=False).seen("other")], THREE, three().candidate.unknowns
    )
    expected = -0.5 * math.log2(float(np.linalg.det(posterior.covariance)))
    assert learned(posterior) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_random_rigs_by_plain_sums(seed: int) -> None:
    """Singular values against eigenvalues of A A^T, correlations against those of many draws of the linear posterior."""
    rng, rig = np.random.default_rng(seed), rig_of(seed)
    fills = Truth.drawn(rig, rng).timed(rng, ARRANGEMENTS[:4])
    posterior = calibrate([seen_fill(rig, each) for each in fills])
    found = identified(posterior)
    squares = np.sort(np.linalg.eigvalsh(posterior.jacobian @ posterior.jacobian.T))[::-1]
    assert np.square(found.singular) == pytest.approx(squares, rel=1e-6, abs=1e-9)
    root = np.linalg.cholesky(posterior.covariance)
    draws = rng.standard_normal((20_000, len(root))) @ root.T
    logs = {}
    for line in factor_lines(posterior):
        prior = posterior.priors[line.unknown]
        common, own = (
            next(n for n, u in enumerate(posterior.unknowns) if (u.prior, u.part) == (line.unknown, part))
            for part in ("", line.part)
        )
        logs[f"{line.unknown} of {line.part}"] = (
            math.sqrt(prior.common) * draws[:, common] + math.sqrt(1 - prior.common) * draws[:, own]
        )
    names = list(logs)
    naive = np.corrcoef([logs[name] for name in names])
    told = {frozenset((pair.one, pair.other)) for pair in found.confused}
    for i, one in enumerate(names):
        for j in range(i):
            sure = abs(abs(naive[i, j]) - 0.9) > 0.01
            assert not sure or (frozenset((one, names[j])) in told) == (abs(naive[i, j]) > 0.9)
