"""Small worlds in which several suppliers sell the parts, and what a set of items costs there, found by trying every purchase.

Shares no bound, no comparison and no way to order with the search: every way to serve the items is followed, with what it spends
at each supplier; then postage is paid or goods are added, whichever is less.
"""

import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from small_worlds import world

from optimizer.model.catalog import Catalog, Product, Supplier
from optimizer.model.items import DIVISIBLE, Item, Key, capacity, line_serves
from optimizer.model.parts import Part
from optimizer.model.rig import Rig
from optimizer.search.choices import Choices, choices
from optimizer.search.pricing import Cover

MANY = 1000
"""A stock that no bundle uses up: with it no price is taken for fixed, so no way to fill or join is left out for its price."""


def supplied_world(seed: int, most: int = 300) -> tuple[Rig, Catalog]:
    """A random world whose products are sold by one to three suppliers, some by several; two in three suppliers waive postage
    from some sum on, one in four sends nothing below one."""
    rng = random.Random(seed)
    rig, catalog = world(seed, most)
    budget = rng.choice([1500, 2500, 4000, 6000])
    names = ["north", "south", "west"][: rng.choice([1, 2, 2, 3])]
    suppliers = tuple(_supplier(rng, name) for name in names)
    sellers = ["", *names] if rng.random() < 0.4 else names
    products = tuple(offer for product in catalog.products for offer in _offers(rng, product, sellers))
    return replace(rig, limits=replace(rig.limits, budget=budget)), replace(catalog, products=products, suppliers=suppliers)


def _supplier(rng: random.Random, name: str) -> Supplier:
    return Supplier(
        id=name,
        name=name.title(),
        postage=rng.choice([0, 150, 390, 590]),
        free_from=rng.choice([None, rng.randrange(200, 2000), rng.randrange(200, 2000)]),
        least_order=rng.choice([0, 0, 0, rng.randrange(100, 1500)]),
    )


def _offers(rng: random.Random, product: Product, sellers: Sequence[str]) -> Iterable[Product]:
    for name in rng.sample(sellers, min(rng.choice([1, 1, 2]), len(sellers))):
        price = product.price if product.price == 0 else max(1, round(product.price * rng.uniform(0.8, 1.2)))
        yield replace(product, supplier=name, price=price)


def listing_menu(rig: Rig, catalog: Catalog) -> Choices:
    """What could be done, with no price taken for fixed, priced by trying every purchase."""
    products = tuple(replace(each, supplier="", stock=MANY if each.stock is None else each.stock) for each in catalog.products)
    menu = choices(rig, replace(catalog, products=products, suppliers=()), rig.limits)
    budget = math.inf if rig.limits.budget is None else rig.limits.budget
    till = Till(menu.shop.parts, catalog, tuple(each for each in menu.shop.products if each.owned), budget)
    return replace(menu, shop=till)  # type: ignore[arg-type]


@dataclass
class Till:
    """Prices of sets of items by trying every purchase; as much of a shop as a listing asks for."""

    parts: dict[str, Part]
    catalog: Catalog
    owned: tuple[Product, ...]
    budget: float = math.inf
    _known: dict[tuple[Item, ...], Cover | None] = field(default_factory=dict)
    _sums: dict[tuple[str, int, tuple[tuple[int, int], ...]], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.products = [each for each in (*self.owned, *self.catalog.products) if each.stock is None or each.stock > 0]
        self.suppliers = {each.id: each for each in self.catalog.suppliers}
        self._serving: dict[Key, list[tuple[int, int]]] = {}

    def is_plain(self, _item: Item) -> bool:
        """No price is fixed."""
        return False

    def alone(self, item: Item) -> int | None:
        """Whether anything serves an item (0) or nothing does (None)."""
        return 0 if self.serving(item.key) else None

    def serving(self, key: Key) -> list[tuple[int, int]]:
        """Products and lines that serve a key; of lines that are alike the first stands for all."""
        if key not in self._serving:
            self._serving[key] = [
                (n, place)
                for n, product in enumerate(self.products)
                for place, line in enumerate(product.lines)
                if product.lines.index(line) == place and line_serves(line, self.parts[line.part_id], key)
            ]
        return self._serving[key]

    def cover(self, items: Iterable[Item]) -> Cover | None:
        """The least price of items, all postage included."""
        wanted = tuple(sorted(_together(items)))
        if wanted not in self._known:
            price = min((self._charged(*end) for end in self._ends(wanted)), default=math.inf)
            self._known[wanted] = None if math.isinf(price) else Cover(int(price), ())
        return self._known[wanted]

    def _ends(self, wanted: tuple[Item, ...]) -> set[tuple[tuple[tuple[str, int], ...], tuple[tuple[int, int], ...]]]:
        """All that can be spent at each supplier on these items within the budget, with what it takes of the stock."""
        states: set[tuple[object, ...]] = {((), (), ())}
        for number, item in enumerate(wanted):
            found: set[tuple[object, ...]] = set()
            useful = {place for other in wanted[number + 1 :] for place in self.serving(other.key)}
            open_ = {(spent, used, opened, item.weight) for spent, used, opened in states}  # type: ignore[misc]
            while open_:
                spent, used, opened, rest = open_.pop()
                if rest <= 1e-9:
                    found.add((spent, used, tuple(each for each in opened if each[:2] in useful and each[2] > 1e-9)))
                elif sum(goods for _, goods in spent) <= self.budget:
                    open_ |= set(self._served(item, spent, used, opened, rest))
            states = found
        return {(spent, used) for spent, used, _ in states}  # type: ignore[misc]

    def _served(self, item, spent, used, opened, rest):  # type: ignore[no-untyped-def]
        """One step further with an item: from what is open, or from a product bought for it."""
        share = item.key[0] == DIVISIBLE
        for n, (product, line, left) in enumerate(opened):
            if left <= 1e-9 or (n and opened[n] == opened[n - 1]):
                continue
            if (product, line) in self.serving(item.key) and (share or left >= rest - 1e-9):
                taken = min(left, rest)
                yield (
                    spent,
                    used,
                    tuple(sorted((*opened[:n], (product, line, round(left - taken, 9)), *opened[n + 1 :]))),
                    round(rest - taken, 9),
                )
        for index, line in self.serving(item.key):
            product = self.products[index]
            pieces = product.cut_steps(rest) if product.step_m else 1
            counts = dict(used)
            if product.stock is not None:
                counts[index] = counts.get(index, 0) + pieces
            if product.stock is not None and counts[index] > (product.steps_in_stock if product.step_m else product.stock):
                continue
            price = product.cut_price(rest) if product.step_m else product.price
            sums = dict(spent)
            sums[product.supplier] = sums.get(product.supplier, 0) + price
            more, left = tuple(sorted(sums.items())), tuple(sorted(counts.items()))
            if product.step_m:
                yield more, left, opened, 0.0
                continue
            size = capacity(product.lines[line])
            if not share and size < rest - 1e-9:
                continue
            taken = min(size, rest)
            new = tuple(
                (index, product.lines.index(each), round(capacity(each) - (taken if n == line else 0.0), 9))
                for n, each in enumerate(product.lines)
            )
            yield more, left, tuple(sorted((*opened, *new))), round(rest - taken, 9)

    def _charged(self, spent: tuple[tuple[str, int], ...], used: tuple[tuple[int, int], ...]) -> float:
        total = 0.0
        for name, goods in spent:
            supplier = self.suppliers.get(name)
            if supplier is None:
                total += goods
                continue
            paid = self._raised(name, goods, supplier.least_order, used) + supplier.postage
            waived = math.inf
            if supplier.free_from is not None:
                waived = self._raised(name, goods, max(supplier.least_order, supplier.free_from), used)
            total += min(paid, waived)
        return total

    def _raised(self, name: str, goods: int, floor: int, used: tuple[tuple[int, int], ...]) -> float:
        """The least sum of goods, these among them, that is no less than the floor."""
        if goods >= floor:
            return goods
        own = tuple(each for each in used if self.products[each[0]].supplier == name)
        key = (name, floor - goods, own)
        if key not in self._sums:
            self._sums[key] = self._least_sum(name, floor - goods, dict(own))
        return goods + self._sums[key]

    def _least_sum(self, name: str, lacking: int, used: dict[int, int]) -> float:
        some = [(n, each) for n, each in enumerate(self.products) if each.supplier == name and each.price]
        top = lacking + max((each.price for _, each in some), default=0)
        sums = np.zeros(top + 1, dtype=bool)
        sums[0] = True
        for n, product in some:
            bound = product.steps_in_stock if product.step_m else product.stock
            left = math.inf if bound is None else bound - used.get(n, 0)
            before, count = sums.copy(), 1
            while count <= left:
                price = product.cut_price(count * product.step_m) if product.step_m else count * product.price
                if price > top:
                    break
                sums[price:] |= before[: top + 1 - price]
                count += 1
        return min((float(total) for total in np.flatnonzero(sums) if total >= lacking), default=math.inf)


def _together(items: Iterable[Item]) -> list[Item]:
    volumes: dict[Key, float] = {}
    for item in items:
        if item.key[0] == DIVISIBLE:
            volumes[item.key] = round(volumes.get(item.key, 0.0) + item.weight, 12)
    return [item for item in items if item.key[0] != DIVISIBLE] + [Item(key, weight) for key, weight in volumes.items()]
