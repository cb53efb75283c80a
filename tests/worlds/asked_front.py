"""The money-flow front by asking the single search again and again from the top: what the pass is held against."""

from optimizer.search.best import Seeker
from optimizer.search.front import FrontPoint, asked_alone


def asked_front(seeker: Seeker, budget: int) -> list[FrontPoint]:
    """All points up to a budget, cheapest first: the best for it, then the best for one minor unit less than that costs, and so
    on until nothing meets the limits."""
    points: list[FrontPoint] = []
    while True:
        outcome = asked_alone(seeker.with_budget(budget))
        if outcome.found is None:
            return points[::-1]
        price = outcome.found.bundle.price
        points.append(FrontPoint(price, outcome.found.flow_m3s, outcome.found, outcome.status == "proved"))
        if price <= 0:
            return points[::-1]
        budget = price - 1
