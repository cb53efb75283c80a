"""Heads and flows of many pairs of branches at one total flow: the hot path of a search among branched loops.

Both branches of a split lose the same head between the same two points. The share x of the second is where the gap
between their heads, which falls as x rises, is 0; a branch is still where the head does not suffice for its lift (and
never flows backwards). Heads at the ends x = 0 and 1 come from one evaluation of every different branch at the whole
flow; a parabola through them is the first guess, bracketed secants do the rest. Splits are worked through in pieces
that fit the processor's cache.

Throttles follow the natural flows. A branch that can be throttled is held where it would take more than its parts allow,
or so much that the other would not get what it needs; the head is then that of the other.

A branch may hold a split of its own (`Within`): that is one more loss in series, which rises with the flow through the branch
wherever `rises` says so of it, and so all the above holds of the outer split too. What its parts need and allow is a window of
the flow through the branch (`window_of`), which whoever makes the outer `BranchLoss` has put into its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.branches import Branches, Legs
from optimizer.loop.numbering import numbered
from optimizer.loop.roots import falling_roots
from optimizer.loop.runs import Ints, Reals
from optimizer.model.losses import BranchLoss, Split

Bools = NDArray[np.bool_]

FREE = -1
"""No branch is throttled."""

RELATIVE = 1e-12
"""Error of a branch's flow over the total."""

ROUNDING = 4e-16
"""Rounding of a head over its size."""

ROUNDING_WITHIN = 4e-13
"""The same of a branch that holds a split, which is solved to a share of `RELATIVE`."""

PIECE = 4096
"""So many splits are solved together."""

MOST_M3S = 1.0
"""Flows above this are not looked at: far more than any loop of hoses carries."""

NO_WAY_M = 1e9
"""Lift of a branch that is not there, in m."""

TOP_M3S = 3e-3
"""Greatest total flow at which `rises` looks unless told: above the free flow of canister filters' pumps."""

LOOKS, SHARES = 16, 17
"""Totals and shares at which `rises` looks."""

DIP = 1e-10
"""A fall of less than this share is rounding."""

_NOTHING = BranchLoss(losses=())


@dataclass(frozen=True, slots=True)
class SplitState:
    """Flows (n, 2) of the branches in m3/s (0 for a second that is not there), heads (n,) in m, and the branch that a
    throttle holds (n,), `FREE` for none."""

    flow_m3s: Reals
    head_m: Reals
    held: Ints


@dataclass(frozen=True, slots=True)
class Splits:
    """n splits. ``pair`` (n, 2) says which of the different ``branches`` are theirs, -1 for a second that is not there;
    ``least`` and ``most`` m3/s and ``throttles`` (n, 2) are those of each split's branches."""

    branches: Branches
    pair: Ints
    legs: Legs
    least: Reals
    most: Reals
    throttles: Bools

    @classmethod
    def of(cls, splits: Sequence[Split], kinematic_m2s: float) -> "Splits":
        """Arrays of splits in water of a viscosity in m2/s. Raises ValueError for a tee that is none.

        >>> from optimizer.model.losses import Loss, TeeShape
        >>> mouths = [BranchLoss(losses=(Loss(quadratic=k),)) for k in (1e8, 4e8)]
        >>> wide = TeeShape(run_bore_m=0.1, branch_bore_m=0.1)
        >>> splits = Splits.of([Split(branches=tuple(mouths), parting=wide)], 1e-6)
        >>> splits.flows(3e-4).round(6).tolist(), splits.at(3e-4).round(3).tolist()
        ([[0.0002, 0.0001]], [4.0])
        """
        first = [split.branches[0] for split in splits]
        second = [split.branches[1] if len(split.branches) > 1 else _NOTHING for split in splits]
        which, different = numbered([*first, *second], key=lambda branch: (branch.losses, branch.inner))
        pair = which.reshape(2, -1).T.copy()
        pair[[len(split.branches) < 2 for split in splits], 1] = -1
        both = list(zip(first, second, strict=True))
        return cls(
            branches=Branches.of(different, kinematic_m2s, Within.made),
            pair=pair,
            legs=Legs.of([split.meeting for split in splits], [split.parting for split in splits]),
            least=_pairs([[branch.flow_min_m3s for branch in two] for two in both]),
            most=_pairs([[branch.flow_max_m3s for branch in two] for two in both]),
            throttles=_pairs([[branch.throttles for branch in two] for two in both]).astype(bool),
        )

    def rows(self, rows: Sequence[int] | Ints) -> "Splits":
        """Some of the splits, in the order given; one may be taken more than once."""
        wanted = np.asarray(rows, dtype=np.intp)
        kept, pair = np.unique(self.pair[wanted], return_inverse=True)
        gone = int(len(kept) > 0 and kept[0] < 0)
        return Splits(
            branches=self.branches.rows(kept[gone:]),
            pair=pair.reshape(-1, 2) - gone,
            legs=self.legs.rows(wanted),
            least=self.least[wanted],
            most=self.most[wanted],
            throttles=self.throttles[wanted],
        )

    def paired(self) -> "Splits":
        """The same with a second branch everywhere: where there is none, one that no water ever comes through."""
        own, none = self.branches, np.zeros(1)
        branches = Branches(
            lift=np.append(own.lift, NO_WAY_M),
            linear=np.append(own.linear, none),
            quadratic=np.append(own.quadratic, none),
            hoses=own.hoses,
            inner=own.inner,
        )
        pair = np.where(self.pair < 0, len(own.lift), self.pair)
        return Splits(branches, pair, self.legs, self.least, self.most, self.throttles)

    def at(self, flow_m3s: float) -> Reals:
        """Head lost between the two points of each split when ``flow_m3s`` passes them in all, (n,) in m."""
        return self.state(flow_m3s).head_m

    def over(self, flows_m3s: Reals) -> Reals:
        """The same at several totals (k,), all worked out together: (n, k) in m."""
        return np.hstack([_states(self, some)[0] for some in _few(flows_m3s, len(self.pair))])

    def flows(self, flow_m3s: float) -> Reals:
        """Flow of both branches of each split at a total in m3/s, (n, 2) in m3/s."""
        return self.state(flow_m3s).flow_m3s

    def state(self, flow_m3s: float) -> SplitState:
        """Flows, heads and throttles at a total in m3/s. Raises ValueError for a flow that is below nothing or no number."""
        if not 0.0 <= flow_m3s < np.inf:
            raise ValueError("the flow through branches cannot be below nothing")
        whole = self.branches.at(np.full_like(self.branches.lift, flow_m3s))
        count = len(self.pair)
        state = SplitState(np.zeros((count, 2)), whole[self.pair[:, 0]], np.full(count, FREE, dtype=np.intp))
        state.flow_m3s[:, 0] = flow_m3s
        both = np.flatnonzero(self.pair[:, 1] >= 0)
        for start in range(0, len(both), PIECE):
            rows = both[start : start + PIECE]
            piece = Pairs.of(self, rows)
            share = natural_share(piece, flow_m3s, whole[self.pair[rows]])
            part = divided(piece, self.windows(rows), flow_m3s, share)
            state.flow_m3s[rows], state.head_m[rows], state.held[rows] = part.flow_m3s, part.head_m, part.held
        return state

    def window(self) -> tuple[Reals, Reals]:
        """Total flows (n,) in m3/s from which on, and up to which, every branch gets what it needs and no more than it
        may: low inf where that never happens, high inf where nothing limits it. Flows of branches must rise with the
        total (see `rises`)."""
        low, high = self.least[:, 0].copy(), self.most[:, 0].copy()
        low[low > high] = np.inf
        both = np.flatnonzero(self.pair[:, 1] >= 0)
        for start in range(0, len(both), PIECE):
            rows = both[start : start + PIECE]
            low[rows], high[rows] = window_of(Pairs.of(self, rows), self.windows(rows))
        return low, high

    def windows(self, rows: Ints) -> "Windows":
        """What the branches of some splits need and allow."""
        return Windows(self.least[rows], self.most[rows], self.throttles[rows])


def _pairs(values: list[list[float]]) -> Reals:
    return np.array(values, dtype=float).reshape(-1, 2)


@dataclass(frozen=True, slots=True)
class Windows:
    """Flows (n, 2) in m3/s that the branches of some splits need and allow, and whether they can be throttled."""

    least: Reals
    most: Reals
    throttles: Bools

    def rows(self, rows: Ints) -> "Windows":
        """Those of some of them."""
        return Windows(self.least[rows], self.most[rows], self.throttles[rows])


@dataclass(frozen=True, slots=True)
class Pairs:
    """Some splits of two branches with everything side by side, one row each."""

    first: Branches
    second: Branches
    legs: Legs

    @classmethod
    def of(cls, splits: Splits, rows: Ints) -> "Pairs":
        """Those of some rows."""
        pair, branches = splits.pair[rows], splits.branches
        return cls(branches.rows(pair[:, 0]), branches.rows(pair[:, 1]), splits.legs.rows(rows))

    def rows(self, rows: Ints) -> "Pairs":
        """Some of them."""
        return Pairs(self.first.rows(rows), self.second.rows(rows), self.legs.rows(rows))

    @property
    def still_m(self) -> Reals:
        """Head (n,) that must be there before any water flows."""
        return np.minimum(self.first.lift, self.second.lift)

    @property
    def rounding(self) -> float:
        """Rounding of their heads over the size of these."""
        return ROUNDING_WITHIN if self.first.inner or self.second.inner else ROUNDING

    def head_m(self, flow_m3s: Reals, which: Ints) -> Reals:
        """Head of each split at flows (n, 2) along one of its branches (n,), without throttles."""
        total, share = _total_and_share(flow_m3s)
        head = np.where(which == 0, self.legs.run(share), self.legs.branch(share)) * total * total
        for side, branches in enumerate((self.first, self.second)):
            rows = np.flatnonzero(which == side)
            if len(rows):
                head[rows] += branches.rows(rows).at(flow_m3s[rows, side])
        return np.asarray(head, dtype=float)

    def gap_m(self, flow_m3s: Reals) -> Reals:
        """Head of the first branch less that of the second at flows (n, 2)."""
        total, share = _total_and_share(flow_m3s)
        tees = total * total * self.legs.gap(share)
        return np.asarray(self.first.at(flow_m3s[:, 0]) - self.second.at(flow_m3s[:, 1]) + tees, dtype=float)


@dataclass(frozen=True, slots=True)
class Within:
    """n splits of two branches, each at a total of its own: within a branch of another split, one loss in series with the rest.

    ``share`` (n,) is the natural share of the second as it was found last, nan before that. It only steers the next look.
    """

    pairs: Pairs
    windows: Windows
    share: Reals

    @classmethod
    def among(cls, splits: Splits, rows: Ints) -> Self:
        """Some splits of two branches (see `Splits.paired`)."""
        return cls(Pairs.of(splits, rows), splits.windows(rows), np.full(len(rows), np.nan))

    @classmethod
    def made(cls, splits: Sequence[Split], kinematic_m2s: float) -> Self:
        """Arrays of splits of two branches."""
        return cls.among(Splits.of(splits, kinematic_m2s), np.arange(len(splits)))

    def rows(self, rows: Ints) -> Self:
        """Some of them."""
        return type(self)(self.pairs.rows(rows), self.windows.rows(rows), self.share[rows])

    def state(self, flow_m3s: Reals) -> SplitState:
        """Flows, heads and throttles at totals (n,) in m3/s."""
        return divided(self.pairs, self.windows, flow_m3s, self._shared(flow_m3s))

    def _shared(self, flow_m3s: Reals) -> Reals:
        whole = np.stack([self.pairs.first.at(flow_m3s), self.pairs.second.at(flow_m3s)], axis=1)
        self.share[:] = natural_share(self.pairs, flow_m3s, whole, self.share)
        return self.share

    def risen_m(self, flow_m3s: Reals) -> Reals:
        """Head (n,) in m that each takes more than without flow, at totals (n,) in m3/s."""
        return self.state(flow_m3s).head_m - self.pairs.still_m

    def every_flow_m3s(self, flow_m3s: Reals) -> list[Reals]:
        """Flows (n, 2) of both branches at totals (n,), and behind those the same of every split within them, in the order of the
        water: all must hold as many."""
        flows = self.state(flow_m3s).flow_m3s
        found = [flows]
        for side, branches in enumerate((self.pairs.first, self.pairs.second)):
            for _, within in branches.inner:
                found += within.every_flow_m3s(flows[:, side])
        return found


def _total_and_share(flow_m3s: Reals) -> tuple[Reals, Reals]:
    total = flow_m3s[:, 0] + flow_m3s[:, 1]
    return total, flow_m3s[:, 1] / np.where(total > 0.0, total, 1.0)


@dataclass(frozen=True, slots=True)
class _AtTotal:
    """Gap between the heads of two branches against the second's share of one total, or of one (n,) for each."""

    piece: Pairs
    flow_m3s: float | Reals

    def at(self, here: Reals) -> Reals:
        """In m."""
        first, second = self.flow_m3s * (1.0 - here), self.flow_m3s * here
        tees = self.piece.legs.gap(here) * (self.flow_m3s * self.flow_m3s)
        return np.asarray(self.piece.first.at(first) - self.piece.second.at(second) + tees, dtype=float)

    def rows(self, rows: Ints) -> "_AtTotal":
        """Some of them."""
        return _AtTotal(self.piece.rows(rows), _some(self.flow_m3s, rows))


@dataclass(frozen=True, slots=True)
class _AtFlow:
    """Head of branch ``which`` at flows (n,) less that of the other, against the flow of the other."""

    piece: Pairs
    which: int
    flow_m3s: Reals

    def at(self, here: Reals) -> Reals:
        """In m."""
        flows = (self.flow_m3s, here) if self.which == 0 else (here, self.flow_m3s)
        gap = self.piece.gap_m(np.stack(flows, axis=1))
        return gap if self.which == 0 else -gap

    def own_m(self) -> Reals:
        """Head of the branch whose flow is given, without tees."""
        return (self.piece.first if self.which == 0 else self.piece.second).at(self.flow_m3s)

    def rows(self, rows: Ints) -> "_AtFlow":
        """Some of them."""
        return _AtFlow(self.piece.rows(rows), self.which, self.flow_m3s[rows])


def _some(flow_m3s: float | Reals, rows: Ints) -> float | Reals:
    return flow_m3s[rows] if isinstance(flow_m3s, np.ndarray) else flow_m3s


def natural_share(piece: Pairs, flow_m3s: float | Reals, whole_m: Reals, near: Reals | None = None) -> Reals:
    """Share of the second branch (n,) without throttles, at one total in m3/s or one (n,) for each.

    ``whole_m`` (n, 2) are heads of both at the whole flow, in m. ``near`` (n,) are shares to start from; those that are not
    between 0 and 1 are not used.
    """
    square = flow_m3s * flow_m3s
    rounding = piece.rounding
    lifts = piece.first.lift - piece.second.lift
    at_none = whole_m[:, 0] - piece.second.lift + square * piece.legs.gap(0.0)
    at_all = piece.first.lift - whole_m[:, 1] + square * piece.legs.gap(1.0)
    share = np.where(at_none <= 0.0, 0.0, 1.0)
    open_ = np.flatnonzero((at_none > 0.0) & (at_all < 0.0))
    if not len(open_):
        return share
    # a parabola: falls (1 - x)^2 - rises x^2 + lifts, with the gaps at both ends
    lifts, at_none, at_all = lifts[open_], at_none[open_], at_all[open_]
    falls, rises_ = at_none - lifts, lifts - at_all
    root = np.sqrt(np.maximum(rises_ * at_none - lifts * falls, 0.0))
    start = at_none / (falls + root)
    if near is not None:
        start = np.where((near[open_] > 0.0) & (near[open_] < 1.0), near[open_], start)
    start = np.clip(start, 1e-6, 1.0 - 1e-6)
    slope = -2.0 * (falls * (1.0 - start) + rises_ * start)
    some = piece if len(open_) == len(share) else piece.rows(open_)
    low, high, tolerance = np.zeros_like(start), np.ones_like(start), np.full_like(start, RELATIVE)
    noise = rounding * (whole_m[open_].min(axis=1) + some.first.lift + some.second.lift)
    share[open_] = falling_roots(_AtTotal(some, _some(flow_m3s, open_)), low, high, start, slope, tolerance, noise)
    return share


def divided(piece: Pairs, windows: Windows, flow_m3s: float | Reals, share: Reals) -> SplitState:
    """Flows, heads and throttles of some splits, given the second branch's natural ``share`` (n,) of the total."""
    flows, held = _throttled(piece, windows, np.broadcast_to(flow_m3s, share.shape), share)
    along = np.where(held == FREE, share > 0.5, held == 0).astype(np.intp)
    return SplitState(flows, piece.head_m(flows, along), held)


def _throttled(piece: Pairs, windows: Windows, flow_m3s: Reals, share: Reals) -> tuple[Reals, Ints]:
    """Flows (n, 2) with throttles at totals (n,), and the branch that is held (n,)."""
    flows = np.stack([flow_m3s * (1.0 - share), flow_m3s * share], axis=1)
    held = np.full(len(share), FREE, dtype=np.intp)
    if not windows.throttles.any():
        return flows, held
    least, most = windows.least, windows.most
    limit = np.maximum(np.minimum(most, flow_m3s[:, None] - least[:, ::-1]), 0.0)
    asks = windows.throttles & (flows > limit)
    held[asks[:, 1]] = 1
    held[asks[:, 0]] = 0
    # where both would have to be held the total is outside the window: as at its border
    torn = np.flatnonzero(asks.all(axis=1))
    if len(torn):
        over = (flows[torn] > most[torn]).all(axis=1, keepdims=True)
        border = np.where(over, most[torn], least[torn])
        held[torn] = piece.rows(torn).gap_m(border) > 0.0
    holds = np.flatnonzero(held != FREE)
    kept = limit[holds, held[holds]]
    flows[holds, held[holds]] = kept
    flows[holds, 1 - held[holds]] = flow_m3s[holds] - kept
    return flows, held


def window_of(piece: Pairs, windows: Windows) -> tuple[Reals, Reals]:
    """Total flows (n,) in m3/s of some splits from which on, and up to which, both branches get what they need and no more than
    they may, as `Splits.window` says."""
    least, most = windows.least, windows.most
    low, high = np.zeros(len(least)), np.full(len(least), np.inf)
    for which in (0, 1):
        needs, may = least[:, which], most[:, which]
        by_throttle, throttled = windows.throttles[:, 1 - which], windows.throttles[:, which]
        from_on = np.where(by_throttle, least.sum(axis=1), 0.0)
        up_to = np.where(throttled, most.sum(axis=1), np.inf)
        some = np.flatnonzero((needs > 0.0) & ~by_throttle)
        from_on[some] = total_where(piece.rows(some), which, needs[some])
        some = np.flatnonzero(np.isfinite(may) & ~throttled)
        up_to[some] = total_where(piece.rows(some), which, may[some])
        low, high = np.maximum(low, from_on), np.minimum(high, up_to)
    low[(least > most).any(axis=1)] = np.inf
    return low, high


def total_where(piece: Pairs, which: int, flow_m3s: Reals) -> Reals:
    """Totals (n,) in m3/s at which branch ``which`` of each pair takes a flow (n,) without throttles; inf for more than
    `MOST_M3S`. The flow of the other at the same head is bracketed by doubling."""
    gap = _AtFlow(piece, which, flow_m3s)
    low, value = np.zeros_like(gap.flow_m3s), gap.at(np.zeros_like(gap.flow_m3s))
    high, top_value, total = gap.flow_m3s.copy(), value.copy(), gap.flow_m3s.copy()
    open_ = np.flatnonzero(value > 0.0)
    sought = open_
    while len(sought):
        top_value[sought] = gap.rows(sought).at(high[sought])
        sought = sought[(top_value[sought] > 0.0) & (high[sought] < MOST_M3S)]
        low[sought], value[sought] = high[sought], top_value[sought]
        high[sought] *= 2.0
    total[open_[top_value[open_] > 0.0]] = np.inf
    open_ = open_[top_value[open_] <= 0.0]
    if len(open_):
        low, high, value, top = low[open_], high[open_], value[open_], top_value[open_]
        slope = (top - value) / (high - low)
        start = np.clip(low - value / slope, low + 0.05 * (high - low), high - 0.05 * (high - low))
        tolerance = RELATIVE * (gap.flow_m3s[open_] + low)
        some = gap.rows(open_)
        noise = piece.rounding * some.own_m()
        total[open_] += falling_roots(some, low, high, start, slope, tolerance, noise)
    return total


def rises(splits: Splits, top_m3s: float = TOP_M3S) -> Bools:
    """Whether (n,) neither the head nor the flow of a branch ever falls as the total rises to ``top_m3s``, and the flow
    divides in one way only. A search among splits that do rests on them; it refuses others.

    Looks at `LOOKS` totals and `SHARES` shares, so that a dip between them is not seen.

    >>> from optimizer.model.losses import Loss, TeeShape
    >>> mouth = BranchLoss(losses=(Loss(quadratic=1e7),))
    >>> tee = TeeShape(run_bore_m=0.016, branch_bore_m=0.016)
    >>> rises(Splits.of([Split(branches=(mouth, mouth), parting=tee)], 1e-6)).tolist()
    [True]
    """
    count = len(splits.pair)
    sound = np.ones(count, dtype=bool)
    shares = np.linspace(0.0, 1.0, SHARES)
    head, flows = np.zeros((count, 0)), np.zeros((count, 0, 2))
    totals = np.concatenate([[0.0], np.geomspace(top_m3s / 1e3, top_m3s, LOOKS)])
    for some in _few(totals, count):
        more, divided_ = _states(splits, some)
        head, flows = np.hstack([head[:, -1:], more]), np.concatenate([flows[:, -1:], divided_], axis=1)
        sound &= (np.diff(head, axis=1) >= -DIP * head[:, 1:]).all(axis=1)
        sound &= (np.diff(flows, axis=1) >= -DIP * flows[:, 1:].sum(axis=2, keepdims=True)).all(axis=(1, 2))
        for flow, heads in zip(some.tolist(), _heads_at(splits.branches, some, shares), strict=True):
            sound &= _divides_once(splits, flow, shares, heads)
    return sound


def _few(flows_m3s: Reals, count: int) -> list[Reals]:
    """The flows in groups: as many at once for ``count`` splits as the processor's cache holds."""
    some = max(PIECE // max(count, 1), 1)
    return [flows_m3s[start : start + some] for start in range(0, len(flows_m3s), some)]


def _states(splits: Splits, totals_m3s: Reals) -> tuple[Reals, Reals]:
    """Heads (n, totals) and flows (n, totals, 2) of splits at some totals."""
    count, many = len(splits.pair), len(totals_m3s)
    if many == 1:
        state = splits.state(float(totals_m3s[0]))
        return state.head_m[:, None], state.flow_m3s[:, None]
    paired, rows, totals = splits.paired(), np.repeat(np.arange(count), many), np.tile(totals_m3s, count)
    piece = Pairs.of(paired, rows)
    whole = np.stack([piece.first.at(totals), piece.second.at(totals)], axis=1)
    state = divided(piece, paired.windows(rows), totals, natural_share(piece, totals, whole))
    return state.head_m.reshape(count, many), state.flow_m3s.reshape(count, many, 2)


def _heads_at(branches: Branches, totals_m3s: Reals, shares: Reals) -> list[Reals]:
    """Heads (n, shares) of branches in m at shares of each total."""
    count, found = len(branches.lift), []
    for some in _few((totals_m3s[:, None] * shares).ravel(), count):
        rows = branches.rows(np.repeat(np.arange(count), len(some))) if len(some) > 1 else branches
        found.append(rows.at(np.tile(some, count)).reshape(count, -1))
    return np.split(np.concatenate(found, axis=1), len(totals_m3s), axis=1)


def _divides_once(splits: Splits, flow_m3s: float, shares: Reals, heads: Reals) -> Bools:
    """Whether the gap between the heads of both branches falls (n,) over a grid of shares of one total; ``heads`` are those of
    all branches there."""
    falls = np.ones(len(splits.pair), dtype=bool)
    both = np.flatnonzero(splits.pair[:, 1] >= 0)
    for start in range(0, len(both), PIECE):
        rows = both[start : start + PIECE]
        first, second = splits.pair[rows].T
        legs = splits.legs.rows(rows)
        tees = np.stack([np.broadcast_to(legs.gap(share), rows.shape) for share in shares], axis=1)
        gap = heads[first][:, ::-1] - heads[second] + flow_m3s * flow_m3s * tees
        scale = np.abs(gap).max(axis=1, keepdims=True)
        falls[rows] = (np.diff(gap, axis=1) <= DIP * scale).all(axis=1)
    return falls
