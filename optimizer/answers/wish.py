"""The flow that the keeper wishes for: reached, not for this money, or out of reach, and what stands in the way."""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np

from optimizer.answers.shut_ends import shut_ends, shut_words
from optimizer.answers.words import limit_words
from optimizer.loop.kinds import parts_of, window_m3s
from optimizer.model.catalog import Catalog
from optimizer.model.limits import Limits
from optimizer.model.options import Option
from optimizer.model.parts import Device, Kind
from optimizer.model.results import Wish
from optimizer.model.rig import Rig
from optimizer.model.said import Said, flowing
from optimizer.search.best import Seeker
from optimizer.search.choices import broken_by_itself, choices
from optimizer.search.layers import Problem, build

NOTICED = 0.01
"""A limit is in the way when without it at least so much more (as a share) could be reached."""

MOST_ASKED = 60
"""So many sets of limits are tried at most for the smallest that is in the way."""

MOST_BUILT = 6
"""So many problems are made at most for that in a loop with branches, where to list the ways to fill them takes longest."""

NOT_ALL = "other limits may have a share in it: not all were tried"

Named = tuple[str, str]
"""A limit and, of the window of one device, its place (else empty)."""

SHAPING = ("bio_area_m2", "mechanical_stage", "mature_media")
"""Limits on what the trays hold: they decide what is on offer, not how much passes an option."""

APART = ("flow_max_m3s", "inlet_head_m", "noise_dba", "power_w", "canister_rating", "room_m", "plugs")
"""Limits that have no say in how branches are filled: on all the water, and on the pump."""


def wish(rig: Rig, catalog: Catalog, limits: Limits, best_m3s: float) -> Wish | None:
    """What becomes of the wish in the rig file; None when it has none, or when the limits already ask for as much."""
    wanted = rig.target_m3s
    if not wanted > limits.flow_min_m3s:
        return None
    reached = best_m3s >= wanted * (1 - 1e-9)
    reach, in_the_way = (best_m3s, ()) if reached else _out_of(rig, catalog, limits, wanted)
    return Wish(
        flow_m3s=wanted,
        turnover_per_hour=rig.turnover_per_hour(wanted),
        reached=reached,
        reach_m3s=reach,
        in_the_way=tuple(in_the_way),
    )


def _out_of(rig: Rig, catalog: Catalog, limits: Limits, wanted: float) -> tuple[float, list[str]]:
    """A flow that nothing exceeds at any price, and what is in the way where that is less than wanted."""
    reach = _Reach(rig, catalog, replace(limits, budget=None, flow_min_m3s=0.0))
    binding = tuple(_names(reach))
    within = reach.under(binding)
    if within >= wanted * (1 - 1e-9):
        return within, []
    shut = shut_words(shut_ends(reach.problem(binding)))
    words = [shut] if shut else []
    limiting, unsure = _tight(reach, binding, within, wanted)
    words += limiting
    free = reach.under(()) if not unsure else within
    if free < wanted and not unsure:
        without = "which without such limits still ends at " if limiting else "which ends at "
        words.append(Said("the loop itself with the pumps on offer, ", without, flowing(free)))
    return within, [*words, NOT_ALL] if unsure else words


def _names(reach: "_Reach") -> Iterator[Named]:
    """The limits that can be in the way whatever is spent; in a loop in series each device's window by itself."""
    for name in reach.limits.binding:
        if name == "device_windows" and not reach.beside:
            yield from ((name, place.name) for place in reach.rig.positions if place.kind == Kind.DEVICE)
        else:
            yield name, ""


def _tight(reach: "_Reach", binding: Sequence[Named], within: float, wanted: float) -> tuple[list[str], bool]:
    """The limits without which, one at a time, noticeably more could be reached; where it takes several at once, the smallest
    such set; none where the limits are not in the way. And whether there was too much to look through."""

    def helps(without: Collection[Named]) -> bool:
        return reach.under([name for name in binding if name not in without]) >= min(wanted, within * (1.0 + NOTICED))

    single: list[Named] = []
    try:
        if not helps(binding):
            return [], False
        for group in _groups(reach, binding):
            if single and reach.beside and group[0][0] not in APART:
                break
            if helps(group):
                single += [name for name in group if len(group) == 1 or helps([name])]
        if single:
            return [_words(reach, name) for name in single], False
        return [Said.joined([_words(reach, name) for name in _least(binding, helps)], " and ")], False
    except _TooMuch:
        return [_words(reach, name) for name in single], True


def _groups(reach: "_Reach", binding: Sequence[Named]) -> list[list[Named]]:
    """The limits one by one, then those on media, which seldom are in the way and ask for problems of their own, together. In a
    loop with branches first those that need no other problem: where one of these is in the way the rest is left alone."""
    media = [name for name in binding if name[0] in SHAPING]
    alone = [name for name in binding if name not in media]
    if reach.beside:
        alone.sort(key=lambda name: name[0] not in APART)
    return [[name] for name in alone] + ([media] if media else [])


def _least(binding: Sequence[Named], helps: Callable[[Collection[Named]], bool]) -> Sequence[Named]:
    """The smallest set of limits that helps when all of it is dropped; where that would take more than `MOST_ASKED` questions,
    one none of which is needless."""
    asked = 0
    for size in range(2, len(binding)):
        for some in combinations(binding, size):
            asked += 1
            if asked > MOST_ASKED:
                return _needed(binding, helps)
            if helps(some):
                return some
    return binding


def _needed(binding: Sequence[Named], helps: Callable[[Collection[Named]], bool]) -> Sequence[Named]:
    needed = list(binding)
    for name in binding:
        fewer = [other for other in needed if other != name]
        needed = fewer if helps(fewer) else needed
    return needed


def _words(reach: "_Reach", name: Named) -> str:
    """A limit in words; the window of a device that is there with its greatest flow."""
    limit, place = name
    position = next((position for position in reach.rig.positions if position.name == place), None)
    for device in () if position is None else parts_of([position.installed], Device):
        if device.has_window:
            return Said(f"the flow window of {place}, at most ", flowing(device.flow_max_m3s))
    return f"the flow windows of what is on offer for {place}" if place else limit_words(limit, reach.limits, reach.rig)


class _TooMuch(Exception):
    """More problems would have to be made than `MOST_BUILT`."""


@dataclass(slots=True)
class _Reach:
    """The most that can be had at any price under some of the limits, throttled or not: a flow that nothing exceeds. What is
    asked twice is worked out once."""

    rig: Rig
    catalog: Catalog
    limits: Limits
    _problems: dict[frozenset[str], Problem] = field(init=False, default_factory=dict)
    _known: dict[frozenset[Named], float] = field(init=False, default_factory=dict)

    @property
    def beside(self) -> bool:
        """True when the rig has branches, whose fillings hang on most limits."""
        return any(position.branches for position in self.rig.positions)

    def problem(self, names: Collection[Named]) -> Problem:
        """All that is on offer under those of the limits that shape it. Raises _TooMuch."""
        limits = {limit for limit, _ in names}
        shaping = frozenset(limits.difference(APART) if self.beside else limits.intersection(SHAPING))
        if shaping not in self._problems:
            if self.beside and len(self._problems) >= MOST_BUILT:
                raise _TooMuch
            offer = self.limits.without(*(name for name in self.limits.binding if name not in shaping))
            self._problems[shaping] = build(choices(self.rig, self.catalog, offer, priceless=self.beside))
        return self._problems[shaping]

    def under(self, names: Collection[Named]) -> float:
        """A flow in m3/s that no bundle exceeds under these limits. Raises _TooMuch."""
        key = frozenset(names)
        if key not in self._known:
            self._known[key] = self._under(key)
        return self._known[key]

    def _under(self, names: frozenset[Named]) -> float:
        made = self.problem(names)
        kept = {limit for limit, _ in names}
        limits = self.limits.without(*(name for name in self.limits.binding if name not in kept))
        low, high = made.low, made.high
        for name in names:
            bounds = [_window(self.rig, limits, name, option) for layer in made.layers for option in layer.options]
            low, high = np.maximum(low, [bound[0] for bound in bounds]), np.minimum(high, [bound[1] for bound in bounds])
        seeker = Seeker(replace(made, choices=replace(made.choices, limits=limits), low=low, high=high))
        return seeker.reach()


def _window(rig: Rig, limits: Limits, name: Named, option: Option) -> tuple[float, float]:
    """The flows that one limit leaves an option."""
    limit, place = name
    if limit in ("device_windows", "guard_speed_ms", "jet_speed_ms"):
        alone = Limits().without(*Limits().binding).with_values({limit: getattr(limits, limit)})
        return (0.0, np.inf) if place and option.place != place else window_m3s(option.part, option.state, alone)
    return 0.0, 0.0 if limit in dict(broken_by_itself(rig, limits, option)) else np.inf
