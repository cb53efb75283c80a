"""The best bundle by the last day of an interval between cleanings, or by its mean, with the reason it is best.

A bundle is judged by its whole course, day by day, flow and dirt coupled (`search/course_batch.py`, the model of
`dirt/course.py`). That
is no sum over places, and no rule of "this part is never worse" holds for it: a bundle that flows less gathers less dirt. So
nothing is left out by comparing bundles. Instead:

* a bundle whose flow on the last day reaches Q has, by the bound of `search/least_dirt.py`, head to spare at Q with the least
  dirt it can have by then. These bounds are sums over places, so all bundles that pass (and could be afforded at shared-out
  prices, and leave the pump's inlet its pressure) are listed in one round without comparing any (`Rounds.front`, ``every``);
* with Q the most that any bundle judged so far has on the last day, whatever is better is in that list. Each of it is priced
  truly and judged. When all are, the best of them is the answer and the list was the proof;
* for the mean, flows that only fall give mean <= sum of w_i Q(d_i) over pieces of the interval, w_i the share of a piece and d_i
  its first day. The bounds alone say how much flow t_i anything with a guard can have on day d_i. So a bundle with this guard
  whose mean is at least M has Q(d_i) >= q_i on ALL these days, with q_i from sum_{j < i} w_j t_j + sum_{j >= i} w_j min(t_j, q_i)
  = M: before d_i it had t_j at most, and from then on no more than Q(d_i). It passes all these cuts, so it is in the list of
  that one which makes the shortest, and of this list only what passes the others too is looked at. The same sum, with the
  flows that a bundle itself can have on these days at most, says what its mean is at most; only where that reaches M it is
  followed.

What a free clean can clean is clean on the first day, in every bundle (`choices`, ``starts_clean``). Dirt left as it is would
deliver more only where it throttles: behind the pump, where the pressure at its inlet or another ceiling binds. But whoever
begins an interval opens the canister and washes what is in it; dirt is no throttle that can be set, and opened again when the
flow falls; a screw clamp is, and stands among the options. So these bundles are left out of the question, not lost to the
search, and the proof is about all others. What wear does stays.

More than `exact.MOST_LISTED` partial bundles with one pump end the search as stopped, with the flow that the bounds alone rule
out.
"""

import math
from collections.abc import Iterator, Sequence
from contextlib import suppress
from copy import copy
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.search import hull
from optimizer.search.ageing import Ageing, Interval
from optimizer.search.best import RESOLUTION_M3S, TRICKLE_M3S, WITHIN, Seeker
from optimizer.search.by_pump import by_pump
from optimizer.search.course_batch import CourseBatch
from optimizer.search.exact import FEW_LABELS, Bundle
from optimizer.search.hull import Hull
from optimizer.search.least_dirt import LeastDirt
from optimizer.search.rounds import CENT_SLACK, SLACK, Corridor, Path, TooManyPaths, Weights

Mask = NDArray[np.bool_]

LAST, MEAN = "last", "mean"
"""What a bundle is judged by."""

MOST_UNBEATEN = 60_000
"""Where more partial bundles than this beat none of each other behind one place, no good one is looked for among them."""

MOST_TRIED = 24
"""So many bundles that no other beats by the bounds are followed at a time in the hope of a good one."""

PIECE = 512
"""So many bundles are judged side by side."""

MOST_ROOFS = 12
"""So many prices are tried before all that the budget allows is listed."""

RUNGS = 6
"""Between the least and the most that a day allows, so many flows are tried on every bundle of a list."""

TOP_STEP = 0.01
"""By this share a flow is lowered until the bounds let it pass; by half as much again each time."""

PIECES_OF_MEAN = 6
"""Into so many pieces an interval is cut for the bound on a mean."""

UNDER = 1e-9
"""Lists are made this much (as a share) below the flow that is asked for, so that rounding leaves nothing out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A bundle over the interval: flows in m3/s on the clean and the last day, delivered and (``own``) unthrottled, and the mean
    of what is delivered. ``free``: no flow must be held on any day; ``throttled``: a throttle can hold it; ``fits``: floors of
    flow are kept on the last day. ``value`` is what it is judged by."""

    path: Path
    price: float
    noise_dba: float
    clean_m3s: float
    clean_own_m3s: float
    last_m3s: float
    last_own_m3s: float
    mean_m3s: float
    value_m3s: float
    free: bool
    throttled: bool
    fits: bool

    @property
    def holds(self) -> bool:
        """True for what counts: it can be held to what it delivers."""
        return self.throttled or self.free


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The answer (None: nothing meets the limits), ``proved`` or ``stopped``, a flow that nothing exceeds (inf: not known), and
    how many bundles were followed day by day."""

    found: Judged | None
    bundle: Bundle | None
    status: str
    bound_m3s: float
    judged: int


@dataclass(frozen=True, slots=True)
class _Cut:
    """Bundles that reach a flow on a day (an index of the interval's days)."""

    day: int
    flow_m3s: float


@dataclass(frozen=True, slots=True)
class _Asked:
    """Cuts that a bundle must pass, all of them (none: nothing would do). Where a mean must reach a
    ``level_m3s`` (0: it need not), the first cuts are those of the first days of its pieces, and ``tops`` flows that nothing has
    on these days."""

    cuts: tuple[_Cut, ...] = ()
    level_m3s: float = 0.0
    tops: tuple[float, ...] = ()


class OverDays:
    """Searches one problem over an interval. Its media must have been listed as ``lasting`` (see `choices`), and its options be
    those of `choices` that start clean. Only bundles that deliver at least ``clean_m3s`` on the first day count."""

    def __init__(self, seeker: Seeker, interval: Interval, by: str = LAST, clean_m3s: float = 0.0) -> None:
        self.clean_m3s = clean_m3s
        self.seeker, self.problem, self.limits = seeker, seeker.problem, seeker.limits
        self.exact, self.tally = seeker.exact, seeker.tally
        self.ageing = Ageing(self.problem, interval)
        days, self.last = self.ageing.days, len(self.ageing.days) - 1
        self.by = by if self.last else LAST
        self.starts = _starts(self.last)
        self.shares = [float(days[end] - days[day]) / float(days[-1]) for day, end in pairwise((*self.starts, self.last))]
        self.tops: dict[tuple[int, bytes], tuple[float, ...]] = {}
        self.least = LeastDirt(self.ageing)
        self.floor = max(self.limits.flow_min_m3s, TRICKLE_M3S)
        self.known: dict[tuple[tuple[int, ...], tuple[int, ...]], Judged] = {}
        self.flows: dict[tuple[tuple[int, ...], tuple[int, ...]], NDArray[np.float64]] = {}
        self.multipliers: dict[tuple[int, bool], float] = {}
        self.best_so_far: Judged | None = None

    # -- questions -------------------------------------------------------------------------------------------------

    def without_clean_target(self) -> "OverDays":
        """The same search whatever is delivered on the first day; what has been followed is shared."""
        other = copy(self)
        other.clean_m3s, other.best_so_far = 0.0, None
        return other

    def inside(self, allowed: Mask) -> "OverDays":
        """The same search among the ``allowed`` options only; what has been followed is shared."""
        other = copy(self)
        other.seeker, other.best_so_far = self.seeker.inside(allowed), None
        return other

    def judged(self, bundle: Bundle) -> Judged:
        """Any bundle of the problem over the interval."""
        path = bundle.path
        if (path.options, path.joints) not in self.known:
            self._follow([(path, float(bundle.price))])
        found = self.known[path.options, path.joints]
        if found.price <= self.seeker.budget + CENT_SLACK:
            self._note(found)
        return found

    def most_flow(self) -> Verdict:
        """The bundle that is judged best within the budget and all limits, by the one rule of `Seeker`: of those that can be held
        to what they deliver, and are within `RESOLUTION_M3S` of the best of these, the cheapest, then the quietest, then one with
        a throttle, then the best. Ctrl-C ends the search with the best so far, as stopped.

        Bundles asked about by `judged` before are beaten from the start.
        """
        found = None
        try:
            top = self._top(self.seeker.all)
            if top is not None and not top.holds:
                top = self._top_held()
            if top is not None:
                found = self._preferred(max(top.value_m3s - RESOLUTION_M3S, self.floor), top)
        except KeyboardInterrupt:
            found, self.tally.stopped, self.tally.interrupted = self.best_so_far, True, True
        return self._verdict(found, 0.0 if found is None else found.value_m3s)

    def least_price(self, target_m3s: float) -> Verdict:
        """The cheapest bundle that still delivers a flow on the last day; of these the quietest, then as `most_flow`."""
        target, found = max(target_m3s, self.floor), None
        if max(target, self.clean_m3s) > self.limits.flow_max_m3s * (1 + WITHIN):
            return self._verdict(None, 0.0)
        try:
            found = self._preferred(target, None)
        except KeyboardInterrupt:
            self.tally.stopped = self.tally.interrupted = True
        return self._verdict(found, target)

    def _preferred(self, target: float, top: Judged | None) -> Judged | None:
        """The preferred of all bundles that count and reach a target (``top`` is one of them, if any is known). The first of all
        that reach it is the first of those that count if it is one of them. The first of those followed so far is one to beat."""
        reaching = (one for one in self.known.values() if one.holds and self._asked(one, self.seeker.all, target))
        top = min(reaching, key=_order, default=top)
        first = self._cheapest(target, [self.seeker.all], upto=top)
        if first is None or first.holds:
            return first
        held = self._cheapest(target, self.seeker.throttle_masks(), upto=top)
        return self._cheapest(target, [self.seeker.all], upto=held, free=True)

    def _verdict(self, found: Judged | None, bound: float) -> Verdict:
        stopped = self.tally.stopped
        if stopped:
            known, bound = bound, math.inf
            with suppress(KeyboardInterrupt):  # whoever cannot wait gets no bound
                bound = max(known, self._bound(self.seeker.all))
        return Verdict(
            found=found,
            bundle=None if found is None else self.exact.priced(found.path),
            status="stopped" if stopped else "proved",
            bound_m3s=bound,
            judged=len(self.known),
        )

    # -- the best --------------------------------------------------------------------------------------------------

    def _top_held(self) -> Judged | None:
        """The best of the bundles that can be held to their flow: with a throttle, or under every ceiling by themselves. A good
        one is looked for among all of these first, since lists are the shorter the more is known to be had."""
        asked = [(mask, False) for mask in self.seeker.throttle_masks()] + [(self.seeker.all, True)]
        known = (one for one in self.known.values() if one.holds and self._asked(one, self.seeker.all))
        top = max(known, key=_value, default=None)
        for looked_at in (self._climbed, self._swept):
            for mask, free in asked:
                top = looked_at(mask, top, free)
        return top

    def _top(self, allowed: Mask) -> Judged | None:
        """The best bundle among the allowed options, whether its flow can be held or not."""
        return self._swept(allowed, self._climbed(allowed))

    def _swept(self, allowed: Mask, best: Judged | None, free: bool = False) -> Judged | None:
        """The best of the bundles among the allowed options (``free``: whose flow need not be held), or ``best`` if none of them
        is better."""
        for guard in self.least.guards:
            best = best if self._at_the_ceiling(best) else self._risen(best, guard, allowed, free)
        return best

    def _risen(self, best: Judged | None, guard: int, allowed: Mask, free: bool) -> Judged | None:
        """The best of a list, or ``best`` when that is better. As it rises, what its flow rules out is passed over."""
        asked = self._cuts(guard, allowed, self._level(best))
        waiting = sorted(self._listed(guard, asked, allowed, float(self.seeker.budget)), key=lambda path: path.loss)
        while waiting:
            before = best
            for one in self._judged(waiting[:PIECE]):
                if self._asked(one, allowed, free=free) and _better(one, best):
                    best = one
                    self._note(one)
            waiting = waiting[PIECE:]
            if best is not before:
                asked = self._cuts(guard, allowed, self._level(best))
                waiting = self._promising(self._still(waiting, guard, asked.cuts, allowed), guard, asked, allowed)
        return best

    def _climbed(self, allowed: Mask, best: Judged | None = None, free: bool = False) -> Judged | None:
        """A good bundle to beat, ``best`` or a better one: with each guard in turn, the best of those that no other beats in
        bound and price at the flow of the best so far, until none of them is better."""
        known = (one for one in self.known.values() if self._asked(one, allowed, free=free) and _better(one, best))
        best = max(known, key=_value, default=best)
        for guard in self.least.guards:
            while not self._at_the_ceiling(best):
                asked = self._cuts(guard, allowed, self._level(best))
                paths = self._listed(guard, asked, allowed, float(self.seeker.budget), every=False)
                paths = [path for path in paths if self.exact.true_price(path) <= self.seeker.budget + CENT_SLACK]
                paths = sorted(paths, key=lambda path: path.loss)[:MOST_TRIED]
                rise = [one for one in self._judged(paths) if self._asked(one, allowed, free=free) and _better(one, best)]
                if not rise:
                    break
                best = max(rise, key=_value)
                self._note(best)
        return best

    def _level(self, best: Judged | None, asked_m3s: float = 0.0) -> float:
        """What must be reached by whatever is judged better than ``best``, or as good as what is asked."""
        level = max(self.floor, asked_m3s) * (1 - UNDER)
        return level if best is None or asked_m3s else max(level, best.value_m3s * (1 + UNDER))

    def _cuts(self, guard: int, allowed: Mask, level_m3s: float) -> _Asked:
        """What every bundle with a guard passes that is judged as good as a level and counts; none where there is none."""
        cuts = (_Cut(0, self.clean_m3s * (1 - UNDER)),) if self.clean_m3s else ()
        if self.by == LAST or level_m3s < self.floor:
            return _Asked((_Cut(self.last, level_m3s), *cuts))
        tops = self._tops(guard, allowed, level_m3s)
        if not tops:
            return _Asked()
        flows = least_flows(tops, self.shares, level_m3s)
        if flows[0] > tops[0]:
            return _Asked()
        low = self.floor * (1 - UNDER)
        least = (_Cut(day, max(flow * (1 - UNDER), low)) for day, flow in zip(self.starts, flows, strict=True))
        return _Asked((*least, _Cut(self.last, low), *cuts), level_m3s, tops)

    def _tops(self, guard: int, allowed: Mask, level_m3s: float) -> tuple[float, ...]:
        """Flows that nothing with a guard has on the first days of the pieces of an interval; none where nothing reaches a level
        on the first day of all. They hang on no level, so they are kept."""
        key, budget = (guard, allowed.tobytes()), float(self.seeker.budget)

        def passes(day: int, flow: float) -> bool:
            weights = self._weights(guard, _Cut(day, flow), allowed, budget)
            return weights is not None and self._bounded((guard, True), weights, budget) is not None

        if key not in self.tops:
            if not passes(0, level_m3s):
                return ()
            found, high, step = [], level_m3s, TOP_STEP
            while passes(0, high):
                high, step = high * (1.0 + step), 1.5 * step
            for day in self.starts:
                step = TOP_STEP
                while not passes(day, high * (1.0 - step)) and step < 0.9:
                    high, step = high * (1.0 - step), 1.5 * step
                found.append(high * (1.0 + UNDER))
            self.tops[key] = tuple(found)
        return self.tops[key]

    def _at_the_ceiling(self, best: Judged | None) -> bool:
        return best is not None and best.value_m3s >= self.limits.flow_max_m3s * (1 - WITHIN)

    def _asked(self, one: Judged, allowed: Mask, least_m3s: float = 0.0, free: bool = False) -> bool:
        """True for what counts, can be afforded, is made of allowed options and reaches a flow."""
        affordable = one.price <= self.seeker.budget + CENT_SLACK
        return (
            affordable and self._counts(one, free) and one.value_m3s >= least_m3s and bool(allowed[list(one.path.options)].all())
        )

    def _counts(self, one: Judged, free: bool) -> bool:
        """True for what meets the limits and the target of the first day; ``free``: without being held."""
        return self._meets(one) and (not free or one.free)

    def _meets(self, one: Judged) -> bool:
        return one.fits and one.clean_m3s >= self.clean_m3s * (1 - UNDER)

    def _note(self, one: Judged) -> None:
        if self._meets(one) and one.holds and _better(one, self.best_so_far):
            self.best_so_far = one
            self.tally.flow_m3s = one.value_m3s

    # -- the cheapest ----------------------------------------------------------------------------------------------

    def _cheapest(
        self,
        target: float,
        masks: list[Mask],
        upto: Judged | None = None,
        free: bool = False,
    ) -> Judged | None:
        """The preferred of all bundles whose value reaches a target. Prices are raised step by step until a bundle is found that
        costs no more than what has been listed; ``upto`` is one to beat."""
        most = float(self.seeker.budget) if upto is None else upto.price
        best = upto
        lists = self._least_prices(target, masks, upto, most)
        for roof in _roofs(lists[0][0], most) if lists else ():
            for least, mask, guard, asked in lists:
                price = roof if best is None else min(roof, best.price)
                if least > price + CENT_SLACK:
                    break
                for one in self._judged(self._listed(guard, asked, mask, price), price):
                    reaches = one.value_m3s >= target * (1 - 1e-12) and one.price <= most + CENT_SLACK
                    if reaches and self._counts(one, free) and (best is None or _order(one) < _order(best)):
                        best = one
            if best is not None and best.price <= roof + CENT_SLACK:
                return best
        return best

    def _least_prices(
        self, target: float, masks: list[Mask], upto: Judged | None, most: float
    ) -> list[tuple[float, Mask, int, _Asked]]:
        """The lists that may hold a bundle whose value reaches a target, each with the least price that the bounds allow in it,
        the cheapest first."""
        found = []
        for mask in masks:
            for guard in self.least.guards:
                asked = self._cuts(guard, mask, self._level(upto, target))
                least = max((self._least_price(guard, cut, mask, most) for cut in asked.cuts), default=math.inf)
                if least <= most + CENT_SLACK:
                    found.append((least, mask, guard, asked))
        return sorted(found, key=lambda each: each[0])

    def _least_price(self, guard: int, cut: _Cut, mask: Mask, most: float) -> float:
        """The least price that the bounds allow of what passes a cut; inf where nothing does."""
        weights = self._weights(guard, cut, mask, most)
        bound = None if weights is None else hull.by_loss(self.exact.rounds, weights, 0.0)
        return math.inf if bound is None else bound.bound

    # -- lists -----------------------------------------------------------------------------------------------------

    def _weights(self, guard: int, cut: _Cut, allowed: Mask, budget: float) -> Weights | None:
        """What the bounds add up at a cut; None when nothing with a guard can pass it within a budget.

        Only fillings of the trays that could pass while still clean are looked at further.
        """
        if not allowed[guard] or not self.exact.rounds.has_paths:
            return None
        day, flow = cut.day, cut.flow_m3s
        joints, prices = self.problem.joint_quadratic * flow * flow, (self.exact.option_price, self.exact.joint_price)
        clean = Weights(self.least.clean_losses(guard, day, flow, allowed), joints, *prices)
        bound = self._bounded((guard, False), clean, budget)
        if bound is None:
            return None
        roof = Corridor(bound.multiplier, budget, 0.0).roof
        fillings = np.flatnonzero(self.exact.rounds.through(clean, bound.multiplier, self.ageing.canister) <= roof)
        return Weights(self.least.losses(guard, day, flow, allowed, fillings), joints, *prices)

    def _bounded(self, asked: tuple[int, bool], weights: Weights, budget: float) -> Hull | None:
        """The bound on what passes; None when nothing does. Every multiplier gives a bound, so the best one of the last time
        (with this guard, clean or with dirt) is tried first: mostly it rules out as much."""
        rounds, last = self.exact.rounds, self.multipliers.get(asked, 0.0)
        sums = weights.option_loss + last * weights.option_price, weights.joint_loss + last * weights.joint_price
        if rounds.least_sum(*sums) - last * budget > SLACK:
            return None
        bound = hull.by_price(rounds, weights, budget)
        if bound is None:
            return None
        self.multipliers[asked] = bound.multiplier
        return bound if bound.bound <= 0.0 else None

    def _listed(self, guard: int, asked: _Asked, allowed: Mask, budget: float, every: bool = True) -> list[Path]:
        """All bundles with a guard that pass all cuts by their bounds and that shared-out prices let be afforded."""
        self.tally.tell()
        bounded = []
        for each in asked.cuts:
            weights = self._weights(guard, each, allowed, budget)
            bound = None if weights is None else self._bounded((guard, True), weights, budget)
            if weights is None or bound is None:
                return []
            bounded.append((bound.bound, bound.multiplier, weights, each))
        if not bounded:
            return []
        # the cut with least head to spare makes the shorter list
        _, multiplier, weights, first = max(bounded, key=lambda one: one[0])
        corridor = Corridor(multiplier, budget, 0.0, self.exact.suction(first.flow_m3s), FEW_LABELS)
        paths = self._every(weights, corridor) if every else self._unbeaten(weights, replace(corridor, most=MOST_UNBEATEN))
        self.tally.paths += len(paths)
        for _, _, others, cut in bounded:
            paths = paths if cut is first else _passing(paths, others)
        return self._promising(paths, guard, asked, allowed)

    def _promising(self, paths: list[Path], guard: int, asked: _Asked, allowed: Mask) -> list[Path]:
        """By the mean, those of some bundles with a guard that could reach the level its cuts were made for. What each of them
        promises at most stands, below 0, for its loss.

        On the first day of a piece a bundle flows less than any flow that it does not pass. One that flows less than the least
        flow of that day cannot reach the level; any other holds at least the dirt of that least flow, so all rungs may be tried
        with this dirt.
        """
        if not paths or not asked.level_m3s:
            return paths
        options, joints = (np.array([getattr(path, name) for path in paths]) for name in ("options", "joints"))
        fillings = np.unique(options[:, self.ageing.canister]) - self.least.media.start
        joined = self.problem.joint_quadratic[joints].sum(axis=1)
        mean, before = np.zeros(len(paths)), np.full(len(paths), math.inf)
        for cut, top, share in zip(asked.cuts, asked.tops, self.shares, strict=False):
            low, flow = cut.flow_m3s, np.full(len(paths), cut.flow_m3s)
            for rung, above in pairwise(np.linspace(low, max(top, low), RUNGS + 1).tolist()):
                lost = self.least.losses(guard, cut.day, rung, allowed, fillings, low)[options].sum(axis=1)
                flow = np.where(lost + joined * rung**2 <= 1e-9, above, flow)
            before = np.minimum(before, flow)
            mean += share * before
        live = np.flatnonzero(mean >= asked.level_m3s * (1 - UNDER)).tolist()
        return [replace(paths[n], loss=-float(mean[n])) for n in live]

    def _unbeaten(self, weights: Weights, corridor: Corridor) -> list[Path]:
        """Those of a corridor that no other beats by the bounds; none where they are too many."""
        self.tally.rounds += 1
        try:
            return self.exact.rounds.front(weights, corridor)
        except TooManyPaths:
            return []

    def _every(self, weights: Weights, corridor: Corridor) -> list[Path]:
        """All of a corridor. Where they are many they are listed pump by pump, with the bound of each: a bound on all pumps lies
        between a cheap one and a dear one, where no bundle is, and lets far too many seem affordable."""
        self.tally.rounds += 1
        try:
            return self.exact.rounds.front(weights, corridor, every=True)
        except TooManyPaths:
            bounded = partial(hull.by_price, self.exact.rounds, budget=corridor.budget)
            parts = by_pump(self.exact.rounds, weights, corridor, bounded)
            live = (part for part in parts if part.hull.bound <= 0.0)
            return [path for part in live for path in self.exact.paths_of_part(part, corridor, bounded, False, every=True)]

    def _judged(self, paths: Sequence[Path], most: float | None = None) -> Iterator[Judged]:
        """Those of some bundles that can be afforded (or cost no more than ``most``), followed over the interval."""
        budget = float(self.seeker.budget) if most is None else most
        for start in range(0, len(paths), PIECE):
            piece = paths[start : start + PIECE]
            priced = [(path, price) for path in piece if (price := self.exact.true_price(path)) <= budget + CENT_SLACK]
            self._follow([(path, price) for path, price in priced if (path.options, path.joints) not in self.known])
            yield from (self.known[path.options, path.joints] for path, _ in priced)

    def _still(self, paths: list[Path], guard: int, cuts: Sequence[_Cut], allowed: Mask) -> list[Path]:
        """Those of some bundles that pass other cuts; none without cuts."""
        for cut in cuts if paths else ():
            weights = self._weights(guard, cut, allowed, float(self.seeker.budget))
            paths = [] if weights is None else _passing(paths, weights)
        return paths if cuts else []

    def _follow(self, priced: Sequence[tuple[Path, float]]) -> None:
        """Follow some bundles over the interval and remember what they come to."""
        if not priced:
            return
        rows, joints = (np.array([getattr(path, name) for path, _ in priced]) for name in ("options", "joints"))
        aged = CourseBatch(self.ageing, rows, joints).aged()
        value = aged.last if self.by == LAST else aged.mean
        low = self.problem.low[rows].max(axis=1)
        fits = (low <= aged.last * (1 + WITHIN)) & (aged.last >= self.floor * (1 - 1e-9))
        for n, (path, price) in enumerate(priced):
            key = (path.options, path.joints)
            self.flows[key] = aged.flows[:, n]
            self.known[key] = Judged(
                path=path,
                price=price,
                noise_dba=float(self.seeker.noise[path.options[self.problem.pump]]),
                clean_m3s=float(aged.clean[n]),
                clean_own_m3s=float(aged.clean_own[n]),
                last_m3s=float(aged.last[n]),
                last_own_m3s=float(aged.last_own[n]),
                mean_m3s=float(aged.mean[n]),
                value_m3s=float(value[n]),
                free=bool(aged.free[n]),
                throttled=bool(aged.throttled[n]),
                fits=bool(fits[n]),
            )

    # -- bounds ----------------------------------------------------------------------------------------------------

    def _bound(self, allowed: Mask) -> float:
        """A flow that the bounds alone rule out on the last day (for the mean: on the first), to a thousandth."""

        def ruled_out(flow: float) -> bool:
            cut = _Cut(self.last if self.by == LAST else 0, flow)
            return not any(self._may_pass(guard, cut, allowed) for guard in self.least.guards)

        low = max(self.floor, 0.0 if self.best_so_far is None else self.best_so_far.value_m3s)
        high = 1.5 * low + 1e-5
        while not ruled_out(high):
            low, high = high, 1.5 * high
        while high - low > 1e-3 * high:
            middle = 0.5 * (low + high)
            low, high = (low, middle) if ruled_out(middle) else (middle, high)
        return min(high, self.limits.flow_max_m3s)

    def _may_pass(self, guard: int, cut: _Cut, allowed: Mask) -> bool:
        """False when the bounds rule out that any bundle with a guard passes a cut."""
        budget = float(self.seeker.budget)
        weights = self._weights(guard, cut, allowed, budget)
        bound = None if weights is None else self._bounded((guard, True), weights, budget)
        if weights is None or bound is None:
            return False
        corridor = Corridor(bound.multiplier, budget, 0.0, self.exact.suction(cut.flow_m3s), MOST_UNBEATEN)
        try:
            return bool(self.exact.rounds.front(weights, corridor))
        except TooManyPaths:
            return True


def _passing(paths: list[Path], weights: Weights) -> list[Path]:
    """Those of some bundles whose losses are not above 0."""
    if not paths:
        return []
    options, joints = (np.array([getattr(path, name) for path in paths]) for name in ("options", "joints"))
    loss = weights.option_loss[options].sum(axis=1) + weights.joint_loss[joints].sum(axis=1)
    return [path for path, lost in zip(paths, loss.tolist(), strict=True) if lost <= 1e-9]


def least_flows(tops: Sequence[float], shares: Sequence[float], level: float) -> list[float]:
    """The least flow of each day that flows may have which only fall, are nowhere above ``tops`` (which only fall too) and whose
    mean by ``shares`` reaches a level; more than its top where no flows can."""
    found, before = [], 0.0
    for n, (top, share) in enumerate(zip(tops, shares, strict=True)):
        # all before it at their tops, all after it no higher than itself: raise it until the mean is reached
        rest, left = level - before, sum(shares[n:])
        flow, at = 0.0, len(tops)
        while at > n and rest > 0.0:
            flow = rest / left
            at -= 1
            if flow <= tops[at]:
                break
            rest, left = rest - shares[at] * tops[at], left - shares[at]
        found.append(flow if rest > 0.0 else 0.0)
        before += share * top
    return found


def _starts(last: int) -> tuple[int, ...]:
    """First days of the pieces that an interval is cut into for its mean."""
    return tuple(sorted({round(n * last / PIECES_OF_MEAN) for n in range(PIECES_OF_MEAN)} - {last}))


def _roofs(least: float, most: float) -> Iterator[float]:
    """Prices up to which bundles are listed, one after another: from the least that the bounds allow, the last one ``most``."""
    roof = least + 1.0
    for _ in range(MOST_ROOFS):
        if roof < most:
            yield roof
        roof = roof * 1.3 + 50.0
    yield most


def _value(one: Judged) -> float:
    return one.value_m3s


def _better(one: Judged, other: Judged | None) -> bool:
    return other is None or one.value_m3s > other.value_m3s


def _order(one: Judged) -> tuple[float, float, bool, float, tuple[int, ...], tuple[int, ...]]:
    return (one.price, one.noise_dba, not one.throttled, -one.value_m3s, one.path.options, one.path.joints)
