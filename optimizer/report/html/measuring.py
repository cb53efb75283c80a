"""How to measure before and after: how long a container takes to fill at each flow, so that a watch can tell them apart."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.model.dossiers import Dossier

__all__ = ["FillTime", "container_m3", "fill_times"]

LITRES_M3, GALLON_M3 = 0.01, 5 * 3.785411784e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class FillTime:
    """How long the container takes at the flow of one row, and at the ends of its band (0: there is none)."""

    row: str
    flow_m3s: float
    seconds: float
    fastest_s: float
    slowest_s: float


def container_m3(units: str) -> float:
    """The usual container: a bucket of 10 l, or of 5 US gallons."""
    return GALLON_M3 if units == "us" else LITRES_M3


def fill_times(dossier: Dossier, units: str) -> tuple[FillTime, ...]:
    """The times for every row of the verdict that flows."""
    result = dossier.result
    if result is None:
        return ()
    volume = container_m3(units)
    bands = {} if dossier.bands is None or dossier.bands.band is None else {line.name: line for line in dossier.bands.band.lines}
    if dossier.bands is not None and dossier.bands.now_band is not None:
        bands["now"] = dossier.bands.now_band
    found = []
    for row in (result.now, result.spend_nothing, result.best):
        if row is None or not row.flow_m3s > 0.0:
            continue
        band = bands.get(row.name)
        sound = band is not None and band.p10_m3s > 0.0 and band.p90_m3s > 0.0
        found.append(
            FillTime(
                row=row.name,
                flow_m3s=row.flow_m3s,
                seconds=volume / row.flow_m3s,
                fastest_s=volume / band.p90_m3s if band is not None and sound else 0.0,
                slowest_s=volume / band.p10_m3s if band is not None and sound else 0.0,
            )
        )
    return tuple(found)
