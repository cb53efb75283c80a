"""A money-flow front as plain text: what to make of it, then every point with what changes against the one before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from optimizer.errors import safe
from optimizer.model.fronts import Front, FrontPoint
from optimizer.model.results import Change
from optimizer.report.fitted_lines import by_fills_sentences
from optimizer.report.layout import GLUE, PLAIN, REST, Block, Screen, columns, cut, finished, paragraph
from optimizer.report.measures import Measures, count, money, system, turnover
from optimizer.report.plan_lines import LEAST_GAIN_M3S, LEAST_WORDS, catalog_line, changed, opening
from optimizer.report.proof_words import not_among

__all__ = ["headline", "render"]

PER_MONEY = 1000
"""The knee is explained by what so many minor units buy."""

WIDTHS = (2, 9, 6, 8, 6)
"""Of mark, price, flow, turnover and gain; what changes takes the rest of a line."""


def headline(front: Front, units: str = "metric") -> str:
    """Return what to make of the front, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(_said(front, system(units)))])


def render(front: Front, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole front as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    asked = f"what each sum up to {money(front.question.budget or 0, safe(front.currency))} buys"
    lines = opening(front.rig, asked, _said(front, measures))
    if front.points:
        lines += ["", *_table(front, measures), "", *_legend(front)]
    return finished([*lines, *catalog_line(front.catalog)], screen)


def _said(front: Front, measures: Measures) -> Iterator[str]:
    yield from _sentences(front, measures)
    yield from by_fills_sentences(front.by_fills, measures)


def _sentences(front: Front, measures: Measures) -> Iterator[str]:
    if not front.points:
        if front.status == "infeasible":
            yield f"No bundle meets all limits ({count(front.proof.combinations)} combinations, search complete)."
            yield 'What cannot hold together is said by "fullbore best".'
        else:
            yield "Stopped before any bundle was found that meets all limits."
        return
    first, last = front.points[0], front.points[-1]
    currency = safe(front.currency)
    if len(front.points) == 1:
        yield f"Only one bundle is worth its money: {measures.flow_text(first.flow_m3s)} for {money(first.price, currency)}."
    else:
        flows = f"{measures.bare_flow(first.flow_m3s)} to {measures.flow_text(last.flow_m3s)}"
        prices = f"{money(first.price)} to {money(last.price, currency)}"
        yield f"{len(front.points)} bundles are worth their money, from {prices}, and deliver {flows}."
    yield _knee(front, measures)
    yield _proof(front)


def _knee(front: Front, measures: Measures) -> str:
    if front.knee is None:
        return "With fewer than three of them there is no knee." if front.complete else "No knee is named: points are missing."
    point, currency = front.points[front.knee.point], safe(front.currency)
    before, after = (measures.flow_text(rate * PER_MONEY) for rate in (front.knee.before_m3s, front.knee.after_m3s))
    return (
        f"Knee: {measures.flow_text(point.flow_m3s)} for {money(point.price, currency)}. On the way to it every "
        f"{money(PER_MONEY, currency)} buys {before}, beyond it {after}."
    )


def _proof(front: Front) -> str:
    unproved = sum(not point.proved for point in front.points)
    if front.status == "proved":
        said = f"Proved: none of {count(front.proof.combinations)} combinations gives more for its price than these."
        return said + not_among(front.proof)
    gaps = [f"{unproved} of them {'is' if unproved == 1 else 'are'} not proved (marked ?)"] if unproved else []
    gaps += [] if front.complete else ["cheaper ones are missing"]
    return f"Stopped: {'; '.join(gaps)}."


def _table(front: Front, measures: Measures) -> list[Block]:
    lines = _line(("", "price", "flow", "turnover", "more", "what changes against the line before"))
    lines += _line(("", cut(safe(front.currency), 8), measures.flow, "per hour", measures.flow, ""))
    for number, point in _shown(front):
        lines += _line(_cells(front, number, point, measures))
    return lines


def _shown(front: Front) -> Iterator[tuple[int, FrontPoint]]:
    """The points worth a line, with their places; each told against the last one with a line. First, knee and last always are."""
    kept = {0, len(front.points) - 1} | (set() if front.knee is None else {front.knee.point})
    gained, changes = 0.0, dict[str, Change]()
    for number, point in enumerate(front.points):
        gained += point.gained_m3s
        changes |= {change.place: change for change in point.changes}
        if number in kept or gained >= LEAST_GAIN_M3S:
            yield number, replace(point, gained_m3s=gained, changes=tuple(changes.values()))
            gained, changes = 0.0, {}


def _cells(front: Front, number: int, point: FrontPoint, measures: Measures) -> tuple[str, ...]:
    mark = "*" if front.knee is not None and front.knee.point == number else ""
    return (
        mark + ("" if point.proved else "?"),
        money(point.price),
        measures.bare_flow(point.flow_m3s),
        turnover(point.turnover_per_hour),
        measures.bare_flow(point.gained_m3s),
        changed(point.changes) or ("other pieces in the joints" if number else "nothing"),
    )


def _line(cells: tuple[str, ...]) -> list[Block]:
    placed = [(cell.rjust(width), width) for cell, width in zip(cells, WIDTHS, strict=False)]
    return columns([*((_kept(text), width) for text, width in placed), (cells[-1], REST)])


def _kept(text: str) -> str:
    """Spaces in front that are not taken away where lines are broken."""
    return GLUE * (len(text) - len(text.lstrip())) + text.lstrip()


def _legend(front: Front) -> list[Block]:
    lines = ["The first line is told against the loop as it is now; each gives the most water for its price."]
    folded = len(front.points) - sum(1 for _ in _shown(front))
    if folded:
        left_out = f"{count(folded)} of {count(len(front.points))} lines"
        lines.append(f"Left out: {left_out} that bring {LEAST_WORDS} over the line before; --json and --csv have all.")
    if front.knee is not None:
        lines.append("* the knee: the line furthest above the straight line from the first to the last.")
    return [line for text in lines for line in paragraph(text, rest="  ")]
