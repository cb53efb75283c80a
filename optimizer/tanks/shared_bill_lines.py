"""One bill for all tanks: what is bought once and serves several, and what each buys for itself, with tank and place."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from optimizer.answers.bill import assumed_words, bill_lines, named_product
from optimizer.answers.bundle_walk import closings, each_option
from optimizer.model.items import Item
from optimizer.model.options import Chain, Option
from optimizer.model.results import BillLine
from optimizer.search.pricing import Cover
from optimizer.tanks.program import Bought, Column
from optimizer.tanks.signatures import Demand, Side

Placed = tuple[Sequence[Option], Sequence[Chain]]


def parts_of(side: Side, column: Column) -> Placed:
    """Options and joints of a column of this tank."""
    if column.bundle is None:
        raise ValueError("a column that is only a bound has no parts")
    path = column.bundle.path
    return [side.problem.option(row) for row in path.options], [side.problem.joint(row) for row in path.joints]


def household_bill(sides: Sequence[Side], columns: Sequence[Column], bought: Iterable[Bought]) -> tuple[BillLine, ...]:
    """All lines, things for one tank only first; a filter that was not there is the first of its own."""
    by_number = {column.tank: column for column in columns}
    lines: dict[str, BillLine] = {}
    waiting: dict[Demand, list[str]] = {}
    for side in (side for side in sides if by_number[side.number].is_there):
        options, joints = parts_of(side, by_number[side.number])
        shop, name = side.problem.shop, side.tank.name
        if side.tank.price is not None:
            lines[f"{name}:"] = _the_filter(name, side.tank.rig.name, side.tank.price)
        for place, item in _items(options, joints):
            if not shop.is_plain(item) and item.key[1] not in side.own | side.others:
                waiting.setdefault(side.demand(shop.stand_in(item)), []).append(f"{name}: {place}")
        plain = [item for _, item in _items(options, joints) if shop.is_plain(item)]
        for line in bill_lines(shop, options, joints, shop.cover(plain) or Cover(0, ())):
            placed = replace(line, places=tuple(f"{name}: {place}" for place in line.places))
            key = line.product_id or f"{name}: {line.name}"
            lines[key] = _together(lines[key], placed) if key in lines else placed
    for line in _shared(sides, bought, waiting):
        lines[line.product_id] = _together(lines[line.product_id], line) if line.product_id in lines else line
    return tuple(lines.values())


def _the_filter(name: str, rig: str, price: int) -> BillLine:
    whole = f"the filter as described: {rig}"
    return BillLine(product_id="", name=whole, count=1, price=price, owned=False, places=(name,))


def _items(options: Sequence[Option], joints: Sequence[Chain]) -> list[tuple[str, Item]]:
    found = [(closing.name, item) for closing in closings(options, joints) for item in closing.chain.items]
    return found + [(option.place, item) for option in each_option(options) for item in option.items]


def _together(one: BillLine, other: BillLine) -> BillLine:
    count, cuts_m = one.count + other.count, (*one.cuts_m, *other.cuts_m)
    return replace(one, count=count, cuts_m=cuts_m, price=one.price + other.price, places=(*one.places, *other.places))


def _shared(sides: Sequence[Side], bought: Iterable[Bought], waiting: dict[Demand, list[str]]) -> Iterable[BillLine]:
    products = {product.id: (product, side) for side in sides for product in side.problem.shop.products}
    for each in bought:
        product, side = products[each.product]
        part = side.problem.shop.parts[product.lines[0].part_id]
        places: list[str] = []
        cuts: list[float] = []
        for demand, amount in each.serves:
            left = waiting.get(demand, [])
            if demand[1]:
                places += left
                continue
            count = round(amount)
            places += left[:count]
            del left[:count]
            cuts += [demand[2]] * count
        copies, assumed = 0 if product.step_m else each.copies, assumed_words(product, side.problem.shop.parts)
        yield BillLine(
            product_id=product.id,
            name=named_product(product, part, assumed),
            count=copies,
            price=copies * product.price + (sum(map(product.cut_price, cuts)) if product.step_m else 0),
            owned=product.owned,
            places=tuple(dict.fromkeys(places)),
            cuts_m=tuple(cuts) if product.step_m else (),
            assumed=assumed,
        )
