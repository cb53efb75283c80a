"""Which law and which number is used for what: chosen by name, so that every answer can say what it rests on."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from optimizer.physics.cake import coarser_share
from optimizer.physics.deposit import law_names
from optimizer.physics.dirt_figures import (
    CAKE_MOST,
    CAPTURE,
    COVER,
    FILM_DAYS,
    FILM_MOST,
    FOULED_DAYS,
    FOULED_MOST,
    FULL,
    MOST_BLOCKED,
    PORE,
    SCRAP,
    SETTLING,
    SLUDGE,
    SOLIDS,
    SOLIDS_SIZE,
    figure,
)
from optimizer.physics.feeding import warmth_factor
from optimizer.physics.fouling import grown_share
from optimizer.physics.guards import blocked_share
from optimizer.physics.media import KOZENY_RANGE
from optimizer.physics.validity import outside

VOIDAGE: Mapping[str, float] = MappingProxyType({"foam": 0.97, "fibre": 0.94, "rings": 0.65, "granules": 0.43})
"""Share of voids by the form of a medium. Foam: 97 to 98 % (Design News, 25 November 1964); rings: 0.62 to 0.74 (Strigle, from
memory); granules: 0.38 to 0.48 in textbooks; fibre: middle of 0.87 to 0.98, prior of the authors."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Laws:
    """The laws by name and the numbers they use; defaults are the values of `DIRT_FIGURES`. Raises ValueError.

    ``clogging``: what a deposit leaves of the permeability; ``straining``: what stays on a face as cake; ``covering``: debris on
    a guard; ``film`` and ``fouling``: growth with time; ``warmth``: nitrification against temperature.

    >>> Laws(clogging="doubling").words[0].split(", ")[0]
    'media clog by the law "doubling"'
    """

    clogging: str = "cubic"
    straining: str = "sieve"
    covering: str = "overlap"
    film: str = "saturating"
    fouling: str = "saturating"
    warmth: str = "oxygen"
    solids_share: float = figure(SOLIDS)
    settling_1h: float = figure(SETTLING)
    sludge_m3kg: float = figure(SLUDGE)
    capture: float = figure(CAPTURE)
    full_share: float = figure(FULL)
    solids_size_m: float = figure(SOLIDS_SIZE)
    pore_roots: float = figure(PORE)
    cake_most_m: float = figure(CAKE_MOST)
    cover_m2kg: float = figure(COVER)
    scrap_m: float = figure(SCRAP)
    most_blocked: float = figure(MOST_BLOCKED)
    film_most_m: float = figure(FILM_MOST)
    film_days: float = figure(FILM_DAYS)
    fouled_most: float = figure(FOULED_MOST)
    fouled_days: float = figure(FOULED_DAYS)

    def __post_init__(self) -> None:
        if self.clogging not in law_names():
            raise ValueError(f"no clogging law {self.clogging!r}; laws are {', '.join(law_names())}")
        coarser_share(self.straining, 1e-3, 1e-3)
        blocked_share(self.covering, 0.0, self.most_blocked)
        grown_share(self.film, 0.0)
        grown_share(self.fouling, 0.0)
        warmth_factor(self.warmth, 24.0)
        if not (0.0 < self.full_share < 1.0 and 0.0 < self.most_blocked < 1.0 and 0.0 < self.fouled_most < 1.0):
            raise ValueError("shares that are the most there can be lie above 0 and below 1")
        sizes = (self.sludge_m3kg, self.capture, self.scrap_m, self.solids_size_m, self.pore_roots, self.cake_most_m)
        if not min(self.settling_1h, self.film_days, self.fouled_days, *sizes) > 0.0:
            raise ValueError("rates, sizes and times of dirt must be above zero")

    @property
    def words(self) -> tuple[str, ...]:
        """What the figures rest on, one line each."""
        kozeny = (_stood_in_for(),) if self.clogging == "kozeny" else ()
        return (
            f'media clog by the law "{self.clogging}", faces strain by "{self.straining}", guards clog by "{self.covering}", '
            f'films grow by "{self.film}", impellers foul by "{self.fouling}"',
            *kozeny,
        )


def _stood_in_for() -> str:
    """Which media the law "kozeny" is used for, and for which, outside its range, "cubic" stands in (`bed_clogging_factor`)."""
    fit = [form for form, voids in VOIDAGE.items() if not outside(KOZENY_RANGE, voids)]
    others = [form for form in VOIDAGE if form not in fit]
    low, high = KOZENY_RANGE.low * 100.0, KOZENY_RANGE.high * 100.0
    measured = f"the voids of the clean bed are outside the {low:.3g} to {high:.3g} % for which its law was measured"
    return f"the law kozeny is used for {', '.join(fit)} only; cubic for {', '.join(others)}, where {measured}"


USUAL = Laws()
"""The laws used when nothing else is asked for."""
