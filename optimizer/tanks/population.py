"""The population of a shop as questions: the store packed for workers, kits as catalogs, the grid of tanks and budgets."""

import math
import pickle
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import lru_cache

from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.parts import JOBS
from optimizer.model.rig import Position, Rig
from optimizer.model.shop import Store
from optimizer.search.packing import Purchase
from optimizer.search.pricing import Shop

Pieces = tuple[tuple[str, float], ...]
"""What lies in a kit: product ids with a number of pieces or packs, or with metres of a hose sold by the metre; sorted."""


def packed(store: Store) -> bytes:
    """The store as bytes, for workers that do not share this process's memory."""
    # the parts of a catalog stand behind a read-only view, which cannot be pickled
    plain = [(dict(each.parts), each.products, each.name, each.currency) for each in (store.catalog, store.stocked)]
    fields = {name: getattr(store, name) for name in Store.__dataclass_fields__}
    return pickle.dumps((fields | {"catalog": None, "stocked": None}, plain), protocol=5)


@lru_cache(maxsize=4)
def unpacked(shared: bytes) -> Store:
    """The store from `packed`, made once for as long as the same bytes come in. Only for bytes of this program's own."""
    fields, plain = pickle.loads(shared)
    catalog, stocked = (Catalog(parts=p, products=q, name=n, currency=c) for p, q, n, c in plain)
    return Store(**(fields | {"catalog": catalog, "stocked": stocked}))


def bare(rig: Rig) -> Rig:
    """The rig as a shop must take it: without spares (nobody knows a stranger's drawer), without adjustments that cost money,
    which no box holds, and with the tools that it takes to clean: who does not have a brush borrows one at the counter."""
    return replace(rig, spares=(), tools=JOBS, positions=tuple(map(_unpaid, rig.positions)))


def _unpaid(position: Position) -> Position:
    branches = tuple(replace(branch, positions=tuple(map(_unpaid, branch.positions))) for branch in position.branches)
    free = tuple(adjust for adjust in position.adjusts if adjust.price == 0)
    return replace(position, adjusts=free, branches=branches)


def by_id(catalog: Catalog) -> dict[str, Product]:
    """The products of a catalog by their ids."""
    return {product.id: product for product in catalog.products}


def pieces_of(shop: Shop, purchases: Iterable[Purchase]) -> Pieces:
    """What a bundle buys, as the pieces of a kit: lengths of one hose become one length, each cut rounded up to whole steps."""
    amounts: dict[str, float] = {}
    for purchase in purchases:
        product = shop.products[purchase.product]
        amount = float(purchase.copies)
        if product.step_m:
            amount = sum(product.cut_steps(item.weight) * product.step_m for item in purchase.items)
        amounts[product.id] = round(amounts.get(product.id, 0.0) + amount, 6)
    return tuple(sorted(amounts.items()))


def name_of(product: Product, catalog: Catalog) -> str:
    """A product in words: its own name, or that of what is in it."""
    return product.name or catalog.parts[product.lines[0].part_id].name


def price_of(pieces: Pieces, products: Mapping[str, Product]) -> int:
    """What the pieces cost, in minor units."""
    return sum(_price(products[product_id], amount) for product_id, amount in pieces)


def cost_of(product: Product, amount: float) -> int | None:
    """What the shop pays for so much of a product, in minor units; None where it is not known."""
    return None if product.cost is None else math.ceil(product.cost * amount - 1e-6)


def _price(product: Product, amount: float) -> int:
    return product.cut_price(amount) if product.step_m else product.price * round(amount)


def kit_catalog(store: Store, pieces: Pieces) -> Catalog:
    """A catalog of nothing but the pieces of a kit, as often as they are in it; a hose by the metre is one length of it.

    Prices are those of the shop, so that of two ways that deliver alike the one that leaves more in the box is taken.
    """
    known = by_id(store.stocked)
    products = tuple(_boxed(known[product_id], amount) for product_id, amount in pieces)
    return catalog_of(products, store.catalog, "kit")


def catalog_of(products: Iterable[Product], catalog: Catalog, name: str) -> Catalog:
    """Some products as a catalog, with their parts and no others: the fewer parts, the quicker a question is put."""
    kept = tuple(products)
    ids = {line.part_id for product in kept for line in product.lines}
    parts = {part_id: part for part_id, part in catalog.parts.items() if part_id in ids}
    return Catalog(parts=parts, products=kept, name=name, currency=catalog.currency)


def _boxed(product: Product, amount: float) -> Product:
    if not product.step_m:
        return replace(product, stock=round(amount))
    line = Line(part_id=product.lines[0].part_id, amount_m=amount)
    return replace(product, price=product.cut_price(amount), lines=(line,), stock=1, step_m=0.0)


def makes(pieces: Pieces, products: Mapping[str, Product]) -> int | None:
    """How many such kits the stock makes; None when nothing in them runs out."""
    bounded = [
        int((stock + 1e-9) // amount) for product_id, amount in pieces if (stock := products[product_id].stock) is not None
    ]
    return min(bounded, default=None)


def without(catalog: Catalog, product_id: str) -> Catalog:
    """The same catalog with one product sold out."""
    left = tuple(product for product in catalog.products if product.id != product_id)
    return Catalog(parts=catalog.parts, products=left, name=catalog.name, currency=catalog.currency)


def cheaper(catalog: Catalog, product_id: str, share: float) -> Catalog:
    """The same catalog with one product cheaper by a share of its price."""
    changed = tuple(
        replace(product, price=math.floor(product.price * (1.0 - share))) if product.id == product_id else product
        for product in catalog.products
    )
    return Catalog(parts=catalog.parts, products=changed, name=catalog.name, currency=catalog.currency)


def grid(store: Store) -> Iterator[tuple[str, int]]:
    """Every tank with every budget."""
    for customer in store.customers:
        for budget in store.budgets:
            yield customer.name, budget


def listed(pieces: Pieces) -> list[list[object]]:
    """Pieces as JSON has them."""
    return [[product_id, amount] for product_id, amount in pieces]


def unlisted(raw: object) -> Pieces:
    """Pieces from JSON. Raises ValueError for anything else."""
    if not isinstance(raw, list | tuple):
        raise ValueError("a kit is a list of pieces")
    return tuple(sorted((str(product_id), float(amount)) for product_id, amount in raw))


def exchanged(pieces: Pieces, old: str, new: str, amount: float) -> Pieces:
    """The pieces with another product in the place of one.

    >>> exchanged((("A", 1.0), ("B", 2.0)), "A", "B", 1.0)
    (('B', 3.0),)
    """
    amounts = {product_id: number for product_id, number in pieces if product_id != old}
    amounts[new] = round(amounts.get(new, 0.0) + amount, 6)
    return tuple(sorted(amounts.items()))
