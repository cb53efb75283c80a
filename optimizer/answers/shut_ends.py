"""Places that nothing on offer can be put into, since an end beside them fits none of it: most often a maker's own union."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.loop.kinds import ends_of, every_end
from optimizer.model.ends import End, Gender, Standard, mating
from optimizer.model.options import SWAP
from optimizer.model.parts import Kind
from optimizer.model.results import ShutPlaces
from optimizer.model.said import Said
from optimizer.search.layers import Problem

__all__ = ["ShutEnd", "listed", "shut_ends", "shut_places", "shut_words"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutEnd:
    """An installed end, ``side`` of the part at ``owner``, that nothing on offer fits, and the places that stay for it."""

    owner: str
    side: str
    end: End
    places: tuple[str, ...]


def shut_words(ends: Sequence[ShutEnd]) -> str:
    """What stays for ends that nothing on offer fits, without a full stop (empty: there is no such end)."""
    if not ends:
        return ""
    return f"{listed(_places(ends))}, which cannot be changed since nothing on offer fits beside them"


def shut_places(ends: Sequence[ShutEnd]) -> ShutPlaces | None:
    """The same as part of an answer, with what to measure or to look up; None where there is no such end."""
    if not ends:
        return None
    return ShutPlaces(places=_places(ends), ends=tuple(_named(ends)), measure=tuple(_measures(ends)))


def _named(ends: Sequence[ShutEnd]) -> Iterator[str]:
    """Each sort of end with the parts that have it; of a maker's union both halves are one sort."""
    sorts: dict[tuple[bool, str], list[ShutEnd]] = {}
    for each in ends:
        union = each.end.standard is Standard.UNION
        sorts.setdefault((union, each.end.key if union else each.end.name), []).append(each)
    for (union, name), alike in sorts.items():
        sort = f"the maker's union {name}" if union else Said("the ", alike[0].end.name)
        yield Said(sort, " of ", listed(dict.fromkeys(each.owner for each in alike)))


def _places(ends: Sequence[ShutEnd]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(place for each in ends for place in each.places))


def _measures(ends: Sequence[ShutEnd]) -> Iterator[str]:
    """What a keeper can find out about such ends, a sentence for each family of them (common practice, no published source)."""
    for words, family in _FAMILIES:
        owners = dict.fromkeys(_owner(each) for each in ends if (each.end.standard, each.end.gender) in family)
        if owners:
            yield Said(words.format(listed(owners)))


def _owner(each: ShutEnd) -> str:
    """Where to look: a union goes with its part, anything else is one end of it."""
    return each.owner if each.end.standard is Standard.UNION else f"the {each.side} of {each.owner}"


_THREADED = (Standard.G, Standard.R, Standard.RC, Standard.RP, Standard.NPT, Standard.GHT)
_FAMILIES: tuple[tuple[str, frozenset[tuple[Standard, Gender]]], ...] = (
    (
        "Look up maker and model of {} (manual, or on the part): only what is made for them fits such a union; where the catalog "
        "has it, write its key in the rig (see couplings.csv). For the hose beyond it measure the tail's outside diameter with a "
        "caliper, or look up the hose size.",
        frozenset((Standard.UNION, gender) for gender in Gender),
    ),
    (
        "Measure {} with a caliper: the tail's outside diameter at its barb is the hose size; or look that up in the manual.",
        frozenset({(Standard.HOSE, Gender.MALE)}),
    ),
    (
        "Measure {} with a caliper: the inside diameter of the hose at a clean cut; or read what is printed on it.",
        frozenset({(Standard.HOSE, Gender.FEMALE)}),
    ),
    (
        "Measure {} with a caliper and a thread gauge: diameter across the thread, turns per inch, and whether it is parallel or "
        "taper. G (BSP) and NPT look alike and never mate.",
        frozenset((standard, gender) for standard in _THREADED for gender in Gender),
    ),
    (
        "Measure {} with a caliper: the outside diameter of the pipe. Metric pipe has whole millimetres, inch pipe does not.",
        frozenset((standard, gender) for standard in (Standard.SLIP_MM, Standard.SLIP_IN) for gender in Gender),
    ),
)


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
    return any(mating(end, other) is not None for part_id in sold for other in every_end(shop.parts[part_id]))
