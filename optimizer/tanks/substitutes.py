"""What else in stock can stand in for each piece of a kit: tried on the tank the kit was made for, where all joints must
close again."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimizer.loop.kinds import kind
from optimizer.model.catalog import Product
from optimizer.model.kits import Kit, Piece, Substitute
from optimizer.model.parts import Part
from optimizer.model.shop import Store
from optimizer.tanks.pool import Payload
from optimizer.tanks.population import Pieces, by_id, exchanged, listed, price_of, unlisted
from optimizer.tanks.shop_questions import Asker, key_of

MOST_SUBSTITUTES = 3
"""So many are told for each piece, those that lose least first."""


def with_substitutes(asker: Asker, kits: Sequence[Kit]) -> tuple[Kit, ...]:
    """The kits, each piece with what can stand in for it."""
    questions: list[Payload] = []
    for kit in kits:
        questions.append(_use(kit.made_for, _pieces(kit)))
        questions += [_use(kit.made_for, pieces) for piece in kit.pieces for _, pieces in _swaps(asker.store, kit, piece)]
    answers = asker.ask("substitutes", questions)
    made = []
    for kit in kits:
        whole = answers.get(key_of(_use(kit.made_for, _pieces(kit))))
        if whole is None:
            made.append(kit)
            continue
        used = {product_id for product_id, _ in unlisted(whole["pieces"])}
        pieces = []
        for piece in kit.pieces:
            found = []
            for product_id, changed in _swaps(asker.store, kit, piece):
                again = answers.get(key_of(_use(kit.made_for, changed)))
                now = set() if again is None else {each for each, _ in unlisted(again["pieces"])}
                # what was closed before must be closed again: nothing but the piece itself may drop out of use
                if again is not None and product_id in now and used - {piece.product_id} <= now:
                    found.append(_substitute(asker.store, kit, product_id, changed, _flow(again), _flow(whole)))
            found.sort(key=lambda each: (each.less_m3s, each.dearer, each.product_id))
            pieces.append(replace(piece, substitutes=tuple(found[:MOST_SUBSTITUTES])))
        made.append(replace(kit, pieces=tuple(pieces)))
    return tuple(made)


def _use(tank: str, pieces: Pieces) -> Payload:
    return {"ask": "use", "tank": tank, "pieces": listed(pieces)}


def _flow(answer: Payload) -> float:
    value = answer["flow_m3s"]
    return float(value) if isinstance(value, int | float) else 0.0


def _pieces(kit: Kit) -> Pieces:
    return tuple(sorted((piece.product_id, piece.quantity) for piece in kit.pieces))


def _substitute(store: Store, kit: Kit, product_id: str, pieces: Pieces, flow: float, whole: float) -> Substitute:
    known = by_id(store.stocked)
    product = known[product_id]
    return Substitute(
        product_id=product_id,
        name=product.name or store.catalog.parts[product.lines[0].part_id].name,
        flow_m3s=flow,
        less_m3s=whole - flow,
        dearer=price_of(pieces, known) - kit.price,
    )


def _swaps(store: Store, kit: Kit, piece: Piece) -> Iterator[tuple[str, Pieces]]:
    """The kit with each product that is of the piece's sort in its place, as far as the stock reaches."""
    known = by_id(store.stocked)
    old = known[piece.product_id]
    if len(old.lines) != 1:
        return
    for product_id in sorted(known):
        new = known[product_id]
        if product_id == piece.product_id or len(new.lines) != 1 or not _alike(store, old, new):
            continue
        amount = _amount(old, new, piece.quantity)
        pieces = exchanged(_pieces(kit), piece.product_id, product_id, amount)
        if amount and (new.stock is None or new.stock >= dict(pieces)[product_id]):
            yield product_id, pieces


def _amount(old: Product, new: Product, quantity: float) -> float:
    """How much of the new product does what the old one does; 0 where one is sold by the metre and the other is not."""
    if bool(old.step_m) != bool(new.step_m):
        return 0.0
    if old.step_m:
        return quantity
    return float(math.ceil(quantity * old.lines[0].count / new.lines[0].count - 1e-9))


def _alike(store: Store, old: Product, new: Product) -> bool:
    return alike(store.catalog.parts[old.lines[0].part_id], store.catalog.parts[new.lines[0].part_id])


def alike(one: Part, other: Part) -> bool:
    """Whether a part is of the sort of another and has the same ends, so that it may stand in for it.

    >>> from optimizer.model.parts import Clamp
    >>> clamp = Clamp(id="C", name="clamp", low_m=0.016, high_m=0.025)
    >>> alike(clamp, replace(clamp, id="D", high_m=0.032)), alike(clamp, replace(clamp, id="E", throttles=True))
    (True, False)
    """
    return kind(one).name == kind(other).name and bool(kind(one).alike(one, other))
