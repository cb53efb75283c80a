"""A shop: the tanks of its customers with their weights, what is in stock, and the prices at which kits may stand on the
shelf."""

import math
from dataclasses import dataclass

from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig

MOST_KITS = 20
LEAST_GAIN = 0.03
"""A kit that adds less than this share of what cleaning gives is not worth its box: a container and a watch would not show it
(common practice, no published source)."""

LEAST_USED = 0.75
"""Nobody should pay for pieces that stay in the box: a kit of which less than this share of its price is put to use does not fit
(common practice, no published source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Customer:
    """One tank of the population: the band it belongs to, what tells it apart, and how many such tanks there are (``weight``).

    ``hose`` and ``canister`` are words for its hose size and class of canister, ``kind`` one for what lives in it. Raises
    ValueError for a weight that is not above zero.
    """

    name: str
    band: str
    hose: str
    canister: str
    kind: str
    weight: float
    rig: Rig

    def __post_init__(self) -> None:
        if not (self.weight > 0.0 and math.isfinite(self.weight)):
            raise ValueError(f"the weight of {self.name} must be above zero")


@dataclass(frozen=True, slots=True, kw_only=True)
class Store:
    """What is asked of a shop. ``catalog`` holds everything its wholesaler has, ``stocked`` only what is in the shop, with
    counts.

    ``shelf_prices`` (minor units, ascending) are those at which a kit may be sold; ``budgets`` is the grid of sums at which
    bundles are looked for. A kit that delivers less than ``least_gain`` (share) more than cleaning alone, or of which less than
    ``least_used`` (share of its price) is put to use, does not fit a tank. ``measured`` names templates with fills: they are of
    one tank, and count for none.
    Raises ValueError for an empty shop and for numbers out of bounds.
    """

    name: str
    catalog: Catalog
    stocked: Catalog
    shelf_prices: tuple[int, ...]
    budgets: tuple[int, ...]
    customers: tuple[Customer, ...]
    most_kits: int = 3
    alternatives: int = 2
    least_gain: float = LEAST_GAIN
    least_used: float = LEAST_USED
    notes: tuple[str, ...] = ()
    measured: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.customers or not self.shelf_prices or not self.budgets:
            raise ValueError("a shop needs tanks, a shelf price and a budget to look at")
        if len({customer.name for customer in self.customers}) < len(self.customers):
            raise ValueError("every tank needs a name of its own")
        if not 1 <= self.most_kits <= MOST_KITS or self.alternatives < 1:
            raise ValueError(f"a shop offers 1 to {MOST_KITS} kits")
        if not (0.0 <= self.least_gain < math.inf and 0.0 <= self.least_used <= 1.0):
            raise ValueError("what a kit must add and how much of it must be put to use are shares")

    def customer(self, name: str) -> Customer:
        """The tank of a name. Raises KeyError when there is none."""
        found = next((customer for customer in self.customers if customer.name == name), None)
        if found is None:
            raise KeyError(name)
        return found

    @property
    def dearest(self) -> int:
        """The highest shelf price."""
        return max(self.shelf_prices)
