"""A diagnosis as plain text: expected against measured, the advice, where the head goes, suspects, cleaning, the next tests."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.diagnosis import CleaningGain, Diagnosis, FittedHead, Suspect
from optimizer.report.layout import aligned, bullets, finished, paragraph
from optimizer.report.measured_lines import (
    assumed,
    band_text,
    fill_table,
    fill_warnings,
    gain_text,
    probability_text,
    spaced,
    upper,
)
from optimizer.report.measures import Measures, gain, number, percent, system
from optimizer.report.plan_lines import heading

__all__ = ["headline", "render"]

SMALL_SHARE = 0.01
"""Places that take less of the head than this in all three cases share one line."""

MOST_SUSPECTS = 6

THERE_NOW = "installed:"
JOINS = " - "


def headline(told: Diagnosis, units: str = "metric") -> str:
    """Return the diagnosis in short, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(_sentences(told, system(units)))])


def render(told: Diagnosis, units: str = "metric") -> str:
    """Return the whole answer as text of lines of at most `layout.WIDTH` characters. Raises ValueError for other units."""
    measures = system(units)
    lines = paragraph(heading(told.rig, "what ails it"), rest="  ")
    for sentence in _sentences(told, measures):
        lines += paragraph(sentence, rest="  ")
    if told.calibrated.measured:
        lines += ["", *fill_table(told.calibrated.measured, measures)]
        lines += fill_warnings(told.calibrated.measured)
    lines += _heads(told, measures) + _suspects(told) + _cleaning(told, measures) + _unknown(told) + _tests(told, measures)
    return finished([*lines, *assumed(told.notes)])


# -- the verdict ---------------------------------------------------------------------------------------------------


def _sentences(told: Diagnosis, measures: Measures) -> Iterator[str]:
    found = told.calibrated
    expected = f"The file alone lets expect {band_text(found.expected, measures)}"
    if not found.identified.singular:
        yield f"{expected}; nothing is measured yet."
    else:
        more = gain(found.delivered.p50_m3s, found.expected.p50_m3s)
        yield f"{expected}; with the measurements it is {band_text(found.delivered, measures)}: {more}."
        # the first sentence holds the flows said above, the last the advice said below
        yield from (upper(spaced(safe(text))) for text in found.words[1:] if text.startswith("Measurements"))
    if found.clean_first:
        yield spaced(found.clean_first)
    elif not told.cleaning:
        against = ", and nothing measured speaks against it" if found.identified.singular else ""
        yield f"The file calls everything clean{against}: cleaning gives nothing back."
    else:
        yield f"Cleaning alone would give back {gain_text(found.gain)}."


# -- where the head goes, and why ----------------------------------------------------------------------------------


def _heads(told: Diagnosis, measures: Measures) -> list[str]:
    large = [head for head in told.heads if max(head.file_share, head.fitted_share, head.clean_share) >= SMALL_SHARE]
    small = [head for head in told.heads if head not in large]
    rows = [(safe(head.place), *_head_cells(head, measures)) for head in large]
    if small:
        rows.append((f"{len(small)} more", *_head_cells(_together(small), measures)))
    table = [("", "by the file", "", "as fitted", "", "when clean", ""), ("", *[measures.head, "share"] * 3), *rows]
    if not told.calibrated.identified.singular:
        # nothing was fitted
        table = [(*row[:3], *row[5:]) for row in table]
    return ["", "Where the head goes", *aligned(table, longest=50)]


def _head_cells(head: FittedHead, measures: Measures) -> tuple[str, ...]:
    sides = ((head.file_m, head.file_share), (head.fitted_m, head.fitted_share), (head.clean_m, head.clean_share))
    return tuple(cell for metres, share in sides for cell in (measures.bare_head(metres), percent(share)))


def _together(heads: list[FittedHead]) -> FittedHead:
    names = ("file_m", "file_share", "fitted_m", "fitted_share", "clean_m", "clean_share")
    return FittedHead(place="", **{name: sum(getattr(head, name) for head in heads) for name in names})


def _suspects(told: Diagnosis) -> list[str]:
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
    """A joint has the two places it joins in its name."""
    plain = name.removeprefix(THERE_NOW)
    return f"joint {plain.replace(JOINS, ' to ')}" if JOINS in plain else plain


def _cleaning(told: Diagnosis, measures: Measures) -> list[str]:
    if not told.cleaning:
        return []
    heads = [("", "delivered", "8 of 10", "more", "8 of 10"), ("", measures.flow, measures.flow, "", "")]
    return ["", "What cleaning alone gives back", *aligned([*heads, *(_cleaned(each, measures) for each in told.cleaning)])]


def _cleaned(each: CleaningGain, measures: Measures) -> tuple[str, ...]:
    low, high = measures.bare_flow(each.delivered.p10_m3s), measures.bare_flow(each.delivered.p90_m3s)
    more = f"{gain(each.gain.p10, 1.0)} to {gain(each.gain.p90, 1.0)}"
    return (each.what, measures.bare_flow(each.delivered.p50_m3s), f"{low} to {high}", gain(each.gain.p50, 1.0), more)


def _unknown(told: Diagnosis) -> list[str]:
    words = told.calibrated.identified.words
    return ["", "What the data can and cannot tell apart", *bullets(safe(text.replace(THERE_NOW, "")) for text in words)]


# -- what next -----------------------------------------------------------------------------------------------------


def _tests(told: Diagnosis, measures: Measures) -> list[str]:
    tests = told.next_tests
    target = safe(measures.words(told.target))
    intro = f"Next tests, by what they would tell about the flow of {target}: {band_text(tests.band, measures)}"
    heads = [("", "takes off", "then 8 of 10", "minutes", "mess"), ("", "variance", measures.flow, "", "")]
    rows = []
    for test in tests.tests:
        low, high = measures.bare_flow(test.band.p10_m3s), measures.bare_flow(test.band.p90_m3s)
        rows.append((test.name, percent(test.shrink), f"{low} to {high}", number(test.minutes, 0), test.mess))
    return ["", *paragraph(intro, rest="  "), *aligned([*heads, *rows]), *bullets([spaced(safe(tests.words))])]
