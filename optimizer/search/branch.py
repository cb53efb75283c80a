"""Exact answers at one flow when prices do not add up: branch and bound over shared products, then over choices.

Packs, coils and kits make the price of a bundle less than a sum. `Shop.shares` gives each item a price such that no bundle is
charged more than it costs, so a round with these prices bounds what any bundle can do. If the best path of the round is
truly affordable, the bound is attained and the node is done. If not, a product whose price was shared out is either
bought (its items then cost nothing more) or ruled out; when nothing is left to decide, the path itself is excluded by
fixing its choices one after another. Every split covers all bundles of its node, so nothing is lost.
"""

import heapq
import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from optimizer.search.counting import Counts
from optimizer.search.items import Item
from optimizer.search.layers import Problem
from optimizer.search.pricing import Cover
from optimizer.search.rounds import BARRED, SLACK, Path, Rounds, Weights

Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]

MOST_NODES = 20_000
"""More nodes than this at one flow end the search as stopped, with the bound reached so far."""

MOST_PRICED = 64
"""So many paths of a node are priced truly, best first, in the hope of a good affordable bundle."""

HULL_STEPS = 40


@dataclass(frozen=True, slots=True)
class Bundle:
    """A path with its true price and the purchases that make it up."""

    path: Path
    cover: Cover
    own_price: int

    @property
    def price(self) -> int:
        """What is paid, in minor units."""
        return self.own_price + self.cover.price


@dataclass(frozen=True, slots=True)
class Node:
    """Decisions taken so far: products paid for, products ruled out, and options or joints fixed or excluded."""

    bought: frozenset[int] = frozenset()
    barred: frozenset[int] = frozenset()
    fixed: tuple[tuple[bool, int], ...] = ()
    excluded: tuple[tuple[bool, int], ...] = ()


@dataclass(slots=True)
class Tally:
    """How much work was done, for the proof and for progress."""

    rounds: int = 0
    nodes: int = 0
    paths: int = 0
    stopped: bool = False
    flow_m3s: float | None = None
    tick: Callable[[int, float | None], None] = field(default=lambda nodes, flow: None)


class Exact:
    """Answers at one flow, for one problem. Remembers only what does not hang on the flow: prices and uses of products."""

    def __init__(self, problem: Problem, tally: Tally) -> None:
        self.problem = problem
        self.rounds = Rounds(problem)
        self.tally = tally
        self.shares = SharedPrices(problem)
        self.no_cover = Cover(0, ())
        self._counts: dict[frozenset[Item], Counts | None] = {}

    def counts(self, barred: frozenset[int]) -> Counts | None:
        """Counts of all items whose price hangs on others when some products are ruled out; None: too many for a code."""
        tracked = self.shares.shared_items(barred)
        if tracked not in self._counts:
            self._counts[tracked] = Counts.of(self.problem, tracked)
        return self._counts[tracked]

    def losses(self, flow_m3s: float) -> tuple[Reals, Reals]:
        """Losses of all options and all joints at a flow."""
        return self.problem.heads.at(flow_m3s), self.problem.joint_quadratic * (flow_m3s * abs(flow_m3s))

    def suction(self, flow_m3s: float) -> Reals | None:
        """Most head that may be lost upstream of each pump option, or None when that is not limited."""
        margin = self.problem.choices.limits.inlet_head_m
        if math.isinf(margin):
            return None
        return self.problem.depth_m - margin - self.problem.suction_quadratic * flow_m3s * flow_m3s + SLACK

    def least_loss(
        self,
        flow_m3s: float,
        budget: int,
        allowed: Mask,
        limit: float,
        accept: "Accept | None" = None,
        any_will_do: bool = False,
    ) -> Bundle | None:
        """The bundle with the least loss (at most ``limit``) whose true price is within the budget, or None.

        With ``any_will_do`` the first bundle found within the limit is taken (a good one, not the best); None is as certain.
        """
        search = _LeastLoss(self, flow_m3s, float(budget), allowed, limit, accept or _any_bundle)
        search.any_will_do = any_will_do
        return search.run()

    def least_price(
        self, flow_m3s: float, budget: int, allowed: Mask, accept: "Accept | None" = None
    ) -> Bundle | None:
        """The bundle with the least true price (at most the budget) that has head to spare at the flow, or None."""
        search = _LeastPrice(self, flow_m3s, float(budget), allowed, 0.0, accept or _any_bundle)
        return search.run()

    def relaxed(self, flow_m3s: float, budget: int, allowed: Mask) -> Path | None:
        """The path with the least loss at shared-out prices, truly affordable or not: a bound on all bundles."""
        return _LeastLoss(self, flow_m3s, float(budget), allowed, BARRED / 4, _any_bundle).relaxed()

    def priced(self, path: Path) -> Bundle | None:
        """A path with its true price, or None when stock does not reach."""
        items: list[Item] = []
        own = 0
        for flat in path.options:
            option = self.problem.option(flat)
            own += option.own_price
            items += option.items
        for flat in path.joints:
            items += self.problem.joint(flat).items
        cover = self.problem.shop.cover(items)
        return None if cover is None else Bundle(path, cover, own)


Accept = Callable[[Bundle], bool]


def _any_bundle(bundle: Bundle) -> bool:
    return True


class _Search:
    """Best-first branch and bound at one flow; subclasses say what is sought."""

    _first_is_best: bool

    def __init__(
        self, exact: Exact, flow_m3s: float, budget: float, allowed: Mask, limit: float, accept: Accept
    ) -> None:
        self.exact, self.problem, self.rounds = exact, exact.problem, exact.rounds
        self.budget, self.limit, self.accept = budget, limit, accept
        self.flow, self.suction = flow_m3s, exact.suction(flow_m3s)
        option_loss, self.joint_loss = exact.losses(flow_m3s)
        self.option_loss = np.where(allowed, option_loss, BARRED)
        self.best: Bundle | None = None
        self.any_will_do = False
        self.multiplier = 0.0

    def run(self) -> Bundle | None:
        serial = itertools.count()
        heap: list[tuple[float, int, Node, Path]] = []
        self._push(heap, serial, Node())
        for _ in range(MOST_NODES):
            if not heap or (self.any_will_do and self.best is not None):
                return self.best
            bound, _, node, path = heapq.heappop(heap)
            if not self._promising(bound):
                return self.best
            self.exact.tally.tick(self.exact.tally.nodes, self.exact.tally.flow_m3s)
            product = self._to_decide(node, path)
            if product is None and self._counted(node):
                continue
            for child in self._children(node, path, product):
                self._push(heap, serial, child)
        self.exact.tally.stopped = True
        return self.best

    def _push(self, heap: list[tuple[float, int, Node, Path]], serial: "itertools.count[int]", node: Node) -> None:
        """Solve a node's relaxation; keep it open only if its best path is not truly affordable as it stands."""
        self.exact.tally.nodes += 1
        weights = self._weights(node)
        paths = self._relaxed(weights)
        self.exact.tally.paths += len(paths)
        if not paths:
            return
        for rank, path in enumerate(paths[:MOST_PRICED]):
            bundle = self.exact.priced(path)
            if bundle is None or bundle.price > self.budget + 1e-6 or not self.accept(bundle):
                continue
            if self._better(bundle):
                self.best = bundle
            if rank == 0 and self._attained(path, bundle, node):
                return
            if self._first_is_best:
                break
        heapq.heappush(heap, (self._bound(paths[0]), next(serial), node, paths[0]))

    def _counted(self, node: Node) -> bool:
        """Search a node to its end with true prices, counting what it shares; False when that cannot be done."""
        counts = self.exact.counts(node.barred) if self.accept is _any_bundle else None
        if counts is None:
            return False
        self.exact.tally.rounds += 1
        for path in self._true_paths(self._weights(node, counts), counts):
            bundle = self.exact.priced(path)
            if bundle is not None and bundle.price <= self.budget + 1e-6 and self._better(bundle):
                self.best = bundle
        return True

    def _weights(self, node: Node, counts: Counts | None = None) -> Weights:
        """Losses and shared-out prices at a node; with ``counts``, what they count costs nothing here."""
        problem = self.problem
        unit = self.exact.shares.unit_prices(node.bought, node.barred)
        if counts is not None:
            unit = np.where(counts.counted, 0.0, unit)
        option_price, joint_price = problem.option_plain, problem.joint_plain
        if len(unit):
            option_price = _with_specials(option_price, problem.option_special, unit)
            joint_price = _with_specials(joint_price, problem.joint_special, unit)
        paid = 0 if counts is not None else sum(problem.shop.products[product].price for product in node.bought)
        option_loss, joint_loss = self._restricted(node)
        if paid:
            first = slice(problem.option_at[0], problem.option_at[1])
            option_price = option_price.copy()
            option_price[first] += paid
        return Weights(option_loss, joint_loss, option_price, joint_price)

    def _restricted(self, node: Node) -> tuple[Reals, Reals]:
        """Losses with everything barred that the node excludes or that stands beside something fixed."""
        if not node.fixed and not node.excluded:
            return self.option_loss, self.joint_loss
        losses = {True: self.option_loss.copy(), False: self.joint_loss.copy()}
        starts = {True: self.problem.option_at, False: self.problem.joint_at}
        for is_option, flat in node.fixed:
            at = starts[is_option]
            layer = int(np.searchsorted(at, flat, side="right")) - 1
            kept = losses[is_option][flat]
            losses[is_option][at[layer] : at[layer + 1]] = BARRED
            losses[is_option][flat] = kept
        for is_option, flat in node.excluded:
            losses[is_option][flat] = BARRED
        return losses[True], losses[False]

    def _children(self, node: Node, path: Path, product: int | None) -> list[Node]:
        if product is not None:
            return [
                Node(node.bought | {product}, node.barred, node.fixed, node.excluded),
                Node(node.bought, node.barred | {product}, node.fixed, node.excluded),
            ]
        steps = [s for pair in zip(path.joints, path.options, strict=True) for s in ((False, pair[0]), (True, pair[1]))]
        free = [step for step in steps if step not in node.fixed]
        return [
            Node(node.bought, node.barred, (*node.fixed, *free[:n]), (*node.excluded, step))
            for n, step in enumerate(free)
        ]

    def _to_decide(self, node: Node, path: Path) -> int | None:
        """The undecided shared product that undercharges the path's items most."""
        numbers = self.exact.shares.numbers
        options = [item for flat in path.options for item in self.problem.option(flat).items]
        joints = [item for flat in path.joints for item in self.problem.joint(flat).special]
        rows = [numbers[item] for item in (*options, *joints) if item in numbers]
        return self.exact.shares.widest_gap(rows, node.bought | node.barred)

    def _has_suction(self, path: Path, weights: Weights) -> bool:
        """True when a path leaves the pump's inlet the pressure it needs."""
        if self.suction is None:
            return True
        pump = self.problem.pump
        before, joints = list(path.options[:pump]), list(path.joints[: pump + 1])
        lost = float(weights.option_loss[before].sum() + weights.joint_loss[joints].sum())
        return lost <= float(self.suction[path.options[pump] - self.problem.option_at[pump]])

    def _relaxed(self, weights: Weights) -> list[Path]:
        raise NotImplementedError

    def _true_paths(self, weights: Weights, counts: Counts) -> list[Path]:
        raise NotImplementedError

    def _better(self, bundle: Bundle) -> bool:
        raise NotImplementedError

    def _bound(self, path: Path) -> float:
        raise NotImplementedError

    def _promising(self, bound: float) -> bool:
        raise NotImplementedError

    def _attained(self, path: Path, bundle: Bundle, node: Node) -> bool:
        raise NotImplementedError


class _LeastLoss(_Search):
    """Least loss under a budget. Paths come in order of loss, so the first affordable one is the best of its node."""

    _first_is_best = True

    def _relaxed(self, weights: Weights) -> list[Path]:
        self.exact.tally.rounds += 1
        limit = self.limit if self.best is None else min(self.limit, self.best.path.loss - 2 * SLACK)
        hull = _hull_by_price(self.rounds, weights, self.budget)
        if hull is None or hull.bound > limit + SLACK:
            return []
        self.multiplier = hull.multiplier
        if hull.feasible.loss <= hull.bound + SLACK and self._has_suction(hull.feasible, weights):
            return [hull.feasible]
        found = self.rounds.front(weights, hull.multiplier, self.budget, limit, self.suction)
        return found[::-1]

    def _true_paths(self, weights: Weights, counts: Counts) -> list[Path]:
        limit = self.limit if self.best is None else min(self.limit, self.best.path.loss - 2 * SLACK)
        return self.rounds.front(weights, self.multiplier, self.budget, limit, self.suction, counts)[::-1]

    def relaxed(self) -> Path | None:
        """The best path before any decision about shared products."""
        paths = self._relaxed(self._weights(Node()))
        return paths[0] if paths else None

    def _better(self, bundle: Bundle) -> bool:
        return self.best is None or bundle.path.loss < self.best.path.loss - SLACK

    def _bound(self, path: Path) -> float:
        return path.loss

    def _promising(self, bound: float) -> bool:
        return self.best is None or bound < self.best.path.loss - SLACK

    def _attained(self, path: Path, bundle: Bundle, node: Node) -> bool:
        return True


class _LeastPrice(_Search):
    """Least price among bundles that lose no more than the limit; of equal prices the least loss."""

    _first_is_best = False

    def _relaxed(self, weights: Weights) -> list[Path]:
        self.exact.tally.rounds += 1
        budget = self.budget if self.best is None else min(self.budget, self.best.price - 1.0)
        hull = _hull_by_loss(self.rounds, weights, self.limit)
        if hull is None or hull.bound > budget + 1e-6:
            return []
        self.multiplier = hull.multiplier
        roof = min(budget, hull.feasible.price) if self._has_suction(hull.feasible, weights) else budget
        return self.rounds.front(weights, hull.multiplier, roof, self.limit, self.suction)

    def _true_paths(self, weights: Weights, counts: Counts) -> list[Path]:
        budget = self.budget if self.best is None else min(self.budget, float(self.best.price))
        return self.rounds.front(weights, self.multiplier, budget, self.limit, self.suction, counts)

    def _better(self, bundle: Bundle) -> bool:
        if self.best is None:
            return True
        return (bundle.price, bundle.path.loss) < (self.best.price, self.best.path.loss)

    def _bound(self, path: Path) -> float:
        return path.price

    def _promising(self, bound: float) -> bool:
        return self.best is None or math.ceil(bound - 1e-6) < self.best.price

    def _attained(self, path: Path, bundle: Bundle, node: Node) -> bool:
        return bundle.price <= math.ceil(path.price - 1e-6)


@dataclass(frozen=True, slots=True)
class _Hull:
    """The best multiplier, the bound it gives, and the best path met on the way that keeps the constraint."""

    multiplier: float
    bound: float
    feasible: Path


def _hull_by_price(rounds: Rounds, weights: Weights, budget: float) -> _Hull | None:
    """Maximise ``min(loss + m price) - m budget`` over m by walking the lower hull; None when nothing is affordable."""
    lean = rounds.shortest(weights, 1.0, 0.0)
    cheap = rounds.shortest(weights, 1e-9, 1.0)
    if lean is None or cheap is None or cheap.price > budget + 1e-6:
        return None
    if lean.price <= budget + 1e-6:
        return _Hull(0.0, lean.loss, lean)
    for _ in range(HULL_STEPS):
        if lean.price - cheap.price < 1e-9:
            break
        multiplier = max((cheap.loss - lean.loss) / (lean.price - cheap.price), 0.0)
        line = cheap.loss + multiplier * cheap.price
        middle = rounds.shortest(weights, 1.0, multiplier)
        if middle is None or middle.loss + multiplier * middle.price >= line - SLACK:
            return _Hull(multiplier, line - multiplier * budget - SLACK, cheap)
        if middle.price <= budget + 1e-6:
            cheap = middle
        else:
            lean = middle
    return _Hull(0.0, rounds_bound(rounds, weights), cheap)


def rounds_bound(rounds: Rounds, weights: Weights) -> float:
    """Least loss whatever the price: the weakest bound, always valid."""
    lean = rounds.shortest(weights, 1.0, 0.0)
    return -math.inf if lean is None else lean.loss


def _hull_by_loss(rounds: Rounds, weights: Weights, limit: float) -> _Hull | None:
    """The same with the roles exchanged: least price among paths that lose at most ``limit``."""
    lean = rounds.shortest(weights, 1.0, 0.0)
    cheap = rounds.shortest(weights, 1e-9, 1.0)
    if lean is None or cheap is None or lean.loss > limit + SLACK:
        return None
    if cheap.loss <= limit + SLACK:
        return _Hull(1e-9, cheap.price, cheap)
    for _ in range(HULL_STEPS):
        if cheap.loss - lean.loss < 1e-12 or lean.price - cheap.price < 1e-9:
            break
        multiplier = (cheap.loss - lean.loss) / (lean.price - cheap.price)
        line = cheap.loss + multiplier * cheap.price
        middle = rounds.shortest(weights, 1.0, multiplier)
        if middle is None or middle.loss + multiplier * middle.price >= line - SLACK:
            return _Hull(multiplier, (line - limit - SLACK) / multiplier, lean)
        if middle.loss <= limit + SLACK:
            lean = middle
        else:
            cheap = middle
    return _Hull(0.0, cheap.price, lean)


def _with_specials(plain: Reals, pairs: tuple[NDArray[np.intp], NDArray[np.intp]], unit: Reals) -> Reals:
    if not len(pairs[0]):
        return plain
    return np.asarray(plain + np.bincount(pairs[0], weights=unit[pairs[1]], minlength=len(plain)))


class SharedPrices:
    """Lower-bound prices of the special items as a table: item by product that can serve it."""

    def __init__(self, problem: Problem) -> None:
        shop, items = problem.shop, problem.specials
        most_use = _most_use(problem)
        self.numbers = {item: row for row, item in enumerate(items)}
        self.products = sorted({server.product for item in items for server in shop.servers(item.key)})
        column = {product: n for n, product in enumerate(self.products)}
        self.table = np.full((len(items), len(self.products)), BARRED)
        for row, item in enumerate(items):
            for product, share in shop.shares(item, most_use).items():
                self.table[row, column[product]] = share
        self.alone = np.array([float(shop.alone(item) or BARRED) for item in items])
        offers = [shop.products[product] for product in self.products]
        self.together = np.array([not shop.serves_one(product) for product in self.products], dtype=bool)
        self.shared = np.array([not (offer.is_single or offer.step_m > 0.0) for offer in offers], dtype=bool)

    def shared_items(self, barred: frozenset[int]) -> frozenset[Item]:
        """Special items that something not ruled out may serve together with others, or that stock may not reach."""
        open_to = np.array([product not in barred for product in self.products], dtype=bool)
        shared = ((self.table < BARRED) & self.together & open_to).any(axis=1)
        return frozenset(item for item, row in self.numbers.items() if shared[row])

    def unit_prices(self, bought: frozenset[int], barred: frozenset[int]) -> Reals:
        """Least share of each item when some products are paid for already and others are ruled out."""
        if not self.table.size:
            return np.zeros(len(self.numbers))
        if not bought and not barred:
            return np.asarray(self.table.min(axis=1))
        table = self.table.copy()
        for n, product in enumerate(self.products):
            if product in barred:
                table[:, n] = BARRED
            elif product in bought:
                table[:, n] = np.where(table[:, n] < BARRED, 0.0, BARRED)
        return np.asarray(table.min(axis=1))

    def widest_gap(self, rows: list[int], decided: frozenset[int]) -> int | None:
        """The undecided shared product whose shares lie furthest below the prices the items have alone, or None."""
        if not rows:
            return None
        open_to = self.shared & np.array([product not in decided for product in self.products], dtype=bool)
        gaps = np.where(self.table[rows] < BARRED, self.alone[rows][:, None] - self.table[rows], -1.0)
        gain = np.where((gaps >= 0.0).any(axis=0) & open_to, np.maximum(gaps, 0.0).sum(axis=0), -1.0)
        best = int(np.argmax(gain))
        return self.products[best] if gain[best] >= 0.0 else None


def _most_use(problem: Problem) -> dict[tuple[int, int], float]:
    """The most of each product line that any one bundle can use: the largest use per layer, added up."""
    use: dict[tuple[int, int], float] = {}
    option_rows = _rows(problem.option_special)
    joint_rows = _rows(problem.joint_special)
    for starts, rows in ((problem.option_at, option_rows), (problem.joint_at, joint_rows)):
        per_layer: dict[tuple[int, tuple[int, int]], float] = {}
        for row, numbers in rows.items():
            layer = int(np.searchsorted(starts, row, side="right")) - 1
            here: dict[tuple[int, int], float] = {}
            for number in numbers:
                item = problem.specials[number]
                for server in problem.shop.servers(item.key):
                    place = (server.product, server.line)
                    here[place] = here.get(place, 0.0) + item.weight
            for place, amount in here.items():
                key = (layer, place)
                per_layer[key] = max(per_layer.get(key, 0.0), amount)
        for (_, place), amount in per_layer.items():
            use[place] = use.get(place, 0.0) + amount
    return use


def _rows(pairs: tuple[NDArray[np.intp], NDArray[np.intp]]) -> dict[int, list[int]]:
    rows: dict[int, list[int]] = {}
    for row, number in zip(pairs[0].tolist(), pairs[1].tolist(), strict=True):
        rows.setdefault(row, []).append(number)
    return rows
