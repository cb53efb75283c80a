"""A bundle that does as well with fewer changes: what is free to change but gains next to nothing is left alone.

A search names the bundle with most head to spare among equals, which may empty a tray or drill a bar for a litre an hour. Here
each such change is tried the other way: everything as it was found, this one place left as it is or cleaned.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from optimizer.model.options import ADD, ADJUST, CLEAN, KEEP, REMOVE, SWAP, Option
from optimizer.search.best import Found, Seeker

Mask = NDArray[np.bool_]

LEAST_WANTED = (ADJUST, REMOVE, ADD, SWAP)
"""What a keeper would rather leave, first what cannot be undone; the media come before all."""


def is_left(option: Option) -> bool:
    """Whether an option leaves what is there, as it is or cleaned, in all trays and branches of its place."""
    if option.ways is not None:
        return all(map(is_left, option.ways.options))
    if option.fills:
        return all(fill.change in (KEEP, CLEAN) for fill in option.fills)
    return option.change in (KEEP, CLEAN)


def fewest_changes(seeker: Seeker, found: Found, target_m3s: float) -> Found:
    """A bundle that still delivers ``target_m3s`` and costs no more, with fewer changes than ``found`` where that can be: no
    place that it changes could be left alone without falling below the target, or costing more."""
    allowed = _as_found(seeker, found)
    inside = seeker.with_budget(found.bundle.price)
    for place in _changed(seeker, found):
        trial = left_alone(seeker, place, allowed)
        if trial is None:
            continue
        other = inside.inside(trial).least_price(target_m3s).found
        if other is not None:
            allowed, found = trial, other
    return found


def left_alone(seeker: Seeker, place: int, allowed: Mask | None = None) -> Mask | None:
    """A mask over all options that leaves one place alone and is ``allowed`` elsewhere (None: what the search has); None where
    that place cannot be left alone."""
    mask = (seeker.all if allowed is None else allowed).copy()
    some = slice(seeker.problem.option_at[place], seeker.problem.option_at[place + 1])
    left = [is_left(option) for option in seeker.problem.layers[place].options]
    mask[some] = left if allowed is not None else mask[some] & left
    return mask if mask[some].any() else None


def _as_found(seeker: Seeker, found: Found) -> Mask:
    """A mask over all options that allows those of a bundle."""
    allowed = np.zeros_like(seeker.all)
    allowed[list(found.bundle.path.options)] = True
    return allowed


def _changed(seeker: Seeker, found: Found) -> Iterator[int]:
    """The places that a bundle changes, first those whose change a keeper would rather leave."""
    options = [(place, option) for place, option in enumerate(seeker.options_of(found.bundle)) if not is_left(option)]

    def wanted(pair: tuple[int, Option]) -> tuple[int, int]:
        place, option = pair
        return (-1 if option.fills else LEAST_WANTED.index(option.change) if option.change in LEAST_WANTED else 0), place

    return (place for place, _ in sorted(options, key=wanted))
