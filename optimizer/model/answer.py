"""What all answers have in common: a form with its version, a status, and how they become plain values for JSON.

SI units stand in the names of the fields, prices are in minor units; infinite numbers (days that are not reached) are null.
"""

import math
from dataclasses import dataclass, is_dataclass, replace
from typing import ClassVar, Literal

from optimizer.model.said_lines import SaidLine, said_lines, told_fields

VERSION = 6
"""Of the JSON form of every answer; it rises when a field of any of them changes its meaning or goes away."""


def schema_of(form: str) -> str:
    """Name and version of a JSON form.

    >>> schema_of("result")
    'fullbore-result/6'
    """
    return f"fullbore-{form}/{VERSION}"


def plain(value: object) -> object:
    """Dataclasses, tuples and numbers as JSON has them; answers inside others keep their schema and status.

    >>> plain((1.5, math.inf))
    [1.5, None]
    """
    if is_dataclass(value) and not isinstance(value, type):
        head = {"schema": value.schema(), "status": value.status} if isinstance(value, Answer) else {}
        return head | {f.name: plain(getattr(value, f.name)) for f in told_fields(value)}
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    if isinstance(value, dict):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """An answer of a ``form``. ``cautions`` are what to mind, ``notes`` what was assumed; ``said`` is filled for JSON only, which
    has no other place for the quantities in texts."""

    form: ClassVar[str]
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    said: tuple[SaidLine, ...] = ()

    @classmethod
    def schema(cls) -> str:
        """Name and version of the JSON form."""
        return schema_of(cls.form)

    @property
    def status(self) -> str:
        """How sure the answer is, or that there is none."""
        raise NotImplementedError

    def to_dict(self) -> dict[str, object]:
        """The answer for JSON, with schema and status, and with the quantities in its texts."""
        body = plain(replace(self, said=said_lines(self)))
        if not isinstance(body, dict):
            raise TypeError("an answer is not a mapping")
        return body


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question to a catalog: the most flow, or with a ``target_m3s`` the least price for that flow, for at most ``budget`` in
    minor units (None: no bound); ``advised``: not the most, but the step that is advised; of an interval of ``days`` between
    cleanings (0: of the clean day) ``by`` its last day or its mean, with at least ``clean_m3s`` on its first (0: any)."""

    budget: int | None = None
    target_m3s: float = 0.0
    advised: bool = False
    days: float = 0.0
    by: Literal["", "last", "mean"] = ""
    clean_m3s: float = 0.0
