"""What the dirt of each stage costs by itself: one stage dirty, all others clean, day by day."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.dirt.course import Course
from optimizer.dirt.layers import Reals
from optimizer.dirt.setup import elements_of
from optimizer.dirt.when import first_below
from optimizer.loop.element_loops import flows_of
from optimizer.loop.graph import Element
from optimizer.model.parts import Fitting, Guard, Hose, Medium, Outlet, Part, Pump
from optimizer.model.state import State

MOST_POINTS = 46
"""Days that are solved for each stage; between them costs are taken to run straight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """A stage of a clean course: its place, its kind ("guard", "tray", "hoses" or "impeller"), what stands there (None: many),
    and its ``number`` among the guards or trays.

    ``cost`` is the share of the clean flow that its own dirt takes on each of ``days``, (days,), ``dirt`` how dirty it is on the
    last of them: share of openings, pores or speed; of hoses the greatest share of a bore.
    """

    place: str
    kind: str
    part: Part | Medium | None
    number: int
    days: Reals
    cost: Reals
    dirt: float

    def due_day(self, cost: float) -> float:
        """The first day on which its dirt takes more than a share of the clean flow; inf when it never does."""
        return first_below(self.days, cost - self.cost)


def stages_of(course: Course) -> tuple[Stage, ...]:
    """The stages of a course that starts clean, in the order of the water, each of two guards by itself, the hoses and the
    impeller last."""
    count = len(course.days)
    points = np.unique(np.round(np.linspace(0, count - 1, min(count, MOST_POINTS))).astype(int)).tolist()
    named = list(_named(course))
    rows = [_alone(course, day, *which) for _, _, _, which in named for day in points]
    clean = float(course.own_m3s[0])
    flows = np.minimum(flows_of(rows, course.setup.water.kinematic_m2s), course.setup.ceiling_m3s).reshape(len(named), -1)
    delivered = min(clean, course.setup.ceiling_m3s)
    costs = 1.0 - flows / delivered if delivered > 0.0 else np.zeros_like(flows)
    return tuple(
        Stage(
            place=place,
            kind=kind,
            part=part,
            number=which[1],
            days=course.days[points],
            cost=costs[n],
            dirt=_dirt(course, *which),
        )
        for n, (place, kind, part, which) in enumerate(named)
    )


def _named(course: Course) -> Iterator[tuple[str, str, Part | Medium | None, tuple[str, int]]]:
    setup = course.setup
    for n, guard in enumerate(setup.guards):
        yield guard.position.name, "guard", guard.part, ("guard", n)
    body = next(one.position.name for one in setup.placed if one.part is setup.canister)
    for n, tray in enumerate(setup.trays):
        if tray.medium is not None:
            yield f"{body}, tray {n + 1}", "tray", tray.medium, ("tray", n)
    yield "hoses and fittings", "hoses", None, ("hoses", 0)
    yield setup.pump.position.name, "impeller", setup.pump.part, ("impeller", 0)


KINDS: dict[str, tuple[type[Part], ...]] = {"guard": (Guard,), "hoses": (Hose, Fitting, Outlet), "impeller": (Pump,), "tray": ()}
"""Parts that belong to each kind of stage."""


def _alone(course: Course, day: int, kind: str, number: int) -> list[Element]:
    """The loop on a day with the dirt of one stage only."""
    dirty, guards = course.states(day), course.setup.guards
    states = [
        state if _is(one.part, kind) and (kind != "guard" or one is guards[number]) else one.state
        for one, state in zip(course.setup.placed, dirty, strict=True)
    ]
    filled = [float(course.filled[day, n] if kind == "tray" and n == number else course.filled[0, n]) for n in _trays(course)]
    return elements_of(course.setup, states, filled)


def _trays(course: Course) -> range:
    return range(len(course.setup.trays))


def _dirt(course: Course, kind: str, number: int) -> float:
    """How dirty a stage is on the last day."""
    if kind == "tray":
        return float(course.filled[-1, number])
    if kind == "guard":
        return float(course.guards_blocked[-1, number])
    states = course.states(len(course.days) - 1)
    return max((_share(one.part, state) for one, state in zip(course.setup.placed, states, strict=True) if _is(one.part, kind)))


def _is(part: Part, kind: str) -> bool:
    return isinstance(part, KINDS[kind])


def _share(part: Part, state: State) -> float:
    if isinstance(part, Pump):
        return state.fouled
    bore = part.inside_m if isinstance(part, Hose) else part.passage_m if isinstance(part, Fitting) else 0.0
    return min(2.0 * state.film_m / bore, 1.0) if bore else 0.0
