"""From the price columns of one row to what the shop sells: pieces, packs, coils, hose by the metre, bags and kits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from optimizer.errors import near_sentence, quoted
from optimizer.files.draft import Draft
from optimizer.files.kit_text import Content
from optimizer.files.ranges import LONGEST_RUN_M
from optimizer.model.catalog import Line, Product
from optimizer.model.parts import Kind
from optimizer.unit_table import LENGTH, VOLUME
from optimizer.units import UnitError, parse

__all__ = ["kit_product", "offered", "part_product"]

DEFAULT_STEP_M = 0.1


def part_product(kind: str, draft: Draft) -> Product | None:
    """Return the product of one priced row, or None when it has no price or a problem is taken in by `draft`.

    A row of pack pieces is one product; a medium is a bag of its volume; hose is a coil or cut by the metre.

    >>> from optimizer.errors import Problems
    >>> row = {"id": "CL", "name": "clamp", "price": 250, "pack": 2.0}
    >>> part_product("clamp", Draft(values=row, fields={}, place=str, problems=Problems())).lines
    (Line(part_id='CL', count=2, amount_m=0.0, amount_m3=0.0, lasting=False),)
    """
    if kind == Kind.HOSE:
        return _hose(draft)
    if kind == Kind.MEDIUM and draft.written("price"):
        draft.need("volume", ", but a price needs the litres it buys")
    if draft.failed or not draft.has("price"):
        return None
    part_id, pack = draft.text("id"), draft.whole("pack")
    if kind == Kind.MEDIUM:
        lines = (Line(part_id=part_id, amount_m3=draft.number("volume")),) * pack
    else:
        lines = (Line(part_id=part_id, count=pack, lasting=kind == Kind.TOOL),)
    return _product(draft, draft.money("price"), lines)


def _product(draft: Draft, price: int, lines: tuple[Line, ...], step_m: float = 0.0) -> Product:
    return Product(
        id=draft.text("id"),
        name=draft.text("name"),
        price=price,
        stock=_stock(draft),
        step_m=step_m,
        lines=lines,
        cost=draft.money("cost") if draft.has("cost") else None,
        supplier=draft.text_or("supplier", ""),
    )


def _stock(draft: Draft) -> int | None:
    return draft.whole("stock") if draft.has("stock") else None


def offered(draft: Draft, products: Mapping[str, Product]) -> Product | None:
    """The product of one row of offers.csv as its supplier sells it, or None once a problem is taken in by `draft`. ``products``
    are those of the other files by id.

    >>> from optimizer.errors import Problems
    >>> row = {"product": "C", "supplier": "north", "price": 100}
    >>> clamp = Product(id="C", price=120, lines=(Line(part_id="C"),))
    >>> offered(Draft(values=row, fields={}, place=str, problems=Problems()), {"C": clamp}).price
    100
    """
    if draft.failed:
        return None
    product = products.get(draft.text("product"))
    if product is None:
        near = near_sentence(draft.text("product"), products) if draft.problems.few else ""
        what = f"no product {quoted(draft.text('product'))} with a price in the catalog."
        draft.fault("product", what, near or "Write the id of a row that has a price.")
        return None
    return replace(product, price=draft.money("price"), stock=_stock(draft), supplier=draft.text("supplier"))


def _hose(draft: Draft) -> Product | None:
    by_metre = draft.written("price_per_m")
    if by_metre and (draft.written("price") or draft.written("coil")):
        draft.fault("price_per_m", "stands beside the price of a coil.", "Keep price_per_m, or price and coil_m.")
    elif by_metre and draft.has("pack") and draft.whole("pack") != 1:
        draft.fault("pack", "hose by the metre comes in no packs.", "Write 1, or leave it empty.")
    elif draft.written("price"):
        draft.need("coil", ", but the price of a coil needs its length")
    elif draft.written("coil"):
        draft.need("price", ", but a coil needs a price")
    if draft.failed or not (by_metre or draft.has("price")):
        return None
    if by_metre:
        line = Line(part_id=draft.text("id"))
        return _product(draft, draft.money("price_per_m"), (line,), draft.number_or("step", DEFAULT_STEP_M))
    coil = Line(part_id=draft.text("id"), amount_m=draft.number("coil"))
    return _product(draft, draft.money("price"), (coil,) * draft.whole("pack"))


def kit_product(draft: Draft, kinds: Mapping[str, str]) -> Product | None:
    """Return the product of one row of kits.csv, or None once a problem is taken in by `draft`.

    `kinds` gives the kind of every part of the catalog by id, parts with problems of their own included.

    >>> from optimizer.errors import Problems
    >>> row = {"id": "K", "name": "kit", "price": 900, "contents": (Content(part_id="HOSE-16-22", amount="4 m"),)}
    >>> draft = Draft(values=row, fields={}, place=str, problems=Problems())
    >>> kit_product(draft, {"HOSE-16-22": "hose"}).lines
    (Line(part_id='HOSE-16-22', count=1, amount_m=4.0, amount_m3=0.0, lasting=False),)
    """
    draft.need("price")
    contents = draft.values.get("contents")
    lines = [_kit_line(content, draft, kinds) for content in contents] if isinstance(contents, tuple) else []
    whole = [line for line in lines if line is not None]
    if draft.failed:
        return None
    return _product(draft, draft.money("price"), tuple(whole))


def _kit_line(content: Content, draft: Draft, kinds: Mapping[str, str]) -> Line | None:
    kind = kinds.get(content.part_id)
    shown = quoted(content.part_id)
    if kind is None:
        near = near_sentence(content.part_id, kinds) if draft.problems.few else ""
        cure = near or "Write the id of a part that one of the files has."
        draft.fault("contents", f"no part {shown} in the catalog.", cure)
        return None
    amount = {
        Kind.HOSE: (LENGTH, "4 m", "the metres in one piece"),
        Kind.MEDIUM: (VOLUME, "2 l", "the litres"),
    }
    if kind not in amount:
        if content.amount:
            what = f"{shown} is counted in pieces, not {quoted(content.amount)}."
            draft.fault("contents", what, f'Write for example "{content.part_id} x2".')
        return Line(part_id=content.part_id, count=content.count, lasting=kind == Kind.TOOL)
    dimension, example, words = amount[kind]
    cure = f'Write for example "{content.part_id} {example}"; for two of them write it twice.'
    if not content.amount or content.count != 1:
        draft.fault("contents", f"{shown} is a {kind} and needs {words}.", cure)
        return None
    try:
        value = parse(content.amount, dimension, minimum=0.0, maximum=LONGEST_RUN_M)
    except UnitError as error:
        draft.fault("contents", f"the amount of {shown}: {error.what}", cure)
        return None
    if value <= 0.0:
        draft.fault("contents", f"the amount of {shown} must be above zero.", cure)
    if kind == Kind.HOSE:
        return Line(part_id=content.part_id, amount_m=value)
    return Line(part_id=content.part_id, amount_m3=value)
