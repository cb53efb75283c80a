"""A shop's sheet into a catalog: looked at first, written when it is told to, whole or not at all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from optimizer.errors import BadValue, InputError, Problem, Problems, near_sentence, quoted
from optimizer.files.together import write_together
from optimizer.files.whole_file import try_folder, write_whole
from optimizer.model.stock_import import SheetColumn, SheetQuestion, SheetRemark, SheetRow, StockImport
from optimizer.sheets.headings import LEFT_OUT, Heading
from optimizer.sheets.mapping import SheetMap, map_path, map_text, read_map
from optimizer.sheets.merging import Merged, merged
from optimizer.sheets.parts import QUESTIONS, checked_answer
from optimizer.sheets.proposal import Headed, headed, proposed, rows_of
from optimizer.sheets.rows import End, Row
from optimizer.sheets.tables import Sheet, read_sheets, text_of
from optimizer.sheets.words import FIELDS

__all__ = ["Looked", "answered", "import_stock", "look_at"]

FILE_KEYS = ("decimal", "thousands", "currency")
ONE_COLUMN = ("price", "id", "stock")
FEW, LONGEST = 3, 60
"""So many cells of a column are shown, and so much of each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """A sheet that was looked at: what is said of it, how it was read, and the files that it makes of the catalog."""

    answer: StockImport
    by: SheetMap
    files: Mapping[str, bytes]
    folder: Path
    mapping: Path
    mapped_anew: bool

    def write(self) -> StockImport:
        """Write the mapping, unless it stands there as it is (comments are somebody's), then the catalog, all its files or none.
        Raises OSError where that fails."""
        self.folder.mkdir(parents=True, exist_ok=True)
        try_folder(self.folder)
        if self.mapped_anew:
            write_whole([(self.mapping, map_text(self.by).encode())])
        write_together(self.folder, dict(self.files))
        return replace(self.answer, written=True, command="")


def import_stock(
    file: str | Path,
    folder: str | Path,
    *,
    mapping: str | Path | None = None,
    answers: Mapping[str, str] | None = None,
    write: bool = False,
) -> StockImport:
    """Return what a sheet (XLSX, ODS, XLS, CSV, text) does to the catalog in a folder, and with ``write`` do it.

    It is read by its ``mapping``, or without one by that beside it, and where there is none yet as it looks; ``answers`` say what
    it does not, as in `answered`. Raises `InputError` where sheet, mapping or catalog cannot be read.
    """
    found = look_at(Path(file), Path(folder), Path(mapping) if mapping else None, answers or {})
    return found.write() if write and not found.answer.blocked else found.answer


def look_at(file: Path, folder: Path, mapping: Path | None, answers: Mapping[str, str]) -> Looked:
    """Read a sheet and put its rows to the catalog in a folder; nothing is written. Raises `InputError`."""
    try:
        sheets = read_sheets(file)
    except BadValue as error:
        raise InputError(file.name, [error.at("file")]) from None
    place = mapping or map_path(file)
    saved = place.exists()
    known = read_map(place) if saved else proposed(file, sheets)
    by = answered(known, answers)
    found, unheaded = headed(sheets, by)
    if not found:
        said = " as its mapping has it" if saved else ""
        cure = "A heading names at least the price and the part, for example: part, price, stock."
        raise InputError(file.name, [Problem(where="file", what=f"no row of it is a heading{said}.", cure=cure)])
    doubt, settled_by = _doubt(found)
    rows = rows_of(found, by)
    if doubt or not any(row.rows for row in rows):
        made = Merged(rows=tuple(rows), changes=(), unchanged=0, files={})
    else:
        made = merged(folder, rows, by.source, by.currency)
    answer = _answer(file, folder, place, saved, by, found, unheaded, made)
    blocked = doubt or ("" if answer.understood else "no row of it is understood: nothing can be written.")
    anew = not saved or by != known
    return Looked(
        answer=replace(answer, blocked=blocked, cure=settled_by),
        by=by,
        files=made.files,
        folder=folder,
        mapping=place,
        mapped_anew=anew,
    )


def answered(by: SheetMap, answers: Mapping[str, str]) -> SheetMap:
    """A mapping with more answers: to a question of `QUESTIONS`, which column is the ``price``, what a ``column HEADING`` holds,
    what a ``word NAME`` means, what a ``row CODE`` says, or a sign or the currency of the file. Raises `InputError`."""
    problems = Problems()
    for key, value in answers.items():
        first, _, rest = key.partition(" ")
        if key in (*QUESTIONS, "bsp"):
            try:
                by = replace(by, answers={**by.answers, key: checked_answer(key, value)})
            except BadValue as error:
                problems.add(error.at(f"--answer {key}"))
        elif first == "word" and rest:
            by = replace(by, words={**by.words, rest: value})
        elif first == "row" and rest:
            by = replace(by, rows={**by.rows, rest: value})
        elif first == "column" and rest:
            by = replace(by, columns=_column(by, rest, value, problems))
        elif key in FILE_KEYS:
            by = replace(by, **{key: value})  # type: ignore[arg-type]
        elif key in ONE_COLUMN:
            by = replace(by, columns=_one_column(by, key, value, problems))
        else:
            known = (*QUESTIONS, "bsp", *FILE_KEYS, *ONE_COLUMN, "column ...", "word ...", "row ...")
            problems.tell("--answer", f"{quoted(key)} is not asked.", near_sentence(key, known) or f"Known: {', '.join(known)}.")
    problems.raise_if_any("command line")
    return by


def _has_column(by: SheetMap, heading: str, problems: Problems) -> bool:
    every = {name for columns in by.columns.values() for name in columns}
    if heading not in every:
        problems.tell(
            "--answer", f"no column is headed {quoted(heading)}.", near_sentence(heading, every) or "Write it as it stands there."
        )
    return heading in every


def _column(by: SheetMap, heading: str, field: str, problems: Problems) -> Mapping[str, Mapping[str, str]]:
    """The columns where that of a heading holds what is said, in every sheet that has it."""
    if field not in FIELDS:
        cure = near_sentence(field, FIELDS) or f"Known: {', '.join(FIELDS)}."
        problems.tell(f"--answer column {heading}", f"{quoted(field)} is no field.", cure)
    elif _has_column(by, heading, problems):
        held = by.columns.items()
        return {sheet: {**names, heading: field} if heading in names else names for sheet, names in held}
    return by.columns


def _one_column(by: SheetMap, field: str, heading: str, problems: Problems) -> dict[str, Mapping[str, str]]:
    _has_column(by, heading, problems)
    return {
        sheet: {name: field if name == heading else LEFT_OUT if each == field else each for name, each in columns.items()}
        if heading in columns
        else columns
        for sheet, columns in by.columns.items()
    }


def _doubt(found: Headed) -> tuple[str, str]:
    """Which of several columns counts, as a question, and how it is answered."""
    for _, heading in found:
        field = heading.doubtful
        if field:
            names = [heading.names[place] for place in heading.columns(field)]
            answer = quoted(f"{field}={names[0]}")
            return f"which column is the {field}: {' or '.join(map(quoted, names))}?", f"Answer for example --answer {answer}."
    return "", ""


def _answer(
    file: Path, folder: Path, place: Path, saved: bool, by: SheetMap, found: Headed, unheaded: Sequence[Sheet], made: Merged
) -> StockImport:
    of = {end: [row for row in made.rows if row.end is end] for end in End}
    return StockImport(
        file=file.name,
        folder=str(folder),
        mapping=place.name,
        saved=saved,
        written=False,
        decimal=by.decimal,
        thousands=by.thousands,
        in_hundredths=by.in_hundredths,
        currency=by.currency,
        columns=tuple(
            SheetColumn(sheet=sheet.name, heading=name, field=field, examples=_examples(sheet, heading, place))
            for sheet, heading in found
            for place, (name, field) in enumerate(zip(heading.names, heading.fields, strict=True))
            if name
        ),
        words=tuple(by.words.items()),
        unheaded=tuple(sheet.name for sheet in unheaded),
        understood=len(of[End.UNDERSTOOD]),
        parts=sum(len(row.rows) for row in of[End.UNDERSTOOD]),
        refused=tuple(map(_shown, of[End.REFUSED])),
        elsewhere=tuple(map(_shown, of[End.NO_PLACE])),
        no_parts=tuple(map(_shown, of[End.NO_PART])),
        remarks=tuple(_remarks(of[End.UNDERSTOOD])),
        questions=tuple(_questions(of[End.REFUSED])),
        changes=made.changes,
        unchanged=made.unchanged,
    )


def _examples(sheet: Sheet, heading: Heading, place: int) -> tuple[str, ...]:
    """A few different cells below a heading."""
    cells = dict.fromkeys(text_of(row[place])[:LONGEST] for row in sheet.rows[heading.below :] if row[place] != "")
    return tuple(cells)[:FEW]


def _shown(row: Row) -> SheetRow:
    return SheetRow(sheet=row.sheet, line=row.line, text=row.text, why=row.why, cure=row.cure, asks=row.asks, code=row.code)


def _remarks(rows: Sequence[Row]) -> list[SheetRemark]:
    said = [(remark, row.text) for row in rows for remark in row.remarks]
    counts = Counter(remark for remark, _ in said)
    first = dict(reversed(said))
    return [SheetRemark(text=remark, rows=count, example=first[remark]) for remark, count in counts.items()]


def _questions(rows: Sequence[Row]) -> list[SheetQuestion]:
    asked = [(key, [row for row in rows if row.asks == key]) for key in QUESTIONS]
    return [
        SheetQuestion(key=key, asks=QUESTIONS[key][0], rows=len(those), example=those[0].text, answers=QUESTIONS[key][1])
        for key, those in asked
        if those
    ]
