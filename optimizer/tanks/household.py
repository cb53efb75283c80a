"""Who gets what: the best choice of bundles for all tanks of a household, and why it is best.

Every tank has a relaxed front at prices that hold for all tanks together (`joint_prices`, `side_fronts`). Over these fronts it is
known what no choice exceeds, and how much a bundle of a tank may be charged to be part of one that is worth as much as is asked
for (`money_split`). So the search goes like this:

* a real choice is made early, from what each tank does alone, and all that becomes known is real or a bound from then on;
* the duals of a program in fractions over the bundles known so far give better prices, and these better bundles, a few times;
* it is guessed what can be had: as much as the fronts would give for a little less money. All bundles that could be part of
  such a choice are listed, and a program chooses among them. If what it finds is worth the guess, nothing else can do
  better, for that would be made of listed bundles too. Else nothing is worth as much, and the guess is lowered, at last to what
  is known already.

A listed bundle that nothing holds to what it delivers stands for those that it replaces. If it is chosen, those are listed for
that tank instead (`SideFronts.held`). Of choices whose worth is within the resolution of the best the cheapest is taken.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np
from numpy.typing import NDArray

from optimizer.model.household import waters
from optimizer.search.columns import Columns
from optimizer.tanks.claims import Claims, Handed, Way
from optimizer.tanks.joint_prices import JointPrices
from optimizer.tanks.money_split import MoneySplit, Stairs, Target, levels_above
from optimizer.tanks.needed_columns import needed
from optimizer.tanks.program import AimStage, Column, Held, Program, ProgramChoice, Unsolved
from optimizer.tanks.side_fronts import Asked, Front, SideFronts, TooMany
from optimizer.tanks.signatures import Side

PRICED = 6
"""So often, at most, prices are made anew."""

NEAR, STRIDE = 30.0, 0.7
"""Minor units between what the fronts charge and the best that any prices can charge that are good enough; and how far prices go
towards new ones: duals of bundles known so far reach too far."""

FIRST_WINDOW, WIDER = 60.0, 3.0
"""Minor units below all the money at which it is first guessed what can be had, and how many times as much each time after."""

MOST_WORK = 200_000
"""So many columns, added up over all programs for one aim, before the answer is called stopped."""

ALIKE = 1e-9
"""Flows that differ by so small a share are the same."""

LEAST_SAVING = 0.5
"""Prices are whole minor units."""

PROVED_TO = 0.25
"""So much of the resolution of an aim may be left between a proved value and its bound; the rest is for what costs less."""

FIRST_COLUMNS = 10
"""So many bundles of each tank are looked at for a first choice."""

Progress = Callable[[int, float | None], None]
Between = Callable[[float, float], None]
"""Told what the best so far is worth and what nothing exceeds, both of the first stage."""

Chooser = Callable[[Sequence[Column]], "_Best | None"]
Known = tuple[int, tuple[int, ...], tuple[int, ...]]


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
class Sharing:
    """The search over one household. ``fixed`` are columns of filters that may stay as they are. What is known of bundles serves
    all aims. ``halted``: Ctrl-C was pressed."""

    program: Program
    sides: Sequence[Side]
    fixed: Sequence[Column]
    progress: Progress = field(default=lambda *_: None)
    between: Between = field(default=lambda *_: None)
    turns: int = 0
    halted: bool = False
    known: dict[Known, Column] = field(default_factory=dict)
    handed: dict[int, Handed] = field(init=False)

    def __post_init__(self) -> None:
        self.handed = {side.number: Handed.of(side) for side in self.sides}

    @property
    def waters(self) -> tuple[tuple[int, ...], ...]:
        """The filters of each tank by number."""
        return waters(self.program.household.tanks)

    def answer(self, aim: Aim) -> Shared:
        """The best choice for an aim. Ctrl-C ends the search with the best so far."""
        search = _Search(self, aim)
        try:
            search.run()
        except KeyboardInterrupt:
            self.halted = True
        try:
            return search.told()
        except KeyboardInterrupt:
            self.halted = True
            return search.told()

    def tick(self) -> None:
        """Say that something was done."""
        self.turns += 1
        self.progress(self.turns, None)

    def put(self, columns: Sequence[Column]) -> None:
        """Take in bundles that have become known."""
        for column in columns:
            if column.bundle is not None:
                self.known[column.tank, column.bundle.path.options, column.bundle.path.joints] = column

    def columns(self) -> list[Column]:
        """All that is known."""
        return [*self.fixed, *self.known.values()]


@dataclass(slots=True)
class _Best:
    """The best real choice so far, and its levels: what each tank has of the first stage's value."""

    chosen: ProgramChoice
    flows_m3s: tuple[float, ...]
    worth: tuple[float, ...]


@dataclass(slots=True)
class _Search:
    """The search for one aim."""

    sharing: Sharing
    aim: Aim
    best: _Best | None = None
    bound: tuple[float, ...] | None = None
    proved: bool = False
    work: int = 0
    fronts: dict[int, SideFronts] = field(init=False)
    budget: float = field(init=False)

    def __post_init__(self) -> None:
        household = self.program.household
        apart = household.power_w < np.inf or any(room.noise_dba < np.inf for room in household.rooms)
        stage = self.aim.stages[0]
        tank_of = {n: tank for tank, members in enumerate(self.sharing.waters) for n in members}
        self.fronts = {
            side.number: SideFronts.of(side, stage.full_m3s[tank_of[side.number]], apart) for side in self.sharing.sides
        }
        self.budget = float(self.program.budget)

    @property
    def program(self) -> Program:
        return self.sharing.program

    @property
    def leximin(self) -> bool:
        return self.aim.stages[0].worst > 0

    # -- the whole search ------------------------------------------------------------------------------------------

    def run(self) -> None:
        """Search until the best is proved, or until it would take too long."""
        prices = JointPrices.of(self.program.bounds)
        self._begin(prices)
        split, prices = self._priced(prices)
        try:
            if self._most_worth(split, prices):
                self.proved = self._least_price(split, prices)
        except (TooMany, Unsolved):
            pass
        if not self.proved:
            self._spend()

    def _most_worth(self, split: MoneySplit, prices: JointPrices) -> bool:
        """Find the most that can be had; False where that would take too long."""
        money, step, window = self.budget + prices.credit, PROVED_TO * self.aim.close, 0.0
        while self.work < MOST_WORK:
            guess = self._guess(split, money - window)
            if self.best is not None and (guess is None or self._compared(guess, self.best.worth) <= 0):
                guess = self.best.worth
            elif guess is None:
                guess = self._lowest()
            elif window > 0.0 and self.bound is not None and self._compared(guess, self.bound) >= 0:
                # a little less money changes nothing: neither this nor anything better is to be had
                window *= WIDER
                continue
            if window > 0.0 and self._better(split, prices, guess, self._above(guess, money, step)):
                return True
            if self.best is not None and self._compared(self.best.worth, guess) >= 0:
                self.bound = self.best.worth
                return True
            # what is worth less than a step below the guess was not looked for above: it may be worth more further up
            if self._alike(split, prices, guess, step):
                return True
            if guess == self._lowest():
                return True
            self.bound, window = guess, max(window * WIDER, FIRST_WINDOW)
        return False

    def _above(self, guess: Sequence[float], money: float, step: float) -> list[Target]:
        return levels_above(guess, money, step) if self.leximin else [self._target((guess[0] + step,), money)]

    def _better(self, split: MoneySplit, prices: JointPrices, guess: Sequence[float], targets: Sequence[Target]) -> bool:
        """Take the best of what the bundles come to that are listed for targets, all of them above a guess.

        Only where it is worth more than the guess is it worth a target, and then nothing is better: what is worth less may need
        bundles that are not listed.
        """
        found = self._chosen(split, prices, targets, self._solved)
        if found is None or (self.best is not None and self._compared(found.worth, self.best.worth) <= 0):
            return False
        self.best = found
        if self._compared(found.worth, guess) <= 0:
            return False
        self.bound = found.worth
        return True

    def _alike(self, split: MoneySplit, prices: JointPrices, guess: Sequence[float], less: float) -> bool:
        """Take the cheapest that is worth a guess or little less, where there is any for the money. Raises TooMany and
        Unsolved."""
        worth, held = [each - less for each in guess], self._held(guess, less)
        least, window = split.cost(self._target(worth, 0.0)) - prices.credit, FIRST_WINDOW
        known = self.best if self.best is not None and self._compared(self.best.worth, guess) >= 0 else None
        roof = self.budget if known is None else known.chosen.price - LEAST_SAVING
        while True:
            most = min(least + window, roof)
            if most >= least:
                found = self._chosen(split, prices, [self._target(worth, most + prices.credit)], partial(self._cheapest, held))
                if found is not None and (known is None or found.chosen.price < known.chosen.price - 1e-6):
                    self.best = known = found
                    roof = min(roof, found.chosen.price - LEAST_SAVING)
            if most >= roof:
                return known is not None
            window *= WIDER

    def _least_price(self, split: MoneySplit, prices: JointPrices) -> bool:
        """Find the least price of what is worth as much as the best."""
        return self.best is None or self._alike(split, prices, self.best.worth, self.aim.close)

    def told(self) -> Shared:
        """What is known."""
        status = "proved" if self.proved else "stopped"
        if self.best is None:
            return Shared(aim=self.aim.name, chosen=None, flows_m3s=(), status=status)
        chosen = self.program.solved(self.best.chosen.columns, None, (), whole=True) or self.best.chosen
        values = self._sums(self.best.worth)
        bounds = tuple(np.inf for _ in values) if self.bound is None else self._sums(self.bound)
        return Shared(
            aim=self.aim.name,
            chosen=chosen,
            flows_m3s=self.best.flows_m3s,
            status=status,
            values=values,
            bounds=tuple(max(value, bound) for value, bound in zip(values, bounds, strict=True)),
        )

    # -- worths ----------------------------------------------------------------------------------------------------

    def _worth(self, flows: Sequence[float]) -> tuple[float, ...]:
        """What flows (in order of the filters) are worth: levels from the worst tank up, or the sum."""
        stage = self.aim.stages[0]
        values = [stage.value(tank, sum(flows[n] for n in members)) for tank, members in enumerate(self.sharing.waters)]
        return tuple(sorted(values)) if stage.worst else (sum(values),)

    def _sums(self, worth: Sequence[float]) -> tuple[float, ...]:
        """The values of the stages."""
        return tuple(float(each) for each in np.cumsum(worth))

    def _compared(self, one: Sequence[float], other: Sequence[float]) -> int:
        """Which of two worths is better, as far as differences count: 1, 0 or -1."""
        for mine, yours in zip(one, other, strict=True):
            if abs(mine - yours) > PROVED_TO * self.aim.close:
                return 1 if mine > yours else -1
        return 0

    def _seen(self, chosen: ProgramChoice) -> _Best:
        flows = tuple(column.flow_m3s for column in chosen.columns)
        return _Best(chosen, flows, self._worth(flows))

    # -- a first choice --------------------------------------------------------------------------------------------

    def _begin(self, prices: JointPrices) -> None:
        """A real choice from what each tank does best alone."""
        sides = self.sharing.sides
        alone = {side.number: self._front(side, prices, side.without(side.others), roughly=True) for side in sides}
        some = {n: self._some(self.fronts[n].columns_of(front)) for n, front in alone.items()}
        for side in sides:
            some[side.number] = some[side.number] or self._asked_alone(side)
        self._first(list(some.values()))
        for n, front in alone.items():
            self.sharing.put(self.fronts[n].columns_of(front))

    def _asked_alone(self, side: Side) -> list[Column]:
        """What the single search finds for a tank of whose front nothing holds any bundle to what it delivers."""
        alone = side.asked(side.without(side.others), self.program.budget)
        found = [alone.least_price(0.0).found, alone.most_flow().found]
        side.hear()
        paths = [each.bundle.path for each in found if each is not None]
        rows = [(np.array(path.options), np.array(path.joints)) for path in paths]
        return [column for column in self.fronts[side.number].of_rows(rows) if column.held]

    def _tell(self) -> None:
        if self.best is not None and self.bound is not None:
            self.sharing.between(self.best.worth[0], max(self.best.worth[0], self.bound[0]))
        self.sharing.tick()

    def _front(self, side: Side, prices: JointPrices, allowed: NDArray[np.bool_], roughly: bool) -> Front:
        self._tell()
        return self.fronts[side.number].front(prices, self.budget + prices.credit, allowed, roughly)

    def _some(self, columns: Sequence[Column]) -> list[Column]:
        held = [column for column in columns if column.held]
        rows: list[int] = np.unique(np.linspace(0, len(held) - 1, FIRST_COLUMNS).round().astype(int)).tolist() if held else []
        return [held[row] for row in rows]

    def _first(self, some: Sequence[Sequence[Column]]) -> None:
        columns = [*self.sharing.fixed, *(column for each in some for column in each)]
        try:
            found = self._solved(columns)
        except Unsolved:
            return
        self.best = found or self.best

    def _spend(self) -> None:
        """Where there is no proof: offer what is left to each tank in turn, the worst off first, while the others stay as they
        are."""
        for _ in range(len(self.sharing.sides) if self.best is not None else 0):
            before = self.best
            for side in sorted(self.sharing.sides, key=self._level_of):
                self._offer(side)
            if self.best is before:
                return

    def _level_of(self, side: Side) -> float:
        if self.best is None:
            return 0.0
        tank, members = next((t, m) for t, m in enumerate(self.sharing.waters) if side.number in m)
        return self.aim.stages[0].value(tank, sum(self.best.flows_m3s[n] for n in members))

    def _offer(self, side: Side) -> None:
        if self.best is None:
            return
        rest = [column for column in self.best.chosen.columns if column.tank != side.number]
        nothing = Column(side.number, 0.0, None, -np.inf, 0.0)
        busy = {name for column in rest for name in (*column.kept, *(each for each, _ in column.taken))}
        waiting = {column.tank for column in rest if any(name in side.own for name, _ in column.taken)}
        barred = {name for name in side.others if name in busy or self.program.handed[name].owner in waiting}
        try:
            paid = self.program.solved([*rest, nothing], None, ())
            if paid is None:
                return
            money = int(self.budget - paid.price + 1e-6)
            found = side.asked(side.without(barred | (busy & side.own)), money).most_flow().found
            side.hear()
            if found is None:
                return
            path = found.bundle.path
            more = self.fronts[side.number].of_rows([(np.array(path.options), np.array(path.joints))])
            offered = self._solved([*self.best.chosen.columns, *(column for column in more if column.held)])
        except Unsolved:
            return
        if offered is not None and self._compared(offered.worth, self.best.worth) > 0:
            self.best = offered

    # -- prices ----------------------------------------------------------------------------------------------------

    def _split(self, fronts: Mapping[int, Front], prices: JointPrices) -> MoneySplit:
        """The aim over some relaxed fronts."""
        stairs = {}
        for number in self.program.tanks:
            fixed = [column.flow_m3s for column in self.sharing.fixed if column.tank == number]
            front = fronts.get(number)
            price, flow = (np.zeros(0), np.zeros(0)) if front is None else (front.price, front.flow)
            stairs[number] = Stairs.of(np.append(price, np.zeros(len(fixed))), np.append(flow, fixed))
        return MoneySplit(self.aim.stages[0], self.sharing.waters, stairs, self.budget + prices.credit)

    def _priced(self, prices: JointPrices) -> tuple[MoneySplit, JointPrices]:
        """The fronts at the best prices found, and these prices: those that charge most for what is known, as far as rough fronts
        can tell."""
        best, least = prices, -np.inf
        for turn in range(PRICED if self.best is not None else 0):
            charge = self._charge(self._fronts_at(prices, roughly=True), prices)
            gained = charge - least
            if gained > 0.0:
                best, least = prices, charge
            made = self._new_prices() if turn + 1 < PRICED and (gained > NEAR or turn == 1) else None
            if made is None or made[1] - least <= NEAR:
                break
            prices = best.towards(made[0], STRIDE)
        split = self._fronts_at(best, roughly=False)
        self.bound = self._guess(split, self.budget + best.credit)
        return split, best

    def _fronts_at(self, prices: JointPrices, roughly: bool) -> MoneySplit:
        """The aim over the fronts at some prices, whose bundles are known then."""
        fronts = {side.number: self._front(side, prices, side.seeker.all, roughly) for side in self.sharing.sides}
        for number, front in fronts.items():
            self.sharing.put(self.fronts[number].columns_of(front))
        return self._split(fronts, prices)

    def _charge(self, split: MoneySplit, prices: JointPrices) -> float:
        """What the best so far is charged at least."""
        worth = self.best.worth if self.best is not None else self._lowest()
        return split.cost(self._target(worth, 0.0)) - prices.credit

    def _new_prices(self) -> tuple[JointPrices, float] | None:
        if self.best is None:
            return None
        least = self.best.flows_m3s
        columns = [column for column in self.sharing.columns() if column.flow_m3s >= least[column.tank] * (1 - ALIKE)]
        self.work += len(columns)
        try:
            return self.program.prices([*columns, *self.best.chosen.columns])
        except Unsolved:
            return None

    # -- guesses and lists -----------------------------------------------------------------------------------------

    def _target(self, worth: Sequence[float], budget: float) -> Target:
        return Target(budget, tuple(worth) if self.leximin else (), 0.0 if self.leximin else worth[0])

    def _guess(self, split: MoneySplit, money: float) -> tuple[float, ...] | None:
        """What could be had for a charge; None: nothing."""
        made = split.best(money)
        return None if made is None else made if isinstance(made, tuple) else (made,)

    def _lowest(self) -> tuple[float, ...]:
        """What is always had."""
        return self._worth([0.0] * len(self.program.tanks))

    def _chosen(self, split: MoneySplit, prices: JointPrices, targets: Sequence[Target], chooser: Chooser) -> _Best | None:
        """The best choice of all that are worth one of the targets; None where there is none. Raises TooMany and Unsolved."""
        claims = Claims.of(self.sharing.sides, self.sharing.handed)
        listed = self._lists(split, prices, targets, claims)
        if listed is None:
            return None
        owners = {name: (each.owner, self.program.bounds.whole(name)) for name, each in self.program.handed.items()}
        sides, walked = {side.number: side for side in self.sharing.sides}, set[int]()
        while True:
            known = self.best.chosen.columns if self.best is not None else ()
            of_use = [*self.sharing.fixed, *needed(listed, owners)]
            if len({column.tank for column in of_use}) < len(self.program.tanks):
                return None
            found = chooser(_once([*of_use, *known]))
            free = [] if found is None else [column.tank for column in found.chosen.columns if not column.held]
            if not free:
                return found
            for number in free:
                if number in walked:
                    raise RuntimeError("a bundle that nothing holds was listed as held")
                walked.add(number)
                self._tell()
                ways = self._wanted(sides[number], split, prices, targets, claims.ways(number))
                listed[number] = self.fronts[number].held(ways)

    def _lists(
        self, split: MoneySplit, prices: JointPrices, targets: Sequence[Target], claims: Claims
    ) -> dict[int, list[Column]] | None:
        """All bundles that could be part of a choice that is worth one of the targets; None: there is none. Raises TooMany.

        What bounds shut, and then what the lists of the first tanks leave out, need not be looked at in those of the others.
        """
        optional = {column.tank for column in self.sharing.fixed}
        if not self._narrowed(split, prices, targets, claims, optional):
            return None
        listed: dict[int, list[Column]] = {}
        for side in sorted(self.sharing.sides, key=lambda each: claims.in_play(each.number)):
            self._tell()
            ways = self._wanted(side, split, prices, targets, claims.ways(side.number))
            listed[side.number] = found = self.fronts[side.number].listed(ways)
            if not found and side.number not in optional:
                return None
            if all(column.held for column in found):
                # what nothing holds stands for bundles that may take more
                claims.narrow(side.number, _used(side, found))
        return listed

    def _narrowed(
        self, split: MoneySplit, prices: JointPrices, targets: Sequence[Target], claims: Claims, optional: Collection[int]
    ) -> bool:
        """Shut the options that bounds rule out; False where a tank has none left."""
        columns: dict[int, Columns] = {}
        before = -1
        while before != (before := sum(int(mask.sum()) for mask in claims.open.values())):
            for side in self.sharing.sides:
                n, fronts = side.number, self.fronts[side.number]
                if n not in columns:
                    # whatever is within a roof where some parts are idle is so where none is
                    every = Way(claims.open[n], frozenset())
                    columns[n] = fronts.columns(self._wanted(side, split, prices, targets, [every])[0])
                ways = self._wanted(side, split, prices, targets, claims.ways(n))
                claims.narrow(n, np.logical_or.reduce([fronts.open_options(way, columns[n]) for way in ways]))
                if not claims.open[n].any() and n not in optional:
                    return False
        return True

    def _wanted(
        self, side: Side, split: MoneySplit, prices: JointPrices, targets: Sequence[Target], ways: Sequence[Way]
    ) -> list[Asked]:
        flow, roof = split.roofs(side.number, targets, side.floor_m3s())
        top = max(float(split.fronts[side.number].gain.max(initial=0.0)), float(flow[-1]))
        return [Asked.without(prices, way.idle, roof, flow=flow, allowed=way.allowed, top_m3s=top) for way in ways]

    def _solved(self, columns: Sequence[Column]) -> _Best | None:
        """The best choice among some columns. Raises Unsolved."""
        held: list[Held] = []
        best: _Best | None = None
        for stage in self.aim.stages:
            if best is None or not self._is_full(stage, best):
                found = self._asked(columns, stage, held)
                if found is None:
                    return None
                best = self._seen(found)
            least = sum(best.worth[: stage.worst or len(best.worth)]) - PROVED_TO * self.aim.close / len(self.aim.stages)
            held.append(Held(stage, least))
        return best

    def _is_full(self, stage: AimStage, best: _Best) -> bool:
        """Whether the best of the stage before is that of one more tank as well: this one has all that counts, and the sum of
        those that are worse off cannot be more."""
        most = max(stage.value(tank, full) for tank, full in enumerate(stage.full_m3s))
        return best.worth[stage.worst - 1] >= most - ALIKE

    def _cheapest(self, held: Sequence[Held], columns: Sequence[Column]) -> _Best | None:
        """The cheapest choice among some columns of those that are worth enough. Raises Unsolved."""
        found = self._asked(columns, None, held)
        return None if found is None else self._seen(found)

    def _held(self, worth: Sequence[float], less: float) -> list[Held]:
        """The sums of a worth, less a little."""
        return [Held(stage, value - less) for stage, value in zip(self.aim.stages, self._sums(worth), strict=True)]

    def _asked(self, columns: Sequence[Column], stage: AimStage | None, held: Sequence[Held]) -> ProgramChoice | None:
        self._tell()
        self.work += len(columns)
        return self.program.solved(columns, stage, held)


def _used(side: Side, columns: Sequence[Column]) -> NDArray[np.bool_]:
    """The options that some bundles go through."""
    mask = np.zeros_like(side.seeker.all)
    for column in columns:
        if column.bundle is not None:
            mask[list(column.bundle.path.options)] = True
    return mask


def _once(columns: Sequence[Column]) -> list[Column]:
    """Columns, each once."""
    found: dict[object, Column] = {}
    for column in columns:
        path = None if column.bundle is None else (column.bundle.path.options, column.bundle.path.joints)
        found.setdefault((column.tank, path, column.is_there), column)
    return list(found.values())
