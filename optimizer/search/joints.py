"""Joints: the cheapest non-dominated chains of adapters between two ends, with everything that closes them.

Ends are nodes, adapters are edges (each way round), mated faces join them. A chain is kept unless another one loses no more
head, costs no more in plainly priced pieces, needs no piece from a pack, kit or short stock that this one does not, and can be
throttled where this one can: whatever those shared pieces end up costing in the whole bundle, the dropped chain could not have
been better. Upstream of the pump nobody throttles, so there chains are compared without that.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, partial
from typing import TypeVar

import networkx as nx

from optimizer.loop.kinds import parts_of
from optimizer.loop.terms import adapter_quadratic, along_joint, change_quadratic
from optimizer.model.ends import End, Gender, Mating, Standard, mating
from optimizer.model.fitted import Fitted
from optimizer.model.items import Item, closure_item, part_item
from optimizer.model.options import Chain, OrientedAdapter
from optimizer.model.parts import Fitting
from optimizer.physics.fitting_laws import CHOSEN, FittingLaws
from optimizer.search.pricing import Shop

MOST_PIECES = 3
"""A joint of more adapters than this leaks, rattles and is not offered (common practice, no published source)."""

Face = tuple[str, float, str, str]


@dataclass(frozen=True, slots=True)
class _Path:
    """A chain under way. ``inner`` is its loss from the entry of its first adapter to the exit of its last."""

    turned: tuple[OrientedAdapter, ...]
    matings: tuple[Mating, ...]
    inner: float
    plain: int
    special: tuple[Item, ...]
    items: tuple[Item, ...]


_Bundled = dict[tuple[float, float], list[_Path]]
"""Paths by the bore they are entered by and the bore they are left by."""

_Closing = tuple[int, tuple[Item, ...], tuple[Item, ...]]
"""Plain price, special items and all items of something that is bought for a joint."""

_LastStep = tuple[Mating, _Closing, _Bundled]
"""How the last adapter of some paths mates with the end they lead to, and what that needs."""


@dataclass(slots=True)
class JointBook:
    """Finds and remembers the chains between ends, for one shop and one set of adapters.

    ``change(from_bore_m, to_bore_m)`` and ``inside(adapter, flipped)`` return quadratic coefficients in s2/m5;
    ``targets`` are all faces that a chain may have to reach, ``dearest`` the most that plain pieces may cost; ``scale`` is what
    fills make of the loss of every joint (all alike, so that none beats another for it).
    Bores have no say in what mates with what, so ends without their bores are numbered, and most is remembered by these numbers.
    """

    shop: Shop
    adapters: Sequence[Fitting]
    change: Callable[[float, float], float]
    inside: Callable[[Fitting, bool], float]
    targets: Iterable[Face]
    dearest: float
    scale: float = 1.0
    _entries: dict[Face, list[OrientedAdapter]] = field(init=False, default_factory=dict)
    _hops: dict[Face, int] = field(init=False)
    _inner: dict[OrientedAdapter, float] = field(init=False, default_factory=dict)
    _buys: dict[str, _Closing | None] = field(init=False, default_factory=dict)
    _paths: dict[int, dict[int, _Bundled]] = field(init=False, default_factory=dict)
    _chains: dict[tuple[End, End], tuple[Chain, ...]] = field(init=False, default_factory=dict)
    _wide_open: dict[tuple[End, End], tuple[Chain, ...]] = field(init=False, default_factory=dict)
    _closings: dict[Mating, _Closing | None] = field(init=False, default_factory=dict)
    _closed: dict[tuple[int, int], tuple[Mating, _Closing] | None] = field(init=False, default_factory=dict)
    _numbers: dict[End, int] = field(init=False, default_factory=dict)
    _bared: list[End] = field(init=False, default_factory=list)
    _last: dict[tuple[int, int], list[_LastStep]] = field(init=False, default_factory=dict)
    _onward: dict[int, list[OrientedAdapter]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        change, inside = self.change, self.inside
        self.change = cache(lambda before_m, after_m: self.scale * change(before_m, after_m))
        self.inside = lambda adapter, flipped: self.scale * inside(adapter, flipped)
        for part in sorted(self.adapters, key=lambda adapter: adapter.id):
            for flipped in (False, True):
                turned = OrientedAdapter(part, flipped)
                if self._buy(part.id) is not None:
                    self._inner[turned] = self.inside(part, flipped)
                    self._entries.setdefault(turned.entry.face, []).append(turned)
        self._entries = {face: self._unbeaten(group) for face, group in self._entries.items()}
        self._hops = self._hops_to_targets()

    def chained(self, start: End, adapters: Iterable[OrientedAdapter], goal: End) -> float:
        """Loss of a joint with these adapters in it, which need not be on offer, in s2/m5."""
        return along_joint(start.bore_m, adapters, goal.bore_m, self.change, self.inside)

    def number(self, end: End) -> int:
        """The number of an end without its bore."""
        if end not in self._numbers:
            bare = replace(end, bore_m=0.0)
            if bare not in self._numbers:
                self._numbers[bare] = len(self._bared)
                self._bared.append(bare)
            self._numbers[end] = self._numbers[bare]
        return self._numbers[end]

    def closes(self, origin: int, target: int) -> bool:
        """True when there may be a chain between ends of these numbers (False: there is none)."""
        return self._mated(origin, target) is not None or bool(self._last_steps(origin, target))

    def chains(self, start: End, goal: End) -> tuple[Chain, ...]:
        """All non-dominated ways to close the joint from ``start`` (upstream) to ``goal`` (downstream)."""
        key = (start, goal)
        if key not in self._chains:
            self._chains[key] = tuple(self._find(start, goal))
        return self._chains[key]

    def chains_wide_open(self, start: End, goal: End) -> tuple[Chain, ...]:
        """The same where nothing is throttled: one that can be is not kept for that."""
        key = (start, goal)
        if key not in self._wide_open:
            chains = self.chains(start, goal)
            some = any(chain.throttles for chain in chains)
            self._wide_open[key] = tuple(_front(chains, lambda c: (c.quadratic, c.plain, c.special, False))) if some else chains
        return self._wide_open[key]

    def _find(self, start: End, goal: End) -> list[Chain]:
        found: list[Chain] = []
        origin, target = self.number(start), self.number(goal)
        direct = self._mated(origin, target)
        if direct is not None:
            pair, (plain, special, items) = direct
            found.append(Chain((), (pair,), self.change(start.bore_m, goal.bore_m), plain, special, items))
        for pair, (plain, special, items), bundled in self._last_steps(origin, target):
            for (entry_bore, exit_bore), paths in bundled.items():
                ends = self.change(start.bore_m, entry_bore) + self.change(exit_bore, goal.bore_m)
                found += [
                    Chain(
                        path.turned,
                        (*path.matings, pair),
                        ends + path.inner,
                        path.plain + plain,
                        together(path.special, special),
                        (*path.items, *items),
                    )
                    for path in paths
                ]
        affordable = [chain for chain in found if chain.plain <= self.dearest]
        affordable.sort(key=lambda chain: (chain.plain, chain.quadratic, len(chain.items)))
        return list(unbeaten(affordable))

    def _last_steps(self, origin: int, target: int) -> list[_LastStep]:
        """Paths from one bare end whose last adapter mates with another, with that mating and what it needs."""
        key = (origin, target)
        if key not in self._last:
            ends = self._paths_from(origin).items()
            self._last[key] = [
                (*closed, bundled) for leaving, bundled in ends if (closed := self._mated(leaving, target)) is not None
            ]
        return self._last[key]

    def _paths_from(self, origin: int) -> dict[int, _Bundled]:
        """Label search, one adapter deeper per round, over the end left by (without its bore) and the bores at both ends."""
        if origin in self._paths:
            return self._paths[origin]
        labels: dict[int, _Bundled] = {}
        rim = [(self._bared[origin], _Path((), (), 0.0, 0, (), ()))]
        for pieces in range(1, MOST_PIECES + 1):
            fresh = [
                (turned.exit, path)
                for end, path_so_far in rim
                for turned in self._next(self.number(end))
                if self._hops.get(turned.exit.face, MOST_PIECES) <= MOST_PIECES - pieces
                and (path := self._longer(end, path_so_far, turned)) is not None
            ]
            rim = []
            for end, path in fresh:
                bores = (path.turned[0].entry.bore_m, end.bore_m)
                if _admit(labels.setdefault(self.number(end), {}).setdefault(bores, []), path):
                    rim.append((end, path))
        self._paths[origin] = labels
        return labels

    def _longer(self, end: End, path: _Path, turned: OrientedAdapter) -> _Path | None:
        closed = self._mated(self.number(end), self.number(turned.entry))
        bought = self._buy(turned.part.id)
        if closed is None or bought is None:
            return None
        pair, (plain, special, items) = closed
        total = path.plain + plain + bought[0]
        if total > self.dearest:
            return None
        step = self.change(end.bore_m, turned.entry.bore_m) if path.turned else 0.0
        return _Path(
            (*path.turned, turned),
            (*path.matings, pair),
            path.inner + step + self._inner[turned],
            total,
            together(together(path.special, special), bought[1]),
            (*path.items, *items, *bought[2]),
        )

    def _next(self, number: int) -> list[OrientedAdapter]:
        """Adapters that mate with an end, whether or not the joint can be closed."""
        if number not in self._onward:
            end = self._bared[number]
            self._onward[number] = [t for group in self._entries.values() if mating(end, group[0].entry) for t in group]
        return self._onward[number]

    def _mated(self, one: int, other: int) -> tuple[Mating, _Closing] | None:
        """How two bare ends mate, and what that needs; None when they do not, or when it cannot be had."""
        key = (one, other)
        if key not in self._closed:
            pair = mating(self._bared[one], self._bared[other])
            closing = None if pair is None else self._close(pair)
            self._closed[key] = None if pair is None or closing is None else (pair, closing)
        return self._closed[key]

    def _close(self, pair: Mating) -> _Closing | None:
        if pair not in self._closings:
            item = closure_item(pair)
            self._closings[pair] = (0, (), ()) if item is None else self._priced(item)
        return self._closings[pair]

    def _buy(self, part_id: str) -> _Closing | None:
        if part_id not in self._buys:
            self._buys[part_id] = self._priced(part_item(part_id))
        return self._buys[part_id]

    def _priced(self, item: Item) -> _Closing | None:
        price = self.shop.alone(item)
        if price is None:
            return None
        return (price, (), (item,)) if self.shop.is_plain(item) else (0, (item,), (item,))

    def _unbeaten(self, group: list[OrientedAdapter]) -> list[OrientedAdapter]:
        """Of adapters with the very same ends, those that no other beats."""
        alike: dict[tuple[End, End], list[OrientedAdapter]] = {}
        for turned in group:
            alike.setdefault((turned.entry, turned.exit), []).append(turned)
        kept: list[OrientedAdapter] = []
        for turneds in alike.values():
            turneds.sort(key=lambda t: ((self._buy(t.part.id) or (0,))[0], self._inner[t], t.part.id))
            kept += _front(turneds, self._rank)
        return kept

    def _rank(self, turned: OrientedAdapter) -> "Rank":
        plain, special, _ = self._buy(turned.part.id) or (0, (), ())
        return (self._inner[turned], plain, special, turned.part.throttles)

    def _hops_to_targets(self) -> dict[Face, int]:
        """How many more adapters, at least, a chain needs from each face until it mates with a target."""
        graph: nx.DiGraph[object] = nx.DiGraph()
        goals = [
            End(standard=Standard(standard), size_m=size, gender=Gender(gender), bore_m=0.0, key=key)
            for standard, size, gender, key in sorted(set(self.targets))
        ]
        for group in self._entries.values():
            for turned in group:
                leaves = turned.exit.face
                if leaves in graph and graph.nodes[leaves].get("done"):
                    graph.add_edge(turned.entry.face, ("out", leaves))
                    continue
                graph.add_node(leaves, done=True)
                graph.add_edge(turned.entry.face, ("out", leaves))
                for onward in self._next(self.number(turned.exit)):
                    graph.add_edge(("out", leaves), onward.entry.face, adapter=True)
                if any(mating(turned.exit, goal) for goal in goals):
                    graph.add_edge(("out", leaves), "goal")
        if "goal" not in graph:
            return {}
        steps = nx.single_source_shortest_path_length(graph.reverse(copy=False), "goal")
        return {node[1]: (far - 1) // 2 for node, far in steps.items() if isinstance(node, tuple) and node[0] == "out"}


def joint_book(
    shop: Shop, targets: Iterable[Face], dearest: float, laws: FittingLaws = CHOSEN, fitted: Fitted | None = None
) -> JointBook:
    """A book with all adapters of a shop, for chains that may have to reach the given faces, by what fills say of joints."""
    adapters = [part for part in parts_of(shop.parts.values(), Fitting) if part.role == "adapter"]
    return JointBook(
        shop=shop,
        adapters=adapters,
        change=partial(change_quadratic, laws=laws),
        inside=partial(adapter_quadratic, laws=laws),
        targets=targets,
        dearest=dearest,
        scale=1.0 if fitted is None else fitted.new_joints,
    )


def scaled_chains(chains: Sequence[Chain], scale: float) -> tuple[Chain, ...]:
    """The ways to close a joint between parts like two that are installed side by side, by what fills say of the joint between
    those. All ways are scaled alike, so none that was left out as beaten would be better."""
    return tuple(replace(chain, quadratic=chain.quadratic * scale, between_like=True) for chain in chains)


T = TypeVar("T")


def unbeaten(chains: Iterable[Chain]) -> tuple[Chain, ...]:
    """The chains between two ends that none of them beats; of equals the first."""
    return tuple(_front(chains, lambda chain: (chain.quadratic, chain.plain, chain.special, chain.throttles)))


Rank = tuple[float, int, tuple[Item, ...], bool]
"""Loss, plain price and special items, less of each is better; and whether it throttles, which is better than not."""


def _throttle(adapters: Iterable[OrientedAdapter]) -> bool:
    return any(turned.part.throttles for turned in adapters)


def together(some: tuple[Item, ...], more: tuple[Item, ...]) -> tuple[Item, ...]:
    """Two sorted rows of items as one."""
    return tuple(sorted((*some, *more))) if some and more else some or more


def _beats(one: Rank, other: Rank) -> bool:
    """True when ``one`` is at least as good in every respect, whatever special items end up costing."""
    if one[0] > other[0] or one[1] > other[1] or one[3] < other[3]:
        return False
    return not one[2] or _within(one[2], other[2])


def _within(some: tuple[Item, ...], all_: tuple[Item, ...]) -> bool:
    """True when a sorted row of items is part of another, each item as often as it is there."""
    if len(some) > len(all_):
        return False
    rest = iter(all_)
    return some == all_ or all(any(item == other for other in rest) for item in some)


def _front(ordered: Iterable[T], rank: Callable[[T], Rank]) -> list[T]:
    """Those that none before them beats, nor any after them."""
    kept: list[T] = []
    for candidate in ordered:
        if not any(_beats(rank(other), rank(candidate)) for other in kept):
            kept = [other for other in kept if not _beats(rank(candidate), rank(other))]
            kept.append(candidate)
    return kept


def _admit(paths: list[_Path], path: _Path) -> bool:
    """Add a path unless one of those there beats it; drop those that it beats."""
    rank = _path_rank(path)
    if any(_beats(_path_rank(p), rank) for p in paths):
        return False
    paths[:] = [p for p in paths if not _beats(rank, _path_rank(p))]
    paths.append(path)
    return True


def _path_rank(path: _Path) -> Rank:
    return (path.inner, path.plain, path.special, _throttle(path.turned))
