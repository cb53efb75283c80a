"""One split in many variants, each at a total flow of its own: how the flow divides in every draw of what is not known.

The same laws and solvers as in `splits`, which is about many splits at one total.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.runs import Reals
from optimizer.loop.splits import (
    Pairs,
    Windows,
    Within,
    total_where,
    window_of,
)

WITHIN = 1e-9
"""Flows of branches keep to what their parts need and allow to this share."""


@dataclass(frozen=True, slots=True)
class SplitVariants(Within):
    """n variants of two branches, with what they need and allow (n, 2)."""

    @classmethod
    def of(cls, pairs: Pairs, least: Reals, most: Reals, throttles: NDArray[np.bool_]) -> "SplitVariants":
        """Variants with what they need and allow, (2,) m3/s for all or (n, 2), and whether each branch can be throttled.

        >>> from optimizer.loop.branches import Branches, Legs
        >>> first, second = (Branches(np.zeros(2), np.zeros(2), np.array(k), ()) for k in ([1e8, 4e8], [4e8, 1e8]))
        >>> free = np.zeros(2), np.full(2, np.inf), np.zeros(2, dtype=bool)
        >>> variants = SplitVariants.of(Pairs(first, second, Legs(())), *free)
        >>> variants.state(np.array([3e-4, 6e-4])).flow_m3s.round(6).tolist()
        [[0.0002, 0.0001], [0.0002, 0.0004]]
        """
        shape = (len(pairs.first.lift), 2)
        windows = Windows(np.broadcast_to(least, shape), np.broadcast_to(most, shape), np.broadcast_to(throttles, shape))
        return cls(pairs, windows, np.full(shape[0], np.nan))

    @property
    def lift_m(self) -> Reals:
        """Head (n,) that must be there before any water flows."""
        return self.pairs.still_m

    def window(self) -> tuple[Reals, Reals]:
        """Totals (n,) in m3/s between which both branches get what they need and no more than they allow."""
        return window_of(self.pairs, self.windows)

    def keeps(self, flow_m3s: Reals) -> NDArray[np.bool_]:
        """Whether (n,) both branches get what they need and no more than they allow at totals (n,)."""
        flows = self.state(flow_m3s).flow_m3s
        needs, allows = self.windows.least * (1 - WITHIN), self.windows.most * (1 + WITHIN)
        return np.asarray(((flows >= needs) & (flows <= allows)).all(axis=1))

    def within_most(self, flow_m3s: Reals) -> Reals:
        """Totals (n,) lowered as far as it takes for no branch to get more than it allows, as `Splits.window` has it."""
        total, most = flow_m3s.copy(), self.windows.most
        shares = self._shared(flow_m3s)
        for which, share in enumerate((1.0 - shares, shares)):
            throttled = self.windows.throttles[:, which]
            total = np.where(throttled, np.minimum(total, most.sum(axis=1)), total)
            over = np.flatnonzero(~throttled & (flow_m3s * share > most[:, which]))
            if len(over):
                total[over] = np.minimum(total[over], total_where(self.pairs.rows(over), which, most[over, which]))
        return total
