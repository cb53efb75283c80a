"""The cheapest purchases where goods of some suppliers must come to a sum, their floor, if anything is ordered there.

Below a floor more may be bought than is needed: other products for the same items, or pieces that serve nothing (spares in the
drawer). So what is asked for is the least price of all purchases that serve the items and reach the floors, whatever they hold
besides. It is found by going through the items one by one, from the states with the least bound on the whole price on (as in
A*). At the end the least sum of real products that makes up for what is lacking is known from all sums that products of the
supplier can come to.

The bound is a dual one. Say which suppliers anything is ordered from in the end. Their goods to come cost no less than a share m
of what their floors lack and 1 - m of their prices, so the rest costs at least m times what is lacking and what its items come to
by rates where these suppliers ask 1 - m of their prices and the others, of whom nothing is ordered, serve nothing; less what is
left of open packs, by the same rates. That holds for every m, and of all sets of suppliers that still can be the least counts. A
purchase never takes more off such a bound than it costs: its goods as much as m of its price, its pieces no more than the rest.
"""

import heapq
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from optimizer.model.catalog import Product
from optimizer.model.items import DIVISIBLE, Item, capacity, hose_item
from optimizer.search.packing import (
    EPS,
    IMPOSSIBLE,
    Open,
    Packed,
    Purchase,
    Stock,
    in_stock,
    last_alike,
    of_use,
    with_more,
)

if TYPE_CHECKING:
    from optimizer.search.pricing import Shop

MOST_STATES = 20_000
"""After so many states the cheapest order without regard to floors, filled up, is taken, and the search is no proof any more."""

MIXES = (0.0, 0.5, 0.8, 1.0)
"""Shares of what the floors lack that bounds are made with; the rest of the prices stands for itself."""

UNUSED = -1
"""Stands for the sum of goods of a supplier of whom nothing is ordered."""


def raised(shop: "Shop", items: Sequence[Item], packed: Packed) -> Packed:
    """The cheapest purchases for items where ``packed`` are those without regard to the floors of the shop's order. Infinite
    where another way to order without any floors costs no more."""
    floors = dict(shop.order.floors)
    goods = [_goods(shop, packed, supplier) for supplier in floors]
    if all(sum_ == UNUSED or sum_ >= floor for sum_, floor in zip(goods, floors.values(), strict=True)):
        return packed
    return _Raising(shop, tuple(sorted(items, key=lambda item: (item.key, -item.weight))), floors).cheapest(packed)


def _goods(shop: "Shop", packed: Packed, supplier: str) -> int:
    """What goods of a supplier come to."""
    bought = ((each, shop.products[each.product]) for each in packed.purchases)
    prices = [each.price(product) for each, product in bought if product.supplier == supplier]
    return sum(prices) if prices else UNUSED


class _State(NamedTuple):
    """Items before ``place`` are served, ``rest`` of the one there is still wanted; ``goods`` by supplier, up to its floor."""

    place: int
    rest: float
    opened: tuple[Open, ...]
    used: Stock
    goods: tuple[int, ...]


class _Move(NamedTuple):
    """An item served from a line of a product, bought for it or not, or (line -1) what is bought to come to the floors."""

    price: int
    product: int
    line: int
    buys: bool
    after: _State
    fill: tuple[Purchase, ...] = ()


@dataclass(slots=True)
class _Raising:
    """The search over the purchases for some items. ``rates[suppliers, mix]`` is what items from each place on cost at least,
    where ``suppliers`` is a bit for each that anything is ordered from; ``alike`` the last item just like one, ``last`` the last
    that a line can serve."""

    shop: "Shop"
    items: tuple[Item, ...]
    floors: dict[str, int]
    lines: list[frozenset[tuple[int, int]]] = field(init=False)
    number: dict[str, int] = field(init=False)
    rates: dict[tuple[int, int], list[float]] = field(init=False, default_factory=dict)
    alike: tuple[int, ...] = field(init=False)
    last: dict[tuple[int, int], int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.lines = [frozenset((s.product, s.line) for s in self.shop.servers(item.key)) for item in self.items]
        self.number = {supplier: n for n, supplier in enumerate(self.floors)}
        self.alike = last_alike(self.items)
        for n, lines in enumerate(self.lines):
            self.last |= dict.fromkeys(lines, n)

    def _rates(self, suppliers: int, mix: int) -> list[float]:
        """What the items from each place on cost at least, the last first made."""
        if (suppliers, mix) not in self.rates:
            found = [0.0]
            for item in reversed(self.items):
                found.append(found[-1] + self._rate(item, suppliers, mix))
            self.rates[suppliers, mix] = found[::-1]
        return self.rates[suppliers, mix]

    def _rate(self, item: Item, suppliers: int, mix: int) -> float:
        """What one item costs at least; the shop remembers it, since thousands of sets are made of some dozens of items."""
        known = self.shop.mixed_rates
        if (item, suppliers, mix) not in known:
            servers = self.shop.servers(item.key)
            known[item, suppliers, mix] = min(
                self.shop.rate(each, item) * self._asked(each.product, suppliers, mix) for each in servers
            )
        return known[item, suppliers, mix]

    def _asked(self, index: int, suppliers: int, mix: int) -> float:
        """The share of a product's price that a bound counts; infinite where nothing is ordered from who sells it."""
        n = self.number.get(self.shop.products[index].supplier)
        if n is None:
            return 1.0
        return 1.0 - MIXES[mix] if suppliers >> n & 1 else math.inf

    def cheapest(self, packed: Packed) -> Packed:
        """The cheapest purchases, where ``packed`` are those without floors."""
        most = packed.price + self.shop.order.spares
        filled = self._filled(packed, most)
        roof = min(filled.price, most)
        first = self._state(0, self.items[0].weight, (), (), (UNUSED,) * len(self.floors))
        came: dict[_State, tuple[int, _State | None, _Move | None]] = {first: (0, None, None)}
        queue = [(self._bound(0, first), 0, 0, first)]
        done: set[_State] = set()
        while queue:
            bound, _, _, state = heapq.heappop(queue)
            if bound >= roof - EPS:
                break
            if state in done:
                continue
            if state.place > len(self.items):
                return Packed(came[state][0], self._traced(state, came))
            if len(done) > MOST_STATES:
                self.shop.unsure.append(True)
                break
            done.add(state)
            paid = came[state][0]
            for move in self._moves(state, int(min(roof, 1e12)) - paid):
                total = paid + move.price
                known = came.get(move.after)
                if known is None or total < known[0]:
                    bound = self._bound(total, move.after)
                    if bound < roof - EPS:
                        came[move.after] = (total, state, move)
                        heapq.heappush(queue, (bound, -move.after.place, len(came), move.after))
        return filled if filled.price < most else IMPOSSIBLE

    def _bound(self, paid: int, state: _State) -> float:
        """What everything costs at least."""
        if state.place > len(self.items):
            return paid
        if state.place == len(self.items):
            return paid + sum(self._lacking(state.goods))
        used = sum(1 << n for n, goods in enumerate(state.goods) if goods != UNUSED)
        every = range(1 << len(self.floors))
        return paid + min(self._dual(state, some) for some in every if some & used == used)

    def _dual(self, state: _State, suppliers: int) -> float:
        """What the rest costs at least if in the end something is ordered from just these suppliers."""
        lacking = sum(
            floor - max(goods, 0)
            for n, (floor, goods) in enumerate(zip(self.floors.values(), state.goods, strict=True))
            if suppliers >> n & 1
        )
        left = state.rest / self.items[state.place].weight
        most = 0.0
        for mix, share in enumerate(MIXES):
            rates = self._rates(suppliers, mix)
            here, behind = rates[state.place], rates[state.place + 1]
            rest = behind + (here - behind) * left if here < math.inf else math.inf
            most = max(most, share * lacking + rest - sum(self._worth(each, suppliers, mix) for each in state.opened))
        return most

    def _worth(self, opened: Open, suppliers: int, mix: int) -> float:
        """What is left of a line, by its rate; nothing of a kit, whose items have none."""
        index, line, left = opened
        product = self.shop.products[index]
        if len(product.lines) > 1:
            return 0.0
        return product.price * left / capacity(product.lines[line]) * self._asked(index, suppliers, mix)

    def _lacking(self, goods: Sequence[int]) -> list[int]:
        floors = self.floors.values()
        return [0 if sum_ == UNUSED else max(floor - sum_, 0) for sum_, floor in zip(goods, floors, strict=True)]

    # -- moves -----------------------------------------------------------------------------------------------------

    def _moves(self, state: _State, most: int) -> Iterator[_Move]:
        if state.place == len(self.items):
            yield from self._fill(state, most)
            return
        item = self.items[state.place]
        whole = item.key[0] != DIVISIBLE
        for slot, (product, line, left) in enumerate(state.opened):
            if (product, line) not in self.lines[state.place] or (whole and left < state.rest - EPS):
                continue
            taken = min(left, state.rest)
            opened = (*state.opened[:slot], (product, line, left - taken), *state.opened[slot + 1 :])
            after = self._state(state.place, state.rest - taken, opened, state.used, state.goods)
            yield _Move(0, product, line, False, after)
            if whole and self.last[product, line] <= self.alike[state.place]:
                return  # it can serve nothing else but items just like this one, so it is used at once
        for index, line in sorted(self.lines[state.place]):
            move = self._purchase(state, item, index, line)
            if move is not None and move.price < most:
                yield move

    def _purchase(self, state: _State, item: Item, index: int, line: int) -> _Move | None:
        product = self.shop.products[index]
        steps = product.cut_steps(state.rest) if product.step_m else 1
        used = with_more(state.used, index, product, steps)
        if used is None:
            return None
        if product.step_m:
            price = product.cut_price(state.rest)
            goods = self._more(state.goods, product, price)
            return _Move(price, index, line, True, self._state(state.place, 0.0, state.opened, used, goods))
        size = capacity(product.lines[line])
        if item.key[0] != DIVISIBLE and size < state.rest - EPS:
            return None
        taken = min(size, state.rest)
        new = tuple((index, n, capacity(each) - (taken if n == line else 0.0)) for n, each in enumerate(product.lines))
        goods = self._more(state.goods, product, product.price)
        after = self._state(state.place, state.rest - taken, (*state.opened, *new), used, goods)
        return _Move(product.price, index, line, True, after)

    def _more(self, goods: tuple[int, ...], product: Product, price: int) -> tuple[int, ...]:
        n = self.number.get(product.supplier)
        if n is None:
            return goods
        floor = self.floors[product.supplier]
        return (*goods[:n], min(max(goods[n], 0) + price, floor), *goods[n + 1 :])

    def _state(self, place: int, rest: float, opened: tuple[Open, ...], used: Stock, goods: tuple[int, ...]) -> _State:
        """A state in one form, with lines forgotten that nothing still to come can use."""
        if rest <= EPS:
            place += 1
            rest = self.items[place].weight if place < len(self.items) else 0.0
        return _State(place, round(rest, 9), of_use(opened, self.last, place), used, goods)

    # -- what is bought besides ------------------------------------------------------------------------------------

    def _fill(self, state: _State, most: int) -> Iterator[_Move]:
        """The cheapest way to come to all floors behind the last item."""
        bought: list[Purchase] = []
        price = 0
        for supplier, lacking in zip(self.floors, self._lacking(state.goods), strict=True):
            if lacking:
                fill = least_fill(self.shop, supplier, lacking, state.used, most)
                if fill is None:
                    return
                price += fill[0]
                bought += fill[1]
        yield _Move(price, -1, -1, True, _State(len(self.items) + 1, 0.0, (), (), ()), tuple(bought))

    def _filled(self, packed: Packed, most: float) -> Packed:
        """What is bought without regard to floors, filled up."""
        used: dict[int, int] = {}
        for each in packed.purchases:
            product = self.shop.products[each.product]
            steps = sum(product.cut_steps(item.weight) for item in each.items) if product.step_m else each.copies
            used[each.product] = used.get(each.product, 0) + steps
        goods = tuple(_goods(self.shop, packed, supplier) for supplier in self.floors)
        state = _State(len(self.items), 0.0, (), tuple(sorted(used.items())), goods)
        room = int(min(most - packed.price, 1e12)) + 1
        move = next(self._fill(state, room), None)
        return IMPOSSIBLE if move is None else Packed(packed.price + move.price, (*packed.purchases, *move.fill))

    def _traced(self, state: _State, came: dict[_State, tuple[int, _State | None, _Move | None]]) -> tuple[Purchase, ...]:
        """What is bought, with the items that each purchase serves."""
        steps: list[tuple[_State, _Move]] = []
        _, before, move = came[state]
        while before is not None and move is not None:
            steps.append((before, move))
            _, before, move = came[before]
        bought: list[tuple[int, dict[int, float], list[Item]]] = []
        fill: tuple[Purchase, ...] = ()
        for at, move in reversed(steps):
            if move.line < 0:
                fill = move.fill
                continue
            product, item = self.shop.products[move.product], self.items[at.place]
            if move.buys:
                room = {n: math.inf if product.step_m else capacity(each) for n, each in enumerate(product.lines)}
                bought.append((move.product, room, []))
                entry = bought[-1]
            else:
                left = [each for each in bought if each[0] == move.product and each[1].get(move.line, 0.0) > EPS]
                enough = [each for each in left if item.key[0] == DIVISIBLE or each[1][move.line] >= at.rest - EPS]
                entry = min(enough, key=lambda each: each[1][move.line])
            entry[1][move.line] -= min(entry[1][move.line], at.rest)
            if product.step_m:
                entry[1][move.line] = 0.0
            if item not in entry[2] or item.key[0] != DIVISIBLE:
                entry[2].append(item)
        return (*(Purchase(product, tuple(items)) for product, _, items in bought), *fill)


def least_fill(shop: "Shop", supplier: str, lacking: int, used: Stock, most: int) -> tuple[int, tuple[Purchase, ...]] | None:
    """The least sum of products of a supplier that is no less than what is ``lacking``, and what is bought for it; None where it
    would come to ``most`` or more. ``used`` is what of its stock is bought already.

    A sum is a bit of a whole number, so all sums that some products can come to are made of those of fewer by shifting.
    """
    index = shop.sold_by(supplier)
    top = min(most - 1, lacking + max((shop.products[n].least_price for n in index), default=0) - 1)
    if top < lacking:
        return None
    counts = dict(used)
    mask, reach = (1 << (top + 1)) - 1, 1
    before: list[tuple[int, list[tuple[int, int]], int]] = []
    for n in index:
        if reach >> lacking & 1 or shop.products[n].least_price > top:
            break  # nothing comes closer, or all that is left is too dear
        product = shop.products[n]
        sums, more = _sums(product, in_stock(product) - counts.get(n, 0), top), reach
        for _, total in sums:
            more |= reach << total & mask
        if more != reach:
            before.append((n, sums, reach))
            reach = more
    over = reach >> lacking
    if not over:
        return None
    price = left = lacking + ((over & -over).bit_length() - 1)
    bought: list[Purchase] = []
    for n, sums, reached in reversed(before):
        if not reached >> left & 1:
            copies, total = next((copies, total) for copies, total in sums if total <= left and reached >> (left - total) & 1)
            bought += _as_bought(n, shop.products[n], copies)
            left -= total
    return price, tuple(bought)


def _sums(product: Product, left: float, top: int) -> list[tuple[int, int]]:
    """What some of a product can cost up to a sum: how many (of hose by the metre: steps, in one cut) and the price."""
    found: list[tuple[int, int]] = []
    copies = 1
    while copies <= left:
        price = product.cut_price(copies * product.step_m) if product.step_m else copies * product.price
        if price > top:
            break
        found.append((copies, price))
        copies += 1
    return found


def _as_bought(index: int, product: Product, copies: int) -> list[Purchase]:
    if not product.step_m:
        return [Purchase(index, (), copies, spare=True)]
    return [Purchase(index, (hose_item(product.lines[0].part_id, copies * product.step_m),), spare=True)]
