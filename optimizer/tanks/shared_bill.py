"""The joint bill as part of a linear program: packs, coils, kits and short stock bought once for all tanks.

Every need is served from lines of products that have room for it, products are bought in whole numbers, a run of hose comes from
one coil. With the needs of the chosen bundles the least price is the exact bill; of what is known of only some tanks it is a
lower bound, since a bill never falls when more is needed.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pulp

from optimizer.model.catalog import Line, Product
from optimizer.model.items import capacity
from optimizer.tanks.joint_prices import Bounds
from optimizer.tanks.signatures import MEDIUM_UNITS, Demand

Expression = Any  # PuLP has no types

MOST_COPIES = 64
"""So many copies of a kit that costs nothing."""


def held(line: Line) -> float:
    """How much one line of a product holds, in the units of a `Demand`."""
    return capacity(line) * (MEDIUM_UNITS if line.amount_m3 else 1.0)


@dataclass(slots=True)
class SharedBill:
    """Variables and constraints of the joint bill in one program. ``demands`` are sums over what is chosen; ``runs`` is the most
    runs of hose that all tanks have, ``budget`` bounds how many of a thing can be bought, ``most`` how much of everything can be
    needed: of what is bought everything serves something.

    What is served piece by piece is a flow from lines to needs with whole numbers at both ends, so some best way to serve it is
    whole by itself; only with ``whole`` is that asked for, where the answer is to be read. In ``fractions`` copies of a coil
    need not be told apart."""

    lp: pulp.LpProblem
    products: Mapping[str, Product]
    demands: Mapping[Demand, Expression]
    runs: int
    budget: float
    most: Mapping[Demand, float]
    bounds: Bounds
    whole: bool = False
    fractions: bool = False
    cost: list[Expression] = field(default_factory=list)
    served: dict[tuple[Demand, str, int, int], pulp.LpVariable] = field(default_factory=dict)
    bought: dict[tuple[str, int], pulp.LpVariable] = field(default_factory=dict)
    rows: dict[tuple[str, int, int], pulp.LpConstraint] = field(default_factory=dict)

    def __post_init__(self) -> None:
        room: dict[tuple[str, int, int], list[Expression]] = {}
        for number, (demand, wanted) in enumerate(sorted(self.demands.items(), key=lambda pair: pair[0])):
            self._serve(number, demand, wanted, room)
        for (name, line, copy), uses in sorted(room.items()):
            product = self.products[name]
            if product.step_m and product.stock is None:
                continue
            room_left = product.steps_in_stock if product.step_m else self._held(product, line) * self._bought(name, copy)
            self.rows[name, line, copy] = pulp.lpSum(uses) <= room_left
            self.lp += self.rows[name, line, copy]
        self._stock()

    def _held(self, product: Product, line: int) -> float:
        """How much of a line of one copy is ever used: no more than it holds, nor than all tanks could need of it."""
        units = MEDIUM_UNITS if product.lines[line].amount_m3 else 1.0
        return min(held(product.lines[line]), self.bounds.offers[product.id].holds[line] * units * (1 + 1e-9))

    def _serve(self, number: int, demand: Demand, wanted: Expression, room: dict[tuple[str, int, int], list[Expression]]) -> None:
        lines, medium, amount = demand
        kind = pulp.LpContinuous if medium or (self._flows(lines) and not self.whole) else pulp.LpInteger
        ways: list[pulp.LpVariable] = []
        for name, line in lines:
            product = self.products[name]
            for copy in range(self._copies(product)):
                way = self.lp.add_variable(f"a{number}_{len(ways)}", 0, None, kind)
                ways.append(way)
                self.served[demand, name, line, copy] = way
                weight = amount
                if product.step_m:
                    self.cost.append(product.cut_price(amount) * way)
                    weight = float(product.cut_steps(amount))
                room.setdefault((name, line, copy), []).append(weight * way)
        self.lp += pulp.lpSum(ways) == wanted

    def _flows(self, lines: tuple[tuple[str, int], ...]) -> bool:
        """Whether all lines that can serve a need hold pieces, not lengths or volumes."""
        held_by = [(self.products[name], line) for name, line in lines]
        return all(not (p.step_m or p.lines[n].amount_m or p.lines[n].amount_m3) for p, n in held_by)

    def _copies(self, product: Product) -> int:
        """Coils are counted one by one, since a run must come from one coil; everything else by number."""
        if self.fractions or not any(each.amount_m for each in product.lines):
            return 1
        payable = int(self.budget // product.price) if product.price > 0 else MOST_COPIES
        most = min(payable, self.runs if len(product.lines) == 1 else self._pieces(product))
        return most if product.stock is None else min(most, product.stock)

    def _pieces(self, product: Product) -> int:
        """At most so many copies of a kit serve something each."""
        found = 0
        for (lines, medium, amount), count in self.most.items():
            holds = [held(product.lines[n]) for name, n in lines if name == product.id]
            found += math.ceil(count / max(holds) - 1e-9) if medium and holds else math.ceil(count) if holds and amount else 0
        return found

    def _bought(self, name: str, copy: int) -> pulp.LpVariable:
        if (name, copy) not in self.bought:
            product = self.products[name]
            single = not self.fractions and any(each.amount_m for each in product.lines)
            most = 1 if single else product.stock
            variable = self.lp.add_variable(f"n{len(self.bought)}", 0, most, pulp.LpInteger)
            self.bought[name, copy] = variable
            self.cost.append(product.price * variable)
            if copy and (name, copy - 1) in self.bought:
                self.lp += variable <= self.bought[name, copy - 1]
        return self.bought[name, copy]

    def _stock(self) -> None:
        totals: dict[str, list[pulp.LpVariable]] = {}
        for (name, _), variable in self.bought.items():
            totals.setdefault(name, []).append(variable)
        for name, variables in totals.items():
            stock = self.products[name].stock
            if stock is not None and len(variables) > 1:
                self.lp += pulp.lpSum(variables) <= stock

    @property
    def price(self) -> Expression:
        """What all purchases come to, in minor units."""
        return pulp.lpSum(self.cost)


def summed(needs: Iterable[tuple[tuple[tuple[Demand, float], ...], pulp.LpVariable]]) -> dict[Demand, Expression]:
    """Needs of columns, each with the variable that chooses the column, as one sum per demand."""
    terms: dict[Demand, list[Expression]] = {}
    for column, variable in needs:
        for demand, count in column:
            terms.setdefault(demand, []).append(count * variable)
    return {demand: pulp.lpSum(parts) for demand, parts in terms.items()}
