"""Media stacks: all fillings of the trays that no other filling beats in price, loss, area for bacteria and capture.

A filling keeps some trays (cleaned), and fills or empties the others. Kept trays are chosen outright (at most 2**trays
ways); the new media are built up one medium at a time, since the price of a medium hangs only on its own volume. A partial
filling is dropped when another of the same number of trays is no dearer, loses no more at any flow (both terms of
the loss), and gives at least the area (counted up to what is asked) and the mechanical stage that this one gives.
"""

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations

from optimizer.loop.terms import tray_loss
from optimizer.model.fitted import Fitted
from optimizer.model.items import Item, medium_item
from optimizer.model.limits import Limits
from optimizer.model.losses import Loss
from optimizer.model.options import Fill
from optimizer.model.parts import Canister, Medium
from optimizer.model.rig import Tray
from optimizer.model.state import State
from optimizer.physics.water import Water
from optimizer.search.pricing import Shop

Lost = Callable[[Medium, str, State], Loss]
"""Loss of one tray of a medium, by the id of the installed one that it is like (empty: it is another)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """One filling of all trays, with its loss, what must be bought, and its area for bacteria in m2."""

    change: str
    fills: tuple[Fill, ...]
    loss: Loss
    items: tuple[Item, ...]
    bio_area_m2: float
    mechanical: bool


@dataclass(frozen=True, slots=True)
class _Part:
    """A partial filling with new media. ``area`` is counted up to the floor only."""

    media: tuple[Medium, ...]
    plain: int
    special: tuple[Item, ...]
    linear: float
    quadratic: float
    area: float
    mechanical: bool


def stacks(
    canister: Canister,
    trays: Sequence[Tray],
    media: Sequence[Medium],
    limits: Limits,
    water: Water,
    shop: Shop,
    fitted: Fitted | None = None,
    lasting: bool = False,
    apart: bool = False,
) -> list[Stack]:
    """All fillings worth considering that meet the biological floor, the mechanical stage and the mature-media rule.

    ``fitted`` says what media lose (None: what is stated). ``lasting``: fillings count by how long they last too,
    so that one is left out only for another of the same media in the same trays that costs no more, or where its media of fixed
    price alone cost more than the budget. ``apart``: other media are another thing, so that one is left out only for another
    that loses no more and takes out and puts in nothing that this one does not (see `alternatives`).
    """
    held = tray_loss if fitted is None else fitted.tray

    @cache  # thousands of fillings are made of some dozens of trays
    def lost(medium: Medium, like: str, state: State) -> Loss:
        return held(replace(medium, id=like or medium.id), state, canister, water)

    found = [stack for stack in _untouched(canister, trays, lost) if meets(stack, limits)]
    likes = _likes(trays, media)
    layers = {medium.id: lost(medium, likes[medium.id], State()) for medium in media}
    new = _new_media(canister, media, layers, limits, shop, _affordable if lasting or apart else _front)
    for kept in _kept_sets(trays, limits):
        base = [Fill(tray=n, change=_clean_or_keep(trays[n]), medium=trays[n].medium) for n in kept]
        free = [n for n in range(len(trays)) if n not in kept]
        if not free:
            continue
        for part in (part for filled in new[: len(free) + 1] for part in filled):
            empty = _left_empty(trays, free, len(free) - len(part.media))
            if empty is None or (apart and _buys_idly(canister, trays, kept, free, part, limits)):
                continue
            stack = _combine(canister, trays, base, free, empty, part, likes, lost)
            if meets(stack, limits):
                found.append(stack)
    if apart:
        return _apart(found, trays, fitted is not None)
    if lasting:
        return [one for alike in _alike(found, fitted is not None) for one in _unbeaten(alike, shop, UNTOUCHED)]
    return _unbeaten(found, shop, UNTOUCHED)


def _likes(trays: Sequence[Tray], media: Sequence[Medium]) -> dict[str, str]:
    """For every medium on offer the id of the installed one that it is the same as (empty: it is another)."""
    there = {bare(tray.medium): tray.medium.id for tray in trays if tray.medium is not None}
    return {medium.id: there.get(bare(medium), "") for medium in media}


def meets(stack: Stack, limits: Limits) -> bool:
    """True when a filling has the area and the mechanical stage that the limits ask for."""
    return stack.bio_area_m2 >= limits.bio_area_m2 - 1e-12 and (stack.mechanical or not limits.mechanical_stage)


def bio_area_m2(medium: Medium | None, canister: Canister) -> float:
    """Area for bacteria in one tray of a medium; only media meant for it count."""
    if medium is None or not medium.biological:
        return 0.0
    return medium.area_m2m3 * canister.tray_volume_m3


def _untouched(canister: Canister, trays: Sequence[Tray], lost: Lost) -> Iterator[Stack]:
    as_is = [Fill(tray=n, change="keep", medium=t.medium, state=t.state) for n, t in enumerate(trays)]
    yield _stack("keep", canister, as_is, (), lost)
    if any(not tray.state.is_clean for tray in trays):
        cleaned = [Fill(tray=n, change=_clean_or_keep(t), medium=t.medium) for n, t in enumerate(trays)]
        yield _stack("clean", canister, cleaned, (), lost)


def _clean_or_keep(tray: Tray) -> str:
    return "keep" if tray.state.is_clean else "clean"


def _stack(change: str, canister: Canister, fills: Sequence[Fill], items: tuple[Item, ...], lost: Lost) -> Stack:
    loss = Loss()
    filled = [(fill, fill.medium) for fill in fills if fill.medium is not None]
    for fill, medium in filled:
        loss = loss.add(lost(medium, fill.like, fill.state))
    return Stack(
        change=change,
        fills=tuple(sorted(fills, key=lambda fill: fill.tray)),
        loss=loss,
        items=items,
        bio_area_m2=sum([bio_area_m2(medium, canister) for _, medium in filled]),
        mechanical=any(medium.mechanical for _, medium in filled),
    )


def _kept_sets(trays: Sequence[Tray], limits: Limits) -> Iterator[tuple[int, ...]]:
    """Sets of trays that keep their medium; at least half of the mature biological ones when the limits say so."""
    filled = [n for n, tray in enumerate(trays) if tray.medium is not None]
    mature = {n for n in filled if (medium := trays[n].medium) is not None and medium.biological}
    least = math.ceil(len(mature) / 2) if limits.mature_media else 0
    for size in range(len(filled) + 1):
        for kept in combinations(filled, size):
            if len(mature & set(kept)) >= least:
                yield kept


def _new_media(
    canister: Canister,
    media: Sequence[Medium],
    layers: dict[str, Loss],
    limits: Limits,
    shop: Shop,
    front: Callable[[list[_Part], Limits], list[_Part]],
) -> list[list[_Part]]:
    """For each number of trays, the ways to fill that many with new media that ``front`` keeps. Ways that fill different numbers
    are not compared, since a tray may have to be filled."""
    blank = _Part((), 0, (), 0.0, 0.0, 0.0, False)
    exactly: list[list[_Part]] = [[blank]] + [[] for _ in range(canister.trays)]
    for medium in media:
        grown = [list(parts) for parts in exactly]
        for count in range(1, canister.trays + 1):
            item = medium_item(medium.id, count * canister.tray_volume_m3)
            price = shop.alone(item)
            if price is None:
                break
            plain, special = (price, ()) if shop.is_plain(item) else (0, (item,))
            added = _Part(
                (medium,) * count,
                plain,
                special,
                count * layers[medium.id].linear,
                count * layers[medium.id].quadratic,
                count * bio_area_m2(medium, canister),
                medium.mechanical,
            )
            for trays in range(canister.trays + 1 - count):
                grown[trays + count] += [_with(part, added, limits.bio_area_m2) for part in exactly[trays]]
        exactly = [front(parts, limits) for parts in grown]
    return exactly


def _with(part: _Part, added: _Part, floor_m2: float) -> _Part:
    return _Part(
        part.media + added.media,
        part.plain + added.plain,
        tuple(sorted(part.special + added.special)) if added.special else part.special,
        part.linear + added.linear,
        part.quadratic + added.quadratic,
        min(part.area + added.area, floor_m2),
        part.mechanical or added.mechanical,
    )


def _affordable(parts: list[_Part], limits: Limits) -> list[_Part]:
    return parts if limits.budget is None else [part for part in parts if part.plain <= limits.budget]


def _front(parts: list[_Part], _: Limits) -> list[_Part]:
    ordered = sorted(parts, key=lambda p: (p.plain, p.linear, p.quadratic, [m.id for m in p.media]))
    kept: list[_Part] = []
    alike: dict[tuple[Item, ...], list[_Part]] = {(): []}
    for part in ordered:
        rivals = alike.setdefault(part.special, [])
        if not any(_beats(other, part) for group in (alike[()], rivals) for other in group):
            rivals.append(part)
            kept.append(part)
    return kept


def _beats(one: _Part, other: _Part) -> bool:
    """True when the first is no worse; it needs no shared piece, or the same ones."""
    return (
        one.plain <= other.plain
        and one.linear <= other.linear
        and one.quadratic <= other.quadratic
        and one.area >= other.area
        and one.mechanical >= other.mechanical
    )


def _left_empty(trays: Sequence[Tray], free: list[int], number: int) -> list[int] | None:
    """Which free trays stay empty: never one that held biological media; None when there are not enough others."""
    others = [n for n in free if (medium := trays[n].medium) is None or not medium.biological]
    return others[len(others) - number :] if number <= len(others) else None


def _buys_idly(
    canister: Canister, trays: Sequence[Tray], kept: Sequence[int], free: list[int], part: _Part, limits: Limits
) -> bool:
    """True when one of the new media could as well be left out, its tray empty: that loses no more, and buys less."""
    if _left_empty(trays, free, len(free) - len(part.media) + 1) is None:
        return False
    there = [medium for n in kept if (medium := trays[n].medium) is not None]
    for idle in set(part.media):
        left = [*there, *part.media]
        left.remove(idle)
        if _enough(left, canister, limits):
            return True
    return False


def _enough(media: Sequence[Medium], canister: Canister, limits: Limits) -> bool:
    area = sum(bio_area_m2(medium, canister) for medium in media)
    return area >= limits.bio_area_m2 - 1e-12 and (not limits.mechanical_stage or any(medium.mechanical for medium in media))


def _combine(
    canister: Canister,
    trays: Sequence[Tray],
    base: list[Fill],
    free: list[int],
    empty: list[int],
    part: _Part,
    likes: Mapping[str, str],
    lost: Lost,
) -> Stack:
    """Put new media into the free trays: mechanical ones first, coarse before fine (the most permeable is the coarsest)."""
    ordered = sorted(part.media, key=lambda m: (not m.mechanical, -m.permeability_m2, m.id))
    fills = list(base)
    for tray in empty:
        fills.append(Fill(tray=tray, change="keep" if trays[tray].medium is None else "remove", medium=None))
    for tray, medium in zip((n for n in free if n not in empty), ordered, strict=True):
        fills.append(Fill(tray=tray, change="swap", medium=medium, like=likes[medium.id]))
    counts = Counter(medium.id for medium in part.media)
    items = tuple(medium_item(name, count * canister.tray_volume_m3) for name, count in sorted(counts.items()))
    return _stack("swap", canister, fills, items, lost)


def _alike(found: list[Stack], fitted: bool) -> list[list[Stack]]:
    """Fillings of the same media in the same trays, equally dirty, together; where media that stay are ``fitted``, those in which
    the same of them are new."""
    groups: dict[tuple[tuple[str, State, bool], ...], list[Stack]] = {}
    for stack in found:
        key = tuple(
            ("" if fill.medium is None else fill.medium.id, fill.state, fitted and fill.change == "swap") for fill in stack.fills
        )
        groups.setdefault(key, []).append(stack)
    return list(groups.values())


Moves = Counter[tuple[str, Medium, bool]]
"""How many trays of each medium are taken out of a canister ("out") or put in ("in"); ``True``: of new ones that are told apart
from what was there."""


def moves(fills: Sequence[Fill], trays: Sequence[Tray], fitted: bool) -> Moves:
    """What a filling takes out and puts in, all in all: a medium that only changes its tray, or is renewed, is not moved.

    Media of the same figures are the same, whatever their package is called; where fills say what the old ones lose
    (``fitted``), a new one is another.
    """
    before = Counter((bare(tray.medium), False) for tray in trays if tray.medium is not None)
    after = Counter((bare(fill.medium), fitted and fill.change == "swap") for fill in fills if fill.medium is not None)
    sides = (("out", before - after), ("in", after - before))
    return Counter({(side, *which): count for side, counts in sides for which, count in counts.items()})


def bare(medium: Medium) -> Medium:
    """A medium without its name: two that differ in nothing else are the same to the water."""
    return replace(medium, id="", name="")


def _apart(found: list[Stack], trays: Sequence[Tray], fitted: bool) -> list[Stack]:
    """Drop a filling where another loses no more, and moves and buys nothing that this one does not: of two bundles with these,
    that one is listed first and rules this one out. Media as they are stay."""
    ranked = []
    for order, stack in enumerate(found):
        bought = Counter(fill.medium.id for fill in stack.fills if fill.change == "swap" and fill.medium is not None)
        ranked.append((stack.loss.linear, stack.loss.quadratic, moves(stack.fills, trays, fitted), bought, order, stack))
    ranked.sort(key=lambda row: (sum(row[2].values()), sum(row[3].values()), row[0], row[1], row[4]))
    kept: list[tuple[float, float, Moves, Counter[str], int, Stack]] = []
    for row in ranked:
        beaten = any(one[0] <= row[0] and one[1] <= row[1] and one[2] <= row[2] and one[3] <= row[3] for one in kept)
        if row[5].change in UNTOUCHED[:1] or not beaten:
            kept.append(row)
    return [row[5] for row in sorted(kept, key=lambda row: row[4])]


UNTOUCHED = ("keep", "clean")
"""Changes that leave every medium in its tray. They are always among the choices: an emptied tray loses less and costs nothing,
but nobody throws media out for a litre an hour."""


def _unbeaten(found: list[Stack], shop: Shop, whole: tuple[str, ...]) -> list[Stack]:
    """Drop fillings that another one beats in price and both loss terms; all of them meet the floors already. Those whose change
    is among ``whole`` stay."""
    ranked = []
    for order, stack in enumerate(found):
        special = tuple(item for item in stack.items if not shop.is_plain(item))
        plain = sum(shop.alone(item) or 0 for item in stack.items if shop.is_plain(item))
        ranked.append((plain, stack.loss.linear, stack.loss.quadratic, order, special, stack))
    ranked.sort(key=lambda row: row[:4])
    kept: list[tuple[int, float, float, int, tuple[Item, ...], Stack]] = []
    for row in ranked:
        if row[5].change in whole or not any(_row_beats(other, row) for other in kept):
            kept.append(row)
    return [row[5] for row in sorted(kept, key=lambda row: row[3])]


def _row_beats(
    one: tuple[int, float, float, int, tuple[Item, ...], Stack], other: tuple[int, float, float, int, tuple[Item, ...], Stack]
) -> bool:
    cheaper = one[0] <= other[0] and one[1] <= other[1] and one[2] <= other[2]
    return cheaper and (not one[4] or one[4] == other[4])
