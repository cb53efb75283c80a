"""The best bundle: most delivered flow under a budget, or least price for a target, with the reason it is best.

Delivered flow D of a bundle is its own operating point or the lowest ceiling on the way, held by a throttle: the limit on flow,
a device's window, the speed allowed at the guard, the pressure needed at the pump's inlet. "Can deliver Q" holds for every
flow up to D, so the search climbs: at flow Q it asks for the bundle with the most head to spare, sets Q to what that
bundle delivers, and asks again. Q rises strictly; when no affordable bundle has head to spare at Q, none can deliver
more, and that last round is the proof.

What counts is a bundle that can be held to what it delivers: one with a throttle behind the pump, or one that stays under every
ceiling by itself. Of all that count and deliver the most, to within `RESOLUTION_M3S`, the cheapest is taken, of these the
quietest, of these one with a throttle (it can be opened again), of these the one with the most head to spare, of these the first
by position and part id. So no throttle is bought that holds nothing.

Joints and media that another way beats (it loses no more, costs no more and needs nothing else) are left out before, although
one of them might keep a bundle under a ceiling: nobody fits a worse joint to slow the water down. The answer says so where it
matters (`Tally.by_loss`).
"""

import math
from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.bracket import bracketed
from optimizer.model.options import Option
from optimizer.search.exact import Bundle, Exact, Free, Tally, TooHard
from optimizer.search.layers import Problem

if TYPE_CHECKING:
    from optimizer.search.bundle_flows import BundleFlows

Mask = NDArray[np.bool_]

RESOLUTION_M3S = 0.1e-3 / 3600.0
"""Flows within 0.1 l/h of each other are alike: far below what a keeper can measure."""

TRICKLE_M3S = 1e-9
"""A loop that cannot deliver this does not flow."""

FINE_M3S = 1e-5 * RESOLUTION_M3S
"""The climb may stop this far below a flow that is proved out of reach."""

MOST_ROUNDS = 400
HURRIED_ROUNDS = 60
"""So many rounds may rise to any better bundle; after that each takes the best, so that the climb ends."""

NARROW = 0.01
"""Where so little (as a share) is left between what was too hard to decide and what is ruled out, the question is put again and
answered, however long it takes."""

WITHIN = 1e-12
NEARLY = 1e-10
NO_BUDGET = 10**12


@dataclass(frozen=True, slots=True)
class Delivered:
    """What a bundle delivers, what it would deliver unthrottled, and which ceiling holds it (empty: none)."""

    flow_m3s: float
    own_m3s: float
    held_by: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """A bundle with what it delivers."""

    bundle: Bundle
    delivered: Delivered

    @property
    def flow_m3s(self) -> float:
        """Delivered flow."""
        return self.delivered.flow_m3s


@dataclass(frozen=True, slots=True)
class Outcome:
    """What is known of the answer (``found``; None: nothing meets the limits), why the search stopped (``proved`` or
    ``stopped``), and the largest flow that could still exist (for a proved answer its own)."""

    found: Found | None
    status: str
    bound_m3s: float
    tally: Tally


class Seeker:
    """Searches one problem, or the part of it with the ``allowed`` options only.

    Every method is exact unless the tally says it was stopped.
    """

    def __init__(self, problem: Problem, tally: Tally | None = None, allowed: Mask | None = None) -> None:
        self.problem = problem
        self.tally = tally or Tally()
        self.exact = Exact(problem, self.tally)
        self.limits = problem.choices.limits
        self.all = np.ones(len(problem.option_plain), dtype=bool) if allowed is None else allowed
        pump = slice(problem.option_at[problem.pump], problem.option_at[problem.pump + 1])
        self.noise = np.full(len(self.all), -np.inf)
        self.noise[pump] = [option.noise_dba for option in problem.layers[problem.pump].options]
        self.best_so_far: Found | None = None
        self._flows: BundleFlows | None = None
        self._delivered: dict[tuple[tuple[int, ...], tuple[int, ...]], Delivered] = {}
        self.budget = NO_BUDGET if self.limits.budget is None else self.limits.budget

    def with_budget(self, budget: int) -> "Seeker":
        """The same search for another budget (minor units); the problem and all that was learnt about it is shared."""
        other = copy(self)
        other.budget = budget
        other.best_so_far = None
        return other

    def inside(self, allowed: Mask) -> "Seeker":
        """The same search among the ``allowed`` options only; the problem and all that was learnt about it is shared."""
        other = copy(self)
        other.all = allowed
        other.best_so_far = None
        return other

    @property
    def unsure(self) -> bool:
        """Whether some price was not found out in full, so that nothing is proved."""
        return any(shop.unsure for shop in self.problem.shops)

    # -- what a bundle delivers ------------------------------------------------------------------------------------

    def delivered(self, bundle: Bundle) -> Delivered:
        """Operating point of a bundle, and the ceiling that a throttle would have to hold it to."""
        path = bundle.path
        key = (path.options, path.joints)
        if key not in self._delivered:  # steps of a ladder come upon the same bundles again and again
            self._delivered[key] = self.delivered_by(path.options, path.joints)
        return self._delivered[key]

    def delivered_by(self, options: Sequence[int], chains: Sequence[int]) -> Delivered:
        """The same of a bundle by its flat rows of options and joints."""
        rows, joints = list(options), list(chains)
        heads = self.problem.heads.rows(rows)
        joint_quadratic = float(self.problem.joint_quadratic[joints].sum())

        def short_of(flow: float) -> float:
            return float(heads.at(flow).sum()) + joint_quadratic * flow * flow

        own = _root(short_of, self._near(rows, joints))
        ceilings = [(own, "")]
        ceilings += [(float(self.problem.high[row]), self._window_name(row)) for row in rows]
        ceilings.append((self.limits.flow_max_m3s, "flow_max_m3s"))
        lowest, name = min(ceilings, key=lambda pair: pair[0])
        suction = self._suction_flow(rows, joints, lowest)
        return Delivered(suction, own, "inlet_head_m") if suction < lowest else Delivered(lowest, own, name)

    def _near(self, rows: list[int], joints: list[int]) -> float:
        """About what a bundle with branches delivers by itself, where every look at one flow takes long; 0: that is not asked."""
        if self.problem.heads.splits is None:
            return 0.0
        from optimizer.search.bundle_flows import BundleFlows

        if self._flows is None:
            self._flows = BundleFlows(self.problem)
        try:
            return float(self._flows.own(np.array([rows]), np.array([joints]))[0])
        except ArithmeticError:  # a jet or a throttle makes the loss too uneven for secants
            return 0.0

    def _window_name(self, row: int) -> str:
        return self.problem.choices.rig.positions[self.problem.option(row).position].name

    def _suction_flow(self, rows: list[int], joints: list[int], top: float) -> float:
        """Largest flow up to ``top`` at which the pump's inlet has the pressure it needs."""
        pump = self.problem.pump
        heads = self.problem.heads.rows(rows[:pump])
        quadratic = float(self.problem.joint_quadratic[joints[: pump + 1]].sum())
        place = rows[pump] - self.problem.option_at[pump]

        def missing(flow: float) -> float:
            room = self.exact.suction(flow)
            if room is None:
                return -1.0
            return float(heads.at(flow).sum()) + quadratic * flow * flow - float(room[place])

        if missing(top) <= 0.0:
            return top
        if missing(0.0) >= 0.0:
            return 0.0
        return bracketed(missing, 0.0, top, xtol=1e-15, rtol=1e-14)

    # -- most flow -------------------------------------------------------------------------------------------------

    def most_flow(self, start_m3s: float = 0.0, roof: Found | None = None, held: Found | None = None) -> Outcome:
        """The bundle that delivers most within the budget and all limits.

        What is known already only saves rounds: ``start_m3s``, a flow that some bundle of the problem delivers within limits;
        the ``roof``, one that delivers the most of all within them, a throttle or not; ``held``, one that can be held to what
        it delivers. Ctrl-C ends the search with the best so far, as stopped.
        """
        if held is not None:
            self._note(held)
        try:
            found = self._top(start_m3s, roof, held)
            if found is not None:
                found = self._finished(found)
        except KeyboardInterrupt:
            found, self.tally.stopped, self.tally.interrupted = self.best_so_far, True, True
        bound = 0.0 if found is None else found.flow_m3s
        self.tally.stopped |= self.unsure
        if self.tally.stopped:
            found = self._best_known(found)
            bound = 0.0 if found is None else found.flow_m3s
            return Outcome(found, "stopped", max(bound, self.bound()), self.tally)
        return Outcome(found, "proved", bound, self.tally)

    def _best_known(self, found: Found | None) -> Found | None:
        """Of a stopped search what delivers most, whether it was met on the way or last."""
        known = self.best_so_far
        if found is None or known is None:
            return known if found is None else found
        return known if known.flow_m3s > found.flow_m3s + RESOLUTION_M3S else found

    def _top(self, start_m3s: float, known: Found | None = None, top: Found | None = None) -> Found | None:
        """One that delivers the most of the bundles that count.

        Where the best of all runs above a ceiling, these are first those with a throttle at one of the places behind the pump,
        each in turn; then, unless one of them delivers as much as any bundle could, those that stay under by themselves.
        """
        best = self._climb(self.all, None, start_m3s) if known is None else known
        if best is None or not self._lacks_throttle(best):
            return best
        self.tally.by_loss, roof = True, best.flow_m3s
        for mask in self.throttle_masks():
            if top is None or top.flow_m3s < roof * (1 - WITHIN):
                found = self._climb(mask, None, roof, top)
                top = found if found is not None and (top is None or found.flow_m3s > top.flow_m3s) else top
        if top is not None and top.flow_m3s >= roof * (1 - WITHIN):
            return top
        return self._climb(self.unthrottled(), self._free(roof), known=top)

    def _climb(self, allowed: Mask, free: Free | None = None, start_m3s: float = 0.0, known: Found | None = None) -> Found | None:
        """Climb to the most flow; then, while a device in the winner would get too little, rule out such devices
        (nothing delivers more than the winner) and climb again. ``known`` is one that counts: it is the answer unless one of the
        allowed delivers more."""
        low = self.problem.low
        for _ in range(MOST_ROUNDS):
            found = self._rise(allowed, free, start_m3s, known)
            if found is None or not np.any(low[list(found.bundle.path.options)] > found.flow_m3s * (1 + WITHIN)):
                return found
            allowed, start_m3s = allowed & (low <= found.flow_m3s), 0.0
        raise RuntimeError("ruling out device windows did not end")

    def _rise(self, allowed: Mask, free: Free | None, start_m3s: float, known: Found | None) -> Found | None:
        """Climb until no bundle delivers more.

        Asked at the flow of the best so far, a round names the bundle with most head to spare, and its operating point is the
        next flow (a Newton step). A bundle whose flow the pump's inlet holds back says little about others, so the next
        question is then put a stride higher, and when that fails, in turn just above what is possible, which mostly ends it, and
        half-way to what is not, until the two are `FINE_M3S` apart. Half-way it goes too where a question is too hard to be
        answered in a hurry: nearer the end there is less head to spare, so fewer bundles to tell apart.
        """
        best, floor = known, max(self.limits.flow_min_m3s, TRICKLE_M3S)
        low, stride, hard, near = max(floor, min(start_m3s, self.limits.flow_max_m3s) * (1 - 1e-9)), 0.0, 0.0, True
        if known is not None:
            low = max(floor, known.flow_m3s)
        high = math.inf if free is None else free.top_m3s * (1 + 2 * WITHIN)
        for step in range(MOST_ROUNDS):
            if best is not None and (low >= self.limits.flow_max_m3s * (1 - WITHIN) or high - low <= FINE_M3S):
                return best
            if hard > 0.0 and math.isinf(high):
                high = self.bound(allowed)
            near = not near and stride > 0.0 and math.isfinite(high) and hard == 0.0
            trial = low + 0.99 * FINE_M3S if near else self._next_trial(low, high, stride, hard)
            strictly, early = best is not None and trial == low, step < HURRIED_ROUNDS
            try:
                bundle = self._better(trial, strictly, allowed, free, early, early and trial != hard)
            except TooHard:
                hard = trial
                continue
            if trial == hard or bundle is not None:
                hard = 0.0
            if bundle is None and best is None and low > floor:
                low = floor
            elif bundle is None and trial > low:
                high = trial
            elif bundle is None:
                return best
            else:
                found = Found(bundle, self.delivered(bundle))
                held_back = found.delivered.held_by == "inlet_head_m" or found.flow_m3s <= low * (1 + WITHIN)
                stride = max(2.0 * stride, 0.01 * low) if held_back else 0.0
                if best is None or found.flow_m3s > best.flow_m3s:
                    best = found
                    self._note(best)
                low = max(low, trial, found.flow_m3s)
        raise RuntimeError("the climb did not end")

    def _next_trial(self, low: float, high: float, stride: float, hard: float) -> float:
        """The flow to ask about next: what was ``hard`` once more where little is left above it, else half-way to ``high``."""
        if hard > 0.0:
            return hard if high - hard <= NARROW * high else 0.5 * (hard + high)
        if stride > 0.0:
            return min(low + stride, 0.5 * (low + high) if math.isfinite(high) else math.inf, self.limits.flow_max_m3s)
        return low

    def _better(
        self, flow: float, strictly: bool, allowed: Mask, free: Free | None, any_will_do: bool, hurried: bool
    ) -> Bundle | None:
        """A bundle that can deliver a flow, ``strictly``: and more. Raises TooHard in a hurry."""
        roomy = self.problem.high > flow * (1 + WITHIN) if strictly else self.problem.high >= flow * (1 - WITHIN)
        limit = -4e-10 if strictly else 0.0
        return self.exact.least_loss(flow, self.budget, allowed & roomy, limit, free, any_will_do, hurried)

    def _note(self, found: Found) -> None:
        """Remember the best bundle that could be the answer, in case the search is stopped."""
        low = self.problem.low[list(found.bundle.path.options)]
        meets = not self._lacks_throttle(found) and not np.any(low > found.flow_m3s * (1 + WITHIN))
        if meets and (self.best_so_far is None or found.flow_m3s > self.best_so_far.flow_m3s):
            self.best_so_far = found
            self.tally.flow_m3s = found.flow_m3s

    def _finished(self, top: Found) -> Found:
        """Of the bundles that count and are as good as ``top`` (to the resolution), the cheapest, then quietest, then roomiest.

        The first of all bundles as good is the first of those that count if it is one of them.
        """
        target = self._as_good_as(top)
        first = self._cheapest(target, [self.all], most_m3s=top.flow_m3s)
        if first is not None and self._lacks_throttle(first):
            self.tally.by_loss = True
            first = self._cheapest_held(target, top.flow_m3s)
        return top if first is None else first

    def _as_good_as(self, found: Found) -> float:
        """The least flow that is as good as that of a bundle."""
        return max(found.flow_m3s - RESOLUTION_M3S, self.limits.flow_min_m3s, TRICKLE_M3S)

    def _preferred(self, target: float, budget: int, allowed: Mask, free: Free | None) -> Found | None:
        """The cheapest bundle that delivers ``target``; of these the quietest, then the one with most head to spare."""
        problem = self.problem
        mask = allowed & (problem.high >= target * (1 - WITHIN)) & (problem.low <= target * (1 + WITHIN))
        cheapest = self.exact.least_price(target, budget, mask, free)
        if cheapest is None:
            return None
        price, quietest = cheapest.price, cheapest
        for _ in range(len(problem.layers[problem.pump].options)):
            quieter = mask & (self.noise < self._noise_of(quietest) - 1e-9)
            bundle = self.exact.least_price(target, price, quieter, free)
            if bundle is None:
                break
            quietest = bundle
        mask = mask & (self.noise <= self._noise_of(quietest) + 1e-9)
        roomiest = self.exact.least_loss(target, price, mask, 0.0, free) or quietest
        return Found(roomiest, self.delivered(roomiest))

    def _noise_of(self, bundle: Bundle) -> float:
        return float(self.noise[bundle.path.options[self.problem.pump]])

    def _order(self, found: Found) -> tuple[int, float, float]:
        return (found.bundle.price, self._noise_of(found.bundle), -found.flow_m3s)

    # -- throttles -------------------------------------------------------------------------------------------------

    def _lacks_throttle(self, found: Found) -> bool:
        if found.delivered.own_m3s <= found.flow_m3s * (1 + 1e-9):
            return False
        return not self.problem.throttles[list(found.bundle.path.options[self.problem.pump + 1 :])].any()

    def _free(self, top_m3s: float) -> Free:
        """Asks for what stays under every ceiling by itself, where nothing delivers more than ``top_m3s``."""
        known: dict[tuple[tuple[int, ...], tuple[int, ...]], bool] = {}

        def stays_under(bundle: Bundle) -> bool:
            key = (bundle.path.options, bundle.path.joints)
            if key not in known:
                known[key] = self._stays_under(bundle)
            return known[key]

        return Free(top_m3s, stays_under)

    def _roof(self, most_m3s: float) -> float:
        """A flow that no affordable bundle that counts exceeds."""
        return self.bound() if math.isinf(most_m3s) else most_m3s

    def unthrottled(self) -> Mask:
        """All options but those that can throttle behind the pump, there or in the joint in front of them."""
        mask = self.all.copy()
        for place in range(self.problem.pump + 1, len(self.problem.layers)):
            part = slice(self.problem.option_at[place], self.problem.option_at[place + 1])
            mask[part] &= ~self.problem.throttles[part]
        return mask

    # -- least price -----------------------------------------------------------------------------------------------

    def least_price(self, target_m3s: float) -> Outcome:
        """The cheapest bundle that delivers ``target_m3s``; of these the quietest, then the one with most head to spare."""
        target = max(target_m3s, self.limits.flow_min_m3s, TRICKLE_M3S)
        if target > self.limits.flow_max_m3s * (1 + WITHIN):
            return Outcome(None, "proved", 0.0, self.tally)
        found = None
        try:
            found = self._cheapest(target, [self.all])
            if found is not None and self._lacks_throttle(found):
                self.tally.by_loss = True
                found = self._cheapest_held(target, self.limits.flow_max_m3s)
        except KeyboardInterrupt:
            found, self.tally.stopped, self.tally.interrupted = self.best_so_far, True, True
        self.tally.stopped |= self.unsure
        return Outcome(found, "stopped" if self.tally.stopped else "proved", target, self.tally)

    def _cheapest_held(self, target: float, most_m3s: float) -> Found | None:
        """The cheapest of the bundles that count, none of which delivers more than ``most_m3s``."""
        held = self._cheapest(target, self.throttle_masks(), most_m3s=most_m3s)
        roof = self._roof(most_m3s)
        seeker = self if held is None else self.with_budget(held.bundle.price)
        free = seeker._cheapest(target, [self.unthrottled()], self._free(roof), roof)
        if free is None or held is None:
            return held if free is None else free
        return free if self._order(free)[:2] < self._order(held)[:2] else held

    def _cheapest(self, target: float, masks: list[Mask], free: Free | None = None, most_m3s: float = math.inf) -> Found | None:
        """The cheapest bundle that delivers a target. A device that needs more flow is tried at the flow that it needs."""
        most = min(most_m3s, self.limits.flow_max_m3s) * (1 + WITHIN)
        floors = sorted({low for low in self.problem.low.tolist() if target < low <= most})
        best = None
        for mask, flow in product(masks, (target, *floors)):
            found = self._preferred(flow, self.budget, mask, free)
            if found is not None and (best is None or self._order(found) < self._order(best)):
                best = found
                if free is not None or not self._lacks_throttle(found):
                    self.best_so_far = found
        return best

    def _stays_under(self, bundle: Bundle) -> bool:
        delivered = self.delivered(bundle)
        return delivered.own_m3s <= delivered.flow_m3s * (1 + 1e-9)

    def throttle_masks(self) -> list[Mask]:
        """For each place on the outlet side where something can throttle, there or in the joint in front of it: all options, but
        of that place those that do."""
        masks = []
        for place in range(self.problem.pump + 1, len(self.problem.layers)):
            part = slice(self.problem.option_at[place], self.problem.option_at[place + 1])
            throttling = self.problem.throttles[part]
            if throttling.any():
                mask = self.all.copy()
                mask[part] &= throttling
                masks.append(mask)
        return masks

    def can_deliver(self, target_m3s: float) -> bool:
        """Whether any bundle delivers ``target_m3s`` within the budget and all limits: `least_price` finds one if and only if so,
        but here the first one is enough, of whatever price."""
        target = max(target_m3s, self.limits.flow_min_m3s, TRICKLE_M3S)
        if target > self.limits.flow_max_m3s * (1 + WITHIN):
            return False
        found = self._any(target, [self.all])
        if found is None or not self._lacks_throttle(found):
            return found is not None
        if self._any(target, self.throttle_masks()) is not None:
            return True
        return self._any(target, [self.unthrottled()], self._free(self._roof(self.limits.flow_max_m3s))) is not None

    def _any(self, target: float, masks: list[Mask], free: Free | None = None) -> Found | None:
        """Some bundle that delivers a flow, or the flow that a device in it needs beyond that."""
        problem = self.problem
        floors = sorted({low for low in problem.low.tolist() if target < low <= self.limits.flow_max_m3s})
        for mask, flow in product(masks, (target, *floors)):
            roomy = mask & (problem.high >= flow * (1 - WITHIN)) & (problem.low <= flow * (1 + WITHIN))
            if free is None:
                bundle = self.exact.some(flow, self.budget, roomy)
            else:
                bundle = self.exact.least_loss(flow, self.budget, roomy, 0.0, free, any_will_do=True)
            if bundle is not None:
                return Found(bundle, self.delivered(bundle))
        return None

    def least_price_with(self, allowed: Mask) -> Found | None:
        """The cheapest bundle that meets the limits using only the allowed options, ceilings held or not."""
        return self._cheapest(max(self.limits.flow_min_m3s, TRICKLE_M3S), [allowed])

    def most_flow_with(self, allowed: Mask) -> Found | None:
        """The bundle that delivers most using only the allowed options, ceilings held or not."""
        found = self._climb(allowed)
        if found is None:
            return None
        return self._cheapest(self._as_good_as(found), [allowed], most_m3s=found.flow_m3s) or found

    # -- bounds and results ----------------------------------------------------------------------------------------

    def bound(self, allowed: Mask | None = None, high_m3s: NDArray[np.float64] | None = None) -> float:
        """A flow that no affordable bundle can exceed, from shared-out prices alone: the least that they rule out, to a
        thousandth. ``high_m3s`` bounds the flow that each option (flat) allows further."""
        some = self.all if allowed is None else allowed
        high_of = self.problem.high if high_m3s is None else np.minimum(self.problem.high, high_m3s)

        def ruled_out(flow: float) -> bool:
            return self.exact.relaxed(flow, self.budget, some & (high_of >= flow)) > 0.0

        low = max(self.limits.flow_min_m3s, TRICKLE_M3S, 0.0 if self.best_so_far is None else self.best_so_far.flow_m3s)
        high = 1.5 * low + 1e-5
        while not ruled_out(high):
            low, high = high, 1.5 * high
        while high - low > 1e-3 * high:
            middle = 0.5 * (low + high)
            low, high = (low, middle) if ruled_out(middle) else (middle, high)
        return min(high, self.limits.flow_max_m3s)

    def reach(self) -> float:
        """A flow that no affordable bundle exceeds within the limits: what the one delivers that delivers most, whether a
        throttle can hold it there or not; where that is too much to find out, a bound."""
        found = self._climb(self.all)
        if self.tally.stopped:
            return self.bound()
        return 0.0 if found is None else found.flow_m3s

    def options_of(self, bundle: Bundle) -> tuple[Option, ...]:
        """The options of a bundle, position by position."""
        return tuple(self.problem.option(row) for row in bundle.path.options)


def by_itself(seeker: Seeker, ask: Callable[[], Outcome]) -> Outcome:
    """An answer of a seeker, its status telling of this search only: one that was stopped before does not count against it.

    The tally of the seeker still says so when any search was stopped.
    """
    tally = seeker.tally
    before, tally.stopped = tally.stopped, False
    outcome = ask()
    tally.stopped = tally.stopped or before
    return outcome


def _root(short_of: Callable[[float], float], near: float = 0.0) -> float:
    """The flow at which heads add up to nothing (they rise with it), maybe ``near`` one; 0 when they are short at no flow."""
    low, high = near * (1 - NEARLY), near * (1 + NEARLY)
    if near > 0.0 and short_of(low) <= 0.0 < short_of(high):
        return bracketed(short_of, low, high, xtol=1e-16, rtol=1e-14)
    if short_of(0.0) >= 0.0:
        return 0.0
    top = 1e-4
    for _ in range(80):
        if short_of(top) > 0.0:
            return bracketed(short_of, 0.0, top, xtol=1e-16, rtol=1e-14)
        top *= 2.0
    raise ValueError("the loop loses nothing at any flow")
