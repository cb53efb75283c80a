"""Every row of a sheet to one of four ends: a row of the catalog, no part of a loop, no part at all, or refused with a reason."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from optimizer.errors import BadValue, quoted, safe
from optimizer.files.cell_text import cell_reader
from optimizer.files.part_kinds import by_column
from optimizer.money import MoneyError, parse_money, show_money
from optimizer.sheets.grammar import NO_PLACE, kind_of, read_text, worded
from optimizer.sheets.headings import Heading
from optimizer.sheets.mapping import SheetMap
from optimizer.sheets.numbers import Numbers
from optimizer.sheets.parts import Made, Question, made_of
from optimizer.sheets.tables import Sheet, text_of
from optimizer.sheets.words import SOLD_OUT, STOCKED
from optimizer.sheets.workbooks import Cell

__all__ = ["End", "Row", "currency_of", "read_rows"]

CURRENCIES = {"€": "EUR", "£": "GBP", "$": "USD", "¥": "JPY", "eur": "EUR", "gbp": "GBP", "usd": "USD", "chf": "CHF"}
MOST_STOCK = 1e6
TEXTS = ("text", "size", "end", "remark")
"""Fields whose cells are read as they are."""

_UNIT_OF = {"flow": "", "head": "", "power": "", "noise": "db", "volume": "l"}
_TOTAL = re.compile(r"(?:sub ?-?total|total|sum|grand total|carried over)(?![a-z])")
_MONEY = re.compile(r"(-?)\s*([0-9][0-9.,' ]*)(?:\.-|,-)?")


class End(StrEnum):
    """What becomes of a row."""

    UNDERSTOOD = "understood"
    NO_PLACE = "not of a loop"
    NO_PART = "no part"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of a sheet and what became of it: its catalog ``rows`` (file and cells), or ``why`` not with the ``cure``;
    ``asks`` is the key of the question that would settle it ("": none), ``id`` what the catalog calls it ("": nothing),
    ``code`` what a mapping calls it."""

    sheet: str
    line: int
    text: str
    end: End
    rows: tuple[tuple[str, dict[str, str]], ...] = ()
    why: str = ""
    cure: str = ""
    asks: str = ""
    id: str = ""
    code: str = ""
    kind: str = ""
    remarks: tuple[str, ...] = ()


@dataclass(slots=True)
class _Cells:
    """The cells of one row by field."""

    sheet: Sheet
    heading: Heading
    row: int
    _found: dict[str, list[tuple[Cell, str]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for place, name in enumerate(self.heading.fields):
            cell = self.sheet.rows[self.row][place]
            if cell != "":
                self._found.setdefault(name, []).append((cell, self.heading.units[place]))

    def first(self, name: str) -> Cell:
        return self._found.get(name, [("", "")])[0][0]

    def texts(self, *names: str) -> list[str]:
        return [text_of(cell) for name in names for cell, _ in self._found.get(name, [])]

    def pieces(self, numbers: Numbers) -> Iterator[str]:
        """What the columns say, as a text would: bare numbers with the unit of their heading. Raises `BadValue`."""
        for name, cells in self._found.items():
            for cell, unit in cells:
                text = text_of(cell) if isinstance(cell, float) else numbers.plain(cell)
                bare = re.fullmatch(r"[0-9.]+", text) is not None
                if name in TEXTS:
                    yield text
                elif name in ("fits", "thread", "bore", "inside", "outside", "length"):
                    yield f"{name} {text}{f' {unit}' if bare and unit else ''}"
                elif name == "unit" and text.casefold() in ("m", "metre", "meter", "ft", "foot"):
                    yield f"per {text}"
                elif name == "price a metre":
                    yield "per metre"
                elif name == "ports":
                    yield text
                elif name in _UNIT_OF:
                    if bare and not (unit or _UNIT_OF[name]):
                        raise BadValue(
                            f"{quoted(text)} as its {name} has no unit.", "Write the unit into the cell or the heading."
                        )
                    said = f"{text} {unit or _UNIT_OF[name]}" if bare else text
                    yield f"head {said}" if name == "head" else said


def read_rows(sheet: Sheet, heading: Heading, by: SheetMap) -> list[Row]:
    """What becomes of each row of a sheet, those above its heading included."""
    numbers = Numbers(by.decimal, by.thousands)
    found = [_row(sheet, row, End.NO_PART, why="stands above the table") for row in range(heading.below)]
    for row in range(heading.below, len(sheet.rows)):
        found.append(_read(sheet, heading, row, by, numbers))
    return found


def _row(sheet: Sheet, row: int, end: End, **more: object) -> Row:
    text = ", ".join(text_of(cell) for cell in sheet.rows[row] if cell != "")
    made: dict[str, object] = {"text": safe(text)[:160], **more}
    return Row(sheet=sheet.name, line=sheet.lines[row], end=end, **made)  # type: ignore[arg-type]


def _read(sheet: Sheet, heading: Heading, row: int, by: SheetMap, numbers: Numbers) -> Row:
    cells = _Cells(sheet, heading, row)
    name = ", ".join(dict.fromkeys(cells.texts("text", "size", "thread", "end", "fits")))
    code = text_of(cells.first("id"))
    own = by.rows.get(code or name)
    words = worded(own or " ; ".join(cells.texts("text", "size", "remark")), by.words)
    filled = sum(cell != "" for cell in sheet.rows[row])
    if own == "":
        return _row(sheet, row, End.NO_PLACE, why="left out by the mapping", text=name)
    if _TOTAL.match(words):
        return _row(sheet, row, End.NO_PART, why="a sum")
    price = next((cells.first(each) for each in ("price", "price a metre") if cells.first(each) != ""), "")
    kind = kind_of(words) or by.kinds.get(sheet.name, "")
    if filled == 1 or (price == "" and not kind_of(words)):
        return _row(sheet, row, End.NO_PART, why="a title or a note")
    if kind == NO_PLACE:
        return _row(sheet, row, End.NO_PLACE, why="no part of a filter loop", text=name)
    try:
        if not kind:
            raise BadValue("no word says what it is.", 'Name its words in the mapping, for example [words] "XYZ" = "hose tail".')
        cost = _price(price, numbers, by.in_hundredths)
        text = worded(numbers.plain(own) if own else " ; ".join(cells.pieces(numbers)), by.words)
        made = made_of(read_text(text, kind, code), by.answers)
        rows = tuple(_catalog_rows(made, cells, (code, name or kind), cost, by, numbers))
    except BadValue as error:
        asks = error.key if isinstance(error, Question) else ""
        about = {"id": _id(code or name), "code": code or name, "kind": kind, "text": name or code}
        return _row(sheet, row, End.REFUSED, why=error.what, cure=error.cure, asks=asks, **about)
    return _row(sheet, row, End.UNDERSTOOD, rows=rows, kind=kind, text=name or code, remarks=tuple(made.remarks))


def _catalog_rows(
    made: Made, cells: _Cells, named: tuple[str, str], cost: int, by: SheetMap, numbers: Numbers
) -> Iterator[tuple[str, dict[str, str]]]:
    code, name = named
    stock, remark = _stock(cells, made, numbers)
    if remark:
        made.remarks.append(remark)
    if made.file == "hoses.csv" and not any(map(str.isdigit, name)):
        sizes = "/".join(made.cells[each] for each in ("inside_mm", "outside_mm") if each in made.cells)
        name = f"{name} {sizes} mm"
    found = {"id": _id(code or name), "name": name if len(name) <= 200 else name[:197] + "..."}
    if made.file == "hoses.csv":
        found |= _hose_price(cost, made)
    else:
        found["price"] = show_money(cost)
    found |= {"stock": stock} if stock else {}
    paid = cells.first("cost")
    if paid != "":
        found["cost"] = show_money(round(_price(paid, numbers, by.in_hundredths) / (made.metres if made.by_length else 1.0)))
    yield made.file, _checked(made.file, {**found, **made.cells, "source": by.source})
    ten = cells.first("price of 10")
    if ten != "" and made.file != "hoses.csv":
        price = show_money(_price(ten, numbers, by.in_hundredths))
        packed = {**found, "id": f"{found['id']}-10", "name": f"{found['name']}, 10 pieces", "price": price, "pack": "10"}
        for own in ("stock", "cost"):
            packed.pop(own, None)
        if stock:
            packed["stock"] = str(int(stock) // 10)
        yield made.file, _checked(made.file, {**made.cells, **packed, "source": by.source})


def _hose_price(cost: int, made: Made) -> dict[str, str]:
    if not made.by_length:
        return {"price": show_money(cost), "coil_m": f"{made.metres:.6g}"}
    by_metre = round(cost / made.metres)
    if made.metres != 1.0:
        made.remarks.append(f"{show_money(cost)} for {made.metres:g} m is {show_money(by_metre)} a metre")
    return {"price_per_m": show_money(by_metre)}


def _checked(file: str, cells: dict[str, str]) -> dict[str, str]:
    """The cells, once each is what its column can hold. Raises `BadValue`."""
    fields = by_column(file)
    for column, text in cells.items():
        if column in fields:
            try:
                _reader(file, column)(text)
            except BadValue as error:
                raise BadValue(f"{fields[column].name}: {error.what}", error.cure) from None
    return cells


_readers: dict[tuple[str, str], Callable[[str], object]] = {}


def _reader(file: str, column: str) -> Callable[[str], object]:
    if (file, column) not in _readers:
        _readers[file, column] = cell_reader(by_column(file)[column])
    return _readers[file, column]


def _id(text: str) -> str:
    """A code as the catalog can hold it; without one the words of the row, so that next month's row has the same.

    >>> _id("HT251"), _id('Tail 16 / G1/2 m')
    ('HT251', 'Tail-16-G1-2-m')
    """
    parts = re.findall(r"[^\W_]+(?:\.[0-9]+)?", text)
    whole = text if re.fullmatch(r"[^\W_][\w.+/-]{0,63}", text) else "-".join(parts)
    return whole[:64].rstrip("-") or "part"


def _price(cell: Cell, numbers: Numbers, hundredths: bool) -> int:
    """A price in minor units. Raises `BadValue` for none, for nothing and for less than that."""
    if isinstance(cell, float):
        minor = cell * (1 if hundredths else 100)
        if abs(minor - round(minor)) > 1e-6:
            raise MoneyError(f"the price {cell!r} has parts of a cent.", "Round it.")
        price = round(minor)
    else:
        bare = re.sub(r"[€£$¥]|(?<![a-z])(?:eur|gbp|usd|chf)(?![a-z])", "", cell.casefold()).strip()
        found = _MONEY.fullmatch(bare)
        if found is None:
            what = "it has no price." if not any(map(str.isdigit, bare)) else f"{quoted(cell)} is not a price."
            raise MoneyError(what, "Write a price into its row.")
        text = found[1] + numbers.plain(found[2].replace(" ", ""))
        price = int(text) if hundredths and text.lstrip("-").isdecimal() else -1 if text[0] == "-" else parse_money(text)
    if price <= 0:
        raise MoneyError(f"its price is {'nothing' if price == 0 else 'below nothing'}.", "Write what it costs.")
    return price


def _stock(cells: _Cells, made: Made, numbers: Numbers) -> tuple[str, str]:
    """Products on the shelf as the catalog has them ("": as many as wanted), and what is to be known about it."""
    rolls = cells.first("stock in rolls")
    if rolls != "":
        return ("0", "") if text_of(rolls) == "0" else ("", "rolls of unknown length: stock left open")
    text = text_of(cells.first("stock")).casefold().strip()
    if not text or text in STOCKED:
        return "", ""
    if text in SOLD_OUT:
        return "0", ""
    number = re.fullmatch(r"(-?)([0-9][0-9.,']*)(?: ?(?:m|pcs?|pieces))?", text)
    plain = "" if number is None else numbers.plain(number[2]) if isinstance(cells.first("stock"), str) else number[2]
    if number is None or re.fullmatch(r"[0-9]+(?:\.[0-9]+)?", plain) is None:
        raise BadValue(f"{quoted(text)} is no stock.", f"Write a number, or one of: {', '.join((*STOCKED, *SOLD_OUT))}.")
    count = float(plain)
    if count > MOST_STOCK:
        raise BadValue(f"a stock of {quoted(text)} is a slip.", f"Write at most {MOST_STOCK:.0f}.")
    if number[1]:
        return "0", "its stock is below nothing: taken as none"
    if made.by_length and made.metres != 1.0:
        return str(int(count * made.metres)), f"{count:g} of {made.metres:g} m are {int(count * made.metres)} m in stock"
    return str(int(count)), "" if count.is_integer() else "stock rounded down"


def currency_of(sheet: Sheet, heading: Heading) -> str:
    """The currency that most prices of a sheet, or the headings of prices, name ("": none)."""
    counts: Counter[str] = Counter()
    for place in (each for name in ("price", "price a metre") for each in heading.columns(name)):
        said: Sequence[Cell] = [row[place] for row in sheet.rows[heading.below :]]
        for text in [heading.names[place], *(cell for cell in said if isinstance(cell, str))]:
            for sign, code in CURRENCIES.items():
                if re.search(rf"(?<![a-z]){re.escape(sign)}(?![a-z])", text.casefold()):
                    counts[code] += 1
    return counts.most_common(1)[0][0] if counts else ""
