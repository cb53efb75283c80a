"""Flow and dirt day by day of loops with branches: as `course.py`, with the flow of every branch on every day.

Each guard catches by its share of the flow (`branched_loads.py`); what stands in a branch gets its film by time alone, as
everywhere. How the flow divides is solved anew each day, so a guard that clogs gives its water to the other. A throttle in a
branch is set anew as well: it holds what the parts of its branch allow, and leaves the other what its parts need.
"""

from collections.abc import Sequence

import numpy as np

from optimizer.dirt.branched_loads import BranchedLoads
from optimizer.dirt.daily import Daily
from optimizer.dirt.followed import Course, Ledger, states_of, tray_states_of
from optimizer.dirt.laws import Laws
from optimizer.dirt.layers import Layers, Reals, tray_layer
from optimizer.loop.element_loops import flows_of, variants_of
from optimizer.loop.standing import StandingLoop, aged_elements
from optimizer.model.parts import Guard


class BranchedWalk:
    """Bundles with equally many pairs of branches on their way; see `course.Walk`."""

    def __init__(self, loops: Sequence[StandingLoop], daily: Daily, laws: Laws) -> None:
        self.loops, self.laws = tuple(loops), laws
        stacks = Layers.of([[tray_layer(tray, s.canister, laws) for tray in s.trays] for s in loops], laws)
        many = max(len(loop.guards) for loop in loops)
        each = [[loop.guards[min(n, len(loop.guards) - 1)] for n in range(many)] for loop in loops]
        guards = [[guard for _, guard in some] for some in each]
        states = [[one.state for one, _ in some] for some in each]
        self.loads = BranchedLoads(guards, states, stacks, daily, laws)
        self.flow_m3s = np.zeros(len(loops))
        self.branches_m3s = np.zeros((len(loops), len(loops[0].forks), 2))
        self.noted: list[tuple[Reals, Reals, Reals, Reals, Reals]] = []

    def record(self, day: float) -> None:
        """See `course.Walk`."""
        guards, trays = self.loads.guard_states(), self.loads.tray_states()
        rows = [
            aged_elements(loop, states_of(loop, day, guards[:, n], self.laws), tray_states_of(loop, trays[:, n]))
            for n, loop in enumerate(self.loops)
        ]
        nu = self.loops[0].water.kinematic_m2s
        own = flows_of(rows, nu)
        self.flow_m3s = np.minimum(own, [loop.ceiling_m3s for loop in self.loops])
        passing = [flows for split in variants_of(rows, nu) for flows in split.every_flow_m3s(self.flow_m3s)]
        self.branches_m3s = np.stack(passing, axis=1)
        self.noted.append((own, self.flow_m3s, guards, trays, self.branches_m3s))

    def step(self, days: float) -> None:
        """See `course.Walk`."""
        net_m3 = np.array([loop.net_m3 for loop in self.loops])
        self.loads.step(days, self.flow_m3s * 3600.0 / net_m3, self._shares())

    def _shares(self) -> Reals:
        """Share of the flow that each guard takes, (loops, guards): all by the first where branches are elsewhere."""
        shares = np.zeros((len(self.loops), len(self.loads.sides)))
        shares[:, 0] = 1.0
        for n, loop in enumerate(self.loops):
            if len(loop.guards) > 1 and self.flow_m3s[n] > 0.0:
                branches = (loop.branch_of(part) for part, _, _ in loop.each(Guard))
                own = [self.flow_m3s[n] if inside is None else self.branches_m3s[n, *inside] for inside in branches]
                shares[n, : len(own)] = np.array(own) / self.flow_m3s[n]
        return shares

    def courses(self, times: Reals) -> tuple[Course, ...]:
        """See `course.Walk`."""
        own, flow, guards, trays, branches = (np.stack(column) for column in zip(*self.noted, strict=True))
        loads = self.loads
        held, on_guards = loads.in_trays_kg(), loads.on_guards_kg()
        return tuple(
            Course(
                loop=loop,
                laws=self.laws,
                days=times,
                flow_m3s=flow[:, n],
                own_m3s=own[:, n],
                guards_blocked=guards[:, 0, n, : len(loop.guards)],
                guards_cake_m=guards[:, 1, n, : len(loop.guards)],
                filled=trays[:, 0, n, : len(loop.trays)],
                cakes_m=trays[:, 1, n, : len(loop.trays)],
                branches_m3s=branches[:, n],
                ledger=Ledger(
                    made_kg=float(loads.made_kg[n]),
                    guards_kg=tuple(float(kg) for kg in on_guards[n, : len(loop.guards)]),
                    trays_kg=tuple(float(kg) for kg in held[n, : len(loop.trays)]),
                    left_kg=float(loads.left_kg[n]),
                ),
            )
            for n, loop in enumerate(self.loops)
        )
