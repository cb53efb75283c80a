"""Which cheap test to make next: the one that is expected to narrow the band of the delivered flow most.

In first order about the most probable factors everything is normal, and what a test takes off the variance does not depend on
what it will read. With slopes g of the target's logarithm and j of the test's, covariance C and the test's uncertainty u:

    variance after = g^T C g - (g^T C j)^2 / (j^T C j + u^2)

Source: the conditional variance of two jointly normal numbers; for the idea Raiffa and Schlaifer, Applied Statistical Decision
Theory (1961). Minutes and mess are common practice, no published source.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.candidates import Unknown
from optimizer.bands.draws import Draws, Factors
from optimizer.measure.calibrate import Posterior, flow_band, slopes_of
from optimizer.measure.fill_loop import FillLoop, loop_during_fill
from optimizer.measure.fills import GOOD_S, USUAL, Timing
from optimizer.measure.observations import CONTAINER, FlowObservation, Observation, level_effect, seen_watts
from optimizer.model.fill import GUARD_OFF, HOSE_OFF, MEDIA_OUT, OUTLET_OFF, TimedFill
from optimizer.model.measuring import FlowBand, NextTests, RankedTest, WattsRead
from optimizer.model.parts import Kind
from optimizer.model.rig import Rig
from optimizer.model.said import Said, length

Reals = NDArray[np.float64]

REPEATS = 3
RAISED_M = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class CheapTest:
    """A test that costs no money. ``state`` None: the watts are read; ``raised_m`` is how far above the water line the mouth
    is held during the fill."""

    name: str
    state: tuple[str, ...] | None
    minutes: float
    mess: str
    how: str
    raised_m: float = 0.0


TESTS = (
    CheapTest(
        name="fill as it is",
        state=(),
        minutes=5,
        mess="none",
        how="Fill three times, the outlet on, its mouth at the water line.",
    ),
    CheapTest(
        name="watts read",
        state=None,
        minutes=2,
        mess="none",
        how="Read the watts at the socket after ten minutes' running.",
    ),
    CheapTest(
        name="lift changed",
        state=(),
        raised_m=RAISED_M,
        minutes=5,
        mess="some drips",
        how=Said("Hold the mouth ", length(RAISED_M, f"{RAISED_M * 100:.0f} cm"), " above the water line and fill three times."),
    ),
    CheapTest(
        name="guard off",
        state=(GUARD_OFF,),
        minutes=8,
        mess="wet arm",
        how="Take the guard off, hold a coarse net over the intake so that nobody is drawn in, and fill three times.",
    ),
    CheapTest(
        name="outlet off",
        state=(OUTLET_OFF,),
        minutes=8,
        mess="some drips",
        how="Take the outlet off, hold the bare hose at the water line and fill three times.",
    ),
    CheapTest(
        name="hose off at the coupling",
        state=(HOSE_OFF,),
        minutes=15,
        mess="a litre or two over a tray",
        how="Shut the valves, take the return hose off at the coupling nearest the pump, and fill three times there.",
    ),
    CheapTest(
        name="media out",
        state=(MEDIA_OUT,),
        minutes=30,
        mess="canister opened, dirty water",
        how="Take the media out, keep them wet in tank water and back within the hour, and fill three times.",
    ),
)
"""Minutes and mess: common practice, no published source."""


def next_tests(
    rig: Rig,
    posterior: Posterior,
    target: FillLoop,
    *,
    about: FlowBand | None = None,
    container: TimedFill | None = None,
    timing: Timing = USUAL,
    tests: Sequence[CheapTest] = TESTS,
) -> NextTests:
    """Tests ranked by what they are expected to tell of the delivered flow of ``target`` (`arranged.as_delivered` of a bundle),
    of which everything else says that it is ``about`` so much (None: what is normal about the most probable factors).

    ``container`` is a fill whose container will be used again; without one a container of 2 % is taken that fills in 20 s.
    """
    told = [replace(test, how=_how(rig, test)) for test in tests]
    planned = [(test, planned_seen(rig, test, posterior, container, timing)) for test in told]
    needed = [unknown for _, seen in planned for unknown in seen.unknowns]
    known = posterior.knowing([*needed, *target.candidate.unknowns])
    log, slopes = known.log_flow(target)
    before = float(slopes @ known.covariance @ slopes)
    band = flow_band(log, math.sqrt(before)) if about is None else about
    lines = [_line(test, band, before, variance_after(known, slopes, seen)) for test, seen in planned]
    # of tests that tell alike, to a percent, the quicker one
    lines.sort(key=lambda line: (-round(line.shrink, 2), line.minutes, line.name))
    return NextTests(target=target.candidate.name, band=band, tests=tuple(lines))


def _how(rig: Rig, test: CheapTest) -> str:
    """How a test is made, where branches have two guards or two outlets too."""
    kinds, state = [place.kind for place in rig.as_it_stands.every_position], test.state
    words = [test.how]
    if state is not None and GUARD_OFF in state and kinds.count(Kind.GUARD) > 1:
        words.append("Both guards come off.")
    if state is not None and HOSE_OFF not in state and kinds.count(Kind.OUTLET) > 1:
        words.append("Both outlets fill the one container, at one height.")
    return " ".join(words)


def planned_seen(rig: Rig, test: CheapTest, posterior: Posterior, container: TimedFill | None, timing: Timing) -> Observation:
    """A test as the measurement it will be; the value it will show does not matter here."""
    if test.state is None:
        return seen_watts(rig, WattsRead(power_w=rig.pump.power_w))
    loop = loop_during_fill(rig, test.state, _height_m(rig, test))
    log, _ = posterior.knowing(loop.candidate.unknowns).log_flow(loop)
    volume = container.volume_m3 if container is not None else GOOD_S * math.exp(log)
    mark = container.mark if container is not None else "a container"
    limit = container.volume_limit_m3 if container is not None else 0.0
    fill = TimedFill(volume_m3=volume, seconds=(volume / math.exp(log),), volume_limit_m3=limit, container=mark)
    repeated = replace(timing, one_fill_s=timing.one_fill_s / math.sqrt(REPEATS))
    return FlowObservation.of(test.name, loop, fill, level_effect(loop), repeated)


def _height_m(rig: Rig, test: CheapTest) -> float:
    if HOSE_OFF in (test.state or ()):
        return -rig.positions[rig.index("pump")].depth_m
    return test.raised_m


def variance_after(known: Posterior, slopes: Reals, seen: Observation) -> float:
    """Variance of the target's logarithm that is expected to be left after a measurement."""
    row = _row(known, seen)
    covariance = known.covariance
    common, own = float(slopes @ covariance @ row), float(row @ covariance @ row)
    return float(slopes @ covariance @ slopes) - common**2 / (own + seen.relative**2)


def _row(known: Posterior, seen: Observation) -> Reals:
    """Slopes (p,) of what a measurement will show, the error of its container included."""

    def expected(normals: Reals) -> Reals:
        return seen.log_expected(Factors(Draws(unknowns=known.unknowns, normals=normals), known.priors))[None, :]

    row: Reals = slopes_of(expected, known.mean)[0]
    if seen.mark:
        row[known.column[Unknown(prior=CONTAINER, part=seen.mark)]] += seen.mark_relative
    return row


def _line(test: CheapTest, band: FlowBand, before: float, after: float) -> RankedTest:
    left = min(max(after, 0.0), before)
    share = math.sqrt(left / before) if before > 0.0 else 1.0
    return RankedTest(
        name=test.name,
        shrink=1.0 - left / before if before > 0.0 else 0.0,
        band=_narrowed(band, share),
        minutes=test.minutes,
        mess=test.mess,
        how=test.how,
    )


def _narrowed(band: FlowBand, share: float) -> FlowBand:
    """A band of whose width, in logarithms, a share is left on either side."""
    middle = band.p50_m3s
    if middle <= 0.0 or band.p10_m3s <= 0.0:
        return band
    low, high = (middle * (edge / middle) ** share for edge in (band.p10_m3s, band.p90_m3s))
    return FlowBand(p10_m3s=low, p50_m3s=middle, p90_m3s=high)
