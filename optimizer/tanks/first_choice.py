"""A real choice for a household early, from what each tank does best alone.

Every tank is asked what it does best with all the money, with half of it, a quarter and so on, without parts of the others; a
program over these bundles alone finds the best choice among them. Then, tank by tank and the worst off first, the money that is
left is offered to one tank while the others stay as chosen, now with the parts that they free. So no money is left where one
tank could make use of it. Nothing here is proved: it is what Ctrl-C finds, and what the search must beat.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from optimizer.model.household import waters
from optimizer.search.best import RESOLUTION_M3S, Found
from optimizer.tanks.program import AimStage, Cell, Column, Held, Program, ProgramChoice, Unsolved
from optimizer.tanks.signatures import Mask, Side

PARTS = (1, 2, 4, 8)
"""All the money, half of it, and so on."""

MOST_OFFERS = 4
"""So often what is left is offered to all tanks in turn."""

ENDLESS_M3S = 1.0
"""More than any tank wants."""

Known = tuple[int, tuple[int, ...], tuple[int, ...]]


@dataclass(slots=True)
class FirstChoice:
    """Bundles that are known to be real, as cells of their own, and the best choice among them."""

    program: Program
    sides: Sequence[Side]
    fixed: Sequence[Column]
    cells: dict[Known, Cell] = field(default_factory=dict)
    given: int = 0

    def choices(self, stages: Sequence[AimStage], close: float) -> Iterator[ProgramChoice]:
        """The best choice for an aim that is known, then better ones."""
        if not self.cells:
            for side in self.sides:
                self._alone(side)
        best = self._best(stages, close)
        for _ in range(MOST_OFFERS):
            if best is None:
                return
            yield best
            if not self._offered(best, stages[-1]):
                return
            best = self._best(stages, close)

    def new_cells(self) -> list[Cell]:
        """Cells that were not handed out before."""
        found = list(self.cells.values())[self.given :]
        self.given = len(self.cells)
        return found

    # -- one tank --------------------------------------------------------------------------------------------------

    def _alone(self, side: Side) -> None:
        """What a tank does best alone with parts of the money, and what it must spend."""
        mask = side.without(side.others)
        spent = math.inf
        for part in PARTS:
            budget = self.program.budget // part
            if spent <= budget:
                continue
            found = self._most(side, mask, budget)
            if found is None:
                break
            spent = found.bundle.price
        self._add(side, side.asked(mask, 0).most_flow().found)
        self._add(side, side.asked(mask, self.program.budget).least_price(0.0).found)

    def _most(self, side: Side, mask: Mask, budget: int) -> Found | None:
        """The most that a tank does with some money, and the cheapest way to its target where that is in reach."""
        found = self._add(side, side.asked(mask, budget).most_flow().found)
        target = side.tank.target_m3s
        if found is not None and found.flow_m3s > target + RESOLUTION_M3S:
            self._add(side, side.asked(mask, budget).least_price(target).found)
        return found

    def _add(self, side: Side, found: Found | None) -> Found | None:
        """Take in what a search found. Raises KeyboardInterrupt where Ctrl-C ended it."""
        side.hear()
        if found is None:
            return None
        bundle = side.seen(found.bundle.path)
        known = (side.number, bundle.path.options, bundle.path.joints)
        flow = side.flow_m3s(bundle)
        if known not in self.cells and flow >= 0.0:
            lane = next(lane for lane in side.lanes if lane.mask[list(bundle.path.options)].all())
            self.cells[known] = Cell(lane, flow, flow, bundle.least, math.inf, [bundle], stuck=True)
        return found

    # -- all of them -----------------------------------------------------------------------------------------------

    def columns(self) -> list[Column]:
        """All that is known to be real."""
        return [*self.fixed, *(Column.of(cell, cell.found[0], cell.roof_m3s, True) for cell in self.cells.values())]

    def _best(self, stages: Sequence[AimStage], close: float) -> ProgramChoice | None:
        """The best choice among what is known, and of the best the cheapest."""
        held: list[Held] = []
        chosen = None
        columns = self.columns()
        for stage in (*stages, None):
            try:
                found = self.program.solved(columns, stage, held)
            except Unsolved:
                return chosen
            if found is None:
                return chosen
            chosen = found
            if stage is not None:
                held.append(Held(stage, found.value - close, 0.0))
        return chosen

    def _offered(self, best: ProgramChoice, stage: AimStage) -> bool:
        """Offer what is left to each tank in turn; True when one of them does more with it."""
        sides = {side.number: side for side in self.sides}
        before = len(self.cells)
        together = waters(self.program.household.tanks)
        tank_of = {number: tank for tank, members in enumerate(together) for number in members}
        flows = [sum(column.flow_m3s for column in best.columns if tank_of[column.tank] == tank) for tank in range(len(together))]
        for column in sorted(best.columns, key=lambda c: stage.value(tank_of[c.tank], flows[tank_of[c.tank]])):
            side, tank = sides.get(column.tank), tank_of[column.tank]
            if side is None or stage.value(tank, flows[tank]) >= stage.value(tank, ENDLESS_M3S):
                continue
            rest = [other for other in best.columns if other is not column]
            paid = self.program.solved([*rest, _nothing(column.tank)], None, ())
            if paid is None:
                continue
            money = math.floor(self.program.budget - paid.price + 1e-6)
            spare = math.floor(self.program.budget - best.price + 1e-6)
            mask = self._mask(side, rest)
            for budget in sorted({money, money - spare // 2}):
                self._most(side, mask, budget)
        return len(self.cells) > before

    def _mask(self, side: Side, rest: Sequence[Column]) -> Mask:
        """What a tank may use while the others stay as chosen: it takes only what they free and nobody else takes, from none that
        waits for it, and gives up what they take."""
        taken = {name for column in rest for name, _ in column.taken}
        busy = taken.union(*(column.kept for column in rest))
        waiting = {column.tank for column in rest if any(name in side.own for name, _ in column.taken)}
        barred = {name for name in side.others if name in busy or self.program.handed[name].owner in waiting}
        return side.without(barred | (taken & side.own))


def _nothing(tank: int) -> Column:
    """A tank that is not there: what the others pay without it."""
    return Column(tank, 0.0, 0.0, None, None, frozenset(), (), -math.inf, 0.0, True)
