"""Branched networks against published examples and, live, against the EPANET 2.2 engine (run by wntr).

EPANET's friction is put into the solver: laminar 64/Re below Re 2000, Swamee and Jain (1976) above 4000, Dunlop's cubic
(1991) between; its gravity is 32.2 ft/s2 (EPANET 2.2 user manual, chapter 12).
"""

import math
import random
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from network.solver import NetworkFlows, solve_network

from optimizer.loop.graph import TANK, Element
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve
from optimizer.physics.arrays import Floats

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import wntr

FOOT_M = 0.3048
INCH_M = 0.0254
CUBIC_FOOT_M3 = FOOT_M**3
GPM_M3S = 6.30901964e-5
LITRE_PER_HOUR = 1e-3 / 3600.0
EPANET_GRAVITY_MS2 = 32.2 * FOOT_M
EPANET_KINEMATIC_M2S = 1.1e-5 * FOOT_M**2


def epanet_friction(reynolds: Floats, relative_roughness: Floats) -> Floats:
    """Darcy friction factor as in EPANET 2.2 (user manual, chapter 12, table 12.1)."""
    rough = np.asarray(relative_roughness) / 3.7
    swamee_jain = 0.25 / np.log10(rough + 5.74 / np.maximum(reynolds, 4000.0) ** 0.9) ** 2
    y2 = rough + 5.74 / 4000.0**0.9
    y3 = -0.86859 * np.log(y2)
    fa = y3**-2.0
    fb = fa * (2.0 - 0.00514215 / (y2 * y3))
    r = np.asarray(reynolds) / 2000.0
    x4 = 0.032 - 3.0 * fa + 0.5 * fb
    x3 = -0.128 + 13.0 * fa - 2.0 * fb
    x2 = 0.128 - 17.0 * fa + 2.5 * fb
    dunlop = (7.0 * fa - fb) + r * (x2 + r * (x3 + r * x4))
    turbulent = np.where(np.asarray(reynolds) >= 4000.0, swamee_jain, dunlop)
    factor: Floats = np.where(np.asarray(reynolds) <= 2000.0, 64.0 / np.asarray(reynolds), turbulent)
    return factor


def epanet_like(graph: "nx.MultiDiGraph[str]", kinematic_m2s: float = EPANET_KINEMATIC_M2S) -> NetworkFlows:
    """The network as this project solves it, with EPANET's friction and gravity."""
    return solve_network(graph, kinematic_m2s, epanet_friction, EPANET_GRAVITY_MS2)


def pipe(name: str, bore_m: float, length_m: float, roughness_m: float, k: float = 0.0) -> Element:
    """A pipe with fittings as a sum of K on its bore, in EPANET's gravity."""
    quadratic = k / (2.0 * EPANET_GRAVITY_MS2 * (math.pi * bore_m**2 / 4.0) ** 2)
    run = Run(bore_m=bore_m, length_m=length_m, roughness_m=roughness_m)
    return Element(place=name, label=name, loss=Loss(quadratic=quadratic, run=run))


@dataclass(frozen=True, slots=True)
class HazenWilliams:
    """Head of a pipe by Hazen and Williams as in EPANET 2.2: 4.727 L Q^1.852 / (C^1.852 D^4.871) in ft and ft3/s."""

    roughness_c: float
    bore_ft: float
    length_ft: float

    def head_m(self, flow_m3s: float) -> float:
        flow = flow_m3s / CUBIC_FOOT_M3
        per_flow = 4.727 * self.length_ft / (self.roughness_c**1.852 * self.bore_ft**4.871)
        return FOOT_M * per_flow * flow * abs(flow) ** 0.852

    def slope(self, flow_m3s: float) -> float:
        return 1.852 * self.head_m(flow_m3s) / flow_m3s if flow_m3s else 0.0


JEPPSON_7 = {  # pipe: from, to, inside in, length ft, reference flow ft3/s, reference head ft, flow of EPANET 2.2 via wntr 1.5.0
    1: ("A", "B", 12, 3000, 1.7474, 4.8817, 1.7476),
    2: ("B", "C", 14, 2000, 3.4873, 5.6573, 3.4878),
    3: ("D", "C", 10, 3000, 0.9226, 3.6113, 0.9224),
    4: ("A", "D", 10, 2000, 1.5926, 6.9278, 1.5924),
    5: ("E", "B", 14, 3000, 1.7399, 2.2054, 1.7401),
    6: ("E", "F", 10, 2000, 1.6001, 6.9913, 1.5999),
    7: ("F", "C", 12, 3000, 0.7101, 0.8715, 0.7099),
}


def test_two_loops_of_jeppson_with_darcy_and_weisbach() -> None:
    """Jeppson, Analysis of Flow in Pipe Networks (1976), chapter 7 (figures of its Fortran output), and EPANET 2.2 via
    wntr."""
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for number, (start, end, bore_in, length_ft, *_) in JEPPSON_7.items():
        element = pipe(str(number), bore_in * INCH_M, length_ft * FOOT_M, 0.012 * INCH_M)
        graph.add_edge(start, end, key=number, element=element)
    for node, demand in {"A": -3.34, "E": -3.34, "D": 0.67, "F": 0.89}.items():
        graph.nodes[node]["demand_m3s"] = demand * CUBIC_FOOT_M3
    graph.nodes["C"]["head_m"] = 0.0
    found = epanet_like(graph, 1.217e-5 * FOOT_M**2)
    assert found.status == "flows"
    for number, (start, end, _, _, flow, head, epanet) in JEPPSON_7.items():
        assert found.flow_m3s[start, end, number] / CUBIC_FOOT_M3 == pytest.approx(flow, rel=1e-3)
        assert found.flow_m3s[start, end, number] / CUBIC_FOOT_M3 == pytest.approx(epanet, abs=1e-4)
        assert (found.head_m[start] - found.head_m[end]) / FOOT_M == pytest.approx(head, rel=1e-2)


JEPPSON_6 = {  # pipe: from, to, inside in, length ft
    1: ("A", "B", 12, 2000),
    2: ("B", "C", 10, 1500),
    3: ("D", "C", 6, 2000),
    4: ("A", "D", 8, 1500),
    5: ("B", "E", 8, 2000),
    6: ("E", "F", 6, 1000),
    7: ("C", "F", 10, 2000),
    8: ("A", "C", 10, 3000),
}
JEPPSON_6_FLOWS = {  # number of pipes: reference flows, and EPANET 2.2 via wntr 1.5.0, ft3/s
    7: (
        (6.8661, 3.8331, 0.63389, 3.1339, 3.0330, 0.53302, 4.4670),
        (6.8662, 3.8332, 0.6338, 3.1338, 3.0330, 0.5330, 4.4670),
    ),
    8: (
        (5.7124, 2.8274, 0.25678, 2.7568, 2.8850, 0.38505, 4.6150, 3.5308),
        (5.7125, 2.8275, 0.2567, 2.7567, 2.8850, 0.3850, 4.6150, 3.5308),
    ),
}


def jeppson_6(pipes: int) -> NetworkFlows:
    """Jeppson's loops with Hazen and Williams, C = 95; the eighth pipe comes with a demand of 2 ft3/s at C."""
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for number, (start, end, bore_in, length_ft) in list(JEPPSON_6.items())[:pipes]:
        graph.add_edge(start, end, key=number, law=HazenWilliams(95.0, bore_in / 12.0, length_ft))
    for node, demand in {"D": 2.5, "E": 2.5, "F": 5.0, "C": 2.0 * (pipes - 7)}.items():
        graph.nodes[node]["demand_m3s"] = demand * CUBIC_FOOT_M3
    graph.nodes["A"]["head_m"] = 0.0
    return solve_network(graph, 1e-6)


@pytest.mark.parametrize("pipes", [7, 8])
def test_two_and_three_loops_of_jeppson_with_hazen_and_williams(pipes: int) -> None:
    """Jeppson (1976), chapter 6 (figures of its Fortran output, Newton's method on loops), and EPANET 2.2 via wntr."""
    found = jeppson_6(pipes)
    flows = [flow / CUBIC_FOOT_M3 for flow in by_number(found.flow_m3s).values()]
    reference, epanet = JEPPSON_6_FLOWS[pipes]
    assert flows == pytest.approx(reference, rel=1e-3)
    assert flows == pytest.approx(epanet, abs=1.1e-4)


def test_heads_of_two_loops_of_jeppson_with_hazen_and_williams() -> None:
    """Jeppson (1976), chapter 6, head lost in ft."""
    found = jeppson_6(7)
    lost = [(found.head_m[u] - found.head_m[v]) / FOOT_M for u, v, _, _ in list(JEPPSON_6.values())[:7]]
    assert lost == pytest.approx([72.930, 45.164, 25.878, 92.216, 115.73, 9.3865, 79.949], rel=1e-2)


def by_number(flows: Mapping[tuple[str, str, object], float]) -> dict[int, float]:
    """Flows by the numbers that are the edges' keys, in rising order."""
    return dict(sorted((int(str(key)), flow) for (_, _, key), flow in flows.items()))


def test_the_tutorial_of_epanet() -> None:
    """EPANET 2.2 user manual, quick start tutorial at 0:00: tutorial.inp and the printed report tutorial.out."""
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    curve = PumpCurve(flows_m3s=(0.0, 2000.0 * GPM_M3S), heads_m=(200.0 * 4.0 / 3.0 * FOOT_M, 0.0), shape=2.0)
    graph.add_edge("1", "2", key=7, element=Element(place="pump", label="pump", loss=Loss(), curve=curve))
    for number, (start, end, length_ft, bore_in) in enumerate(
        [
            ("2", "3", 3000, 12),
            ("3", "6", 5000, 12),
            ("3", "4", 5000, 8),
            ("4", "5", 5000, 8),
            ("5", "6", 5000, 8),
            ("6", "7", 7000, 10),
        ],
        start=1,
    ):
        graph.add_edge(start, end, key=number, law=HazenWilliams(100.0, bore_in / 12.0, length_ft))
    for node, demand in {"3": 650, "4": 150, "5": 200, "6": 150}.items():
        graph.nodes[node]["demand_m3s"] = 0.5 * demand * GPM_M3S
    graph.nodes["1"]["head_m"], graph.nodes["7"]["head_m"] = 700.0 * FOOT_M, 855.0 * FOOT_M
    found = solve_network(graph, 1e-6)
    flows = [flow / GPM_M3S for flow in by_number(found.flow_m3s).values()]
    assert flows == pytest.approx([1049.81, 559.25, 165.56, 90.56, -9.44, 474.81, 1049.81], abs=0.03)
    heads = [found.head_m[node] / FOOT_M for node in "23456"]
    assert heads == pytest.approx([893.19, 879.67, 874.36, 872.62, 872.65], abs=0.01)


Link = tuple[str, str, str, tuple[float, ...]]
"""Kind, first node, last node, and for a pipe its bore, length (m) and sum of K, for a pump its flow and head at design
(m3/s, m)."""

ROUGHNESS_M = 1.5e-6


def random_loop(seed: int) -> list[Link]:
    """A canister loop as a keeper might build it: guards, pumps in series and side by side, returns that fork and
    cross, a bypass."""
    chance = random.Random(seed)
    links: list[Link] = []

    def hose(start: str, end: str) -> None:
        sizes = (chance.choice([0.0125, 0.016, 0.019, 0.025]), chance.uniform(0.5, 4.0), chance.uniform(0.5, 12.0))
        links.append(("pipe", start, end, sizes))

    for _ in range(chance.randint(1, 2)):
        hose(TANK, "inlet")
    stages = chance.randint(1, 2)
    for stage in range(stages):
        start, end = ("inlet" if stage == 0 else f"stage {stage}"), f"stage {stage + 1}"
        for _ in range(chance.randint(1, 2)):
            links.append(("pump", start, end, (chance.uniform(4e-4, 6e-4), chance.uniform(1.2, 2.5))))
    manifold = f"stage {stages}"
    ends = [f"return {number}" for number in range(chance.randint(1, 3))]
    for end in ends:
        hose(manifold, end)
        for _ in range(chance.randint(1, 2)):
            hose(end, TANK)
    if len(ends) > 1:
        hose(ends[0], ends[1])
    if chance.random() < 0.4:
        hose(manifold, "inlet")
    return links


def as_graph(links: list[Link]) -> "nx.MultiDiGraph[str]":
    """Links for this project's solver. EPANET's pumps let no water back."""
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for number, (kind, start, end, sizes) in enumerate(links):
        if kind == "pipe":
            graph.add_edge(start, end, key=number, element=pipe(kind, sizes[0], sizes[1], ROUGHNESS_M, sizes[2]))
        else:
            curve = PumpCurve(flows_m3s=(0.0, 2.0 * sizes[0]), heads_m=(sizes[1] * 4.0 / 3.0, 0.0), shape=2.0)
            graph.add_edge(
                start, end, key=number, one_way=True, element=Element(place=kind, label=kind, loss=Loss(), curve=curve)
            )
    return graph


def epanet(links: list[Link], folder: Path) -> tuple[list[float], dict[str, float]]:
    """Flows in m3/s by link and heads in m by node, by the EPANET 2.2 engine."""
    net = wntr.network.WaterNetworkModel()
    net.add_reservoir(TANK, base_head=0.0)
    for node in dict.fromkeys(node for _, *ends, _ in links for node in ends if node != TANK):
        net.add_junction(node.replace(" ", "_"))
    for number, (kind, start, end, sizes) in enumerate(links):
        ends = (str(number), start.replace(" ", "_"), end.replace(" ", "_"))
        if kind == "pipe":
            net.add_pipe(*ends, diameter=sizes[0], length=sizes[1], roughness=ROUGHNESS_M, minor_loss=sizes[2])
        else:
            net.add_curve(f"curve_{number}", "HEAD", [sizes])
            net.add_pump(*ends, "HEAD", f"curve_{number}")
    with warnings.catch_warnings():
        # wntr warns that roughness keeps its unit, and uses what its own libraries deprecate
        warnings.simplefilter("ignore")
        net.options.hydraulic.headloss = "D-W"
        net.options.hydraulic.accuracy = 1e-5
        results = wntr.sim.EpanetSimulator(net).run_sim(file_prefix=str(folder / "loop"))
    flows = results.link["flowrate"].iloc[0]
    heads = results.node["head"].iloc[0]
    return [float(flows[str(number)]) for number in range(len(links))], {str(node): float(head) for node, head in heads.items()}


@pytest.mark.parametrize("block", range(10))
def test_random_loops_flow_as_in_epanet(block: int, tmp_path: Path) -> None:
    """EPANET 2.2 engine via wntr, 22 loops a block: flows and heads within 0.1 %, of the greatest where a link is
    nearly still."""
    for seed in range(22 * block, 22 * (block + 1)):
        links = random_loop(seed)
        flows, heads = epanet(links, tmp_path)
        found = epanet_like(as_graph(links))
        assert found.status == "flows"
        assert found.imbalance <= 1e-9
        assert found.residual_m <= 1e-9
        mine = list(by_number(found.flow_m3s).values())
        assert mine == pytest.approx(flows, rel=1e-3, abs=1e-4 * max(map(abs, flows))), seed
        level = 1e-3 * max(map(abs, heads.values()))
        for node, head in found.head_m.items():
            assert head == pytest.approx(heads[node.replace(" ", "_")], abs=level), seed


RETURN = ("pipe", "after", TANK, (0.0125, 1.8, 2.5))
SUCTION = ("pipe", TANK, "before", (0.016, 1.5, 3.28))
PUMP = ("pump", "before", "after", (750.0 * LITRE_PER_HOUR, 2.5 * 0.75))


def test_one_small_loop_with_its_heads() -> None:
    """EPANET 2.2 engine via wntr 1.5.0: 875.63 l/h, -0.42903 m before the pump and 1.21904 m after it, against the
    water level."""
    found = epanet_like(as_graph([SUCTION, PUMP, RETURN]))
    assert by_number(found.flow_m3s)[1] / LITRE_PER_HOUR == pytest.approx(875.63, rel=1e-3)
    assert found.head_m["before"] == pytest.approx(-0.42903, rel=1e-3)
    assert found.head_m["after"] == pytest.approx(1.21904, rel=1e-3)


def test_a_second_return_side_by_side() -> None:
    """EPANET 2.2 engine via wntr 1.5.0: 460.16 and 673.68 l/h, together 1133.84 l/h."""
    second = ("pipe", "after", TANK, (0.016, 2.5, 4.0))
    flows = by_number(epanet_like(as_graph([SUCTION, PUMP, RETURN, second])).flow_m3s)
    assert [flow / LITRE_PER_HOUR for flow in flows.values()] == pytest.approx([1133.84, 1133.84, 460.16, 673.68], rel=1e-3)


def test_two_pumps_in_series_and_side_by_side() -> None:
    """Independent Darcy-Weisbach solver: 1076.066 l/h at 2.42685 m in series, 1023.457 l/h at 2.20904 m side by side."""
    series = epanet_like(
        as_graph([SUCTION, ("pump", "before", "between", PUMP[3]), ("pump", "between", "after", PUMP[3]), RETURN])
    )
    assert by_number(series.flow_m3s)[0] / LITRE_PER_HOUR == pytest.approx(1076.066, rel=3e-3)
    assert series.head_m["after"] - series.head_m["before"] == pytest.approx(2.42685, rel=3e-3)
    beside = epanet_like(as_graph([SUCTION, PUMP, PUMP, RETURN]))
    flows = by_number(beside.flow_m3s)
    assert flows[0] / LITRE_PER_HOUR == pytest.approx(1023.457, rel=3e-3)
    assert flows[1] == pytest.approx(flows[2], rel=1e-9)
    assert beside.head_m["after"] - beside.head_m["before"] == pytest.approx(2.20904, rel=3e-3)
