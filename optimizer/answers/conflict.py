"""Why nothing meets all limits: the smallest set that cannot hold together, the closest miss, and what would make it possible."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from optimizer.answers.bundle_walk import each_option
from optimizer.answers.shut_ends import shut_ends, shut_places
from optimizer.answers.words import limit_words, money
from optimizer.errors import InputError
from optimizer.halting import heard
from optimizer.loop.kinds import each_of
from optimizer.model.limits import Limits
from optimizer.model.options import Option
from optimizer.model.parts import Kind, Outlet, Pump
from optimizer.model.results import Conflict
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said, flowing
from optimizer.search.best import Found, Outcome, Seeker
from optimizer.search.choices import SINGLE_PART_LIMITS, broken_by_itself, choices
from optimizer.search.exact import Tally
from optimizer.search.layers import Problem, build

if TYPE_CHECKING:
    from optimizer.answers.question import Question

MOST_ASKED = 60
"""So many searches are made at most for a conflict of the least size."""

MOST_WORK = 1_500_000
"""So much is looked at in all for an explanation, in options times the questions put to them: some seconds on a usual machine."""

BUILDING = 100
"""To list an option takes about as long as so many questions to it."""

GROWTH = 2
"""A larger budget is taken to make at least so many times as many ways to fill branches, before they are listed."""

FIRST_BUDGET = 1000
"""Half of the first budget, in minor units, that is tried where the question sets none."""

UNSURE = "none of these can be left out, but another and smaller set may clash too: not all were tried"
CUT_SHORT = "some of the other limits have a share in it: which ones was not worked out, since there is too much to look through"
NOT_LOOKED = "how near it comes was not worked out, since there is too much to look through"
MORE_MIGHT = "more may help: the explaining was cut short, since there is too much to look through"


class CutShort(Exception):
    """An explanation would take more than `MOST_WORK`."""


@dataclass(slots=True)
class _Asker:
    """Answers "can these limits hold together?", remembering every answer and what it says of larger and smaller sets."""

    question: "Question"
    own: Problem | None = None
    asked: int = 0
    work: int = 0
    _known: dict[Limits, Found | None] = field(init=False, default_factory=dict)
    _possible: dict[Limits, bool] = field(init=False, default_factory=dict)
    _offers: dict[Limits, Problem] = field(init=False, default_factory=dict)
    _hold: list[frozenset[str]] = field(init=False, default_factory=list)
    _clash: list[frozenset[str]] = field(init=False, default_factory=list)
    _widest: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        limits = self.question.limits
        if self.own is not None and limits.budget is not None and beside(self.question.rig):
            self._offers[_offer(self.question.rig, limits)] = self.own
            self._widest = len(self.own.option_plain)

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
            except (InputError, CutShort):
                return None
            if found is not None:
                return found
        return None

    def possible(self, limits: Limits) -> bool:
        """True when some bundle meets the limits (and the target); without a budget, whatever it costs."""
        if limits in self._known and (limits.budget is not None or not beside(self.question.rig)):
            return self._known[limits] is not None
        if limits not in self._possible:
            self.asked += 1
            seeker = self._seeker(limits)
            possible = seeker.can_deliver(self.question.target_m3s)
            if not possible and seeker.tally.stopped:
                raise CutShort
            self._possible[limits] = possible
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

    def shut(self) -> list[str]:
        """What is to be found out about ends that nothing on offer fits."""
        made = [shut_places(shut_ends(problem)) for problem in list(self._offers.values())[:1]]
        return [words for shut in made if shut is not None for words in shut.measure]

    def missing_depth_m(self, found: Found, limits: Limits) -> float:
        """How deep the pump would have to stand for a bundle to have the inlet pressure that the question asks for, in m."""
        problem, path = self._seeker(limits).problem, found.bundle.path
        pump, flow = problem.pump, found.flow_m3s
        lost = float(problem.heads.rows(list(path.options[:pump])).at(flow).sum()) if pump else 0.0
        lost += float(problem.joint_quadratic[list(path.joints[: pump + 1])].sum()) * flow * flow
        speed = float(problem.suction_quadratic[path.options[pump] - problem.option_at[pump]]) * flow * flow
        return self.question.limits.inlet_head_m + lost + speed

    def _seeker(self, limits: Limits) -> Seeker:
        """A search under some limits. Those that only refuse single options or bound sums do not need a new problem in a loop in
        series. Where there are branches a budget does, for else there would be too many ways to fill them (without one prices do
        not count), and what refuses parts does, for a filling may have beaten another by such a part."""
        rig = self.question.rig
        offer = _offer(rig, limits)
        if offer not in self._offers:
            self._offers[offer] = self._built(offer)
        made = self._offers[offer]
        options = (option for layer in made.layers for option in layer.options)
        allowed = np.array([not any(broken_by_itself(rig, limits, option)) for option in options], dtype=bool)
        size = len(allowed)
        tally = Tally(tick=lambda *_: self._spend(size))
        return Seeker(replace(made, choices=replace(made.choices, limits=limits)), tally, allowed)

    def _built(self, offer: Limits) -> Problem:
        """The problem under some limits. Branches within a budget can be filled in so many ways that to list them is most of the
        work: where at least as many as last time would be too many, they are not listed."""
        priced = offer.budget is not None and beside(self.question.rig)
        if priced:
            grown = GROWTH if self._widest and self._more(offer) else 1
            self._spend(BUILDING * self._widest * grown, only_look=True)
        made = build(choices(self.question.rig, self.question.catalog, offer, priceless=offer.budget is None))
        size = len(made.option_plain)
        if priced:
            self._widest = max(self._widest, size)
        self._spend(BUILDING * size)
        return made

    def _more(self, offer: Limits) -> bool:
        budgets = [known.budget for known in self._offers if known.budget is not None]
        return offer.budget is not None and offer.budget > max(budgets, default=0)

    def _spend(self, work: int, only_look: bool = False) -> None:
        """Count work done, or to be done; raises CutShort where that is too much in all."""
        if self.work + work > MOST_WORK:
            raise CutShort
        self.work += 0 if only_look else work


def _offer(rig: Rig, limits: Limits) -> Limits:
    """The limits that the options of a problem hang on."""
    offer = limits.without("flow_min_m3s")
    return offer if beside(rig) else offer.without("budget", *SINGLE_PART_LIMITS)


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


def conflict(question: "Question", problem: Problem | None = None) -> Conflict:
    """Explain a question that has no answer, and whose problem may be made already; Ctrl-C ends the explaining."""
    try:
        with heard():
            return _explained(question, problem)
    except KeyboardInterrupt:
        return Conflict(limits=(), closest="stopped before it was looked for", remedies=())


def _explained(question: "Question", problem: Problem | None) -> Conflict:
    high = _too_high(question)
    if high is not None:
        return high
    asker = _Asker(question, problem)
    closest = _closest(asker, question)
    names, unsure = _smallest(asker, question.limits)
    words = [_words(question, name) for name in names]
    if question.target_m3s:
        beyond = "" if names or unsure else ", which no bundle of this catalog reaches whatever the limits"
        words.insert(0, Said(flowing(question.target_m3s), f" delivered{beyond}"))
    remedies = (*_remedies(asker, question, names), *asker.shut())
    return Conflict(limits=tuple(words), closest=closest, remedies=remedies, unsure=unsure)


def _words(question: "Question", name: str, limits: Limits | None = None) -> str:
    return limit_words(name, limits or question.limits, question.rig, question.catalog.currency)


def _price(question: "Question", found: Found) -> str:
    return money(found.bundle.price, question.catalog.currency)


def _too_high(question: "Question") -> Conflict | None:
    """An outlet that no pump on offer lifts water to: no limit has a share in that."""
    free = question.limits.without(*question.limits.binding)
    options = choices(question.rig, question.catalog, free, priceless=True).options
    pumps = each_of(options[question.rig.index(Kind.PUMP)], Pump)
    reach = max((pump.curve.max_head_m * option.speed**2 for option, pump in pumps), default=0.0)
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
    for inner, _ in each_of((option,) if option.ways is None else option.ways.options, Outlet):
        yield inner.loss.lift_m


def _only(limits: Limits, names: Sequence[str]) -> Limits:
    return limits.without(*(name for name in limits.binding if name not in names))


def _smallest(asker: _Asker, limits: Limits) -> tuple[tuple[str, ...], str]:
    """A set of limits of the least possible size that cannot hold together, by deletion, then by trying smaller sets; and what
    is not sure of it, where that took more than `MOST_ASKED` searches. Where even the deletion takes too much, those limits are
    named that are sure to be needed: with the others alone there is an answer.

    An empty set means that no bundle exists at all (a joint that cannot be closed, or a target out of reach).
    """
    kept, needed = list(limits.binding), list[str]()
    try:
        for name in limits.binding:
            rest = [other for other in kept if other != name]
            if asker.clash(rest):
                kept = rest
            else:
                needed.append(name)
    except CutShort:
        return tuple(needed), CUT_SHORT
    try:
        for size in range(len(kept)):
            for names in combinations(limits.binding, size):
                if asker.asked >= MOST_ASKED:
                    return tuple(kept), UNSURE
                if asker.clash(names):
                    return names, ""
    except CutShort:
        return tuple(kept), UNSURE
    return tuple(kept), ""


def _closest(asker: _Asker, question: "Question") -> str:
    """The most flow within all limits but the floor, or else the first single limit to drop that gives an answer."""
    try:
        return _closest_miss(asker, question)
    except CutShort:
        return NOT_LOOKED


def _closest_miss(asker: _Asker, question: "Question") -> str:
    limits = question.limits
    found = asker.most(limits.without("flow_min_m3s"))
    if found is not None:
        turnover = question.rig.turnover_per_hour(found.flow_m3s)
        return Said(flowing(found.flow_m3s), f" ({turnover:.2f} per hour) for {_price(question, found)}")
    for name in limits.binding:
        found = asker.cheapest(limits.without(name))
        if found is not None:
            words = _words(question, name)
            return Said("with one limit dropped (", words, ") ", flowing(found.flow_m3s), f" for {_price(question, found)}")
    return "no single limit, when dropped, makes it possible"


def _remedies(asker: _Asker, question: "Question", names: Sequence[str]) -> Iterator[str]:
    try:
        yield from _helping(asker, question, names)
    except CutShort:
        yield MORE_MIGHT


def _helping(asker: _Asker, question: "Question", names: Sequence[str]) -> Iterator[str]:
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
        pump = question.rig.positions[question.rig.index(Kind.PUMP)]
        if name == "inlet_head_m" and not pump.depth_known:
            least = asker.missing_depth_m(found, freed)
            deep = Quantity(least, "height", f"{least:.2f} m")
            yield Said(
                f"the depth of {pump.name} below the water line: it is not given and taken as 0; from ",
                deep,
                " on ",
                flows,
                f" for {price} is possible",
            )
            continue
        if name == "budget":
            yield Said(f"with {price} to spend it becomes possible (", flows, ")")
        elif name in ("noise_dba", "power_w", "opening_m"):
            yield _least_loosening(asker, question, name)
        else:
            yield Said("with this limit dropped: ", _words(question, name), "; then ", flows, f" for {price} becomes possible")


def _least_loosening(asker: _Asker, question: "Question", name: str) -> str:
    """The smallest value of a limit on single parts that makes an answer possible, by bisection over the parts' values."""
    limits = question.limits
    free = limits.without(name)
    values = sorted(value for value in set(_values(question, free, name)) if value > getattr(limits, name))
    low, high = 0, len(values) - 1
    while low < high:
        middle = (low + high) // 2
        if not asker.possible(limits.with_values({name: values[middle]})):
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
