"""The verdict in sentences: what is gained, for how much, and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from optimizer.errors import safe
from optimizer.model.results import Result, Row
from optimizer.report.advice_text import advice_sentences, sure_sentences
from optimizer.report.measures import Measures, count, gain, money, system, turnover
from optimizer.report.proof_words import not_among

__all__ = ["doubtful", "how_sure", "is_cheapest", "sentences", "what_for"]

ALIKE = 0.005
"""Flows less than half a percent apart are not told apart in words."""


def sentences(result: Result, units: str = "metric") -> tuple[str, ...]:
    """Return the verdict, most important first, and how sure it is; every sentence stands for itself.

    `units` is "metric" or "us". Spaces inside quantities are `layout.GLUE`. Raises ValueError for other units.
    """
    measures = system(units)
    return (*what_for(result, measures), *how_sure(result, measures))


def what_for(result: Result, measures: Measures) -> tuple[str, ...]:
    """Return what is best and what it is good for, or that there is nothing, and whether a check speaks against it."""
    best = result.best
    if best is None:
        return tuple(_without_answer(result, measures))
    return tuple(_with_answer(result, best, measures))


def how_sure(result: Result, measures: Measures) -> tuple[str, ...]:
    """Return what is proved, or why it is not; nothing where there is no answer, or one that must not be relied on."""
    best = result.best
    if best is None or doubtful(result):
        return ()
    if result.status != "proved":
        return (_stopped(result, best, measures),)
    left_out = not all(check.done for check in result.proof.certificates)
    proved = (_proved(result),) if result.advice is None else tuple(sure_sentences(result, result.advice, measures))
    return (*proved, *(("The check by an independent route was interrupted.",) if left_out else ()))


def is_cheapest(result: Result) -> bool:
    """Say whether the least price was asked for, and not the most flow."""
    return result.question.target_m3s > 0.0


def doubtful(result: Result) -> bool:
    """Say whether one of the independent checks does not agree with the answer."""
    return any(check.done and not check.agrees for check in result.proof.certificates)


def _with_answer(result: Result, best: Row, measures: Measures) -> Iterator[str]:
    if result.advice is not None:
        first, *more = advice_sentences(result, measures)
    elif result.lasting is not None:
        first, *more = (*_lasting(result, measures), *_free(result, best, measures))
    else:
        first, *more = (_answer(result, best, measures), *_free(result, best, measures))
    yield first
    yield from _shut(result, measures)
    yield from more
    yield from _wish(result, measures)
    if doubtful(result):
        yield "Do not buy on this answer: an independent check does not agree with it (see Proof)."


def _answer(result: Result, best: Row, measures: Measures) -> str:
    flow, now = measures.flow_text(best.flow_m3s), measures.bare_flow(result.now.flow_m3s)
    per_hour = f"{turnover(best.turnover_per_hour)} per hour"
    price = money(best.price, safe(result.currency))
    if best.price == 0 and all(change.change == "keep" for change in result.changes):
        return f"{_asked(result)}: leave it as it is, {flow}, {per_hour}."
    rise = gain(best.flow_m3s, result.now.flow_m3s)
    instead = f"{flow} instead of {now}" + (f" ({rise})" if rise else "")
    if best.price == 0:
        return f"{_asked(result)}: buy nothing, {instead}, {per_hour}."
    return f"{_asked(result)}: {instead}, {per_hour}, for {price}."


def _lasting(result: Result, measures: Measures) -> Iterator[str]:
    """What is best by the last day or the mean, and what it is on the clean day."""
    from optimizer.report.lasting_lines import judged_words, lasting_sentences  # most answers are of the clean day

    if result.lasting is None or result.best is None:
        return
    spent = money(result.best.price, safe(result.currency)) if result.best.price else "no money"
    yield f"{_asked(result)}: {judged_words(result.lasting, measures)}, for {spent}."
    yield from lasting_sentences(result.lasting, measures, result.currency)


def _shut(result: Result, measures: Measures) -> Iterator[str]:
    """What cannot be changed, why, and what to find out about it: with the right part on offer the answer may be another."""
    shut = result.shut
    if shut is None:
        return
    places, ends = _and(map(safe, shut.places)), _and(safe(measures.words(end)) for end in shut.ends)
    yield f"Cannot be changed: {places}. Nothing on offer fits {ends}."
    if result.conflict is None:  # which says it among what would help
        yield from (safe(measures.words(each)) for each in shut.measure)


def _and(words: Iterable[str]) -> str:
    """Return words as a list in a sentence."""
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def _wish(result: Result, measures: Measures) -> Iterator[str]:
    """What becomes of the wish in the rig file, and why where it is not reached."""
    wish = result.wish
    if wish is None or wish.reached:
        return
    said = f"The wish of {turnover(wish.turnover_per_hour)} per hour ({measures.flow_text(wish.flow_m3s)}) "
    if wish.reach_m3s >= wish.flow_m3s:
        yield said + "is not reached for this money."
        return
    most = measures.flow_text(wish.reach_m3s)
    yield said + f"is out of reach at any price: within the limits no bundle delivers more than {most}."
    if wish.in_the_way:
        yield f"In the way: {safe('; '.join(map(measures.words, wish.in_the_way)))}."


def _asked(result: Result) -> str:
    if is_cheapest(result):
        return "Cheapest"
    return "Best" if result.question.budget is None else f"Best for {money(result.question.budget, safe(result.currency))}"


def _free(result: Result, best: Row, measures: Measures) -> Iterator[str]:
    """What cleaning and adjusting alone would do: a dirty start must not flatter a purchase."""
    if result.lasting is not None:
        from optimizer.report.lasting_lines import free_sentence  # most answers are of the clean day

        yield from filter(None, [free_sentence(result.lasting, measures)])
        return
    free = result.spend_nothing
    if free is None or best.price == 0 or not free.flow_m3s > result.now.flow_m3s * (1.0 + ALIKE):
        return
    said = f"Spending nothing already gives {measures.flow_text(free.flow_m3s)}"
    more = best.flow_m3s - free.flow_m3s
    if free.breaks:
        said += ", but not within all limits"
    adds = f"; the money adds {measures.flow_text(more)}" if more > free.flow_m3s * ALIKE else ""
    yield f"{said}{adds}."


def _proved(result: Result) -> str:
    tried = result.proof.combinations
    better = "is cheaper" if is_cheapest(result) else "does better"
    aside = not_among(result.proof)
    if tried < 2:
        return f"Proved: no other combination {better}.{aside}"
    return f"Proved: none of {count(tried)} combinations {better}.{aside}"


def _stopped(result: Result, best: Row, measures: Measures) -> str:
    if result.lasting is not None and result.lasting.by_clean_day:
        return _by_clean_day(result, measures)
    said = "Stopped before it was proved:"
    if is_cheapest(result):
        return f"{said} a cheaper bundle may exist."
    if math.isinf(result.proof.bound_m3s):
        return f"{said} how much more could be delivered is not known."
    bound = measures.flow_text(result.proof.bound_m3s)
    room = gain(result.proof.bound_m3s, _judged_m3s(result, best))
    if not room:
        return f"{said} how much more could be delivered is not known."
    if result.proof.bound_m3s <= _judged_m3s(result, best) * (1.0 + ALIKE):
        return f"{said} none delivers more than {bound}, but one that delivers as much for less may exist."
    return f"{said} a better bundle may exist, but none delivers more than {bound} ({room})."


def _by_clean_day(result: Result, measures: Measures) -> str:
    """What is not proved where branches are only followed over an interval."""
    if result.lasting is None:
        return ""
    then = "on average" if result.lasting.by == "mean" else "on the last"
    said = f"Chosen by the clean day, as always with branches, and not proved best {then}"
    if is_cheapest(result):
        return f"{said}: a bundle that keeps the flow, or a cheaper one that does, may exist."
    if math.isinf(result.proof.bound_m3s):
        return f"{said}: how much more could be delivered is not known."
    return f"{said}: a better bundle may exist, but none delivers more than {measures.flow_text(result.proof.bound_m3s)}."


def _judged_m3s(result: Result, best: Row) -> float:
    """The flow that the answer was judged by."""
    if result.lasting is None:
        return best.flow_m3s
    from optimizer.report.lasting_lines import judged_m3s  # most answers are of the clean day

    return judged_m3s(result.lasting)


def _without_answer(result: Result, measures: Measures) -> Iterator[str]:
    tried = count(result.proof.combinations)
    if result.status == "infeasible":
        yield f"No bundle meets all limits ({tried} combinations, search complete)."
        yield from _shut(result, measures)
    else:
        yield f"Stopped before any bundle was found that meets all limits ({tried} combinations)."
        if 0.0 < result.proof.bound_m3s < math.inf and not is_cheapest(result):
            yield f"If there is one, it delivers at most {measures.flow_text(result.proof.bound_m3s)}."
    if doubtful(result):
        yield "Do not rely on this: an independent check does not agree with it (see Proof)."
