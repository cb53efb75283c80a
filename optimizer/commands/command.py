"""What a command is made of, and what it hands back to be printed and written."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

from optimizer.commands.options import PRINTED, Option, options_of
from optimizer.commands.outputs import Output
from optimizer.commands.reader import Reader
from optimizer.commands.streams import Progress
from optimizer.exits import ANSWER, NO_BUNDLE, STOPPED

if TYPE_CHECKING:
    from optimizer.report.layout import Screen

__all__ = ["Command", "Progress", "Reader", "Told", "plain", "status_of", "told_of"]

A = TypeVar("A")

STATUS = {"proved": ANSWER, "compared": ANSWER, "infeasible": NO_BUNDLE}


class Plan(Protocol):
    """A finished answer."""

    def to_dict(self) -> dict[str, object]:
        """The answer for JSON."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """An answer for JSON, and as text in either system of units: in short, and as a whole for a screen; ``status`` is the exit
    status.

    ``outputs`` are written once it is printed.
    """

    text: Callable[[str, Screen], str]
    headline: Callable[[str], str]
    body: Callable[[], dict[str, object]]
    status: int = ANSWER
    outputs: tuple[Output, ...] = ()


@dataclass(frozen=True, slots=True)
class Command(Generic[A]):
    """One command: its ``text`` (what it does, then examples), and the class of what it is asked, whose fields are its options.

    ``answer`` takes what is asked, and whom to tell how far the search is; ``check`` notes before what no option can say by
    itself. Problems are listed in the order of the fields, those of ``first`` before all others; the help text has the same
    order, or begins with those ``shown``. ``also`` are options that say how the answer is printed, ``not_beside`` names options
    with those that cannot stand beside them, ``writes`` words with which it changes files while it answers.
    """

    text: str
    asked: type[A]
    answer: Callable[[A, Progress | None], Told]
    check: Callable[[A, Reader], None] = lambda *_: None
    first: str = ""
    shown: str = ""
    also: tuple[Option, ...] = PRINTED
    not_beside: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    writes: tuple[str, ...] = ()

    @property
    def does(self) -> str:
        """What it does."""
        return self.text.partition("\n\n")[0]

    @property
    def examples(self) -> tuple[str, ...]:
        """Whole lines that can be typed."""
        return tuple(self.text.partition("\n\n")[2].strip().splitlines())

    @property
    def options(self) -> tuple[Option, ...]:
        """All options and arguments in the order of the help text."""
        found = {option.name: option for option in (*options_of(self.asked), *self.also)}
        return tuple({name: found[name] for name in (*self.shown.split(), *found)}.values())

    def read(self, reader: Reader) -> A:
        """What is asked. Raises InputError with everything that is wrong with the arguments."""
        asked = reader.read(self.asked, self.first.split())
        self.check(asked, reader)
        for name, others in self.not_beside.items():
            if reader.given(name):
                reader.apart(name, others)
        reader.checked()
        return asked


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
    **part: object,
) -> Told:
    """Return an answer with the module of `report` that puts it, or one ``block`` of it, into words; JSON does without. ``part``
    says how much of it is told, as that module's `render` takes it.

    >>> class Seven:
    ...     def to_dict(self):
    ...         return {"value": 7}
    >>> told_of(Seven(), "text").body()
    {'value': 7}
    """

    def worded(name: str, units: str, *screen: Screen, **part: object) -> str:
        module: Any = importlib.import_module(f"optimizer.report.{words}")
        from optimizer.report.spoken import spoken  # JSON does without

        text: str = getattr(module, name)(spoken(plan if block is None else block), units, *screen, **part)
        return text

    return Told(
        text=lambda units, screen: worded("render", units, screen, **part) + ending,
        headline=lambda units: worded("headline", units),
        body=plan.to_dict,
        status=status,
        outputs=outputs,
    )


def plain(text: str, status: int = ANSWER) -> Told:
    """Return a text that is the same in all units and on all screens, and no answer that JSON could hold.

    >>> plain("fullbore").headline("us")
    'fullbore'
    """
    return Told(text=lambda *_: text, headline=lambda _: text, body=dict, status=status)
