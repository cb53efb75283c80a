"""Published laws of flow, each a function with its source, and which of them are taken.

``OTHER`` takes other laws than the program where there are any. ``PROGRAMS`` takes those that the program names, written
here anew from their sources, so that a law can be switched by itself and what it comes to is measured.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from fluids.filters import round_edge_screen, square_edge_grill
from fluids.fittings import (
    Darby3K,
    Hooper2K,
    K_branch_converging_Crane,
    K_branch_diverging_Crane,
    K_run_converging_Crane,
    K_run_diverging_Crane,
    bend_rounded,
    contraction_sharp,
    diffuser_sharp,
    entrance_sharp,
    ft_Crane,
)
from fluids.friction import Churchill_1977, Clamond, helical_turbulent_fd_Schmidt
from fluids.packed_bed import KTA, Carman, Ergun

from outside.water import Water

INCH = 0.0254
RUBBER_M = 1e-5
"""The same of rubber: the low end of 0.006 to 0.07 mm in process tables."""
DRAWN_TUBE_M = 1.52e-6
"""Roughness of smooth drawn tube (the table of Perry's handbook, as `fluids` has it): plastics are as smooth."""


def friction_clamond(reynolds: float, bore: float, rough: float = DRAWN_TUBE_M) -> float:
    """Darcy's factor by Colebrook's equation (1939), solved by Clamond's iteration (2009); 64/Re below 2040."""
    return 64.0 / reynolds if reynolds < 2040.0 else Clamond(reynolds, rough / bore)


def coil_schmidt(reynolds: float, bore: float, coil: float) -> float:
    """By what friction in a coil of a diameter is more than in the same tube laid straight, both turbulent: Schmidt 1967."""
    return helical_turbulent_fd_Schmidt(reynolds, bore, coil) / friction_clamond(reynolds, bore, 0.0)


def contraction_rennels(wide: float, narrow: float, reynolds: float) -> float:
    """K on the narrow bore of a sudden contraction: Rennels and Hudson 2012."""
    return contraction_sharp(wide, narrow, method="Rennels")


def expansion_hooper(narrow: float, wide: float, reynolds: float) -> float:
    """K on the narrow bore of a sudden expansion: Hooper 1988."""
    return diffuser_sharp(narrow, wide, Re=reynolds, fd=friction_clamond(reynolds, narrow), method="Hooper")


def entrance_rennels(bore: float) -> float:
    """K of a sharp flush entrance: Rennels and Hudson 2012."""
    return entrance_sharp(method="Rennels")


def bend_miller(bore: float, radius: float, reynolds: float) -> float:
    """K of a quarter turn over what its length costs as straight hose: Miller 1990, less friction along the arc."""
    friction = friction_clamond(reynolds, bore)
    whole = bend_rounded(bore, 90.0, fd=friction, bend_diameters=radius / bore, Re=reynolds, method="Miller")
    return whole - friction * math.pi / 2.0 * radius / bore


def two_k(row: str) -> Callable[[float, float], float]:
    """K by the bore and the Reynolds number after Hooper's table of two constants, 1981."""
    return lambda bore, reynolds: Hooper2K(bore / INCH, reynolds, name=row)


def three_k(row: str) -> Callable[[float, float], float]:
    """The same after Darby's table of three, 1999; its nominal size is taken as the bore."""
    return lambda bore, reynolds: Darby3K(NPS=bore / INCH, Re=reynolds, name=row)


def mesh_blevins(share: float, opening: float, speed: float, water: Water) -> float:
    """K on the speed in front of woven round wire of which a share is open: Blevins 1984 (`fluids.filters`)."""
    wire = opening * (1.0 / math.sqrt(share) - 1.0)
    return round_edge_screen(share, min(max(speed / share * wire / water.kinematic, 20.0), 400.0))


def plate_borda(form: str, share: float) -> float:
    """K on the speed in front of a plate with slots or holes: Borda's loss behind jets that have contracted by Weisbach's
    formula, 0.63 + 0.37 share^3."""
    return (1.0 / ((0.63 + 0.37 * share**3) * share) - 1.0) ** 2


def foam_lacroix(pores: float, void: float, speed: float, water: Water) -> float:
    """Pressure a metre in Pa/m: cubic cells with struts as spheres of one and a half their width in Ergun's equation,
    Lacroix et al. 2007; windows of one inch over the pores per inch."""
    ratio = math.sqrt(4.0 / (3.0 * math.pi) * (1.0 - OPEN_FOAM))
    grain = 1.5 * ratio / (1.0 - ratio) / pores
    slow = 150.0 * (1.0 - OPEN_FOAM) ** 2 / (void**3 * grain**2) * water.viscosity * speed
    return slow + 1.75 * (1.0 - OPEN_FOAM) / (void**3 * grain) * water.density * speed**2


OPEN_FOAM = 0.97
"""Void of open-cell foam: 97 to 98 % (Design News, 25 November 1964)."""


def fibre_jackson(width: float, solid: float) -> float:
    """Permeability in m2 of a mat of fibres that lie all ways: Jackson and James 1986."""
    return (width / 2.0) ** 2 * 3.0 / (20.0 * solid) * (-math.log(solid) - 0.931)


def grains_kta(size: float, void: float, speed: float, water: Water) -> float:
    """Pressure a metre in Pa/m of grains: KTA 3102.3, 1981."""
    return KTA(dp=size, voidage=void, vs=speed, rho=water.density, mu=water.viscosity)


def rings_carman(size: float, void: float, speed: float, water: Water) -> float:
    """Pressure a metre in Pa/m of rings: Carman 1937, the size that of spheres with their surface."""
    return Carman(dp=size, voidage=void, vs=speed, rho=water.density, mu=water.viscosity)


def tee_gardel(share: float, run: float, side: float, joining: bool) -> tuple[float, float]:
    """K of the straight way and of that by the side of a sharp tee of 90 degrees, on the whole flow in the run: Gardel 1957,
    from memory; ``share`` of the flow goes by the side."""
    rest, mixed, area = 1.0 - share, share * (1.0 - share), (side / run) ** 2
    if joining:
        by_side = -0.92 * rest**2 + share**2 * (1.2 - 0.8 * (1.0 - 1.0 / area**2)) + (2.0 - area) * mixed
        return 0.03 * rest**2 + share**2 * (0.62 + 0.38 * (1.0 - area)) + (2.0 - area) * mixed, by_side
    by_side = 0.95 * rest**2 + share**2 * (1.0 + (0.4 - 0.1 * area) / area**2) + 0.4 * mixed * (1.0 + 1.0 / area)
    return 0.03 * rest**2 + 0.35 * share**2 - 0.2 * mixed, by_side


def friction_churchill(reynolds: float, bore: float, rough: float = DRAWN_TUBE_M) -> float:
    """Darcy's factor by Churchill 1977."""
    return Churchill_1977(reynolds, rough / bore)


def coil_ito(reynolds: float, bore: float, coil: float) -> float:
    """Ito 1959, over its own straight term."""
    straight = 0.304 * reynolds**-0.25
    return 1.0 + 0.029 * math.sqrt(bore / coil) / straight


def contraction_crane(wide: float, narrow: float, reynolds: float) -> float:
    """Crane TP-410."""
    return contraction_sharp(wide, narrow, method="Crane")


def contraction_hooper(wide: float, narrow: float, reynolds: float) -> float:
    """Hooper 1988."""
    return contraction_sharp(wide, narrow, Re=reynolds, fd=friction_clamond(reynolds, narrow), method="Hooper")


def contraction_idelchik(wide: float, narrow: float, reynolds: float) -> float:
    """Idelchik, 3rd edition, diagram 4-9."""
    return 0.5 * (1.0 - (narrow / wide) ** 2) ** 0.75


def expansion_borda(narrow: float, wide: float, reynolds: float) -> float:
    """Borda and Carnot."""
    return (1.0 - (narrow / wide) ** 2) ** 2


def entrance_crane(bore: float) -> float:
    """Crane TP-410."""
    return entrance_sharp(method="Crane")


def bend_rennels(bore: float, radius: float, reynolds: float) -> float:
    """Rennels and Hudson 2012, less friction along the arc."""
    friction = friction_clamond(reynolds, bore)
    whole = bend_rounded(bore, 90.0, fd=friction, rc=radius, method="Rennels")
    return whole - friction * math.pi / 2.0 * radius / bore


def crane(factor: float) -> Callable[[float, float], float]:
    """K by the bore: so many times Crane's factor of turbulent friction, TP-410 (2009)."""
    return lambda bore, _: factor * ft_Crane(bore)


def threaded_handbook(bore: float, reynolds: float) -> float:
    """Screwed elbows of a quarter turn: table 3.8 of the HVAC Pump Handbook (2006)."""
    return float(np.interp(bore, (0.0158, 0.0209, 0.0266), (2.10, 1.70, 1.50)))


def mesh_idelchik(share: float, opening: float, speed: float, water: Water) -> float:
    """Idelchik's diagram 8-6."""
    return 1.3 * (1.0 - share) + (1.0 / share - 1.0) ** 2


def plate_handbook(form: str, share: float) -> float:
    """Idelchik's diagram 4-14 for holes, Blevins 1984 for slots."""
    shut = 1.0 - share
    return square_edge_grill(share) if form == "slots" else (shut + 0.707 * shut**0.375) ** 2 / share**2


def fibre_davies(width: float, solid: float) -> float:
    """Davies 1952."""
    return width**2 / (64.0 * solid**1.5 * (1.0 + 56.0 * solid**3))


def grains_ergun(size: float, void: float, speed: float, water: Water) -> float:
    """Ergun 1952."""
    return Ergun(dp=size, voidage=void, vs=speed, rho=water.density, mu=water.viscosity)


def tee_crane(share: float, run: float, side: float, joining: bool) -> tuple[float, float]:
    """Crane TP-410 (2009)."""
    laws = (K_run_converging_Crane, K_branch_converging_Crane) if joining else (K_run_diverging_Crane, K_branch_diverging_Crane)
    straight, by_side = (law(run, side, 1.0 - share, share) for law in laws)
    return straight, by_side


Turn = Callable[[float, float], float]
Steps = Callable[[float, float, float], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Laws:
    """One law of each sort."""

    friction: Callable[[float, float, float], float]
    coil: Steps
    contraction: Steps
    expansion: Steps
    entrance: Callable[[float], float]
    bend: Steps
    elbow_90: Turn
    elbow_45: Turn
    swept: Turn
    threaded: Turn
    valve: Turn
    gate: Turn
    flap: Turn
    tee: Callable[[float, float, float, bool], tuple[float, float]]
    plate: Callable[[str, float], float]
    mesh: Callable[[float, float, float, Water], float]
    fibre: Callable[[float, float], float]
    grains: Callable[[float, float, float, Water], float]
    rings: Callable[[float, float, float, Water], float]
    regain: float
    """Share of the velocity head that comes back as pressure as the water in a spray bar slows down."""
    film_to_ends: bool
    """Whether a film reaches to the ends of hoses and fittings, or leaves the joints as clean as new."""


OTHER = Laws(
    friction=friction_clamond,
    coil=coil_schmidt,
    contraction=contraction_rennels,
    expansion=expansion_hooper,
    entrance=entrance_rennels,
    bend=bend_miller,
    elbow_90=two_k("Elbow, 90°, Standard (R/D = 1), Flanged/welded"),
    elbow_45=two_k("Elbow, 45°, Standard (R/D = 1), All types"),
    swept=two_k("Elbow, 90°, Long-radius (R/D = 1.5), All types"),
    threaded=three_k("Elbow, 90°, threaded, standard, (r/D = 1)"),
    valve=two_k("Valve, Gate, Full line size, Beta = 1"),
    gate=two_k("Valve, Gate, Full line size, Beta = 1"),
    flap=two_k("Valve, Check, Swing"),
    tee=tee_gardel,
    plate=plate_borda,
    mesh=mesh_blevins,
    fibre=fibre_jackson,
    grains=grains_kta,
    rings=rings_carman,
    regain=1.0,
    film_to_ends=True,
)
"""A moulded elbow has no threads inside, so it stands in Hooper's row of those without; a ball valve of full bore stands in
that of the gate valve. (The row of `fluids` that calls itself the screwed elbow of 45 degrees is that of a return bend.)"""

PROGRAMS = Laws(
    friction=friction_churchill,
    coil=coil_ito,
    contraction=contraction_idelchik,
    expansion=expansion_borda,
    entrance=entrance_crane,
    bend=bend_rennels,
    elbow_90=crane(30.0),
    elbow_45=crane(16.0),
    swept=crane(14.0),
    threaded=two_k("Elbow, 90°, Standard (R/D = 1), Screwed"),
    valve=crane(3.0),
    gate=crane(8.0),
    flap=crane(100.0),
    tee=tee_crane,
    plate=plate_handbook,
    mesh=mesh_idelchik,
    fibre=fibre_davies,
    grains=grains_ergun,
    rings=grains_ergun,
    regain=0.7,
    film_to_ends=False,
)

NAMED: Mapping[str, Mapping[str, Any]] = MappingProxyType(
    {
        "contraction": {
            "Crane": contraction_crane,
            "Idelchik": contraction_idelchik,
            "Rennels": contraction_rennels,
            "Hooper": contraction_hooper,
        },
        "expansion": {"Borda-Carnot": expansion_borda, "Hooper": expansion_hooper},
        "bend": {"Rennels": bend_rennels},
        "threaded": {
            "Crane": crane(30.0),
            "Darby": three_k("Elbow, 90°, threaded, standard, (r/D = 1)"),
            "HVAC Pump Handbook": threaded_handbook,
            "Hooper": two_k("Elbow, 90°, Standard (R/D = 1), Screwed"),
        },
    }
)
"""Laws of fittings by the names that the program has for them, as far as it may take one or another."""
