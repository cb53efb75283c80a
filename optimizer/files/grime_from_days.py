"""How dirty a clean rig has become some days later, roughly: what an interview guesses when it is told the last cleaning."""

from __future__ import annotations

from optimizer.dirt.after import Arrival, film_after_m, fouled_after, state_after, trays_after
from optimizer.dirt.daily import daily_of
from optimizer.dirt.laws import USUAL
from optimizer.files.loop_from_answers import Grime
from optimizer.model.parts import Guard
from optimizer.model.rig import Rig
from optimizer.model.state import State

__all__ = ["grime_after"]

TURNOVER_1H = 3.0
"""Delivered turnover of the guess: two to four per hour is usual (common practice, no published source)."""

STACK_SHARE = 0.7
"""Share of the solids that a usual stack keeps in one pass; it counts for the wall of a sponge only (prior of the authors)."""


def grime_after(rig: Rig, days: float) -> Grime:
    """Return the dirt of a series loop that was clean ``days`` ago, at a fixed turnover, by the model of `optimizer.dirt.after`.

    What is fed is taken by the size of the tank, as `optimizer.dirt.daily` does. Raises TypeError without a guard at the start.
    """
    if days <= 0.0:
        return Grime()
    guard = rig.positions[0].installed
    if not isinstance(guard, Guard):
        raise TypeError("the loop of an interview starts with a guard")
    daily = daily_of(rig)
    arrival = Arrival(
        solids_kg_day=daily.solids_kg_day, debris_kg_day=daily.debris_kg_day, turnover_1h=TURNOVER_1H, stack_share=STACK_SHARE
    )
    return Grime(
        film_m=float(film_after_m(0.0, days, USUAL)),
        fouled=float(fouled_after(0.0, days, USUAL)),
        blocked=state_after(guard, State(), days, arrival).blocked,
        filled=tuple(state.filled for state in trays_after(rig.canister, rig.trays, days, arrival)),
    )
