"""Which bundle for which tank: one mixed-integer program over bundles that are listed.

Every column is a bundle of one tank with the flow that it delivers and what it needs, which enters the joint bill
(`shared_bill`). Parts handed on, rooms, watts and the order of work are as they are. Solved in fractions it names prices of all
that the tanks share (`joint_prices`): its duals.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pulp

from optimizer.model.catalog import Product
from optimizer.model.household import Household, waters
from optimizer.tanks.hand_me_downs import HandMeDown
from optimizer.tanks.highs import Haltable, silence
from optimizer.tanks.joint_prices import Bounds, JointPrices
from optimizer.tanks.shared_bill import SharedBill, summed
from optimizer.tanks.signatures import MEDIUM_UNITS, Demand, Listed

Expression = Any  # PuLP has no types

WHOLE = 1e-3
"""A price this near to whole coins is one of whole coins: the solver's counts are whole to its own tolerance only."""


@dataclass(frozen=True, slots=True)
class Column:
    """One bundle of one filter; ``bundle`` None: it stays as it is. ``held``: something holds it to what it delivers."""

    tank: int
    flow_m3s: float
    bundle: Listed | None
    noise_dba: float
    power_w: float
    held: bool = True
    is_there: bool = True

    @property
    def kept(self) -> frozenset[str]:
        """Its own parts that it keeps from other tanks."""
        return frozenset() if self.bundle is None else self.bundle.kept

    @property
    def taken(self) -> tuple[tuple[str, float], ...]:
        """What it takes of theirs (id, and how much)."""
        return () if self.bundle is None else self.bundle.taken

    @classmethod
    def absent(cls, tank: int) -> "Column":
        """A filter that is not there, and is not got."""
        return cls(tank, 0.0, None, -math.inf, 0.0, is_there=False)

    @classmethod
    def of(cls, tank: int, bundle: Listed, flow_m3s: float, held: bool) -> "Column":
        """One listed bundle."""
        return cls(tank, flow_m3s, bundle, bundle.noise_dba, bundle.power_w, held)


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


Row = tuple[str, str, int]
"""What a bound of the program is about: ``line`` (id of the product, number of the line), ``handed`` (id), ``room`` (name) or
``watts``."""


@dataclass(frozen=True, slots=True)
class _Model:
    """The program as PuLP has it: variables of the columns, the bill, and the rows of what is shared."""

    lp: pulp.LpProblem
    taken: Sequence[pulp.LpVariable]
    bill: SharedBill
    rows: Mapping[Row, Sequence[pulp.LpConstraint]]

    def solve(self, whole: bool) -> bool:
        """False when there is no choice. Raises Unsolved when the solver gives up."""
        # with presolving, HiGHS 1.13 has called such programs infeasible that are not, and choices best that are not
        with silence():
            self.lp.solve(Haltable(msg=False, gapRel=0.0, gapAbs=0.0, presolve="off", mip=whole))
        word = pulp.LpStatus[self.lp.status]
        if word not in ("Optimal", "Infeasible"):
            raise Unsolved(word)
        return bool(word == "Optimal")


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
    bounds: Bounds

    def solved(
        self, columns: Sequence[Column], stage: AimStage | None, held: Sequence[Held], whole: bool = False
    ) -> ProgramChoice | None:
        """The best choice for a stage (None: the cheapest), or None when there is none; ``whole``: with a bill that can be read.

        Raises Unsolved when the solver gives up, KeyboardInterrupt soon after Ctrl-C.
        """
        made = self._made(columns, stage, held, float(self.budget), whole)
        if made is None or not made.solve(whole=True):
            return None
        shares = [variable.value() or 0.0 for variable in made.taken]
        picked = sorted((n for n, share in enumerate(shares) if share > 0.5), key=lambda n: columns[n].tank)
        chosen = [columns[n] for n in picked]
        paid = float(pulp.value(made.bill.price)) + sum(column.bundle.plain for column in chosen if column.bundle)
        worth = float(pulp.value(made.lp.objective))
        coins = round(paid) if abs(paid - round(paid)) < WHOLE else paid
        return ProgramChoice(tuple(chosen), worth, float(coins), _purchases(made.bill), self._befores(chosen))

    def prices(self, columns: Sequence[Column]) -> tuple[JointPrices, float] | None:
        """Prices of what is shared: the duals of the cheapest mixture of some columns, and what that costs; None when there is no
        mixture, whatever it costs. Raises as `solved` does."""
        made = self._made(columns, None, (), None, False)
        if made is None or not made.solve(whole=False):
            return None
        found: dict[str, dict[tuple[str, int], float]] = {"line": {}, "handed": {}, "room": {}, "watts": {}}
        for (sort, name, number), rows in made.rows.items():
            found[sort][name, number] = max(-(row.pi or 0.0) for row in rows)
        line = {
            (name, n): dual * (MEDIUM_UNITS if self.products[name].lines[n].amount_m3 else 1.0)
            for (name, n), dual in found["line"].items()
        }
        handed, room = ({name: dual for (name, _), dual in found[sort].items()} for sort in ("handed", "room"))
        watt = found["watts"].get(("", 0), 0.0)
        return JointPrices.of(self.bounds, line, handed, room, watt), float(pulp.value(made.lp.objective))

    def _made(
        self, columns: Sequence[Column], stage: AimStage | None, held: Sequence[Held], budget: float | None, whole: bool
    ) -> _Model | None:
        """The program for a stage; without a ``budget`` it is one in fractions, and the price is without end."""
        lp = pulp.LpProblem("household", pulp.LpMinimize if stage is None else pulp.LpMaximize)
        sort = pulp.LpContinuous if budget is None else pulp.LpBinary
        taken = [lp.add_variable(f"x{n}", 0, 1, sort) for n in range(len(columns))]
        of_tank: dict[int, list[int]] = {number: [] for number in self.tanks}
        for n, column in enumerate(columns):
            of_tank[column.tank].append(n)
        if not all(of_tank.values()):
            return None
        price = lp.add_variable("price", 0, None if budget is None else budget + 1e-4)
        lp += price if stage is None else self._worth(lp, stage, columns, taken, of_tank, "g")
        for members in of_tank.values():
            lp += pulp.lpSum(taken[n] for n in members) == 1
        for number, each in enumerate(held):
            lp += self._worth(lp, each.stage, columns, taken, of_tank, f"h{number}") >= each.at_least
        rows: dict[Row, list[pulp.LpConstraint]] = {}
        bill = self._priced(lp, columns, taken, price, whole, budget is None, rows)
        self._handed_on(lp, columns, taken, rows)
        self._noise_and_watts(lp, columns, taken, rows)
        return _Model(lp, taken, bill, rows)

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
        self,
        lp: pulp.LpProblem,
        columns: Sequence[Column],
        taken: Sequence[pulp.LpVariable],
        price: pulp.LpVariable,
        whole: bool,
        fractions: bool,
        rows: dict[Row, list[pulp.LpConstraint]],
    ) -> SharedBill:
        listed = [(c.bundle, v) for c, v in zip(columns, taken, strict=True) if c.bundle is not None]
        demands = summed([(b.needs, v) for b, v in listed])
        bill = SharedBill(
            lp, self.products, demands, self.runs, float(self.budget), _most_pieces(columns), self.bounds, whole, fractions
        )
        lp += bill.price + pulp.lpSum(b.plain * v for b, v in listed) <= price
        for (name, line, _), row in bill.rows.items():
            rows.setdefault(("line", name, line), []).append(row)
        return bill

    def _handed_on(
        self,
        lp: pulp.LpProblem,
        columns: Sequence[Column],
        taken: Sequence[pulp.LpVariable],
        rows: dict[Row, list[pulp.LpConstraint]],
    ) -> None:
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
            whole = self.bounds.whole(name)
            rows["handed", name, 0] = [pulp.lpSum(used) + whole * pulp.lpSum(kept) <= whole]
            lp += rows["handed", name, 0][0]
        many = len(self.tanks)
        turn = {tank: lp.add_variable(f"t{tank}", 0, many - 1) for tank in self.tanks} if arrows else {}
        for (giver, taker), variables in sorted(arrows.items()):
            lp += turn[taker] >= turn[giver] + 1 - many * (1 - pulp.lpSum(variables))

    def _noise_and_watts(
        self,
        lp: pulp.LpProblem,
        columns: Sequence[Column],
        taken: Sequence[pulp.LpVariable],
        rows: dict[Row, list[pulp.LpConstraint]],
    ) -> None:
        pairs = list(zip(columns, taken, strict=True))
        for room in self.household.rooms:
            if room.noise_dba < float("inf"):
                inside = [(c, v) for c, v in pairs if self.household.tanks[c.tank].room == room.name]
                rows["room", room.name, 0] = [
                    pulp.lpSum(self.bounds.loudness(room.name, c.noise_dba) * v for c, v in inside) <= 1.0
                ]
                lp += rows["room", room.name, 0][0]
        if self.household.power_w < float("inf"):
            rows["watts", "", 0] = [pulp.lpSum(c.power_w * v for c, v in pairs) <= self.household.power_w]
            lp += rows["watts", "", 0][0]

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
