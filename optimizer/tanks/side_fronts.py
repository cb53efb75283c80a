"""What one tank could do for its money, at prices that hold for all tanks: its relaxed front, and all bundles near it.

At joint prices (`joint_prices`) what a bundle shares with others is charged like anything else, so the cheapest charge for every
flow is a money-flow front of a problem in which nothing is shared, and one pass reads it (`search/front_pass`). No bundle
delivers as much for a smaller charge, whatever the other tanks do.

The listing takes columns, each a flow and the most that a bundle which delivers it may be charged, and finds all bundles of use
to one of them. Of two bundles only one that the other replaces is left out: where it delivers no more, costs no less by itself
than the other with all that that one needs besides bought apart, from what never runs out, and keeps and takes all that the
other does. So the joint bill of any choice falls, or stays, when the other is put in its place.
"""

from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.search.best import WITHIN, Seeker
from optimizer.search.bundle_flows import BundleFlows
from optimizer.search.columns import Bounds as Walks
from optimizer.search.columns import Columns
from optimizer.search.front_pass import FrontPass, Unsettled, covers
from optimizer.search.known_bundles import KnownBundles, rising_rows
from optimizer.search.rounds import BARRED, Corridor, Path, TooManyPaths, Weights
from optimizer.search.settling import Settling, bought_apart
from optimizer.search.span_paths import ANYTHING, FREE, THROTTLED, SpanPaths
from optimizer.search.span_prices import SpanPrices
from optimizer.search.spans import Span
from optimizer.tanks.joint_prices import JointPrices
from optimizer.tanks.program import Column
from optimizer.tanks.signatures import Mask, Side

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

MOST_LISTED = 20_000
"""More partial bundles than this behind one place end a listing."""

WIDE, SLOW = 1.4, 8.0
"""A listing is made in spans of flow of which none reaches farther than so many times its least flow; all below so small a part
of the most is one, since little is lost there."""

ROUNDED = 0.51
"""The pass takes charges to the next minor unit; so much a front may be too high."""

LOOKS, SMALL_M3S = 60, 1e-6
"""Where the pass cannot be made to its end: so many flows, evenly by their ratio, and the least of them."""

NARROWEST = 0.01
"""Share of the least flow by which a front is wider than that at least."""

BEYOND = 1e-9
"""Share of a flow by which a span reaches beyond what it is made for."""

NOTHING_SPECIAL = (np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp))


class TooMany(Exception):
    """A listing would be too long."""


@dataclass(frozen=True, slots=True)
class Front:
    """The least charge (minor units) at which each ``flow`` (m3/s, rising) is delivered; ``options`` and ``joints`` are flat
    rows of bundles on it."""

    price: Reals
    flow: Reals
    options: Ints
    joints: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a tank's bundles of use are: those among ``allowed`` options that deliver at least one of some flows (``flow``,
    rising, m3/s) for a charge of no more than its ``roof`` (minor units, rising too), and no more than ``top_m3s``. ``idle`` are
    parts of its own that nobody takes: it does not matter who keeps them."""

    prices: JointPrices
    flow: Reals
    roof: Reals
    allowed: Mask
    top_m3s: float
    idle: frozenset[str]

    @classmethod
    def without(cls, prices: JointPrices, idle: frozenset[str], roof: Reals, **rest: Any) -> "Asked":
        """A roof that holds at some prices, and what is charged where nobody takes some parts.

        What keeps them is charged less by their prices, and so is the least that the tank is charged beside others; what all may
        be charged is less by the credit that they gave. So for the others nothing changes, and what frees them here gains nothing
        by it.
        """
        left = prices.without(idle)
        return cls(prices=left, roof=roof - (prices.credit - left.credit), idle=idle, **rest)

    def items(self, side: Side) -> Reals:
        """What each special item is charged."""
        return self.prices.items(side)

    def apart(self, side: Side) -> Reals:
        """What each special item costs at most by itself; what nobody takes costs nothing to keep."""
        free = [item.key[1] in self.idle for item in side.problem.specials]
        return np.where(free, 0.0, bought_apart(side.problem))


class Unsettling(Settling):
    """Settles nothing: what is shared with other tanks is paid at the end, together with theirs."""

    def __init__(self) -> None:
        self.count = 0

    def last_needed(self, options: list[Ints], joints: list[Ints]) -> Ints:  # noqa: ARG002 -- as Settling has it
        """See `Settling`: no cluster is ever needed no more."""
        return np.zeros(0, dtype=np.intp)

    def settled(self, account: Ints, closing: Bools) -> tuple[Ints, Reals]:  # noqa: ARG002 -- as Settling has it
        """See `Settling`: accounts as they are."""
        return account, np.zeros(len(account))


@dataclass(slots=True)
class SideFronts:
    """One tank at joint prices. Flows beyond ``cap_m3s`` are worth no more to it (infinite: all are). ``apart``: bundles with
    different pumps are not compared, since noise or watts are shared out."""

    side: Side
    cap_m3s: float
    apart: bool

    @classmethod
    def of(cls, side: Side, wish_m3s: float, apart: bool) -> "SideFronts":
        """``wish_m3s`` is what is enough. Where a device needs more than that, more is of use: it may be what lets it stand
        there."""
        low, most = side.problem.low, side.tank.rig.limits.flow_max_m3s
        least = max(wish_m3s, float(low[low <= most].max(initial=0.0)), side.floor_m3s() * (1 + NARROWEST))
        return cls(side, min(least, most), apart)

    # -- the relaxed front -----------------------------------------------------------------------------------------

    def front(self, prices: JointPrices, budget: float, allowed: Mask, roughly: bool = False) -> Front:
        """The relaxed front up to a budget (minor units); ``roughly``: of some good bundles only, which proves nothing."""
        option, joint = prices.rows(self.side, prices.items(self.side))
        seeker = _charged(self.side, option, joint, allowed, self.cap_m3s)
        if not covers(seeker.problem):
            return self._bounded(seeker, option, joint, np.inf, None)
        whole = FrontPass(seeker, int(budget) + 1)
        try:
            if roughly:
                whole.stairs()
            else:
                whole.best(-1)
        except Unsettled:
            return self._bounded(seeker, option, joint, whole.done_m3s, whole.known)
        return _front_of(whole.known, np.zeros((2, 0)))

    def promised(self, prices: JointPrices) -> Front:
        """A front that the relaxed one does not beat, at once: by bounds alone."""
        option, joint = prices.rows(self.side, prices.items(self.side))
        return self._bounded(_charged(self.side, option, joint, self.side.seeker.all, self.cap_m3s), option, joint, np.inf, None)

    def _bounded(self, seeker: Seeker, option: Reals, joint: Reals, done_m3s: float, known: KnownBundles | None) -> Front:
        """A front that nothing beats, where the pass cannot be made to its end: the bounds of columns at many flows."""
        walks = _walks(self.side, option, joint, np.zeros(len(self.side.problem.specials)), seeker.all)
        floor = self.side.floor_m3s()
        high = max(min(done_m3s, self.cap_m3s, seeker.bound() * (1 + BEYOND)), floor)
        flows = np.unique(np.append(np.geomspace(min(max(floor, SMALL_M3S), high), high, LOOKS), floor))
        hulls = walks.hulls(Columns.of(flows, np.full(len(flows), np.inf), np.full(len(flows), np.inf)))
        able = np.isfinite(hulls.bound)
        more = np.vstack((hulls.bound[able], np.append(flows[1:], flows[-1])[able]))
        if known is not None:
            return _front_of(known, more)
        rows = np.unique(np.concatenate([np.vstack(pair) for pair in hulls.paths], axis=1), axis=1).T
        order = np.argsort(more[0], kind="stable")
        options, joints = np.split(rows, 2, axis=1)
        return Front(np.maximum(more[0][order] - ROUNDED, 0.0), np.maximum.accumulate(more[1][order]), options, joints)

    # -- the listing -----------------------------------------------------------------------------------------------

    def columns(self, asked: Asked) -> Columns:
        """What is asked as columns with their multipliers, those that bounds leave open."""
        free = np.full(len(asked.flow), np.inf)
        return self._open(self._walks(asked), Columns.of(asked.flow, free, asked.roof))

    def open_options(self, asked: Asked, columns: Columns) -> Mask:
        """The options that bundles of use may go through, as far as bounds can tell at the multipliers of some columns."""
        least = np.maximum(np.searchsorted(asked.flow, columns.flow, side="right") - 1, 0)
        columns = replace(columns, roof=asked.roof[least])
        return self._walks(asked).open_options(columns) if len(columns) else np.zeros_like(asked.allowed)

    def _walks(self, asked: Asked) -> Walks:
        items = asked.items(self.side)
        return _walks(self.side, *asked.prices.rows(self.side, items), items, asked.allowed)

    def listed(self, ways: Iterable[Asked]) -> list[Column]:
        """All bundles of use in one of several ways. Raises TooMany."""
        return _once([column for asked in ways for column in self._listed(asked, ANYTHING)])

    def held(self, ways: Iterable[Asked]) -> list[Column]:
        """As `listed`, but only bundles that something holds to what they deliver: those with a throttle, and those without that
        keep under their ceilings by themselves, one by one. Raises TooMany."""
        found = []
        for asked in ways:
            free = self.side.seeker.inside(asked.allowed).unthrottled()
            found += self._listed(asked, THROTTLED) + self._listed(replace(asked, allowed=free), FREE)
        return _once([column for column in found if column.held])

    def _listed(self, asked: Asked, only: int) -> list[Column]:
        if not asked.allowed.any():
            return []
        items = asked.items(self.side)
        option, joint = asked.prices.rows(self.side, items)
        rows: dict[bytes, tuple[Ints, Ints]] = {}
        if not covers(self.side.problem):
            return self.of_rows(self._one_by_one(option, joint, asked))
        apart = asked.apart(self.side)
        for mask in self._pump_masks(asked.allowed):
            walks = _walks(self.side, option, joint, items, mask)
            for some, low, high in _spans(asked.flow, asked.roof, asked.top_m3s):
                columns = self._open(walks, some)
                if len(columns):
                    for options, joints in self._walked(walks, columns, low, high, apart, only):
                        rows[options.tobytes() + joints.tobytes()] = options, joints
        return self.of_rows(list(rows.values()))

    def _open(self, walks: Walks, columns: Columns) -> Columns:
        """Columns that are not empty; split by pump where pumps are not listed apart."""
        columns = columns.with_hulls(walks.hulls(columns))
        if len(columns) and not self.apart:
            columns = walks.through_pumps(columns)
            columns = columns.with_hulls(walks.hulls(columns))
        return columns

    def _pump_masks(self, allowed: Mask) -> list[Mask]:
        problem = self.side.problem
        if not self.apart:
            return [allowed]
        masks = []
        for row in range(problem.option_at[problem.pump], problem.option_at[problem.pump + 1]):
            if allowed[row]:
                mask = allowed.copy()
                mask[problem.option_at[problem.pump] : problem.option_at[problem.pump + 1]] = False
                mask[row] = True
                masks.append(mask)
        return masks

    def _walked(
        self, walks: Walks, columns: Columns, low: float, high: float, apart: Reals, only: int
    ) -> list[tuple[Ints, Ints]]:
        problem = self.side.problem
        quiet = np.zeros(problem.option_at[problem.pump + 1] - problem.option_at[problem.pump])
        prices, span = SpanPrices(walks, Unsettling()), Span.of(problem, low, high)
        try:
            ends = SpanPaths(prices, span, columns, apart, quiet, most=MOST_LISTED, only=only).ends()
        except TooManyPaths:
            raise TooMany from None
        return list(zip(ends.options, ends.joints, strict=True))

    def _one_by_one(self, option: Reals, joint: Reals, asked: Asked) -> list[tuple[Ints, Ints]]:
        """All bundles, none of which replaces another: where branches are filled, which follow laws of their own. Raises
        TooMany."""
        problem, low = self.side.problem, float(asked.flow[0])
        fits = asked.allowed & (problem.high >= low * (1 - WITHIN))
        losses = np.where(fits, problem.heads.at(low), BARRED)
        weights = Weights(losses, problem.joint_quadratic * low * low, option, joint)
        corridor = Corridor(0.0, float(asked.roof.max()), 0.0, self.side.exact.suction(low), MOST_LISTED)
        try:
            paths = self.side.exact.rounds.front(weights, corridor, apart=True, every=True)
        except TooManyPaths:
            raise TooMany from None
        return [(np.array(path.options), np.array(path.joints)) for path in paths]

    def of_rows(self, rows: Sequence[tuple[Ints, Ints]]) -> list[Column]:
        """Bundles as columns, with what they deliver, less those in which a device gets too little."""
        if not rows:
            return []
        options, joints = np.stack([each[0] for each in rows]), np.stack([each[1] for each in rows])
        own, flow = flows_of(self.side, options, joints)
        low = self.side.problem.low[options].max(axis=1)
        works = np.flatnonzero((flow >= self.side.floor_m3s() * (1 - 1e-9)) & (low <= flow * (1 + WITHIN)))
        behind = self.side.problem.pump + 1
        held = (own <= flow * (1 + 1e-9)) | self.side.problem.throttles[options[:, behind:]].any(axis=1)
        found = []
        for n in works.tolist():
            bundle = self.side.seen(Path(0.0, 0.0, tuple(options[n].tolist()), tuple(joints[n].tolist())))
            found.append(Column.of(self.side.number, bundle, float(flow[n]), bool(held[n])))
        return found

    def columns_of(self, front: Front) -> list[Column]:
        """The bundles on a front as columns."""
        return self.of_rows(list(zip(front.options, front.joints, strict=True)))


def _once(columns: Iterable[Column]) -> list[Column]:
    return list({(c.bundle.path.options, c.bundle.path.joints): c for c in columns if c.bundle is not None}.values())


def flows_of(side: Side, options: Ints, joints: Ints) -> tuple[Reals, Reals]:
    """What bundles (n, layers) would deliver, and what they deliver, in m3/s (n,)."""
    problem = side.problem
    if problem.heads.splits is not None:
        each = [side.seeker.delivered_by(some, ways) for some, ways in zip(options.tolist(), joints.tolist(), strict=True)]
        return np.array([d.own_m3s for d in each]), np.array([d.flow_m3s for d in each])
    flows = BundleFlows(problem)
    own = flows.own(options, joints)
    ceiling = np.minimum(problem.high[options].min(axis=1), side.tank.rig.limits.flow_max_m3s)
    return own, flows.under_suction(options, joints, np.minimum(own, ceiling))


def _front_of(known: KnownBundles, more: Reals) -> Front:
    """The front of what is known, and of ``more`` charges and flows (2, n) that are only bounds."""
    price, flow = np.concatenate((known.price, more[0])), np.concatenate((known.flow, more[1]))
    rows = rising_rows(price, flow)
    real = rows[rows < len(known.price)]
    return Front(np.maximum(price[rows] - ROUNDED, 0.0), flow[rows], known.options[real], known.joints[real])


def _charged(side: Side, option: Reals, joint: Reals, allowed: Mask, cap_m3s: float) -> Seeker:
    """The search of a problem in which everything costs what it is charged and nothing is shared."""
    problem = replace(
        side.problem,
        option_plain=option,
        joint_plain=joint,
        specials=(),
        shop_of_special=(),
        option_special=NOTHING_SPECIAL,
        joint_special=NOTHING_SPECIAL,
        # what holds a bundle to its flow is not asked here, so no walk of the pass has to look for it
        throttles=np.ones_like(side.problem.throttles),
    )
    seeker = Seeker(problem, side.seeker.tally, allowed)
    seeker.limits = replace(seeker.limits, flow_max_m3s=min(seeker.limits.flow_max_m3s, cap_m3s))
    return seeker


def _walks(side: Side, option: Reals, joint: Reals, items: Reals, allowed: Mask) -> Walks:
    walks = copy(Walks(side.exact.rounds, side.exact.shares, allowed, items))
    walks.option_price, walks.joint_price = option, joint
    return walks


def _spans(flow: Reals, roof: Reals, top_m3s: float) -> list[tuple[Columns, float, float]]:
    """Columns span by span. Whoever delivers a flow between two columns may be charged the roof of the lower one, so that one
    stands at the lower end of a span that begins between them."""
    low, top = float(flow[0]), max(top_m3s, float(flow[0])) * (1 + BEYOND)
    slow = max(low, top / SLOW)
    count = max(int(np.ceil(np.log(top / slow) / np.log(WIDE))), 1)
    ends = slow * (top / slow) ** (np.arange(count + 1) / count)
    ends = ends if slow == low else np.append(low, ends)
    found = []
    for start, end in zip(ends[:-1].tolist(), ends[1:].tolist(), strict=True):
        first = max(int(np.searchsorted(flow, start * (1 + BEYOND), side="right")) - 1, 0)
        last = max(int(np.searchsorted(flow, end, side="left")), first + 1)
        some = np.maximum(flow[first:last], start)
        found.append((Columns.of(some, np.full(len(some), np.inf), roof[first:last]), start, end))
    return found
