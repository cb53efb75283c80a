"""Joints with adapters in them: as they are between two ends that stay, and used again where a neighbour changes.

A joint whose neighbours both stay is not opened: it loses what it loses now and costs nothing. Where one of them changes, the
adapters that stand there are at hand: every unbroken row of them, alone or with bought ones in front of it and behind it, is one
more way to close the joint in front of the same place. A side that stays mated needs nothing; what is bought to lead from an end
to the row is a chain like any other, the shortest being a direct joint. Losses and prices of the pieces add up, so of these ways
only those count that no other beats, by the comparison of all chains. There is one such joint in a bundle, so no adapter is used
twice and the price of a bundle stays a sum over its pieces: nothing of the proof changes. Not offered: such adapters in another
joint, or turned round; a keeper who wants that writes them under [[spares]].
"""

from collections.abc import Iterator, Sequence

from optimizer.model.ends import End
from optimizer.model.options import Chain, OrientedAdapter
from optimizer.search.joints import MOST_PIECES, JointBook, together, unbeaten


def as_it_is(adapters: tuple[OrientedAdapter, ...], quadratic: float) -> Chain:
    """A joint between two installed ends as it stands, with what it loses in s2/m5."""
    return Chain(adapters, (), quadratic, 0, (), (), True, True)


def with_held(
    book: JointBook,
    found: Sequence[Chain],
    ends: tuple[End, End],
    adapters: tuple[OrientedAdapter, ...],
    stays: tuple[bool, bool],
) -> tuple[Chain, ...]:
    """Of the chains ``found`` between two ends and those that use ``adapters`` again which stand there now, the ones that none of
    them beats; ``stays``: on which side the neighbour is still the same."""
    every = [*found, *_used_again(book, ends, adapters, stays)]
    every.sort(key=lambda chain: (chain.plain, chain.quadratic, len(chain.items)))
    return unbeaten(every)


def _used_again(
    book: JointBook, ends: tuple[End, End], adapters: tuple[OrientedAdapter, ...], stays: tuple[bool, bool]
) -> Iterator[Chain]:
    count = len(adapters)
    for first in range(count):
        for last in range(first + 1, count + 1):
            row = adapters[first:last]
            ahead = _leading(book, ends[0], row[0].entry, stays[0] and first == 0)
            behind = _leading(book, row[-1].exit, ends[1], stays[1] and last == count)
            for one in ahead:
                for other in behind:
                    pieces = (*one.adapters, *row, *other.adapters)
                    plain = one.plain + other.plain
                    if plain <= book.dearest and len(pieces) <= max(MOST_PIECES, count):
                        yield Chain(
                            pieces,
                            (*one.matings, *other.matings),
                            book.chained(ends[0], pieces, ends[1]),
                            plain,
                            together(one.special, other.special),
                            (*one.items, *other.items),
                            held=row,
                        )


def _leading(book: JointBook, start: End, goal: End, stays: bool) -> tuple[Chain, ...]:
    """What leads from an end to the row or from the row to an end; two ends that stay mated need nothing."""
    return (Chain((), (), 0.0, 0, (), ()),) if stays else book.chains(start, goal)
