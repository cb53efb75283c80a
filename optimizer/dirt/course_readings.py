"""When something is missed, what clogs first, and what flows on average, read off a course."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.dirt.course import Course
from optimizer.dirt.layers import Reals
from optimizer.loop.graph import Element
from optimizer.loop.kinds import each_of
from optimizer.loop.loss_head import loss_head_m
from optimizer.loop.operating import element_head_m
from optimizer.loop.split_point import branch_heads_m, split_flows
from optimizer.loop.standing import Fork
from optimizer.loop.terms import fastest_jet_1m2, velocity_quadratic
from optimizer.model.limits import Limits
from optimizer.model.losses import Split
from optimizer.model.parts import Device, Outlet

SLACK = 1e-9
"""A margin this little below 0, as a share (or in m), still counts as met."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss:
    """A target, limit or window and the day on which it is first missed (0: from the start; inf: not within the course).

    ``name`` is "target", a field of `Limits` or "device_windows"; ``place`` the position concerned (empty: the whole loop).
    """

    name: str
    place: str
    day: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rise:
    """Head that one place takes in m, and its share of all losses, on the first and on a later day."""

    place: str
    first_m: float
    later_m: float
    first_share: float
    later_share: float

    @property
    def risen(self) -> float:
        """How much its share of all losses has risen."""
        return self.later_share - self.first_share


def misses(course: Course, limits: Limits, target_m3s: float = 0.0) -> tuple[Miss, ...]:
    """What is asked of the flow, each with its first day missed, the earliest first.

    Watched are the target, the least and greatest flow, the windows of devices, the speed in front of the guards (what is blocked
    takes no water), that of the jets at the outlets (no dirt is reckoned to grow there) and the pressure at the pump's inlet; in
    branches it is their own flow that counts. Between two days margins are taken to run straight.
    """
    found = [
        Miss(name=name, place=place, day=first_below(course.days, margin))
        for name, place, margin in _margins(course, limits, target_m3s)
    ]
    return tuple(sorted(found, key=lambda miss: (miss.day, miss.name, miss.place)))


def first_below(days: Reals, margin: Reals) -> float:
    """The first day on which a margin is below 0, running straight between days; inf when it never is.

    >>> first_below(np.array([0.0, 1.0, 2.0]), np.array([2.0, 1.0, -1.0]))
    1.5
    """
    below = np.flatnonzero(margin < -SLACK)
    if not len(below):
        return math.inf
    k = int(below[0])
    if k == 0:
        return float(days[0])
    over, under = max(float(margin[k - 1]), 0.0), float(margin[k])
    return float(days[k - 1] + (days[k] - days[k - 1]) * over / (over - under))


def days_until_flow(course: Course, flow_m3s: float) -> float:
    """The day on which delivered flow first falls below ``flow_m3s`` > 0; inf when it does not within the course."""
    return first_below(course.days, course.flow_m3s / flow_m3s - 1.0)


def mean_flow_m3s(course: Course) -> float:
    """Delivered flow on average over the course, running straight between its days, in m3/s."""
    span = float(course.days[-1] - course.days[0])
    return float(np.trapezoid(course.flow_m3s, course.days)) / span if span else float(course.flow_m3s[0])


def inlet_heads_m(course: Course) -> Reals:
    """Gauge pressure at the pump's inlet on each day as head of the water in m, (days,), at delivered flow."""
    return np.array([inlet_head_m(course, course.elements(day), float(flow)) for day, flow in enumerate(course.flow_m3s)])


def inlet_head_m(course: Course, elements: Sequence[Element], flow_m3s: float) -> float:
    """Gauge pressure at the pump's inlet as head of the water in m, at a flow through the elements of one of the days."""
    nu = course.loop.water.kinematic_m2s
    here = next(n for n, element in enumerate(elements) if element.curve is not None)
    lost = sum(element_head_m(element, flow_m3s, nu) for element in elements[:here])
    return course.loop.pump.position.depth_m - lost - velocity_quadratic(elements[here].inlet_bore_m) * flow_m3s**2


def _margins(course: Course, limits: Limits, target_m3s: float) -> Iterator[tuple[str, str, Reals]]:
    """Name, place and (days,) margin of each demand: above 0 while it is met."""
    flow = np.maximum(course.flow_m3s, 1e-30)
    if target_m3s > 0.0:
        yield "target", "", flow / target_m3s - 1.0
    if limits.flow_min_m3s > 0.0:
        yield "flow_min_m3s", "", flow / limits.flow_min_m3s - 1.0
    if math.isfinite(limits.flow_max_m3s):
        yield "flow_max_m3s", "", 1.0 - flow / limits.flow_max_m3s
    through = {one.position.name: np.maximum(course.passing_m3s(n), 1e-30) for n, one in enumerate(course.loop.stands)}
    for one, device in each_of(course.loop.stands, Device) if limits.device_windows else ():
        passing = through[one.position.name]
        low = passing / device.flow_min_m3s - 1.0 if device.flow_min_m3s else np.full(len(flow), math.inf)
        yield "device_windows", one.position.name, np.minimum(low, 1.0 - passing / device.flow_max_m3s)
    for (one, guard), blocked in zip(course.loop.guards, course.guards_blocked.T, strict=True):
        if math.isfinite(limits.guard_speed_ms):
            most = limits.guard_speed_ms * guard.face_area_m2 * (1.0 - blocked)
            yield "guard_speed_ms", one.position.name, most / through[one.position.name] - 1.0
    for one, outlet in each_of(course.loop.stands, Outlet) if math.isfinite(limits.jet_speed_ms) else ():
        fastest = fastest_jet_1m2(outlet, one.state) * through[one.position.name]
        yield "jet_speed_ms", one.position.name, limits.jet_speed_ms / fastest - 1.0
    if math.isfinite(limits.inlet_head_m):
        yield "inlet_head_m", course.loop.pump.position.name, inlet_heads_m(course) - limits.inlet_head_m


def rises(course: Course, day: int = -1) -> tuple[Rise, ...]:
    """Every place of the loop (each tray and joint a place of its own) with its losses on the first day and at an index of the
    days, the greatest rise of its share first. Lift is no loss. What stands in a branch counts by the share of the water that
    passes it: so the places of both branches and their tees come to what the water loses between the two points."""
    later = day % len(course.days)
    heads = [list(_losses(course, k)) for k in (0, later)]
    totals = [sum(head for _, head in each) or 1.0 for each in heads]
    found = [
        Rise(place=place, first_m=first, later_m=last, first_share=first / totals[0], later_share=last / totals[1])
        for (place, first), (_, last) in zip(*heads, strict=True)
    ]
    return tuple(sorted(found, key=lambda rise: -rise.risen))


def _losses(course: Course, day: int) -> Iterator[tuple[str, float]]:
    """Every place but the pump with the head it takes on a day."""
    nu, flow = course.loop.water.kinematic_m2s, float(course.flow_m3s[day])
    forks = iter(course.loop.trunk_forks)
    for element in course.elements(day):
        if element.split is not None:
            yield from _in_branches(course, day, next(forks), element.split, 1.0)
        elif element.curve is None:
            yield element.place, element_head_m(element, flow, nu) - element.loss.lift_m


def _in_branches(course: Course, day: int, number: int, split: Split, share: float) -> Iterator[tuple[str, float]]:
    """What parts in branches take of the head, each by the share of all the water that passes it; that of the whole fork is
    ``share``."""
    loop, fork, flows_m3s = course.loop, course.loop.forks[number], course.branches_m3s[day, number]
    nu, total = loop.water.kinematic_m2s, float(flows_m3s.sum())
    shares = share * (flows_m3s / total if total > 0.0 else np.array([1.0, 0.0]))
    both = (float(flows_m3s[0]), float(flows_m3s[1]))
    left = float(np.dot(branch_heads_m(split, both, nu), shares))
    for n, branch in enumerate(split.branches):
        stands = [loop.stands[each] for each in loop.in_branch(fork, n) if not isinstance(each, Fork)]
        for one, loss in zip(stands, branch.losses, strict=False):
            lift = float(shares[n]) * loss.lift_m
            lost = float(shares[n]) * loss_head_m(loss, both[n], nu)
            left -= lost
            yield one.position.name, lost - lift
        inside = [each for each, inner in enumerate(loop.forks) if inner.within == (number, n)]
        for each, within in zip(inside, branch.inner, strict=True):
            left -= float(shares[n]) * split_flows(within, both[n], nu)[1]
            yield from _in_branches(course, day, each, within, float(shares[n]))
    yield f"joints and tees of {fork.place}", left
