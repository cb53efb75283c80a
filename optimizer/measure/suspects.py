"""Which parts are probably dirtier, narrower or weaker than the file has them, and what that alone costs."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from scipy.special import ndtr

from optimizer.bands.candidates import Unknown
from optimizer.bands.draws import Draws, Factors
from optimizer.bands.installed import installed
from optimizer.bands.priors import PRIORS, Prior
from optimizer.measure.calibrate import Z90, Posterior, factor_lines
from optimizer.measure.fill_loop import cleaned, loop_during_fill
from optimizer.measure.observations import log_flows
from optimizer.measure.result import gain_band
from optimizer.model import unknowns
from optimizer.model.diagnosis import CleaningGain, Suspect
from optimizer.model.fill import CLEAN, GUARD_CLEAN, HOSES_CLEAN, MEDIA_CLEAN, PUMP_CLEAN
from optimizer.model.measuring import FactorLine, RatioBand
from optimizer.model.part_names import joined
from optimizer.model.rig import Rig

LIKELY = 0.7
"""A part is named when it is worse than written with at least this probability, as in the words of a verdict."""

LEAST_COST = 0.005
"""Half a percent of the flow is not worth a word."""

DIRTY, NARROW, WEAK = "dirty", "narrow", "weak"


@dataclass(frozen=True, slots=True)
class Worse:
    """What a bad factor means: sign of its logarithm when it is bad, and its words."""

    sign: int
    kind: str
    words: str


_STATED: Mapping[str, Worse] = MappingProxyType(
    {
        unknowns.BLOCKED_GUARD: Worse(1, DIRTY, "more of it is shut than written"),
        unknowns.FILLED_MEDIA: Worse(1, DIRTY, "fuller of dirt than written"),
        unknowns.CAKE: Worse(1, DIRTY, "a thicker or denser cake on it than written"),
        unknowns.GUARD_CAKE: Worse(1, DIRTY, "a thicker or denser cake on it than written"),
        unknowns.FILM: Worse(1, DIRTY, "a thicker film than written"),
        unknowns.GUARD: Worse(1, DIRTY, "loses more than a clean one should: dirt nobody wrote down, or fewer openings"),
        unknowns.MEDIA: Worse(1, DIRTY, "loses more than clean media should: dirt nobody wrote down, or packed more densely"),
        unknowns.FITTINGS: Worse(1, DIRTY, "loses more than its formula: dirt, a burr, or the formula"),
        unknowns.MOULDED_ELBOWS: Worse(1, DIRTY, "loses more than its formula: dirt, a burr, or a knee that is sharp inside"),
        unknowns.THREADED_ELBOWS: Worse(1, DIRTY, "loses more than its formula: dirt, sealing tape in the way, or the formula"),
        unknowns.OPEN_VALVES: Worse(1, DIRTY, "loses more than an open one: dirt, or not quite open"),
        unknowns.HOSE_FRICTION: Worse(1, DIRTY, "rougher than clean hose: a film nobody wrote down"),
        unknowns.OUTLET: Worse(1, DIRTY, "loses more than its formula: lime, algae or burrs in the holes"),
        unknowns.DEVICE: Worse(1, DIRTY, "loses more than its maker says: dirt inside"),
        unknowns.VALVE: Worse(1, DIRTY, "opens less than a clean one: dirt on the flap or in the seat"),
        unknowns.VALVE_CRACK: Worse(1, DIRTY, "opens later than its maker says: dirt, or a spring that sticks"),
        unknowns.FITTING_BORES: Worse(-1, NARROW, "narrower than written"),
        unknowns.HOSE_BORE: Worse(-1, NARROW, "narrower than written: a smaller hose, a kink or a film nobody wrote down"),
        unknowns.OUTLET_BORES: Worse(-1, NARROW, "holes narrower than written: lime or algae"),
        unknowns.PUMP_HEAD: Worse(-1, WEAK, "less head than its curve: wear or dirt on the impeller"),
        unknowns.PUMP_FLOW: Worse(-1, WEAK, "less flow than its curve: wear or dirt on the impeller"),
        unknowns.LABEL_HEAD: Worse(-1, WEAK, "less head than its label: wear, dirt on the impeller, or the label"),
        unknowns.LABEL_FLOW: Worse(-1, WEAK, "less flow than its label: wear, dirt on the impeller, or the label"),
        unknowns.LABEL_SHAPE: Worse(-1, WEAK, "sags between the two ends of its label"),
        unknowns.LABEL_POWER: Worse(-1, WEAK, "draws less than its label: air in it, a slipping magnet, or the label"),
        unknowns.SHUT_POWER: Worse(-1, WEAK, "draws less at no flow than such pumps do"),
    }
)


def _worse(name: str) -> Worse:
    """What it means of an unknown by its name, of an assumed figure too, which nobody wrote down."""
    stated = _STATED[unknowns.sort_of(name)]
    words = re.sub("than (written|its label|its maker says)", "than assumed", stated.words)
    return stated if name in _STATED else replace(stated, words=words)


WORSE: Mapping[str, Worse] = MappingProxyType({name: _worse(name) for name in PRIORS})
"""What it means that a factor is on its bad side: common practice, no published source."""

CLEANINGS = (
    ("guard", GUARD_CLEAN),
    ("media", MEDIA_CLEAN),
    ("hoses, fittings and outlet", HOSES_CLEAN),
    ("pump", PUMP_CLEAN),
    ("everything", CLEAN),
)
"""What can be cleaned by itself, and the word of a fill's state for it."""


def suspects(rig: Rig, posterior: Posterior) -> tuple[Suspect, ...]:
    """Parts that are probably worse than written, the one that costs most flow by itself first."""
    loop = loop_during_fill(rig).candidate
    places = _places(rig)
    lines = [line for line in factor_lines(posterior) if Unknown(prior=line.unknown, part=line.part) in loop.unknowns]
    found = []
    for line, ratio in zip(lines, _alone(rig, posterior, lines), strict=True):
        worse, probability = WORSE[line.unknown], _probability(line, posterior.priors[line.unknown])
        if probability >= LIKELY and ratio <= 1.0 - LEAST_COST:
            found.append(
                Suspect(
                    places=places.get(line.part, ()),
                    part=line.part,
                    unknown=line.unknown,
                    kind=worse.kind,
                    scales=posterior.priors[line.unknown].scales,
                    factor=RatioBand(p10=line.p10, p50=line.p50, p90=line.p90),
                    probability=probability,
                    flow_ratio=ratio,
                    words=worse.words,
                )
            )
    return tuple(sorted(found, key=lambda one: (one.flow_ratio, one.unknown, one.part)))


def _probability(line: FactorLine, prior: Prior) -> float:
    """That a factor lies on its bad side."""
    low, middle, high = (prior.normal(math.log(each)) for each in (line.p10, line.p50, line.p90))
    sigma = (high - low) / (2.0 * Z90)
    return float(ndtr(WORSE[line.unknown].sign * middle / sigma)) if sigma else 0.5


def _alone(rig: Rig, posterior: Posterior, lines: list[FactorLine]) -> list[float]:
    """What each factor multiplies the flow by when all others stay as written."""
    normals = np.zeros((len(lines) + 1, len(posterior.unknowns)))
    for row, line in enumerate(lines, start=1):
        prior = posterior.priors[line.unknown]
        column = posterior.column[Unknown(prior=line.unknown, part=line.part)]
        normals[row, column] = prior.normal(math.log(line.p50)) / math.sqrt(1.0 - prior.common)
    logs = log_flows(loop_during_fill(rig), Factors(Draws(unknowns=posterior.unknowns, normals=normals), posterior.priors))
    return [float(ratio) for ratio in np.exp(logs[1:] - logs[0])]


def _places(rig: Rig) -> dict[str, tuple[str, ...]]:
    """The places of each part that the draws know."""
    loop = loop_during_fill(rig).candidate
    found: dict[str, dict[str, None]] = {}
    for piece in loop.all_pieces:
        found.setdefault(piece.part, {}).setdefault(joined(piece.places))
    return {part: tuple(places) for part, places in found.items()}


def cleaning_gains(rig: Rig, posterior: Posterior) -> tuple[CleaningGain, ...]:
    """What cleaning each kind of part by itself gives back, of those that are not clean; then everything together."""
    now, gains = loop_during_fill(rig), []
    for what, state in CLEANINGS:
        if cleaned(rig, (state,)) == rig:
            continue
        then = loop_during_fill(rig, (state,))
        known = posterior.knowing(then.candidate.unknowns)
        delivered = known.drawn(installed(cleaned(rig, (state,))), known.band(then).p50_m3s)
        gains.append(CleaningGain(what=what, gain=gain_band(known, now, then), delivered=delivered))
    # one kind of dirt alone is the same as everything
    return tuple(gains[:1] if len(gains) == 2 else gains)
