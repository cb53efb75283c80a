"""How many random worlds are tried: as many as a run of all tests has time for, or all of them with ``FULLBORE_ALL_WORLDS=1``."""

import os
from collections.abc import Sequence
from typing import TypeVar

T = TypeVar("T")


def some_of(worlds: Sequence[T], every: int) -> Sequence[T]:
    """The first of them, and then always the one that comes ``every`` later; all of them where the environment asks for it."""
    return worlds if os.environ.get("FULLBORE_ALL_WORLDS") else worlds[::every]
