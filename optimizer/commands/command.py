"""What a command is made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Generic, TypeVar

from optimizer.commands.options import Option
from optimizer.commands.reader import Reader
from optimizer.commands.streams import Progress
from optimizer.commands.told import Told

__all__ = ["Command"]

A = TypeVar("A")


@dataclass(frozen=True, slots=True, kw_only=True)
class Command(Generic[A]):
    """One command: what it does, its options (only one of those in an inner tuple), and examples.

    ``read`` makes one frozen object of the arguments and notes all that is wrong with them; ``answer`` takes that object, and
    whom to tell how far the search is. ``not_beside`` names options with those that cannot stand beside them.
    """

    does: str
    options: tuple[Option | tuple[Option, ...], ...]
    examples: tuple[str, ...]
    read: Callable[[Reader], A]
    answer: Callable[[A, Progress | None], Told]
    not_beside: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
