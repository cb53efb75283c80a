"""Branches: all ways to fill two branches and the tees between them, each as one option of the position that holds them.

At a total flow Q two branches lose one head, whatever stands in them, and that head rises with Q. So a position with branches
is to the search what any other is: a layer of options, each with a loss that is a number at a given flow. The argument that makes
the search exact then holds word for word, if no filling is left out that could be part of the best bundle.

Left out are fillings of one branch that another one of the same branch beats: same ends, certainly no more loss at any flow, a
flow window no narrower, a throttle where the other has one, and no dearer even if every shared piece that the other does not need
is bought on its own. Put in its place, the other lets no less water through its branch at any head, so neither the head of the
pair at a given flow nor the price of the bundle rises. What is there now, and what cleaning alone can do, are kept apart, since
both are shown.

Rule of the model: where branches both part and meet at tees, the two tees are the same part.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from optimizer.loop.splits import Splits, rises
from optimizer.loop.terms import change_quadratic
from optimizer.model.ends import End
from optimizer.model.losses import BranchLoss, Loss, Split, TeeShape
from optimizer.model.parts import TeePiece
from optimizer.model.rig import Position
from optimizer.search.fills import Fill, Filler, Gate
from optimizer.search.options import ADD, ADJUST, CLEAN, KEEP, REMOVE, SWAP, Option, Way, Ways

MOST_WAYS = 100_000
"""So many ways to fill the branches of one position are looked at; more are refused, never cut short."""

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


def ways(places: Places, filler: Filler) -> list[Option]:
    """All ways worth trying, as options of the position. Raises TooManyWays.

    Left out are those whose loss falls anywhere as the flow rises (a tee's jet may do that), since the proof rests on the
    opposite, and those that give some device no flow that it allows.
    """
    made: list[Option] = []
    for option in (*_single(places, filler), *_double(places, filler)):
        made.append(option)
        if len(made) > MOST_WAYS:
            raise TooManyWays(places.position.name)
    splits = Splits.of([option.ways.split for option in made if option.ways is not None], filler.kinematic_m2s)
    low, high = splits.window()
    return [
        replace(option, flow_min_m3s=float(least), flow_max_m3s=float(most))
        for option, steady, least, most in zip(made, rises(splits), low, high, strict=True)
        if steady and least < most
    ]


def _single(places: Places, filler: Filler) -> Iterator[Option]:
    """The first branch alone, without tees, as long as the second is not there."""
    if places.position.branches[1].installed:
        return
    for fill in filler.fills(places.position.branches[0], places.branches[0], None, None):
        first, last = fill.there[0], fill.there[-1]
        split = Split(branches=(_branch_loss(fill, 0.0),))
        filled = Ways(branches=(_way(places, 0, fill),), parting=None, meeting=None, split=split)
        yield _option(places, filled, first.inlet, last.outlet, 0.0, fill.throttles)


def _double(places: Places, filler: Filler) -> Iterator[Option]:
    """Both branches between their tees."""
    for parting, meeting in _tees(places):
        pairs = [
            filler.fills(branch, options, _gate(parting, n, True), _gate(meeting, n, False))
            for n, (branch, options) in enumerate(zip(places.position.branches, places.branches, strict=True))
        ]
        common = _steps(parting, "inlet", True) + _steps(meeting, "outlet", False)
        for fills in product(*pairs):
            if sum(fill.plain for fill in fills) > filler.dearest:
                continue
            yield _pair(places, fills, parting, meeting, common)


def _pair(places: Places, fills: Sequence[Fill], parting: Option | None, meeting: Option | None, common: float) -> Option:
    losses = tuple(
        _branch_loss(fill, _steps(parting, leaving, False) + _steps(meeting, entering, True))
        for fill, leaving, entering in zip(fills, ("outlet", "side"), ("inlet", "side"), strict=True)
    )
    split = Split(branches=losses, parting=_shape(parting), meeting=_shape(meeting))
    filled = Ways(
        branches=tuple(_way(places, n, fill) for n, fill in enumerate(fills)), parting=parting, meeting=meeting, split=split
    )
    inlet = None if parting is None else parting.inlet
    outlet = None if meeting is None else meeting.outlet
    return _option(places, filled, inlet, outlet, common, False)


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
    piece = _piece(tee)
    if piece is None or tee is None:
        return None
    straight = piece.outlet if parting else piece.inlet
    return Gate(piece.side if branch else straight, tee.is_installed)


def _steps(tee: Option | None, leg: str, inward: bool) -> float:
    """Loss of the step between the bore of a tee's end and that inside it, in s2/m5."""
    piece = _piece(tee)
    if piece is None:
        return 0.0
    end = {"inlet": piece.inlet, "outlet": piece.outlet, "side": piece.side}[leg]
    inside = piece.side_passage_m if leg == "side" else piece.passage_m
    return change_quadratic(end.bore_m, inside) if inward else change_quadratic(inside, end.bore_m)


def _piece(tee: Option | None) -> TeePiece | None:
    return tee.part if tee is not None and isinstance(tee.part, TeePiece) else None


def _shape(tee: Option | None) -> TeeShape | None:
    piece = _piece(tee)
    if piece is None:
        return None
    return TeeShape(run_bore_m=piece.passage_m, branch_bore_m=piece.side_passage_m, angle_deg=piece.angle_deg)


def _branch_loss(fill: Fill, steps: float) -> BranchLoss:
    joints = sum(joint.quadratic for joint in fill.joints if joint is not None)
    return BranchLoss(
        losses=(*(option.loss for option in fill.there), Loss(quadratic=joints + steps)),
        flow_min_m3s=fill.low_m3s,
        flow_max_m3s=fill.high_m3s,
        throttles=fill.throttles,
    )


def _way(places: Places, number: int, fill: Fill) -> Way:
    return Way(name=places.position.branches[number].name, options=fill.options, joints=fill.joints)


def _option(places: Places, filled: Ways, inlet: End | None, outlet: End | None, common: float, throttles: bool) -> Option:
    inner = filled.options
    items = [item for option in inner for item in option.items] + [item for joint in filled.joints for item in joint.items]
    return Option(
        position=places.number,
        place=places.position.name,
        change=max((option.change for option in inner), key=ORDER.index),
        part=None,
        loss=Loss(quadratic=common),
        inlet=inlet,
        outlet=outlet,
        own_price=sum(option.own_price for option in inner),
        items=tuple(items),
        throttles=throttles,
        note=", ".join(way.name for way in filled.branches),
        ways=filled,
    )
