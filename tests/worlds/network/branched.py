"""A loop with branches as a networkx graph of its own, for the network solver."""

from collections.abc import Sequence

import networkx as nx

from optimizer.loop.graph import TANK, Element
from optimizer.loop.tees import EdgeKey, shaped_tee
from optimizer.model.losses import BranchLoss, Loss, Run, Split


def branched_graph(elements: Sequence[Element]) -> "nx.MultiDiGraph[str]":
    """The loop with every branch as edges of its own, and tees where they part and meet, for `solver.solve_network`.

    Throttles are not in it. Branches let no water back. Edges are keyed 0, 1, 2 ... as they are made: those of a branch
    follow each other, each with its ``element`` and, in branches, the number of the ``branch``. Raises ValueError for no
    elements, and where branches part in open water that is not the start of the loop, or meet in open water that is not
    its end.
    """
    if not elements:
        raise ValueError("a loop needs at least one part")
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    graph.add_node(TANK)
    node = TANK
    for order, element in enumerate(elements):
        last = order == len(elements) - 1
        if element.split is None or len(element.split.branches) == 1:
            node = _series(graph, node, TANK if last else f"after {order}: {element.label}", element)
        else:
            node = _side_by_side(graph, node, order, last, element.split, element)
    return graph


def _series(graph: "nx.MultiDiGraph[str]", node: str, ahead: str, element: Element) -> str:
    if element.split is None:
        graph.add_edge(node, ahead, key=graph.number_of_edges(), element=element)
    else:
        _branch(graph, node, ahead, element, 0)
    return ahead


def _side_by_side(graph: "nx.MultiDiGraph[str]", node: str, order: int, last: bool, split: Split, element: Element) -> str:
    """Two branches from a node on; returns the node behind them. Short edges without loss keep tees apart."""
    if (split.parting is None and node != TANK) or (split.meeting is None and not last):
        raise ValueError(f"{element.label}: branches without a tee belong to open water")
    parting, meeting = f"parting {order}: {element.label}", f"meeting {order}: {element.label}"
    start = node if split.parting is None else parting
    end = TANK if split.meeting is None else meeting
    into = _plain(graph, node, parting) if split.parting is not None else None
    legs = [_branch(graph, start, end, element, which) for which in (0, 1)]
    if split.parting is not None and into is not None:
        graph.nodes[parting]["tee"] = shaped_tee(split.parting, legs[0][0], into, legs[1][0])
    if split.meeting is None:
        return TANK
    ahead = TANK if last else f"after {order}: {element.label}"
    graph.nodes[meeting]["tee"] = shaped_tee(split.meeting, legs[0][1], _plain(graph, meeting, ahead), legs[1][1])
    return ahead


def _plain(graph: "nx.MultiDiGraph[str]", node: str, ahead: str) -> EdgeKey:
    """An edge without loss."""
    edge = (node, ahead, graph.number_of_edges())
    graph.add_edge(*edge, element=Element(place="", label="", loss=Loss()))
    return edge


def _branch(graph: "nx.MultiDiGraph[str]", start: str, end: str, element: Element, which: int) -> tuple[EdgeKey, EdgeKey]:
    """One edge for each hose run of a branch, the first with all that is not a hose; returns the first and the last."""
    assert element.split is not None
    edges: list[EdgeKey] = []
    losses = _by_run(element.split.branches[which])
    for order, loss in enumerate(losses):
        ahead = end if order == len(losses) - 1 else f"{end}, branch {which} after {order}"
        edge = (start, ahead, graph.number_of_edges())
        part = Element(place=element.place, label=element.label, loss=loss)
        graph.add_edge(*edge, element=part, one_way=order == 0, branch=which)
        edges.append(edge)
        start = ahead
    return edges[0], edges[-1]


def _by_run(branch: BranchLoss) -> list[Loss]:
    runs: list[Run | None] = [loss.run for loss in branch.losses if loss.run is not None]
    runs = runs or [None]
    terms = branch.losses
    whole = Loss(
        lift_m=branch.still_m,
        linear=sum(loss.linear for loss in terms),
        quadratic=sum(loss.quadratic for loss in terms),
        run=runs[0],
    )
    return [whole, *(Loss(run=run) for run in runs[1:])]
