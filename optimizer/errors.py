"""Problems in what the keeper wrote: collected, then shown all at once with place and cure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from typing import Self

__all__ = [
    "COMMAND_LINE",
    "MOST_LISTED",
    "BadValue",
    "InputError",
    "Problem",
    "Problems",
    "Where",
    "near_names",
    "near_sentence",
    "quoted",
    "safe",
]

COMMAND_LINE = "command line"
"""Stands for the file where an argument is to be put right."""

MOST_LISTED = 50
"""Problems listed of one file; a file in the wrong unit would else drown all others."""

LONGEST_QUOTE = 60
LONGEST_NAME_COMPARED = 80
MOST_NEAR_NAMES = 3
NEAR_ENOUGH = 0.6


def safe(text: str) -> str:
    """Return `text` with every character that does not print as itself written as an escape.

    Covers newlines, terminal escapes, direction overrides, odd spaces and lone surrogates, so that text
    from a file can neither break the list nor repaint the screen.

    >>> safe("16 mm\\n\\x1b[31m")
    '16 mm\\\\n\\\\x1b[31m'
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


def quoted(value: object, longest: int = LONGEST_QUOTE) -> str:
    """Return `value` as text in quotes, escaped, and cut with "..." after `longest` characters.

    Single quotes are used round text that holds an inch mark, so that what is shown is also valid TOML.

    >>> print(quoted("120"), quoted('5/8"'), quoted("abcdef", longest=3))
    "120" '5/8"' "abc..."
    """
    text = value if isinstance(value, str) else str(value)
    cut = text[:longest] + "..." if len(text) > longest else text
    shown = safe(cut)
    if '"' not in shown:
        return f'"{shown}"'
    if "'" not in shown:
        return f"'{shown}'"
    return '"' + shown.replace('"', '\\"') + '"'


def near_names(name: str, known: Iterable[str], most: int = MOST_NEAR_NAMES) -> tuple[str, ...]:
    """Return at most `most` (never over three) of `known` that look like `name`, nearest first, ties by name.

    Upper and lower case count as equal. The names are an offer to the reader; nothing applies them.

    >>> near_names("HOSE-1622", ["HOSE-19-27", "PUMP-900", "HOSE-16-22"])
    ('HOSE-16-22', 'HOSE-19-27')
    """
    matcher = SequenceMatcher(autojunk=False)
    matcher.set_seq2(name[:LONGEST_NAME_COMPARED].casefold())
    scored: list[tuple[float, str]] = []
    for candidate in sorted(set(known)):
        matcher.set_seq1(candidate[:LONGEST_NAME_COMPARED].casefold())
        # the two quick ratios are upper bounds of ratio(): they only spare its cost
        if matcher.real_quick_ratio() < NEAR_ENOUGH or matcher.quick_ratio() < NEAR_ENOUGH:
            continue
        ratio = matcher.ratio()
        if ratio >= NEAR_ENOUGH:
            scored.append((-ratio, candidate))
    return tuple(candidate for _, candidate in sorted(scored)[: max(0, min(most, MOST_NEAR_NAMES))])


def near_sentence(name: str, known: Iterable[str], label: str = "Near names") -> str:
    """Return the sentence that offers near names, or "" when none of `known` is near.

    >>> near_sentence("HOSE-1622", ["HOSE-16-22", "PUMP-900"])
    'Near names: "HOSE-16-22".'
    >>> near_sentence("xyz", ["HOSE-16-22"])
    ''
    """
    names = near_names(name, known)
    return f"{label}: {', '.join(quoted(near) for near in names)}." if names else ""


class Where(str):
    """A place in a file, as text that knows both: "file: field", or "file line N, column".

    >>> Where("hall.toml", "tank.volume"), Where.line("hoses.csv", 7, "bore_mm")
    ('hall.toml: tank.volume', 'hoses.csv line 7, bore_mm')
    """

    __slots__ = ("between", "file", "place")
    file: str
    place: str
    between: str

    def __new__(cls, file: str, place: str, between: str = ": ") -> Self:
        """A place in a file."""
        made = super().__new__(cls, f"{file}{between}{place}")
        made.file, made.place, made.between = file, place, between
        return made

    @classmethod
    def line(cls, file: str, line: int, column: str = "") -> Self:
        """A line of a table, or a cell in it."""
        return cls(file, f"line {line}, {column}" if column else f"line {line}", " ")

    def __getnewargs__(self) -> tuple[str, str, str]:  # type: ignore[override]
        """What a copy is made of."""
        return (self.file, self.place, self.between)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing to put right: where it stands, what is wrong, what to write instead.

    `where` is a `Where`, or a place without a file, which belongs to the source read.

    >>> problem = Problem(where=Where.line("hoses.csv", 7, "bore_mm"), what='"x" is no number', cure='Write "16".')
    >>> problem.file, problem.place
    ('hoses.csv', 'line 7, bore_mm')
    """

    where: str
    what: str
    cure: str

    @property
    def file(self) -> str:
        """Return the file part of `where`, or "" when it names none."""
        return self.where.file if isinstance(self.where, Where) else ""

    @property
    def place(self) -> str:
        """Return `where` without its file."""
        return self.where.place if isinstance(self.where, Where) else self.where

    def in_file(self, file: str) -> Problem:
        """Return the same with the file that it stands in, where it names none itself."""
        return self if self.file else replace(self, where=Where(file, self.where))


class BadValue(ValueError):
    """One value that cannot be used, with `what` is wrong and the `cure`; only the caller knows its place.

    >>> str(BadValue('"120" has no unit.', 'Write for example "120 l".'))
    '"120" has no unit. Write for example "120 l".'
    """

    def __init__(self, what: str, cure: str) -> None:
        super().__init__(what, cure)
        self.what = what
        self.cure = cure

    def __str__(self) -> str:
        return _sentences(self.what, self.cure)

    def at(self, where: str) -> Problem:
        """Return this as a `Problem` at the place `where`.

        >>> BadValue("is empty", "Write 1.").at(Where("a.toml", "tank.volume")).place
        'tank.volume'
        """
        return Problem(where=where, what=self.what, cure=self.cure)


class InputError(Exception):
    """Bad input: all `problems` found in `source`, printed as one list grouped by file.

    >>> problem = BadValue('"120" has no unit.', 'Write "120 l".').at("tank.volume")
    >>> print(InputError("hall_tank.toml", [problem]))
    hall_tank.toml: 1 problem, nothing was solved.
      tank.volume: "120" has no unit. Write "120 l".
    """

    def __init__(self, source: str, problems: Iterable[Problem]) -> None:
        self.source = source
        self.problems: tuple[Problem, ...] = tuple(problems)
        # the arguments are kept as given so that the error survives the trip back from a worker process
        super().__init__(self.source, self.problems)

    @property
    def placed(self) -> Iterator[Problem]:
        """The problems, each with the file it stands in, so that those of several files make one list.

        >>> [each.where for each in InputError("a.toml", [BadValue("is empty", "Write 1.").at("tank.volume")]).placed]
        ['a.toml: tank.volume']
        """
        return (problem.in_file(self.source) for problem in self.problems)

    def __str__(self) -> str:
        groups = _by_file(self.source, self.problems)
        if len(groups) == 1:
            ((file, problems),) = groups.items()
            head = f"{safe(file)}: {_counted(len(problems), 'problem')}, nothing was solved."
            return "\n".join([head, *map(_line, problems)])
        lines = [f"{_counted(len(self.problems), 'problem')} in {len(groups)} files, nothing was solved."]
        for file, problems in groups.items():
            lines += [f"{safe(file)}: {_counted(len(problems), 'problem')}.", *map(_line, problems)]
        return "\n".join(lines)


class Problems:
    """Collects problems while input is read, in the order found; the same problem said twice is kept once.

    >>> problems = Problems()
    >>> problems.add(Problem(where="tank.volume", what="is empty", cure='Write for example "120 l".'))
    >>> len(problems)
    1
    """

    def __init__(self) -> None:
        # a dict keeps the order and drops repeats
        self._found: dict[Problem, None] = {}

    def add(self, problem: Problem) -> None:
        """Take in one problem.

        >>> Problems().add(Problem(where="tank", what="is missing", cure="Add [tank]."))
        """
        self._found.setdefault(problem)

    def tell(self, where: str, what: str, cure: str) -> None:
        """Take in what is wrong at a place, with the cure."""
        self.add(Problem(where=where, what=what, cure=cure))

    def extend(self, problems: Iterable[Problem]) -> None:
        """Take in several problems, or those of another collector.

        >>> problems = Problems()
        >>> problems.extend([Problem(where="tank", what="is missing", cure="Add [tank].")] * 2)
        >>> len(problems)
        1
        """
        for problem in problems:
            self.add(problem)

    @property
    def few(self) -> bool:
        """True as long as the next problem will be listed, so that near names are worth looking for: that takes time."""
        return len(self._found) < MOST_LISTED

    def raise_if_any(self, source: str) -> None:
        """Raise `InputError` with everything collected, if anything was; `source` is the file or folder read.

        Of one file the first `MOST_LISTED` stand for the rest, which are counted.

        >>> Problems().raise_if_any("hall_tank.toml")
        """
        if self._found:
            raise InputError(source, self._listed())

    def _listed(self) -> Iterator[Problem]:
        counts: Counter[str] = Counter()
        for problem in self._found:
            counts[problem.file] += 1
            if counts[problem.file] <= MOST_LISTED:
                yield problem
        for file, count in counts.items():
            if count > MOST_LISTED:
                where = Where(file, "file") if file else "file"
                what = (
                    f"{_counted(count - MOST_LISTED, 'more problem')} {'is' if count == MOST_LISTED + 1 else 'are'} not listed."
                )
                yield Problem(where=where, what=what, cure="Put the ones above right first.")

    def __iter__(self) -> Iterator[Problem]:
        return iter(self._found)

    def __len__(self) -> int:
        return len(self._found)


def _by_file(source: str, problems: Iterable[Problem]) -> dict[str, list[Problem]]:
    groups: dict[str, list[Problem]] = {}
    for problem in problems:
        groups.setdefault(problem.file or source, []).append(problem)
    return groups or {source: []}


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _line(problem: Problem) -> str:
    return f"  {safe(problem.place)}: {safe(_sentences(problem.what, problem.cure))}"


def _sentences(*parts: str) -> str:
    """Join the parts that say anything, each ended by a full stop."""
    said = [part.strip() for part in parts if part.strip()]
    return " ".join(part if part[-1] in ".!?" else part + "." for part in said)
