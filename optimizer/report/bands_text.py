"""Bands of delivered flow as plain text: the verdict, a table, what the spread is owed to, and what is worth measuring."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.alternatives import Alternative
from optimizer.model.banded import Banded
from optimizer.model.bands import Band, BandLine, PriorLine, RobustChoice, UnknownShare
from optimizer.model.part_names import named
from optimizer.report.layout import PLAIN, Block, Screen, aligned, bullets, cut, finished, paragraph
from optimizer.report.measured_lines import upper
from optimizer.report.measurement_words import advice_of
from optimizer.report.measures import Measures, count, money, number, percent, system
from optimizer.report.plan_lines import catalog_line, changed, opening, question_words
from optimizer.report.proof_words import not_among

__all__ = ["headline", "render"]

SHOWN = 5
"""Of a set from which one was chosen, so many are shown, with the chosen one and the one that wins most often beside it."""

SMALLEST_SHARE = 0.01
MOST_PARTS = 4

FIGURES = {
    "stated": "by the figures of catalog and rig file",
    "by fills": "what stays by the figures that the fills make most probable",
}

LEGEND = (
    "P10, P90: in so many of 100 draws it delivers less. wins: share of the draws in "
    "which it delivers most of all bundles drawn. in limits: share in which it keeps to the limits on flow"
)


def headline(told: Banded, units: str = "metric") -> str:
    """Return the bands in short, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join(_sentences(told, system(units)))])


def render(told: Banded, units: str = "metric", screen: Screen = PLAIN) -> str:
    """Return the whole answer as text of lines of at most `screen.width` characters. Raises ValueError for other units."""
    measures = system(units)
    lines = opening(told.rig, f"{question_words(told.question, measures)}, how sure it is", _sentences(told, measures))
    if told.now_band is not None:
        lines += ["", *_table(told, measures), "", *paragraph(_legend(told), rest="  ")]
    if told.band is not None:
        lines += _differences(told, told.band) + _reasons(told.band) + _assumed(told.band, told.fills)
    return finished([*lines, *catalog_line(told.catalog)], screen)


# -- the verdict ---------------------------------------------------------------------------------------------------


def _sentences(told: Banded, measures: Measures) -> Iterator[str]:
    if told.band is None and told.status == "infeasible":
        yield f"No bundle meets all limits ({count(told.proof.combinations)} combinations, search complete)."
        yield 'What cannot hold together is said without "--bands".'
    elif told.band is None and told.candidates:
        best = told.candidates[0].row
        yield f"Best by then: {measures.flow_text(best.flow_m3s)} for {money(best.price, safe(told.currency))}."
        yield "Stopped before it was drawn how sure that is."
    elif told.band is None:
        yield "Stopped before any bundle was found that meets all limits."
    else:
        yield from _verdict(told, told.band, measures)


def _verdict(told: Banded, band: Band, measures: Measures) -> Iterator[str]:
    best = told.candidates[0].row
    flow = measures.flow_text(best.flow_m3s)
    price, spread = money(best.price, safe(told.currency)), _spread(band.lines[0], measures)
    if told.last_band is not None:
        yield from _over_days(told, told.last_band, price, measures)
        yield f"On the clean day it is {flow}; {spread}."
    else:
        yield f"Best: {flow} for {price}; {spread}."
    if band.robust is not None:
        yield _robust(band, band.robust, measures)
        yield f"Chosen from {safe(band.robust.made)}. A bundle outside that set was not looked at."
    clean = "Clean, it" if told.last_band is not None and _it(band) == "It" else _it(band)
    yield f"{clean} delivers more than the loop as it is in {percent(told.beats_now_share)} of {count(band.draws)} draws."
    if told.question.target_m3s:
        yield _wanted(told, band, measures)
    yield from _fills(told)
    yield _proof(told)


def _over_days(told: Banded, last: BandLine, price: str, measures: Measures) -> Iterator[str]:
    """The band of the day before cleaning, and what of it is not drawn."""
    when = f"on day {told.question.days:g}"
    yield f"Best: {measures.flow_text(last.stated_m3s)} {when} for {price}; {_spread(last, measures)}."
    yield f"The dirt {when} is that of the model at its stated figures: how much there will be is not drawn."


def _fills(told: Banded) -> Iterator[str]:
    """Whether the fills in the rig file count."""
    if told.fills:
        what = "The fill in the rig file is" if told.fills == 1 else f"The {told.fills} fills in the rig file are"
        yield f"{what} taken into account, in the flows by single figures too (by fills)."
    elif told.fills_left_out:
        yield f"The fills in the rig file are left out: {told.fills_left_out}."


def _proof(told: Banded) -> str:
    if told.by_clean_day:
        return "Chosen by the clean day, as always with branches, and not proved best by later days."
    if told.status != "proved":
        return "Stopped before it was proved: better bundles may be missing."
    return _proved(told) + not_among(told.proof)


def _figures(told: Banded) -> str:
    """By which figures single flows are worked out."""
    return "by fills" if told.fills else "stated"


def _proved(told: Banded) -> str:
    combinations, figures = count(told.proof.combinations), "figures by your fills" if told.fills else "stated figures"
    if told.question.target_m3s:
        return f"Proved by the {figures}: none of {combinations} combinations is cheaper."
    if told.question.days:
        judged = "on average" if told.question.by == "mean" else "on the last day"
        return f"Proved by the {figures}: none of {combinations} combinations does better {judged}."
    few = len(told.candidates)
    if few < told.asked:
        which = "this is the only one" if few == 1 else f"these {few} are all"
        beside = f"{which}, those that only add to a better one aside"
        return f"Proved by the {figures}: of {combinations} combinations {beside}."
    return f"Proved by the {figures}: none of {combinations} combinations that is truly different does better."


def _it(band: Band) -> str:
    return "It" if band.told == band.lines[0].name else upper(safe(band.told))


def _spread(line: BandLine, measures: Measures) -> str:
    band = f"in 8 of 10 draws from {measures.bare_flow(line.p10_m3s)} to {measures.flow_text(line.p90_m3s)}"
    if line.free_p10_m3s is None or line.free_p90_m3s is None or line.held_share < SMALLEST_SHARE:
        return band
    free = f"{measures.bare_flow(line.free_p10_m3s)} to {measures.flow_text(line.free_p90_m3s)}"
    return f"{band}, where its throttle holds it in {percent(line.held_share)} of draws (wide open {free})"


def _robust(band: Band, robust: RobustChoice, measures: Measures) -> str:
    mine = measures.flow_text(robust.flow_m3s)
    if robust.name == band.lines[0].name:
        return f"It is also best at {robust.quantile}, with {mine}."
    first = f"{mine} against {measures.flow_text(robust.first_m3s)} of the best"
    gives_up = f"it gives up {measures.flow_text(robust.gives_up_m3s)}" if robust.gives_up_m3s > 0.0 else "it gives up nothing"
    return f"Best at {robust.quantile}: {safe(robust.name)}, {first}; at P50 {gives_up}."


def _wanted(told: Banded, band: Band, measures: Measures) -> str:
    line = told.last_band or _line(band, band.told)
    wanted = measures.flow_text(told.question.target_m3s)
    text = f"The wanted {wanted} and all limits on flow hold in {percent(line.within_share)} of them"
    if not told.ask_m3s:
        return f"{text}."
    return f"{text}; for the wanted flow in 9 of 10 ask for about {measures.flow_text(told.ask_m3s)}."


# -- the table -----------------------------------------------------------------------------------------------------


def _line(band: Band, name: str) -> BandLine:
    return next(line for line in band.lines if line.name == name)


def _shown(told: Banded, band: Band) -> list[Alternative]:
    """All bundles; where one was chosen from many, the first, the chosen one and its rival."""
    few = told.candidates if band.robust is None else told.candidates[:SHOWN]
    named = {each.row.name for each in few} | {band.told, band.rival}
    return [each for each in told.candidates if each.row.name in named]


def _table(told: Banded, measures: Measures) -> list[Block]:
    heads = [
        ("", _figures(told), "P10", "P90", "price", "wins", "in limits"),
        ("", *[measures.flow] * 3, cut(safe(told.currency), 8), "%", "%"),
    ]
    rows = [] if told.now_band is None else [_cells(told.now_band, 0, measures, "")]
    if told.band is not None:
        for each in _shown(told, told.band):
            line = _line(told.band, each.row.name)
            wins = "" if told.last_band is not None else number(100.0 * line.win_share, 0)
            rows.append(_cells(line, each.row.price, measures, wins))
    if told.last_band is not None:
        rows.append(_cells(told.last_band, told.candidates[0].row.price, measures, ""))
    return aligned([*heads, *rows])


def _cells(line: BandLine, price: int, measures: Measures, wins: str) -> tuple[str, ...]:
    flows = (line.stated_m3s, line.p10_m3s, line.p90_m3s)
    within = number(100.0 * line.within_share, 0)
    return (safe(line.name), *(measures.bare_flow(flow) for flow in flows), money(price), wins, within)


def _legend(told: Banded) -> str:
    legend = f"{_figures(told)}: {FIGURES[_figures(told)]}. {LEGEND}"
    limits = f"{legend} and reaches the wanted flow" if told.question.target_m3s else legend
    if told.band is None:
        return f"{limits}."
    return f"{limits}. {count(told.band.draws)} draws, seed {told.band.seed}, the same for all."


# -- why -----------------------------------------------------------------------------------------------------------


def _differences(told: Banded, band: Band) -> list[Block]:
    lines: list[Block] = [""]
    for each in _shown(told, band):
        if each.differs:
            lines += paragraph(f"{safe(each.row.name)}, otherwise than the best: {changed(each.differs)}.", "  ", "    ")
    return lines if len(lines) > 1 else []


def _reasons(band: Band) -> list[Block]:
    shares = [share for share in band.shares if share.share >= SMALLEST_SHARE]
    if not shares:
        return []
    lines = ["", *paragraph(f"What the spread of {_named(band.told)} is owed to", rest="  "), *bullets(map(_share, shares))]
    if band.together_share >= SMALLEST_SHARE:
        lines += bullets([f"{percent(band.together_share)} several of them together"])
    return [*lines, *_worth_measuring(band)]


def _worth_measuring(band: Band) -> list[Block]:
    lines = bullets(upper(text) for text in advice_of(band) if text)
    return ["", "Worth measuring", *lines] if lines else []


def _named(name: str) -> str:
    return "the best" if name == "best" else safe(name)


def _share(share: UnknownShare) -> str:
    """The share with the parts it belongs to; a joint has the two parts it joins in its name, so joints are only counted."""
    names = [named(part) for part in share.parts]
    parts, joints = [each[0] for each in names if len(each) == 1], sum(len(each) > 1 for each in names)
    counted = [f"{joints} joint{'s' if joints > 1 else ''}"] if joints else []
    if len(parts) > MOST_PARTS:
        parts, counted = parts[: MOST_PARTS - 1], [f"{len(parts) - MOST_PARTS + 1} more parts", *counted]
    return f"{percent(share.share)} {share.unknown}: {safe(', '.join([*parts, *counted]))}"


def _assumed(band: Band, fills: int) -> list[Block]:
    head = "What is assumed: every figure is off by a factor, as often above 1 as below"
    head += ", before the fills narrow it" if fills else ""
    return ["", *paragraph(head, rest="  "), *bullets(map(_prior, band.priors))]


def _prior(prior: PriorLine) -> str:
    """What a factor scales and how far it goes: it lies between 1/spread_down and spread in a share of 2 quantile - 1."""
    inside = percent(2.0 * prior.quantile - 1.0)
    what = prior.unknown if prior.unknown.endswith(prior.scales) else f"{prior.unknown} ({prior.scales})"
    more, less = number(prior.spread, 2), number(prior.spread_down, 2)
    most = f"{more} times more or less" if more == less else f"{more} times more or {less} times less"
    return f"{what}: at most {most} in {inside} of cases; {safe(prior.source)}"
