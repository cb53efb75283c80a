"""A TOML file as its keeper wrote it, with single values changed: comments, order and layout of all other lines stay."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from optimizer.errors import BadValue
from optimizer.files.toml_tables import check_keys

__all__ = ["Entry", "entries", "line_of", "with_values"]

OTHERWISE = "Change it in the text of the whole file."

_STEP = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|'
    + r"'''.*?'{3,5}|"
    + r'"(?:\\.|[^"\\\n])*"|'
    + r"'[^'\n]*'|#[^\n]*|[\[\]{}=\n]|[^\"'#\[\]{}=\n]+",
    re.DOTALL,
)
"""Texts, comments, brackets and what lies between; whatever the file holds, its pieces together are the file."""

Path = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """One key as it is written: its ``path`` from the top (in lists of tables with the table's number), where in the text its
    line begins and ends, and where its value does."""

    path: Path
    begins: int
    value: slice
    ends: int

    def raw(self, text: str) -> str:
        """The value as TOML has it."""
        return text[self.value]


@dataclass(frozen=True, slots=True)
class _Head:
    """The head of a table, and where its line begins and ends."""

    path: Path
    begins: int
    ends: int


@lru_cache(maxsize=8)
def entries(text: str) -> tuple[Entry, ...]:
    """All keys of a file that can be read as TOML, in their order.

    >>> [(entry.path, entry.raw("[a.b]\\nc = 1 # one\\n")) for entry in entries("[a.b]\\nc = 1 # one\\n")]
    [(('a', 'b', 'c'), '1')]
    """
    return tuple(each for each in _lines(text) if isinstance(each, Entry))


def line_of(text: str, path: Sequence[str]) -> int:
    """The number of the line, from 1, where a key or the table that holds it begins; 0 where neither can be found."""
    wanted = tuple(path)
    while wanted:
        for each in _lines(text):
            if each.path == wanted:
                return text.count("\n", 0, each.begins) + 1
        wanted = wanted[:-1]
    return 0


def with_values(text: str, table: Sequence[str], values: dict[str, str]) -> str:
    """The text with keys of a table set to values as TOML writes them; an empty one takes the key out.

    A table that is not there is added at the end. Raises BadValue where the file is written so that this cannot be done line by
    line, or for what is no value.

    >>> print(with_values("[a]\\nb = 1 # one\\nc = 2\\n", ["a"], {"b": "3", "c": "", "d": "true"}), end="")
    [a]
    b = 3 # one
    d = true
    """
    wanted = _tree_with(text, tuple(table), values)
    for key, raw in values.items():
        text = _with_value(text, (*table, key), raw)
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        found = {}
    if found != wanted:
        raise BadValue(f"{'.'.join(table)} is written in a way that cannot be changed here.", OTHERWISE)
    return text


def _tree_with(text: str, table: Path, values: dict[str, str]) -> dict[str, Any]:
    """What the file should hold afterwards."""
    tree = tomllib.loads(text)
    inner: Any = tree
    for step in table:
        inner = inner.setdefault(step, {})
        if not isinstance(inner, dict):
            raise BadValue(f"{'.'.join(table)} is not a table.", OTHERWISE)
    for key, raw in values.items():
        inner.pop(key, None)
        if raw:
            inner[key] = value_of(raw)
    return tree


def value_of(raw: str) -> Any:
    """What a value as TOML writes it is. Raises BadValue for what is none, or more than one."""
    check_keys(raw)
    try:
        found = tomllib.loads(f"value = {raw}\n")
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        what = str(error).partition(" (at ")[0]
        raise BadValue(
            f"this is no value: {what[:1].lower()}{what[1:]}.", 'Text and quantities stand in quotes: "16 mm".'
        ) from None
    if set(found) != {"value"}:
        raise BadValue("this is more than one value.", "Write one, or change the text of the whole file.")
    return found["value"]


def _with_value(text: str, path: Path, raw: str) -> str:
    lines = list(_lines(text))
    entry = next((each for each in lines if isinstance(each, Entry) and each.path == path), None)
    if entry is not None and raw:
        return text[: entry.value.start] + raw + text[entry.value.stop :]
    if entry is not None:
        comment = text[entry.value.stop : entry.ends].strip()
        return text[: entry.begins] + (f"{comment}\n" if comment else "") + text[entry.ends :]
    return _with_line(text, lines, path, f"{path[-1]} = {raw}") if raw else text


def _with_line(text: str, lines: Sequence[Entry | _Head], path: Path, line: str) -> str:
    """The text with a key more, behind the others of its table."""
    newline = "\r\n" if "\r\n" in text else "\n"
    heads = [each for each in lines if isinstance(each, _Head) and each.path == path[:-1]]
    inside = [each for each in lines if isinstance(each, Entry) and each.path[:-1] == path[:-1]]
    if not heads and not inside and len(path) > 1:
        gap = "" if not text or text.endswith(("\n\n", "\r\n\r\n")) else newline
        text += ("" if not text or text.endswith("\n") else newline) + gap
        return f"{text}[{'.'.join(path[:-1])}]{newline}{line}{newline}"
    at = max([each.ends for each in heads[-1:]] + [each.ends for each in inside], default=0)
    before = newline if at and text[at - 1] != "\n" else ""
    return f"{text[:at]}{before}{line}{newline}{text[at:]}"


def _lines(text: str) -> Iterator[Entry | _Head]:
    """Heads and keys in their order."""
    table: Path = ()
    counts: dict[Path, int] = {}
    for begins, ends in _statements(text):
        statement = text[begins:ends]
        if statement.lstrip().startswith("["):
            path, many = _head(statement)
            if many:
                counts[path] = counts.get(path, 0) + 1
                path = (*path, str(counts[path]))
            table = path
            yield _Head(path, begins, ends)
            continue
        value = _value(statement)
        if value is not None:
            key = _steps(tomllib.loads(f"{statement[: value.start].rstrip().removesuffix('=')}= 0\n"))
            yield Entry((*table, *key), begins, slice(begins + value.start, begins + value.stop), ends)


def _statements(text: str) -> Iterator[tuple[int, int]]:
    """Where every head and every key with its value begins and ends, lines that belong together as one."""
    begins, depth = 0, 0
    for step in _STEP.finditer(text):
        found = step[0]
        depth += (found in ("[", "{")) - (found in ("]", "}"))
        if found == "\n" and depth <= 0:
            yield begins, step.end()
            begins = step.end()
    if begins < len(text):
        yield begins, len(text)


def _head(statement: str) -> tuple[Path, bool]:
    tree = tomllib.loads(statement)
    path = _steps(tree)
    return path, statement.lstrip().startswith("[[")


def _steps(tree: Any) -> Path:
    """The keys that lead down into tables of one key."""
    path: list[str] = []
    while isinstance(tree, dict) and tree:
        ((key, tree),) = tree.items()
        path.append(key)
        tree = tree[0] if isinstance(tree, list) and tree else tree
    return tuple(path)


def _value(statement: str) -> slice | None:
    """Where the value of a statement is, without what surrounds it; None for a line that is empty or a comment."""
    begins, ends, depth = 0, 0, 0
    for step in _STEP.finditer(statement):
        found = step[0]
        if found == "=" and not begins:
            begins = step.end()
        elif begins and not found.isspace() and not (found.startswith("#") and depth == 0):
            ends = step.start() + len(found.rstrip())
            depth += (found in ("[", "{")) - (found in ("]", "}"))
    if not ends:
        return None
    while statement[begins].isspace():
        begins += 1
    return slice(begins, ends)
