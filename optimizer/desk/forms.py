"""The options of a command as fields of a form, and what was typed there as words of that command."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from optimizer.commands.options import Option

__all__ = ["Field", "fields_of", "given_of", "problems_apart", "too_long", "words_of"]

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
            is_file=option.names_files,
            needed=not option.flag.startswith("--") and option.reads.get("nargs") != "?",
            value=given.get(option.name, ""),
            wrong=tuple(wrong.get(option.flag, ())),
        )
        for option in options
    )


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
                first.append(each)
            elif _kind(option) == "mark":
                more.append(option.flag)
            else:
                more += [f"{option.flag}={each}"] if each.startswith("-") else [option.flag, each]
    if any(each.startswith("-") for each in first):
        return [command, *more, "--", *first]
    return [command, *first, *more]


def given_of(command_options: Sequence[Option], words: Sequence[str]) -> dict[str, str]:
    """What was typed, taken back from the words of a command that `words_of` made."""
    flags = {option.flag: option for option in command_options}
    places = [option for option in command_options if not option.flag.startswith("--")]
    found: dict[str, str] = {}
    rest = [word for word in words[1:] if word != "--"]
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


def too_long(options: Iterable[Option], given: Mapping[str, str]) -> dict[str, list[str]]:
    """What has no end, by the flags of the options: no command is asked with it."""
    long = (option for option in options if len(given.get(option.name, "")) > LONGEST)
    return {option.flag: [f"This is longer than {LONGEST} characters."] for option in long}


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
