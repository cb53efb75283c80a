"""Saved answers taken back in: plain JSON values become the frozen objects again, or a list of what is wrong with them."""

import math
import types
from collections.abc import Callable
from dataclasses import MISSING, is_dataclass, replace
from enum import StrEnum
from functools import cache
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

from optimizer.model.answer import VERSION, Answer
from optimizer.model.dossiers import BLOCKS, Dossier, as_dossier
from optimizer.model.kits import KitPlan
from optimizer.model.said_lines import said_again, told_fields
from optimizer.model.shared import SharedResult

__all__ = ["Saved", "answer_of", "dossier_of", "taken", "taken_back"]

LARGEST, LARGEST_COUNT = 1e12, 1e300
"""No number of a tank is larger; combinations are many."""

MOST_ITEMS = 20_000
UNBOUNDED = frozenset(
    {
        "flow_max_m3s",
        "canister_rating_m",
        "canister_margin_m",
        "most_dba",
        "most_power_w",
        "day",
        "tightens_day",
        "bound_m3s",
        "freedom",
        "undone_day",
        "due_day",
        "limit_ms",
    }
)
"""Numbers that may be infinite, which JSON has as null."""

A = TypeVar("A", bound=Answer)

Complain = Callable[[str, str], None]
"""Takes the place in the file and what is wrong there."""


Saved = Dossier | KitPlan | SharedResult
"""What a page can be made of."""

KINDS: tuple[type[Answer], ...] = (Dossier, *BLOCKS.values(), KitPlan, SharedResult)
"""Answers that can be read back in."""


def answer_of(saved: object, complain: Complain) -> Saved | None:
    """The saved answer, those that a dossier is made of alone in one; None after ``complain`` was called at least once.

    >>> found = []
    >>> answer_of({"schema": "shopping/7"}, lambda place, what: found.append(what)) is None, found
    (True, ["'shopping/7' is no answer of this program that a report can be made of."])
    """
    if not isinstance(saved, dict):
        complain("file", "this is no saved answer, but some other JSON.")
        return None
    schema = saved.get("schema")
    kind = next((kind for kind in KINDS if kind.schema() == schema), None)
    if kind is None:
        complain("schema", _unknown(schema))
        return None
    reader = _Reader(complain)
    if kind is Dossier:
        _check_blocks(saved, reader)
    found: Any = reader.take(kind, saved, "")
    if found is not None:
        _check(found, reader)
    if reader.wrong or found is None:
        return None
    known: Any = said_again(replace(found, said=()), found.said)
    return known if isinstance(known, Dossier | KitPlan | SharedResult) else as_dossier(known)


def dossier_of(saved: object, complain: Complain) -> Dossier | None:
    """The dossier that a saved answer holds, or is a part of; None after ``complain`` was called at least once."""
    found = answer_of(saved, complain)
    if found is None or isinstance(found, Dossier):
        return found
    complain("schema", f"{found.schema()!r} is no answer that figures can be drawn of.")
    return None


def taken_back(kind: type[A], body: object) -> A:
    """An answer of a ``kind`` from its JSON form, as `to_dict` makes it, with the quantities in its texts. Raises ValueError for
    what is none.

    >>> taken_back(Dossier, {})
    Traceback (most recent call last):
    ValueError: schema is missing
    """
    wrong: list[str] = []
    reader = _Reader(lambda place, what: wrong.append(f"{place} {what.rstrip('.')}"))
    if not isinstance(body, dict) or "schema" not in body:
        raise ValueError("schema is missing")
    found: A | None = reader.take(kind, body, "") if body["schema"] == kind.schema() else None
    if found is None or reader.wrong:
        raise ValueError("; ".join(wrong) or f"this is no {kind.schema()}")
    return said_again(replace(found, said=()), found.said)


def taken(kind: Any, value: object) -> Any:
    """A plain value as a type wants it, None where it cannot be.

    >>> taken(tuple[float, ...], [1, 2.5]), taken(tuple[float, ...], ["1"])
    ((1.0, 2.5), None)
    """
    reader = _Reader(lambda *_: None)
    found = reader.take(kind, value, "")
    return None if reader.wrong else found


def _unknown(schema: object) -> str:
    """What is wrong with a schema that is none of those: it is missing, of another version, or of another program."""
    if schema is None:
        return "is missing."
    name = f"{str(schema)[:60]!r}"
    if isinstance(schema, str) and schema.partition("/")[0] in {kind.schema().partition("/")[0] for kind in KINDS}:
        return f"{name} is of another version of this program, which has version {VERSION}: ask the question again."
    return f"{name} is no answer of this program that a report can be made of."


def _check_blocks(saved: dict[str, object], reader: "_Reader") -> None:
    """Every block of a dossier has the schema that it has when it stands alone, and there is one at least."""
    for name, kind in BLOCKS.items():
        block = saved.get(name)
        if isinstance(block, dict) and block.get("schema") != kind.schema():
            reader.complain(f"{name}.schema", f"must be {kind.schema()}.")


def _check(found: Answer, reader: "_Reader") -> None:
    """What no type says: a dossier holds an answer, and what the sentences on kits divide by is above zero."""
    if isinstance(found, Dossier) and not any(getattr(found, name) for name in BLOCKS):
        reader.complain("result", "is missing, and there is no other answer in the file either.")
    if not isinstance(found, KitPlan):
        return
    weights = {"total_weight": found.total_weight, **{f"kits[{n}].weight": kit.weight for n, kit in enumerate(found.kits)}}
    weights |= {"weight": found.weight} if found.kits else {}
    for place, weight in weights.items():
        if not weight > 0.0:
            reader.complain(place, "must be above zero.")
    if not found.shelf_prices:
        reader.complain("shelf_prices", "must not be empty.")


class _Reader:
    """Reads values by the types of the fields they belong to, and notes whether anything was wrong."""

    def __init__(self, complain: Complain) -> None:
        self._complain = complain
        self.wrong = False

    def complain(self, place: str, what: str) -> None:
        self.wrong = True
        self._complain(place or "file", what)

    def take(self, kind: Any, value: object, place: str) -> Any:
        """The value as its type wants it; what cannot be is complained about and becomes None."""
        if is_dataclass(kind):
            return self._record(kind, value, place)
        origin = get_origin(kind)
        if origin in (Union, types.UnionType):
            inner = next(each for each in get_args(kind) if each is not type(None))
            return None if value is None else self.take(inner, value, place)
        if origin is Literal:
            return (
                value
                if value in get_args(kind)
                else self.complain(place, f"must be one of {', '.join(map(repr, get_args(kind)))}.")
            )
        if origin is tuple:
            return self._items(get_args(kind), value, place)
        if kind is float:
            return self._number(value, place)
        if kind is int and isinstance(value, int) and not isinstance(value, bool) and abs(value) < LARGEST_COUNT:
            return value
        if kind in (str, bool) and isinstance(value, kind):
            return value
        if isinstance(kind, type) and issubclass(kind, StrEnum) and value in tuple(kind):
            return next(each for each in kind if each == value)
        words = {int: "a whole number", str: "text", bool: "true or false"}
        return self.complain(place, f"must be {words.get(kind, 'something else')}.")

    def _number(self, value: object, place: str) -> float | None:
        if value is None and place.rpartition(".")[2] in UNBOUNDED:
            return math.inf
        if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < LARGEST:
            return float(value)
        self.complain(place, "must be a number.")
        return None

    def _items(self, kinds: tuple[Any, ...], value: object, place: str) -> tuple[Any, ...] | None:
        many = len(kinds) == 2 and kinds[1] is ...
        if not isinstance(value, list) or len(value) > MOST_ITEMS or not (many or len(value) == len(kinds)):
            self.complain(place, f"must be a list of at most {MOST_ITEMS}." if many else f"must be a list of {len(kinds)}.")
            return None
        return tuple(self.take(kinds[0] if many else kinds[n], each, f"{place}[{n}]") for n, each in enumerate(value))

    def _record(self, kind: Any, value: object, place: str) -> Any:
        if not isinstance(value, dict):
            return self.complain(place, "must be an object in braces.")
        before, given, hints = self.wrong, {}, _hints(kind)
        self.wrong = False
        for each in told_fields(kind):
            where = f"{place}.{each.name}" if place else each.name
            if each.name in value:
                given[each.name] = self.take(hints[each.name], value[each.name], where)
            elif each.default is MISSING:
                self.complain(where, "is missing.")
        made = None
        if not self.wrong:
            try:
                made = kind(**given)
            except ValueError as error:
                self.complain(place, f"{error}.")
        self.wrong = self.wrong or before
        return made


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)
