"""The kits of a shop as plain text: which to offer, what is in each, whom it fits and whom not and why, and what the stock
earns."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

from optimizer.errors import safe
from optimizer.model.kits import GAIN, Kit, KitPlan, NotServed, PartValue, Piece, Served, Unserved
from optimizer.model.said import Said, length
from optimizer.report.first_screen import chosen, first_sentence, how_sure_lines, type_next
from optimizer.report.layout import (
    BOLD,
    DIM,
    PLAIN,
    REST,
    Block,
    Screen,
    aligned,
    apart,
    bullets,
    columns,
    cut,
    finished,
    glued,
    paragraph,
    weighted,
)
from optimizer.report.measures import Measures, count, money, number, percent, system
from optimizer.report.plan_lines import LONGEST_NAME, catalog_line

__all__ = ["SECTIONS", "amount_text", "headline", "refused_alike", "render"]

SAFETY = (
    "Mains and water: whoever fits a kit unplugs everything in and on the tank first; RCD (GFCI), drip loops, a tray under the "
    "canister; local codes and licensed electricians decide. Every new joint is watched for a day."
)
LONGEST_TANK = 42
LONGEST_PART = 80


def headline(plan: KitPlan, units: str = "metric") -> str:
    """Return which kits to offer, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    measures = system(units)
    return finished([" ".join((*_what_for(plan, measures), _how_sure(plan)))])


def render(
    plan: KitPlan,
    units: str = "metric",
    screen: Screen = PLAIN,
    *,
    full: bool = False,
    show: Sequence[str] = (),
    typed: str = "",
) -> str:
    """Return the first screen of a plan, or with `full` the whole plan, or of that the sections to `show` only; `typed` is the
    command that asked. Raises ValueError for other units, KeyError for a section that is none of `SECTIONS`."""
    measures = system(units)
    if show:
        return finished(chosen(SECTIONS, show, plan, measures), screen)
    if not full:
        return finished(apart(_first_screen(plan, measures, typed)), screen)
    verdict = _opening(plan, [*_what_for(plan, measures), _how_sure(plan)])
    sections = [lines(plan, measures) for lines in SECTIONS.values()]
    return finished([*apart([verdict, *sections]), *catalog_line(plan.catalog)], screen)


def _first_screen(plan: KitPlan, measures: Measures, typed: str) -> Iterator[list[Block]]:
    yield _opening(plan, list(_what_for(plan, measures)))
    yield _overview(plan, measures)
    for kit in plan.kits:
        yield _box(kit, plan, measures)
    yield ["Mind", *bullets([first_sentence(SAFETY)])]
    left = (
        [f"No kit serves {len(plan.unserved)} of {count(plan.tanks)} sorts of tanks (--show unserved)."] if plan.unserved else []
    )
    ordered = sum(bool(each.order) for each in plan.unserved)
    left += [f"Ordering beyond stock would serve {count(ordered)} of them (--show order)."] if ordered else []
    left += [f"{len(plan.dead)} products are in no bundle (--show dead)."] if plan.dead else []
    sure = how_sure_lines([_how_sure(plan), *left])
    yield [*sure, *type_next(typed, "kits,parts", ["--cards DIR: a card for each kit; --report FILE: a page"])]


def _box(kit: Kit, plan: KitPlan, measures: Measures) -> list[Block]:
    """What lies in a kit, a line for each piece, with its price."""
    lines: list[Block] = [f"{kit.name}, in {cut(safe(plan.currency), 8)}" if plan.currency else kit.name]
    amounts = [amount_text(piece, measures) for piece in kit.pieces]
    width = max(map(len, amounts), default=1)
    for piece, amount in zip(kit.pieces, amounts, strict=True):
        lines += columns([(amount, width), (safe(piece.name) or safe(piece.product_id), REST)], money(piece.price))
    return lines + columns([("", width), ("total", REST)], money(kit.price))


def _opening(plan: KitPlan, sentences: Sequence[str]) -> list[Block]:
    asked = f"at most {plan.most} kits, by {'weighted gain' if plan.by == GAIN else 'coverage'}"
    title = paragraph(f"{cut(safe(plan.shop), LONGEST_NAME)}: {asked}", rest="  ")
    said = [block for sentence in sentences for block in paragraph(sentence, rest="  ")]
    return [*weighted(title, DIM), *weighted(said, BOLD)]


def _what_for(plan: KitPlan, measures: Measures) -> Iterator[str]:
    tanks = _weight(plan.total_weight)
    if not plan.kits:
        yield f"No kit from stock for at most {money(plan.shelf_prices[-1], safe(plan.currency))} fits any of {tanks} tanks."
    else:
        serve, add = ("1 kit serves", "adds") if len(plan.kits) == 1 else (f"{len(plan.kits)} kits serve", "add")
        adds = measures.flow_text(plan.gain_m3s / plan.weight)
        yield (
            f"{serve} {_weight(plan.weight)} of {tanks} tanks ({percent(plan.weight / plan.total_weight)}) "
            f"and {add} {adds} to each on the average."
        )
    if plan.unmeasured:
        which = ", ".join(cut(safe(name), LONGEST_TANK) for name in plan.unmeasured)
        yield f"The fills in the template of {which} are left out: a template stands for many tanks, and one was measured."


def _how_sure(plan: KitPlan) -> str:
    if plan.unproved:
        some = f"{count(plan.unproved)} of {count(plan.solves)} questions"
        return f"Not proved: {some} were too hard to decide, and the best that was found for them counts; {plan.made}."
    if plan.complete:
        return f"Proved: {plan.made}."
    return f"Stopped: {plan.made}, as far as was known by then."


def _overview(plan: KitPlan, measures: Measures) -> list[Block]:
    if not plan.kits:
        return []
    known, currency = any(kit.cost is not None for kit in plan.kits), cut(safe(plan.currency), 8)
    rows = [
        ("", "pieces", "shelf", *(["margin"] if known else []), "tanks", "adds", "only here", "stock"),
        ("", currency, currency, *([currency] if known else []), "", measures.flow, "tanks", "makes"),
    ]
    for kit in plan.kits:
        rows.append(
            (
                kit.name,
                money(kit.price),
                money(kit.shelf_price),
                *([_margin(kit)] if known else []),
                _weight(kit.weight),
                measures.bare_flow(kit.gain_m3s / kit.weight),
                _weight(kit.own_weight),
                "any" if kit.makes is None else count(kit.makes),
            )
        )
    note = "adds: to the clean flow of a tank that it fits, on the average; only here: tanks that no other kit serves better"
    return [*aligned(rows), *paragraph(note, first="  ")]


def _margin(kit: Kit) -> str:
    return "-" if kit.margin is None else money(kit.margin)


# -- one kit -------------------------------------------------------------------------------------------------------


def _kit(kit: Kit, plan: KitPlan, measures: Measures) -> list[Block]:
    title = f"{kit.name}: the best bundle of {safe(kit.made_for)}, {money(kit.price, safe(plan.currency))}"
    lines = paragraph(title, rest="  ")
    for piece in kit.pieces:
        lines += _piece(piece, measures)
    lines += ["  Fits", *_fits(kit.fits, measures)]
    if kit.does_not_fit:
        lines += ["  Does not fit", *_refused(kit.does_not_fit, measures)]
    return lines


def _piece(piece: Piece, measures: Measures) -> list[Block]:
    lines = columns(
        [(amount_text(piece, measures), 6), (f"{safe(piece.name)} ({safe(piece.product_id)})", REST)],
        last=money(piece.price),
    )
    if piece.substitutes:
        offers = (
            f"{safe(each.name)} ({safe(each.product_id)}; {_less(each.less_m3s, measures)}, {_dearer(each.dearer)})"
            for each in piece.substitutes
        )
        lines += paragraph(f"or from stock: {'; '.join(offers)}", first=" " * 10, rest=" " * 12)
    return lines


def _less(less_m3s: float, measures: Measures) -> str:
    if abs(less_m3s) * 3.6e6 < 0.5:
        return "as much water"
    return f"{measures.flow_text(abs(less_m3s))} {'less' if less_m3s > 0.0 else 'more'}"


def _dearer(dearer: int) -> str:
    return "same price" if dearer == 0 else f"{money(abs(dearer))} {'dearer' if dearer > 0 else 'cheaper'}"


def _fits(fits: Iterable[Served], measures: Measures) -> list[Block]:
    rows = [("", "tanks", "clean", "with kit", "P10", "P90", "best"), ("", "", *[measures.flow] * 5)]
    for each in fits:
        flows = (each.clean_m3s, each.flow_m3s, each.p10_m3s, each.p90_m3s, each.best_m3s)
        rows.append((safe(each.tank), _weight(each.weight), *map(measures.bare_flow, flows)))
    lines = aligned(rows, LONGEST_TANK)
    return [*lines, *(line for each in fits if each.left_over for line in _left_over(each, measures))]


def _left_over(each: Served, measures: Measures) -> list[Block]:
    return paragraph(
        f"{safe(each.tank)}: left over {safe('; '.join(map(measures.words, each.left_over)))}", first="    ", rest="      "
    )


def refused_alike(refused: Iterable[NotServed]) -> Iterable[tuple[tuple[tuple[str, ...], tuple[str, ...]], list[str]]]:
    """Return why a kit does not fit and what would, each with the tanks for which that is so."""
    groups: dict[tuple[tuple[str, ...], tuple[str, ...]], list[str]] = {}
    for each in refused:
        groups.setdefault((each.why, each.would_fit), []).append(each.tank)
    return groups.items()


def amount_text(piece: Piece, measures: Measures) -> str:
    """Return how much of a product lies in a kit."""
    return (
        glued(measures.words(Said(length(piece.quantity, f"{piece.quantity:.1f} m")))) if piece.metres else f"{piece.quantity:g}"
    )


def _refused(refused: Iterable[NotServed], measures: Measures) -> list[Block]:
    lines = []
    for (why, would_fit), tanks in refused_alike(refused):
        lines += paragraph(safe("; ".join(tanks)) + ":", first="  - ", rest="    ")
        for reason in why:
            lines += paragraph(safe(measures.words(reason)), first="      ", rest="        ")
        for offer in would_fit:
            lines += paragraph(f"would fit: {safe(measures.words(offer))}", first="      ", rest="        ")
    return lines


# -- the rest ------------------------------------------------------------------------------------------------------


def _unserved(plan: KitPlan, measures: Measures) -> list[Block]:
    said = []
    for each in plan.unserved:
        flows = f"clean {measures.flow_text(each.clean_m3s)}"
        if each.best_price:
            best = f"{measures.flow_text(each.best_m3s)} for {money(each.best_price, safe(plan.currency))}"
            flows += f", its own best bundle from stock {best}"
        said.append(f"{safe(each.tank)} ({_weight(each.weight)}): {each.words} ({flows})")
    return ["No kit for", *bullets(said)] if said else []


def _order(plan: KitPlan, measures: Measures) -> list[Block]:
    """What to order beyond stock for tanks that no kit serves, those for which it is the same together."""
    groups: dict[tuple[Piece, ...], list[Unserved]] = {}
    for each in plan.unserved:
        if each.order:
            groups.setdefault(each.order, []).append(each)
    lines: list[Block] = []
    for order, tanks in groups.items():
        said = (
            f"{safe(each.tank)} ({_weight(each.weight)}): {measures.flow_text(each.order_m3s)} in place of "
            f"{measures.flow_text(each.best_m3s)}, {money(each.order_price, safe(plan.currency))} with what is in stock"
            for each in tanks
        )
        lines += bullets(said)
        for piece in order:
            lines += columns(
                [("", 2), (amount_text(piece, measures), 6), (f"{safe(piece.name)} ({safe(piece.product_id)})", REST)],
                money(piece.price),
            )
    return ["To order beyond stock, for tanks that no kit serves", *lines] if lines else []


def _parts(plan: KitPlan, measures: Measures) -> list[Block]:
    if not plan.parts:
        return []
    rows: list[tuple[str, ...]] = [
        ("", "price", "lost without", "won if 10 %", "tanks", "kits"),
        ("", cut(safe(plan.currency), 8), f"{measures.flow} a tank", "cheaper", "", ""),
    ]
    rows += [_part(part, plan, measures) for part in plan.parts]
    note = (
        "each tank's best bundle from stock for the highest shelf price, solved again; per tank of the whole population, "
        "by weight; tanks: archetypes whose best has it"
    )
    return ["What earns its shelf space", *aligned(rows, LONGEST_PART), *paragraph(note, first="  ")]


def _part(part: PartValue, plan: KitPlan, measures: Measures) -> tuple[str, ...]:
    lost, won = (measures.bare_flow(value / plan.total_weight) for value in (part.loss_m3s, part.cheaper_m3s))
    return (f"{safe(part.product_id)} {safe(part.name)}", money(part.price), lost, won, count(part.tanks), count(part.in_kits))


def _dead(plan: KitPlan, _: Measures) -> list[Block]:
    said = (f"{safe(each.product_id)} ({safe(each.name)}): {each.why}" for each in plan.dead)
    return ["Dead stock: in no bundle of any tank at any of the budgets", *bullets(said)] if plan.dead else []


def _basis(plan: KitPlan, measures: Measures) -> Iterator[str]:
    yield (
        f"A kit fits a tank where the best use of its pieces, and of nothing else but what is there, adds at least "
        f"{percent(plan.least_gain)} to the clean flow, keeps to all limits and puts at least {percent(plan.least_used)} of its "
        "price to use. Gains are over the clean loop, so cleaning is not sold as an upgrade."
    )
    yield (
        "Bands hold 80 of 100 tanks of the kind described, P10 to P90; real tanks differ from the archetype as well. best: the "
        "tank's own best bundle from stock for the highest shelf price."
    )
    yield (
        f"{count(plan.tanks)} archetypes stand for {_weight(plan.total_weight)} tanks; {count(plan.candidates)} candidate kits, "
        f"{count(plan.solves)} questions solved."
    )
    yield "Spares and adjustments that cost money are left out: a box holds pieces only. Numbers beside tanks are weights."
    yield from (safe(measures.words(note)) for note in plan.notes)


def _weight(weight: float) -> str:
    """A weight without needless digits."""
    return number(weight, 0 if abs(weight - round(weight)) < 1e-9 else 1)


Lines = Callable[[KitPlan, Measures], list[Block]]

SECTIONS: Mapping[str, Lines] = MappingProxyType(
    {
        "overview": _overview,
        "kits": lambda plan, measures: apart(_kit(kit, plan, measures) for kit in plan.kits),
        "unserved": _unserved,
        "order": _order,
        "parts": _parts,
        "dead": _dead,
        "cautions": lambda *_: ["Mind", *bullets([SAFETY])],
        "basis": lambda plan, measures: ["What the figures rest on", *bullets(_basis(plan, measures))],
    }
)
"""The sections of a plan by the names that they are asked for, in the order of the whole."""
