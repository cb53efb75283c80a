"""What a keeper calls a medium, as the keys of a tray in a rig file."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from optimizer.files.rig_writer import Cell
from optimizer.model.parts import Medium
from optimizer.physics.media import SURFACES, grain_surface_m2m3

__all__ = ["tray_table"]

FINEST_BIOLOGICAL_PPI = 30.0
"""Finer foam clogs and is thrown out too often to house bacteria (common practice, no published source)."""

BALL_M, GRAIN_VOID = 8e-3, 0.45

_FOAMS = {float(name.split()[1]): (prior.low_m2m3 + prior.high_m2m3) / 2.0 for name, prior in SURFACES.items() if "foam" in name}

MEDIA: Mapping[str, Mapping[str, Cell]] = {
    "empty": {"empty": True},
    # ceramic rings of 15 mm: voids 0.62 to 0.74, outer surface alone (handbook range, from memory)
    "rings": {"form": "rings", "surface": "370 m2/m3", "void": "64 %", "area": "370 m2/m3", "biological": True},
    # size and voids: common practice, no published source
    "balls": {
        "form": "granules",
        "grain": "8 mm",
        "void": "45 %",
        "area": f"{float(grain_surface_m2m3(BALL_M, GRAIN_VOID)):.0f} m2/m3",
        "biological": True,
    },
    "carbon": {"form": "granules", "grain": "3 mm", "void": "45 %"},
    "floss": {"form": "fibre", "fibre": "30 um", "solid": "6 %", "mechanical": True},
}
"""Media by their names, with surfaces that count no pores inside the grains."""


def tray_table(medium: object) -> Mapping[str, Cell]:
    """Return the keys of a tray with a medium of the catalog, or with one of the words that an interview knows.

    Surfaces of foam are the middle of `optimizer.physics.media.SURFACES`, in a straight line between its pores per inch.

    >>> tray_table("foam 20 ppi")["area"], tray_table("empty")
    ('1100 m2/m3', {'empty': True})
    """
    if isinstance(medium, Medium):
        return {"medium": medium.id}
    word = str(medium)
    if not word.startswith("foam "):
        return MEDIA[word] if word == "empty" else {"name": word, **MEDIA[word]}
    pores = float(word.split()[1])
    table: dict[str, Cell] = {"name": word, "form": "foam", "pores": f"{pores:g} ppi"}
    table["area"] = f"{float(np.interp(pores, list(_FOAMS), list(_FOAMS.values()))):.0f} m2/m3"
    return {**table, "mechanical": True, "biological": pores <= FINEST_BIOLOGICAL_PPI}
