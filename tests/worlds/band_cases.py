"""Candidates for the tests of bands: loops with a closed form, and bundles of random worlds."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from small_worlds import world

from optimizer.bands.candidates import Candidate, Piece, candidate
from optimizer.bands.priors import FITTING_BORES, FITTINGS, PRIORS, PUMP_FLOW, PUMP_HEAD, Prior
from optimizer.model.losses import Loss
from optimizer.model.parts import PumpCurve
from optimizer.search.best import Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.joints import Chain
from optimizer.search.layers import build
from optimizer.search.options import Option

SEEDS = (0, 1, 2, 4, 5, 9, 11, 12, 13, 17, 18, 21, 23, 24, 27, 29, 30, 34, 36, 38, 43, 44, 48, 50, 52, 53, 56, 58, 59)
"""Random worlds with several bundles each; between them they have every sort of part, dirt and limit."""

KINEMATIC_M2S = 0.9e-6
HEAD_M, QUADRATIC = 2.0, 2e7
FLAT_M3S = 1e4
"""A pump whose head falls to nothing only here gives the same head at any flow of a loop, to the last digits."""


def lognormal(name: str, sigma: float, common: float = 0.0, group: str = "") -> Prior:
    """A prior whose factor has a given standard deviation of its logarithm."""
    spread = 2.718281828459045 ** (sigma * 1.2815515655446004)
    told = group or (PRIORS[name].group if name in PRIORS else name)
    return Prior(name=name, group=told, scales="test", spread=spread, quantile=0.9, source="test", common=common)


def flat(name: str = "one", pump: str = "P", fitting: str = "F", quadratic: float = QUADRATIC, **limits: float) -> Candidate:
    """A pump of constant head against a purely quadratic loss: Q = sqrt(head x h / (quadratic x k / d^4))."""
    curve = PumpCurve(flows_m3s=(0.0, FLAT_M3S), heads_m=(HEAD_M, 0.0), shape=2.0)
    pieces = (
        Piece(part=pump, installed=True, curve=curve, head=PUMP_HEAD),
        Piece(part=fitting, installed=False, loss=Loss(quadratic=quadratic), resistance=FITTINGS, bore=FITTING_BORES),
    )
    return Candidate(name=name, pieces=pieces, kinematic_m2s=KINEMATIC_M2S, **limits)


FLAT_PRIORS = {
    PUMP_HEAD: lognormal(PUMP_HEAD, 0.06),
    PUMP_FLOW: lognormal(PUMP_FLOW, 0.06),
    FITTINGS: lognormal(FITTINGS, 0.25),
    FITTING_BORES: lognormal(FITTING_BORES, 0.02),
}


@dataclass(frozen=True)
class Listed:
    """A bundle of a world: its options and its joints."""

    options: tuple[Option, ...]
    joints: tuple[Chain, ...]


@lru_cache(maxsize=100)
def bundles(seed: int, most: int = 6) -> tuple[Choices, tuple[Listed, ...]]:
    """Some bundles of a random world: the ones that lose least when a random half of the options is barred."""
    rig, catalog = world(seed)
    menu = choices(rig, catalog, rig.limits)
    problem = build(menu)
    seeker, rng = Seeker(problem), np.random.default_rng(seed)
    found: dict[tuple[int, ...], Listed] = {}
    for _ in range(4 * most):
        allowed = rng.random(len(problem.option_plain)) < 0.6
        bundle = seeker.exact.least_loss(1e-4, 10**9, allowed, float("inf"))
        if bundle is not None and len(found) < most:
            joints = tuple(problem.joint(flat) for flat in bundle.path.joints)
            found[tuple(bundle.path.options)] = Listed(tuple(seeker.options_of(bundle)), joints)
    return menu, tuple(found.values())


@lru_cache(maxsize=100)
def candidates(seed: int, most: int = 6) -> tuple[Candidate, ...]:
    """The same as candidates."""
    menu, listed = bundles(seed, most)
    return tuple(candidate(menu.rig, menu.water, f"bundle {n}", one.options, one.joints) for n, one in enumerate(listed))
