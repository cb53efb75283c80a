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
        _branch(graph, (node, ahead), element.split.branches[0], {"branch": 0}, element)
    return ahead


def _side_by_side(graph: "nx.MultiDiGraph[str]", node: str, order: int, last: bool, split: Split, element: Element) -> str:
    """Two branches from a node on; returns the node behind them."""
    ahead = TANK if last else f"after {order}: {element.label}"
    _fork(graph, (node, ahead), split, f"{order}: {element.label}", element, "branch")
    return ahead


def _fork(
    graph: "nx.MultiDiGraph[str]", ends: tuple[str, str], split: Split, name: str, element: Element, mark: str
) -> tuple[EdgeKey | None, EdgeKey | None]:
    """Two branches between two nodes; the edges that lead to the tee where they part, and from that where they meet (None: open
    water). Short edges without loss keep tees apart. ``mark`` says by which word edges tell the number of their branch."""
    node, ahead = ends
    if (split.parting is None and node != TANK) or (split.meeting is None and ahead != TANK):
        raise ValueError(f"{element.label}: branches without a tee belong to open water")
    parting, meeting = f"parting {name}", f"meeting {name}"
    start = node if split.parting is None else parting
    end = ahead if split.meeting is None else meeting
    into = _plain(graph, node, parting) if split.parting is not None else None
    legs = [_branch(graph, (start, end), each, {mark: which}, element) for which, each in enumerate(split.branches)]
    out = _plain(graph, meeting, ahead) if split.meeting is not None else None
    for shape, tee, common, which in ((split.parting, parting, into, 0), (split.meeting, meeting, out, 1)):
        if shape is not None:
            run, side = legs[0][which], legs[1][which]
            assert run is not None and common is not None and side is not None
            graph.nodes[tee]["tee"] = shaped_tee(shape, run, common, side)
    return into, out


def _plain(graph: "nx.MultiDiGraph[str]", node: str, ahead: str) -> EdgeKey:
    """An edge without loss."""
    edge = (node, ahead, graph.number_of_edges())
    graph.add_edge(*edge, element=Element(place="", label="", loss=Loss()))
    return edge


def _branch(
    graph: "nx.MultiDiGraph[str]", ends: tuple[str, str], branch: BranchLoss, marks: dict[str, int], element: Element
) -> tuple[EdgeKey | None, EdgeKey | None]:
    """One edge for each hose run of a branch, the first with all that is not a hose, and the splits within it: in front where
    they start in open water, else behind. Returns the first and the last edge."""
    edges: list[tuple[EdgeKey | None, EdgeKey | None]] = []
    own, (start, end) = _by_run(branch), ends
    from_tank = [split for split in branch.inner if split.parting is None]
    row = [*from_tank, *own, *(split for split in branch.inner if split.parting is not None)]
    for order, part in enumerate(row):
        ahead = end if order == len(row) - 1 else f"{end}, from {ends[0]} {marks} after {order}"
        if isinstance(part, Split):
            edges.append(_fork(graph, (start, ahead), part, f"in {ends} {marks}", element, "within"))
        else:
            edge = (start, ahead, graph.number_of_edges())
            made = Element(place=element.place, label=element.label, loss=part)
            graph.add_edge(*edge, element=made, one_way=part is own[0], **marks)
            edges.append((edge, edge))
        start = ahead
    return edges[0][0], edges[-1][1]


def _by_run(branch: BranchLoss) -> list[Loss]:
    runs: list[Run | None] = [loss.run for loss in branch.losses if loss.run is not None]
    runs = runs or [None]
    terms = branch.losses
    whole = Loss(
        lift_m=sum(loss.still_m for loss in terms),
        linear=sum(loss.linear for loss in terms),
        quadratic=sum(loss.quadratic for loss in terms),
        run=runs[0],
    )
    return [whole, *(Loss(run=run) for run in runs[1:])]
