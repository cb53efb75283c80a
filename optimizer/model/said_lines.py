"""Texts with quantities in them, kept beside a saved answer, so that a report of it can say the same in other units."""

import math
from collections.abc import Callable, Iterator
from dataclasses import Field, dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

from optimizer.model.said import Quantity, Said

KINDS = ("", "flow", "speed", "length", "height", "area", "volume")
"""Kinds of quantity; empty: a piece of plain text."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidPiece:
    """A piece of a text: words, or a quantity of a ``kind`` with its value in SI. Raises ValueError."""

    text: str
    kind: str = ""
    si: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"a quantity has no kind {self.kind[:20]!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidLine:
    """A text as it stands in an answer, and its pieces. Raises ValueError when they are not that text."""

    text: str
    pieces: tuple[SaidPiece, ...]

    def __post_init__(self) -> None:
        if "".join(piece.text for piece in self.pieces) != self.text:
            raise ValueError("the pieces of a text must be that text")


INNER = {"inner": True}
"""Metadata of a field that an answer hands on within the program: neither JSON nor texts have it."""


def told_fields(value: Any) -> "Iterator[Field[Any]]":
    """The fields of a dataclass but for those that are `INNER`."""
    return (each for each in fields(value) if not each.metadata.get("inner"))


def said_lines(answer: object) -> tuple[SaidLine, ...]:
    """All texts in an answer that have quantities in them, each once.

    >>> [line.pieces[1].kind for line in said_lines((Said("at most ", Quantity(0.001, "flow", "3600 l/h")),))]
    ['flow']
    """
    return tuple({text: _line(text) for text in _texts(answer) if isinstance(text, Said)}.values())


def _line(text: Said) -> SaidLine:
    return SaidLine(text=str(text), pieces=tuple(map(_piece, text.pieces)))


def _piece(piece: str | Quantity) -> SaidPiece:
    if isinstance(piece, str):
        return SaidPiece(text=piece)
    if not math.isfinite(piece.si) or piece.kind not in KINDS:  # "no bound" is said alike in all units
        return SaidPiece(text=piece.metric)
    return SaidPiece(text=piece.metric, kind=piece.kind, si=piece.si)


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for each in value:
            yield from _texts(each)
    elif is_dataclass(value) and not isinstance(value, type):
        for field in told_fields(value):
            yield from _texts(getattr(value, field.name))


def said_again(answer: T, lines: tuple[SaidLine, ...]) -> T:
    """The answer with its plain texts as texts that know their quantities, where there is a line for one."""
    known = {
        line.text: Said(*(Quantity(piece.si, piece.kind, piece.text) if piece.kind else piece.text for piece in line.pieces))
        for line in lines
    }
    return with_texts(answer, lambda text: known.get(text, text))


def with_texts(answer: T, change: Callable[[str], str]) -> T:
    """The answer with every text in it replaced by what ``change`` makes of it.

    >>> with_texts((1, ("a", None)), str.upper)
    (1, ('A', None))
    """
    changed: Any = _changed(answer, change)
    return changed  # type: ignore[no-any-return]


def _changed(value: Any, change: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return change(value)
    if isinstance(value, tuple):
        made = tuple(_changed(each, change) for each in value)
        return made if any(new is not old for new, old in zip(made, value, strict=True)) else value
    if is_dataclass(value) and not isinstance(value, type):
        pairs = {
            field.name: (getattr(value, field.name), _changed(getattr(value, field.name), change)) for field in told_fields(value)
        }
        new = {name: after for name, (before, after) in pairs.items() if after is not before}
        return replace(value, **new) if new else value
    return value
