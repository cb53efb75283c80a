"""All figures of a dossier, in the order of the page; those for which it holds no numbers are not there."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

from optimizer.model.dossiers import Dossier
from optimizer.report.figures import curves, fall, front, heads, jets, loop, pressure
from optimizer.report.figures.picture import Picture, label
from optimizer.report.measures import system

__all__ = ["NAMES", "album"]

_MAKERS = MappingProxyType(
    {
        "loop": loop.picture,
        "curves": curves.picture,
        "heads": heads.picture,
        "front": front.picture,
        "fall": fall.picture,
        "pressure": pressure.picture,
        "jets": jets.picture,
    }
)

NAMES = tuple(_MAKERS)

LONGEST_TITLE, LONGEST_DAY = 44, 10
"""Characters of the name of a tank and of a day that stand above a figure."""


def album(dossier: Dossier, units: str = "metric") -> dict[str, Picture]:
    """The figures by name. `units` is "metric" or "us"; raises ValueError for others. Draws nothing yet.

    >>> album(Dossier())
    {}
    """
    measures = system(units)
    found = ((name, make(dossier, measures)) for name, make in _MAKERS.items())
    return {name: replace(picture, of=_of(dossier)) for name, picture in found if picture is not None}


def _of(dossier: Dossier) -> str:
    """The tank, and the day of the answer."""
    day = "" if dossier.made is None else label(dossier.made.day, LONGEST_DAY)
    return ", ".join(filter(None, (label(dossier.leading.rig, LONGEST_TITLE), day)))
