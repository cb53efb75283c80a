"""What stands at each position of a bundle, told apart only where it matters for the water.

Two options of one position are the same thing when they are the same part (cleaned or not, either way round, with or without a
screw clamp), for the canister the same media whatever their order, for an outlet the same holes at the same height. Two
different parts count as the same thing as well when both fit the very same ends, are alike in noise, power and flow window, and
lose so nearly the same that one in place of the other changes the flow by less than the resolution: in order of
their loss at the flow of a reference bundle, neighbours closer than the slope of its head there times
`RESOLUTION_M3S` are put together.

Joints, adapters, clamps, and which pack or coil a piece comes from are not things.
"""

from collections import Counter
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.model.ends import End
from optimizer.model.parts import Canister, Outlet, Part
from optimizer.model.rig import Position, Rig
from optimizer.search.best import RESOLUTION_M3S, Found
from optimizer.search.layers import Problem
from optimizer.search.options import Option

Ints = NDArray[np.intp]
Mask = NDArray[np.bool_]

NOT_OFFERED = -1
"""Number of an installed part that no option keeps."""


@dataclass(frozen=True, slots=True)
class Things:
    """``of_row[k]`` numbers the thing that option k (flat) puts at its position; ``installed[p]`` is the one there now."""

    problem: Problem
    of_row: Ints
    installed: tuple[int, ...]

    def at(self, rows: Sequence[int]) -> tuple[int, ...]:
        """The things of a bundle, position by position, from the flat places of its options."""
        return tuple(int(self.of_row[row]) for row in rows)

    def departures(self, rows: Sequence[int]) -> dict[int, int]:
        """The positions where a bundle puts something else than what is there now, each with its thing."""
        pairs = zip(self.at(rows), self.installed, strict=True)
        return {place: thing for place, (thing, now) in enumerate(pairs) if thing != now}

    def having(self, place: int, thing: int) -> Mask:
        """The options of one position that put this thing there: a mask over that position's part of the flat array."""
        first, last = self.problem.option_at[place], self.problem.option_at[place + 1]
        return np.asarray(self.of_row[first:last] == thing)


def things(problem: Problem, reference: Found) -> Things:
    """Number what the options of a problem put at each position; parts are alike as seen from the reference bundle."""
    flow = max(reference.delivered.own_m3s, RESOLUTION_M3S)
    losses = problem.heads.at(flow)
    near_m = _slope(problem, reference, flow) * RESOLUTION_M3S
    of_row = np.full(len(problem.option_plain), NOT_OFFERED, dtype=np.intp)
    installed = []
    for place, layer in enumerate(problem.layers):
        first = problem.option_at[place]
        kinds: dict[Hashable, list[int]] = {}
        for n, option in enumerate(layer.options):
            kinds.setdefault(identity(option), []).append(first + n)
        number = _numbered(problem, kinds, losses, near_m)
        for kind, rows in kinds.items():
            of_row[rows] = number[kind]
        installed.append(number.get(_installed(problem.choices.rig, place), NOT_OFFERED))
    return Things(problem, of_row, tuple(installed))


def identity(option: Option) -> Hashable:
    """What an option puts at its position, however clean, whichever way round.

    >>> identity(Option(position=0, change="keep", part=None))
    ('nothing',)
    """
    if option.ways is not None:
        tees = (_id(option.ways.parting), _id(option.ways.meeting))
        return ("branches", tees, *((way.name, *map(identity, way.options)) for way in option.ways.branches))
    if option.part is None:
        return ("nothing",)
    if isinstance(option.part, Canister):
        return _media([fill.medium for fill in option.fills])
    return _part_identity(option.part, option.height_m)


def _id(tee: Option | None) -> str:
    return "" if tee is None or tee.part is None else tee.part.id


def _part_identity(part: Part, height_m: float) -> Hashable:
    if isinstance(part, Outlet):
        return (part.id, part.form, part.holes, part.hole_m, height_m)
    return (part.id,)


def _media(media: Sequence[Part | None]) -> Hashable:
    counts = Counter(medium.id for medium in media if medium is not None)
    return ("media", *sorted(counts.items()))


def _installed(rig: Rig, place: int) -> Hashable:
    return _installed_at(rig, rig.positions[place])


def _installed_at(rig: Rig, position: Position) -> Hashable:
    if position.branches:
        tees = tuple("" if tee is None else tee.id for tee in (position.parting, position.meeting))
        there = [branch for branch in position.branches if branch.installed]
        inside = ((branch.name, *(_installed_at(rig, inner) for inner in branch.positions)) for branch in there)
        return ("branches", tees, *inside)
    if position.installed is None:
        return ("nothing",)
    if isinstance(position.installed, Canister):
        return _media([tray.medium for tray in rig.trays])
    return _part_identity(position.installed, position.height_m)


def _slope(problem: Problem, reference: Found, flow: float) -> float:
    """How fast the losses less the pump's head of a bundle rise with its flow, in s/m2."""
    heads = problem.heads.rows(list(reference.bundle.path.options))
    joints = float(problem.joint_quadratic[list(reference.bundle.path.joints)].sum())
    step = 1e-3 * flow
    rise = float(heads.at(flow + step).sum()) - float(heads.at(flow - step).sum())
    return rise / (2.0 * step) + 2.0 * joints * flow


def _numbered(
    problem: Problem, kinds: dict[Hashable, list[int]], losses: NDArray[np.float64], near_m: float
) -> dict[Hashable, int]:
    """One number per kind; kinds that fit the same ends share it along the order of their losses while they are near."""
    groups: dict[Hashable, list[tuple[tuple[float, ...], Hashable]]] = {}
    for kind, rows in kinds.items():
        least: dict[Hashable, float] = {}
        for row in rows:
            fit = _fit(problem.option(row))
            least[fit] = min(float(losses[row]), least.get(fit, np.inf))
        fits = sorted(least.items(), key=lambda pair: repr(pair[0]))
        groups.setdefault(tuple(fit for fit, _ in fits), []).append((tuple(loss for _, loss in fits), kind))
    number: dict[Hashable, int] = {}
    for members in groups.values():
        members.sort(key=lambda member: (member[0], repr(member[1])))
        shared = -1
        before: tuple[float, ...] = ()
        for loss, kind in members:
            near = bool(before) and all(abs(a - b) < near_m for a, b in zip(loss, before, strict=True))
            shared = shared if near else max(number.values(), default=-1) + 1
            number[kind], before = shared, loss
    return number


def _fit(option: Option) -> Hashable:
    """What must be equal for two parts to stand in for each other: their ends, and what a limit may look at."""
    ends = tuple(_end(end) for end in (option.inlet, option.outlet))
    bounds = (round(option.noise_dba, 9), round(option.power_w, 9), option.flow_min_m3s, option.flow_max_m3s)
    return (option.part is None, ends, bounds, option.speed)


def _end(end: End | None) -> Hashable:
    return None if end is None else (*end.face, end.bore_m)


def differing(one: Sequence[int], other: Sequence[int]) -> Iterator[int]:
    """Positions at which two bundles have different things.

    >>> list(differing((0, 1, 2), (0, 3, 2)))
    [1]
    """
    return (place for place, (a, b) in enumerate(zip(one, other, strict=True)) if a != b)
