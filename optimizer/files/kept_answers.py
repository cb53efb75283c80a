"""Answers of an interview that ended before its last question, kept beside the rig file that it was to write."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from optimizer.files.whole_file import write_whole

__all__ = ["KeptAnswers"]

MOST_BYTES = 100_000
MOST_ANSWERS = 100


@dataclass(frozen=True, slots=True)
class KeptAnswers:
    """The answers for the rig at ``place``, one a line as they were typed, so that they can also be given as the input."""

    place: Path

    @property
    def path(self) -> Path:
        """Where they are kept."""
        return self.place.with_name(f"{self.place.name}.answers")

    def keep(self, given: Sequence[str]) -> None:
        """Write them down, in place of those of an earlier run. Raises OSError."""
        if given:
            text = "".join(f"{line}\n" for line in given)
            write_whole([(self.path, text.encode("utf-8", "replace"))])

    def read(self) -> tuple[str, ...]:
        """What is kept; nothing where there is no such file, or one that an interview did not write."""
        try:
            content = self.path.read_bytes()[: MOST_BYTES + 1]
            lines = content.decode("utf-8").split("\n")[:-1]
        except (OSError, ValueError):
            return ()
        return tuple(lines) if len(content) <= MOST_BYTES and len(lines) <= MOST_ANSWERS else ()

    def forget(self) -> None:
        """Take them away once the rig is written."""
        with contextlib.suppress(OSError):
            self.path.unlink(missing_ok=True)
