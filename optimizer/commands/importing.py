"""Brings a shop's sheet into a catalog: shows how it is read and what would change, asks who can answer, and writes."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from optimizer.commands.command import Told, told_of
from optimizer.commands.reader import refused
from optimizer.commands.streams import Terminal, reason, say, screen, with_weight
from optimizer.errors import BadValue, InputError, safe
from optimizer.exits import BAD_INPUT
from optimizer.model.stock_import import SheetQuestion, StockImport
from optimizer.report.stock_import_text import changes_text, proposal_text
from optimizer.sheets.importing import Looked, look_at
from optimizer.sheets.parts import checked_answer

__all__ = ["imported"]


def imported(
    file: str, folder: str, mapping: str | None, answers: Mapping[str, str], *, yes: bool, full: bool, asks: bool
) -> Told:
    """Look at the sheet, ask on a terminal (where ``asks``), write with ``yes`` or once that is confirmed, and tell.

    Raises `InputError` where anything cannot be read or written. Status 1 where nothing is written, since it is not confirmed.
    """
    ways = Path(file), Path(folder), Path(mapping) if mapping else None
    found = look_at(*ways, answers)
    if asks and not yes:
        found, yes = _talked(found, ways, dict(answers), Terminal(), full)
    if yes and not found.answer.blocked:
        return told_of(_written(found), "stock_import_text", full=full)
    say("Nothing is written." if found.answer.blocked else "Nothing is written: that takes --yes.")
    told = replace(found.answer, command=_command(file, folder, mapping, answers))
    return told_of(told, "stock_import_text", BAD_INPUT, full=full)


def _written(found: Looked) -> StockImport:
    try:
        return found.write()
    except OSError as error:
        what = f"{safe(str(error.filename or found.folder))} cannot be written: {reason(error)}."
        raise refused("--into", what, "Name a folder where you may write; the catalog is as it was.") from error


def _command(file: str, folder: str, mapping: str | None, answers: Mapping[str, str]) -> str:
    words = ["fullbore", "stock", "import", file, "--into", folder]
    words += ["--mapping", mapping] if mapping else []
    words += [word for key, value in answers.items() for word in ("--answer", f"{key}={value}")]
    return " ".join(shlex.quote(word) for word in (*words, "--yes"))


def _talked(
    found: Looked, ways: tuple[Path, Path, Path | None], answers: dict[str, str], talk: Terminal, full: bool
) -> tuple[Looked, bool]:
    """What is found once all questions were put, and whether it is to be written. Enter takes what stands in [brackets]."""
    if not found.answer.saved:
        talk.say(with_weight(proposal_text(found.answer, screen())))
        while found.answer.blocked:
            found, more = _asked(
                found, ways, answers, talk, f"\n{found.answer.blocked}\nWrite for example price=HEADING [stop]: "
            )
            if not more:
                return found, False
        if not _agreed(talk, "\nRead it like that? [yes] "):
            return found, False
        for question in found.answer.questions:
            _settled(question, answers, talk)
        found = look_at(*ways, answers)
    talk.say(with_weight("\n" + changes_text(found.answer, screen(), full=full)))
    return found, not found.answer.blocked and _agreed(talk, f"\nWrite {safe(str(found.folder))}? [yes] ")


def _settled(question: SheetQuestion, answers: dict[str, str], talk: Terminal) -> None:
    """Put a question that one answer settles, again where it cannot be used; Enter leaves its rows out."""
    rows = f"{question.rows} row{'' if question.rows == 1 else 's'}, for example {safe(question.example)}."
    prompt = f"\n{safe(question.asks)} {rows}\n{', '.join(question.answers)} [leave them out]: "
    while said := (talk.ask(prompt) or "").strip():
        try:
            answers[question.key] = checked_answer(question.key, said)
            return
        except BadValue as error:
            talk.say(f"{error}\n")


def _asked(
    found: Looked, ways: tuple[Path, Path, Path | None], answers: dict[str, str], talk: Terminal, prompt: str
) -> tuple[Looked, bool]:
    """Put one question that must be answered; what cannot be read is told, and asked again."""
    key, sign, value = (talk.ask(prompt) or "").strip().partition("=")
    if not sign:
        return found, False
    try:
        again = look_at(*ways, {**answers, key.strip(): value.strip()})
    except InputError as error:
        talk.say(f"{error}\n")
        return found, True
    answers[key.strip()] = value.strip()
    return again, True


def _agreed(talk: Terminal, prompt: str) -> bool:
    said = talk.ask(prompt)
    return said is not None and said.strip().casefold() in ("", "y", "yes")
