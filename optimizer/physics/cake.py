"""The cake on the face of a layer: what is too coarse for its pores lies in front of them, beside what is caught in its depth.

Surface and depth filtration go on side by side. Grains of dirt above some share of the size of a grain or pore are held on the
face, finer ones go into the bed: Herzig, Leclerc and Le Goff, Ind. Eng. Chem. 62 (1970) 8-35, with 0.155 for the gap between
three touching grains. A cake then costs head in proportion to its mass and to the flow: Ruth, Ind. Eng. Chem. 27 (1935) 708-723
and 806-816; Carman, Trans. Inst. Chem. Eng. 16 (1938) 168-188; the textbooks of Tien (Granular Filtration of Aerosols and
Hydrosols, 1989; Introduction to Cake Filtration, 2006). All from memory. The heads here are some decimetres, so that a cake is
taken to keep its permeability as it grows (no compression), and not to filter finer than what it lies on. All arguments are
floats or arrays that broadcast.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from optimizer.physics.arrays import Floats
from optimizer.physics.media import layer_coefficients


def cake_coefficient(
    thickness_m: Floats, area_m2: Floats, permeability_m2: float, density_kgm3: Floats, viscosity_pas: Floats
) -> Floats:
    """Return a in s/m2 of h = a Q of a cake: mu t / (k A rho g), Darcy's law, as Ruth (1935) has it for cakes.

    `thickness_m` t >= 0 and `area_m2` A > 0 in m and m2, `permeability_m2` k > 0; `density_kgm3` and `viscosity_pas` are those
    of the water.

    >>> round(float(cake_coefficient(2e-3, 0.03, 1.5e-11, 997.3, 0.91e-3)) * 800e-3 / 3600, 3)
    0.092
    """
    linear, _ = layer_coefficients(permeability_m2, 0.0, thickness_m, area_m2, density_kgm3, viscosity_pas)
    return linear


def specific_resistance_mkg(permeability_m2: float, wet_m3kg: float) -> float:
    """Return the specific resistance alpha in m/kg of dp = mu alpha w V, w the dry mass on the face: wet volume over k.

    `permeability_m2` k > 0 in m2, `wet_m3kg` the volume of wet cake per dry kg. What textbooks state of a cake.

    >>> f"{specific_resistance_mkg(1.5e-11, 0.0125):.1e}"
    '8.3e+08'
    """
    return wet_m3kg / permeability_m2


def cake_thickness_m(dry_kg: Floats, area_m2: Floats, wet_m3kg: float) -> Floats:
    """Return the thickness in m of a cake of `dry_kg` >= 0 on a face of `area_m2` > 0, with `wet_m3kg` of wet cake per dry kg.

    >>> round(float(cake_thickness_m(5e-3, 0.03, 0.0125)) * 1e3, 2)
    2.08
    """
    thickness: Floats = np.asarray(dry_kg * wet_m3kg / area_m2)[()]
    return thickness


def pore_opening_m(permeability_m2: Floats, roots: float) -> Floats:
    """Return the size in m of the grains of dirt that just pass the pores of a medium: `roots` times sqrt(K).

    `permeability_m2` K > 0 is that of the clean medium. One number for all media, since both the pores and the root of K are
    lengths of the same bed: see `dirt_figures.PORE`.

    >>> round(float(pore_opening_m(8.5e-8, 3.0)) * 1e3, 2)
    0.87
    """
    opening: Floats = (roots * np.sqrt(permeability_m2))[()]
    return opening


def _sieved(sizes: Floats) -> Floats:
    share: Floats = np.exp(-np.sqrt(sizes))
    return share


def _passing(sizes: Floats) -> Floats:
    return np.zeros_like(np.asarray(sizes, dtype=float))


STRAINING_LAWS: Mapping[str, Callable[[Floats], Floats]] = MappingProxyType({"sieve": _sieved, "none": _passing})
"""Share of the solids that is coarser than a size over the typical one, by name of the law."""


def coarser_share(law: str, size_m: Floats, typical_m: float) -> Floats:
    """Return the share of the solids, by mass, that is coarser than a size and so stays on a face with such pores. `law` is

    - "sieve": exp(-sqrt(size / typical)), the form of Rosin and Rammler (1933, from memory) with an exponent of one half: most
      of the mass is fine, with a long coarse tail, as solids of fish tanks are. A prior of the authors, as is the typical size;
    - "none": 0, so that no cake forms and all that is caught lies in the depth of the media.

    `size_m` >= 0 (inf: none is) and `typical_m` > 0 in m. Raises ValueError for another law.

    >>> round(float(coarser_share("sieve", 0.1e-3, 0.2e-3)), 3), round(float(coarser_share("sieve", 1.1e-3, 0.2e-3)), 3)
    (0.493, 0.096)
    """
    if law not in STRAINING_LAWS:
        raise ValueError(f"no straining law {law!r}; laws are {', '.join(STRAINING_LAWS)}")
    share: Floats = np.asarray(STRAINING_LAWS[law](np.asarray(size_m) / typical_m), dtype=float)[()]
    return share


def kept_by_faces(coarser: Floats, before: Floats) -> Floats:
    """Return the share of all dirt that each face of a stack keeps: what its pores stop less what a finer face before stopped.

    `coarser` (stacks, layers) is the share coarser than the pores of each layer, in the order of the water, `before` (stacks,)
    the same of what stands in front of the stack. Never below 0, and together at most the greatest of them.

    >>> kept_by_faces(np.array([[0.1, 0.05, 0.5]]), np.array([0.02])).round(2).tolist()
    [[0.08, 0.0, 0.4]]
    """
    here = np.asarray(coarser, dtype=float)
    up_to = np.maximum.accumulate(np.concatenate([np.asarray(before, dtype=float)[:, None], here], axis=1), axis=1)
    kept: Floats = np.diff(up_to, axis=1)
    return kept
