"""What stands on the first screen of an answer below its rows: what to do, what to buy, what to mind, how sure, and what next.

Everything here is short on purpose; `report.text` has the whole of each under a name of its own.
"""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.errors import safe
from optimizer.model.results import BillLine, Change, Result
from optimizer.report.fitted_lines import by_fills_sentences
from optimizer.report.layout import REST, Block, bullets, columns, cut, glued, paragraph
from optimizer.report.measures import Measures, money
from optimizer.report.plan_lines import cut_texts
from optimizer.report.verdict import how_sure

__all__ = ["first_sentence", "mind_lines", "next_lines", "short_bill_lines", "sure_lines", "to_do_lines"]

MOST_CAUTIONS = 3
VERB_WIDTH = 6
LONGEST_QUANTITY = 16
MOST_PLACES = 2
"""A product of more places says only how many they are."""


def to_do_lines(changes: Sequence[Change]) -> list[Block]:
    """Return what is done where, a line for each kind of change; what is adjusted says how. What goes in stands in the bill."""
    done: dict[str, list[str]] = {}
    for change in changes:
        if change.change != "keep":
            how = f" ({safe(change.text)})" if change.change == "adjust" and change.text else ""
            done.setdefault(change.change, []).append(f"{glued(safe(change.place))}{how}")
    if not done:
        return []
    lines: list[Block] = ["What to do"]
    for verb, places in done.items():
        lines += columns([(safe(verb), VERB_WIDTH), (", ".join(places), REST)])
    return lines


def short_bill_lines(result: Result, measures: Measures) -> list[Block]:
    """Return the bill, a line for each product with its amount, price and (where that is short) place; and the total."""
    if result.best is None or not (result.bill or result.best.price):
        return []
    currency = cut(safe(result.currency), 8)
    quantities = [_quantity(line, measures) for line in result.bill]
    width = min(max((len(each) for each in quantities), default=0), LONGEST_QUANTITY)
    lines: list[Block] = ["Bill" + (f" in {currency}" if currency else "")]
    for line, quantity in zip(result.bill, quantities, strict=True):
        price = "yours" if line.owned and not line.price else money(line.price)
        lines += columns([(quantity, width), (_product(line), REST)], price)
    rest = result.best.price - sum(line.price for line in result.bill)
    lines += columns([("", width), ("not listed above", REST)], money(rest)) if rest else []
    return lines + columns([("", width), ("total", REST)], money(result.best.price))


def _quantity(line: BillLine, measures: Measures) -> str:
    return " + ".join(map(glued, cut_texts(line, measures))) or glued(f"{line.count} x")


def _product(line: BillLine) -> str:
    """The name of a product with the places it goes to; what closes a joint goes without saying."""
    name = safe(line.name) or safe(line.product_id)
    places = [safe(place) for place in line.places if not place.startswith("joint ")]
    where = ", ".join(map(glued, places)) if len(places) <= MOST_PLACES else f"{len(places)} places"
    return f"{name}, for {where}" if where else name


def mind_lines(result: Result, measures: Measures) -> list[Block]:
    """Return the cautions that matter most, in a sentence each; none where there is no answer to act on."""
    if result.best is None:
        return []
    lines = bullets(safe(first_sentence(measures.words(each))) for each in result.cautions[:MOST_CAUTIONS])
    return ["Mind", *lines] if lines else []


def first_sentence(text: str) -> str:
    """Return the first sentence of a text.

    >>> first_sentence("Unplug it. Then wait. Open it."), first_sentence("wait 1.5 h")
    ('Unplug it.', 'wait 1.5 h')
    """
    head, stop, _ = text.partition(". ")
    return f"{head}." if stop else head


def sure_lines(result: Result, measures: Measures) -> list[Block]:
    """Return what is proved, what the fills say, and what no proof can say."""
    said = [*how_sure(result, measures), *by_fills_sentences(result.by_fills, measures)]
    if result.warnings:
        said.append("Some figures lie outside what the formulas were made for (--show warnings).")
    if not said:
        return []
    return paragraph(f"How sure: {' '.join(said)}", rest="  ")


def next_lines(result: Result, typed: str) -> list[Block]:
    """Return what to type next; `typed` is the command that asked ("": not known)."""
    asked = safe(typed) or "ask the same"
    lines: list[Block] = ["Next"]
    if result.best is not None and result.bill:
        lines += bullets([f"{asked} --order, to buy it bit by bit; --bands, for how sure the flow is."])
    return lines + bullets(["--show joints,head,pressure added to it: parts of the rest; --full: all of it."])
