"""The search problem as arrays: a layer of options per position, joints between neighbouring layers.

Between two layers stand states: the end the water arrives by, and whether it is an installed end whose neighbour may still
be joined as it is today. A place left out passes its upstream state on, so that its neighbours are joined to each other.
Where a joint on the outlet side can hold an adapter that throttles, the options behind it are listed once more, behind such
joints only: a choice of options then says whether something throttles.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.kinds import curve_of
from optimizer.loop.numbering import numbered
from optimizer.loop.option_heads import Heads
from optimizer.model.ends import End
from optimizer.model.items import Item
from optimizer.model.options import Chain, Option
from optimizer.model.parts import Kind
from optimizer.model.rig import HeldJoint, end_part, end_place
from optimizer.search.choices import Choices
from optimizer.search.held_joints import as_it_is, with_held
from optimizer.search.joints import JointBook, joint_book, scaled_chains
from optimizer.search.pricing import Shop
from optimizer.uncollected import uncollected

Ints = NDArray[np.intp]
Reals = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Node:
    """A state between layers. ``kept`` is the place of the installed part whose end this is, or -1; ``like`` that of the one
    whose end this is, or which it is like in kind and size, -1 where no fills tell of it. ``passing`` marks the entry of a place
    that is left out, ``throttled`` one that only joints with a throttle in them lead to."""

    end: End | None
    kept: int = -1
    like: int = -1
    passing: bool = False
    throttled: bool = False


@dataclass(frozen=True, slots=True)
class Layer:
    """One position: options sorted by the state they lead to, and the joints that lead into it, sorted likewise.

    ``entry[k]`` and ``leave[k]`` are the states of option k, ``joint_from`` and ``joint_to`` those of the joints;
    ``entries`` and ``leaves`` name the states; ``arriving`` is how many there are in front of it.
    """

    options: tuple[Option, ...]
    entry: Ints
    leave: Ints
    entries: tuple[Node, ...]
    leaves: tuple[Node, ...]
    joints: tuple[Chain, ...]
    joint_from: Ints
    joint_to: Ints
    arriving: int


@dataclass(frozen=True, slots=True)
class Problem:
    """All layers, and flat arrays over all options and all joints (layer after layer) for fast evaluation.

    Prices: ``option_plain`` and ``joint_plain`` in minor units, plus the special items listed by ``*_special`` as pairs (row,
    item) into ``specials``. ``number_of`` is the place of what stands for items there
    (`Shop.stand_in`). ``low``/``high`` are the options' flow bounds, ``throttles`` marks those that can hold a
    flow or stand behind a joint that can. ``pump`` is the layer that holds the pump.

    Where suppliers ask for postage there are as many ``shops`` as ways to order, and as many layered graphs side by side:
    ``option_shop`` is that of each option, ``shop_of_special`` that of each special item, and no path leads from one to another.
    What postage a way pays stands at the pump, as part of its plain price.
    """

    choices: Choices
    layers: tuple[Layer, ...]
    option_at: tuple[int, ...]
    joint_at: tuple[int, ...]
    heads: Heads
    joint_quadratic: Reals
    option_plain: Reals
    joint_plain: Reals
    specials: tuple[Item, ...]
    number_of: dict[tuple[int, Item], int]
    option_special: tuple[Ints, Ints]
    joint_special: tuple[Ints, Ints]
    low: Reals
    high: Reals
    throttles: Bools
    pump: int
    suction_quadratic: Reals
    depth_m: float
    option_shop: Ints
    shop_of_special: tuple[int, ...]

    @property
    def shop(self) -> Shop:
        """The shop that all is to be had in."""
        return self.choices.shop

    @property
    def shops(self) -> tuple[Shop, ...]:
        """The shops that prices are made in, one for each way to order."""
        return self.choices.shops

    def shop_of(self, flat: int) -> Shop:
        """The shop that bundles with an option, by its place in the flat arrays, are priced in."""
        return self.shops[int(self.option_shop[flat])]

    def option(self, flat: int) -> Option:
        """The option at a place in the flat arrays."""
        layer = int(np.searchsorted(self.option_at, flat, side="right")) - 1
        return self.layers[layer].options[flat - self.option_at[layer]]

    def joint(self, flat: int) -> Chain:
        """The chain at a place in the flat arrays."""
        layer = int(np.searchsorted(self.joint_at, flat, side="right")) - 1
        return self.layers[layer].joints[flat - self.joint_at[layer]]

    def numbers(self, items: Sequence[Item]) -> tuple[int, ...]:
        """The numbers of some special items among ``specials``."""
        return tuple(self.number_of[0, self.shops[0].stand_in(item)] for item in items)

    def combinations(self, times: Sequence[int] | None = None) -> int:
        """Number of different bundles: paths through the layers (of several ways to order through those of the one that has
        most), and those that bounds ruled out before. An option (flat) may stand for several, so many ``times`` over; then what
        was ruled out is not counted."""
        counts, ruled_out = [1], self.choices.ruled_out if times is None else 0
        for layer, first in zip(self.layers, self.option_at, strict=False):
            arriving = [0] * len(layer.entries)
            for source, target in zip(layer.joint_from, layer.joint_to, strict=True):
                arriving[target] += counts[source]
            counts = [0] * len(layer.leaves)
            for row, (source, target) in enumerate(zip(layer.entry, layer.leave, strict=True), first):
                counts[target] += arriving[source] * (1 if times is None else times[row])
        of_way = dict(zip(self.layers[-1].leave.tolist(), self.option_shop[self.option_at[-2] :].tolist(), strict=True))
        totals = [0] * len(self.shops)
        for leave, way in of_way.items():
            totals[way] += counts[leave]
        return max(totals) + ruled_out


@uncollected()
def build(choices: Choices, dearest: float = math.inf) -> Problem:
    """Turn choices into arrays. ``dearest`` (minor units) leaves out joints that alone cost more.

    A position with no option that fits its neighbours leaves a problem without paths; the search then finds nothing.
    """
    if not choices.ways:
        layers = _layers(choices, dearest)
        return _problem(choices, layers, [np.zeros(len(layer.options), dtype=np.intp) for layer in layers])
    graphs = [_layers(way, dearest) for way in choices.ways]
    beside = list(zip(*graphs, strict=True))
    shops = [np.repeat(np.arange(len(some)), [len(layer.options) for layer in some]) for some in beside]
    return _problem(choices, tuple(_side_by_side(some, place == 0) for place, some in enumerate(beside)), shops)


def _layers(choices: Choices, dearest: float) -> tuple[Layer, ...]:
    """The layers of one way to order."""
    targets = {o.inlet.face for options in choices.options for o in options if o.inlet is not None}
    targets |= {turned.entry.face for joint in choices.rig.joints for turned in joint.adapters}
    book = joint_book(choices.shop, targets, dearest, choices.rig.laws, choices.rig.fitted)
    layers: list[Layer] = []
    before: tuple[Node, ...] = (Node(None),)
    for place, options in enumerate(choices.options):
        layer = _layer(place, options, before, book, choices)
        layers.append(layer)
        before = layer.leaves
    return tuple(layers)


def _side_by_side(layers: Sequence[Layer], first: bool) -> Layer:
    """The same position of several graphs as one layer, with states of their own; in front of the ``first`` there is only one."""
    entries = np.cumsum([0, *(len(layer.entries) for layer in layers)])[:-1]
    leaves = np.cumsum([0, *(len(layer.leaves) for layer in layers)])[:-1]
    before = np.cumsum([0, *(0 if first else layer.arriving for layer in layers)])[:-1]
    return Layer(
        options=tuple(option for layer in layers for option in layer.options),
        entry=np.concatenate([layer.entry + n for layer, n in zip(layers, entries, strict=True)]),
        leave=np.concatenate([layer.leave + n for layer, n in zip(layers, leaves, strict=True)]),
        entries=tuple(node for layer in layers for node in layer.entries),
        leaves=tuple(node for layer in layers for node in layer.leaves),
        joints=tuple(chain for layer in layers for chain in layer.joints),
        joint_from=np.concatenate([layer.joint_from + n for layer, n in zip(layers, before, strict=True)]),
        joint_to=np.concatenate([layer.joint_to + n for layer, n in zip(layers, entries, strict=True)]),
        arriving=sum(layer.arriving for layer in layers),
    )


def _nodes(place: int, option: Option, before: Sequence[Node], fitted: bool) -> list[tuple[Node, Node]]:
    """The states an option leads from and to; an option without a part has one pair for every state before it. ``fitted``: fills
    tell what joints between installed parts lose, and those between parts like them."""
    if not option.is_there:
        left_out = option.change == "remove"
        here = [Node(n.end, -1, -1) if left_out else Node(n.end, n.kept, n.like) for n in before]
        return [(Node(n.end, n.kept, n.like, passing=True), leave) for n, leave in zip(before, here, strict=True)]
    known = [place if fitted and at_end else -1 for at_end in (option.inlet_known, option.outlet_known)]
    entry = Node(option.inlet, place if option.keeps_inlet else -1, known[0])
    return [(entry, Node(option.outlet, place if option.keeps_outlet else -1, known[1]))]


def _layer(place: int, options: Sequence[Option], before: Sequence[Node], book: JointBook, choices: Choices) -> Layer:
    entries: dict[Node, int] = {}
    leaves: dict[Node, int] = {}
    rows: list[tuple[int, int, int, Option]] = []
    for order, option in enumerate(options):
        for entry, leave in _nodes(place, option, before, choices.rig.fitted is not None):
            into = entries.setdefault(entry, len(entries))
            rows.append((leaves.setdefault(leave, len(leaves)), order, into, option))
    arriving = [(source, state, -1 if state.end is None else book.number(state.end)) for source, state in enumerate(before)]
    joints = [
        (target, source, chain)
        for node, target in entries.items()
        for source, upstream in _upstream(node, arriving, book, _held(place, choices) is not None)
        for chain in _joint(place, upstream, node, book, choices)
    ]
    if any(chain.throttles for _, _, chain in joints):
        joints = _told_apart(entries, rows, joints)
    rows.sort(key=lambda row: row[:3])
    return Layer(
        options=tuple(row[3] for row in rows),
        entry=np.array([row[2] for row in rows], dtype=np.intp),
        leave=np.array([row[0] for row in rows], dtype=np.intp),
        entries=tuple(entries),
        leaves=tuple(leaves),
        joints=tuple(chain for _, _, chain in joints),
        joint_from=np.array([source for _, source, _ in joints], dtype=np.intp),
        joint_to=np.array([target for target, _, _ in joints], dtype=np.intp),
        arriving=len(before),
    )


def _told_apart(
    entries: dict[Node, int], rows: list[tuple[int, int, int, Option]], joints: Sequence[tuple[int, int, Chain]]
) -> list[tuple[int, int, Chain]]:
    """Joints with those that throttle leading to entries of their own, behind which the same options stand once more."""
    nodes = list(entries)
    own = {
        target: entries.setdefault(replace(nodes[target], throttled=True), len(entries))
        for target in sorted({target for target, _, chain in joints if chain.throttles})
    }
    rows += [(leave, order, own[into], option) for leave, order, into, option in rows if into in own]
    led = [(own[target] if chain.throttles else target, source, chain) for target, source, chain in joints]
    return sorted(led, key=lambda joint: joint[0])


def _upstream(entry: Node, arriving: Sequence[tuple[int, Node, int]], book: JointBook, held: bool) -> list[tuple[int, Node]]:
    """The states before a layer (place, state, number of its end) that could be joined to one in it: of most pairs the
    numbers alone tell that they cannot, unless adapters are ``held`` in the joint."""
    if entry.end is None or entry.passing or held:
        return [(source, state) for source, state, _ in arriving]
    target, kept = book.number(entry.end), entry.kept >= 0
    return [
        (source, state)
        for source, state, number in arriving
        if number < 0 or (kept and state.kept >= 0) or book.closes(number, target)
    ]


_FREE = Chain((), (), 0.0, 0, (), (), True)


def _joint(place: int, upstream: Node, entry: Node, book: JointBook, choices: Choices) -> tuple[Chain, ...]:
    if place == 0:
        return (_FREE,)
    if entry.passing:
        return (_FREE,) if (upstream.end, upstream.kept, upstream.like) == (entry.end, entry.kept, entry.like) else ()
    if upstream.end is None or entry.end is None:
        return ()
    if upstream.kept >= 0 and entry.kept == place and _next_installed(choices, upstream.kept) == place:
        positions = choices.rig.positions
        held = choices.rig.adapters(end_place(positions[upstream.kept], True), end_place(positions[place], False))
        own = _fitted(choices, upstream.kept, place) / book.scale
        return (as_it_is(held, book.chained(upstream.end, held, entry.end) * own),)
    behind = place > choices.rig.index(Kind.PUMP)
    chains = book.chains(upstream.end, entry.end) if behind else book.chains_wide_open(upstream.end, entry.end)
    joint = _held(place, choices)
    if joint is not None:
        before = upstream.kept >= 0 and end_place(choices.rig.positions[upstream.kept], True) == joint.before
        chains = with_held(book, chains, (upstream.end, entry.end), joint.adapters, (before, entry.kept == place))
    if upstream.like < 0 or entry.like != place or _next_installed(choices, upstream.like) != place:
        return chains
    return scaled_chains(chains, _fitted(choices, upstream.like, place) / book.scale)


def _held(place: int, choices: Choices) -> HeldJoint | None:
    """The adapters that stand now in the joint in front of a place."""
    rig = choices.rig
    return next((joint for joint in rig.joints if joint.after == end_place(rig.positions[place], False)), None)


def _fitted(choices: Choices, first: int, then: int) -> float:
    """What fills make of the loss of the joint between two installed parts."""
    fitted, positions = choices.rig.fitted, choices.rig.positions
    before, after = end_part(positions[first], leaving=True), end_part(positions[then], leaving=False)
    return 1.0 if fitted is None or before is None or after is None else fitted.joint(before, after)


def _next_installed(choices: Choices, place: int) -> int:
    positions = choices.rig.positions
    return next((n for n in range(place + 1, len(positions)) if positions[n].holds_something), -1)


def _problem(choices: Choices, layers: tuple[Layer, ...], shops: Sequence[Ints]) -> Problem:
    """``shops`` has the number of the shop of every option, layer by layer."""
    options = [option for layer in layers for option in layer.options]
    joints = [chain for layer in layers for chain in layer.joints]
    sold_by = np.concatenate(shops)
    needs = [
        (choices.shops[n].needs(o.items, o.own_price),) if o.ways is None else o.ways.needs
        for o, n in zip(options, sold_by.tolist(), strict=True)
    ]
    which, different = numbered([each for some in needs for each in some], key=id)
    owner = np.repeat(np.arange(len(needs)), [len(some) for some in needs])
    needed_at = np.zeros(len(different), dtype=np.intp)
    needed_at[which] = sold_by[owner]
    joined_at = [n for layer, some in zip(layers, shops, strict=True) for n in _of_joints(layer, some)]
    special = {(n, item) for each, n in zip(different, needed_at.tolist(), strict=True) for item in each.special}
    special |= {(n, item) for chain, n in zip(joints, joined_at, strict=True) for item in chain.special}
    inside = (each.special for pairing in choices.unpaired.values() for some in pairing.needs() for each in some)
    special |= {(0, item) for items in inside for item in items}
    named, number, number_of = _alike(choices.shops, sorted(special))
    pump = choices.rig.index(Kind.PUMP)
    plain = np.array([each.plain for each in different], dtype=float)
    option_plain = np.asarray(np.bincount(owner, plain[which], len(options)), dtype=float)
    postage = np.array([shop.order.paid for shop in choices.shops], dtype=float)
    option_at = _starts([len(layer.options) for layer in layers])
    option_plain[option_at[pump] : option_at[pump + 1]] += postage[shops[pump]]
    return Problem(
        choices=choices,
        layers=layers,
        option_at=option_at,
        joint_at=_starts([len(layer.joints) for layer in layers]),
        heads=Heads.of(
            [option.loss for option in options],
            [None if (curve := curve_of(o.part)) is None else (curve, o.speed) for o in options],
            choices.water.kinematic_m2s,
            [None if option.ways is None else option.ways.split for option in options],
        ),
        joint_quadratic=np.array([chain.quadratic for chain in joints], dtype=float),
        option_plain=option_plain,
        joint_plain=np.array([chain.plain for chain in joints], dtype=float),
        specials=tuple(item for _, item in named),
        number_of=number_of,
        option_special=_shared(
            owner,
            which,
            [[number[n, item] for item in each.special] for each, n in zip(different, needed_at.tolist(), strict=True)],
        ),
        joint_special=_pairs([[number[n, item] for item in c.special] for c, n in zip(joints, joined_at, strict=True)]),
        low=np.array([option.flow_min_m3s for option in options], dtype=float),
        high=np.array([option.flow_max_m3s for option in options], dtype=float),
        throttles=np.array([throttles for layer in layers for throttles in _throttling(layer)], dtype=bool),
        pump=pump,
        suction_quadratic=np.array([o.suction_quadratic for o in layers[pump].options], dtype=float),
        depth_m=choices.rig.positions[pump].depth_m,
        option_shop=sold_by,
        shop_of_special=tuple(n for n, _ in named),
    )


def _of_joints(layer: Layer, shops: Ints) -> list[int]:
    """The number of the shop of every joint of a layer: that of the options behind it."""
    behind = np.zeros(len(layer.entries), dtype=np.intp)
    behind[layer.entry] = shops
    return [int(n) for n in behind[layer.joint_to]]


def _throttling(layer: Layer) -> Iterator[bool]:
    """Whether each option can hold a flow, by itself or by the joint in front of it."""
    entries = (layer.entries[n] for n in layer.entry.tolist())
    yield from (option.throttles or entry.throttled for option, entry in zip(layer.options, entries, strict=True))


def _starts(sizes: Sequence[int]) -> tuple[int, ...]:
    return tuple(int(n) for n in np.concatenate(([0], np.cumsum(sizes))))


_Sold = tuple[int, Item]
"""An item as one of several shops sells it, by the number of the shop."""


def _alike(shops: Sequence[Shop], items: Sequence[_Sold]) -> tuple[list[_Sold], dict[_Sold, int], dict[_Sold, int]]:
    """One item for all that prices cannot tell apart, the number of each item among these, and that of what stands for each."""
    numbers: dict[_Sold, int] = {}
    named: list[_Sold] = []
    number: dict[_Sold, int] = {}
    for sold in items:
        number[sold] = numbers.setdefault((sold[0], shops[sold[0]].stand_in(sold[1])), len(named))
        if number[sold] == len(named):
            named.append(sold)
    return named, number, numbers


def _shared(owner: Ints, which: Ints, lists: Sequence[Sequence[int]]) -> tuple[Ints, Ints]:
    """Pairs (row, item) where ``owner[k]`` has all of list ``which[k]``, in the order of k."""
    sizes = np.array([len(some) for some in lists], dtype=np.intp)
    starts = np.concatenate(([0], np.cumsum(sizes)))[:-1]
    each = sizes[which]
    within = np.arange(each.sum()) - np.repeat(np.cumsum(each) - each, each)
    flat = np.array([item for some in lists for item in some], dtype=np.intp)
    return np.repeat(owner, each), flat[np.repeat(starts[which], each) + within] if len(flat) else flat


def _pairs(rows: Sequence[Sequence[int]]) -> tuple[Ints, Ints]:
    pairs = [(row, item) for row, items in enumerate(rows) for item in items]
    return (
        np.array([row for row, _ in pairs], dtype=np.intp),
        np.array([item for _, item in pairs], dtype=np.intp),
    )
