"""The money-flow front: for every sum of money the most that it buys, each point proved, and the knee among them.

Points come from the dearest to the cheapest: the best for a budget, then the best for one minor unit less than that one costs,
and so on until nothing meets the limits. No point is left out, because between the price of a point and the budget it was asked
for no bundle delivers more (to the resolution of flows), and each point is the cheapest that delivers as much. All of them are
read off one pass over the bundles that a front could be made of (`front_pass`); where a part of the pass is too crowded a search
of its own is put instead.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from optimizer.search.best import Found, Outcome, Seeker, by_itself
from optimizer.search.front_pass import FrontPass, Unsettled, covers

MOST_POINTS = 5000

Halted = Callable[[], bool]
"""Says whether whoever asked wants no more answers."""


@dataclass(frozen=True, slots=True)
class FrontPoint:
    """One point of the front: what it costs (minor units), what it delivers, and the bundle."""

    price: int
    flow_m3s: float
    found: Found
    proved: bool


def money_flow_front(
    seeker: Seeker, budget: int, each: Callable[[FrontPoint], None] | None = None, halted: Halted = bool
) -> list[FrontPoint]:
    """All points of the front up to a budget, cheapest first. ``each`` is called with every point as it is found.

    A search that was stopped gives a point that is not ``proved``; the points after it are still the best for their money.
    When ``halted`` says so the front ends where it is; a point that was cut short is left out unless it is the only one.
    """
    points: list[FrontPoint] = []
    whole = FrontPass(seeker, budget) if covers(seeker.problem) else None
    for _ in range(MOST_POINTS):
        outcome = _read_off(whole, seeker, budget)
        cut_short = outcome.status != "proved" and halted()
        if outcome.found is not None and not (cut_short and points):
            point = FrontPoint(outcome.found.bundle.price, outcome.found.flow_m3s, outcome.found, outcome.status == "proved")
            points.append(point)
            if each is not None:
                each(point)
        if halted() or outcome.found is None or outcome.found.bundle.price <= 0:
            break
        budget = outcome.found.bundle.price - 1
    return points[::-1]


def _read_off(whole: FrontPass | None, seeker: Seeker, budget: int) -> Outcome:
    """The best bundle for a budget by the pass, or by a search of its own where there is none or it cannot tell."""
    tally = seeker.tally
    if whole is None:
        return asked_alone(seeker.with_budget(budget))
    try:
        found = whole.best(budget)
    except Unsettled as unsettled:
        known = unsettled
    except KeyboardInterrupt:
        tally.stopped = tally.interrupted = True
        found = whole.best_known(budget)
        return Outcome(found, "stopped", 0.0 if found is None else found.flow_m3s, tally)
    else:
        return Outcome(found, "stopped" if seeker.unsure else "proved", 0.0 if found is None else found.flow_m3s, tally)
    return asked_alone(seeker.with_budget(budget), roof=known.roof, held=known.held)


def asked_alone(seeker: Seeker, start_m3s: float = 0.0, roof: Found | None = None, held: Found | None = None) -> Outcome:
    """The best bundle, `by_itself`. What is known already: see `Seeker.most_flow`."""
    return by_itself(seeker, lambda: seeker.most_flow(start_m3s, roof, held))


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
