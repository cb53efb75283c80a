"""The buying order of a chosen bundle: which change to buy first, second, and so on, when the money comes bit by bit.

Changes whose own parts come in one purchase (a pair, a coil, a kit) form a lot, and so do all changes in the branches of one
position; lots are bought one after another. Everything that is dirty is cleaned and what can be adjusted for nothing is adjusted
first. After each purchase the loop is the best that can be made of what was bought: parts that do not fit yet, or do no good yet,
wait. Where an old part meets a new one the joint is closed in the cheapest way, pieces of the final bill first. Pieces that
the final bill does not hold are thrown away in the end. When each purchase is paid, says `paying`.

The best order is that with the fewest in-between loops that break a limit; of these the one that misses the least water while
the money is put aside at a steady rate: the sum over all purchases of what the bundle will deliver in the end less what is
delivered while saving up, times the price; of these the one that throws least away.

Where the pieces for no such order can be had, everything is bought at once.

This is exact: what a step costs, and what it delivers, hangs only on which lots are bought and which purchases, of the bill and
others, are paid, so a dynamic programme over exactly these states sees every order. Only for more
lots than `MOST_EXACT` a greedy order is given, as ``stopped``, and after Ctrl-C too, as ``interrupted``.
"""

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from optimizer.loop.kinds import parts_of
from optimizer.model.catalog import Catalog
from optimizer.model.items import Item
from optimizer.model.limits import Limits
from optimizer.model.options import ADJUST, CLEAN, KEEP, Chain, Option
from optimizer.model.parts import Part, Tool
from optimizer.model.rig import Rig
from optimizer.search.best import RESOLUTION_M3S, WITHIN, Found, Seeker
from optimizer.search.choices import Choices, broken_by_itself, choices
from optimizer.search.exact import Bundle
from optimizer.search.front import asked_alone
from optimizer.search.layers import Problem, build
from optimizer.search.packing import Purchase
from optimizer.search.paying import Paid, StepPayment, joint_items, own_items, serves
from optimizer.search.pricing import Cover
from optimizer.search.rounds import Path

MOST_EXACT = 12
"""So many lots are ordered exactly: 4096 loops at most."""

NOT_YET = ("budget", "opening_m", "noise_dba", "power_w", "canister_rating", "bio_area_m2", "mechanical_stage", "mature_media")
"""Limits that what is there now may break: its parts are options here all the same."""

WINDOWS = ("device_windows", "guard_speed_ms", "jet_speed_ms")
"""Limits by which no flow may suit what is in the branches now."""


@dataclass(frozen=True, slots=True)
class Loop:
    """A loop between today's and the final one: what it delivers and whether it breaks a limit. ``needs``: its joints' pieces."""

    found: Found
    flow_m3s: float
    breaks: bool
    needs: tuple[Item, ...]
    fitted: int


@dataclass(frozen=True, slots=True)
class BuyingStep:
    """One purchase: the positions it changes, the purchases of the final bill and the other products paid now (indices in the
    shop), their price in minor units, that of the others alone, the loop after it, and the positions that have to wait."""

    places: tuple[int, ...]
    purchases: tuple[Purchase, ...]
    extras: tuple[int, ...]
    price: int
    extras_price: int
    loop: Loop
    waiting: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Order:
    """``start`` is the loop of today, cleaned and adjusted for nothing. ``thrown`` is what the products cost that are not in the
    final bill; ``missed`` the water missed, in m3/s times minor units. ``problem`` holds the options and joints of all loops.
    ``status``: proved, stopped (greedy, for too many lots) or interrupted (greedy, after Ctrl-C)."""

    problem: Problem
    start: Loop
    steps: tuple[BuyingStep, ...]
    thrown: int
    missed: float
    status: str


def buying_order(seeker: Seeker, found: Found, hurried: bool = False) -> Order:
    """The best order in which to buy the changes of a bundle that ``seeker`` found; ``hurried``: a greedy one, as interrupted."""
    plan = _Plan.of(seeker, found)
    status = "proved" if len(plan.lots) <= MOST_EXACT else "stopped"
    status = "interrupted" if hurried else status
    try:
        sequence = _best_sequence(plan) if status == "proved" else _greedy(plan)
    except KeyboardInterrupt:
        sequence, status = _greedy(plan), "interrupted"
    if sequence is None:
        plan = replace(plan, lots=(tuple(sorted(place for lot in plan.lots for place in lot)),))
        sequence = (0,)
    return _told(plan, sequence, status)


# -- the loops in between ------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Plan:
    """Today's and the final options of every position as a small problem, the lots, and the final bill."""

    seeker: Seeker
    today: tuple[Option, ...]
    final: tuple[Option, ...]
    closed: tuple[Chain, ...]
    lots: tuple[tuple[int, ...], ...]
    till: StepPayment
    needed: tuple[Item, ...]
    own_paid: tuple[int, ...] = field(init=False)
    pieces: Counter[Item] = field(init=False)
    _loops: dict[int, Loop | None] = field(init=False, default_factory=dict)
    _best: dict[int, Loop] = field(init=False, default_factory=dict)
    _extra: dict[tuple[Item, ...], int | None] = field(init=False, default_factory=dict)
    _ways: list[dict[tuple[int, int], list[int]]] = field(init=False)

    def __post_init__(self) -> None:
        self.own_paid = tuple(_bits(n for n, places in enumerate(self.till.serves) if places & set(lot)) for lot in self.lots)
        self.pieces = Counter(_joint_pieces(self.final, self.closed))
        self._ways = []
        for layer in self.seeker.problem.layers:
            ways: dict[tuple[int, int], list[int]] = {}
            for n, pair in enumerate(zip(layer.joint_from.tolist(), layer.joint_to.tolist(), strict=True)):
                ways.setdefault(pair, []).append(n)
            self._ways.append(ways)

    @classmethod
    def of(cls, seeker: Seeker, found: Found) -> "_Plan":
        """Set up the small problem of a bundle."""
        menu = seeker.problem.choices
        final = seeker.options_of(found.bundle)
        today = _today(seeker)
        changed = [place for place, pair in enumerate(zip(today, final, strict=True)) if _differs(*pair)]
        pairs = tuple((today[p], final[p]) if p in changed else (final[p],) for p in range(len(final)))
        small = Seeker(build(replace(menu, options=pairs, limits=menu.limits.without("budget"))))
        bill = found.bundle.cover.purchases
        closed = tuple(seeker.problem.joint(row) for row in found.bundle.path.joints)
        served = serves(final, bill)
        own = [item for option in final for item in own_items(option)]
        chains = (item for layer in small.problem.layers for chain in layer.joints for item in chain.items)
        inside = (item for options in pairs for option in options for item in joint_items(option))
        return cls(
            seeker=small,
            today=today,
            final=final,
            closed=closed,
            lots=_lots(changed, served),
            till=StepPayment(menu.shop, bill, tuple(map(frozenset, served)), frozenset((*chains, *inside)), frozenset(own)),
            needed=(*own, *_joint_pieces(final, closed)),
        )

    @property
    def full(self) -> int:
        """All lots, as a set of bits."""
        return (1 << len(self.lots)) - 1

    def loop(self, fitted: int) -> Loop | None:
        """The loop with exactly these lots fitted; None when a joint cannot be closed, or no water flows."""
        if fitted not in self._loops:
            self._loops[fitted] = self._made(fitted)
        return self._loops[fitted]

    def _made(self, fitted: int) -> Loop | None:
        path = self._path(fitted)
        if path is None:
            return None
        problem = self.seeker.problem
        bundle = Bundle(path, Cover(0, ()), 0)
        delivered = self.seeker.delivered(bundle)
        throttled = problem.throttles[list(path.options[problem.pump + 1 :])].any()
        free = delivered.own_m3s > delivered.flow_m3s * (1 + 1e-9) and not throttled
        flow = delivered.own_m3s if free else delivered.flow_m3s
        if fitted and flow <= 0.0:
            return None
        menu = problem.choices
        options = [problem.option(row) for row in path.options]
        breaks = free or any(problem.low[row] > flow * (1 + WITHIN) for row in path.options)
        breaks = breaks or any(list(broken_by_itself(menu.rig, menu.limits, each)) for o in options for each in o.each)
        needs = tuple(sorted(_joint_pieces(options, [problem.joint(row) for row in path.joints])))
        made = Loop(Found(bundle, delivered), flow, breaks, needs, fitted)
        return None if self.extra(self.extras(made)) is None else made

    def _path(self, fitted: int) -> Path | None:
        """Through the small problem, each joint in the cheapest way; where both sides are final, as the bundle has it."""
        problem = self.seeker.problem
        new = {place for n, lot in enumerate(self.lots) if fitted >> n & 1 for place in lot}
        old = {place for lot in self.lots for place in lot} - new
        options, joints, state, settled = [], [], 0, True
        for place, layer in enumerate(problem.layers):
            wanted = self.today[place] if place in old else self.final[place]
            rows = [n for n, option in enumerate(layer.options) if option is wanted]
            ways = [(joint, row) for row in rows for joint in self._ways[place].get((state, int(layer.entry[row])), ())]
            if not ways:
                return None
            both = settled and place not in old
            joint, row = min(ways, key=lambda way: self._dearness(layer.joints[way[0]], place, both))
            options.append(problem.option_at[place] + row)
            joints.append(problem.joint_at[place] + joint)
            state = int(layer.leave[row])
            settled = place not in old and (settled or wanted.is_there)
        return Path(0.0, 0.0, tuple(options), tuple(joints))

    def _dearness(self, chain: Chain, place: int, both_final: bool) -> tuple[bool, int, int, float, tuple[str, ...]]:
        alone = self.seeker.problem.shop.alone
        others = Counter(chain.items) - self.pieces
        return (
            both_final and chain != self.closed[place],
            sum(alone(item) or 0 for item in others.elements()),
            sum(alone(item) or 0 for item in chain.items),
            chain.quadratic,
            tuple(turned.part.id for turned in chain.adapters),
        )

    def best_loop(self, bought: int) -> Loop:
        """The best loop that can be made of the lots bought: limits kept, then most flow to the resolution, then least
        thrown away, then most fitted. With everything bought it is the final one."""
        if bought not in self._best:
            made = self.loop(bought)
            fewer = [self.best_loop(bought & ~(1 << n)) for n in range(len(self.lots)) if bought >> n & 1]
            whole = bought == self.full and made is not None
            self._best[bought] = made if whole and made is not None else self.better(made, *fewer)
        return self._best[bought]

    def better(self, *loops: Loop | None) -> Loop:
        """The best of some loops. Raises ValueError when there is none."""
        return min((loop for loop in loops if loop is not None), key=self._rank)

    def _rank(self, loop: Loop) -> tuple[bool, int, int, int, int]:
        flow = round(loop.flow_m3s / RESOLUTION_M3S)
        return (loop.breaks, -flow, self.extra(self.extras(loop)) or 0, -loop.fitted.bit_count(), loop.fitted)

    # -- what is paid ----------------------------------------------------------------------------------------------

    def extras(self, loop: Loop) -> tuple[Item, ...]:
        """Pieces in a loop's joints that the final bill does not hold."""
        return tuple(sorted((Counter(loop.needs) - self.pieces).elements()))

    def extra(self, items: tuple[Item, ...]) -> int | None:
        """What some pieces would add to the price of the final bill if all were bought together, by which loops that deliver
        the same are told apart; None when they cannot be had."""
        if items not in self._extra:
            shop = self.seeker.problem.shop
            plain, more = shop.cover(self.needed), shop.cover((*self.needed, *items))
            self._extra[items] = None if plain is None or more is None else more.price - plain.price
        return self._extra[items]

    def after(self, paid: Paid, bought: int, loop: Loop) -> Paid | None:
        """What is paid once a loop stands and some lots are bought; None when a piece cannot be had."""
        own, wanted = 0, list(loop.needs)
        for n, lot in enumerate(self.lots):
            if bought >> n & 1:
                own |= self.own_paid[n]
                wanted += [item for place in lot for item in own_items(self.final[place])]
        if bought == self.full:
            own = (1 << len(self.till.bill)) - 1
        return self.till.after(paid, own, wanted)

    def price(self, paid: Paid, bought: int) -> int:
        """Everything paid so far, in minor units; adjustments are paid when their lot is bought."""
        return self.till.price(paid) + sum(
            self.final[place].own_price for n, lot in enumerate(self.lots) if bought >> n & 1 for place in lot
        )


def _joint_pieces(options: Sequence[Option], joints: Sequence[Chain]) -> list[Item]:
    """What all joints need, those inside branches too."""
    between = [item for chain in joints for item in chain.items]
    return between + [item for option in options for item in joint_items(option)]


def _differs(today: Option, final: Option) -> bool:
    """True when there is something to buy or to do beyond what is done for nothing at the start."""
    if final.items or final.own_price:
        return True
    return [_what(option) for option in today.each] != [_what(option) for option in final.each]


def _what(option: Option) -> tuple[object, ...]:
    """What is done at a place; whether it is cleaned is left aside."""
    if option.change in (KEEP, CLEAN):
        return (option.place, KEEP)
    return (option.place, option.change, option.note, "" if option.part is None else option.part.id)


def _today(seeker: Seeker) -> tuple[Option, ...]:
    """What is there now, cleaned and adjusted as far as that costs nothing, whatever limits it breaks by itself."""
    menu = seeker.problem.choices
    rig, limits = replace(menu.rig, spares=()), menu.limits.without(*NOT_YET)
    tools = {part.id: part for part in parts_of(menu.shop.parts.values(), Tool)}
    here = _here(rig, limits, tools)
    if not all(here.options):
        # no flow suits all devices in the branches: they stand there all the same, and any loop with them breaks a limit
        loose = _here(rig, limits.without(*WINDOWS), tools).options
        unsuited = [tuple(replace(o, flow_min_m3s=math.inf, flow_max_m3s=math.inf) for o in some) for some in loose]
        here = replace(here, options=tuple(some or other for some, other in zip(here.options, unsuited, strict=True)))
    free = replace(here, options=tuple(tuple(_free(options)) for options in here.options))
    small = Seeker(build(free), seeker.tally)
    found = asked_alone(small).found
    return tuple(options[0] for options in free.options) if found is None else small.options_of(found.bundle)


def _here(rig: Rig, limits: Limits, tools: Mapping[str, Part]) -> Choices:
    """What can be done with what is there now; what needs one of the ``tools`` waits until it is bought."""
    return choices(rig, Catalog(parts=tools, products=()), limits)


def _free(options: Sequence[Option]) -> list[Option]:
    """What cleaning and adjusting for nothing can make of what is there, everything that can be cleaned being clean."""
    kept = [o for o in options if not o.own_price and all(each.change in (KEEP, CLEAN, ADJUST) for each in o.each)]
    cleaned = [sum(each.change != KEEP for each in option.each) for option in kept]
    most = [option for option, number in zip(kept, cleaned, strict=True) if number == max(cleaned)]
    return sorted(most, key=lambda option: option.change == ADJUST)


def _lots(changed: Sequence[int], serves: Sequence[set[int]]) -> tuple[tuple[int, ...], ...]:
    """Changed positions, together where one purchase serves them."""
    lots = [{place} for place in changed]
    for places in serves:
        joined = [lot for lot in lots if lot & places]
        if len(joined) > 1:
            lots = [lot for lot in lots if not lot & places] + [set().union(*joined)]
    return tuple(sorted(tuple(sorted(lot)) for lot in lots))


def _bits(numbers: Iterator[int]) -> int:
    bits = 0
    for number in numbers:
        bits |= 1 << number
    return bits


# -- orders --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Label:
    """How a state was reached: loops that broke a limit, water missed, and the lots in order."""

    broken: int
    missed: float
    order: tuple[int, ...]

    @property
    def rank(self) -> tuple[int, float, tuple[int, ...]]:
        """Less is better; sums of the same terms in another order are the same."""
        return (self.broken, round(self.missed * 3.6e6, 6), self.order)


def _best_sequence(plan: _Plan) -> tuple[int, ...] | None:
    """Every state once: sets of lots in an order in which each comes after its subsets. None: no order can be had."""
    states: list[dict[Paid, _Label]] = [{} for _ in range(plan.full + 1)]
    states[0][Paid()] = _Label(0, 0.0, ())
    for bought in range(plan.full):
        for paid, label in states[bought].items():
            for lot in range(len(plan.lots)):
                if not bought >> lot & 1:
                    step = _one_step(plan, bought, paid, label, lot)
                    if step is not None:
                        known = states[bought | 1 << lot].get(step[0])
                        if known is None or step[1].rank < known.rank:
                            states[bought | 1 << lot][step[0]] = step[1]
        if bought:
            states[bought].clear()
    ends = [(*label.rank[:2], plan.till.thrown(paid), label.order) for paid, label in states[plan.full].items()]
    return min(ends)[-1] if ends else None


def _one_step(plan: _Plan, bought: int, paid: Paid, label: _Label, lot: int) -> tuple[Paid, _Label] | None:
    """Buy one more lot; None when a piece that its loop needs cannot be had."""
    more = bought | 1 << lot
    loop = plan.best_loop(more)
    then = plan.after(paid, more, loop)
    if then is None:
        return None
    short = plan.best_loop(plan.full).flow_m3s - plan.best_loop(bought).flow_m3s
    missed = label.missed + short * (plan.price(then, more) - plan.price(paid, bought))
    broken = label.broken + (loop.breaks and more != plan.full)
    return then, _Label(broken, missed, (*label.order, lot))


def _greedy(plan: _Plan) -> tuple[int, ...] | None:
    """Always the lot that breaks no limit and gains most for its price; an answer for more lots than can be ordered exactly."""
    paid = Paid()
    order: tuple[int, ...] = ()
    bought, stands = 0, plan.loop(0)
    while bought != plan.full:
        ahead = []
        for lot in range(len(plan.lots)):
            if not bought >> lot & 1:
                more = bought | 1 << lot
                fitted = 0 if stands is None else stands.fitted
                loop = plan.better(stands, plan.loop(fitted | 1 << lot), plan.loop(more))
                then = plan.after(paid, more, loop)
                if then is not None:
                    cost = plan.price(then, more) - plan.price(paid, bought)
                    gain = loop.flow_m3s - (0.0 if stands is None else stands.flow_m3s)
                    ahead.append((loop.breaks, -gain / (cost + 1.0), lot, then, loop))
        if not ahead:
            return None
        _, _, lot, paid, stands = min(ahead, key=lambda step: step[:3])
        plan._best[bought | 1 << lot] = stands
        bought, order = bought | 1 << lot, (*order, lot)
    made = plan.loop(plan.full)
    if made is not None:
        plan._best[plan.full] = made
    return order


def _told(plan: _Plan, order: Sequence[int], status: str) -> Order:
    """The steps of an order, one after another."""
    paid = Paid()
    steps: list[BuyingStep] = []
    bought, missed = 0, 0.0
    start = plan.loop(0)
    if start is None:
        raise ValueError("the loop of today is not closed")
    for lot in order:
        more = bought | 1 << lot
        loop = plan.best_loop(more)
        then = plan.after(paid, more, loop)
        if then is None:
            raise ValueError("a piece of the order cannot be had")
        price = plan.price(then, more) - plan.price(paid, bought)
        missed += (plan.loop(plan.full) or loop).flow_m3s * price - (steps[-1].loop if steps else start).flow_m3s * price
        steps.append(
            BuyingStep(
                places=plan.lots[lot],
                purchases=tuple(p for n, p in enumerate(plan.till.bill) if (then.bits & ~paid.bits) >> n & 1),
                extras=tuple((Counter(dict(then.others)) - Counter(dict(paid.others))).elements()),
                price=price,
                extras_price=plan.till.thrown(then) - plan.till.thrown(paid),
                loop=loop,
                waiting=tuple(p for n, lot in enumerate(plan.lots) if (more & ~loop.fitted) >> n & 1 for p in lot),
            )
        )
        bought, paid = more, then
    return Order(plan.seeker.problem, start, tuple(steps), plan.till.thrown(paid), missed, status)
