"""Alternatives by hand: every bundle of a small world is listed, the best is taken, what makes the same changes is struck out.

Written from the rule alone: no code of `optimizer.search.alternatives`, `things` or `stacks`. Bundles, prices and flows come
from `enumeration`, fillings of the trays from trying everything in every tray.
"""

import math
import random
from collections import Counter
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import enumeration
import numpy as np
from enumeration import Bools, Bundles, Way
from numpy.typing import NDArray
from small_worlds import LITRE_PER_HOUR, medium, single, world

from optimizer.loop.terms import canister_loss, tray_loss
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.items import Item, medium_item
from optimizer.model.losses import Loss
from optimizer.model.options import Fill, Option
from optimizer.model.parts import Canister, Fitting, Medium, Outlet
from optimizer.model.rig import Position, Rig, Tray
from optimizer.model.state import State
from optimizer.search.choices import Choices

RESOLUTION_M3S = 0.1 * LITRE_PER_HOUR


def media_world(seed: int) -> tuple[Rig, Catalog]:
    """A world with dirty, equal and missing media, the same medium on offer in another package, places that stay or may go, and
    twins: parts that differ in nothing but their name, or in next to nothing."""
    rng = random.Random(seed)
    rig, catalog = world(seed, 240)
    foam, rings = medium("own-foam", 1.2e-7, True, 0.0), medium("own-rings", 4e-7, False, rng.choice([0.0, 500.0]))
    held: list[Medium | None] = [foam, foam, rings, None]
    trays = [Tray(medium=foam, state=State(filled=rng.choice([0.0, 0.7])))]
    trays += [
        Tray(medium=one, state=State(filled=rng.choice([0.0, 0.5]) if one is not None else 0.0))
        for one in (rng.choice(held) for _ in rig.trays[1:])
    ]
    positions = tuple(_unsettled(rng, position) for position in rig.positions)
    parts, products = dict(catalog.parts), list(catalog.products)
    if rng.random() < 0.6:
        again = replace(foam, id="foam-again", name="the same foam in another package")
        parts[again.id] = again
        products.append(Product(id=again.id, price=rng.choice([0, 250, 600]), lines=(Line(part_id=again.id, amount_m3=3e-3),)))
    for twin in _twins(rng, catalog):
        parts[twin.id] = twin
        products.append(single(twin, rng.randrange(300, 3000)))
    limits = replace(
        rig.limits,
        mechanical_stage=rng.random() < 0.4,
        mature_media=rng.random() < 0.5,
        bio_area_m2=rng.choice([0.0, 0.0, rig.limits.bio_area_m2]),
        flow_min_m3s=rng.choice([0.0, 0.0, rig.limits.flow_min_m3s]),
    )
    return replace(rig, trays=tuple(trays), positions=positions, limits=limits), replace(
        catalog, parts=parts, products=tuple(products)
    )


def _unsettled(rng: random.Random, position: Position) -> Position:
    may_go = position.may_go or (position.kind == "fitting" and position.installed is not None and rng.random() < 0.5)
    return replace(position, stays=position.stays or rng.random() < 0.3, may_go=may_go)


def _twins(rng: random.Random, catalog: Catalog) -> Iterator[Fitting | Outlet]:
    sold = {line.part_id for product in catalog.products for line in product.lines}
    for name, part in catalog.parts.items():
        if name not in sold or rng.random() < 0.7:
            continue
        if isinstance(part, Fitting) and part.role == "coupling":
            yield replace(part, id=f"{name} twin", passage_m=part.passage_m * rng.choice([1.0, 1.0 - 1e-5, 0.97]))
        elif isinstance(part, Outlet):
            yield replace(part, id=f"{name} twin", hole_m=part.hole_m * rng.choice([1.0, 1.0 - 1e-6, 0.98]))


# -- fillings ------------------------------------------------------------------------------------------------------


def with_every_filling(menu: Choices) -> Choices:
    """The same choices with all fillings: each tray keeps its medium (cleaned), is emptied, or gets any medium on offer; or all
    media stay as they are. A canister that stays keeps its media. Of fillings that keep the same media and buy the same, one."""
    place = menu.rig.index("canister")
    options = list(menu.options)
    options[place] = tuple(_fillings(menu, place))
    return replace(menu, options=tuple(options))


def _fillings(menu: Choices, place: int) -> Iterator[Option]:
    trays, position = menu.rig.trays, menu.rig.positions[place]
    offered = [None, *(part for part in menu.shop.parts.values() if isinstance(part, Medium))]
    as_is = [Fill(tray=n, change="keep", medium=tray.medium, state=tray.state) for n, tray in enumerate(trays)]
    if _meets(menu, as_is):
        yield _option(menu, place, as_is, "keep")
    mature = [n for n, tray in enumerate(trays) if tray.medium is not None and tray.medium.biological]
    seen = set[Hashable]()
    for choice in product(["stays", *(() if position.stays else offered)], repeat=len(trays)):
        kept = sum(choice[n] == "stays" for n in mature)
        if any(choice[n] is None for n in mature) or (menu.limits.mature_media and kept < math.ceil(len(mature) / 2)):
            continue
        fills = [_fill(n, tray, what) for n, (tray, what) in enumerate(zip(trays, choice, strict=True))]
        key = frozenset(Counter((fill.change == "swap", fill.medium and fill.medium.id) for fill in fills).items())
        if key not in seen and _meets(menu, fills):
            seen.add(key)
            option = _option(menu, place, fills, "swap" if any(what != "stays" for what in choice) else "clean")
            if all(menu.shop.alone(item) is not None for item in option.items):
                yield option


def _fill(n: int, tray: Tray, what: object) -> Fill:
    if what == "stays":
        return Fill(tray=n, change="clean", medium=tray.medium)
    if isinstance(what, Medium):
        return Fill(tray=n, change="swap", medium=what)
    return Fill(tray=n, change="remove", medium=None)


def _meets(menu: Choices, fills: Sequence[Fill]) -> bool:
    media = [fill.medium for fill in fills if fill.medium is not None]
    area = sum(one.area_m2m3 * menu.rig.canister.tray_volume_m3 for one in media if one.biological)
    return area >= menu.limits.bio_area_m2 - 1e-12 and (not menu.limits.mechanical_stage or any(one.mechanical for one in media))


def _option(menu: Choices, place: int, fills: Sequence[Fill], change: str) -> Option:
    body, loss = menu.rig.canister, canister_loss(menu.rig.canister)
    for fill in fills:
        loss = loss.add(Loss() if fill.medium is None else tray_loss(fill.medium, fill.state, body, menu.water))
    bought = Counter(fill.medium.id for fill in fills if fill.change == "swap" and fill.medium is not None)
    items: tuple[Item, ...] = tuple(medium_item(name, n * body.tray_volume_m3) for name, n in sorted(bought.items()))
    position = menu.rig.positions[place]
    return Option(
        position=place,
        place=position.name,
        change=change,
        part=body,
        loss=loss,
        inlet=body.inlet,
        outlet=body.outlet,
        items=items,
        fills=tuple(fills),
    )


# -- what stands where ---------------------------------------------------------------------------------------------


def thing(option: Option) -> Hashable:
    """What an option puts at its place: nothing, media by what they are, the old part or a new one, an outlet by its holes."""
    if option.part is None:
        return None
    if isinstance(option.part, Canister):
        return frozenset(Counter(_figures(fill.medium) for fill in option.fills if fill.medium is not None).items())
    new = option.change in ("swap", "add")
    if isinstance(option.part, Outlet):
        return (option.part.id, new, option.part.holes, option.part.hole_m, option.height_m)
    return (option.part.id, new)


def _figures(one: Medium) -> Hashable:
    return (one.form, one.permeability_m2, one.inertial_1m, one.area_m2m3, one.mechanical, one.biological)


def today(rig: Rig, position: Position) -> Hashable:
    """What is there now, in the same words."""
    part = position.installed
    if part is None:
        return None
    if isinstance(part, Canister):
        return frozenset(Counter(_figures(tray.medium) for tray in rig.trays if tray.medium is not None).items())
    return (part.id, False, part.holes, part.hole_m, position.height_m) if isinstance(part, Outlet) else (part.id, False)


def _change_of_media(before: Hashable, after: Hashable) -> tuple[Counter[Hashable], Counter[Hashable]]:
    assert isinstance(before, frozenset)
    assert isinstance(after, frozenset)
    old, new = Counter(dict(before)), Counter(dict(after))
    return old - new, new - old


# -- striking out --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Hand:
    """All bundles that could be an answer, and what each puts where (``put``, by number into ``names``)."""

    menu: Choices
    bundles: Bundles
    rows: list[tuple[int, ...]]
    joints: list[tuple[Way, ...]]
    put: NDArray[np.intp]
    names: list[list[Hashable]]

    @classmethod
    def of(cls, plain: Choices) -> "Hand":
        """Of the choices of a small world, however its media are listed."""
        menu = with_every_filling(plain)
        rows, joints = enumeration._listed(menu)
        budget = math.inf if menu.limits.budget is None else float(menu.limits.budget)
        price = np.array(list(enumeration._prices(menu, rows, joints, budget)), dtype=float)
        kept = np.flatnonzero(price <= min(budget, 1e15))
        table = enumeration._Table(menu, np.array([rows[n] for n in kept], dtype=np.intp), [joints[n] for n in kept])
        found = table.bundles(np.arange(len(kept), dtype=float))  # numbers in place of prices, to know them again
        chosen = [int(kept[int(number)]) for number in found.price]
        names = [list(dict.fromkeys(thing(option) for option in options)) for options in menu.options]
        number = [[known.index(thing(option)) for option in options] for options, known in zip(menu.options, names, strict=True)]
        put = [[number[place][n] for place, n in enumerate(rows[row])] for row in chosen]
        return cls(
            menu,
            replace(found, price=price[chosen]),
            [rows[n] for n in chosen],
            [joints[n] for n in chosen],
            np.array(put, dtype=np.intp).reshape(len(put), len(menu.options)),
            names,
        )

    def best(self, left: Bools) -> enumeration.Best | None:
        """The preferred one of what is left."""
        return enumeration.most_flow(self.bundles.take(left), self.menu, RESOLUTION_M3S)

    def known(self, options: Sequence[Option], price: int, flow_m3s: float, own_m3s: float) -> int | None:
        """Which of the bundles one is that has these options, costs and delivers this, throttled and not."""
        names = [thing(option) for option in options]
        off = [np.abs(self.bundles.flow_m3s / flow_m3s - 1.0), np.abs(self.bundles.own_m3s / own_m3s - 1.0)]
        mine = np.flatnonzero((self.bundles.price == price) & (np.maximum(*off) <= 1e-7))
        same = [n for n in mine if [self.names[place][k] for place, k in enumerate(self.put[n])] == names]
        return min(same, key=lambda n: off[1][n], default=None)

    def struck(self, number: int) -> Bools:
        """All bundles that make the changes of one."""
        gone = np.ones(len(self.rows), dtype=bool)
        for place, position in enumerate(self.menu.rig.positions):
            same = self._same(number, place)
            now = today(self.menu.rig, position)
            if now in [self.names[place][k] for k in same]:
                continue
            if position.kind == "canister":
                same = same.union(*(self._more(place, now, one) for one in same))
            gone &= np.isin(self.put[:, place], list(same))
        return gone

    def _more(self, place: int, now: Hashable, one: int) -> set[int]:
        """Fillings that take out and put in at least what one does."""
        out, into = _change_of_media(now, self.names[place][one])
        changes = [_change_of_media(now, name) for name in self.names[place]]
        return {k for k, (theirs, new) in enumerate(changes) if out <= theirs and into <= new}

    def _same(self, number: int, place: int) -> set[int]:
        """What does as well in the place of a bundle's own, cleaned."""
        options, row = self.menu.options[place], self.rows[number]
        own = options[row[place]]
        fits = [n for n, option in enumerate(options) if _fits(option, own)]
        tried = np.array([(*row[:place], n, *row[place + 1 :]) for n in [row[place], *fits]], dtype=np.intp)
        table = enumeration._Table(self.menu, tried, [self.joints[number]] * len(tried))
        top = np.full(len(tried), 1e-2)
        flows = [table._root(table._short_of, top)]
        if self._held_by_the_inlet(number):
            flows.append(table._root(table._starved, top))
        cleaned: dict[int, int] = {}
        for k, n in enumerate(fits, 1):
            what = self.names[place].index(thing(options[n]))
            if what not in cleaned or flows[0][k] > flows[0][cleaned[what]]:
                cleaned[what] = k
        same = {what for what, k in cleaned.items() if all(abs(flow[k] - flow[0]) < RESOLUTION_M3S for flow in flows)}
        return {int(self.put[number, place]), *same}

    def _held_by_the_inlet(self, number: int) -> bool:
        """True when neither the loop, nor a window, nor the limit on the flow is what holds it."""
        options = [some[n] for some, n in zip(self.menu.options, self.rows[number], strict=True)]
        ceilings = [self.menu.limits.flow_max_m3s, self.bundles.own_m3s[number], *(option.flow_max_m3s for option in options)]
        return bool(self.bundles.flow_m3s[number] < min(ceilings) * (1 - 1e-9))

    def everything(self) -> Bools:
        """All bundles, none struck out."""
        return np.ones(len(self.rows), dtype=bool)


def _fits(option: Option, own: Option) -> bool:
    def ends(one: Option) -> tuple[Hashable, ...]:
        return tuple(None if end is None else (end.face, end.bore_m) for end in (one.inlet, one.outlet))

    def figures(one: Option) -> tuple[float, ...]:
        return (round(one.noise_dba, 9), round(one.power_w, 9), one.flow_min_m3s, one.flow_max_m3s)

    there = (option.part is None) == (own.part is None)
    return there and ends(option) == ends(own) and figures(option) == figures(own)
