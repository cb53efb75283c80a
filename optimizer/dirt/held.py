"""A loop with a throttle over the days: what dirt makes a limit allow less of is held to that, by closing the throttle again."""

import math
from dataclasses import replace

import numpy as np

from optimizer.dirt.course import Course
from optimizer.dirt.course_readings import inlet_head_m
from optimizer.dirt.layers import Reals
from optimizer.loop.bracket import bracketed
from optimizer.model.limits import Limits


def held(course: Course, limits: Limits) -> Course:
    """The course of a loop in series with what is delivered held, on every day, to what the speed in front of the guard and the
    pressure at the pump's inlet allow. The dirt is that of the flow before it was held, so there is rather more than less of it.

    Raises ValueError for a loop with branches.
    """
    if course.loop.forks:
        raise ValueError("only a loop in series is held to its limits day by day")
    flow = np.minimum(course.flow_m3s, _guard_ceiling(course, limits))
    if math.isfinite(limits.inlet_head_m):
        flow = np.array([_under_inlet(course, limits, day, float(each)) for day, each in enumerate(flow)])
    return replace(course, flow_m3s=flow)


def _guard_ceiling(course: Course, limits: Limits) -> Reals:
    guard = course.loop.guards[0][1]
    if math.isinf(limits.guard_speed_ms):
        return np.full(len(course.days), math.inf)
    return np.asarray(limits.guard_speed_ms * guard.face_area_m2 * (1.0 - course.blocked))


def _under_inlet(course: Course, limits: Limits, day: int, flow_m3s: float) -> float:
    """The greatest flow up to one that leaves the pump's inlet its pressure on a day."""
    elements = course.elements(day)

    def room(flow: float) -> float:
        return inlet_head_m(course, elements, flow) - limits.inlet_head_m

    if room(flow_m3s) >= 0.0:
        return flow_m3s
    if room(0.0) <= 0.0:
        return 0.0
    return bracketed(room, 0.0, flow_m3s, xtol=1e-15, rtol=1e-14)
