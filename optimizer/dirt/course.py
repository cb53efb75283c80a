"""Flow and dirt day by day, of one bundle or of many at once.

What is coupled and what is not. The flow of a day hangs on the dirt of that day (solved, not approximated). The dirt hangs on
the flow only through the share of what is fed that reaches the filter instead of the gravel, n E / (k + n E), which is near its
bound at usual turnovers; and the guard takes from the media what it catches: debris too coarse for its openings, every time it
comes by, and solids in the wall of a sponge; finer debris goes with the solids. `courses` keeps both and goes in steps of fixed
length, the turnover and the shares caught at the start of a step holding for all of it (explicit Euler, first order). Films and
impellers hang on time alone. Branches: `branched_course`; states from their own part alone: `after`.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

import numpy as np

from optimizer.dirt.daily import Daily
from optimizer.dirt.followed import Course as Course
from optimizer.dirt.followed import Ledger as Ledger
from optimizer.dirt.followed import states_of, tray_states_of
from optimizer.dirt.laws import USUAL, Laws
from optimizer.dirt.layers import Layers, Reals, tray_layer
from optimizer.dirt.loads import Loads
from optimizer.loop.element_loops import flows_of
from optimizer.loop.standing import StandingLoop, aged_elements

MOST_DAYS = 3660.0


def course(loop: StandingLoop, daily: Daily, days: float, laws: Laws = USUAL, step_days: float = 1.0) -> Course:
    """The course of one bundle; see `courses`."""
    return courses([loop], daily, days, laws, step_days)[0]


def courses(
    loops: Sequence[StandingLoop], daily: Daily, days: float, laws: Laws = USUAL, step_days: float = 1.0
) -> tuple[Course, ...]:
    """Day by day, with flow and dirt coupled, all bundles side by side in each step.

    The last step is shortened so that the last day is ``days``. All bundles are in the same water. Raises ValueError for a time
    or a step that cannot be.
    """
    times = days_of(days, step_days)
    found: dict[int, Course] = {}
    shapes = [tuple(fork.within for fork in loop.forks) for loop in loops]
    for shape in dict.fromkeys(shapes):
        rows = [n for n, each in enumerate(shapes) if each == shape]
        walk = _walk([loops[n] for n in rows], daily, laws)
        for now, then in pairwise(times):
            walk.record(float(now))
            walk.step(float(then - now))
        walk.record(float(times[-1]))
        found |= dict(zip(rows, walk.courses(times), strict=True))
    return tuple(found[n] for n in range(len(loops)))


class Walk(Protocol):
    """Bundles on their way: their dirt, and what has been noted of each day."""

    def record(self, day: float) -> None:
        """Solve all bundles as they are on a day, and note it."""

    def step(self, days: float) -> None:
        """Let a time pass at the turnover and the shares caught of now."""

    def courses(self, times: Reals) -> tuple[Course, ...]:
        """What has been noted, bundle by bundle."""


def _walk(loops: Sequence[StandingLoop], daily: Daily, laws: Laws) -> Walk:
    if loops and loops[0].forks:
        from optimizer.dirt.branched_course import BranchedWalk  # a loop without branches does not need it

        return BranchedWalk(loops, daily, laws)
    return _Walk(loops, daily, laws)


def days_of(days: float, step_days: float = 1.0) -> Reals:
    """The days of a course, from 0 to ``days``. Raises ValueError for a time or a step that cannot be."""
    if not (0.0 <= days <= MOST_DAYS and step_days > 0.0):
        raise ValueError(f"a course takes 0 to {MOST_DAYS:.0f} days, in steps above 0")
    whole = np.arange(0.0, days, step_days)
    if len(whole) and days - whole[-1] < 1e-9 * days:
        whole = whole[:-1]
    return np.append(whole, days)


class _Walk:
    """All bundles on their way: their dirt, and what has been noted of each day."""

    def __init__(self, loops: Sequence[StandingLoop], daily: Daily, laws: Laws) -> None:
        self.loops, self.laws = tuple(loops), laws
        stacks = Layers.of([[tray_layer(tray, s.canister, laws) for tray in s.trays] for s in loops], laws)
        guards = [loop.guards[0] for loop in loops]
        self.loads = Loads([part for _, part in guards], [one.state for one, _ in guards], stacks, daily, laws)
        self.flow_m3s = np.zeros(len(loops))
        self.noted: list[tuple[Reals, Reals, Reals, Reals]] = []

    def record(self, day: float) -> None:
        """Solve all bundles as they are on a day, and note it."""
        guards, trays = self.loads.guard_states(), self.loads.tray_states()
        own = _solved(self.loops, [day] * len(self.loops), guards, trays, self.laws)
        self.flow_m3s = np.minimum(own, [loop.ceiling_m3s for loop in self.loops])
        self.noted.append((own, self.flow_m3s, guards, trays))

    def step(self, days: float) -> None:
        """Let a time pass at the turnover and the shares caught of now."""
        self.loads.step(days, self.flow_m3s * 3600.0 / np.array([loop.net_m3 for loop in self.loops]))

    def courses(self, times: Reals) -> tuple[Course, ...]:
        """What has been noted, bundle by bundle."""
        own, flow, guards, trays = (np.stack(column) for column in zip(*self.noted, strict=True))
        loads = self.loads
        held, on_guards = loads.in_trays_kg(), loads.on_guards_kg()
        return tuple(
            Course(
                loop=loop,
                laws=self.laws,
                days=times,
                flow_m3s=flow[:, n],
                own_m3s=own[:, n],
                guards_blocked=guards[:, 0, [n]],
                guards_cake_m=guards[:, 1, [n]],
                filled=trays[:, 0, n, : len(loop.trays)],
                cakes_m=trays[:, 1, n, : len(loop.trays)],
                branches_m3s=np.zeros((len(times), 0, 2)),
                ledger=Ledger(
                    made_kg=float(loads.made_kg[n]),
                    guards_kg=(float(on_guards[n]),),
                    trays_kg=tuple(float(kg) for kg in held[n, : len(loop.trays)]),
                    left_kg=float(loads.left_kg[n]),
                ),
            )
            for n, loop in enumerate(self.loops)
        )


def _solved(loops: Sequence[StandingLoop], days: Sequence[float], guards: Reals, trays: Reals, laws: Laws) -> Reals:
    """Own flow of each loop on its day in m3/s, with its guard and trays as given (share and cake): (2, loops) and (2, loops,
    trays)."""
    rows = []
    for n, (loop, day) in enumerate(zip(loops, days, strict=True)):
        states = states_of(loop, day, guards[:, [n]], laws)
        rows.append(aged_elements(loop, states, tray_states_of(loop, trays[:, n])))
    return flows_of(rows, loops[0].water.kinematic_m2s) if rows else np.zeros(0)
