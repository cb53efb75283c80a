"""A rig file as text: tables of keys with a comment behind each, and the list of what was assumed in it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

__all__ = ["ASSUMED", "Line", "Section", "assumptions", "comment_lines", "rig_text", "toml_text"]

WIDTH = 120
COMMENT_COLUMN = 28
MOST_NAMED = 2
ASSUMED = "Assumed, because nobody said otherwise"

Cell = str | int | bool
Value = Cell | Sequence[Mapping[str, Cell]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One key with its value and what it means. ``assumed`` is the reason for a value that nobody said (empty: it was said);
    a line that is ``open`` is written as a comment, for the keeper to fill in, and stands for none."""

    key: str
    value: Value
    means: str = ""
    assumed: str = ""
    open: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One table of a rig file, "" for what stands above all tables, with a comment above it; an ``open`` one is a comment itself.

    ``assumed`` is what was assumed about the table as a whole."""

    name: str
    lines: tuple[Line, ...]
    about: str = ""
    open: bool = False
    assumed: tuple[str, ...] = ()


def rig_text(sections: Sequence[Section], head: Sequence[str], assumed: Sequence[str] = ()) -> str:
    """Return the file: the paragraphs ``head`` and the list of what was ``assumed`` as comments, then every table.

    What a key means is written once, where it comes first.

    >>> line = Line(key="volume", value="240 l", means="nominal volume")
    >>> print(rig_text([Section(name="tank", lines=(line,))], ["A tank."]), end="")
    # A tank.
    <BLANKLINE>
    [tank]
    volume = "240 l"            # nominal volume
    """
    lines = [line for paragraph in head for line in (*comment_lines(paragraph), "#")][:-1]
    if assumed:
        lines += ["#", f"# {ASSUMED}:", *(line for item in assumed for line in comment_lines(item, "  - ", "    "))]
    told: set[tuple[str, str]] = set()
    for section in sections:
        lines += ["", *comment_lines(section.about)] if section.about else [""]
        if section.name:
            lines.append(f"{'# ' if section.open else ''}[{section.name}]")
        for line in section.lines:
            lines += _lines_of(line, told)
    return "\n".join(lines) + "\n"


def _lines_of(line: Line, told: set[tuple[str, str]]) -> Iterator[str]:
    means = "" if (line.key, line.means) in told else line.means
    told.add((line.key, line.means))
    comment = "; ".join(filter(None, ("assumed" if line.assumed and not line.open else "", means)))
    if not isinstance(line.value, str | int):
        yield f"{line.key} = [" + (f"{' ' * max(COMMENT_COLUMN - len(line.key) - 4, 1)}# {comment}" if comment else "")
        for table in line.value:
            yield f"    {_inline(table)},"
        yield "]"
        return
    text = f"{'# ' if line.open else ''}{line.key} = {toml_text(line.value)}"
    yield f"{text.ljust(COMMENT_COLUMN - 1)} # {comment}" if comment else text


def _inline(table: Mapping[str, Cell]) -> str:
    return "{" + ", ".join(f"{key} = {toml_text(value)}" for key, value in table.items()) + "}"


def comment_lines(paragraph: str, first: str = "", later: str = "") -> list[str]:
    """Return a paragraph as lines of a comment.

    >>> comment_lines("A tank.")
    ['# A tank.']
    """
    folded = textwrap.wrap(
        paragraph, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False, break_on_hyphens=False
    )
    return [f"# {line}" for line in folded]


def toml_text(value: Cell) -> str:
    """Return a value as TOML has it; in text, quotes, backslashes and all that does not print are written as escapes.

    >>> print(toml_text('5/8"'), toml_text(True), toml_text("a\\nb"))
    "5/8\\"" true "a\\u000ab"
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    return '"' + "".join(map(_escaped, value)) + '"'


def _escaped(char: str) -> str:
    if char in '"\\':
        return f"\\{char}"
    if char.isprintable():
        return char
    # TOML knows no surrogates, which only text that is broken holds
    code = 0xFFFD if 0xD800 <= ord(char) <= 0xDFFF else ord(char)
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


def assumptions(sections: Sequence[Section]) -> tuple[str, ...]:
    """Return what was assumed, one text for each reason, in the order of the file.

    >>> lines = (Line(key="volume", value="180 l", assumed="a usual tank"), Line(key="temperature", value="20 degC"))
    >>> assumptions([Section(name="tank", lines=lines)])
    ('tank.volume 180 l: a usual tank',)
    """
    found: dict[str, dict[str, list[str]]] = {}
    for section in sections:
        for line in section.lines:
            if line.assumed:
                places = found.setdefault(line.assumed, {}).setdefault("none" if line.open else _shown(line.value), [])
                places.append(f"{section.name}.{line.key}".lstrip("."))
    own = tuple(f"{', '.join(_places(*each) for each in values.items())}: {reason}" for reason, values in found.items())
    return own + tuple(f"{section.name}: {text}" for section in sections for text in section.assumed)


def _places(value: str, places: Sequence[str]) -> str:
    """The places of one value, at most two of them by name."""
    named = places if len(places) <= MOST_NAMED else places[:1]
    more = f" and {len(places) - 1} more" if len(places) > MOST_NAMED else ""
    return f"{' and '.join(named)}{more} {value}".rstrip()


def _shown(value: Value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value) if isinstance(value, str | int) else ""
