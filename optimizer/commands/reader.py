"""Reads the arguments of a command: every option by its reader, and all that is wrong with them in one list."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from optimizer import api
from optimizer.commands.options import DEMO_CATALOG, Option
from optimizer.commands.outputs import Input, Outputs
from optimizer.errors import COMMAND_LINE, BadValue, InputError, Problem, Problems, quoted
from optimizer.unit_table import FLOW
from optimizer.units import parse

if TYPE_CHECKING:
    from optimizer.model.catalog import Catalog

A = TypeVar("A")
T = TypeVar("T")


class Reader:
    """The arguments of one command, and what is wrong with them."""

    def __init__(self, args: argparse.Namespace, options: Sequence[Option]) -> None:
        self.args = args
        self.options = options
        self.problems = Problems()

    def given(self, name: str) -> Any:
        """The text or mark of an option; None for one that is not given, or that the command does not have."""
        return getattr(self.args, name, None)

    def read(self, asked: type[A], first: Sequence[str]) -> A:
        """What is asked, as an object whose fields are options or made of them; those named ``first`` are read before others."""
        found = {each.name: each.metadata for each in fields(asked)}  # type: ignore[arg-type]
        order = dict.fromkeys((*(name for name in first if name in found), *found))
        return asked(**{name: self._value(found[name]) for name in order if found[name]})

    def _value(self, about: Mapping[str, Any]) -> Any:
        if "make" in about:
            return about["make"](self)
        option: Option = about["option"]
        text = self.given(option.name)
        if option.place:
            return self.outputs.file(option.flag, text, option.place)
        try:
            return option.missing() if text is None else option.parse(text)
        except BadValue as error:
            self.problems.add(error.at(option.flag))
            return None

    @cached_property
    def outputs(self) -> Outputs:
        """The places that are written to, none of which may be an input of the run."""
        return Outputs(self.problems, self._inputs())

    def _inputs(self) -> Iterator[Input]:
        from optimizer.files.named_files import catalog_files, rigs_named  # a help text does without

        for option in self.options:
            text = self.given(option.name)
            if option.input and text is not None:
                yield option.input, Path(text)
                if option.rigs:
                    yield from ((option.rigs, rig) for rig in rigs_named(text))
        if any(option.name == "catalog" for option in self.options):
            folder = Path(DEMO_CATALOG if self.args.catalog is None else self.args.catalog)
            yield from (("a file of the catalog", each) for each in catalog_files(folder))

    def value(self, name: str, parse: Callable[[str], T]) -> T | None:
        """What is read from an option; None when it is not given, or cannot be used."""
        text = self.given(name)
        try:
            return None if text is None else parse(text)
        except BadValue as error:
            self.problems.add(error.at(f"--{name}"))
            return None

    def wrong(self, where: str, what: str, cure: str) -> None:
        """Note a problem."""
        self.problems.add(Problem(where=where, what=what, cure=cure))

    def keep_one(self, name: str, other: str) -> None:
        """Note that two options exclude each other."""
        self.wrong(f"--{name}", f"does not go together with --{other}.", "Keep one of the two.")

    def fills_or_none(self, unmeasured: bool, log: str | None) -> None:
        """Note that fills of a log are asked for, and that none count."""
        if unmeasured and log is not None:
            self.keep_one("log", "unmeasured")

    def apart(self, name: str, others: Iterable[str]) -> None:
        """Note which of some options are given beside one that asks for another answer than theirs."""
        beside = [other.replace("_", "-") for other in others if self.given(other)]
        if beside:
            self.wrong(f"--{name}", f"does not go together with --{', --'.join(beside)}.", "Ask for the one or for the other.")

    def checked(self) -> None:
        """Raise `InputError` with everything that is wrong, if anything is."""
        self.problems.raise_if_any(COMMAND_LINE)


def refused(where: str, what: str, cure: str, source: str = COMMAND_LINE) -> InputError:
    """A mistake, of the command line or of a file, that is found later than the others."""
    return InputError(source, [Problem(where=where, what=what, cure=cure)])


def catalog_at_hand(given: str | None) -> Catalog:
    """The catalog that is named or at hand; without one a rig can still describe all its parts itself."""
    if given is None and not Path(DEMO_CATALOG).is_dir():
        from optimizer.model.catalog import Catalog

        return Catalog(parts={}, products=())
    return api.read_catalog(Path(DEMO_CATALOG if given is None else given))


def whole(least: int, most: int, example: str, what: str = "whole number") -> Callable[[str], int]:
    """What reads a whole number.

    >>> whole(1, 100, "5")("20")
    20
    """

    def read(text: str) -> int:
        if text.isascii() and text.isdecimal() and len(text) <= 12 and least <= int(text) <= most:
            return int(text)
        raise BadValue(f"{quoted(text)} is no {what} from {least} to {most}.", f'Write for example "{example}".')

    return read


def flow(text: str) -> float:
    """A flow in m3/s. Raises BadValue for none, and for nothing at all.

    >>> round(flow("720 l/h"), 6)
    0.0002
    """
    return above_zero(parse(text, FLOW), '"800 l/h"')


def above_zero(value: float, example: str) -> float:
    """The value, if it is above zero; else raises BadValue."""
    if value > 0.0:
        return value
    raise BadValue("must be above zero.", f"Write for example {example}.")
