"""Prices of sets of items: the cheapest purchases that cover them, exactly, with packs, coils and kits shared.

A product may serve several items (a pack of clamps, a coil that two runs are cut from, a kit). The price of a bundle is
therefore not a sum over its parts. `Shop.cover` finds the true least price; `Shop.shares` gives prices per item whose sum
never exceeds it, which is what the search adds up: they are a feasible point of the dual of the covering problem
(every product's lines together are charged at most its price), so weak duality makes the sum a lower bound.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from optimizer.model.catalog import Catalog, Product, Supplier
from optimizer.model.items import DIVISIBLE, Item, Key, Needs, capacity, line_serves
from optimizer.model.parts import Part, kind_of
from optimizer.search.packing import Packed, Packer, Purchase
from optimizer.search.suppliers import Order

EPS = 1e-9


@dataclass(frozen=True, slots=True)
class Server:
    """A line of a product that can serve a key: indices of product and line, and how much of it there is."""

    product: int
    line: int
    capacity: float


@dataclass(frozen=True, slots=True)
class Cover:
    """The cheapest purchases for a set of items, postage (by supplier) included."""

    price: int
    purchases: tuple[Purchase, ...]
    postage: tuple[tuple[str, int], ...] = ()


@dataclass(slots=True)
class Shop:
    """The products on offer for one problem, with look-ups that remember their answers.

    Owned spare parts are products of price 0 with a stock. Products with no stock are left out. ``order`` is how it is ordered
    from suppliers; ``unsold`` are products (by index) that are not to be had besides. ``unsure`` holds something once a price was
    not found out in full (`floors`), so that no search by these prices is a proof; ``mixed_rates`` is what that search remembers.
    """

    parts: Mapping[str, Part]
    products: tuple[Product, ...]
    suppliers: tuple[Supplier, ...] = ()
    order: Order = Order()
    unsold: frozenset[int] = frozenset()
    unsure: list[bool] = field(default_factory=list, compare=False)
    _by_part: dict[str, list[tuple[int, int]]] = field(init=False)
    _closures: list[tuple[int, int]] = field(init=False)
    _servers: dict[Key, tuple[Server, ...]] = field(init=False, default_factory=dict)
    _covers: dict[tuple[Item, ...], Cover | None] = field(init=False, default_factory=dict)
    _plain: dict[Item, bool] = field(init=False, default_factory=dict)
    _special_prices: dict[tuple[Item, ...], float] = field(init=False, default_factory=dict)
    _least: dict[Item, float] = field(init=False, default_factory=dict)
    _alone: dict[Item, int | None] = field(init=False, default_factory=dict)
    _kinds: dict[str, list[Part]] = field(init=False, default_factory=dict)
    _sold_by: dict[str, tuple[int, ...]] = field(init=False, default_factory=dict)
    mixed_rates: dict[tuple[Item, int, int], float] = field(init=False, default_factory=dict)
    _packer: Packer = field(init=False)

    def __post_init__(self) -> None:
        self._by_part, self._closures = {}, []
        self._packer = Packer(self)
        for index, product in enumerate(self.products):
            if index in self.unsold or product.supplier in self.order.shut:
                continue
            for place, line in enumerate(product.lines):
                self._by_part.setdefault(line.part_id, []).append((index, place))

    @classmethod
    def of(cls, catalog: Catalog, owned: Iterable[Product] = (), parts: Mapping[str, Part] | None = None) -> "Shop":
        """The shop of a catalog plus what the keeper owns."""
        stocked = tuple(p for p in (*owned, *catalog.products) if p.stock is None or p.stock > 0)
        return cls(parts={**catalog.parts, **(parts or {})}, products=stocked, suppliers=catalog.suppliers)

    def of_kind(self, kind: str) -> Sequence[Part]:
        """The parts of one kind, by their ids."""
        if not self._kinds:
            for _, part in sorted(self.parts.items()):
                self._kinds.setdefault(kind_of(part), []).append(part)
        return self._kinds.get(kind, ())

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
            kinds = ("Clamp", "Seal", "Tool")
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
        """True when one copy of the product is enough (always, for divisible items), or the roll of hose long enough."""
        product = self.products[server.product]
        if product.step_m:
            return product.cut_steps(item.weight) <= product.steps_in_stock
        return item.key[0] == DIVISIBLE or item.weight <= server.capacity + EPS

    def is_plain(self, item: Item) -> bool:
        """True when the item's price depends on nothing else in the bundle: no pack, coil, kit or short stock."""
        if item not in self._plain:
            self._plain[item] = all(self._lonely(server, item) for server in self.servers(item.key))
        return self._plain[item]

    def needs(self, items: tuple[Item, ...], own_price: int = 0) -> Needs:
        """The items told apart by how they are priced, with what is paid besides."""
        special = []
        for item in items:
            if self.is_plain(item):
                own_price += self.alone(item) or 0
            else:
                special.append(item)
        return Needs(own_price, tuple(special))

    def _lonely(self, server: Server, item: Item) -> bool:
        product = self.products[server.product]
        if product.stock is not None or self.has_floor(product.supplier):
            return False
        if item.key[0] == DIVISIBLE:
            return len(product.lines) == 1
        return product.step_m > 0.0 or product.is_single

    def has_floor(self, supplier: str) -> bool:
        """True when goods of a supplier must come to a sum, so that the price of each hangs on all others."""
        return any(supplier == each for each, _ in self.order.floors)

    def sold_by(self, supplier: str) -> tuple[int, ...]:
        """The products that a supplier asks something for, by index, those with the least price first."""
        if supplier not in self._sold_by:
            some = [(product.least_price, n) for n, product in enumerate(self.products) if product.supplier == supplier]
            self._sold_by[supplier] = tuple(n for price, n in sorted(some) if price and n not in self.unsold)
        return self._sold_by[supplier]

    def serves_one(self, index: int) -> bool:
        """True when a purchase of the product serves one item only and can be repeated at will."""
        product = self.products[index]
        return product.stock is None and (product.step_m > 0.0 or product.is_single)

    def alone(self, item: Item) -> int | None:
        """Least price for the item bought on its own, or None when it cannot be had."""
        if item not in self._alone:
            prices = [self.single_price(s, item) for s in self.servers(item.key) if self.reaches(s, item)]
            self._alone[item] = min(prices, default=None)
        return self._alone[item]

    def stand_in(self, item: Item) -> Item:
        """The item that stands for all that the same product lines serve in the same amount: prices cannot tell them apart."""
        return self._packer.stand_in(item)

    def at_least(self, item: Item) -> float:
        """What an item adds at least to the sum of such amounts over a bundle without that exceeding its price: the best rate of
        all products, nothing for what is in a kit."""
        if item not in self._least:
            rates = [self.rate(server, item) for server in self.servers(item.key)]
            self._least[item] = min(rates, default=0.0)
        return self._least[item]

    def rate(self, server: Server, item: Item) -> float:
        """What an item takes of the price of a product that serves it, by what it takes of its line (nothing of a kit)."""
        product = self.products[server.product]
        if len(product.lines) > 1:
            return 0.0
        return float(product.cut_price(item.weight)) if product.step_m else product.price * item.weight / server.capacity

    def at_most(self, item: Item) -> float:
        """What an item adds at most to the price of any bundle: its least price from what never runs out (infinite: none). What
        one whose goods must come to a sum adds is not bounded here."""
        if any(self.has_floor(self.products[server.product].supplier) for server in self.servers(item.key)):
            return math.inf
        return self._packer.on_its_own(item)

    def shares(self, item: Item, most_use: Mapping[tuple[int, int], float]) -> dict[int, float]:
        """Lower-bound price of an item from each product that can serve it in one piece.

        ``most_use[(product, line)]`` bounds how much of a line any bundle can use.
        """
        least: dict[int, float] = {}
        charges: dict[int, tuple[float, ...]] = {}
        for server in self.servers(item.key):
            if self.reaches(server, item):
                share = self._share(server, item, most_use, charges)
                least[server.product] = min(share, least.get(server.product, math.inf))
        return least

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
            charges[server.product] = self.charges(server.product, most_use)
        return charges[server.product][server.line] * item.weight

    def charges(self, index: int, most_use: Mapping[tuple[int, int], float]) -> tuple[float, ...]:
        """Price per unit of each line of a product, such that no bundle is charged more than the product's price."""
        product = self.products[index]
        usable = [min(capacity(line), most_use.get((index, n), 0.0)) for n, line in enumerate(product.lines)]
        worth = [use * self._unit_worth(index, n) if use > 0.0 else 0.0 for n, use in enumerate(usable)]
        total = sum(worth)
        return tuple(product.price * value / total / use if use > 0.0 else 0.0 for value, use in zip(worth, usable, strict=True))

    def _unit_worth(self, index: int, place: int) -> float:
        """What a unit of a line costs elsewhere (1 when nowhere): only steers how a kit's price is shared out."""
        line = self.products[index].lines[place]
        others = [
            product.price / capacity(product.lines[n])
            for other, n in self._by_part[line.part_id]
            if other != index and len((product := self.products[other]).lines) == 1
        ]
        return max(min(others, default=1.0), 1e-6)

    def _copies(self, index: int, item: Item) -> int:
        """How many of a product a plain item takes: more than one only for a volume of a medium."""
        product = self.products[index]
        if item.key[0] != DIVISIBLE:
            return 1
        return math.ceil(item.weight / capacity(product.lines[0]) - EPS)

    def special_price(self, items: tuple[Item, ...]) -> float:
        """Least price of special items alone (sorted; infinite when they cannot be had): what `cover` adds to the plain ones."""
        if items not in self._special_prices:
            self._special_prices[items] = self._packed(_merged(items)).price
        return self._special_prices[items]

    def _packed(self, items: list[Item]) -> Packed:
        """The cheapest purchases for special items."""
        packed = self._packer.best(items)
        if not self.order.floors or math.isinf(packed.price):
            return packed
        from optimizer.search.floors import raised  # without suppliers it is not needed

        return raised(self, items, packed)

    def cover(self, items: Iterable[Item]) -> Cover | None:
        """The cheapest purchases that serve all items, or None when stock or offer do not reach.

        Exact: plain items take their cheapest product, the others are packed into shared products.
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
            purchases.append(Purchase(cheapest[1], (item,), self._copies(cheapest[1], item)))
        packed = self._packed(special)
        if math.isinf(packed.price):
            return None
        return Cover(price + int(packed.price) + self.order.paid, (*purchases, *packed.purchases), self.order.postage)


def _merged(items: tuple[Item, ...]) -> list[Item]:
    """Shares of one medium become one item, since bags fill several trays."""
    volume: dict[Key, float] = {}
    for item in items:
        if item.key[0] == DIVISIBLE:
            volume[item.key] = volume.get(item.key, 0.0) + item.weight
    rest = [item for item in items if item.key[0] != DIVISIBLE]
    return rest + [Item(key, round(weight, 12)) for key, weight in volume.items()]
