"""Why a bundle of named parts is not the answer: what it delivers, what it costs, what beats it, or which limits it breaks.

The parts are taken together. First just they: everything else stays as it is, cleaned where that costs nothing, and the
joints are closed in the cheapest way (of equally cheap ways the one that delivers most). Then with everything else free
to change as well. A part whose place is not said is tried at every place that takes it, at those inside branches only where
there is no other.

Of the ways to fill branches most are left out, since others beat them. So a part that is named for a place inside branches gets a
search of its own, for which nothing else is offered there (`choices`, ``narrow``).
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count

import numpy as np
from numpy.typing import NDArray

from optimizer.answers.dragged import dragged_words
from optimizer.answers.question import Question, found_standing
from optimizer.answers.rows import row
from optimizer.answers.why import headline, no_part, refused
from optimizer.answers.words import limit_words, money
from optimizer.errors import COMMAND_LINE, InputError, Problem, near_sentence, quoted
from optimizer.loop.kinds import role_of
from optimizer.model.options import ADJUST, CLEAN, KEEP, Option
from optimizer.model.parts import Kind, Part, kind_of
from optimizer.model.rig import MEETING, PARTING, Position, Rig, tee_place
from optimizer.model.said import Said, flowing
from optimizer.search.best import RESOLUTION_M3S, Found, Seeker
from optimizer.search.choices import SINGLE_PART_LIMITS, Choices, broken_by_itself, choices
from optimizer.search.layers import Problem as Layers
from optimizer.search.layers import build

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, order=True)
class Spot:
    """A place that can be named: the number of its position in the loop, where it comes among the places of that, its name, and
    what it takes. ``inside``: it is inside branches or a tee of them; ``added``: it comes with a branch that is not there yet."""

    position: int
    order: int
    name: str
    kind: str
    role: str
    stays: bool
    inside: bool = False
    added: bool = False


Placing = tuple[tuple[Spot, str], ...]
"""Places with the ids of the parts that are to stand there."""

MOST_PLACINGS = 60
"""So many ways to place the parts are tried; with more, their places must be said."""

ASIDE = ("budget", "flow_min_m3s", "bio_area_m2", "mechanical_stage", *SINGLE_PART_LIMITS)
"""Limits that a bundle of named parts may break: it is told which."""


def explain_bundle(question: Question, words: Sequence[str]) -> str:
    """The reasons, line by line. A word is the id of a part, or a position, "=" and an id.

    Raises InputError with everything that is wrong with the words.
    """
    menu = choices(question.rig, question.catalog, question.limits, starts_clean=question.starts_clean)
    placings = placings_of(question.rig, menu, words)
    seeker = Seeker(build(menu))
    best = seeker.most_flow().found
    fixed = [pair for pair in placings[0] if pair[0].stays]
    if fixed:
        told = [f"{named((pair,))}: what is there is not up for a swap, says the rig." for pair in fixed]
        return Said.joined([headline(best, question.catalog.currency), *told], "\n")
    lines = [headline(best, question.catalog.currency), *_alone_told(question, seeker, placings)]
    lines.append(_with_the_rest_free(question, seeker, best, placings))
    if seeker.tally.stopped:
        lines.append("A search was stopped before it was proved: there may be better bundles than those named here.")
    return Said.joined(lines, "\n")


def _alone_told(question: Question, seeker: Seeker, placings: Sequence[Placing]) -> Iterator[str]:
    """What just the parts do, placed where they do most; or why they cannot stand there."""
    plain = None if all(map(is_inside, placings)) else _Alone.of(question)
    alone = {placing: _Alone.of(question, placing) if plain is None or is_inside(placing) else plain for placing in placings}
    tried = [(placing, each.found(placing)) for placing, each in alone.items()]
    made = [(placing, found) for placing, found in tried if found is not None]
    if made:
        placing, found = max(made, key=lambda pair: (pair[1].flow_m3s, -pair[1].bundle.price))
        yield from _told(question, seeker, alone[placing], placing, found)
    else:
        yield Said(f"{named(placings[0])}: ", alone[placings[0]].hindrance(placings[0]), ".")


# -- which parts, and where ----------------------------------------------------------------------------------------


def placings_of(rig: Rig, menu: Choices, words: Sequence[str]) -> list[Placing]:
    """All ways to place the parts. Raises InputError."""
    problems: list[Problem] = []
    wanted = [places for word in words if (places := _places(rig, menu, word.strip(), problems))]
    if problems:
        raise InputError(COMMAND_LINE, problems)
    found = list(dict.fromkeys(_spread(wanted)))
    if not found:
        ids = ", ".join(quoted(word) for word in words)
        problems.append(Problem(where="--why", what=f"{ids} do not all find a place.", cure="Name fewer parts."))
    if len(found) > MOST_PLACINGS:
        what = f"the parts can be placed in more than {MOST_PLACINGS} ways."
        problems.append(Problem(where="--why", what=what, cure='Say where they go, for example "return_hose=HOSE-19-27".'))
    if problems:
        raise InputError(COMMAND_LINE, problems)
    return found


def _spots(rig: Rig) -> Iterator[Spot]:
    """All places that can be named, in the order of the water."""
    for number, position in enumerate(rig.positions):
        if not position.branches:
            yield Spot(number, 0, position.name, position.kind, position.role, position.stays)
            continue
        yield from _inside(number, position, (number > 0, number < len(rig.positions) - 1), count())


def _inside(number: int, position: Position, tees: tuple[bool, bool], order: Iterator[int]) -> Iterator[Spot]:
    """The places inside the branches of a position, and their tees (``tees``: where they part, and where they meet)."""
    single = not position.branches[1].installed
    for where, is_due in zip((PARTING, MEETING), tees, strict=True):
        if is_due:
            name = tee_place(position, where)
            yield Spot(number, next(order), name, Kind.TEE, "", position.stays and not single, True, single)
    for branch in position.branches:
        for n, each in enumerate(branch.positions):
            if each.branches:
                due = tees[0] or n > 0, tees[1] or n < len(branch.positions) - 1
                yield from _inside(number, each, due, order)
            else:
                yield Spot(number, next(order), each.name, each.kind, each.role, each.stays, True, not branch.installed)


def _places(rig: Rig, menu: Choices, word: str, problems: list[Problem]) -> list[tuple[Spot, str]]:
    """The places that one word can mean; what is wrong with it is added to the problems."""
    name, _, part_id = word.rpartition("=")
    name, part_id = name.strip(), part_id.strip()
    spots = list(_spots(rig))
    names = [spot.name for spot in spots]
    part = menu.shop.parts.get(part_id)
    if part is None:
        problems.append(no_part(part_id, menu))
    if name and name not in names:
        cure = near_sentence(name, names) or f"Positions: {', '.join(names)}."
        problems.append(Problem(where="--why", what=f"no position {quoted(name)}.", cure=cure))
    if part is None or (name and name not in names):
        return []
    fitting = [spot for spot in spots if _takes(spot, part)]
    places = [spot for spot in fitting if spot.name == name] if name else _outside_first(fitting)
    if not places:
        at = f"{quoted(name)} does not take" if name else "no position takes"
        where = ", ".join(spot.name for spot in fitting)
        joints = "Joints get adapters, clamps and seals as they need them."
        cure = f"Positions that take it: {where}." if fitting else joints
        problems.append(Problem(where="--why", what=f"{at} {quoted(part_id)} ({kind_of(part)}).", cure=cure))
    return [(spot, part_id) for spot in places]


def _outside_first(fitting: Sequence[Spot]) -> Sequence[Spot]:
    return [spot for spot in fitting if not spot.inside] or fitting


def _takes(spot: Spot, part: Part) -> bool:
    if kind_of(part) == Kind.MEDIUM:
        return spot.kind == Kind.CANISTER
    return kind_of(part) == spot.kind and (spot.kind != Kind.FITTING or role_of(part) == spot.role)


def _spread(wanted: Sequence[Sequence[tuple[Spot, str]]]) -> Iterator[Placing]:
    """One place for each part, none used twice; only the canister takes several media."""

    def grow(made: Placing, rest: Sequence[Sequence[tuple[Spot, str]]]) -> Iterator[Placing]:
        if not rest:
            yield tuple(sorted(made))
            return
        used = {spot for spot, _ in made if spot.kind != Kind.CANISTER}
        for choice in rest[0]:
            if choice[0] not in used:
                yield from grow((*made, choice), rest[1:])

    for number, placing in enumerate(grow((), wanted)):
        if number > 20 * MOST_PLACINGS:
            return
        yield placing


def named(placing: Placing) -> str:
    """The parts of a placing, each with its place, as a keeper reads them."""
    return ", ".join(f"{part_id} at {spot.name}" for spot, part_id in placing)


def is_inside(placing: Placing) -> bool:
    """Whether a place stands inside branches, or is a tee of them."""
    return any(spot.inside for spot, _ in placing)


def _at(option: Option, spot: Spot) -> Option | None:
    """What an option of a position puts at one place of it; None where its branches have no such place."""
    if option.ways is None:
        return None if spot.inside else option
    return next((each for each in option.ways.options if each.place == spot.name), None)


@dataclass(frozen=True, slots=True)
class _Narrow:
    """Of the options inside branches those that put the named parts there. ``alone``: what is not named rests as it is, and of a
    branch that is added for them the rest is free."""

    spots: Mapping[str, Spot]
    wanted: Mapping[str, str]
    alone: bool

    @classmethod
    def of(cls, rig: Rig, placing: Placing, alone: bool = False) -> "_Narrow":
        wanted = {spot.name: part_id for spot, part_id in placing if spot.inside}
        return cls({spot.name: spot for spot in _spots(rig)}, wanted, alone)

    def __call__(self, place: str, options: list[Option]) -> list[Option]:
        """See `choices.Narrow`."""
        spot = self.spots[place]
        if place in self.wanted:
            having = [option for option in options if _has(option, [self.wanted[place]])]
            return [option for option in having if not option.is_installed] or having
        here = [self.spots[name] for name in self.wanted if self.spots[name].position == spot.position]
        if not self.alone or not here:
            return options
        if spot.added:
            return options if any(each.added for each in here) else []
        change = _resting(options)
        return [option for option in options if option.change == change] or options


def _at_any_flow(menu: Choices) -> Choices:
    """Choices without the least flow that a device needs."""
    return replace(menu, options=tuple(tuple(replace(o, flow_min_m3s=0.0) for o in some) for some in menu.options))


def _resting(options: Sequence[Option]) -> str:
    """The change that leaves a place as it is, cleaned where that is needed."""
    return CLEAN if any(option.change == CLEAN for option in options) else KEEP


def _has(option: Option, part_ids: Sequence[str]) -> bool:
    """Whether an option puts these parts (several only in the canister) at its position."""
    if option.fills:
        media = Counter(fill.medium.id for fill in option.fills if fill.medium is not None)
        return all(media[part_id] for part_id in part_ids)
    pinched = option.part is not None and kind_of(option.part) == Kind.HOSE and option.throttles
    return option.part is not None and [option.part.id] == list(part_ids) and option.change != ADJUST and not pinched


def mask_of(problem: Layers, placing: Placing, everything: Mask) -> Mask:
    """The options that leave the named parts where they are to stand: new ones, where what is there is of the same model but a
    new one would do better."""
    mask = everything.copy()
    for place in {spot.position for spot, _ in placing}:
        wanted: dict[Spot, list[str]] = {}
        for spot, part_id in placing:
            if spot.position == place:
                wanted.setdefault(spot, []).append(part_id)
        options, here = problem.layers[place].options, slice(problem.option_at[place], problem.option_at[place + 1])
        found = [[(_at(option, spot), ids) for spot, ids in wanted.items()] for option in options]
        having = [all(each is not None and _has(each, ids) for each, ids in some) for some in found]
        new = [
            has and not any(each is not None and each.is_installed for each, _ in some)
            for has, some in zip(having, found, strict=True)
        ]
        mask[here] &= new if any(new) else having
    return mask


# -- just these parts ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Alone:
    """A search for which only the named parts change, whatever limits they break by themselves."""

    seeker: Seeker
    still: Mask

    @classmethod
    def of(cls, question: Question, placing: Placing = ()) -> "_Alone":
        """Named places inside branches, if there are any, get nothing but their parts."""
        narrow = _Narrow.of(question.rig, placing, alone=True) if is_inside(placing) else None
        menu = choices(question.rig, question.catalog, question.limits.without(*ASIDE), narrow=narrow)
        seeker = Seeker(build(replace(_at_any_flow(menu), ways=tuple(map(_at_any_flow, menu.ways)))))
        still: list[bool] = []
        for layer in seeker.problem.layers:
            change = _resting(layer.options)
            still += [option.change == change for option in layer.options]
        return cls(seeker, np.array(still, dtype=bool))

    def mask(self, placing: Placing) -> Mask:
        """The named parts where they are to stand, everything else as it is."""
        problem, everything = self.seeker.problem, self.still.copy()
        for spot, _ in placing:
            everything[problem.option_at[spot.position] : problem.option_at[spot.position + 1]] = True
        return mask_of(problem, placing, everything)

    def found(self, placing: Placing) -> Found | None:
        """The bundle with the cheapest joints; of equally cheap ones that which delivers most."""
        mask = self.mask(placing)
        cheapest = self.seeker.least_price_with(mask)
        return None if cheapest is None else self.seeker.with_budget(cheapest.bundle.price).most_flow_with(mask)

    def hindrance(self, placing: Placing) -> str:
        """Why there is no such bundle: what is not for sale, the first joint that cannot be closed, or that no water flows."""
        mask, problem = self.mask(placing), self.seeker.problem
        for refusal in problem.choices.refusals:
            if (refusal.position, refusal.part_id) in {(spot.name, part_id) for spot, part_id in placing}:
                return Said("not on offer there: ", refusal.reason)
        states = {0}
        for place, layer in enumerate(problem.layers):
            allowed = mask[problem.option_at[place] : problem.option_at[place + 1]]
            if not allowed.any():
                return _no_filling(problem.choices.rig.positions[place])
            arriving = {int(t) for s, t in zip(layer.joint_from, layer.joint_to, strict=True) if int(s) in states}
            ahead = {int(layer.leave[n]) for n in np.flatnonzero(allowed) if int(layer.entry[n]) in arriving}
            if not ahead:
                before = [problem.layers[place - 1].leaves[state].end for state in states]
                wanted = layer.options[int(np.flatnonzero(allowed)[0])].inlet
                name = problem.choices.rig.positions[place].name
                return Said(f"cannot be joined, left as it is otherwise: in front of {name} ", refused(before, wanted))
            states = ahead
        return "no water flows, or pieces for the joints are not in stock"


def _no_filling(position: Position) -> str:
    if position.branches:
        return (
            f"no way to fill the branches of {position.name} holds them, left as it is otherwise: a joint cannot be closed, "
            "pieces are not in stock, or the jet in a tee would rule how the flow divides"
        )
    return f"no filling of the trays that the limits allow holds them (at {position.name})"


def _told(question: Question, seeker: Seeker, alone: _Alone, placing: Placing, found: Found) -> Iterator[str]:
    """What the parts do when only they change, which limits that breaks, and what beats it."""
    rig, price, delivered = question.rig, found.bundle.price, found.delivered
    options = alone.seeker.options_of(found.bundle)
    pump = rig.index("pump")
    joints = [alone.seeker.problem.joint(flat) for flat in found.bundle.path.joints]
    held = any(option.throttles for option in options[pump + 1 :]) or any(joint.throttles for joint in joints[pump + 1 :])
    stands = found_standing(rig, alone.seeker, found, held)
    added = ", the rest of its branch the cheapest that fits" if any(spot.added for spot, _ in placing) else ""
    name = f"{named(placing)}, everything else as it is (cleaned){added}"
    throttled = (", throttled from ", flowing(delivered.own_m3s)) if stands.flow_m3s < delivered.own_m3s * (1 - 1e-9) else ()
    yield Said(f"{name}: ", flowing(stands.flow_m3s), f" for {money(price, question.catalog.currency)}", *throttled, ".")
    own = {limit: Said(limit_words(limit, question.limits, rig), f" ({why})") for limit, why in _own_breaks(question, options)}
    breaks = [broken.words for broken in row("", rig, question.limits, stands).breaks if broken.limit not in own]
    breaks += own.values()
    if breaks:
        yield Said("It breaks: ", Said.joined(dict.fromkeys(breaks), "; "), ".")
    yield from _beaten(seeker, stands.flow_m3s, price, bool(breaks), question.catalog.currency)


def _own_breaks(question: Question, options: Sequence[Option]) -> Iterator[tuple[str, str]]:
    """Limits that one part breaks by itself and that a row of the verdict names without the figures."""
    for option in options:
        for limit, why in broken_by_itself(question.rig, question.limits, option):
            if limit == "canister_rating":
                yield limit, why


def _beaten(seeker: Seeker, flow_m3s: float, price: int, breaks: bool, currency: str) -> Iterator[str]:
    """What else the same money buys, and for how little the same water can be had."""
    money_at_hand = min(price, seeker.budget)
    rival = seeker.with_budget(money_at_hand).most_flow().found
    if rival is not None and rival.flow_m3s > flow_m3s + RESOLUTION_M3S:
        more, changed = flowing(rival.flow_m3s - flow_m3s, 1), _changed(seeker, rival)
        yield Said(
            *(f"For {money(money_at_hand, currency)} the best bundle within the limits delivers ", flowing(rival.flow_m3s)),
            *(", ", more, f" more, and costs {money(rival.bundle.price, currency)}: {changed}."),
        )
    elif not breaks:
        yield "Nothing that costs no more delivers more."
    cheaper = seeker.least_price(flow_m3s * (1 - 1e-9)).found
    if cheaper is not None and cheaper.bundle.price < price:
        less = money(price - cheaper.bundle.price, currency)
        yield f"As much water can be had for {money(cheaper.bundle.price, currency)}, {less} less: {_changed(seeker, cheaper)}."


def _changed(seeker: Seeker, found: Found) -> str:
    """What a bundle changes, in a few words."""
    positions = seeker.problem.choices.rig.positions
    done = [o for o in seeker.options_of(found.bundle) if o.change not in (KEEP, CLEAN)]
    words = [f"{positions[o.position].name} {o.change}" + ("" if o.part is None else f" {_id(o)}") for o in done]
    return ", ".join(words) if words else "nothing is bought"


def _id(option: Option) -> str:
    if option.fills:
        return " + ".join(fill.medium.id for fill in option.fills if fill.medium is not None) or "nothing"
    return "" if option.part is None else option.part.id


# -- everything else free ------------------------------------------------------------------------------------------


def _with_the_rest_free(question: Question, seeker: Seeker, best: Found | None, placings: Sequence[Placing]) -> str:
    """The best bundle with the parts, or the one limit without which there is one."""
    currency = question.catalog.currency
    made = _best_with(question, seeker, placings)
    if made is not None:
        own, placing, found = made
        gap = 0.0 if best is None else best.flow_m3s - found.flow_m3s
        told = Said("With everything else free to change the best bundle with them delivers ", flowing(found.flow_m3s))
        less = (": ", flowing(gap, 1), " less than the best.") if gap > RESOLUTION_M3S else (": no less than the best.",)
        with_it = dragged_words(own, found, None if own is not seeker else best, {spot.position for spot, _ in placing})
        return Said(told, f" for {money(found.bundle.price, currency)}", *less, with_it)
    for name in question.limits.binding:
        other = Seeker(build(choices(question.rig, question.catalog, question.limits.without(name))))
        made = _best_with(question, other, placings)
        if made is not None:
            found = made[2]
            words = limit_words(name, question.limits, question.rig, currency)
            return Said(
                *(
                    "Whatever else is changed, no bundle with them keeps to ",
                    words,
                    "; without that limit the best one delivers ",
                ),
                *(flowing(found.flow_m3s), f" for {money(found.bundle.price, currency)}."),
            )
    return "Whatever else is changed, no bundle with them meets the limits, and dropping a single limit does not help."


def _best_with(question: Question, seeker: Seeker, placings: Sequence[Placing]) -> tuple[Seeker, Placing, Found] | None:
    """The best bundle with the parts within the limits of a search, the search that found it, and where the parts stand in it."""
    made = []
    for placing in placings:
        own = seeker
        if is_inside(placing):
            narrow = _Narrow.of(question.rig, placing)
            own = Seeker(build(choices(question.rig, question.catalog, seeker.limits, narrow=narrow)), seeker.tally)
        found = own.most_flow_with(mask_of(own.problem, placing, own.all))
        made += [] if found is None else [(own, placing, found)]
    return max(made, key=lambda each: (each[2].flow_m3s, -each[2].bundle.price), default=None)
