"""A rig and its measurements as one finished answer: corrected fills, calibrated flows, what moved, and what to do first."""

import math
from collections.abc import Iterator, Mapping, Sequence

from optimizer.bands.priors import PRIORS, Prior
from optimizer.measure.arranged import CLEANED, Arranged, arranged
from optimizer.measure.calibrate import Posterior, calibrate, factor_lines, flow_band
from optimizer.measure.fills import USUAL, Timing, fit_relatives, measured
from optimizer.measure.identify import identified
from optimizer.measure.seen import Seen, level_effect, seen_fill, seen_watts
from optimizer.model.fill import CLEAN, TimedFill
from optimizer.model.measuring import Calibrated, CorrectedFlow, FactorLine, FlowBand, RatioBand, WattsRead
from optimizer.model.rig import Rig

ODD = 0.05
"""Measurements this far out happen to one rig in twenty that is as its file says."""

WORTH_CLEANING = 1.05
"""A clean that gives back less than 5 % is not worth a word."""

MOVED = 0.5
"""A factor that moved by half a standard deviation of its prior is named."""

MOST_NAMED = 3


def posterior_of(
    rig: Rig,
    fills: Sequence[TimedFill],
    watts: Sequence[WattsRead] = (),
    priors: Mapping[str, Prior] = PRIORS,
    timing: Timing = USUAL,
) -> Posterior:
    """The calibration of a rig's installed loop by all its measurements."""
    seen: list[Seen] = [seen_fill(rig, fill, timing) for fill in fills]
    seen += [seen_watts(rig, read) for read in watts]
    loops = (arranged(rig), arranged(rig, (CLEAN,)))
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


def told_by(posterior: Posterior, rig: Rig, fills: Sequence[TimedFill], timing: Timing = USUAL) -> Calibrated:
    """What a posterior of `posterior_of` says of its rig; ``fills`` are those it was made from."""
    now, clean = arranged(rig), arranged(rig, (CLEAN,))
    expected = calibrate((), posterior.priors, now.candidate.unknowns).band(now)
    factors = factor_lines(posterior)
    gain = gain_band(posterior, now, clean)
    delivered = posterior.band(now)
    words = _words(posterior, expected, delivered, factors)
    clean_first = _clean_first(posterior, expected, delivered, gain)
    return Calibrated(
        measured=tuple(corrected(rig, fill, posterior, timing) for fill in fills),
        expected=expected,
        delivered=delivered,
        cleaned=posterior.band(clean),
        factors=factors,
        identified=identified(posterior),
        tail=posterior.tail,
        gain=gain,
        clean_first=clean_first,
        words=(*words, *([clean_first] if clean_first else [])),
    )


def corrected(rig: Rig, fill: TimedFill, posterior: Posterior, timing: Timing = USUAL) -> CorrectedFlow:
    """A fill brought to what is installed: the flow measured times what the loop model has for the loop as the tank gets its
    water (equally clean) over the arrangement of the fill.

    The band holds the uncertainty of the fill and that of the ratio; for the prior hand in ``calibrate(())``.
    """
    loop = arranged(rig, fill.state, fill.height_m)
    home = arranged(rig, [word for word in fill.state if word in CLEANED])
    found = measured(fill, level_effect(loop), timing, rig.tank.net_m3)
    known = posterior.knowing([*loop.candidate.unknowns, *home.candidate.unknowns])
    (log, slopes), (home_log, home_slopes) = known.log_flow(loop), known.log_flow(home)
    apart = home_slopes - slopes
    own = fit_relatives(found, len(fill.seconds))
    sigma = math.hypot(*own, math.sqrt(max(float(apart @ known.covariance @ apart), 0.0)))
    ratio = math.exp(home_log - log)
    band = flow_band(math.log(found.flow_m3s * ratio), sigma)
    return CorrectedFlow(measured=found, ratio=ratio, installed=band, words=_corrected_words(fill, found.flow_m3s, ratio))


def _corrected_words(fill: TimedFill, flow_m3s: float, ratio: float) -> str:
    text = f"{fill.label}: {flow_m3s * 3.6e6:.0f} l/h"
    if abs(ratio - 1.0) < 5e-4:
        return f"{text}, as the tank gets it"
    return f"{text}; as installed that is {flow_m3s * ratio * 3.6e6:.0f} l/h (the loop model's factor is {ratio:.3f})"


def gain_band(posterior: Posterior, now: Arranged, then: Arranged) -> RatioBand:
    """What the flow of one loop is multiplied by in another one, whose unknowns are all known to the posterior."""
    (log, slopes), (then_log, then_slopes) = posterior.log_flow(now), posterior.log_flow(then)
    apart = then_slopes - slopes
    band = flow_band(then_log - log, math.sqrt(max(float(apart @ posterior.covariance @ apart), 0.0)))
    return RatioBand(p10=band.p10_m3s, p50=band.p50_m3s, p90=band.p90_m3s)


def _words(posterior: Posterior, expected: FlowBand, delivered: FlowBand, factors: Sequence[FactorLine]) -> Iterator[str]:
    any_made = bool(posterior.seen)
    yield f"Expected from the file {_litres(expected)}" + (f"; with the measurements {_litres(delivered)}." if any_made else ".")
    if any_made and posterior.tail < ODD:
        less = delivered.p50_m3s < expected.p50_m3s
        what = "dirtier, more worn or narrower" if less else "cleaner, wider or stronger"
        chance = "less than 0.1 %" if posterior.tail < 1e-3 else f"{100.0 * posterior.tail:.1f} %"
        yield (
            f"Measurements this far from the file come by chance in {chance} of cases: "
            f"something is {what} than written, or a fill went wrong."
        )
    for line in sorted(factors, key=lambda line: -abs(_moved(line, posterior)))[:MOST_NAMED]:
        if abs(_moved(line, posterior)) >= MOVED:
            scales = posterior.priors[line.unknown].scales
            band = f"{line.p50:.2f} times what was taken ({line.p10:.2f} to {line.p90:.2f})"
            yield f"{line.unknown} of {line.part}: {scales} {band}."


def _clean_first(posterior: Posterior, expected: FlowBand, delivered: FlowBand, gain: RatioBand) -> str:
    """The advice to clean before anything is bought; empty where the data do not say so."""
    if gain.p50 > WORTH_CLEANING:
        least, most = (f"{share - 1.0:.0%}" for share in (gain.p10, gain.p90))
        return (
            f"Cleaning alone would give back about {gain.p50 - 1.0:.0%} ({least} to {most}): "
            "clean and measure again before you buy."
        )
    if posterior.seen and posterior.tail < ODD and delivered.p90_m3s < expected.p10_m3s:
        return "The loop gives less than a loop as clean as the file says: clean and measure again before you buy."
    return ""


def _moved(line: FactorLine, posterior: Posterior) -> float:
    """How far a factor moved, in standard deviations of its prior."""
    sigma = posterior.priors[line.unknown].sigma
    return math.log(line.p50) / sigma if sigma else 0.0


def _litres(band: FlowBand) -> str:
    return f"{band.p50_m3s * 3.6e6:.0f} l/h ({band.p10_m3s * 3.6e6:.0f} to {band.p90_m3s * 3.6e6:.0f})"
