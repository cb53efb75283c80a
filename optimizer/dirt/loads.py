"""Dirt on the guards and in the trays of many loops side by side, carried from day to day at given turnovers.

At a steady turnover this is also the least dirt that a loop can have whose flow never falls below it. What a step brings,
days P n / (k + n E), rises with the turnover n, and falls with the share E that is caught; E falls as layers fill
(`caught_share`). So of two loops of the same guard and media the one that had at least the other's turnover in every step, and
at least its loads before the first, has at least its loads after the last: each step is a rising map of loads and turnover.
"""

from collections.abc import Sequence

import numpy as np

from optimizer.dirt.after import open_area_m2
from optimizer.dirt.daily import Daily
from optimizer.dirt.laws import Laws
from optimizer.dirt.layers import Layers, Reals, guard_layer
from optimizer.model.parts import Guard
from optimizer.physics.feeding import kept_share, through_loop_kg_day
from optimizer.physics.guards import blocked_share, covered_for_blocked, stopped_share


class Loads:
    """The loads of all layers and what lies on the guards of many loops, and where the dry matter went, in kg."""

    def __init__(self, guards: Sequence[Guard], blocked: Sequence[float], stacks: Layers, daily: Daily, laws: Laws) -> None:
        self.stacks, self.daily, self.laws = stacks, daily, laws
        self.sponges = Layers.of([[guard_layer(g, b, laws)] for g, b in zip(guards, blocked, strict=True)], laws)
        self.stack_loads, self.sponge_loads = stacks.start, self.sponges.start
        self.is_sponge = np.array([guard.form == "sponge" for guard in guards], dtype=bool)
        self.first_blocked = np.array(blocked, dtype=float)
        self.covered_before = np.asarray(covered_for_blocked(laws.covering, self.first_blocked, laws.most_blocked), dtype=float)
        self.stops = np.array([float(stopped_share(guard.opening_m, laws.scrap_m)) for guard in guards])
        self.open_m2 = np.array([open_area_m2(guard) for guard in guards])
        self.on_guard_kg, self.left_kg, self.made_kg = np.zeros((3, len(guards)))

    def blocked(self) -> Reals:
        """Blocked share of each guard: of a screen by what lies on it; of a sponge 1 - (1 - filled) (1 - shut)."""
        laws = self.laws
        covered = self.on_guard_kg * laws.cover_m2kg / self.open_m2
        screen = blocked_share(laws.covering, self.covered_before + covered, laws.most_blocked)
        pores = self.sponges.filled_shares(self.sponge_loads)[:, 0]
        wall = 1.0 - (1.0 - pores) * (1.0 - np.asarray(blocked_share(laws.covering, covered, laws.most_blocked)))
        return np.where(self.is_sponge, wall, np.maximum(self.first_blocked, screen))

    def filled(self) -> Reals:
        """`State.filled` of every tray, (loops, trays)."""
        return self.stacks.filled_shares(self.stack_loads)

    def step(self, days: float, turnover_1h: Reals) -> None:
        """Let a time pass at these turnovers, (loops,), and the shares caught of now."""
        daily, settling = self.daily, self.laws.settling_1h
        media = self.stacks.caught_share(self.stack_loads)
        wall = self.sponges.caught_share(self.sponge_loads) if self.is_sponge.any() else np.zeros(len(media))
        coarse = self.stops * daily.debris_kg_day
        fine = daily.solids_kg_day + daily.debris_kg_day - coarse
        through = days * np.asarray(through_loop_kg_day(fine, turnover_1h, wall + (1.0 - wall) * media, settling))
        stopped = days * coarse * kept_share(turnover_1h, np.ones(len(turnover_1h)), settling)
        self.on_guard_kg = self.on_guard_kg + stopped
        on = through
        if self.is_sponge.any():
            self.sponge_loads, on = self.sponges.fed(self.sponge_loads, through)
        self.stack_loads, out = self.stacks.fed(self.stack_loads, on)
        made = days * (daily.solids_kg_day + daily.debris_kg_day)
        self.made_kg = self.made_kg + made
        self.left_kg = self.left_kg + made - stopped - (through - out)
