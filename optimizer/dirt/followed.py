"""What a bundle that was followed over some days looks like on each of them."""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.dirt.after import grown_with_time
from optimizer.dirt.laws import Laws
from optimizer.dirt.layers import Reals
from optimizer.loop.graph import Element
from optimizer.loop.kinds import Dirt, kind
from optimizer.loop.standing import StandingLoop, aged_elements
from optimizer.model.state import State


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """Where the dry matter of a course went, in kg, since the first day: made, caught by guards and trays, left in the tank."""

    made_kg: float
    guards_kg: tuple[float, ...]
    trays_kg: tuple[float, ...]
    left_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One bundle over time: (days,) delivered flow, (days, guards) blocked share of the guards and cake on them in m, (days,
    trays) filled share of the trays and cake on them, (days, forks, 2) flow of the branches.

    ``own_m3s`` is what the loop would deliver unthrottled. The first day is that of the work, with everything as it was left.
    """

    loop: StandingLoop
    laws: Laws
    days: Reals
    flow_m3s: Reals
    own_m3s: Reals
    guards_blocked: Reals
    guards_cake_m: Reals
    filled: Reals
    cakes_m: Reals
    branches_m3s: Reals
    ledger: Ledger | None = None

    def until(self, day: int) -> "Course":
        """The same up to an index of ``days``, without its ledger."""
        cut = slice(day + 1)
        return replace(
            self,
            days=self.days[cut],
            flow_m3s=self.flow_m3s[cut],
            own_m3s=self.own_m3s[cut],
            guards_blocked=self.guards_blocked[cut],
            guards_cake_m=self.guards_cake_m[cut],
            filled=self.filled[cut],
            cakes_m=self.cakes_m[cut],
            branches_m3s=self.branches_m3s[cut],
            ledger=None,
        )

    @property
    def blocked(self) -> Reals:
        """Blocked share of the guard (of two: that of the first branch), (days,)."""
        return np.asarray(self.guards_blocked[:, 0])

    def passing_m3s(self, part: int) -> Reals:
        """Flow through a part of the loop on each day, (days,): all that is delivered, or what its branch takes of it."""
        branch = self.loop.branch_of(part)
        return self.flow_m3s if branch is None else np.asarray(self.branches_m3s[:, branch[0], branch[1]])

    def states(self, day: int) -> tuple[State, ...]:
        """States of all parts at an index of ``days``, in the order of the water."""
        guards = np.stack([self.guards_blocked[day], self.guards_cake_m[day]])
        return states_of(self.loop, float(self.days[day]), guards, self.laws)

    def tray_states(self, day: int) -> tuple[State, ...]:
        """States of all trays at an index of ``days``."""
        return tray_states_of(self.loop, np.stack([self.filled[day], self.cakes_m[day]]))

    def elements(self, day: int) -> list[Element]:
        """The loop at an index of ``days``, as elements."""
        return aged_elements(self.loop, self.states(day), self.tray_states(day))


def states_of(loop: StandingLoop, days: float, guards: Reals, laws: Laws) -> tuple[State, ...]:
    """States of all parts of a loop after some days, with its ``guards`` so far blocked and under a cake, (2, guards)."""
    dirty = iter(guards.T.tolist())
    covered = (kind(one.part).dirt is Dirt.COVERING for one in loop.stands)
    return tuple(
        _guard_state(one.state, *next(dirty)) if by_flow else grown_with_time(one.part, one.state, days, laws)
        for one, by_flow in zip(loop.stands, covered, strict=True)
    )


def _guard_state(state: State, blocked: float, cake_m: float) -> State:
    return replace(state, blocked=blocked, cake_m=cake_m)


def tray_states_of(loop: StandingLoop, trays: Reals) -> tuple[State, ...]:
    """States of the trays of a loop that are so far filled and under a cake, (2, trays or more)."""
    return tuple(
        replace(tray.state, filled=filled, cake_m=cake)
        for tray, (filled, cake) in zip(loop.trays, trays.T.tolist(), strict=False)
    )
