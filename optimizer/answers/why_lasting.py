"""Why a part, or several together, are not in the best bundle of an interval: the best with them, judged by the same day."""

from collections.abc import Sequence
from dataclasses import replace

from optimizer.answers.interval import over_interval
from optimizer.answers.lasting import LastingSearch
from optimizer.answers.question import Question
from optimizer.answers.why import explain
from optimizer.answers.why_bundle import Placing, explain_bundle, mask_of, named, placings_of
from optimizer.answers.words import money
from optimizer.model.said import Said, flowing
from optimizer.search.best import RESOLUTION_M3S
from optimizer.search.over_days import MEAN, Judged, Mask

BY_CLEAN_DAY = (
    "With branches the bundle of an interval is chosen by the clean day, and what follows is of that day; what becomes of the "
    "best by the last day is told without --why."
)


def explain_over_days(question: Question, words: Sequence[str]) -> str:
    """The reasons, line by line. A word is the id of a part, or a position, "=" and an id.

    Raises InputError with everything that is wrong with the words.
    """
    if any(position.branches for position in question.rig.positions):
        clean = replace(question, days=0.0, starts_clean=True)
        alone = len(words) == 1 and "=" not in words[0]
        return Said.joined([BY_CLEAN_DAY, explain(clean, words[0]) if alone else explain_bundle(clean, words)], "\n")
    found = over_interval(question)
    if not isinstance(found, LastingSearch):
        raise ValueError("a loop in series is searched over its days")
    placings = placings_of(question.rig, found.seeker.problem.choices, words)
    lines = [_headline(found), *(_told(found, placing) for placing in _stays_aside(placings))]
    if found.seeker.tally.stopped:
        lines.append("A search was stopped before it was proved: there may be better bundles than those named here.")
    return Said.joined(lines, "\n")


def _stays_aside(placings: Sequence[Placing]) -> Sequence[Placing]:
    """Those at places that may be changed, if there are any."""
    return [placing for placing in placings if not any(spot.stays for spot, _ in placing)] or placings


def _headline(found: LastingSearch) -> str:
    best = found.verdict.found
    if best is None:
        return "No bundle keeps all limits on all days, with this or without it."
    return Said("Best: ", _flow(found, best), f" for {_price(found, best)}.")


def _flow(found: LastingSearch, one: Judged) -> str:
    """What a bundle was judged by, and its clean day."""
    days = found.question.days
    when = f" on average over {days:g} days" if found.question.by == MEAN else f" on day {days:g}"
    return Said(flowing(one.value_m3s), when, " (", flowing(one.clean_m3s), " clean)")


def _price(found: LastingSearch, one: Judged) -> str:
    return money(round(one.price), found.question.catalog.currency)


def _told(found: LastingSearch, placing: Placing) -> str:
    """What the best bundle with the parts comes to by the interval, against the best of all."""
    best, name = found.verdict.found, named(placing)
    if any(spot.stays for spot, _ in placing):
        return f"{name}: what is there is not up for a swap, says the rig."
    mask = mask_of(found.seeker.problem, placing, found.seeker.all)
    if best is not None and bool(mask[list(best.path.options)].all()):
        return f"{name}: in the best bundle."
    over = found.over.inside(mask)
    one = (over.least_price(found.question.target_m3s) if found.question.target_m3s else over.most_flow()).found
    if one is None:
        return _none(found, name, mask)
    less = 0.0 if best is None else best.value_m3s - one.value_m3s
    gap = (": ", flowing(less, 1), " less than the best.") if less > RESOLUTION_M3S else (": no less than the best.",)
    return Said(f"{name}: the best bundle with it has ", _flow(found, one), f" for {_price(found, one)}", *gap)


def _none(found: LastingSearch, name: str, mask: Mask) -> str:
    """Why there is no bundle with the parts: whether it is the clean day that rules them out, or the days after it."""
    clean = found.seeker.most_flow_with(mask)
    if clean is None:
        return f"{name}: no bundle with it meets the limits even when clean; what is in the way is told without --interval."
    flow, days = flowing(clean.flow_m3s), found.question.days
    price = money(clean.bundle.price, found.question.catalog.currency)
    kept = f"{name}: no bundle with it keeps what is asked on all days until day {days:g}"
    return Said(f"{kept}; when clean the best with it has ", flow, f" for {price}.")
