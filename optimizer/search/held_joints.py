"""Joints with adapters in them: as they are between two ends that stay, and used again where a neighbour changes.

A joint whose neighbours both stay is not opened: it loses what it loses now and costs nothing. Where one of them changes, the
adapters that stand there are at hand, and every unbroken row of them is one more way to close the joint in front of the same
place. Only the two outer matings can be new, so only these may need a clamp or a seal. There is one such joint in a bundle, so
no adapter is used twice and the price of a bundle stays a sum over its pieces: nothing of the proof changes. Not offered: such
adapters in another joint, turned round, or mixed with bought ones; a keeper who wants that writes them under [[spares]].
"""

from collections.abc import Iterator, Sequence

from optimizer.loop.terms import chained_quadratic
from optimizer.model.ends import End, Mating
from optimizer.model.options import Chain, OrientedAdapter
from optimizer.search.joints import Closing, JointBook, together


def as_it_is(before: End, adapters: tuple[OrientedAdapter, ...], after: End, scale: float = 1.0) -> Chain:
    """The joint between two installed ends as it stands; it loses ``scale`` times what is stated."""
    return Chain(adapters, (), chained_quadratic(before.bore_m, adapters, after.bore_m) * scale, 0, (), (), True)


def used_again(
    book: JointBook, before: End, adapters: Sequence[OrientedAdapter], after: End, stays: tuple[bool, bool]
) -> Iterator[Chain]:
    """Ways to close a joint with ``adapters`` that stand there now; ``stays``: on which side the neighbour is still the same."""
    count = len(adapters)
    for first in range(count):
        for last in range(first + 1, count + 1):
            row = tuple(adapters[first:last])
            ahead = _closed(book, before, row[0].entry, stays[0] and first == 0)
            behind = _closed(book, row[-1].exit, after, stays[1] and last == count)
            if ahead is None or behind is None:
                continue
            matings = tuple(pair for pair, _ in (ahead, behind) if pair is not None)
            (plain, special, items), (more, others, rest) = ahead[1], behind[1]
            if plain + more <= book.dearest:
                lost = chained_quadratic(before.bore_m, row, after.bore_m)
                yield Chain(row, matings, lost, plain + more, together(special, others), (*items, *rest), reused=True)


def _closed(book: JointBook, one: End, other: End, stays: bool) -> tuple[Mating | None, Closing] | None:
    """What makes two ends tight that need it; None when they do not mate, or what it takes cannot be had."""
    return (None, (0, (), ())) if stays else book.closing(one, other)
