"""The bundles of a front that are known so far: truly priced and solved, and the stairs that the best of them make."""

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
    rows, ``price`` (n,) in minor units, ``own`` and ``flow`` (n,) in m3/s what they would deliver and what they deliver.

    ``stair_price`` and ``stair_flow`` are those that deliver more than everything cheaper, cheapest first.
    """

    def __init__(self, seeker: Seeker, budget: int) -> None:
        self.seeker, self.budget = seeker, budget
        self.flows = BundleFlows(seeker.problem)
        width = len(seeker.problem.layers)
        self.options, self.joints = np.zeros((0, width), dtype=np.intp), np.zeros((0, width), dtype=np.intp)
        self.price, self.own, self.flow = np.zeros(0), np.zeros(0), np.zeros(0)
        self.stair_price, self.stair_flow = np.zeros(0), np.zeros(0)
        self._seen: set[bytes] = set()

    def put(self, options: Ints, joints: Ints, price: Reals) -> None:
        """Solve bundles and take in those that meet the limits; what is known already is left alone."""
        rows = [n for n, key in enumerate(np.hstack([options, joints])) if self._is_new(key.tobytes())]
        if not rows:
            return
        options, joints, price = options[rows], joints[rows], np.round(price[rows])
        own, flow = self._solved(options, joints)
        floor = max(self.seeker.limits.flow_min_m3s, TRICKLE_M3S) * (1 - 1e-9)
        needs = self.seeker.problem.low[options].max(axis=1)
        keep = (flow >= floor) & (needs <= flow * (1 + WITHIN)) & (price <= self.budget)
        self.options, self.joints = np.vstack([self.options, options[keep]]), np.vstack([self.joints, joints[keep]])
        self.price, self.own = np.append(self.price, price[keep]), np.append(self.own, own[keep])
        self.flow = np.append(self.flow, flow[keep])
        self._climb()

    def _is_new(self, key: bytes) -> bool:
        new = key not in self._seen
        self._seen.add(key)
        return new

    def _solved(self, options: Ints, joints: Ints) -> tuple[Reals, Reals]:
        """Unthrottled and delivered flows (n,) in m3/s."""
        seeker = self.seeker
        own = self.flows.own(options, joints)
        ceiling = np.minimum(seeker.problem.high[options].min(axis=1), seeker.limits.flow_max_m3s)
        return own, self.flows.under_suction(options, joints, np.minimum(own, ceiling))

    def _climb(self) -> None:
        order = np.lexsort((-self.flow, self.price))
        flow = self.flow[order]
        up = flow > np.maximum.accumulate(np.append(0.0, flow))[:-1]
        self.stair_price, self.stair_flow = self.price[order][up], flow[up]

    def most_below(self, price: Reals) -> Reals:
        """The most flow known for less than each price, in m3/s (0: none)."""
        return np.append(0.0, self.stair_flow)[np.searchsorted(self.stair_price, price)]

    def of_use(self, price: Reals, flow: Reals) -> Bools:
        """Which bundles could be on the front beside what is known, when none costs less than ``price`` or delivers more than
        ``flow``: those that deliver more than all that costs less, and as much, to the resolution, as what costs the same."""
        much = (flow > self.most_below(price - 0.5)) & (flow >= self.most_below(price + 0.5) - RESOLUTION_M3S)
        return np.asarray(much & (price <= self.budget + CENT_SLACK))
