"""What a buying order pays at each step: only for what is bought at that step or was before it.

The purchases of the final bill are fixed, each is paid once, and what a pack holds beyond its use in the final bundle serves the
joints of the time in between. What a loop's joints need comes from what is at hand; what is missing is bought so that least is
thrown away in the end, then so that least is paid now. Pieces that come out of the loop serve again.

So no step counts on a pack that is bought later, and what is paid never falls. A purchase that holds the own part of a position
is paid with that position, never for the sake of a joint.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from optimizer.model.catalog import Product
from optimizer.model.items import DIVISIBLE, Item, Key
from optimizer.model.options import Option
from optimizer.search.packing import Purchase
from optimizer.search.pricing import Cover, Shop

AMOUNTS = (DIVISIBLE, "hose")
"""Sorts of items that no joint is closed with."""

Offer = tuple[str, int, int | None]
"""Where pieces can come from (at "hand", from the "bill", or an "other" purchase), of which product, and how many there are."""

THROWN = 10**7
"""So many minor units paid now weigh as much as one thrown away: more than any bill has, so least is thrown away first."""


@dataclass(frozen=True, slots=True, order=True)
class Paid:
    """Purchases of the final bill that are paid, as a set of bits, and how often which other products are (by index)."""

    bits: int = 0
    others: tuple[tuple[int, int], ...] = ()


@dataclass(slots=True)
class StepPayment:
    """Pays for the loops of one bundle. ``serves`` are the positions whose own part each purchase of the ``bill`` serves,
    ``joint_items`` all that joints of any loop may need, ``own_items`` what the parts of the final bundle are."""

    shop: Shop
    bill: tuple[Purchase, ...]
    serves: tuple[frozenset[int], ...]
    joint_items: frozenset[Item]
    own_items: frozenset[Item]
    _keys: frozenset[Key] = field(init=False)
    _offers: tuple[int, ...] = field(init=False)
    _covers: dict[tuple[tuple[Item, ...], tuple[Offer, ...]], Cover | None] = field(init=False, default_factory=dict)
    _needs: dict[tuple[Paid, tuple[Item, ...]], Paid | None] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        joints = {item.key for item in self.joint_items}
        offers = {server.product for key in joints for server in self.shop.servers(key)}
        # an own part matters here only where it comes in one product with pieces for joints, which it then uses up
        own = {item.key for item in self.own_items if item.key[0] not in AMOUNTS}
        shared = {key for key in own if any(server.product in offers for server in self.shop.servers(key))}
        self._keys = frozenset(joints | shared)
        self._offers = tuple(sorted(offers | {server.product for key in shared for server in self.shop.servers(key)}))

    def after(self, paid: Paid, own: int, wanted: Iterable[Item]) -> Paid | None:
        """What is paid when the purchases ``own`` (bits) are made and all ``wanted`` is at hand; None: it cannot be had."""
        paid = replace(paid, bits=paid.bits | own)
        pieces = tuple(sorted(item for item in wanted if item.key in self._keys))
        key = (paid, pieces)
        if key not in self._needs:
            self._needs[key] = self._bought(paid, pieces)
        return self._needs[key]

    def _bought(self, paid: Paid, pieces: tuple[Item, ...]) -> Paid | None:
        """Cover the pieces from what is at hand (free), purchases of the bill to come (cheap), and other products (dear)."""
        others = Counter(dict(paid.others))
        waiting: dict[int, list[int]] = {}
        at_hand = Counter(others)
        for n, purchase in enumerate(self.bill):
            if paid.bits >> n & 1:
                at_hand[purchase.product] += purchase.copies
            elif not self.serves[n]:
                waiting.setdefault(purchase.product, []).append(n)
        serving = {server.product for item in pieces for server in self.shop.servers(item.key)}
        offers = tuple(each for each in self._offered(at_hand, waiting, others) if each[1] in serving)
        cover = self._covered(pieces, offers)
        if cover is None:
            return None
        bits, wanted = paid.bits, Counter(pieces)
        for purchase in cover.purchases:
            source, index, _ = offers[purchase.product]
            if source == "other":
                others[index] += purchase.copies
            elif source == "bill":
                row = max(waiting[index], key=lambda n: (sum((wanted & Counter(self.bill[n].items)).values()), -n))
                waiting[index].remove(row)
                wanted -= Counter(self.bill[row].items)
                bits |= 1 << row
        return Paid(bits, tuple(sorted(others.items())))

    def _offered(
        self, at_hand: Mapping[int, int], waiting: Mapping[int, Sequence[int]], others: Mapping[int, int]
    ) -> Iterable[Offer]:
        """Where pieces can come from."""
        billed = Counter[int]()
        for purchase in self.bill:
            billed[purchase.product] += purchase.copies
        for index in self._offers:
            product = self.shop.products[index]
            if at_hand.get(index):
                yield "hand", index, at_hand[index]
            if index in waiting:
                yield "bill", index, len(waiting[index])
            left = None if product.stock is None else product.stock - billed[index] - others.get(index, 0)
            if left is None or left > 0:
                yield "other", index, left

    def _covered(self, pieces: tuple[Item, ...], offers: tuple[Offer, ...]) -> Cover | None:
        """The best cover of pieces from offers; most that is paid besides offers nothing that they need, so few are asked for."""
        key = (pieces, offers)
        if key not in self._covers:
            self._covers[key] = Shop(self.shop.parts, tuple(map(self._product, offers))).cover(pieces)
        return self._covers[key]

    def _product(self, offer: Offer) -> Product:
        """What is offered, with the price that stands for it."""
        source, index, stock = offer
        product = self.shop.products[index]
        price = {"hand": 0, "bill": product.price, "other": product.price * THROWN + product.price}[source]
        return replace(product, price=price, stock=stock)

    def price(self, paid: Paid) -> int:
        """All that is paid for goods, in minor units."""
        return sum(self.goods(Paid(), paid).values())

    def goods(self, before: Paid, after: Paid) -> dict[str, int]:
        """What is paid between two states, by who sells it (empty: the shop itself), for goods alone."""
        bits = after.bits & ~before.bits
        bought = [(each.product, each.copies, each) for n, each in enumerate(self.bill) if bits >> n & 1]
        more = (Counter(dict(after.others)) - Counter(dict(before.others))).items()
        sums: dict[str, int] = {}
        for index, copies, purchase in [*bought, *((index, copies, None) for index, copies in more)]:
            product = self.shop.products[index]
            price = copies * product.price if purchase is None else purchase.price(product)
            sums[product.supplier] = sums.get(product.supplier, 0) + price
        return sums

    def thrown(self, paid: Paid) -> int:
        """What is paid for products that the final bill does not hold."""
        return sum(copies * self.shop.products[index].price for index, copies in paid.others)


def own_items(option: Option) -> tuple[Item, ...]:
    """What an option needs for its own part, or for the parts and tees of its branches; the joints apart.

    >>> own_items(Option(position=0, change="keep", part=None))
    ()
    """
    if option.ways is None:
        return option.items
    return tuple(item for inner in option.ways.options for item in inner.items)


def joint_items(option: Option) -> tuple[Item, ...]:
    """What the joints inside an option's branches need.

    >>> joint_items(Option(position=0, change="keep", part=None))
    ()
    """
    return () if option.ways is None else tuple(item for joint in option.ways.joints for item in joint.items)


def serves(final: Sequence[Option], bill: Sequence[Purchase]) -> list[set[int]]:
    """The positions whose own part (not its joints) each purchase serves."""
    waiting: dict[object, list[int]] = {}
    for place, option in enumerate(final):
        for item in own_items(option):
            waiting.setdefault(_named(item), []).append(place)
    served = []
    for purchase in bill:
        places = set()
        for item in purchase.items:
            known = waiting.get(_named(item), [])
            if known:
                places.add(known[0] if item.key[0] == DIVISIBLE else known.pop(0))
        served.append(places)
    return served


def _named(item: Item) -> object:
    """Media go by name only: their volumes are bought together."""
    return item.key if item.key[0] == DIVISIBLE else item
