"""A buying order as plain text: step by step what to buy, what it costs, what flows then, and what will be thrown away."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from optimizer.errors import safe
from optimizer.model.orders import BudgetStage, BuyingOrder, OrderStep
from optimizer.model.results import BillLine, Broken, Change
from optimizer.report.fitted_lines import by_fills_sentences
from optimizer.report.layout import PLAIN, Block, Screen, bullets, finished, paragraph
from optimizer.report.measures import Measures, money, system, turnover
from optimizer.report.plan_lines import catalog_line, changed, opening, quantity_text, question_words
from optimizer.report.proof_words import held

__all__ = ["headline", "render"]

ITEM = "      "

CLEAN_ALREADY = "The rig file calls nothing dirty, so the steps start from the loop as it is"


def headline(told: BuyingOrder, units: str = "metric") -> str:
    """Return the order in short, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(_said(told, system(units)))])


def render(told: BuyingOrder, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole order as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    lines = opening(told.rig, f"in which order to buy ({question_words(told.question, measures)})", _said(told, measures))
    if told.steps:
        lines += ["", *paragraph(_first(told, measures), "  ", "    ")]
    for number, step in enumerate(told.steps, 1):
        lines += _step(told, number, step, measures)
    warnings = list(_warnings(told, measures))
    lines += ["", "Mind", *bullets(warnings)] if warnings else []
    return finished([*lines, *catalog_line(told.catalog)], screen)


def _said(told: BuyingOrder, measures: Measures) -> Iterator[str]:
    yield from _sentences(told, measures)
    yield from by_fills_sentences(told.by_fills, measures)


def _sentences(told: BuyingOrder, measures: Measures) -> Iterator[str]:
    if told.best is None:
        yield "No bundle meets all limits." if told.status == "infeasible" else "Stopped before any bundle was found."
        return
    currency = safe(told.currency)
    flow, price = measures.flow_text(told.best.flow_m3s), money(told.best.price, currency)
    if not told.steps and told.cleaned is not None:
        yield f"Best: {flow}, nothing is bought or changed" + (f" but: {changed(told.first)}." if told.first else ".")
        return
    if told.cleaned is None:
        yield f"Best: {flow} for {price}. Stopped before there was an order to buy it in."
        return
    purchases = "1 purchase" if len(told.steps) == 1 else f"{len(told.steps)} purchases"
    yield f"Best: {flow} for {price}, in {purchases}."
    yield from _of_interval(told, measures)
    if told.thrown:
        thrown = money(told.thrown, currency)
        yield f"In this order {thrown} more goes into pieces that are thrown away later; bought at once they are spared."
    if told.parted:
        yield (
            f"In these steps suppliers ask for {money(told.parted, currency)} more than for all at once, in postage and in "
            "pieces that bring an order to its sum; the price of each step holds it."
        )
    if told.search != "proved":
        yield "Stopped before the bundle was proved best."
    elif told.order == "interrupted":
        yield "Stopped before every order was compared: this one takes the greatest gain for its price first."
    elif told.order != "proved":
        yield "There are too many purchases to compare every order: this one takes the greatest gain for its price first."
    else:
        yield "Proved: no other order misses less water while the money is put aside at a steady rate."
    if told.stages == "stopped" and len(told.steps) > 1 and told.search == "proved":
        yield "What a smaller budget would have bought instead was not looked at for every step, since the search was stopped."


def _of_interval(told: BuyingOrder, measures: Measures) -> Iterator[str]:
    """By which day the bundle was chosen, and that the order goes by another."""
    asked = told.question
    if not asked.days:
        return
    flow = measures.flow_text(told.judged_m3s)
    when = f"on average over {asked.days:g} days" if asked.by == "mean" else f"on day {asked.days:g}"
    if told.by_clean_day:
        yield f"Chosen by the clean day, as always with branches; {when} it has {flow}."
    else:
        yield f"Chosen by its {flow} {when}."
    yield (
        "All flows here, and the order, are those of the clean day: the loops between two purchases are not followed over the "
        "days, nor is it looked at what a smaller sum would buy by the last."
    )


def _first(told: BuyingOrder, measures: Measures) -> str:
    """What is done before anything is bought, what flows then and now, and what holds it back."""
    done = [_cleaning(told.cleaning)] if told.cleaning else []
    if told.first:
        done.append(f"adjust what costs nothing ({'; '.join(map(_done, told.first))})")
    said = f"First {' and '.join(done)}" if done else CLEAN_ALREADY
    flows = measures.flow_text(told.cleaned_m3s)
    now = f" instead of {measures.bare_flow(told.now.flow_m3s)}" if done and told.now is not None else ""
    relied = " All steps rely on it." if done else ""
    if told.cleaned is None or not told.cleaned.held_by:
        return f"{said}: {flows}{now}.{relied}"
    return f"{said}: {flows}{now}. A throttle holds it there {held(told.cleaned, measures)}{relied}"


def _cleaning(changes: Iterable[Change]) -> str:
    return f"clean {', '.join(safe(change.place) for change in changes)}, which costs nothing"


def _done(change: Change) -> str:
    return f"{safe(change.place)}: {safe(change.text)}"


def _step(told: BuyingOrder, number: int, step: OrderStep, measures: Measures) -> list[Block]:
    currency = safe(told.currency)
    lines = paragraph(f"{number}. {changed(step.changes)}", "  ", "     ")
    bought = [f"{quantity_text(line, measures)} x {safe(line.name)}" for line in step.buys if not _is_postage(line)]
    if bought:
        lines += paragraph(f"buy {', '.join(bought)}", ITEM, ITEM + "  ")
    sent = [f"{money(line.price, currency) if line.price else 'no'} {safe(line.name)}" for line in step.buys if _is_postage(line)]
    if sent:
        lines += paragraph(f"ordered by itself: {', '.join(sent)}", ITEM, ITEM + "  ")
    if step.extras:
        extra = f"{_pieces(step)} ({money(step.extras_price, currency)}, thrown away later)"
        lines += paragraph(f"for now only: {extra}", ITEM, ITEM + "  ")
    if step.waits:
        lines += paragraph(f"waits until it fits and helps: {', '.join(map(safe, step.waits))}", ITEM, ITEM + "  ")
    paid = f"{money(step.price, currency)}, {money(step.paid)} in all" if step.price else "costs nothing"
    flow = f"{measures.flow_text(step.flow_m3s)}, {turnover(step.turnover_per_hour)} per hour"
    return ["", *lines, *paragraph(f"{paid}; then {flow}", ITEM, ITEM + "  ")]


def _is_postage(line: BillLine) -> bool:
    return bool(line.supplier) and not line.product_id


def _pieces(step: OrderStep) -> str:
    """The pieces for the time in between; several of one kind with their number."""
    return ", ".join(safe(name) if many == 1 else f"{many} x {safe(name)}" for name, many in Counter(step.extras).items())


def _warnings(told: BuyingOrder, measures: Measures) -> Iterator[str]:
    currency = safe(told.currency)
    if told.steps and told.cleaned is not None and told.cleaned.breaks:
        yield f"Before anything is bought the loop does not keep to: {_limits(told.cleaned.breaks, measures)}."
    for number, step in enumerate(told.steps, 1):
        if step.extras and step.extras_price:
            yield (
                f"Step {number} buys {_pieces(step)} for {money(step.extras_price, currency)} only to "
                "bridge the time until a later step; that is thrown away then. Whoever can wait buys the steps together."
            )
        if step.breaks and number < len(told.steps):
            yield f"After step {number} the loop does not keep to: {_limits(step.breaks, measures)}. Do not stop there."
        if step.stage is not None:
            yield _staged(number, step, step.stage, measures, currency)


def _limits(breaks: Iterable[Broken], measures: Measures) -> str:
    return ", ".join(safe(measures.words(each.words)) for each in breaks)


def _staged(number: int, step: OrderStep, stage: BudgetStage, measures: Measures, currency: str) -> str:
    other, price = measures.flow_text(stage.flow_m3s), money(stage.price, currency)
    return (
        f"If the money ends after step {number} ({money(step.paid, currency)}), another bundle would have been better: "
        f"{other} for {price}, against {measures.flow_text(step.flow_m3s)}. It is not part of the final one; going on from "
        f"it, this would be thrown away: {changed(stage.thrown)}."
    )
