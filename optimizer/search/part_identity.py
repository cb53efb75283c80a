"""What stands at each position of a bundle, told apart only where it matters for the water.

Two options of one position are the same thing when they put the same part there (cleaned or not, either way round, with or
without a screw clamp): the one that is installed, or a bought one of the same id. For the canister it is the same media,
whatever their order and their package; for an outlet the same holes at the same height.

Seen from one bundle another thing is as good as its own (``same``) when it has the same two ends, noise, power and flow window,
and put in its place, cleaned, changes the flow that the loop would have unthrottled by less than `RESOLUTION_M3S` (and where
the pump's inlet holds the flow back, the flow that its pressure allows).

Joints, adapters, clamps, and which pack or coil a piece comes from are not things.
"""

from collections import Counter
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.model.ends import End
from optimizer.model.options import SWAP, Fill, Option
from optimizer.model.parts import Kind, Outlet, Part
from optimizer.model.rig import Position, Rig, Tray
from optimizer.search.best import RESOLUTION_M3S, Found
from optimizer.search.layers import Problem
from optimizer.search.stacks import Moves, bare, moves

Ints = NDArray[np.intp]
Mask = NDArray[np.bool_]
Reals = NDArray[np.float64]

NOT_OFFERED = -1
"""Number of an installed part that no option keeps."""


@dataclass(frozen=True, slots=True)
class PartIdentities:
    """``of_row[k]`` numbers the thing that option k (flat) puts at its position, ``fit_of_row[k]`` all that must be equal for
    another to stand in for it; ``installed[p]`` is the thing there now. ``moves`` says of every thing in the canister which
    media it takes out and puts in."""

    problem: Problem
    of_row: Ints
    fit_of_row: Ints
    installed: tuple[int, ...]
    canister: int
    moves: dict[int, Moves]

    def at(self, rows: Sequence[int]) -> tuple[int, ...]:
        """The things of a bundle, position by position, from the flat places of its options."""
        return tuple(int(self.of_row[row]) for row in rows)

    def seen_from(self, found: Found) -> "ListedBundle":
        """All things as one bundle sees them."""
        checks = [_loop_at(self.problem, found)]
        if found.delivered.held_by == "inlet_head_m":
            checks.append(_inlet_at(self.problem, found))
        rows = found.bundle.path.options
        same = [self._as_good(place, row, checks) for place, row in enumerate(rows)]
        made = list(same)
        changes = [self.moves[thing] for thing in same[self.canister]]
        made[self.canister] |= {thing for thing, theirs in self.moves.items() if any(change <= theirs for change in changes)}
        return ListedBundle(self, tuple(same), tuple(made))

    def _as_good(self, place: int, row: int, checks: list["_Check"]) -> frozenset[int]:
        """The things that do as well as that of one option of a bundle."""
        first, last = self.problem.option_at[place], self.problem.option_at[place + 1]
        fitting = first + np.flatnonzero(self.fit_of_row[first:last] == self.fit_of_row[row])
        fitting = fitting[np.argsort(checks[0].heads[0][fitting], kind="stable")]
        numbers, at = np.unique(self.of_row[fitting], return_index=True)  # the first of each thing is the cleanest
        alike = np.all([check.alike(place, row, fitting[at]) for check in checks], axis=0)
        return frozenset({int(self.of_row[row]), *numbers[alike].tolist()})


@dataclass(frozen=True, slots=True)
class ListedBundle:
    """At each position of a bundle: ``same``, the things that do as well there, its own among them, and ``made``, those that make
    the change which the bundle makes there. In the canister these are also fillings that make more of it: that take out and put
    in all that the bundle does, and other media too."""

    told: PartIdentities
    same: tuple[frozenset[int], ...]
    made: tuple[frozenset[int], ...]

    @property
    def departures(self) -> tuple[int, ...]:
        """The positions where the bundle has something else than what is there now."""
        return tuple(place for place, now in enumerate(self.told.installed) if now not in self.same[place])

    def differing(self, rows: Sequence[int]) -> Iterator[int]:
        """Positions at which another bundle has something else."""
        return (place for place, thing in enumerate(self.told.at(rows)) if thing not in self.same[place])

    def rules_out(self, rows: Sequence[int]) -> bool:
        """True when another bundle makes all changes of this one, whatever else it does."""
        holds = self.told.at(rows)
        return all(holds[place] in self.made[place] for place in self.departures)

    def holding(self, place: int) -> Mask:
        """The options of a position that make the bundle's change there: a mask over that position's part of the flat array."""
        first, last = self.told.problem.option_at[place], self.told.problem.option_at[place + 1]
        return np.isin(self.told.of_row[first:last], list(self.made[place]))


@dataclass(frozen=True, slots=True)
class _Check:
    """Heads of all options a resolution below a flow of a bundle and a resolution above it, and what the bundle is ``short`` of
    at both: there is head to spare at the one (less than 0), none at the other. Only places up to ``last`` count."""

    heads: tuple[Reals, Reals]
    short: tuple[float, float]
    last: int

    def alike(self, place: int, row: int, others: Ints) -> Mask:
        """With which others in the place of one of the bundle's options that stays so: then the flow moves by less."""
        below, above = (short - head[row] + head[others] for short, head in zip(self.short, self.heads, strict=True))
        return np.asarray((below < 0.0) & (above > 0.0) | (place > self.last))


def _loop_at(problem: Problem, found: Found) -> _Check:
    """The whole loop, at the flow that it would have unthrottled."""
    own = max(found.delivered.own_m3s, RESOLUTION_M3S)
    flows = (own - RESOLUTION_M3S, own + RESOLUTION_M3S)
    heads = (problem.heads.at(flows[0]), problem.heads.at(flows[1]))
    return _check(problem, found, flows, heads, len(problem.layers) - 1, 0.0)


def _inlet_at(problem: Problem, found: Found) -> _Check:
    """What stands in front of the pump and its own inlet, at the flow that the pressure there allows."""
    flow = max(found.flow_m3s, RESOLUTION_M3S)
    flows = (flow - RESOLUTION_M3S, flow + RESOLUTION_M3S)
    heads = (problem.heads.at(flows[0]).copy(), problem.heads.at(flows[1]).copy())
    pump = slice(problem.option_at[problem.pump], problem.option_at[problem.pump + 1])
    for each, at in zip(heads, flows, strict=True):
        each[pump] = problem.suction_quadratic * at * at
    return _check(problem, found, flows, heads, problem.pump, problem.depth_m - problem.choices.limits.inlet_head_m)


def _check(
    problem: Problem, found: Found, flows: tuple[float, float], heads: tuple[Reals, Reals], last: int, room_m: float
) -> _Check:
    rows, joints = list(found.bundle.path.options[: last + 1]), list(found.bundle.path.joints[: last + 1])
    quadratic = float(problem.joint_quadratic[joints].sum())
    short = [float(head[rows].sum()) + quadratic * at * at - room_m for head, at in zip(heads, flows, strict=True)]
    return _Check(heads, (short[0], short[1]), last)


def part_identities(problem: Problem) -> PartIdentities:
    """Number what the options of a problem put at each position."""
    rig = problem.choices.rig
    fitted, canister = rig.fitted is not None, rig.index(Kind.CANISTER)
    of_row = np.full(len(problem.option_plain), NOT_OFFERED, dtype=np.intp)
    fit_of_row = of_row.copy()
    installed, moved, fits = [], dict[int, Moves](), dict[Hashable, int]()
    for place, layer in enumerate(problem.layers):
        number: dict[Hashable, int] = {}
        for row, option in enumerate(layer.options, problem.option_at[place]):
            of_row[row] = number.setdefault(identity(option, fitted), len(number))
            fit_of_row[row] = fits.setdefault(_fit(option), len(fits))
            if place == canister:
                moved[int(of_row[row])] = moves(option.fills, rig.trays, fitted)
        installed.append(number.get(_installed(rig, rig.positions[place]), NOT_OFFERED))
    return PartIdentities(problem, of_row, fit_of_row, tuple(installed), canister, moved)


def identity(option: Option, fitted: bool = False) -> Hashable:
    """What an option puts at its position, however clean, whichever way round. ``fitted``: fills say what old media lose.

    >>> identity(Option(position=0, change="keep", part=None))
    ('nothing',)
    """
    if option.ways is not None:
        tees = (_tee(option.ways.parting), _tee(option.ways.meeting))
        return ("branches", tees, *((way.name, *map(identity, way.options)) for way in option.ways.branches))
    if option.part is None:
        return ("nothing",)
    if option.fills:
        return _media(option.fills, fitted)
    return _part_identity(option.part, option.height_m, option.is_installed)


def _tee(tee: Option | None) -> Hashable:
    return None if tee is None or tee.part is None else (tee.part.id, tee.is_installed)


def _part_identity(part: Part, height_m: float, installed: bool) -> Hashable:
    if isinstance(part, Outlet):
        return (part.id, installed, part.form, part.holes, part.hole_m, height_m)
    return (part.id, installed)


def _media(trays: Sequence[Fill | Tray], fitted: bool) -> Hashable:
    new = [fitted and isinstance(each, Fill) and each.change == SWAP for each in trays]
    counts = Counter((bare(each.medium), is_new) for each, is_new in zip(trays, new, strict=True) if each.medium is not None)
    return ("media", frozenset(counts.items()))


def _installed(rig: Rig, position: Position) -> Hashable:
    if position.branches:
        tees = tuple(None if tee is None else (tee.id, True) for tee in (position.parting, position.meeting))
        there = [branch for branch in position.branches if branch.installed]
        inside = ((branch.name, *(_installed(rig, inner) for inner in branch.positions)) for branch in there)
        return ("branches", tees, *inside)
    if position.installed is None:
        return ("nothing",)
    if position.kind == Kind.CANISTER:
        return _media(rig.trays, False)
    return _part_identity(position.installed, position.height_m, True)


def _fit(option: Option) -> Hashable:
    """What must be equal for two parts to stand in for each other: their ends, and what a limit may look at."""
    ends = tuple(_end(end) for end in (option.inlet, option.outlet))
    bounds = (round(option.noise_dba, 9), round(option.power_w, 9), option.flow_min_m3s, option.flow_max_m3s)
    return (option.is_there, ends, bounds)


def _end(end: End | None) -> Hashable:
    return None if end is None else (*end.face, end.bore_m)
