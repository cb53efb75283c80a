"""A file of results that long work is resumed from: one JSON line per solved question, only ever appended to.

    {"sum": "<16 hex digits>", "entry": {"key": "<fingerprint of the question>", "result": {...}}}

The key is a fingerprint of all that the result hangs on, so results of other shops, catalogs, tanks or programs may stand in the
same file and are passed over. Torn and changed lines are passed over as well, and counted: their questions are solved again.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from optimizer.errors import InputError, Problem, safe
from optimizer.line_file import append_line, entry_of, line_of, may_be_lines

__all__ = ["ResultsFile", "passed_over"]

CURE = "Name another file, or one that is not there yet."


class ResultsFile:
    """Results by key, read once and added to; ``damaged`` counts the lines that are torn or changed. Raises InputError for a file
    that is none of results or cannot be used.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "shop.results")
    ...     ResultsFile(path).put("a", {"flow_m3s": 1.5})
    ...     ResultsFile(path).get("a")
    {'flow_m3s': 1.5}
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self.damaged = 0
        self._known: dict[str, Mapping[str, object]] = {}
        try:
            sound = may_be_lines(self.path)
            raw = self.path.read_bytes() if self.path.exists() else b""
            if raw:
                self.path.open("ab").close()  # what cannot be added to is said before anything is solved
        except (OSError, ValueError) as error:
            reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
            raise _unusable(self.path, f"it cannot be read and added to: {safe(reason)}") from error
        for line in raw.split(b"\n"):
            if not line:
                continue
            entry = entry_of(line)
            if not isinstance(entry, dict):
                self.damaged += 1
                continue
            key, result = entry.get("key"), entry.get("result")
            if isinstance(key, str) and isinstance(result, dict):
                self._known[key] = result
            else:
                sound = False
        if not sound:
            raise _unusable(self.path, "it holds something else than results")

    def get(self, key: str) -> Mapping[str, object] | None:
        """The result of a key; None when it is not known."""
        return self._known.get(key)

    def put(self, key: str, result: Mapping[str, object]) -> None:
        """Keep a result: it is on the disk when this returns. Raises InputError when it cannot be written."""
        try:
            append_line(self.path, line_of({"key": key, "result": dict(result)}))
        except OSError as error:
            raise _unusable(self.path, f"it cannot be written: {error.strerror or error}") from error
        self._known[key] = result

    def __len__(self) -> int:
        return len(self._known)


def passed_over(path: str | Path, lines: int) -> str:
    """That lines of a results file are of no use, in words.

    >>> passed_over("shop.results", 3)
    'shop.results: 3 of its lines are torn, changed or no answers; they were passed over, and what they held is solved again.'
    """
    one = lines == 1
    what = (
        "1 of its lines is torn, changed or no answer; it was"
        if one
        else (f"{lines} of its lines are torn, changed or no answers; they were")
    )
    return f"{safe(Path(path).name)}: {what} passed over, and what {'it' if one else 'they'} held is solved again."


def _unusable(path: Path, why: str) -> InputError:
    return InputError("--results", [Problem(where=safe(str(path)), what=f"{why}.", cure=CURE)])
