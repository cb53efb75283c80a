"""The shape of a network as arrays, and what keeps it from being solved."""

import networkx as nx
import numpy as np
import pytest
from network.wiring import lossless_ring, shape_problems, unmet_demand, wiring

from optimizer.loop.graph import TANK, Element
from optimizer.loop.tees import Tee
from optimizer.model.losses import Loss

PART = Element(place="part", label="part", loss=Loss(quadratic=1e6))


def ring(*pairs: tuple[str, str], one_way: tuple[int, ...] = ()) -> "nx.MultiDiGraph[str]":
    """Edges alike, numbered in their order."""
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for number, pair in enumerate(pairs):
        graph.add_edge(*pair, key=number, element=PART, one_way=number in one_way)
    return graph


def test_the_incidence_says_what_leaves_and_enters_each_free_node() -> None:
    """1 where an edge leaves, -1 where it enters, 0 for an edge from a node to itself; the tank's row is left out."""
    shape = wiring(ring((TANK, "a"), ("a", "b"), ("b", TANK), ("a", "a")))
    assert shape.nodes == (TANK, "a", "b")
    assert [edge[:2] for edge in shape.edges] == [(TANK, "a"), ("a", "b"), ("a", "a"), ("b", TANK)]
    assert shape.free.tolist() == [False, True, True]
    assert shape.incidence.tolist() == [[-1.0, 1.0, 0.0, 0.0], [0.0, -1.0, 0.0, 1.0]]
    assert shape.drop_m(np.array([0.0, 2.0, 5.0])).tolist() == [-2.0, -3.0, 0.0, 5.0]


def test_edges_with_lift_are_one_way_unless_they_say_otherwise() -> None:
    """An outlet in the air draws no water in."""
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    raised = Element(place="outlet", label="outlet", loss=Loss(lift_m=0.1))
    graph.add_edge("a", TANK, key=0, element=raised)
    graph.add_edge("a", TANK, key=1, element=raised, one_way=False)
    graph.add_edge("a", TANK, key=2, element=PART)
    graph.add_edge("a", TANK, key=3, element=PART, one_way=True)
    assert wiring(graph).one_way.tolist() == [True, False, False, True]


def test_a_tee_knows_which_legs_end_at_it() -> None:
    """Heads count from the tee, whichever way an edge is defined."""
    graph = ring((TANK, "t"), ("t", "a"), ("t", "b"), ("a", TANK), ("b", TANK))
    graph.nodes["t"]["tee"] = Tee(
        run_from=(TANK, "t", 0), run_to=("t", "b", 2), branch=("t", "a", 1), run_bore_m=0.016, branch_bore_m=0.016
    )
    assert not list(shape_problems(graph))
    joint = wiring(graph).joints[0]
    edges = wiring(graph).edges
    assert [edges[edge] for edge in joint.edges] == [(TANK, "t", 0), ("t", "b", 2), ("t", "a", 1)]
    assert joint.inward == (1, -1, -1)


@pytest.mark.parametrize(
    ("lossless", "closes"),
    [([True, True, False], False), ([True, True, True], True), ([False, False, True], False)],
)
def test_a_ring_is_without_loss_only_if_every_edge_is(lossless: list[bool], closes: bool) -> None:
    """Otherwise the loss determines what flows."""
    shape = wiring(ring((TANK, "a"), ("a", "b"), ("b", TANK)))
    assert bool(lossless_ring(shape, np.array(lossless))) is closes


def test_two_open_waters_close_a_ring_too() -> None:
    """Without loss between two levels the flow has no bound."""
    graph = ring((TANK, "a"), ("a", "sump"))
    graph.nodes["sump"]["head_m"] = 1.0
    assert "closes a ring" in lossless_ring(wiring(graph), np.array([True, True]))
    assert not lossless_ring(wiring(graph), np.array([True, False]))


@pytest.mark.parametrize(("demand", "met"), [(1e-4, False), (-1e-4, True), (0.0, True)])
def test_water_leaves_through_one_way_edges_but_does_not_come(demand: float, met: bool) -> None:
    """Two edges out of one node."""
    shape = wiring(ring(("a", TANK), ("a", TANK), one_way=(0, 1)))
    assert (unmet_demand(shape, np.array([demand, 0.0])) == "") is met


def test_a_demand_may_be_met_from_another_node_that_feeds_in() -> None:
    """b gives what a takes; the tank can give nothing."""
    shape = wiring(ring(("a", TANK), ("b", "a"), one_way=(0, 1)))
    assert shape.nodes == ("a", TANK, "b")
    assert not unmet_demand(shape, np.array([1e-4, 0.0, -1e-4]))
    assert not unmet_demand(shape, np.array([1e-4, 0.0, -2e-4]))
    assert unmet_demand(shape, np.array([2e-4, 0.0, -1e-4]))
