"""Flows of a candidate in every draw: equal to scaled loops solved one by one by the scalar path, which shares no solver."""

import math
from dataclasses import replace

import numpy as np
import pytest
from band_cases import KINEMATIC_M2S, SEEDS, candidates, drawn, element, flat

from optimizer.bands.candidates import Candidate
from optimizer.bands.draws import Factors
from optimizer.bands.series import delivered_m3s
from optimizer.loop.graph import loop_graph
from optimizer.loop.operating import operating_point
from optimizer.loop.pieces import Piece
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import PumpCurve
from optimizer.model.unknowns import HOSE_BORE, HOSE_FRICTION, PUMP_FLOW, PUMP_HEAD


def scalar_m3s(candidate: Candidate, factors: Factors, row: int) -> float:
    """The delivered flow of one draw by bracketing."""
    elements = [element(piece, factors, row) for piece in candidate.pieces]
    return min(operating_point(loop_graph(elements), candidate.kinematic_m2s).flow_m3s, candidate.ceiling_m3s)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_draw_is_the_operating_point_of_its_own_loop(seed: int) -> None:
    """Random bundles of random worlds (points and labels, films, dirt, ceilings), four draws of each."""
    made = candidates(seed, most=3)
    factors = drawn(made, 40, seed)
    for candidate in made:
        flows = delivered_m3s(candidate, factors)
        for row in (0, 11, 22, 33):
            assert flows[row] == pytest.approx(scalar_m3s(candidate, factors, row), rel=2e-8, abs=1e-12)


def with_pump(curve: PumpCurve, coil_m: float = math.inf, quadratic: float = 1e7, lift_m: float = 0.0) -> Candidate:
    """A pump, a hose that may lie in a coil, and a loss."""
    run = Run(bore_m=0.016, length_m=4.0, roughness_m=1.5e-6, coil_m=coil_m)
    pieces = (
        Piece(part="pump", installed=True, curve=curve, speed=0.9, head=PUMP_HEAD, flow=PUMP_FLOW),
        Piece(part="hose", installed=True, loss=Loss(run=run), bore_m=0.016, bore=HOSE_BORE, friction=HOSE_FRICTION),
        Piece(part="rest", installed=True, loss=Loss(quadratic=quadratic, lift_m=lift_m), resistance="fittings"),
    )
    return Candidate(name="loop", pieces=pieces, kinematic_m2s=KINEMATIC_M2S)


POINTS = PumpCurve(flows_m3s=(0.0, 1e-4, 3e-4), heads_m=(2.2, 1.9, 0.8))
"""Points that end well above zero head: the root may lie past them."""


@pytest.mark.parametrize("quadratic", [1e5, 1e7, 1e9])
@pytest.mark.parametrize("coil_m", [math.inf, 0.3])
def test_coils_and_curves_that_end_early_are_solved(quadratic: float, coil_m: float) -> None:
    for curve in (POINTS, PumpCurve(flows_m3s=(0.0, 4e-4), heads_m=(2.2, 0.0), shape=1.7)):
        made = with_pump(curve, coil_m, quadratic)
        factors = drawn([made], 30, seed=1)
        expected = [scalar_m3s(made, factors, row) for row in range(30)]
        assert delivered_m3s(made, factors) == pytest.approx(expected, rel=2e-8)


def test_a_coil_costs_flow() -> None:
    """Ito (1959): a 30 cm coil of 16 mm hose rubs about a quarter more."""
    straight, coiled = with_pump(POINTS), with_pump(POINTS, 0.3)
    factors = drawn([straight], 30, seed=1)
    assert (delivered_m3s(coiled, factors) < delivered_m3s(straight, factors)).all()


def test_a_pump_that_cannot_lift_in_some_draws_gives_no_flow_there() -> None:
    """Lift at the pump's own head: about half of the draws stand still."""
    made = with_pump(POINTS, lift_m=2.2 * 0.9**2)
    flows = delivered_m3s(made, drawn([made], 200, seed=1))
    assert 0.3 < float((flows == 0.0).mean()) < 0.7
    assert (flows >= 0.0).all()


def test_a_throttle_caps_every_draw() -> None:
    free, held = flat(), flat(ceiling_m3s=3e-4)
    factors = drawn([free], 500, seed=1)
    assert delivered_m3s(held, factors).tolist() == np.minimum(delivered_m3s(free, factors), 3e-4).tolist()
    assert 0 < int((delivered_m3s(held, factors) == 3e-4).sum()) < 500


def test_a_draw_without_an_answer_is_an_error() -> None:
    """A candidate whose viscosity is no number."""
    made = replace(with_pump(POINTS), kinematic_m2s=math.nan)
    with pytest.raises(ArithmeticError, match="no operating point"):
        delivered_m3s(made, drawn([made], 5, seed=1))
