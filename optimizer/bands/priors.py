"""What is not known exactly about a loop: factors on the tool's own figures, each lognormal with median 1 and a named source.

A factor belongs to a part: the same part has the same factor in every bundle and at every place. Part of the scatter is
common to all parts of a kind (a formula that is too kind to small moulded fittings is so for all of them), the rest is the
part's own (its mould, its batch, its maker's label): ``common`` says how the variance is split.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from optimizer.bands.normal import quantiles
from optimizer.model import unknowns

Reals = NDArray[np.float64]

AUTHORS = "prior of the authors"
PRACTICE = "common practice, no published source"


FAR = 4.0
"""Standard deviations below the median from which on a lopsided factor falls by one rate: beyond, it would be nothing at all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """One sort of unknown. Its factor exceeds ``spread`` in a share of 1 - ``quantile`` of all cases, and falls short of
    1/``spread`` as often, or of 1/``spread_down`` where that is another (0: it is not). The median is 1 in either case: factors
    farther on one side than on the other make a band lopsided, never the figure that everything else goes by.

    ``group`` is what a keeper would call it, and what shares of the variance are told by; ``common`` from 0 to 1 is the
    share of the log variance that all parts have in common. Raises ValueError for a spread below 1 or shares out of range.
    Where the sides differ ln factor = a (1 - exp(-k z)) with z standard normal (the g distribution of Tukey, Exploratory Data
    Analysis, 1977, from memory), which has no kink; from `FAR` on it goes on straight, for fits that try far points.

    >>> round(Prior(name="x", group="x", scales="loss", spread=1.2, quantile=0.9, source="example").sigma, 4)
    0.1423
    """

    name: str
    group: str
    scales: str
    spread: float
    quantile: float
    source: str
    common: float = 0.5
    spread_down: float = 0.0

    def __post_init__(self) -> None:
        if not (1.0 <= self.spread < math.inf and (self.spread_down == 0.0 or 1.0 < self.spread <= self.spread_down < math.inf)):
            raise ValueError(f"the spread of {self.name} must be at least 1, but is {self.spread:g}")
        if not (0.5 < self.quantile < 1.0 and 0.0 <= self.common <= 1.0):
            raise ValueError(f"{self.name} needs a quantile above 0.5 and below 1 and a common share from 0 to 1")

    @property
    def sigma(self) -> float:
        """Standard deviation of the factor's natural logarithm, of the upper side where they differ: ln(spread) / z(quantile)."""
        return math.log(self.spread) / _distance(self.quantile)

    @property
    def _lopsided(self) -> tuple[float, float]:
        """a and k; 0 and 0 where both sides are alike."""
        if self.spread_down in (0.0, self.spread):
            return 0.0, 0.0
        ratio = math.log(self.spread_down) / math.log(self.spread)
        return math.log(self.spread) / (1.0 - 1.0 / ratio), math.log(ratio) / _distance(self.quantile)

    def log_factor(self, normal: Reals) -> Reals:
        """Natural logarithm of the factor at standard normal numbers of any shape.

        >>> label = Prior(name="x", group="x", scales="flow", spread=1.1, spread_down=1.21, quantile=0.9, source="example")
        >>> np.exp(label.log_factor(np.array([-1.2815516, 0.0, 1.2815516]))).round(4).tolist()
        [0.8264, 1.0, 1.1]
        """
        a, k = self._lopsided
        if not k:
            return np.asarray(self.sigma * normal, dtype=float)
        near = np.maximum(normal, -FAR)
        return np.asarray(a * -np.expm1(-k * near) + a * k * math.exp(k * FAR) * (normal - near), dtype=float)

    def normal(self, log_factor: float) -> float:
        """The standard normal number at which the factor has this logarithm; nothing lies beyond that of its upper end."""
        a, k = self._lopsided
        if not k:
            return log_factor / self.sigma if self.sigma else 0.0
        beyond = log_factor - a * -math.expm1(k * FAR)
        if beyond < 0.0:
            return beyond / (a * k * math.exp(k * FAR)) - FAR
        return -math.log1p(-min(log_factor / a, 1.0 - 1e-15)) / k


@cache
def _distance(quantile: float) -> float:
    """Standard deviations from the median to a quantile: every factor of every draw asks for it."""
    return float(quantiles(np.array(quantile)))


GRADE_3B_HEAD, GRADE_3B_FLOW = 1.07, 1.09
"""Tolerances of ISO 9906:2012 grade 3B, from memory. Small pumps are not tested at all, so they are a floor, read as P90:
one pump in five lies outside."""

_3B = "ISO 9906:2012 grade 3B tolerance (from memory) as a floor, read as P90"
_LABEL = (
    f"{AUTHORS}: above ISO 9906's allowance for small pumps, since no tolerance stands behind a retail label; its two ends are "
    "often not of one curve (one measured without the canister, or of another revision), and nobody prints less than was measured"
)
"""The median stays 1, though labels err upwards: clean loops of the usual kind deliver 0.33 to 0.72 of the label's flow with a
median of 0.50 (common practice, no published source), and the losses of a loop alone already bring the model there. A median
below 1 would take the same water off twice."""
_CAKE = f"{AUTHORS}: how dense a cake of flocs lies hangs on fish, food and flow; its thickness is judged by eye"

_ALL = (
    Prior(name=unknowns.PUMP_HEAD, group="pump curve", scales="head", spread=GRADE_3B_HEAD, quantile=0.9, source=_3B, common=0.2),
    Prior(name=unknowns.PUMP_FLOW, group="pump curve", scales="flow", spread=GRADE_3B_FLOW, quantile=0.9, source=_3B, common=0.2),
    Prior(
        name=unknowns.LABEL_HEAD,
        group="pump curve",
        scales="head",
        spread=1.10,
        spread_down=1.20,
        quantile=0.9,
        source=_LABEL,
        common=0.3,
    ),
    Prior(
        name=unknowns.LABEL_FLOW,
        group="pump curve",
        scales="flow",
        spread=1.15,
        spread_down=1.30,
        quantile=0.9,
        source=_LABEL,
        common=0.3,
    ),
    Prior(
        name=unknowns.LABEL_SHAPE,
        group="pump curve",
        scales="exponent of the curve between the label's two ends",
        spread=1.4,
        quantile=0.9,
        source=f"{AUTHORS}: small magnet-drive pumps lie between nearly straight lines (1) and flat curves that fall late (3): "
        "exponents from about 1.4 to 2.8 around 2",
        common=0.3,
    ),
    Prior(
        name=unknowns.LABEL_POWER,
        group="power drawn",
        scales="power",
        spread=1.25,
        quantile=0.9,
        source=f"{AUTHORS}: the label's watts are read as those at free flow; ISO 9906:2012 grade 3B allows tested pumps 9 % "
        "more (from memory), nothing stands behind those of a label",
        common=0.3,
    ),
    Prior(
        name=unknowns.SHUT_POWER,
        group="power drawn",
        scales="share of the power at free flow that is drawn at none",
        spread=1.25,
        quantile=0.9,
        source=f"{AUTHORS}: 0.56 to 0.88 around 0.7, the shaft's 0.45 of a radial pump (handbook value) with half of what goes "
        "in lost in the motor whatever it does",
        common=0.5,
    ),
    Prior(
        name=unknowns.FITTINGS,
        group="fittings",
        scales="loss",
        spread=1.4,
        quantile=0.9,
        source="spread of handbooks: a sharp contraction after Crane TP-410 loses a fifth less than after Idelchik, one from 16 "
        "to 12 mm after Rennels and Hudson (2012) a tenth more, one with a rounded edge about half; a thin tail that stands out "
        "of its wall 1.6 times a flush one (Crane TP-410)",
    ),
    Prior(
        name=unknowns.MOULDED_ELBOWS,
        group="fittings",
        scales="loss",
        spread=1.5,
        quantile=0.9,
        source="spread of handbooks: at 14 mm an elbow has 0.61 (Darby 1999), 0.78 (Hooper 1981), 0.79 (Crane TP-410) or, sharp "
        "inside, 1.20 (Rennels and Hudson 2012); a swept one 0.34 (Rennels), 0.37 (Crane) or 0.64 (Hooper)",
        common=0.7,
    ),
    Prior(
        name=unknowns.THREADED_ELBOWS,
        group="fittings",
        scales="loss",
        spread=1.7,
        quantile=0.9,
        source="spread of handbooks: at 14 mm 0.79 (Crane TP-410), 0.89 (Darby 1999), 1.21 (Hooper 1981), 2.10 (HVAC Pump "
        "Handbook 2006)",
        common=0.7,
    ),
    Prior(
        name=unknowns.OPEN_VALVES,
        group="fittings",
        scales="loss",
        spread=2.5,
        quantile=0.9,
        source="spread of handbooks: a ball valve of 12 mm has 0.08 (Crane TP-410), 0.12 (Darby 1999) or 0.34 (Hooper 1981)",
        common=0.7,
    ),
    Prior(
        name=unknowns.FITTING_BORES,
        group="bores of fittings",
        scales="diameter",
        spread=1.03,
        quantile=0.9,
        source=f"{PRACTICE}: moulded bores of 12 mm within about 0.3 mm",
        common=0.2,
    ),
    Prior(
        name=unknowns.HOSE_BORE,
        group="hose bore",
        scales="diameter",
        spread=1.05,
        quantile=0.95,
        source="EN ISO 1307:2008, hose made without a mandrel: 15.1 to 16.7 mm for 16 mm, 18.3 to 19.9 for 19 mm (as "
        "reprinted by a hose maker), read as P5 and P95",
        common=0.2,
    ),
    Prior(
        name=unknowns.HOSE_FRICTION,
        group="hose friction",
        scales="friction",
        spread=1.2,
        quantile=0.9,
        source=f"{AUTHORS}: measured smooth pipe scatters by 5 % (McKeon et al., J. Fluid Mech. 511, 2004, from memory), "
        "tables for hose give up to 1.5 times smooth pipe",
        common=0.7,
    ),
    Prior(name=unknowns.FILM, group="film in the hoses", scales="thickness", spread=1.8, quantile=0.9, source=AUTHORS),
    Prior(
        name=unknowns.MEDIA,
        group="media",
        scales="resistance (1 / permeability)",
        spread=1.6,
        quantile=0.9,
        source=f"{AUTHORS}: correlations for granular beds differ by 15 to 25 %, permeabilities of foam of one grade by 2",
    ),
    Prior(
        name=unknowns.FILLED_MEDIA,
        group="media",
        scales="resistance (1 / permeability)",
        spread=2.5,
        quantile=0.9,
        source=AUTHORS,
    ),
    Prior(
        name=unknowns.GUARD,
        group="guard",
        scales="loss",
        spread=1.3,
        quantile=0.9,
        source=f"{AUTHORS}: handbook values for screens and perforated plates differ by about that much",
    ),
    Prior(
        name=unknowns.BLOCKED_GUARD,
        group="guard",
        scales="loss",
        spread=2.0,
        quantile=0.9,
        source=f"{AUTHORS}: the blocked share is judged by eye",
    ),
    *(
        Prior(name=name, group=name, scales="resistance (thickness / permeability)", spread=3.0, quantile=0.9, source=_CAKE)
        for name in (unknowns.CAKE, unknowns.GUARD_CAKE)
    ),
    Prior(
        name=unknowns.OUTLET,
        group="outlet",
        scales="loss",
        spread=1.15,
        quantile=0.9,
        source="sharp holes have a discharge coefficient of 0.60 to 0.65, bevelled ones up to 0.80 (handbook values); the loss "
        "goes with its inverse square",
    ),
    Prior(
        name=unknowns.OUTLET_BORES,
        group="outlet",
        scales="diameter",
        spread=1.03,
        quantile=0.9,
        source=f"{PRACTICE}: holes of 3 to 4 mm within about 0.1 mm",
        common=0.2,
    ),
    Prior(
        name=unknowns.DEVICE,
        group="inline devices",
        scales="loss",
        spread=1.3,
        quantile=0.9,
        source=f"{PRACTICE}: makers give one rounded figure",
        common=0.2,
    ),
    Prior(
        name=unknowns.VALVE,
        group="non-return valves",
        scales="loss",
        spread=1.5,
        quantile=0.9,
        source=f"{AUTHORS}: small moulded flaps open less than the valves that Crane TP-410 is about",
    ),
    Prior(
        name=unknowns.VALVE_CRACK,
        group="non-return valves",
        scales="cracking head",
        spread=1.5,
        quantile=0.9,
        source=f"{PRACTICE}: makers give one rounded figure, and a spring or flap that is dirty opens later",
        common=0.2,
    ),
)

_ASSUMED: Mapping[str, tuple[float, str]] = MappingProxyType(
    {
        unknowns.FITTING_BORES: (1.12, "tails are bored 0.70 to 0.85 of their hose, threads 0.65 to 0.88 of their root"),
        unknowns.VALVE: (1.9, "a seat that is an eighth wider or narrower loses 1.6 times less or more"),
        unknowns.GUARD: (3.0, "1.5 times the face loses 2.3 times less, few openings twice as much as many"),
        unknowns.BLOCKED_GUARD: (3.5, "as of a clean one, and the blocked share is judged by eye"),
        unknowns.MEDIA: (3.0, "from 10 to 30 ppi, or from 5 to 12 mm of grain, a bed lets through three times less or more"),
        unknowns.FILLED_MEDIA: (4.0, "as of clean media, and how full they are is judged by eye"),
        unknowns.OUTLET_BORES: (1.25, "bars have 11 to 22 holes of 2.6 to 3.6 mm: as much as a quarter of the diameter"),
        unknowns.DEVICE: (2.5, "straight chambers lose one velocity head, those with turns and lamps six"),
        unknowns.VALVE_CRACK: (2.5, "flaps open at half a centimetre to two, springs at two to ten"),
        unknowns.LABEL_HEAD: (1.35, "pumps of one greatest flow have 0.75 to 1.35 times the usual greatest head"),
    }
)
"""Spread at P90 of what hangs on a figure that nobody stated (`model/usual_figures.py`), and why it is so."""


def _assumed(name: str, spread: float, why: str) -> Prior:
    stated = next(prior for prior in _ALL if prior.name == name)
    source = f"{PRACTICE}; nobody stated the figure: {why}"
    wider = max(spread, stated.spread_down)
    group = f"{unknowns.UNSTATED}{stated.group}"
    return replace(
        stated, name=unknowns.assumed(name), group=group, spread=spread, spread_down=wider, quantile=0.9, source=source
    )


PRIORS: Mapping[str, Prior] = MappingProxyType(
    {prior.name: prior for prior in (*_ALL, *(_assumed(name, *told) for name, told in _ASSUMED.items()))}
)
"""All priors by name. A calibration may hand in narrower ones for what has been measured."""
