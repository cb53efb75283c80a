"""Tables of a TOML file as text again, in their order: what was read, with what was changed in it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import TypeGuard

from optimizer.files.rig_writer import toml_text

__all__ = ["tree_text"]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_Tree = Mapping[str, object]


def tree_text(tree: _Tree, inline: Sequence[str] = ()) -> str:
    """Return the text of a tree; tables in a list of a table, and those behind the keys `inline`, stand on one line each.

    >>> print(tree_text({"name": "A", "loop": {"hose": {"kind": "hose", "bends": 2}}, "fill": [{"seconds": [61.2, 60.8]}]}))
    name = "A"
    <BLANKLINE>
    [loop.hose]
    kind = "hose"
    bends = 2
    <BLANKLINE>
    [[fill]]
    seconds = [61.2, 60.8]
    """
    return "\n".join(_lines(tree, (), frozenset(inline))).strip("\n")


def _lines(table: _Tree, path: tuple[str, ...], inline: frozenset[str]) -> Iterator[str]:
    """Keys first, then the tables below, each with a blank line before it; lists of tables are tables at the top only."""
    below = {key: each for key, each in table.items() if isinstance(each, Mapping) and key not in inline}
    listed = {key: each for key, each in table.items() if not path and _is_tables(each)}
    for key, value in table.items():
        if key not in below and key not in listed:
            yield from _pair(key, value)
    for key, each in below.items():
        name = (*path, key)
        if any(not isinstance(value, Mapping) or word in inline for word, value in each.items()) or not each:
            yield from ("", f"[{'.'.join(map(_key, name))}]")
        yield from _lines(each, name, inline)
    for key, tables in listed.items():
        for each in tables:
            yield from ("", f"[[{_key(key)}]]")
            yield from _lines(each, (key,), inline)


def _pair(key: str, value: object) -> Iterator[str]:
    if not _is_tables(value):
        yield f"{_key(key)} = {_text(value)}"
        return
    yield f"{_key(key)} = ["
    yield from (f"    {_text(each)}," for each in value)
    yield "]"


def _is_tables(value: object) -> TypeGuard[list[_Tree]]:
    return isinstance(value, list) and bool(value) and all(isinstance(each, Mapping) for each in value)


def _text(value: object) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_key(key)} = {_text(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_text, value)) + "]"
    if isinstance(value, str | int):
        return toml_text(value)
    # a number that could be read in two ways keeps the text that it was written as; a day writes itself
    return str(getattr(value, "text", value))


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else toml_text(name)
