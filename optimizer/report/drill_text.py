"""An answer about the holes of a spray bar as plain text: the verdict, the choices, then what to mind."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from optimizer.errors import safe
from optimizer.model.drilling import Drilled, DrillResult, JetWish
from optimizer.report.fitted_lines import by_fills_sentences
from optimizer.report.layout import GLUE, PLAIN, Block, Screen, aligned, apart, bullets, finished, glued, paragraph
from optimizer.report.measures import Measures, count, gain, percent, system

__all__ = ["headline", "render"]

ORDER = "; of those within 1 % of the most flow the one with the fewest holes comes first, the others follow by their flow."
"""Every hole is work, and none can be undone."""


def headline(result: DrillResult, units: str = "metric") -> str:
    """Return the verdict alone, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(_sentences(result, system(units)))])


def render(result: DrillResult, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole answer as text. `units` is "metric" or "us"; raises ValueError for others."""
    measures = system(units)
    asked = f"{safe(result.rig)}: holes of {safe(result.place)} for {' and '.join(_wishes(result.wish, measures))}"
    verdict = chain(*(paragraph(each, rest="  ") for each in (asked, *_sentences(result, measures))))
    sections = (
        list(verdict),
        _table(result, measures),
        _breaks(result, measures),
        ["Mind", *bullets(safe(measures.words(each)) for each in result.cautions)] if result.cautions else [],
        ["What the figures rest on", *bullets(safe(measures.words(each)) for each in result.basis)] if result.basis else [],
    )
    return finished(apart(sections), screen)


def _wishes(wish: JetWish, measures: Measures) -> Iterator[str]:
    if wish.jet_ms is not None:
        yield f"jets of at least {_speed(wish.jet_ms, measures)}"
    if wish.jet_most_ms is not None:
        yield f"jets of at most {_speed(wish.jet_most_ms, measures)}"
    if wish.evenness is not None:
        yield f"an evenness of at least {percent(wish.evenness)}"


def _sentences(result: DrillResult, measures: Measures) -> Iterator[str]:
    """The verdict first, then what else could be done."""
    bar = "a new bar of the same tube" if result.new_bar else "the bar"
    tried = f"{glued(count(result.tried))} pairs of count and drill that fit"
    if result.best:
        best = result.best[0]
        more = gain(best.flow_m3s, result.cleaned.flow_m3s)
        flow = f"{measures.flow_text(best.flow_m3s)} instead of {measures.bare_flow(result.cleaned.flow_m3s)}"
        yield f"Drill {bar} to {_holes(best, measures)}: {flow}{f' ({more})' if more else ''}, {_jets(best, measures)}."
        yield f"{count(result.met)} of {tried} would do" + (ORDER if result.met > 1 else ".")
        if result.same_holes is not None and result.same_holes.holes != best.holes:
            yield f"Without a new hole: {_holes(result.same_holes, measures)}, {_flow_and_jets(result.same_holes, measures)}."
    elif result.cleaned_meets:
        yield f"Leave the bar as it is: {_flow_and_jets(result.cleaned, measures)}. None of {tried} would still do."
    else:
        yield f"None of {tried} on {bar} meets that." if result.tried else f"No drill of this set fits on {bar}."
        if result.closest is not None:
            yield f"Closest: {_holes(result.closest, measures)}, {_flow_and_jets(result.closest, measures)}."
        if result.new_bar_best is not None:
            better = result.new_bar_best
            yield f"A new bar of the same tube could: {_holes(better, measures)}, {_flow_and_jets(better, measures)} (--new-bar)."
    yield from _start(result, measures)
    yield from by_fills_sentences(result.by_fills, measures)


def _start(result: DrillResult, measures: Measures) -> Iterator[str]:
    """What all figures start from, where the loop is dirty now."""
    if result.now != result.cleaned:
        now, then = measures.bare_flow(result.now.flow_m3s), measures.flow_text(result.cleaned.flow_m3s)
        yield f"All this is of the loop after everything has been cleaned: with the bar as it is {then}, {now} now."


def _holes(drilled: Drilled, measures: Measures) -> str:
    size = safe(drilled.drill) or f"{measures.bare_bore(drilled.hole_m)} {measures.bore}"
    return glued(f"{drilled.holes} x {size}")


def _flow_and_jets(drilled: Drilled, measures: Measures) -> str:
    return f"{measures.flow_text(drilled.flow_m3s)}, {_jets(drilled, measures)}"


def _jets(drilled: Drilled, measures: Measures) -> str:
    slowest, fastest = measures.bare_speed(drilled.slowest_ms), _speed(drilled.fastest_ms, measures)
    return f"jets of {slowest} to {fastest}, evenness {percent(drilled.evenness)}"


def _speed(speed_ms: float, measures: Measures) -> str:
    return f"{measures.bare_speed(speed_ms)}{GLUE}{measures.speed}"


def _table(result: DrillResult, measures: Measures) -> list[Block]:
    heads = [
        ("", "holes", "drill", "delivered", "slowest", "fastest", "evenness", "apart"),
        ("", "", "", measures.flow, measures.speed, measures.speed, "least/most", measures.bore),
    ]
    rows = [_row(name, drilled, measures) for name, drilled in _shown(result)]
    return aligned([*heads, *rows])


def _shown(result: DrillResult) -> Iterator[tuple[str, Drilled]]:
    yield "now", result.now
    if result.now != result.cleaned:
        yield "cleaned", result.cleaned
    yield from ((str(place), drilled) for place, drilled in enumerate(result.best, start=1))
    if result.closest is not None:
        yield "closest", result.closest
    if result.new_bar_best is not None:
        yield "new bar", result.new_bar_best


def _row(name: str, drilled: Drilled, measures: Measures) -> tuple[str, ...]:
    return (
        name,
        count(drilled.holes),
        safe(drilled.drill) or measures.bare_bore(drilled.hole_m),
        measures.bare_flow(drilled.flow_m3s),
        measures.bare_speed(drilled.slowest_ms),
        measures.bare_speed(drilled.fastest_ms),
        percent(drilled.evenness),
        measures.bare_bore(drilled.gap_m),
    )


def _breaks(result: DrillResult, measures: Measures) -> list[Block]:
    """The limits of the rig that are not met, with the lines of the table that break them."""
    broken: dict[str, list[str]] = {}
    shown = list(_shown(result))
    for name, drilled in shown:
        for words in dict.fromkeys(measures.words(each.words) for each in drilled.breaks):
            broken.setdefault(words, []).append(name)
    if not broken:
        return []
    lines = [f"{words} ({'all lines' if len(names) == len(shown) else ', '.join(names)})" for words, names in broken.items()]
    return ["Limits not met, with nothing throttled", *bullets(map(safe, lines))]
