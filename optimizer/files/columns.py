"""The reference of every catalog column and every key of rig, household and shop files, from what the readers use."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import groupby

from optimizer.errors import COMMAND_LINE, InputError, Problem, near_sentence, quoted
from optimizer.files import toml_fields as keys
from optimizer.files.end_text import EXAMPLES
from optimizer.files.field import Field, Value
from optimizer.files.part_kinds import FILES, OTHER_FILES, PART_KINDS, PLACE, by_column
from optimizer.model.parts import Kind
from optimizer.unit_table import Dimension
from optimizer.units import help_lines

__all__ = ["FORMS", "column_reference", "meaning_of"]

FORMS = ("text", "markdown")

_TITLES = ("name", "holds", "needed", "meaning", "example")
_Row = tuple[str, str, str, str, str]


def column_reference(form: str = "markdown", about: str | None = None) -> str:
    """Return the reference: catalog files with their columns, tables of other files with their keys, ends and units.

    `form` is one of `FORMS`; raises ValueError for another one. `about` asks for the sections whose title holds it, whole files
    among them, or else for the columns and keys that have it in their name; raises InputError with near names for a word that
    stands nowhere.

    >>> column_reference("text").splitlines()[0]
    'Catalog: one folder with these files'
    >>> "| `inside_mm` | number in mm | yes |" in column_reference()
    True
    >>> column_reference("text", "room").splitlines()[2]
    '[[room]]'
    """
    if form not in FORMS:
        raise ValueError(f"the reference comes as {' or '.join(FORMS)}, not {form!r}")
    plain = form == "text"
    lines: list[str] = []
    for level, title, note, fields, in_csv in _sections() if about is None else _about(about):
        lines += [title if plain else f"{'#' * level} {title}", ""]
        if note:
            lines += [note, ""]
        rows = [_row(field, in_csv) for field in fields]
        if rows:
            lines += [*(_text_rows(rows) if plain else _markdown_rows(rows)), ""]
    return "\n".join(lines).rstrip() + "\n"


def _about(word: str) -> list[_Section]:
    """The sections that a word asks for, each below the title of its file."""
    wanted = word.strip().casefold()
    found = list(_found(wanted)) if wanted else []
    if not found:
        cure = near_sentence(wanted, _words()) or 'Write "fullbore columns" for all of it.'
        raise InputError(COMMAND_LINE, [Problem(where="ABOUT", what=f"{quoted(word)} stands nowhere in it.", cure=cure)])
    lines: list[_Section] = []
    for (title, in_csv), sections in groupby(found, key=lambda each: (each[0], each[1][4])):
        below = [section for _, section in sections]
        lines += below if below[0][0] == FILE_LEVEL else [(FILE_LEVEL, title, "", (), in_csv), *below]
    return lines


def _found(word: str) -> Iterator[tuple[str, _Section]]:
    """Sections with the title of their file: those with the word in their title, else its columns and keys, else its notes."""
    listed = list(_under_files())
    titled = [(file, section) for file, section in listed if word in _searched(file, section).casefold()]
    named = [
        (file, (level, title, note, those, in_csv))
        for file, (level, title, note, fields, in_csv) in listed
        if (those := tuple(field for field in fields if word in _named(field, in_csv)))
    ]
    yield from titled or named or [(file, section) for file, section in listed if word in section[2]]


def _under_files() -> Iterator[tuple[str, _Section]]:
    """Every section with the title of the file that it belongs to."""
    file = ""
    for section in _sections():
        file = section[1] if section[0] == FILE_LEVEL else file
        yield file, section


def _searched(file: str, section: _Section) -> str:
    """What of a section a word is looked for in: its title, and of the title of its file the word before the colon."""
    return f"{file.partition(':')[0]} {section[1]}"


def _named(field: Field, in_csv: bool) -> str:
    return field.column if in_csv else field.name


def _words() -> set[str]:
    words: set[str] = set()
    for title in (section[1] for section in _sections()):
        words |= set(re.findall("[a-z_]+", title.casefold()))
    return words | {_named(field, in_csv) for _, _, _, fields, in_csv in _sections() for field in fields}


_Section = tuple[int, str, str, tuple[Field, ...], bool]
FILE_LEVEL = 2
"""Level of the sections that begin a file."""

_Table = tuple[str, str, tuple[Field, ...]]


def _sections() -> Iterator[_Section]:
    """Yield level, title, note, fields and whether they are columns, in the order of the reference."""
    note = "Values are separated by commas or by semicolons; the unit of a number is in the name of its column."
    yield 2, "Catalog: one folder with these files", note, (), True
    notes = {**{file: note for file, (_, _, note) in FILES.items()}, **OTHER_FILES}
    for file, note in notes.items():
        yield 3, file, note, tuple(by_column(file).values()), True
    yield 3, "about.toml", 'Two keys, both optional: name = "Corner shop" and currency = "EUR".', (), True
    note = "Every quantity is text with its unit; yes and no are true and false."
    yield 2, "Rig: one TOML file", note, (keys.RIG_NAME,), False
    for title, note, fields in _rig_tables():
        yield 3, title, note, fields, False
    note = "Several tanks and one budget, for fullbore share."
    yield 2, "Household: one TOML file", note, keys.HOUSEHOLD, False
    for title, note, fields in _HOUSEHOLD_TABLES:
        yield 3, title, note, fields, False
    note = 'Beside these keys: shelf_prices = ["40", "60"] (needed), and budgets = ["30"], sums to look at besides.'
    yield 2, "Shop: one TOML file", note, keys.SHOP, False
    for title, note, fields in _SHOP_TABLES:
        yield 3, title, note, fields, False
    yield 2, "Ends", "Written as " + ", ".join(f'"{example}"' for example in EXAMPLES) + ".", (), False
    yield 2, "Units", "\n".join(f"- {line}" for line in help_lines()), (), False


def _rig_tables() -> Iterator[_Table]:
    yield from (("[tank]", "", keys.TANK), ("[site]", "", keys.SITE), ("[feeding]", "", keys.FEEDING))
    yield from (("[limits]", "", keys.LIMITS), ("[wish]", "", keys.WISH))
    note = "One table for each place, in the order of the water; its name is the name of the place."
    yield "[loop.NAME]", note, (keys.KIND,)
    for kind, fields in PLACE.items():
        note = "Give part, or the part's own keys (then those needed must be there)." if kind != Kind.CANISTER else ""
        words = ", ".join(keys.FITTING_PLACES) if kind == Kind.FITTING else kind
        yield f"[loop.NAME] that holds: {words}", note, (*fields, *PART_KINDS[kind].keys)
    note = (
        "Two to four parallel branches: beside these keys stand as many tables, one for each branch. All are there but the last, "
        "which may be added. Three are tees in a row: at the first tee the first branch leaves the way of the other two."
    )
    yield f"[loop.NAME] that holds: {Kind.BRANCHES}", note, keys.BRANCHES
    note = "A short series of places in the order of the water, each a table [loop.NAME.BRANCH.PLACE] with a kind."
    yield "[loop.NAME.BRANCH]", note, keys.BRANCH
    note = (
        "Keys as in the loop; in a branch that is not there no part, no state and no adjust. A place may hold branches again, "
        "called by their own names: the water parts at most three times on its way."
    )
    yield "[loop.NAME.BRANCH.PLACE]", note, (keys.BRANCH_KIND,)
    tee = (*keys.TEE_PLACE, *PART_KINDS[Kind.TEE].fields)
    yield "parting and meeting of branches", "Give part, or the tee's own keys.", tee
    yield "trays of a canister", "", (*keys.TRAY, *PART_KINDS[Kind.MEDIUM].keys)
    yield "adjust of an outlet", "", keys.ADJUST
    note = "Adapters that stand in a joint now; any number of these tables. Every other joint is closed directly."
    yield "[[joint]]", note, keys.JOINT
    own = PART_KINDS[Kind.FITTING].keys
    yield "adapters of a joint", "Give part, or the adapter's own keys.", (*keys.ADAPTER, *own)
    note = (
        "Give part, or kind and the part's own keys, as above for a place in the loop. Or say it in words, in a list above all "
        'tables: spares = ["2 m hose 16/22", "4 clamps 16 to 25 mm", "2 x TAIL-16-G34"].'
    )
    yield "[[spares]]", note, (*keys.SPARE, keys.SPARE_KIND)
    for kind in (Kind.CLAMP, Kind.SEAL, Kind.TOOL):
        yield f"[[spares]] of kind {kind}", "", PART_KINDS[kind].fields
    yield "[owned]", "What the keeper has besides spares.", keys.OWNED
    note = "A container filled against the clock, once or more often; any number of these tables."
    yield "[[fill]]", note, keys.FILL
    yield "[symptoms]", "What the keeper notices. Take it out again once the cause is found.", keys.SYMPTOMS


_HOUSEHOLD_TABLES: tuple[_Table, ...] = (
    ("[[spares]]", "What lies in the household's drawer, for any tank: keys, or words, as in a rig file.", keys.SPARE),
    ("[[room]]", "A room with a listening place of its own; any number of these tables.", keys.ROOM),
    (
        "[[tank]]",
        'Beside these keys: rig = "tank_a.toml" (needed), seen from the folder of this file, or the tables of a rig file as '
        "[tank.rig.tank], [tank.rig.loop.intake] and so on.",
        keys.HOUSE_TANK,
    ),
    (
        "[[tank.filter]]",
        "In place of rig and log of a tank with several filters: a table for each, its rig beside these keys, as above. flow or "
        "turnover of the tank is then that of all its filters together.",
        keys.HOUSE_FILTER,
    ),
)
_SHOP_TABLES: tuple[_Table, ...] = (
    ("[[stock]]", "What is in the shop; left out: the whole catalog.", keys.STOCK),
    ("[canisters.NAME]", "A class of canisters; volume, hose and limits of a tank come from its band.", keys.SHOP_CANISTER),
    ("[kinds.NAME]", "A kind of tank; what is said here goes before what the rig file says.", keys.KIND_LIMITS),
    (
        "[[band]]",
        "Beside these keys: canisters = [...] (needed), volumes, hoses and kinds, lists of which every combination is a tank.",
        keys.BAND,
    ),
)


def _row(field: Field, in_csv: bool) -> _Row:
    needed = "yes" if field.required else ""
    meaning = meaning_of(field, in_csv=in_csv)
    name, example = (field.column, field.cell_example) if in_csv else (field.name, field.key_example)
    return name, _holds(field, in_csv), needed, meaning, example


def meaning_of(field: Field, *, in_csv: bool = False) -> str:
    """Return what a column or (not ``in_csv``) a key means, with the words it may hold and what is taken where it is left out.

    >>> meaning_of(keys.WISH[0])
    'delivered flow that is wanted'
    """
    meaning = field.meaning
    if field.choices:
        meaning += f": {', '.join(field.choices)}"
    if field.usual:
        meaning += f"; {'blank' if in_csv else 'left out'}: {field.usual} (assumed)"
    return meaning


def _holds(field: Field, in_csv: bool) -> str:
    if isinstance(field.holds, Dimension):
        if not in_csv or not field.csv_unit:
            return field.holds.name
        return f"number in {field.csv_unit}"
    if field.holds is Value.SPECIFIC_AREA and in_csv:
        return f"number in {field.csv_unit}"
    if field.holds is Value.YES_NO and not in_csv:
        return "true or false"
    return field.holds.value


def _markdown_rows(rows: Iterable[_Row]) -> Iterator[str]:
    yield f"| {' | '.join(_TITLES)} |"
    yield "|" + "---|" * len(_TITLES)
    for name, holds, needed, meaning, example in rows:
        cells = (f"`{name}`", holds, needed, meaning, f"`{example}`")
        yield "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _text_rows(rows: Iterable[_Row]) -> Iterator[str]:
    listed = list(rows)
    width = max(len(row[0]) for row in listed)
    for name, holds, needed, meaning, example in listed:
        must = "; needed" if needed else ""
        yield f"  {name:<{width}}  {meaning} ({holds}{must}), for example {example}"
