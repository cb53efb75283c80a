"""Did the new parts make the difference, or was it the cleaning? Before and after fills, told apart by the calibrated loop.

Between the loop before and the loop after stand two that were never measured, in the order in which a keeper would go about it:

    the old parts, as clean as the loop is after        what they deliver more than before is owed to the cleaning
    the same without what is there no more              what they deliver more than those is owed to leaving out
    the loop after                                      what it delivers more than those is owed to the new parts

What is free comes first, so that nothing is put down to money that a brush would have given. What was thrown out counts as clean
before it goes: of a clogged floss the dirt is the cleaning's, and leaving out has the rest. Each step starts where the one before
it ends, so the three add up to the whole. One calibration over both sets of fills gives all four, and parts that stayed have the
same factors in all of them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.draws import Draws, Factors, draw
from optimizer.bands.priors import PRIORS, Prior
from optimizer.measure.calibrate import Posterior, calibrate
from optimizer.measure.fill_loop import CLEANED, FillLoop, fill_loop_flows, loop_during_fill
from optimizer.measure.fills import USUAL, Timing
from optimizer.measure.observations import Observation, seen_fill
from optimizer.measure.work import Work, as_clean_as, without_what_is_gone, work_between
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import FlowBand, Verdict
from optimizer.model.rig import Rig

Reals = NDArray[np.float64]
Loops = tuple[FillLoop, FillLoop, FillLoop, FillLoop]

DRAWS = 4000
SURE, LIKELY = 0.9, 0.7
"""Probabilities that the words change at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fills:
    """A rig and its timed fills, before or after the parts were changed. ``state`` says how clean the loop was at its delivered
    flow (words of `FILL_STATES` that clean something; the rig's own states count besides)."""

    rig: Rig
    fills: tuple[TimedFill, ...]
    state: tuple[str, ...] = ()

    @classmethod
    def of(cls, rig: Rig, fills: Sequence[TimedFill]) -> "Fills":
        """The state is what all fills have in common of what is clean."""
        common = set(CLEANED).intersection(*(fill.state for fill in fills)) if fills else set()
        return cls(rig=rig, fills=tuple(fills), state=tuple(sorted(common)))


def verdict(
    before: Fills,
    after: Fills,
    priors: Mapping[str, Prior] = PRIORS,
    timing: Timing = USUAL,
    also: Sequence[Observation] = (),
    seed: int = 1,
) -> Verdict:
    """Whether the parts or the cleaning made the difference. ``also`` are measurements besides the fills.

    Raises ValueError when there is no fill before or none after.
    """
    if not before.fills or not after.fills:
        raise ValueError("a verdict needs a fill before and a fill after")
    work = work_done(before, after)
    return judged(posterior_of_both(before, after, priors, timing, also), loops_between(before, after), work, seed)


def work_done(before: Fills, after: Fills) -> Work:
    """What was cleaned, left out and bought between two sets of fills."""
    return work_between(before.rig, after.rig, before.state, after.state)


def posterior_of_both(
    before: Fills,
    after: Fills,
    priors: Mapping[str, Prior] = PRIORS,
    timing: Timing = USUAL,
    also: Sequence[Observation] = (),
) -> Posterior:
    """One calibration by all fills before and after, of all that the four loops depend on."""
    seen = [seen_fill(one.rig, fill, timing) for one in (before, after) for fill in one.fills]
    unknowns = [unknown for loop in loops_between(before, after) for unknown in loop.candidate.unknowns]
    return calibrate([*seen, *also], priors, unknowns)


def loops_between(before: Fills, after: Fills) -> Loops:
    """The loop before, the old parts as clean as the loop after, these without what is gone, and the loop after, each as the tank
    gets its water."""
    clean = replace(before, rig=as_clean_as(before.rig, after.rig), state=after.state)
    left = replace(clean, rig=without_what_is_gone(clean.rig, after.rig))
    first, second, third, last = (loop_during_fill(one.rig, one.state) for one in (before, clean, left, after))
    return first, second, third, last


def judged(posterior: Posterior, loops: Loops, work: Work, seed: int = 1, draws: int = DRAWS) -> Verdict:
    """The verdict from draws of a posterior that knows the unknowns of all loops."""
    normals: Draws = posterior.applied(draw(posterior.unknowns, draws, seed))
    factors = Factors(normals, posterior.priors)
    flows = [fill_loop_flows(loop, factors) for loop in loops]
    matched = loops[0] == loops[1] or bool(np.array_equal(flows[0], flows[1]))
    bands = [_quantiles(each) for each in flows]
    gains = [_gain(bands[n], bands[n + 1], flows[n + 1] - flows[n]) for n in range(3)]
    cleaning, leaving_out, parts = (flows[n + 1] - flows[n] for n in range(3))
    worked = float((parts > 0.0).mean()) if work.parts else 0.0
    most = (parts > np.maximum(cleaning, leaving_out)) & (parts > 0.0)
    probability = float(most.mean()) if work.parts else 0.0
    return Verdict(
        before=bands[0],
        cleaned=bands[1],
        left=bands[2],
        after=bands[3],
        from_cleaning_m3s=gains[0],
        from_leaving_out_m3s=gains[1],
        from_parts_m3s=gains[2],
        worked=worked,
        probability=probability,
        matched=matched,
        advice=advice(work, gains, worked, probability, matched),
    )


def _quantiles(values: Reals) -> FlowBand:
    p10, p50, p90 = (float(value) for value in np.quantile(values, (0.1, 0.5, 0.9)))
    return FlowBand(p10_m3s=p10, p50_m3s=p50, p90_m3s=p90)


def _gain(before: FlowBand, after: FlowBand, values: Reals) -> FlowBand:
    """A step between two loops. Its middle is the difference of theirs, so that the steps add up to the whole; the median of the
    differences, which may be a fraction of a litre off, would not."""
    drawn, middle = _quantiles(values), after.p50_m3s - before.p50_m3s
    return FlowBand(p10_m3s=min(drawn.p10_m3s, middle), p50_m3s=middle, p90_m3s=max(drawn.p90_m3s, middle))


def advice(work: Work, gains: Sequence[FlowBand], worked: float, probability: float, matched: bool) -> str:
    """The verdict in one sentence; ``gains`` are those of cleaning, leaving out and parts."""
    cleaning, leaving_out = (gain.p50_m3s for gain in gains[:2])
    washed = "the cleaning" if cleaning >= 0.0 else "the dirt since then"
    free = "what was left out" if abs(leaving_out) > abs(cleaning) else washed
    if not work.parts:
        return f"It was not the upgrade, for no part was bought, swapped or adjusted{_without_parts(work, free, matched)}."
    if not matched or work.left_out:
        if probability <= 1.0 - LIKELY and worked >= SURE:
            return f"Mostly {free}, but the parts did bring something."
        return _advice(probability)
    return _advice(worked)


def _without_parts(work: Work, free: str, matched: bool) -> str:
    if matched and not work.left_out:
        return ", nor was anything cleaned or left out"
    if matched:
        return ": it was what was left out"
    return f": it was mostly {free}" if work.left_out else f": it was {free}"


def _advice(probability: float) -> str:
    if probability >= SURE:
        return "It was the upgrade."
    if probability <= 1.0 - SURE:
        return "It was not the upgrade."
    if probability >= LIKELY:
        return "Probably the upgrade; fills in the same state before and after would settle it."
    if probability <= 1.0 - LIKELY:
        return "Probably not the upgrade; fills in the same state before and after would settle it."
    return "These fills cannot tell; clean the loop the same way both times and fill again."
