"""Dirt on guards side by side and in the trays behind them, of many loops, carried from day to day.

Each guard has a share x of the flow, and so of what drifts in it. Debris is told apart by which guards it is too coarse for, the
finest first:

- for all of them: whichever it comes to keeps it, so a pass keeps all of it, and it lies on the guards by their shares;
- for the finer ones only: a pass keeps the x of those guards of it, and of the rest what wall and media keep of solids;
- for none: what is too coarse for a face of the media stays there, the rest goes with the solids, of which a pass keeps the
  sum of x (w + (1 - w) e), w the share that the wall of a sponge keeps and e that of the media, which see the water of all.

Solids that stay on faces do so by the guard they came through: a share x of them by each. So does debris that one guard lets by
and that is too coarse for a face of the media.

Where one guard takes all the water this is `loads.py`, which has the law for each of the three.
"""

from collections.abc import Sequence

import numpy as np

from optimizer.dirt.daily import Daily
from optimizer.dirt.laws import Laws
from optimizer.dirt.layers import Layers, Reals
from optimizer.dirt.loads import Loads
from optimizer.model.parts import Guard
from optimizer.model.state import State
from optimizer.physics.feeding import kept_share, through_loop_kg_day

Guards = Sequence[Sequence[Guard]]


class BranchedLoads:
    """The loads of all layers and what lies on the guards of many loops, and where the dry matter went, in kg.

    ``guards`` are those of each loop, of all loops as many (one that has fewer has its last again, without water), ``states``
    theirs.
    """

    def __init__(self, guards: Guards, states: Sequence[Sequence[State]], stacks: Layers, daily: Daily, laws: Laws) -> None:
        self.stacks, self.daily, self.laws = stacks, daily, laws
        each = zip(zip(*guards, strict=True), zip(*states, strict=True), strict=True)
        self.sides = [Loads(list(some), list(theirs), stacks, daily, laws) for some, theirs in each]
        self.stack_loads, self.on_faces_kg = stacks.start, np.zeros_like(stacks.passage)
        self.left_kg, self.made_kg = np.zeros((2, len(guards)))

    def guard_states(self) -> Reals:
        """Blocked share and cake in m of each guard, (2, loops, guards)."""
        return np.stack([side.guard_states() for side in self.sides], axis=2)

    def tray_states(self) -> Reals:
        """See `Loads.tray_states`."""
        return self.stacks.states(self.stack_loads, self.on_faces_kg)

    def in_trays_kg(self) -> Reals:
        """See `Loads.in_trays_kg`."""
        return self.stacks.gained_kg(self.stack_loads) + self.on_faces_kg

    def on_guards_kg(self) -> Reals:
        """What the guards hold since the first day, (loops, guards)."""
        return np.stack([side.on_guards_kg() for side in self.sides], axis=1)

    def step(self, days: float, turnover_1h: Reals, shares: Reals) -> None:
        """Let a time pass at these turnovers (loops,), shares of the flow (loops, guards), and shares caught of now."""
        daily, settling = self.daily, self.laws.settling_1h
        media = self.stacks.caught_share(self.stack_loads)
        walls = np.stack([side.sponges.caught_share(side.sponge_loads) for side in self.sides], axis=1)
        keeps = walls + (1.0 - walls) * media[:, None]
        faces = [side.faces for side in self.sides]
        stops = np.stack([each.guard_debris for each in faces], axis=1)
        comes_by = days * np.asarray(kept_share(turnover_1h, np.ones(len(turnover_1h)), settling))
        solids = sum(shares[:, [n]] * each.solids for n, each in enumerate(faces)) * daily.solids_kg_day
        guard_kg_day = np.stack([each.guard_solids for each in faces], axis=1) * daily.solids_kg_day
        first = guard_kg_day + stops.min(axis=1)[:, None] * daily.debris_kg_day
        strained, passing, by_some = np.asarray(solids), np.zeros_like(shares), np.zeros_like(shares)
        # the finest guards, fewer than all, and what is too coarse for these alone
        order, debris = np.argsort(-stops, axis=1, kind="stable"), np.stack([each.debris for each in faces], axis=1)
        rank, rows = np.argsort(order, axis=1), np.arange(len(stops))
        for few in range(1, len(faces)):
            finer = rank < few
            last, then = order[:, few - 1], order[:, few]
            middling = np.maximum(debris[rows, then] - debris[rows, last], 0.0) * daily.debris_kg_day
            rest = (stops[rows, last] - stops[rows, then]) * daily.debris_kg_day - middling.sum(axis=1)
            kept = (shares * np.where(finer, 1.0, keeps)).sum(axis=1)
            goes = days * np.asarray(through_loop_kg_day(np.maximum(rest, 0.0), turnover_1h, kept, settling))
            first = first + np.where(finer, middling.sum(axis=1)[:, None], 0.0)
            by_some = by_some + np.where(finer, goes[:, None], 0.0)
            passing = passing + np.where(finer, 0.0, goes[:, None])
            strained = strained + (shares * ~finer).sum(axis=1)[:, None] * middling
        fine_debris = debris[rows, order[:, 0]] * daily.debris_kg_day
        on_guards = shares * (comes_by[:, None] * first + by_some)
        on_faces = comes_by[:, None] * (strained + fine_debris)
        coarse = (shares * guard_kg_day).sum(axis=1) + (np.asarray(solids) + fine_debris).sum(axis=1)
        fine = np.maximum(daily.solids_kg_day + (1.0 - stops.max(axis=1)) * daily.debris_kg_day - coarse, 0.0)
        through = days * np.asarray(through_loop_kg_day(fine, turnover_1h, (shares * keeps).sum(axis=1), settling))
        into = shares * (through[:, None] + passing)
        out = self._fed(on_guards, into)
        self.on_faces_kg = self.on_faces_kg + on_faces
        made = days * (daily.solids_kg_day + daily.debris_kg_day)
        self.made_kg = self.made_kg + made
        self.left_kg = self.left_kg + made - on_guards.sum(axis=1) - on_faces.sum(axis=1) - (into.sum(axis=1) - out)

    def _fed(self, on_guards_kg: Reals, into_kg: Reals) -> Reals:
        """Lay (loops, guards) on the guards, lead as many through their walls and then the media; what comes out, (loops,)."""
        behind = np.zeros(len(into_kg))
        for n, side in enumerate(self.sides):
            side.on_guard_kg = side.on_guard_kg + on_guards_kg[:, n]
            side.sponge_loads, out = side.sponges.fed(side.sponge_loads, into_kg[:, n])
            behind = behind + out
        self.stack_loads, out = self.stacks.fed(self.stack_loads, behind)
        return out
