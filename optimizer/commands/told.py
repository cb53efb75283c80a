"""What a command hands back to be printed and written."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from optimizer.commands.outputs import Output
from optimizer.exits import ANSWER, NO_BUNDLE, STOPPED

__all__ = ["Told", "plain", "status_of", "told_of"]

STATUS = {"proved": ANSWER, "compared": ANSWER, "infeasible": NO_BUNDLE}


class Plan(Protocol):
    """A finished answer."""

    def to_dict(self) -> dict[str, object]:
        """The answer for JSON."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """An answer for JSON, and as text in either system of units: in short and as a whole; ``status`` is the exit status.

    ``outputs`` are written once it is printed.
    """

    text: Callable[[str], str]
    headline: Callable[[str], str]
    body: Callable[[], dict[str, object]]
    status: int = ANSWER
    outputs: tuple[Output, ...] = ()


def status_of(found: str) -> int:
    """The exit status for that of an answer.

    >>> status_of("proved"), status_of("infeasible"), status_of("interrupted")
    (0, 2, 3)
    """
    return STATUS.get(found, STOPPED)


def told_of(
    plan: Plan,
    words: str,
    status: int = ANSWER,
    outputs: tuple[Output, ...] = (),
    *,
    ending: str = "",
    block: object = None,
) -> Told:
    """Return an answer with the module of `report` that puts it, or one ``block`` of it, into words; JSON does without.

    >>> class Seven:
    ...     def to_dict(self):
    ...         return {"value": 7}
    >>> told_of(Seven(), "text").body()
    {'value': 7}
    """

    def worded(name: str, units: str) -> str:
        module: Any = importlib.import_module(f"optimizer.report.{words}")
        text: str = getattr(module, name)(plan if block is None else block, units)
        return text

    return Told(
        text=lambda units: worded("render", units) + ending,
        headline=lambda units: worded("headline", units),
        body=plan.to_dict,
        status=status,
        outputs=outputs,
    )


def plain(text: str, status: int = ANSWER) -> Told:
    """Return a text that is the same in all units, and no answer that JSON could hold.

    >>> plain("fullbore").text("us")
    'fullbore'
    """
    return Told(text=lambda _: text, headline=lambda _: text, body=dict, status=status)
