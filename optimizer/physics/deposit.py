"""Solids caught in a filter layer: how much, how deep, and what that leaves of the permeability.

The filter coefficient falls in proportion to what is held already: dC/dz = -lambda (1 - s/s_full) C, ds/dt = catch. That is
the law of Bohart and Adams (J. Am. Chem. Soc. 42 (1920) 523-544) and, for deep-bed filters, of Maroudas and Eisenklam
(Chem. Eng. Sci. 20 (1965)); both from memory. It has a closed form in two pure numbers: the *passage* X = lambda L of a
layer, and the *load* T = lambda M / (A s_full), with M the mass that has entered it over its area A and s_full what a volume
of bed can hold. The closed form holds however the concentration came and went, and composes: what leaves one layer is what
enters the next.
"""

import numpy as np

from optimizer.physics.arrays import Floats
from optimizer.physics.media import CLOGGING_LAWS, bed_clogging_factor

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
DEPTHS = 0.5 * (_NODES + 1.0)
DEPTH_WEIGHTS = 0.5 * _WEIGHTS
"""Gauss and Legendre points over the depth of a layer."""

DEEPEST = 500.0
"""A passage beyond which not even the last bit of the solids gets through."""


def filter_coefficient_1m(permeability_m2: Floats, capture: Floats) -> Floats:
    """Return the filter coefficient in 1/m of a clean medium: capture / sqrt(K).

    `permeability_m2` K > 0 in m2, `capture` without unit. The scale of the pores goes with the root of the
    permeability, and a clean bed's coefficient with one over that scale; the number is a prior (`CAPTURE`).

    >>> round(float(filter_coefficient_1m(1.4e-7, 2e-3)), 2)
    5.35
    """
    coefficient: Floats = capture / np.sqrt(permeability_m2)
    return coefficient


THIN = 1e-4
"""Passage below which a layer holds what its middle does: there the difference of loads is lost in rounding."""


def caught_share(load: Floats, passage: Floats) -> Floats:
    """Return the share of the solids in the water that a layer keeps in one pass, 1 - exp(-X) when clean.

    `load` T >= 0 and `passage` X >= 0, without unit: (e^X - 1) / (e^X - 1 + e^T). Falls with the load, to 0.

    >>> round(float(caught_share(0.0, 0.3)), 4), float(caught_share(5.0, 0.3)) < 0.01
    (0.2592, True)
    """
    deep = np.minimum(passage, DEEPEST)
    held = -np.expm1(-deep)
    share: Floats = (held / (held + np.exp(np.clip(load - deep, -DEEPEST, DEEPEST))))[()]
    return share


def passed_load(load: Floats, passage: Floats) -> Floats:
    """Return the load that has gone on out of a layer: ln(1 + (e^T - 1) e^-X), between 0 and T.

    `load` T >= 0 that has entered, `passage` X >= 0; all without unit, on the scale of this layer.

    >>> round(float(passed_load(1.0, 0.3)), 4), float(passed_load(1.0, 0.0))
    (0.8211, 1.0)
    """
    deep = np.minimum(passage, DEEPEST)
    small = np.log1p(np.expm1(np.minimum(load, 30.0)) * np.exp(-deep))
    with np.errstate(divide="ignore"):
        large = np.logaddexp(load - deep, np.log(-np.expm1(-deep)))
    passed: Floats = np.where(np.asarray(load) < 30.0, small, large)[()]
    return passed


def share_held(load: Floats, passage: Floats) -> Floats:
    """Return what a layer holds over what it can hold: (T - passed) / X, from 0 to below 1; 0 for a layer of no passage.

    `load` T >= 0 and `passage` X >= 0, without unit.

    >>> round(float(share_held(1.0, 0.3)), 4)
    0.5964
    """
    depth = np.where(np.asarray(passage) > 0.0, passage, 1.0)
    held = np.where(np.asarray(passage) > 0.0, (load - passed_load(load, passage)) / depth, 0.0)
    thin = (np.asarray(passage) > 0.0) & (np.asarray(passage) < THIN)
    share: Floats = np.clip(np.where(thin, share_held_at(load, 0.5 * np.asarray(passage)), held), 0.0, 1.0)[()]
    return share


def share_held_at(load: Floats, way: Floats) -> Floats:
    """Return what is held at a depth over what could be held there, from 0 to below 1, falling with the depth.

    `load` T >= 0; `way` x >= 0 is lambda times the depth: (e^T - 1) / (e^T - 1 + e^x).

    >>> round(float(share_held_at(1.0, 0.0)), 4), float(share_held_at(0.0, 0.2))
    (0.6321, 0.0)
    """
    risen = -np.expm1(-np.asarray(load, dtype=float))
    share: Floats = (risen / (risen + np.exp(np.clip(way - load, -DEEPEST, DEEPEST))))[()]
    return share


def layer_factor(law: str, load: Floats, passage: Floats, full: Floats, voidage: Floats = 0.4) -> Floats:
    """Return the permeability of a whole layer over that of the clean one: 1 when clean, falling with the load, never 0.

    `load` T >= 0 and `passage` X >= 0 without unit; `full` below 1 is the share of the pores that is filled
    where nothing more is caught; `law` one of `bed_clogging_factor`, `voidage` for the law that needs it. The
    slices of a layer stand in series, so its resistance is the mean of theirs. Raises ValueError for an
    unknown law.

    >>> round(float(layer_factor("cubic", 1.0, 0.3, 0.8)), 4), float(layer_factor("cubic", 0.0, 0.3, 0.8))
    (0.1421, 1.0)
    """
    load, passage = np.asarray(load, dtype=float), np.asarray(passage, dtype=float)
    way = np.minimum(passage, DEEPEST)[..., None] * DEPTHS
    filled = np.asarray(full)[..., None] * share_held_at(load[..., None], way)
    open_ = bed_clogging_factor(law, filled, np.asarray(voidage)[..., None])
    factor: Floats = (1.0 / np.sum(DEPTH_WEIGHTS / open_, axis=-1))[()]
    return factor


def load_of_factor(law: str, factor: Floats, passage: Floats, full: Floats, voidage: Floats = 0.4) -> Floats:
    """Return the load at which a layer has lost all but `factor` (0 to 1) of its permeability: the inverse of `layer_factor`.

    By bisection, since the factor falls with the load; a factor below that of a full layer gives a load that
    fills it. Other arguments as in `layer_factor`.

    >>> round(float(load_of_factor("cubic", layer_factor("cubic", 1.0, 0.3, 0.8), 0.3, 0.8)), 6)
    1.0
    """
    factor, passage = np.broadcast_arrays(np.asarray(factor, dtype=float), np.asarray(passage, dtype=float))
    low, high = np.zeros(factor.shape), np.minimum(passage, DEEPEST) + 40.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        under = np.asarray(layer_factor(law, middle, passage, full, voidage)) > factor
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    load: Floats = np.where(factor >= 1.0, 0.0, 0.5 * (low + high))[()]
    return load


def law_names() -> tuple[str, ...]:
    """Return the names of the laws that `layer_factor` knows.

    >>> law_names()
    ('cubic', 'doubling', 'proportional', 'kozeny')
    """
    return (*CLOGGING_LAWS, "kozeny")
