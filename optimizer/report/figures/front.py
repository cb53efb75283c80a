"""Figure: what every sum of money buys at most, with the chosen point, its neighbours and the knee."""

from __future__ import annotations

from itertools import pairwise

from optimizer.errors import safe
from optimizer.model.dossiers import Dossier
from optimizer.model.fronts import Front
from optimizer.report.figures import paper
from optimizer.report.figures.picture import Number, Picture
from optimizer.report.figures.sheet import Sheet
from optimizer.report.layout import GLUE, cut
from optimizer.report.measures import Measures, money

SAME_M3S = 1e-9
"""Flows this close are those of one bundle."""


def picture(dossier: Dossier, measures: Measures) -> Picture | None:
    """The figure; None without a front."""
    front = dossier.front
    if front is None or not front.points:
        return None
    chosen = chosen_point(dossier)
    currency = cut(safe(front.currency), 8)
    rows = [
        (Number(p.price, money(p.price)), Number(p.flow_m3s, measures.bare_flow(p.flow_m3s)), _role(front, n, chosen))
        for n, p in enumerate(front.points)
    ]
    return Picture(
        name="front",
        caption="What every sum buys",
        words=_words(front, chosen, measures, currency),
        heads=(currency or "price", measures.flow, ""),
        rows=tuple(rows),
        draw=lambda: _draw(front, chosen, measures, currency),
    )


def chosen_point(dossier: Dossier) -> int | None:
    """The number of the point that is the dossier's best bundle, None when there is none."""
    best = None if dossier.result is None else dossier.result.best
    if best is None or dossier.front is None:
        return None
    alike = (
        n for n, p in enumerate(dossier.front.points) if p.price == best.price and abs(p.flow_m3s - best.flow_m3s) < SAME_M3S
    )
    return next(alike, None)


def _role(front: Front, number: int, chosen: int | None) -> str:
    words = ["chosen"] if number == chosen else []
    words += ["neighbour"] if chosen is not None and abs(number - chosen) == 1 else []
    words += ["knee"] if front.knee is not None and front.knee.point == number else []
    return ", ".join(words)


def _words(front: Front, chosen: int | None, measures: Measures, currency: str) -> str:
    first, last = front.points[0], front.points[-1]
    text = f"Most delivered flow for every sum: {len(front.points)} bundles from {measures.flow_text(first.flow_m3s)} for "
    text += f"{money(first.price, currency)} to {measures.flow_text(last.flow_m3s)} for {money(last.price, currency)}."
    if chosen is not None:
        point = front.points[chosen]
        text += f" Chosen: {measures.flow_text(point.flow_m3s)} for {money(point.price, currency)}."
    if front.knee is not None and front.knee.point < len(front.points):
        point = front.points[front.knee.point]
        text += f" The knee is at {measures.flow_text(point.flow_m3s)} for {money(point.price, currency)}."
    return text


def _draw(front: Front, chosen: int | None, measures: Measures, currency: str) -> Sheet:
    axes = paper.axes()
    prices = [point.price / 100.0 for point in front.points]
    flows = [measures.flow_of(point.flow_m3s) for point in front.points]
    end = max((front.question.budget or 0) / 100.0, prices[-1])
    stairs = [*zip(prices, flows, strict=True), (end, flows[-1])]
    steps = [stairs[0], *(place for one, other in pairwise(stairs) for place in ((other[0], one[1]), other))]
    axes.line([x for x, _ in steps], [y for _, y in steps], paper.PALE, 1.2)
    for price, flow in zip(prices, flows, strict=True):
        axes.mark(price, flow, "o", 3.5, paper.INK, front=2.0)
    for number in () if chosen is None else (chosen - 1, chosen + 1):
        if 0 <= number < len(prices):
            axes.mark(prices[number], flows[number], "o", 9.0, "", paper.BEST.colour)
    now = measures.flow_of(front.now.flow_m3s)
    axes.level(now, *paper.NOW.line)
    axes.words("now", end, now, up=8.0, anchor="end", colour=paper.NOW.colour)
    if front.knee is not None and front.knee.point < len(prices):
        knee = (prices[front.knee.point], flows[front.knee.point])
        axes.mark(*knee, "D", 8.0, "white", paper.NOW.colour, 1.6)
        axes.words("knee", *knee, right=8.0, up=-10.0, colour=paper.NOW.colour)
    if chosen is not None:
        point = (prices[chosen], flows[chosen])
        axes.mark(*point, paper.BEST.mark, 9.0, paper.BEST.colour, front=5.0)
        words = f"chosen: {measures.flow_text(front.points[chosen].flow_m3s)} for {money(front.points[chosen].price)}"
        axes.words(words.replace(GLUE, " "), *point, right=4.0, up=14.0, anchor="end", colour=paper.BEST.colour)
    axes.x_range, axes.y_margin = (-0.05 * end, 1.04 * end), 0.16
    axes.x_name = f"price, {currency}" if currency else "price"
    axes.y_name = f"flow, {measures.flow}"
    return axes.finished()
