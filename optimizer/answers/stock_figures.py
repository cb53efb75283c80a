"""Rows of a catalog whose figures look like a slip: prices and bores out of line, rows that stand twice, kits dearer than what
is in them; and what is sold out."""

from collections.abc import Hashable, Iterable, Iterator
from dataclasses import replace
from math import exp, log

from optimizer.answers.out_of_line import OutOfLine, out_of_line
from optimizer.answers.stock_rows import Rows
from optimizer.loop.kinds import curve_of, parts_of
from optimizer.model.catalog import Line, Product
from optimizer.model.ends import End, Gender, Standard
from optimizer.model.items import Item, hose_item, medium_item, part_item
from optimizer.model.parts import Hose, Part, kind_of, stated_ends
from optimizer.model.said import Quantity, Said, millimetres
from optimizer.model.stock import Finding, Weight
from optimizer.model.usual_figures import RULES
from optimizer.money import show_money
from optimizer.search.pricing import Shop

PRICE_SLIP, BORE_SLIP = 3.0, 2.0
"""From so many times the usual a price or a bore is rather a slip than a choice (common practice, no published source: a point
that slipped, the price of a pack in the row of a piece, an inch in a column of millimetres are all further out)."""

Told = tuple[str, float, float]
"""A row by its id, with the size that its value hangs on, and the value."""


def figure_findings(rows: Rows) -> Iterator[Finding]:
    """All of these."""
    for look in (_prices, _bores, _duplicates, _dear_kits, _sold_out, _unstated):
        yield from look(rows)


def _grouped(told: Iterable[tuple[Hashable, Told]], slip: float) -> Iterator[tuple[Hashable, str, float, OutOfLine]]:
    """Each value that is out of line in its group: the group, the row, the value, and what is usual."""
    groups: dict[Hashable, list[Told]] = {}
    for group, one in told:
        groups.setdefault(group, []).append(one)
    for group, some in groups.items():
        for found in out_of_line([size for _, size, _ in some], [value for _, _, value in some], slip):
            yield group, some[found.place][0], some[found.place][2], found


def _prices(rows: Rows) -> Iterator[Finding]:
    cure = "Mend price, or pack if it buys several; leave it if it is right."
    for row, product in rows.own.items():
        if product.price == 0:
            yield rows.found(Weight.ODD, "price", (row,), "costs nothing, so every answer takes it.", "Write its price.")
    told = (
        (_sort(rows.catalog.parts[row]), (row, _size(rows.catalog.parts[row]), product.price / _amount(product)))
        for row, product in rows.own.items()
        if product.price
    )
    for _, row, price, usual in _grouped(told, PRICE_SLIP):
        middle, low, high = (show_money(round(one)) for one in (usual.usual, usual.low, usual.high))
        each = _per(rows.own[row])
        what = (
            f"costs {show_money(round(price))}{each}; others of its kind and size about {middle} (half of them {low} to {high})."
        )
        yield rows.found(Weight.ODD, "price", (row,), what, cure)


def _amount(product: Product) -> float:
    """How much of its part a product is: metres, litres or pieces."""
    if product.step_m:
        return 1.0
    return sum(line.amount_m or line.amount_m3 * 1e3 or float(line.count) for line in product.lines)


def _per(product: Product) -> str:
    line = product.lines[0]
    if product.step_m or line.amount_m:
        return " a metre"
    return " a litre" if line.amount_m3 else "" if line.count == 1 else " a piece"


def _sort(part: Part) -> Hashable:
    """What a part is compared with: its kind, what it is of its kind, and whether it has a maker's own union."""
    names = ("role", "form", "closure", "purpose", "throttles", "ribbed")
    union = any(end.standard is Standard.UNION for _, end in _ends(part))
    return (kind_of(part), union, *(getattr(part, name, "") for name in names))


def _size(part: Part) -> float:
    """What its price rises with."""
    curve = curve_of(part)
    if curve is not None:
        return curve.max_flow_m3s
    stated = [size for name in ("face_area_m2", "inside_m", "high_m", "size_m") if (size := getattr(part, name, 0.0))]
    if stated:
        return float(stated[0])
    sizes = [end.size_m or end.bore_m for _, end in _ends(part)]
    return exp(sum(map(log, sizes)) / len(sizes)) if sizes else 1.0


def _ends(part: Part) -> Iterator[tuple[str, End]]:
    """The ends of a part that meet another, by their sides."""
    return ((side, end) for side, end in stated_ends(part) if end.standard is not Standard.OPEN)


def _bores(rows: Rows) -> Iterator[Finding]:
    cure = "Measure it with a caliper, and mend it if it is a slip."
    parts = rows.catalog.parts.values()
    for side in ("inlet", "outlet", "side"):
        told = (((end.standard, end.gender), (part.id, end.size_m, end.bore_m)) for part, end in _sized(parts, side))
        for _, row, bore_m, usual in _grouped(told, BORE_SLIP):
            end: End = getattr(rows.catalog.parts[row], side)
            what = Said("the ", side, " (", end.name, ") has a bore of ", millimetres(bore_m), "; ", *_usual(usual))
            yield rows.found(Weight.ODD, "bore", (row,), what, cure)
    hoses = (hose for hose in parts_of(parts, Hose) if not hose.assumed)
    walls = ((hose.ribbed, (hose.id, hose.inside_m, (hose.outside_m - hose.inside_m) / 2.0)) for hose in hoses)
    for _, row, wall_m, usual in _grouped(walls, BORE_SLIP):
        what = Said("its wall is ", millimetres(wall_m), "; ", *_usual(usual))
        yield rows.found(Weight.ODD, "wall", (row,), what, cure)


def _sized(parts: Iterable[Part], side: str) -> Iterator[tuple[Part, End]]:
    """Ends whose bore is stated and belongs to their size: a maker's union has none, a hose is as wide as its size."""
    for part in parts:
        for name, end in _ends(part):
            hose = end.standard is Standard.HOSE and end.gender is Gender.FEMALE
            if name == side and end.size_m and not hose and f"{side}_bore" not in part.assumed:
                yield part, end


def _usual(usual: OutOfLine) -> tuple[str | Quantity, ...]:
    near = (millimetres(usual.usual), millimetres(usual.low), millimetres(usual.high))
    return "others of its size about ", near[0], " (half of them ", near[1], " to ", near[2], ")."


def _duplicates(rows: Rows) -> Iterator[Finding]:
    """Rows alike in all but id, name and price; in name too, where figures in which they may differ are not stated."""
    alike: dict[Hashable, list[str]] = {}
    for part in rows.catalog.parts.values():
        sold = rows.own.get(part.id)
        bought = None if sold is None else (sold.step_m, tuple(replace(line, part_id="") for line in sold.lines))
        alike.setdefault((replace(part, id="", name=part.name if part.assumed else ""), bought), []).append(part.id)
    for product in rows.catalog.products:
        if product.id not in rows.own:
            alike.setdefault(tuple(sorted(map(repr, product.lines))), []).append(product.id)
    yield from _told_alike(rows, [ids for ids in alike.values() if len(ids) > 1])


def _told_alike(rows: Rows, groups: Iterable[list[str]]) -> Iterator[Finding]:
    """Rows alike that share their name too, or differ in price as slips do, one by one; all others (colours, makers) of a file at
    once."""
    prices = {product.id: product.price for product in rows.catalog.products}
    names = {part.id: part.name for part in rows.catalog.parts.values()}
    variants: dict[str, list[list[str]]] = {}
    for ids in groups:
        costs = sorted({prices[one] for one in ids if one in prices})
        if len({names.get(one, one).casefold() for one in ids}) == len(ids) and costs and costs[-1] < PRICE_SLIP * costs[0]:
            variants.setdefault(rows.place(ids[0])[0], []).append(ids)
            continue
        span = " to ".join(dict.fromkeys(map(show_money, (costs[:1] + costs[-1:]))))
        what = f"{len(ids)} rows are alike in all but id, name and price{f' ({span})' if costs else ''}."
        yield rows.found(Weight.ODD, "twice", ids, what, "Keep one of them, or mend the figures in which they differ.")
    for some in variants.values():
        first, second, *_ = some[0]
        what = f"the figures of {sum(map(len, some))} rows stand in another row too, as those of {first} and {second}."
        cure = "Right for colours and makers: answers take the cheapest. Else mend the figures in which they differ."
        yield rows.found(Weight.NOTE, "alike", [one for ids in some for one in ids], what, cure)


def _unstated(rows: Rows) -> Iterator[Finding]:
    """Of each kind of part the rows that leave out figures which matter."""
    kinds: dict[str, list[Part]] = {}
    for part in rows.catalog.parts.values():
        if part.assumed:
            kinds.setdefault(kind_of(part), []).append(part)
    cure = "Measure them, or ask, what sells first; until then rules stand in, and bands are wider (fullbore columns)."
    for kind, some in kinds.items():
        words = dict.fromkeys(RULES[kind, name].word for part in some for name in part.assumed)
        what = f"{len(some)} {kind} row{'s' if len(some) > 1 else ''} without {', '.join(words)}."
        yield rows.found(Weight.NOTE, "unstated", [part.id for part in some], what, cure)


def _dear_kits(rows: Rows) -> Iterator[Finding]:
    """Kits that cost no less than what is in them."""
    singly = Shop(parts=rows.catalog.parts, products=tuple(rows.own.values()))
    for product in rows.catalog.products:
        if product.id in rows.own:
            continue
        prices = [(singly.alone(_item(line)), line.count) for line in product.lines]
        known = [price * count for price, count in prices if price is not None]
        if len(known) == len(prices) and product.price >= sum(known):
            what = f"costs {show_money(product.price)}, its contents {show_money(sum(known))} piece by piece: no answer takes it."
            yield rows.found(Weight.ODD, "dear kit", (product.id,), what, "Mend its price or its contents.")


def _item(line: Line) -> Item:
    if line.amount_m:
        return hose_item(line.part_id, line.amount_m)
    return medium_item(line.part_id, line.amount_m3) if line.amount_m3 else part_item(line.part_id)


def _sold_out(rows: Rows) -> Iterator[Finding]:
    """What is out of stock, at once."""
    gone = [product.id for product in rows.catalog.products if product.stock == 0]
    if gone:
        said = "is sold out and left out" if len(gone) == 1 else f"{len(gone)} products are sold out and left out"
        yield rows.found(Weight.NOTE, "sold out", gone, f"{said} of every answer.", "Write the stock when it is back.")
