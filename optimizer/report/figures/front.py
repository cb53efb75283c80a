"""Figure: what every sum of money buys at most, with the chosen point, its neighbours and the knee."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimizer.errors import safe
from optimizer.model.dossiers import Dossier
from optimizer.model.fronts import Front
from optimizer.report.figures.picture import Number, Picture
from optimizer.report.layout import GLUE, cut
from optimizer.report.measures import Measures, money

if TYPE_CHECKING:
    from matplotlib.figure import Figure

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


def _draw(front: Front, chosen: int | None, measures: Measures, currency: str) -> Figure:
    from optimizer.report.figures import paper

    figure, axes = paper.sheet()
    prices = [point.price / 100.0 for point in front.points]
    flows = [measures.flow_of(point.flow_m3s) for point in front.points]
    end = max((front.question.budget or 0) / 100.0, prices[-1])
    axes.step([*prices, end], [*flows, flows[-1]], where="post", color=paper.PALE, linewidth=1.2)
    axes.plot(prices, flows, "o", color=paper.INK, markersize=3.5)
    for number in () if chosen is None else (chosen - 1, chosen + 1):
        if 0 <= number < len(prices):
            axes.plot(prices[number], flows[number], "o", markersize=9, markerfacecolor="none", markeredgecolor=paper.BEST.colour)
    low = -0.05 * end
    now = measures.flow_of(front.now.flow_m3s)
    axes.axhline(now, **paper.NOW.line)
    axes.annotate("now", (end, now), xytext=(0, 4), textcoords="offset points", ha="right", color=paper.NOW.colour)
    if front.knee is not None and front.knee.point < len(prices):
        knee = (prices[front.knee.point], flows[front.knee.point])
        axes.plot(*knee, "D", markersize=9, markerfacecolor="white", markeredgecolor=paper.NOW.colour, markeredgewidth=1.6)
        axes.annotate("knee", knee, xytext=(8, -14), textcoords="offset points", color=paper.NOW.colour)
    if chosen is not None:
        point = (prices[chosen], flows[chosen])
        axes.plot(*point, paper.BEST.mark, markersize=9, color=paper.BEST.colour, zorder=5)
        words = f"chosen: {measures.flow_text(front.points[chosen].flow_m3s)} for {money(front.points[chosen].price)}"
        axes.annotate(
            words.replace(GLUE, " "), point, xytext=(4, 10), textcoords="offset points", ha="right", color=paper.BEST.colour
        )
    axes.set_xlim(low, 1.04 * end)
    axes.margins(y=0.16)
    axes.set_xlabel(f"price, {currency}" if currency else "price")
    axes.set_ylabel(f"flow, {measures.flow}")
    return figure
