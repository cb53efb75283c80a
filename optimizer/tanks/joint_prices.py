"""Prices that hold for all tanks together: what each tank is charged for what it shares with the others.

A household is bound by what its tanks share: products that serve several places (packs, coils, kits, short stock), parts that are
kept or handed on once, the noise of a room, the watts of all. Every such bound gets a price, for instance a dual of the linear
relaxation (`Program.prices`). With prices that are nothing or more, and with the lines of each product together charged at most
its price, every real choice is charged at most what it costs (weak Lagrangian duality):

    sum over tanks of (plain price + charges)  <=  joint bill + credit.

The credit is what a bound can give in all: the price of a part for each part that is there once, of stock for the stock. It does
not matter where prices come from, since what is not feasible is cut down here (`JointPrices.of`).
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.model.household import Household
from optimizer.model.items import Item, capacity
from optimizer.search.shares import UNPAYABLE, most_use
from optimizer.tanks.hand_me_downs import HandMeDown
from optimizer.tanks.signatures import Side

Reals = NDArray[np.float64]
LineOf = tuple[str, int]
"""A line of a product: the id of the product, the number of the line."""


@dataclass(frozen=True, slots=True)
class Offer:
    """A product as all tanks see it: ``holds`` is the most that is ever used of each line of one copy, ``usual`` its price shared
    out over them by what they cost elsewhere, per unit (pieces, m, m3)."""

    price: float
    stock: float | None
    step: bool
    holds: tuple[float, ...]
    usual: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Bounds:
    """What all tanks share."""

    household: Household
    handed: Mapping[str, HandMeDown]
    offers: Mapping[str, Offer]

    @classmethod
    def of(cls, household: Household, handed: Mapping[str, HandMeDown], sides: Sequence[Side]) -> "Bounds":
        """What the searches of some tanks share."""
        use: dict[LineOf, float] = {}
        for side in sides:
            products = side.problem.shop.products
            for (index, line), amount in most_use(side.problem, side.exact.rounds.accounts)[0].items():
                use[products[index].id, line] = use.get((products[index].id, line), 0.0) + amount
        offers: dict[str, Offer] = {}
        for side in sides:
            shop = side.problem.shop
            for index, product in enumerate(shop.products):
                used = {(index, n): use.get((product.id, n), 0.0) for n in range(len(product.lines))}
                if product.id in offers or not any(used.values()):
                    continue
                holds = tuple(min(capacity(line), used[index, n]) for n, line in enumerate(product.lines))
                step = product.step_m > 0.0
                usual = (0.0,) if step else shop.charges(index, used)
                stock = product.steps_in_stock if step and product.stock is not None else product.stock
                offers[product.id] = Offer(float(product.price), None if stock is None else float(stock), step, holds, usual)
        return cls(household, handed, offers)

    def whole(self, name: str) -> float:
        """How much there is of a part that is handed on: pieces, or m of hose."""
        return self.handed[name].length_m or 1.0

    def loudness(self, room: str, noise_dba: float) -> float:
        """The sound power of a pump as a share of what its room allows."""
        limit = next((each.noise_dba for each in self.household.rooms if each.name == room), np.inf)
        return 0.0 if np.isinf(limit) or np.isinf(noise_dba) else float(10.0 ** ((noise_dba - limit) / 10.0))


@dataclass(frozen=True, slots=True)
class JointPrices:
    """Prices in minor units: of each unit of a ``line``, of each unit of a part ``handed`` on, of all the sound that a ``room``
    allows, of each ``watt``; and the ``credit``."""

    bounds: Bounds
    line: Mapping[LineOf, float]
    handed: Mapping[str, float]
    room: Mapping[str, float]
    watt: float
    credit: float

    @classmethod
    def of(
        cls,
        bounds: Bounds,
        line: Mapping[LineOf, float] = MappingProxyType({}),
        handed: Mapping[str, float] = MappingProxyType({}),
        room: Mapping[str, float] = MappingProxyType({}),
        watt: float = 0.0,
    ) -> "JointPrices":
        """Prices that hold, as near as can be to some that are wished for."""
        fair: dict[LineOf, float] = {}
        credit = 0.0
        for name, offer in bounds.offers.items():
            wanted = [max(line.get((name, n), 0.0), 0.0) for n in range(len(offer.holds))]
            if offer.step:
                # a cut is paid by itself; only that the stock may run out has a price
                fair[name, 0] = wanted[0] if offer.stock is not None else 0.0
                credit += fair[name, 0] * (offer.stock or 0.0)
                continue
            asked = sum(price * held for price, held in zip(wanted, offer.holds, strict=True))
            if asked > offer.price and offer.stock is not None:
                credit += (asked - offer.price) * offer.stock
            elif asked > offer.price:
                wanted = [price * offer.price / asked for price in wanted]
            elif offer.price > 0.0:
                # whatever is left of the price may be charged as usual
                left = 1.0 - asked / offer.price
                wanted = [price + left * usual for price, usual in zip(wanted, offer.usual, strict=True)]
            fair |= {(name, n): price for n, price in enumerate(wanted)}
        parts = {name: max(price, 0.0) for name, price in handed.items()}
        rooms = {name: max(price, 0.0) for name, price in room.items()}
        limit = bounds.household.power_w
        watt = max(watt, 0.0) if np.isfinite(limit) else 0.0
        credit += sum(price * bounds.whole(name) for name, price in parts.items()) + sum(rooms.values())
        return cls(bounds, fair, parts, rooms, watt, credit + (watt * limit if watt else 0.0))

    def towards(self, other: "JointPrices", share: float) -> "JointPrices":
        """Prices between these and others."""

        def between(mine: Mapping[Any, float], theirs: Mapping[Any, float]) -> dict[Any, float]:
            return {key: (1.0 - share) * mine.get(key, 0.0) + share * theirs.get(key, 0.0) for key in {*mine, *theirs}}

        watt = (1.0 - share) * self.watt + share * other.watt
        return JointPrices.of(
            self.bounds, between(self.line, other.line), between(self.handed, other.handed), between(self.room, other.room), watt
        )

    def without(self, names: Collection[str]) -> "JointPrices":
        """These prices where nobody takes some parts that could be handed on: they cost nothing, and give no credit."""
        less = sum(self.handed.get(name, 0.0) * self.bounds.whole(name) for name in names)
        left = {name: price for name, price in self.handed.items() if name not in names}
        return replace(self, handed=left, credit=self.credit - less)

    def items(self, side: Side) -> Reals:
        """What each special item of a tank's problem is charged."""
        return np.array([self._item(side, item) for item in side.problem.specials])

    def _item(self, side: Side, item: Item) -> float:
        name = item.key[1]
        if name in side.own:
            return self.handed.get(name, 0.0) * self.bounds.whole(name)
        if name in side.others:
            return self.handed.get(name, 0.0) * item.weight
        shop, least = side.problem.shop, UNPAYABLE
        for server in shop.servers(item.key):
            if not shop.reaches(server, item):
                continue
            product, unit = shop.products[server.product], self.line[shop.products[server.product].id, server.line]
            if product.step_m:
                least = min(least, product.cut_price(item.weight) + unit * product.cut_steps(item.weight))
            else:
                least = min(least, unit * item.weight)
        return least

    def rows(self, side: Side, items: Reals) -> tuple[Reals, Reals]:
        """What each option and each joint of a tank's problem is charged in all."""
        problem, shares = side.problem, side.exact.shares
        option, joint = shares.priced_rows(items)
        first = problem.option_at[problem.pump]
        room = side.tank.room
        for k, each in enumerate(problem.layers[problem.pump].options):
            option[first + k] += self.room.get(room, 0.0) * self.bounds.loudness(room, each.noise_dba) + self.watt * each.power_w
        return option, joint
