"""The best truly different bundles as plain text: a table, then what each has that the best has not."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.alternatives import Alternative, Alternatives
from optimizer.report.fitted_lines import by_fills_sentences
from optimizer.report.layout import PLAIN, Block, Screen, aligned, cut, finished, paragraph
from optimizer.report.measures import Measures, count, money, number, system, turnover, watts
from optimizer.report.plan_lines import LEAST_GAIN_M3S, catalog_line, changed, opening, question_words
from optimizer.report.proof_words import not_among

__all__ = ["headline", "render"]


def headline(told: Alternatives, units: str = "metric") -> str:
    """Return the list in short, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(_said(told, system(units)))])


def render(told: Alternatives, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole list as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    lines = opening(told.rig, f"{question_words(told.question, measures)}, {told.asked} different bundles", _said(told, measures))
    if told.alternatives:
        lines += ["", *_table(told, measures), ""]
        shown = _shown(told)
        for each in shown:
            lines += paragraph(_words(each), "  ", "    ")
        if len(shown) < len(told.alternatives):
            folded = f"{len(told.alternatives) - len(shown)} of {len(told.alternatives)} lines"
            why = "within 1 l/h (0.3 gph) of the line before and no cheaper; --json has all."
            lines += ["", *paragraph(f"Left out: {folded} {why}", rest="  ")]
        lines += ["", *paragraph(_different(), rest="  ")]
    return finished([*lines, *catalog_line(told.catalog)], screen)


def _said(told: Alternatives, measures: Measures) -> Iterator[str]:
    yield from _sentences(told, measures)
    yield from by_fills_sentences(told.by_fills, measures)


def _sentences(told: Alternatives, measures: Measures) -> Iterator[str]:
    listed = told.alternatives
    if not listed:
        if told.status == "infeasible":
            yield f"No bundle meets all limits ({count(told.proof.combinations)} combinations, search complete)."
        else:
            yield "Stopped before any bundle was found that meets all limits."
        return
    best, last = listed[0].row, listed[-1].row
    yield f"Best: {measures.flow_text(best.flow_m3s)} for {money(best.price, safe(told.currency))}."
    if len(listed) > 1:
        yield f"The last of {len(listed)} delivers {measures.flow_text(listed[-1].less_m3s)} less, for {money(last.price)}."
    if told.status != "proved":
        yield "Stopped before it was proved: better ones may be missing."
    elif len(listed) < told.asked:
        others = f"Proved: there are no others than these {len(listed)}." if len(listed) > 1 else "Proved: there is no other."
        yield others + not_among(told.proof)
    else:
        proved = f"Proved: of {count(told.proof.combinations)} combinations none that is truly different does better."
        yield proved + not_among(told.proof)


def _shown(told: Alternatives) -> list[Alternative]:
    """The bundles worth a line: what delivers next to the same as the one before and costs no less is left out."""
    shown: list[Alternative] = []
    for each in told.alternatives:
        last = shown[-1].row if shown else None
        if last is None or each.row.price < last.price or last.flow_m3s - each.row.flow_m3s >= LEAST_GAIN_M3S:
            shown.append(each)
    return shown


def _table(told: Alternatives, measures: Measures) -> list[Block]:
    heads = [
        ("", "delivered", "less", "turnover", "price", "noise", "power"),
        ("", measures.flow, measures.flow, "per hour", cut(safe(told.currency), 8), "dB(A)", "W"),
    ]
    return aligned([*heads, *(_cells(each, measures) for each in _shown(told))])


def _cells(each: Alternative, measures: Measures) -> tuple[str, ...]:
    return (
        safe(each.row.name),
        measures.bare_flow(each.row.flow_m3s),
        measures.bare_flow(each.less_m3s),
        turnover(each.row.turnover_per_hour),
        money(each.row.price),
        number(each.row.noise_dba, 1),
        watts(each.row.power_w),
    )


def _words(each: Alternative) -> str:
    if each.differs:
        return f"{safe(each.row.name)}, otherwise than the best: {changed(each.differs)}."
    return f"{safe(each.row.name)}: {changed(each.changes) or 'leave it as it is'}."


def _different() -> str:
    return (
        "Different: a line rules out every bundle that makes all its changes, whatever else that one changes. The same change is "
        "the same part, or one with the same ends that moves the flow by less than 0.1 l/h (0.03 gph); of media, to take out and "
        "put in at least as much. Adapters, clamps, packs and cleaning are no changes."
    )
