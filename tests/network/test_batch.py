"""Many sets of one network at once: equal to the scalar solver set by set, with a status for each."""

import random
from dataclasses import replace

import networkx as nx
import numpy as np
import pytest
from network.batch import STATUS_WORDS, NetworkBatch, solve_networks
from network.sets import NetworkSets, network_sets
from network.solver import solve_network
from network.wiring import lets_none_back

from optimizer.loop.batch import BAD_INPUT, CONVERGED, NO_FLOW
from optimizer.loop.graph import TANK, Element
from optimizer.loop.operating import element_head_m
from optimizer.loop.tees import EdgeKey, Tee
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve

LITRE_PER_HOUR = 1e-3 / 3600.0
KINEMATIC_M2S = 0.9e-6
CURVES = (
    PumpCurve(flows_m3s=(0.0, 1500.0 * LITRE_PER_HOUR), heads_m=(2.5, 0.0), shape=2.0),
    PumpCurve(flows_m3s=(0.0, 2e-4, 3e-4, 4e-4), heads_m=(2.0, 1.6, 1.0, 0.0)),
    PumpCurve(flows_m3s=(0.0, 5e-4), heads_m=(1.4, 0.0), shape=1.3),
)
Graph = nx.MultiDiGraph


def shape(chance: random.Random, tees: bool) -> "Graph[str]":
    """A connected network of any shape, its edges without numbers but for whether they are one-way."""
    nodes = [TANK, *(f"n{number}" for number in range(chance.randint(1, 5)))]
    ends = [(node, chance.choice(nodes[:place])) for place, node in enumerate(nodes) if place]
    ends += [(chance.choice(nodes), chance.choice(nodes)) for _ in range(chance.randint(1, len(nodes)))]
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for number, pair in enumerate(ends):
        graph.add_edge(*chance.sample(pair, 2), key=number, one_way=chance.random() < 0.25, pump=chance.random() < 0.4)
    for node in list(graph):
        around = {*graph.in_edges(node, keys=True), *graph.out_edges(node, keys=True)}
        if tees and node != TANK and len(around) == graph.degree(node) == 3:
            legs: list[EdgeKey] = chance.sample(sorted(around, key=str), 3)
            bores = {"run_bore_m": 0.016, "branch_bore_m": chance.choice([0.010, 0.016])}
            graph.nodes[node]["tee"] = Tee(run_from=legs[0], run_to=legs[1], branch=legs[2], **bores)
    return graph


def filled(plain: "Graph[str]", chance: random.Random) -> "Graph[str]":
    """The shape with random numbers."""
    graph = nx.MultiDiGraph(plain)
    for u, v, key, data in plain.edges(keys=True, data=True):
        run = Run(bore_m=chance.uniform(0.008, 0.03), length_m=chance.uniform(0.1, 4.0), roughness_m=1.5e-6)
        loss = Loss(
            lift_m=chance.choice([0.0, 0.1, 0.8]) if data["one_way"] else 0.0,
            linear=chance.choice([20.0, 1e3]),
            quadratic=10.0 ** chance.uniform(4.0, 8.0),
            run=chance.choice([run, None, replace(run, coil_m=0.4, factor=2.0)]),
        )
        curve = chance.choice([*CURVES, None]) if data["pump"] else None
        element = Element(place="part", label="part", loss=loss, curve=curve, speed=chance.uniform(0.6, 1.2))
        graph.edges[u, v, key].update(element=element)
    return graph


def assert_row_is_scalar(batch: NetworkBatch, row: int, graph: "Graph[str]") -> None:
    """One set against the scalar solver: status, and flows to 1e-9 of the greatest."""
    alone = solve_network(graph, KINEMATIC_M2S)
    assert {"converged": "flows"}.get(STATUS_WORDS[int(batch.status[row])], STATUS_WORDS[int(batch.status[row])]) == alone.status
    if alone.flow_m3s:
        flows = np.array(list(alone.flow_m3s.values()))
        np.testing.assert_allclose(batch.flow_m3s[row], flows, rtol=1e-9, atol=1e-9 * float(np.abs(flows).max()))
        assert batch.imbalance[row] <= 1e-9
        assert batch.residual_m[row] <= 1e-9


@pytest.mark.parametrize("seed", range(30))
def test_every_set_of_a_network_of_any_shape_flows_as_alone(seed: int) -> None:
    """The scalar solver; networks with pumps, one-way edges, rings, dead ends."""
    chance = random.Random(seed)
    plain = shape(chance, tees=False)
    graphs = [filled(plain, chance) for _ in range(8)]
    batch = solve_networks(network_sets(graphs, KINEMATIC_M2S))
    for row, graph in enumerate(graphs):
        assert_row_is_scalar(batch, row, graph)


@pytest.mark.parametrize("seed", range(100, 120))
def test_every_set_of_a_network_with_tees_flows_as_alone(seed: int) -> None:
    """The scalar solver; K depends on the flows."""
    chance = random.Random(seed)
    plain = shape(chance, tees=True)
    graphs = [filled(plain, chance) for _ in range(6)]
    batch = solve_networks(network_sets(graphs, KINEMATIC_M2S))
    for row, graph in enumerate(graphs):
        assert_row_is_scalar(batch, row, graph)


def ring(quadratic: float = 4e6, lift_m: float = 0.0, curve: PumpCurve = CURVES[0]) -> "Graph[str]":
    """A pump with two returns, the second one-way."""
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    parts = [
        (TANK, "a", Element(place="pump", label="pump", loss=Loss(linear=10.0), curve=curve)),
        ("a", TANK, Element(place="first", label="first", loss=Loss(quadratic=quadratic))),
        ("a", TANK, Element(place="second", label="second", loss=Loss(lift_m=lift_m, quadratic=6e6))),
    ]
    for number, (start, end, element) in enumerate(parts):
        graph.add_edge(start, end, key=number, element=element, one_way=number == 2)
    return graph


def test_each_set_has_its_own_status() -> None:
    """Flow, an outlet that runs dry, and numbers that are none or of the wrong sign, all in one batch."""
    graphs = [ring(lift_m=lift) for lift in (0.0, 2.4, 0.0, 0.0, 0.0, 0.0)]
    sets = network_sets(graphs, KINEMATIC_M2S)
    sets.quadratic[2, 0] = np.nan
    sets.linear[3, 1] = -1.0
    sets.speed[4, 0] = 0.0
    sets.kinematic_m2s[5] = 0.0
    batch = solve_networks(sets)
    assert batch.status.tolist() == [CONVERGED, CONVERGED] + [BAD_INPUT] * 4
    assert batch.flow_m3s[1, 2] == 0.0
    assert batch.flow_m3s[0, 2] > 0.0
    assert np.isnan(batch.flow_m3s[2:]).all()


def test_sets_that_cannot_lift_the_water_have_no_flow() -> None:
    """Both returns in the air, above the pump's greatest head of 2.5 m in the second set."""
    sets = network_sets([ring(), ring()], KINEMATIC_M2S)
    lift = np.array([[0.0, 0.3, 0.2], [0.0, 2.6, 2.6]])
    one_way = replace(sets.shape, one_way=np.array([False, True, True]))
    batch = solve_networks(replace(sets, shape=one_way, lift_m=lift))
    assert batch.status.tolist() == [CONVERGED, NO_FLOW]
    assert batch.flow_m3s[1].tolist() == [0.0, 0.0, 0.0]


def test_a_ring_without_loss_is_bad_input_only_for_the_set_that_has_it() -> None:
    """What flows round it is not determined."""
    sets = network_sets([ring(), ring()], KINEMATIC_M2S)
    quadratic = sets.quadratic.copy()
    quadratic[1, 1:] = 0.0
    batch = solve_networks(replace(sets, quadratic=quadratic))
    assert batch.status.tolist() == [CONVERGED, BAD_INPUT]


def test_a_demand_that_one_way_edges_cannot_meet_is_bad_input() -> None:
    """In the first set water is fed in and leaves; in the second it would have to come against the check."""
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    graph.add_edge("a", TANK, key=0, element=Element(place="x", label="x", loss=Loss(quadratic=1e6)), one_way=True)
    sets = network_sets([graph, graph], KINEMATIC_M2S)
    demand = np.array([[-1e-4, 0.0], [1e-4, 0.0]])
    batch = solve_networks(replace(sets, demand_m3s=demand))
    assert batch.status.tolist() == [CONVERGED, BAD_INPUT]
    assert batch.flow_m3s[0, 0] == pytest.approx(1e-4, rel=1e-12)


def test_a_set_does_not_depend_on_its_company() -> None:
    """Alone, turned round, or among others: the same digits but for rounding in sums."""
    chance = random.Random(5)
    graphs = [ring(10.0 ** chance.uniform(4.0, 9.0), chance.uniform(0.0, 2.0), chance.choice(CURVES)) for _ in range(40)]
    together = solve_networks(network_sets(graphs, KINEMATIC_M2S)).flow_m3s
    turned = solve_networks(network_sets(graphs[::-1], KINEMATIC_M2S)).flow_m3s[::-1]
    alone = np.concatenate([solve_networks(network_sets([graph], KINEMATIC_M2S)).flow_m3s for graph in graphs])
    np.testing.assert_allclose(turned, together, rtol=1e-12, atol=1e-18)
    np.testing.assert_allclose(alone, together, rtol=1e-12, atol=1e-18)


def test_the_input_is_not_written_to() -> None:
    """A solve leaves its sets as they were."""
    sets = network_sets([ring(), ring(lift_m=2.0)], KINEMATIC_M2S)
    before = {name: getattr(sets, name).copy() for name in ("head_m", "lift_m", "quadratic", "demand_m3s")}
    solve_networks(sets)
    for name, values in before.items():
        np.testing.assert_array_equal(getattr(sets, name), values)


def _with_law() -> "list[Graph[str]]":
    graph = ring()
    graph.add_edge("a", TANK, key=3, law=object())
    return [graph]


def _in_two_parts() -> "list[Graph[str]]":
    graph = ring()
    graph.add_edge("x", "y", key=9, element=graph.edges["a", TANK, 1]["element"])
    return [graph]


def _different() -> "list[Graph[str]]":
    other = ring()
    other.edges["a", TANK, 1]["one_way"] = True
    return [ring(), other]


@pytest.mark.parametrize(
    ("graphs", "reason"),
    [
        ([], "no networks were given"),
        (_with_law(), "only solve_network takes laws"),
        (_in_two_parts(), "no open water reaches x, y"),
        (_different(), "the networks differ in shape"),
    ],
)
def test_sets_that_are_none_are_refused(graphs: "list[Graph[str]]", reason: str) -> None:
    """Before anything is solved."""
    with pytest.raises(ValueError, match=reason):
        network_sets(graphs, KINEMATIC_M2S)


def test_sets_keep_what_the_graphs_say() -> None:
    """Numbers of hose, pump and lift arrive in their columns."""
    chance = random.Random(1)
    plain = shape(chance, tees=False)
    graph = filled(plain, chance)
    sets: NetworkSets = network_sets([graph], KINEMATIC_M2S)
    flow = np.array([[chance.uniform(-3e-4, 3e-4) for _ in sets.shape.edges]])
    from_arrays = sets.losses_m(flow)[0]
    for column, (_, _, data) in enumerate(graph.edges(data=True)):
        assert from_arrays[column] == pytest.approx(
            element_head_m(data["element"], float(flow[0, column]), KINEMATIC_M2S), rel=1e-12
        )
        assert sets.shape.one_way[column] == lets_none_back(data)
