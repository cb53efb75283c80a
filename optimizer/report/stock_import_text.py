"""A sheet on its way into a catalog as plain text: what is understood, what needs an answer, what changes, what is refused."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from optimizer.errors import quoted, safe
from optimizer.model.stock_import import RowChange, SheetRow, StockImport
from optimizer.report.layout import PLAIN, Block, Screen, aligned, apart, bullets, finished, paragraph
from optimizer.report.measures import system

__all__ = ["changes_text", "counted_changes", "headline", "proposal_text", "render"]

FEW = 5
CHANGES = ("new", "gone", "dearer", "cheaper", "out of stock", "in stock again", "changed")
SIGNS = {",": "decimal commas", ".": "decimal points", ",.": "decimal commas and points mixed", "": "no decimals"}


def headline(result: StockImport, units: str = "metric") -> str:
    """Return the verdict alone, on one line. `units` is "metric" or "us"; raises ValueError for others."""
    system(units)
    return finished([_verdict(result)])


def render(result: StockImport, units: str = "metric", screen: Screen = PLAIN, *, full: bool = False) -> str:
    """Return the answer as text, with ``full`` all of it. `units` is "metric" or "us"; raises ValueError for others."""
    system(units)
    return finished(apart(_sections(result, full)), screen)


def proposal_text(result: StockImport, screen: Screen = PLAIN) -> str:
    """How the sheet is read, to be confirmed."""
    return finished(apart([paragraph(_verdict(result)), list(_reading(result))]), screen)


def changes_text(result: StockImport, screen: Screen = PLAIN, *, full: bool = False) -> str:
    """What would change in the catalog, to be confirmed."""
    return finished(apart([list(_changes(result, full)), list(_refused(result, full))]), screen)


def _sections(result: StockImport, full: bool) -> Iterator[list[Block]]:
    yield paragraph(_verdict(result), rest="  ")
    if full or not (result.saved or result.written):
        yield list(_reading(result))
    yield list(_questions(result))
    yield list(_changes(result, full))
    yield list(_refused(result, full))
    yield list(_remarks(result, full))
    if full:
        yield _rows("No part of a loop", result.elsewhere)
        yield _rows("No parts at all", result.no_parts)
    if result.blocked or result.command:
        why = safe(f"{result.blocked} {result.cure}".strip())
        words = [f"Nothing is written: {why}"] if result.blocked else ["Nothing is written yet. To write it:"]
        yield [*paragraph(words[0]), *([] if result.blocked else paragraph(safe(result.command), first="  ", rest="    "))]


def _verdict(result: StockImport) -> str:
    others = [
        (len(result.refused), "refused"),
        (len(result.elsewhere), "no part of a loop"),
        (len(result.no_parts), "no part at all"),
    ]
    rest = ", ".join(f"{count} {what}" for count, what in others if count)
    rows = f"{result.understood} row{'' if result.understood == 1 else 's'} understood"
    done = f"; {safe(result.folder)} is written" if result.written else ""
    return f"{safe(result.file)}: {rows}{f', {rest}' if rest else ''}{done}."


def _remarks(result: StockImport, full: bool) -> Iterator[Block]:
    shown = sorted(result.remarks, key=lambda each: -each.rows)[: None if full else FEW]
    if shown:
        yield "Taken, though the sheet does not quite say so"
        examples = [each.example if each.rows == 1 else f"{each.rows} rows, for example {each.example}" for each in shown]
        said = [safe(f"{each.text} ({example})") for each, example in zip(shown, examples, strict=True)]
        yield from bullets(_cut_short(said, len(result.remarks)))


def _cut_short(said: list[str], of: int) -> list[str]:
    return [*said, f"{of - len(said)} more: --full"] if len(said) < of else said


def _reading(result: StockImport) -> Iterator[Block]:
    yield "How it is read"
    signs = f"{SIGNS[result.decimal]}{f', {quoted(result.thousands)} between thousands' if result.thousands else ''}"
    money = result.currency or "a currency that is not said"
    cents = ", prices in hundredths without a sign" if result.in_hundredths else ""
    yield from bullets([f"numbers with {signs}; prices in {money}{cents}"])
    for sheet in dict.fromkeys(each.sheet for each in result.columns):
        of = [each for each in result.columns if each.sheet == sheet]
        read = ", ".join(f"{quoted(each.heading)} as {each.field}" for each in of if each.field != "leave out")
        left = ", ".join(quoted(each.heading) for each in of if each.field == "leave out")
        name = f"sheet {quoted(sheet)}: " if sheet else ""
        yield from bullets([f"{name}{read}{f'; left out: {left}' if left else ''}"])
    if result.words:
        yield from bullets(["words: " + ", ".join(f"{safe(word)} = {safe(meaning)}" for word, meaning in result.words)])
    if result.unheaded:
        yield from bullets(["not read, no heading: " + ", ".join(map(quoted, result.unheaded))])


def _questions(result: StockImport) -> Iterator[Block]:
    if not result.questions:
        return
    yield "Needs an answer"
    for each in result.questions:
        given = " or ".join(f'--answer "{each.key}={answer}"' for answer in each.answers[:2])
        yield from bullets(
            [safe(f"{each.asks} {each.rows} row{'' if each.rows == 1 else 's'}, for example {each.example}: {given}")]
        )


def counted_changes(result: StockImport) -> list[str]:
    """How many rows come, go and change, in words."""
    counts = Counter(each.what for each in result.changes)
    said = [f"{counts[what]} {what}" for what in CHANGES if counts[what]]
    return said + ([f"{result.unchanged} unchanged"] if result.unchanged else [])


def _changes(result: StockImport, full: bool) -> Iterator[Block]:
    said = counted_changes(result)
    if not said:
        return
    yield "What changes in the catalog" if not result.written else "What has changed in the catalog"
    yield from bullets([", ".join(said)])
    listed = [
        each for what in CHANGES for each in [each for each in result.changes if each.what == what][: None if full else FEW]
    ]
    yield from aligned([("", "", "was", "now"), *map(_change, listed)], longest=44) if listed else []
    if len(listed) < len(result.changes):
        yield from bullets([f"{len(result.changes) - len(listed)} more: --full"])


def _change(each: RowChange) -> tuple[str, str, str, str]:
    return (safe(each.name)[:60], each.what, safe(each.was), safe(each.now))


def _refused(result: StockImport, full: bool) -> Iterator[Block]:
    if full:
        yield from _rows("Refused", result.refused)
        return
    reasons: dict[tuple[str, str], list[SheetRow]] = {}
    for row in result.refused:
        if not row.asks:
            reasons.setdefault((row.why, row.cure), []).append(row)
    if reasons:
        yield "Refused"
        most = sorted(reasons.values(), key=lambda rows: -len(rows))[:FEW]
        yield from bullets(_cut_short([safe(_row(*rows)) for rows in most], len(reasons)))
        yield from bullets(['to say a row in other words: --answer "row CODE=ceramic rings 1.5 l"'])


def _rows(title: str, rows: Sequence[SheetRow]) -> list[Block]:
    return [title, *bullets(safe(_row(each)) for each in rows)] if rows else []


def _row(row: SheetRow, *others: SheetRow) -> str:
    """A row, and how many others have the same end."""
    place = f"{row.sheet} line {row.line}" if row.sheet else f"line {row.line}"
    more = f" and {len(others)} more" if others else ""
    return f"{place}, {row.text}{more}: {row.why}{f' {row.cure}' if row.cure else ''}"
