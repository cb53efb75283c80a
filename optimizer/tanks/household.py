"""Who gets what: the best choice of bundles for all tanks of a household, and why it is best.

The flows that a tank could deliver are cut into cells, lane by lane (`signatures.Lane`). A program (`program`) chooses one
column per tank, each credited with the flow at the upper edge of its cell. It is a relaxation, so its value is a bound. Where
what it chose is no more than a bound, that place is looked at closer, and the program is asked again:

* a cell that is wide for the aim is cut into narrow ones;
* of a narrow one the bundles are listed, those with the least shares first, up to what could still be paid (the window);
* a listed bundle that delivers less than it is credited with splits its cell at what it delivers. Bundles above that are not
  represented by it any more.

When all that is chosen is listed and delivers what it is credited with (to the resolution of flows), it is a real choice whose
value equals the bound: nothing else can do better. In a cell every bundle is represented by a listed one with the same needs of
shared things, no higher price apart from them and at least the flow at the lower edge; so a cell is complete up to its window,
and what is beyond the window is charged with it. Nothing is left out for any other reason. A cell that cannot be listed within
bounds is marked, and the answer then says that it was stopped, and its gap.

Before any of this there is a real choice, from what each tank does best alone with parts of the money (`first_choice`), so that
Ctrl-C finds one; it only gets better. Of choices whose sums are within the resolution of what is proved the cheapest is taken.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from optimizer.model.household import waters
from optimizer.search.best import RESOLUTION_M3S
from optimizer.tanks.dominated import Replacer
from optimizer.tanks.first_choice import FirstChoice
from optimizer.tanks.program import AimStage, Cell, Column, Held, Program, ProgramChoice, Unsolved
from optimizer.tanks.signatures import Lane, Listed, Side, TooMany

WIDE = 0.03
"""A cell that is wider than this share of a tank's target is cut before anything in it is listed."""

MOST_PARTS = 40

MOST_WORK = 60_000
"""So many columns, added up over all times that the program is asked for one aim, before the answer is called stopped: some
minutes.
"""

ROUGH = 0.02
"""A choice this close to the best is good enough to say where to look closer; only what nothing is left to see of is asked
exactly."""

FIRST_STEP = 100.0
"""Minor units above the least shares up to which bundles are listed first; twice as much each time after."""

JUST_ABOVE = 1.0 + 1e-9

SEEN = 0.01
"""A bundle that delivers what it is credited with to this share of the resolution of flows is a real choice."""

PROVED_TO = 0.25
"""So much of the resolution of an aim may be left between a proved value and its bound; the rest is for what costs less."""

Progress = Callable[[int, float | None], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What is wanted: stages one after the other, each as large as can be without taking from those before it; then the least
    price. ``close`` is a difference of values that does not count."""

    name: str
    stages: tuple[AimStage, ...]
    close: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """What is known of the answer for one aim: the choice (None: there is none), what each tank delivers (m3/s), and the values
    of the stages with what they could still come to."""

    aim: str
    chosen: ProgramChoice | None
    flows_m3s: tuple[float, ...]
    status: str
    values: tuple[float, ...] = ()
    bounds: tuple[float, ...] = ()


@dataclass(slots=True)
class _Best:
    """The best real choice for a stage so far."""

    chosen: ProgramChoice
    flows_m3s: tuple[float, ...]
    value: float


@dataclass(slots=True)
class Sharing:
    """The search over one household. ``fixed`` are columns of tanks that get nothing. Cells and lists serve all aims.
    ``halted``: Ctrl-C was pressed."""

    program: Program
    sides: Sequence[Side]
    fixed: Sequence[Column]
    progress: Progress = field(default=lambda *_: None)
    cells: list[Cell] = field(default_factory=list)
    turns: int = 0
    work: int = 0
    halted: bool = False
    _bound: float = math.inf
    _latest: "_Best | None" = None
    _first: FirstChoice = field(init=False)
    _flows: dict[tuple[int, tuple[int, ...], tuple[int, ...]], float] = field(default_factory=dict)
    _by_number: dict[int, Side] = field(default_factory=dict)
    _waters: tuple[tuple[int, ...], ...] = ()
    _tank_of: dict[int, int] = field(default_factory=dict)
    _replacers: dict[int, Replacer] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._by_number = {side.number: side for side in self.sides}
        self._replacers = {side.number: Replacer(side) for side in self.sides}
        self._waters = waters(self.program.household.tanks)
        self._tank_of = {number: tank for tank, members in enumerate(self._waters) for number in members}
        self._first = FirstChoice(self.program, self.sides, self.fixed)
        for side in self.sides:
            edges = sorted({side.floor_m3s(), *side.edges_m3s(), max(side.tank.target_m3s, side.floor_m3s())})
            top = side.seeker.with_budget(self.program.budget).bound() * (1 + 1e-6)
            for lane in side.lanes:
                for floor, roof in zip(edges, [*edges[1:], max(top, edges[-1] * JUST_ABOVE)], strict=True):
                    self._open(side, lane, floor, roof)

    def _open(self, side: Side, lane: Lane, floor_m3s: float, roof_m3s: float) -> Cell | None:
        """Add a cell, unless nothing in it can be paid."""
        least = side.least(lane.mask, floor_m3s)
        if least is None or least > self.program.budget:
            return None
        self.cells.append(Cell(lane, floor_m3s, roof_m3s, least, least))
        return self.cells[-1]

    # -- columns ---------------------------------------------------------------------------------------------------

    def columns(self, safe: bool = False) -> list[Column]:
        """Everything the program may choose from. ``safe``: only what is listed, credited with no more than it surely
        delivers."""
        found = list(self.fixed)
        for side in self.sides:
            listed = [
                self._listed(cell, bundle, safe) for cell in self.cells if cell.lane.tank == side.number for bundle in cell.found
            ]
            found += self._needed(side, [column for column in listed if column.flow_m3s >= 0.0])
        if not safe:
            found += [_unlisted(cell) for cell in self.cells if cell.window <= self.program.budget]
        cheapest = {number: min((c.least for c in found if c.tank == number), default=0.0) for number in self.program.tanks}
        room = self.program.budget - sum(cheapest.values()) + 1e-6
        return [column for column in found if column.least - cheapest[column.tank] <= room]

    def _needed(self, side: Side, columns: list[Column]) -> list[Column]:
        """Columns of one tank less those that another one replaces."""
        bundles = [column.bundle for column in columns if column.bundle is not None]
        credit = np.array([column.flow_m3s for column in columns], dtype=float)
        return [replace(columns[row], least=least) for row, least in self._replacers[side.number].unbeaten_rows(bundles, credit)]

    def _listed(self, cell: Cell, bundle: Listed, safe: bool) -> Column:
        known = self._delivers(cell.lane.tank, bundle) if safe else self._flows.get(_key(cell.lane.tank, bundle))
        exact = known is not None and known >= cell.roof_m3s
        flow = known if known is not None and (exact or safe) else (cell.floor_m3s if safe else cell.roof_m3s)
        return Column.of(cell, bundle, flow, exact)

    def flow_m3s(self, column: Column) -> float:
        """What a listed bundle delivers; below zero when nothing holds it under a ceiling."""
        if column.bundle is None or column.cell is None:
            return column.flow_m3s
        return self._delivers(column.tank, column.bundle)

    def _delivers(self, tank: int, bundle: Listed) -> float:
        if _key(tank, bundle) not in self._flows:
            self._flows[_key(tank, bundle)] = self._by_number[tank].flow_m3s(bundle)
        return self._flows[_key(tank, bundle)]

    # -- the search ------------------------------------------------------------------------------------------------

    def answer(self, aim: Aim) -> Shared:
        """The best choice for an aim. Ctrl-C ends the search with the best so far."""
        self.work = 0
        held: list[Held] = []
        values: list[float] = []
        bounds: list[float] = []
        best: _Best | None = None
        proved = True
        for stage in (*aim.stages, None):
            self._bound = math.inf if stage is None else self._most(stage)
            try:
                if not held:
                    best = self._begun(aim)
                best, bound, done = self._climbed(stage, held, aim.close, best)
            except KeyboardInterrupt:
                self.halted = True
                best, bound, done = self._latest if self._latest is not None else best, self._bound, False
            proved = proved and done
            if best is None:
                return Shared(aim=aim.name, chosen=None, flows_m3s=(), status="proved" if proved else "stopped")
            if stage is not None:
                value = self._value(stage, best.flows_m3s)
                values.append(value)
                bounds.append(max(value, bound))
                least = max(value, bound) - aim.close if done else value - (1 - PROVED_TO) * aim.close
                held.append(Held(stage, least, PROVED_TO * aim.close))
            if self.halted:
                break
        if best is None:
            raise RuntimeError("a household without stages")
        return Shared(
            aim=aim.name,
            chosen=self._billed(best.chosen),
            flows_m3s=best.flows_m3s,
            status="proved" if proved else "stopped",
            values=tuple(values),
            bounds=tuple(bounds),
        )

    def _billed(self, chosen: ProgramChoice) -> ProgramChoice:
        """A choice with its least price and a bill that can be read. Not all that is chosen has one: a stage that asks for flow
        does not mind the price."""
        try:
            return self.program.solved(chosen.columns, None, (), whole=True) or chosen
        except KeyboardInterrupt:
            self.halted = True
            return self.program.solved(chosen.columns, None, (), whole=True) or chosen

    def _begun(self, aim: Aim) -> _Best | None:
        """A real choice to begin with. It and all it was made of are among the columns from now on."""
        self._latest = None
        for chosen in self._first.choices(aim.stages, aim.close):
            self._tick()
            self._latest = _Best(chosen, tuple(self.flow_m3s(column) for column in chosen.columns), -math.inf)
        self.cells += self._first.new_cells()
        return self._latest

    def _most(self, stage: AimStage) -> float:
        """What a stage could come to if every tank had all the money."""
        roofs = {column.tank: column.flow_m3s for column in self.fixed}
        for cell in self.cells:
            roofs[cell.lane.tank] = max(cell.roof_m3s, roofs.get(cell.lane.tank, 0.0))
        return self._value(stage, [roofs.get(number, 0.0) for number in sorted(self.program.tanks)])

    def _climbed(
        self, stage: AimStage | None, held: Sequence[Held], close: float, best: _Best | None
    ) -> tuple[_Best | None, float, bool]:
        """The best choice for a stage (None: the least price), a bound on its value, and whether nothing better is left."""
        if best is not None:
            best = _Best(best.chosen, best.flows_m3s, self._worth(stage, best.chosen, best.flows_m3s))
        near = PROVED_TO * close if stage is not None else 0.5
        if stage is not None and best is not None and self._bound <= best.value + near:
            return best, self._bound, True
        while self.work < MOST_WORK:
            self._tick()
            self._latest = best
            columns = self.columns()
            self.work += len(columns)
            try:
                rough = self.program.solved(columns, stage, held, gap=ROUGH)
                if rough is not None:
                    best = self._latest = self._better(stage, held, rough, best)
                    if self._closer_all(rough.columns, stage, held, best):
                        continue
                chosen = self.program.solved(columns, stage, held)
            except Unsolved:
                break
            if chosen is None:
                # a choice that is known shows that there is one: then the solver is not to be trusted
                return best, self._bound, best is None
            self._bound = min(self._bound, chosen.value if stage is not None else -chosen.price)
            best = self._latest = self._better(stage, held, chosen, best)
            if best is not None and self._bound <= best.value + near:
                return best, self._bound, True
            if not self._closer_all(chosen.columns, stage, held, best):
                break
        return self._ended(stage, held, near, best)

    def _ended(
        self, stage: AimStage | None, held: Sequence[Held], near: float, best: _Best | None
    ) -> tuple[_Best | None, float, bool]:
        """The best of what is known where the search ends without a proof, and whether it is the best after all."""
        try:
            last = self.program.solved(self.columns(), stage, held)
            if last is not None:
                self._bound = min(self._bound, last.value if stage is not None else -last.price)
            chosen = self.program.solved(self.columns(safe=True), stage, held)
        except Unsolved:
            chosen = None
        if chosen is not None:
            best = self._latest = self._better(stage, held, chosen, best)
        return best, self._bound, best is not None and self._bound <= best.value + near

    def _tick(self) -> None:
        self.turns += 1
        self.progress(self.turns, None)

    def _closer_all(self, columns: Sequence[Column], stage: AimStage | None, held: Sequence[Held], best: _Best | None) -> bool:
        """Look closer at all columns; False when there is nothing to see at any."""
        money = float(self.program.budget) if stage is not None or best is None else -best.value
        spare = money - sum(column.least for column in columns)
        aim = stage or (held[-1].stage if held else None)
        seen = [self._closer(column, spare, aim) for column in columns]
        return any(seen)

    def _better(self, stage: AimStage | None, held: Sequence[Held], chosen: ProgramChoice, best: _Best | None) -> _Best | None:
        """What was chosen, where it is a real choice that beats the best so far."""
        if any(column.bundle is None and column.cell is not None for column in chosen.columns):
            return best
        flows = tuple(self.flow_m3s(column) for column in chosen.columns)
        if any(flow < 0.0 for flow in flows) or any(self._value(each.stage, flows) < each.at_least - each.slack for each in held):
            return best
        value = self._worth(stage, chosen, flows)
        return _Best(chosen, flows, value) if best is None or value > best.value else best

    def _worth(self, stage: AimStage | None, chosen: ProgramChoice, flows: Sequence[float]) -> float:
        return -chosen.price if stage is None else self._value(stage, flows)

    def _value(self, stage: AimStage, flows: Sequence[float]) -> float:
        """What flows are worth, in order of the filters."""
        values = sorted(stage.value(tank, sum(flows[n] for n in members)) for tank, members in enumerate(self._waters))
        return sum(values[: stage.worst or len(values)])

    # -- looking closer --------------------------------------------------------------------------------------------

    def _closer(self, column: Column, spare: float, stage: AimStage | None) -> bool:
        """Look closer at what a column stands for; False when there is nothing to see. ``spare`` is the money that the choice
        leaves."""
        cell = column.cell
        if cell is None or column.exact:
            return False
        side = self._by_number[column.tank]
        if column.bundle is None:
            return self._into(side, cell, spare, stage)
        flow = self.flow_m3s(column)
        if flow < 0.0:
            return self._walk(side, cell)
        if flow >= cell.roof_m3s or flow >= cell.roof_m3s - SEEN * RESOLUTION_M3S:
            return flow >= cell.roof_m3s
        if self._parted(side, cell, stage):
            return True
        above = self._split(side, cell, max(flow, cell.floor_m3s) * JUST_ABOVE)
        if above is not None and above.least < cell.window:
            self._list(side, above, cell.window)
        return True

    def _into(self, side: Side, cell: Cell, spare: float, stage: AimStage | None) -> bool:
        """Cut a wide cell that nobody has looked into, or list it further."""
        if cell.stuck:
            return False
        if self._parted(side, cell, stage):
            return True
        step = FIRST_STEP * 2.0**cell.tries
        return self._list(side, cell, min(cell.window + step, cell.window + max(spare, 0.0) + 2.0))

    def _list(self, side: Side, cell: Cell, window: float) -> bool:
        """List a cell up to a window; False when that would be too long."""
        try:
            listing = side.walked if cell.walked else side.listed
            cell.found = self._replacers[side.number].unbeaten(listing(cell.lane.mask, cell.floor_m3s, window))
            cell.window, cell.tries = window + 1e-6, cell.tries + 1
        except TooMany:
            cell.stuck = True
            return False
        return True

    def _parted(self, side: Side, cell: Cell, stage: AimStage | None) -> bool:
        """Cut a cell that is wide for this stage, listed for another one or not; False when it is not wide."""
        parts = 1 if stage is None else self._parts(side, cell, stage)
        if parts > 1:
            self._part(side, cell, parts)
        return parts > 1

    def _parts(self, side: Side, cell: Cell, stage: AimStage) -> int:
        """Into how many parts a cell should be cut, by what lies between the worth of its edges."""
        tank = self._tank_of[side.number]
        whole = stage.value(tank, side.tank.target_m3s) - stage.value(tank, 0.0)
        between = stage.value(tank, cell.roof_m3s) - stage.value(tank, cell.floor_m3s)
        return min(MOST_PARTS, math.ceil(between / (WIDE * whole)))

    def _walk(self, side: Side, cell: Cell) -> bool:
        """List a cell anew, so that nothing stands behind a bundle that no throttle holds to its ceiling."""
        if cell.walked:
            return False
        try:
            cell.found = self._replacers[side.number].unbeaten(side.walked(cell.lane.mask, cell.floor_m3s, cell.window))
            cell.walked = True
        except TooMany:
            cell.stuck = True
            return False
        return True

    def _part(self, side: Side, cell: Cell, parts: int) -> None:
        """Cut a cell into equal parts; what is listed stays with the lowest."""
        step = (cell.roof_m3s - cell.floor_m3s) / parts
        edges = [cell.floor_m3s + step * n for n in range(1, parts)]
        for floor, roof in zip(edges, [*edges[1:], cell.roof_m3s], strict=True):
            self._open(side, cell.lane, floor, roof)
        cell.roof_m3s = edges[0]

    def _split(self, side: Side, cell: Cell, at_m3s: float) -> Cell | None:
        """Part a cell in two; what is listed stays with the lower part. Returns the upper part, where anything in it can be
        paid."""
        at = min(at_m3s, cell.roof_m3s)
        above = self._open(side, cell.lane, at, cell.roof_m3s)
        cell.roof_m3s = at
        return above


def _key(tank: int, bundle: Listed) -> tuple[int, tuple[int, ...], tuple[int, ...]]:
    return tank, bundle.path.options, bundle.path.joints


def _unlisted(cell: Cell) -> Column:
    """What is known of the bundles of a cell that are not listed."""
    lane = cell.lane
    return Column(lane.tank, cell.roof_m3s, cell.window, None, cell, lane.kept, lane.taken, lane.noise_dba, lane.power_w)
