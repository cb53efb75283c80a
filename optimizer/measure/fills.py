"""Flow from a container and a stopwatch, with its uncertainty by the GUM (JCGM 100:2008).

    Q = V / t,   (u_Q / Q)^2 = (u_V / V)^2 + (u_A / t)^2 + (u_B / t)^2 + (dlnQ/dz u_z)^2 + u_anew^2

u_A = s / sqrt(n) from n repeats (type A, 4.2.3), rectangular limits a give a / sqrt(3) (type B, 4.3.7). The interval that
holds 95 % takes Student's factor at the effective degrees of freedom (Welch and Satterthwaite, annex G).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import fmean, stdev

from scipy.special import ndtri, stdtrit

from optimizer.model.fill import HOSE_OFF, OUTLET_OFF, TAKEN_OFF, VOLUME_SHARE, TimedFill, above
from optimizer.model.measuring import MeasuredFlow, UncertaintyLine
from optimizer.model.said import Quantity, Said

REACTION_LIMIT_S = 0.2
"""Half-width of what starting and stopping the watch may be off: common practice, no published source."""

LEVEL_LIMIT_M = 0.01
"""Half-width of what the height of the mouth may be off: common practice, no published source."""

ANEW = "put together anew"
MARK = "volume mark"
"""What the error of the container is called among the sources of uncertainty."""

ANEW_LIMIT_SHARE = 0.015
"""Half-width of what taking a part off and holding what is left changes besides, as a share of the flow: prior of the authors.
Hoses hang otherwise, air comes in or goes out; the loop model knows nothing of it, so two fills with and without a part tell the
loss of that part no better."""

ONE_FILL_S = 0.3
"""Scatter to expect of a fill that was not repeated: common practice, no published source."""

RELIABLE_S, LEAST_REPEATS = 10.0, 3
GOOD_S = 20.0
LEVEL_M = 0.02
WIDE_SCATTER = 0.05
WATER_SHARE = 0.05
"""Where warnings begin: shortest fill, repeats, mouth off the water line, scatter of repeats, share of the tank's water."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """Assumptions about the person with the watch: half-widths in s and m, and the scatter of a fill made once, in s."""

    reaction_limit_s: float = REACTION_LIMIT_S
    level_limit_m: float = LEVEL_LIMIT_M
    one_fill_s: float = ONE_FILL_S


USUAL = Timing()


def volume_relative(fill: TimedFill) -> float:
    """Relative standard uncertainty of the container's volume.

    >>> round(volume_relative(TimedFill(volume_m3=0.01, seconds=(61.0,), volume_limit_m3=1e-4)), 6)
    0.005774
    """
    return (fill.volume_limit_m3 or VOLUME_SHARE * fill.volume_m3) / fill.volume_m3 / math.sqrt(3.0)


def measured(fill: TimedFill, per_m: float = 0.0, timing: Timing = USUAL, net_m3: float = math.inf) -> MeasuredFlow:
    """Flow of a fill with its uncertainty and with warnings.

    ``per_m`` is dlnQ/dz of the loop at this arrangement in 1/m, for the uncertainty of the level; ``net_m3`` the tank's water.

    >>> fill = TimedFill(volume_m3=0.01, seconds=(61.2, 60.8, 61.5, 61.0, 61.0), volume_limit_m3=1e-4)
    >>> found = measured(fill)
    >>> round(found.flow_m3s * 6e4, 4), round(found.relative, 5)
    (9.82, 0.00638)
    """
    mean = fmean(fill.seconds)
    flow = fill.volume_m3 / mean
    type_a = _repeat_s(fill, timing)
    lines = (
        UncertaintyLine(source="repeats", type="A", relative=type_a / mean),
        UncertaintyLine(source=MARK, type="B", relative=volume_relative(fill)),
        UncertaintyLine(source="reaction", type="B", relative=timing.reaction_limit_s / math.sqrt(3.0) / mean),
        UncertaintyLine(source="level", type="B", relative=abs(per_m) * timing.level_limit_m / math.sqrt(3.0)),
        *([UncertaintyLine(source=ANEW, type="B", relative=ANEW_LIMIT_SHARE / math.sqrt(3.0))] if _is_anew(fill) else []),
    )
    relative = math.hypot(*(line.relative for line in lines))
    share = 0.0 if relative == 0.0 or len(fill.seconds) < 2 else (lines[0].relative / relative) ** 4
    freedom = math.inf if share == 0.0 else (len(fill.seconds) - 1) / share
    wide = float(ndtri(0.975)) if math.isinf(freedom) else float(stdtrit(freedom, 0.975))
    return MeasuredFlow(
        flow_m3s=flow,
        seconds=mean,
        relative=relative,
        freedom=freedom,
        expanded_m3s=wide * relative * flow,
        lines=lines,
        warnings=tuple(warnings(fill, net_m3)),
        date=fill.date,
        state=fill.state,
        height_m=fill.height_m,
    )


def _is_anew(fill: TimedFill) -> bool:
    return any(word in TAKEN_OFF for word in fill.state)


def _repeat_s(fill: TimedFill, timing: Timing) -> float:
    """Standard uncertainty of the mean time by its repeats, in s."""
    n = len(fill.seconds)
    return timing.one_fill_s if n == 1 else stdev(fill.seconds) / math.sqrt(n)


def band_factor(repeats: int) -> float:
    """By how much the type A uncertainty is widened so that a normal band from 10 to 90 % holds 80 % for so few repeats:
    t / z at 0.9; 1 for a fill made once, whose scatter is assumed.

    >>> [round(band_factor(n), 3) for n in (1, 2, 3, 5)]
    [1.0, 2.402, 1.471, 1.196]
    """
    return 1.0 if repeats < 2 else float(stdtrit(repeats - 1, 0.9) / ndtri(0.9))


LIMITS_FACTOR = 0.8 * math.sqrt(3.0) / float(ndtri(0.9))
"""The same for rectangular limits: 80 % of them lies within 0.8 of the half-width."""


def fit_relatives(found: MeasuredFlow, repeats: int) -> tuple[float, float]:
    """Relative uncertainties for a calibration, whose bands run from 10 to 90 %: of the fill by itself, and of the mark of its
    container, whose error all fills into it share. Repeats are widened by `band_factor`, limits by `LIMITS_FACTOR`."""
    mark = next(line.relative for line in found.lines if line.source == MARK)
    own = [line for line in found.lines if line.source != MARK]
    widened = (line.relative * (band_factor(repeats) if line.type == "A" else LIMITS_FACTOR) for line in own)
    return math.hypot(*widened), LIMITS_FACTOR * mark


def warnings(fill: TimedFill, net_m3: float = math.inf) -> Iterator[str]:
    """What a keeper should do better next time, each with the cure."""
    mean, n = fmean(fill.seconds), len(fill.seconds)
    if mean < RELIABLE_S:
        large = fill.volume_m3 * GOOD_S / mean
        yield Said(
            f"The container filled in {mean:.1f} s; under {RELIABLE_S:.0f} s the watch decides. Take one of ",
            Quantity(large, "volume", f"{large * 1e3:.0f} l"),
            f" or more, so that it takes {GOOD_S:.0f} s.",
        )
    if n < LEAST_REPEATS:
        yield f"Filled {'once' if n == 1 else 'twice'} only. Fill {LEAST_REPEATS} times: a slip then shows."
    elif stdev(fill.seconds) > WIDE_SCATTER * mean:
        yield f"The times scatter by {100.0 * stdev(fill.seconds) / mean:.0f} %. Look for air in the loop, and fill again."
    if abs(fill.height_m) > LEVEL_M:
        effect = "lift takes flow away" if fill.height_m > 0.0 else "the siphon adds flow"
        yield Said(
            *("The water left ", *above(fill.height_m, " the tank's water line"), f": {effect}. "),
            "It is corrected by the loop model; holding the mouth at the water line needs no correction.",
        )
    if OUTLET_OFF in fill.state or HOSE_OFF in fill.state:
        what = "outlet" if OUTLET_OFF in fill.state else "return hose"
        yield f"The {what} was off: this is not what the tank gets. Good for telling parts apart; fill once more with it on."
    if fill.volume_m3 > WATER_SHARE * net_m3:
        yield (
            f"The container takes {100.0 * fill.volume_m3 / net_m3:.0f} % of the tank's water, so the level falls while it "
            "fills. Measure the height half-way, and pour the water back in between."
        )
