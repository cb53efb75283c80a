"""Bundles of one tank that another one replaces whatever the other tanks do.

Take bundle c out of any choice and put d in: the joint bill rises by no more than what d needs beyond c costs on its own, from
what never runs out (`Shop.at_most`), and falls by no less than nothing. So where the plain price of d and that come to no more
than the plain price of c, where d keeps and takes no part that c does not, and is credited with as much flow at no more noise
and watts, c is not needed.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.model.items import capacity
from optimizer.tanks.signatures import MEDIUM_UNITS, Demand, Listed, Side

MOST_COMPARED = 1500
"""More bundles than this are not compared with each other in one go, to bound memory."""

UNPAYABLE = 1e12

Reals = NDArray[np.float64]


@dataclass(slots=True)
class Replacer:
    """What each need of a tank costs at most, remembered."""

    side: Side
    _prices: dict[Demand, tuple[float, float]] = field(default_factory=dict)

    def unbeaten(self, found: Sequence[Listed]) -> list[Listed]:
        """Bundles of one cell less those that another replaces; the one that stays is charged with no more shares than those it
        stands for."""
        ordered = sorted(found, key=lambda b: (b.plain, b.path.price, b.path.options, b.path.joints))
        kept = self.unbeaten_rows(ordered, np.zeros(len(ordered)))
        return [replace(ordered[row], path=replace(ordered[row].path, price=least)) for row, least in kept]

    def unbeaten_rows(self, bundles: Sequence[Listed], credit: Reals) -> list[tuple[int, float]]:
        """Rows that no other row replaces, given the flow that each is credited with, each with the least shares of those it
        stands for."""
        if len(bundles) > MOST_COMPARED:
            half = len(bundles) // 2
            first, second = self.unbeaten_rows(bundles[:half], credit[:half]), self.unbeaten_rows(bundles[half:], credit[half:])
            return [*first, *((half + row, least) for row, least in second)]
        if not bundles:
            return []
        beats = self._beats(bundles) & (credit[:, None] >= credit[None, :])
        # of two that replace each other the first stays
        beats &= ~(beats.T & np.tri(len(bundles), k=-1, dtype=bool))
        least = np.array([bundle.least for bundle in bundles])
        lowest = np.where(beats, least[None, :], np.inf).min(axis=1, initial=np.inf)
        stays = np.flatnonzero(~beats.any(axis=0)).tolist()
        return [(row, float(min(least[row], lowest[row]))) for row in stays]

    def _beats(self, bundles: Sequence[Listed]) -> NDArray[np.bool_]:
        """Whether the bundle of the row replaces that of the column."""
        names: dict[object, int] = {}
        prices = []
        for bundle in bundles:
            for demand, _ in bundle.needs:
                if demand not in names:
                    names[demand] = len(names)
                    prices.append(self._price(demand))
            for part in (*bundle.kept, *(name for name, _ in bundle.taken)):
                if part not in names:
                    names[part] = len(names)
                    prices.append((UNPAYABLE, 0.0))
        needs = np.zeros((len(bundles), len(names)))
        for row, bundle in enumerate(bundles):
            pairs: list[tuple[object, float]] = [*bundle.needs, *bundle.taken, *((part, 1.0) for part in bundle.kept)]
            for name, amount in pairs:
                needs[row, names[name]] = amount
        plain = np.array([float(b.plain) for b in bundles])
        extra = np.repeat(plain[:, None], len(bundles), axis=1)
        for column, (price, size) in enumerate(prices):
            more = np.maximum(needs[:, column][:, None] - needs[:, column][None, :], 0.0)
            extra += price * (np.ceil(more / size - 1e-9) if size else more)
        noise, power = (np.array([getattr(b, name) for b in bundles]) for name in ("noise_dba", "power_w"))
        quiet = (noise[:, None] <= noise[None, :]) & (power[:, None] <= power[None, :])
        beats = (extra <= plain[None, :] + 1e-6) & quiet
        np.fill_diagonal(beats, False)
        return beats

    def _price(self, demand: Demand) -> tuple[float, float]:
        """What one unit of a need costs at most, or one bag of so many units of a medium."""
        if demand not in self._prices:
            self._prices[demand] = _at_most(self.side, demand)
        return self._prices[demand]


def _at_most(side: Side, demand: Demand) -> tuple[float, float]:
    lines, medium, amount = demand
    products = {product.id: product for product in side.problem.shop.products}
    least, size = UNPAYABLE, 0.0
    for name, line in lines:
        product = products[name]
        if product.stock is not None or len(product.lines) > 1:
            continue
        price = float(product.cut_price(amount)) if product.step_m else float(product.price)
        if price < least:
            least, size = price, capacity(product.lines[line]) * MEDIUM_UNITS if medium else 0.0
    return least, size
