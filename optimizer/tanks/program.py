"""Which bundle for which tank: one mixed-integer program over what is listed and over what is only bounded.

A column stands for bundles of one tank. It is credited with a flow that none of them exceeds and is charged

* with its least shares: those of all tanks add up to at most the joint bill, whatever the bundles are (`signatures`);
* if it is listed, with its needs, which enter the joint bill (`shared_bill`). The bill of the listed ones alone is no more than
  the bill of all.

Both must be within the budget, and parts handed on, rooms, watts and the order of work hold for what columns surely keep, take,
make and draw. So the program is a relaxation: nothing that a real choice of bundles could do is missing from it.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pulp

from optimizer.model.catalog import Product
from optimizer.model.household import Household, waters
from optimizer.tanks.hand_me_downs import HandMeDown
from optimizer.tanks.highs import Haltable, silence
from optimizer.tanks.shared_bill import SharedBill, summed
from optimizer.tanks.signatures import Demand, Lane, Listed

Expression = Any  # PuLP has no types


@dataclass(slots=True, eq=False)
class Cell:
    """Bundles of a lane that deliver at least ``floor_m3s`` and less than ``roof_m3s``; all whose shares come to less than
    ``window`` are represented by those ``found``. ``least`` bounds the shares of any of them. ``stuck``: they cannot be
    listed."""

    lane: Lane
    floor_m3s: float
    roof_m3s: float
    least: float
    window: float
    found: list[Listed] = field(default_factory=list)
    tries: int = 0
    walked: bool = False
    stuck: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """Bundles of one tank: ``flow_m3s`` is credited. ``bundle`` None: nothing is known of them but the cell's bounds."""

    tank: int
    flow_m3s: float
    least: float
    bundle: Listed | None
    cell: Cell | None
    kept: frozenset[str]
    taken: tuple[tuple[str, float], ...]
    noise_dba: float
    power_w: float
    exact: bool = False
    is_there: bool = True

    @classmethod
    def absent(cls, tank: int) -> "Column":
        """A filter that is not there, and is not got."""
        return cls(tank, 0.0, 0.0, None, None, frozenset(), (), -math.inf, 0.0, True, False)

    @classmethod
    def of(cls, cell: "Cell", bundle: Listed, flow_m3s: float, exact: bool) -> "Column":
        """One listed bundle of a cell, credited with a flow; ``exact``: it is what the bundle delivers."""
        return cls(
            cell.lane.tank,
            flow_m3s,
            bundle.least,
            bundle,
            cell,
            bundle.kept,
            bundle.taken,
            bundle.noise_dba,
            bundle.power_w,
            exact,
        )


@dataclass(frozen=True, slots=True)
class Bought:
    """One purchase of a product for the needs listed, as (what it serves, how much)."""

    product: str
    line: int
    copies: int
    serves: tuple[tuple[Demand, float], ...]


@dataclass(frozen=True, slots=True)
class ProgramChoice:
    """One column per tank, the value they are credited with, the price they are charged (minor units) and what is bought."""

    columns: tuple[Column, ...]
    value: float
    price: float
    bought: tuple[Bought, ...]
    before: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class _Solved:
    """What the solver found: the value, the share of each column, and the bill."""

    worth: float
    shares: tuple[float, ...]
    bill: SharedBill


class Unsolved(Exception):
    """The solver gave up without saying that there is no choice."""


Value = Callable[[int, float], float]
"""What the delivered flow (m3/s) of a tank (by number, all its filters together) is worth to an aim."""


@dataclass(frozen=True, slots=True)
class AimStage:
    """One thing to make as large as possible: the sum of the ``worst`` smallest values (0: of all).

    The value of a tank rises in proportion to its flow up to ``full_m3s`` (tank by tank; infinite: without end) and stays as it
    is from there on.
    """

    value: Value
    full_m3s: tuple[float, ...]
    worst: int = 0

    def line(self, tank: int) -> tuple[float, float]:
        """What no flow is worth, and what each m3/s adds below the end."""
        end = min(self.full_m3s[tank], 1.0)
        start = self.value(tank, 0.0)
        return start, (self.value(tank, end) - start) / end if end > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class Held:
    """A stage that is done: its sum must not fall below ``at_least``, for real choices not by more than ``slack``."""

    stage: AimStage
    at_least: float
    slack: float = 0.0


@dataclass(slots=True)
class Program:
    """What of the program stays the same. ``tanks`` are filters by number, ``runs`` is how many runs of hose they have."""

    household: Household
    tanks: Sequence[int]
    products: Mapping[str, Product]
    handed: Mapping[str, HandMeDown]
    runs: int
    budget: int

    def solved(
        self, columns: Sequence[Column], stage: AimStage | None, held: Sequence[Held], whole: bool = False, gap: float = 0.0
    ) -> ProgramChoice | None:
        """The best choice for a stage (None: the cheapest), or None when there is none; ``whole``: with a bill that can be read.

        Raises Unsolved when the solver gives up, KeyboardInterrupt soon after Ctrl-C.
        """
        made = self._solved(columns, stage, held, whole, gap)
        if made is None:
            return None
        picked = sorted((n for n, share in enumerate(made.shares) if share > 0.5), key=lambda n: columns[n].tank)
        chosen = [columns[n] for n in picked]
        paid = float(pulp.value(made.bill.price)) + sum(column.bundle.plain for column in chosen if column.bundle)
        price = max(paid, sum(column.least for column in chosen))
        return ProgramChoice(tuple(chosen), made.worth, round(price, 6), _purchases(made.bill), self._befores(chosen))

    def _solved(
        self, columns: Sequence[Column], stage: AimStage | None, held: Sequence[Held], whole: bool, gap: float
    ) -> _Solved | None:
        lp = pulp.LpProblem("household", pulp.LpMinimize if stage is None else pulp.LpMaximize)
        taken = [lp.add_variable(f"x{n}", cat=pulp.LpBinary) for n in range(len(columns))]
        of_tank: dict[int, list[int]] = {number: [] for number in self.tanks}
        for n, column in enumerate(columns):
            of_tank[column.tank].append(n)
        if not all(of_tank.values()):
            return None
        price = lp.add_variable("price", 0, self.budget + 1e-4)
        goal = price if stage is None else self._worth(lp, stage, columns, taken, of_tank, "g")
        lp += goal
        for members in of_tank.values():
            lp += pulp.lpSum(taken[n] for n in members) == 1
        for number, each in enumerate(held):
            lp += self._worth(lp, each.stage, columns, taken, of_tank, f"h{number}") >= each.at_least
        bill = self._priced(lp, columns, taken, price, whole)
        self._handed_on(lp, columns, taken)
        self._noise_and_watts(lp, columns, taken)
        # with presolving, HiGHS 1.13 has called such programs infeasible that are not, and choices best that are not
        with silence():
            lp.solve(Haltable(msg=False, gapRel=gap, gapAbs=0.0, presolve="off"))
        word = pulp.LpStatus[lp.status]
        if word == "Infeasible":
            return None
        if word != "Optimal":
            raise Unsolved(word)
        return _Solved(float(pulp.value(lp.objective)), tuple(variable.value() or 0.0 for variable in taken), bill)

    def _worth(
        self,
        lp: pulp.LpProblem,
        stage: AimStage,
        columns: Sequence[Column],
        taken: Sequence[pulp.LpVariable],
        of_tank: Mapping[int, list[int]],
        name: str,
    ) -> Expression:
        """The sum of the k smallest values: k z less what each is short of z, for the best z (Ogryczak and Tamir 2003)."""
        values = {}
        for tank, members in enumerate(waters(self.household.tanks)):
            rows = [n for number in members for n in of_tank[number]]
            if len(members) == 1:
                values[tank] = pulp.lpSum(stage.value(tank, columns[n].flow_m3s) * taken[n] for n in rows)
            else:
                values[tank] = self._of_sum(lp, stage, tank, [(columns[n].flow_m3s, taken[n]) for n in rows], f"{name}v{tank}")
        if not stage.worst:
            return pulp.lpSum(values.values())
        level = lp.add_variable(f"{name}z", None, None)
        short = []
        for tank, value in values.items():
            below = lp.add_variable(f"{name}d{tank}", 0)
            lp += below >= level - value
            short.append(below)
        return stage.worst * level - pulp.lpSum(short)

    def _of_sum(
        self, lp: pulp.LpProblem, stage: AimStage, tank: int, flows: Sequence[tuple[float, pulp.LpVariable]], name: str
    ) -> Expression:
        """What the flows of several filters together are worth: a variable that no more is asked of than to be large, below both
        pieces of the value."""
        start, slope = stage.line(tank)
        rising = start + pulp.lpSum(slope * flow * variable for flow, variable in flows)
        if stage.full_m3s[tank] == float("inf"):
            return rising
        value = lp.add_variable(name, None, stage.value(tank, stage.full_m3s[tank]))
        lp += value <= rising
        return value

    def _priced(
        self, lp: pulp.LpProblem, columns: Sequence[Column], taken: Sequence[pulp.LpVariable], price: pulp.LpVariable, whole: bool
    ) -> SharedBill:
        listed = [(c.bundle, v) for c, v in zip(columns, taken, strict=True) if c.bundle is not None]
        demands = summed([(b.needs, v) for b, v in listed])
        bill = SharedBill(lp, self.products, demands, self.runs, float(self.budget), _most_pieces(columns), whole)
        lp += bill.price + pulp.lpSum(b.plain * v for b, v in listed) <= price
        lp += pulp.lpSum(c.least * v for c, v in zip(columns, taken, strict=True)) <= price
        return bill

    def _handed_on(self, lp: pulp.LpProblem, columns: Sequence[Column], taken: Sequence[pulp.LpVariable]) -> None:
        """A part goes to one place at most and only if it is freed, by a tank that is done before the one that takes it."""
        uses: dict[str, list[Expression]] = {}
        arrows: dict[tuple[int, int], list[pulp.LpVariable]] = {}
        for column, variable in zip(columns, taken, strict=True):
            for name, amount in column.taken:
                uses.setdefault(name, []).append(amount * variable)
            for owner in sorted({self.handed[name].owner for name, _ in column.taken}):
                arrows.setdefault((owner, column.tank), []).append(variable)
        for name, used in sorted(uses.items()):
            kept = [v for c, v in zip(columns, taken, strict=True) if name in c.kept]
            whole = self.handed[name].length_m or 1.0
            lp += pulp.lpSum(used) + whole * pulp.lpSum(kept) <= whole
        many = len(self.tanks)
        turn = {tank: lp.add_variable(f"t{tank}", 0, many - 1) for tank in self.tanks} if arrows else {}
        for (giver, taker), variables in sorted(arrows.items()):
            lp += turn[taker] >= turn[giver] + 1 - many * (1 - pulp.lpSum(variables))

    def _noise_and_watts(self, lp: pulp.LpProblem, columns: Sequence[Column], taken: Sequence[pulp.LpVariable]) -> None:
        pairs = list(zip(columns, taken, strict=True))
        for room in self.household.rooms:
            if room.noise_dba < float("inf"):
                inside = [(c, v) for c, v in pairs if self.household.tanks[c.tank].room == room.name]
                powers = [10.0 ** ((c.noise_dba - room.noise_dba) / 10.0) * v for c, v in inside if c.noise_dba > -300.0]
                lp += pulp.lpSum(powers) <= 1.0
        if self.household.power_w < float("inf"):
            lp += pulp.lpSum(c.power_w * v for c, v in pairs) <= self.household.power_w

    def _befores(self, chosen: Sequence[Column]) -> tuple[tuple[int, int], ...]:
        pairs = {(self.handed[name].owner, column.tank) for column in chosen for name, _ in column.taken}
        return tuple(sorted(pairs))


def _most_pieces(columns: Sequence[Column]) -> dict[Demand, float]:
    """The most that a choice of one column per tank can need of everything."""
    by_tank: dict[tuple[int, Demand], float] = {}
    for column in columns:
        for demand, count in column.bundle.needs if column.bundle is not None else ():
            by_tank[column.tank, demand] = max(count, by_tank.get((column.tank, demand), 0.0))
    most: dict[Demand, float] = {}
    for (_, demand), count in by_tank.items():
        most[demand] = most.get(demand, 0.0) + count
    return most


def _purchases(bill: SharedBill) -> tuple[Bought, ...]:
    """What is bought, copy by copy for coils, with what each line serves."""
    served: dict[tuple[str, int, int], list[tuple[Demand, float]]] = {}
    for (demand, name, line, copy), way in bill.served.items():
        amount = way.value() or 0.0
        if amount > 1e-6:
            served.setdefault((name, line, copy), []).append((demand, amount))
    found = []
    for (name, line, copy), uses in sorted(served.items(), key=lambda pair: pair[0]):
        variable = bill.bought.get((name, copy))
        first = min(number for (other, number, c) in served if (other, c) == (name, copy)) == line
        copies = 0 if variable is None or not first else round(variable.value() or 0.0)
        found.append(Bought(name, line, copies, tuple(uses)))
    return tuple(found)
