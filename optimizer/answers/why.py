"""Why a part is not in the best bundle: it is not offered, it cannot be joined, or another bundle beats it."""

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from optimizer.answers.bundle_walk import closings
from optimizer.answers.dragged import dragged_words
from optimizer.answers.words import limit_words, money
from optimizer.errors import COMMAND_LINE, InputError, Problem, near_sentence, quoted
from optimizer.loop.kinds import parts_of, role_of
from optimizer.model.ends import End, Standard, refusal
from optimizer.model.options import Option
from optimizer.model.parts import Fitting, Kind, Part, kind_of
from optimizer.model.rig import MEETING, PARTING, Rig, inner_positions, nested_positions, tee_place
from optimizer.model.said import Said, flowing
from optimizer.search.best import Found, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.joints import MOST_PIECES
from optimizer.search.layers import Layer, build
from optimizer.search.layers import Problem as Layers

if TYPE_CHECKING:
    from optimizer.answers.question import Question


def explain(question: "Question", part_id: str) -> str:
    """The reason in a few lines, place by place.

    Raises InputError for a part that neither the catalog nor the keeper has, KeyboardInterrupt when the search for the best is
    stopped.
    """
    menu = choices(question.rig, question.catalog, question.limits, starts_clean=question.starts_clean)
    if part_id not in menu.shop.parts:
        raise InputError(COMMAND_LINE, (no_part(part_id, menu),))
    seeker = Seeker(build(menu))
    outcome = seeker.most_flow()
    if outcome.status == "stopped":
        raise KeyboardInterrupt
    best = outcome.found
    lines = [headline(best, question.catalog.currency), *_places(question, menu, seeker, best, part_id)]
    if len(lines) == 1:
        lines.append(_nowhere(question.rig, menu, seeker, best, part_id))
    return Said.joined(lines, "\n")


def no_part(part_id: str, menu: Choices) -> Problem:
    """The problem of an id that is no part's: perhaps it is that of a kit, or near to another."""
    kit = next((product for product in menu.shop.products if product.id == part_id), None)
    if kit is not None:
        inside = ", ".join(dict.fromkeys(quoted(line.part_id) for line in kit.lines))
        return Problem(where="--why", what=f"{quoted(part_id)} is a kit.", cure=f"Ask for what it contains: {inside}.")
    cure = near_sentence(part_id, sorted(menu.shop.parts)) or "Use an id of the catalog."
    return Problem(where="--why", what=f"no part {quoted(part_id)}.", cure=cure)


def _roles(seeker: Seeker, best: Found | None, part_id: str) -> Iterator[str]:
    """What an adapter does in each joint that it stands in: which of its ends faces what, and what must not be mixed."""
    if best is None:
        return
    joints, met = [seeker.problem.joint(flat) for flat in best.bundle.path.joints], list[End]()
    for closing in closings(seeker.options_of(best.bundle), joints):
        names = [closing.before, *(turned.part.id for turned in closing.chain.adapters), closing.after]
        for n, turned in enumerate(closing.chain.adapters):
            if turned.part.id == part_id:
                yield Said(f" Between {closing.before} and {closing.after}: its ", turned.entry.name, f" end meets {names[n]}, ")
                yield Said("its ", turned.exit.name, f" end {names[n + 2]}.")
                met = [turned.entry, turned.exit]
    yield from _kept_apart(met)


def _ends_told(part: Part) -> Iterator[str]:
    """The ends of an adapter, and what must not be mixed."""
    for fitting in parts_of([part], Fitting):
        yield Said(" Its ends: ", fitting.inlet.name, " and ", fitting.outlet.name, ".")
        yield from _kept_apart((fitting.inlet, fitting.outlet))


def _kept_apart(ends: Sequence[End]) -> Iterator[str]:
    """That NPT and the threads of ISO 228 and ISO 7 (BSP) never mate, where an end is of either family, and what each end is."""
    families = {end.standard: "NPT" if end.standard is Standard.NPT else "BSP" for end in ends if end.standard in THREADS}
    if "NPT" in families.values() and "BSP" in families.values():
        yield " So it stands between NPT and BSP (G, R, Rc, Rp), which never mate: mark its ends before you fit it."
    elif "NPT" in families.values():
        yield " NPT goes on NPT alone: it never mates with G, R, Rc or Rp (BSP), though it starts to screw."
    elif families:
        yield f" {', '.join(families)} is BSP: it never mates with NPT, though it starts to screw."


THREADS = (Standard.NPT, Standard.G, Standard.R, Standard.RC, Standard.RP)
"""Pipe threads, of 60 degrees (NPT) and of 55 (all others)."""


def _nowhere(rig: Rig, menu: Choices, seeker: Seeker, best: Found | None, part_id: str) -> str:
    """What to say of a part that no option of the loop names."""
    part = menu.shop.parts[part_id]
    bought = () if best is None else best.bundle.cover.purchases
    if any(line.part_id == part_id for purchase in bought for line in menu.shop.products[purchase.product].lines):
        return Said(f"{part_id} is on the bill of the best bundle.", *_roles(seeker, best, part_id))
    word = role_of(part) if kind_of(part) == Kind.FITTING else kind_of(part)
    if word in (Kind.CLAMP, Kind.SEAL, "adapter"):
        said = f"{part_id} is for joints, which get the cheapest pieces that close them; the best bundle needs none of it."
        return Said(said, *_ends_told(part))
    inside = [place for position in rig.positions for place in inner_positions(position)]
    named = [place.name for place in inside if place.kind == kind_of(part) and place.role in ("", word)]
    example = named[0] if named else ""
    if word == Kind.TEE:
        branched = [position for position in nested_positions(rig.positions) if position.branches]
        named = [f"the tees of {position.name}" for position in branched]
        example = tee_place(branched[0], MEETING if branched[0] is rig.positions[0] else PARTING) if branched else ""
    if not named:
        return f"{part_id} is of the kind {word}; the loop of {rig.name} has no place for one of its kind."
    return (
        f"{part_id} could stand at {', '.join(named)}, but no way to fill the branches that is worth trying has it: it cannot be "
        "joined there, or another part loses no more water, allows as much and costs no more. What it would do at one of them is "
        f'told by --why "{example}={part_id}".'
    )


def headline(best: Found | None, currency: str) -> str:
    """The best bundle in one line."""
    if best is None:
        return "No bundle meets all limits, with this part or without it."
    return Said("Best: ", flowing(best.flow_m3s), f" for {money(best.bundle.price, currency)}.")


def _places(question: "Question", menu: Choices, seeker: Seeker, best: Found | None, part_id: str) -> Iterator[str]:
    for refused in menu.refusals:
        if refused.part_id == part_id:
            yield Said(f"{refused.position}: {part_id} is not offered: ", refused.reason, ".")
    for place, layer in enumerate(seeker.problem.layers):
        name = question.rig.positions[place].name
        chosen = [n for n, option in enumerate(layer.options) if _uses(option, part_id)]
        if not chosen:
            continue
        taken = -1 if best is None else best.bundle.path.options[place] - seeker.problem.option_at[place]
        new = [n for n in chosen if not layer.options[n].is_installed]
        if taken in chosen and (taken in new or not new):
            yield f"{name}: {part_id} is in the best bundle."
            continue
        named = part_id
        if taken in chosen:
            yield f"{name}: the {part_id} that is there stays in the best bundle."
            chosen, named = new, f"a new {part_id}"
        wanted = partial(_uses, part_id=part_id, new=named != part_id)
        broken = _broken_joint(seeker.problem, place, layer, chosen)
        if broken:
            yield Said(f"{name}: {named} cannot be joined: ", broken, ".")
            continue
        yield Said(f"{name}: ", _beaten(question, seeker, best, place, named, wanted))


Wanted = Callable[[Option], bool]
"""Whether an option is one that is asked about."""


def _uses(option: Option, part_id: str, new: bool = False) -> bool:
    """Whether an option has a part, or a piece bought for it; branches have what stands in them. ``new``: not the one there."""
    if new and option.is_installed:
        return False
    return any(each.part is not None and each.part.id == part_id for each in option.each) or any(
        item.key[1] == part_id for item in option.items
    )


def _broken_joint(problem: Layers, place: int, layer: Layer, chosen: list[int]) -> str:
    """Why none of the chosen options can be joined to what stands before or behind, or an empty text."""
    entries = {int(layer.entry[n]) for n in chosen}
    if not entries & set(layer.joint_to.tolist()):
        before = problem.layers[place - 1].leaves
        wanted = next(layer.entries[entry].end for entry in entries)
        return refused([node.end for node in before], wanted)
    if place + 1 < len(problem.layers):
        after = problem.layers[place + 1]
        leaves = {int(layer.leave[n]) for n in chosen}
        if not leaves & set(after.joint_from.tolist()):
            left = next(layer.leaves[leave].end for leave in leaves)
            return refused([node.end for node in after.entries], left)
    return ""


def refused(neighbours: list[End | None], end: End | None) -> str:
    """Why an end mates with none of its neighbours, and no adapters help."""
    reasons = [refusal(neighbour, end) for neighbour in neighbours if neighbour is not None and end is not None]
    first = next((reason for reason in reasons if reason), "its neighbours have no ends that can be joined")
    return Said(first, f", and no chain of at most {MOST_PIECES} adapters on offer closes that joint")


def _beaten(question: "Question", seeker: Seeker, best: Found | None, place: int, named: str, wanted: Wanted) -> str:
    """What the best bundle with one of the ``wanted`` options at a place would do, or why there is none."""
    currency = question.catalog.currency
    chosen = [n for n, option in enumerate(seeker.problem.layers[place].options) if wanted(option)]
    with_part = seeker.most_flow_with(_mask(seeker, place, chosen))
    if with_part is not None:
        gap = 0.0 if best is None else best.flow_m3s - with_part.flow_m3s
        return Said(
            *(f"the best bundle with {named} delivers ", flowing(with_part.flow_m3s)),
            *(f" for {money(with_part.bundle.price, currency)}: ", flowing(gap, 1), " less than the best."),
            dragged_words(seeker, with_part, best, {place}),
        )
    for name in question.limits.binding:
        limits = question.limits.without(name)
        other = Seeker(build(choices(question.rig, question.catalog, limits, starts_clean=question.starts_clean)))
        options = other.problem.layers[place].options
        again = [n for n, option in enumerate(options) if wanted(option)]
        found = other.least_price_with(_mask(other, place, again)) if again else None
        if found is not None:
            words = limit_words(name, question.limits, question.rig, currency)
            return Said(
                *(f"no bundle with {named} keeps to ", words, "; without that limit the cheapest one costs "),
                *(f"{money(found.bundle.price, currency)} and delivers ", flowing(found.flow_m3s), "."),
            )
    return f"no bundle with {named} meets the limits, and dropping a single limit does not help."


def _mask(seeker: Seeker, place: int, chosen: list[int]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    mask = seeker.all.copy()
    first, last = seeker.problem.option_at[place], seeker.problem.option_at[place + 1]
    mask[first:last] = False
    mask[[first + n for n in chosen]] = True
    return mask
