"""Many parameter sets of one network solved at once, with a status per set: the method of `solver`, in arrays.

Each set converges on its own: it has its own step lengths and shut edges, and leaves the batch when it is done. It
shares no code with the scalar path but the wiring of the graph and the loss of tees.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from network.sets import NetworkSets
from network.wiring import Bools, Ints, Reals, lossless_ring, unmet_demand
from optimizer.loop.batch import BAD_INPUT, CONVERGED, NO_FLOW, NOT_CONVERGED
from optimizer.loop.tees import leg_heads

STATUS_WORDS = {CONVERGED: "converged", NO_FLOW: "no flow", NOT_CONVERGED: "not converged", BAD_INPUT: "bad input"}

HEAD_TOLERANCE_M = 1e-9
MASS_TOLERANCE = 1e-9
SETTLED = 1e-10
MOST_STEPS = 120
MOST_STAGES = 40
LEAST_SLOPE = 1e-8
STILL = 1e-7
ROUNDING = 1e-13
PROXIMAL = 1e-13


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkBatch:
    """Solved sets: ``flow_m3s`` (n, e) and ``head_m`` (n, v) in the order of the shape's edges and nodes, NaN for bad
    input.

    ``status`` (n,) as `STATUS_WORDS` names them, ``steps`` of Newton's method (n,), ``imbalance`` the worst error of a
    node's balance over the greatest flow (n,), ``residual_m`` the worst error of an edge's head (n,).
    """

    flow_m3s: Reals
    head_m: Reals
    status: NDArray[np.int8]
    steps: Ints
    imbalance: Reals
    residual_m: Reals


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scales:
    """Of each set (n,): size of its flows and heads, the furthest heads may rise in a step, and the share of tees'
    losses that counts."""

    flow: Reals
    head: Reals
    reach: Reals
    tees: Reals

    def rows(self, rows: Ints) -> "_Scales":
        return _Scales(flow=self.flow[rows], head=self.head[rows], reach=self.reach[rows], tees=self.tees[rows])


@dataclass(frozen=True, slots=True, kw_only=True)
class _States:
    """Flows (n, e), heads (n, v), shut edges (n, e), last change over the greatest flow (n,)."""

    flow: Reals
    head: Reals
    shut: Bools
    change: Reals

    def rows(self, rows: Ints) -> "_States":
        return _States(flow=self.flow[rows], head=self.head[rows], shut=self.shut[rows], change=self.change[rows])

    def put(self, rows: Ints, others: "_States") -> None:
        self.flow[rows], self.head[rows], self.shut[rows] = others.flow, others.head, others.shut
        self.change[rows] = others.change


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    states: _States
    done: Bools
    steps: Ints
    imbalance: Reals
    residual: Reals

    def put(self, rows: Ints, others: "_Solved") -> None:
        self.states.put(rows, others.states)
        self.done[rows], self.imbalance[rows], self.residual[rows] = others.done, others.imbalance, others.residual
        self.steps[rows] += others.steps


def solve_networks(sets: NetworkSets) -> NetworkBatch:
    """Flows in m3/s and heads in m of all sets, with a status each; nothing is raised for a single set.

    Converged means: every node balances to 1e-9 of the set's greatest flow, every edge's head to 1e-9 m. Source: Todini
    and Pilati (1988).

    >>> from optimizer.loop.graph import Element, loop_graph
    >>> from network.sets import network_sets
    >>> from optimizer.model.losses import Loss
    >>> from optimizer.model.parts import PumpCurve
    >>> curve = PumpCurve(flows_m3s=(0.0, 4e-4), heads_m=(2.0, 0.0), shape=2.0)
    >>> pump = Element(place="pump", label="pump", loss=Loss(), curve=curve)
    >>> rings = [loop_graph([pump, Element(place="r", label="r", loss=Loss(quadratic=q))]) for q in (12.5e6, 37.5e6)]
    >>> (solve_networks(network_sets(rings, 1e-6)).flow_m3s[:, 0] * 3.6e6).round(3).tolist()
    [1018.234, 720.0]
    """
    count, edges, nodes = sets.count, len(sets.shape.edges), len(sets.shape.nodes)
    answer = NetworkBatch(
        flow_m3s=np.full((count, edges), np.nan),
        head_m=np.full((count, nodes), np.nan),
        status=np.full(count, BAD_INPUT, dtype=np.int8),
        steps=np.zeros(count, dtype=np.intp),
        imbalance=np.full(count, np.nan),
        residual_m=np.full(count, np.nan),
    )
    rows = np.flatnonzero(_solvable(sets))
    if not len(rows):
        return answer
    good = sets.rows(rows)
    scales = _scales(good)
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        solved = _with_tees(good, scales)
    greatest = np.abs(solved.states.flow).max(axis=1)
    moves = greatest > STILL * scales.flow
    floor = np.where(moves, ROUNDING * greatest, np.inf)[:, None]
    answer.flow_m3s[rows] = np.where(np.abs(solved.states.flow) > floor, solved.states.flow, 0.0)
    answer.head_m[rows] = solved.states.head
    answer.status[rows] = np.where(solved.done, np.where(moves, CONVERGED, NO_FLOW), NOT_CONVERGED)
    answer.steps[rows], answer.imbalance[rows], answer.residual_m[rows] = solved.steps, solved.imbalance, solved.residual
    return answer


def _solvable(sets: NetworkSets) -> Bools:
    """Sets with sound numbers, no ring without loss and demands that can be met."""
    good = sets.sound()
    patterns, which = np.unique(sets.lossless(), axis=0, return_inverse=True)
    rings = np.array([bool(lossless_ring(sets.shape, pattern)) for pattern in patterns])
    good &= ~rings[which.ravel()]
    if sets.shape.one_way.any():
        for row in np.flatnonzero(good & sets.demand_m3s.any(axis=1)):
            good[row] = not unmet_demand(sets.shape, sets.demand_m3s[row])
    return good


def _scales(sets: NetworkSets) -> _Scales:
    rest = np.zeros_like(sets.lift_m)
    still = sets.losses_m(rest)
    fixed = sets.head_m[:, ~sets.shape.free]
    head = np.maximum(np.ptp(fixed, axis=1), np.abs(still).max(axis=1))
    pumped = np.where(sets.max_head_m > 0.0, sets.speed * sets.max_flow_m3s, 0.0)
    at = sets.points.sets, sets.points.edges
    pumped[at] = sets.speed[at] * sets.points.curves[0][:, -1]
    flow = np.maximum(pumped.max(axis=1), np.abs(sets.demand_m3s).sum(axis=1))
    for power in range(-12, 4):
        size = 10.0**power
        enough = (sets.losses_m(rest + size) - still).max(axis=1) >= head
        flow = np.where((flow == 0.0) & enough, size, flow)
    flow = np.where(flow == 0.0, 1.0, flow)
    forth, back = np.abs(sets.losses_m(rest + flow[:, None])), np.abs(sets.losses_m(rest - flow[:, None]))
    driven = forth.max(axis=1)
    head = np.where(head > 0.0, head, np.where(driven > 0.0, driven, 1.0))
    return _Scales(flow=flow, head=head, reach=head + np.maximum(forth, back).sum(axis=1), tees=np.zeros(sets.count))


def _with_tees(sets: NetworkSets, scales: _Scales) -> _Solved:
    """All sets without the tees' losses, then with them: at once where that converges, else in smaller stages, set by
    set."""
    solved = _newton(sets, scales, _from_rest(sets, scales))
    if not sets.shape.joints:
        return solved
    share, stage = np.zeros(sets.count), np.ones(sets.count)
    for _ in range(MOST_STAGES):
        rows = np.flatnonzero(solved.done & (share < 1.0))
        if not len(rows):
            return solved
        ahead = np.minimum(1.0, share[rows] + stage[rows])
        trial = _newton(sets.rows(rows), replace(scales.rows(rows), tees=ahead), solved.states.rows(rows))
        won = np.flatnonzero(trial.done)
        share[rows[won]] = ahead[won]
        stage[rows] *= np.where(trial.done, 2.0, 0.5)
        solved.steps[rows[~trial.done]] += trial.steps[~trial.done]
        kept = _Solved(
            states=trial.states.rows(won),
            done=trial.done[won],
            steps=trial.steps[won],
            imbalance=trial.imbalance[won],
            residual=trial.residual[won],
        )
        solved.put(rows[won], kept)
    solved.done[share < 1.0] = False
    return solved


def _from_rest(sets: NetworkSets, scales: _Scales) -> _States:
    """Water at rest, then one whole step along the slopes from there to the flow scale."""
    rest = np.zeros_like(sets.lift_m)
    states = _States(flow=rest, head=sets.head_m, shut=np.zeros(rest.shape, dtype=bool), change=np.full(sets.count, np.inf))
    still = sets.losses_m(rest)
    rise = sets.losses_m(rest + scales.flow[:, None]) - still
    chords = np.maximum(rise, LEAST_SLOPE * scales.head[:, None]) / scales.flow[:, None]
    return _advance(sets, scales, states, still, chords, at_length=True)


def _newton(sets: NetworkSets, scales: _Scales, states: _States) -> _Solved:
    """Newton steps; a set leaves when its balances hold and its last step was small, or does not get smaller any more."""
    count = sets.count
    states = states.rows(np.arange(count))
    solved = _Solved(
        states=states,
        done=np.zeros(count, dtype=bool),
        steps=np.zeros(count, dtype=np.intp),
        imbalance=np.full(count, np.inf),
        residual=np.full(count, np.inf),
    )
    active = np.arange(count)
    for _ in range(MOST_STEPS):
        if not len(active):
            break
        losses, slopes = sets.losses_and_slopes(states.flow)
        slopes = np.maximum(slopes, (LEAST_SLOPE * scales.head / scales.flow)[:, None])
        states = _advance(sets, scales, states, losses + _tee_losses(sets, scales, states.flow), slopes, at_length=False)
        residual, imbalance = _errors(sets, scales, states)
        holds = (residual <= HEAD_TOLERANCE_M) & (imbalance <= MASS_TOLERANCE)
        done = holds & ((states.change <= SETTLED) | (residual > 0.5 * solved.residual[active]))
        step = _Solved(states=states, done=done, steps=np.ones_like(active), imbalance=imbalance, residual=residual)
        solved.put(active, step)
        goes_on = np.flatnonzero(~done & np.isfinite(residual) & np.isfinite(imbalance))
        if len(goes_on) < len(active):
            active, sets, scales, states = active[goes_on], sets.rows(goes_on), scales.rows(goes_on), states.rows(goes_on)
    return solved


def _tee_losses(sets: NetworkSets, scales: _Scales, flow: Reals) -> Reals:
    losses = np.zeros_like(flow)
    if not scales.tees.any():
        return losses
    for joint in sets.shape.joints:
        (run, _, branch), (run_sign, _, branch_sign) = joint.edges, joint.inward
        run_head, branch_head = leg_heads(joint.tee, run_sign * flow[:, run], branch_sign * flow[:, branch])
        losses[:, run] += run_sign * scales.tees * run_head
        losses[:, branch] += branch_sign * scales.tees * branch_head
    return losses


def _conductance(sets: NetworkSets, scales: _Scales, flow: Reals, slopes: Reals, shut: Bools) -> Reals:
    """Flow gained per head on each edge: (n, e) without tees, (n, e, e) with them (row: the flow, column: the head)."""
    if not scales.tees.any():
        return np.where(shut, 0.0, 1.0 / slopes)
    count, edges = flow.shape
    matrix = np.zeros((count, edges, edges))
    matrix[:, np.arange(edges), np.arange(edges)] = slopes
    step = 1e-7 * np.maximum(np.abs(flow).max(axis=1), STILL * scales.flow)
    for joint in sets.shape.joints:
        for edge in (joint.edges[0], joint.edges[2]):
            shift = np.zeros_like(flow)
            shift[:, edge] = step
            one = replace(sets, shape=replace(sets.shape, joints=(joint,)))
            change = _tee_losses(one, scales, flow + shift) - _tee_losses(one, scales, flow - shift)
            matrix[:, :, edge] += change / (2.0 * step[:, None])
    apart = shut[:, :, None] | shut[:, None, :]
    matrix = np.where(apart, np.eye(edges), matrix)
    return np.asarray(np.linalg.inv(matrix) * ~shut[:, None, :], dtype=float)


def _times(conductance: Reals, heads: Reals) -> Reals:
    return conductance * heads if conductance.ndim == 2 else (conductance @ heads[..., None])[..., 0]


def _direction(sets: NetworkSets, scales: _Scales, flow: Reals, short: Reals, conductance: Reals) -> tuple[Reals, Reals]:
    """Newton's change of all flows and heads, one linear system in the heads of the free nodes a set (see `solver`)."""
    incidence, free = sets.shape.incidence, sets.shape.free
    rise = np.zeros_like(sets.head_m)
    if free.any():
        half = incidence * conductance[:, None, :] if conductance.ndim == 2 else incidence @ conductance
        matrix = half @ incidence.T
        own = np.abs(np.diagonal(matrix, axis1=1, axis2=2))
        at = np.arange(matrix.shape[1])
        matrix[:, at, at] += PROXIMAL * (own + (scales.flow / scales.head)[:, None])
        lacking = (_times(conductance, short) - flow) @ incidence.T - sets.demand_m3s[:, free]
        reach = scales.reach[:, None]
        rise[:, free] = np.clip(np.linalg.solve(matrix, lacking[..., None])[..., 0], -reach, reach)
    return _times(conductance, sets.shape.drop_m(rise) - short), rise


def _advance(sets: NetworkSets, scales: _Scales, states: _States, losses: Reals, slopes: Reals, at_length: bool) -> _States:
    """One step of every set: which one-way edges are shut, where it leads, how much of it to take (all ``at_length``)."""
    one_way, tiny = sets.shape.one_way, (ROUNDING * scales.flow)[:, None]
    short = losses - sets.shape.drop_m(states.head)
    shut = states.shut & (short > -(ROUNDING * scales.head)[:, None])
    stopped = one_way & (states.flow <= tiny)
    flow = np.where(stopped, 0.0, states.flow)
    for _ in range(int(one_way.sum()) + 1):
        conductance = _conductance(sets, scales, flow, slopes, shut)
        direction, rise = _direction(sets, scales, flow, short, conductance)
        direction[stopped & (np.abs(direction) <= tiny)] = 0.0
        backwards = stopped & ~shut & (direction < 0.0)
        if not backwards.any():
            break
        shut = shut | backwards
    head = states.head + rise
    falls = one_way & (direction < 0.0)
    stops = np.where(falls, flow / np.where(falls, -direction, 1.0), np.inf)
    longest = np.minimum(1.0, stops.min(axis=1))
    part = longest if at_length else _parts(sets, scales, flow, direction, sets.shape.drop_m(head), longest)
    flow = flow + part[:, None] * direction
    shut = shut | (stops <= part[:, None])
    change = np.where(part == 1.0, np.abs(direction).max(axis=1) / _greatest(sets, scales, flow), np.inf)
    return _States(flow=np.where(shut, 0.0, flow), head=head, shut=shut, change=change)


def _parts(sets: NetworkSets, scales: _Scales, flow: Reals, direction: Reals, drop: Reals, longest: Reals) -> Reals:
    """How much of its step each set takes: all, or as much as leaves little head over along it (bracketed secants)."""

    def left_over(rows: Ints, part: Reals) -> Reals:
        some, at = sets.rows(rows), flow[rows] + part[:, None] * direction[rows]
        losses = some.losses_m(at) + _tee_losses(some, scales.rows(rows), at)
        total: Reals = (direction[rows] * (losses - drop[rows])).sum(axis=1)
        return total

    every = np.arange(sets.count)
    start, value = left_over(every, np.zeros(sets.count)), left_over(every, longest)
    part = longest.copy()
    rows = np.flatnonzero((start < 0.0) & ~(value <= 0.5 * np.abs(start)))
    goal = 0.5 * np.abs(start[rows])
    low, low_value, high, high_value = np.zeros(len(rows)), start[rows], longest[rows], value[rows]
    for _ in range(40):
        if not len(rows):
            break
        secant = low + (high - low) * low_value / (low_value - high_value)
        here = np.clip(secant, low + 0.1 * (high - low), high - 0.1 * (high - low))
        value = left_over(rows, here)
        part[rows] = here
        below, on = value < 0.0, np.abs(value) > goal
        low, low_value = np.where(below, here, low)[on], np.where(below, value, low_value)[on]
        high, high_value = np.where(below, high, here)[on], np.where(below, high_value, value)[on]
        rows, goal = rows[on], goal[on]
    part[rows] = np.where(low > 0.0, low, high)
    return part


def _errors(sets: NetworkSets, scales: _Scales, states: _States) -> tuple[Reals, Reals]:
    """Worst head left over in m (on a shut edge: what would open it) and worst balance over the greatest flow, of each
    set."""
    left = sets.losses_m(states.flow) + _tee_losses(sets, scales, states.flow) - sets.shape.drop_m(states.head)
    residual = np.where(states.shut, np.maximum(-left, 0.0), np.abs(left)).max(axis=1)
    off = states.flow @ sets.shape.incidence.T + sets.demand_m3s[:, sets.shape.free]
    return residual, np.abs(off).max(axis=1, initial=0.0) / _greatest(sets, scales, states.flow)


def _greatest(sets: NetworkSets, scales: _Scales, flow: Reals) -> Reals:
    demand = np.abs(sets.demand_m3s).max(axis=1)
    return np.asarray(np.maximum(np.maximum(np.abs(flow).max(axis=1), demand), STILL * scales.flow))
