"""The bundles of a front that are known so far: truly priced and solved, and the stairs that the best of them make."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.search.best import RESOLUTION_M3S, TRICKLE_M3S, WITHIN, Seeker
from optimizer.search.bundle_flows import BundleFlows
from optimizer.search.rounds import CENT_SLACK

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


class KnownBundles:
    """Bundles within a budget that meet all limits, a throttle or not. ``options`` and ``joints`` (n, layers) are their flat
    rows, ``price`` (n,) in minor units, ``flow`` (n,) in m3/s what they deliver, ``held`` (n,) whether they can be held to that.

    ``stairs`` are those that deliver more than everything cheaper, ``firm`` those of the bundles that can be held.
    """

    def __init__(self, seeker: Seeker, budget: int) -> None:
        self.seeker, self.budget = seeker, budget
        self.flows = BundleFlows(seeker.problem)
        width = len(seeker.problem.layers)
        self.options, self.joints = np.zeros((0, width), dtype=np.intp), np.zeros((0, width), dtype=np.intp)
        self.price, self.flow, self.held = np.zeros(0), np.zeros(0), np.zeros(0, dtype=bool)
        self.stairs = self.firm = Stairs.of(self.price, self.flow)
        self._seen: set[bytes] = set()

    def put(self, options: Ints, joints: Ints, price: Reals) -> None:
        """Solve bundles and take in those that meet the limits; what is known already is left alone."""
        keys = {key.tobytes(): n for n, key in enumerate(np.hstack([options, joints]))}
        rows = [n for key, n in keys.items() if key not in self._seen]
        if not rows:
            return
        options, joints, price = options[rows], joints[rows], np.round(price[rows])
        own, flow = self._solved(options, joints)
        floor = max(self.seeker.limits.flow_min_m3s, TRICKLE_M3S) * (1 - 1e-9)
        needs = self.seeker.problem.low[options].max(axis=1)
        keep = (flow >= floor) & (needs <= flow * (1 + WITHIN)) & (price <= self.budget)
        self.options, self.joints = np.vstack([self.options, options[keep]]), np.vstack([self.joints, joints[keep]])
        self.price, self.flow = np.append(self.price, price[keep]), np.append(self.flow, flow[keep])
        throttled = self.seeker.problem.throttles[options[:, self.seeker.problem.pump + 1 :]].any(axis=1)
        self.held = np.append(self.held, (throttled | (own <= flow * (1 + 1e-9)))[keep])
        self.stairs = Stairs.of(self.price, self.flow)
        self.firm = Stairs.of(self.price[self.held], self.flow[self.held])
        self._seen.update(keys)

    def _solved(self, options: Ints, joints: Ints) -> tuple[Reals, Reals]:
        """Unthrottled and delivered flows (n,) in m3/s."""
        seeker = self.seeker
        own = self.flows.own(options, joints)
        ceiling = np.minimum(seeker.problem.high[options].min(axis=1), seeker.limits.flow_max_m3s)
        return own, self.flows.under_suction(options, joints, np.minimum(own, ceiling))

    def of_use(self, price: Reals, flow: Reals, stairs: "Stairs") -> Bools:
        """Which bundles could be on the front beside some stairs, when none costs less than ``price`` or delivers more than
        ``flow``: those that deliver more than all that costs less, and as much, to the resolution, as what costs the same."""
        much = (flow > stairs.most_below(price - 0.5)) & (flow >= stairs.most_below(price + 0.5) - RESOLUTION_M3S)
        return np.asarray(much & (price <= self.budget + CENT_SLACK))

    def most_above(self, price: Reals) -> Reals:
        """The most that is known for up to each price of what cannot be held, in m3/s (0: none)."""
        loose = ~self.held
        return Stairs.of(self.price[loose], self.flow[loose]).most_below(price + 0.5)


def rising_rows(price: Reals, gain: Reals, least: float = 0.0) -> Ints:
    """Rows of those offers that gain more than all that is cheaper, and more than the ``least``, cheapest first."""
    order = np.lexsort((-gain, price))
    return order[gain[order] > np.maximum.accumulate(np.append(least, gain[order]))[:-1]]


@dataclass(frozen=True, slots=True)
class Stairs:
    """Prices and flows (m3/s) of those bundles that deliver more than everything cheaper, cheapest first."""

    price: Reals
    flow: Reals

    @classmethod
    def of(cls, price: Reals, flow: Reals) -> "Stairs":
        """The stairs that some bundles make."""
        rows = rising_rows(price, flow)
        return cls(price[rows], flow[rows])

    def most_below(self, price: Reals) -> Reals:
        """The most flow for less than each price, in m3/s (0: none)."""
        return np.append(0.0, self.flow)[np.searchsorted(self.price, price)]
