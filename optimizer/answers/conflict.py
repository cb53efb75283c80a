"""Why nothing meets all limits: the smallest set that cannot hold together, the closest miss, and what would make it possible."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from optimizer.answers.placed import each_option
from optimizer.answers.words import flowing, limit_words, money
from optimizer.errors import InputError
from optimizer.halting import heard
from optimizer.model.limits import Limits
from optimizer.model.parts import Kind, Outlet, Pump
from optimizer.model.results import Conflict
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said
from optimizer.search.best import Found, Outcome, Seeker
from optimizer.search.choices import SINGLE_PART_LIMITS, broken_by_itself, choices
from optimizer.search.layers import Problem, build
from optimizer.search.options import Option

if TYPE_CHECKING:
    from optimizer.answers.question import Question

MOST_ASKED = 60
"""So many searches are made at most for a conflict of the least size."""

FIRST_BUDGET = 1000
"""Half of the first budget, in minor units, that is tried where the question sets none."""

UNSURE = "none of these can be left out, but another and smaller set may clash too: not all were tried"


@dataclass(slots=True)
class _Asker:
    """Answers "can these limits hold together?", remembering every answer and what it says of larger and smaller sets."""

    question: "Question"
    asked: int = 0
    _known: dict[Limits, Found | None] = field(init=False, default_factory=dict)
    _possible: dict[Limits, bool] = field(init=False, default_factory=dict)
    _offers: dict[Limits, Problem] = field(init=False, default_factory=dict)
    _hold: list[frozenset[str]] = field(init=False, default_factory=list)
    _clash: list[frozenset[str]] = field(init=False, default_factory=list)

    def cheapest(self, limits: Limits) -> Found | None:
        """The cheapest bundle that meets the limits (and the target), or None. Where branches can be filled in more ways than can
        be looked at, None too."""
        if limits not in self._known:
            self.asked += 1
            priced = limits.budget is not None or not beside(self.question.rig)
            self._known[limits] = self._cheapest(limits) if priced else self._by_growing_budgets(limits)
        return self._known[limits]

    def _cheapest(self, limits: Limits) -> Found | None:
        return _finished(self._seeker(limits).least_price(self.question.target_m3s))

    def _by_growing_budgets(self, limits: Limits) -> Found | None:
        """The cheapest bundle of a rig with branches: what is found within a budget is the cheapest of all, and within a small
        one the branches can be filled in few ways."""
        budget = FIRST_BUDGET if self.question.limits.budget is None else self.question.limits.budget or FIRST_BUDGET
        while self.possible(limits):
            budget *= 2
            try:
                found = self._cheapest(replace(limits, budget=budget))
            except InputError:
                return None
            if found is not None:
                return found
        return None

    def possible(self, limits: Limits) -> bool:
        """True when some bundle meets the limits (and the target), whatever it costs."""
        if limits.budget is not None or not beside(self.question.rig):
            return self.cheapest(limits) is not None
        if limits not in self._possible:
            self._possible[limits] = self._cheapest(limits) is not None
        return self._possible[limits]

    def clash(self, names: Sequence[str]) -> bool:
        """True when these of the question's limits cannot hold together. Fewer hold where more do, more clash where fewer do."""
        some = frozenset(names)
        if any(some <= held for held in self._hold):
            return False
        if any(clashing <= some for clashing in self._clash):
            return True
        clashes = not self.possible(_only(self.question.limits, names))
        (self._clash if clashes else self._hold).append(some)
        return clashes

    def most(self, limits: Limits) -> Found | None:
        """The bundle that delivers most within the limits, or None."""
        return _finished(self._seeker(limits).most_flow())

    def _seeker(self, limits: Limits) -> Seeker:
        """A search under some limits. Those that only refuse single options or bound sums do not need a new problem in a loop in
        series. Where there are branches a budget does, for else there would be too many ways to fill them (without one prices do
        not count), and what refuses parts does, for a filling may have beaten another by such a part."""
        rig = self.question.rig
        offer = limits.without("flow_min_m3s", "inlet_head_m")
        if not beside(rig):
            offer = offer.without("budget", *SINGLE_PART_LIMITS)
        if offer not in self._offers:
            self._offers[offer] = build(choices(rig, self.question.catalog, offer, priceless=offer.budget is None))
        made = self._offers[offer]
        options = (option for layer in made.layers for option in layer.options)
        allowed = np.array([not any(broken_by_itself(rig, limits, option)) for option in options], dtype=bool)
        return Seeker(replace(made, choices=replace(made.choices, limits=limits)), allowed=allowed)


def beside(rig: Rig) -> bool:
    """True when the rig has branches."""
    return any(position.branches for position in rig.positions)


def _finished(outcome: Outcome) -> Found | None:
    """What a search found. One that was stopped with nothing says nothing about what can hold together: raises KeyboardInterrupt.
    One too crowded to be proved has found a bundle, and that shows that the limits hold.
    """
    if outcome.status == "stopped" and outcome.found is None:
        raise KeyboardInterrupt
    return outcome.found


def conflict(question: "Question") -> Conflict:
    """Explain a question that has no answer; Ctrl-C ends the explaining."""
    try:
        with heard():
            return _explained(question)
    except KeyboardInterrupt:
        return Conflict(limits=(), closest="stopped before it was looked for", remedies=())


def _explained(question: "Question") -> Conflict:
    high = _too_high(question)
    if high is not None:
        return high
    asker = _Asker(question)
    names, unsure = _smallest(asker, question.limits)
    words = [_words(question, name) for name in names]
    if question.target_m3s:
        beyond = "" if names else ", which no bundle of this catalog reaches whatever the limits"
        words.insert(0, Said(flowing(question.target_m3s), f" delivered{beyond}"))
    remedies = tuple(_remedies(asker, question, names))
    return Conflict(limits=tuple(words), closest=_closest(asker, question), remedies=remedies, unsure=unsure)


def _words(question: "Question", name: str, limits: Limits | None = None) -> str:
    return limit_words(name, limits or question.limits, question.rig, question.catalog.currency)


def _price(question: "Question", found: Found) -> str:
    return money(found.bundle.price, question.catalog.currency)


def _too_high(question: "Question") -> Conflict | None:
    """An outlet that no pump on offer lifts water to: no limit has a share in that."""
    free = question.limits.without(*question.limits.binding)
    options = choices(question.rig, question.catalog, free, priceless=True).options
    pumps = [option for option in options[question.rig.index(Kind.PUMP)] if isinstance(option.part, Pump)]
    reach = max((o.part.curve.max_head_m * o.speed**2 for o in pumps if isinstance(o.part, Pump)), default=0.0)
    lift = min((lift for option in options[-1] for lift in _lifts(option)), default=0.0)
    if lift < reach:
        return None
    height, most = (Quantity(metres, "height", f"{metres:.2f} m") for metres in (lift, reach))
    return Conflict(
        limits=(
            Said("an outlet ", height, " above the water line"),
            Said("pumps that at no flow lift water ", most, " at most, the strongest on offer"),
        ),
        closest="no water comes out there, whatever else is changed and whatever is spent",
        remedies=(Said("an outlet lower than ", most, " above the water line, or a pump with more head in the catalog"),),
    )


def _lifts(option: Option) -> Iterator[float]:
    """How high an outlet, or those in its branches, lifts the water, in m."""
    for inner in (option,) if option.ways is None else option.ways.options:
        if isinstance(inner.part, Outlet):
            yield inner.loss.lift_m


def _only(limits: Limits, names: Sequence[str]) -> Limits:
    return limits.without(*(name for name in limits.binding if name not in names))


def _smallest(asker: _Asker, limits: Limits) -> tuple[tuple[str, ...], str]:
    """A set of limits of the least possible size that cannot hold together, by deletion, then by trying smaller sets; and what
    is not sure of it, where that took more than `MOST_ASKED` searches.

    An empty set means that no bundle exists at all (a joint that cannot be closed, or a target out of reach).
    """
    kept = list(limits.binding)
    for name in limits.binding:
        rest = [other for other in kept if other != name]
        if asker.clash(rest):
            kept = rest
    for size in range(len(kept)):
        for names in combinations(limits.binding, size):
            if asker.asked >= MOST_ASKED:
                return tuple(kept), UNSURE
            if asker.clash(names):
                return names, ""
    return tuple(kept), ""


def _closest(asker: _Asker, question: "Question") -> str:
    """The most flow within all limits but the floor, or else the first single limit to drop that gives an answer."""
    limits = question.limits
    found = asker.most(limits.without("flow_min_m3s"))
    if found is not None:
        turnover = question.rig.turnover_per_hour(found.flow_m3s)
        return Said(flowing(found.flow_m3s), f" ({turnover:.2f} per hour) for {_price(question, found)}")
    for name in limits.binding:
        found = asker.cheapest(limits.without(name))
        if found is not None:
            words = _words(question, name)
            return Said("without the limit on ", words, ": ", flowing(found.flow_m3s), f" for {_price(question, found)}")
    return "no single limit, when dropped, makes it possible"


def _remedies(asker: _Asker, question: "Question", names: Sequence[str]) -> Iterator[str]:
    limits = question.limits
    for name in names:
        if name == "flow_min_m3s":  # the closest miss already says what is possible without it
            continue
        freed = limits.without(name)
        found = asker.cheapest(freed)
        if found is None:
            if name == "budget" and asker.possible(freed):
                yield "with more money it becomes possible; with how much was not worked out"
            continue
        flows, price = flowing(found.flow_m3s), _price(question, found)
        if name == "budget":
            yield Said(f"with {price} to spend it becomes possible (", flows, ")")
        elif name in ("noise_dba", "power_w", "opening_m"):
            yield _least_loosening(asker, question, name)
        else:
            yield Said("without ", _words(question, name), ": ", flows, f" for {price} becomes possible")


def _least_loosening(asker: _Asker, question: "Question", name: str) -> str:
    """The smallest value of a limit on single parts that makes an answer possible, by bisection over the parts' values."""
    limits = question.limits
    free = limits.without(name)
    values = sorted(value for value in set(_values(question, free, name)) if value > getattr(limits, name))
    low, high = 0, len(values) - 1
    while low < high:
        middle = (low + high) // 2
        if asker.cheapest(limits.with_values({name: values[middle]})) is None:
            low = middle + 1
        else:
            high = middle
    loosened = limits.with_values({name: values[low]})
    found = asker.cheapest(loosened)
    price = "" if found is None else f" for {_price(question, found)}"
    return Said("with ", _words(question, name, loosened), f" it becomes possible{price}")


def _values(question: "Question", limits: Limits, name: str) -> Iterator[float]:
    read: Callable[[object], float | None] = {
        "noise_dba": lambda option: getattr(option, "noise_dba", None),
        "power_w": lambda option: getattr(option, "power_w", None),
        "opening_m": lambda option: getattr(getattr(option, "part", None), "opening_m", None),
    }[name]
    for options in choices(question.rig, question.catalog, limits, priceless=limits.budget is None).options:
        for option in each_option(options):
            value = read(option)
            if value is not None:
                yield value
