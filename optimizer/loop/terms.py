"""Parts as they are installed: turns a part, its state and its place into loss terms in the tank's water."""

from collections.abc import Callable, Iterable
from functools import partial
from math import pi

import numpy as np

from optimizer.model.losses import Loss, Run
from optimizer.model.options import OrientedAdapter
from optimizer.model.parts import Canister, Fitting, Guard, Hose, Medium, Outlet, Pump
from optimizer.model.rig import Position
from optimizer.model.state import State
from optimizer.physics.arrays import Floats
from optimizer.physics.cake import cake_coefficient
from optimizer.physics.dirt_figures import CAKE, figure
from optimizer.physics.fitting_laws import CHOSEN, FittingLaws
from optimizer.physics.fittings import quadratic_coefficient
from optimizer.physics.guards import guard_quadratic, mesh_linear, sponge_coefficients
from optimizer.physics.hose import RIBBED_FACTOR
from optimizer.physics.media import clogging_factor, layer_coefficients
from optimizer.physics.outlets import SprayBar, spray_bar
from optimizer.physics.pumps import mains_ratio
from optimizer.physics.water import Water

INTO_VESSEL_K = 1.0
"""All velocity head is lost where a port opens into the canister or a hose ends in the tank (Crane TP-410)."""

LEAST_OPEN = 0.1
"""A film leaves at least this share of a bore open."""

CLOGGING_LAW = "cubic"
"""Law that turns the filled share of the pores into lost permeability."""

CAKE_M2 = figure(CAKE)
"""Permeability of the cake on a face, in m2."""


def change_quadratic(from_bore_m: float, to_bore_m: float, laws: FittingLaws = CHOSEN) -> float:
    """Loss of a step from one bore to another, as a coefficient in s2/m5 (0 for equal bores).

    >>> change_quadratic(0.016, 0.016)
    0.0
    """
    if from_bore_m == to_bore_m:
        return 0.0
    law = laws.contraction_k if to_bore_m < from_bore_m else laws.expansion_k
    return float(quadratic_coefficient(law(from_bore_m, to_bore_m), min(from_bore_m, to_bore_m)))


def velocity_quadratic(bore_m: float) -> float:
    """Velocity head v2/2g as a coefficient on Q2, in s2/m5.

    >>> round(velocity_quadratic(0.016))
    1261216
    """
    return float(quadratic_coefficient(1.0, bore_m))


def entrance_quadratic(bore_m: float, laws: FittingLaws = CHOSEN) -> float:
    """Loss from still water into a tail, in s2/m5."""
    return laws.entrance_k() * velocity_quadratic(bore_m)


def adapter_quadratic(fitting: Fitting, flipped: bool, laws: FittingLaws = CHOSEN) -> float:
    """Loss inside a clean fitting, between its two end bores, in either direction, in s2/m5."""
    inlet, outlet = (fitting.outlet, fitting.inlet) if flipped else (fitting.inlet, fitting.outlet)
    return sum(fitting_quadratics(fitting, inlet.bore_m, outlet.bore_m, 0.0, laws))


def chained_quadratic(
    from_bore_m: float, adapters: Iterable[OrientedAdapter], to_bore_m: float, laws: FittingLaws = CHOSEN
) -> float:
    """Loss of a joint between two bores in m, in s2/m5: steps of bore, and the adapters between them in their order."""
    change, inside = partial(change_quadratic, laws=laws), partial(adapter_quadratic, laws=laws)
    return along_joint(from_bore_m, adapters, to_bore_m, change, inside)


def along_joint(
    from_bore_m: float,
    adapters: Iterable[OrientedAdapter],
    to_bore_m: float,
    change: Callable[[float, float], float],
    inside: Callable[[Fitting, bool], float],
) -> float:
    """The same by what a ``change`` of bore loses, and each adapter ``inside``, flipped or not."""
    bore, quadratic = from_bore_m, 0.0
    for turned in adapters:
        quadratic += change(bore, turned.entry.bore_m) + inside(turned.part, turned.flipped)
        bore = turned.exit.bore_m
    return quadratic + change(bore, to_bore_m)


def fitting_quadratics(
    fitting: Fitting, inlet_m: float, outlet_m: float, film_m: float, laws: FittingLaws = CHOSEN
) -> tuple[float, float]:
    """Loss inside a fitting with a film on its wall, between bores in m at its ends, in s2/m5: that of the steps to its narrowest
    bore and back, and that of its body."""
    passage = open_m(fitting.passage_m, film_m)
    steps = change_quadratic(inlet_m, passage, laws) + change_quadratic(passage, outlet_m, laws)
    return steps, float(quadratic_coefficient(laws.body_k(fitting.shape, passage), passage))


def guard_terms(
    guard: Guard,
    blocked: Floats,
    cake_m: Floats,
    water: Water,
    scales: tuple[float, float, float] = (1.0, 1.0, 1.0),
    laws: FittingLaws = CHOSEN,
) -> tuple[Floats, Floats]:
    """Linear and quadratic terms (s/m2, s2/m5) of a guard of which a share, or each of many, is ``blocked``, under a cake of a
    thickness where it is a sponge. ``scales`` multiply those of its screen or wall, that of the entrance behind it, and that of
    the cake."""
    screen_scale, entrance = scales[0], scales[1] * entrance_quadratic(guard.outlet.bore_m, laws)
    if guard.form == "sponge":
        linear, quadratic = sponge_coefficients(
            guard.face_area_m2,
            guard.thickness_m,
            guard.pores_ppi,
            blocked,
            water.density_kgm3,
            water.viscosity_pas,
        )
        cake = cake_linear(cake_m, guard.face_area_m2, water)
        return linear * screen_scale + cake * scales[2], quadratic * screen_scale + entrance
    screen = guard_quadratic(guard.face_area_m2, guard.open_fraction, blocked, guard.form)
    return _screen_linear(guard, blocked, water) * screen_scale, screen * screen_scale + entrance


def _screen_linear(guard: Guard, blocked: Floats, water: Water) -> Floats:
    """What the wires of a mesh lose by viscosity, in s/m2; at the bars of slots and the edges of holes nothing is counted."""
    if guard.form != "mesh" or guard.open_fraction >= 1.0:
        return np.zeros_like(np.asarray(blocked, dtype=float))[()]
    return mesh_linear(guard.face_area_m2, guard.opening_m, guard.open_fraction, blocked, water.kinematic_m2s)


def cake_linear(cake_m: Floats, area_m2: Floats, water: Water) -> Floats:
    """Linear term in s/m2 of a cake of a thickness on a face, or of each of many."""
    return cake_coefficient(cake_m, area_m2, CAKE_M2, water.density_kgm3, water.viscosity_pas)


def open_m(bore_m: float, film_m: float) -> float:
    """What a film leaves open of a bore, in m: at least a tenth.

    >>> open_m(0.010, 0.002), open_m(0.010, 0.02)
    (0.006, 0.001)
    """
    return max(bore_m - 2.0 * film_m, LEAST_OPEN * bore_m)


def hose_loss(hose: Hose, state: State, position: Position) -> Loss:
    """Friction of a hose run, with its bends and the steps to its film. The length of the run goes round the bends too, so what
    a bend loses is without the friction along it."""
    bore, laws = open_m(hose.inside_m, state.film_m), position.laws
    bends = 0.0
    if position.bends:
        each = laws.bend_k(bore, max(position.bend_radius_m / bore, 1.0))
        bends = position.bends * float(quadratic_coefficient(each, bore))
    run = Run(
        bore_m=bore,
        length_m=position.length_m,
        roughness_m=hose.roughness_m,
        factor=RIBBED_FACTOR if hose.ribbed else 1.0,
        coil_m=position.coil_m,
    )
    film_step = change_quadratic(hose.inside_m, bore, laws) + change_quadratic(bore, hose.inside_m, laws)
    return Loss(quadratic=bends + film_step, run=run)


def open_hole_m(outlet: Outlet, state: State) -> float:
    """Diameter of the mouth, nozzle or holes that a film leaves open, in m."""
    return open_m(outlet.hole_m, state.film_m)


def bar_of(outlet: Outlet, state: State) -> SprayBar:
    """The march along a spray bar in its state. Raises ValueError for an outlet that is none."""
    if outlet.form != "bar":
        raise ValueError(f"{outlet.name} is no spray bar")
    return spray_bar(outlet.holes, open_hole_m(outlet, state), outlet.bar_bore_m, outlet.pitch_m, outlet.discharge)


def fastest_jet_1m2(outlet: Outlet, state: State) -> float:
    """Speed of the fastest water that leaves an outlet, over the flow through it, in 1/m2: one over the area of its mouth; in a
    bar, whose holes do not share the flow evenly, that of the hole that passes most.

    >>> from optimizer.model.ends import End, Gender, Standard
    >>> tail = End(standard=Standard.HOSE, size_m=0.016, gender=Gender.MALE, bore_m=0.012)
    >>> mouth = Outlet(id="O", name="mouth", form="open", inlet=tail, holes=1, hole_m=0.012)
    >>> round(fastest_jet_1m2(mouth, State()) * 400e-3 / 3600, 2)
    0.98
    """
    if outlet.form == "bar":
        return max(bar_of(outlet, state).jet_speeds_1m2)
    return 4.0 / (pi * open_hole_m(outlet, state) ** 2)


def canister_loss(canister: Canister, laws: FittingLaws = CHOSEN) -> Loss:
    """Loss of the body without media: all velocity head at the inlet port, an entrance into the outlet port."""
    into = float(quadratic_coefficient(INTO_VESSEL_K, canister.inlet.bore_m))
    return Loss(quadratic=into + entrance_quadratic(canister.outlet.bore_m, laws))


def tray_loss(medium: Medium, state: State, canister: Canister, water: Water) -> Loss:
    """Loss of one tray filled with a medium (Darcy and Forchheimer), with its pores filled, and a cake on its face, as the state
    says."""
    return tray_bed(medium, state, canister, water).add(tray_cake(state, canister, water))


def tray_bed(medium: Medium, state: State, canister: Canister, water: Water) -> Loss:
    """The same of the bed alone, without its cake."""
    linear, quadratic = layer_terms(medium.permeability_m2, medium.inertial_1m, state.filled, canister, water)
    return Loss(linear=float(linear), quadratic=float(quadratic))


def tray_cake(state: State, canister: Canister, water: Water) -> Loss:
    """The same of the cake alone."""
    return Loss(linear=float(cake_linear(state.cake_m, canister.tray_area_m2, water)))


def layer_terms(
    permeability_m2: Floats, inertial_1m: Floats, filled: Floats, canister: Canister, water: Water
) -> tuple[Floats, Floats]:
    """Linear and quadratic terms (s/m2, s2/m5) of trays of media, of one or of many, a share of whose pores is ``filled``."""
    open_share = clogging_factor(CLOGGING_LAW, filled)
    linear, quadratic = layer_coefficients(
        permeability_m2 * open_share,
        inertial_1m / np.sqrt(open_share),
        canister.tray_height_m,
        canister.tray_area_m2,
        water.density_kgm3,
        water.viscosity_pas,
    )
    return linear, quadratic


def pump_speed(pump: Pump, state: State, mains_hz: float) -> float:
    """Speed of a pump as a ratio of the speed its figures belong to: mains frequency, dirt and wear.

    A pump without a label frequency does not follow the mains.
    """
    ratio = float(mains_ratio(pump.label_hz, mains_hz)) if pump.label_hz else 1.0
    return ratio * (1.0 - state.fouled) * (1.0 - state.worn)
