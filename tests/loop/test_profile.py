"""Gauge pressure along a loop, by hand with the steady-flow energy equation and against the EPANET 2.2 engine (run by wntr)."""

import math
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from network.laws import ElementLaw, Fluid

from optimizer.loop.graph import Element
from optimizer.loop.profile import Station, Stretch, levels_m, stations
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve
from optimizer.physics.arrays import Floats

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import wntr

LITRE_PER_HOUR = 1e-3 / 3600.0
FOOT_M = 0.3048
EPANET_GRAVITY_MS2 = 32.2 * FOOT_M
EPANET_KINEMATIC_M2S = 1.1e-5 * FOOT_M**2


def at(found: list[Station], place: str, end: str) -> Station:
    """One end of one place."""
    return next(station for station in found if (station.place, station.end) == (place, end))


def test_a_pump_below_an_open_tank_by_hand() -> None:
    """Energy equation (any text on fluid mechanics), by hand: 4 l/s through a bore of 50 mm, 0.8 m lost, pump 3 m down.

    v = 0.004 / (pi 0.05^2 / 4) = 2.0372 m/s, v2/2g = 0.21160 m, gauge head before the pump 3 - 0.8 - 0.2116 = 1.9884 m; behind
    a pump of 6 m with a delivery bore of 40 mm (v2/2g = 0.51660 m) 3 - 0.8 + 6 - 0.5166 = 7.6834 m.
    """
    way = [
        Stretch(place="pipe", loss_m=0.8, inlet_bore_m=0.05, outlet_bore_m=0.05, length_m=4.0),
        Stretch(place="pump", loss_m=-6.0, inlet_bore_m=0.05, outlet_bore_m=0.04, level_m=-3.0),
    ]
    found = stations(way, 0.004)
    assert at(found, "pump", "inlet").speed_ms == pytest.approx(2.0372, abs=1e-4)
    assert at(found, "pump", "inlet").head_m == pytest.approx(1.9884, abs=1e-4)
    assert at(found, "pump", "outlet").head_m == pytest.approx(7.6834, abs=1e-4)
    assert at(found, "pipe", "inlet").head_m == pytest.approx(-0.2116, abs=1e-4), (
        "at the surface only the velocity head is missing"
    )


def test_the_throat_of_a_venturi_by_hand() -> None:
    """Without loss p1 - p2 = (v2^2 - v1^2) / 2g: 1 l/s from 40 mm (0.79577 m/s) to 20 mm (3.18310 m/s) drops 0.48431 m."""
    way = [Stretch(place="throat", loss_m=0.0, inlet_bore_m=0.04, outlet_bore_m=0.02, level_m=-1.0)]
    found = stations(way, 0.001)
    assert found[0].head_m - found[1].head_m == pytest.approx(0.48431, abs=1e-5)


def test_an_open_end_above_the_water_stands_at_no_pressure_and_one_below_at_its_depth() -> None:
    """Hydrostatics: a column of 0.2 m of lift needs 0.2 m of head, and water at rest 0.3 m down stands 0.3 m."""
    above = [Stretch(place="pump", loss_m=-0.7, level_m=-1.0), Stretch(place="mouth", loss_m=0.5, level_m=0.2)]
    below = [Stretch(place="pump", loss_m=-0.5, level_m=-1.0), Stretch(place="mouth", loss_m=0.5, level_m=-0.3)]
    assert stations(above, 1e-4)[-1].head_m == pytest.approx(0.0, abs=1e-12)
    assert stations(below, 1e-4)[-1].head_m == pytest.approx(0.3)


def test_hoses_share_a_fall_by_their_lengths_and_the_rest_in_equal_parts() -> None:
    """By hand: 1.2 m of fall over hoses of 1 and 2 m with a coupling between; 0.3 m of rise over two joints."""
    hose = [Stretch(place=name, loss_m=0.0, length_m=length) for name, length in (("a", 1.0), ("tap", 0.0), ("b", 2.0))]
    body, pump = Stretch(place="body", loss_m=0.0, level_m=-1.2), Stretch(place="pump", loss_m=0.0, level_m=-0.9)
    joints = [Stretch(place="joint", loss_m=0.0)] * 2
    levels = levels_m([Stretch(place="guard", loss_m=0.0, level_m=0.0), *hose, body, *joints, pump, *joints])
    by_hand = [(0, 0), (0, -0.4), (-0.4, -0.4), (-0.4, -1.2), (-1.2, -1.2), (-1.2, -1.05), (-1.05, -0.9), (-0.9, -0.9)]
    assert np.array(levels) == pytest.approx(np.array([*by_hand, (-0.9, -0.9), (-0.9, -0.9)]), abs=1e-12)


@given(
    st.lists(st.tuples(st.floats(0.0, 2.0), st.floats(0.008, 0.03), st.floats(0.0, 3.0)), min_size=1, max_size=8),
    st.floats(1e-5, 5e-4),
    st.floats(0.01, 1.0),
)
def test_more_loss_lowers_all_that_follows_and_more_depth_raises_the_pump_by_as_much(
    pieces: list[tuple[float, float, float]], flow_m3s: float, more_m: float
) -> None:
    """Facts of the energy equation at a given flow."""
    way = [
        Stretch(place=str(n), loss_m=loss, inlet_bore_m=bore, outlet_bore_m=bore, length_m=length)
        for n, (loss, bore, length) in enumerate(pieces)
    ]

    def before_pump(depth_m: float, extra_m: float) -> float:
        first = Stretch(place="guard", loss_m=extra_m, outlet_bore_m=0.016, level_m=0.0)
        pump = Stretch(place="pump", loss_m=-1.0, inlet_bore_m=0.016, level_m=-depth_m)
        return at(stations([first, *way, pump], flow_m3s), "pump", "inlet").head_m

    assert before_pump(1.0, more_m) == pytest.approx(before_pump(1.0, 0.0) - more_m, abs=1e-9)
    assert before_pump(1.0 + more_m, 0.0) == pytest.approx(before_pump(1.0, 0.0) + more_m, abs=1e-9)


def swamee_jain(reynolds: Floats, relative_roughness: Floats) -> Floats:
    """Friction factor of EPANET 2.2 above a Reynolds number of 4000 (user manual, chapter 12)."""
    factor: Floats = 0.25 / np.log10(np.asarray(relative_roughness) / 3.7 + 5.74 / np.asarray(reynolds) ** 0.9) ** 2
    return factor


PIPES = {  # bore and length in m, sum of K, level of the far end in m: all Reynolds numbers above 4000
    "suction": (0.016, 1.5, 3.28, -1.1),
    "body": (0.020, 0.3, 2.0, -0.9),
    "return a": (0.0125, 0.8, 1.5, -0.35),
    "return b": (0.016, 1.0, 2.5, -0.02),
}


def epanet(folder: Path) -> tuple[float, dict[str, float]]:
    """Flow in m3/s and pressure in m at the far end of each pipe and behind the pump, by the EPANET 2.2 engine."""
    net = wntr.network.WaterNetworkModel()
    net.add_reservoir("tank", base_head=0.0)
    for name, (_, _, _, level) in list(PIPES.items())[:3]:
        net.add_junction(name.replace(" ", "_"), elevation=level)
    net.add_junction("pump", elevation=-0.9)
    ends = ["tank", "suction", "body", "pump", "return_a", "tank"]
    between = iter(zip(ends, ends[1:], strict=False))
    for name, (bore, length, k, _) in PIPES.items():
        if name == "return a":
            net.add_curve("curve", "HEAD", [(750.0 * LITRE_PER_HOUR, 2.5 * 0.75)])
            net.add_pump("motor", *next(between), "HEAD", "curve")
        net.add_pipe(name.replace(" ", "-"), *next(between), diameter=bore, length=length, roughness=1.5e-6, minor_loss=k)
    with warnings.catch_warnings():
        # wntr warns that roughness keeps its unit, and uses what its own libraries deprecate
        warnings.simplefilter("ignore")
        net.options.hydraulic.headloss = "D-W"
        net.options.hydraulic.accuracy = 1e-5
        results = wntr.sim.EpanetSimulator(net).run_sim(file_prefix=str(folder / "loop"))
    pressures = results.node["pressure"].iloc[0]
    flow = float(results.link["flowrate"].iloc[0]["motor"])
    return flow, {str(node).replace("_", " "): float(head) for node, head in pressures.items()}


def test_a_series_loop_has_the_node_pressures_of_epanet(tmp_path: Path) -> None:
    """EPANET 2.2 engine via wntr, within 0.1 % of the greatest pressure.

    EPANET leaves the velocity head out (user manual, chapter 12: head is elevation and pressure), so it is put back before the
    two are compared.
    """
    flow, pressures = epanet(tmp_path)
    fluid = Fluid(kinematic_m2s=EPANET_KINEMATIC_M2S, friction=swamee_jain, gravity_ms2=EPANET_GRAVITY_MS2)
    way = []
    for name, (bore, length, k, level) in PIPES.items():
        loss = Loss(
            quadratic=k / (2.0 * EPANET_GRAVITY_MS2 * (math.pi * bore**2 / 4.0) ** 2),
            run=Run(bore_m=bore, length_m=length, roughness_m=1.5e-6),
        )
        lost = ElementLaw(element=Element(place=name, label=name, loss=loss), fluid=fluid).head_m(flow)
        if name == "return a":
            curve = PumpCurve(flows_m3s=(0.0, 1500.0 * LITRE_PER_HOUR), heads_m=(2.5, 0.0), shape=2.0)
            pump = Element(place="pump", label="pump", loss=Loss(), curve=curve)
            way.append(Stretch(place="pump", loss_m=ElementLaw(element=pump, fluid=fluid).head_m(flow), level_m=-0.9))
        way.append(Stretch(place=name, loss_m=lost, inlet_bore_m=bore, outlet_bore_m=bore, length_m=length))
        way.append(Stretch(place=f"end of {name}", loss_m=0.0, level_m=level))
    found = stations(way, flow)
    greatest = max(map(abs, pressures.values()))
    for name, (bore, *_) in list(PIPES.items())[:3]:
        velocity_m = (flow / (math.pi * bore**2 / 4.0)) ** 2 / (2.0 * 9.80665)
        end = at(found, f"end of {name}", "inlet").head_m
        assert end == pytest.approx(pressures[name], abs=1e-3 * greatest), name
        # the end of the hose itself carries its velocity head
        last = next(s for s in found if s.place == name and s.end == "outlet")
        assert last.head_m + velocity_m == pytest.approx(pressures[name], abs=1e-3 * greatest), name
    assert at(found, "pump", "outlet").head_m == pytest.approx(pressures["pump"], abs=1e-3 * greatest)
