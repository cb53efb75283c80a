"""Did the new parts make the difference, or was it the cleaning? Before and after fills, told apart by the calibrated loop.

Between the loop before and the loop after stands a third that was never measured: the old parts, as clean as the loop is
after. What it delivers more than the loop before is owed to the cleaning, what the loop after delivers more than it to the new
parts. One calibration over both sets of fills gives all three, and parts that stayed have the same factors in all of them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.draws import Draws, Factors, draw
from optimizer.bands.priors import PRIORS, Prior
from optimizer.measure.arranged import CLEANED, Arranged, arranged, arranged_flows
from optimizer.measure.calibrate import Posterior, calibrate
from optimizer.measure.fills import USUAL, Timing
from optimizer.measure.seen import Seen, seen_fill
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import FlowBand, Verdict
from optimizer.model.rig import Rig

Reals = NDArray[np.float64]

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
    also: Sequence[Seen] = (),
    seed: int = 1,
) -> Verdict:
    """Whether the parts or the cleaning made the difference. ``also`` are measurements besides the fills.

    Raises ValueError when there is no fill before or none after.
    """
    if not before.fills or not after.fills:
        raise ValueError("a verdict needs a fill before and a fill after")
    return judged(posterior_of_both(before, after, priors, timing, also), three_loops(before, after), seed)


def posterior_of_both(
    before: Fills,
    after: Fills,
    priors: Mapping[str, Prior] = PRIORS,
    timing: Timing = USUAL,
    also: Sequence[Seen] = (),
) -> Posterior:
    """One calibration by all fills before and after, of all that the three loops depend on."""
    seen = [seen_fill(one.rig, fill, timing) for one in (before, after) for fill in one.fills]
    unknowns = [unknown for loop in three_loops(before, after) for unknown in loop.candidate.unknowns]
    return calibrate([*seen, *also], priors, unknowns)


def three_loops(before: Fills, after: Fills) -> tuple[Arranged, Arranged, Arranged]:
    """The loop before, the old parts as clean as the loop after, and the loop after, each as the tank gets its water."""
    like = replace(before, rig=as_clean_as(before.rig, after.rig), state=after.state)
    first, middle, last = (arranged(one.rig, one.state) for one in (before, like, after))
    return first, middle, last


def as_clean_as(old: Rig, new: Rig) -> Rig:
    """The old rig with the dirt of the new one, place by place; wear stays as it was, and so does what has no place any more."""
    states = {position.name: position.state for position in new.positions}
    positions = tuple(
        replace(each, state=replace(states.get(each.name, each.state), worn=each.state.worn)) for each in old.positions
    )
    trays = old.trays
    if len(new.trays) == len(trays):
        trays = tuple(replace(tray, state=other.state) for tray, other in zip(trays, new.trays, strict=True))
    return replace(old, positions=positions, trays=trays)


def judged(posterior: Posterior, loops: tuple[Arranged, Arranged, Arranged], seed: int = 1, draws: int = DRAWS) -> Verdict:
    """The verdict from draws of a posterior that knows the unknowns of all three loops."""
    normals: Draws = posterior.applied(draw(posterior.unknowns, draws, seed))
    factors = Factors(normals, posterior.priors)
    first, middle, last = (arranged_flows(loop, factors) for loop in loops)
    matched = loops[0] == loops[1] or bool(np.array_equal(first, middle))
    parts, cleaning = last - middle, middle - first
    worked = float((parts > 0.0).mean())
    probability = float(((parts > cleaning) & (parts > 0.0)).mean())
    bands = [_quantiles(each) for each in (first, middle, last, parts, cleaning)]
    advice = _advice(worked) if matched else _unmatched_advice(worked, probability)
    return Verdict(
        before=bands[0],
        cleaned=bands[1],
        after=bands[2],
        from_parts_m3s=bands[3],
        from_cleaning_m3s=bands[4],
        worked=worked,
        probability=probability,
        matched=matched,
        advice=advice,
        words=_words(bands, worked, probability, matched, advice),
    )


def _quantiles(values: Reals) -> FlowBand:
    p10, p50, p90 = (float(value) for value in np.quantile(values, (0.1, 0.5, 0.9)))
    return FlowBand(p10_m3s=p10, p50_m3s=p50, p90_m3s=p90)


def _words(bands: list[FlowBand], worked: float, probability: float, matched: bool, advice: str) -> str:
    before, _, after, parts, cleaning = (band.p50_m3s * 3.6e6 for band in bands)
    grew = f"Delivered flow went from {before:.0f} to {after:.0f} l/h"
    if matched:
        chance = f"the new parts deliver more than the old ones with a probability of {_percent(worked)}"
        return f"{grew}, in the same state both times, so cleaning has no share in it: {chance}. {advice}"
    shares = f"about {parts:+.0f} l/h from the parts and {cleaning:+.0f} l/h from the cleaning"
    chance = f"that the parts brought more than the cleaning has a probability of {_percent(probability)}"
    works = f"that they brought anything one of {_percent(worked)}"
    return f"{grew}: {shares}; {chance}, {works}. {advice}"


def _unmatched_advice(worked: float, probability: float) -> str:
    if probability <= 1.0 - LIKELY and worked >= SURE:
        return "Mostly the cleaning, but the parts did bring something."
    return _advice(probability)


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


def _percent(probability: float) -> str:
    """A probability from draws, which cannot be told from 0 or 1 at its ends.

    >>> _percent(0.0), _percent(0.42), _percent(1.0)
    ('under 1 %', '42 %', 'over 99 %')
    """
    if probability < 0.01:
        return "under 1 %"
    return "over 99 %" if probability > 0.99 else f"{100.0 * probability:.0f} %"
