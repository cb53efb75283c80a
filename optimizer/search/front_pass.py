"""All that a money-flow front could be made of, found span by span from the most flow down.

First some good bundles are found: those on the lower hull of price and loss at some flows, then those at the end of a beam of
partial paths. They make stairs, and a bundle is of use only if it delivers more than all that is known to cost less. Between
two steps of the stairs it must deliver more than the lower one and cost no more than the upper one: that is a column, which
asks for the cheapest bundle that can deliver the flow of the lower step. A column whose bound is above the price of the upper
step is empty. The others are gathered into spans of flow, and label setting over a span (`span_paths`) lists every bundle that
could be of use in one of its columns. A span with too many partial paths is cut in four, each with
better stairs by a beam of its own.

Nothing is left out without one of these arguments, so when a span is done everything of use that delivers more than its lower
end is known. Only then throttles are asked for. What counts and was left out was so for a bundle that costs no more and delivers
no less, but runs above a ceiling with nothing to hold it. So where the best that counts delivers no less than all such bundles
for the same money, nothing of use was left out. Elsewhere, which is seldom and narrow, two more walks are made over what lies
between the two: one for bundles with a throttle, where a path that has one is not beaten by one that has none; and one for those
that stay under all ceilings by themselves, where more loss may be what saves a bundle, so that no path beats another.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.search.best import RESOLUTION_M3S, TRICKLE_M3S, WITHIN, Found, Seeker
from optimizer.search.columns import Bounds, Columns
from optimizer.search.known_bundles import KnownBundles, Stairs
from optimizer.search.layers import Problem
from optimizer.search.rounds import BARRED, CENT_SLACK, Path, TooManyPaths
from optimizer.search.span_paths import ANYTHING, FREE, THROTTLED, Ends, SpanPaths
from optimizer.search.span_prices import Probe, SpanPrices
from optimizer.search.spans import Span

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]

FLOWS = 20
"""So many flows, evenly from the least to the most, are looked at first."""

STEPS = 25
"""So many steps of the stairs make a span at first."""

BEAM = 400
"""So many partial paths behind a layer are followed in search of good bundles."""

CROWDED_BEAM = 1200
"""As many in a part of a span that was too crowded, before it is listed."""

PARTS = 4
"""A crowded span is cut into so many."""

FEW_LABELS = 4000
"""More partial paths than this behind a layer cut a span; of each part twice as many are followed."""

MOST_HALVINGS = 6
"""After so many a span is left to the single search."""

MOST_BRANCHED = 12_000
"""So many ways to fill branches are followed over a span at most."""

EDGE = 1e-9
"""Share of a flow by which a span reaches beyond the steps it is made for."""


def covers(problem: Problem) -> bool:
    """Whether the pass can be made: not where nothing fits somewhere, nor where branches are filled in too many ways, each of
    which follows a law of its own."""
    many = problem.heads.splits is not None and len(problem.heads.splits.pair) > MOST_BRANCHED
    return not many and all(len(layer.options) and len(layer.joints) for layer in problem.layers)


class Unsettled(Exception):
    """What is known here does not tell the answer: a single search must. ``roof`` is the best of all, if that is known, and
    ``held`` the best known that can be held to what it delivers."""

    def __init__(self, roof: Found | None = None, held: Found | None = None) -> None:
        super().__init__()
        self.roof, self.held = roof, held


@dataclass(frozen=True, slots=True)
class _Piece:
    """A span still to be done, how often it was cut (``halved``), and which walk is due."""

    low: float
    high: float
    halved: int = 0
    walk: int = ANYTHING


class FrontPass:
    """The pass over one problem up to a budget. `best` does as much of it as an answer takes."""

    def __init__(self, seeker: Seeker, budget: int) -> None:
        exact, problem = seeker.exact, seeker.problem
        self.seeker, self.budget, self.problem = seeker, budget, problem
        self.known = KnownBundles(seeker, budget)
        whole = Probe(exact.rounds, exact.shares, seeker.all)
        self.probe = whole
        self.probes = (whole, whole, Probe(exact.rounds, exact.shares, seeker.unthrottled()))
        self.apart = whole.whole.settling.apart
        self.noise = seeker.noise[problem.option_at[problem.pump] : problem.option_at[problem.pump + 1]]
        self.floor = max(seeker.limits.flow_min_m3s, TRICKLE_M3S)
        self.pieces: list[_Piece] | None = None
        self.done_m3s = np.inf

    # -- answers ---------------------------------------------------------------------------------------------------

    def best(self, budget: int) -> Found | None:
        """The most flow for a budget, as `best.Seeker.most_flow` finds it. Raises Unsettled where only that can tell."""
        if self.pieces is None:
            self.pieces = self._begin()
        while self.pieces and self._most(budget) - RESOLUTION_M3S <= self.done_m3s:
            if self.pieces[-1].halved > MOST_HALVINGS:
                raise Unsettled(self._roof(budget), self.best_known(budget))
            # an interrupt leaves the piece where it is: whoever asks on begins it anew
            self.pieces[-1:] = self._follow(self.pieces[-1])
        return self._preferred(budget)

    def _most(self, budget: int) -> float:
        return float(self.known.firm.most_below(np.array([budget + 0.5]))[0])

    def _roof(self, budget: int) -> Found | None:
        """The best for a budget of all bundles, whether it counts or not; None where that is not known yet."""
        piece = self.pieces[-1] if self.pieces else None
        row = int(np.where(self.known.price <= budget, self.known.flow, 0.0).argmax()) if len(self.known.flow) else 0
        if piece is None or piece.walk == ANYTHING or not len(self.known.flow) or self.known.flow[row] <= piece.low:
            return None
        return self._found(row) if self.known.price[row] <= budget else None

    def _preferred(self, budget: int) -> Found | None:
        """Of what is known and counts the cheapest that is as good as the best, then the quietest, then the one with most head
        to spare."""
        known = self.known
        within = known.held & (known.price <= budget)
        if not within.any():
            return None
        most = known.flow[within].max()
        target = max(most - RESOLUTION_M3S, self.floor)
        good = np.flatnonzero(within & (known.flow >= target))
        good = good[known.price[good] == known.price[good].min()]
        noise = self.noise[known.options[good, self.problem.pump] - self.problem.option_at[self.problem.pump]]
        good = good[noise <= noise.min() + 1e-9]
        losses = self.problem.heads.at(target)[known.options[good]].sum(axis=1)
        losses += self.problem.joint_quadratic[known.joints[good]].sum(axis=1) * target * target
        row = min(zip(losses.tolist(), known.options[good].tolist(), good.tolist(), strict=True))[2]
        return self._found(row)

    def _found(self, row: int) -> Found:
        known = self.known
        path = Path(0.0, float(known.price[row]), tuple(known.options[row].tolist()), tuple(known.joints[row].tolist()))
        bundle = self.seeker.exact.priced(path)
        if bundle is None or bundle.price != round(path.price):
            raise RuntimeError("a bundle of the front does not cost what it was listed with")
        return Found(bundle, self.seeker.delivered(bundle))

    def best_known(self, budget: int) -> Found | None:
        """The best for a budget of what is known so far and can be held, where the pass was ended before its time."""
        rows = np.flatnonzero(self.known.held & (self.known.price <= budget)).tolist()
        return self._found(max(rows, key=lambda row: self.known.flow[row])) if rows else None

    # -- the first stairs ------------------------------------------------------------------------------------------

    def stairs(self) -> list[tuple[float, float]]:
        """Prices and flows of some good bundles that can be held, each better than all that cost less."""
        if self.pieces is None:
            self.pieces = self._begin()
        return list(zip(self.known.firm.price.tolist(), self.known.firm.flow.tolist(), strict=True))

    def _begin(self) -> list[_Piece]:
        """Some good bundles, and the spans between them, the one with the most flow last."""
        top, bounds = self._top(), self.probe.whole.bounds
        if top is None:
            return []
        flow = np.linspace(self.floor, top, FLOWS + 1)[:-1]
        columns = Columns.of(flow, np.full(FLOWS, np.inf), np.full(FLOWS, float(self.budget)))
        hulls = bounds.hulls(columns)
        self._take_paths(hulls.paths)
        columns = columns.with_hulls(hulls)
        if not len(columns):
            return []
        empty = hulls.bound > self.budget + CENT_SLACK
        top = float(flow[empty].min()) if empty.any() else top
        stairs = self.known.stairs
        roof = np.append(stairs.price, self.budget)[np.searchsorted(stairs.flow, columns.flow, side="right")]
        columns = bounds.through_pumps(Columns(columns.flow, columns.top, roof, columns.pump, columns.multiplier))
        hulls = bounds.hulls(columns)
        self._take_paths(hulls.paths)
        self._beam(columns.with_hulls(hulls), self.floor, top, BEAM)
        inner = self.known.stairs.flow[::STEPS] * (1 - EDGE)
        ends = np.unique(np.concatenate(([self.floor], inner[inner > self.floor], [top * (1 + EDGE)])))
        return [_Piece(low, high) for low, high in pairwise(ends.tolist())]

    def _top(self) -> float | None:
        """A flow that nothing exceeds at any price, and that something nearly reaches; None: nothing delivers the least."""
        bounds, most = self.probe.whole.bounds, self.seeker.limits.flow_max_m3s
        low = high = self.floor
        while high < most and self._can(bounds, np.array([high]))[0]:
            low, high = high, min(2.0 * high + 1e-4, most)
        if not self._can(bounds, np.array([self.floor]))[0]:
            return None
        for _ in range(3):
            flows = np.linspace(low, high, FLOWS)
            last = int(np.flatnonzero(self._can(bounds, flows))[-1])
            if last == FLOWS - 1:
                return high
            low, high = float(flows[last]), float(flows[last + 1])
        return high

    def _can(self, bounds: Bounds, flows: Reals) -> NDArray[np.bool_]:
        """Whether any path can deliver each flow, whatever it costs."""
        free = np.full(len(flows), np.inf)
        losses = bounds.losses(Columns.of(flows, free, free))
        return np.asarray(bounds.forward(np.minimum(losses.option, BARRED), losses.joint)[-1][1].min(axis=0) <= 0.0)

    def _take_paths(self, paths: list[tuple[Ints, Ints]]) -> None:
        """Price and solve the paths that bounds were found by."""
        if not paths:
            return
        both = np.unique(np.concatenate([np.vstack(pair) for pair in paths], axis=1), axis=1).T
        if not len(both):
            return
        options, joints = np.split(both, 2, axis=1)
        price = np.array(
            [
                self.seeker.exact.true_price(Path(0.0, 0.0, tuple(some), tuple(joined)))
                for some, joined in zip(options.tolist(), joints.tolist(), strict=True)
            ]
        )
        cheap = price <= self.budget
        self.known.put(options[cheap], joints[cheap], price[cheap])

    def _beam(self, columns: Columns, low: float, high: float, width: int) -> None:
        """Follow some of the partial paths only, in search of good bundles."""
        if len(columns):
            span = Span.of(self.problem, low, high)
            ends = self._walk(self.probe.whole, span, columns, beam=width)
            self._take(ends, span)

    def _walk(self, prices: SpanPrices, span: Span, columns: Columns, **how: int) -> Ends:
        self.seeker.tally.rounds += 1
        return SpanPaths(prices, span, columns, self.apart, self.noise, **how).ends()

    # -- span by span ----------------------------------------------------------------------------------------------

    def _follow(self, piece: _Piece) -> list[_Piece]:
        """List all of use that one walk over a span finds; what is left to do there: the next walk, or the parts of a span that
        is too crowded."""
        self._tick()
        if piece.halved and piece.walk == ANYTHING:
            self._beam(self._columns(piece)[0], piece.low, piece.high, CROWDED_BEAM)
        columns, prices = self._columns(piece)
        if len(columns):
            span = Span.of(self.problem, piece.low, self._high(piece))
            most = FEW_LABELS * 2**piece.halved
            try:
                ends = self._walk(prices, span, columns, most=most, only=piece.walk)
            except TooManyPaths:
                return self._divided(piece)
            self._take(ends, span, piece.walk)
        if piece.walk != FREE:
            return [replace(piece, walk=piece.walk + 1)]
        self.done_m3s = piece.low
        return []

    def _tick(self) -> None:
        tally = self.seeker.tally
        tally.flow_m3s = self._most(self.budget) or None
        tally.settled_m3s = None if np.isinf(self.done_m3s) else self.done_m3s
        tally.tell()

    def _divided(self, piece: _Piece) -> list[_Piece]:
        """Cut a crowded span at some of the steps of its stairs."""
        flow = self._stairs(piece.walk).flow
        inside = flow[(flow > piece.low * (1 + EDGE)) & (flow < piece.high * (1 - EDGE))]
        cuts = inside[[len(inside) * n // PARTS for n in range(1, PARTS)]] if len(inside) else inside
        ends = np.unique(np.concatenate(([piece.low], cuts * (1 - EDGE), [piece.high])))
        return [replace(piece, low=low, high=high, halved=piece.halved + 1) for low, high in pairwise(ends.tolist())]

    def _stairs(self, walk: int) -> Stairs:
        """Those that what a walk looks for must be above."""
        return self.known.stairs if walk == ANYTHING else self.known.firm

    def _columns(self, piece: _Piece) -> tuple[Columns, SpanPrices]:
        """The columns of a span that are not empty, split by pump, and prices that hold in them."""
        stairs, probe = self._stairs(piece.walk), self.probes[piece.walk]
        inside = (stairs.flow > piece.low) & (stairs.flow < piece.high)
        flow = np.append(piece.low, stairs.flow[inside])
        first = int(np.searchsorted(stairs.flow, piece.low, side="right"))
        roof = np.append(stairs.price, self.budget)[first : first + len(flow)]
        columns = Columns.of(flow, np.append(flow[1:], piece.high), roof)
        if piece.walk != ANYTHING:
            columns = columns.rows(self.known.most_above(columns.roof) > columns.flow)
        if not len(columns):
            return columns, probe.whole
        hulls = probe.whole.bounds.hulls(columns)
        self._take_paths(hulls.paths)
        columns = columns.with_hulls(hulls)
        if not len(columns):
            return columns, probe.whole
        prices = probe.prices(columns)
        columns = prices.bounds.through_pumps(columns)
        return columns.with_hulls(prices.bounds.hulls(columns)), prices

    def _high(self, piece: _Piece) -> float:
        """How far up a walk must look: nothing that counts delivers more than what was taken for it."""
        if piece.walk == ANYTHING:
            return piece.high
        return min(piece.high, float(self.known.most_above(np.array([self.budget]))[0]) * (1 + EDGE))

    def _take(self, ends: Ends, span: Span, walk: int = ANYTHING) -> None:
        """Solve those of the bundles at the end of a walk that could still be of use."""
        labels, most = ends.labels, self.seeker.limits.flow_max_m3s
        self.seeker.tally.paths += len(labels)
        high = np.minimum(span.crossed(labels.coefficient - labels.error[:, None]), np.minimum(labels.most, most))
        high[high >= span.high * (1 - WITHIN)] = np.inf
        use = self.known.of_use(np.floor(labels.price + 0.5) - 0.25, high, self._stairs(walk))
        rows = np.flatnonzero(use & (high > span.low) & (labels.throttled | (walk != THROTTLED)))
        self.known.put(ends.options[rows], ends.joints[rows], labels.price[rows])
