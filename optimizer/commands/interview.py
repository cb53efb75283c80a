"""Asks a keeper about the tank and its loop, and writes a rig file that is valid."""

from __future__ import annotations

import contextlib
import shlex
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from optimizer import api
from optimizer.commands.options import DEMO_CATALOG
from optimizer.commands.reader import catalog_at_hand, refused
from optimizer.commands.streams import Terminal, reason, screen
from optimizer.errors import BadValue, InputError, safe
from optimizer.exits import ANSWER, STOPPED
from optimizer.files.cell_text import checked_text
from optimizer.files.interview import NO_UNIT, Question, Said, answered
from optimizer.files.interview_questions import questions
from optimizer.files.kept_answers import KeptAnswers
from optimizer.files.rig_from_answers import Grime, grime_after, sections_of
from optimizer.files.rig_writer import ASSUMED, Section, assumptions, rig_text
from optimizer.files.whole_file import beside, put_in_place
from optimizer.halting import held
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig

HELP, BACK = "?", "back"
DEFAULT_NAME = "tank"

OPENING = (
    "Enter takes what stands in [brackets], ? explains a question, back goes back to the one before, Ctrl-C ends and keeps the "
    "answers. Write quantities with their unit, as they are said: 240 l, 60 gal, 5/8 in, 78 degF."
)
CAUTION = (
    "Unplug everything in and on the tank before you reach in to measure, and use a circuit with an RCD (GFCI); local codes "
    "and licensed electricians decide."
)
HEAD = (
    "Written by fullbore new from the answers of the keeper. Lines marked as assumed were not said by anybody: put them right "
    "as you find out. Lines behind # say what else could stand here.",
    CAUTION,
)


class Ended(Exception):
    """The input ended before the questions did; its text says where."""


@dataclass(slots=True)
class Given:
    """The answers of this run, and those ``before`` it that were kept; ``wrong``: which of these cannot be used (None: none)."""

    lines: list[str] = field(default_factory=list)
    before: tuple[str, ...] = ()
    wrong: int | None = None

    @property
    def to_keep(self) -> list[str]:
        """What is kept when the keeper stops: answers behind one that cannot be used are not lost before it is put right."""
        return self.lines if self.wrong is None else [*self.lines, *self.before[len(self.lines) :]]


def interviewed(file: str, place: Path, catalog: str | None, force: bool, talk: Terminal) -> int:
    """Ask, write the file, say what was assumed, and return the exit status. Raises `InputError` when it cannot be written.

    ``file`` is how the keeper names it, ``place`` where that is; with ``force`` one that is there is replaced. No rig is written
    when the keeper stops, but what was answered is kept: Ctrl-C and the end of the input give status 3.
    """
    kept = KeptAnswers(place)
    given = Given()
    try:
        replaces = force or (place.exists() and _may_replace(file, talk))
        parts = catalog_at_hand(catalog)
        given.before = _taken_up(kept, talk)
        facts = _asked(questions(parts, stem_of(Path(file))), talk, given)
        with held():  # once the last question is answered nobody is told that nothing was written
            rig, sections = written(place, facts, parts, replaces)
            kept.forget()
            talk.say(_closing(file, catalog, rig, sections))
        return ANSWER
    except KeyboardInterrupt:
        talk.say(f"\n{_paragraph(_stopped('Stopped', kept, given, file, catalog))}")
    except Ended as end:
        talk.say(f"\n{_paragraph(_stopped(f'The input ended{end}', kept, given, file, catalog))}")
    except InputError:
        with contextlib.suppress(OSError):
            kept.keep(given.to_keep)
        raise
    return STOPPED


def _stopped(why: str, kept: KeptAnswers, given: Given, file: str, catalog: str | None) -> str:
    """What is said when no rig is written: where the answers are, and how to go on."""
    lines = given.to_keep
    if not lines:
        return f"{why}: nothing was written."
    try:
        kept.keep(lines)
    except OSError as error:
        shown = "; ".join(safe(line) or "Enter" for line in lines)
        return f"{why}: no rig was written, nor can the answers be kept ({reason(error)}). They were: {shown}."
    shop = "" if catalog is None else f" --catalog {_word(catalog)}"
    count = "Your answer is" if len(lines) == 1 else f"Your {len(lines)} answers are"
    again = f"fullbore new {_word(file)}{shop} goes on from there at a terminal"
    return f"{why}: no rig was written. {count} kept in {safe(kept.path.name)}; {again}."


def _taken_up(kept: KeptAnswers, talk: Terminal) -> tuple[str, ...]:
    """The answers that an earlier run kept, where somebody at the terminal wants to go on from there; answers that come from a
    file start with the first question."""
    found = kept.read() if talk.is_terminal else ()
    if found and not _agreed(f"{len(found)} answers are kept in {safe(kept.path.name)}. Go on from there?", talk, "yes"):
        return ()
    return found


def _may_replace(file: str, talk: Terminal) -> bool:
    """True when somebody at the terminal says so; else raises `InputError`."""
    if talk.is_terminal and _agreed(f"{safe(file)} is there already. Replace it?", talk):
        return True
    raise refused("FILE", f"{safe(file)} is there already.", "Add --force to replace it, or name another file.")


# -- asking --------------------------------------------------------------------------------------------------------


def _asked(asks: Sequence[Question], talk: Terminal, given: Given) -> dict[str, Said]:
    """Ask one question after the other and return the facts; "back" goes back a question, whose answer is then offered again."""
    talk.say(_paragraph(f"{len(asks)} questions. {OPENING}"))
    facts: dict[str, Said] = {}
    given.lines += _usable(asks, given.before, facts)
    number = len(given.lines)
    given.wrong = number if number < min(len(given.before), len(asks)) else None
    before = {n: text for n, text in enumerate(given.before) if n != given.wrong}
    while number < len(asks):
        question = asks[number]
        talk.say("\n" + _paragraph(f"{number + 1} of {len(asks)}. {question.words}", "   "))
        talk.say(f"   for example: {question.example}\n")
        try:
            text, found = _answer(question, facts, talk, before.get(number))
        except Ended:
            raise Ended(f" at question {number + 1} of {len(asks)}") from None
        if text is None:
            number = max(number - 1, 0)
            del given.lines[number:]
            continue
        facts.update(found)
        before[number] = text
        given.lines.append(text)
        number += 1
    return facts


def _usable(asks: Sequence[Question], kept: Sequence[str], facts: dict[str, Said]) -> list[str]:
    """The kept answers up to the first that cannot be used now; their facts are taken in."""
    found: list[str] = []
    for question, text in zip(asks, kept, strict=False):
        try:
            facts.update(answered(question, text, facts))
        except BadValue:
            break
        found.append(text)
    return found


def _answer(question: Question, facts: dict[str, Said], talk: Terminal, before: str | None) -> tuple[str | None, dict[str, Said]]:
    """Ask until the answer can be used, and return it with its facts; no text: to go back. Only the end of the input ends this
    otherwise. ``before`` was answered already and is taken by Enter."""
    while True:
        try:
            text = _line(f"   [{safe(before or question.offered(facts))}] > ", talk)
            if text.strip() == HELP:
                talk.say(_paragraph(question.help, "   ", "   "))
                continue
            if text.strip().casefold() == BACK:
                return None, {}
            text = text if text.strip() or not before else before
            found = answered(question, text, facts)
            taken = [said.text for said in found.values() if said.assumed == NO_UNIT]
            if taken:
                talk.say(_paragraph(f"Taken as {', '.join(taken)}.", "   ", "   "))
            return text, found
        except BadValue as error:
            talk.say(_paragraph(str(error), "   ", "   "))


def _agreed(prompt: str, talk: Terminal, usual: str = "no") -> bool:
    return (_line(f"{prompt} [{usual}] > ", talk).strip().casefold() or usual) in ("y", "yes")


def _line(prompt: str, talk: Terminal) -> str:
    text = talk.ask(prompt)
    if text is None:
        raise Ended
    return text


def _paragraph(text: str, later: str = "", first: str = "") -> str:
    lines = textwrap.wrap(safe(text), screen().width, initial_indent=first, subsequent_indent=later, break_on_hyphens=False)
    return "\n".join(lines) + "\n"


# -- the file ------------------------------------------------------------------------------------------------------


def stem_of(path: Path) -> str:
    """Return the name of the file without its ending, where that can be the name of a rig."""
    try:
        return checked_text(path.stem) or DEFAULT_NAME
    except BadValue:
        return DEFAULT_NAME


def written(path: Path, facts: dict[str, Said], catalog: Catalog, replaces: bool) -> tuple[Rig, tuple[Section, ...]]:
    """Write the rig file of these facts, and return the rig with what stands in it. Raises InputError, and then nothing is there
    that was not before."""
    with beside(path) as draft:
        rig, sections = drafted(draft, facts, catalog)
        try:
            put_in_place(draft, path, replaces)
        except OSError as error:
            raise refused("FILE", f"{safe(str(path))} cannot be written: {reason(error)}.", "Name another file.") from None
        return rig, sections


def drafted(draft: Path, facts: dict[str, Said], catalog: Catalog) -> tuple[Rig, tuple[Section, ...]]:
    """Write the draft and read it back as any rig file is read; dirt needs a clean rig first. Raises InputError."""
    clean = _read_back(draft, sections_of(facts, Grime()), (), catalog)
    sections = sections_of(facts, grime_after(clean, facts["days"].number))
    return _read_back(draft, sections, clean.notes, catalog), sections


def told_assumed(rig: Rig, sections: Sequence[Section]) -> tuple[str, ...]:
    """Return all that was assumed in a rig file with these sections."""
    return (*assumptions(sections), *rig.notes)


def _read_back(draft: Path, sections: Sequence[Section], notes: Sequence[str], catalog: Catalog) -> Rig:
    """Write the draft and read it back."""
    text = rig_text(sections, HEAD, (*assumptions(sections), *notes))
    try:
        draft.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise refused("FILE", f"the file cannot be written: {reason(error)}.", "Name another file.") from None
    return api.read_rig(draft, catalog)


def _closing(file: str, catalog: str | None, rig: Rig, sections: Sequence[Section]) -> str:
    """What was written, what was assumed, and what to type next."""
    name = safe(file)
    lines = ["\n", _paragraph(f"{name} is written: {safe(rig.name)}."), "\n"]
    lines.append(f"{ASSUMED}\n")
    lines += _items(told_assumed(rig, sections))
    shop = f" --catalog {_word(catalog)}" if catalog is not None else ""
    budget = " --budget 100" if rig.limits.budget is None else ""
    lines.append("\nNext\n")
    if catalog is None and not Path(DEMO_CATALOG).is_dir():
        lines.append("  fullbore demo              (an invented catalog to try with; that of a shop: --catalog and its folder)\n")
    lines += [f"  fullbore best {_word(file)}{budget}{shop}\n"]
    if rig.target_m3s > 0.0:
        lines.append(f"  fullbore cheapest {_word(file)}{shop}\n")
    return "".join(lines)


def _items(texts: Iterable[str]) -> list[str]:
    return [_paragraph(text, "    ", "  - ") for text in texts]


def _word(text: str) -> str:
    """A file name as it is typed in a shell."""
    return shlex.quote(safe(text))
