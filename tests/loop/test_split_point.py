"""Two branches by the scalar path: closed forms, and the network solver (itself checked against EPANET) on the same loop."""

import math
import random

import pytest
from network.branched import branched_graph
from network.solver import NetworkFlows, solve_network
from split_cases import KINEMATIC_M2S, WIDE, random_losses, random_split

from optimizer.loop.graph import TANK, Element, loop_graph
from optimizer.loop.operating import element_head_m, operating_point
from optimizer.loop.split_point import FREE, split_flows
from optimizer.loop.splits import Splits
from optimizer.model.losses import BranchLoss, Loss, Run, Split, TeeShape
from optimizer.model.parts import PumpCurve

CURVE = PumpCurve(flows_m3s=(0.0, 5e-4), heads_m=(2.5, 0.0), shape=2.0)
PUMP = Element(place="pump", label="pump", loss=Loss(), curve=CURVE)
HOSE = Element(place="hose", label="hose", loss=Loss(quadratic=5e6, run=Run(bore_m=0.016, length_m=1.0, roughness_m=1.5e-6)))


def branch(*losses: Loss, **flows: float) -> BranchLoss:
    """Losses in series."""
    return BranchLoss(losses=losses, **flows)


def split_element(name: str, split: Split) -> Element:
    """Branches as an element of a loop."""
    return Element(place=name, label=name, loss=Loss(), split=split)


@pytest.mark.parametrize("ratio", [1.0, 3.0, 50.0])
def test_two_quadratic_branches_add_their_conductances(ratio: float) -> None:
    """Parallel pipes in any hydraulics text (White, Fluid Mechanics, 6.10): Q = sqrt(h) (1/sqrt(k1) + 1/sqrt(k2))."""
    first, second, flow = 1e7, ratio * 1e7, 3e-4
    split = Split(branches=(branch(Loss(quadratic=first)), branch(Loss(quadratic=second))), parting=WIDE, meeting=WIDE)
    conductance = 1.0 / math.sqrt(first) + 1.0 / math.sqrt(second)
    flows, head, held = split_flows(split, flow, KINEMATIC_M2S)
    assert head == pytest.approx((flow / conductance) ** 2, rel=1e-8)
    assert flows[0] == pytest.approx(flow / math.sqrt(first) / conductance, rel=1e-8)
    assert held == FREE
    assert Splits.of([split], KINEMATIC_M2S).at(flow)[0] == pytest.approx(head, rel=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_equal_branches_halve_the_flow(seed: int) -> None:
    """By symmetry, whatever they are made of, where the tee loses nothing; the head is that of one at half the flow."""
    losses = random_losses(random.Random(seed))
    split = Split(branches=(branch(*losses), branch(*losses)), meeting=WIDE)
    flows, head, _ = split_flows(split, 4e-4, KINEMATIC_M2S)
    alone = split_flows(Split(branches=(branch(*losses),)), 2e-4, KINEMATIC_M2S)[1]
    assert flows == pytest.approx((2e-4, 2e-4), rel=1e-6)
    assert head == pytest.approx(alone, rel=1e-6)
    assert Splits.of([split], KINEMATIC_M2S).flows(4e-4)[0] == pytest.approx((2e-4, 2e-4), rel=1e-6)


def test_a_high_outlet_is_still_until_the_head_suffices() -> None:
    """k Q2 = lift where it starts: sqrt(0.2 / 1e7) = 1.414e-4 m3/s; above, k Q1^2 = 0.2 + k (Q - Q1)^2 by hand."""
    split = Split(branches=(branch(Loss(quadratic=1e7)), branch(Loss(lift_m=0.2, quadratic=1e7))), parting=WIDE)
    start = math.sqrt(0.2 / 1e7)
    assert split_flows(split, 0.999 * start, KINEMATIC_M2S)[0][1] == 0.0
    total = 2.0 * start
    first = (0.2 / 1e7 / total + total) / 2.0
    assert split_flows(split, total, KINEMATIC_M2S)[0] == pytest.approx((first, total - first), rel=1e-7)


def test_throttles_hold_what_is_too_much_and_leave_what_is_needed() -> None:
    """By hand: equal mouths of 1e7 s2/m5, 4e-4 m3/s in all, so 2e-4 each without a throttle."""
    loss, total = Loss(quadratic=1e7), 4e-4
    capped = branch(loss, flow_max_m3s=1.5e-4, throttles=True)
    flows, head, held = split_flows(Split(branches=(capped, branch(loss)), parting=WIDE), total, KINEMATIC_M2S)
    assert (flows, held) == (pytest.approx((1.5e-4, 2.5e-4)), 0)
    assert head == pytest.approx(1e7 * 2.5e-4**2, rel=1e-6)
    needy, shut = branch(loss, flow_min_m3s=3e-4), branch(loss, throttles=True)
    flows, head, held = split_flows(Split(branches=(needy, shut), parting=WIDE), total, KINEMATIC_M2S)
    assert (flows, held) == (pytest.approx((3e-4, 1e-4)), 1)
    assert head == pytest.approx(1e7 * 3e-4**2, rel=1e-6)
    flows, _, held = split_flows(Split(branches=(needy, shut), parting=WIDE), 2e-4, KINEMATIC_M2S)
    assert (flows, held) == (pytest.approx((2e-4, 0.0)), 1)


def loop(seed: int) -> list[Element]:
    """Two guards that meet, the pump, a hose, sometimes a bypass, and two outlets that part; some of them not branched."""
    chance = random.Random(seed)
    start = split_element("guards", random_split(chance, throttles=False, points="meeting"))
    middle = split_element("reactor", random_split(chance, throttles=False, points="both"))
    end = split_element("outlets", random_split(chance, throttles=False, points="parting"))
    made = [start] if chance.random() < 0.6 else []
    made += [PUMP, HOSE] if chance.random() < 0.7 else [PUMP]
    made += [middle] if chance.random() < 0.5 or not made[:-1] else []
    return [*made, end] if chance.random() < 0.7 else [*made, HOSE]


def branch_flows(found: NetworkFlows, graph: object, label: str) -> tuple[float, float]:
    """Flows of the two branches of an element in a solved network."""
    flows = {
        data["branch"]: found.flow_m3s[(u, v, key)]
        for u, v, key, data in graph.edges(keys=True, data=True)  # type: ignore[attr-defined]
        if "branch" in data and data["element"].label == label
    }
    return flows[0], flows[1]


@pytest.mark.parametrize("seed", range(40))
def test_a_loop_with_branches_flows_as_the_network_solver_says(seed: int) -> None:
    """`solve_network` knows no splits: edges, tees and one-way branches only."""
    elements = loop(seed)
    graph = branched_graph(elements)
    found = solve_network(graph, KINEMATIC_M2S)
    assert found.status == "flows"
    total = next(found.flow_m3s[(u, v, k)] for u, v, k, data in graph.edges(keys=True, data=True) if data["element"] == PUMP)
    assert operating_point(loop_graph(elements), KINEMATIC_M2S).flow_m3s == pytest.approx(total, rel=1e-6)
    for order, element in enumerate(elements):
        if element.split is None:
            continue
        start = f"parting {order}: {element.label}" if element.split.parting else TANK
        end = f"meeting {order}: {element.label}" if element.split.meeting else TANK
        network = branch_flows(found, graph, element.label)
        head = found.head_m[start] - found.head_m[end]
        many = Splits.of([element.split], KINEMATIC_M2S)
        for flows, lost in (
            split_flows(element.split, total, KINEMATIC_M2S)[:2],
            (many.flows(total)[0], many.at(total)[0]),
        ):
            assert flows == pytest.approx(network, abs=1e-6 * total)
            assert lost == pytest.approx(head, rel=1e-6, abs=1e-8)


def test_an_element_of_branches_loses_their_head() -> None:
    """And has no loss of its own."""
    split = random_split(random.Random(3), points="parting")
    assert element_head_m(split_element("out", split), 2e-4, KINEMATIC_M2S) == split_flows(split, 2e-4, KINEMATIC_M2S)[1]
    with pytest.raises(ValueError, match="no loss of their own"):
        Element(place="out", label="out", loss=Loss(quadratic=1.0), split=split)


def test_one_branch_is_a_series() -> None:
    """Alone it is the same as its losses one after another, also in the branched graph."""
    losses = random_losses(random.Random(5))
    alone = split_element("out", Split(branches=(branch(*losses),)))
    series = [Element(place="out", label="out", loss=loss) for loss in losses]
    point = operating_point(loop_graph([PUMP, HOSE, alone]), KINEMATIC_M2S)
    assert point.flow_m3s == pytest.approx(operating_point(loop_graph([PUMP, HOSE, *series]), KINEMATIC_M2S).flow_m3s, rel=1e-12)
    found = solve_network(branched_graph([PUMP, HOSE, alone]), KINEMATIC_M2S)
    assert max(found.flow_m3s.values()) == pytest.approx(point.flow_m3s, rel=1e-8)


def test_what_cannot_be_expanded_says_why() -> None:
    """Branches without a tee inside a loop, and an unexpanded element in a network."""
    guards = split_element("guards", random_split(random.Random(1), points="meeting"))
    outlets = split_element("outlets", random_split(random.Random(1), points="parting"))
    for elements in ([PUMP, guards], [outlets, PUMP]):
        with pytest.raises(ValueError, match="belong to open water"):
            branched_graph(elements)
    with pytest.raises(ValueError, match="at least one part"):
        branched_graph([])
    assert "branched_graph" in solve_network(loop_graph([guards, PUMP]), KINEMATIC_M2S).reason


def test_a_flow_below_nothing_is_refused() -> None:
    """Branches let no water back."""
    split = Split(branches=(branch(Loss(quadratic=1.0)),))
    for flow in (-1e-6, math.nan):
        with pytest.raises(ValueError, match="below nothing"):
            split_flows(split, flow, KINEMATIC_M2S)


def test_a_tee_that_is_none_is_refused() -> None:
    """Its branch cannot be wider than its run."""
    mouth = branch(Loss(quadratic=1e7))
    with pytest.raises(ValueError, match="none above that of its run"):
        split_flows(Split(branches=(mouth, mouth), meeting=TeeShape(run_bore_m=0.01, branch_bore_m=0.02)), 1e-4, KINEMATIC_M2S)
