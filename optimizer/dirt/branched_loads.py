"""Dirt on two guards side by side and in the trays behind them, of many loops, carried from day to day.

Each guard has a share x of the flow, and so of what drifts in it. Debris is told apart by what it is too coarse for:

- for both guards: whichever it comes to keeps it, so a pass keeps all of it, and it lies on the guards by their shares;
- for the finer one only: a pass keeps the x of that guard of it, and of the rest what wall and media keep of solids;
- for neither: what is too coarse for a face of the media stays there, the rest goes with the solids, of which a pass keeps the
  sum of x (w + (1 - w) e), w the share that the wall of a sponge keeps and e that of the media, which see the water of both.

Solids that stay on faces do so by the guard they came through: a share x of them by each. So does debris that one guard lets by
and that is too coarse for a face of the media.

Where one guard takes all the water this is `loads.py`, which has the law for each of the three.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from optimizer.dirt.daily import Daily
from optimizer.dirt.laws import Laws
from optimizer.dirt.layers import Layers, Reals
from optimizer.dirt.loads import Loads
from optimizer.model.parts import Guard
from optimizer.model.state import State
from optimizer.physics.feeding import kept_share, through_loop_kg_day

Guards = Sequence[tuple[Guard, Guard]]


class BranchedLoads:
    """The loads of all layers and what lies on both guards of many loops, and where the dry matter went, in kg.

    ``guards`` are those of each loop (a loop with one has it twice, and all its water by the first), ``states`` theirs.
    """

    def __init__(self, guards: Guards, states: Sequence[tuple[State, State]], stacks: Layers, daily: Daily, laws: Laws) -> None:
        self.stacks, self.daily, self.laws = stacks, daily, laws
        self.sides = [Loads([two[n] for two in guards], [two[n] for two in states], stacks, daily, laws) for n in range(2)]
        self.stack_loads, self.on_faces_kg = stacks.start, np.zeros_like(stacks.passage)
        self.left_kg, self.made_kg = np.zeros((2, len(guards)))

    def guard_states(self) -> Reals:
        """Blocked share and cake in m of each guard, (2, loops, 2)."""
        return np.stack([side.guard_states() for side in self.sides], axis=2)

    def tray_states(self) -> Reals:
        """See `Loads.tray_states`."""
        return self.stacks.states(self.stack_loads, self.on_faces_kg)

    def in_trays_kg(self) -> Reals:
        """See `Loads.in_trays_kg`."""
        return self.stacks.gained_kg(self.stack_loads) + self.on_faces_kg

    def on_guards_kg(self) -> Reals:
        """What both guards hold since the first day, (loops, 2)."""
        return np.stack([side.on_guards_kg() for side in self.sides], axis=1)

    def step(self, days: float, turnover_1h: Reals, shares: Reals) -> None:
        """Let a time pass at these turnovers (loops,), shares of the flow (loops, 2), and shares caught of now."""
        daily, settling = self.daily, self.laws.settling_1h
        media = self.stacks.caught_share(self.stack_loads)
        walls = np.stack([side.sponges.caught_share(side.sponge_loads) for side in self.sides], axis=1)
        keeps = walls + (1.0 - walls) * media[:, None]
        faces = [side.faces for side in self.sides]
        stops = np.stack([each.guard_debris for each in faces], axis=1)
        finer = np.arange(2) == np.argmax(stops, axis=1)[:, None]
        comes_by = days * np.asarray(kept_share(turnover_1h, np.ones(len(turnover_1h)), settling))
        solids, strained, middling = self._on_media_kg_day(shares, finer)

        rest = (stops.max(axis=1) - stops.min(axis=1)) * daily.debris_kg_day - middling.sum(axis=1)
        kept = (shares * np.where(finer, 1.0, keeps)).sum(axis=1)
        passing = days * np.asarray(through_loop_kg_day(np.maximum(rest, 0.0), turnover_1h, kept, settling))
        guard_kg_day = np.stack([each.guard_solids for each in faces], axis=1) * daily.solids_kg_day
        both = stops.min(axis=1)[:, None] * daily.debris_kg_day
        first = comes_by[:, None] * (guard_kg_day + both + np.where(finer, middling.sum(axis=1)[:, None], 0.0))
        on_guards = shares * (first + np.where(finer, passing[:, None], 0.0))

        by_coarser = (shares * ~finer).sum(axis=1)[:, None]
        on_faces = comes_by[:, None] * (solids + strained + by_coarser * middling)
        coarse = (shares * guard_kg_day).sum(axis=1) + (solids + strained).sum(axis=1)
        fine = np.maximum(daily.solids_kg_day + (1.0 - stops.max(axis=1)) * daily.debris_kg_day - coarse, 0.0)
        through = days * np.asarray(through_loop_kg_day(fine, turnover_1h, (shares * keeps).sum(axis=1), settling))
        into = shares * (through[:, None] + np.where(finer, 0.0, passing[:, None]))
        out = self._fed(on_guards, into)
        self.on_faces_kg = self.on_faces_kg + on_faces
        made = days * (daily.solids_kg_day + daily.debris_kg_day)
        self.made_kg = self.made_kg + made
        self.left_kg = self.left_kg + made - on_guards.sum(axis=1) - on_faces.sum(axis=1) - (into.sum(axis=1) - out)

    def _on_media_kg_day(self, shares: Reals, finer: NDArray[np.bool_]) -> tuple[Reals, Reals, Reals]:
        """What would stay on the faces of the media if all that is made came by, each (loops, layers): of solids by the guard
        they come through, of debris too fine for both guards, and of debris too coarse for the finer one only."""
        sides = [side.faces for side in self.sides]
        solids = sum(shares[:, [n]] * each.solids for n, each in enumerate(sides)) * self.daily.solids_kg_day
        fine, other = (np.where(finer[:, [0]], sides[n].debris, sides[1 - n].debris) for n in range(2))
        debris = self.daily.debris_kg_day
        return np.asarray(solids), fine * debris, np.maximum(other - fine, 0.0) * debris

    def _fed(self, on_guards_kg: Reals, into_kg: Reals) -> Reals:
        """Lay (loops, 2) on the guards, lead (loops, 2) through their walls and then the media; what comes out, (loops,)."""
        behind = np.zeros(len(into_kg))
        for n, side in enumerate(self.sides):
            side.on_guard_kg = side.on_guard_kg + on_guards_kg[:, n]
            side.sponge_loads, out = side.sponges.fed(side.sponge_loads, into_kg[:, n])
            behind = behind + out
        self.stack_loads, out = self.stacks.fed(self.stack_loads, behind)
        return out
