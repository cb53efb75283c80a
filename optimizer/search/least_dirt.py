"""What the options of a problem lose at least on later days of an interval: the bound that the search over days adds up.

A bundle that still has flow Q on day d had at least Q on every day before, because dirt only grows. So with the guard g and the
media s it holds at least the dirt, cakes included, that (g, s) gather by day d at the steady turnover of Q (`dirt/loads.py`), in
the same steps. Here the steps are few and long, which is less dirt still. What a long step brings to a face is what the short
ones bring together. Into the depth it brings its length times P n / (k + n E) with the share E that is caught at its beginning;
the short ones begin no less loaded, so with no more caught, and bring no less (`Loads.step`; the closed form composes, so what
is fed at once loads and passes as much as what is fed bit by bit). So the loads after it are no more than those after the short
ones.

With one guard at a time allowed, the losses of that dirt, those of films and fouled impellers (which hang on time alone) and
those of all other parts add up place by place: what a sponge guard loses beyond its least over all media is counted with the
media. The sum is never more than what the bundle truly loses at Q on day d, and it rises with Q, because the turnover does.
"""

import math

import numpy as np
from numpy.typing import NDArray

from optimizer.dirt.loads import Loads
from optimizer.loop.kinds import curve_of, of_sort, window_m3s
from optimizer.loop.option_heads import Heads
from optimizer.loop.terms import guard_terms
from optimizer.model.parts import Guard
from optimizer.model.state import State
from optimizer.search.ageing import Ageing
from optimizer.search.course_batch import Trays
from optimizer.search.rounds import BARRED

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Mask = NDArray[np.bool_]

TURNOVER_STEP = math.log(1.005)
"""Turnovers are taken at the next lower of steps of half a percent, and so remembered: less dirt, so still a bound."""

SECONDS = 3600.0

STEP_DAYS = 7.5
"""About so long are the steps in which the least dirt is gathered."""


class _Steady:
    """Least dirt of one guard by a day with the fillings of the trays asked for so far: terms of media and guard (s/m2, s2/m5)
    and blocked share of the guard, (5, fillings)."""

    def __init__(self, fillings: int) -> None:
        self.known = np.zeros(fillings, dtype=bool)
        self.terms = np.full((5, fillings), np.nan)


class LeastDirt:
    """Least losses of all options on the days of an interval, given by their indices."""

    def __init__(self, ageing: Ageing) -> None:
        self.ageing, self.problem = ageing, ageing.problem
        problem = self.problem
        self.guards = range(problem.option_at[ageing.guard], problem.option_at[ageing.guard + 1])
        self.media = slice(problem.option_at[ageing.canister], problem.option_at[ageing.canister + 1])
        self.trays = Trays.of(problem.layers[ageing.canister].options, ageing)
        self.clean = self.trays.terms(self.trays.layers.filled, self.trays.layers.cake_m)
        self._heads: dict[int, Heads] = {}
        self._steady: dict[tuple[int, int, int], _Steady] = {}

    def clean_losses(self, guard: int, day: int, flow_m3s: float, allowed: Mask) -> Reals:
        """As `losses`, with guard and media as they are on the first day: less, and quicker."""
        option = self.problem.option(guard)
        head = self._heads_on(day).at(flow_m3s)
        head[guard] += option.loss.linear * flow_m3s + option.loss.quadratic * flow_m3s**2
        head[self.media] += self.clean[0] * flow_m3s + self.clean[1] * flow_m3s**2
        return self._barred(head, guard, flow_m3s, allowed, option.state.blocked)

    def losses(
        self, guard: int, day: int, flow_m3s: float, allowed: Mask, fillings: Ints, gathered_m3s: float = math.inf
    ) -> Reals:
        """Least loss of every option (flat) at a flow on a day, with one guard (its flat place); what is not ``allowed`` or could
        not pass the flow is barred, and so are all fillings of the trays but some. The flow is above 0. The dirt may be that of a
        lower flow (``gathered_m3s``), which is less, so this too is a bound."""
        least = self._least(guard, day, min(flow_m3s, gathered_m3s), fillings)[:, fillings]
        head = self._heads_on(day).at(flow_m3s)
        on_guard = least[2] * flow_m3s + least[3] * flow_m3s**2
        base = float(on_guard.min(initial=BARRED))
        head[guard] += base
        media = np.full(self.media.stop - self.media.start, BARRED)
        media[fillings] = head[self.media][fillings] + least[0] * flow_m3s + least[1] * flow_m3s**2 + (on_guard - base)
        head[self.media] = media
        return self._barred(head, guard, flow_m3s, allowed, float(least[4].min(initial=1.0)))

    def _barred(self, head: Reals, guard: int, flow_m3s: float, allowed: Mask, blocked: float) -> Reals:
        passing = allowed & (self.problem.high >= flow_m3s * (1 - 1e-12))
        alone = passing[guard] and flow_m3s <= self._ceiling(guard, blocked) * (1 + 1e-12)
        passing[self.guards.start : self.guards.stop] = False
        passing[guard] = alone
        return np.where(passing, head, BARRED)

    def _ceiling(self, guard: int, blocked: float) -> float:
        return window_m3s(self.problem.option(guard).part, State(blocked=blocked), self.problem.choices.limits)[1]

    def _heads_on(self, day: int) -> Heads:
        if day not in self._heads:
            options = [option for layer in self.problem.layers for option in layer.options]
            known = [self.ageing.on_day(option, float(self.ageing.days[day])) for option in options]
            curves = [curve_of(option.part) for option in options]
            pumps = [None if curve is None else (curve, speed) for curve, (_, speed) in zip(curves, known, strict=True)]
            self._heads[day] = Heads.of([loss for loss, _ in known], pumps, self.problem.choices.water.kinematic_m2s)
        return self._heads[day]

    def _least(self, guard: int, day: int, flow_m3s: float, fillings: Ints) -> Reals:
        """Terms on a day, (5, fillings), known for the fillings asked for."""
        turnover = flow_m3s * SECONDS / self.problem.choices.rig.tank.net_m3
        step = math.floor(math.log(turnover) / TURNOVER_STEP)
        if (guard, day, step) not in self._steady:
            self._steady[guard, day, step] = _Steady(self.media.stop - self.media.start)
        steady = self._steady[guard, day, step]
        rows = fillings[~steady.known[fillings]]
        if len(rows):
            steady.terms[:, rows] = self._gathered(guard, float(self.ageing.days[day]), math.exp(step * TURNOVER_STEP), rows)
            steady.known[rows] = True
        return steady.terms

    def _gathered(self, row: int, days: float, turnover_1h: float, fillings: Ints) -> Reals:
        option, choices, interval = self.problem.option(row), self.problem.choices, self.ageing.interval
        guard, trays, count = of_sort(option.part, Guard), self.trays.take(fillings), len(fillings)
        loads = Loads([guard] * count, [option.state] * count, trays.layers, interval.daily, interval.laws)
        steps = math.ceil(days / STEP_DAYS)
        for _ in range(steps):
            loads.step(days / steps, np.full(count, turnover_1h))
        blocked, cake = loads.guard_states()
        on_guard = guard_terms(guard, blocked, cake, choices.water, self.ageing.guard_scales(option), choices.rig.laws)
        return np.stack([*trays.terms(*loads.tray_states()), *map(np.asarray, on_guard), blocked])
