"""What the command line asks of bands: how many bundles, which quantile, how many draws of which seed."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import TypeVar

from optimizer.errors import BadValue, Problem, Problems, quoted

__all__ = ["MOST_CANDIDATES", "bands_wanted", "log_wanted"]

MOST_CANDIDATES = 100
LARGEST_SEED = 2**32 - 1
EXAMPLES = {"candidates": "20", "seed": "1", "draws": "10000"}

NOT_WITH_ROBUST = ("why", "alternatives", "order", "csv", "prove")

T = TypeVar("T")


def bands_wanted(args: argparse.Namespace, problems: Problems) -> dict[str, int | str] | None:
    """Return what is asked for, by the names of `api.bands`; None when bands are not. Adds to the problems what is wrong."""
    robust = getattr(args, "robust", None)
    if not getattr(args, "bands", False) and robust is None:
        _stray(args, problems)
        return None
    _excluded(args, problems)
    found: dict[str, int | str | None] = {
        "measured": False if args.unmeasured else None,
        "robust": None if robust is None else _read("--robust", robust, _quantile, problems),
        "candidates": _number(args, "candidates", 1, MOST_CANDIDATES, problems),
        "seed": _number(args, "seed", 0, LARGEST_SEED, problems),
        "draws": _number(args, "draws", 2, _most_draws(), problems),
    }
    return {name: value for name, value in found.items() if value is not None}


def log_wanted(args: argparse.Namespace, problems: Problems) -> None:
    """Add a problem where fills are named that are not to be used."""
    if args.unmeasured and args.log is not None:
        problems.add(Problem(where="--log", what="does not go together with --unmeasured.", cure="Keep one of the two."))


def _stray(args: argparse.Namespace, problems: Problems) -> None:
    """What only bands can use must not be passed over in silence."""
    for name in EXAMPLES:
        if getattr(args, name, None) is not None:
            what = "is of use with --bands or --robust only."
            problems.add(Problem(where=f"--{name}", what=what, cure="Add --bands, or leave it out."))


def _excluded(args: argparse.Namespace, problems: Problems) -> None:
    flag = "bands" if args.bands else "robust"
    beside = [name for name in NOT_WITH_ROBUST if getattr(args, name, None)]
    if beside:
        what = f"does not go together with --{', --'.join(beside)}."
        problems.add(Problem(where=f"--{flag}", what=what, cure="Ask for the one or for the other."))


def _number(args: argparse.Namespace, name: str, least: int, most: int, problems: Problems) -> int | None:
    def parse(text: str) -> int:
        if text.isascii() and text.isdecimal() and len(text) <= 12 and least <= int(text) <= most:
            return int(text)
        raise BadValue(f"{quoted(text)} is no whole number from {least} to {most}.", f'Write for example "{EXAMPLES[name]}".')

    text = getattr(args, name, None)
    return None if text is None else _read(f"--{name}", text, parse, problems)


def _read(flag: str, text: str, parse: Callable[[str], T], problems: Problems) -> T | None:
    try:
        return parse(text)
    except BadValue as error:
        problems.add(error.at(flag))
        return None


def _quantile(text: str) -> str:
    from optimizer.bands.robust import LEAST_PERCENT, MOST_PERCENT, quantile_of  # loads the numeric libraries

    try:
        return f"P{quantile_of(text)}"
    except ValueError:
        what = f"{quoted(text)} is no quantile from P{LEAST_PERCENT} to P{MOST_PERCENT}."
        raise BadValue(what, 'Write for example "P10".') from None


def _most_draws() -> int:
    from optimizer.bands.draws import MOST_DRAWS  # loads the numeric libraries

    return MOST_DRAWS
