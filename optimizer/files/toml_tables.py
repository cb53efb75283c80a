"""The tables of a TOML text, for whoever looks into a file and tells not what is wrong with it; keys that nobody should read."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from optimizer.errors import BadValue

__all__ = ["check_keys", "tables_of"]

MOST_PARTS = 16
"""Parts of a key with dots between them; a rig needs five. What TOML keeps of a key grows with the square of their number."""

_WORD = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')"""
_LONG_KEY = re.compile(rf"(?m)(?:^|[\[{{,])[ \t]*+{_WORD}(?:[ \t]*+\.[ \t]*+{_WORD}){{{MOST_PARTS}}}")


def tables_of(text: str) -> dict[str, Any] | None:
    """Return the tables of a text; None for one that is no TOML, or that nobody should try to read.

    >>> tables_of("a = 1"), tables_of("a ="), tables_of("a" + ".a" * 50_000 + " = 1")
    ({'a': 1}, None, None)
    """
    try:
        check_keys(text)
        return tomllib.loads(text)
    except (BadValue, ValueError, RecursionError):
        return None


def check_keys(text: str) -> None:
    """Raise `BadValue` for a key of very many parts, before anything is made of it."""
    found = _LONG_KEY.search(text)
    if found is not None:
        line = text.count("\n", 0, found.start()) + 1
        what = f"in line {line} there is a key of more than {MOST_PARTS} parts with dots between them."
        raise BadValue(what, "A rig has at most five levels.")
