"""Candidates for the tests of bands: loops with a closed form, and bundles of random worlds."""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from branched_worlds import branched_world
from small_worlds import world
from split_cases import random_split

from optimizer.bands.candidates import BranchPieces, Candidate, SplitPieces, candidate
from optimizer.bands.draws import Factors, draw, unknowns_of
from optimizer.bands.priors import PRIORS, Prior
from optimizer.loop.graph import Element
from optimizer.loop.pieces import Piece
from optimizer.loop.splits import Splits, rises
from optimizer.loop.standing import standing_loop
from optimizer.model.losses import BranchLoss, Loss, Run, Split, TeeShape
from optimizer.model.options import Chain, Option
from optimizer.model.parts import PumpCurve
from optimizer.model.unknowns import FITTING_BORES, FITTINGS, HOSE_BORE, HOSE_FRICTION, PUMP_FLOW, PUMP_HEAD
from optimizer.search.best import Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.layers import build

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
def bundles(seed: int, most: int = 6, branched: bool = False) -> tuple[Choices, tuple[Listed, ...]]:
    """Some bundles of a random world: the ones that lose least when a random half of the options is barred."""
    rig, catalog = branched_world(seed) if branched else world(seed)
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
def candidates(seed: int, most: int = 6, branched: bool = False) -> tuple[Candidate, ...]:
    """The same as candidates."""
    menu, listed = bundles(seed, most, branched)
    return tuple(
        candidate(standing_loop(menu.rig, one.options, one.joints), menu.rig.limits, f"bundle {n}")
        for n, one in enumerate(listed)
    )


def drawn(made: Sequence[Candidate], count: int, seed: int) -> Factors:
    """Factors of all priors for some candidates."""
    return Factors(draw(unknowns_of(candidate.unknowns for candidate in made), count, seed), PRIORS)


def element(piece: Piece, factors: Factors, row: int) -> Element:
    """A piece with its figures changed as one draw says, in plain numbers."""

    def factor(prior: str) -> float:
        return float(factors.of(prior, piece.part)[row]) if prior else 1.0

    bare = piece.bore_m + 2.0 * piece.film_m
    wall, film = factor(piece.bore), 2.0 * piece.film_m * factor(piece.film)
    bore = max(bare * wall - film, 0.1 * bare * wall) / piece.bore_m if piece.film_m else wall
    resistance = factor(piece.resistance)
    run = piece.loss.run
    if run is not None:
        run = replace(run, bore_m=run.bore_m * bore, factor=run.factor * factor(piece.friction))
    loss = Loss(
        lift_m=piece.loss.lift_m,
        crack_m=piece.loss.crack_m * factor(piece.crack),
        linear=piece.loss.linear * resistance,
        quadratic=piece.loss.quadratic * math.pow(resistance, piece.quadratic_power) / bore**4,
        run=run,
    )
    curve = piece.curve
    if curve is not None:
        curve = PumpCurve(
            flows_m3s=tuple(flow * factor(piece.flow) for flow in curve.flows_m3s),
            heads_m=tuple(head * factor(piece.head) for head in curve.heads_m),
            shape=min(max(curve.shape * factor(piece.shape), 1.0), 4.0) if curve.shape else 0.0,
        )
    return Element(place=piece.part, label=piece.part, loss=loss, curve=curve, speed=piece.speed)


def split_element(split: SplitPieces, factors: Factors, row: int) -> Element:
    """Two branches with their figures changed as one draw says. A tee loses r/b^4 times what it did, its bores b times as wide:
    so do bores b r^-1/4 times as wide, for K depends on their ratio only."""

    def shape(piece: Piece | None) -> TeeShape | None:
        if piece is None or piece.tee is None:
            return None
        factor = {name: float(factors.of(name, piece.part)[row]) for name in (FITTINGS, FITTING_BORES)}
        wider = factor[FITTING_BORES] * factor[FITTINGS] ** -0.25
        return replace(piece.tee, run_bore_m=piece.tee.run_bore_m * wider, branch_bore_m=piece.tee.branch_bore_m * wider)

    branches = tuple(
        BranchLoss(
            losses=tuple(element(piece, factors, row).loss for piece in branch.pieces),
            flow_min_m3s=branch.flow_min_m3s,
            flow_max_m3s=branch.flow_max_m3s,
            throttles=branch.throttles,
            inner=tuple(inner for each in branch.inner if (inner := split_element(each, factors, row).split) is not None),
        )
        for branch in split.branches
    )
    made = Split(branches=branches, parting=shape(split.parting), meeting=shape(split.meeting))
    return Element(place="split", label="split", loss=Loss(), split=made)


def random_branched(seed: int, throttled: bool = True) -> Candidate:
    """A pump, a hose, and one or two random splits in series with them, everything scaled by something."""
    chance = random.Random(seed)
    curve = PumpCurve(flows_m3s=(0.0, chance.uniform(2e-4, 6e-4)), heads_m=(chance.uniform(1.0, 3.0), 0.0), shape=2.0)
    run = Run(bore_m=0.016, length_m=chance.uniform(0.5, 3.0), roughness_m=1.5e-6)
    pieces = (
        Piece(part="pump", installed=True, curve=curve, head=PUMP_HEAD, flow=PUMP_FLOW),
        Piece(part="hose", installed=True, loss=Loss(run=run), bore_m=0.016, bore=HOSE_BORE, friction=HOSE_FRICTION),
        Piece(part="rest", installed=True, loss=Loss(quadratic=chance.uniform(1e6, 1e7)), resistance=FITTINGS),
    )
    splits: list[SplitPieces] = []
    while len(splits) < chance.choice([1, 1, 2]):
        split = random_split(chance, points=chance.choice(["meeting", "parting", "both"]))
        free = replace(split, branches=tuple(replace(branch, throttles=False) for branch in split.branches))
        if rises(Splits.of([free], KINEMATIC_M2S)).all():
            splits.append(_drawable(split, f"split {len(splits)}"))
    return Candidate(name=f"random {seed}", pieces=pieces, kinematic_m2s=KINEMATIC_M2S, splits=tuple(splits), throttled=throttled)


def _drawable(split: Split, name: str) -> SplitPieces:
    def piece(part: str, loss: Loss) -> Piece:
        bore = 0.0 if loss.run is None else loss.run.bore_m
        friction = "" if loss.run is None else HOSE_FRICTION
        return Piece(part=part, installed=True, loss=loss, resistance=FITTINGS, bore_m=bore, bore=HOSE_BORE, friction=friction)

    def tee(part: str, shape: TeeShape | None) -> Piece | None:
        made = Piece(part=part, installed=True, resistance=FITTINGS, bore=FITTING_BORES, tee=shape)
        return made if shape is not None else None

    branches = tuple(
        BranchPieces(
            pieces=tuple(piece(f"{name}, {n}, {k}", loss) for k, loss in enumerate(branch.losses)),
            flow_min_m3s=branch.flow_min_m3s,
            flow_max_m3s=branch.flow_max_m3s,
            throttles=branch.throttles,
        )
        for n, branch in enumerate(split.branches)
    )
    parting, meeting = tee(f"{name}, parting", split.parting), tee(f"{name}, meeting", split.meeting)
    return SplitPieces(branches=branches, parting=parting, meeting=meeting)
