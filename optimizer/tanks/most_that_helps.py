"""The most money that a household can make use of.

Where every tank can have the most flow that any bundle gives it, all at once and for some price, no choice has a larger value for
any aim, since all of them rise with each flow. So the best choice, and of equals the cheapest, costs no more than that price, and
what is more than it need not be searched. "The most" is meant to the resolution of flows, all tanks together.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from optimizer.search.best import RESOLUTION_M3S
from optimizer.tanks.program import Column, Counted, Program, Unsolved
from optimizer.tanks.signatures import Listed, Side

MOST_OPTIONS = 4
"""Of more filters that may be got not all sets are tried."""

MOST_PROBES = 12
"""So often it is asked whether a tank can have a little more."""


def most_that_helps(program: Program, sides: Sequence[Side], fixed: Sequence[Column]) -> int | None:
    """The price (minor units) of a choice that gives each tank the most it can have; None where none such is known within the
    budget. Raises KeyboardInterrupt after Ctrl-C."""
    return MostThatHelps.of(program, sides, fixed).price(None)


@dataclass(frozen=True, slots=True)
class MostThatHelps:
    """The most that each filter can have, in columns of its own (``tops`` by number; None where it is not known of all)."""

    program: Program
    sides: Sequence[Side]
    fixed: Sequence[Column]
    tops: Mapping[int, Sequence[Column]] | None

    @classmethod
    def of(cls, program: Program, sides: Sequence[Side], fixed: Sequence[Column]) -> "MostThatHelps":
        """Asks each filter. Raises KeyboardInterrupt after Ctrl-C."""
        fine_m3s = RESOLUTION_M3S / (2 * max(len(sides), 1))
        tops: dict[int, list[Column]] = {}
        for side in sides:
            tops[side.number] = [_column(side, bundle, flow) for bundle, flow in _tops(side, program.budget, fine_m3s)]
            if not tops[side.number]:
                return cls(program, sides, fixed, None)
        return cls(program, sides, fixed, tops)

    def price(self, asked: Counted | None) -> int | None:
        """The largest price of such a choice over all sets of filters that may be got, with a number of filters ``asked`` for:
        whichever of these sets the best choice has, it costs no more. None where one of them is not known."""
        options = [side.number for side in self.sides if not side.tank.is_there]
        if self.tops is None or len(options) > MOST_OPTIONS:
            return None
        prices = []
        for some in (some for size in range(len(options) + 1) for some in combinations(options, size)):
            left = set(options) - set(some)
            there = [
                n for n in self.program.tanks if n not in left and not any(c.tank == n and not c.is_there for c in self.fixed)
            ]
            if asked is not None and sum(n in asked.members for n in there) != asked.count:
                continue
            prices.append(self._price(left))
        known = [price for price in prices if price is not None]
        return max(known) if known and len(known) == len(prices) else None

    def _price(self, left: Collection[int]) -> int | None:
        tops = [c for number, some in (self.tops or {}).items() if number not in left for c in some]
        try:
            chosen = self.program.solved([*self.fixed, *tops, *map(Column.absent, sorted(left))], None, ())
        except Unsolved:
            return None
        return None if chosen is None else math.ceil(chosen.price - 1e-6)


def _tops(side: Side, budget: int, fine_m3s: float) -> list[tuple[Listed, float]]:
    """Bundles of a tank, with their flows, that no bundle exceeds by more than twice ``fine_m3s``; empty where that is not
    proved."""
    found = side.asked(side.without(side.others), budget).most_flow().found
    side.hear()
    known = []
    for _ in range(MOST_PROBES):
        if found is None:
            return []
        bundle = side.seen(found.bundle.path)
        top = side.flow_m3s(bundle)
        known.append((bundle, top))
        outcome = side.asked(side.seeker.all, budget).least_price(top + fine_m3s)
        side.hear()
        found = outcome.found
        if found is None and outcome.status == "proved":
            return [(bundle, flow) for bundle, flow in (*known, *_cheapest(side, budget, top)) if flow >= top - fine_m3s]
    return []


def _cheapest(side: Side, budget: int, flow_m3s: float) -> list[tuple[Listed, float]]:
    """The cheapest way of a tank alone to a flow."""
    found = side.asked(side.without(side.others), budget).least_price(flow_m3s * (1 - 1e-9)).found
    side.hear()
    if found is None:
        return []
    bundle = side.seen(found.bundle.path)
    return [(bundle, side.flow_m3s(bundle))]


def _column(side: Side, bundle: Listed, flow_m3s: float) -> Column:
    return Column(
        side.number,
        flow_m3s,
        bundle.least,
        bundle,
        None,
        bundle.kept,
        bundle.taken,
        bundle.noise_dba,
        bundle.power_w,
        True,
    )
