"""Fillings of one branch: parts and joints place by place, kept where none beats them (see `search/branch_pairs.py` for why)."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.numbering import numbered
from optimizer.loop.runs import Runs
from optimizer.loop.splits import Splits, Within
from optimizer.model.ends import End
from optimizer.model.fitted import Fitted
from optimizer.model.items import Item
from optimizer.model.losses import BranchLoss, Loss, Run, Split
from optimizer.model.options import ADJUST, CLEAN, KEEP, REMOVE, Chain, Option
from optimizer.model.parts import Part
from optimizer.model.rig import MEETING, PARTING, HeldJoint, Position, end_part, end_place, tee_place
from optimizer.physics.fitting_laws import CHOSEN, FittingLaws
from optimizer.search.held_joints import as_it_is, with_held
from optimizer.search.joints import JointBook, scaled_chains, together
from optimizer.search.pricing import Shop

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

NOWHERE = -1

GRID_M3S: Reals = np.geomspace(1e-7, 3e-3, 400)
"""Flows at which losses are compared: from a trickle that is laminar in any hose to above the free flow of any pump here."""

NOTHING_LOST: Reals = np.zeros_like(GRID_M3S)

WIDE_M3S: Reals = np.concatenate([np.geomspace(1e-15, 1e-6, 60, endpoint=False), np.geomspace(1e-6, 3e-3, 180)])
"""The same for a branch that holds branches: what these lose is no line and parabola at a trickle, so it is compared as it is
down to where no loss here comes to 1e-11 m, a tenth of what the search takes for rounding."""

AT_ONCE = 16
"""So many of these are worked out together: as many as the processor's cache holds."""

MOST_FILLS = 100_000
"""A branch that could be filled in more ways than this, even with those left out that others beat, is refused."""


class TooManyFills(Exception):
    """A branch (named by its first argument) could be filled in more than ``MOST_FILLS`` ways."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unfilled(Option):
    """A place with branches within a branch, of which the tees stand and no more. Any filling of its branches between these tees
    (``group`` has them) loses and costs so much, and what its parts do besides."""

    group: Any


@dataclass(frozen=True, slots=True)
class Gate:
    """The end of a tee that a branch starts from or leads to, and whether the tee is there already, or like the one that is."""

    end: End
    installed: bool
    like: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """A branch filled as far as ``end``; ``kept`` is the place of the installed part whose end that is (0 and the last: tees),
    ``like`` that of the one that it is or is like, where fills tell of joints.

    ``joints[k]`` stands in front of option k, one more behind the last; None where there is none. ``heads`` is the head lost at
    ``flows``, in m, ``quadratic`` the sum of the quadratic terms, and ``splits`` are the branches within the branch. Price of
    plain pieces, special items (sorted), and the flow window of all its parts.
    """

    end: End | None = None
    kept: int = NOWHERE
    like: int = NOWHERE
    options: tuple[Option, ...] = ()
    joints: tuple[Chain | None, ...] = ()
    flows: Reals = field(default_factory=lambda: GRID_M3S, compare=False)
    heads: Reals = field(default_factory=lambda: NOTHING_LOST, compare=False)
    splits: tuple[Split, ...] = ()
    lift_m: float = 0.0
    quadratic: float = 0.0
    plain: int = 0
    special: tuple[Item, ...] = ()
    low_m3s: float = 0.0
    high_m3s: float = math.inf
    throttles: bool = False

    @property
    def there(self) -> tuple[Option, ...]:
        """The options that put something into the branch."""
        return tuple(option for option in self.options if option.is_there)

    @property
    def alike(self) -> object:
        """Only fillings that agree in this can stand for each other: where they begin (as far as the loop's own joint is still to
        be made there) and stop, which tees stand unfilled in them, and whether they are what is there now, or what cleaning and
        adjusting alone can do."""
        unfilled = tuple(id(option) for option in self.options if isinstance(option, Unfilled))
        begun = self.there and self.joints[0] is None and self.there[0].inlet is not None
        opening = (self.there[0].inlet, self.there[0].keeps_inlet, self.there[0].inlet_known) if begun else None
        as_now = all(option.change == KEEP for option in self.options)
        for_nothing = all(
            option.change in (KEEP, CLEAN, ADJUST) and option.own_price == 0 and not option.items for option in self.options
        )
        return (opening, self.end, self.kept, self.like, unfilled, as_now, for_nothing)

    @property
    def linear(self) -> float:
        """Head over flow where both vanish, in s/m2: at the first flow of the grid hoses are laminar, so the rest is linear.
        Not told apart where flows begin at next to nothing, see `WIDE_M3S`."""
        if self.flows is WIDE_M3S:
            return 0.0
        first = float(GRID_M3S[0])
        return (float(self.heads[0]) - self.lift_m) / first - self.quadratic * first


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    """What stands today at the tee in front of a branch, in its places and at the tee behind: what the water enters there and
    leaves there (two tees, where branches are within the branch), by the names of their places and as parts, and the
    joints between them that hold adapters by the place behind each. A joint that leads into the branch from outside of it is
    the loop's own."""

    entered: tuple[str, ...]
    left: tuple[str, ...]
    first: tuple[Part | None, ...]
    last: tuple[Part | None, ...]
    joints: Mapping[str, HeldJoint]

    def side_by_side(self, before: int, after: int) -> bool:
        """Whether nothing stands between two places today."""
        return not any(part is not None for part in (*self.first[before + 1 : after], *self.last[before + 1 : after]))


@dataclass(slots=True)
class Filler:
    """Fills branches with joints from one book, priced in one shop; nothing may cost more than ``dearest`` alone. ``priceless``:
    prices do not count, so of two fillings the one that loses less is left. What stays loses what is ``fitted`` (None: what is
    stated); ``joints`` are those of the rig that hold adapters, and by ``laws`` the steps of bore in its tees are reckoned."""

    book: JointBook
    shop: Shop
    dearest: float
    kinematic_m2s: float
    priceless: bool = False
    fitted: Fitted | None = None
    joints: tuple[HeldJoint, ...] = ()
    laws: FittingLaws = CHOSEN
    _lost: dict[tuple[Loss, int], Reals] = field(init=False, default_factory=dict)
    _split: dict[int, tuple[Split, Reals]] = field(init=False, default_factory=dict)
    _losses: dict[BranchLoss, BranchLoss] = field(init=False, default_factory=dict)
    _begun: dict[tuple[str, Gate | None], list[Filling]] = field(init=False, default_factory=dict)
    _known: dict[tuple[str, Gate | None, Gate | None], list[Filling]] = field(init=False, default_factory=dict)

    def fills(
        self,
        position: Position,
        number: int,
        options: Sequence[Sequence[Option]],
        start: Gate | None,
        goal: Gate | None,
    ) -> list[Filling]:
        """All fillings of a branch of a position that no other beats, from a tee to a tee (None: open water, or the loop's own
        joint)."""
        branch = position.branches[number]
        key = (branch.name, start, goal)
        if key not in self._known:
            held = self._held(position, number)
            self._known[key] = self._filled(branch.name, options, start, goal, held)
        return self._known[key]

    def _filled(
        self,
        branch: str,
        options: Sequence[Sequence[Option]],
        start: Gate | None,
        goal: Gate | None,
        held: _Held,
    ) -> list[Filling]:
        labels = self._as_far_as_the_goal(branch, options, start, held)
        closed = [done for fill in labels if fill.there for done in self._closed(fill, goal, len(options) + 1, held)]
        return [fill for fill in _unbeaten(closed, self.shop.at_most) if self._affordable(fill)]

    def shared(self, loss: BranchLoss) -> BranchLoss:
        """The one branch loss that stands for all that are equal."""
        return self._losses.setdefault(loss, loss)

    def price(self, fill: Filling) -> float:
        """What a filling costs on its own, in minor units: a bundle that holds it costs no less."""
        return fill.plain + self.shop.special_price(fill.special)

    def _affordable(self, fill: Filling) -> bool:
        """Whether a filling alone can be paid; what its pieces cost at most and at least mostly tells."""
        if fill.plain + sum(map(self.shop.at_most, fill.special)) <= self.dearest:
            return True
        return self.rated(fill) <= self.dearest and self.price(fill) <= self.dearest

    def rated(self, fill: Filling) -> float:
        """The least that a filling adds to the price of any bundle by the best rate on offer for each shared piece."""
        return fill.plain + sum(self.shop.at_least(item) for item in fill.special)

    def _as_far_as_the_goal(
        self, branch: str, options: Sequence[Sequence[Option]], start: Gate | None, held: _Held
    ) -> list[Filling]:
        """All fillings that no other beats but for their last joint, whatever that is to lead to."""
        key = (branch, start)
        if key in self._begun:
            return self._begun[key]
        flows = WIDE_M3S if any(split_of(option) is not None for some in options for option in some) else GRID_M3S
        labels = [Filling(flows=flows, heads=np.zeros_like(flows))]
        if start is not None:
            kept, like = (0 if there else NOWHERE for there in (start.installed, self._known_at(start.like)))
            labels = [Filling(flows=flows, heads=np.zeros_like(flows), end=start.end, kept=kept, like=like)]
        for place, some in enumerate(options, start=1):
            longer = list(self._led_on(labels, some, place, held))
            if len(longer) > MOST_FILLS:
                raise TooManyFills(branch)
            labels = [fill for fill in _unbeaten(longer, self.shop.at_most) if self._affordable(fill)]
        self._begun[key] = labels
        return labels

    def _heads(self, loss: Loss, flows: Reals) -> Reals:
        """Head lost at some flows, in m."""
        key = (loss, len(flows))
        if key not in self._lost:
            heads = loss.still_m + loss.linear * flows + loss.quadratic * flows**2
            if loss.run is not None:
                heads = heads + Runs.of([loss.run] * len(flows), self.kinematic_m2s).at(flows)
            self._lost[key] = heads
        return self._lost[key]

    def _lost_in(self, option: Option, flows: Reals) -> Reals:
        """Head that an option loses at some flows, in m; of filled branches that of both, whichever way the flow divides."""
        heads, split = self._heads(option.loss, flows), split_of(option)
        if split is None:
            return heads
        self._solve([split])
        return heads + self._split[id(split)][1]

    def _solve(self, splits: Sequence[Split]) -> None:
        """Work out what splits lose at `WIDE_M3S`."""
        fresh = [split for split in {id(split): split for split in splits}.values() if id(split) not in self._split]
        if fresh:
            found, many = Splits.of(fresh, self.kinematic_m2s).paired(), len(WIDE_M3S)
            for start in range(0, len(fresh), AT_ONCE):
                some = fresh[start : start + AT_ONCE]
                variants = Within.among(found, np.repeat(np.arange(start, start + len(some)), many))
                heads = variants.state(np.tile(WIDE_M3S, len(some))).head_m.reshape(-1, many)
                self._split |= {id(split): (split, head) for split, head in zip(some, heads, strict=True)}

    def unbeaten(self, options: Sequence[Option]) -> list[Option]:
        """Ways to fill branches that are within another branch, without those that no filling of that needs, since another way
        between the same ends is as good."""
        self._solve([split for option in options if (split := split_of(option)) is not None])
        fills = []
        for option in options:
            paid = self._paid(Filling(), option, None)
            if paid is not None:
                first = Filling(flows=WIDE_M3S, heads=np.zeros_like(WIDE_M3S))
                kept = 0 if option.keeps_outlet else NOWHERE
                like = 0 if self._known_at(option.outlet_known) else NOWHERE
                fills.append(self._longer(first, option, None, kept=kept, like=like, plain=paid[0], special=paid[1]))
        return [fill.options[0] for fill in _unbeaten(fills, self.shop.at_most) if self._affordable(fill)]

    def _led_on(self, fills: Sequence[Filling], some: Sequence[Option], place: int, held: _Held) -> Iterator[Filling]:
        """All fillings with one more option, by every joint to it. Joints hang on what a filling ends in, so they are looked up
        once for all that end alike."""
        here = [Gate(o.inlet, o.keeps_inlet, o.inlet_known) if o.is_there and o.inlet is not None else None for o in some]
        kept = [place if option.is_there and option.keeps_outlet else NOWHERE for option in some]
        like = [place if option.is_there and self._known_at(option.outlet_known) else NOWHERE for option in some]
        ends: dict[tuple[End | None, int, int], list[Sequence[Chain | None]]] = {}
        for fill in fills:
            joints = ends.setdefault((fill.end, fill.kept, fill.like), [])
            for n, option in enumerate(some):
                if len(joints) == n:
                    joints.append(self._joints(fill, here[n], place, held) if option.is_there else ())
                if not option.is_there:
                    still = (NOWHERE, NOWHERE) if option.change == REMOVE else (fill.kept, fill.like)
                    options = (*fill.options, option)
                    yield replace(fill, options=options, joints=(*fill.joints, None), kept=still[0], like=still[1])
                for joint in joints[n]:
                    paid = self._paid(fill, option, joint)
                    if paid is not None:
                        yield self._longer(fill, option, joint, kept=kept[n], like=like[n], plain=paid[0], special=paid[1])

    def _longer(self, fill: Filling, option: Option, joint: Chain | None, **more: Any) -> Filling:
        """A filling with one more option and the joint to it; ``more`` is what it costs, and of what sort its end is."""
        loss, flows, split = option.loss, fill.flows, split_of(option)
        step = 0.0 if joint is None else joint.quadratic
        return replace(
            fill,
            **more,
            end=option.outlet,
            options=(*fill.options, option),
            joints=(*fill.joints, joint),
            heads=fill.heads + self._lost_in(option, flows) + step * flows**2,
            lift_m=fill.lift_m + loss.still_m + (0.0 if split is None else split.still_m),
            quadratic=fill.quadratic + loss.quadratic + step,
            splits=fill.splits if split is None else (*fill.splits, split),
            low_m3s=max(fill.low_m3s, option.flow_min_m3s),
            high_m3s=min(fill.high_m3s, option.flow_max_m3s),
            throttles=fill.throttles or option.throttles or (joint is not None and joint.throttles),
        )

    def _closed(self, fill: Filling, goal: Gate | None, place: int, held: _Held) -> Iterator[Filling]:
        """The filling with its last joint, to the tee where the branches meet."""
        if goal is None:
            yield replace(fill, joints=(*fill.joints, None))
            return
        for joint in self._joints(fill, goal, place, held):
            paid = self._paid(fill, None, joint)
            if paid is not None and joint is not None:
                yield replace(
                    fill,
                    end=goal.end,
                    kept=NOWHERE,
                    like=NOWHERE,
                    joints=(*fill.joints, joint),
                    heads=fill.heads + joint.quadratic * fill.flows**2,
                    quadratic=fill.quadratic + joint.quadratic,
                    plain=paid[0],
                    special=paid[1],
                    throttles=fill.throttles or joint.throttles,
                )

    def _joints(self, fill: Filling, here: Gate | None, place: int, held: _Held) -> Sequence[Chain | None]:
        """The ways to lead on to what stands at a place, by the end that the water enters it by (None: open water)."""
        if fill.end is None or here is None:
            return (None,)
        joint, before = held.joints.get(held.entered[place]), held.left[fill.kept] if fill.kept >= 0 else ""
        same = joint is not None and joint.before == before
        if fill.kept >= 0 and here.installed and held.side_by_side(fill.kept, place):
            adapters = joint.adapters if joint is not None and same else ()
            own = self._joint_scale(held, fill.kept, place) / self.book.scale
            return (as_it_is(adapters, self.book.chained(fill.end, adapters, here.end) * own),)
        chains = self.book.chains(fill.end, here.end)
        if joint is not None:
            chains = with_held(self.book, chains, (fill.end, here.end), joint.adapters, (same, here.installed))
        if fill.like >= 0 and here.like and held.side_by_side(fill.like, place):
            return scaled_chains(chains, self._joint_scale(held, fill.like, place) / self.book.scale)
        return chains

    def _held(self, position: Position, number: int) -> "_Held":
        inside = position.branches[number].positions
        sides = []
        for leaving in (False, True):
            names = (end_place(each, leaving) for each in inside)
            parts = (end_part(each, leaving) for each in inside)
            tees = tee_place(position, PARTING), tee_place(position, MEETING)
            sides.append(((tees[0], *names, tees[1]), (position.parting, *parts, position.meeting)))
        (entered, first), (left, last) = sides
        here = {joint.after: joint for joint in self.joints if joint.before in left and joint.after in entered}
        return _Held(entered=entered, left=left, first=first, last=last, joints=here)

    def _known_at(self, like: bool) -> bool:
        """Whether fills tell what joints at a part lose that is, or is ``like``, the installed one."""
        return like and self.fitted is not None

    def _joint_scale(self, held: "_Held", first: int, then: int) -> float:
        """What fills make of the loss of the joint between two installed parts."""
        before, after = held.last[first], held.first[then]
        return 1.0 if self.fitted is None or before is None or after is None else self.fitted.joint(before, after)

    def _paid(self, fill: Filling, option: Option | None, joint: Chain | None) -> tuple[int, tuple[Item, ...]] | None:
        """Price of the plain pieces so far and the special items; None when the former alone are too dear."""
        if self.priceless:
            return 0, ()
        plain, special = fill.plain, fill.special
        if joint is not None:
            plain, special = plain + joint.plain, together(special, joint.special)
        if option is not None:
            lone = [item for item in option.items if self.shop.is_plain(item)]
            plain += option.own_price + sum(self.shop.alone(item) or 0 for item in lone)
            special = together(special, tuple(sorted(item for item in option.items if item not in lone)))
        return None if plain > self.dearest else (plain, special)


def split_of(option: Option) -> Split | None:
    """How the water divides between the branches of an option; None where it has none, or they are not filled yet."""
    return None if option.ways is None or isinstance(option, Unfilled) else option.ways.split


def _unbeaten(fills: Sequence[Filling], alone: Callable[[Item], float]) -> list[Filling]:
    """The fillings that no other of their sort beats; of equals the first. ``alone`` is what a shared piece costs at most."""
    groups: dict[object, list[Filling]] = {}
    for fill in sorted(fills, key=lambda each: (each.plain, float(each.heads[-1]))):
        groups.setdefault(fill.alike, []).append(fill)
    return [fill for group in groups.values() for fill in (_Sort.of(group, alone).unbeaten() if len(group) > 1 else group)]


COARSE = slice(0, len(GRID_M3S) - 1, 57)
"""The flows of the grid, seven of them, at which losses are compared before they are at all."""

ALWAYS, LOSSES, TERMS = slice(0, 7), slice(7, -4), slice(-4, None)
"""Columns of what `_Sort` compares: what may never be worse, losses at some flows, and the terms that losses are made of."""

TOGETHER = 64
"""So many fillings are compared at once with all that are left so far."""

MANY = 2000
"""Of more fillings each is first compared with those that need the same special items, and of more such sets what one needs
beyond another is worked out as it is asked for."""

BEYOND_PRICE = 1e15
"""What stands for the price of what cannot be had alone, in minor units: no filling costs as much."""


@dataclass(slots=True)
class _Sort:
    """Fillings of one sort, which can stand for each other, with all that is compared read off once, a row for each.

    One beats the other only if no number of ``mine`` of the one is above the same of ``theirs`` of the other. ``runs`` are their
    hoses, ``plain`` what their plain pieces cost, ``sets`` which special items they need: ``counts`` is how many of each there
    are in every different set, and one costs ``alone``. ``more`` is what one set needs beyond another, where they are few.
    """

    fills: Sequence[Filling]
    runs: list[list[Run]]
    mine: Reals
    theirs: Reals
    plain: Reals
    sets: Ints
    counts: Reals
    alone: Reals
    more: Reals | None

    @classmethod
    def of(cls, fills: Sequence[Filling], alone: Callable[[Item], float]) -> "_Sort":
        runs = [[option.loss.run for option in fill.there if option.loss.run is not None] for fill in fills]
        always = np.array([(f.plain, f.low_m3s, -f.high_m3s, -f.throttles, f.lift_m, f.heads[0], f.linear) for f in fills])
        below = np.array(
            [(sum(o.loss.linear for o in f.there), f.quadratic, len(r), -len(r)) for f, r in zip(fills, runs, strict=True)]
        )
        upper, lower = (np.array([f.heads[some][COARSE] for f in fills]) for some in (slice(1, None), slice(-1)))
        bars = always.copy()
        bars[:, -1] *= 1 + 1e-12
        sets, different = numbered([fill.special for fill in fills])
        items = {item: n for n, item in enumerate(dict.fromkeys(item for some in different for item in some))}
        counts = np.zeros((len(different), len(items)))
        for row, some in zip(counts, different, strict=True):
            for item in some:
                row[items[item]] += 1
        dear = np.minimum([alone(item) for item in items], BEYOND_PRICE)
        few = len(different) <= MANY
        return cls(
            fills=fills,
            runs=runs,
            mine=np.hstack([always, upper, below]),
            theirs=np.hstack([bars, lower, below]),
            plain=np.array([float(fill.plain) for fill in fills]),
            sets=sets,
            counts=counts,
            alone=dear,
            more=np.array([np.maximum(row - counts, 0.0) @ dear for row in counts]) if few else None,
        )

    def unbeaten(self) -> list[Filling]:
        """Those that no other beats, of equals the first, in their order."""
        rows = np.arange(len(self.fills))
        if len(rows) > MANY:  # most are beaten by one that needs the same special items, which is seen soonest
            rows = np.sort(np.concatenate([self._left(np.flatnonzero(self.sets == n)) for n in range(len(self.counts))]))
        return [self.fills[one] for one in self._left(rows).tolist()]

    def _left(self, rows: Ints) -> Ints:
        """Of some fillings those that no other of them beats."""
        kept = np.zeros(0, dtype=np.intp)
        for start in range(0, len(rows), TOGETHER):
            kept = self._joined(kept, rows[start : start + TOGETHER])
        return kept

    def _joined(self, kept: Ints, some: Ints) -> Ints:
        """What no other beats of those that were ``kept`` and of ``some`` more, one after the other."""
        every = np.concatenate((kept, some))
        above = self._could_beat(every, some)
        below = self._could_beat(some, every) if len(kept) else above
        stands = np.arange(len(every)) < len(kept)
        for n, one in enumerate(some.tolist()):
            better, worse = (every[stands & could] for could in (above[:, n], below[n]))
            if any(self._loses_no_more(other, one) for other in better.tolist()):
                continue
            stands[len(kept) + n] = True
            gone = [other for other in worse.tolist() if self._loses_no_more(one, other)]
            if gone:
                stands &= ~np.isin(every, gone)
        return every[stands]

    def _could_beat(self, some: Ints, others: Ints) -> Bools:
        """Whether each of some fillings (n, m) can beat each of others, by the numbers that are compared and by what it costs."""
        mine, theirs = self.mine[some], self.theirs[others]
        could = _none_above(mine[:, ALWAYS], theirs[:, ALWAYS])
        if not could.any():
            return could
        could &= _none_above(mine[:, LOSSES], theirs[:, LOSSES]) | _none_above(mine[:, TERMS], theirs[:, TERMS])
        one, other = np.nonzero(could)
        could[one, other] = self._dearer(some[one], others[other]) <= self.plain[others[other]]
        return could

    def _dearer(self, some: Ints, others: Ints) -> Reals:
        """What some fillings cost at most in place of others, whatever shared pieces end up costing, beyond those that both need.

        What the first need and the second do not can be bought on its own; what only the second need costs no less than nothing.
        """
        one, other = self.sets[some], self.sets[others]
        if self.more is None:
            more = np.maximum(self.counts[one] - self.counts[other], 0.0) @ self.alone
        else:
            more = self.more[one, other]
        dear: Reals = self.plain[some] + more
        return dear

    def _loses_no_more(self, first: int, second: int) -> bool:
        """True when the first certainly loses no more than the second at any flow up to the end of the grid; of two of which it
        `_could_beat` the second.

        Between two flows of the grid losses rise (those of branches within the branch have been looked at by `splits.rises`), so
        it is enough if the first loses no more at the upper one than the second at the lower. Below the first flow both are a
        line and a parabola from the lift on: the first is below if it is at both ends and its line is no steeper. Or every term
        of the first is at most that of the second: the same hoses and branches, and no more of the rest.
        """
        one, other = self.fills[first], self.fills[second]
        if (one.heads[1:] <= other.heads[:-1]).all():
            return True
        same = len(one.splits) == len(other.splits) and all(a is b for a, b in zip(one.splits, other.splits, strict=True))
        terms = same and bool((self.mine[first, TERMS] <= self.theirs[second, TERMS]).all())
        return terms and all(_no_narrower(a, b) for a, b in zip(self.runs[first], self.runs[second], strict=True))


def _none_above(some: Reals, others: Reals) -> Bools:
    """Whether no number of a row of ``some`` (n, numbers) is above the same one of a row of ``others`` (m, numbers): (n, m)."""
    fits = np.ones((len(some), len(others)), dtype=bool)
    for one, other in zip(some.T, others.T, strict=True):
        fits &= np.less_equal.outer(one, other)
    return fits


def _no_narrower(one: Run, other: Run) -> bool:
    """True when the first hose loses no more at any flow.

    At a given flow friction falls with the bore, by D^-4 to D^-5: the friction factor rises at most as fast as D there (laminar).
    In a coil a wider bore is more curved, so there only the same bore compares.
    """
    if one.length_m > other.length_m or one.roughness_m > other.roughness_m or one.factor > other.factor:
        return False
    if math.isinf(one.coil_m):
        return one.bore_m >= other.bore_m
    return one.bore_m == other.bore_m and one.coil_m >= other.coil_m
