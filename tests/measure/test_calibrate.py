"""Calibration: hidden factors of hundreds of rigs are recovered as often as stated; small cases equal a brute-force grid."""

import math
from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest
from grids import SIGMAS, THREE, Datum, Grid, log_flow, three
from how_many import some_of
from hypothesis import given, settings
from hypothesis import strategies as st
from measuring_worlds import ARRANGEMENTS, Bucket, Truth, caked, rig_of, with_next_cakes

from optimizer.bands.band import line_of
from optimizer.bands.candidates import Unknown
from optimizer.bands.draws import Factors, draw
from optimizer.bands.installed import installed
from optimizer.bands.priors import PRIORS
from optimizer.measure.calibrate import SHIFT, Model, Posterior, calibrate, covariance_of, factor_lines, slopes_of
from optimizer.measure.fill_loop import cleaned, fill_loop_flows, loop_during_fill
from optimizer.measure.observations import FlowObservation, meter_relative, seen_fill, seen_power, seen_watts
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import WattsRead
from optimizer.model.rig import Rig

RIGS = some_of(range(500), 5)
"""Of 500 rigs; the room for the shares is three standard errors."""


def test_hidden_factors_are_recovered_as_often_as_stated() -> None:
    """Simulate and recover, with cakes on media and sponges: the bands from 10 to 90 % hold the truth in 80 % of the rigs, to
    three standard errors of the share (of 500 rigs 75 to 85 %; bands half as wide would hold 48 %). Factors, mark, level,
    reaction and scatter are drawn as they are assumed to be; one to four fills in random arrangements, two to four repeats each,
    buckets of 2 to 10 l with good marks and bad ones. The bands of what was learned about are narrow, so that they can miss. What
    was learned about a cake holds for the next one on the same medium.
    """
    held: dict[str, list[bool]] = defaultdict(list)
    narrowed = []
    for seed in RIGS:
        rng, rig = np.random.default_rng(seed), caked(seed)
        later = with_next_cakes(rig)
        truth = Truth.drawn(rig, rng, [later])
        which = rng.choice(len(ARRANGEMENTS), rng.integers(1, 5), replace=False)
        bucket = Bucket.drawn(rng, *[(0.01, 0.02), (0.01, 0.003), (0.002, 0.003), (0.003, 0.02)][seed % 4])
        fills = truth.timed(rng, [ARRANGEMENTS[n] for n in which], repeats=int(rng.integers(2, 5)), bucket=bucket)
        posterior = calibrate([seen_fill(rig, fill) for fill in fills], also=truth.unknowns)
        now, clean = loop_during_fill(rig), loop_during_fill(rig, ("clean",))
        for name, loop in (("now", now), ("clean", clean), ("under the next cakes", loop_during_fill(later))):
            band, flow = posterior.band(loop), truth.flow_m3s(loop)
            held[name].append(band.p10_m3s <= flow <= band.p90_m3s)
        if any(not fill.state for fill in fills):
            held["now, measured"].append(held["now"][-1])
            held[f"now, {'good' if bucket.share < 0.01 else 'bad'} mark"].append(held["now"][-1])
            narrowed.append(_width(posterior, now) / _width(calibrate([], also=truth.unknowns), now))
        for line in factor_lines(posterior):
            inside = line.p10 <= math.exp(truth.log_factor(line.unknown, line.part)) <= line.p90
            held["factors"].append(inside)
            if "cake" in line.unknown:
                held["cakes"].append(inside)
            if line.information > 0.3:
                held["factors learned about"].append(inside)
    assert np.median(narrowed) < 0.2
    assert len(held["factors learned about"]) > 1.2 * len(RIGS)
    for name, each in held.items():
        # the factors of one rig are not independent of each other: a rig counts once
        assert abs(np.mean(each) - 0.80) <= 3.0 * math.sqrt(0.16 / min(len(each), len(RIGS))), name


def _width(posterior: Posterior, loop: object) -> float:
    band = posterior.band(loop)  # type: ignore[arg-type]
    return math.log(band.p90_m3s / band.p10_m3s)


@pytest.mark.parametrize("u", [0.004, 0.008, 0.012, 0.02])
def test_the_band_of_what_was_timed_is_no_narrower_than_the_fill(u: float) -> None:
    """One fill of standard uncertainty u, and what the priors add to it (the prior's own standard deviation is some 0.07 to 0.1):
    the band from 10 to 90 % is at least 1.28 u to either side, as normal and as drawn, and not much wider."""
    for seed in (0, 1, 2, 4):
        rig = rig_of(seed)
        loop = loop_during_fill(rig, (), 0.0)
        far = 0.85 * calibrate((), also=loop.candidate.unknowns).band(loop).p50_m3s
        fill = TimedFill(volume_m3=0.01, seconds=(0.01 / far,) * 3)
        seen = replace(seen_fill(rig, fill), relative=u, mark="", mark_relative=0.0)
        posterior = calibrate([seen])
        band = posterior.band(loop)
        drawn = posterior.drawn(loop.candidate, band.p50_m3s)
        assert math.log(band.p90_m3s / band.p50_m3s) == pytest.approx(1.2815516 * u, rel=1e-6)
        sides = [math.log(drawn.p90_m3s / drawn.p50_m3s), math.log(drawn.p50_m3s / drawn.p10_m3s)]
        assert sum(sides) >= 2.0 * 1.2815516 * u * 0.97, "of 2 000 draws, to their own error"
        assert min(sides) >= 0.85 * 1.2815516 * u


CASES = {
    "one fill": [Datum(math.log(2.2e-4), 0.02)],
    "far from expected": [Datum(math.log(1.5e-4), 0.015)],
    "guard off too": [Datum(math.log(2.2e-4), 0.02), Datum(math.log(2.9e-4), 0.02, guard=False)],
    "lift too": [Datum(math.log(2.2e-4), 0.02), Datum(math.log(1.9e-4), 0.02, lift_m=0.5)],
    "a coarse fill": [Datum(math.log(2.6e-4), 0.15)],
}


@pytest.mark.parametrize("name", CASES)
def test_small_cases_equal_a_grid(name: str) -> None:
    """Pump head, fittings and guard, a closed form, and 81^3 points of prior times likelihood. No point is more probable than the
    fit. Laplace is an approximation: flows that were measured lie within a tenth of their spread, flows of arrangements that
    were not within a fifth, and single factors, which the measurements bind to one another along a bent ridge, within 0.3.
    """
    data = CASES[name]
    posterior = calibrate([datum.seen() for datum in data], THREE, three().candidate.unknowns)
    grid = Grid.of(data)
    factors = Factors(posterior.applied(draw(posterior.unknowns, 4000, seed=1)), THREE)
    columns = [posterior.column[Unknown(prior=prior, part=part)] for prior, part in zip(SIGMAS, "PFG", strict=True)]
    assert grid.loss(posterior.mean[columns], data) <= grid.losses.min()
    for column, row in zip(columns, grid.z, strict=True):
        mean, variance = grid.mean_and_variance(row)
        assert posterior.mean[column] == pytest.approx(mean, abs=0.3 * math.sqrt(variance))
        assert math.sqrt(posterior.covariance[column, column]) == pytest.approx(math.sqrt(variance), rel=0.2)
    seen = {(datum.guard, datum.lift_m) for datum in data}
    for guard, lift in ((True, 0.0), (False, 0.0), (True, 0.5)):
        near, wide = (0.1, 0.06) if (guard, lift) in seen else (0.2, 0.12)
        mean, variance = grid.mean_and_variance(log_flow(grid.z, guard, lift))
        band = posterior.band(three(guard, lift))
        sigma = math.log(band.p90_m3s / band.p10_m3s) / (2.0 * 1.2815516)
        logs = np.log(fill_loop_flows(three(guard, lift), factors))
        for at, spread in ((math.log(band.p50_m3s), sigma), (logs.mean(), logs.std())):
            assert at == pytest.approx(mean, abs=near * math.sqrt(variance))
            assert spread == pytest.approx(math.sqrt(variance), rel=wide)


def test_the_tail_is_the_chance_of_worse_measurements() -> None:
    """Nearly linear: twice the loss of the fit is chi-square with as many degrees of freedom as measurements, so tails of
    measurements that come from the prior spread evenly: a tenth of 600 below 0.1, half below 0.5."""
    rng, tails = np.random.default_rng(5), []
    for _ in range(600):
        z = rng.standard_normal(3)
        data = [(True, 0.0), (False, 0.0)]
        seen = [Datum(float(log_flow(z, *d)) + 0.05 * rng.standard_normal(), 0.05, *d).seen() for d in data]
        tails.append(calibrate(seen, THREE).tail)
    assert float(np.mean(np.array(tails) < 0.1)) == pytest.approx(0.1, abs=0.035)
    assert float(np.mean(np.array(tails) < 0.5)) == pytest.approx(0.5, abs=0.06)


def some_seen(seed: int) -> list[FlowObservation]:
    rng, rig = np.random.default_rng(seed), rig_of(seed)
    return [seen_fill(rig, fill) for fill in Truth.drawn(rig, rng).timed(rng, ARRANGEMENTS[:5])]


@settings(deadline=None, max_examples=20, database=None, derandomize=True)
@given(seed=st.integers(0, 5), order=st.permutations(range(5)))
def test_the_order_of_measurements_does_not_count(seed: int, order: list[int]) -> None:
    seen = some_seen(seed)
    one, other = calibrate(seen), calibrate([seen[n] for n in order])
    assert one.mean.tobytes() == other.mean.tobytes()
    assert one.covariance.tobytes() == other.covariance.tobytes()


def test_slopes_and_residuals_are_those_of_the_point_they_are_asked_at() -> None:
    """Whatever point was asked about before: at each the slopes of what is expected, and what is left of it, both worked out
    anew."""
    seen = some_seen(0)
    unknowns = calibrate(seen).unknowns
    model, points = Model(seen, unknowns, PRIORS), 0.3 * np.random.default_rng(1).standard_normal((3, len(unknowns)))
    for residuals_at, slopes_at in ((0, 1), (1, 1), (2, 0), (0, 0)):
        fresh = Model(seen, unknowns, PRIORS)
        left = (fresh.values - fresh.expected(points[[residuals_at]])[:, 0]) / fresh.scales
        slopes = -slopes_of(fresh.expected, points[slopes_at]) / fresh.scales[:, None]
        assert model.residuals(points[residuals_at] + SHIFT)[: len(seen)] == pytest.approx(left, rel=1e-9)
        assert model.jacobian(points[slopes_at] + SHIFT)[: len(seen)] == pytest.approx(slopes, rel=1e-6, abs=1e-9)


def test_without_measurements_it_is_the_prior() -> None:
    rig = rig_of(3)
    unknowns = installed(rig).unknowns
    posterior = calibrate([], also=unknowns)
    assert not posterior.mean.any() and posterior.tail == 1.0
    assert posterior.covariance.tolist() == np.eye(len(unknowns)).tolist()
    for line in factor_lines(posterior):
        assert (line.p10, line.p50, line.p90) == pytest.approx((line.prior_p10, 1.0, line.prior_p90))
        assert line.information == 0.0
        assert line.prior_p90 == pytest.approx(math.exp(1.2815516 * PRIORS[line.unknown].sigma))


@pytest.mark.parametrize("seed", range(12))
def test_another_measurement_never_widens_what_is_known_at_the_same_point(seed: int) -> None:
    """Normal posteriors: (I + A^T A)^-1 falls with every row of A, in every direction."""
    posterior = calibrate(some_seen(seed))
    full = posterior.covariance
    for rows in range(len(posterior.jacobian)):
        assert np.linalg.eigvalsh(covariance_of(posterior.jacobian[:rows]) - full).min() > -1e-12
    naive = np.linalg.inv(np.eye(len(full)) + posterior.jacobian.T @ posterior.jacobian)
    assert full == pytest.approx(naive, abs=1e-9)


def test_fills_into_one_bucket_share_its_error() -> None:
    """Twenty precise fills into one bucket that may be off by 2 % leave about that uncertainty; into twenty buckets they do not.
    By hand: the variance of a mean with a common error is u_V^2 + u^2/n, with errors of their own (u_V^2 + u^2)/n."""
    base = Datum(math.log(2.2e-4), 0.002).seen()
    one = [replace(base, mark="bucket", mark_relative=0.0115) for _ in range(20)]
    each = [replace(base, mark=f"bucket {n}", mark_relative=0.0115) for n in range(20)]
    for seen, variance in ((one, 0.0115**2 + 0.002**2 / 20), (each, (0.0115**2 + 0.002**2) / 20)):
        band = calibrate(seen, THREE).band(three())
        sigma = math.log(band.p90_m3s / band.p10_m3s) / (2.0 * 1.2815516)
        assert sigma == pytest.approx(math.sqrt(variance), rel=0.03)


@pytest.mark.parametrize("seed", [0, 1, 2, 4])
def test_what_was_learned_carries_into_the_bands(seed: int) -> None:
    """`bands.band.line_of` with the posterior's draws: within a twentieth of the width of the posterior's own band, far narrower
    than without."""
    rig = rig_of(seed)
    posterior = calibrate(some_seen(seed))
    before = line_of(installed(rig), draws=3000)
    after = line_of(installed(rig), draws=3000, known=posterior.known())
    own = posterior.band(loop_during_fill(rig))
    assert (after.p10_m3s, after.p50_m3s, after.p90_m3s) == pytest.approx(
        (own.p10_m3s, own.p50_m3s, own.p90_m3s), rel=0.05 * math.log(own.p90_m3s / own.p10_m3s)
    )
    assert after.p90_m3s - after.p10_m3s < 0.4 * (before.p90_m3s - before.p10_m3s)
    assert after.stated_m3s == pytest.approx(own.p50_m3s, rel=1e-6)


def test_applied_draws_have_the_posterior_as_their_distribution() -> None:
    measured = calibrate(some_seen(1))
    posterior = replace(measured, seen=())  # without the bend of the ridge
    more = (*posterior.unknowns, Unknown(prior="media", part="new one"))
    one = draw(more, 20_000, seed=2)
    made = posterior.applied(one)
    columns = [made.unknowns.index(unknown) for unknown in posterior.unknowns]
    assert made.normals[:, columns].mean(axis=0) == pytest.approx(posterior.mean, abs=0.03)
    assert np.cov(made.normals[:, columns].T) == pytest.approx(posterior.covariance, abs=0.04)
    new = made.unknowns.index(more[-1])
    assert made.normals[:, new].tolist() == one.normals[:, new].tolist()


def test_new_parts_know_what_their_kind_has_in_common() -> None:
    """A loop whose fittings lose much more than taken raises what a fitting that is still to be bought is expected to lose."""
    seen = Datum(math.log(1.2e-4), 0.01, guard=False).seen()
    priors = {name: replace(prior, common=0.5) for name, prior in THREE.items()}
    posterior = calibrate([seen], priors).knowing([Unknown(prior="fittings", part="new")])
    new = next(line for line in factor_lines(posterior) if line.part == "new")
    old = next(line for line in factor_lines(posterior) if line.unknown == "fittings" and line.part == "F")
    assert 1.0 < new.p50 < old.p50
    assert math.log(new.p50) == pytest.approx(0.5 * math.log(old.p50), rel=1e-6)


def expected_w(rig: Rig) -> float:
    """Watts with every factor 1: P ~ n3 (affinity laws), straight from 0.7 of the label at no flow to all of it at free flow."""
    pump, loop = rig.pump, loop_during_fill(rig)
    speed = next(piece for piece in installed(rig).pieces if piece.curve is not None).speed
    flow = calibrate((), also=loop.candidate.unknowns).band(loop).p50_m3s
    return pump.power_w * speed**3 * (0.7 + 0.3 * flow / (speed * pump.curve.max_flow_m3s))


def test_watts_tell_of_the_pump() -> None:
    """Affinity laws: P ~ n3, so 10 % less speed draws 27 % less. A pump whose watts are that low is taken for a weaker one, as
    far as its label's watts may not be those that it draws."""
    rig = rig_of(2)
    plain = expected_w(rig)
    low, usual = (calibrate([seen_watts(rig, WattsRead(power_w=watts))]) for watts in (0.729 * plain, plain))
    assert usual.mean == pytest.approx(np.zeros(len(usual.mean)), abs=1e-6)
    assert low.band(loop_during_fill(rig)).p50_m3s < usual.band(loop_during_fill(rig)).p50_m3s
    found = {line.unknown: math.log(line.p50) for line in factor_lines(low)}
    assert max(found["label head"], found["label flow"], found["label power"], found["shut-off power"]) < 0.0
    # most is put down to the label's watts, of which least is known
    assert found["label power"] == min(found.values())


def test_readings_of_one_pump_share_what_its_label_is_off_by() -> None:
    """A pump that draws a fifth less than its label lets expect, while its flow is as expected: that is its label's watts, the
    surer the more readings say so, as each reading has an error of its own and the label one for all."""
    rig, share = rig_of(2), 0.8
    loop = loop_during_fill(rig)
    flow = calibrate((), also=loop.candidate.unknowns).band(loop).p50_m3s
    fill = TimedFill(volume_m3=0.01, seconds=(0.01 / flow,) * 3, volume_limit_m3=1e-5, power_w=share * expected_w(rig))
    one, two = (calibrate([seen_fill(rig, fill), *([seen_power(rig, fill)] * count)]) for count in (1, 2))
    first, both = ({line.unknown: line for line in factor_lines(each)}["label power"] for each in (one, two))
    assert share < both.p50 < first.p50 < 0.97
    assert both.information > first.information > 0.1
    # meters: 1 W or 5 %, the wider, as limits of which 80 % lie within 0.8
    assert meter_relative(10.0) == pytest.approx(0.8 * 0.1 / 1.2815516, rel=1e-6)
    assert meter_relative(50.0) == pytest.approx(0.8 * 0.05 / 1.2815516, rel=1e-6)


def test_a_fit_of_something_impossible_is_finite() -> None:
    """A loop that cannot lift its water to where it was measured still gives numbers, and says how odd that is."""
    rig = rig_of(2)
    fill = TimedFill(volume_m3=0.01, seconds=(60.0, 61.0, 60.5), height_m=4.0)
    posterior = calibrate([seen_fill(rig, fill)])
    assert np.isfinite(posterior.mean).all() and posterior.tail < 1e-6


@pytest.mark.parametrize("wrong", [{"power_w": 0.0}, {"power_w": math.inf}])
def test_watts_that_cannot_be(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="above zero"):
        WattsRead(**wrong)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.3, 0.5, 0.7])
@pytest.mark.parametrize("seed", range(6))
def test_far_less_than_expected_is_still_explained(seed: int, share: float) -> None:
    """A loop that is clean by its file and delivers a fraction of what that lets expect (a valve forgotten half shut, say): the
    fit ends, and what it makes of the loop delivers what was measured, to 15 % where the priors hold it back."""
    rig = rig_of(seed)
    washed = cleaned(rig, ("clean",))
    loop = loop_during_fill(washed)
    flow = share * calibrate((), also=loop.candidate.unknowns).band(loop).p50_m3s
    fill = TimedFill(volume_m3=0.005, seconds=(0.005 / flow,) * 3)
    posterior = calibrate([seen_fill(washed, fill)])
    assert posterior.band(loop).p50_m3s == pytest.approx(flow, rel=0.15 if share < 0.2 else 0.06)
    assert posterior.tail < 0.2
