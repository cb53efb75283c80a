"""Exact answers at one flow: the bundle with the least loss under a budget, or with the least price that has head to spare.

Packs, coils and kits make the price of a bundle less than a sum, so rounds add up shares that never exceed the true
price. A first
round compares all paths by their shares and prices the best of them truly: that gives a good bundle to beat. A
second round keeps paths
apart that need different shared items and returns all that could still beat it; each of these is priced truly. What the
corridor of the second round leaves out cannot be better, whatever it truly costs, because its shares alone are too dear.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from optimizer.model.items import Item
from optimizer.search import hull
from optimizer.search.by_pump import Part, by_pump
from optimizer.search.hull import Hull
from optimizer.search.layers import Problem
from optimizer.search.pricing import Cover
from optimizer.search.rounds import BARRED, CENT_SLACK, MOST_LABELS, SLACK, Corridor, Path, Rounds, TooManyPaths, Weights
from optimizer.search.settling import Settling
from optimizer.search.shares import Shares

Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]
Ints = NDArray[np.intp]

MOST_PRICED = 64
"""So many paths of a first round are priced truly, best first, in the hope of a good affordable bundle."""

FEW_LABELS = 2000
"""Up to so many partial paths behind a layer cost less than probing all shared products."""

BEAM = 300
"""So many of them are followed first, for a good bundle that makes the corridor narrow."""

HURRIED_LABELS = 20_000
"""More partial paths than this are not followed while a question elsewhere may be easier."""

PROBING_PASSES = 3
"""Ruling out a product makes others dearer, so that more may be ruled out; so many times over."""

MOST_LISTED = 120_000
"""So many partial paths are followed where none may be compared, since a condition can only be checked on whole bundles."""


FEW_LISTED = 10_000
"""Where they are more, the search is no proof any more and goes on with so many of them, for a good answer all the same."""

FLOWS_KEPT = 4
"""So many flows are remembered with what all options lose there."""

FLOOR_PARTS = (0.25, 0.5, 0.75, 1.0)
"""Parts of a sum that goods must come to by which bundles are bounded, see `Shares.mixed_rows`."""

FREE_SLACK = 1e-7
"""Head in m by which a bundle may seem to run above a ceiling that it keeps to, flows being equal to 1e-9 of themselves."""


class TooHard(Exception):
    """A question put in a hurry would take more than ``HURRIED_LABELS`` partial paths."""


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
class Free:
    """Asks for bundles that stay under every ceiling by themselves: what ``stays_under`` says of a whole bundle. None of them
    delivers more than ``top_m3s``."""

    top_m3s: float
    stays_under: Callable[[Bundle], bool]


@dataclass(slots=True)
class Tally:
    """How much work was done, for the proof and for progress. ``tick(nodes, flow, settled)`` is called once per round, with the
    best flow so far and the flow above which everything of use is known (m3/s, None: none yet, or not told).

    ``by_loss``: somewhere a bundle that would have been better runs above a ceiling with no throttle, so that it mattered which
    bundles their loss alone holds under it. ``interrupted``: Ctrl-C ended a search, for whoever asks it again and again.
    """

    rounds: int = 0
    nodes: int = 0
    paths: int = 0
    stopped: bool = False
    by_loss: bool = False
    interrupted: bool = False
    flow_m3s: float | None = None
    settled_m3s: float | None = None
    tick: Callable[[int, float | None, float | None], None] = field(default=lambda *_: None)

    def tell(self) -> None:
        """Count one more round and say how far the work is."""
        self.nodes += 1
        self.tick(self.nodes, self.flow_m3s, self.settled_m3s)


class Exact:
    """Answers at one flow at a time, for one problem. Remembers what does not hang on the flow, and what all options lose at the
    flows of the last questions: several are asked at the same flow, and where branches divide it that takes most of the time."""

    def __init__(self, problem: Problem, tally: Tally) -> None:
        self.problem = problem
        self.rounds = Rounds(problem)
        self.tally = tally
        self.shares = Shares(problem, self.rounds.accounts)
        self.option_price, self.joint_price = self.shares.priced_rows(self.shares.unit_prices())
        self._settlings: dict[bytes, Settling] = {}
        self._of_options = _specials(problem, problem.option_special)
        self._of_joints = _specials(problem, problem.joint_special)
        self._heads: dict[float, Reals] = {}

    # -- questions -------------------------------------------------------------------------------------------------

    def least_loss(
        self,
        flow_m3s: float,
        budget: int,
        allowed: Mask,
        limit: float,
        free: Free | None = None,
        any_will_do: bool = False,
        hurried: bool = False,
    ) -> Bundle | None:
        """The bundle with the least loss (at most ``limit``, in m) whose true price is within the budget, or None.

        ``free``: of those that stay under every ceiling by themselves. With ``any_will_do`` a good bundle within the limit is
        enough, not the best; None is as certain. Raises TooHard when ``hurried`` and the answer would take more than a few
        thousand partial paths.
        """
        weights = self.weights(flow_m3s, allowed)
        if free is not None:
            return self._least_loss_free(flow_m3s, weights, float(budget), limit, free, any_will_do, hurried)
        return self._least_loss(flow_m3s, weights, float(budget), limit, any_will_do, hurried)

    def least_price(self, flow_m3s: float, budget: int, allowed: Mask, free: Free | None = None) -> Bundle | None:
        """The bundle with the least true price (at most the budget) that has head to spare at the flow, or None."""
        weights = self.weights(flow_m3s, allowed)
        if free is not None:
            return self._least_price_free(flow_m3s, weights, float(budget), free)
        return self._least_price(flow_m3s, weights, float(budget))

    def some(self, flow_m3s: float, budget: int, allowed: Mask) -> Bundle | None:
        """A bundle that has head to spare at the flow and whose true price is within the budget, or None, as certain as in
        `least_loss`. First prices are left aside: then one partial path for each state is enough, and if even so nothing has head
        to spare, no price need be looked at."""
        self.tally.tell()
        weights = self.weights(flow_m3s, allowed)
        unpriced = replace(weights, option_price=np.zeros_like(self.option_price), joint_price=np.zeros_like(self.joint_price))
        bound = hull.by_price(self.rounds, unpriced, 0.0)
        if bound is None or bound.bound > SLACK:
            return None
        paths = self._paths(unpriced, Corridor(0.0, 0.0, 0.0, self.suction(flow_m3s)))
        if not paths and not self.tally.stopped:
            return None
        return self._first_affordable(paths, budget) or self.least_loss(flow_m3s, budget, allowed, 0.0, any_will_do=True)

    def relaxed(self, flow_m3s: float, budget: int, allowed: Mask) -> float:
        """A bound on the loss of all affordable bundles, at shared-out prices (infinite when there are none)."""
        weights = self.weights(flow_m3s, allowed)
        bound = hull.by_price(self.rounds, weights, float(budget))
        if bound is None or bound.bound > 0.0:
            return math.inf if bound is None else bound.bound
        if bound.multiplier == 0.0:
            return bound.bound  # the budget does not bind: there is no gap for a split to close
        corridor = Corridor(bound.multiplier, float(budget), 0.0)
        parts = by_pump(self.rounds, weights, corridor, partial(hull.by_price, self.rounds, budget=float(budget)))
        return max(bound.bound, min((part.hull.bound for part in parts), default=math.inf))

    # -- pieces ----------------------------------------------------------------------------------------------------

    def suction(self, flow_m3s: float) -> Reals | None:
        """Most head that may be lost upstream of each pump option, in m, or None when that is not limited."""
        margin = self.problem.choices.limits.inlet_head_m
        if math.isinf(margin):
            return None
        return self.problem.depth_m - margin - self.problem.suction_quadratic * flow_m3s * flow_m3s + SLACK

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
        cover = self.problem.shop_of(path.options[0]).cover(items)
        return None if cover is None else Bundle(path, cover, own)

    def true_price(self, path: Path) -> float:
        """What a path truly costs, in minor units; infinite when stock does not reach. Quicker than `priced`."""
        problem = self.problem
        plain = problem.option_plain[list(path.options)].sum() + problem.joint_plain[list(path.joints)].sum()
        items = [item for row in path.options for item in self._of_options.get(row, ())]
        items += [item for row in path.joints for item in self._of_joints.get(row, ())]
        return float(plain) + problem.shop_of(path.options[0]).special_price(tuple(sorted(items)))

    def weights(self, flow_m3s: float, allowed: Mask) -> Weights:
        """Losses at a flow, of the ``allowed`` options, and shared-out prices."""
        losses = np.where(allowed, self._heads_at(flow_m3s), BARRED)
        joints = self.problem.joint_quadratic * (flow_m3s * abs(flow_m3s))
        return Weights(losses, joints, self.option_price, self.joint_price)

    def _heads_at(self, flow_m3s: float) -> Reals:
        """Head lost by every option, in m."""
        known = self._heads
        if flow_m3s not in known:
            if len(known) >= FLOWS_KEPT:
                del known[next(iter(known))]
            known[flow_m3s] = self.problem.heads.at(flow_m3s)
        return known[flow_m3s]

    def _least_loss(
        self, flow_m3s: float, weights: Weights, budget: float, limit: float, any_will_do: bool, hurried: bool
    ) -> Bundle | None:
        self.tally.tell()
        bound = hull.by_price(self.rounds, weights, budget)
        if bound is None or bound.bound > limit + SLACK:
            return None
        suction = self.suction(flow_m3s)
        if any_will_do and bound.feasible.loss <= limit and self._has_suction(bound.feasible, weights, suction):
            ready = self._first_affordable([bound.feasible], budget)
            if ready is not None:
                return ready
        corridor = Corridor(bound.multiplier, budget, limit, suction)
        first = sorted(self._paths(weights, corridor), key=lambda path: path.loss)
        best = self._first_affordable(first[:MOST_PRICED], budget)
        if not self.problem.specials or not first or (any_will_do and best is not None):
            return best
        if best is not None:
            corridor = replace(corridor, limit=best.path.loss - 2 * SLACK)
        return self._least_loss_apart(weights, corridor, budget, any_will_do, hurried) or best

    def _least_loss_apart(
        self, weights: Weights, corridor: Corridor, budget: float, any_will_do: bool, hurried: bool
    ) -> Bundle | None:
        """The bundle with the least loss in a corridor at true prices (with ``any_will_do``: one of them)."""
        try:
            return self._first_affordable(self._front(weights, corridor, True, FEW_LABELS), budget)
        except TooManyPaths:
            best = self._first_affordable(self._beam(weights, corridor), budget)
        if best is not None and any_will_do:
            return best
        if best is not None:
            corridor = replace(corridor, limit=best.path.loss - 2 * SLACK)
        bounded = partial(hull.by_price, self.rounds, budget=budget)
        for part in by_pump(self.rounds, weights, corridor, bounded):
            if part.hull.bound > corridor.limit + SLACK:
                break
            paths = self.paths_of_part(part, corridor, bounded, hurried)
            found = self._first_affordable(paths, budget)
            if found is not None and any_will_do:
                return found
            if found is not None:
                best, corridor = found, replace(corridor, limit=found.path.loss - 2 * SLACK)
        return best

    def _has_suction(self, path: Path, weights: Weights, suction: Reals | None) -> bool:
        """True when a path leaves its pump's inlet the pressure it needs."""
        if suction is None:
            return True
        pump = self.problem.pump
        before, joints = list(path.options[:pump]), list(path.joints[: pump + 1])
        lost = float(weights.option_loss[before].sum() + weights.joint_loss[joints].sum())
        return lost <= float(suction[path.options[pump] - self.problem.option_at[pump]])

    def _first_affordable(self, paths: Iterable[Path], budget: float) -> Bundle | None:
        """Of paths, the one with the least loss that is affordable at its true price."""
        for path in sorted(paths, key=lambda path: path.loss):
            if self.true_price(path) <= budget + CENT_SLACK:
                return self.priced(path)
        return None

    def _least_price(self, flow_m3s: float, weights: Weights, budget: float) -> Bundle | None:
        self.tally.tell()
        bound = hull.by_loss(self.rounds, weights, 0.0)
        if bound is None or bound.bound > budget + CENT_SLACK:
            return None
        suction = self.suction(flow_m3s)
        best = None
        for roof in _growing(bound.feasible.price, budget):
            corridor = Corridor(bound.multiplier, roof, 0.0, suction)
            best = self._cheapest(self._paths(weights, corridor)[:MOST_PRICED], budget, best)
            if best is not None:
                break
        if not self.problem.specials:
            return best
        roof = budget if best is None else best.price - 1.0
        return self._least_price_apart(weights, Corridor(bound.multiplier, roof, 0.0, suction), budget, best)

    def _least_price_apart(self, weights: Weights, corridor: Corridor, budget: float, best: Bundle | None) -> Bundle | None:
        """The cheapest bundle in a corridor at true prices, or ``best`` when that is cheaper."""
        try:
            return self._cheapest(self._front(weights, corridor, True, FEW_LABELS), budget, best)
        except TooManyPaths:
            best = self._cheapest(self._beam(weights, corridor), budget, best)
        if best is not None:
            corridor = replace(corridor, budget=min(corridor.budget, best.price - 1.0))
        bounded = partial(hull.by_loss, self.rounds, limit=0.0)
        for part in by_pump(self.rounds, weights, corridor, bounded):
            if part.hull.bound > corridor.budget + CENT_SLACK:
                break
            paths = self.paths_of_part(part, corridor, bounded, False)
            best = self._cheapest(paths, budget, best)
            if best is not None:
                corridor = replace(corridor, budget=min(corridor.budget, best.price - 1.0))
        return best

    def _cheapest(
        self, paths: Iterable[Path], budget: float, best: Bundle | None, counts: Callable[[Bundle], bool] | None = None
    ) -> Bundle | None:
        """The cheapest of paths that come in order of a lower bound on their price (of those that count), and of ``best``."""
        for path in paths:
            if best is not None and path.price > best.price + CENT_SLACK:
                break
            price = self.true_price(path)
            if price > budget + CENT_SLACK or (best is not None and price > best.price + CENT_SLACK):
                continue
            bundle = self.priced(path)
            better = bundle is not None and (best is None or _order(bundle) < _order(best))
            if bundle is not None and better and (counts is None or counts(bundle)):
                best = bundle
        return best

    def paths_of_part(
        self,
        part: Part,
        corridor: Corridor,
        bounded: Callable[[Weights], Hull | None],
        hurried: bool,
        every: bool = False,
    ) -> list[Path]:
        """All paths of a part that could be best at true prices (``every``: all of the corridor). Raises TooHard when they are
        too many for a hurry."""
        corridor = replace(corridor, multiplier=part.hull.multiplier)
        barred = self._barred(part.weights, corridor)
        weights = self._narrowed(self._without(part.weights, barred), corridor, barred, bounded)
        closer = bounded(weights)
        if closer is None:
            return []
        corridor = replace(corridor, multiplier=closer.multiplier)
        try:
            most = HURRIED_LABELS if hurried else MOST_LISTED if every else MOST_LABELS
            return self._front(weights, corridor, not every, most, every, None if every else self._settling(barred))
        except TooManyPaths:
            if hurried:
                raise TooHard from None
            self.tally.stopped = True
            if not every:
                return []
            return self._front(weights, replace(corridor, thins=True), False, FEW_LISTED, True)

    def _narrowed(self, weights: Weights, corridor: Corridor, barred: Mask, bounded: Callable[[Weights], Hull | None]) -> Weights:
        """Weights with what no bundle of the corridor goes through barred, where goods must come to a sum: by bounds that count
        some or all of that sum, and so much less of what the goods cost. Nothing is priced by them."""
        if not any(shop.order.floors for shop in self.problem.shops):
            return weights
        for part in FLOOR_PARTS:
            options, joints = self.shares.mixed_rows(barred, part)
            mixed = replace(weights, option_price=options, joint_price=joints)
            best = bounded(mixed)
            if best is None:
                return replace(weights, option_loss=np.full_like(weights.option_loss, BARRED))
            roof = replace(corridor, multiplier=best.multiplier).roof
            open_, joined = self.rounds.within(mixed, best.multiplier, roof)
            option_loss = np.where(open_, weights.option_loss, BARRED)
            weights = replace(weights, option_loss=option_loss, joint_loss=np.where(joined, weights.joint_loss, BARRED))
        return weights

    def probed(self, weights: Weights, corridor: Corridor) -> Weights:
        """Weights at the shares of those products only that a bundle in the corridor can make use of."""
        return self._without(weights, self._barred(weights, corridor))

    def _without(self, weights: Weights, barred: Mask) -> Weights:
        option_price, joint_price = self.shares.priced_rows(self.shares.unit_prices(barred))
        return replace(weights, option_price=option_price, joint_price=joint_price)

    def _barred(self, weights: Weights, corridor: Corridor) -> Mask:
        """The shared products that no bundle in a corridor buys.

        A bundle that buys a product pays all of it, and at least the shares of what it does not serve. If even the best such
        bundle is outside the corridor, no bundle inside buys that product, and its shares need not be counted with. What is sold
        by one way to order is bought only by bundles of that way: by none where all pumps of it are barred.
        """
        shares, multiplier = self.shares, corridor.multiplier
        option_losses, joint_loss = self._by_way(weights.option_loss), weights.joint_loss
        barred: Mask = shares.shared & np.array([which not in option_losses for which, _ in shares.products], dtype=bool)
        for _ in range(PROBING_PASSES):
            before = int(barred.sum())
            for k in np.flatnonzero(shares.shared & ~barred).tolist():
                options, joints = shares.priced_rows(shares.unit_prices(barred, bought=k))
                option_loss = option_losses[shares.products[k][0]]
                least = self.rounds.least_sum(option_loss + multiplier * options, joint_loss + multiplier * joints)
                barred[k] = least + multiplier * shares.price[k] > corridor.roof
            if int(barred.sum()) == before:
                break
        return barred

    def _by_way(self, option_loss: Reals) -> dict[int, Reals]:
        """Losses of all options with the pumps of other ways to order barred, for every way that has one which is not."""
        pumps = slice(self.problem.option_at[self.problem.pump], self.problem.option_at[self.problem.pump + 1])
        sold_by, losses = self.problem.option_shop[pumps], option_loss[pumps]
        found: dict[int, Reals] = {}
        for which in np.unique(sold_by[losses < BARRED / 2]).tolist():
            found[which] = option_loss.copy()
            found[which][pumps] = np.where(sold_by == which, losses, BARRED)
        return found

    def _settling(self, barred: Mask) -> Settling:
        """What settles shared items where some products are not bought."""
        key = barred.tobytes()
        if key not in self._settlings:
            self._settlings[key] = Settling.among(self.problem, self.rounds.accounts, self.shares, barred)
        return self._settlings[key]

    def _paths(self, weights: Weights, corridor: Corridor) -> list[Path]:
        """All non-dominated paths of a corridor at shared-out prices, cheapest first."""
        try:
            return self._front(weights, corridor, False, MOST_LABELS)
        except TooManyPaths:
            self.tally.stopped = True
            return []

    def _front(
        self, weights: Weights, corridor: Corridor, apart: bool, most: int, every: bool = False, settling: Settling | None = None
    ) -> list[Path]:
        self.tally.rounds += 1
        paths = self.rounds.front(weights, replace(corridor, most=most), apart, every, settling)
        self.tally.paths += len(paths)
        return paths

    def _beam(self, weights: Weights, corridor: Corridor) -> list[Path]:
        """Some good paths of a crowded corridor at true prices: those that a few partial paths behind each layer lead to."""
        barred = self._barred(weights, corridor)
        narrow = replace(corridor, thins=True)
        # where goods must come to a sum a true price takes long, and those at the end are priced anyway
        floors = any(shop.order.floors for shop in self.problem.shops)
        settling = None if floors else self._settling(barred)
        return self._front(self._without(weights, barred), narrow, True, BEAM, settling=settling)

    # -- bundles that stay under their ceilings by themselves -------------------------------------------------------

    # More loss may be what keeps such a bundle under a ceiling, so no partial path is dropped for another. But one that
    # delivers a flow and no more than ``top_m3s`` has little head to spare at that flow: no more than the losses of any bundle
    # rise by from the one to the other. That, the limit and the budget are all that leaves paths out.

    def _least_loss_free(
        self, flow_m3s: float, weights: Weights, budget: float, limit: float, free: Free, any_will_do: bool, hurried: bool
    ) -> Bundle | None:
        self.tally.tell()
        bound = hull.by_price(self.rounds, weights, budget)
        if bound is None or bound.bound > limit + SLACK:
            return None
        best, bounded = None, partial(hull.by_price, self.rounds, budget=budget)
        corridor = self._corridor_free(flow_m3s, weights, Corridor(bound.multiplier, budget, limit), free)
        for part in by_pump(self.rounds, weights, corridor, bounded):
            if part.hull.bound > corridor.limit + SLACK or (best is not None and any_will_do):
                break
            paths = self._under(self.paths_of_part(part, corridor, bounded, hurried, every=True), free)
            for path in sorted(paths, key=lambda path: path.loss):
                bundle = self.priced(path) if self.true_price(path) <= budget + CENT_SLACK else None
                if bundle is not None and free.stays_under(bundle):
                    best, corridor = bundle, replace(corridor, limit=path.loss - 2 * SLACK)
                    break
        return best

    def _least_price_free(self, flow_m3s: float, weights: Weights, budget: float, free: Free) -> Bundle | None:
        self.tally.tell()
        bound = hull.by_loss(self.rounds, weights, 0.0)
        if bound is None or bound.bound > budget + CENT_SLACK:
            return None
        best, bounded = None, partial(hull.by_loss, self.rounds, limit=0.0)
        for roof in _growing(bound.bound, budget):
            corridor = self._corridor_free(flow_m3s, weights, Corridor(bound.multiplier, roof, 0.0), free)
            for part in by_pump(self.rounds, weights, corridor, bounded):
                if part.hull.bound > corridor.budget + CENT_SLACK:
                    break
                paths = self._under(self.paths_of_part(part, corridor, bounded, False, every=True), free)
                best = self._cheapest(paths, roof, best, free.stays_under)
                corridor = replace(corridor, budget=roof if best is None else min(roof, float(best.price)))
            if best is not None:
                break
        return best

    def _corridor_free(self, flow_m3s: float, weights: Weights, corridor: Corridor, free: Free) -> Corridor:
        """A corridor that leaves out what has more head to spare than a bundle that delivers no more than the top can have."""
        top = self.weights(max(flow_m3s, free.top_m3s), weights.option_loss < BARRED / 2)
        options = np.where(top.option_loss < BARRED / 2, top.option_loss - weights.option_loss, BARRED)
        rise = self.rounds.greatest_loss(replace(top, option_loss=options, joint_loss=top.joint_loss - weights.joint_loss))
        return replace(corridor, suction=self.suction(flow_m3s), least=-rise - FREE_SLACK)

    def _under(self, paths: list[Path], free: Free) -> list[Path]:
        """Those of paths that deliver no more than the top by themselves."""
        if not paths:
            return []
        weights = self.weights(free.top_m3s, np.ones(len(self.option_price), dtype=bool))
        lost = weights.option_loss[np.array([path.options for path in paths])].sum(axis=1)
        lost += weights.joint_loss[np.array([path.joints for path in paths])].sum(axis=1)
        return [paths[row] for row in np.flatnonzero(lost >= -FREE_SLACK).tolist()]


def _specials(problem: Problem, pairs: tuple[Ints, Ints]) -> dict[int, list[Item]]:
    """The special items of the options or joints that have any, by their rows."""
    found: dict[int, list[Item]] = {}
    for row, number in zip(pairs[0].tolist(), pairs[1].tolist(), strict=True):
        found.setdefault(row, []).append(problem.specials[number])
    return found


def _order(bundle: Bundle) -> tuple[int, float]:
    return (bundle.price, bundle.path.loss)


def _growing(least: float, most: float) -> Iterable[float]:
    """Budgets to try: near the bound first, then larger, the last one the whole budget."""
    roof = least + 1.0
    for _ in range(8):
        if roof >= most:
            break
        yield roof
        roof = roof * 1.3 + 50.0
    yield most
