"""Prices of shared items within a span: products that no bundle of use there buys are left out.

What buys a product pays all of it, and at least the shares of what it does not serve. Where even the best such path lies
outside every column of a span, nothing of use there buys it. Its shares need then not be counted with, which makes other items
dearer, and a kit that is out no longer ties together what it serves, so that more of the price is settled sooner.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.search.columns import Bounds, Columns
from optimizer.search.rounds import BARRED, Rounds
from optimizer.search.settling import Settling
from optimizer.search.shares import Shares

Bools = NDArray[np.bool_]

PASSES = 2
"""Leaving out a product makes others dearer, so that more may be left out; so many times over."""


@dataclass(frozen=True, slots=True)
class SpanPrices:
    """Bounds at the least shares of some products, and what settles them."""

    bounds: Bounds
    settling: Settling


class Probe:
    """Leaves out kits and rolls of hose that no bundle of use buys."""

    def __init__(self, rounds: Rounds, shares: Shares, allowed: Bools) -> None:
        self.rounds, self.shares, self.allowed = rounds, shares, allowed
        offers = [rounds.problem.shop.products[product] for _, product in shares.products]
        ties = [len(offer.lines) > 1 or offer.lines[0].amount_m > 0.0 for offer in offers]
        self.doubtful = np.flatnonzero(shares.shared & np.array(ties, dtype=bool)).tolist()
        self._made: dict[bytes, SpanPrices] = {}
        self.whole = self._prices(np.zeros(len(offers), dtype=bool))

    def prices(self, columns: Columns) -> SpanPrices:
        """Prices that hold for every bundle of use in some columns, whose multipliers are known."""
        return self._prices(self._left_out(columns, self.doubtful))

    def _left_out(self, columns: Columns, doubtful: Sequence[int]) -> Bools:
        shares, bounds = self.shares, self.whole.bounds
        losses = bounds.losses(columns)
        barred = losses.option >= BARRED / 2
        option = np.where(barred, BARRED, columns.multiplier * np.where(barred, 0.0, losses.option))
        joint = columns.multiplier * losses.joint
        out = np.zeros(len(shares.products), dtype=bool)
        for _ in range(PASSES):
            before = int(out.sum())
            for k in doubtful:
                if not out[k]:
                    own, joined = shares.priced_rows(shares.unit_prices(out, bought=k))
                    least = bounds.forward(option + own[:, None], joint + joined[:, None])[-1][1].min(axis=0)
                    out[k] = bool((least + shares.price[k] > columns.reach).all())
            if int(out.sum()) == before:
                break
        return out

    def _prices(self, out: Bools) -> SpanPrices:
        key = out.tobytes()
        if key not in self._made:
            settling = Settling.among(self.rounds.problem, self.rounds.accounts, self.shares, out)
            self._made[key] = SpanPrices(Bounds(self.rounds, self.shares, self.allowed, settling.unit), settling)
        return self._made[key]
