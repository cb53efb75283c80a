"""The state of one part after some days, from itself alone: what the search needs to know the loss of an option on the last day.

The approximation that makes options separable: the turnover stays at one reference flow; a stack is laden as if a screen of the
reference's openings stood before it; the wall of a sponge is laden as if the media caught what those of the reference loop catch.
Films and impellers depend on time alone, screens and cakes on the turnover. At a fixed turnover n the mass G that has entered the
depth of a stack obeys t = (k G / n + caught(G)) / P, with k the settling, P what is made a day and passes the faces: no steps in
time, any number of stacks at once, exact.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.dirt.laws import USUAL, Laws
from optimizer.dirt.layers import Faces, Layer, Layers, Reals, guard_layer, tray_layer
from optimizer.loop.kinds import Dirt, kind, parts_of
from optimizer.model.parts import Canister, Guard, Part
from optimizer.model.rig import Tray
from optimizer.model.state import State
from optimizer.physics.feeding import kept_share
from optimizer.physics.fouling import grown
from optimizer.physics.guards import blocked_share, covered_for_blocked

MOST_NEWTON = 60
"""Newton's method climbs to the root from below and doubles its digits there; this many steps are never needed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """What the parts of a loop are given to catch: dry solids and debris made in kg/day, the reference turnover in 1/h, the share
    that the media of the reference loop keep in one pass, and the openings in m of its guard (inf: it has none). Raises
    ValueError for what cannot be."""

    solids_kg_day: float
    debris_kg_day: float
    turnover_1h: float
    stack_share: float
    opening_m: float = math.inf

    def __post_init__(self) -> None:
        if not min(self.solids_kg_day, self.debris_kg_day, self.turnover_1h) >= 0.0:
            raise ValueError("what arrives cannot be negative")
        if not 0.0 <= self.stack_share <= 1.0:
            raise ValueError("the share that media keep lies between 0 and 1")


def state_after(part: Part, start: State, days: float, arrival: Arrival, laws: Laws = USUAL) -> State:
    """State of a part that stands in a loop for ``days``, having been in ``start``. Trays: `trays_after`.

    >>> from optimizer.model.parts import Hose
    >>> hose = Hose(id="H", name="hose", inside_m=0.016, outside_m=0.022)
    >>> arrival = Arrival(solids_kg_day=1e-3, debris_kg_day=1e-4, turnover_1h=3.0, stack_share=0.7)
    >>> round(1e3 * state_after(hose, State(), 42.0, arrival).film_m, 3)
    0.403
    """
    for guard in parts_of([part], Guard):
        return _guard_after(guard, start, days, arrival, laws)
    return grown_with_time(part, start, days, laws)


def grown_with_time(part: Part, start: State, days: float, laws: Laws) -> State:
    """State of a part after some days as far as it hangs on time alone: film and fouling."""
    dirt = kind(part).dirt
    if dirt is Dirt.FILM:
        return replace(start, film_m=float(film_after_m(start.film_m, days, laws)))
    if dirt is Dirt.FOULING:
        return replace(start, fouled=float(fouled_after(start.fouled, days, laws)))
    return start


def film_after_m(start_m: float, days: Reals | float, laws: Laws) -> Reals | float:
    """Thickness of a film in m that was ``start_m`` ``days`` ago."""
    return grown(laws.film, start_m, days, laws.film_most_m, laws.film_days)


def fouled_after(start: float, days: Reals | float, laws: Laws) -> Reals | float:
    """Share of the speed that an impeller loses to dirt, having lost ``start`` ``days`` ago."""
    return grown(laws.fouling, start, days, laws.fouled_most, laws.fouled_days)


def open_area_m2(guard: Guard) -> float:
    """Area of a clean guard's openings, in m2."""
    return guard.face_area_m2 * guard.open_fraction


def _guard_after(guard: Guard, start: State, days: float, arrival: Arrival, laws: Laws) -> State:
    layers, sponge = Layers.of([[guard_layer(guard, start, laws)]], laws), guard.form == "sponge"
    faces = Faces.of(layers, np.array([sponge]), Layers.of([[]], laws))
    landed = days * float(faces.on_guard_kg_day(arrival)[0]) * _comes_by(arrival, laws)
    if not sponge:
        return replace(start, blocked=covered_guard(start.blocked, landed * laws.cover_m2kg / open_area_m2(guard), laws))
    loads = _loads_after(layers, days, float(faces.rest_kg_day(arrival)[0]), arrival.turnover_1h, arrival.stack_share, laws)
    filled, cake = layers.states(loads, np.array([[landed]]))[:, 0, 0].tolist()
    return replace(start, blocked=filled, cake_m=cake)


def _comes_by(arrival: Arrival, laws: Laws) -> float:
    """Share of what is made, and stays on the face it meets, that does not settle before."""
    return float(kept_share(arrival.turnover_1h, 1.0, laws.settling_1h))


def covered_guard(blocked: float, covered: float, laws: Laws) -> float:
    """Blocked share of a screen that was ``blocked`` before ``covered`` times its open area of debris came to lie on it."""
    before = covered_for_blocked(laws.covering, blocked, laws.most_blocked)
    return max(blocked, float(blocked_share(laws.covering, before + covered, laws.most_blocked)))


def trays_after(
    canister: Canister, trays: Sequence[Tray], days: float, arrival: Arrival, laws: Laws = USUAL
) -> tuple[State, ...]:
    """States of the trays of one stack after ``days``; see `trays_of_many_after` for many stacks."""
    filled, cakes = trays_of_many_after([[tray_layer(tray, canister, laws) for tray in trays]], days, arrival, laws)
    dirty = zip(filled[0].tolist(), cakes[0].tolist(), strict=True)
    return tuple(replace(tray.state, filled=share, cake_m=cake) for tray, (share, cake) in zip(trays, dirty, strict=False))


def trays_of_many_after(stacks: Sequence[Sequence[Layer]], days: float | Reals, arrival: Arrival, laws: Laws = USUAL) -> Reals:
    """`State.filled` and `State.cake_m` of every layer of many stacks, (2, stacks, layers), after ``days`` (one number, or one
    for each stack). Of what a guard catches only that is taken off which its openings stop."""
    layers = Layers.of(stacks, laws)
    front = Layers.of([[Layer(opening_m=arrival.opening_m)]] * len(stacks), laws)
    faces = Faces.of(front, np.zeros(len(stacks), dtype=bool), layers)
    times = np.broadcast_to(np.asarray(days, dtype=float), (len(stacks),))
    landed = times[:, None] * faces.on_media_kg_day(arrival) * _comes_by(arrival, laws)
    loads = _loads_after(layers, times, faces.rest_kg_day(arrival), arrival.turnover_1h, 0.0, laws)
    return layers.states(loads, landed)


def _loads_after(
    layers: Layers, days: float | Reals, made_kg_day: float | Reals, turnover_1h: float, others: float, laws: Laws
) -> Reals:
    """Loads at a fixed turnover, while other parts keep the share ``others`` of what these let pass.

    dG/dt = P n / (k + n E), E = others + (1 - others) e(G) with e the share these keep, so (k/n + others) G + (1 - others)
    caught(G) = P t. The left side rises with G and bends down, so Newton's method from the clean layers' slope climbs to the root
    without passing it.
    """
    asked = np.broadcast_to(np.asarray(made_kg_day) * np.asarray(days, dtype=float), (len(layers.start),))
    if turnover_1h <= 0.0:
        return layers.start
    idle = laws.settling_1h / turnover_1h + others
    entered = np.zeros(len(layers.start))
    loads, caught = layers.start, np.zeros_like(entered)
    for _ in range(MOST_NEWTON):
        slope = idle + (1.0 - others) * layers.caught_share(loads)
        step = (asked - idle * entered - (1.0 - others) * caught) / slope
        entered = entered + step
        loads, passed = layers.fed(layers.start, entered)
        caught = entered - passed
        if (np.abs(step) <= 1e-12 * np.maximum(entered, 1e-12)).all():
            break
    return loads
