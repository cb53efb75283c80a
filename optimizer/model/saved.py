"""Saved answers taken back in: plain JSON values become the frozen objects again, or a list of what is wrong with them."""

import math
import types
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, is_dataclass, replace
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from optimizer.model.banded import Banded
from optimizer.model.dossiers import BLOCK_SCHEMAS, SCHEMA, Dossier
from optimizer.model.fronts import Front
from optimizer.model.kits import SCHEMA as KITS
from optimizer.model.kits import KitPlan
from optimizer.model.orders import BuyingOrder
from optimizer.model.results import Result
from optimizer.model.said_lines import said_again
from optimizer.model.shared import SCHEMA as SHARED
from optimizer.model.shared import SharedResult

__all__ = ["Saved", "answer_of", "dossier_of"]

LARGEST, LARGEST_COUNT = 1e12, 1e300
"""No number of a tank is larger; combinations are many."""

MOST_ITEMS = 20_000
UNBOUNDED = frozenset(
    {"flow_max_m3s", "canister_rating_m", "canister_margin_m", "most_dba", "most_power_w", "day", "tightens_day", "bound_m3s"}
)
"""Numbers that may be infinite, which JSON has as null."""

BLOCKS: Mapping[str, type[Any]] = {"result": Result, "front": Front, "bands": Banded, "order": BuyingOrder}
Complain = Callable[[str, str], None]
"""Takes the place in the file and what is wrong there."""


Saved = Dossier | KitPlan | SharedResult
"""What a page can be made of."""


def answer_of(saved: object, complain: Complain) -> Saved | None:
    """The saved answer, those that a dossier is made of alone in one; None after ``complain`` was called at least once.

    >>> found = []
    >>> answer_of({"schema": "shopping/7"}, lambda place, what: found.append(what)) is None, found
    (True, ["'shopping/7' is no answer of this program that a report can be made of."])
    """
    if isinstance(saved, dict) and saved.get("schema") == KITS:
        return _kits(saved, complain)
    if isinstance(saved, dict) and saved.get("schema") == SHARED:
        household: SharedResult | None = _Reader(complain).take(SharedResult, saved, "")
        return household
    return dossier_of(saved, complain)


def dossier_of(saved: object, complain: Complain) -> Dossier | None:
    """The dossier that a saved answer holds, or is a part of; None after ``complain`` was called at least once."""
    if not isinstance(saved, dict):
        complain("file", "this is no saved answer, but some other JSON.")
        return None
    schema = saved.get("schema")
    if schema == SCHEMA:
        return _whole(saved, complain)
    name = next((name for name, known in BLOCK_SCHEMAS.items() if known == schema), "")
    if not name:
        unknown = f"{str(schema)[:60]!r} is no answer of this program that a report can be made of."
        complain("schema", "is missing." if schema is None else unknown)
        return None
    block = _Reader(complain).take(BLOCKS[name], saved, "")
    return None if block is None else Dossier(**{name: block})


def _kits(saved: dict[str, object], complain: Complain) -> KitPlan | None:
    """A plan of kits; what its sentences divide by must be above zero."""
    reader = _Reader(complain)
    plan: KitPlan | None = reader.take(KitPlan, saved, "")
    if plan is None:
        return None
    weights = {"total_weight": plan.total_weight, **{f"kits[{n}].weight": kit.weight for n, kit in enumerate(plan.kits)}}
    weights |= {"weight": plan.weight} if plan.kits else {}
    for place, weight in weights.items():
        if not weight > 0.0:
            reader.complain(place, "must be above zero.")
    if not plan.shelf_prices:
        reader.complain("shelf_prices", "must not be empty.")
    return None if reader.wrong else plan


def _whole(saved: dict[str, object], complain: Complain) -> Dossier | None:
    reader = _Reader(complain)
    for name, schema in BLOCK_SCHEMAS.items():
        block = saved.get(name)
        if isinstance(block, dict) and block.get("schema") != schema:
            reader.complain(f"{name}.schema", f"must be {schema}.")
    dossier: Dossier | None = reader.take(Dossier, saved, "")
    if dossier is not None and not any(getattr(dossier, name) for name in BLOCK_SCHEMAS):
        reader.complain("result", "is missing, and there is no other answer in the file either.")
    if reader.wrong or dossier is None:
        return None
    return said_again(replace(dossier, said=()), dossier.said)


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
        if origin is tuple:
            return self._items(get_args(kind), value, place)
        if kind is float:
            return self._number(value, place)
        if kind is int and isinstance(value, int) and not isinstance(value, bool) and abs(value) < LARGEST_COUNT:
            return value
        if kind in (str, bool) and isinstance(value, kind):
            return value
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
        for each in fields(kind):
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
