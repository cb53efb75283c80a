"""The money-flow front: for every sum of money the most that it buys, each point proved, and the knee among them.

Points come from the dearest to the cheapest: the best for a budget, then the best for one minor unit less than that
one costs, and so
on until nothing meets the limits. No point is left out, because between the price of a point and the budget it was asked for
no bundle delivers more (to the resolution of flows), and each point is the cheapest that delivers as much.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from optimizer.search.best import Found, Seeker

MOST_POINTS = 5000


@dataclass(frozen=True, slots=True)
class FrontPoint:
    """One point of the front: what it costs (minor units), what it delivers, and the bundle."""

    price: int
    flow_m3s: float
    found: Found
    proved: bool


def money_flow_front(seeker: Seeker, budget: int, each: Callable[[FrontPoint], None] | None = None) -> list[FrontPoint]:
    """All points of the front up to a budget, cheapest first. ``each`` is called with every point as it is found.

    A search that was stopped gives a point that is not ``proved``; the points after it are still the best for their money.
    """
    points: list[FrontPoint] = []
    known: list[Found] = []
    for _ in range(MOST_POINTS):
        start = max((found.flow_m3s for found in known if found.bundle.price <= budget), default=0.0)
        outcome = seeker.with_budget(budget).most_flow(start)
        if outcome.found is None:
            break
        found = outcome.found
        known.append(found)
        point = FrontPoint(found.bundle.price, found.flow_m3s, found, outcome.status == "proved")
        points.append(point)
        if each is not None:
            each(point)
        if found.bundle.price <= 0:
            break
        budget = found.bundle.price - 1
    return points[::-1]


def knee(points: Sequence[FrontPoint]) -> FrontPoint | None:
    """The point furthest above the straight line from the first point to the last, both axes scaled to the front.

    Before it money buys flow faster than on the average of the front, after it more slowly. None for fewer than three points.
    """
    if len(points) < 3:
        return None
    first, last = points[0], points[-1]
    money, flow = last.price - first.price, last.flow_m3s - first.flow_m3s
    if money <= 0 or flow <= 0.0:
        return None
    return max(points, key=lambda p: (p.flow_m3s - first.flow_m3s) / flow - (p.price - first.price) / money)


def steps(points: Sequence[FrontPoint]) -> Iterator[tuple[FrontPoint, float]]:
    """Each point with what its extra money buys over the point before it, in m3/s per minor unit (the first: 0).

    >>> list(steps([]))
    []
    """
    for before, point in zip([None, *points], points, strict=False):
        gained = 0.0 if before is None else (point.flow_m3s - before.flow_m3s) / max(point.price - before.price, 1)
        yield point, gained
