"""The options of a command as fields of a form, and what was typed there as words of that command."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from optimizer.commands.options import Option
from optimizer.desk.folder import Folder, Forbidden
from optimizer.errors import BadValue

__all__ = ["Field", "fields_of", "problems_apart", "words_of"]

FILES = frozenset({"FILE", "DIR", "RIG", "BEFORE", "AFTER", "PLACE", "ANSWER", "HOUSEHOLD", "SHOP"})
"""What options that name a file or a folder stand for in their help text."""

LONGEST = 500
"""No option has a text of more characters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of a form: how it is called, what it does, and what stands in it. ``wrong`` lists what is wrong with that."""

    name: str
    label: str
    help: str
    example: str
    kind: Literal["text", "mark", "choice", "lines"]
    choices: tuple[str, ...] = ()
    is_file: bool = False
    needed: bool = False
    value: str = ""
    wrong: tuple[str, ...] = ()


def fields_of(options: Iterable[Option], given: Mapping[str, str], wrong: Mapping[str, Sequence[str]]) -> tuple[Field, ...]:
    """The fields of some options, with what was ``given`` and what is ``wrong`` with it, by the names of the options."""
    return tuple(
        Field(
            name=option.name,
            label=option.name.replace("_", " ").capitalize(),
            help=option.does[:1].upper() + option.does[1:] + ".",
            example=option.example.strip('"'),
            kind=_kind(option),
            choices=tuple(option.reads.get("choices", ())),
            is_file=names_file(option),
            needed=not option.flag.startswith("--") and option.reads.get("nargs") != "?",
            value=given.get(option.name, ""),
            wrong=tuple(wrong.get(option.flag, ())),
        )
        for option in options
    )


def names_file(option: Option) -> bool:
    """Whether an option names a file or a folder."""
    return option.reads.get("metavar") in FILES


def _kind(option: Option) -> Literal["text", "mark", "choice", "lines"]:
    if option.reads.get("action") == "store_true":
        return "mark"
    if "choices" in option.reads:
        return "choice"
    return "lines" if _is_many(option) else "text"


def _is_many(option: Option) -> bool:
    return option.reads.get("nargs") == "+" or option.reads.get("action") == "append"


def words_of(command: str, options: Iterable[Option], given: Mapping[str, str]) -> list[str]:
    """The words of a command with what was typed, nothing for a field left empty. What begins with a dash is no option.

    >>> from optimizer.commands.cheapest import COMMAND
    >>> words_of("cheapest", COMMAND.options, {"rig": "tank.toml", "flow": "800 l/h", "order": "on", "budget": "-5"})
    ['cheapest', 'tank.toml', '--flow', '800 l/h', '--budget=-5', '--order']
    """
    first: list[str] = []
    more: list[str] = []
    for option in options:
        text = given.get(option.name, "").strip()
        if not text or text == option.reads.get("default"):
            continue
        for each in text.splitlines() if _is_many(option) else [text]:
            if not option.flag.startswith("--"):
                first.append(f"./{each}" if each.startswith("-") else each)
            elif _kind(option) == "mark":
                more.append(option.flag)
            else:
                more += [f"{option.flag}={each}"] if each.startswith("-") else [option.flag, each]
    return [command, *first, *more]


def given_of(command_options: Sequence[Option], words: Sequence[str]) -> dict[str, str]:
    """What was typed, taken back from the words of a command that `words_of` made."""
    flags = {option.flag: option for option in command_options}
    places = [option for option in command_options if not option.flag.startswith("--")]
    found: dict[str, str] = {}
    rest = list(words[1:])
    while rest:
        flag, equals, text = rest.pop(0).partition("=")
        option = flags.get(flag) if flag.startswith("--") else None
        if option is None:
            option, text = (places[0] if _is_many(places[0]) or len(places) == 1 else places.pop(0)), f"{flag}{equals}{text}"
        elif _kind(option) == "mark":
            text = "on"
        elif not equals:
            text = rest.pop(0)
        found[option.name] = f"{found[option.name]}\n{text}" if option.name in found else text
    return found


def refused(folder: Folder, options: Iterable[Option], given: Mapping[str, str]) -> dict[str, list[str]]:
    """What cannot be asked from a browser, by the flags of the options: a file outside the folder, a text without end."""
    wrong: dict[str, list[str]] = {}
    for option in options:
        text = given.get(option.name, "")
        if len(text) > LONGEST:
            wrong[option.flag] = [f"This is longer than {LONGEST} characters."]
        elif names_file(option):
            for each in filter(None, map(str.strip, text.splitlines())):
                try:
                    folder.path(each.removeprefix("./"))
                except (Forbidden, OSError, ValueError, BadValue):
                    wrong[option.flag] = ["This is no name of a file of this folder."]
    return wrong


def problems_apart(
    problems: Iterable[Mapping[str, str]], flags: Iterable[str]
) -> tuple[dict[str, list[str]], list[Mapping[str, str]]]:
    """Problems of these options, by their flags, and all others."""
    beside: dict[str, list[str]] = {flag: [] for flag in flags}
    others: list[Mapping[str, str]] = []
    for problem in problems:
        if problem["place"] in beside:
            beside[problem["place"]].append(f"{problem['what']} {problem['cure']}")
        else:
            others.append(problem)
    return beside, others


def line_of(words: Sequence[str]) -> str:
    """The same as a line for a terminal."""
    return shlex.join(["fullbore", *words])
