"""An answer as plain text: the verdict, then what to do and to buy, then why, then how sure it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from optimizer.errors import safe
from optimizer.model.results import BillLine, Change, Conflict, HeadShare, JointLine, Result, Row, Spot
from optimizer.report import bacteria_text, priming_text, running_text
from optimizer.report.advice_text import ladder_lines
from optimizer.report.first_screen import (
    chosen,
    mind_lines,
    next_lines,
    one_supplier_lines,
    short_bill_lines,
    sure_lines,
    to_do_lines,
)
from optimizer.report.fitted_lines import by_fills_lines, by_fills_sentences
from optimizer.report.free_gains_text import free_gain_lines
from optimizer.report.layout import (
    BOLD,
    DIM,
    PLAIN,
    REST,
    Block,
    Screen,
    aligned,
    apart,
    bullets,
    columns,
    cut,
    finished,
    glued,
    paragraph,
    weighted,
)
from optimizer.report.measures import Measures, count, money, number, percent, system, turnover, watts
from optimizer.report.plan_lines import cut_texts, question_words
from optimizer.report.pressure_text import branch_flow_lines, jet_lines, pressure_lines, window_flow_lines
from optimizer.report.proof_words import held
from optimizer.report.verdict import sentences, what_for

__all__ = ["SECTIONS", "first_screen", "headline", "render", "rows_lines", "verdict_lines"]

SMALL_SHARE = 0.01
"""Places that take less of the head than this, before and after, share one line."""
LONGEST_NAME = 200
QUANTITY_WIDTH = 14


def headline(result: Result, units: str = "metric") -> str:
    """Return the verdict alone, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    return finished([" ".join((*sentences(result, units), *by_fills_sentences(result.by_fills, system(units))))])


def render(
    result: Result,
    units: str = "metric",
    screen: Screen = PLAIN,
    *,
    full: bool = False,
    show: Sequence[str] = (),
    typed: str = "",
) -> str:
    """Return the first screen of an answer, or with `full` the whole answer, or of that the sections to `show` only.

    `units` is "metric" (l/h, m, mm, m/s) or "us" (US gallons per hour, ft, in, ft/s), `typed` the command that asked, for what
    to type next. Lines have at most `screen.width` characters. Raises ValueError for other units, KeyError for a section that
    is none of `SECTIONS`. Characters in names that would not print as themselves are written as escapes.
    """
    measures = system(units)
    if show:
        return finished(chosen(SECTIONS, show, result, measures), screen)
    if not full:
        return finished(first_screen(result, measures, typed), screen)
    sections = (_verdict(result, units), *(lines(result, measures) for lines in SECTIONS.values()), _catalog(result))
    return finished(apart(sections), screen)


def first_screen(result: Result, measures: Measures, typed: str = "") -> list[Block]:
    """Return what fits on one screen: verdict, rows, what to do, the bill, what to mind, how sure, and what to type next."""
    return apart(
        (
            verdict_lines(result, measures),
            rows_lines(result, measures),
            _missed(result, measures),
            to_do_lines(result.changes),
            short_bill_lines(result, measures),
            mind_lines(result, measures),
            [*sure_lines(result, measures), *next_lines(result, typed)],
        )
    )


def verdict_lines(result: Result, measures: Measures) -> list[Block]:
    """Return the first lines: whose question it is, what is best and what for; where nothing is, what clashes and what helps."""
    return [*_opening(result, what_for(result, measures), measures), *_conflict(result.conflict, measures)]


def _opening(result: Result, said: Iterable[str], measures: Measures) -> list[Block]:
    asked = f"{cut(safe(result.rig), LONGEST_NAME)}: {question_words(result.question, measures)}"
    verdict = [block for each in said for block in paragraph(each, rest="  ")]
    return [*weighted(paragraph(asked, rest="  "), DIM), *weighted(verdict, BOLD)]


def rows_lines(result: Result, measures: Measures) -> list[Block]:
    """Return the rows of an answer as a table: the ladder; without advice now, spending nothing, the best; over an interval how
    they last."""
    if result.advice is not None:
        return ladder_lines(result, measures)
    if result.lasting is None:
        return _rows(result, measures)
    from optimizer.report.lasting_lines import lasting_table  # most answers are of the clean day

    return lasting_table(result.lasting, measures)


def _catalog(result: Result) -> list[Block]:
    return weighted(paragraph(f"Catalog: {cut(safe(result.catalog), LONGEST_NAME)}", rest="  "), DIM)


def _lasting(result: Result, measures: Measures) -> list[Block]:
    """How the answer lasts between cleanings, where that was asked for."""
    if result.lasting is None:
        return []
    from optimizer.report.lasting_lines import lasting_lines  # most answers are of the clean day

    return lasting_lines(result.lasting, measures)


def _media(result: Result, measures: Measures) -> list[Block]:
    """Surface for bacteria and the staged change of media, where there is one."""
    if result.media is None:
        return []
    from optimizer.report.media_plan_text import media_plan_lines  # most answers leave such media alone

    return media_plan_lines(result.media, measures)


def _verdict(result: Result, units: str) -> list[Block]:
    measures = system(units)
    said = (*sentences(result, units), *by_fills_sentences(result.by_fills, measures))
    return [*_opening(result, said, measures), *_conflict(result.conflict, measures)]


def _conflict(conflict: Conflict | None, measures: Measures) -> list[Block]:
    """The limits that clash, the closest miss and what would help."""
    if conflict is None:
        return []
    lines: list[Block] = []
    if conflict.limits:
        lines += paragraph(f"Cannot hold together: {_commas(map(measures.words, conflict.limits))}.", "  ", "    ")
    if conflict.unsure:
        lines += paragraph(_sentence(conflict.unsure), "  ", "    ")
    if conflict.closest:
        lines += paragraph(f"Closest: {_sentence(measures.words(conflict.closest))}", "  ", "    ")
    if conflict.remedies:
        lines += ["  What would help:", *bullets((_sentence(measures.words(each)) for each in conflict.remedies), indent="    ")]
    return lines


def _rows(result: Result, measures: Measures) -> list[Block]:
    rows = [row for row in (result.now, result.spend_nothing, result.best) if row is not None]
    heads = [
        ("", "delivered", "turnover", "price", "noise", "power"),
        ("", measures.flow, "per hour", cut(safe(result.currency), 8), "dB(A)", "W"),
    ]
    lines = aligned([*heads, *(_row(row, measures) for row in rows)])
    said = [
        f"{safe(row.name)}: throttled to {measures.flow_text(row.flow_m3s)} {held(row, measures)}" for row in rows if row.held_by
    ]
    return lines + [line for each in said for line in paragraph(each, "  ", "    ")]


def _row(row: Row, measures: Measures) -> tuple[str, ...]:
    return (
        safe(row.name),
        measures.bare_flow(row.flow_m3s),
        turnover(row.turnover_per_hour),
        money(row.price),
        number(row.noise_dba, 1),
        watts(row.power_w),
    )


def _missed(result: Result, measures: Measures) -> list[Block]:
    """The limits that the answer does not meet; where there is none, those that are not met now."""
    if result.best is not None:
        result = replace(result, now=replace(result.now, breaks=()), spend_nothing=None)
    return _breaks(result, measures)


def _breaks(result: Result, measures: Measures) -> list[Block]:
    """The limits that are not met: what is now always, the other rows only if it ever happens; last those that nobody
    asked for."""
    rows = [("now", result.now), ("by spending nothing", result.spend_nothing), ("by the best bundle", result.best)]
    lines = []
    for words, row in rows:
        asked = [] if row is None else [each for each in row.breaks if each.asked]
        if asked:
            lines += [f"Limits not met {words}", *bullets(safe(measures.words(each.words)) for each in asked)]
    unasked = [(words, each.words) for words, row in rows if row is not None for each in row.breaks if not each.asked]
    if unasked:
        said = (f"{safe(measures.words(text))} (not kept {words})" for words, text in unasked)
        lines += ["Not asked for, but worth keeping", *bullets(said)]
    return lines


def _changes(changes: Sequence[Change]) -> list[Block]:
    if not changes:
        return []
    done = [change for change in changes if change.change != "keep"]
    kept = [safe(change.place) for change in changes if change.change == "keep"]
    width = min(max((len(safe(change.place)) for change in done), default=1) or 1, 24)
    lines: list[Block] = ["What to do, in the order of the water"]
    for change in done:
        lines += columns([(safe(change.change), 6), (safe(change.place), width), (_part(change), REST)])
    if kept:
        lines += paragraph(f"keep    {', '.join(kept)}", "  ", " " * 10)
    return lines


def _part(change: Change) -> str:
    text, part_id = safe(change.text), safe(change.part_id)
    if not part_id or part_id in text:
        return text
    return f"{text} ({part_id})" if text else part_id


def _bill(result: Result, measures: Measures) -> list[Block]:
    if result.best is None or not (result.bill or result.best.price):
        return []
    currency = cut(safe(result.currency), 8)
    lines: list[Block] = ["Bill" + (f" in {currency}" if currency else "")]
    for line in result.bill:
        lines += _bill_line(line, measures)
    rest = result.best.price - sum(line.price for line in result.bill)
    if rest:
        lines += columns([("", QUANTITY_WIDTH), ("not listed above", REST)], money(rest))
    total = columns([("total", QUANTITY_WIDTH), ("", REST)], money(result.best.price))
    return [*lines, *total, *one_supplier_lines(result)]


def _bill_line(line: BillLine, measures: Measures) -> list[Block]:
    name, product_id = safe(line.name), safe(line.product_id)
    # a thing from the drawer has no product id of the shop
    named = f"{name} ({product_id})" if product_id and not line.owned and product_id not in name else name
    price = "yours" if line.owned and not line.price else money(line.price)
    lines = columns([(_quantity(line, measures), QUANTITY_WIDTH), (named or product_id, REST)], price)
    if line.places:
        lines += columns([("", QUANTITY_WIDTH), (f"for {_commas(line.places)}", REST)])
    return lines


def _quantity(line: BillLine, measures: Measures) -> str:
    return " + ".join(map(glued, cut_texts(line, measures))) or f"{line.count} x"


def _joints(joints: Sequence[JointLine], measures: Measures) -> list[Block]:
    changed = [joint for joint in joints if not joint.as_is]
    if not changed:
        return []
    lines: list[Block] = ["How each changed joint is closed"]
    for joint in changed:
        lines += paragraph(_joint(joint, measures), "  ", "    ")
    return lines + (["  Every other joint stays as it is."] if len(changed) < len(joints) else [])


def _joint(joint: JointLine, measures: Measures) -> str:
    pieces = f"with {', then '.join(map(safe, joint.pieces))}" if joint.pieces else "directly"
    tight = Counter(safe(measures.words(each)) for each in joint.tight_by)
    words = [word if times == 1 else glued(f"{times} x ") + word for word, times in tight.items()]
    sealed = f"; made tight by {', '.join(words)}" if words else ""
    return f"{' to '.join(map(safe, joint.between))}: {pieces}{sealed}."


def _heads(result: Result, measures: Measures) -> list[Block]:
    if not result.heads:
        return []
    large = [head for head in result.heads if _is_large(head, result.best is not None)]
    small = [head for head in result.heads if head not in large]
    rows = [(safe(h.place), (h.before_m, h.before_share), (h.after_m, h.after_share)) for h in large]
    if small:
        before = (sum(h.before_m for h in small), sum(h.before_share for h in small))
        after = (sum(h.after_m for h in small), sum(h.after_share for h in small))
        rows.append((f"{len(small)} {'place' if len(small) == 1 else 'places'} below 1 % each", before, after))
    unit = measures.head
    heads = [("", "now", "", "best", ""), ("", unit, "share", unit, "share")]
    cells = [(place, *(cell for m, share in sides for cell in (measures.bare_head(m), percent(share)))) for place, *sides in rows]
    table = [*heads, *cells]
    kept = table if result.best is not None else [row[:3] for row in table]
    return ["Where the head goes", *aligned(kept, longest=50)]


def _is_large(head: HeadShare, answered: bool) -> bool:
    return head.before_share >= SMALL_SHARE or (answered and head.after_share >= SMALL_SHARE)


def _tightest(result: Result, measures: Measures) -> list[Block]:
    before = result.tightest_before
    after = None if result.best is None else result.tightest
    spots = [(words, spot) for words, spot in (("now", before), ("best", after)) if spot is not None]
    if not spots:
        return []
    lines: list[Block] = ["Tightest spot"]
    for words, spot in spots:
        lines += columns([(words, 4), (_spot(spot, measures), REST)])
    return lines


def _spot(spot: Spot, measures: Measures) -> str:
    bore, speed = measures.bore_text(spot.bore_m), measures.speed_text(spot.speed_ms)
    return f"{safe(spot.place)}: bore {bore}, water at {speed}"


def _listed(heading: str, texts: Iterable[str]) -> list[Block]:
    lines = bullets(map(safe, texts))
    return [heading, *lines] if lines else []


def _proof(result: Result, measures: Measures) -> list[Block]:
    proof = result.proof
    state = {"proved": "complete", "infeasible": "complete", "stopped": "stopped early"}.get(result.status, "")
    work = f"{_counted(proof.combinations, 'combination')} decided on in {_counted(proof.rounds, 'round')}"
    work += f", {_counted(proof.nodes, 'node')} and {_counted(proof.paths, 'path')}"
    lines: list[Block] = ["Proof", *paragraph(f"Search {state or safe(result.status)}: {work}.", "  ", "    ")]
    for check in proof.certificates:
        agrees = "" if not check.done else " agrees." if check.agrees else " DOES NOT AGREE."
        lines += paragraph(f"{safe(check.route)}:{agrees} {_sentence(measures.words(check.finding))}", "  ", "    ")
    return lines


def _counted(number_of: int, noun: str) -> str:
    return f"{count(number_of)} {noun}{'' if number_of == 1 else 's'}"


def _commas(texts: Iterable[str]) -> str:
    return ", ".join(map(safe, texts))


def _sentence(text: str) -> str:
    """Return the text, safe, with a capital at its start and a full stop if it has no end of its own."""
    said = safe(text).strip()
    said = said[:1].upper() + said[1:]
    return said if not said or said[-1] in ".!?" else f"{said}."


Lines = Callable[[Result, Measures], list[Block]]

SECTIONS: Mapping[str, Lines] = MappingProxyType(
    {
        "rows": _rows,
        "interval": _lasting,
        "running": running_text.lines,
        "limits": _breaks,
        "free": free_gain_lines,
        "changes": lambda result, _: _changes(result.changes),
        "bill": _bill,
        "joints": lambda result, measures: _joints(result.joints, measures),
        "head": _heads,
        "branches": branch_flow_lines,
        "devices": window_flow_lines,
        "tightest": _tightest,
        "pressure": pressure_lines,
        "jets": lambda result, measures: jet_lines(result.jets, measures),
        "air": priming_text.lines,
        "bacteria": bacteria_text.lines,
        "media": _media,
        "fills": lambda result, measures: by_fills_lines(result.by_fills, measures),
        "cautions": lambda result, measures: _listed("Mind", map(measures.words, result.cautions)),
        "basis": lambda result, measures: _listed("What the figures rest on", map(measures.words, result.basis)),
        "warnings": lambda result, measures: _listed(
            "Outside what the formulas were made for", map(measures.words, result.warnings)
        ),
        "proof": _proof,
    }
)
"""The sections of an answer by the names that they are asked for, in the order of the whole."""
