"""Branches: all ways to fill two branches and the tees between them, each as one option of the position that holds them.

At a total flow Q two branches lose one head, whatever stands in them, and that head rises with Q. So a position with branches
is to the search what any other is: a layer of options, each with a loss that is a number at a given flow. The argument that makes
the search exact then holds word for word, if no filling is left out that could be part of the best bundle.

Left out are fillings of one branch that another one of the same branch beats: same ends, certainly no more loss at any flow, a
flow window no narrower, a throttle where the other has one, and no dearer even if every shared piece that the other does not need
is bought on its own. Put in its place, the other lets no less water through its branch at any head, so neither the head of the
pair at a given flow nor the price of the bundle rises. What is there now, and what cleaning alone can do, are kept apart, since
both are shown.

A branch may hold branches: a place with them is one more place of the branch, and every steady way to fill it an option there. At
a given flow through the branch it loses one head, which rises with that flow (`splits.rises` looks at it, as at every pair), so
all the above holds of the outer branch with it. It is compared with another as a filling is, see `branch_fillings.WIDE_M3S`.
Where pairs are bounded (`branch_bounds`) it is not filled before that: only its tees stand, and one filling of the rest is better
than another whatever goes between these, since both have the same there.

Rule of the model: where branches both part and meet at tees, the two tees are the same part.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial, reduce
from itertools import product
from typing import Any

import numpy as np

from optimizer.loop.kinds import parts_of
from optimizer.loop.numbering import numbered
from optimizer.loop.splits import Splits, rises
from optimizer.loop.terms import change_quadratic
from optimizer.model.ends import End
from optimizer.model.fitted import Fitted
from optimizer.model.items import Item, Needs
from optimizer.model.losses import BranchLoss, Loss, Split, TeeShape
from optimizer.model.options import ADD, ADJUST, CLEAN, KEEP, REMOVE, SWAP, Chain, FilledBranch, FilledBranches, Option
from optimizer.model.parts import TeePiece
from optimizer.model.rig import Position
from optimizer.physics.fitting_laws import CHOSEN, FittingLaws
from optimizer.search.branch_fillings import Filler, Filling, Gate, Reals, Unfilled, split_of
from optimizer.search.joints import together

MOST_WAYS = 300_000
"""So many ways to fill the branches of one position are listed where all are wanted; more are refused, never cut short."""

Made = tuple[Split, Callable[[float, float], Option]]
"""How a filling divides the flow, and what makes its option once the flow window of that (m3/s) is known."""

ORDER = (KEEP, CLEAN, ADJUST, SWAP, REMOVE, ADD)
"""Changes from the least to the greatest: what is done to a position with branches is the greatest of what is done inside."""


class TooManyWays(Exception):
    """The branches of a position (named by its first argument) could be filled in more than ``MOST_WAYS`` ways."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """What may stand in the two branches (options per place of each) and at the tees (empty: open water there)."""

    position: Position
    number: int
    branches: tuple[tuple[tuple[Option, ...], ...], tuple[tuple[Option, ...], ...]]
    parting: tuple[Option, ...]
    meeting: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class _Priced:
    """What each of some fillings costs: on its own, its plain pieces, and at the best rates."""

    alone: Reals
    plain: Reals
    rated: Reals


@dataclass(frozen=True, slots=True)
class Pairing:
    """All fillings of both branches of a position, not put together yet: between each of the ``groups`` of tees any of the first
    goes with any of the second. ``alone`` are those of the first without tees, as long as the second is not there."""

    places: Places
    filler: Filler
    alone: tuple["Ready", ...]
    groups: tuple["Group", ...]

    @classmethod
    def of(cls, places: Places, filler: Filler) -> "Pairing":
        """Fill the branches of a position. Raises TooManyFills."""
        lone = () if places.position.branches[1].installed else Fillings.of(places, filler, 0, None, None)
        groups = (Group.of(places, filler, *tees) for tees in _tees(places))
        return cls(places, filler, tuple(lone), tuple(group for group in groups if group.first and group.second))

    def needs(self) -> tuple[list[Needs], ...]:
        """What the fillings of the first branch, those of the second and the tees need, and pairs left open in them."""
        rows = [[ready for group in self.groups for ready in group.sides[n].rows] for n in (0, 1)]
        within = {id(ready.group): ready.group for side in rows for ready in side if ready.group is not None}.values()
        inner = ([ready.needs for group in within for ready in group.sides[n].rows] for n in (0, 1))
        return (
            [ready.needs for ready in (*self.alone, *rows[0])],
            [ready.needs for ready in rows[1]],
            [group.needs for group in self.groups],
            *inner,
        )

    def singles(self) -> Iterator[Made]:
        """The ways that fill one branch only."""
        for ready in self.alone:
            split = Split(branches=(ready.loss,))
            yield split, partial(_lone, self.places, ready, split)

    def every(self) -> Iterator[Made]:
        """All ways that a bundle could pay."""
        yield from self.singles()
        for group in self.groups:
            one, other = (self._priced(some) for some in (group.first.rows, group.second.rows))
            for n, ready in enumerate(group.first.rows):
                # a bundle costs no less than one of its fillings alone and the plain pieces of the other, nor both at best rates
                least = np.maximum(np.maximum(one.alone[n] + other.plain, other.alone + one.plain[n]), one.rated[n] + other.rated)
                for m in np.flatnonzero(least <= self.filler.dearest).tolist():
                    yield group.made(ready, group.second.rows[m])

    def _priced(self, some: Sequence["Ready"]) -> "_Priced":
        prices = [(self.filler.price(ready.fill), ready.fill.plain, ready.rated) for ready in some]
        alone, plain, rated = np.array(prices, dtype=float).reshape(-1, 3).T
        return _Priced(alone, plain, rated)


def ways(places: Places, filler: Filler) -> tuple[list[Option], int]:
    """All ways worth trying, as options of the position, and how many are left out as unsteady. Raises TooManyWays."""
    made: list[Made] = []
    for some in Pairing.of(places, filler).every():
        made.append(some)
        if len(made) > MOST_WAYS:
            raise TooManyWays(places.position.name)
    options, unsteady = sound(made, filler.kinematic_m2s)
    return [option for option in options if option is not None], unsteady


def sound(made: Sequence[Made], kinematic_m2s: float) -> tuple[list[Option | None], int]:
    """Ways as options of the position (None: it is left out), and how many are left out as unsteady.

    Unsteady are those whose loss falls anywhere as the flow rises (a tee's jet may do that): the proof rests on the opposite.
    Left out as well are those that give some device no flow that it allows.
    """
    if not made:
        return [], 0
    which, different = numbered([split for split, _ in made], key=id)
    splits = Splits.of(different, kinematic_m2s)
    low, high = splits.window()
    steady = rises(splits)
    least, most, fits = low.tolist(), high.tolist(), (steady & (low < high)).tolist()
    options = [make(least[n], most[n]) if fits[n] else None for n, (_, make) in zip(which.tolist(), made, strict=True)]
    return options, int(np.count_nonzero(~steady[which]))


def _lone(places: Places, ready: "Ready", split: Split, least: float, most: float) -> Option:
    first, last = ready.fill.there[0], ready.fill.there[-1]
    return Option(
        position=places.number,
        place=places.position.name,
        change=ready.change,
        part=None,
        inlet=first.inlet,
        outlet=last.outlet,
        own_price=ready.own_price,
        items=ready.items,
        flow_min_m3s=least,
        flow_max_m3s=most,
        throttles=ready.fill.throttles,
        note=ready.way.name,
        ways=FilledBranches(branches=(ready.way,), parting=None, meeting=None, split=split, needs=(ready.needs,)),
    )


@dataclass(frozen=True, slots=True)
class Ready:
    """A filling between two tees, with all that is the same whatever stands in the other branch; ``rated`` is what it costs at
    the best rates, in minor units. With a ``group`` it is a frame: a place in it is left open for any pair of the group."""

    fill: Filling
    loss: BranchLoss
    way: FilledBranch
    items: tuple[Item, ...]
    needs: Needs
    own_price: int
    change: str
    rated: float
    group: "Group | None" = None


def _ready(places: Places, filler: Filler, number: int, steps: float, fill: Filling) -> Ready:
    loss = _branch_loss(fill.there, fill.joints, steps, (fill.low_m3s, fill.high_m3s, fill.throttles))
    return Ready(
        fill=fill,
        loss=filler.shared(loss),
        way=_way(places, number, fill),
        items=_items(fill),
        needs=Needs(fill.plain, fill.special),
        own_price=sum(option.own_price for option in fill.options),
        change=max((option.change for option in fill.options), key=ORDER.index),
        rated=filler.rated(fill),
        group=next((option.group for option in fill.options if isinstance(option, Unfilled)), None),
    )


Inside = tuple["Group", int, int]
"""A pair of fillings by its numbers, of a group within a branch."""


class Fillings(Sequence[Ready]):
    """All that may stand in a branch between two tees, by number, row by row: a row is one filling, or a frame, which is as many
    as there are pairs in its group. These are made as they are asked for, since there may be millions.

    ``starts`` has the number of the first of each row, and behind them how many there are.
    """

    def __init__(self, rows: Sequence[Ready], whole: Callable[[Filling], Ready]) -> None:
        self.rows, self.whole = tuple(rows), whole
        sizes = [1 if row.group is None else len(row.group.first) * len(row.group.second) for row in self.rows]
        self.starts = np.cumsum([0, *sizes])
        self._made: dict[int, Ready] = {}

    @classmethod
    def of(cls, places: Places, filler: Filler, number: int, parting: Option | None, meeting: Option | None) -> "Fillings":
        """Those of a branch of a position between two tees (None: open water, or the loop's own joint)."""
        steps = _leg_steps(parting, meeting, number, filler.fitted, filler.laws)
        whole = partial(_ready, places, filler, number, steps)
        gates = _gate(parting, number, True), _gate(meeting, number, False)
        return cls([whole(fill) for fill in filler.fills(places.position, number, places.branches[number], *gates)], whole)

    def __len__(self) -> int:
        return int(self.starts[-1])

    def __getitem__(self, number: Any) -> Any:
        row, inside = self.inside(number)
        if inside is None:
            return self.rows[row]
        if number not in self._made:
            self._made[number] = self.whole(_with_pair(self.rows[row].fill, *inside))
        return self._made[number]

    def inside(self, number: int) -> tuple[int, Inside | None]:
        """The row of a filling, and the pair that a frame is filled with."""
        row = int(np.searchsorted(self.starts, number, side="right")) - 1
        group = self.rows[row].group
        return row, None if group is None else (group, *divmod(number - int(self.starts[row]), len(group.second)))

    def numbers(self, keeps: Callable[[Ready], bool]) -> Iterator[int]:
        """Those of which the filling, and in a frame each of the pair, passes a test."""
        for start, row in zip(self.starts.tolist(), self.rows, strict=False):
            if keeps(row) and row.group is None:
                yield start
            elif keeps(row) and row.group is not None:
                second = row.group.second
                yield from (
                    start + n * len(second) + m for n, m in product(row.group.first.numbers(keeps), second.numbers(keeps))
                )


def _with_pair(fill: Filling, group: "Group", first: int, second: int) -> Filling:
    """A frame with the branches within it filled; their option must be made already."""
    option, two = group.filled[first, second], (group.first[first].fill, group.second[second].fill)
    if option is None:
        raise ValueError("unsteady branches are no filling")
    return replace(
        fill,
        options=tuple(option if isinstance(each, Unfilled) else each for each in fill.options),
        plain=fill.plain + sum(each.plain for each in two),
        special=reduce(together, (each.special for each in two), fill.special),
        low_m3s=max(fill.low_m3s, option.flow_min_m3s),
        high_m3s=min(fill.high_m3s, option.flow_max_m3s),
    )


def fill_inside(wanted: Sequence[Inside], kinematic_m2s: float) -> int:
    """Make the options of pairs within branches; how many are left out as unsteady."""
    fresh = list({(id(group), n, m): (group, n, m) for group, n, m in wanted if (n, m) not in group.filled}.values())
    options, unsteady = sound([group.made(group.first[n], group.second[m]) for group, n, m in fresh], kinematic_m2s)
    for (group, n, m), option in zip(fresh, options, strict=True):
        group.filled[n, m] = option
    return unsteady


def _items(fill: Filling) -> tuple[Item, ...]:
    joints = (item for joint in fill.joints if joint is not None for item in joint.items)
    return (*(item for option in fill.options for item in option.items), *joints)


@dataclass(frozen=True, slots=True)
class Group:
    """What two branches part and meet at, with all that is the same whatever stands in them, and what may stand in each.

    ``splits`` are those made so far by the numbers of two losses: one for all pairs that divide the flow alike. Within a branch,
    ``filled`` are the options made so far by the numbers of two fillings (None: left out as unsteady).
    """

    places: Places
    parting: Option | None
    meeting: Option | None
    items: tuple[Item, ...]
    needs: Needs
    change: str
    common: Loss
    shapes: tuple[TeeShape | None, TeeShape | None]
    first: Fillings
    second: Fillings
    splits: dict[tuple[int, int], Split]
    filled: dict[tuple[int, int], Option | None]

    @classmethod
    def of(cls, places: Places, filler: Filler, parting: Option | None, meeting: Option | None) -> "Group":
        tees = [tee for tee in (parting, meeting) if tee is not None]
        items = tuple(item for tee in tees for item in tee.items)
        return cls(
            places=places,
            parting=parting,
            meeting=meeting,
            items=items,
            needs=filler.shop.needs(items),
            change=max((tee.change for tee in tees), key=ORDER.index),
            common=_run_steps(parting, meeting, filler.fitted, filler.laws),
            shapes=(_shape(parting, filler.fitted), _shape(meeting, filler.fitted)),
            first=Fillings.of(places, filler, 0, parting, meeting),
            second=Fillings.of(places, filler, 1, parting, meeting),
            splits={},
            filled={},
        )

    @property
    def sides(self) -> tuple[Fillings, Fillings]:
        """What may stand in each branch."""
        return self.first, self.second

    def probe(self) -> Option:
        """An option between these tees that lets no water through: it shows what the rest of the loop comes to."""
        return self.made(self.first.rows[0], self.second.rows[0])[1](0.0, 0.0)

    def unfilled(self) -> Unfilled:
        """These tees as what stands in a branch, whatever their own branches are filled with."""
        option = replace(self.probe(), own_price=0, items=self.items, change=self.change, flow_max_m3s=math.inf)
        return Unfilled(**{each.name: getattr(option, each.name) for each in fields(option)}, group=self)

    def made(self, one: Ready, other: Ready) -> Made:
        """A pair of fillings as a way to fill the branches."""
        both = (id(one.loss), id(other.loss))
        if both not in self.splits:
            losses = (one.loss, other.loss)
            self.splits[both] = Split(branches=losses, parting=self.shapes[0], meeting=self.shapes[1])
        split = self.splits[both]
        return split, partial(self._pair, one, other, split)

    def _pair(self, one: Ready, other: Ready, split: Split, least: float, most: float) -> Option:
        needs = (one.needs, other.needs, self.needs)
        return Option(
            position=self.places.number,
            place=self.places.position.name,
            change=max((one.change, other.change, self.change), key=ORDER.index),
            part=None,
            loss=self.common,
            inlet=None if self.parting is None else self.parting.inlet,
            outlet=None if self.meeting is None else self.meeting.outlet,
            own_price=one.own_price + other.own_price,
            items=(*one.items, *other.items, *self.items),
            flow_min_m3s=least,
            flow_max_m3s=most,
            note=f"{one.way.name}, {other.way.name}",
            ways=FilledBranches(
                branches=(one.way, other.way), parting=self.parting, meeting=self.meeting, split=split, needs=needs
            ),
        )


def _tees(places: Places) -> Iterator[tuple[Option | None, Option | None]]:
    if places.parting and places.meeting:
        for one, other in product(places.parting, places.meeting):
            if one.part is not None and other.part is not None and one.part.id == other.part.id:
                yield one, other
    else:
        yield from ((tee, None) for tee in places.parting)
        yield from ((None, tee) for tee in places.meeting)


def _gate(tee: Option | None, branch: int, parting: bool) -> Gate | None:
    """The end of a tee that a branch starts from or leads to; None at open water."""
    end = leg(tee_of(tee), branch, parting)
    return None if tee is None or end is None else Gate(end, tee.is_installed, tee.is_known)


def leg(tee: TeePiece | None, branch: int, parting: bool) -> End | None:
    """The end of a tee that a branch starts from (``parting``) or leads to: of the first that of its straight run, of the second
    its side. None where there is no tee."""
    if tee is None:
        return None
    straight = tee.outlet if parting else tee.inlet
    return tee.side if branch else straight


def as_filled(
    option: Option,
    branches: Sequence[FilledBranch],
    parting: Option | None,
    meeting: Option | None,
    throttled: bool = True,
    fitted: Fitted | None = None,
    laws: FittingLaws = CHOSEN,
) -> Option:
    """An option of a position with its branches filled so: their loss is made of their parts, joints and tees, those that are
    installed as ``fitted`` (None: as stated), the steps in tees by ``laws``. Not ``throttled``: throttles in the branches stand
    open."""
    losses = []
    for number, way in enumerate(branches):
        low = max((each.flow_min_m3s for each in way.there), default=0.0)
        high = min((each.flow_max_m3s for each in way.there), default=math.inf)
        throttles = throttled and any(each is not None and each.throttles for each in (*way.options, *way.joints))
        steps = _leg_steps(parting, meeting, number, fitted, laws)
        losses.append(_branch_loss(way.there, way.joints, steps, (low, high, throttles)))
    split = Split(branches=tuple(losses), parting=_shape(parting, fitted), meeting=_shape(meeting, fitted))
    needs = () if option.ways is None else option.ways.needs
    filled = FilledBranches(branches=tuple(branches), parting=parting, meeting=meeting, split=split, needs=needs)
    return replace(option, loss=_run_steps(parting, meeting, fitted, laws), ways=filled)


def _leg_steps(parting: Option | None, meeting: Option | None, number: int, fitted: Fitted | None, laws: FittingLaws) -> float:
    """Steps of bore in the legs of the tees that lead to a branch, in s2/m5."""
    leaving, entering = ("side", "side") if number else ("outlet", "inlet")
    return _steps(parting, leaving, False, fitted, laws) + _steps(meeting, entering, True, fitted, laws)


def _run_steps(parting: Option | None, meeting: Option | None, fitted: Fitted | None, laws: FittingLaws) -> Loss:
    """Steps of bore in the tees that all the water meets."""
    entering, leaving = _steps(parting, "inlet", True, fitted, laws), _steps(meeting, "outlet", False, fitted, laws)
    return Loss(quadratic=entering + leaving)


def _steps(tee: Option | None, leg: str, inward: bool, fitted: Fitted | None, laws: FittingLaws) -> float:
    """Loss of the step between the bore of a tee's end and that inside it, in s2/m5."""
    piece = tee_of(tee)
    if piece is None:
        return 0.0
    end = {"inlet": piece.inlet, "outlet": piece.outlet, "side": piece.side}[leg]
    inside = piece.side_passage_m if leg == "side" else piece.passage_m
    step = change_quadratic(*((end.bore_m, inside) if inward else (inside, end.bore_m)), laws)
    return step * _scale(tee, fitted)


def _scale(tee: Option | None, fitted: Fitted | None) -> float:
    """What fills make of the losses of a tee."""
    if fitted is None or tee is None or tee.part is None:
        return 1.0
    return fitted.tee(replace(tee.part, id=tee.known_as))


def tee_of(tee: Option | None) -> TeePiece | None:
    """The tee of an option; None where there is none."""
    return None if tee is None else next(parts_of([tee.part], TeePiece), None)


def _shape(tee: Option | None, fitted: Fitted | None) -> TeeShape | None:
    """The bores and the angle of a tee. K hangs on the ratio of the bores, and the head it stands for goes with their inverse
    fourth power: so a tee that loses so many times as much is one with narrower bores."""
    piece, narrower = tee_of(tee), _scale(tee, fitted) ** -0.25
    if piece is None:
        return None
    return TeeShape(
        run_bore_m=piece.passage_m * narrower, branch_bore_m=piece.side_passage_m * narrower, angle_deg=piece.angle_deg
    )


def _branch_loss(
    there: Sequence[Option], joints: Sequence[Chain | None], steps: float, window: tuple[float, float, bool]
) -> BranchLoss:
    """What a branch loses; ``window``: what its parts need and allow in m3/s, and whether it can be throttled."""
    between = sum(joint.quadratic for joint in joints if joint is not None)
    splits = [split for option in there if (split := split_of(option)) is not None]
    within = [branch for split in splits if len(split.branches) == 1 for branch in split.branches]
    losses = (*(option.loss for option in there), *(loss for branch in within for loss in branch.losses[:-1]))
    steps += sum(branch.losses[-1].quadratic for branch in within)
    return BranchLoss(
        losses=(*losses, Loss(quadratic=between + steps)),
        inner=(*(split for split in splits if len(split.branches) == 2), *(each for branch in within for each in branch.inner)),
        flow_min_m3s=window[0],
        flow_max_m3s=window[1],
        throttles=window[2],
    )


def _way(places: Places, number: int, fill: Filling) -> FilledBranch:
    return FilledBranch(name=places.position.branches[number].name, options=fill.options, joints=fill.joints)
