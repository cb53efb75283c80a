"""The catalog: parts, and the products in which they are sold (single, pack, coil, by the metre, kit)."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from optimizer.errors import InputError, Problem
from optimizer.model.parts import Part


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Part of what a product contains: ``count`` pieces of a part, or an ``amount`` of it: metres of hose in one
    piece (``amount_m``), cubic metres of a medium (``amount_m3``). ``lasting``: a tool, one of which does for every place."""

    part_id: str
    count: int = 1
    amount_m: float = 0.0
    amount_m3: float = 0.0
    lasting: bool = False

    def __post_init__(self) -> None:
        if not (self.count >= 1 and self.amount_m >= 0.0 and self.amount_m3 >= 0.0):
            raise ValueError("a product must contain at least one piece")
        if (self.amount_m or self.amount_m3) and self.count != 1:
            raise ValueError("each length of hose and each bag of media in a product is a line of its own")


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """What one price buys. ``price`` in minor units of money; per metre when ``step_m`` is above 0 (then cut lengths are
    charged in whole steps). ``stock`` counts products, or for hose by the metre the metres on the roll, of which every cut takes
    its whole steps; None: no bound. ``owned``: it lies in the keeper's drawer, and no shop sells it. ``supplier`` is the id of
    whom it is ordered from (empty: the shop itself); the same product of another supplier is another offer under the same id.
    ``cost`` is what the shop pays for what ``price`` buys (None: not known); no answer hangs on it, so it is not compared.

    >>> Product(id="C", price=120, lines=(Line(part_id="C"),)).is_single
    True
    """

    id: str
    price: int
    lines: tuple[Line, ...]
    stock: int | None = None
    step_m: float = 0.0
    name: str = ""
    owned: bool = False
    cost: int | None = field(default=None, compare=False)
    supplier: str = ""

    def __post_init__(self) -> None:
        if self.price < 0 or (self.stock is not None and self.stock < 0):
            raise ValueError("price and stock cannot be negative")
        if not self.lines:
            raise ValueError("a product must contain something")

    @property
    def is_single(self) -> bool:
        """True when one purchase serves exactly one place in the loop."""
        return len(self.lines) == 1 and self.lines[0] == Line(part_id=self.lines[0].part_id)

    def cut_steps(self, length_m: float) -> int:
        """How many steps one cut length of hose sold by the metre takes from the roll.

        >>> Product(id="H", price=300, lines=(Line(part_id="H"),), step_m=0.1).cut_steps(1.75)
        18
        """
        return math.ceil(length_m / self.step_m - 1e-9)

    @property
    def steps_in_stock(self) -> float:
        """How many steps can be cut from the roll on the shelf (infinite: as many as wanted).

        >>> Product(id="H", price=300, lines=(Line(part_id="H"),), step_m=0.1, stock=3).steps_in_stock
        30
        """
        return math.inf if self.stock is None else math.floor(self.stock / self.step_m + 1e-9)

    def cut_price(self, length_m: float) -> int:
        """Price of one cut length of hose sold by the metre, in whole steps, rounded up to a minor unit.

        >>> Product(id="H", price=300, lines=(Line(part_id="H"),), step_m=0.1).cut_price(1.75)
        540
        """
        return math.ceil(self.price * self.cut_steps(length_m) * self.step_m - 1e-6)

    def one_price(self, length_m: float) -> int:
        """Price of one of it: of hose sold by the metre of one cut of that length, of anything else whatever the length is.

        >>> Product(id="C", price=120, lines=(Line(part_id="C"),)).one_price(1.0)
        120
        """
        return self.cut_price(length_m) if self.step_m else self.price

    @property
    def least_price(self) -> int:
        """The least that can be paid for any of it: of hose sold by the metre for a cut of one step."""
        return self.one_price(self.step_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplier:
    """Somebody whom products are ordered from. ``postage`` is due once if anything is ordered there, for goods of ``free_from``
    or more no longer (None: always); goods for less than ``least_order`` are not sent. All in minor units of money.

    >>> Supplier(id="N", name="North", postage=590, free_from=5000).charges
    True
    """

    id: str
    name: str
    postage: int = 0
    free_from: int | None = None
    least_order: int = 0

    def __post_init__(self) -> None:
        if min(self.postage, self.least_order, self.free_from or 0) < 0:
            raise ValueError("postage and least order cannot be negative")

    @property
    def charges(self) -> bool:
        """Whether it matters how much is ordered there."""
        return self.least_order > 0 or (self.postage > 0 and self.free_from != 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalog:
    """All parts by id, and all products. ``suppliers`` are those whom products name; what names none is sold by the shop itself,
    at no postage. Raises ValueError when a product names a part or a supplier that is not there."""

    parts: Mapping[str, Part]
    products: tuple[Product, ...]
    name: str = "catalog"
    currency: str = ""
    suppliers: tuple[Supplier, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "parts", MappingProxyType(dict(self.parts)))
        for product in self.products:
            for line in product.lines:
                if line.part_id not in self.parts:
                    raise ValueError(f"product {product.id} contains {line.part_id}, which is not in the catalog")
        self._check_suppliers()

    def _check_suppliers(self) -> None:
        known = {"", *(supplier.id for supplier in self.suppliers)}
        if any(product.supplier not in known for product in self.products):
            raise ValueError("a product names a supplier that is not in the catalog")

    @property
    def charges(self) -> bool:
        """Whether any supplier asks for postage or a least order, so that the price of a bundle hangs on who sells what."""
        return any(supplier.charges for supplier in self.suppliers)

    def only(self, supplier: str) -> "Catalog":
        """What one supplier sells (empty: the shop itself)."""
        products = tuple(product for product in self.products if product.supplier == supplier)
        return replace(self, products=products, suppliers=tuple(each for each in self.suppliers if each.id == supplier))

    @property
    def on_the_shelf(self) -> "Catalog":
        """What the shop itself sells, whoever sends it: each product once, by its first row, with no suppliers.

        >>> Catalog(parts={}, products=(), suppliers=(Supplier(id="N", name="North", postage=590),)).on_the_shelf.charges
        False
        """
        if not self.suppliers:
            return self
        first = {product.id: replace(product, supplier="") for product in reversed(self.products)}
        products = tuple(first.pop(product.id) for product in self.products if product.id in first)
        return replace(self, products=products, suppliers=())

    def refuse_charges(self, what: str, cure: str) -> None:
        """Raise InputError where suppliers charge, for ``what`` cannot reckon with that; the ``cure`` says what to do instead."""
        if self.charges:
            problem = Problem(where="suppliers.csv", what=f"{what} knows neither postage nor least orders.", cure=cure)
            raise InputError(self.name, [problem])
