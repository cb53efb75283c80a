"""Flow and dirt day by day of loops with branches: as `course.py`, with the flow of every branch on every day.

Each guard catches by its share of the flow (`branched_loads.py`); what stands in a branch gets its film by time alone, as
everywhere. How the flow divides is solved anew each day, so a guard that clogs gives its water to the other. A throttle in a
branch is set anew as well: it holds what the parts of its branch allow, and leaves the other what its parts need.
"""

from collections.abc import Sequence

import numpy as np

from optimizer.dirt.branched_loads import BranchedLoads
from optimizer.dirt.daily import Daily
from optimizer.dirt.followed import Course, Ledger, states_of
from optimizer.dirt.laws import Laws
from optimizer.dirt.layers import Layers, Reals, tray_layer
from optimizer.dirt.setup import Setup, elements_of
from optimizer.loop.element_loops import flows_of, variants_of
from optimizer.model.parts import Guard


class BranchedWalk:
    """Bundles with equally many pairs of branches on their way; see `course.Walk`."""

    def __init__(self, setups: Sequence[Setup], daily: Daily, laws: Laws) -> None:
        self.setups, self.laws = tuple(setups), laws
        stacks = Layers.of([[tray_layer(tray, s.canister, laws) for tray in s.trays] for s in setups], laws)
        guards = [(_guard(setup, 0), _guard(setup, -1)) for setup in setups]
        blocked = np.array([[setup.guards[n].state.blocked for n in (0, -1)] for setup in setups])
        self.loads = BranchedLoads(guards, blocked, stacks, daily, laws)
        self.flow_m3s = np.zeros(len(setups))
        self.branches_m3s = np.zeros((len(setups), len(setups[0].forks), 2))
        self.noted: list[tuple[Reals, Reals, Reals, Reals, Reals]] = []

    def record(self, day: float) -> None:
        """See `course.Walk`."""
        blocked, filled = self.loads.blocked(), self.loads.filled()
        rows = [
            elements_of(setup, states_of(setup, day, blocked[n], self.laws), [float(share) for share in filled[n]])
            for n, setup in enumerate(self.setups)
        ]
        nu = self.setups[0].water.kinematic_m2s
        own = flows_of(rows, nu)
        self.flow_m3s = np.minimum(own, [setup.ceiling_m3s for setup in self.setups])
        self.branches_m3s = np.stack([split.state(self.flow_m3s).flow_m3s for split in variants_of(rows, nu)], axis=1)
        self.noted.append((own, self.flow_m3s, blocked, filled, self.branches_m3s))

    def step(self, days: float) -> None:
        """See `course.Walk`."""
        net_m3 = np.array([setup.net_m3 for setup in self.setups])
        self.loads.step(days, self.flow_m3s * 3600.0 / net_m3, self._shares())

    def _shares(self) -> Reals:
        """Share of the flow that each guard takes, (setups, 2): all by the first where branches are elsewhere."""
        shares = np.tile([1.0, 0.0], (len(self.setups), 1))
        for n, setup in enumerate(self.setups):
            if len(setup.guards) > 1 and self.flow_m3s[n] > 0.0:
                shares[n] = self.branches_m3s[n, 0] / self.flow_m3s[n]
        return shares

    def courses(self, times: Reals) -> tuple[Course, ...]:
        """See `course.Walk`."""
        own, flow, blocked, filled, branches = (np.stack(column) for column in zip(*self.noted, strict=True))
        loads = self.loads
        held = loads.stacks.held_kg(loads.stack_loads) - loads.stacks.held_kg(loads.stacks.start)
        on_guards = loads.on_guards_kg()
        return tuple(
            Course(
                setup=setup,
                laws=self.laws,
                days=times,
                flow_m3s=flow[:, n],
                own_m3s=own[:, n],
                guards_blocked=blocked[:, n, : len(setup.guards)],
                filled=filled[:, n, : len(setup.trays)],
                branches_m3s=branches[:, n],
                ledger=Ledger(
                    made_kg=float(loads.made_kg[n]),
                    guards_kg=tuple(float(kg) for kg in on_guards[n, : len(setup.guards)]),
                    trays_kg=tuple(float(kg) for kg in held[n, : len(setup.trays)]),
                    left_kg=float(loads.left_kg[n]),
                ),
            )
            for n, setup in enumerate(self.setups)
        )


def _guard(setup: Setup, number: int) -> Guard:
    part = setup.guards[number].part
    if not isinstance(part, Guard):
        raise TypeError("the guard's place holds no guard")
    return part
