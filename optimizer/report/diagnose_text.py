"""A diagnosis as plain text: expected against measured, the advice, where the head goes, suspects, cleaning, the next tests."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from optimizer.errors import safe
from optimizer.model.diagnosis import (
    AIR,
    AS_WRITTEN,
    DIRT,
    LIKELY_AIR,
    PUMP,
    Cause,
    CleaningGain,
    Diagnosis,
    FittedHead,
    PowerCheck,
    Suspect,
)
from optimizer.model.measuring import Calibrated, Identified, PowerBand, RankedTest
from optimizer.model.part_names import named
from optimizer.model.signs import BUBBLES, RATTLE, TILTING
from optimizer.report import priming_text
from optimizer.report.layout import GLUE, PLAIN, Block, Screen, aligned, bullets, finished, long_heading
from optimizer.report.measured_lines import (
    assumed,
    band_text,
    fill_table,
    fill_warnings,
    gain_text,
    relative_text,
)
from optimizer.report.measurement_words import CAUTION
from optimizer.report.measures import Measures, gain, number, percent, probability_text, system, watts
from optimizer.report.plan_lines import opening

__all__ = [
    "blocks",
    "clean_first_words",
    "headline",
    "most_worth_words",
    "odd_words",
    "pump_first_words",
    "render",
    "sentences",
    "told_apart_words",
]

SMALL_SHARE = 0.01
"""Places that take less of the head than this in all three cases share one line."""

MOST_SUSPECTS = 6

MOST_NAMED = 6
"""So many pairs or factors are named in a sentence."""

ODD = 0.05
"""Measurements this far out happen to one rig in twenty that is as its file says."""

LEAST_SHRINK = 0.02
"""Below this share of the variance a test is not worth the trouble."""


def headline(told: Diagnosis, units: str = "metric") -> str:
    """Return the diagnosis in short, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(sentences(told, system(units)))])


def render(told: Diagnosis, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole answer as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    return finished([*opening(told.rig, "what ails it", sentences(told, measures)), *blocks(told, measures)], screen)


def blocks(told: Diagnosis, measures: Measures) -> list[Block]:
    """Return all that follows the sentences of the verdict, in units of `measures`."""
    lines: list[Block] = []
    if told.calibrated.measured:
        lines += ["", *fill_table(told.calibrated.measured, measures)]
        lines += fill_warnings(told.calibrated.measured, measures)
    lines += _causes(told, measures)
    lines += _heads(told, measures) + _suspects(told) + _cleaning(told, measures) + _unknown(told) + _tests(told, measures)
    return [*lines, *assumed(told.notes, measures)]


# -- the verdict ---------------------------------------------------------------------------------------------------


def sentences(told: Diagnosis, measures: Measures) -> Iterator[str]:
    """Yield the verdict sentence by sentence, in units of `measures`."""
    found = told.calibrated
    expected = f"The file alone lets expect {band_text(found.expected, measures)}"
    if not found.identified.singular:
        yield f"{expected}; nothing is measured yet."
    else:
        more = gain(found.delivered.p50_m3s, found.expected.p50_m3s)
        yield f"{expected}; with the measurements it is {band_text(found.delivered, measures)}: {more}."
        if found.tail < ODD:
            yield odd_words(found)
    if told.pump_first:
        yield pump_first_words(told)
    elif found.clean_first:
        yield clean_first_words(found)
    elif not told.cleaning:
        against = ", and nothing measured speaks against it" if found.identified.singular else ""
        yield f"The file calls everything clean{against}: cleaning gives nothing back."
    else:
        yield f"Cleaning alone would give back {gain_text(found.gain)}."


def odd_words(found: Calibrated) -> str:
    """Return how rarely measurements come this far from the file by chance, and what that means."""
    less = found.delivered.p50_m3s < found.expected.p50_m3s
    what = "dirtier, more worn or narrower" if less else "cleaner, wider or stronger"
    chance = f"less than 0.1{GLUE}%" if found.tail < 1e-3 else relative_text(found.tail)
    return (
        f"Measurements this far from the file come by chance in {chance} of cases: "
        f"something is {what} than written, or a fill went wrong."
    )


def clean_first_words(found: Calibrated) -> str:
    """Return the advice to clean before anything is bought."""
    if found.clean_first == "less":
        return "The loop gives less than a loop as clean as the file says: clean and measure again before you buy."
    least, middle, most = (percent(ratio - 1.0) for ratio in (found.gain.p10, found.gain.p50, found.gain.p90))
    return f"Cleaning alone would give back about {middle} ({least} to {most}): clean and measure again before you buy."


# -- dirt, the pump, or air ----------------------------------------------------------------------------------------

_NAMES = {
    AS_WRITTEN: "nothing beyond what the file says and what it does not know",
    DIRT: "a loop that is dirtier or narrower than written",
    PUMP: "a pump weaker than written: dirt or wear at the impeller, a magnet that slips",
    AIR: "air in the pump or the canister",
}
_SIZES = {DIRT: "losses", PUMP: "speed", AIR: "density in the pump"}

LET_OUT = (
    "To let air out, with dry hands and all else on the tank unplugged: tilt the running canister a little this way and that, or "
    "switch it off for a few seconds and on again. Bubbles at the outlet that end and a flow that comes back show that it was "
    "air (common practice, no published source). Hold on to the hoses: one that slips off empties the tank onto the floor."
)
THEN_IMPELLER = (
    "If nothing comes out: unplug, shut the valves, take out the impeller, brush it and its well, and look for broken vanes. A "
    "pump that hums and moves nothing must not run on. Local codes and licensed electricians decide on sockets and RCD (GFCI)."
)
MEASURE_AGAIN = (
    "Then fill and read the watts again: all figures here take the pump to be full of water, and blame the loop for the rest."
)


def pump_first_words(told: Diagnosis) -> str:
    """Return the advice to look at the pump before the loop."""
    both, air = (probability_text(told.probability(*names)) for names in ((AIR, PUMP), (AIR,)))
    # watts alone hardly tell the two apart
    if told.signs and told.probability(AIR) >= LIKELY_AIR:
        return f"Air in the pump is the likeliest cause ({air}): let it out and measure again before you clean or buy."
    return (
        f"What is wrong is rather at the pump than in the loop ({both}; air in it {air}): let the air out, then look at the "
        "impeller, and measure again before you buy."
    )


def _causes(told: Diagnosis, measures: Measures) -> list[Block]:
    if not told.causes:
        return []
    lines = bullets(map(_cause, told.causes))
    if told.power is not None:
        lines += bullets([_power_words(told.power, told.signs)])
    if told.pump_first:
        lines += bullets([LET_OUT, THEN_IMPELLER, MEASURE_AGAIN])
    if told.air is not None:
        lines += priming_text.bubbles(told.air, measures)
    by = [*(["fills"] if told.calibrated.measured else []), *(["watts"] if told.power else []), *map(safe, told.signs)]
    head = f"Dirt, the pump, or air: by {', '.join(by)}; odds are priors of the authors"
    return ["", *long_heading(head), *lines]


def _cause(one: Cause) -> str:
    size = f" ({_SIZES[one.name]} {number(one.size, 2)} times)" if one.name in _SIZES else ""
    return f"{probability_text(one.probability)}: {_NAMES[one.name]}{size}"


def _power_words(power: PowerCheck, signs: Sequence[str]) -> str:
    read = f"{watts(power.read_w)}{GLUE}W were read. Full of water, and the loop to blame, the pump would draw"
    would = f"{_band_w(power.full)} at its flow and {_band_w(power.shut)} at no flow"
    below = f"that it draws less than at no flow has a probability of {probability_text(power.below_shut)}"
    why = "No loop that chokes a pump brings its watts below these; air in it does, or an impeller that is worn or slips."
    told_apart = {TILTING, BUBBLES, RATTLE} & set(signs)
    more = "" if told_apart else " Watts do not tell these two apart; a rattle, bubbles or tilting do (--signs)."
    return f"{read} {would}; {below}. {why}{more}"


def _band_w(band: PowerBand) -> str:
    return f"{watts(band.p50_w)}{GLUE}W (8 of 10: {watts(band.p10_w)} to {watts(band.p90_w)}{GLUE}W)"


# -- where the head goes, and why ----------------------------------------------------------------------------------


def _heads(told: Diagnosis, measures: Measures) -> list[Block]:
    large = [head for head in told.heads if max(head.file_share, head.fitted_share, head.clean_share) >= SMALL_SHARE]
    small = [head for head in told.heads if head not in large]
    rows = [(safe(head.place), *_head_cells(head, measures)) for head in large]
    if small:
        rows.append((f"{len(small)} more", *_head_cells(_together(small), measures)))
    table = [("", "by the file", "", "by your fills", "", "when clean", ""), ("", *[measures.head, "share"] * 3), *rows]
    if not told.calibrated.identified.singular:
        # nothing was fitted
        table = [(*row[:3], *row[5:]) for row in table]
    return ["", "Where the head goes", *aligned(table, longest=50, heads=2)]


def _head_cells(head: FittedHead, measures: Measures) -> tuple[str, ...]:
    sides = ((head.file_m, head.file_share), (head.fitted_m, head.fitted_share), (head.clean_m, head.clean_share))
    return tuple(cell for metres, share in sides for cell in (measures.bare_head(metres), percent(share)))


def _together(heads: list[FittedHead]) -> FittedHead:
    names = ("file_m", "file_share", "fitted_m", "fitted_share", "clean_m", "clean_share")
    return FittedHead(place="", **{name: sum(getattr(head, name) for head in heads) for name in names})


def _suspects(told: Diagnosis) -> list[Block]:
    if not told.calibrated.identified.singular:
        return []
    lines = bullets(map(_suspect, told.suspects[:MOST_SUSPECTS]))
    if not lines:
        lines = bullets(["nothing stands out against what the file says"])
    elif len(told.suspects) > MOST_SUSPECTS:
        lines += bullets([f"{len(told.suspects) - MOST_SUSPECTS} more that cost less"])
    return ["", "Probably dirty, narrow or worn, beyond what the file says", *lines]


def _suspect(one: Suspect) -> str:
    where = ", ".join(_place(place) for place in one.places) or _place(one.part)
    factor = f"{one.scales} {number(one.factor.p50, 2)} times ({number(one.factor.p10, 2)} to {number(one.factor.p90, 2)})"
    cost = gain(one.flow_ratio, 1.0)
    return f"{safe(where)}: {one.words}, with {probability_text(one.probability)}; {factor}, by itself {cost} of flow"


def _place(name: str) -> str:
    """A part or its place, or a joint by what it joins."""
    names = named(name)
    return f"joint {' to '.join(names)}" if len(names) > 1 else "".join(names)


def _cleaning(told: Diagnosis, measures: Measures) -> list[Block]:
    if not told.cleaning:
        return []
    heads = [("", "delivered", "8 of 10", "more", "8 of 10"), ("", measures.flow, measures.flow, "", "")]
    return [
        "",
        "What cleaning alone gives back",
        *aligned([*heads, *(_cleaned(each, measures) for each in told.cleaning)], heads=2),
    ]


def _cleaned(each: CleaningGain, measures: Measures) -> tuple[str, ...]:
    low, high = measures.bare_flow(each.delivered.p10_m3s), measures.bare_flow(each.delivered.p90_m3s)
    more = f"{gain(each.gain.p10, 1.0)} to {gain(each.gain.p90, 1.0)}"
    return (each.what, measures.bare_flow(each.delivered.p50_m3s), f"{low} to {high}", gain(each.gain.p50, 1.0), more)


def _unknown(told: Diagnosis) -> list[Block]:
    return ["", "What the data can and cannot tell apart", *bullets(map(safe, told_apart_words(told.calibrated.identified)))]


def told_apart_words(found: Identified) -> Iterator[str]:
    """Yield what the measurements tell, and which factors they cannot tell apart or tell nothing about."""
    if not found.measurements:
        yield "Nothing is measured yet: all factors are as assumed."
        return
    facts = "no independent fact" if not found.facts else f"{found.facts} independent fact{'s' if found.facts > 1 else ''}"
    who = "One measurement tells" if found.measurements == 1 else f"{found.measurements} measurements tell"
    yield f"{who} {facts} about {found.factors} unknown factors."
    for pair in found.confused[:MOST_NAMED]:
        why = "what one takes the other may give back" if pair.correlation < 0.0 else "they rise and fall together"
        yield f"The measurements cannot tell {pair.one} from {pair.other}: {why}."
    if found.untouched:
        names, more = ", ".join(found.untouched[:MOST_NAMED]), len(found.untouched) - MOST_NAMED
        yield f"Next to nothing was learned about {names}{f' and {more} more' if more > 0 else ''}."


# -- what next -----------------------------------------------------------------------------------------------------


def _tests(told: Diagnosis, measures: Measures) -> list[Block]:
    tests = told.next_tests
    target = safe(measures.words(told.target))
    intro = f"Next tests, by what they would tell about the flow of {target}: {band_text(tests.band, measures)}"
    if tests.free is not None:
        held = "held there by its throttle" if tests.free.p50_m3s > tests.band.p50_m3s else "its throttle ends the band"
        intro += f", {held}; the tests are about it wide open: {band_text(tests.free, measures)}"
    heads = [("", "takes off", "then 8 of 10", "minutes", "mess"), ("", "of the doubt", measures.flow, "", "")]
    rows = []
    for test in tests.tests:
        low, high = measures.bare_flow(test.band.p10_m3s), measures.bare_flow(test.band.p90_m3s)
        rows.append((test.name, percent(test.shrink), f"{low} to {high}", number(test.minutes, 0), test.mess))
    return ["", *long_heading(intro), *aligned([*heads, *rows], heads=2), *bullets([most_worth_words(tests.tests, measures)])]


def most_worth_words(tests: Sequence[RankedTest], measures: Measures) -> str:
    """Return which test is most worth doing, and how it is done."""
    if not tests or tests[0].shrink < LEAST_SHRINK:
        return "No cheap test would tell much more about the delivered flow."
    top = tests[0]
    worth = f"Most worth doing: {top.name} ({number(top.minutes, 0)} minutes, mess: {top.mess})"
    takes = f"it is expected to take {percent(top.shrink)} off the doubt about the delivered flow."
    return f"{worth}; {takes} {measures.words(top.how)} {CAUTION}"
