"""The k best truly different bundles: each the best of all that is neither listed yet nor only a listed bundle with more changed.

The rule, as a reader can apply it by hand to a list of all bundles. Take the best: most flow, of all within 0.1 l/h of it the
cheapest, the quietest, the one with most head to spare. Write down where it has something else than there is today. Strike out
all bundles that make the same changes at all these positions, whatever they do elsewhere. Of what is left take the best again,
and so on.

- The same change at a position is the same part (`things.identity`), or another with the same ends, noise, power and flow window
  that in its place in the listed bundle changes the flow by less than 0.1 l/h (`ListedBundle.same`). If what is there today
  does as well as the new part in this sense, there is no change at that position.
- In the canister it is to take out all media that the listed bundle (or a filling that does as well in it) takes out, and to put
  in all that it puts in; what else is taken out or put in only adds to that. Media of the same figures are the same medium.
- Cleaning, turning and clamping are no changes. A bundle that changes nothing rules out all others: they only add to it.
- Branches of one position are one thing, and of the ways to fill them only those count that no other beats (`fills`).

What is struck out delivers no more than the listed bundle, or it would have been listed before it: it makes the same changes,
and pays for more. So it is no alternative.

Lawler's partition takes exactly those out of the space: with changes 1 to m of the listed bundle, what is left of the part it
came from is split into m parts without overlap, the i-th with changes 1 to i-1 made and the i-th forbidden.
Every part is a mask over options, so `Seeker` solves it exactly. Most parts are never solved: one round just below the flow of
the best candidate shows that they hold nothing as good, which bounds them until that candidate is listed. When no part can hold
anything within the resolution of the best known flow but those that are solved, the preferred one of these is the next.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.search.best import RESOLUTION_M3S, WITHIN, Found, Seeker
from optimizer.search.front import Halted, asked_alone
from optimizer.search.part_identity import ListedBundle, PartIdentities, part_identities

Mask = NDArray[np.bool_]

MOST_PARTS = 20_000


@dataclass(frozen=True, slots=True)
class Alternatives:
    """Bundles in order of delivered flow, best first. ``status`` is proved or stopped; fewer than asked for and proved: there
    are no others. ``part_identities`` tells them apart."""

    found: tuple[Found, ...]
    status: str
    things: PartIdentities | None


@dataclass(slots=True, eq=False)
class _Part:
    """A part of the space: nothing in it delivers more than ``roof_m3s``. ``found``: its preferred bundle, and ``top`` the one
    that delivers most, once it is solved; neither is ruled out."""

    allowed: Mask
    roof_m3s: float
    found: Found | None = None
    top: Found | None = None


def alternatives(seeker: Seeker, most: int, each: Callable[[Found], None] | None = None, halted: Halted = bool) -> Alternatives:
    """The ``most`` best truly different bundles within the seeker's budget and limits; the first is the best of all.

    Each is the preferred one of all that the ones before it do not rule out, as `best` prefers. The media must have been listed
    ``apart`` (see `choices`). ``each`` is called with every bundle as it is listed. Ctrl-C ends the list with what it holds
    by then, at the least the best bundle known, as stopped. Raises ValueError for ``most`` < 1.
    """
    if most < 1:
        raise ValueError("at least one bundle must be asked for")
    best = asked_alone(seeker)
    if best.found is None:
        return Alternatives((), best.status, None)
    listing = _Listing(seeker, part_identities(seeker.problem), most, each, [], [], [])
    listing.parts.append(_solved(seeker, seeker.all, best.found))
    try:
        done = best.status == "proved" and listing.fill(halted)
    except KeyboardInterrupt:
        done = False
    if not listing.found:
        listing.add(best.found)
    return Alternatives(tuple(listing.found), "proved" if done and not seeker.tally.stopped else "stopped", listing.told)


def _solved(seeker: Seeker, allowed: Mask, found: Found) -> _Part:
    """A part that a search has just gone through."""
    best = seeker.best_so_far
    top = best if best is not None and best.flow_m3s > found.flow_m3s else found
    return _Part(allowed, top.flow_m3s, found, top)


@dataclass(slots=True)
class _Listing:
    """A list in the making: what is ``found``, how each of these is ``seen``, and the parts that are left of the space."""

    seeker: Seeker
    told: PartIdentities
    most: int
    each: Callable[[Found], None] | None
    found: list[Found]
    seen: list[ListedBundle]
    parts: list[_Part]

    def fill(self, halted: Halted) -> bool:
        """List bundles; True when there are as many as asked for, or no others."""
        for _ in range(MOST_PARTS):
            if not self.parts or len(self.found) == self.most or halted():
                break
            least = max((part.roof_m3s for part in self.parts if part.found is not None), default=0.0) - RESOLUTION_M3S
            unknown = [part for part in self.parts if part.found is None and part.roof_m3s >= least]
            if unknown:
                self._look(max(unknown, key=lambda part: part.roof_m3s), least)
                continue
            part, found = self._preferred(least)
            ruling = self._ruling(found)
            self._split(part, self.add(found) if ruling is None else ruling)
        return len(self.found) == self.most or not self.parts

    def add(self, found: Found) -> ListedBundle:
        """List a bundle, and split the solved parts that it takes something from."""
        seen = self.told.seen_from(found)
        self.found.append(found)
        self.seen.append(seen)
        if self.each is not None:
            self.each(found)
        for part in list(self.parts):
            if any(known is not None and known is not found and seen.rules_out(_rows(known)) for known in (part.found, part.top)):
                self._split(part, seen)
        return seen

    def _ruling(self, found: Found) -> ListedBundle | None:
        return next((seen for seen in self.seen if seen.rules_out(_rows(found))), None)

    def _look(self, part: _Part, least_m3s: float) -> None:
        """Bound a part if it holds nothing that delivers ``least_m3s``, solve it otherwise; an empty part is taken out."""
        if least_m3s > 0.0 and _holds_nothing(self.seeker, part, least_m3s):
            part.roof_m3s = np.nextafter(least_m3s, 0.0)
            return
        self.parts.remove(part)
        inside = self.seeker.inside(part.allowed)
        found = asked_alone(inside, max(least_m3s, 0.0)).found
        if found is None:
            return
        solved = _solved(inside, part.allowed, found)
        self.parts.append(solved)
        ruling = self._ruling(found) or (None if solved.top is None else self._ruling(solved.top))
        if ruling is not None:
            self._split(solved, ruling)

    def _preferred(self, least_m3s: float) -> tuple[_Part, Found]:
        """The part that holds the preferred one of all bundles that deliver ``least_m3s``, and that bundle."""
        rivals = [part for part in self.parts if part.found is not None and part.roof_m3s >= least_m3s]
        if len(rivals) == 1 and rivals[0].found is not None:
            return rivals[0], rivals[0].found
        found = [(part, self._delivering(part, least_m3s)) for part in rivals]
        return min(found, key=lambda pair: self._order(pair[1]))

    def _delivering(self, part: _Part, least_m3s: float) -> Found:
        """The preferred one of the bundles of a solved part that deliver a flow: it was asked about a lower one, perhaps."""
        if part.found is None or part.top is None:
            raise ValueError("a part that is not solved has no preferred bundle")
        if part.found.flow_m3s >= least_m3s * (1 - WITHIN):
            return part.found
        return self.seeker.inside(part.allowed).least_price(least_m3s).found or part.top

    def _order(self, found: Found) -> tuple[int, float, float]:
        noise = float(self.seeker.noise[found.bundle.path.options[self.seeker.problem.pump]])
        return (found.bundle.price, noise, -found.flow_m3s)

    def _split(self, part: _Part, seen: ListedBundle) -> None:
        """Put in the place of a part what is left of it without the bundles that make all changes of a listed one."""
        if part in self.parts:
            self.parts.remove(part)
        starts, kept = self.told.problem.option_at, part.allowed.copy()
        for place in seen.departures:
            here, holding = slice(starts[place], starts[place + 1]), seen.holding(place)
            without = kept.copy()
            without[here] &= ~holding
            if without[here].any():
                self.parts.append(_Part(without, part.roof_m3s))
            kept[here] &= holding
            if not kept[here].any():
                break


def _rows(found: Found) -> tuple[int, ...]:
    return found.bundle.path.options


def _holds_nothing(seeker: Seeker, part: _Part, level_m3s: float) -> bool:
    """True when it is certain that no affordable bundle of a part can deliver a flow, limits on holding it left aside."""
    before, seeker.tally.stopped = seeker.tally.stopped, False
    allowed = part.allowed & (seeker.problem.high >= level_m3s * (1 - WITHIN))
    bundle = seeker.exact.least_loss(level_m3s, seeker.budget, allowed, 0.0, None, True)
    certain = bundle is None and not seeker.tally.stopped
    seeker.tally.stopped = before
    return certain
