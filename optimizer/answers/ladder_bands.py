"""How sure the flows of the steps of a ladder are, and that the last one delivers more than each of them at all.

All steps are drawn with the same random numbers, so that what two of them share cancels.
"""

from collections.abc import Sequence

import numpy as np

from optimizer.answers.question import Question
from optimizer.answers.rows import Standing
from optimizer.answers.stated_loop import stated_loop
from optimizer.bands import band
from optimizer.bands.candidates import Candidate, candidate
from optimizer.bands.draws import DRAWS, SEED, Factors, draw, unknowns_of
from optimizer.bands.fitted import FittedParts
from optimizer.bands.priors import PRIORS


def step_bands(question: Question, steps: Sequence[Standing]) -> list[tuple[float, float, float]]:
    """For every bundle of a ladder P10 and P90 of its flow, and P10 of what the last of them delivers more (m3/s)."""
    drawn = [_candidate(question, stands, str(number)) for number, stands in enumerate(steps)]
    fitted = question.rig.fitted
    known = fitted.known if isinstance(fitted, FittedParts) else band.nothing_more
    factors = known(Factors(draw(unknowns_of(each.unknowns for each in drawn), DRAWS, SEED), PRIORS))
    flows = band.delivered_flows(drawn, factors)
    low, high = np.quantile(flows, (0.1, 0.9), axis=1)
    lead = np.quantile(flows[-1] - flows, 0.1, axis=1)
    return list(zip(low.tolist(), high.tolist(), lead.tolist(), strict=True))


def _candidate(question: Question, stands: Standing, name: str) -> Candidate:
    """A bundle as it stands, ready to be drawn, by the stated figures: the draws know the fills themselves."""
    loop = stated_loop(question.rig, stands.loop.water, stands.options, stands.joints)
    held = stands.flow_m3s if stands.held_by else float("inf")
    return candidate(loop, question.rig.limits, name, held)
