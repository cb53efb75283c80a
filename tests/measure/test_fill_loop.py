"""The loop during a fill, against the scalar elements of the rig solved by a general bracketing method."""

import math
from dataclasses import replace

import numpy as np
import pytest
from band_cases import FLAT_PRIORS, HEAD_M, flat
from measuring_worlds import rig_of
from scipy.optimize import brentq
from small_worlds import fitting, point_curve, tail

from optimizer.answers.question import stands_now
from optimizer.bands.candidates import candidate
from optimizer.bands.draws import Draws, Factors, draw
from optimizer.bands.installed import installed
from optimizer.bands.priors import PRIORS
from optimizer.loop.graph import Element
from optimizer.loop.operating import element_head_m
from optimizer.loop.pieces import Piece
from optimizer.loop.standing import standing_loop
from optimizer.loop.terms import velocity_quadratic
from optimizer.measure.fill_loop import FillLoop, as_delivered, cleaned, fill_loop_flows, loop_during_fill
from optimizer.measure.observations import median_factors
from optimizer.model.catalog import Catalog
from optimizer.model.losses import Loss
from optimizer.model.parts import Canister, Fitting, Guard, Hose, Pump
from optimizer.model.rig import Position, Rig
from optimizer.physics.water import Water

SEEDS = range(40)


def stood(rig: Rig) -> tuple[Element, ...]:
    """The rig's loop as the answers have it, which know nothing of arrangements."""
    return stands_now(rig, Catalog(parts={}, products=())).elements


def bracketed(elements: list[Element], height_m: float, nu: float) -> float:
    """Flow at which losses, lift and pump add up to nothing, 0 where the pump cannot lift."""

    def short(flow: float) -> float:
        return height_m + sum(element_head_m(each, flow, nu) - each.loss.lift_m for each in elements)

    return 0.0 if short(0.0) >= 0.0 else float(brentq(short, 0.0, 1.0, xtol=1e-15, rtol=1e-12))


def median_flow(loop: FillLoop) -> float:
    """Flow with every factor at its median."""
    return float(fill_loop_flows(loop, median_factors(loop.candidate.unknowns))[0])


def bore_after(elements: list[Element], rig: Rig) -> float:
    """Bore that the water leaves by where the loop ends after these elements."""
    position = next(p for p in rig.positions if p.name == elements[-1].place)
    part = position.installed
    return part.inside_m - 2.0 * position.state.film_m if isinstance(part, Hose) else part.outlet.bore_m  # type: ignore[union-attr]


def without(elements: tuple[Element, ...], rig: Rig, word: str) -> list[Element]:
    """Elements less what a word of the state takes off, changed by hand."""
    kept = [each for each in elements if each.place != "intake"]
    guard = next(each for each in elements if each.place == "intake")
    part = rig.positions[0].installed
    assert isinstance(part, Guard)
    if word == "guard off":
        return [replace(guard, loss=Loss(quadratic=0.5 * velocity_quadratic(part.outlet.bore_m))), *kept]
    if word == "media out":
        body = rig.canister
        empty = velocity_quadratic(body.inlet.bore_m) + 0.5 * velocity_quadratic(body.outlet.bore_m)
        return [replace(each, loss=Loss(quadratic=empty)) if each.place == "canister" else each for each in elements]
    names = [position.name for position in rig.positions]
    last = len(names) - 2
    if word == "hose off":
        pump = names.index("pump")
        fittings = [n for n in range(pump + 1, len(names)) if isinstance(rig.positions[n].installed, Fitting)]
        last = fittings[0] if fittings else pump
    while rig.positions[last].installed is None:
        last -= 1
    cut = max(n for n, each in enumerate(elements) if each.place == names[last]) + 1
    left = list(elements[:cut])
    return [*left, Element(place="end", label="end", loss=Loss(quadratic=velocity_quadratic(bore_after(left, rig))))]


@pytest.mark.parametrize("seed", SEEDS)
def test_what_the_tank_gets_is_what_the_answers_say(seed: int) -> None:
    rig = rig_of(seed)
    assert median_flow(loop_during_fill(rig)) == pytest.approx(stands_now(rig, Catalog(parts={}, products=())).own_m3s, rel=1e-7)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("word", ["guard off", "media out", "outlet off", "hose off"])
def test_what_is_off_takes_its_loss_along(seed: int, word: str) -> None:
    rig = rig_of(seed)
    nu = Water(temperature_c=rig.tank.temperature_c).kinematic_m2s
    for height in (0.0, 0.2, -0.5):
        expected = bracketed(without(stood(rig), rig, word), height, nu)
        assert median_flow(loop_during_fill(rig, (word,), height)) == pytest.approx(expected, rel=1e-7, abs=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_lift_and_siphon(seed: int) -> None:
    """Label curves, and every third rig with a curve through points, which may end before its head does."""
    rig = rig_of(seed)
    if seed % 3 == 0:
        place = rig.index("pump")
        curve = point_curve(2.0, 1100.0)
        curve = replace(curve, flows_m3s=curve.flows_m3s[:3], heads_m=curve.heads_m[:3]) if seed % 2 else curve
        pump = replace(rig.pump, curve=curve)
        rig = replace(rig, positions=tuple(replace(p, installed=pump) if n == place else p for n, p in enumerate(rig.positions)))
    nu = Water(temperature_c=rig.tank.temperature_c).kinematic_m2s
    for height in (-3.0, -0.8, -0.05, 0.0, 0.4, 5.0):
        expected = bracketed(list(stood(rig)), height, nu)
        assert median_flow(loop_during_fill(rig, (), height)) == pytest.approx(expected, rel=1e-7, abs=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_clean_is_the_rig_with_clean_states(seed: int) -> None:
    """Against the answers' own loop of a rig whose dirt is taken out by hand."""
    rig = rig_of(seed)
    positions = tuple(replace(p, state=replace(p.state, blocked=0.0, cake_m=0.0, film_m=0.0, fouled=0.0)) for p in rig.positions)
    trays = tuple(replace(tray, state=replace(tray.state, filled=0.0, cake_m=0.0)) for tray in rig.trays)
    washed = replace(rig, positions=positions, trays=trays)
    flow = stands_now(washed, Catalog(parts={}, products=())).own_m3s
    assert median_flow(loop_during_fill(rig, ("clean",))) == pytest.approx(flow, rel=1e-7)
    words = ("guard clean", "media clean", "hoses clean", "pump clean")
    assert cleaned(rig, words) == cleaned(rig, ("clean",)) == washed
    assert cleaned(rig, ("guard off",)) == rig


def test_a_level_correction_with_a_closed_form() -> None:
    """A pump of constant head H against b Q^2: Q = sqrt((H - z) / b), so the flow at the water line is sqrt(H / (H - z)) times
    that at height z."""
    loop = as_delivered(flat())
    factors = Factors(draw(loop.candidate.unknowns, 20, seed=1), FLAT_PRIORS)
    heads = HEAD_M * factors.of("pump head", "P")
    for height in (-1.0, -0.4, 0.3):
        at, home = fill_loop_flows(replace(loop, lift_m=height), factors), fill_loop_flows(loop, factors)
        assert home / at == pytest.approx(np.sqrt(heads / (heads - height)), rel=1e-7)


def test_draws_with_a_siphon_are_solved_one_by_one() -> None:
    """Points scaled by a factor per draw and fed by a siphon: each draw against its own bracket."""
    curve = point_curve(2.0, 1100.0)
    piece = Piece(part="P", installed=True, curve=curve, speed=0.95, head="pump head", flow="pump flow")
    rest = Piece(part="F", installed=True, loss=Loss(quadratic=3e7), resistance="fittings")
    base = flat()
    loop = FillLoop(candidate=replace(base, pieces=(piece, rest)), lift_m=-0.7)
    factors = Factors(draw(loop.candidate.unknowns, 12, seed=4), PRIORS)
    flows = fill_loop_flows(loop, factors)
    for row in range(12):
        head, flow, loss = (float(factors.of(*key)[row]) for key in (("pump head", "P"), ("pump flow", "P"), ("fittings", "F")))
        scaled = replace(
            curve, flows_m3s=tuple(q * flow for q in curve.flows_m3s), heads_m=tuple(h * head for h in curve.heads_m)
        )
        elements = [
            Element(place="P", label="P", loss=Loss(), curve=scaled, speed=0.95),
            Element(place="F", label="F", loss=Loss(quadratic=3e7 * loss)),
        ]
        assert flows[row] == pytest.approx(bracketed(elements, -0.7, 1e-6), rel=1e-7)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_installed_candidate_is_that_of_the_answers(seed: int) -> None:
    """Piece by piece the same as `bands.candidates.candidate` makes of what the answers say stands there now."""
    rig = rig_of(seed)
    stands = stands_now(rig, Catalog(parts={}, products=()))
    assert installed(rig).pieces == candidate(standing_loop(rig, stands.options, stands.joints), rig.limits, "as it is").pieces
    assert installed(rig).ceiling_m3s == math.inf


def test_the_coupling_nearest_the_pump_is_where_the_hose_comes_off() -> None:
    """A coupling upstream of the pump does not count; one that stays on loses what it loses."""
    rig = next(rig_of(seed) for seed in SEEDS if not any(p.kind == "fitting" for p in rig_of(seed).positions))
    coupling = fitting("C", "coupling", tail(16, 12), tail(16, 11))
    place = Position(name="coupling", kind="fitting", role="coupling", installed=coupling)
    after = rig.index("pump") + 1
    with_one = replace(rig, positions=(*rig.positions[:after], place, *rig.positions[after:]))
    before = replace(rig, positions=(*rig.positions[:1], place, *rig.positions[1:]))
    bare, on, upstream = (loop_during_fill(each, ("hose off",), -0.5).candidate for each in (rig, with_one, before))
    assert {piece.part for piece in on.pieces} - {piece.part for piece in bare.pieces} == {"C", "own-pump - C"}
    assert on.pieces[-1].loss.quadratic == pytest.approx(velocity_quadratic(0.011))
    assert upstream.pieces[-1].part == "own-pump"
    assert isinstance(rig.pump, Pump) and isinstance(rig.canister, Canister)


def test_nothing_that_is_measured_is_held_by_a_throttle() -> None:
    """Rigs with a ceiling and a throttle: the fill is of the loop as it stands."""
    held = [seed for seed in range(200) if math.isfinite(rig_of(seed).limits.flow_max_m3s)]
    assert held
    for seed in held[:5]:
        assert loop_during_fill(rig_of(seed)).candidate.ceiling_m3s == math.inf


def test_a_loop_without_an_operating_point_is_an_error() -> None:
    hose = loop_during_fill(rig_of(0))
    broken = replace(hose, candidate=replace(hose.candidate, kinematic_m2s=math.nan))
    factors = Factors(Draws(unknowns=broken.candidate.unknowns, normals=np.zeros((1, len(broken.candidate.unknowns)))), PRIORS)
    with pytest.raises(ArithmeticError, match="no operating point"):
        fill_loop_flows(broken, factors)
