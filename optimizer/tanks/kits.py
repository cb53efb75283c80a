"""Which kits to offer: of many candidate kits at most N, so that a population of tanks is served best. Exact, by PuLP and HiGHS.

Coverage is the weight of the tanks that at least one chosen kit fits. Gain is the weighted sum over tanks of the most that
one chosen kit adds to the delivered flow there. The choice is best by the one, among equals by the other, and among those it
costs least; three programs solve this in turn, each holding fast what the ones before it reached. By coverage it is the
maximal covering location problem of Church and ReVelle (1974), by gain a p-median problem.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pulp

from optimizer.model.kits import BY, COVERAGE, GAIN
from optimizer.tanks.highs import silence

HELD = 1e-7
"""What one program reached may be missed by so much (as a share) in the next: the tolerance of the solver."""

Gains = Sequence[Sequence[float | None]]
"""For every candidate the gain on every tank in m3/s, None where it does not fit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenKits:
    """The chosen candidates by their numbers, ascending, and the weight and weighted gain (m3/s) that they serve together."""

    kits: tuple[int, ...]
    weight: float
    gain_m3s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """What one of each candidate takes from the stock, product by product, and how much there is of those that can run out:
    one of each chosen kit must be there at once."""

    needs: Sequence[Mapping[str, float]]
    stock: Mapping[str, float]


def choose(
    weights: Sequence[float], gains: Gains, prices: Sequence[int], most: int, by: str = GAIN, shelf: Shelf | None = None
) -> ChosenKits:
    """At most ``most`` candidates that serve best and can be made from stock side by side.

    Raises ValueError for an unknown ``by`` and for ``most`` below 1.

    >>> choose([1.0, 2.0], [[0.1, None], [None, 0.1], [0.3, None]], [100, 100, 200], 1).kits
    (2,)
    >>> choose([1.0, 2.0], [[0.1, None], [None, 0.1], [0.3, None]], [100, 100, 200], 1, "coverage").kits
    (1,)
    """
    if by not in BY or most < 1:
        raise ValueError(f"a choice is of at least one kit, by {' or '.join(BY)}")
    takes = [_scarce(shelf, k) for k in range(len(gains))]
    useful = _unbeaten(gains, prices, takes)
    if not useful:
        return ChosenKits(kits=(), weight=0.0, gain_m3s=0.0)
    program = _Program(weights, [gains[k] for k in useful], [prices[k] for k in useful], most)
    program.keep_to({} if shelf is None else shelf.stock, [takes[k] for k in useful])
    order = (COVERAGE, GAIN) if by == COVERAGE else (GAIN, COVERAGE)
    for name in order:
        program.hold(name)
    kits = tuple(useful[k] for k in program.cheapest())
    return served(weights, gains, kits)


def served(weights: Sequence[float], gains: Gains, kits: Sequence[int]) -> ChosenKits:
    """What some candidates serve together.

    >>> served([1.0, 2.0], [[0.25, None], [0.5, 0.25]], (0, 1)).gain_m3s
    1.0
    """
    best = [max((g for k in kits if (g := gains[k][t]) is not None), default=None) for t in range(len(weights))]
    pairs = [(weight, gain) for weight, gain in zip(weights, best, strict=True) if gain is not None]
    return ChosenKits(kits=tuple(kits), weight=sum(w for w, _ in pairs), gain_m3s=sum(w * g for w, g in pairs))


def _scarce(shelf: Shelf | None, k: int) -> dict[str, float]:
    """What a candidate takes of products that can run out."""
    return {} if shelf is None else {name: amount for name, amount in shelf.needs[k].items() if name in shelf.stock}


def _unbeaten(gains: Gains, prices: Sequence[int], takes: Sequence[Mapping[str, float]]) -> list[int]:
    """Candidates that fit something and that no other fits as much, gains as much, and costs and takes as little as.

    In any set the beaten one can be exchanged for the one that beats it, so leaving it out loses nothing.
    """

    def beats(one: int, other: int) -> bool:
        pairs = zip(gains[one], gains[other], strict=True)
        no_worse = prices[one] <= prices[other] and all(b is None or (a is not None and a >= b) for a, b in pairs)
        frugal = all(takes[other].get(name, 0.0) >= amount for name, amount in takes[one].items())
        same = (prices[one], list(gains[one]), takes[one]) == (prices[other], list(gains[other]), takes[other])
        return no_worse and frugal and (not same or one < other)

    some = [k for k, row in enumerate(gains) if any(gain is not None for gain in row)]
    return [k for k in some if not any(beats(other, k) for other in some if other != k)]


class _Program:
    """The mixed-integer program: which kits are offered (0 or 1), and by which of them each tank is served."""

    def __init__(self, weights: Sequence[float], gains: Gains, prices: Sequence[int], most: int) -> None:
        self.lp = pulp.LpProblem("kits", pulp.LpMaximize)
        self.prices = prices
        self.offered = [self.lp.add_variable(f"x{k}", 0, 1, pulp.LpInteger) for k in range(len(gains))]
        total = sum(weights)
        scale = max(gain for row in gains for gain in row if gain is not None) or 1.0
        cover, gain_terms = [], []
        for t, weight in enumerate(weights):
            fitting = [k for k in range(len(gains)) if gains[k][t] is not None]
            if not fitting:
                continue
            shares = {k: self.lp.add_variable(f"z{k}_{t}", 0, 1) for k in fitting}
            self.lp += pulp.lpSum(shares.values()) <= 1
            for k, share in shares.items():
                self.lp += share <= self.offered[k]
            cover += [weight / total * share for share in shares.values()]
            gain_terms += [weight / total * float(gains[k][t] or 0.0) / scale * share for k, share in shares.items()]
        self.lp += pulp.lpSum(self.offered) <= most
        self.sums = {COVERAGE: pulp.lpSum(cover), GAIN: pulp.lpSum(gain_terms)}

    def keep_to(self, stock: Mapping[str, float], takes: Sequence[Mapping[str, float]]) -> None:
        """Demand that one of each offered kit can be made from stock."""
        for name, amount in sorted(stock.items()):
            terms = [each[name] * x for each, x in zip(takes, self.offered, strict=True) if name in each]
            if terms:
                self.lp += pulp.lpSum(terms) <= amount

    def hold(self, name: str) -> None:
        """Reach as much of one sum as there is, and demand it from now on."""
        self._solve(self.sums[name])
        reached = float(pulp.value(self.sums[name]))
        self.lp += self.sums[name] >= reached - HELD * max(abs(reached), HELD)

    def cheapest(self) -> list[int]:
        """The offered kits of the least total price."""
        dearest = max(max(self.prices), 1)
        self._solve(-pulp.lpSum(price / dearest * x for price, x in zip(self.prices, self.offered, strict=True)))
        return [k for k, x in enumerate(self.offered) if (x.value() or 0.0) > 0.5]

    def _solve(self, aim: pulp.LpAffineExpression) -> None:
        self.lp.setObjective(aim)
        with silence():
            self.lp.solve(pulp.HiGHS(msg=False, gapRel=0.0, gapAbs=0.0))
        word = pulp.LpStatus[self.lp.status]
        if word != "Optimal":
            raise RuntimeError(f"the choice of kits was not solved: {word}")
