"""Answers of the interface that many tests of words, pages and files ask for: of the same question once a process.

Only for tests that look at what becomes of an answer and change nothing in the rooms that make it. That the same question has the
same answer is a test of its own (`tests/test_cli_measure.py`, `tests/tanks/test_shop_bytes.py`).
"""

import io
import pickle
from collections.abc import Callable
from functools import wraps
from types import MappingProxyType
from typing import Any

import pytest

from optimizer import api

ASKED = (
    "advise",
    "ageing",
    "alternatives",
    "bands",
    "best",
    "buying_order",
    "cheapest",
    "compare",
    "diagnose",
    "dossier",
    "drill",
    "front",
)
ASKED += ("kits", "measure", "share", "standing_loop", "verify", "why")
HEARD = ("progress", "between", "halted")
"""Arguments that hear of the work and change nothing in what comes of it."""

_known: dict[bytes, Any] = {}


class _Question(pickle.Pickler):
    """A question as bytes, what is behind the read-only views of a catalog included."""

    def reducer_override(self, given: Any) -> Any:
        return (dict, (dict(given),)) if isinstance(given, MappingProxyType) else NotImplemented


def _question(name: str, args: tuple[Any, ...], more: dict[str, Any]) -> bytes | None:
    """What tells one question from another; None where it holds a function, which may want to be called."""
    asked = {word: value for word, value in more.items() if word not in HEARD}
    if any(map(callable, (*args, *asked.values()))):
        return None
    written = io.BytesIO()
    try:
        _Question(written).dump((name, args, asked))
    except (pickle.PicklingError, AttributeError, TypeError):
        return None
    return written.getvalue()


def once(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
    """A function that looks up what it was asked before, word for word. Errors are never kept."""

    @wraps(real)
    def known(*args: Any, **more: Any) -> Any:
        key = _question(name, args, more)
        if key is None:
            return real(*args, **more)
        if key not in _known:
            _known[key] = real(*args, **more)
        return _known[key]

    return known


def answer_once(patch: pytest.MonkeyPatch) -> None:
    """All answers are looked up while the patch stands."""
    for name in ASKED:
        patch.setattr(api, name, once(name, getattr(api, name)))
