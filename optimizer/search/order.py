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

Where suppliers charge postage or ask for a least order, every purchase is an order of its own (`parcels`), and several lots may
be bought in one, so that postage is paid once. Then the pieces for the time in between come from the suppliers of the final bill
and from the shop itself, and a loop that breaks a limit counts once for each lot that is saved for while it stands: buying
together is no way to count fewer. All in one purchase cost what the bundle does.

This is exact: what a step costs, and what it delivers, hangs only on which lots and which purchases, of the bill and others, are
paid before it and after it, so a dynamic programme over exactly these states sees every order. Only for more lots than
`MOST_EXACT` (`MOST_TOGETHER`) a greedy order is given, as ``stopped``, and after Ctrl-C too, as ``interrupted``.
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
from optimizer.search import suppliers
from optimizer.search.best import RESOLUTION_M3S, WITHIN, Found, Seeker
from optimizer.search.choices import Choices, broken_by_itself, choices
from optimizer.search.exact import Bundle
from optimizer.search.front import asked_alone
from optimizer.search.layers import Problem, build
from optimizer.search.packing import Purchase
from optimizer.search.parcels import Parcel, Parcels
from optimizer.search.paying import Paid, StepPayment, joint_items, own_items, serves
from optimizer.search.pricing import Cover
from optimizer.search.rounds import Path

MOST_EXACT = 12
"""So many lots are ordered exactly: 4096 loops at most."""

MOST_TOGETHER = 8
"""So many where several may be bought in one order: 6561 pairs of what is bought before and after."""

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
    shop), their price in minor units with postage, that of the others alone, the loop after it, the positions that have to wait,
    and what is ordered from each supplier."""

    places: tuple[int, ...]
    purchases: tuple[Purchase, ...]
    extras: tuple[int, ...]
    price: int
    extras_price: int
    loop: Loop
    waiting: tuple[int, ...]
    parcels: tuple[Parcel, ...] = ()


@dataclass(frozen=True, slots=True)
class Order:
    """``start`` is the loop of today, cleaned and adjusted for nothing. ``thrown`` is what the products cost that are not in the
    final bill, ``parted`` what the steps are charged by suppliers beyond what all at once would be; ``missed`` the water missed,
    in m3/s times minor units. ``problem`` holds the options and joints of all loops. ``status``: proved, stopped (greedy, for too
    many lots) or interrupted (greedy, after Ctrl-C)."""

    problem: Problem
    start: Loop
    steps: tuple[BuyingStep, ...]
    thrown: int
    missed: float
    status: str
    parted: int = 0


def buying_order(seeker: Seeker, found: Found, hurried: bool = False) -> Order:
    """The best order in which to buy the changes of a bundle that ``seeker`` found; ``hurried``: a greedy one, as interrupted."""
    plan = _Plan.of(seeker, found)
    most = MOST_TOGETHER if plan.parcels.charge else MOST_EXACT
    status = "proved" if len(plan.lots) <= most else "stopped"
    status = "interrupted" if hurried else status
    try:
        sequence = _best_sequence(plan) if status == "proved" else _greedy(plan)
    except KeyboardInterrupt:
        sequence, status = _greedy(plan), "interrupted"
    if sequence is None:
        plan = replace(plan, lots=(tuple(sorted(place for lot in plan.lots for place in lot)),))
        sequence = (1,)
    return _told(plan, sequence, status)


# -- the loops in between ------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Plan:
    """Today's and the final options of every position as a small problem, the lots, and the final ``cover``. What the ``till``
    pays for are its purchases without the spares, each order is charged by ``parcels``."""

    seeker: Seeker
    today: tuple[Option, ...]
    final: tuple[Option, ...]
    closed: tuple[Chain, ...]
    lots: tuple[tuple[int, ...], ...]
    cover: Cover
    till: StepPayment
    needed: tuple[Item, ...]
    parcels: Parcels = field(init=False)
    own_paid: tuple[int, ...] = field(init=False)
    pieces: Counter[Item] = field(init=False)
    _loops: dict[int, Loop | None] = field(init=False, default_factory=dict)
    _best: dict[int, Loop] = field(init=False, default_factory=dict)
    _extra: dict[tuple[Item, ...], int | None] = field(init=False, default_factory=dict)
    _ways: list[dict[tuple[int, int], list[int]]] = field(init=False)

    def __post_init__(self) -> None:
        self.own_paid = tuple(_bits(n for n, places in enumerate(self.till.serves) if places & set(lot)) for lot in self.lots)
        self.pieces = Counter(_joint_pieces(self.final, self.closed))
        self.parcels = Parcels(self.till.shop)
        self._ways = []
        for layer in self.seeker.problem.layers:
            ways: dict[tuple[int, int], list[int]] = {}
            for n, pair in enumerate(zip(layer.joint_from.tolist(), layer.joint_to.tolist(), strict=True)):
                ways.setdefault(pair, []).append(n)
            self._ways.append(ways)

    @classmethod
    def of(cls, seeker: Seeker, found: Found) -> "_Plan":
        """Set up the small problem of a bundle."""
        menu, cover = seeker.problem.choices, found.bundle.cover
        if menu.ways:  # the joints of the bundle are those of its way to order
            menu = menu.ways[int(seeker.problem.option_shop[found.bundle.path.options[0]])]
        shop = replace(menu.shop, order=suppliers.Order(shut=menu.shop.order.shut))
        final = seeker.options_of(found.bundle)
        today = _today(seeker)
        changed = [place for place, pair in enumerate(zip(today, final, strict=True)) if _differs(*pair)]
        pairs = tuple((today[p], final[p]) if p in changed else (final[p],) for p in range(len(final)))
        small = Seeker(build(replace(menu, options=pairs, limits=menu.limits.without("budget"))))
        bill = tuple(purchase for purchase in cover.purchases if not purchase.spare)
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
            cover=cover,
            till=StepPayment(shop, bill, tuple(map(frozenset, served)), frozenset((*chains, *inside)), frozenset(own)),
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
        alone = self.till.shop.alone
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
            shop = self.till.shop
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

    def charged(self, before: Paid, after: Paid, group: int) -> tuple[float, tuple[Parcel, ...]]:
        """What the purchase of some lots (bits) costs with its postage, in minor units (infinite: nothing is sent for so little),
        and its parcels; adjustments are paid when their lot is bought."""
        goods = self.till.goods(before, after)
        own = sum(self.final[place].own_price for place in self.places(group))
        if group == self.full and not after.others:
            return own + self.cover.price, self._at_once(goods)
        more, parcels = self.parcels.sent(goods)
        return own + sum(goods.values()) + more, parcels

    def _at_once(self, goods: Mapping[str, int]) -> tuple[Parcel, ...]:
        """The parcels of the final bill."""
        spares: dict[str, tuple[Purchase, ...]] = {}
        sums = dict(goods)
        for each in (each for each in self.cover.purchases if each.spare):
            product = self.till.shop.products[each.product]
            spares[product.supplier] = (*spares.get(product.supplier, ()), each)
            sums[product.supplier] = sums.get(product.supplier, 0) + each.price(product)
        postage = dict(self.cover.postage)
        known = ((name, sum_) for name, sum_ in sorted(sums.items()) if name in self.parcels.suppliers)
        return tuple(Parcel(name, sum_, postage.get(name, 0), spares.get(name, ())) for name, sum_ in known)

    def places(self, group: int) -> tuple[int, ...]:
        """The positions of some lots (bits)."""
        return tuple(place for n, lot in enumerate(self.lots) if group >> n & 1 for place in lot)

    def groups(self, bought: int) -> Iterator[int]:
        """What can be bought next, as sets of lots (bits): one lot, or where suppliers charge several."""
        left = self.full & ~bought
        if not self.parcels.charge:
            yield from (1 << n for n in range(len(self.lots)) if left >> n & 1)
            return
        group = left
        while group:
            yield group
            group = (group - 1) & left


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
    """How a state was reached: loops that broke a limit, water missed, and the lots of each purchase (bits) in order."""

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
            for group in plan.groups(bought):
                step = _one_step(plan, bought, paid, label, group)
                if step is not None:
                    known = states[bought | group].get(step[0])
                    if known is None or step[1].rank < known.rank:
                        states[bought | group][step[0]] = step[1]
        if bought:
            states[bought].clear()
    ends = [(*label.rank[:2], plan.till.thrown(paid), label.order) for paid, label in states[plan.full].items()]
    return min(ends)[-1] if ends else None


def _one_step(plan: _Plan, bought: int, paid: Paid, label: _Label, group: int) -> tuple[Paid, _Label] | None:
    """Buy some lots more; None when a piece that their loop needs cannot be had, or when nothing is sent for so little."""
    more = bought | group
    then = plan.after(paid, more, plan.best_loop(more))
    if then is None:
        return None
    price, _ = plan.charged(paid, then, group)
    if math.isinf(price):
        return None
    stands = plan.best_loop(bought)
    missed = label.missed + (plan.best_loop(plan.full).flow_m3s - stands.flow_m3s) * price
    broken = label.broken + stands.breaks * group.bit_count()
    return then, _Label(broken, missed, (*label.order, group))


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
                cost = math.inf if then is None else plan.charged(paid, then, 1 << lot)[0]
                if then is not None and math.isfinite(cost):
                    gain = loop.flow_m3s - (0.0 if stands is None else stands.flow_m3s)
                    ahead.append((loop.breaks, -gain / (cost + 1.0), lot, then, loop))
        if not ahead:
            return None
        _, _, lot, paid, stands = min(ahead, key=lambda step: step[:3])
        plan._best[bought | 1 << lot] = stands
        bought, order = bought | 1 << lot, (*order, 1 << lot)
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
    for group in order:
        more = bought | group
        loop = plan.best_loop(more)
        then = plan.after(paid, more, loop)
        if then is None:
            raise ValueError("a piece of the order cannot be had")
        charged, parcels = plan.charged(paid, then, group)
        price = int(charged)
        missed += (plan.loop(plan.full) or loop).flow_m3s * price - (steps[-1].loop if steps else start).flow_m3s * price
        bill = tuple(p for n, p in enumerate(plan.till.bill) if (then.bits & ~paid.bits) >> n & 1)
        steps.append(
            BuyingStep(
                places=tuple(sorted(plan.places(group))),
                purchases=(*bill, *(spare for parcel in parcels for spare in parcel.spares)),
                extras=tuple((Counter(dict(then.others)) - Counter(dict(paid.others))).elements()),
                price=price,
                extras_price=plan.till.thrown(then) - plan.till.thrown(paid),
                loop=loop,
                waiting=plan.places(more & ~loop.fitted),
                parcels=parcels,
            )
        )
        bought, paid = more, then
    own = sum(plan.final[place].own_price for place in plan.places(plan.full))
    thrown = plan.till.thrown(paid)
    parted = sum(step.price for step in steps) - plan.cover.price - own - thrown if steps else 0
    return Order(plan.seeker.problem, start, tuple(steps), thrown, missed, status, parted)
