"""The k best truly different bundles: each the best of all that is neither listed yet nor only a listed bundle with more bought.

What counts as a difference says `things`: joints, adapters, clamps, packs and coils do not. A bundle that has everything a listed
one changes (and something else besides) delivers no more than that one, or it would have been listed before it, so it
only adds a purchase: it is no alternative. In this sense a listed bundle rules out all bundles that hold all its departures from
what is there now.

Lawler's partition takes exactly those out of the space: with departures 1 to m of the listed bundle, what is left of the part it
came from is split into m parts without overlap, the i-th with departures 1 to i-1 as they are and the i-th forbidden.
Every part is a mask over options, so `Seeker` solves it exactly. Most parts are never solved: one round at the flow of the
best candidate shows that they hold nothing as good, which bounds them until that candidate is listed. When the best
known bundle stands at or above every bound, it is the next.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.search.best import WITHIN, Found, Outcome, Seeker
from optimizer.search.front import Halted, asked_alone
from optimizer.search.things import Things, things

Mask = NDArray[np.bool_]

MOST_PARTS = 20_000


@dataclass(frozen=True, slots=True)
class Alternatives:
    """Bundles in order of delivered flow, best first. ``status`` is proved or stopped; fewer than asked for and proved: there
    are no others. ``things`` tells them apart."""

    found: tuple[Found, ...]
    status: str
    things: Things | None


@dataclass(slots=True, eq=False)
class _Part:
    """A part of the space: nothing in it delivers more than ``roof_m3s``. ``found``: its best, once it is solved."""

    allowed: Mask
    roof_m3s: float
    found: Found | None = None


def alternatives(seeker: Seeker, most: int, each: Callable[[Found], None] | None = None, halted: Halted = bool) -> Alternatives:
    """The ``most`` best truly different bundles within the seeker's budget and limits; the first is the best of all.

    Each delivers the most, to the resolution of flows, of all that the ones before it do not rule out, and none with
    the same things is cheaper. ``each`` is called with every bundle as it is listed. Ctrl-C ends the list with what it holds
    by then, at the least the best bundle known, as stopped. Raises ValueError for ``most`` < 1.
    """
    if most < 1:
        raise ValueError("at least one bundle must be asked for")
    best = asked_alone(seeker)
    if best.found is None:
        return Alternatives((), best.status, None)
    told = things(seeker.problem, best.found)
    listed: list[Found] = []
    try:
        done = best.status == "proved" and _listed(seeker, best, told, listed, most, each, halted)
    except KeyboardInterrupt:
        done = False
    if not listed:
        listed.append(best.found)
        if each is not None:
            each(best.found)
    return Alternatives(tuple(listed), "proved" if done and not seeker.tally.stopped else "stopped", told)


def _listed(
    seeker: Seeker,
    best: Outcome,
    told: Things,
    listed: list[Found],
    most: int,
    each: Callable[[Found], None] | None,
    halted: Halted,
) -> bool:
    """List bundles into ``listed``; True when there are as many as asked for, or no others."""
    parts = [_Part(seeker.all, best.bound_m3s, best.found)]
    for _ in range(MOST_PARTS):
        if not parts or len(listed) == most or halted():
            break
        part = min(parts, key=lambda each: _rank(seeker, each))
        if part.found is None:
            _look(seeker, part, parts)
            continue
        parts.remove(part)
        ruling = next((known for known in listed if _only_adds(told, known, part.found)), None)
        if ruling is None:
            listed.append(part.found)
            ruling = part.found
            if each is not None:
                each(ruling)
        if not told.departures(ruling.bundle.path.options):
            parts = []
            break
        parts += _split(told, part, ruling)
    return len(listed) == most or not parts


def _rank(seeker: Seeker, part: _Part) -> tuple[float, bool, int, float]:
    """Most flow first; at the same flow what is solved, then the cheaper, then the quieter."""
    if part.found is None:
        return (-part.roof_m3s, True, 0, 0.0)
    noise = float(seeker.noise[part.found.bundle.path.options[seeker.problem.pump]])
    return (-part.found.flow_m3s, False, part.found.bundle.price, noise)


def _only_adds(told: Things, listed: Found, found: Found) -> bool:
    """True when a bundle holds every departure of a listed one."""
    holds = told.at(found.bundle.path.options)
    return all(holds[place] == thing for place, thing in told.departures(listed.bundle.path.options).items())


def _look(seeker: Seeker, part: _Part, parts: list[_Part]) -> None:
    """Bound a part by the best candidate if it holds nothing as good, solve it otherwise; an empty part is taken out."""
    level = max((each.found.flow_m3s for each in parts if each.found is not None), default=0.0)
    if level > 0.0 and _holds_nothing(seeker, part, level):
        part.roof_m3s = level
        return
    outcome = asked_alone(seeker.inside(part.allowed), level)
    if outcome.found is None:
        parts.remove(part)
    else:
        part.found, part.roof_m3s = outcome.found, outcome.found.flow_m3s


def _holds_nothing(seeker: Seeker, part: _Part, level_m3s: float) -> bool:
    """True when it is certain that no affordable bundle of a part can deliver a flow, limits on holding it left aside."""
    before, seeker.tally.stopped = seeker.tally.stopped, False
    allowed = part.allowed & (seeker.problem.high >= level_m3s * (1 - WITHIN))
    bundle = seeker.exact.least_loss(level_m3s, seeker.budget, allowed, 0.0, None, True)
    certain = bundle is None and not seeker.tally.stopped
    seeker.tally.stopped = before
    return certain


def _split(told: Things, part: _Part, ruling: Found) -> list[_Part]:
    """What is left of a part without the bundles that hold all departures of one of its bundles."""
    kept = part.allowed.copy()
    made = []
    for place, thing in told.departures(ruling.bundle.path.options).items():
        here = slice(told.problem.option_at[place], told.problem.option_at[place + 1])
        has = told.having(place, thing)
        without = kept.copy()
        without[here] &= ~has
        if without[here].any():
            made.append(_Part(without, part.roof_m3s))
        kept[here] &= has
        if not kept[here].any():
            break
    return made
