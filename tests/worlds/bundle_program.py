"""The independent route: the same question as a mixed-integer program at one flow, written for PuLP and solved by HiGHS.

At a fixed flow all losses are numbers. Binary variables choose options and joints along the layers, integer variables count the
products bought, and every item is assigned to a line of a product that has room for it. No bound, dominance or branching
of the search is used.
"""

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pulp
from numpy.typing import NDArray

from optimizer.model.items import DIVISIBLE, Item, capacity
from optimizer.search.layers import Problem
from optimizer.tanks.highs import Haltable, silence

Reals = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What the program found: ``value`` (surplus head in m, or price), None when nothing is feasible; the solver's word."""

    value: float | None
    status: str
    options: tuple[int, ...] = ()


def greatest_surplus(problem: Problem, flow_m3s: float, budget: float, allowed: Mask) -> Checked:
    """Most head to spare at a flow among bundles within the budget, in m, by mixed-integer programming."""
    program = _Program(problem, flow_m3s, allowed, pulp.LpMaximize)
    program.lp += -program.loss()
    program.lp += program.price() <= budget
    return program.solved()


def least_price(problem: Problem, flow_m3s: float, allowed: Mask, throttled: bool = False) -> Checked:
    """Least price among bundles with head to spare at a flow, in minor units, by mixed-integer programming; ``throttled``: among
    those that have a throttle behind the pump."""
    program = _Program(problem, flow_m3s, allowed, pulp.LpMinimize)
    program.lp += program.price()
    program.lp += program.loss() <= 0.0
    if throttled:
        behind = problem.option_at[problem.pump + 1]
        program.lp += pulp.lpSum(v for row, v in program.option.items() if row >= behind and problem.throttles[row]) >= 1
    return program.solved()


@dataclass(slots=True)
class _Program:
    problem: Problem
    flow_m3s: float
    allowed: Mask
    sense: int
    lp: pulp.LpProblem = field(init=False)
    option: dict[int, pulp.LpVariable] = field(init=False)
    joint: dict[int, pulp.LpVariable] = field(init=False)
    bought: dict[tuple[int, int], pulp.LpVariable] = field(init=False, default_factory=dict)
    extra: list[pulp.LpAffineExpression] = field(init=False, default_factory=list)
    option_loss: Reals = field(init=False)
    joint_loss: Reals = field(init=False)

    def __post_init__(self) -> None:
        problem = self.problem
        self.lp = pulp.LpProblem("bundle", self.sense)
        self.option_loss = problem.heads.at(self.flow_m3s)
        self.joint_loss = problem.joint_quadratic * self.flow_m3s**2
        rows = np.flatnonzero(self.allowed).tolist()
        self.option = {row: self.lp.add_variable(f"o{row}", cat=pulp.LpBinary) for row in rows}
        joints = range(len(problem.joint_plain))
        self.joint = {row: self.lp.add_variable(f"j{row}", cat=pulp.LpBinary) for row in joints}
        self._flow_conservation()
        self._items()
        self._suction()

    def _flow_conservation(self) -> None:
        """One option per layer; what leaves a state enters a joint, and what a joint brings is taken up by an option."""
        problem = self.problem
        before: Mapping[int, pulp.LpAffineExpression] | None = None
        for place, layer in enumerate(problem.layers):
            first, first_joint = problem.option_at[place], problem.joint_at[place]
            into: dict[int, list[pulp.LpVariable]] = {}
            out_of: dict[int, list[pulp.LpVariable]] = {}
            for k in range(len(layer.joints)):
                into.setdefault(int(layer.joint_to[k]), []).append(self.joint[first_joint + k])
                out_of.setdefault(int(layer.joint_from[k]), []).append(self.joint[first_joint + k])
            taken: dict[int, list[pulp.LpVariable]] = {}
            leaving: dict[int, list[pulp.LpVariable]] = {}
            for k in range(len(layer.options)):
                if first + k in self.option:
                    taken.setdefault(int(layer.entry[k]), []).append(self.option[first + k])
                    leaving.setdefault(int(layer.leave[k]), []).append(self.option[first + k])
            self.lp += pulp.lpSum(v for vs in taken.values() for v in vs) == 1
            for state in range(len(layer.entries)):
                self.lp += pulp.lpSum(into.get(state, [])) == pulp.lpSum(taken.get(state, []))
            if before is not None:
                for state in set(before) | set(out_of):
                    self.lp += pulp.lpSum(out_of.get(state, [])) == before.get(state, 0)
            before = {state: pulp.lpSum(variables) for state, variables in leaving.items()}

    def _items(self) -> None:
        """Every special item is served by a line with room; a coil that must not be pieced together counts copy by copy."""
        wanted = self._wanted()
        shop = self.problem.shop
        room: dict[tuple[int, int, int], list[pulp.LpAffineExpression]] = {}
        for item, demand in wanted.items():
            served = []
            for server in shop.servers(item.key):
                product = shop.products[server.product]
                for copy in range(self._copies(server.product)):
                    whole = item.key[0] != DIVISIBLE
                    name = f"a{self.problem.specials.index(item)}_{server.product}_{server.line}_{copy}"
                    amount = self.lp.add_variable(name, 0, None, pulp.LpInteger if whole else pulp.LpContinuous)
                    weight = item.weight if whole else 1.0
                    if product.step_m:
                        self.extra.append(product.cut_price(item.weight) * amount)
                        weight = float(product.cut_steps(item.weight))
                    room.setdefault((server.product, server.line, copy), []).append(weight * amount)
                    served.append(amount)
            unit = 1.0 if item.key[0] != DIVISIBLE else item.weight
            self.lp += pulp.lpSum(served) == unit * demand
        for (index, line, copy), uses in room.items():
            product = shop.products[index]
            if product.step_m:
                if product.stock is not None:
                    self.lp += pulp.lpSum(uses) <= product.steps_in_stock
                continue
            self.lp += pulp.lpSum(uses) <= capacity(product.lines[line]) * self._bought(index, copy)
        self._stock()

    def _wanted(self) -> dict[Item, pulp.LpAffineExpression]:
        terms: dict[Item, list[pulp.LpAffineExpression]] = {}
        pairs = ((self.problem.option_special, self.option), (self.problem.joint_special, self.joint))
        for (rows, numbers), variables in pairs:
            counts = Counter(zip(rows.tolist(), numbers.tolist(), strict=True))
            for (row, number), count in counts.items():
                if row in variables:
                    terms.setdefault(self.problem.specials[number], []).append(count * variables[row])
        return {item: pulp.lpSum(parts) for item, parts in terms.items()}

    def _copies(self, index: int) -> int:
        """Coils are counted one by one (a run must come from one coil); everything else by number."""
        product = self.problem.shop.products[index]
        in_one_piece = any(line.amount_m for line in product.lines)
        runs = sum(1 for position in self.problem.choices.rig.every_position if position.kind == "hose")
        most = runs if in_one_piece else 1
        return most if product.stock is None else min(most, product.stock)

    def _bought(self, index: int, copy: int) -> pulp.LpVariable:
        key = (index, copy)
        if key not in self.bought:
            single = self._copies(index) > 1
            self.bought[key] = self.lp.add_variable(f"n{index}_{copy}", 0, 1 if single else None, pulp.LpInteger)
        return self.bought[key]

    def _stock(self) -> None:
        for index in {index for index, _ in self.bought}:
            product = self.problem.shop.products[index]
            if product.stock is not None:
                self.lp += pulp.lpSum(v for (i, _), v in self.bought.items() if i == index) <= product.stock

    def _suction(self) -> None:
        problem = self.problem
        margin = problem.choices.limits.inlet_head_m
        if math.isinf(margin):
            return
        pump = problem.pump
        first, last = problem.option_at[pump], problem.option_at[pump + 1]
        room = problem.depth_m - margin - problem.suction_quadratic * self.flow_m3s**2
        upstream = [self.option_loss[row] * v for row, v in self.option.items() if row < first]
        upstream += [self.joint_loss[row] * v for row, v in self.joint.items() if row < problem.joint_at[pump + 1]]
        spare = [room[row - first] * v for row, v in self.option.items() if first <= row < last]
        self.lp += pulp.lpSum(upstream) <= pulp.lpSum(spare)

    def loss(self) -> pulp.LpAffineExpression:
        options = [float(self.option_loss[row]) * v for row, v in self.option.items()]
        return pulp.lpSum(options + [float(self.joint_loss[row]) * v for row, v in self.joint.items()])

    def price(self) -> pulp.LpAffineExpression:
        problem = self.problem
        plain = [float(problem.option_plain[row]) * v for row, v in self.option.items()]
        plain += [float(problem.joint_plain[row]) * v for row, v in self.joint.items()]
        paid = [problem.shop.products[index].price * v for (index, _), v in self.bought.items()]
        return pulp.lpSum(plain + paid + self.extra)

    def solved(self) -> Checked:
        with silence():
            self.lp.solve(Haltable(msg=False, gapRel=0.0, gapAbs=0.0))
        word = pulp.LpStatus[self.lp.status]
        if word != "Optimal":
            return Checked(value=None, status=word)
        chosen = tuple(sorted(row for row, v in self.option.items() if (v.value() or 0.0) > 0.5))
        return Checked(value=float(pulp.value(self.lp.objective)), status=word, options=chosen)
