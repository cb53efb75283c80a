"""What a bundle that was followed over some days looks like on each of them."""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.dirt.after import film_after_m, fouled_after
from optimizer.dirt.laws import Laws
from optimizer.dirt.layers import Reals
from optimizer.dirt.setup import Placed, Setup, elements_of
from optimizer.loop.graph import Element
from optimizer.model.parts import Fitting, Guard, Hose, Kind, Pump, pass_over
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
    """One bundle over time: (days,) delivered flow, (days, guards) blocked share of the guards, (days, trays) filled share of the
    trays, (days, forks, 2) flow of the branches.

    ``own_m3s`` is what the loop would deliver unthrottled. The first day is that of the work, with everything as it was left.
    """

    setup: Setup
    laws: Laws
    days: Reals
    flow_m3s: Reals
    own_m3s: Reals
    guards_blocked: Reals
    filled: Reals
    branches_m3s: Reals
    ledger: Ledger | None = None

    @property
    def blocked(self) -> Reals:
        """Blocked share of the guard (of two: that of the first branch), (days,)."""
        return np.asarray(self.guards_blocked[:, 0])

    def passing_m3s(self, part: int) -> Reals:
        """Flow through a part of the setup on each day, (days,): all that is delivered, or what its branch takes of it."""
        branch = self.setup.branch_of(part)
        return self.flow_m3s if branch is None else np.asarray(self.branches_m3s[:, branch[0], branch[1]])

    def states(self, day: int) -> tuple[State, ...]:
        """States of all parts at an index of ``days``, in the order of the water."""
        return states_of(self.setup, float(self.days[day]), self.guards_blocked[day], self.laws)

    def elements(self, day: int) -> list[Element]:
        """The loop at an index of ``days``, as elements."""
        return elements_of(self.setup, self.states(day), [float(share) for share in self.filled[day]])


def states_of(setup: Setup, days: float, blocked: Reals, laws: Laws) -> tuple[State, ...]:
    """States of all parts of a setup after some days, with its guards ``blocked`` (guards,) so far."""
    shares = iter(blocked.tolist())
    return tuple(_state(one, days, next(shares) if isinstance(one.part, Guard) else 0.0, laws) for one in setup.placed)


def _state(one: Placed, days: float, blocked: float, laws: Laws) -> State:
    if isinstance(one.part, Hose | Fitting):
        return replace(one.state, film_m=float(film_after_m(one.state.film_m, days, laws)))
    if isinstance(one.part, Pump):
        return replace(one.state, fouled=float(fouled_after(one.state.fouled, days, laws)))
    if isinstance(one.part, Guard):
        return replace(one.state, blocked=blocked)
    pass_over(one.part, Kind.DEVICE, Kind.OUTLET, Kind.CANISTER)
    return one.state
