"""Many bundles of one problem over an interval, day by day and side by side: as `dirt.course`, from arrays.

What a bundle delivers on the clean and on the last day is its own flow of that day or the lowest ceiling: the greatest flow, a
device's window, the speed in front of the guard as far as it is open, the pressure at the pump's inlet. A throttle that holds it
is set when the loop is clean and opened as the flow falls, so it holds the flow of the clean day for as long as the loop would do
more; the dirt is that of this flow. Where dirt makes a ceiling lower later on, what is delivered then is what it allows (as
`dirt.held` has it for one bundle).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.dirt.layers import Layers, tray_layer
from optimizer.dirt.loads import Loads
from optimizer.loop.batch import Loops, flows
from optimizer.loop.element_loops import NO_RUN, RELATIVE
from optimizer.loop.kinds import of_sort
from optimizer.loop.pump_heads import Pumps
from optimizer.loop.roots import falling_roots
from optimizer.loop.terms import cake_linear, guard_terms, layer_terms
from optimizer.model.losses import Run
from optimizer.model.options import Option
from optimizer.model.parts import Guard, Pump
from optimizer.model.rig import Tray
from optimizer.model.state import State
from optimizer.physics.hose import friction_head_m
from optimizer.search.ageing import Ageing

Reals = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

ROOT, TINY = 1e-13, 1e-13
"""Accuracy of a flow that the pump's inlet allows, as a share, and a head in m that is nothing but rounding."""


@dataclass(frozen=True, slots=True)
class Aged:
    """Bundles on the clean and on the last day, and on average, in m3/s, each (bundles,).

    ``own`` is unthrottled, ``throttled`` True where a throttle stands on the outlet side, ``free`` where there is nothing to
    hold on any day; ``flows`` are delivered on every day, (days, bundles).
    """

    clean_own: Reals
    clean: Reals
    last_own: Reals
    last: Reals
    mean: Reals
    throttled: Bools
    free: Bools
    flows: Reals


@dataclass(frozen=True, slots=True)
class _Day:
    """Loss terms of every place of every bundle, (bundles, places), on one day, and the speed of each pump."""

    lift: Reals
    linear: Reals
    quadratic: Reals
    runs: dict[int, tuple[Reals, Reals, Reals, Reals, Reals]]
    speed: Reals


class CourseBatch:
    """Bundles given by the flat places of their options and joints, each (bundles, places)."""

    def __init__(self, ageing: Ageing, options: Ints, joints: Ints) -> None:
        self.ageing, self.problem = ageing, ageing.problem
        self.limits = self.problem.choices.limits
        self.joint_quadratic = self.problem.joint_quadratic[joints]
        rows, at = np.unique(options, return_inverse=True)
        self.used: list[Option] = [self.problem.option(row) for row in rows.tolist()]
        self.at: Ints = np.asarray(at, dtype=np.intp).reshape(options.shape)
        self.high = self.problem.high[options].min(axis=1)
        self.throttled: Bools = np.asarray(self.problem.throttles[options[:, self.problem.pump + 1 :]].any(axis=1), dtype=bool)
        guards = self.at[:, ageing.guard].tolist()
        self.guards = [self._guard(n) for n in guards]
        self.guard_scales = [ageing.guard_scales(self.used[n]) for n in guards]
        self.trays = Trays.of([self.used[n] for n in self.at[:, ageing.canister].tolist()], ageing)

    def _guard(self, used: int) -> tuple[Guard, State]:
        return of_sort(self.used[used].part, Guard), self.used[used].state

    # -- the days --------------------------------------------------------------------------------------------------

    def aged(self) -> Aged:
        """Clean day, last day and mean of all bundles."""
        times, net_m3 = self.ageing.days, self.problem.choices.rig.tank.net_m3
        interval = self.ageing.interval
        parts, states = [part for part, _ in self.guards], [state for _, state in self.guards]
        loads = Loads(parts, states, self.trays.layers, interval.daily, interval.laws)
        day = self._day(float(times[0]), loads)
        first = own = self._own(day)
        clean = flow = self._held(day, own, np.minimum(self.high, self.limits.flow_max_m3s))
        delivered, free = [clean], own <= clean * (1 + 1e-9)
        for now, then in pairwise(times):
            loads.step(float(then - now), flow * 3600.0 / net_m3)
            day = self._day(float(then), loads)
            own = self._own(day)
            flow = np.minimum(own, clean)
            delivered.append(self._held(day, flow, self._guard_ceiling(loads)))
            free = free & (own <= delivered[-1] * (1 + 1e-9))
        flows, span = np.array(delivered), float(times[-1] - times[0])
        return Aged(
            clean_own=first,
            clean=clean,
            last_own=own,
            last=flows[-1],
            mean=np.asarray(np.trapezoid(flows, times, axis=0) / span if span else clean, dtype=float),
            throttled=self.throttled,
            free=np.asarray(free, dtype=bool),
            flows=flows,
        )

    def _day(self, day: float, loads: Loads) -> _Day:
        known = [self.ageing.on_day(option, day) for option in self.used]
        terms = np.array([(loss.still_m, loss.linear, loss.quadratic) for loss, _ in known], dtype=float)[self.at]
        lift, linear, quadratic = (np.array(terms[..., n]) for n in range(3))
        for place, (a, b) in (
            (self.ageing.guard, self._guard_terms(loads)),
            (self.ageing.canister, self.trays.terms(*loads.tray_states())),
        ):
            linear[:, place] += a
            quadratic[:, place] += b
        runs = {}
        for place in range(self.at.shape[1]):
            found = [known[n][0].run for n in self.at[:, place].tolist()]
            if any(run is not None for run in found):
                runs[place] = _run_columns(found)
        return _Day(lift, linear, quadratic, runs, np.array([speed for _, speed in known])[self.at[:, self.problem.pump]])

    def _guard_terms(self, loads: Loads) -> tuple[Reals, Reals]:
        linear, quadratic = np.zeros((2, len(self.guards)))
        choices = self.problem.choices
        (blocked, cakes), water, laws = loads.guard_states(), choices.water, choices.rig.laws
        rows_of: dict[tuple[int, tuple[float, float, float]], list[int]] = {}
        for n, (part, _) in enumerate(self.guards):
            rows_of.setdefault((id(part), self.guard_scales[n]), []).append(n)
        for (_, scales), rows in rows_of.items():
            guard = self.guards[rows[0]][0]
            linear[rows], quadratic[rows] = guard_terms(guard, blocked[rows], cakes[rows], water, scales, laws)
        return linear, quadratic

    def _guard_ceiling(self, loads: Loads) -> Reals:
        limit = self.limits.guard_speed_ms
        if math.isinf(limit):
            return np.full(len(self.guards), math.inf)
        faces = np.array([part.face_area_m2 for part, _ in self.guards])
        return np.asarray(limit * faces * (1.0 - loads.guard_states()[0]))

    # -- flows -----------------------------------------------------------------------------------------------------

    def _own(self, day: _Day) -> Reals:
        """Unthrottled flow of every bundle on a day."""
        curves = [of_sort(self.used[n].part, Pump).curve for n in self.at[:, self.problem.pump].tolist()]
        columns = list(day.runs.values()) or [_run_columns([None] * len(curves))]
        bore, length, roughness, factor, coil = (np.stack(column, axis=1) for column in zip(*columns, strict=True))
        loops = Loops(
            lift_m=day.lift.sum(axis=1),
            linear=day.linear.sum(axis=1),
            quadratic=day.quadratic.sum(axis=1) + self.joint_quadratic.sum(axis=1),
            kinematic_m2s=self.problem.choices.water.kinematic_m2s,
            run_bore_m=bore,
            run_length_m=length,
            run_roughness_m=roughness,
            run_factor=factor,
            run_coil_m=coil,
            **Pumps.of(curves, day.speed).columns,
        )
        return flows(loops, RELATIVE)

    def _held(self, day: _Day, own: Reals, ceiling: Reals) -> Reals:
        """Flow under a ceiling and under what the pump's inlet allows, on a day."""
        flow = np.minimum(own, ceiling)
        if math.isinf(self.limits.inlet_head_m):
            return flow
        rows = np.flatnonzero(self._missing(day, flow, np.arange(len(flow))) > 0.0)
        shut = self._missing(day, np.zeros(len(rows)), rows) >= 0.0
        flow[rows[shut]], rows = 0.0, rows[~shut]
        if len(rows):
            high = flow[rows]
            slope = -np.maximum(self._missing(day, high, rows), TINY) / high
            room, start, noise = _Room(self, day, rows), np.zeros(len(rows)), np.full(len(rows), TINY)
            flow[rows] = falling_roots(room, start, high, high, slope, ROOT * high, noise)
        return flow

    def _missing(self, day: _Day, flow: Reals, rows: Ints) -> Reals:
        """By how much the pressure at the pump's inlet is below what is asked, in m, of some bundles."""
        pump, problem = self.problem.pump, self.problem
        nu = problem.choices.water.kinematic_m2s
        quadratic = day.quadratic[rows, :pump].sum(axis=1) + self.joint_quadratic[rows, : pump + 1].sum(axis=1)
        quadratic = quadratic + np.array([option.suction_quadratic for option in self.used])[self.at[rows, pump]]
        lost = day.lift[rows, :pump].sum(axis=1) + day.linear[rows, :pump].sum(axis=1) * flow + quadratic * flow * flow
        for place, columns in day.runs.items():
            if place < pump:
                bore, length, roughness, factor, coil = (column[rows] for column in columns)
                lost = lost + np.asarray(friction_head_m(flow, bore, length, roughness, nu, factor, coil))
        return np.asarray(lost + self.limits.inlet_head_m - problem.depth_m)


@dataclass(frozen=True, slots=True)
class _Room:
    """Pressure to spare at the pump's inlets of some bundles on a day, in m: it falls as the flow rises."""

    batch: CourseBatch
    day: _Day
    at_rows: Ints

    def at(self, here: Reals) -> Reals:
        """See `roots.Gap`."""
        return -self.batch._missing(self.day, here, self.at_rows)

    def rows(self, rows: Ints) -> "_Room":
        """See `roots.Gap`."""
        return _Room(self.batch, self.day, self.at_rows[rows])


@dataclass(frozen=True, slots=True)
class Trays:
    """The media of every bundle: their layers, and (bundles, trays) permeability and inertial coefficient, 1 and 0 where a tray
    is empty, and ``scales`` (bundles, trays, 3) of their linear and quadratic losses and those of their cakes."""

    layers: Layers
    permeability_m2: Reals
    inertial_1m: Reals
    there: Bools
    scales: Reals
    ageing: Ageing

    @classmethod
    def of(cls, stacks: Sequence[Option], ageing: Ageing) -> "Trays":
        """Arrays of the stacks of some options, one each."""
        body, laws = ageing.problem.choices.rig.canister, ageing.interval.laws
        different = {id(option): option for option in stacks}
        media = {key: [fill.medium for fill in option.fills] for key, option in different.items()}
        layers = {
            key: [tray_layer(Tray(medium=fill.medium, state=fill.state), body, laws) for fill in option.fills]
            for key, option in different.items()
        }
        scales = {key: [ageing.tray_scales(fill) for fill in option.fills] for key, option in different.items()}
        rows = [media[id(option)] for option in stacks]
        shape = (len(rows), len(rows[0]) if rows else 1)
        return cls(
            layers=Layers.of([layers[id(option)] for option in stacks], laws),
            permeability_m2=np.array([[1.0 if m is None else m.permeability_m2 for m in row] for row in rows]).reshape(shape),
            inertial_1m=np.array([[0.0 if m is None else m.inertial_1m for m in row] for row in rows]).reshape(shape),
            there=np.array([[m is not None for m in row] for row in rows], dtype=bool).reshape(shape),
            scales=np.array([scales[id(option)] for option in stacks], dtype=float).reshape(*shape, 3),
            ageing=ageing,
        )

    def take(self, rows: Ints) -> "Trays":
        """Those of some of the bundles."""
        cells = {name: getattr(self, name)[rows] for name in ("permeability_m2", "inertial_1m", "there", "scales")}
        return Trays(layers=self.layers.take(rows), ageing=self.ageing, **cells)

    def terms(self, filled: Reals, cakes_m: Reals) -> tuple[Reals, Reals]:
        """Linear and quadratic terms of all trays of each bundle together, in s/m2 and s2/m5, of which so much is ``filled`` and
        whose cakes are so thick."""
        choices = self.ageing.problem.choices
        filled, cakes_m = (each[:, : self.there.shape[1]] for each in (filled, cakes_m))
        linear, quadratic = layer_terms(self.permeability_m2, self.inertial_1m, filled, choices.rig.canister, choices.water)
        cakes = cake_linear(cakes_m, choices.rig.canister.tray_area_m2, choices.water)
        linear, quadratic = linear * self.scales[..., 0] + cakes * self.scales[..., 2], quadratic * self.scales[..., 1]
        return np.where(self.there, linear, 0.0).sum(axis=1), np.where(self.there, quadratic, 0.0).sum(axis=1)


def _run_columns(runs: Sequence[Run | None]) -> tuple[Reals, Reals, Reals, Reals, Reals]:
    """Bore, length, roughness, factor and coil of runs, as arrays; a run that is not there has no length."""
    there = [NO_RUN if run is None else run for run in runs]
    columns = [(run.bore_m, run.length_m, run.roughness_m, run.factor, run.coil_m) for run in there]
    bore, length, roughness, factor, coil = np.array(columns, dtype=float).T
    return bore, length, roughness, factor, coil
