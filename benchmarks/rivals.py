"""Other ways to find the best bundle: a mixed-integer program per round, enumeration, a genetic algorithm."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from bundle_program import greatest_surplus, least_price
from numpy.typing import NDArray
from pymoo.algorithms.soo.nonconvex.ga import GA
from pymoo.core.problem import Problem as Sought
from pymoo.operators.crossover.ux import UniformCrossover
from pymoo.operators.mutation.pm import PM
from pymoo.operators.repair.rounding import RoundingRepair
from pymoo.operators.sampling.rnd import IntegerRandomSampling
from pymoo.optimize import minimize
from pymoo.termination import get_termination
from scipy.optimize import brentq

from benchmarks.listing import Bundles, Scorer, every_bundle
from optimizer.loop.batch import CONVERGED, solve
from optimizer.search.best import RESOLUTION_M3S, Seeker
from optimizer.search.exact import Bundle
from optimizer.search.layers import Problem
from optimizer.search.pricing import Cover
from optimizer.search.rounds import Path

MOST_ROUNDS = 30
ENOUGH_M = 1e-7
"""Head to spare that ends the climb: the solver's own tolerance is about that."""


@dataclass(frozen=True, slots=True)
class Climbed:
    """Where the climb ended, the least price of a bundle that delivers that, and how many programs were solved."""

    flow_m3s: float
    price: float
    rounds: int


def milp_climb(problem: Problem, start_m3s: float) -> Climbed:
    """The search's own climb, with each round's best surplus from PuLP and HiGHS instead.

    A round gives the options of the best bundle and its surplus; what its joints lose is the rest, and goes with the
    flow squared, so the bundle's own operating point follows. As in the search, the cheapest of the bundles with the
    most flow (to its resolution) is asked for at the end.
    """
    budget = float(problem.choices.limits.budget or 0)
    everything = np.ones(len(problem.option_plain), dtype=bool)
    flow = start_m3s
    for rounds in range(1, MOST_ROUNDS + 1):
        checked = greatest_surplus(problem, flow, budget, everything)
        if checked.value is None or checked.value <= ENOUGH_M:
            cheapest = least_price(problem, flow - RESOLUTION_M3S, everything)
            return Climbed(flow, cheapest.value or 0.0, rounds + 1)
        heads = problem.heads.rows(checked.options)
        joints = (-checked.value - float(heads.at(flow).sum())) / flow**2

        def short_of(at: float, heads=heads, joints: float = joints) -> float:  # type: ignore[no-untyped-def]
            return float(heads.at(at).sum()) + joints * at * at

        flow = float(brentq(short_of, flow, 1e-2, xtol=1e-15, rtol=1e-13))
    raise RuntimeError("the climb by mixed-integer programs did not end")


def enumerated(problem: Problem) -> float:
    """The most flow of any affordable bundle, in m3/s: every bundle priced, every affordable one solved.

    The pump's inlet pressure is looked at in the order of flow, so only for the few best.
    """
    scorer, seeker = Scorer(problem), Seeker(problem)
    bundles = every_bundle(problem)
    bundles = bundles.rows(np.flatnonzero(scorer.price(bundles) <= float(problem.choices.limits.budget or 0)))
    solved = solve(scorer.loops(bundles))
    own = np.where(solved.status == CONVERGED, solved.flow_m3s, 0.0)
    best = 0.0
    for row in np.argsort(-own):
        if own[row] <= best:
            break
        best = max(best, _delivered(seeker, bundles, int(row)))
    return best


def _delivered(seeker: Seeker, bundles: Bundles, row: int) -> float:
    path = Path(math.nan, math.nan, tuple(bundles.options[row].tolist()), tuple(bundles.joints[row].tolist()))
    return seeker.delivered(Bundle(path, Cover(0, ()), 0)).flow_m3s


class _Genes(Sought):  # type: ignore[misc]
    """A gene per position (which option, dearest last) and per joint (which way to close it, cheapest first)."""

    def __init__(self, problem: Problem, scorer: Scorer) -> None:
        self.problem, self.scorer = problem, scorer
        self.budget = float(problem.choices.limits.budget or 0)
        starts = problem.option_at
        self.ranked = [np.argsort(problem.option_plain[a:b], kind="stable") + a for a, b in pairwise(starts)]
        self.ways = [self._ways(place) for place in range(len(problem.layers))]
        most = [max(len(way) for way in ways.values()) - 1 for ways in self.ways]
        upper = [len(ranked) - 1 for ranked in self.ranked] + most
        super().__init__(n_var=len(upper), n_obj=1, n_ieq_constr=2, xl=0, xu=np.array(upper), vtype=int)
        self.entry = np.concatenate([layer.entry for layer in problem.layers])
        self.leave = np.concatenate([layer.leave for layer in problem.layers])

    def _ways(self, place: int) -> dict[tuple[int, int], list[int]]:
        layer, start = self.problem.layers[place], self.problem.joint_at[place]
        ways: dict[tuple[int, int], list[int]] = {}
        for n, pair in enumerate(zip(layer.joint_from.tolist(), layer.joint_to.tolist(), strict=True)):
            ways.setdefault(pair, []).append(start + n)
        for rows in ways.values():
            rows.sort(key=lambda row: (self.problem.joint_plain[row], self.problem.joint_quadratic[row]))
        return ways

    def decoded(self, genes: NDArray[np.intp]) -> tuple[Bundles, NDArray[np.intp]]:
        """The bundles, and how many of their joints cannot be closed."""
        layers = len(self.ranked)
        options = np.stack([self.ranked[n][genes[:, n]] for n in range(layers)], axis=1)
        joints, broken = np.zeros_like(options), np.zeros(len(genes), dtype=np.intp)
        for place, ways in enumerate(self.ways):
            before = self.leave[options[:, place - 1]] if place else np.zeros(len(genes), dtype=np.intp)
            pairs = zip(before.tolist(), self.entry[options[:, place]].tolist(), strict=True)
            for row, pair in enumerate(pairs):
                rows = ways.get(pair)
                broken[row] += rows is None
                joints[row, place] = rows[int(genes[row, layers + place]) % len(rows)] if rows else 0
        return Bundles(options, joints), broken

    def _evaluate(self, x: NDArray[np.intp], out: dict[str, object], *_: object, **__: object) -> None:
        bundles, broken = self.decoded(np.asarray(x, dtype=np.intp))
        price = self.scorer.price(bundles)
        solved = solve(self.scorer.loops(bundles), relative=1e-8)
        out["F"] = -np.where(solved.status == CONVERGED, solved.flow_m3s, 0.0) * 3.6e6
        out["G"] = np.stack([(price - self.budget) / self.budget, broken.astype(float)], axis=1)


def genetic(problem: Problem, seconds: float, seed: int) -> float:
    """The flow that a genetic algorithm reaches in some seconds, in m3/s; 0 when it finds no affordable bundle."""
    genes = _Genes(problem, Scorer(problem))
    algorithm = GA(
        pop_size=200,
        sampling=IntegerRandomSampling(),
        crossover=UniformCrossover(),
        mutation=PM(prob=1.0, eta=3.0, vtype=float, repair=RoundingRepair()),
        eliminate_duplicates=True,
    )
    hours, minutes = divmod(int(seconds), 3600), divmod(int(seconds) % 3600, 60)
    limit = get_termination("time", f"{hours[0]:02d}:{minutes[0]:02d}:{minutes[1]:02d}")
    result = minimize(genes, algorithm, limit, seed=seed, verbose=False)
    if result.X is None:
        return 0.0
    bundles, _ = genes.decoded(np.asarray(result.X, dtype=np.intp)[None, :])
    return _delivered(Seeker(problem), bundles, 0)
