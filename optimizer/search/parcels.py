"""What each of several orders is charged by the suppliers it goes to: postage, or pieces bought besides to reach a sum.

An order is charged by itself: of every supplier the cheaper of two, postage with goods for its least order, or goods for the sum
from which postage falls away. What is missing to a sum is made up for by pieces of the catalog that never run out, so that no two
orders want the same piece; that is the least such sum (`floors.least_fill`). The charge of an order hangs on nothing but what its
own goods come to, supplier by supplier.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from optimizer.model.catalog import Supplier
from optimizer.search.packing import Purchase, Stock, in_stock
from optimizer.search.pricing import Shop

MOST_GOODS = 10**9
"""No order comes to so many minor units."""


@dataclass(frozen=True, slots=True)
class Parcel:
    """What is ordered from one supplier (by id) at one time: ``goods`` are all that it is sent for, ``spares`` those of them that
    serve only the sum; money in minor units."""

    supplier: str
    goods: int
    postage: int
    spares: tuple[Purchase, ...] = ()


@dataclass(slots=True)
class Parcels:
    """Charges single orders for goods of one shop; ``suppliers`` by id, none where nobody asks for anything."""

    shop: Shop
    suppliers: dict[str, Supplier] = field(init=False)
    _endless: Stock = field(init=False)
    _known: dict[tuple[str, int], tuple[float, Parcel]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        some = self.shop.suppliers if any(supplier.charges for supplier in self.shop.suppliers) else ()
        self.suppliers = {supplier.id: supplier for supplier in some}
        bounded = ((n, in_stock(product)) for n, product in enumerate(self.shop.products))
        self._endless = tuple((n, int(left)) for n, left in bounded if math.isfinite(left))

    @property
    def charge(self) -> bool:
        """Whether it matters what is ordered together."""
        return bool(self.suppliers)

    def sent(self, goods: Mapping[str, int]) -> tuple[float, tuple[Parcel, ...]]:
        """What an order is charged beyond its goods (by supplier), and its parcels; infinite: nothing is sent for so little."""
        found = [self._sent(name, sum_) for name, sum_ in sorted(goods.items()) if name in self.suppliers]
        return sum(more for more, _ in found), tuple(parcel for _, parcel in found)

    def _sent(self, name: str, goods: int) -> tuple[float, Parcel]:
        if (name, goods) not in self._known:
            supplier = self.suppliers[name]
            ways = [self._raised(name, goods, supplier.least_order, supplier.postage)]
            if supplier.postage and supplier.free_from is not None:
                ways.append(self._raised(name, goods, max(supplier.free_from, supplier.least_order), 0))
            self._known[name, goods] = min(ways, key=lambda way: (way[0], way[1].goods))
        return self._known[name, goods]

    def _raised(self, name: str, goods: int, floor: int, postage: int) -> tuple[float, Parcel]:
        """Goods for no less than a sum."""
        if goods >= floor:
            return postage, Parcel(name, goods, postage)
        from optimizer.search.floors import least_fill  # where nobody asks for a sum it is not needed

        fill = least_fill(self.shop, name, floor - goods, self._endless, MOST_GOODS)
        if fill is None:
            return math.inf, Parcel(name, goods, postage)
        return postage + fill[0], Parcel(name, goods + fill[0], postage, fill[1])
