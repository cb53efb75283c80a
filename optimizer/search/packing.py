"""The cheapest purchases for items that share products or stock: packs, coils and kits, exactly.

Kits (products of several lines) are tried in every number that could pay; what they contain is then free. Without
kits, items that
no product line serves together are independent of each other, so each such group is solved alone, by a recursion over its
items in a fixed order, and remembered for all later bundles.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

from optimizer.model.catalog import Product
from optimizer.model.items import DIVISIBLE, Item, Key, capacity

if TYPE_CHECKING:
    from optimizer.search.pricing import Shop

EPS = 1e-9

Open = tuple[int, int, float]
"""A line of something already paid for: product, line, and how much of it is left."""

Stock = tuple[tuple[int, int], ...]
"""How many of each product with a bounded stock are used up; of hose by the metre, how many steps."""


@dataclass(frozen=True, slots=True)
class Purchase:
    """One product bought, ``copies`` times, and the items that it serves; ``spare``: it serves only the sum of an order."""

    product: int
    items: tuple[Item, ...]
    copies: int = 1
    spare: bool = False

    def price(self, product: Product) -> int:
        """What it costs, in minor units, where its ``product`` is known."""
        if product.step_m:
            return sum(product.cut_price(item.weight) for item in self.items)
        return self.copies * product.price


@dataclass(frozen=True, slots=True)
class Packed:
    """The cheapest purchases for a group of items; infinite price: cannot be had."""

    price: float
    purchases: tuple[Purchase, ...]


NOTHING = Packed(0.0, ())
IMPOSSIBLE = Packed(math.inf, ())


@dataclass(slots=True)
class Packer:
    """Packs items into products of one shop; remembers every group it has solved."""

    shop: "Shop"
    _groups: dict[tuple[tuple[Item, ...], tuple[Open, ...]], Packed] = field(init=False, default_factory=dict)
    _lines: dict[Item, frozenset[tuple[int, int]]] = field(init=False, default_factory=dict)
    _offers: dict[Item, tuple[tuple[int, int], ...]] = field(init=False, default_factory=dict)
    _lone: dict[Item, float] = field(init=False, default_factory=dict)
    _stand_ins: dict[Item, Item] = field(init=False, default_factory=dict)
    _first_of: dict[tuple[frozenset[tuple[int, int]], float], Item] = field(init=False, default_factory=dict)
    _in_stock: dict[Key, float] = field(init=False, default_factory=dict)
    _kit_lines: dict[Item, tuple[tuple[tuple[int, int], ...], float]] = field(init=False, default_factory=dict)

    def best(self, items: Sequence[Item]) -> Packed:
        """The cheapest way to serve all items."""
        if not items:
            return NOTHING
        if self._outnumber_stock(items):
            return IMPOSSIBLE
        groups = self._split(items)
        best = IMPOSSIBLE
        for kits, price in self._kit_sets(items):
            if price >= best.price:
                continue
            packed = self._with_kits(groups, kits, price)
            if packed.price < best.price:
                best = packed
        return best

    def _outnumber_stock(self, items: Sequence[Item]) -> bool:
        """True when more is needed of something than all products with it hold together: seen by counting, without a search."""
        needed: dict[Key, float] = {}
        for item in items:
            needed[item.key] = needed.get(item.key, 0.0) + item.weight
        return any(weight > self._held(key) + EPS for key, weight in needed.items())

    def _held(self, key: Key) -> float:
        """How much of a key all products in stock hold together."""
        if key not in self._in_stock:
            products = self.shop.products
            whole = [(products[server.product], server.capacity) for server in self.shop.servers(key)]
            self._in_stock[key] = sum(
                math.inf if product.stock is None else product.stock * (1.0 if product.step_m else size)
                for product, size in whole
            )
        return self._in_stock[key]

    def lines(self, item: Item) -> frozenset[tuple[int, int]]:
        """Product lines that can serve an item."""
        if item not in self._lines:
            self._lines[item] = frozenset((s.product, s.line) for s in self.shop.servers(item.key))
        return self._lines[item]

    def offers(self, item: Item) -> tuple[tuple[int, int], ...]:
        """Lines of products that are no kits and worth buying for an item: of those that serve one item only and can be
        bought again at will, just the cheapest."""
        if item not in self._offers:
            shop = self.shop
            lines = [place for place in sorted(self.lines(item)) if len(shop.products[place[0]].lines) == 1]
            lone = [place for place in lines if item.key[0] != DIVISIBLE and shop.serves_one(place[0])]
            cheapest = min(lone, key=lambda place: self._lone_price(place[0], item), default=None)
            self._offers[item] = tuple(place for place in lines if place not in lone or place == cheapest)
        return self._offers[item]

    def _lone_price(self, index: int, item: Item) -> int:
        return self.shop.products[index].one_price(item.weight)

    def _split(self, items: Sequence[Item]) -> list[tuple[Item, ...]]:
        """Groups of items that share no product line with another group, nor a product with a bounded stock."""
        groups: list[tuple[set[tuple[int, int]], list[Item]]] = []
        for item in sorted(items, key=lambda i: (i.key, -i.weight)):
            places = set(self.lines(item))
            together = [item]
            apart = []
            for other, members in groups:
                if other & places:
                    places |= other
                    together = members + together
                else:
                    apart.append((other, members))
            groups = [*apart, (places, together)]
        return [tuple(sorted(members, key=lambda i: (i.key, -i.weight))) for _, members in groups]

    def _kit_sets(self, items: Sequence[Item]) -> Iterator[tuple[tuple[int, ...], int]]:
        """Sets of kits (with repeats) worth trying, cheapest first; each must be able to serve something."""
        served = self._served_by_kits(items)
        if not served:
            yield (), 0
            return
        counts = [(kit, most) for kit in sorted(served) if (most := self._most_copies(kit, served[kit], items))]
        sets: list[tuple[int, tuple[int, ...]]] = [(0, ())]
        roof = self._with_kits(self._split(items), (), 0).price if counts else 0.0
        for kit, most in counts:
            price_of_one = self.shop.products[kit].price
            sets += [
                (price + n * price_of_one, (*chosen, *(kit,) * n))
                for price, chosen in sets
                for n in range(1, most + 1)
                if price + n * price_of_one < roof
            ]
        for price, chosen in sorted(sets):
            yield chosen, price

    def _served_by_kits(self, items: Sequence[Item]) -> dict[int, dict[int, list[float]]]:
        """By kit and line, what each of the items that it can serve costs on its own."""
        served: dict[int, dict[int, list[float]]] = {}
        for item in items:
            lines, alone = self._in_kits(item)
            for kit, line in lines:
                served.setdefault(kit, {}).setdefault(line, []).append(alone)
        return served

    def _in_kits(self, item: Item) -> tuple[tuple[tuple[int, int], ...], float]:
        """The lines of kits that can serve an item, and what it costs on its own."""
        if item not in self._kit_lines:
            lines = tuple(place for place in sorted(self.lines(item)) if len(self.shop.products[place[0]].lines) > 1)
            self._kit_lines[item] = (lines, self.on_its_own(item))
        return self._kit_lines[item]

    def _most_copies(self, kit: int, prices: dict[int, list[float]], items: Sequence[Item]) -> int:
        """How many copies of a kit can pay: together they must cost less than all that they could serve does on its own."""
        product = self.shop.products[kit]
        if product.price >= sum(map(sum, prices.values())):
            return 0
        served = sum(self._copies_used(item, kit) for item in items)
        most = served if product.stock is None else min(served, product.stock)
        lines = []
        for number, costs in prices.items():
            line = product.lines[number]
            once = len(costs) if line.amount_m or line.amount_m3 or line.lasting else line.count
            lines.append((once, sorted(costs, reverse=True)))
        copies = 0
        while copies < most:
            worth = sum(sum(costs[: (copies + 1) * once]) for once, costs in lines)
            if (copies + 1) * product.price >= worth:
                break
            copies += 1
        return copies

    def on_its_own(self, item: Item) -> float:
        """What an item costs when it is bought alone, not as a part of a kit, from what never runs out (infinite: it cannot)."""
        if item not in self._lone:
            shop = self.shop
            offers = [(server, shop.products[server.product]) for server in shop.servers(item.key) if shop.reaches(server, item)]
            prices = [shop.single_price(server, item) for server, o in offers if o.stock is None and len(o.lines) == 1]
            self._lone[item] = min(map(float, prices), default=math.inf)
        return self._lone[item]

    def _copies_used(self, item: Item, kit: int) -> int:
        """How many copies of a kit one item can draw from: several only for a volume of a medium."""
        sizes = [capacity(self.shop.products[kit].lines[line]) for product, line in self.lines(item) if product == kit]
        if not sizes or item.key[0] != DIVISIBLE:
            return min(len(sizes), 1)
        return math.ceil(item.weight / min(sizes) - EPS)

    def _with_kits(self, groups: Sequence[tuple[Item, ...]], kits: tuple[int, ...], price: int) -> Packed:
        total: float = price
        purchases: list[Purchase] = []
        from_kits: dict[int, list[Item]] = {kit: [] for kit in kits}
        for group in groups:
            places = frozenset().union(*(self.lines(item) for item in group))
            opened = tuple(
                (kit, line, capacity(self.shop.products[kit].lines[line]))
                for kit in kits
                for line in range(len(self.shop.products[kit].lines))
                if (kit, line) in places
            )
            packed = self._group(group, opened)
            total += packed.price
            for purchase in packed.purchases:
                if purchase.product in from_kits:
                    from_kits[purchase.product] += purchase.items
                else:
                    purchases.append(purchase)
        for kit in dict.fromkeys(kits):
            served = from_kits[kit]
            purchases += [Purchase(kit, tuple(served) if n == 0 else ()) for n in range(kits.count(kit))]
        return Packed(total, tuple(purchases))

    def _group(self, items: tuple[Item, ...], opened: tuple[Open, ...]) -> Packed:
        alike = tuple(sorted(map(self.stand_in, items), key=lambda i: (i.key, -i.weight)))
        key = (alike, opened)
        if key not in self._groups:
            by_number = self._by_number(alike, opened)
            self._groups[key] = _Group(self, alike).packed(opened) if by_number is None else by_number
        return self._groups[key] if alike == items else self._renamed(self._groups[key], items)

    def stand_in(self, item: Item) -> Item:
        """The item that stands for all that the same product lines serve in the same amount: prices cannot tell them apart."""
        if item not in self._stand_ins:
            kind = (self.lines(item), item.weight)
            self._stand_ins[item] = self._first_of.setdefault(kind, item)
        return self._stand_ins[item]

    def _renamed(self, packed: Packed, items: tuple[Item, ...]) -> Packed:
        """A packing of stand-ins as one of the items that they stand for."""
        waiting: dict[Item, list[Item]] = {}
        for item in items:
            waiting.setdefault(self.stand_in(item), []).append(item)
        named: list[Purchase] = []
        for purchase in packed.purchases:
            if any(item.key[0] == DIVISIBLE for item in purchase.items):
                named.append(replace(purchase, items=tuple(waiting[item][0] for item in purchase.items)))
            else:
                named.append(replace(purchase, items=tuple(waiting[item].pop() for item in purchase.items)))
        return Packed(packed.price, tuple(named))

    def _by_number(self, items: tuple[Item, ...], opened: tuple[Open, ...]) -> Packed | None:
        """Items all alike, served in whole numbers from unbounded stock: least price for n by the last product bought.

        None when the items are of another sort, so that the general recursion must be used.
        """
        item = items[0]
        places = sorted(self.lines(item))
        offers = [self.shop.products[product] for product, _ in places]
        singles = [(p, n) for (p, n), offer in zip(places, offers, strict=True) if len(offer.lines) == 1]
        bounded = any(offer.stock is not None or offer.step_m for offer in offers if len(offer.lines) == 1)
        if item.key[0] == DIVISIBLE or bounded or items[0] != items[-1]:
            return None
        served = [Purchase(product, items[:0]) for product, _, _ in opened]
        left = list(items)
        for n, (product, _, rest) in enumerate(opened):
            number = min(len(left), math.floor(rest / item.weight + EPS))
            served[n] = Purchase(product, tuple(left[:number]))
            left = left[number:]
        sizes = [(p, math.floor(capacity(self.shop.products[p].lines[n]) / item.weight + EPS)) for p, n in singles]
        sizes = [(p, size) for p, size in sizes if size > 0]
        least: list[tuple[float, int, int]] = [(0.0, -1, 0)]
        for number in range(1, len(left) + 1):
            ways = [(self.shop.products[p].price + least[max(0, number - size)][0], p, size) for p, size in sizes]
            least.append(min(ways, default=(math.inf, -1, 0)))
        number, price = len(left), least[-1][0]
        while number > 0 and not math.isinf(price):
            _, product, size = least[number]
            served.append(Purchase(product, tuple(left[max(0, number - size) : number])))
            number -= size
        return Packed(price, tuple(purchase for purchase in served if purchase.items))


def last_alike(items: Sequence[Item]) -> tuple[int, ...]:
    """For each item the place of the last of those just like it that follow it."""
    last = list(range(len(items)))
    for place in range(len(items) - 2, -1, -1):
        if items[place] == items[place + 1]:
            last[place] = last[place + 1]
    return tuple(last)


def of_use(opened: tuple[Open, ...], last: Mapping[tuple[int, int], int], place: int) -> tuple[Open, ...]:
    """Open lines in one form, without those that no item from a place on can use (``last``: the last that each can serve)."""
    return tuple(
        sorted(
            (product, line, round(left, 9))
            for product, line, left in opened
            if left > EPS and last.get((product, line), -1) >= place
        )
    )


def with_more(used: Stock, index: int, product: Product, steps: int) -> Stock | None:
    """Stock with so many more of a product taken (of hose by the metre: steps), or None when it does not reach."""
    if product.stock is None:
        return used
    counts = dict(used)
    counts[index] = counts.get(index, 0) + steps
    return None if counts[index] > in_stock(product) else tuple(sorted(counts.items()))


def in_stock(product: Product) -> float:
    """How many of a product can be had; of hose by the metre how many steps."""
    if product.stock is None:
        return math.inf
    return product.steps_in_stock if product.step_m else product.stock


class _State(NamedTuple):
    """Items before ``place`` are served, ``rest`` of the one at ``place`` is still wanted."""

    place: int
    rest: float
    opened: tuple[Open, ...]
    used: Stock


class _Move(NamedTuple):
    """Serve (some of) an item from a line: of a product bought for it, or of one already open."""

    price: int
    product: int
    line: int
    buys: bool
    after: _State


@dataclass(slots=True)
class _Group:
    """The recursion over the items of one group. ``reach`` holds, per product line, which items it can serve."""

    packer: Packer
    items: tuple[Item, ...]
    reach: dict[tuple[int, int], tuple[int, ...]] = field(init=False)
    last: dict[tuple[int, int], int] = field(init=False)
    alike: tuple[int, ...] = field(init=False)
    _memo: dict[_State, tuple[float, _Move | None]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        reach: dict[tuple[int, int], list[int]] = {}
        for place, item in enumerate(self.items):
            for line in self.packer.lines(item):
                reach.setdefault(line, []).append(place)
        self.reach = {line: tuple(places) for line, places in reach.items()}
        self.last = {line: places[-1] for line, places in reach.items()}
        self.alike = last_alike(self.items)

    def packed(self, opened: tuple[Open, ...]) -> Packed:
        first = self._state(0, self.items[0].weight, opened, ())
        price = self._least(first)
        return IMPOSSIBLE if math.isinf(price) else Packed(price, self._trace(first, opened))

    def _least(self, state: _State) -> float:
        if state.place == len(self.items):
            return 0.0
        known = self._memo.get(state)
        if known is None:
            best, choice = math.inf, None
            for move in self._moves(state):
                total = move.price + self._least(move.after)
                if total < best:
                    best, choice = total, move
            known = self._memo[state] = (best, choice)
        return known[0]

    def _moves(self, state: _State) -> list[_Move]:
        """From open lines first. If an open line can serve nothing but items just like this one, using it now is as good
        as using it later, so nothing else need be tried."""
        whole = self.items[state.place].key[0] != DIVISIBLE
        moves = []
        for slot, (product, line, left) in enumerate(state.opened):
            if slot and state.opened[slot] == state.opened[slot - 1]:
                continue
            places = self.reach[(product, line)]
            if state.place not in places or (whole and left < state.rest - EPS):
                continue
            taken = min(left, state.rest)
            opened = (*state.opened[:slot], (product, line, left - taken), *state.opened[slot + 1 :])
            after = self._state(state.place, state.rest - taken, opened, state.used)
            move = _Move(0, product, line, False, after)
            if whole and self.last[product, line] <= self.alike[state.place]:
                return [move]
            moves.append(move)
        at_hand = {move.product for move in moves}
        return [*moves, *self._purchases(state, whole, at_hand)]

    def _purchases(self, state: _State, whole: bool, at_hand: set[int]) -> Iterator[_Move]:
        """Purchases worth trying. While pieces of a pack are at hand, another one of it can wait until they run out."""
        for index, line in self.packer.offers(self.items[state.place]):
            product = self.packer.shop.products[index]
            if index in at_hand and not product.lines[line].amount_m and not product.lines[line].amount_m3:
                continue
            used = with_more(state.used, index, product, product.cut_steps(state.rest) if product.step_m else 1)
            if used is None:
                continue
            if product.step_m:
                after = self._state(state.place, 0.0, state.opened, used)
                yield _Move(product.cut_price(state.rest), index, line, True, after)
                continue
            size = capacity(product.lines[line])
            if whole and size < state.rest - EPS:
                continue
            taken = min(size, state.rest)
            opened = (*state.opened, (index, line, size - taken))
            yield _Move(product.price, index, line, True, self._state(state.place, state.rest - taken, opened, used))

    def _state(self, place: int, rest: float, opened: tuple[Open, ...], used: Stock) -> _State:
        """A state in one form, with lines forgotten that nothing still to come can use."""
        if rest <= EPS:
            place += 1
            rest = self.items[place].weight if place < len(self.items) else 0.0
        return _State(place, round(rest, 9), of_use(opened, self.last, place), used)

    def _trace(self, state: _State, opened: tuple[Open, ...]) -> tuple[Purchase, ...]:
        """Follow the best moves and list each product with the items it serves; kits appear as far as they serve any."""
        bought: list[tuple[int, int, list[float], list[Item]]] = [(product, line, [left], []) for product, line, left in opened]
        while state.place < len(self.items):
            move, item = self._memo[state][1], self.items[state.place]
            if move is None:
                raise RuntimeError("a packing without a choice was traced")
            need = state.rest
            if move.buys:
                product = self.packer.shop.products[move.product]
                room = math.inf if product.step_m else capacity(product.lines[move.line])
                bought.append((move.product, move.line, [room], []))
                entry = bought[-1]
            else:
                fits = [b for b in bought if b[:2] == (move.product, move.line) and b[2][0] > EPS]
                enough = [b for b in fits if item.key[0] == DIVISIBLE or b[2][0] >= need - EPS]
                entry = min(enough, key=lambda b: b[2][0])
            entry[2][0] = 0.0 if math.isinf(entry[2][0]) else entry[2][0] - min(entry[2][0], need)
            entry[3].append(item)
            state = move.after
        return tuple(Purchase(product, tuple(items)) for product, _, _, items in bought if items)
