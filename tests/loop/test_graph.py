"""The loop as a graph: a ring from the tank to the tank, its elements in the order of the water."""

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.loop.graph import TANK, Element, in_order, loop_graph
from optimizer.model.losses import Loss


def element(number: int) -> Element:
    """An element told apart by its loss."""
    return Element(place="somewhere", label="part", loss=Loss(quadratic=float(number)))


@given(st.integers(1, 30))
def test_elements_come_back_in_the_order_of_the_water(number: int) -> None:
    """Also when labels repeat, as two hoses of one kind do."""
    elements = [element(n) for n in range(number)]
    assert list(in_order(loop_graph(elements))) == elements


@given(st.integers(1, 30))
def test_a_series_loop_is_one_ring_through_the_tank(number: int) -> None:
    """As many nodes as edges, each with one edge in and one out."""
    graph = loop_graph([element(n) for n in range(number)])
    assert graph.number_of_nodes() == graph.number_of_edges() == number
    assert TANK in graph
    assert all(graph.in_degree(node) == graph.out_degree(node) == 1 for node in graph)
    assert nx.is_strongly_connected(graph)


def test_a_loop_of_nothing_is_refused() -> None:
    """There is no water path without a part."""
    with pytest.raises(ValueError, match="a loop needs at least one part"):
        loop_graph([])
