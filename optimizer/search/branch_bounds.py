"""The ways to fill two branches that bounds leave open, found without listing all.

Good bundles that are known make stairs, as for a front: between two of their steps a bundle is of use only if it can deliver
the flow of the lower step and costs no more than the upper one. So for a step, a pump and any two weights of loss and price,
weak duality says of a pair of fillings: if the least that the rest of the loop comes to, plus the price of the pair at shared-
out prices, plus its head at the flow of the lower step, is too much, no bundle of use holds that pair. The rest hangs on the
tees only, so it is one number for all pairs between the same two.

What two branches lose is bounded without looking at every pair. Let x be the share of the flow that goes through the second
branch. At the share that a pair divides the flow by, the head of the pair is that of either branch with its leg of each tee; a
throttle only adds to the head of the branch that it does not stand in. The share lies in one of some cells, and in a cell a
branch loses no less than at its least flow there. So the head is no less than the least, over the cells, of the greater of
these two numbers. Of blocks of alike fillings the same holds with the least numbers of each block, so whole blocks of pairs are
left out at once; what blocks leave open is bounded pair by pair, and what is then left is solved.

This rests on what a branch loses rising with its flow, which a `Loss` checks when it is built and `loop.splits.rises` looks at
for branches within a branch, and, where a throttle holds a
branch, on the gap between the heads of both falling as the share rises. The latter is what `loop.splits.rises` looks at for
every pair that is listed; one that fails is left out there, so for it nothing need hold here. The legs of tees hang on the
share alone and need not rise; their least in a cell is read off at `LOOKS` steps, less as much as they change by in one of
these.

A place with branches within a branch is a frame with a pair left open in it, see `branch_pairs.Fillings`. In a cell the branch
gets at least the least flow q there, and a steady pair loses no less then than at q, where the same cells bound it by what its
own two branches lose alone: at steps of steps of the total, so each loss is worked out at few flows and none of the pairs is
solved. A pair that has a branch with more water at q than its parts allow has so at every flow above, since flows of branches
rise with the total too. Both are what `loop.splits.rises` looks at for every inner pair that is listed; what fails is left out
there. So blocks of inner pairs, then each with each frame, then one by one, stay as far as they are open beside the least that
the other outer branch loses and costs; what then stays is bounded and solved with the other branch as any filling is.

What is listed are all pairs that some step leaves open, those of the bundles that make the stairs, and those that leave all as
it is or clean it. The best bundle for any sum within the budget is then made of them, and so is the cheapest for any flow: take
the answer, and the dearest step of the stairs that costs less. The answer delivers more than that step (else that step were as
good) and costs no more than the next, and so is open. Every step can be held to what it delivers, as answers must. Among the
options of a mask the best may be others, so for each mask that is asked about stairs and pairs are made anew.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.branches import Branches, Legs
from optimizer.loop.numbering import numbered
from optimizer.loop.splits import Splits, Within
from optimizer.model.items import Item, Needs
from optimizer.model.losses import BranchLoss
from optimizer.model.options import CLEAN, KEEP, Option
from optimizer.search.best import TRICKLE_M3S, WITHIN, Outcome, Seeker
from optimizer.search.branch_pairs import Fillings, Group, Pairing, Ready, fill_inside, sound
from optimizer.search.choices import Choices
from optimizer.search.columns import Bounds, Columns, Losses
from optimizer.search.exact import Tally
from optimizer.search.front_pass import FrontPass, covers
from optimizer.search.layers import Problem, build
from optimizer.search.rounds import BARRED, CENT_SLACK, SLACK

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]
Pair = tuple[int, int, int]
"""A group of tees, a filling of the first branch there and one of the second."""

Masking = Callable[[Seeker], Bools | None]
"""A mask over the options of a search, which may hang on them; None: there is none."""

CELLS = 16
"""Cells of shares in which heads are bounded."""

LOOKS = 8
"""So many steps of a cell at which the legs of tees are looked at."""

MOST_STEPS = 16
"""So many steps of the stairs are looked at."""

FIRST_M3S = 1e-4
LEANINGS = (0.0, 300.0, 3e3, 3e4, 1e9)
"""A flow, and weights of head against price in minor units per m, by which the first pairs of each group are chosen."""

FEW_PAIRS = 2000
"""So few are listed without any bounds: stairs would cost more than they save."""

FEW = 6000
"""So many open pairs are listed at once; where there are more, stairs are made better by some of them first."""

GROWTH = 400
"""So many of the most promising pairs are listed then."""

WORTH = 0.8
"""Stairs are made better as long as that leaves no more than so large a share of the pairs open."""

BLOCK, INNER = 48, 16
"""Fillings of a block, in a branch and in one within a branch."""


def paired(
    menu: Choices, dearest: float, tally: Tally, target_m3s: float = 0.0, masking: Masking = lambda seeker: seeker.all
) -> Seeker:
    """A search among all pairs of the fillings of ``menu`` that some bundle of use could hold, and the mask allows. With
    ``target_m3s`` of use is only the cheapest bundle that delivers as much. Raises KeyboardInterrupt when it is stopped."""
    place, pairing = next(iter(menu.unpaired.items()))
    return _Listing(menu, place, pairing, dearest, tally, target_m3s, masking).seeker()


class _Listing:
    """Lists pairs until those that are left out are of no use."""

    def __init__(
        self, menu: Choices, place: int, pairing: Pairing, dearest: float, tally: Tally, target_m3s: float, masking: Masking
    ) -> None:
        self.menu, self.place, self.pairing, self.dearest = menu, place, pairing, dearest
        self.tally, self.target_m3s, self.masking = tally, target_m3s, masking
        self.floor = max(target_m3s, menu.limits.flow_min_m3s, TRICKLE_M3S)
        self.listed: dict[Pair, Option | None] = {}
        self.left_out = menu.left_out

    def seeker(self) -> Seeker:
        """The search among what has to be listed."""
        groups = self.pairing.groups
        if sum(len(group.first) * len(group.second) for group in groups) <= FEW_PAIRS:
            self._list([(n, *pair) for n, g in enumerate(groups) for pair in np.ndindex(len(g.first), len(g.second))])
            problem = self._problem(self._options())
            return self._masked(replace(problem, choices=replace(problem.choices, whole=None)))
        sides = _Sides(self.pairing.groups, self.menu.water.kinematic_m2s)
        self._list([*_left_alone(self.pairing), *sides.first()])
        before = np.inf
        while True:
            problem, probes = self._probing()
            seeker = self._masked(problem, Tally(tick=self.tally.tick))
            found = _Bounded(seeker, self.place, probes, sides, self._steps(seeker)).open()
            fresh = [pair for pair in found.pairs() if pair not in self.listed]
            if len(fresh) <= FEW or len(fresh) > WORTH * before:
                self._list(fresh)
                return self._masked(self._settled(problem, probes))
            self._list(fresh[:GROWTH])
            before = len(fresh)

    def _masked(self, problem: Problem, tally: Tally | None = None) -> Seeker:
        seeker = Seeker(problem, self.tally if tally is None else tally)
        mask = self.masking(seeker)
        return seeker if mask is None else seeker.inside(mask)

    def _list(self, pairs: Sequence[Pair]) -> None:
        """Make options of pairs."""
        fresh = list(dict.fromkeys(pair for pair in pairs if pair not in self.listed))
        groups, nu = self.pairing.groups, self.menu.water.kinematic_m2s
        inside = [[some.inside(each)[1] for some, each in zip(groups[n].sides, both, strict=True)] for n, *both in fresh]
        unsteady = fill_inside([each for two in inside for each in two if each is not None], nu)
        steady = [
            pair
            for pair, two in zip(fresh, inside, strict=True)
            if all(each is None or each[0].filled[each[1:]] is not None for each in two)
        ]
        made = [groups[n].made(groups[n].first[one], groups[n].second[other]) for n, one, other in steady]
        options, more = sound(made, nu)
        self.listed |= dict.fromkeys(fresh) | dict(zip(steady, options, strict=True))
        self.left_out += unsteady + more

    def _options(self) -> list[Option]:
        return [*self.menu.options[self.place], *(option for option in self.listed.values() if option is not None)]

    def _problem(self, options: Sequence[Option], probing: bool = False) -> Problem:
        some = [*self.menu.options]
        some[self.place] = tuple(options)
        unpaired = self.menu.unpaired if probing else {}
        menu = replace(self.menu, options=tuple(some), unpaired=unpaired, left_out=self.left_out, whole=self.menu)
        return build(menu, self.dearest)

    def _probing(self) -> tuple[Problem, list[Option]]:
        """The problem with the pairs that are listed, and an option of each group that lets no water through: it shows what the
        rest of the loop comes to."""
        probes = [group.probe() for group in self.pairing.groups]
        return self._problem([*self._options(), *probes], probing=True), probes

    def _settled(self, probing: Problem, probes: list[Option]) -> Problem:
        """The problem with all pairs that are listed in the end; it knows how many bundles are not."""
        sizes = {id(probe): len(g.first) * len(g.second) for probe, g in zip(probes, self.pairing.groups, strict=True)}
        kept = {id(option) for option in self.menu.options[self.place]}
        times = [
            sizes.get(id(option), int(n != self.place or id(option) in kept))
            for n, layer in enumerate(probing.layers)
            for option in layer.options
        ]
        problem = self._problem(self._options())
        ruled_out = probing.combinations(times) - problem.combinations()
        return replace(problem, choices=replace(problem.choices, ruled_out=ruled_out))

    def _steps(self, seeker: Seeker) -> list["_Step"]:
        """The steps between bundles that are known, up to the budget. None delivers more than the limits allow."""
        budget, known = seeker.budget, list[tuple[float, float]]()
        if self.target_m3s:
            known.append(self._asked(seeker.least_price(self.target_m3s)))
        else:
            known += FrontPass(seeker, budget).stairs() if covers(seeker.problem) else []
            if not known:
                known.append(self._asked(seeker.most_flow()))
        flow, steps = self.floor, list[_Step]()
        for price, more in _thinned(sorted(stair for stair in known if stair[1] > 0.0)):
            if more > flow or not steps:
                steps.append(_Step(flow, price))
                flow = max(flow, more)
        ends = flow >= seeker.limits.flow_max_m3s * (1 - WITHIN) or (self.target_m3s and steps)
        return steps if ends else [*steps, _Step(flow, float(budget))]

    def _asked(self, outcome: Outcome) -> tuple[float, float]:
        """Price and flow of an answer (0: there is none). Raises KeyboardInterrupt where it was stopped."""
        if outcome.tally.interrupted:
            raise KeyboardInterrupt
        return (0.0, 0.0) if outcome.found is None else (float(outcome.found.bundle.price), outcome.found.flow_m3s)


@dataclass(frozen=True, slots=True)
class _Step:
    """Of use are bundles that can deliver ``flow`` m3/s for no more than ``roof`` minor units."""

    flow: float
    roof: float


def _thinned(stairs: Sequence[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """Some steps of stairs (price, flow), the last among them: those that rise by a share of the whole."""
    least = (stairs[-1][1] - stairs[0][1]) / MOST_STEPS if stairs else 0.0
    last = -np.inf
    for n, (price, flow) in enumerate(stairs):
        if flow >= last + least or n == len(stairs) - 1:
            last = flow
            yield price, flow


def _left_alone(pairing: Pairing) -> Iterator[Pair]:
    """The pairs that leave all as it is, or clean it."""
    for n, group in enumerate(pairing.groups):
        if group.change == KEEP:
            yield from ((n, one, other) for one, other in product(*(some.numbers(_is_left) for some in group.sides)))


def _is_left(ready: Ready) -> bool:
    return all(option.change in (KEEP, CLEAN) for option in ready.fill.options)


# -- what branches lose ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Side:
    """One branch between all tees: ``losses`` that differ, those of each group's rows (``which``), the groups left open in these
    rows by their numbers (``inner``; -1: none), and the fillings."""

    losses: list[BranchLoss]
    which: list[Ints]
    inner: list[Ints]
    fillings: list[Fillings]

    @classmethod
    def of(cls, fillings: list[Fillings], inner: list[Group] | None = None) -> "_Side":
        which, losses = numbered([ready.loss for some in fillings for ready in some.rows], key=id)
        number = {id(group): n for n, group in enumerate(inner or ())}
        within = np.array([number.get(id(ready.group), -1) for some in fillings for ready in some.rows], dtype=np.intp)
        ends = np.cumsum([len(some.rows) for some in fillings])[:-1]
        return cls(losses, np.split(which, ends), np.split(within, ends), fillings)

    def taken(self, group: int, numbers: Ints) -> tuple[Ints, Ints]:
        """The rows (n,) that some fillings of a group are of, and the pairs (n, 3) that frames are filled with (-1: none)."""
        some = self.fillings[group]
        row = np.searchsorted(some.starts, numbers, side="right") - 1
        seconds = np.array([1 if each.group is None else len(each.group.second) for each in some.rows])[row]
        inner, rest = self.inner[group][row], numbers - some.starts[row]
        pairs = np.stack([inner, rest // seconds, rest % seconds], axis=1)
        return row, np.where(inner[:, None] >= 0, pairs, -1)

    def prices(self, of_item: Mapping[Item, float]) -> list[Reals]:
        """What the rows of each group come to at prices of shared items."""
        return [np.array([_price(of_item, ready.needs) for ready in some.rows]) for some in self.fillings]


def _price(of_item: Mapping[Item, float], needs: Needs) -> float:
    return needs.plain + sum(of_item[item] for item in needs.special)


@dataclass(frozen=True, slots=True)
class _Tees:
    """What some groups part and meet at: the legs, the least of both in every cell, and at either end of the shares."""

    legs: Legs
    run: list[Reals]
    side: list[Reals]
    ends: list[tuple[float, float]]

    @classmethod
    def of(cls, groups: Sequence[Group]) -> "_Tees":
        legs = Legs.of([group.shapes[1] for group in groups], [group.shapes[0] for group in groups])
        shares = np.linspace(0.0, 1.0, CELLS * LOOKS + 1)
        rows = [legs.rows(np.array([n])) for n in range(len(groups))]
        run = [_in_cells(np.broadcast_to(row.run(shares), shares.shape)) for row in rows]
        side = [_in_cells(np.broadcast_to(row.branch(shares), shares.shape)) for row in rows]
        return cls(legs, run, side, [(float(np.sum(row.run(0.0))), float(np.sum(row.branch(1.0)))) for row in rows])


class _Sides:
    """What both branches of some groups lose, alone and together; ``inner`` are the groups left open in their frames."""

    def __init__(self, groups: Sequence[Group], kinematic_m2s: float) -> None:
        self.groups = groups
        within = [row.group for group in groups for some in group.sides for row in some.rows if row.group is not None]
        inner = list({id(group): group for group in within}.values())
        self.inner = _Sides(inner, kinematic_m2s) if inner else None
        self.sides = (_Side.of([g.first for g in groups], inner), _Side.of([g.second for g in groups], inner))
        self.losses = [loss for side in self.sides for loss in side.losses]
        self.branches = Branches.of(self.losses, kinematic_m2s, Within.made)
        self.tees = _Tees.of(groups)
        self.least, self.most = (
            np.array([getattr(loss, name) for loss in self.losses]) for name in ("flow_min_m3s", "flow_max_m3s")
        )
        self.throttles = np.array([loss.throttles for loss in self.losses], dtype=bool)

    def first(self) -> Iterator[Pair]:
        """A few pairs of each group: of each branch the best filling by price and head, which weigh otherwise each time."""
        for leaning in LEANINGS:
            yield from ((n, one[0], other[0]) for n, (one, other) in enumerate(zip(*self._leaning(leaning, 0.5), strict=True)))

    def _leaning(self, leaning: float, share: float) -> list[list[tuple[int, float]]]:
        """The best filling of each branch of every group by price and head at a share of `FIRST_M3S`, and what it comes to."""
        heads = self.lost(np.full(len(self.losses), share * FIRST_M3S))
        inner = [] if self.inner is None else list(zip(*self.inner._leaning(leaning, 0.5 * share), strict=True))
        best: list[list[tuple[int, float]]] = [[], []]
        for n in range(len(self.groups)):
            for which, (side, lost) in enumerate(zip(self.sides, self._of(n, heads), strict=True)):
                some = side.fillings[n]
                worth = np.array([row.rated for row in some.rows]) + leaning * np.minimum(lost, BARRED)
                worth += [sum(each[1] for each in inner[g]) if g >= 0 else 0.0 for g in side.inner[n].tolist()]
                row = int(worth.argmin())
                number, g = int(some.starts[row]), int(side.inner[n][row])
                if g >= 0 and self.inner is not None:
                    number += inner[g][0][0] * len(self.inner.groups[g].second) + inner[g][1][0]
                best[which].append((number, float(worth[row])))
        return best

    def _of(self, group: int, each: Reals) -> tuple[Reals, Reals]:
        """What there is for each loss, for the rows of a group."""
        first, second = self.sides
        return each[first.which[group]], each[len(first.losses) + second.which[group]]

    def lost(self, flow_m3s: Reals) -> Reals:
        """Head (n,) of each loss at a flow of its own (n,); infinite for more water than the parts of the branch allow."""
        return np.where(flow_m3s <= self.most * (1.0 + WITHIN), self.branches.at(flow_m3s), np.inf)

    def at(self, flow_m3s: float) -> "_AtFlow":
        """Both branches at a total flow."""
        shares = np.linspace(0.0, 1.0, CELLS + 1)
        count, split = len(self.losses), len(self.sides[0].losses)
        cells = np.empty((count, CELLS))
        for cell in range(CELLS):
            through = np.empty(count)
            through[:split] = (1.0 - shares[cell + 1]) * flow_m3s
            through[split:] = shares[cell] * flow_m3s
            cells[:, cell] = self.lost(through)
        within = None if self.inner is None else _Inside.of(self.inner, flow_m3s)
        return _AtFlow(self, flow_m3s, cells, self.lost(np.full(count, flow_m3s)), within)

    def splits(self, pairs: Ints) -> Splits:
        """Pairs (n, 3) as splits."""
        loss, inside = np.empty((len(pairs), 2), dtype=np.intp), np.full((len(pairs), 2, 3), -1, dtype=np.intp)
        for group in np.unique(pairs[:, 0]).tolist():
            rows = np.flatnonzero(pairs[:, 0] == group)
            for which, side in enumerate(self.sides):
                row, inside[rows, which] = side.taken(group, pairs[rows, 1 + which])
                loss[rows, which] = which * len(self.sides[0].losses) + side.which[group][row]
        legs, windows = self.tees.legs.rows(pairs[:, 0]), (self.least[loss], self.most[loss], self.throttles[loss])
        open_, filled = np.flatnonzero(inside[:, :, 0].ravel() >= 0), inside.reshape(-1, 3)
        if self.inner is None or not len(open_):
            return Splits(self.branches, loss, legs, *windows)
        within = Within.among(self.inner.splits(filled[open_]), np.arange(len(open_)))
        own = self.branches.rows(loss.ravel())
        lift = own.lift.copy()
        lift[open_] += within.pairs.still_m
        branches = replace(own, lift=lift, inner=(*own.inner, (open_, within)))
        return Splits(branches, np.arange(loss.size).reshape(-1, 2), legs, *windows)


def _in_cells(leg: Reals) -> Reals:
    """The least of a leg in every cell, from its values at all looks."""
    steps = np.abs(np.diff(leg)).reshape(CELLS, LOOKS)
    inside = np.minimum(leg[:-1], leg[1:]).reshape(CELLS, LOOKS)
    return np.asarray(inside.min(axis=1) - steps.max(axis=1))


@dataclass(frozen=True, slots=True)
class _InnerBound:
    """What fillings of both branches within a branch, or blocks of them, lose at least: in each cell of shares of each flow
    through that branch (n, cells, flows), and with all of it (n, flows). The flows are steps of a total, from nothing to all."""

    cells: tuple[Reals, Reals]
    alone: tuple[Reals, Reals]

    def blocks(self, first: "_Order", second: "_Order") -> "_InnerBound":
        """The least of blocks."""
        cells, alone = ((first.least(some[0]), second.least(some[1])) for some in (self.cells, self.alone))
        return _InnerBound(cells, alone)

    def heads(self, one: Ints, other: Ints) -> Reals:
        """A bound on the head (n, flows) of some pairs."""
        head = np.minimum(self.alone[0][one], self.alone[1][other])
        for cell in range(CELLS):
            np.minimum(head, np.maximum(self.cells[0][one, cell], self.cells[1][other, cell]), out=head)
        return head


@dataclass(frozen=True, slots=True)
class _Order:
    """Fillings in blocks of such as lose and cost alike: their order, and where each block starts."""

    order: Ints
    starts: Ints
    size: int

    @classmethod
    def of(cls, lost: Reals, price: Reals, size: int) -> "_Order":
        """Strips of alike losses, in each of which prices rise."""
        count = len(price)
        strip = max(int(np.sqrt(count * size)), size)
        place = np.argsort(np.argsort(lost, kind="stable"), kind="stable") // strip
        return cls(np.lexsort((price, place)), np.arange(0, count, size), size)

    def least(self, some: Reals) -> Reals:
        """The least of each block."""
        return np.minimum.reduceat(some[self.order], self.starts, axis=0)

    def rows(self, block: int) -> Ints:
        """The fillings of a block."""
        return self.order[self.starts[block] : self.starts[block] + self.size]


@dataclass(frozen=True, slots=True)
class _Inside:
    """The groups left open in frames at steps of a total flow: what each of their losses comes to (n, steps, steps), at the
    product of two steps over all."""

    sides: _Sides
    flow_m3s: float
    lost: Reals
    known: dict[int, _InnerBound]

    @classmethod
    def of(cls, sides: _Sides, flow_m3s: float) -> "_Inside":
        steps = np.arange(CELLS + 1)
        flows, which = np.unique(np.multiply.outer(steps, steps), return_inverse=True)
        count = len(sides.losses)
        lost = np.stack([sides.lost(np.full(count, flow_m3s * flow / CELLS**2)) for flow in flows.tolist()], axis=1)
        return cls(sides, flow_m3s, lost[:, which.reshape(CELLS + 1, -1)], {})

    def group(self, n: int) -> _InnerBound:
        """Both branches of a group, legs of the tees included; the tees' own steps are in the frames."""
        if n not in self.known:
            tees, squares = self.sides.tees, (self.flow_m3s * np.linspace(0.0, 1.0, CELLS + 1)) ** 2
            cells, alone = [], []
            through = (slice(CELLS - 1, None, -1), slice(CELLS))
            for lost, legs, end, some in zip(
                self.sides._of(n, self.lost), (tees.run[n], tees.side[n]), tees.ends[n], through, strict=True
            ):
                cells.append(lost[:, :-1][:, some] + legs[:, None] * squares)
                alone.append(lost[:, CELLS] + end * squares)
            self.known[n] = _InnerBound((cells[0], cells[1]), (alone[0], alone[1]))
        return self.known[n]

    def least(self) -> Reals:
        """A bound on the head of any pair of each group (groups, flows)."""
        none = np.zeros(1, dtype=np.intp)
        found = []
        for n in range(len(self.sides.groups)):
            bound = self.group(n)
            all_ = (_Order(np.arange(len(each)), none, len(each)) for each in bound.alone)
            found.append(bound.blocks(*all_).heads(none, none))
        return np.concatenate(found)


@dataclass(frozen=True, slots=True)
class _AtFlow:
    """The least that each loss comes to in each cell (n, cells) of shares of a total flow, and with all the water (n,); infinite
    for more water than the parts of the branch allow. ``inside`` is what branches within them lose besides."""

    sides: _Sides
    flow_m3s: float
    cells: Reals
    whole: Reals
    inside: _Inside | None = None

    def groups(self) -> tuple["_Bound", "_Bound"]:
        """The least of each branch of every group, legs of the tees included."""
        square, sides = self.flow_m3s * self.flow_m3s, self.sides
        common = np.array([group.common.quadratic for group in sides.groups]) * square
        inner = None if self.inside is None else self.inside.least()
        made, first = [], 0
        for which, (side, legs) in enumerate(zip(sides.sides, (sides.tees.run, sides.tees.side), strict=True)):
            rows, starts = first + np.concatenate(side.which), np.cumsum([0, *map(len, side.which)])[:-1]
            bound = _Bound(self.cells[rows], self.whole[rows])
            if inner is not None:
                within = np.concatenate(side.inner)
                bound = bound.plus(_Bound.through(which, np.where(within[:, None] >= 0, inner[within], 0.0)))
            cells, whole = (np.minimum.reduceat(each, starts, axis=0) for each in (bound.cells, bound.alone))
            ends = np.array([end[which] for end in sides.tees.ends])
            made.append(_Bound(cells + np.stack(legs) * square + common[:, None], whole + ends * square + common))
            first += len(side.losses)
        return made[0], made[1]

    def group(self, n: int) -> tuple["_Bound", "_Bound"]:
        """The rows of both branches of a group, legs of the tees included, but nothing within frames."""
        square, sides = self.flow_m3s * self.flow_m3s, self.sides
        common, tees = sides.groups[n].common.quadratic * square, sides.tees
        made = []
        for cells, whole, leg, end in zip(
            sides._of(n, self.cells), sides._of(n, self.whole), (tees.run[n], tees.side[n]), tees.ends[n], strict=True
        ):
            made.append(_Bound(cells + leg * square + common, whole + end * square + common))
        return made[0], made[1]


@dataclass(frozen=True, slots=True)
class _Bound:
    """What fillings, or blocks of them, lose at least: in each cell, and alone."""

    cells: Reals
    alone: Reals

    @classmethod
    def through(cls, which: int, heads: Reals) -> "_Bound":
        """What is within branches, by its heads (n, flows) at steps of the total: in each cell that of the least flow there."""
        return cls(heads[:, :-1] if which else heads[:, -2::-1], heads[:, -1])

    def rows(self, rows: Ints) -> "_Bound":
        return _Bound(self.cells[rows], self.alone[rows])

    def plus(self, other: "_Bound") -> "_Bound":
        """One in series with the other, row by row."""
        return _Bound(self.cells + other.cells, self.alone + other.alone)

    def blocks(self, order: "_Order") -> "_Bound":
        return _Bound(order.least(self.cells), order.least(self.alone))


def _least_heads(first: _Bound, second: _Bound) -> Reals:
    """A bound on the head of every pair (n, m)."""
    head = np.minimum.outer(first.alone, second.alone)
    for one, other in zip(first.cells.T, second.cells.T, strict=True):
        np.minimum(head, np.maximum.outer(one, other), out=head)
    return head


# -- which pairs steps leave open --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Open:
    """Pairs (n, 3) that some step leaves open, and how far each is inside (n,), in minor units."""

    rows: Ints
    inside: Reals

    @classmethod
    def none(cls) -> "_Open":
        return cls(np.zeros((0, 3), dtype=np.intp), np.zeros(0))

    def joined(self, other: "_Open") -> "_Open":
        rows, inside = np.concatenate((self.rows, other.rows)), np.concatenate((self.inside, other.inside))
        return _Open(rows, inside)

    def pairs(self) -> list[Pair]:
        """Each once, the most promising first."""
        order = np.argsort(-self.inside, kind="stable")
        return list(dict.fromkeys((n, one, other) for n, one, other in self.rows[order].tolist()))


@dataclass(frozen=True, slots=True)
class _Test:
    """What a pair must keep to in each column: ``price`` times its price plus ``head`` times its head (columns,) is no more than
    what the rest of the loop leaves it in its group (groups, columns)."""

    price: Reals
    head: Reals
    left: Reals


class _Bounded:
    """The steps of one search as columns, one for each pump, with all that a pair must keep to there."""

    def __init__(self, seeker: Seeker, place: int, probes: list[Option], sides: _Sides, steps: list[_Step]) -> None:
        self.seeker, self.place, self.sides = seeker, place, sides
        self.problem = problem = seeker.problem
        exact = seeker.exact
        self.bounds = Bounds(exact.rounds, exact.shares, seeker.all)
        of_item = self._item_prices()
        self.prices = [side.prices(of_item) for side in sides.sides]
        self.inner = [] if sides.inner is None else list(zip(*(side.prices(of_item) for side in sides.inner.sides), strict=True))
        self.tees = np.array([_price(of_item, group.needs) for group in sides.groups])
        inner = np.array([one.min() + other.min() for one, other in self.inner] + [0.0])
        both = zip(self.prices, sides.sides, strict=True)
        self.cheapest = [
            np.array([(price + inner[within]).min() for price, within in zip(some, side.inner, strict=True)])
            for some, side in both
        ]
        layer = problem.layers[place].options
        number = {id(probe): n for n, probe in enumerate(probes)}
        self.probes = np.array([number.get(id(option), -1) for option in layer], dtype=np.intp)
        pumps = problem.option_at[problem.pump + 1] - problem.option_at[problem.pump]
        flow, roof = (np.repeat([getattr(step, name) for step in steps], pumps) for name in ("flow", "roof"))
        pump = np.tile(np.arange(pumps), len(steps))
        self.columns = Columns.of(flow, np.full(len(flow), np.inf), roof, pump)

    def _item_prices(self) -> dict[Item, float]:
        """What each shared item inside branches comes to at least."""
        pairing = self.problem.choices.unpaired[self.place]
        items = {item for some in pairing.needs() for needs in some for item in needs.special}
        return {item: float(self.bounds.unit_prices[list(self.problem.numbers((item,)))].sum()) for item in items}

    def open(self) -> _Open:
        """The pairs that some column leaves open."""
        if not len(self.columns):
            return _Open.none()
        tests, found = self._tests(), _Open.none()
        for flow in np.unique(self.columns.flow).tolist():
            columns = np.flatnonzero(self.columns.flow == flow)
            at = self.sides.at(flow)
            least = at.groups()
            live = self._live(least, columns, tests)
            for group in np.flatnonzero(live.any(axis=1)).tolist():
                found = found.joined(self._of_group(_Asked(group, at, least, columns[live[group]], tests)))
        return found

    def _tests(self) -> list[_Test]:
        """What pairs must keep to: by price and head at the multiplier that bounds best what is listed, by each of the two alone,
        and by what may be lost upstream of the pump."""
        columns, bounds = self.columns, self.bounds
        losses = bounds.losses(columns)
        multiplier = bounds.hulls(columns).multiplier
        none, one = np.zeros(len(columns)), np.ones(len(columns))
        reach = columns.roof + CENT_SLACK
        tests = [
            self._test(losses, one, multiplier, reach + multiplier * SLACK),
            self._test(losses, none, one, np.full(len(columns), SLACK)),
            self._test(losses, one, none, reach),
        ]
        pump = self.problem.pump
        rooms = [self.seeker.exact.suction(flow) for flow in columns.flow.tolist()]
        if self.place < pump and all(room is not None for room in rooms):
            room = np.array([room[place] for room, place in zip(rooms, columns.pump.tolist(), strict=True) if room is not None])
            option, joint = losses.option.copy(), losses.joint.copy()
            behind = option[self.problem.option_at[pump] :]
            behind[behind < BARRED / 2] = 0.0
            joint[self.problem.joint_at[pump + 1] :] = 0.0
            tests.append(self._test(Losses(option, joint), none, one, room + SLACK))
        return tests

    def _test(self, losses: Losses, price: Reals, head: Reals, reach: Reals) -> _Test:
        """What the rest of the loop leaves a pair of each group, of what may be reached in each column."""
        bounds, problem, place = self.bounds, self.problem, self.place
        barred = losses.option >= BARRED / 2
        option = price * bounds.option_price[:, None] + head * np.where(barred, 0.0, losses.option)
        option[barred] = BARRED
        option[problem.option_at[place] : problem.option_at[place + 1]] = 0.0
        joint = price * bounds.joint_price[:, None] + head * losses.joint
        layer = problem.layers[place]
        rest = bounds.forward(option, joint)[place][1] + bounds.still(option, joint).leave[place][layer.leave]
        least = np.full((len(self.sides.groups), len(self.columns)), BARRED)
        there = self.probes >= 0
        np.minimum.at(least, self.probes[there], rest[there])
        left = np.where(least < BARRED / 2, reach - least, -np.inf)
        return _Test(price, head, left - price * self.tees[:, None])

    def _live(self, least: tuple[_Bound, _Bound], columns: Ints, tests: list[_Test]) -> Bools:
        """Which groups (n, columns) may hold an open pair, by the least that any filling there loses and costs."""
        first, second = least
        head = np.minimum(np.maximum(first.cells, second.cells).min(axis=1), np.minimum(first.alone, second.alone))[:, None]
        price = (self.cheapest[0] + self.cheapest[1])[:, None]
        live = np.ones((len(price), len(columns)), dtype=bool)
        for test in tests:
            lost = np.where(test.head[columns] > 0.0, test.head[columns] * head, 0.0)
            live &= test.left[:, columns] - test.price[columns] * price - lost >= 0.0
        return live

    def _of_group(self, asked: "_Asked") -> _Open:
        first, second = (self._standing(asked, which) for which in (0, 1))
        if not (len(first.number) and len(second.number)):
            return _Open.none()
        one_order, other_order = first.blocks(), second.blocks()
        heads = _least_heads(first.bound.blocks(one_order), second.bound.blocks(other_order))
        inside = self._inside(np.add.outer(one_order.least(first.price), other_order.least(second.price)), heads, asked)
        one, other = np.nonzero(inside >= 0.0)
        found = _Open.none()
        for block in np.unique(one).tolist():
            rows = first.rows(one_order.rows(block))
            cols = second.rows(np.concatenate([other_order.rows(n) for n in other[one == block].tolist()]))
            price = np.add.outer(rows.price, cols.price)
            some = self._inside(price, _least_heads(rows.bound, cols.bound), asked)
            left, right = np.nonzero(some >= 0.0)
            pairs = np.stack([np.full(len(left), asked.group), rows.number[left], cols.number[right]], axis=1)
            found = found.joined(self._solved(pairs, price[left, right], asked))
        return found

    def _standing(self, asked: "_Asked", which: int) -> "_Rows":
        """The fillings of one branch of a group: all that are known, and of those in frames such as are open beside the least
        that the other branch loses and costs."""
        group, side = asked.group, self.sides.sides[which]
        inner, starts = side.inner[group], side.fillings[group].starts
        every = _Rows(starts[:-1], asked.at.group(group)[which], self.prices[which][group])
        found = [every.rows(np.flatnonzero(inner < 0))]
        for within in np.unique(inner[inner >= 0]).tolist():
            found += self._of_frames(asked, which, every.rows(np.flatnonzero(inner == within)), within)
        return _Rows.joined(found)

    def _of_frames(self, asked: "_Asked", which: int, frames: "_Rows", within: int) -> Iterator["_Rows"]:
        """Fillings that frames of one sort make with the pairs of the group left open in them: by blocks of pairs with the least
        of the frames, by blocks with each frame, and one by one."""
        if asked.at.inside is None or self.sides.inner is None:
            return
        bound, prices = asked.at.inside.group(within), self.inner[within]
        seconds = len(self.sides.inner.groups[within].second)
        orders = [_Order.of(lost[:, CELLS // 2], price, INNER) for lost, price in zip(bound.alone, prices, strict=True)]
        blocks, least = bound.blocks(*orders), [order.least(price) for order, price in zip(orders, prices, strict=True)]
        one, other = (each.ravel() for each in np.indices(tuple(map(len, least))))
        pairs = _Rows(np.arange(len(one)), _Bound.through(which, blocks.heads(one, other)), least[0][one] + least[1][other])
        some = pairs.rows(np.flatnonzero(self._fit(pairs.beside(frames.least()), which, asked)))
        frame, pair = (each.ravel() for each in np.indices((len(frames.number), len(some.number))))
        fits = np.flatnonzero(self._fit(some.rows(pair).beside(frames.rows(frame)), which, asked))
        for n in np.unique(pair[fits]).tolist():
            block = int(some.number[n])
            a, b = (each.ravel() for each in np.meshgrid(orders[0].rows(one[block]), orders[1].rows(other[block]), indexing="ij"))
            singles = _Rows(a * seconds + b, _Bound.through(which, bound.heads(a, b)), prices[0][a] + prices[1][b])
            own = frames.rows(frame[fits[pair[fits] == n]])
            row, single = (each.ravel() for each in np.indices((len(own.number), len(a))))
            made = singles.rows(single).beside(own.rows(row))
            yield made.rows(np.flatnonzero(self._fit(made, which, asked)))

    def _fit(self, rows: "_Rows", which: int, asked: "_Asked") -> Bools:
        """Which fillings of a branch are open beside the least of the other branch of their group."""
        one = np.array([asked.group])
        head = _least_heads(asked.least[1 - which].rows(one), rows.bound)[0]
        return self._inside(rows.price + self.cheapest[1 - which][asked.group], head, asked) >= 0.0

    def _solved(self, pairs: Ints, price: Reals, asked: "_Asked") -> _Open:
        """Those of some pairs of a group that are left open by what they truly lose, and let enough water through."""
        if not len(pairs):
            return _Open.none()
        splits, flow = self.sides.splits(pairs), asked.at.flow_m3s
        state = splits.state(flow)
        head = state.head_m + self.sides.groups[asked.group].common.quadratic * flow * flow
        inside = self._inside(price, head, asked)
        inside[(state.flow_m3s > splits.most * (1.0 + 1e-9)).any(axis=1)] = -np.inf
        rows = np.flatnonzero(inside >= 0.0)
        return _Open(pairs[rows], inside[rows])

    def _inside(self, price: Reals, head: Reals, asked: "_Asked") -> Reals:
        """How far pairs are inside the first test of the column that leaves them open the most; below nothing: none does."""
        best = np.full(price.shape, -np.inf)
        for column in asked.columns.tolist():
            inside, keeps = None, np.ones(price.shape, dtype=bool)
            for test in asked.tests:
                room = test.left[asked.group, column] - test.price[column] * price
                if test.head[column]:
                    room = room - test.head[column] * head
                keeps &= room >= 0.0
                inside = room if inside is None else inside
            if inside is not None:
                best = np.maximum(best, np.where(keeps, np.maximum(inside, 0.0), -np.inf))
        return best


@dataclass(frozen=True, slots=True)
class _Asked:
    """A group at a flow, the least of both branches of every group there, and the columns and tests that pairs must keep to."""

    group: int
    at: _AtFlow
    least: tuple[_Bound, _Bound]
    columns: Ints
    tests: list[_Test]


@dataclass(frozen=True, slots=True)
class _Rows:
    """Fillings of one branch, or blocks of them: their numbers, what they lose at least, and what they cost."""

    number: Ints
    bound: _Bound
    price: Reals

    @classmethod
    def joined(cls, some: Sequence["_Rows"]) -> "_Rows":
        bound = _Bound(
            *(np.concatenate(each) for each in zip(*((rows.bound.cells, rows.bound.alone) for rows in some), strict=True))
        )
        return cls(np.concatenate([rows.number for rows in some]), bound, np.concatenate([rows.price for rows in some]))

    def rows(self, rows: Ints) -> "_Rows":
        return _Rows(self.number[rows], self.bound.rows(rows), self.price[rows])

    def beside(self, other: "_Rows") -> "_Rows":
        """In series with others, row by row or all with one."""
        return _Rows(self.number + other.number, self.bound.plus(other.bound), self.price + other.price)

    def least(self) -> "_Rows":
        """One that loses and costs no more than any."""
        bound = _Bound(self.bound.cells.min(axis=0, keepdims=True), self.bound.alone.min(axis=0, keepdims=True))
        return _Rows(np.zeros(1, dtype=np.intp), bound, self.price.min(keepdims=True))

    def blocks(self) -> _Order:
        """In blocks of such as lose and cost alike."""
        return _Order.of(self.bound.cells[:, CELLS // 2], self.price, BLOCK)
