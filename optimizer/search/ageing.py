"""The options of a problem on any day of an interval between cleanings: what hangs on time alone.

Film and the dirt of an impeller grow with time whatever the water does, so the loss of a hose or fitting and the speed of a pump
on a day are those of the option alone. Guards and media are left out here: what they catch hangs on the flow
(`search/course_batch.py`).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.dirt.after import Arrival, state_after
from optimizer.dirt.course import days_of
from optimizer.dirt.daily import Daily
from optimizer.dirt.laws import USUAL, Laws
from optimizer.loop.kinds import Dirt, kind, of_sort, part_loss, speed_of
from optimizer.model.losses import Loss
from optimizer.model.options import Fill, Option
from optimizer.model.parts import Guard, Kind
from optimizer.search.layers import Problem

Reals = NDArray[np.float64]

NOTHING = Arrival(solids_kg_day=0.0, debris_kg_day=0.0, turnover_1h=0.0, stack_share=0.0)
"""What arrives does not matter to film and impellers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """Days between cleanings, what goes into the tank each day, and by which laws it clogs. Raises ValueError as `days_of`."""

    days: float
    daily: Daily
    laws: Laws = USUAL

    def __post_init__(self) -> None:
        days_of(self.days)

    @property
    def every_day(self) -> Reals:
        """The days of the interval, its ends included."""
        return days_of(self.days)


class Ageing:
    """Loss and speed of every option of a problem on every day, worked out when first asked for.

    Raises ValueError for a problem with branches.
    """

    def __init__(self, problem: Problem, interval: Interval) -> None:
        if any(option.ways is not None for layer in problem.layers for option in layer.options):
            raise ValueError("the last day is found for loops in series only")
        self.problem, self.interval = problem, interval
        self.days = interval.every_day
        rig = problem.choices.rig
        self.guard, self.canister = rig.index(Kind.GUARD), rig.index(Kind.CANISTER)
        self._known: dict[tuple[object, ...], tuple[Loss, float]] = {}

    def on_day(self, option: Option, day: float) -> tuple[Loss, float]:
        """Loss and speed of an option on a day. A guard is without loss here, and a canister without its media."""
        part = option.part
        if part is None:
            return option.loss, option.speed
        dirt = kind(part).dirt
        if dirt is Dirt.COVERING:
            return Loss(), 1.0
        if dirt is Dirt.NONE and not option.fills:
            return option.loss, option.speed
        key = (option.position, id(part), option.state, option.height_m, option.is_known, 0.0 if option.fills else day)
        if key not in self._known:
            self._known[key] = self._aged(option, day)
        return self._known[key]

    def _aged(self, option: Option, day: float) -> tuple[Loss, float]:
        part, choices = option.part, self.problem.choices
        if part is None:
            raise ValueError("nothing ages where nothing is")
        position = replace(choices.rig.positions[option.position], height_m=option.height_m)
        state = state_after(part, option.state, day, NOTHING, self.interval.laws)
        speed = speed_of(part, state, choices.rig.mains_hz)
        fitted = choices.rig.fitted
        if fitted is not None:
            return fitted.part(replace(part, id=option.known_as), state, position, choices.water, option.state)[1], speed
        return part_loss(part, state, position, choices.water), speed

    def guard_scales(self, option: Option) -> tuple[float, float, float]:
        """What the loss of a guard is multiplied by, see `guard_terms`, by what fills say."""
        part, fitted = replace(of_sort(option.part, Guard), id=option.known_as), self.problem.choices.rig.fitted
        return fitted.guard_scales(part, option.state) if fitted is not None else (1.0, 1.0, 1.0)

    def tray_scales(self, fill: Fill) -> tuple[float, float, float]:
        """The same of the linear and quadratic loss of what is in a tray, and of its cake."""
        fitted = self.problem.choices.rig.fitted
        if fitted is None or fill.medium is None:
            return 1.0, 1.0, 1.0
        return fitted.tray_scales(replace(fill.medium, id=fill.like or fill.medium.id), fill.state)
