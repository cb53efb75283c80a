"""The bill piece by piece: what goes into which place or joint, how its ends fit, what it costs, and what would do instead."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from optimizer.answers.bundle_walk import closings, each_option
from optimizer.answers.question import Question
from optimizer.answers.rows import Standing
from optimizer.answers.substitutes import Substitutes
from optimizer.loop.kinds import ends_of
from optimizer.model.dossiers import EndLine, ShopRow, Substitute
from optimizer.model.ends import End, Standard, inch_name
from optimizer.model.items import DIVISIBLE, PINCH, TOOL, Item, line_serves
from optimizer.model.options import ADJUST, Option, OrientedAdapter
from optimizer.model.said import Said, millimetres
from optimizer.search.best import Seeker
from optimizer.search.packing import Purchase
from optimizer.search.pricing import Cover, Shop

CLOSURES = ("clamp", "washer", "tape", "cement")
MILLIMETRES = (Standard.HOSE, Standard.SLIP_MM)


def shopping(question: Question, seeker: Seeker, stands: Standing, cover: Cover) -> tuple[ShopRow, ...]:
    """Every piece to get, in the order of the water: of each place first its own, then the joint behind it."""
    till = _Till(shop=seeker.problem.shop, cover=cover, others=Substitutes(question=question, seeker=seeker, stands=stands))
    behind: dict[str, list[ShopRow]] = {}
    in_loop = {option.place: n for n, option in enumerate(stands.options)}
    for closing in closings(stands.options, stands.joints):
        adapters = {turned.part.id: turned for turned in closing.chain.adapters}
        for item in closing.chain.items:
            at = in_loop.get(closing.after) if closing.before in in_loop else None
            behind.setdefault(closing.before, []).extend(till.rung(closing.name, item, adapters.get(item.key[1]), at))
    rows: list[ShopRow] = []
    for option in each_option(stands.options):
        for item in option.items:
            rows += till.rung(option.place, item, option, in_loop.get(option.place))
        if option.change == ADJUST and option.own_price:
            rows.append(ShopRow(place=option.place, use="adjustment", name=option.note, price=option.own_price))
        rows += behind.get(option.place, [])
    return tuple(rows)


@dataclass(slots=True, kw_only=True)
class _Till:
    """Hands out what was bought, item by item, and remembers which packs have been charged."""

    shop: Shop
    cover: Cover
    others: Substitutes
    _open: dict[Item, list[int]] = field(init=False, default_factory=dict)
    _charged: set[int] = field(init=False, default_factory=set)

    def __post_init__(self) -> None:
        for number, purchase in enumerate(self.cover.purchases):
            for item in purchase.items:
                self._open.setdefault(_bare(item), []).append(number)

    def rung(self, place: str, item: Item, holder: Option | OrientedAdapter | None, at: int | None) -> Iterator[ShopRow]:
        """The rows for one item at a place; of a medium that several bags make up, a row for each bag."""
        waiting = self._open.get(_bare(item), [])
        taken = len(waiting) if item.key[0] == DIVISIBLE else 1
        for number in waiting[:taken]:
            yield self._row(place, item, holder, at, number)
        del waiting[:taken]

    def _row(self, place: str, item: Item, holder: Option | OrientedAdapter | None, at: int | None, number: int) -> ShopRow:
        purchase = self.cover.purchases[number]
        product = self.shop.products[purchase.product]
        first = number not in self._charged
        line = next(line for line in product.lines if line_serves(line, self.shop.parts[line.part_id], item.key))
        part = self.shop.parts[line.part_id]
        price = self._price(purchase, item, first)
        self._charged.add(number)
        return ShopRow(
            place=place,
            use=_use(item, holder),
            name=part.name,
            part_id=part.id,
            ends=tuple(_end(end) for end in _ends(item, holder) if end is not None),
            closes=_closes(item),
            cut_m=item.weight if item.key[0] == "hose" else 0.0,
            product_id=product.id,
            product=product.name or part.name,
            price=price,
            in_pack=not first and not self._each(purchase),
            owned=product.owned,
            substitute=None if product.owned else self._substitute(item, holder, at, purchase.product),
        )

    def _each(self, purchase: Purchase) -> bool:
        """Whether every item of a purchase has a price of its own."""
        product = self.shop.products[purchase.product]
        return product.step_m > 0.0 or (product.is_single and purchase.copies == len(purchase.items))

    def _price(self, purchase: Purchase, item: Item, first: bool) -> int:
        product = self.shop.products[purchase.product]
        if self._each(purchase):
            return product.one_price(item.weight)
        return purchase.copies * product.price if first else 0

    def _substitute(self, item: Item, holder: Option | OrientedAdapter | None, at: int | None, product: int) -> Substitute | None:
        if item.key[0] in (*CLOSURES, PINCH):
            return self.others.for_closure(item, product)
        if at is None:
            return None
        if isinstance(holder, OrientedAdapter):
            return self.others.for_adapter(at, holder)
        return self.others.for_option(at) if item.key[0] in ("part", "hose") else None


def _bare(item: Item) -> Item:
    """Media are handed out whatever their volume."""
    return Item(item.key) if item.key[0] == DIVISIBLE else item


def _use(item: Item, holder: Option | OrientedAdapter | None) -> str:
    if item.key[0] in (*CLOSURES, PINCH):
        return "closure"
    if item.key[0] == DIVISIBLE:
        return "medium"
    if item.key[0] == TOOL:
        return "tool"
    return "adapter" if isinstance(holder, OrientedAdapter) else "part"


def _ends(item: Item, holder: Option | OrientedAdapter | None) -> Sequence[End | None]:
    """The ends of a part in the order of the water; a clamp, a seal and a medium have none."""
    if item.key[0] not in ("part", "hose"):
        return ()
    if isinstance(holder, OrientedAdapter):
        return holder.entry, holder.exit
    if holder is None or holder.part is None:
        return ()
    return (holder.inlet, holder.outlet) if holder.inlet or holder.outlet else ends_of(holder.part)


def _end(end: End) -> EndLine:
    if end.standard in MILLIMETRES:
        size: str = Said(millimetres(end.size_m))
    elif end.standard is Standard.UNION:
        size = end.key
    else:
        size = "" if end.standard is Standard.OPEN else inch_name(end.size_m)
    return EndLine(standard=end.standard.value, size=size, gender=end.gender.value, bore_m=end.bore_m)


def _closes(item: Item) -> str:
    sort, name, size = item.key
    if sort in ("clamp", PINCH):
        return Said(f"{'screw ' if sort == PINCH else ''}clamp round ", millimetres(size))
    if sort not in CLOSURES:
        return ""
    return f"{sort} for {name} {inch_name(size)}" if name not in MILLIMETRES else f"{sort} for {name} {size * 1e3:.4g}"
