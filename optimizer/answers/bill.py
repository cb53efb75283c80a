"""The bill: what to buy for which place, how each joint is closed, and what to do position by position."""

from collections.abc import Iterable, Mapping, Sequence

from optimizer.answers.bundle_walk import closings, each_option
from optimizer.model.catalog import Product, Supplier
from optimizer.model.ends import Closure
from optimizer.model.items import DIVISIBLE, PINCH, Item
from optimizer.model.options import ADJUST, Chain, Option, OrientedAdapter
from optimizer.model.part_names import sold_id
from optimizer.model.parts import Part, kind_of
from optimizer.model.results import BillLine, BundleParts, Change, JointLine, UsedSpare
from optimizer.model.said import Said, millimetres
from optimizer.model.usual_figures import RULES
from optimizer.money import show_money
from optimizer.search.choices import owned_number
from optimizer.search.packing import Purchase
from optimizer.search.pricing import Cover, Shop

SPARE = " (spare: brings the order to its sum)"
"""Said of what is bought for nothing but the sum that an order must come to."""


def change_lines(options: Sequence[Option]) -> tuple[Change, ...]:
    """What to do at each position, in the order of the water, branches one after the other."""
    lines = []
    for option in each_option(options):
        name = option.place
        if option.fills:
            lines += _tray_changes(name, option)
            continue
        part_id = "" if option.part is None else sold_id(option.part.id)
        text = option.note or ("" if option.part is None else option.part.name)
        lines.append(Change(position=name, change=option.change, part_id=part_id, text=text))
    return tuple(lines)


def _tray_changes(name: str, option: Option) -> list[Change]:
    return [
        Change(
            position=name,
            change=fill.change,
            part_id="" if fill.medium is None else sold_id(fill.medium.id),
            text="empty" if fill.medium is None else fill.medium.name,
            tray=fill.tray + 1,
        )
        for fill in option.fills
    ]


def joint_lines(options: Sequence[Option], joints: Sequence[Chain]) -> tuple[JointLine, ...]:
    """How each joint of a bundle is closed, in the order of the water, branches one after the other."""
    return tuple(
        JointLine(
            between=(closing.before, closing.after),
            pieces=tuple(_piece(turned, closing.chain) for turned in closing.chain.adapters),
            tight_by=tuple(_closure_words(closing.chain)),
            as_is=closing.chain.as_is,
        )
        for closing in closings(options, joints)
    )


def _piece(turned: OrientedAdapter, chain: Chain) -> str:
    return f"{turned.part.name} (there now)" if turned in chain.held else turned.part.name


def _closure_words(joint: Chain) -> Iterable[str]:
    for pair in joint.matings:
        if pair.closure is Closure.CLAMP:
            loose = ("; ", pair.loose, ", so tighten it twice") if pair.loose else ()
            yield Said("clamp for ", millimetres(pair.size_m), " outside", *loose)
        elif pair.closure is Closure.NONE:
            yield "the maker's own seal"
        else:
            yield pair.closure.value


def bill_lines(shop: Shop, options: Sequence[Option], joints: Sequence[Chain], cover: Cover) -> tuple[BillLine, ...]:
    """The products to buy (and own parts to use), each with the places it serves, supplier by supplier and with its postage; paid
    adjustments as lines of their own."""
    places = _places(options, joints)
    merged: dict[int, list[Purchase]] = {}
    for purchase in cover.purchases:
        merged.setdefault(purchase.product, []).append(purchase)
    lines = _by_supplier(
        [_bill_line(shop.products[index], purchases, shop, places) for index, purchases in sorted(merged.items())], shop, cover
    )
    for option in each_option(options):
        if option.change == ADJUST and option.own_price:
            name = option.place
            lines.append(
                BillLine(
                    product_id="",
                    name=option.note,
                    count=1,
                    price=option.own_price,
                    owned=False,
                    places=(name,),
                )
            )
    return tuple(lines)


def _by_supplier(lines: list[BillLine], shop: Shop, cover: Cover) -> list[BillLine]:
    """The lines of each supplier together, with its postage behind them; first what no supplier sells."""
    postage, found = dict(cover.postage), [line for line in lines if not line.supplier]
    for supplier in shop.suppliers:
        own = [line for line in lines if line.supplier == supplier.name]
        if own:
            found += [*own, postage_line(supplier, sum(line.price for line in own), postage.get(supplier.id, 0))]
    return found


def postage_line(supplier: Supplier, goods: int, paid: int) -> BillLine:
    """The postage of one supplier, with what its goods come to and what is missing to be sent free."""
    name = f"postage, {supplier.name} (goods {show_money(goods)}"
    if paid and supplier.free_from is not None:
        name += f"; {show_money(supplier.free_from - goods)} more and it is free"
    return BillLine(product_id="", name=f"{name})", count=1, price=paid, owned=False, places=(), supplier=supplier.name)


def bundle_parts(shop: Shop, options: Sequence[Option], joints: Sequence[Chain], cover: Cover) -> BundleParts:
    """What a bundle is made of, and what of the keeper's own it uses up; a clamp that throttles a hose stays at hand."""
    spares, clamps = [], []
    for purchase in cover.purchases:
        product, kept = shop.products[purchase.product], [item for item in purchase.items if item.key[0] != PINCH]
        number = owned_number(product)
        if number and kept:
            spares.append(UsedSpare(number=number, pieces=purchase.copies, amount=sum(item.weight for item in kept)))
        elif not number:
            ids = [line.part_id for line in product.lines if getattr(shop.parts[line.part_id], "throttles", False)]
            clamps += ids[:1] * (len(purchase.items) - len(kept))
    return BundleParts(options=tuple(options), joints=tuple(joints), spares=tuple(spares), clamps=tuple(clamps))


def _bill_line(product: Product, purchases: list[Purchase], shop: Shop, places: dict[Item, list[str]]) -> BillLine:
    served = [item for purchase in purchases for item in purchase.items]
    part = shop.parts[product.lines[0].part_id]
    cuts = tuple(item.weight for item in served) if product.step_m else ()
    copies = 0 if product.step_m else sum(purchase.copies for purchase in purchases)
    where: list[str] = []
    for item in served:
        known = places.get(item) or places.get(Item(item.key)) or []
        where.append(known.pop(0) if len(known) > 1 else (known[0] if known else ""))
    assumed = assumed_words(product, shop.parts)
    return BillLine(
        product_id=product.id,
        name=named_product(product, part, assumed) + (SPARE if all(each.spare for each in purchases) else ""),
        count=copies,
        price=copies * product.price + sum(map(product.cut_price, cuts)),
        owned=product.owned,
        places=tuple(dict.fromkeys(place for place in where if place)),
        cuts_m=cuts,
        supplier=next((each.name for each in shop.suppliers if each.id == product.supplier), ""),
        assumed=assumed,
    )


def assumed_words(product: Product, parts: Mapping[str, Part]) -> tuple[str, ...]:
    """What is assumed of the parts of a product, each in a word or two, once."""
    held = (parts[line.part_id] for line in product.lines)
    return tuple(dict.fromkeys(RULES[kind_of(part), name].word for part in held for name in part.assumed))


def named_product(product: Product, part: Part, assumed: tuple[str, ...]) -> str:
    """What a bill calls a product whose first part is known, with what is ``assumed`` of it."""
    name = product.name or part.name
    return f"{name} (assumed: {', '.join(assumed)})" if assumed else name


def _places(options: Sequence[Option], joints: Sequence[Chain]) -> dict[Item, list[str]]:
    """Where each item goes: a position, or a joint. Media are keyed without their volume."""
    places: dict[Item, list[str]] = {}
    for closing in closings(options, joints):
        for item in closing.chain.items:
            places.setdefault(item, []).append(closing.name)
    for option in each_option(options):
        for item in option.items:
            key = Item(item.key) if item.key[0] == DIVISIBLE else item
            places.setdefault(key, []).append(option.place)
    return places
