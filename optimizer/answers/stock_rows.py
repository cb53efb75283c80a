"""The rows of a catalog that is checked: where each stands, what sells it, and a finding about some of them."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from optimizer.model.catalog import Catalog, Product
from optimizer.model.stock import Finding, Place, Weight
from optimizer.search.pricing import Shop


@dataclass(slots=True)
class Rows:
    """A catalog, and the place of every id in it. ``shop`` sells all of it, ``stocked`` what is on the shelf; ``own`` is what the
    row of a part sells."""

    catalog: Catalog
    places: Mapping[str, Place]
    shop: Shop = field(init=False)
    stocked: Shop = field(init=False)
    own: dict[str, Product] = field(init=False)

    def __post_init__(self) -> None:
        endless = tuple(replace(product, stock=None) for product in self.catalog.products)
        self.shop = Shop(parts=self.catalog.parts, products=endless)
        self.stocked = Shop.of(self.catalog)
        self.own = {product.id: product for product in self.catalog.products if product.id in self.catalog.parts}

    def place(self, row: str) -> tuple[str, int]:
        """File and line of an id."""
        return self.places[row].file, self.places[row].line

    def found(self, weight: Weight, sort: str, ids: Iterable[str], what: str, cure: str) -> Finding:
        """A finding at the place of the first of its rows."""
        rows = sorted(dict.fromkeys(ids), key=self.place)
        file, line = self.place(rows[0])
        return Finding(weight=weight, sort=sort, file=file, line=line, ids=tuple(rows), what=what, cure=cure)
