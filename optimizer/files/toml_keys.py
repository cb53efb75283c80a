"""A TOML file, its tables, and the keys of one table, read by their definitions; unknown keys are never passed over."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeGuard, TypeVar

from optimizer.errors import BadValue, InputError, Problems, near_sentence
from optimizer.files.decimals import check_two_ways, holds_numbers
from optimizer.files.draft import Draft
from optimizer.files.field import Field
from optimizer.files.key_value import read_value
from optimizer.files.toml_file import read_toml
from optimizer.model.said import Note
from optimizer.unit_table import FLOW, HEAD, VOLUME
from optimizer.units import gallon_note, head_note

__all__ = ["Report", "is_tables", "listed", "read_file", "read_keys"]

T = TypeVar("T")


@dataclass(slots=True)
class Report:
    """What comes out of reading beside the objects: problems to put right, and notes on what was assumed.

    ``commas`` tells that the numbers of the file have decimal commas.
    """

    problems: Problems = field(default_factory=Problems)
    notes: list[str] = field(default_factory=list)
    commas: bool = False

    def problem(self, where: str, what: str, cure: str) -> None:
        """Take in one problem."""
        self.problems.tell(where, what, cure)

    def note(self, text: str) -> None:
        """Take in one note, once."""
        if text not in self.notes:
            self.notes.append(text)


def read_file(path: str | Path, read: Callable[[dict[str, object], Path, Report], T | None]) -> T:
    """Return what `read` makes of the tables of a TOML file, or raise `InputError` with all that it reports."""
    path, report = Path(path), Report()
    name = path.name or str(path)
    try:
        tree = read_toml(path)
    except BadValue as error:
        raise InputError(name, [error.at("file")]) from None
    made = read(tree, path, report)
    report.problems.raise_if_any(name)
    if made is None:
        raise RuntimeError("a file without problems was not read")
    return made


def is_tables(raw: object) -> TypeGuard[list[dict[str, object]]]:
    """True for a list of tables."""
    return isinstance(raw, list) and all(isinstance(table, dict) for table in raw)


def listed(raw: object, where: str, cure: str, most: tuple[int, str, str], report: Report) -> list[dict[str, object]]:
    """Return the tables of a list, none once the reason went to `report`; `most` is how many there may be, of what, and the cure
    where there are more.

    >>> report = Report()
    >>> listed([{}, {}], "fill", "Write [[fill]].", (1, " fills", "Leave the oldest out."), report)
    []
    >>> [problem.what for problem in report.problems]
    ['there are more than 1 fills.']
    """
    count, noun, fewer = most
    if is_tables(raw) and len(raw) <= count:
        return raw
    if is_tables(raw):
        report.problem(where, f"there are more than {count}{noun}.", fewer)
    else:
        report.problem(where, "this is not a list of tables.", cure)
    return []


def read_keys(
    table: dict[str, object], fields: Iterable[Field], where: str, report: Report, known: Collection[str] = ()
) -> Draft:
    """Return a draft with the values of `fields` found in `table`; `where` is its place, such as "loop.pump".

    Keys that are neither among the fields nor in `known` are problems with near names; so are values that cannot be
    read and required fields that are missing.

    >>> from optimizer.files.toml_fields import TANK
    >>> report = Report()
    >>> read_keys({"volume": "120 l", "salinty": "35 g/kg"}, TANK, "tank", report).number("volume")
    0.12
    >>> [(problem.where, problem.cure) for problem in report.problems]
    [('tank.salinty', 'Near names: "salinity".')]
    """
    named = {field.name: field for field in fields if field.in_rig}
    _refuse_unknown([key for key in table if key not in named and key not in known], table, {*named, *known}, where, report)
    draft = Draft(
        values={name: table.get(name, field.default) for name, field in named.items()},
        fields=named,
        place=lambda name: f"{where}.{name}".lstrip("."),
        problems=report.problems,
    )
    draft.values = {name: _value(draft, name, table, report) for name in named}
    for name, known_field in named.items():
        if known_field.required:
            draft.need(name)
    return draft


def _refuse_unknown(
    unknown: Collection[str], table: dict[str, object], known: Collection[str], where: str, report: Report
) -> None:
    """Take in keys that nobody knows; near names are looked for only as long as somebody will read them."""
    words = sorted(set(known).difference(table)) if unknown else []
    all_words = f"Known here: {', '.join(words) or 'nothing else'}."
    for key in unknown:
        near = near_sentence(key, words) if report.problems.few else ""
        report.problem(f"{where}.{key}".lstrip("."), "this key is not known here.", near or all_words)


def _value(draft: Draft, name: str, table: dict[str, object], report: Report) -> object:
    definition = draft.fields[name]
    if name not in table:
        return definition.default
    raw = table[name]
    try:
        if report.commas and holds_numbers(definition):
            check_two_ways(raw)
        value = read_value(definition, raw)
    except BadValue as error:
        draft.fault(name, error.what, error.cure)
        return None
    note = gallon_note(raw) if definition.holds in (VOLUME, FLOW) else None
    note = head_note(raw) if definition.holds is HEAD else note
    if note is not None:
        report.note(Note(draft.place(name), note))
    return value
