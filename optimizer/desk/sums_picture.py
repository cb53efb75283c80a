"""The picture over the slider: the most flow that every sum buys, as steps, with what is now, what is wished for and the advice.

Drawn by ourselves as a few points, so that a script can move its pointer; the table beside it says the same in words.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.model.fronts import Front
from optimizer.report.html.sums import Sum
from optimizer.report.measures import Measures, number

__all__ = ["SumsPicture", "sums_picture"]

WIDTH, HEIGHT = 640, 300
LEFT, RIGHT, TOP, BOTTOM = 66, 34, 20, 52
MOST_TICKS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A mark of an axis: where along it, and what stands there."""

    at: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SumsPicture:
    """The points of the picture in units of its box; ``wish`` is None where nothing is wished for."""

    width: int
    height: int
    left: int
    right: int
    bottom: int
    steps: str
    points: tuple[tuple[float, float], ...]
    now: float
    wish: float | None
    prices: tuple[Tick, ...]
    flows: tuple[Tick, ...]


def sums_picture(front: Front, rows: Sequence[Sum], wanted_m3s: float, measures: Measures) -> SumsPicture:
    """The picture of some sums (one at least), in the order of their prices, up to the budget of the front."""
    dearest = float(max(front.question.budget or 0, rows[-1].price, 1))
    now = 0.0 if front.now is None else front.now.flow_m3s
    prices = _ticks(dearest / 100.0)
    flows = _ticks(measures.flow_of(1.06 * max(wanted_m3s, now, *(row.flow_m3s for row in rows))))

    def across(price: float) -> float:
        return round(LEFT + (WIDTH - LEFT - RIGHT) * price / dearest, 1)

    def down(flow: float) -> float:
        return round(HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * flow / flows[-1], 1)

    points = tuple((across(row.price), down(measures.flow_of(row.flow_m3s))) for row in rows)
    return SumsPicture(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=WIDTH - RIGHT,
        bottom=HEIGHT - BOTTOM,
        steps=_steps(points, across(dearest)),
        points=points,
        now=down(measures.flow_of(now)),
        wish=down(measures.flow_of(wanted_m3s)) if wanted_m3s > 0.0 else None,
        prices=tuple(Tick(at=across(100.0 * tick), text=_text(tick, prices)) for tick in prices if 100.0 * tick <= dearest),
        flows=tuple(Tick(at=down(tick), text=_text(tick, flows)) for tick in flows),
    )


def _text(tick: float, ticks: Sequence[float]) -> str:
    return number(tick, 0 if ticks[1] >= 1.0 else 2)


def _steps(points: Sequence[tuple[float, float]], end: float) -> str:
    """The path of the steps: level from each point to the price of the next."""
    x, y = points[0]
    path = [f"M{x} {y}"]
    for x, y in points[1:]:
        path.append(f"H{x}V{y}")
    return "".join([*path, f"H{end}"])


def _ticks(most: float) -> list[float]:
    """Round numbers from 0 up to the first that is not less than the most.

    >>> _ticks(100.0), _ticks(1.2)
    ([0.0, 20.0, 40.0, 60.0, 80.0, 100.0], [0.0, 0.5, 1.0, 1.5])
    """
    rough = most / MOST_TICKS
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(each * size for each in (1.0, 2.0, 5.0, 10.0) if each * size >= rough * (1.0 - 1e-9))
    return [step * n for n in range(math.ceil(most / step - 1e-9) + 1)]
