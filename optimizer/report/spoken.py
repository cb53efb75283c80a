"""An answer with its places in words, for texts and pages: "suction hose" where the rig file has suction_hose.

JSON keeps the names of the file. What is to be typed (a key, a path, what stands before "=") keeps them too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace
from functools import partial
from typing import Any, TypeVar

from optimizer.model.part_names import in_words, place_names
from optimizer.model.said import Note, Said

__all__ = ["spoken"]

T = TypeVar("T")

NAMING = frozenset(
    {"position", "place", "places", "between", "from_place", "to_places", "branch", "part", "parts", "cleaned", "one"}
)
"""Fields that hold places, or parts that are called after theirs."""

AS_WRITTEN = frozenset(
    {"said", "rig", "catalog", "household", "shop", "file", "source", "command", "limit", "product_id", "part_id"}
)
"""Fields that hold names of the keeper's, of files and of a shop, which stay as they are; and what stands for JSON only."""


def spoken(answer: T) -> T:
    """Return the answer with the places of its rig in words, wherever a text of it names one.

    >>> from optimizer.model.results import HeadShare
    >>> head = HeadShare(place="return_hose", before_m=0.1, before_share=0.2, after_m=0.1, after_share=0.2)
    >>> spoken((head, "wider return_hose"))[0].place, spoken((head, "wider return_hose"))[1]
    ('return hose', 'wider return hose')
    """
    names = frozenset(name for text in _naming(answer, False) for name in place_names(text))
    return _changed(answer, partial(in_words, names=names)) if names else answer


def _naming(value: Any, names: bool) -> Iterator[str]:
    """The texts of all fields that name places."""
    if isinstance(value, str):
        if names and "_" in value:
            yield value
    elif isinstance(value, tuple | list):
        for each in value:
            yield from _naming(each, names)
    elif is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            yield from _naming(getattr(value, field.name), field.name in NAMING)


def _changed(value: Any, word: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return _reworded(value, word) if "_" in value else value
    if isinstance(value, tuple):
        return tuple(_changed(each, word) for each in value)
    if not is_dataclass(value) or isinstance(value, type):
        return value
    old = {field.name: getattr(value, field.name) for field in fields(value) if field.init and field.name not in AS_WRITTEN}
    new = {name: _changed(each, word) for name, each in old.items()}
    return replace(value, **new) if new != old else value


def _reworded(text: str, word: Callable[[str], str]) -> str:
    if isinstance(text, Note):
        return Note(text.about, *(word(piece) if isinstance(piece, str) else piece for piece in text.pieces[1:]))
    if isinstance(text, Said):
        return Said(*(word(piece) if isinstance(piece, str) else piece for piece in text.pieces))
    return word(text)
