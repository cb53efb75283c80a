"""Many parameter sets of one network as arrays: what each edge loses at its flow, and how that rises."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import networkx as nx
import numpy as np

from network.laws import Friction
from network.wiring import Bools, Ints, Reals, Wiring, demands_m3s, fixed_heads_m, listed, shape_problems, wiring
from optimizer.loop.graph import Element
from optimizer.physics.hose import curvature_factor, friction_factor
from optimizer.physics.pumps import Stack, label_head_m, stack_points, stacked_head_m
from optimizer.physics.water import GRAVITY_MS2

STEP = 1e-6
"""Step of the difference quotients that steer Newton's method, as a share of the flow."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """Pump curves through points: set and edge that each belongs to, and the points, one curve a row."""

    sets: Ints
    edges: Ints
    curves: Stack

    def of(self, rows: Ints, count: int) -> "Points":
        """Those of some of ``count`` sets, renumbered in the order of ``rows`` (each set at most once)."""
        place = np.full(count, -1, dtype=np.intp)
        place[rows] = np.arange(len(rows))
        kept = place[self.sets] >= 0
        flows, heads, slopes = self.curves
        curves = (flows[kept], heads[kept], slopes[kept])
        return Points(sets=place[self.sets[kept]], edges=self.edges[kept], curves=curves)


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkSets:
    """n parameter sets of one ``shape`` of v nodes and e edges, in SI.

    Shapes: ``lift_m``, ``linear`` s/m2, ``quadratic`` s2/m5, ``run_bore_m``, ``run_length_m`` (0: no hose),
    ``run_roughness_m``, ``run_factor``, ``run_coil_m`` (inf: straight), ``speed``, and of label pump curves
    ``max_head_m`` (0: no pump), ``max_flow_m3s``, ``exponent``: (n, e). ``head_m``: (n, v), of open water, and any
    start elsewhere. ``demand_m3s``: (n, v). ``kinematic_m2s``: (n,). Other values of the same network come by
    `dataclasses.replace`.
    """

    shape: Wiring
    lift_m: Reals
    linear: Reals
    quadratic: Reals
    run_bore_m: Reals
    run_length_m: Reals
    run_roughness_m: Reals
    run_factor: Reals
    run_coil_m: Reals
    speed: Reals
    max_head_m: Reals
    max_flow_m3s: Reals
    exponent: Reals
    head_m: Reals
    demand_m3s: Reals
    kinematic_m2s: Reals
    points: Points
    friction: Friction = friction_factor
    gravity_ms2: float = GRAVITY_MS2

    @property
    def count(self) -> int:
        """How many sets there are."""
        return len(self.kinematic_m2s)

    def rows(self, rows: Ints) -> "NetworkSets":
        """Some of the sets, each at most once."""
        cut: dict[str, Any] = {name: getattr(self, name)[rows] for name in ARRAYS}
        return replace(self, points=self.points.of(rows, self.count), **cut)

    def losses_m(self, flow_m3s: Reals) -> Reals:
        """Head lost by each edge at its flow, (n, e) in m; a pump's head counts as a negative loss. Without tees."""
        losses = self.lift_m + (self.linear + self.quadratic * np.abs(flow_m3s)) * flow_m3s
        return losses + self._friction_m(flow_m3s) - self._pumps_m(flow_m3s)

    def losses_and_slopes(self, flow_m3s: Reals) -> tuple[Reals, Reals]:
        """`losses_m` and how they rise with the flow, (n, e) in m and s/m2."""
        size = np.abs(flow_m3s)
        friction, pumps = self._friction_m(flow_m3s), self._pumps_m(flow_m3s)
        losses = self.lift_m + (self.linear + self.quadratic * size) * flow_m3s + friction - pumps
        slopes = self.linear + 2.0 * self.quadratic * size
        # below Re = 1 friction is a straight line from nothing, so that its quotient may be taken there
        run_size = np.maximum(size, self._creep_m3s())
        slopes += (self._friction_m(run_size * (1.0 + STEP)) - self._friction_m(run_size)) / (run_size * STEP)
        step = STEP * np.maximum(size, self._pump_flow_m3s())
        return losses, slopes + (self._pumps_m(flow_m3s - step) - self._pumps_m(flow_m3s + step)) / (2.0 * step)

    def _creep_m3s(self) -> Reals:
        """Flow at which Re is 1."""
        creep: Reals = self.kinematic_m2s[:, None] * self.run_bore_m * (np.pi / 4.0)
        return creep

    def _pump_flow_m3s(self) -> Reals:
        """Flow scale of the pump of each edge, 1 where there is none."""
        flow = np.where(self.max_head_m > 0.0, self.speed * self.max_flow_m3s, 1.0)
        at = self.points.sets, self.points.edges
        flow[at] = self.speed[at] * self.points.curves[0][:, -1]
        return flow

    def _friction_m(self, flow_m3s: Reals) -> Reals:
        head = np.zeros_like(flow_m3s)
        edges = np.flatnonzero((self.run_length_m > 0.0).any(axis=0))
        if not len(edges):
            return head
        flow, bore = flow_m3s[:, edges], self.run_bore_m[:, edges]
        size = np.maximum(np.abs(flow), self._creep_m3s()[:, edges])
        reynolds = np.maximum(size / (self.kinematic_m2s[:, None] * bore * (np.pi / 4.0)), 1.0)
        factor = self.friction(reynolds, self.run_roughness_m[:, edges] / bore) * self.run_factor[:, edges]
        coil = self.run_coil_m[:, edges]
        if np.isfinite(coil).any():
            factor = factor * curvature_factor(reynolds, bore, coil)
        square = bore * bore
        per_size = factor * self.run_length_m[:, edges] * size * (8.0 / (np.pi**2 * self.gravity_ms2)) / (square * square * bore)
        head[:, edges] = per_size * flow
        return head

    def _pumps_m(self, flow_m3s: Reals) -> Reals:
        head = np.zeros_like(flow_m3s)
        edges = np.flatnonzero((self.max_head_m > 0.0).any(axis=0))
        if len(edges):
            speed = self.speed[:, edges]
            label = self.max_head_m[:, edges], self.max_flow_m3s[:, edges], self.exponent[:, edges]
            head[:, edges] = speed * speed * label_head_m(flow_m3s[:, edges] / speed, *label)
        at = self.points.sets, self.points.edges
        if len(at[0]):
            speed = self.speed[at]
            head[at] += speed * speed * stacked_head_m(flow_m3s[at] / speed, *self.points.curves)
        return head

    def sound(self) -> Bools:
        """Sets whose every number is finite and of the right sign, (n,)."""
        losses = np.stack([self.lift_m, self.linear, self.quadratic, self.run_length_m, self.run_roughness_m, self.run_factor])
        above = np.stack([self.run_bore_m, self.speed, self.max_flow_m3s, self.exponent])
        good = (np.isfinite(losses) & (losses >= 0.0)).all(axis=(0, 2)) & (np.isfinite(above) & (above > 0.0)).all(axis=(0, 2))
        good &= (
            (self.run_coil_m > 0.0).all(axis=1) & np.isfinite(self.head_m).all(axis=1) & np.isfinite(self.demand_m3s).all(axis=1)
        )
        good &= (np.isfinite(self.max_head_m) & (self.max_head_m >= 0.0)).all(axis=1)
        good &= np.isfinite(self.kinematic_m2s) & (self.kinematic_m2s > 0.0)
        return np.asarray(good & ~self.demand_m3s[:, ~self.shape.free].any(axis=1))

    def lossless(self) -> Bools:
        """Edges that lose the same at any flow, (n, e)."""
        still = (self.linear == 0.0) & (self.quadratic == 0.0) & (self.run_length_m * self.run_factor == 0.0)
        still &= self.max_head_m == 0.0
        still[self.points.sets, self.points.edges] = False
        return np.asarray(still)


ARRAYS = tuple(field.name for field in fields(NetworkSets) if field.name not in ("shape", "points", "friction", "gravity_ms2"))


def network_sets(
    graphs: Sequence["nx.MultiDiGraph[str]"],
    kinematic_m2s: float,
    friction: Friction = friction_factor,
    gravity_ms2: float = GRAVITY_MS2,
) -> NetworkSets:
    """The parameter sets of networks of one shape, made for `solver.solve_network`, in their order.

    Nodes, edges, tees, which nodes are open water and which edges are one-way must be alike. Raises ValueError for no
    graphs, for shapes that differ or cannot be solved, and for edges with a ``law``, which has no arrays.

    >>> from optimizer.loop.graph import loop_graph
    >>> from optimizer.model.losses import Loss
    >>> rings = [loop_graph([Element(place="a", label="a", loss=Loss(quadratic=q))]) for q in (1e6, 2e6)]
    >>> network_sets(rings, 1e-6).quadratic.tolist()
    [[1000000.0], [2000000.0]]
    """
    if not graphs:
        raise ValueError("no networks were given")
    problems = listed(shape_problems(graphs[0]))
    if problems:
        raise ValueError(problems)
    shape = wiring(graphs[0])
    if not all(shape.same_shape(wiring(graph)) for graph in graphs[1:]):
        raise ValueError("the networks differ in shape")
    elements = [[data.get("element") for *_, data in graph.edges(data=True)] for graph in graphs]
    checked = [[element for element in row if isinstance(element, Element)] for row in elements]
    if any(len(row) != len(shape.edges) for row in checked):
        raise ValueError("an edge has no element; only solve_network takes laws")
    return NetworkSets(
        shape=shape,
        head_m=np.array([_heads(shape, graph) for graph in graphs]),
        demand_m3s=np.array([[demands_m3s(graph).get(node, 0.0) for node in shape.nodes] for graph in graphs]),
        kinematic_m2s=np.full(len(graphs), kinematic_m2s),
        points=_points(checked),
        friction=friction,
        gravity_ms2=gravity_ms2,
        **_columns(checked),
    )


def _heads(shape: Wiring, graph: "nx.MultiDiGraph[str]") -> list[float]:
    fixed = fixed_heads_m(graph)
    level = sum(fixed.values()) / len(fixed)
    return [fixed.get(node, level) for node in shape.nodes]


def _columns(elements: Sequence[Sequence[Element]]) -> dict[str, Any]:
    return {name: np.array([[_numbers(e)[name] for e in row] for row in elements]) for name in _numbers(elements[0][0])}


def _numbers(element: Element) -> dict[str, float]:
    loss, run, curve = element.loss, element.loss.run, element.curve
    label = curve if curve is not None and curve.shape else None
    return {
        "lift_m": loss.still_m,
        "linear": loss.linear,
        "quadratic": loss.quadratic,
        "run_bore_m": run.bore_m if run else 1.0,
        "run_length_m": run.length_m if run else 0.0,
        "run_roughness_m": run.roughness_m if run else 0.0,
        "run_factor": run.factor if run else 1.0,
        "run_coil_m": run.coil_m if run else np.inf,
        "speed": element.speed if curve else 1.0,
        "max_head_m": label.max_head_m if label else 0.0,
        "max_flow_m3s": label.max_flow_m3s if label else 1.0,
        "exponent": label.shape if label else 1.0,
    }


def _points(elements: Sequence[Sequence[Element]]) -> Points:
    found = [
        (row, edge, element.curve)
        for row, line in enumerate(elements)
        for edge, element in enumerate(line)
        if element.curve is not None and not element.curve.shape
    ]
    return Points(
        sets=np.array([row for row, _, _ in found], dtype=np.intp),
        edges=np.array([edge for _, edge, _ in found], dtype=np.intp),
        curves=stack_points([(curve.flows_m3s, curve.heads_m) for _, _, curve in found]),
    )
