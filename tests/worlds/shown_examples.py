"""Examples in README.md and in the pages of the guide: found, run as a keeper would type them, and written anew.

    python tests/worlds/shown_examples.py             run every example again and write down what is printed now
    python tests/worlds/shown_examples.py front drill those that have one of these words in a command

A line of three dots in an example stands for lines that are left out. When examples are written anew the lines on either side
of it are looked for in what is printed now; where they cannot be found, the example is left as it is and named. The picture of
the README is drawn again too.
"""

from __future__ import annotations

import contextlib
import doctest
import io
import os
import re
import shlex
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).resolve().parents[2]
PAGES = ROOT / "optimizer" / "guide" / "pages"
PICTURE = ROOT / "docs" / "loop.svg"
DRAWN = (
    "fullbore best parts_demo/rigs/community_180.toml --budget 50 --json > answer.json",
    "fullbore plot answer.json --figures loop --out .",
)
"""Commands that draw the picture of the README."""

FENCED = re.compile(r"^```(\w*)\n(.*?)^```$", flags=re.DOTALL | re.MULTILINE)
LEFT_OUT = "...\n"
NEAR_ENOUGH = 0.6
WIDTH = "80"


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One fenced block of a file: its language, its text, and where the text begins."""

    path: Path
    language: str
    text: str
    start: int

    @property
    def steps(self) -> tuple[tuple[str, str], ...]:
        """Every command of a console block with what is shown of its output."""
        parts = re.split(r"^\$ ((?:.*\\\n)*.*)\n", self.text, flags=re.MULTILINE)[1:]
        return tuple(zip(parts[::2], parts[1::2], strict=True))

    @property
    def asked(self) -> tuple[str, ...]:
        """All that its output hangs on: the words of its commands, and what is typed."""
        return (*(word for command, _ in self.steps for word in ("$", *_words(command))), *_typed(self))

    @property
    def name(self) -> str:
        """The file and the commands."""
        return f"{self.path.stem}: {'; '.join(command for command, _ in self.steps)}"


def files() -> tuple[Path, ...]:
    """Everything that holds examples."""
    return (ROOT / "README.md", *sorted(PAGES.glob("*.md")))


def blocks(*languages: str) -> tuple[Block, ...]:
    """All blocks of some languages, file by file."""
    return tuple(
        Block(path=path, language=found[1], text=found[2], start=found.start(2))
        for path in files()
        for found in FENCED.finditer(path.read_text(encoding="utf-8"))
        if found[1] in languages
    )


_known: dict[tuple[str, ...], tuple[str, ...]] = {}
"""What was printed for commands that were run already."""


def run(block: Block) -> tuple[str, ...]:
    """What the commands of a block print one after the other in a folder of their own, beside the demo files; once a process."""
    asked = block.asked
    if asked not in _known:
        with tempfile.TemporaryDirectory() as folder:
            _known[asked] = _run(block, Path(folder))
    return _known[asked]


def alike(language: str) -> tuple[tuple[Block, ...], ...]:
    """Blocks of a language, those that ask the same together, so that it need be run only once."""
    found: dict[tuple[str, ...], list[Block]] = {}
    for block in blocks(language):
        found.setdefault(block.asked, []).append(block)
    return tuple(map(tuple, found.values()))


def _words(command: str) -> list[str]:
    """The words of a command, which may go on behind a backslash at the end of a line."""
    return shlex.split(command.replace("\\\n", ""))


def _typed(block: Block) -> list[str]:
    """What is answered to the questions that a block shows."""
    return re.findall(r"^   \[.*\] > (.*)$", block.text, flags=re.MULTILINE)


def _run(block: Block, folder: Path) -> tuple[str, ...]:
    with _beside_the_demo(folder):
        return tuple(_printed(command, _typed(block)) for command, _ in block.steps)


@contextlib.contextmanager
def _beside_the_demo(folder: Path) -> Iterator[None]:
    (folder / "parts_demo").symlink_to(ROOT / "parts_demo")
    with contextlib.chdir(folder), mock.patch.dict(os.environ, {"COLUMNS": WIDTH}):
        yield


def drawn() -> str:
    """The picture of the README as it is drawn today."""
    with tempfile.TemporaryDirectory() as name, _beside_the_demo(Path(name)):
        for command in DRAWN:
            _printed(command, [])
        return Path("loop.svg").read_text(encoding="utf-8")


def _printed(command: str, typed: Sequence[str]) -> str:
    from optimizer.cli import main

    words = _words(command)
    assert words[0] == "fullbore", command
    place = Path(words[words.index(">") + 1]) if ">" in words else None
    words = words[1 : words.index(">")] if ">" in words else words[1:]
    told, remarks = io.StringIO(), io.StringIO()
    answers = io.StringIO("\n".join(typed) + "\n" * 99)
    with contextlib.ExitStack() as around:
        around.enter_context(contextlib.redirect_stdout(told))
        around.enter_context(contextlib.redirect_stderr(remarks))
        around.enter_context(mock.patch.object(sys, "stdin", answers))
        around.enter_context(contextlib.suppress(SystemExit))  # a help text, or arguments that cannot be read
        main(words)
    if place is None:
        return told.getvalue() + remarks.getvalue()
    place.write_text(told.getvalue(), encoding="utf-8")
    return remarks.getvalue()


def agrees(shown: str, printed: str) -> bool:
    """Whether what is shown is what is printed, but for what its dots leave out."""
    return doctest.OutputChecker().check_output(shown, printed, doctest.ELLIPSIS)


def renewed(shown: str, printed: str) -> str | None:
    """What is shown as it is printed now, with the same lines left out; None where they cannot be told."""
    if agrees(shown, printed):
        return shown
    if not shown.strip():
        return printed
    now = printed.splitlines(keepends=True)
    runs = _runs(shown.splitlines(keepends=True))
    made, at = [], 0
    for number, lines in enumerate(runs):
        if not lines:
            continue
        first = at if number == 0 else _nearest(lines[0], now, range(at, len(now)), at)
        last = None if first is None else len(now) - 1 if number == len(runs) - 1 else _last(lines, now, first)
        if first is None or last is None:
            return None
        made.append(LEFT_OUT * (number > 0) + "".join(_kept(lines, now[first : last + 1])))
        at = last + 1
    return "".join(made) + (LEFT_OUT if not runs[-1] else "")


def _runs(lines: Sequence[str]) -> list[list[str]]:
    """The lines between those of three dots."""
    runs: list[list[str]] = [[]]
    for line in lines:
        if line == LEFT_OUT:
            runs.append([])
        else:
            runs[-1].append(line)
    return runs


def _nearest(line: str, now: Sequence[str], places: range, wanted: int) -> int | None:
    """Which line of some places is most like one that was shown; of those equally like it the one nearest where it is wanted."""
    likeness = {n: SequenceMatcher(None, line.strip(), now[n].strip(), autojunk=False).ratio() for n in places}
    best = min(places, key=lambda n: (-likeness[n], abs(n - wanted)), default=None)
    return None if best is None or likeness[best] < NEAR_ENOUGH else best


def _last(lines: Sequence[str], now: Sequence[str], first: int) -> int | None:
    """Where a run of lines ends that begins at a place.

    A run with an empty line at its end is whole paragraphs: it ends where the one ends now that begins as its last one did. Any
    other ends at what is most like its last line, with the rest of an entry of a list.
    """
    said = [n for n, line in enumerate(lines) if line.strip()]
    if not said:
        return first
    whole = said[-1] < len(lines) - 1
    begins = max((n for n in said if n == 0 or not lines[n - 1].strip()), default=0) if whole else said[-1]
    places = range(first, min(len(now), first + 2 * len(lines) + 2))
    end = first if begins == 0 else _nearest(lines[begins], now, places, first + begins)
    while end is not None and end + 1 < len(now) and (now[end].strip() if whole else _goes_on(now, end)):
        end += 1
    return end


def _goes_on(now: Sequence[str], end: int) -> bool:
    """Whether the line behind one still belongs to the same entry of a list."""
    entry = next((line for line in reversed(now[: end + 1]) if not line.strip() or line.lstrip().startswith("- ")), "")
    return bool(entry.strip() and now[end + 1].strip()) and _indent(now[end + 1]) > _indent(entry)


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _kept(lines: Sequence[str], now: Sequence[str]) -> Iterator[str]:
    """Lines as they are now, those with dots inside as they were shown where they still agree."""
    dotted = [line for line in lines if "..." in line]
    for line in now:
        yield next((old for old in dotted if agrees(old, line)), line)


def rewrite(words: Sequence[str]) -> list[str]:
    """Write every example anew that has one of the words in a command; return those that could not be."""
    lost = []
    for path in files():
        text = path.read_text(encoding="utf-8")
        for block in reversed([each for each in blocks("console") if each.path == path]):
            if words and not any(word in command for command, _ in block.steps for word in words):
                continue
            made = []
            for (command, shown), now in zip(block.steps, run(block), strict=True):
                new = renewed(shown, now)
                if new is None or not agrees(new, now):
                    lost.append(f"{path.name}: {command}")
                made.append(f"$ {command}\n{shown if new is None else new}")
            text = text[: block.start] + "".join(made) + text[block.start + len(block.text) :]
        path.write_text(text, encoding="utf-8")
    return lost


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    PICTURE.write_text(drawn(), encoding="utf-8")
    for example in rewrite(sys.argv[1:]):
        print(f"to be written by hand: {example}")
