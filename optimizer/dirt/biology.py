"""Surface that bacteria need for the feeding against what the media have, with what is not known about either."""

import math
from collections.abc import Sequence

from optimizer.dirt.daily import Daily
from optimizer.dirt.laws import USUAL, Laws
from optimizer.model.media_plan import BioSurface
from optimizer.model.parts import Canister
from optimizer.model.rig import Tray
from optimizer.physics.dirt_figures import DIRT_FIGURES, MEDIA_AREA, NITRIFICATION, Figure
from optimizer.physics.feeding import warmth_factor
from optimizer.physics.media import ammonia_g_day, biological_area_m2

Z90 = 1.2815515655446004
"""Standard normal deviate that a tenth of all cases exceed."""


def need_m2(daily: Daily, temperature_c: float, laws: Laws = USUAL) -> float:
    """Surface that bacteria need in m2: `biological_area_m2` at the rate for the temperature.

    At 24 degC, or by the warmth law "none", it is what the rig reader takes as the least surface.
    """
    rate = DIRT_FIGURES[NITRIFICATION].value * float(warmth_factor(laws.warmth, temperature_c))
    return float(biological_area_m2(daily.feed_kg_day, daily.protein_share, rate))


def have_m2(trays: Sequence[Tray], canister: Canister) -> float:
    """Surface for bacteria in a stack in m2; only media meant for it count."""
    media = [tray.medium for tray in trays if tray.medium is not None and tray.medium.biological]
    return sum(medium.area_m2m3 for medium in media) * canister.tray_volume_m3


def biological_floor(
    daily: Daily, temperature_c: float, trays: Sequence[Tray], canister: Canister, laws: Laws = USUAL
) -> BioSurface:
    """Need against stock: enough, or too little, when nine in ten cases say so. Rate and surface are taken as lognormal and
    independent, with the ranges of their figures."""
    rate, stated = DIRT_FIGURES[NITRIFICATION], DIRT_FIGURES[MEDIA_AREA]
    need, have = need_m2(daily, temperature_c, laws), have_m2(trays, canister)
    sigma = math.hypot(_sigma(rate), _sigma(stated))
    if have <= 0.0 or need <= 0.0:
        enough = float(need <= 0.0)
    else:
        enough = 0.5 * (1.0 + math.erf(math.log(have / need) / sigma / math.sqrt(2.0)))
    return BioSurface(
        ammonia_g_day=float(ammonia_g_day(daily.feed_kg_day, daily.protein_share)),
        need_m2=need,
        need_low_m2=need / rate.spread,
        need_high_m2=need * rate.spread,
        have_m2=have,
        have_low_m2=have / stated.spread,
        have_high_m2=have * stated.spread,
        enough=enough,
        verdict="enough" if enough >= 0.9 else "too little" if enough <= 0.1 else "not sure",
    )


def _sigma(figure: Figure) -> float:
    """Standard deviation of the logarithm: the wider side of the range stands for both."""
    return math.log(figure.spread) / Z90
