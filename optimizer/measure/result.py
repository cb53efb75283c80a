"""A rig and its measurements as one finished answer: corrected fills, calibrated flows, what moved, and what to do first."""

import math
from collections.abc import Mapping, Sequence
from typing import Literal

from optimizer.bands.installed import installed
from optimizer.bands.priors import PRIORS, Prior
from optimizer.measure.calibrate import Posterior, calibrate, factor_lines, flow_band
from optimizer.measure.fill_loop import CLEANED, FillLoop, cleaned, loop_during_fill
from optimizer.measure.fills import USUAL, Timing, fit_relatives, measured
from optimizer.measure.identify import identified
from optimizer.measure.observations import Observation, level_effect, seen_fill, seen_power, seen_watts
from optimizer.model.fill import CLEAN, TimedFill
from optimizer.model.measuring import Calibrated, CorrectedFlow, FlowBand, RatioBand, WattsRead
from optimizer.model.rig import Rig

ODD = 0.05
"""Measurements this far out happen to one rig in twenty that is as its file says."""

WORTH_CLEANING = 1.05
"""A clean that gives back less than 5 % is not worth a word."""


def posterior_of(
    rig: Rig,
    fills: Sequence[TimedFill],
    watts: Sequence[WattsRead] = (),
    priors: Mapping[str, Prior] = PRIORS,
    timing: Timing = USUAL,
) -> Posterior:
    """The calibration of a rig's installed loop by all its measurements."""
    seen: list[Observation] = [seen_fill(rig, fill, timing) for fill in fills]
    seen += [seen_power(rig, fill) for fill in fills if fill.power_w]
    seen += [seen_watts(rig, read) for read in watts]
    loops = (loop_during_fill(rig), loop_during_fill(rig, (CLEAN,)))
    return calibrate(seen, priors, [unknown for loop in loops for unknown in loop.candidate.unknowns])


def calibrated(
    rig: Rig,
    fills: Sequence[TimedFill],
    watts: Sequence[WattsRead] = (),
    priors: Mapping[str, Prior] = PRIORS,
    timing: Timing = USUAL,
) -> Calibrated:
    """What the measurements say of a rig. Without any it is what the file alone lets expect."""
    return told_by(posterior_of(rig, fills, watts, priors, timing), rig, fills, timing)


def told_by(
    posterior: Posterior, rig: Rig, fills: Sequence[TimedFill], timing: Timing = USUAL, *, drawn: bool = True
) -> Calibrated:
    """What a posterior of `posterior_of` says of its rig; ``fills`` are those it was made from. Not ``drawn``: the bands of the
    delivered flow are taken as normal."""
    now, clean = loop_during_fill(rig), loop_during_fill(rig, (CLEAN,))
    unmeasured = calibrate((), posterior.priors, now.candidate.unknowns)
    expected, delivered = unmeasured.band(now), posterior.band(now)
    factors = factor_lines(posterior)
    gain = gain_band(posterior, now, clean)
    clean_first = _clean_first(posterior, expected, delivered, gain)
    given_back = posterior.band(clean)
    if drawn:
        as_stands = installed(rig)
        expected = unmeasured.drawn(as_stands, expected.p50_m3s)
        delivered = posterior.drawn(as_stands, delivered.p50_m3s) if posterior.seen else expected
        given_back = posterior.drawn(installed(cleaned(rig, (CLEAN,))), given_back.p50_m3s)
    return Calibrated(
        measured=tuple(corrected(rig, fill, posterior, timing) for fill in fills),
        expected=expected,
        delivered=delivered,
        cleaned=given_back,
        factors=factors,
        identified=identified(posterior),
        tail=posterior.tail,
        gain=gain,
        clean_first=clean_first,
    )


def corrected(rig: Rig, fill: TimedFill, posterior: Posterior, timing: Timing = USUAL) -> CorrectedFlow:
    """A fill brought to what is installed: the flow measured times what the loop model has for the loop as the tank gets its
    water (equally clean) over the arrangement of the fill.

    The band holds the uncertainty of the fill and that of the ratio; for the prior hand in ``calibrate(())``.
    """
    loop = loop_during_fill(rig, fill.state, fill.height_m)
    home = loop_during_fill(rig, [word for word in fill.state if word in CLEANED])
    found = measured(fill, level_effect(loop), timing, rig.tank.net_m3)
    known = posterior.knowing([*loop.candidate.unknowns, *home.candidate.unknowns])
    (log, slopes), (home_log, home_slopes) = known.log_flow(loop), known.log_flow(home)
    apart = home_slopes - slopes
    own = fit_relatives(found, len(fill.seconds))
    sigma = math.hypot(*own, math.sqrt(max(float(apart @ known.covariance @ apart), 0.0)))
    ratio = math.exp(home_log - log)
    band = flow_band(math.log(found.flow_m3s * ratio), sigma)
    return CorrectedFlow(measured=found, ratio=ratio, installed=band)


def gain_band(posterior: Posterior, now: FillLoop, then: FillLoop) -> RatioBand:
    """What the flow of one loop is multiplied by in another one, whose unknowns are all known to the posterior."""
    (log, slopes), (then_log, then_slopes) = posterior.log_flow(now), posterior.log_flow(then)
    apart = then_slopes - slopes
    band = flow_band(then_log - log, math.sqrt(max(float(apart @ posterior.covariance @ apart), 0.0)))
    return RatioBand(p10=band.p10_m3s, p50=band.p50_m3s, p90=band.p90_m3s)


def _clean_first(posterior: Posterior, expected: FlowBand, delivered: FlowBand, gain: RatioBand) -> Literal["", "gain", "less"]:
    """Why to clean before anything is bought; empty where the data do not say so."""
    if gain.p50 > WORTH_CLEANING:
        return "gain"
    return "less" if posterior.seen and posterior.tail < ODD and delivered.p90_m3s < expected.p10_m3s else ""
