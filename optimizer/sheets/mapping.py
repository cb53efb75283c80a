"""How one shop's sheet is to be read: a small TOML file beside it, proposed once, confirmed, and edited by whoever likes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path

from optimizer.errors import BadValue, Problems, Where, near_sentence, quoted
from optimizer.files.rig_writer import comment_lines, toml_text
from optimizer.files.toml_file import read_toml
from optimizer.sheets.parts import QUESTIONS, checked_answer
from optimizer.sheets.words import FIELDS

__all__ = ["SheetMap", "map_path", "map_text", "read_map"]

SUFFIX = ".mapping.toml"
Texts = Mapping[str, str]
MOST_ENTRIES, LONGEST = 2000, 200

_ABOUT = {
    "file": 'The sheet as a whole. decimal and thousands are the signs in numbers; in_hundredths says that 210 is 2.10.',
    "answers": "What the sheet does not say: " + "; ".join(f"{key}: {asks}" for key, (asks, _) in QUESTIONS.items())
    + ' bsp: "G" (usual) or "R".',
    "words": "Words of this shop, and what is read for them.",
    "rows": 'Rows by their code (or their text), and what is read instead; "" leaves one out.',
    "kinds": "What the rows of a sheet are where none of their words says it.",
    "columns": "Columns by heading. Known are: " + ", ".join(FIELDS) + ".",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetMap:
    """``source`` names the sheet in the catalog; the signs and the currency of its numbers; ``answers`` to `QUESTIONS`; ``words``
    and ``rows`` in other words; what the rows of a sheet are (``kinds``), and its ``columns`` by heading."""

    source: str
    decimal: str = ""
    thousands: str = ""
    currency: str = ""
    in_hundredths: bool = False
    answers: Texts = field(default_factory=dict)
    words: Texts = field(default_factory=dict)
    rows: Texts = field(default_factory=dict)
    kinds: Texts = field(default_factory=dict)
    columns: Mapping[str, Texts] = field(default_factory=dict)


_FILE_KEYS = ("source", "decimal", "thousands", "currency", "in_hundredths")
_TABLES = ("answers", "words", "rows", "kinds")


def map_path(sheet: Path) -> Path:
    """Where the mapping of a sheet stands.

    >>> map_path(Path("shop/list.xlsx")).name
    'list.xlsx.mapping.toml'
    """
    return sheet.with_name(sheet.name + SUFFIX)


def map_text(found: SheetMap) -> str:
    """The mapping as a file that can be read and edited."""
    return "\n".join(_lines(found)) + "\n"


def _lines(found: SheetMap) -> Iterator[str]:
    yield "# How fullbore reads this sheet. Edit it as you like: the next import goes by it."
    yield from ("", *comment_lines(_ABOUT["file"]), "[file]")
    for key in _FILE_KEYS:
        yield f"{key} = {toml_text(getattr(found, key))}"
    for name in _TABLES:
        table: Texts = getattr(found, name)
        if table or name in ("answers", "words", "rows"):
            yield from (
                "",
                *comment_lines(_ABOUT[name]),
                f"[{name}]",
                *(f"{toml_text(key)} = {toml_text(each)}" for key, each in table.items()),
            )
    for number, (sheet, columns) in enumerate(found.columns.items()):
        yield from ("", *(comment_lines(_ABOUT["columns"]) if not number else []), f"[columns.{toml_text(sheet)}]")
        yield from (f"{toml_text(name)} = {toml_text(each)}" for name, each in columns.items())


def read_map(path: Path) -> SheetMap:
    """Return a mapping. Raises `InputError` with all that is wrong with it."""
    problems = Problems()
    try:
        tree = read_toml(path)
    except BadValue as error:
        problems.add(error.at(Where(path.name, "file")))
        problems.raise_if_any(path.name)
        raise
    known = {"file", "columns", *_TABLES}
    for key in tree:
        if key not in known:
            problems.tell(
                Where(path.name, key),
                "this table is not known.",
                near_sentence(key, known) or f"Known: {', '.join(sorted(known))}.",
            )
    of_file = {"source": path.name.removesuffix(SUFFIX)} | dict(_of_file(tree.get("file", {}), path.name, problems))
    tables = {name: _texts(tree.get(name, {}), Where(path.name, name), problems) for name in _TABLES}
    for key, text in tables["answers"].items():
        try:
            if key not in (*QUESTIONS, "bsp"):
                raise BadValue("this is not asked.", f"Known: {', '.join((*QUESTIONS, 'bsp'))}.")
            checked_answer(key, text)
        except BadValue as error:
            problems.add(error.at(Where(path.name, f"answers.{key}")))
    sheets = tree.get("columns", {})
    columns = {
        str(sheet): _texts(table, Where(path.name, f"columns.{sheet}"), problems)
        for sheet, table in (sheets.items() if isinstance(sheets, dict) else ())
    }
    for sheet, table in columns.items():
        for name, each in table.items():
            if each not in FIELDS:
                cure = near_sentence(each, FIELDS) or f"Known: {', '.join(FIELDS)}."
                problems.tell(Where(path.name, f"columns.{sheet}.{name}"), f"{quoted(each)} is no field.", cure)
    problems.raise_if_any(path.name)
    made: dict[str, object] = {**of_file, **tables, "columns": columns}
    return SheetMap(**{each.name: made[each.name] for each in fields(SheetMap) if each.name in made})  # type: ignore[arg-type]


def _of_file(table: object, file: str, problems: Problems) -> Iterator[tuple[str, object]]:
    if not isinstance(table, dict):
        problems.tell(Where(file, "file"), "this is not a table.", "Write [file].")
        return
    signs = {"decimal": ("", ",", ".", ",."), "thousands": ("", ",", ".", "'")}
    for key, value in table.items():
        where = Where(file, f"file.{key}")
        if key not in _FILE_KEYS:
            problems.tell(where, "this key is not known.", f"Known: {', '.join(_FILE_KEYS)}.")
        elif key == "in_hundredths":
            if not isinstance(value, bool):
                problems.tell(where, "is neither true nor false.", "Write true or false.")
            yield key, value is True
        elif (
            not isinstance(value, str) or not value.isprintable() or len(value) > LONGEST or value not in signs.get(key, (value,))
        ):
            problems.tell(
                where,
                f"{quoted(value)} cannot stand here.",
                f"Write one of: {', '.join(map(quoted, signs.get(key, ('a word',))))}.",
            )
        else:
            yield key, value


def _texts(table: object, where: Where, problems: Problems) -> Texts:
    """A table of texts; what is none is told."""
    if not isinstance(table, dict) or len(table) > MOST_ENTRIES:
        problems.tell(where, "this is not a table of texts.", f'Write [{where.place}] and lines like "this" = "that".')
        return {}
    wrong = [key for key, each in table.items() if not isinstance(each, str) or len(each) > LONGEST or not key]
    for key in wrong:
        problems.tell(
            Where(where.file, f"{where.place}.{key}"), "this is not text.", f"Write it in quotes, at most {LONGEST} characters."
        )
    return {key: each for key, each in table.items() if key not in wrong}
