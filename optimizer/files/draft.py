"""The values of one row or table, checked one by one, on their way to becoming an object."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from functools import cache
from typing import Any, TypeVar

from optimizer.errors import BadValue, Problems
from optimizer.files.end_text import NO_BORE, Face
from optimizer.files.field import Field
from optimizer.model.ends import End
from optimizer.model.usual_figures import BORES, rule_of, rules_of

__all__ = ["Draft", "Made"]

T = TypeVar("T")
Made = dict[str, Any]
"""Attributes of an object that is being made, by name."""

_UNIT = re.compile("_(?:fraction|share|gkg|kg_day|c|m|m2|m3|m3s|m2m3|ms|w|dba|ppi|deg)$")
"""What stands behind the name of an attribute and not behind that of its field."""


@dataclass(slots=True, kw_only=True)
class Draft:
    """Values by field name, with the place of each for messages and the collector of what is wrong.

    `values` holds what the readers made, None where nothing was written and no default stands. `bad` names the fields
    with a known problem: they hold nothing, but something is written there, so they are not also called missing. `ends` are
    those of the part with their bores, once they were asked for. `assumed` are the fields that a rule filled.

    >>> problems = Problems()
    >>> draft = Draft(values={"low": 0.02}, fields={}, place=lambda name: f"clamp.{name}", problems=problems)
    >>> draft.number("low"), draft.has("high")
    (0.02, False)
    >>> draft.fault("high", "is missing.", 'Write "24".')
    >>> [problem.where for problem in problems], draft.failed
    (['clamp.high'], True)
    """

    values: Mapping[str, object]
    fields: Mapping[str, Field]
    place: Callable[[str], str]
    problems: Problems
    in_cells: bool = False
    bad: set[str] = field(default_factory=set)
    ends: dict[str, End] = field(default_factory=dict)
    assumed: list[str] = field(default_factory=list)

    def has(self, name: str) -> bool:
        """True when a value is written or stands by default."""
        return self.values.get(name) is not None

    @property
    def failed(self) -> bool:
        """True when at least one problem is known, so that nothing may be built."""
        return bool(self.bad)

    def written(self, name: str) -> bool:
        """True when something stands there, even if it cannot be used."""
        return self.has(name) or name in self.bad

    def fault(self, name: str, what: str, cure: str) -> None:
        """Take in one problem with the field of this name."""
        self.bad.add(name)
        self.problems.tell(self.place(name), what, cure)

    def need(self, name: str, reason: str = "") -> bool:
        """True when the field has a value; otherwise takes in that it is missing, with the reason."""
        if self.written(name):
            return self.has(name)
        self.fault(name, f"is missing{reason}.", self.cure(name))
        return False

    def cure(self, name: str) -> str:
        """What to write there, as the definition of the field has it."""
        known = self.fields.get(name)
        return "" if known is None else known.cell_cure if self.in_cells else known.key_cure

    def number(self, name: str) -> float:
        """The value as a float (SI). Raises TypeError when it is not one: ask `has` first."""
        return _as(self.values[name], float, name)

    def whole(self, name: str) -> int:
        """The value as an int. Raises TypeError when it is not a number."""
        return int(self.number(name))

    def number_or(self, name: str, otherwise: float) -> float:
        """The value as a float (SI), or `otherwise` when nothing is written."""
        value = self.values.get(name)
        return otherwise if value is None else _as(value, float, name)

    def text(self, name: str) -> str:
        """The value as text. Raises TypeError when it is not text."""
        return _as(self.values[name], str, name)

    def text_or(self, name: str, otherwise: str) -> str:
        """The value as text, or `otherwise` when nothing usable is written."""
        value = self.values.get(name)
        return otherwise if value is None else _as(value, str, name)

    def flag(self, name: str) -> bool:
        """The value as true or false; nothing written is false."""
        return self.has(name) and _as(self.values[name], bool, name)

    def money(self, name: str) -> int:
        """The value in minor units. Raises TypeError when it is not money."""
        return _as(self.values[name], int, name)

    def several(self, name: str) -> tuple[Any, ...]:
        """The value as a tuple, empty when nothing usable is written. Raises TypeError when it is none."""
        return _as(self.values[name], tuple, name) if self.has(name) else ()

    def pair(self, name: str) -> tuple[float, float]:
        """The value as two numbers. Raises TypeError when it is not."""
        first, second = _as(self.values[name], tuple, name)
        return float(first), float(second)

    def read_ends(self, kind: str, sides: tuple[str, ...]) -> bool:
        """True when the ends of these sides have their bores; what is wrong with any is taken in. A bore that is not written is
        that which the standard of the end usually has, or else, as of a maker's union, that of the narrowest other end, or else
        what the rule of the kind of part makes of its other figures."""
        without = []
        for side in sides:
            bore = f"{side}_bore"
            if self.has(side) and bore not in self.bad:
                face = _as(self.values[side], Face, side)
                found = self.number(bore) if self.has(bore) else face.usual_bore_m
                if found is None:
                    without.append(side)
                else:
                    self._add_end(side, face, found, not self.has(bore) and not face.is_hose)
        if without and not self.bad.intersection((*sides, *(f"{side}_bore" for side in sides))):
            other = min((end.bore_m for end in self.ends.values()), default=None)
            for side in without:
                rule = rule_of(kind, f"{side}_bore")
                found = rule.value(self._known()) if rule is not None and other is None else other
                if found is None:
                    self.fault(f"{side}_bore", NO_BORE, "Measure its inside diameter and write it.")
                else:
                    self._add_end(side, _as(self.values[side], Face, side), found, True)
        return len(self.ends) == len(sides)

    def _add_end(self, side: str, face: Face, bore_m: float, assumed: bool) -> None:
        try:
            self.ends[side] = face.with_bore(bore_m)
        except BadValue as error:
            self.fault(f"{side}_bore", error.what, error.cure)
            return
        if assumed:
            self.assumed.append(f"{side}_bore")

    def _known(self) -> dict[str, object]:
        """What rules go by. A bad field holds something: nothing is built of it, but what hangs on it is not missing."""
        return {**self.values, **self.ends, **dict.fromkeys(self.bad, 1.0)}

    def assume(self, kind: str) -> None:
        """Fill what is not written by the rules of a kind of part, as far as they apply; its ends must have been read."""
        open_ones = [rule for rule in rules_of(kind) if self.values.get(rule.name) is None and rule.name not in self.bad]
        if not open_ones:
            return
        known = self._known()
        for rule in open_ones:
            value = rule.value(known) if not rule.forms or known.get("form") in rule.forms else None
            if value is not None:
                known[rule.name] = value
                self.assumed.append(rule.name)
        self.values = {**self.values, **{name: known[name] for name in self.assumed if name not in BORES}}

    def made(self, makes: Callable[..., T], **own: object) -> T:
        """An object of a dataclass with the attributes ``own`` and those of the fields that have a value: they are called alike,
        but an attribute has its unit behind its name. All others have their defaults.

        >>> from optimizer.model.parts import Clamp
        >>> draft = Draft(values={"low": 0.02, "high": 0.024, "throttles": None}, fields={}, place=str, problems=Problems())
        >>> draft.made(Clamp, id="C", name="clamp")
        Clamp(id='C', name='clamp', low_m=0.02, high_m=0.024, throttles=False)
        """
        found, get = Made(), self.values.get
        for attribute, short, whole in _attributes(makes):
            value = get(attribute)
            value = get(short) if value is None else value
            if value is not None and attribute not in own:
                found[attribute] = int(value) if whole and isinstance(value, float) else value
        return makes(**found, **own)


@cache
def _attributes(makes: Callable[..., object]) -> tuple[tuple[str, str, bool], ...]:
    """Name, name without its unit, and whether it is a whole number, of each attribute of a dataclass."""
    return tuple((each.name, _UNIT.sub("", each.name), each.type in (int, "int")) for each in fields(makes))  # type: ignore[arg-type]


def _as(value: object, kind: type[T], name: str) -> T:
    if not isinstance(value, kind):
        raise TypeError(f"{name} holds {type(value).__name__}, not {kind.__name__}")
    return value
