"""All figures of a dossier, in the order of the page; those for which it holds no numbers are not there."""

from __future__ import annotations

from types import MappingProxyType

from optimizer.model.dossiers import Dossier
from optimizer.report.figures import curves, fall, front, heads, jets, pressure
from optimizer.report.figures.picture import Picture
from optimizer.report.measures import system

__all__ = ["NAMES", "album"]

_MAKERS = MappingProxyType(
    {
        "curves": curves.picture,
        "heads": heads.picture,
        "front": front.picture,
        "fall": fall.picture,
        "pressure": pressure.picture,
        "jets": jets.picture,
    }
)

NAMES = tuple(_MAKERS)


def album(dossier: Dossier, units: str = "metric") -> dict[str, Picture]:
    """The figures by name. `units` is "metric" or "us"; raises ValueError for others. Draws nothing yet.

    >>> album(Dossier())
    {}
    """
    measures = system(units)
    found = ((name, make(dossier, measures)) for name, make in _MAKERS.items())
    return {name: picture for name, picture in found if picture is not None}
