"""Surface that bacteria need for the feeding against what the media have, with what is not known about either.

This is the one place where the need is made: `need_m2` with its rate at the temperature of the tank. What a search may leave
(`least_m2`) and what is said of a stack (`biological_floor`) both come from it. The need itself is a coin toss: of stacks that
have just as much, every second is too small. So a stack that is enough in nine cases of ten stays so, and from one that is not
nothing is taken away; only a stack below the need itself has to grow. What a search proposes is then never called worse than what
stood there.
"""

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
    """Surface that bacteria need in m2, as likely too small as too large: `biological_area_m2` at the rate for the
    temperature."""
    rate = DIRT_FIGURES[NITRIFICATION].value * float(warmth_factor(laws.warmth, temperature_c))
    return float(biological_area_m2(daily.feed_kg_day, daily.protein_share, rate))


def sure_m2(need: float) -> float:
    """Surface in m2 as stated that is enough for a ``need`` in nine cases of ten.

    >>> round(sure_m2(1.0), 2)
    2.26
    """
    return need * math.exp(Z90 * SIGMA)


def least_m2(need: float, have: float) -> float:
    """The least surface in m2 that a change of media may leave where there is ``have`` now: what is enough in nine cases of ten;
    where there is less, what there is; where there is less than the ``need``, that.

    >>> [round(least_m2(1.0, have), 2) for have in (5.0, 1.5, 0.5)]
    [2.26, 1.5, 1.0]
    """
    return max(need, min(sure_m2(need), have))


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
    if have <= 0.0 or need <= 0.0:
        enough = float(need <= 0.0)
    else:
        enough = 0.5 * (1.0 + math.erf(math.log(have / need) / SIGMA / math.sqrt(2.0)))
    return BioSurface(
        ammonia_g_day=float(ammonia_g_day(daily.feed_kg_day, daily.protein_share)),
        need_m2=need,
        need_low_m2=need / rate.spread,
        need_high_m2=need * rate.spread,
        have_m2=have,
        have_low_m2=have / stated.spread,
        have_high_m2=have * stated.spread,
        sure_m2=sure_m2(need),
        enough=enough,
        verdict="enough" if enough >= 0.9 - SAME else "too little" if enough <= 0.1 + SAME else "not sure",
    )


def _sigma(figure: Figure) -> float:
    """Standard deviation of the logarithm: the wider side of the range stands for both."""
    return math.log(figure.spread) / Z90


SIGMA = math.hypot(_sigma(DIRT_FIGURES[NITRIFICATION]), _sigma(DIRT_FIGURES[MEDIA_AREA]))
"""Standard deviation of the logarithm of what there is over what is needed."""

SAME = 1e-9
"""A stack that has just what is asked has it, whatever its last digit."""
