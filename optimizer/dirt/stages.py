"""What the dirt of each stage costs by itself: one stage dirty, all others clean, day by day."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.dirt.course import Course
from optimizer.dirt.course_readings import first_below
from optimizer.dirt.layers import Reals
from optimizer.loop.element_loops import flows_of
from optimizer.loop.graph import Element
from optimizer.loop.kinds import Dirt
from optimizer.loop.kinds import kind as kind_of
from optimizer.loop.standing import aged_elements
from optimizer.model.parts import Medium, Part
from optimizer.model.state import State

MOST_POINTS = 46
"""Days that are solved for each stage; between them costs are taken to run straight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DirtStage:
    """A stage of a clean course: its place, its kind ("guard", "tray", "hoses" or "impeller"), what stands there (None: many),
    and its ``number`` among the guards or trays.

    ``cost`` is the share of the clean flow that its own dirt takes on each of ``days``, (days,), ``dirt`` how dirty it is on the
    last of them: share of openings, pores or speed; of hoses the greatest share of a bore. ``cake_m`` is the cake then.
    """

    place: str
    kind: str
    part: Part | Medium | None
    number: int
    days: Reals
    cost: Reals
    dirt: float
    cake_m: float = 0.0

    def due_day(self, cost: float) -> float:
        """The first day on which its dirt takes more than a share of the clean flow; inf when it never does."""
        return first_below(self.days, cost - self.cost)


def stages_of(course: Course) -> tuple[DirtStage, ...]:
    """The stages of a course that starts clean, in the order of the water, each of two guards by itself, the hoses and the
    impeller last."""
    count = len(course.days)
    points = np.unique(np.round(np.linspace(0, count - 1, min(count, MOST_POINTS))).astype(int)).tolist()
    named = list(_named(course))
    rows = [_alone(course, day, *which) for _, _, _, which in named for day in points]
    clean = float(course.own_m3s[0])
    flows = np.minimum(flows_of(rows, course.loop.water.kinematic_m2s), course.loop.ceiling_m3s).reshape(len(named), -1)
    delivered = min(clean, course.loop.ceiling_m3s)
    costs = 1.0 - flows / delivered if delivered > 0.0 else np.zeros_like(flows)
    return tuple(
        DirtStage(
            place=place,
            kind=kind,
            part=part,
            number=which[1],
            days=course.days[points],
            cost=costs[n],
            dirt=_dirt(course, *which),
            cake_m=_cake_m(course, *which),
        )
        for n, (place, kind, part, which) in enumerate(named)
    )


def _named(course: Course) -> Iterator[tuple[str, str, Part | Medium | None, tuple[str, int]]]:
    loop = course.loop
    for n, (one, guard) in enumerate(loop.guards):
        yield one.position.name, "guard", guard, ("guard", n)
    body = next(one.position.name for one in loop.stands if one.part is loop.canister)
    for n, tray in enumerate(loop.trays):
        if tray.medium is not None:
            yield f"{body}, tray {n + 1}", "tray", tray.medium, ("tray", n)
    yield "hoses and fittings", "hoses", None, ("hoses", 0)
    yield loop.pump.position.name, "impeller", loop.pump.part, ("impeller", 0)


STAGES = {Dirt.COVERING: "guard", Dirt.FILM: "hoses", Dirt.FOULING: "impeller"}
"""The kind of stage that a part belongs to, by how it gets dirty."""


def _alone(course: Course, day: int, kind: str, number: int) -> list[Element]:
    """The loop on a day with the dirt of one stage only."""
    dirty, guards = course.states(day), course.loop.guards
    states = [
        state if _is(one.part, kind) and (kind != "guard" or one is guards[number][0]) else one.state
        for one, state in zip(course.loop.stands, dirty, strict=True)
    ]
    first = course.tray_states(0)
    trays = [now if kind == "tray" and n == number else first[n] for n, now in enumerate(course.tray_states(day))]
    return aged_elements(course.loop, states, trays)


def _dirt(course: Course, kind: str, number: int) -> float:
    """How dirty a stage is on the last day."""
    if kind == "tray":
        return float(course.filled[-1, number])
    if kind == "guard":
        return float(course.guards_blocked[-1, number])
    states = course.states(len(course.days) - 1)
    return max((_share(one.part, state) for one, state in zip(course.loop.stands, states, strict=True) if _is(one.part, kind)))


def _cake_m(course: Course, kind: str, number: int) -> float:
    """How thick the cake on a stage is on the last day."""
    cakes = {"tray": course.cakes_m, "guard": course.guards_cake_m}.get(kind)
    return 0.0 if cakes is None else float(cakes[-1, number])


def _is(part: Part, stage: str) -> bool:
    return STAGES.get(kind_of(part).dirt) == stage


def _share(part: Part, state: State) -> float:
    """Of its speed or of its bore."""
    bore_m = kind_of(part).filmed_bore_m(part)
    return min(2.0 * state.film_m / bore_m, 1.0) if bore_m else state.fouled
