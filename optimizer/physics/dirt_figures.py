"""The numbers that dirt over time rests on, as data: value, range and who says so. Most are priors, and said to be."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

AUTHORS = "prior of the authors"
PRACTICE = "common practice, no published source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One number, the range it may lie in (P10 to P90) in the same unit, and its source. Raises ValueError when not in order.

    >>> Figure(value=1.0, low=0.5, high=2.0, unit="1/h", source="example").spread
    2.0
    """

    value: float
    low: float
    high: float
    unit: str
    source: str

    def __post_init__(self) -> None:
        if not 0.0 < self.low <= self.value <= self.high:
            raise ValueError("a figure lies within its own range, above zero")

    @property
    def spread(self) -> float:
        """The greater of the two ratios between the value and the ends of its range."""
        return max(self.value / self.low, self.high / self.value)


SOLIDS, SETTLING, SLUDGE, CAPTURE, FULL = "solids", "settling", "sludge", "capture", "full"
SOLIDS_SIZE, PORE, CAKE, CAKE_MOST = "solids size", "pore", "cake", "cake most"
COVER, SCRAP, MOST_BLOCKED = "cover", "scrap", "most blocked"
FILM_MOST, FILM_DAYS, FOULED_MOST, FOULED_DAYS = "film most", "film days", "fouled most", "fouled days"
NITRIFICATION, MEDIA_AREA = "nitrification", "media area"
FEEDING, PROTEIN, DEBRIS = "feeding", "protein", "debris"

DIRT_FIGURES: Mapping[str, Figure] = MappingProxyType(
    {
        SOLIDS: Figure(
            value=0.25,
            low=0.2,
            high=0.35,
            unit="kg of dry solids per kg of feed",
            source="Timmons and Ebeling, Recirculating Aquaculture; range from memory",
        ),
        SETTLING: Figure(
            value=0.5,
            low=0.2,
            high=1.5,
            unit="1/h, share of the drifting solids that settles in the tank and stays there",
            source=f"{AUTHORS}: at two to four turnovers an hour most of what is fed ends in the filter, the rest in the gravel",
        ),
        SLUDGE: Figure(
            value=0.0125,
            low=0.008,
            high=0.020,
            unit="m3 of wet sludge per kg of dry solids",
            source="1.25 g of dry solids are 10 to 25 ml of sludge (from memory); value: the geometric mean",
        ),
        CAPTURE: Figure(
            value=2.0e-3,
            low=1.0e-3,
            high=4.0e-3,
            unit="filter coefficient times the root of the permeability",
            source=f"{AUTHORS}: 6 cm of 20 ppi foam then stop about a quarter of the solids in one pass, of loose floss most",
        ),
        FULL: Figure(
            value=0.8,
            low=0.6,
            high=0.9,
            unit="share of the pores at which a medium catches nothing more",
            source=f"{AUTHORS}: by the cubic law a full medium then keeps 1/125 of its permeability; a clogged one about 1/100",
        ),
        SOLIDS_SIZE: Figure(
            value=0.2e-3,
            low=0.08e-3,
            high=0.5e-3,
            unit="m, typical size of the solids that fish and food make",
            source=f"{AUTHORS}: half of the mass then is finer than 0.1 mm, where recirculating aquaculture draws the line to "
            "what settles (from memory), and a tenth is coarser than 1 mm",
        ),
        PORE: Figure(
            value=3.0,
            low=2.0,
            high=6.0,
            unit="size of the dirt that just passes a medium over the root of its permeability",
            source=f"{AUTHORS}: pores of reticulated foam by their count come to 2.6 to 6 (25.4 mm over the pores in an inch), "
            "the gap between touching grains, 0.155 of their size (Herzig and others, 1970, from memory), to 4.5",
        ),
        CAKE: Figure(
            value=1.0e-11,
            low=0.3e-11,
            high=4e-11,
            unit="m2, permeability of the cake on the face of a medium",
            source=f"{AUTHORS}: a specific resistance of 1.3e9 m/kg, loose flocs; sludges under pressure have 1e10 and more "
            f"(from memory). Foam then costs a tenth of the flow after months, a sponge guard after weeks ({PRACTICE})",
        ),
        CAKE_MOST: Figure(
            value=20e-3,
            low=10e-3,
            high=40e-3,
            unit="m, thickness of a cake at most",
            source=f"{AUTHORS}: a tray is 4 to 8 cm high; a thicker mat tears, slides off, or is passed along its edge",
        ),
        COVER: Figure(
            value=5.0,
            low=2.0,
            high=12.0,
            unit="m2 of openings shut per kg of dry debris",
            source=f"{AUTHORS}: leaves side by side cover 20 to 50 m2/kg (from memory); on a guard they lie folded",
        ),
        SCRAP: Figure(
            value=1.2e-3,
            low=0.6e-3,
            high=3.0e-3,
            unit="m, typical size of drifting debris",
            source=f"{AUTHORS}: guards of 0.8 mm want cleaning every week, slots of 3 mm every few weeks ({PRACTICE})",
        ),
        MOST_BLOCKED: Figure(
            value=0.98,
            low=0.95,
            high=0.995,
            unit="share of the openings of a guard at most",
            source=f"{AUTHORS}: a mat of debris still leaks",
        ),
        FILM_MOST: Figure(
            value=0.8e-3,
            low=0.4e-3,
            high=1.5e-3,
            unit="m, thickness of an old film",
            source=f"{AUTHORS}: where growth and what the water tears off balance",
        ),
        FILM_DAYS: Figure(
            value=60.0,
            low=30.0,
            high=120.0,
            unit="days",
            source=f"{AUTHORS}: half of an old film after six weeks, when new hose wants its first brush ({PRACTICE})",
        ),
        FOULED_MOST: Figure(
            value=0.10, low=0.04, high=0.20, unit="share of the speed that a foul impeller loses", source=AUTHORS
        ),
        FOULED_DAYS: Figure(value=90.0, low=45.0, high=180.0, unit="days", source=AUTHORS),
        NITRIFICATION: Figure(
            value=0.3,
            low=0.15,
            high=0.6,
            unit="g of ammonia nitrogen per m2 and day at 24 degC",
            source="bead filters 0.30 (Malone and Beecher 2000, from memory), design range 0.2 to 1.0; lower where there is as "
            "little ammonia as in a display tank",
        ),
        MEDIA_AREA: Figure(
            value=1.0,
            low=0.65,
            high=1.5,
            unit="surface that bacteria use over the stated one",
            source=f"{AUTHORS}: figures for one sort of foam differ by 1.3 to 1.4 either way, makers' own by 3.7 in all",
        ),
        FEEDING: Figure(
            value=0.015,
            low=0.006,
            high=0.03,
            unit="kg of feed per day and m3 of net volume, when the rig does not say",
            source=PRACTICE,
        ),
        PROTEIN: Figure(value=0.42, low=0.35, high=0.5, unit="protein in the feed, when the rig does not say", source=PRACTICE),
        DEBRIS: Figure(
            value=0.3e-3,
            low=0.05e-3,
            high=1.5e-3,
            unit="kg of dry debris per day and m3 of net volume, when the rig does not say",
            source=f"{AUTHORS}: shuts 7 cm2 of 0.8 mm openings to nine tenths within about two weeks at 200 l",
        ),
    }
)
"""All figures by name."""


def figure(name: str) -> float:
    """Return the value of a figure, in the unit it states. Raises KeyError for an unknown name.

    >>> figure("solids")
    0.25
    """
    return DIRT_FIGURES[name].value
