"""Dirt on the guards and in the trays of many loops side by side, carried from day to day at given turnovers.

The dirt comes in two parts. What is too coarse for a guard or for the pores of a layer stays on that face the first time it comes
by; the rest goes round until it is caught in the depth of the media or settles. Screens hold back debris; the soft solids of fish
tear there and go on as fine as its openings. On a sponge and on media, what stays is the cake.

At a steady turnover this is also the least dirt that a loop can have whose flow never falls below it. What a step brings to a
face, days P s n / (k + n), rises with the turnover n and hangs on no load, since the share s that a face keeps is that of its
pores, cake or not. What it brings into the depth, days P n / (k + n E), rises with n, and falls with the share E that is caught;
E falls as layers fill (`caught_share`), and no cake changes it. So of two loops of the same guard and media the one that had at
least the other's turnover in every step, and at least its loads and cakes before the first, has at least its loads and cakes
after the last: each step is a rising map of loads, cakes and turnover.
"""

from collections.abc import Sequence

import numpy as np

from optimizer.dirt.after import open_area_m2
from optimizer.dirt.daily import Daily
from optimizer.dirt.laws import Laws
from optimizer.dirt.layers import Faces, Layers, Reals, guard_layer
from optimizer.model.parts import Guard
from optimizer.model.state import State
from optimizer.physics.feeding import kept_share, through_loop_kg_day
from optimizer.physics.guards import blocked_share, covered_for_blocked


class Loads:
    """The loads of all layers, what lies on the guards and on the faces of many loops, and where the dry matter went, in kg."""

    def __init__(self, guards: Sequence[Guard], states: Sequence[State], stacks: Layers, daily: Daily, laws: Laws) -> None:
        self.stacks, self.daily, self.laws = stacks, daily, laws
        self.sponges = Layers.of([[guard_layer(g, s, laws)] for g, s in zip(guards, states, strict=True)], laws)
        self.stack_loads, self.sponge_loads = stacks.start, self.sponges.start
        self.is_sponge = np.array([guard.form == "sponge" for guard in guards], dtype=bool)
        self.first_blocked = np.array([state.blocked for state in states], dtype=float)
        self.covered_before = np.asarray(covered_for_blocked(laws.covering, self.first_blocked, laws.most_blocked), dtype=float)
        self.faces = Faces.of(self.sponges, self.is_sponge, stacks)
        self.open_m2 = np.array([open_area_m2(guard) for guard in guards])
        self.on_guard_kg, self.left_kg, self.made_kg = np.zeros((3, len(guards)))
        self.on_faces_kg = np.zeros_like(stacks.passage)

    def guard_states(self) -> Reals:
        """Of each guard the blocked share, of a sponge that of its pores, and the cake in m on a sponge: (2, loops)."""
        laws = self.laws
        covered = self.covered_before + self.on_guard_kg * laws.cover_m2kg / self.open_m2
        screen = np.maximum(self.first_blocked, blocked_share(laws.covering, covered, laws.most_blocked))
        pores, cake = self.sponges.states(self.sponge_loads, self.on_guard_kg[:, None])[..., 0]
        return np.stack([np.where(self.is_sponge, pores, screen), np.where(self.is_sponge, cake, 0.0)])

    def tray_states(self) -> Reals:
        """`State.filled` and `State.cake_m` of every tray, (2, loops, trays)."""
        return self.stacks.states(self.stack_loads, self.on_faces_kg)

    def step(self, days: float, turnover_1h: Reals) -> None:
        """Let a time pass at these turnovers, (loops,), and the shares caught of now."""
        daily, settling, faces = self.daily, self.laws.settling_1h, self.faces
        media = self.stacks.caught_share(self.stack_loads)
        wall = self.sponges.caught_share(self.sponge_loads) if self.is_sponge.any() else np.zeros(len(media))
        comes_by = days * np.asarray(kept_share(turnover_1h, np.ones(len(turnover_1h)), settling))
        on_guard = comes_by * faces.on_guard_kg_day(daily)
        on_faces = comes_by[:, None] * faces.on_media_kg_day(daily)
        fine = faces.rest_kg_day(daily)
        through = days * np.asarray(through_loop_kg_day(fine, turnover_1h, wall + (1.0 - wall) * media, settling))
        self.on_guard_kg, self.on_faces_kg = self.on_guard_kg + on_guard, self.on_faces_kg + on_faces
        on = through
        if self.is_sponge.any():
            self.sponge_loads, on = self.sponges.fed(self.sponge_loads, through)
        self.stack_loads, out = self.stacks.fed(self.stack_loads, on)
        made = days * (daily.solids_kg_day + daily.debris_kg_day)
        self.made_kg = self.made_kg + made
        self.left_kg = self.left_kg + made - on_guard - on_faces.sum(axis=1) - (through - out)

    def in_trays_kg(self) -> Reals:
        """What the trays hold since the first day, in their depth and on their faces, (loops, trays)."""
        return self.stacks.gained_kg(self.stack_loads) + self.on_faces_kg

    def on_guards_kg(self) -> Reals:
        """What the guards hold since the first day, on them and in their walls, (loops,)."""
        return np.asarray(self.on_guard_kg + self.sponges.gained_kg(self.sponge_loads)[:, 0])
