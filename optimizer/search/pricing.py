"""Prices of sets of items: the cheapest purchases that cover them, exactly, with packs, coils and kits shared.

A product may serve several items (a pack of clamps, a coil that two runs are cut from, a kit). The price of a bundle is
therefore not a sum over its parts. `Shop.cover` finds the true least price; `Shop.shares` gives prices per item whose sum
never exceeds it, which is what the search adds up: they are a feasible point of the dual of the covering problem
(every product's lines together are charged at most its price), so weak duality makes the sum a lower bound.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from optimizer.model.catalog import Catalog, Product
from optimizer.model.parts import Part
from optimizer.search.items import DIVISIBLE, Item, Key, capacity, line_serves

EPS = 1e-9


@dataclass(frozen=True, slots=True)
class Server:
    """A line of a product that can serve a key: indices of product and line, and how much of it there is."""

    product: int
    line: int
    capacity: float


@dataclass(frozen=True, slots=True)
class Purchase:
    """One product bought and the items that it serves."""

    product: int
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Cover:
    """The cheapest purchases for a set of items."""

    price: int
    purchases: tuple[Purchase, ...]


@dataclass(slots=True)
class Shop:
    """The products on offer for one problem, with look-ups that remember their answers.

    Owned spare parts are products of price 0 with a stock. Products with no stock are left out.
    """

    parts: Mapping[str, Part]
    products: tuple[Product, ...]
    _by_part: dict[str, list[tuple[int, int]]] = field(init=False)
    _closures: list[tuple[int, int]] = field(init=False)
    _servers: dict[Key, tuple[Server, ...]] = field(init=False, default_factory=dict)
    _covers: dict[tuple[Item, ...], Cover | None] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._by_part, self._closures = {}, []
        for index, product in enumerate(self.products):
            for place, line in enumerate(product.lines):
                self._by_part.setdefault(line.part_id, []).append((index, place))

    @classmethod
    def of(cls, catalog: Catalog, owned: Iterable[Product] = (), parts: Mapping[str, Part] | None = None) -> "Shop":
        """The shop of a catalog plus what the keeper owns."""
        stocked = tuple(p for p in (*owned, *catalog.products) if p.stock is None or p.stock > 0)
        return cls(parts={**catalog.parts, **(parts or {})}, products=stocked)

    def servers(self, key: Key) -> tuple[Server, ...]:
        """All product lines that can serve a key."""
        if key not in self._servers:
            if key[0] in ("part", "hose", "medium"):
                places = self._by_part.get(key[1], [])
            else:
                places = self._closure_places()
            found = []
            for index, place in places:
                line = self.products[index].lines[place]
                if line_serves(line, self.parts[line.part_id], key):
                    found.append(Server(index, place, capacity(line)))
            self._servers[key] = tuple(found)
        return self._servers[key]

    def _closure_places(self) -> list[tuple[int, int]]:
        if not self._closures:
            kinds = ("Clamp", "Seal")
            self._closures = [
                place
                for part_id, places in self._by_part.items()
                if type(self.parts[part_id]).__name__ in kinds
                for place in places
            ]
        return self._closures

    def single_price(self, server: Server, item: Item) -> int:
        """Price when a product is bought for this item alone (as many copies as a divisible item needs)."""
        product = self.products[server.product]
        if product.step_m:
            return product.cut_price(item.weight)
        if item.key[0] == DIVISIBLE:
            return product.price * math.ceil(item.weight / server.capacity - EPS)
        return product.price

    def reaches(self, server: Server, item: Item) -> bool:
        """True when one copy of the product is enough (always, for divisible items and for hose by the metre)."""
        by_metre = self.products[server.product].step_m > 0.0
        return by_metre or item.key[0] == DIVISIBLE or item.weight <= server.capacity + EPS

    def is_plain(self, item: Item) -> bool:
        """True when the item's price depends on nothing else in the bundle: no pack, coil, kit or short stock."""
        return all(self._lonely(server, item) for server in self.servers(item.key))

    def _lonely(self, server: Server, item: Item) -> bool:
        product = self.products[server.product]
        if product.stock is not None:
            return False
        if item.key[0] == DIVISIBLE:
            return len(product.lines) == 1
        return product.step_m > 0.0 or product.is_single

    def alone(self, item: Item) -> int | None:
        """Least price for the item bought on its own, or None when it cannot be had."""
        prices = [self.single_price(s, item) for s in self.servers(item.key) if self.reaches(s, item)]
        return min(prices, default=None)

    def shares(
        self, items: Iterable[Item], most_use: Mapping[tuple[int, int], float], bought: frozenset[int], barred: frozenset[int]
    ) -> dict[Item, float]:
        """Lower-bound price of each item, given products already paid for (their items cost 0) or ruled out.

        ``most_use[(product, line)]`` bounds how much of a line any bundle can use; infinite price: cannot be had.
        """
        charges: dict[int, tuple[float, ...]] = {}
        prices = {}
        for item in items:
            best = math.inf
            for server in self.servers(item.key):
                if not self.reaches(server, item):
                    continue
                if server.product in bought:
                    best = 0.0
                    break
                if server.product not in barred:
                    best = min(best, self._share(server, item, most_use, charges))
            prices[item] = best
        return prices

    def _share(
        self,
        server: Server,
        item: Item,
        most_use: Mapping[tuple[int, int], float],
        charges: dict[int, tuple[float, ...]],
    ) -> float:
        product = self.products[server.product]
        if product.step_m or (len(product.lines) == 1 and self._lonely(server, item)):
            return float(self.single_price(server, item))
        if server.product not in charges:
            charges[server.product] = self._charges(server.product, most_use)
        return charges[server.product][server.line] * item.weight

    def _charges(self, index: int, most_use: Mapping[tuple[int, int], float]) -> tuple[float, ...]:
        """Price per unit of each line of a product, such that no bundle is charged more than the product's price."""
        product = self.products[index]
        usable = [min(capacity(line), most_use.get((index, n), 0.0)) for n, line in enumerate(product.lines)]
        worth = [
            use * self._unit_worth(index, n) if use > 0.0 else 0.0 for n, use in enumerate(usable)
        ]
        total = sum(worth)
        return tuple(
            product.price * value / total / use if use > 0.0 else 0.0
            for value, use in zip(worth, usable, strict=True)
        )

    def _unit_worth(self, index: int, place: int) -> float:
        """What a unit of a line costs elsewhere (1 when nowhere): only steers how a kit's price is shared out."""
        line = self.products[index].lines[place]
        others = [
            product.price / capacity(product.lines[n])
            for other, n in self._by_part[line.part_id]
            if other != index and len((product := self.products[other]).lines) == 1
        ]
        return max(min(others, default=1.0), 1e-6)

    def cover(self, items: Iterable[Item]) -> Cover | None:
        """The cheapest purchases that serve all items, or None when stock or offer do not reach.

        Exact: plain items take their cheapest product; the rest is a recursion over items in a fixed order, each served by
        what is left of a product already bought or by one bought for it, with the best remainder remembered per state.
        """
        wanted = tuple(sorted(items, key=lambda item: (item.key, -item.weight)))
        if wanted not in self._covers:
            self._covers[wanted] = self._cover(wanted)
        return self._covers[wanted]

    def _cover(self, wanted: tuple[Item, ...]) -> Cover | None:
        price, purchases, special = 0, [], []
        for item in _merged(wanted):
            if not self.is_plain(item):
                special.append(item)
                continue
            cheapest = min(
                ((self.single_price(s, item), s.product) for s in self.servers(item.key) if self.reaches(s, item)),
                default=None,
            )
            if cheapest is None:
                return None
            price += cheapest[0]
            purchases.append(Purchase(cheapest[1], (item,)))
        packed = _Packing(self, tuple(special)).best()
        if packed is None:
            return None
        return Cover(price + packed.price, (*purchases, *packed.purchases))


def _merged(items: tuple[Item, ...]) -> list[Item]:
    """Shares of one medium become one item, since bags fill several trays."""
    volume: dict[Key, float] = {}
    for item in items:
        if item.key[0] == DIVISIBLE:
            volume[item.key] = volume.get(item.key, 0.0) + item.weight
    rest = [item for item in items if item.key[0] != DIVISIBLE]
    return rest + [Item(key, round(weight, 12)) for key, weight in volume.items()]


Open = tuple[tuple[int, int, float], ...]
"""Lines of bought products with something left: (product, line, rest), sorted."""

Used = tuple[tuple[int, int], ...]
"""How many of each product with a bounded stock are bought: (product, number), sorted."""


@dataclass(frozen=True, slots=True, order=True)
class _State:
    """Items before ``place`` are served, ``rest`` of the one at ``place`` is still wanted."""

    place: int
    rest: float
    opened: Open
    used: Used


@dataclass(frozen=True, slots=True)
class _Move:
    """Serve (some of) an item from a line: of a product bought for it, or of one already open."""

    price: int
    product: int
    line: int
    buys: bool
    after: _State


@dataclass(slots=True)
class _Packing:
    """The recursion behind `Shop.cover` for items that share products or stock."""

    shop: Shop
    items: tuple[Item, ...]
    _memo: dict[_State, tuple[float, _Move | None]] = field(init=False, default_factory=dict)

    def best(self) -> Cover | None:
        if not self.items:
            return Cover(0, ())
        first = _State(0, self.items[0].weight, (), ())
        price = self._least(first)
        return None if math.isinf(price) else Cover(int(price), self._trace(first))

    def _least(self, state: _State) -> float:
        if state.place == len(self.items):
            return 0.0
        if state not in self._memo:
            best, choice = math.inf, None
            for move in (*self._from_open(state), *self._by_buying(state)):
                total = move.price + self._least(move.after)
                if total < best:
                    best, choice = total, move
            self._memo[state] = (best, choice)
        return self._memo[state][0]

    def _from_open(self, state: _State) -> Iterable[_Move]:
        item = self.items[state.place]
        for slot, (product, line, left) in enumerate(state.opened):
            repeated = state.opened[slot] in state.opened[:slot]
            enough = item.key[0] == DIVISIBLE or left >= state.rest - EPS
            if repeated or not enough or not self._serves(product, line, item):
                continue
            taken = min(left, state.rest)
            opened = (*state.opened[:slot], (product, line, left - taken), *state.opened[slot + 1 :])
            yield _Move(0, product, line, False, self._next(state.place, state.rest - taken, opened, state.used))

    def _by_buying(self, state: _State) -> Iterable[_Move]:
        item = self.items[state.place]
        for server in self.shop.servers(item.key):
            product = self.shop.products[server.product]
            by_metre = product.step_m > 0.0
            number = math.ceil(state.rest - EPS) if by_metre else 1
            used = dict(state.used)
            if product.stock is not None:
                used[server.product] = used.get(server.product, 0) + number
                if used[server.product] > product.stock:
                    continue
            enough = by_metre or item.key[0] == DIVISIBLE or server.capacity >= state.rest - EPS
            if not enough:
                continue
            price = product.cut_price(state.rest) if by_metre else product.price
            taken = state.rest if by_metre else min(server.capacity, state.rest)
            rests = [] if by_metre else [
                (server.product, n, capacity(line) - (taken if n == server.line else 0.0))
                for n, line in enumerate(product.lines)
            ]
            after = self._next(state.place, state.rest - taken, (*state.opened, *rests), tuple(sorted(used.items())))
            yield _Move(price, server.product, server.line, True, after)

    def _serves(self, product: int, line: int, item: Item) -> bool:
        return any(s.product == product and s.line == line for s in self.shop.servers(item.key))

    def _next(self, place: int, rest: float, opened: Open, used: Used) -> _State:
        """The state after a move, with lines forgotten that nothing still to come can use."""
        if rest <= EPS:
            place += 1
            rest = self.items[place].weight if place < len(self.items) else 0.0
        coming = self.items[place:]
        useful = [
            (product, line, round(left, 12))
            for product, line, left in opened
            if left > EPS and any(self._serves(product, line, item) for item in coming)
        ]
        return _State(place, round(rest, 12), tuple(sorted(useful)), used)

    def _trace(self, state: _State) -> tuple[Purchase, ...]:
        """Follow the remembered best moves and list each product bought with the items it serves."""
        bought: list[tuple[int, list[Item]]] = []
        lefts: list[list[float]] = []
        while state.place < len(self.items):
            move, item = self._memo[state][1], self.items[state.place]
            if move is None:
                raise RuntimeError("a packing without a choice was traced")
            need = state.rest if item.key[0] == DIVISIBLE else item.weight
            if move.buys:
                bought.append((move.product, [item]))
                lefts.append([capacity(line) for line in self.shop.products[move.product].lines])
                slot = len(bought) - 1
            else:
                slot = self._slot(bought, lefts, move, item, need)
                bought[slot][1].append(item)
            lefts[slot][move.line] -= min(lefts[slot][move.line], need)
            state = move.after
        return tuple(Purchase(product, tuple(items)) for product, items in bought)

    def _slot(
        self, bought: list[tuple[int, list[Item]]], lefts: list[list[float]], move: _Move, item: Item, need: float
    ) -> int:
        """The purchase that still has enough on the line the move draws from (the fullest that serves)."""
        fits = [n for n, (product, _) in enumerate(bought) if product == move.product]
        enough = [n for n in fits if item.key[0] == DIVISIBLE or lefts[n][move.line] >= need - EPS]
        return min(enough, key=lambda n: (lefts[n][move.line] <= EPS, lefts[n][move.line]))
