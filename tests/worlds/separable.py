"""Courses with every state from its own part alone, at a fixed turnover: what a course comes to without what couples its parts.

The turnover stays at one reference flow, and a stack is laden as if a screen of the reference's openings stood before it (see
`optimizer.dirt.after`). Films and impellers hang on time alone, as always. For loops in series only.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from optimizer.dirt.after import Arrival, state_after, trays_of_many_after
from optimizer.dirt.course import Course, _solved
from optimizer.dirt.daily import Daily
from optimizer.dirt.laws import USUAL, Laws
from optimizer.dirt.layers import Layers, tray_layer
from optimizer.loop.element_loops import flows_of
from optimizer.loop.standing import StandingLoop, aged_elements


def arrival_of(setup: StandingLoop, daily: Daily, laws: Laws = USUAL, flow_m3s: float | None = None) -> Arrival:
    """What the parts of a rig get to catch, with a setup as the reference: its own flow when clean unless one is given."""
    clean = setup.cleaned()
    layers = Layers.of([[tray_layer(tray, clean.canister, laws) for tray in clean.trays]], laws)
    if flow_m3s is None:
        states = [one.state for one in clean.stands]
        own = flows_of([aged_elements(clean, states, [tray.state for tray in clean.trays])], clean.water.kinematic_m2s)
        flow_m3s = min(float(own[0]), setup.ceiling_m3s)
    return Arrival(
        solids_kg_day=daily.solids_kg_day,
        debris_kg_day=daily.debris_kg_day,
        turnover_1h=setup.turnover_1h(flow_m3s),
        stack_share=float(layers.caught_share(layers.start)[0]),
        opening_m=setup.guards[0][1].opening_m,
    )


def separable_courses(
    setups: Sequence[StandingLoop], arrival: Arrival, days: Sequence[float], laws: Laws = USUAL
) -> tuple[Course, ...]:
    """As `courses`, but with every state from its own part alone at a fixed turnover: any days, in any order, in one batch.

    Raises ValueError for a loop with branches.
    """
    if any(setup.forks for setup in setups):
        raise ValueError("states apart from each other are for loops in series only")
    count, times = len(days), np.asarray(days, dtype=float)
    guards = [state_after(part, one.state, day, arrival, laws) for s in setups for one, part in s.guards for day in days]
    blocked, caked = np.array([(state.blocked, state.cake_m) for state in guards]).T
    stacks = [[tray_layer(tray, s.canister, laws) for tray in s.trays] for s in setups for _ in days]
    filled, cakes = trays_of_many_after(stacks, np.tile(times, len(setups)), arrival, laws)
    every = [setup for setup in setups for _ in days]
    own = _solved(every, list(days) * len(setups), np.stack([blocked, caked]), np.stack([filled, cakes]), laws)
    found = []
    for n, setup in enumerate(setups):
        part: NDArray[np.intp] = np.arange(n * count, (n + 1) * count)
        found.append(
            Course(
                loop=setup,
                laws=laws,
                days=times,
                flow_m3s=np.minimum(own[part], setup.ceiling_m3s),
                own_m3s=own[part],
                guards_blocked=blocked[part][:, None],
                guards_cake_m=caked[part][:, None],
                filled=filled[part][:, : len(setup.trays)],
                cakes_m=cakes[part][:, : len(setup.trays)],
                branches_m3s=np.zeros((count, 0, 2)),
            )
        )
    return tuple(found)
