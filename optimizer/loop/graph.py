"""The loop as a networkx graph: nodes are points in the water path, edges are parts and joints with their loss."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import networkx as nx

from optimizer.model.losses import Loss, Split
from optimizer.model.parts import PumpCurve

TANK = "tank"
"""The node of the open water: the loop starts and ends there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One edge of the loop: a part at a position, or the joint in front of it. ``at`` names the position of the
    loop that it is part of, of a part in a branch that of the branches (empty: a joint between two of them).

    ``curve`` and ``speed`` are set for the pump only. ``bore_m`` is the narrowest bore the water passes (0: unknown).
    ``split`` stands for branches side by side, which have neither a loss nor a curve of their own. Raises ValueError.
    """

    place: str
    label: str
    loss: Loss
    at: str = ""
    curve: PumpCurve | None = None
    speed: float = 1.0
    bore_m: float = 0.0
    inlet_bore_m: float = 0.0
    split: Split | None = None

    def __post_init__(self) -> None:
        if self.split is not None and (self.loss != Loss() or self.curve is not None):
            raise ValueError(f"{self.label}: branches have no loss of their own beside those of their parts")


def loop_graph(elements: Sequence[Element]) -> "nx.MultiDiGraph[str]":
    """A series loop as a graph: tank, one node between each pair of elements, and the tank again.

    Each edge holds its ``element``; edges are keyed 0, 1, 2 ... in the order of the water. Raises ValueError for no elements.
    """
    if not elements:
        raise ValueError("a loop needs at least one part")
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    graph.add_node(TANK)
    node = TANK
    for order, element in enumerate(elements):
        ahead = TANK if order == len(elements) - 1 else f"after {order}: {element.label}"
        graph.add_edge(node, ahead, key=order, element=element)
        node = ahead
    return graph


def in_order(graph: "nx.MultiDiGraph[str]") -> Iterator[Element]:
    """The elements of a series loop in the order the water meets them.

    >>> pump = Element(place="pump", label="pump", loss=Loss())
    >>> [element.label for element in in_order(loop_graph([pump]))]
    ['pump']
    """
    for _, _, _, data in sorted(graph.edges(keys=True, data=True), key=lambda edge: edge[2]):
        yield data["element"]
