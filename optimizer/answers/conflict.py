"""Why nothing meets all limits: the smallest set that cannot hold together, the closest miss, and what would make it possible."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from math import comb
from typing import TYPE_CHECKING

import numpy as np

from optimizer.answers.words import flow, limit_words, money
from optimizer.model.limits import Limits
from optimizer.model.results import Conflict
from optimizer.search.best import Found, Outcome, Seeker
from optimizer.search.choices import SINGLE_PART_LIMITS, broken_by_itself, choices
from optimizer.search.layers import Problem, build

if TYPE_CHECKING:
    from optimizer.answers.question import Question

MOST_SUBSETS = 300
"""Sets tried when looking for a smaller conflict than the first one found."""


@dataclass(slots=True)
class _Asker:
    """Answers "can these limits hold together?", remembering every answer."""

    question: "Question"
    _known: dict[Limits, Found | None] = field(init=False, default_factory=dict)
    _offers: dict[Limits, Problem] = field(init=False, default_factory=dict)

    def cheapest(self, limits: Limits) -> Found | None:
        """The cheapest bundle that meets the limits (and the target), or None."""
        if limits not in self._known:
            self._known[limits] = _finished(self._seeker(limits).least_price(self.question.target_m3s))
        return self._known[limits]

    def most(self, limits: Limits) -> Found | None:
        """The bundle that delivers most within the limits, or None."""
        return _finished(self._seeker(limits).most_flow())

    def _seeker(self, limits: Limits) -> Seeker:
        """A search under some limits. Those that only refuse single options or bound sums do not need a new problem."""
        rig = self.question.rig
        offer = limits.without("budget", "flow_min_m3s", "inlet_head_m", *SINGLE_PART_LIMITS)
        if offer not in self._offers:
            self._offers[offer] = build(choices(rig, self.question.catalog, offer))
        made = self._offers[offer]
        options = (option for layer in made.layers for option in layer.options)
        allowed = np.array([not any(broken_by_itself(rig, limits, option)) for option in options], dtype=bool)
        return Seeker(replace(made, choices=replace(made.choices, limits=limits)), allowed=allowed)


def _finished(outcome: Outcome) -> Found | None:
    """What a search found. A search that was stopped says nothing about what can hold together: raises KeyboardInterrupt."""
    if outcome.status == "stopped":
        raise KeyboardInterrupt
    return outcome.found


def conflict(question: "Question") -> Conflict:
    """Explain a question that has no answer; Ctrl-C ends the explaining."""
    try:
        return _explained(question)
    except KeyboardInterrupt:
        return Conflict(limits=(), closest="stopped before it was looked for", remedies=())


def _explained(question: "Question") -> Conflict:
    asker = _Asker(question)
    names = _smallest(asker, question.limits)
    words = [limit_words(name, question.limits, question.rig) for name in names]
    if question.target_m3s:
        beyond = "" if names else ", which no bundle of this catalog reaches whatever the limits"
        words.insert(0, f"{flow(question.target_m3s)} delivered{beyond}")
    return Conflict(limits=tuple(words), closest=_closest(asker, question), remedies=tuple(_remedies(asker, question, names)))


def _only(limits: Limits, names: Sequence[str]) -> Limits:
    return limits.without(*(name for name in limits.binding if name not in names))


def _smallest(asker: _Asker, limits: Limits) -> tuple[str, ...]:
    """A set of limits of the least possible size that cannot hold together, by deletion, then by trying smaller sets.

    An empty set means that no bundle exists at all (a joint that cannot be closed, or a target out of reach).
    """
    kept = list(limits.binding)
    for name in limits.binding:
        rest = [other for other in kept if other != name]
        if asker.cheapest(_only(limits, rest)) is None:
            kept = rest
    for size in range(len(kept)):
        if comb(len(limits.binding), size) > MOST_SUBSETS:
            break
        for names in combinations(limits.binding, size):
            if asker.cheapest(_only(limits, names)) is None:
                return names
    return tuple(kept)


def _closest(asker: _Asker, question: "Question") -> str:
    """The most flow within all limits but the floor, or else the first single limit to drop that gives an answer."""
    limits = question.limits
    rig = question.rig
    found = asker.most(limits.without("flow_min_m3s"))
    if found is not None:
        turnover = rig.turnover_per_hour(found.flow_m3s)
        return f"{flow(found.flow_m3s)} ({turnover:.2f} per hour) for {money(found.bundle.price)}"
    for name in limits.binding:
        found = asker.cheapest(limits.without(name))
        if found is not None:
            words = limit_words(name, limits, rig)
            return f"without the limit on {words}: {flow(found.flow_m3s)} for {money(found.bundle.price)}"
    return "no single limit, when dropped, makes it possible"


def _remedies(asker: _Asker, question: "Question", names: Sequence[str]) -> Iterator[str]:
    limits = question.limits
    for name in names:
        if name == "flow_min_m3s":  # the closest miss already says what is possible without it
            continue
        freed = limits.without(name)
        found = asker.cheapest(freed)
        if found is None:
            continue
        if name == "budget":
            yield f"with {money(found.bundle.price)} to spend it becomes possible ({flow(found.flow_m3s)})"
        elif name in ("noise_dba", "power_w", "opening_m"):
            yield _least_loosening(asker, question, name)
        else:
            words = limit_words(name, limits, question.rig)
            yield f"without {words}: {flow(found.flow_m3s)} for {money(found.bundle.price)} becomes possible"


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
    words = limit_words(name, loosened, question.rig)
    price = "" if found is None else f" for {money(found.bundle.price)}"
    return f"with {words} it becomes possible{price}"


def _values(question: "Question", limits: Limits, name: str) -> Iterator[float]:
    read: Callable[[object], float | None] = {
        "noise_dba": lambda option: getattr(option, "noise_dba", None),
        "power_w": lambda option: getattr(option, "power_w", None),
        "opening_m": lambda option: getattr(getattr(option, "part", None), "opening_m", None),
    }[name]
    for options in choices(question.rig, question.catalog, limits).options:
        for option in options:
            value = read(option)
            if value is not None:
                yield value
