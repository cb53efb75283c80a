"""Branched networks by their laws: balances, symmetry, one-way outlets, dead ends, tees, and what cannot be solved.

Published networks and the live comparison with an established solver are in test_network_epanet.py.
"""

import itertools
import math
import random
from collections.abc import Sequence
from dataclasses import replace

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from network.solver import NetworkFlows, solve_network
from network.wiring import lets_none_back

from optimizer.loop.graph import TANK, Element, loop_graph
from optimizer.loop.operating import element_head_m, operating_point
from optimizer.loop.tees import EdgeKey, Tee, leg_heads
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve

LITRE_PER_HOUR = 1e-3 / 3600.0
KINEMATIC_M2S = 0.9e-6
CURVE = PumpCurve(flows_m3s=(0.0, 1500.0 * LITRE_PER_HOUR), heads_m=(2.5, 0.0), shape=2.0)
POINTS = PumpCurve(flows_m3s=(0.0, 2e-4, 3e-4, 4e-4), heads_m=(2.0, 1.6, 1.0, 0.0))
PUMP = Element(place="pump", label="pump", loss=Loss(), curve=CURVE)
HOSE = Run(bore_m=0.016, length_m=1.5, roughness_m=1.5e-6)


def part(quadratic: float = 0.0, lift_m: float = 0.0, linear: float = 0.0, run: Run | None = None) -> Element:
    """A part by its loss."""
    return Element(place="part", label="part", loss=Loss(lift_m=lift_m, linear=linear, quadratic=quadratic, run=run))


SUCTION, RETURN = part(4e6, run=HOSE), part(6e6, run=replace(HOSE, bore_m=0.0125))

Edge = tuple[str, str, Element]


def network(*edges: Edge) -> "nx.MultiDiGraph[str]":
    """A network of edges, numbered in their order."""
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for number, (start, end, element) in enumerate(edges):
        graph.add_edge(start, end, key=number, element=element)
    return graph


def flows(found: NetworkFlows) -> list[float]:
    """Flows by the numbers of the edges."""
    return [flow for _, flow in sorted((int(str(key)), flow) for (_, _, key), flow in found.flow_m3s.items())]


def solved(*edges: Edge) -> list[float]:
    """Flows of a network that must flow."""
    found = solve_network(network(*edges), KINEMATIC_M2S)
    assert found.status == "flows", found.reason
    return flows(found)


def assert_holds(graph: "nx.MultiDiGraph[str]", found: NetworkFlows) -> None:
    """Certificate, apart from the solver: balances, heads of edges with flow, one-way edges, all from the answer's own
    numbers."""
    largest = max(map(abs, found.flow_m3s.values()))
    for node, data in graph.nodes(data=True):
        if node == TANK or "head_m" in data:
            continue
        out = sum(found.flow_m3s[edge] for edge in graph.out_edges(node, keys=True))
        into = sum(found.flow_m3s[edge] for edge in graph.in_edges(node, keys=True))
        assert into - out - data.get("demand_m3s", 0.0) == pytest.approx(0.0, abs=1e-9 * max(largest, 1e-6))
    tees = tee_heads(graph, found)
    for u, v, key, data in graph.edges(keys=True, data=True):
        flow = found.flow_m3s[u, v, key]
        left = element_head_m(data["element"], flow, KINEMATIC_M2S) + tees.get((u, v, key), 0.0)
        left -= found.head_m[u] - found.head_m[v]
        if lets_none_back(data):
            assert flow >= 0.0
            assert left >= -2e-9
        if flow > 0.0 or not lets_none_back(data):
            assert left == pytest.approx(0.0, abs=2e-9)


def tee_heads(graph: "nx.MultiDiGraph[str]", found: NetworkFlows) -> dict[EdgeKey, float]:
    """Head that tees add to what their edges lose."""
    added: dict[EdgeKey, float] = {}
    for node, data in graph.nodes(data=True):
        if "tee" in data:
            legs = (data["tee"].run_from, data["tee"].branch)
            signs = [1.0 if edge[1] == node else -1.0 for edge in legs]
            heads = leg_heads(data["tee"], *(sign * found.flow_m3s[edge] for sign, edge in zip(signs, legs, strict=True)))
            for edge, sign, head in zip(legs, signs, heads, strict=True):
                added[edge] = added.get(edge, 0.0) + sign * float(head)
    return added


LOSSES = st.builds(
    Loss,
    lift_m=st.sampled_from([0.0, 0.0, 0.4]),
    linear=st.floats(1.0, 2e3),
    quadratic=st.floats(1e4, 1e9),
    run=st.none() | st.builds(Run, bore_m=st.floats(0.008, 0.03), length_m=st.floats(0.1, 5.0), roughness_m=st.floats(0.0, 1e-4)),
)


@given(st.lists(LOSSES, min_size=1, max_size=4), st.sampled_from([CURVE, POINTS]), st.floats(0.5, 1.2))
def test_a_series_loop_flows_as_by_bracketing(losses: list[Loss], curve: PumpCurve, speed: float) -> None:
    """The scalar bracketing solver shares no method with this one."""
    ring = [replace(PUMP, curve=curve, speed=speed), *(Element(place="part", label="part", loss=loss) for loss in losses)]
    graph = loop_graph(ring)
    found, point = solve_network(graph, KINEMATIC_M2S), operating_point(graph, KINEMATIC_M2S)
    assert found.status == point.status
    assert list(found.flow_m3s.values()) == pytest.approx([point.flow_m3s] * len(ring), rel=1e-9)


def test_two_identical_returns_carry_equal_flow() -> None:
    """Symmetry."""
    found = solved((TANK, "a", SUCTION), ("a", "b", PUMP), ("b", TANK, RETURN), ("b", TANK, RETURN))
    assert found[2] == pytest.approx(found[3], rel=1e-12)
    assert found[2] + found[3] == pytest.approx(found[0], rel=1e-12)


def test_two_identical_returns_are_one_return_of_a_quarter_of_the_loss() -> None:
    """Half the flow each, b (Q/2)2 = (b/4) Q2."""
    beside = solved((TANK, "a", PUMP), ("a", TANK, part(8e6)), ("a", TANK, part(8e6)))
    assert beside[0] == pytest.approx(solved((TANK, "a", PUMP), ("a", TANK, part(2e6)))[0], rel=1e-12)


def test_the_order_of_parts_in_series_does_not_matter() -> None:
    """Heads add up whatever their order, in a branch as in a loop."""
    trio = [part(5e6), part(linear=300.0), RETURN]
    found = []
    for first, second, third in itertools.permutations(trio):
        found.append(solved((TANK, "a", PUMP), ("a", "b", first), ("b", "c", second), ("c", TANK, third), ("a", TANK, RETURN))[1])
    assert found == pytest.approx([found[0]] * 6, rel=1e-11)


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=40)
def test_turning_the_definition_of_an_edge_round_flips_only_its_sign(seed: int) -> None:
    """Which end is called first is a convention."""
    graph = random_network(random.Random(seed))
    # pumps, lifts and one-way edges have a direction of their own
    plain = [edge for edge in graph.edges(keys=True) if graph.edges[edge]["element"].curve is None]
    plain = [edge for edge in plain if not (lets_none_back(graph.edges[edge]) or graph.edges[edge]["element"].loss.lift_m)]
    if not plain:
        return
    u, v, key = plain[0]
    turned = nx.MultiDiGraph(graph)
    turned.remove_edge(u, v, key)
    turned.add_edge(v, u, key=key, **graph.edges[u, v, key])
    before, after = solve_network(graph, KINEMATIC_M2S), solve_network(turned, KINEMATIC_M2S)
    expected = [-flow if number == key else flow for number, flow in enumerate(flows(before))]
    assert after.status == before.status
    assert flows(after) == pytest.approx(expected, rel=1e-8, abs=1e-9 * max(map(abs, expected), default=0.0))


@given(st.floats(1e5, 1e9), st.floats(1.0, 100.0))
def test_more_loss_in_a_branch_lowers_its_share(quadratic: float, times: float) -> None:
    """And raises the flow of the other branch, but lowers the sum."""
    shares = []
    for size in (quadratic, quadratic * (1.0 + times)):
        shares.append(solved((TANK, "a", SUCTION), ("a", "b", PUMP), ("b", TANK, part(size)), ("b", TANK, RETURN)))
    assert shares[1][2] < shares[0][2]
    assert shares[1][3] > shares[0][3]
    assert shares[1][0] < shares[0][0]


def test_an_outlet_above_the_reach_of_the_water_runs_dry_and_the_other_takes_all() -> None:
    """A return that would lift 2 m where a wide open one keeps the head below: no flow, and none back."""
    common = [(TANK, "a", SUCTION), ("a", "b", PUMP), ("b", TANK, part(1e5))]
    alone = solved(*common)
    found = solved(*common, ("b", TANK, part(1e5, lift_m=2.0)))
    assert found[3] == 0.0
    assert found[:3] == pytest.approx(alone, rel=1e-12)


def test_an_outlet_in_the_air_draws_no_water_in_but_one_under_water_does() -> None:
    """The same branch on the suction side, once one-way because of its lift, once not."""
    common = [(TANK, "a", part(1e8)), ("a", "b", PUMP), ("b", TANK, RETURN)]
    dry = solved(*common, ("a", TANK, part(1e6, lift_m=0.01)))
    wet = solved(*common, ("a", TANK, part(1e6)))
    assert dry[3] == 0.0
    assert dry[0] == pytest.approx(dry[1], rel=1e-12)
    assert wet[3] < 0.0
    assert wet[1] > dry[1]


def test_two_outlets_above_the_water_share_by_their_lift() -> None:
    """By hand: b Q1 + lift1 = b Q2 + lift2 for linear losses, and H0 (1 - Q/Qmax) = lift1 + b Q1 for a straight pump
    curve."""
    straight = replace(PUMP, curve=PumpCurve(flows_m3s=(0.0, 1e-3), heads_m=(2.0, 0.0), shape=1.0))
    found = solved(
        (TANK, "a", straight), ("a", TANK, part(lift_m=0.2, linear=4000.0)), ("a", TANK, part(lift_m=0.4, linear=4000.0))
    )
    # q1 - q2 = 0.2/4000 = 5e-5; 2 - 2000 (q1 + q2) = 0.2 + 4000 q1 gives 8000 q1 = 1.8 + 0.1
    assert found == pytest.approx([4.25e-4, 2.375e-4, 1.875e-4], rel=1e-9)


def test_a_pump_that_lifts_to_no_outlet_gives_no_flow() -> None:
    """Its greatest head is 2.5 m."""
    found = solve_network(network((TANK, "a", PUMP), ("a", TANK, part(1e6, 2.5)), ("a", TANK, part(0.0, 3.0))), KINEMATIC_M2S)
    assert found.status == "no flow"
    assert set(found.flow_m3s.values()) == {0.0}


def test_still_water_is_no_flow() -> None:
    """Nothing drives it."""
    found = solve_network(network((TANK, "a", SUCTION), ("a", TANK, RETURN)), KINEMATIC_M2S)
    assert found.status == "no flow"


def test_a_dead_end_has_no_flow_and_the_head_of_its_root() -> None:
    """Static water."""
    graph = network((TANK, "a", SUCTION), ("a", "b", PUMP), ("b", TANK, RETURN), ("b", "end", part(1e6)), ("end", "tip", RETURN))
    found = solve_network(graph, KINEMATIC_M2S)
    assert flows(found)[3:] == [0.0, 0.0]
    assert found.head_m["tip"] == pytest.approx(found.head_m["b"], abs=1e-9)


def test_water_runs_back_through_a_weak_pump_beside_a_strong_one_unless_it_is_one_way() -> None:
    """A centrifugal pump is no check valve: pushed with more than its head at no flow, it lets water back."""
    weak = replace(PUMP, speed=0.3)
    graph = network((TANK, "a", PUMP), (TANK, "a", weak), ("a", TANK, part(6e7)))
    found = solve_network(graph, KINEMATIC_M2S)
    assert flows(found)[1] < 0.0
    assert_holds(graph, found)
    graph.edges[TANK, "a", 1]["one_way"] = True
    checked = solve_network(graph, KINEMATIC_M2S)
    assert flows(checked)[1] == 0.0
    assert flows(checked)[2] > flows(found)[2]
    assert_holds(graph, checked)


def test_water_falls_from_a_higher_tank_by_torricelli() -> None:
    """Two open waters 0.5 m apart and no pump: b Q2 = 0.5 m."""
    graph = network(("sump", TANK, part(2e7)))
    graph.nodes["sump"]["head_m"] = 0.5
    assert flows(solve_network(graph, KINEMATIC_M2S)) == pytest.approx([math.sqrt(0.5 / 2e7)], rel=1e-9)


def test_a_bridge_without_flow_is_still_and_the_rest_balances() -> None:
    """Wheatstone's bridge in balance: equal halves, so nothing crosses; purely quadratic losses have no slope at rest."""
    graph = network(
        (TANK, "top", PUMP),
        ("top", "l", part(1e7)),
        ("top", "r", part(1e7)),
        ("l", "r", part(1e6)),
        ("l", TANK, part(3e7)),
        ("r", TANK, part(3e7)),
    )
    found = solve_network(graph, KINEMATIC_M2S)
    assert found.status == "flows"
    assert abs(flows(found)[3]) < 1e-7 * flows(found)[0]
    assert_holds(graph, found)


@pytest.mark.parametrize(
    ("graph", "reason"),
    [
        (network((TANK, "a", PUMP), ("a", TANK, RETURN), ("x", "y", PUMP), ("y", "x", RETURN)), "no open water reaches x, y"),
        (nx.MultiDiGraph(), "a network needs at least one edge"),
        (network((TANK, "a", PUMP), ("a", TANK, part()), ("a", TANK, part())), "closes a ring without any loss"),
        (network((TANK, TANK, part())), "closes a ring without any loss"),
        (network((TANK, "a", replace(PUMP, speed=0.0)), ("a", TANK, RETURN)), "a pump cannot run at 0 times its speed"),
        (network((TANK, TANK, part(run=replace(HOSE, bore_m=0.0)))), "a hose needs a bore"),
        (network((TANK, TANK, part(run=replace(HOSE, length_m=math.nan)))), "cannot be below nothing"),
    ],
)
def test_what_cannot_be_solved_is_said(graph: "nx.MultiDiGraph[str]", reason: str) -> None:
    """A status with a reason, no exception."""
    found = solve_network(graph, KINEMATIC_M2S)
    assert found.status == "bad input"
    assert reason in found.reason
    assert not found.flow_m3s


def test_all_problems_are_said_at_once() -> None:
    """Nodes and edges."""
    graph = network((TANK, "a", PUMP), ("a", TANK, RETURN))
    graph.nodes["a"]["head_m"] = math.inf
    graph.nodes[TANK]["demand_m3s"] = 1e-4
    graph.add_edge("a", TANK, key=2)
    found = solve_network(graph, math.nan)
    for reason in ("head_m is no number", "open water has no demand", "either an element or a law", "viscosity must be above"):
        assert reason in found.reason


def test_a_demand_behind_a_one_way_edge_the_wrong_way_cannot_be_met() -> None:
    """The other way round it can."""
    graph = network(("a", TANK, RETURN), ("a", TANK, part(1e6)))
    graph.nodes["a"]["demand_m3s"] = 1e-4
    for edge in list(graph.edges(keys=True)):
        graph.edges[edge]["one_way"] = True
    assert "one-way edges keep the water" in solve_network(graph, KINEMATIC_M2S).reason
    graph.nodes["a"]["demand_m3s"] = -1e-4
    found = solve_network(graph, KINEMATIC_M2S)
    assert sum(flows(found)) == pytest.approx(1e-4, rel=1e-12)
    assert_holds(graph, found)


def test_a_water_source_behind_a_shut_outlet_opens_it() -> None:
    """Water fed in above a one-way edge with lift must leave through it, though at rest the edge is shut."""
    graph = network((TANK, "a", PUMP), ("b", "a", part(lift_m=0.5)), ("a", "b", part(1e6, lift_m=0.1)))
    graph.nodes["b"]["demand_m3s"] = -2e-5
    found = solve_network(graph, KINEMATIC_M2S)
    assert found.status == "flows"
    assert_holds(graph, found)


def random_network(chance: random.Random) -> "nx.MultiDiGraph[str]":
    """A connected network of any shape: parallel edges, rings, dead ends, pumps, one-way edges, open waters, demands."""
    nodes = [TANK, *(f"n{number}" for number in range(chance.randint(1, 6)))]
    ends = [(node, chance.choice(nodes[:place])) for place, node in enumerate(nodes) if place]
    ends += [(chance.choice(nodes), chance.choice(nodes)) for _ in range(chance.randint(1, len(nodes)))]
    edges = [(*chance.sample(pair, 2), _random_element(chance)) for pair in ends]
    graph = network(*edges)
    for edge in list(graph.edges(keys=True)):
        if chance.random() < 0.15:
            graph.edges[edge]["one_way"] = chance.random() < 0.5
    if chance.random() < 0.3:
        graph.nodes[nodes[-1]]["demand_m3s"] = chance.uniform(-1e-4, 2e-4)
    elif chance.random() < 0.3:
        graph.nodes[nodes[-1]]["head_m"] = chance.uniform(-0.5, 0.5)
    return graph


def _random_element(chance: random.Random) -> Element:
    run = Run(bore_m=chance.uniform(0.008, 0.03), length_m=chance.uniform(0.1, 4.0), roughness_m=1.5e-6)
    loss = Loss(
        lift_m=chance.choice([0.0, 0.0, 0.0, 0.1, 0.8]),
        linear=chance.choice([20.0, 1e3]),
        quadratic=10.0 ** chance.uniform(4.0, 8.0),
        run=chance.choice([run, None, replace(run, coil_m=0.4)]),
    )
    curve = chance.choice([CURVE, POINTS, replace(CURVE, shape=1.3)]) if chance.random() < 0.4 else None
    return Element(place="part", label="part", loss=loss, curve=curve, speed=chance.uniform(0.6, 1.2))


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=150)
def test_networks_of_any_shape_are_solved_and_hold(seed: int) -> None:
    """Certificate: balances and heads recomputed from the answer."""
    graph = random_network(random.Random(seed))
    found = solve_network(graph, KINEMATIC_M2S)
    assert found.status in ("flows", "no flow") or "one-way edges keep" in found.reason, found.reason
    if found.flow_m3s:
        assert found.imbalance <= 1e-9
        assert found.residual_m <= 1e-9
        assert_holds(graph, found)


def with_tees(graph: "nx.MultiDiGraph[str]", chance: random.Random) -> "nx.MultiDiGraph[str]":
    """The same with a tee wherever three edges meet."""
    for node in graph:
        around = {*graph.in_edges(node, keys=True), *graph.out_edges(node, keys=True)}
        if node != TANK and "head_m" not in graph.nodes[node] and len(around) == graph.degree(node) == 3:
            legs: Sequence[EdgeKey] = chance.sample(sorted(around, key=str), 3)
            bores = {"run_bore_m": 0.016, "branch_bore_m": chance.choice([0.010, 0.016])}
            tee = Tee(run_from=legs[0], run_to=legs[1], branch=legs[2], angle_deg=chance.choice([45.0, 90.0]), **bores)
            graph.nodes[node]["tee"] = tee
    return graph


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=100)
def test_networks_with_tees_are_solved_and_hold(seed: int) -> None:
    """Certificate with the tees' own heads; negative K included."""
    chance = random.Random(seed)
    graph = with_tees(random_network(chance), chance)
    found = solve_network(graph, KINEMATIC_M2S)
    assert found.status in ("flows", "no flow") or "one-way edges keep" in found.reason, found.reason
    if found.flow_m3s:
        assert_holds(graph, found)


def two_guards(first: Element, second: Element, angle_deg: float = 90.0) -> "nx.MultiDiGraph[str]":
    """Two guards whose hoses join in a tee before the pump; the second comes in through the branch."""
    graph = network(
        (TANK, "tee", first), (TANK, "tee", second), ("tee", "pump", SUCTION), ("pump", "out", PUMP), ("out", TANK, RETURN)
    )
    legs = {"run_from": (TANK, "tee", 0), "branch": (TANK, "tee", 1), "run_to": ("tee", "pump", 2)}
    graph.nodes["tee"]["tee"] = Tee(**legs, run_bore_m=0.016, branch_bore_m=0.016, angle_deg=angle_deg)
    return graph


def test_two_guards_into_one_tee_do_not_share_evenly() -> None:
    """Alike but for the leg they come in by. At equal shares Crane's K is 0.4125 for the branch, 0.525 for the run, so
    the branch gets more."""
    graph = two_guards(part(4e6), part(4e6))
    found = solve_network(graph, KINEMATIC_M2S)
    assert_holds(graph, found)
    run, branch, whole, *_ = flows(found)
    assert run + branch == pytest.approx(whole, rel=1e-12)
    assert 0.5 < branch / whole < 0.52


def test_a_guard_dragged_along_by_the_main_stream_flows_more_than_without_the_tee() -> None:
    """Crane's K of a branch with a small share is negative: the main stream pulls."""
    graph = two_guards(part(1e5), part(1e9))
    bare = nx.MultiDiGraph(graph)
    del bare.nodes["tee"]["tee"]
    with_tee, without = solve_network(graph, KINEMATIC_M2S), solve_network(bare, KINEMATIC_M2S)
    assert_holds(graph, with_tee)
    assert flows(with_tee)[1] > flows(without)[1]
    assert with_tee.head_m["tee"] > with_tee.head_m["pump"]


def test_a_tee_that_does_not_name_its_edges_is_refused() -> None:
    """Three edges meet there, and it must name just these."""
    graph = two_guards(part(1e5), part(1e9))
    graph.add_edge("tee", TANK, key=5, element=part(1e6))
    assert "a tee must have the three edges it names" in solve_network(graph, KINEMATIC_M2S).reason
    graph.nodes["pump"]["tee"] = "tee"
    assert "its tee is no Tee" in solve_network(graph, KINEMATIC_M2S).reason


def test_a_law_whose_numbers_break_down_is_not_converged() -> None:
    """Bounded steps and a status, no exception."""

    class Broken:
        def head_m(self, flow_m3s: float) -> float:
            return math.nan if flow_m3s > 1e-4 else 1e3 * flow_m3s

        def slope(self, _: float) -> float:
            return 1e3

    graph = network((TANK, "a", PUMP))
    graph.add_edge("a", TANK, key=1, law=Broken())
    found = solve_network(graph, KINEMATIC_M2S)
    assert found.status == "not converged"
    assert "heads are" in found.reason
