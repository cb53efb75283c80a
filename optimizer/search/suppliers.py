"""Ways to order from several suppliers: with postage and least orders, prices are again those of one shop.

What goods from a supplier cost all in is no sum: postage is due once, falls away from some sum on, and below a least order
nothing is sent. But it is the least over a few *ways to order*. A way says of each supplier that

* nothing is ordered there, or
* its postage is paid whatever is ordered, for goods of its least order or more, or
* no postage is paid, for goods of ``free_from`` (and its least order) or more.

Every purchase goes by one of the ways at just what it costs (and by others at more: that of its suppliers with postage paid is
always open above the least order), so the true price of a bundle is its least price over all ways. In one way postage is a
constant. A search problem is made for every way, and all of them stand side by side as one (`layers`): its paths are those of
all ways, each at the price of its own, so whatever is proved of the paths of a problem is proved of bundles at true prices.

A sum that goods must come to, a *floor*, ties the prices of all that the supplier sells (`floors`). Whoever is below it may buy
more than the bundle needs, pieces of the catalog: then what buys a set of items also buys any part of it, and two orders put
together never cost more than apart. These are the two facts that paths are compared by (`span_labels`).
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from optimizer.model.catalog import Supplier


@dataclass(frozen=True, slots=True)
class Order:
    """One way to order. ``shut`` are suppliers of whom nothing is ordered; ``postage`` is paid, by supplier, and ``floors`` are
    the least sums of goods where anything is ordered, in minor units. Another way has no floors and pays ``spares`` more postage
    (infinite: none has)."""

    shut: frozenset[str] = frozenset()
    postage: tuple[tuple[str, int], ...] = ()
    floors: tuple[tuple[str, int], ...] = ()
    spares: float = math.inf

    @property
    def paid(self) -> int:
        """All postage of it, in minor units."""
        return sum(each for _, each in self.postage)


def orders(suppliers: Sequence[Supplier], most: float) -> list[Order]:
    """All ways to order for which no more than ``most`` need be paid (minor units), those from few suppliers first.

    >>> [order.paid for order in orders([Supplier(id="N", name="North", postage=590, free_from=5000)], 4000.0)]
    [0, 590]
    """
    charging = [supplier for supplier in suppliers if supplier.charges]
    found = [_order(some) for some in product(*(list(_terms(supplier)) for supplier in charging))]
    within = [order for order in found if order.paid + sum(floor for _, floor in order.floors) <= most]
    return sorted(within, key=lambda order: (-len(order.shut), len(order.floors), order.postage, order.floors))


_Terms = tuple[Supplier, bool, int, int]
"""Of one supplier: whether anything is ordered there, the postage paid, and the floor."""


def _terms(supplier: Supplier) -> Iterator[_Terms]:
    yield supplier, False, 0, 0
    yield supplier, True, supplier.postage, supplier.least_order
    if supplier.postage and supplier.free_from is not None:  # goods for that and no postage
        yield supplier, True, 0, max(supplier.free_from, supplier.least_order)


def _order(terms: Sequence[_Terms]) -> Order:
    spared = sum(supplier.postage - postage for supplier, open_, postage, _ in terms if open_)
    return Order(
        shut=frozenset(supplier.id for supplier, open_, _, _ in terms if not open_),
        postage=tuple((supplier.id, postage) for supplier, _, postage, _ in terms if postage),
        floors=tuple((supplier.id, floor) for supplier, _, _, floor in terms if floor),
        spares=math.inf if any(supplier.least_order for supplier, open_, _, _ in terms if open_) else spared,
    )
