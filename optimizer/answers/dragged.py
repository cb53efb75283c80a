"""What a part brings with it: other changes without which its ends find nothing to mate with."""

from collections.abc import Collection, Sequence

from optimizer.model.options import ADJUST, CLEAN, KEEP, Option
from optimizer.model.said import Said
from optimizer.search.best import Found, Seeker
from optimizer.search.layers import Problem

MOST_NAMED = 6
"""More changes than this are counted and not named."""


def dragged_words(seeker: Seeker, found: Found, best: Found | None, fixed: Collection[int]) -> str:
    """What a bundle changes besides the places (by number) whose parts were asked for, to follow a sentence: first what their
    ends need, then what else is other than in the best bundle (empty: nothing)."""
    problem, options = seeker.problem, seeker.options_of(found.bundle)
    needed = [options[place] for place in _needed(problem, options, fixed)]
    there = () if best is None else seeker.options_of(best.bundle)
    others = [
        option
        for place, option in enumerate(options)
        if place not in fixed and option not in needed and not (there and option == there[place]) and not _rests(option)
    ]
    said = Said(" Its ends need with it: ", _named(needed), ".") if needed else ""
    return Said(said, f" {'It also' if there else 'It'} changes: ", _named(others), ".") if others else said


def _rests(option: Option) -> bool:
    """True for what leaves the ends of a place as they are."""
    return option.change in (KEEP, CLEAN, ADJUST)


def _named(options: Sequence[Option]) -> str:
    words = [_change(option) for option in options[:MOST_NAMED]]
    more = len(options) - len(words)
    return Said(Said.joined(words, ", "), f" and {more} more" if more else "")


def _change(option: Option) -> str:
    if option.fills:
        return Said(f"{option.place} (", option.note, ")")
    return f"{option.place} {option.change}" + ("" if option.part is None else f" {option.part.id}")


def _needed(problem: Problem, options: Sequence[Option], fixed: Collection[int]) -> tuple[int, ...]:
    """Places that have to change with those that are ``fixed``: as few of the changes of a bundle as let every joint be closed
    where all else is left as it is. A shortest way through the layers, on which each such change is a step."""
    fewest: dict[int, tuple[int, ...]] = {0: ()}
    for place, layer in enumerate(problem.layers):
        arriving: dict[int, tuple[int, ...]] = {}
        for source, to in zip(layer.joint_from.tolist(), layer.joint_to.tolist(), strict=True):
            if source in fewest:
                arriving[to] = min(arriving.get(to, fewest[source]), fewest[source], key=_count)
        rests = any(map(_rests, layer.options))
        fewest = {}
        for option, entry, leave in zip(layer.options, layer.entry.tolist(), layer.leave.tolist(), strict=True):
            chosen = option is options[place]
            if entry not in arriving or not (chosen or (place not in fixed and _rests(option))):
                continue
            free = place in fixed or _rests(option) or not rests  # what breaks a limit by itself has to change anyway
            taken = arriving[entry] if free else (*arriving[entry], place)
            fewest[leave] = min(fewest.get(leave, taken), taken, key=_count)
    return min(fewest.values(), key=_count)


def _count(places: Sequence[int]) -> tuple[int, Sequence[int]]:
    return len(places), places
