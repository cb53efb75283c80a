"""What every figure is: a name, a caption, a description for those who cannot see it, its numbers, and how it is drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from optimizer.errors import safe
from optimizer.report.layout import GLUE, cut

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["LONGEST_LABEL", "MOST_PLACES", "Cell", "Number", "Picture", "label", "row_name", "spread"]

LONGEST_LABEL = 24
"""Characters of a name that stand beside a line or bar."""

MOST_PLACES = 60
"""Places of a loop that a figure has room for; the numbers below it are of all."""


@dataclass(frozen=True, slots=True)
class Number:
    """A number as it is stored (SI, or minor units of money), and as it is shown."""

    value: float
    text: str


Cell = str | Number


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One figure. ``rows`` are its numbers under ``heads``; ``draw`` makes the matplotlib figure. ``of`` says of what: the
    tank, and the day of the answer where that is known."""

    name: str
    caption: str
    words: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    draw: Callable[[], Figure]
    of: str = ""


def label(text: str, longest: int = LONGEST_LABEL) -> str:
    """A name as it may stand in a figure.

    >>> label("suction_hose")
    'suction_hose'
    """
    return cut(safe(text), longest).replace(GLUE, " ")


def row_name(name: str) -> str:
    """A row of the verdict as figures call it.

    >>> row_name("spend nothing")
    'cleaned'
    """
    return "cleaned" if name == "spend nothing" else label(name)


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places for labels as near as may be to where they are ``wanted``, in their order, at least ``gap`` apart between ``low``
    and ``high``; where there is no room for all they overlap evenly.

    >>> spread([1.0, 1.1, 5.0], 1.0, 0.0, 10.0)
    [1.0, 2.0, 5.0]
    >>> spread([9.9, 10.0], 1.0, 0.0, 10.0)
    [9.0, 10.0]
    """
    order = sorted(range(len(wanted)), key=lambda n: wanted[n])
    gap = min(gap, (high - low) / max(len(wanted) - 1, 1))
    placed = _pushed_up([wanted[n] for n in order], gap, low)
    placed = [-each for each in reversed(_pushed_up([-each for each in reversed(placed)], gap, -high))]
    found = [0.0] * len(wanted)
    for n, value in zip(order, placed, strict=True):
        found[n] = value
    return found


def _pushed_up(values: Iterable[float], gap: float, low: float) -> list[float]:
    placed: list[float] = []
    for value in values:
        placed.append(max(value, placed[-1] + gap if placed else low))
    return placed
