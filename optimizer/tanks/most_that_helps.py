"""The most money that a household can make use of.

Where every tank can have the most flow that any bundle gives it, all at once and for some price, no choice has a larger value for
any aim, since all of them rise with each flow. So the best choice, and of equals the cheapest, costs no more than that price, and
what is more than it need not be searched. "The most" is meant to the resolution of flows, all tanks together.
"""

import math
from collections.abc import Collection, Sequence
from itertools import combinations

from optimizer.search.best import RESOLUTION_M3S
from optimizer.tanks.program import Column, Program, Unsolved
from optimizer.tanks.signatures import Listed, Side

MOST_OPTIONS = 4
"""Of more filters that may be got not all sets are tried."""

MOST_PROBES = 12
"""So often it is asked whether a tank can have a little more."""


def most_that_helps(
    program: Program, sides: Sequence[Side], fixed: Sequence[Column], options: Collection[int] = ()
) -> int | None:
    """The price (minor units) of a choice that gives each tank the most it can have; None where none such is known within the
    budget. Filters numbered in ``options`` may be left out: the largest price over all sets of them, since whichever of these the
    best choice has, it costs no more. Raises KeyboardInterrupt after Ctrl-C."""
    if len(options) > MOST_OPTIONS:
        return None
    tops: dict[int, list[Column]] = {}
    fine_m3s = RESOLUTION_M3S / (2 * max(len(sides), 1))
    for side in sides:
        tops[side.number] = [_column(side, bundle, flow) for bundle, flow in _tops(side, program.budget, fine_m3s)]
        if not tops[side.number]:
            return None
    most = 0
    for left in (left for size in range(len(options) + 1) for left in combinations(sorted(options), size)):
        there = [column for number, some in tops.items() if number not in left for column in some]
        try:
            chosen = program.solved([*fixed, *there, *map(Column.absent, left)], None, ())
        except Unsolved:
            return None
        if chosen is None:
            return None
        most = max(most, math.ceil(chosen.price - 1e-6))
    return most


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
