"""The verdict on an upgrade as plain text: was it the parts or the cleaning, how sure, and was it as predicted."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.measuring import FactorLine, FlowBand
from optimizer.model.part_names import named
from optimizer.model.verified import Verified
from optimizer.report.layout import GLUE, PLAIN, Block, Screen, aligned, bullets, finished, glued, paragraph
from optimizer.report.measured_lines import assumed, band_text, fill_table, fill_warnings, upper
from optimizer.report.measures import Measures, number, percent, probability_text, system
from optimizer.report.plan_lines import opening

__all__ = ["blocks", "flows", "headline", "render", "sentences"]

MOST_FACTORS = 5
LEAST_LEARNED = 0.1
"""Factors of which less of the variance was taken away are not listed."""


def headline(told: Verified, units: str = "metric") -> str:
    """Return the verdict alone, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(sentences(told, system(units)))])


def render(told: Verified, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole answer as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    question = "was it the upgrade or the cleaning?"
    return finished([*opening(told.before, question, sentences(told, measures)), *blocks(told, measures)], screen)


def blocks(told: Verified, measures: Measures) -> list[Block]:
    """Return all that follows the sentences of the verdict, in units of `measures`."""
    lines = _what_was_done(told, measures)
    lines += ["", *_table(told, measures)]
    lines += ["", "Before", *fill_table(told.before_fills, measures), *fill_warnings(told.before_fills, measures)]
    lines += ["", "After", *fill_table(told.after_fills, measures), *fill_warnings(told.after_fills, measures)]
    return [*lines, *_learned(told), *assumed(told.notes, measures)]


def sentences(told: Verified, measures: Measures) -> Iterator[str]:
    """Yield the verdict sentence by sentence, in units of `measures`."""
    verdict = told.verdict
    yield verdict.advice
    grew = f"{measures.bare_flow(told.before_flow.p50_m3s)} to {measures.flow_text(told.after_flow.p50_m3s)}"
    done = [n for n, places in enumerate(_places(told)) if places or (n == 0 and not verdict.matched)]
    steps = ", ".join(f"{_names(told)[n]} {glued(f'{_step(told, n, measures)} {measures.flow}')}" for n in done)
    yield f"Delivered flow went from {grew}{': ' if steps else ''}{steps}{_left_over(told, measures)}."
    if told.parts:
        works = f"That the new parts deliver more than the old ones has a probability of {probability_text(verdict.worked)}"
        if verdict.matched and not told.left_out:
            yield f"{works}; the loop was as clean before as after."
        else:
            most = probability_text(verdict.probability)
            yield f"{works}, that they brought more than cleaning and leaving out did one of {most}."
    if told.parts or told.left_out:
        yield f"{_as_predicted(told)}: the fills before alone predicted {band_text(told.predicted, measures)}."


# -- the three steps -----------------------------------------------------------------------------------------------

IN_WHAT_ORDER = (
    "In this order: the old loop is cleaned as far as it is clean now, and what was left out altogether; then that is left out; "
    "then the parts come in. Each step starts where the one before it ends, so they add up to the whole."
)


def _names(told: Verified) -> tuple[str, str, str]:
    return ("dirt" if told.verdict.from_cleaning_m3s.p50_m3s < 0.0 else "cleaning", "leaving out", "parts")


def _places(told: Verified) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    cleaned = tuple(f"{name} (the dirt it held)" if name in told.left_out else name for name in told.cleaned)
    return cleaned, told.left_out, told.parts


def _step(told: Verified, number_of: int, measures: Measures) -> str:
    """A step between two flows as they are shown, so that what is shown adds up too; without the unit."""
    verdict = told.verdict
    flows = [verdict.before, verdict.cleaned, verdict.left, verdict.after]
    here, there = (round(measures.flow_of(flows[n].p50_m3s)) for n in (number_of, number_of + 1))
    return f"{'-' if there < here else '+'}{number(abs(there - here), 0)}"


def _left_over(told: Verified, measures: Measures) -> str:
    """What the three steps do not explain of the difference between what the fills before and those after say by themselves."""
    verdict, flow = told.verdict, measures.flow_of
    whole = round(flow(told.after_flow.p50_m3s)) - round(flow(told.before_flow.p50_m3s))
    rest = whole - (round(flow(verdict.after.p50_m3s)) - round(flow(verdict.before.p50_m3s)))
    if not rest:
        return ""
    return f"; {'-' if rest < 0 else '+'}{glued(f'{number(abs(rest), 0)} {measures.flow}')} nothing done explains"


def _what_was_done(told: Verified, measures: Measures) -> list[Block]:
    """One line for each of the three, from what the two files say."""
    lines = []
    for n, (name, places) in enumerate(zip(_names(told), _places(told), strict=True)):
        what = safe(", ".join(places)) if places else _nothing(told, n)
        lines.append(f"{upper(name)} {glued(f'{_step(told, n, measures)} {measures.flow}')}: {what}.")
    return ["", "What was done", *bullets(lines), *paragraph(IN_WHAT_ORDER, "  ", "  ")]


def _nothing(told: Verified, number_of: int) -> str:
    if number_of == 0 and not told.verdict.matched:
        return "more than before" if told.verdict.from_cleaning_m3s.p50_m3s < 0.0 else "as the fills say"
    return ("as clean before as after", "nothing was", "none was bought, swapped or adjusted")[number_of]


def _as_predicted(told: Verified) -> str:
    after = told.after_flow
    if after.p10_m3s > told.predicted.p90_m3s:
        return "More than predicted"
    if after.p90_m3s < told.predicted.p10_m3s:
        return "Less than predicted"
    return "As predicted"


def flows(told: Verified) -> list[tuple[str, FlowBand]]:
    """Return the flows that the verdict is about, each with its name: those of the steps, then what was to be expected."""
    verdict = told.verdict
    return [
        ("before", told.before_flow),
        *([] if verdict.matched else [("old parts, as clean as after", verdict.cleaned)]),
        *([("without what was left out", verdict.left)] if told.left_out else []),
        ("after", told.after_flow),
        ("after, predicted from before", told.predicted),
        ("after, by its file alone", told.expected),
    ]


def _table(told: Verified, measures: Measures) -> list[Block]:
    verdict = told.verdict
    gains = (verdict.from_cleaning_m3s, verdict.from_leaving_out_m3s, verdict.from_parts_m3s)
    heads = [("", "P10", "P50", "P90"), ("", *[measures.flow] * 3)]
    cells = [(name, *(measures.bare_flow(flow) for flow in (b.p10_m3s, b.p50_m3s, b.p90_m3s))) for name, b in flows(told)]
    owed = [
        (f"owed to {name}", measures.bare_flow(gain.p10_m3s), _step(told, n, measures), measures.bare_flow(gain.p90_m3s))
        for n, (name, gain) in enumerate(zip(_names(told), gains, strict=True))
    ]
    return aligned([*heads, *cells[:-2], *owed, *cells[-2:]], heads=2)


def _learned(told: Verified) -> list[Block]:
    lines = bullets(_factor(line) for line in told.factors[:MOST_FACTORS] if line.information >= LEAST_LEARNED)
    return ["", "What all fills together say of the parts", *lines] if lines else []


def _factor(line: FactorLine) -> str:
    band = f"{number(line.p50, 2)} times what was taken ({number(line.p10, 2)} to {number(line.p90, 2)})"
    part = safe(" - ".join(named(line.part)))
    return f"{line.unknown} of {part}: {band},{GLUE}{percent(line.information)} of the doubt gone"
