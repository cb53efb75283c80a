"""Places that nothing on offer can be put into, since an end beside them fits none of it: most often a maker's own union."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.kinds import ends_of, kind
from optimizer.model.ends import End, Standard, mating
from optimizer.model.options import SWAP
from optimizer.model.parts import Kind, Part
from optimizer.model.said import Said
from optimizer.search.layers import Problem

__all__ = ["ShutEnd", "shut_cautions", "shut_ends", "shut_words"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutEnd:
    """An installed end, ``side`` of the part at ``owner``, that nothing on offer fits, and the places that stay for it."""

    owner: str
    side: str
    end: End
    places: tuple[str, ...]

    @property
    def words(self) -> str:
        """Which end it is."""
        return Said(f"the {self.side} of {self.owner} (", self.end.label, ")")


def shut_words(ends: Sequence[ShutEnd]) -> str:
    """What nothing on offer fits and what cannot be changed for it, without a full stop (empty: there is no such end)."""
    if not ends:
        return ""
    return _nothing_fits(ends, "nothing")


def _nothing_fits(ends: Sequence[ShutEnd], nothing: str) -> str:
    places = dict.fromkeys(place for end in ends for place in end.places)
    return Said(f"{nothing} on offer fits ", listed(end.words for end in ends), f": {listed(places)} cannot be changed")


def shut_cautions(ends: Sequence[ShutEnd]) -> tuple[str, ...]:
    """The same as a sentence, with what to do about it."""
    if not ends:
        return ()
    cures = []
    if any(end.end.standard is Standard.UNION for end in ends):
        cures.append("Where the catalog sells couplings or pumps for that maker, write its key in the rig (see couplings.csv).")
    if any(end.end.standard is not Standard.UNION for end in ends):
        cures.append("Measure the end again: size, thread, and which way it goes.")
    return (Said(_nothing_fits(ends, "Nothing"), f". {' '.join(cures)}"),)


def listed(words: Iterable[str]) -> str:
    """Words as a list in a sentence.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    *most, last = words
    return Said(Said.joined(most, ", "), " and ", last) if most else last


def shut_ends(problem: Problem) -> tuple[ShutEnd, ...]:
    """The installed ends for which places stay as they are though parts for them are on offer, in the order of the water."""
    positions = problem.choices.rig.positions
    shut: dict[tuple[int, str], tuple[End, list[str]]] = {}
    reached = _reached(problem)
    for place, options in enumerate(problem.choices.options):
        offered = any(option.change == SWAP for option in options)
        if positions[place].kind == Kind.CANISTER or not offered or SWAP in reached[place]:
            continue
        for owner, side, end in _beside(problem, place):
            if not _fits(problem, end):
                shut.setdefault((owner, side), (end, []))[1].append(positions[place].name)
    return tuple(
        ShutEnd(owner=positions[owner].name, side=side, end=end, places=tuple(places))
        for (owner, side), (end, places) in sorted(shut.items(), key=lambda item: item[0])
    )


def _reached(problem: Problem) -> list[set[str]]:
    """The changes at each place that some bundle makes."""
    ahead: list[NDArray[np.intp]] = []
    states = np.array([0])
    for layer in problem.layers:
        entries = np.unique(layer.joint_to[np.isin(layer.joint_from, states)])
        rows = np.flatnonzero(np.isin(layer.entry, entries))
        states = np.unique(layer.leave[rows])
        ahead.append(rows)
    found: list[set[str]] = []
    wanted: NDArray[np.intp] | None = None
    for layer, rows in zip(reversed(problem.layers), reversed(ahead), strict=True):
        alive = rows if wanted is None else rows[np.isin(layer.leave[rows], wanted)]
        found.append({layer.options[n].change for n in alive.tolist()})
        wanted = np.unique(layer.joint_from[np.isin(layer.joint_to, layer.entry[alive])])
    return found[::-1]


def _beside(problem: Problem, place: int) -> Iterator[tuple[int, str, End]]:
    """The installed ends that face a place, from the part before it and the part behind it."""
    positions = problem.choices.rig.positions
    before = next((n for n in range(place - 1, -1, -1) if positions[n].installed is not None), None)
    behind = next((n for n in range(place + 1, len(positions)) if positions[n].installed is not None), None)
    for owner, side in ((before, "outlet"), (behind, "inlet")):
        part = None if owner is None else positions[owner].installed
        end = None if part is None else ends_of(part)[side == "outlet"]
        if owner is not None and end is not None:
            yield owner, side, end


def _fits(problem: Problem, end: End) -> bool:
    """Whether any part that can be had, for whatever place, mates with an end."""
    shop = problem.shop
    sold = {line.part_id for product in shop.products for line in product.lines}
    return any(mating(end, other) is not None for part_id in sold for other in _ends(shop.parts[part_id]))


def _ends(part: Part) -> tuple[End, ...]:
    sides = (getattr(part, side, None) for side in ("inlet", "outlet", "side"))
    ends = ends_of(part) if kind(part).in_loop else sides
    return tuple(end for end in ends if end is not None)
