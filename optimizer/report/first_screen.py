"""What stands on the first screen of an answer below its rows: what to do, what to buy, what to mind, how sure, and what next.

Everything here is short on purpose; `report.text` has the whole of each under a name of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from optimizer.errors import safe
from optimizer.model.results import BillLine, Change, Result
from optimizer.model.said import Said, length
from optimizer.report.fitted_lines import by_fills_sentences
from optimizer.report.layout import REST, Block, apart, bullets, columns, cut, glued, paragraph
from optimizer.report.measures import Measures, money
from optimizer.report.verdict import how_sure

__all__ = [
    "bill_table",
    "by_kind",
    "chosen",
    "first_cautions",
    "first_sentence",
    "how_sure_lines",
    "mind_lines",
    "next_lines",
    "one_supplier_lines",
    "short_bill_lines",
    "sure_lines",
    "to_do_lines",
    "type_next",
]

A = TypeVar("A")

MOST_CAUTIONS = 3
VERB_WIDTH = 6
MOST_PRODUCTS = 8
"""A bill of more products than this says in one line what only closes joints."""
LONGEST_PRODUCT = 56
"""A product says where it goes if that is one place, and if both together still fit on a line of 80 characters."""


def to_do_lines(changes: Sequence[Change]) -> list[Block]:
    """Return what is done where, a line for each kind of change. What goes in stands in the bill."""
    done = by_kind(changes)
    lines = [block for verb, places in done.items() for block in columns([(verb, VERB_WIDTH), (", ".join(places), REST)])]
    return ["What to do", *lines] if lines else []


def by_kind(changes: Sequence[Change]) -> dict[str, list[str]]:
    """Return the places of each kind of change in the order of the water, those left as they are apart; what is adjusted says
    how."""
    done: dict[str, list[str]] = {}
    for change in changes:
        if change.change != "keep":
            how = f" ({safe(change.text)})" if change.change == "adjust" and change.text else ""
            done.setdefault(safe(change.change), []).append(f"{glued(safe(change.place))}{how}")
    return done


def short_bill_lines(result: Result, measures: Measures) -> list[Block]:
    """Return the bill, a line for each product with its amount, price and (where that is short) place; and the total."""
    if result.best is None or not (result.bill or result.best.price):
        return []
    bill = result.bill if len(result.bill) <= MOST_PRODUCTS else _joined(result.bill)
    return [*bill_table(bill, result.best.price, result.currency, measures), *one_supplier_lines(result)]


def one_supplier_lines(result: Result) -> list[Block]:
    """Return what each supplier alone would ask for as much flow, where the bill is of several."""
    if result.best is None or not result.one_supplier:
        return []
    told = [
        f"{safe(each.supplier)} {'cannot' if each.price is None else f'{money(each.price)} all in'}"
        for each in result.one_supplier
    ]
    return list(paragraph(f"As much flow from one supplier alone: {', '.join(told)}; as above {money(result.best.price)}."))


def _joined(bill: Sequence[BillLine]) -> list[BillLine]:
    """A long bill with all that only closes joints in one line."""
    small = [line for line in bill if line.places and all(place.startswith("joint ") for place in line.places)]
    if len(small) < 2:
        return list(bill)
    pieces, price = sum(line.count for line in small), sum(line.price for line in small)
    name = f"pieces of {len(small)} kinds that close the joints (--show bill)"
    together = BillLine(product_id="", name=name, count=pieces, price=price, owned=False, places=())
    return [*(line for line in bill if line not in small), together]


def bill_table(bill: Sequence[BillLine], total: int, currency: str, measures: Measures) -> list[Block]:
    """Return a bill in a few words; `total` is in minor units, as the prices are."""
    quantities = [_quantity(line, measures) for line in bill]
    width = max(map(len, quantities), default=1)
    lines: list[Block] = [f"Bill in {cut(safe(currency), 8)}" if currency else "Bill"]
    for line, quantity in zip(bill, quantities, strict=True):
        price = "yours" if line.owned and not line.price else money(line.price)
        lines += columns([(quantity, width), (_product(line), REST)], price)
    rest = total - sum(line.price for line in bill)
    lines += columns([("", width), ("not listed above", REST)], money(rest)) if rest else []
    return lines + columns([("", width), ("total", REST)], money(total))


def _quantity(line: BillLine, measures: Measures) -> str:
    """How many, or how long all cuts are together."""
    metres = sum(line.cuts_m)
    return glued(measures.words(Said(length(metres, f"{metres:.2f} m"))) if metres else f"{line.count} x")


def _product(line: BillLine) -> str:
    """The name of a product with the places it goes to, of several tanks with the tanks; what closes a joint of the only tank
    goes without saying."""
    name = safe(line.name) or safe(line.product_id)
    places = dict.fromkeys(safe(place.partition(": ")[0]) for place in line.places if not place.startswith("joint "))
    said = f"{name}, for {' '.join(places)}"
    return said if len(places) == 1 and len(said) <= LONGEST_PRODUCT else name


def mind_lines(result: Result, measures: Measures) -> list[Block]:
    """Return the cautions that matter most; none where there is no answer to act on."""
    return [] if result.best is None else first_cautions(result.cautions, measures)


def first_cautions(cautions: Sequence[str], measures: Measures) -> list[Block]:
    """Return the cautions that come first, in a sentence each."""
    lines = bullets(safe(first_sentence(measures.words(each))) for each in cautions[:MOST_CAUTIONS])
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
    if result.assumed:
        parts = f"{len(result.assumed)} parts" if len(result.assumed) > 1 else "one part"
        said.append(f"Figures of {parts} are assumed, since nobody stated them (--show basis).")
    if result.warnings:
        said.append("Some figures lie outside what the formulas were made for (--show warnings).")
    return how_sure_lines(said)


def how_sure_lines(said: Sequence[str]) -> list[Block]:
    """Return sentences on how sure an answer is, as one paragraph; nothing for none."""
    return paragraph(f"How sure: {' '.join(said)}", rest="  ") if said else []


def next_lines(result: Result, typed: str) -> list[Block]:
    """Return what to type next; `typed` is the command that asked ("": not known)."""
    if result.lasting is not None:
        return type_next(typed, "interval,joints,head")
    bought = result.best is not None and result.bill
    to_buy = ["--order: what to buy first; --bands: how sure; --after FILE: the rig as it will be"] if bought else []
    return type_next(typed, "joints,head,pressure", to_buy)


def type_next(typed: str, sections: str, also: Sequence[str] = ()) -> list[Block]:
    """Return a command, and what can be added to it: options that are told, some `sections` of the answer, or all of it."""
    added = [*also, f"--show {sections}: parts of the rest; --full: all of it"]
    said = [block for each in added for block in paragraph(each, "    ", "      ")]
    return ["Next", *paragraph(f"{safe(typed)} with" if typed else "Add to the command", "  ", "    "), *said]


def chosen(
    sections: Mapping[str, Callable[[A, Measures], list[Block]]], names: Sequence[str], told: A, measures: Measures
) -> list[Block]:
    """Return the sections of these names, and of one that is empty that it is. Raises KeyError for an unknown name."""
    found = ((name, sections[name](told, measures)) for name in names)
    return apart(lines or paragraph(f"{name}: there is nothing of it in this answer.") for name, lines in found)
