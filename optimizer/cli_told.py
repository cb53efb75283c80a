"""What a command of its own module hands back to `cli`: an answer for JSON, and as text in either system of units."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, TypeVar

from optimizer.cli_outputs import Output

__all__ = ["Plan", "Told", "say", "told_of"]


class Plan(Protocol):
    """A finished answer."""

    def to_dict(self) -> dict[str, object]:
        """The answer for JSON."""


R = TypeVar("R", bound=Plan)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """An answer for JSON, and as text in either system of units: in short and as a whole; ``status`` is the exit status.

    ``outputs`` are written once it is printed.
    """

    body: dict[str, object]
    headline: Callable[[str], str]
    text: Callable[[str], str]
    status: int = 0
    outputs: tuple[Output, ...] = ()


def told_of(
    plan: R,
    headline: Callable[[R, str], str],
    render: Callable[[R, str], str],
    status: int = 0,
    outputs: tuple[Output, ...] = (),
) -> Told:
    """Return the answer ``plan`` with the two functions that put it into words, each given the system of units.

    >>> class Seven:
    ...     def to_dict(self):
    ...         return {"value": 7}
    >>> told_of(Seven(), lambda plan, units: "seven", lambda plan, units: f"seven in {units}").text("metric")
    'seven in metric'
    """
    return Told(
        body=plan.to_dict(),
        headline=lambda units: headline(plan, units),
        text=lambda units: render(plan, units),
        status=status,
        outputs=outputs,
    )


def say(line: str) -> None:
    """Say a line beside the answer, on standard error; where nobody hears it nothing is lost but the line."""
    with contextlib.suppress(OSError, AttributeError):
        sys.stderr.write(f"{line}\n")
        sys.stderr.flush()
