"""The questions of `fullbore new`, as data: words, help, what is taken when nobody knows, and how an answer is read."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field
from functools import partial

from optimizer.errors import BadValue, quoted
from optimizer.files.decimals import check_answer, with_points

__all__ = ["LEFT_OUT", "NO_UNIT", "Question", "Said", "Slot", "answered"]

UNKNOWN = frozenset({"", "unknown", "don't know", "do not know", "not sure", "no idea", "skip"})
"""Words that take the default, as the bare Enter key does."""

LONGEST_ANSWER = 400

NO_UNIT = "no unit was said"
"""Why a number stands with a unit that nobody said."""

_BETWEEN = re.compile(r";|(?<![0-9]),|,(?![0-9])")
"""Where one part of an answer ends and the next begins; a comma between two digits is a decimal comma."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One fact of the rig: its text as a rig file has it, its value, and why it was assumed (empty: somebody said it).

    An empty text leaves the key out of the file; the reader of rig files then says what it takes.
    """

    text: str
    value: object = None
    assumed: str = ""

    @property
    def number(self) -> float:
        """The value as a number. Raises TypeError when it is none."""
        if not isinstance(self.value, int | float):
            raise TypeError(f"{self.text!r} holds no number")
        return float(self.value)


LEFT_OUT = Said(text="")
Facts = Mapping[str, Said]


@dataclass(frozen=True, slots=True)
class Slot:
    """One part of an answer. ``reads`` returns its value or raises `BadValue`; ``otherwise`` is the text that is taken when it is
    not said, or makes it from what is known already (empty: left to the reader of rig files), and ``why`` the reason for it.
    ``natural`` makes of what it cannot read what was meant where only one thing can be (a unit that was left out, money with the
    name of the currency), empty where that is not clear."""

    key: str
    example: str
    reads: Callable[[str], object]
    otherwise: str | Callable[[Facts], str] = ""
    why: str = ""
    natural: Callable[[str], str] = field(default=lambda _: "")

    def usual(self, known: Facts) -> str:
        """The text that is taken when nothing is said."""
        return self.otherwise if isinstance(self.otherwise, str) else self.otherwise(known)

    def default(self, known: Facts) -> Said:
        """What is taken when nothing is said."""
        text = self.usual(known)
        return Said(text=text, value=self.reads(text), assumed=self.why) if text else LEFT_OUT


@dataclass(frozen=True, slots=True)
class Question:
    """One question: what is asked, one line of help, the parts of its answer, and a check of them together.

    ``left`` says in words what is taken where a slot leaves that to the reader of rig files; ``whole`` answers are not split
    at commas.
    """

    words: str
    help: str
    slots: tuple[Slot, ...]
    _: KW_ONLY
    left: str = ""
    whole: bool = False
    check: Callable[[Facts], None] = field(default=lambda _: None)

    @property
    def example(self) -> str:
        """An answer."""
        return ", ".join(slot.example for slot in self.slots)

    def offered(self, known: Facts) -> str:
        """What Enter takes, in words."""
        return ", ".join(filter(None, (*(slot.usual(known) for slot in self.slots), self.left)))


def answered(question: Question, text: str, known: Facts) -> dict[str, Said]:
    """Return the facts of an answer, those not said by their defaults. Raises `BadValue` with what is wrong and the cure.

    The parts of an answer may come in any order: each goes to the first open slot that can read it.

    >>> size = Slot(key="size", example="240 l", reads=str.upper, otherwise="180 l", why="a usual size")
    >>> ask = Question(words="How large?", help="By its label.", slots=(size,))
    >>> answered(ask, "240 l", {})
    {'size': Said(text='240 l', value='240 L', assumed='')}
    >>> answered(ask, "", {})["size"].assumed
    'a usual size'
    """
    if len(text) > LONGEST_ANSWER:
        raise BadValue(
            f"the answer is longer than {LONGEST_ANSWER} characters.", f"Write for example {quoted(question.example)}."
        )
    said: dict[str, Said] = {}
    for slot, piece, meant in _placed(question, text):
        if piece.casefold() not in UNKNOWN:
            guessed = NO_UNIT if meant != piece and meant.startswith(piece) else ""
            said[slot.key] = Said(text=meant, value=slot.reads(meant), assumed=guessed)
            if not question.whole:
                check_answer(piece, partial(_can_be, slot))
    found: dict[str, Said] = {}
    for slot in question.slots:
        found[slot.key] = said[slot.key] if slot.key in said else slot.default({**known, **said, **found})
    question.check({**known, **found})
    return found


def _placed(question: Question, text: str) -> Iterator[tuple[Slot, str, str]]:
    """Yield slots with the pieces of an answer that are for them, as they were said and as they are meant; what no slot can read
    goes to the first that is open, which says why."""
    # the numbers of the file that it goes into are written in one way
    pieces = (
        [" ".join(text.split())] if question.whole else [with_points(" ".join(each.split())) for each in _BETWEEN.split(text)]
    )
    if len(pieces) > len(question.slots):
        what = f"{quoted(text.strip())} has {len(pieces)} parts, and {len(question.slots)} are asked for."
        raise BadValue(what, f"Write for example {quoted(question.example)}.")
    free = list(question.slots)
    for piece in pieces:
        slot, meant = (free[0], piece) if piece.casefold() in UNKNOWN else _meant(free, piece)
        free.remove(slot)
        yield slot, piece, meant


def _meant(free: Sequence[Slot], piece: str) -> tuple[Slot, str]:
    """The slot that a piece is for, and the piece as that can read it. Raises BadValue where it may be more than one thing."""
    direct = next(_readers(free, piece), None)
    if direct is not None:
        return direct, piece
    found = [(slot, text) for slot in free if (text := slot.natural(piece)) and _can_be(slot, text)]
    texts = list(dict.fromkeys(text for _, text in found))
    if len(texts) > 1:
        raise BadValue(f"{quoted(piece)} may be {' or '.join(texts)}.", "Write it with its unit.")
    return found[0] if found else (free[0], piece)


def _readers(slots: Iterable[Slot], piece: str) -> Iterator[Slot]:
    return (slot for slot in slots if _can_be(slot, piece))


def _can_be(slot: Slot, piece: str) -> bool:
    """True when the slot can read the piece."""
    try:
        slot.reads(piece)
    except BadValue:
        return False
    return True
