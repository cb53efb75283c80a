"""Flows and heads of a branched network in plain scalars: Newton's method on node heads in the global gradient form.

Every edge loses a head that rises with its flow; at every node as much water comes as goes. Todini and Pilati (1988, "A
gradient algorithm for the analysis of pipe networks") solve both by Newton's method, with one linear system in the node
heads a step. The flows it looks for are those of least content (the integral of the losses), a convex function, so a
step that goes too far is shortened until the head left over along it, the slope of that function, is small: this
converges from rest.

One-way edges (an outlet above the water line draws nothing in) obey a complementarity: flow >= 0, head short of what it
takes >= 0, one of the two is 0. They are shut where a step would turn their flow back, and opened again where the head
suffices: an active set.

A pump is not one-way unless its edge says so: a centrifugal pump lets water back, and does here when pushed with more
than its head at no flow, along its curve continued. Losses of tees depend on all their flows and may be negative, which
is not convex: the network is solved without them first and they are let in, in one go or little by little, with their
derivatives in Newton's matrix.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import networkx as nx
import numpy as np

from network.laws import ElementLaw, Fluid, Friction, Law
from network.wiring import (
    Bools,
    Reals,
    Wiring,
    demands_m3s,
    fixed_heads_m,
    listed,
    lossless_ring,
    shape_problems,
    unmet_demand,
    wiring,
)
from optimizer.loop.tees import EdgeKey, leg_heads
from optimizer.physics.hose import friction_factor
from optimizer.physics.water import GRAVITY_MS2

HEAD_TOLERANCE_M = 1e-9
MASS_TOLERANCE = 1e-9
SETTLED = 1e-10
"""Last step over the greatest flow: the next would be its square."""

MOST_STEPS = 120
MOST_STAGES = 40
LEAST_SLOPE = 1e-8
"""Floor under the slopes that steer Newton's method, in head scale over flow scale: below it a loss b Q|Q| is less than
the last digit of a head. The losses themselves are not touched."""

STILL = 1e-7
"""Flows of less than this share of the flow scale everywhere are no flow."""

ROUNDING = 1e-13
"""Flows and heads of less than this share of their scale count as 0 in what opens and shuts one-way edges."""

PROXIMAL = 1e-13
"""Drag on a node's head during a step, as a share of its conductance. It vanishes with the step; it keeps a stretch
between shut edges, whose level nothing determines, from making the system singular."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkFlows:
    """A solved network. ``status``: "flows", "no flow", "not converged" or "bad input", the last two with their
    ``reason``.

    ``flow_m3s`` by edge, positive from its first node to its second; ``head_m`` by node; both empty for bad input.
    ``imbalance`` is the worst error of a node's balance over the greatest flow, ``residual_m`` the worst error of an
    edge's head. A stretch that is shut off between one-way edges has a head between the two that nothing else
    determines.
    """

    flow_m3s: Mapping[EdgeKey, float]
    head_m: Mapping[str, float]
    status: str
    reason: str
    iterations: int
    imbalance: float
    residual_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Circuit:
    """What does not change from step to step. ``flow_scale_m3s`` and ``head_scale_m`` are the size of what drives it,
    ``reach_m`` is further than heads can be apart, ``tee_share`` how much of the tees' losses counts."""

    shape: Wiring
    laws: tuple[Law, ...]
    demand_m3s: Reals
    flow_scale_m3s: float
    head_scale_m: float
    reach_m: float
    tee_share: float = 0.0

    def losses_m(self, flow_m3s: Reals) -> Reals:
        losses = np.array([law.head_m(float(flow)) for law, flow in zip(self.laws, flow_m3s, strict=True)])
        if self.tee_share:
            for joint in self.shape.joints:
                run, _, branch = joint.edges
                heads = leg_heads(joint.tee, joint.inward[0] * flow_m3s[run], joint.inward[2] * flow_m3s[branch])
                losses[run] += self.tee_share * joint.inward[0] * heads[0]
                losses[branch] += self.tee_share * joint.inward[2] * heads[1]
        return losses

    def slopes(self, flow_m3s: Reals) -> Reals:
        least = LEAST_SLOPE * self.head_scale_m / self.flow_scale_m3s
        return np.array([max(law.slope(float(flow)), least) for law, flow in zip(self.laws, flow_m3s, strict=True)])

    def chords(self) -> Reals:
        """Slopes from rest to the flow scale: those at rest are no guide."""
        size = len(self.laws)
        rise = self.losses_m(np.full(size, self.flow_scale_m3s)) - self.losses_m(np.zeros(size))
        return np.maximum(rise, LEAST_SLOPE * self.head_scale_m) / self.flow_scale_m3s

    def tee_slopes(self, flow_m3s: Reals) -> Reals:
        """Derivatives of the tees' losses, (e, e): row the edge that loses, column the flow."""
        slopes = np.zeros((len(flow_m3s), len(flow_m3s)))
        step = 1e-7 * max(float(np.abs(flow_m3s).max()), STILL * self.flow_scale_m3s)
        for joint in self.shape.joints:
            rows = (joint.edges[0], joint.edges[2])
            signs = np.array([joint.inward[0], joint.inward[2]], dtype=float)
            flows = signs * flow_m3s[list(rows)]
            for leg in (0, 1):
                shift = np.array([leg == 0, leg == 1]) * step
                ahead, behind = leg_heads(joint.tee, *(flows + shift)), leg_heads(joint.tee, *(flows - shift))
                for other in (0, 1):
                    slopes[rows[other], rows[leg]] += signs[other] * signs[leg] * (ahead[other] - behind[other]) / (2.0 * step)
        return self.tee_share * slopes


@dataclass(frozen=True, slots=True, kw_only=True)
class _State:
    """Flows (e,), heads (v,), which one-way edges are shut (e,), and how far the last step went."""

    flow: Reals
    head: Reals
    shut: Bools
    change: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    state: _State
    converged: bool
    iterations: int
    imbalance: float
    residual_m: float


def solve_network(
    graph: "nx.MultiDiGraph[str]",
    kinematic_m2s: float,
    friction: Friction = friction_factor,
    gravity_ms2: float = GRAVITY_MS2,
) -> NetworkFlows:
    """Flows in m3/s by edge and heads in m by node of a network of any shape, with a status.

    Each edge of ``graph`` holds an ``element`` (`Element`) or a ``law`` (`Law`), and may hold ``one_way`` (default:
    True where the element has lift). A node may hold ``head_m`` (open water; the tank's is 0 unless given),
    ``demand_m3s`` (water taken out there) or ``tee`` (`Tee`). ``kinematic_m2s`` is the water's viscosity in m2/s,
    ``friction`` the Darcy factor's formula, ``gravity_ms2`` in m/s2. Converged means: every node balances to 1e-9 of
    the greatest flow, every edge's head to 1e-9 m. Raises nothing for a network that cannot be solved: its status says
    so. Source: Todini and Pilati (1988).

    >>> from optimizer.loop.graph import Element, loop_graph
    >>> from optimizer.model.losses import Loss
    >>> from optimizer.model.parts import PumpCurve
    >>> curve = PumpCurve(flows_m3s=(0.0, 4e-4), heads_m=(2.0, 0.0), shape=2.0)
    >>> pump = Element(place="pump", label="pump", loss=Loss(), curve=curve)
    >>> ring = loop_graph([pump, Element(place="return", label="return", loss=Loss(quadratic=12.5e6))])
    >>> found = solve_network(ring, 1e-6)
    >>> found.status, round(found.flow_m3s[("tank", "after 0: pump", 0)] * 3.6e6, 3)
    ('flows', 1018.234)
    """
    problems = [*shape_problems(graph)]
    if not 0.0 < kinematic_m2s < math.inf:
        problems.append("the water's viscosity must be above nothing")
    if problems:
        return _refused(listed(problems))
    shape = wiring(graph)
    fluid = Fluid(kinematic_m2s=kinematic_m2s, friction=friction, gravity_ms2=gravity_ms2)
    laws = tuple(
        data["law"] if "law" in data else ElementLaw(element=data["element"], fluid=fluid) for *_, data in graph.edges(data=True)
    )
    demands = demands_m3s(graph)
    demand = np.array([demands.get(node, 0.0) for node in shape.nodes])
    unsolvable = lossless_ring(shape, np.array([_is_lossless(law) for law in laws])) or unmet_demand(shape, demand)
    if unsolvable:
        return _refused(unsolvable)
    fixed = fixed_heads_m(graph)
    level = sum(fixed.values()) / len(fixed)
    heads = np.array([fixed.get(node, level) for node in shape.nodes])
    circuit = _scaled(shape, laws, demand[shape.free], max(fixed.values()) - min(fixed.values()))
    # numbers that overflow end as "not converged"
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        return _answer(circuit, _with_tees(circuit, _from_rest(circuit, heads)))


def _is_lossless(law: Law) -> bool:
    """Whether a law is the same at any flow."""
    if not isinstance(law, ElementLaw):
        return False
    loss, run = law.element.loss, law.element.loss.run
    rubs = run is not None and run.length_m * run.factor > 0.0
    return law.element.curve is None and not rubs and loss.linear == 0.0 and loss.quadratic == 0.0


def _scaled(shape: Wiring, laws: tuple[Law, ...], demand: Reals, span_m: float) -> _Circuit:
    """The circuit with the size of its flows and heads, from what drives it: pumps, open waters of unequal level,
    demands."""
    head = max(span_m, *(abs(law.head_m(0.0)) for law in laws))
    curves = [law.element for law in laws if isinstance(law, ElementLaw) and law.element.curve is not None]
    pumped = max((e.speed * e.curve.max_flow_m3s for e in curves if e.curve is not None), default=0.0)
    flow = max(pumped, float(np.abs(demand).sum()))
    rising = [10.0**power for power in range(-12, 4)]
    if flow == 0.0:
        flow = next((q for q in rising if max(law.head_m(q) - law.head_m(0.0) for law in laws) >= head), 1.0)
    if head == 0.0:
        head = max(abs(law.head_m(flow)) for law in laws) or 1.0
    reach = head + sum(max(abs(law.head_m(flow)), abs(law.head_m(-flow))) for law in laws)
    return _Circuit(shape=shape, laws=laws, demand_m3s=demand, flow_scale_m3s=flow, head_scale_m=head, reach_m=reach)


def _from_rest(circuit: _Circuit, heads: Reals) -> _State:
    """All water at rest, then one step along the chords, so that every node balances from there on."""
    count = len(circuit.laws)
    rest = _State(flow=np.zeros(count), head=heads, shut=np.zeros(count, dtype=bool))
    return _advance(circuit, rest, circuit.chords(), at_length=True)


def _with_tees(circuit: _Circuit, state: _State) -> _Solved:
    """The network without the tees' losses, then with them: all at once where that converges, else in smaller stages."""
    solved = _newton(circuit, state)
    if not circuit.shape.joints or not solved.converged:
        return solved
    share, stage, steps = 0.0, 1.0, solved.iterations
    for _ in range(MOST_STAGES):
        ahead = min(1.0, share + stage)
        attempt = _newton(replace(circuit, tee_share=ahead), solved.state)
        steps += attempt.iterations
        if not attempt.converged:
            stage /= 2.0
            continue
        share, stage, solved = ahead, 2.0 * stage, attempt
        if share == 1.0:
            break
    return replace(solved, iterations=steps, converged=share == 1.0)


def _newton(circuit: _Circuit, state: _State) -> _Solved:
    """Newton steps until every balance holds and the last step was small, or does not get smaller any more."""
    before, residual, imbalance = math.inf, math.inf, math.inf
    for steps in range(1, MOST_STEPS + 1):
        try:
            state = _advance(circuit, state, circuit.slopes(state.flow), at_length=False)
        except np.linalg.LinAlgError:
            break
        residual, imbalance = _errors(circuit, state)
        if not (math.isfinite(residual) and math.isfinite(imbalance)):
            break
        holds = residual <= HEAD_TOLERANCE_M and imbalance <= MASS_TOLERANCE
        if holds and (state.change <= SETTLED or residual > 0.5 * before):
            return _Solved(state=state, converged=True, iterations=steps, imbalance=imbalance, residual_m=residual)
        before = residual
    return _Solved(state=state, converged=False, iterations=steps, imbalance=imbalance, residual_m=residual)


def _errors(circuit: _Circuit, state: _State) -> tuple[float, float]:
    """Worst head left over on an edge in m (on a shut one: what would open it), worst balance over the greatest flow."""
    left = circuit.losses_m(state.flow) - circuit.shape.drop_m(state.head)
    residual = float(np.where(state.shut, np.maximum(-left, 0.0), np.abs(left)).max())
    off = np.abs(circuit.shape.incidence @ state.flow + circuit.demand_m3s).max(initial=0.0)
    return residual, float(off) / _greatest(circuit, state.flow)


def _greatest(circuit: _Circuit, flow: Reals) -> float:
    demand = float(np.abs(circuit.demand_m3s).max(initial=0.0))
    return max(float(np.abs(flow).max()), demand, STILL * circuit.flow_scale_m3s)


def _advance(circuit: _Circuit, state: _State, slopes: Reals, at_length: bool) -> _State:
    """One step: which one-way edges are shut, where the step leads, how much of it to take (all ``at_length``)."""
    losses = circuit.losses_m(state.flow)
    short = losses - circuit.shape.drop_m(state.head)
    shut = state.shut & (short > -ROUNDING * circuit.head_scale_m)
    tiny = ROUNDING * circuit.flow_scale_m3s
    stopped = circuit.shape.one_way & (state.flow <= tiny)
    flow = np.where(stopped, 0.0, state.flow)
    turned = np.diag(slopes) + circuit.tee_slopes(flow) if circuit.tee_share else np.diag(slopes)
    for _ in range(int(circuit.shape.one_way.sum()) + 1):
        direction, rise = _direction(circuit, flow, short, turned, shut)
        direction = np.where(stopped & (np.abs(direction) <= tiny), 0.0, direction)
        backwards = stopped & ~shut & (direction < 0.0)
        if not backwards.any():
            break
        shut = shut | backwards
    head = state.head + rise
    stops = np.where(circuit.shape.one_way & (direction < 0.0), flow / -np.where(direction < 0.0, direction, -1.0), math.inf)
    longest = min(1.0, float(stops.min()))
    part = longest if at_length else _part(circuit, flow, direction, circuit.shape.drop_m(head), longest)
    flow = flow + part * direction
    shut = shut | (stops <= part)
    change = part * float(np.abs(direction).max()) / _greatest(circuit, flow) if part == 1.0 else math.inf
    return _State(flow=np.where(shut, 0.0, flow), head=head, shut=shut, change=change)


def _direction(circuit: _Circuit, flow: Reals, short: Reals, turned: Reals, shut: Bools) -> tuple[Reals, Reals]:
    """Newton's change of all flows and heads.

    With ``turned`` J the derivatives of the losses, A the incidence, r the heads left over, d the demands: dQ = J^-1
    (A' dh - r) and A (Q + dQ) = -d give (A J^-1 A') dh = A J^-1 r - A Q - d. A shut edge has no conductance.
    """
    incidence = circuit.shape.incidence
    apart = np.where(shut[:, None] | shut[None, :], np.eye(len(shut)), turned)
    conductance = np.linalg.inv(apart) * ~shut
    matrix = incidence @ conductance @ incidence.T
    own = np.abs(np.diag(matrix))
    matrix[np.diag_indices_from(matrix)] += PROXIMAL * (own + circuit.flow_scale_m3s / circuit.head_scale_m)
    lacking = incidence @ (conductance @ short - flow) - circuit.demand_m3s
    rise = np.zeros(len(circuit.shape.nodes))
    # a demand behind shut edges would raise heads without a bound; a finite rise opens them as well
    rise[circuit.shape.free] = np.linalg.solve(matrix, lacking).clip(-circuit.reach_m, circuit.reach_m)
    return conductance @ (circuit.shape.drop_m(rise) - short), rise


def _part(circuit: _Circuit, flow: Reals, direction: Reals, drop: Reals, longest: float) -> float:
    """How much of a step to take: all of it, or as much as leaves little head over along it."""

    def left_over(part: float) -> float:
        return float(direction @ (circuit.losses_m(flow + part * direction) - drop))

    start = left_over(0.0)
    low, low_value, high, high_value = 0.0, start, longest, left_over(longest)
    if start >= 0.0 or high_value <= 0.5 * abs(start):
        return longest
    for _ in range(40):
        secant = low + (high - low) * low_value / (low_value - high_value)
        part = min(max(secant, low + 0.1 * (high - low)), high - 0.1 * (high - low))
        value = left_over(part)
        if abs(value) <= 0.5 * abs(start):
            return part
        if value < 0.0:
            low, low_value = part, value
        else:
            high, high_value = part, value
    return low if low > 0.0 else high


def _refused(reason: str) -> NetworkFlows:
    return NetworkFlows(
        flow_m3s=MappingProxyType({}),
        head_m=MappingProxyType({}),
        status="bad input",
        reason=reason,
        iterations=0,
        imbalance=math.nan,
        residual_m=math.nan,
    )


def _answer(circuit: _Circuit, solved: _Solved) -> NetworkFlows:
    """What was found, in words. Flows that are nothing but rounding (still ends) become 0."""
    flow = solved.state.flow
    greatest = float(np.abs(flow).max())
    moves = greatest > STILL * circuit.flow_scale_m3s
    flow = np.where(np.abs(flow) > ROUNDING * greatest, flow, 0.0) if moves else np.zeros_like(flow)
    status = ("flows" if moves else "no flow") if solved.converged else "not converged"
    reason = "" if solved.converged else f"heads are {solved.residual_m:.1e} m off, balances {solved.imbalance:.1e} of the flow"
    return NetworkFlows(
        flow_m3s=MappingProxyType(dict(zip(circuit.shape.edges, flow.tolist(), strict=True))),
        head_m=MappingProxyType(dict(zip(circuit.shape.nodes, solved.state.head.tolist(), strict=True))),
        status=status,
        reason=reason,
        iterations=solved.iterations,
        imbalance=solved.imbalance,
        residual_m=solved.residual_m,
    )
