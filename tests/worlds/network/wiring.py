"""How a network hangs together: its graph as index arrays, and everything that keeps it from being solved."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from optimizer.loop.graph import TANK, Element
from optimizer.loop.tees import EdgeKey, Tee

Reals = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]
Graph = nx.MultiDiGraph


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A tee and the edges on its legs (run_from, run_to, branch), by number; ``inward`` is 1 where an edge ends at the
    tee, else -1."""

    tee: Tee
    edges: tuple[int, int, int]
    inward: tuple[int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wiring:
    """Shape of a network: v nodes and e edges in the order of the graph.

    ``start`` and ``end`` (e,) number the nodes of each edge, ``free`` (v,) marks nodes whose head is sought,
    ``one_way`` (e,) edges that let no water back. ``incidence`` (free nodes, edges) is 1 where an edge leaves a node
    and -1 where it enters.
    """

    nodes: tuple[str, ...]
    edges: tuple[EdgeKey, ...]
    start: Ints
    end: Ints
    free: Bools
    one_way: Bools
    incidence: Reals
    joints: tuple[Joint, ...]

    def drop_m(self, head_m: Reals) -> Reals:
        """Head at the first node of each edge less that at its second: (..., v) to (..., e)."""
        drop: Reals = head_m[..., self.start] - head_m[..., self.end]
        return drop

    def same_shape(self, other: "Wiring") -> bool:
        """Whether both networks differ in nothing but their numbers."""
        mine = (self.nodes, self.edges, self.joints, self.free.tolist(), self.one_way.tolist())
        return mine == (other.nodes, other.edges, other.joints, other.free.tolist(), other.one_way.tolist())


def wiring(graph: "nx.MultiDiGraph[str]") -> Wiring:
    """The shape of a graph without `shape_problems`."""
    nodes, edges = tuple(graph.nodes), tuple(graph.edges(keys=True))
    number = {node: index for index, node in enumerate(nodes)}
    start = np.array([number[u] for u, _, _ in edges], dtype=np.intp)
    end = np.array([number[v] for _, v, _ in edges], dtype=np.intp)
    fixed = fixed_heads_m(graph)
    incidence = np.zeros((len(nodes), len(edges)))
    np.add.at(incidence, (start, np.arange(len(edges))), 1.0)
    np.add.at(incidence, (end, np.arange(len(edges))), -1.0)
    free = np.array([node not in fixed for node in nodes], dtype=bool)
    return Wiring(
        nodes=nodes,
        edges=edges,
        start=start,
        end=end,
        free=free,
        one_way=np.array([lets_none_back(data) for _, _, data in graph.edges(data=True)], dtype=bool),
        incidence=incidence[free],
        joints=tuple(_joint(node, data["tee"], edges) for node, data in graph.nodes(data=True) if "tee" in data),
    )


def fixed_heads_m(graph: "nx.MultiDiGraph[str]") -> dict[str, float]:
    """Heads of the nodes of open water, in m. The tank's is 0 where the graph does not say otherwise."""
    fixed = {node: float(data["head_m"]) for node, data in graph.nodes(data=True) if "head_m" in data}
    return {TANK: 0.0} | fixed if TANK in graph else fixed


def demands_m3s(graph: "nx.MultiDiGraph[str]") -> dict[str, float]:
    """Water taken out at nodes, in m3/s (negative: fed in)."""
    return {node: float(data["demand_m3s"]) for node, data in graph.nodes(data=True) if "demand_m3s" in data}


def lets_none_back(data: dict[str, Any]) -> bool:
    """Whether an edge is one-way: as its ``one_way`` says, else where it has lift, for an outlet in the air draws no
    water in."""
    element = data.get("element")
    return bool(data.get("one_way", isinstance(element, Element) and element.loss.still_m > 0.0))


def _joint(node: str, tee: Tee, edges: Sequence[EdgeKey]) -> Joint:
    legs = (tee.run_from, tee.run_to, tee.branch)
    return Joint(
        tee=tee,
        edges=(edges.index(legs[0]), edges.index(legs[1]), edges.index(legs[2])),
        inward=(_inward(legs[0], node), _inward(legs[1], node), _inward(legs[2], node)),
    )


def _inward(edge: EdgeKey, node: str) -> int:
    return 1 if edge[1] == node else -1


def shape_problems(graph: "nx.MultiDiGraph[str]") -> Iterator[str]:
    """Everything about nodes and edges that cannot be solved, as sentences without a full stop."""
    if not graph.number_of_edges():
        yield "a network needs at least one edge"
    for u, v, key, data in graph.edges(keys=True, data=True):
        yield from (f"edge {u} - {v} ({key}): {what}" for what in _edge_problems(data))
    for node, data in graph.nodes(data=True):
        yield from (f"node {node}: {what}" for what in _node_problems(graph, node, data))
    fixed = fixed_heads_m(graph)
    for part in nx.connected_components(nx.Graph(graph.to_undirected(as_view=True))):
        if not part & fixed.keys():
            yield f"no open water reaches {', '.join(sorted(part))}"


def _edge_problems(data: dict[str, Any]) -> Iterator[str]:
    element, law = data.get("element"), data.get("law")
    if (element is None) == (law is None):
        yield "needs either an element or a law"
    if element is None:
        return
    if not isinstance(element, Element):
        yield "its element is no Element"
        return
    if element.split is not None:
        yield "has branches, which need edges of their own (`graph.branched_graph`)"
    if element.curve is not None and not 0.0 < element.speed < math.inf:
        yield f"a pump cannot run at {element.speed:g} times its speed"
    run = element.loss.run
    if run is not None and not (0.0 < run.bore_m < math.inf and run.coil_m > 0.0):
        yield "a hose needs a bore and a coil above nothing"
    if run is not None and not all(0.0 <= size < math.inf for size in (run.length_m, run.roughness_m, run.factor)):
        yield "length, roughness and factor of a hose cannot be below nothing"


def _node_problems(graph: "nx.MultiDiGraph[str]", node: str, data: dict[str, Any]) -> Iterator[str]:
    for name in ("head_m", "demand_m3s"):
        if not math.isfinite(data.get(name, 0.0)):
            yield f"{name} is no number"
    if "demand_m3s" in data and node in fixed_heads_m(graph):
        yield "open water has no demand"
    if "tee" in data and not isinstance(data["tee"], Tee):
        yield "its tee is no Tee"
    elif "tee" in data:
        legs = {data["tee"].run_from, data["tee"].run_to, data["tee"].branch}
        around = [*graph.in_edges(node, keys=True), *graph.out_edges(node, keys=True)]
        if len(around) != 3 or legs != set(around):
            yield "a tee must have the three edges it names and no other"
        if node in fixed_heads_m(graph):
            yield "a tee cannot be open water"


def lossless_ring(shape: Wiring, lossless: Bools) -> str:
    """Where water could run round, or between open waters, through nothing but ``lossless`` (e,) edges, in words; ""
    where it cannot.

    What flows there is not determined, or without a bound.
    """
    parent = list(range(len(shape.nodes)))
    open_water = np.flatnonzero(~shape.free)
    for node in open_water[1:]:
        parent[node] = int(open_water[0])
    for edge in np.flatnonzero(lossless):
        start, end = _root(parent, int(shape.start[edge])), _root(parent, int(shape.end[edge]))
        if start == end:
            u, v, key = shape.edges[edge]
            return f"edge {u} - {v} ({key}) closes a ring without any loss, where the flow is not determined"
        parent[start] = end
    return ""


def _root(parent: Sequence[int], node: int) -> int:
    for _ in parent:
        if parent[node] == node:
            break
        node = parent[node]
    return node


def unmet_demand(shape: Wiring, demand_m3s: Reals) -> str:
    """Why the demands (v,) of all nodes cannot be met at any heads, because the edges between let no water back; ""
    where they can.

    They can if a flow through the edges alone carries all of them, open water giving and taking what is missing
    (greatest flow).
    """
    if not (shape.one_way.any() and demand_m3s.any()):
        return ""
    taken, given = float(demand_m3s.clip(min=0.0).sum()), float((-demand_m3s).clip(min=0.0).sum())
    ways: nx.DiGraph[int] = nx.DiGraph()
    source, sink = -1, -2
    for start, end, one_way in zip(shape.start.tolist(), shape.end.tolist(), shape.one_way.tolist(), strict=True):
        ways.add_edge(start, end)
        if not one_way:
            ways.add_edge(end, start)
    for node, (demand, free) in enumerate(zip(demand_m3s.tolist(), shape.free.tolist(), strict=True)):
        ways.add_edge(source, node, capacity=max(-demand, 0.0) if free else taken)
        ways.add_edge(node, sink, capacity=max(demand, 0.0) if free else given)
    if nx.maximum_flow_value(ways, source, sink) >= (taken + given) * (1.0 - 1e-9):
        return ""
    return "one-way edges keep the water from where it is taken out"


def listed(problems: Iterable[str]) -> str:
    """Problems as one text, "" for none.

    >>> listed(["no pump", "no hose"])
    'no pump; no hose'
    """
    return "; ".join(problems)
