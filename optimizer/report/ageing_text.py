"""A rig between two cleanings as plain text: what is due when, flow by days, what clogs first, what bacteria need."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.ageing import Ageing, AgeingGuard, AgeingRow, AgeingWindow, LawUsed, Missing, Risen, StageCost
from optimizer.report.fitted_lines import by_fills_lines, by_fills_sentences
from optimizer.report.layout import PLAIN, Block, Screen, aligned, bullets, cut, finished, paragraph
from optimizer.report.measured_lines import assumed, spaced
from optimizer.report.measures import Measures, day_text, days_text, number, percent, system, turnover
from optimizer.report.media_plan_text import step_lines, surface_lines, surface_words
from optimizer.report.plan_lines import opening

__all__ = ["blocks", "clean_within_words", "headline", "hopeless_words", "is_dirty", "render", "sentences"]

DONE_AS_CLEAN = 0.005
"""A rig whose flow as it is differs from the clean one by less needs no second column."""

LEAST_COST = 0.005
"""Share of the flow below which the dirt of a stage is not worth a word."""

LONGEST_PART = 40

CLEAN_BELOW = "three quarters"
"""Name of what says that a loop should be cleaned."""

THREE_QUARTERS = "three quarters of the clean flow"


def headline(told: Ageing, units: str = "metric") -> str:
    """Return what happens to the flow and when to clean, on one line. `units` is "metric" or "us", else ValueError is raised."""
    return finished([" ".join(_flow_sentences(told, system(units)))])


def render(told: Ageing, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole answer as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    head = opening(told.rig, f"flow and dirt over {days_text(told.days)}", sentences(told, measures))
    return finished([*head, *blocks(told, measures)], screen)


def blocks(told: Ageing, measures: Measures) -> list[Block]:
    """Return all that follows the sentences of the verdict, in units of `measures`."""
    lines = ["", "Flow against days since a clean of everything", *_table(told, measures)]
    lines += _branches(told, measures)
    lines += ["", "What is missed when", *_missing(told, measures)]
    lines += ["", "Each stage by itself", *_stages(told, measures)]
    lines += ["", "What clogs first", *_risen(told, measures)]
    lines += ["", "Surface for bacteria", *surface_lines([("in the trays", told.bacteria)], measures)]
    lines += paragraph(_bacteria(told), "  ", "    ")
    if told.renewal:
        lines += ["", "Renewing the biological media", *step_lines(told.renewal)]
    fitted = by_fills_lines(told.by_fills, measures)
    lines += ["", *fitted] if fitted else []
    lines += ["", "Mind", *bullets(safe(measures.words(each)) for each in told.cautions)]
    lines += ["", "What the figures rest on", *bullets(map(_law, told.laws))]
    lines += bullets(["Most numbers of dirt are assumptions, so read days as weeks: fill a container now and then, and log it."])
    return [*lines, *assumed(told.notes, measures)]


def _on(day: float, days: float) -> str:
    """A day after a clean in a table: 0 is at once."""
    if math.isinf(day):
        return f"not in {number(days, 0)}"
    return "at once" if day == 0.0 else day_text(math.floor(day))


def sentences(told: Ageing, measures: Measures) -> Iterator[str]:
    """Yield what happens to the flow, when to clean and what fills say of it sentence by sentence, in units of `measures`."""
    yield from _flow_sentences(told, measures)
    yield from by_fills_sentences(told.by_fills, measures)


def _flow_sentences(told: Ageing, measures: Measures) -> Iterator[str]:
    first, last = told.rows[0], told.rows[-1]
    left = f"{measures.flow_text(last.flow_m3s)} are left {days_text(told.days)} later ({percent(last.share)})"
    yield f"Cleaned, the loop delivers {measures.flow_text(first.flow_m3s)}; {left}."
    if is_dirty(told):
        yield f"As it is it delivers {measures.flow_text(first.undone_m3s)}: {_gain(first)} for a clean of everything."
    yield _clean_next(told, measures)
    costly = sorted((stage for stage in told.stages if stage.cost >= LEAST_COST), key=lambda stage: -stage.cost)[:2]
    if costly:
        most = ", ".join(f"{safe(stage.place)} ({percent(stage.cost)})" for stage in costly)
        yield f"What costs most of the flow by then: {most}."


def _gain(row: AgeingRow) -> str:
    more = row.flow_m3s / row.undone_m3s - 1.0 if row.undone_m3s > 0.0 else math.inf
    return f"{percent(more)} more" if math.isfinite(more) else "water again"


def is_dirty(told: Ageing) -> bool:
    """Whether the loop as it is delivers noticeably another flow than when everything is cleaned."""
    first = told.rows[0]
    return abs(first.undone_m3s - first.flow_m3s) > DONE_AS_CLEAN * first.flow_m3s


def _clean_next(told: Ageing, measures: Measures) -> str:
    return " ".join(filter(None, (hopeless_words(told, measures), clean_within_words(told, measures))))


def hopeless_words(told: Ageing, measures: Measures) -> str:
    """Return what not even a clean loop reaches; empty for nothing."""
    hopeless = [safe(measures.words(miss.words)) for miss in told.missing if miss.day == 0.0]
    return f"Missed even when clean: {'; '.join(hopeless)}." if hopeless else ""


def clean_within_words(told: Ageing, measures: Measures) -> str:
    """Return the first thing that cleaning can put off, with the days from one clean of everything to the next."""
    later = [miss for miss in told.missing if 0.0 < miss.day < math.inf]
    if not later:
        hopeless = any(miss.day == 0.0 for miss in told.missing)
        return f"Within {days_text(told.days)} nothing {'else ' if hopeless else ''}is missed."
    first = later[0]
    within = days_text(max(math.floor(first.day), 1.0))
    if first.name == CLEAN_BELOW:
        return f"Clean within {within}: then it falls below {THREE_QUARTERS}."
    return f"Clean within {within}: then {safe(measures.words(first.words))} is missed."


def _table(told: Ageing, measures: Measures) -> list[Block]:
    both = is_dirty(told)
    heads = [
        ("days", "delivered", "of clean", "turnover", "if nothing is done"),
        ("", measures.flow, "", "per hour", measures.flow),
    ]
    cells = [
        (
            number(row.days, 0),
            measures.bare_flow(row.flow_m3s),
            percent(row.share),
            turnover(row.turnover_per_hour),
            measures.bare_flow(row.undone_m3s),
        )
        for row in told.rows
    ]
    return aligned([row if both else row[:-1] for row in (*heads, *cells)], heads=2)


def _branches(told: Ageing, measures: Measures) -> list[Block]:
    """How the flow divides between branches, with the windows of devices in them and the speed in front of both guards."""
    if not told.branches:
        return []
    heads = [
        ("", *(safe(each.place) for each in told.branches)),
        ("days", *(safe(each.branch) for each in told.branches)),
        ("", *(measures.flow for _ in told.branches)),
    ]
    rows = [
        (number(row.days, 0), *(measures.bare_flow(each.flows_m3s[n]) for each in told.branches))
        for n, row in enumerate(told.rows)
    ]
    lines = ["", "Flow of each branch", *aligned([*heads, *rows], heads=3)]
    for window in told.windows:
        lines += paragraph(_window(window, measures, told.days), "  ", "    ")
    for guard in told.guards:
        lines += paragraph(_guard(guard, measures, told.days), "  ", "    ")
    return lines


def _window(each: AgeingWindow, measures: Measures, days: float) -> str:
    low, high = (measures.bare_flow(flow) for flow in (each.flow_min_m3s, each.flow_max_m3s))
    window = (
        f"at least {low}" if math.isinf(each.flow_max_m3s) else f"{low} to {high}" if each.flow_min_m3s else f"at most {high}"
    )
    flows = ((each.clean_m3s, "clean"), (each.last_m3s, "then"))
    outside = [when for flow, when in flows if not _within(flow, each.flow_min_m3s, each.flow_max_m3s)]
    free = each.flow_min_m3s <= 0.0 and math.isinf(each.flow_max_m3s)
    told = "" if free else f"; window {window} {measures.flow}, " + (f"NOT kept {' and '.join(outside)}" if outside else "kept")
    return (
        f"{safe(each.place)}: {measures.flow_text(each.clean_m3s)} clean, {measures.flow_text(each.last_m3s)} after "
        f"{days_text(days)}{told}."
    )


def _within(flow_m3s: float, least: float, most: float) -> bool:
    return least * (1 - 1e-9) <= flow_m3s <= most * (1 + 1e-9)


def _guard(each: AgeingGuard, measures: Measures, days: float) -> str:
    speeds = [f"{measures.bare_speed(speed)} {measures.speed}" for speed in (each.clean_ms, each.last_ms)]
    kept = all(speed <= each.limit_ms * (1 + 1e-9) for speed in (each.clean_ms, each.last_ms))
    then = f"{measures.flow_text(each.last_m3s)} after {days_text(days)}"
    limit = f"; limit {measures.bare_speed(each.limit_ms)} {measures.speed}, {'kept' if kept else 'NOT kept'}"
    return (
        f"{safe(each.place)}: {measures.flow_text(each.clean_m3s)} clean, {then}; "
        f"in front of what is open of it {speeds[0]}, then {speeds[1]}{limit if math.isfinite(each.limit_ms) else ''}."
    )


def _missing(told: Ageing, measures: Measures) -> list[Block]:
    both = is_dirty(told)
    heads = ("", "cleaned", "if nothing is done")
    cells = [(_what(miss, told, measures), _on(miss.day, told.days), _on(miss.undone_day, told.days)) for miss in told.missing]
    return aligned([row if both else row[:-1] for row in (heads, *cells)], longest=55, heads=1)


def _what(miss: Missing, told: Ageing, measures: Measures) -> str:
    if miss.name == CLEAN_BELOW:
        return f"{THREE_QUARTERS}, the usual sign to clean"
    # a window is named with its place, and a loop has one pump; of guards there may be two
    told_apart = miss.name == "guard_speed_ms" and told.guards
    return safe(measures.words(miss.words)) + (f" ({safe(miss.place)})" if told_apart else "")


def _stages(told: Ageing, measures: Measures) -> list[Block]:
    heads = [("", "caught", "dirty", "cake", "costs", "due"), ("", "g", "", measures.bore, "of flow", "")]
    lines = aligned([*heads, *(_stage(stage, told, measures) for stage in told.stages)], longest=50, heads=2)
    legend = (
        f"By day {number(told.days, 0)}. caught: dry; dirty: openings shut, pores full, bore lost, speed lost; cake: how thick "
        "it lies on the face; due: when its dirt alone costs a tenth of the clean flow (common practice, no published source)."
    )
    made = (
        f"Of {_grams(told.made_kg)} g of dry dirt {_grams(told.made_kg - told.left_kg)} g are caught, "
        f"{_grams(told.left_kg)} g stay in the tank."
    )
    return [*lines, *paragraph(f"{legend} {made}", "  ", "  "), *_biological_first(told)]


def _stage(stage: StageCost, told: Ageing, measures: Measures) -> tuple[str, ...]:
    cake = measures.bare_bore(stage.cake_m) if stage.cake_m else ""
    caught = "" if stage.caught_kg is None else _grams(stage.caught_kg)
    return (_stage_name(stage), caught, percent(stage.dirt), cake, percent(stage.cost), _on(stage.due_day, told.days))


def _grams(kg: float) -> str:
    return number(kg * 1e3, 1 if kg < 0.1 else 0)


def _stage_name(stage: StageCost) -> str:
    part = f" ({cut(safe(stage.part), LONGEST_PART)})" if stage.part and stage.what == "tray" else ""
    return f"{safe(stage.place)}{part}"


def _biological_first(told: Ageing) -> list[Block]:
    """A word on trays that hold bacteria and are due."""
    due = [stage for stage in told.stages if stage.biological and math.isfinite(stage.due_day)]
    if not due:
        return []
    places = ", ".join(safe(stage.place) for stage in due)
    return paragraph(f"Bacteria live in {places}: half of these at a time, weeks apart, in tank water.", "  ", "  ")


def _risen(told: Ageing, measures: Measures) -> list[Block]:
    if not told.clogs_first:
        return bullets(["nothing: the losses keep their shares"])
    heads = [("", "clean", "", "dirty", ""), ("", measures.head, "share", measures.head, "share")]
    return aligned([*heads, *(_risen_row(each, measures) for each in told.clogs_first)], longest=50, heads=2)


def _risen_row(each: Risen, measures: Measures) -> tuple[str, ...]:
    clean, dirty = (measures.bare_head(head) for head in (each.clean_m, each.dirty_m))
    return (safe(each.place), clean, percent(each.clean_share), dirty, percent(each.dirty_share))


def _bacteria(told: Ageing) -> str:
    bio = told.bacteria
    fed = f"{number(told.feed_kg_day * 1e3, 1)} g of feed a day make {number(bio.ammonia_g_day, 2)} g of ammonia nitrogen"
    return f"{spaced(fed)}; {surface_words(bio)}. Gravel and plants, which also take it up, are not counted."


def _law(law: LawUsed) -> str:
    return f'{law.about}: law "{law.law}"; {safe(law.source)}'
