"""What the command share is asked, and its answer ready to be printed."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from optimizer import api
from optimizer.cli_options import COMMAND_LINE, DEMO_CATALOG
from optimizer.cli_told import Told, told_of
from optimizer.errors import BadValue, InputError, Problem, Problems, safe
from optimizer.files.whole_file import write_whole
from optimizer.money import parse_money
from optimizer.report import share_text
from optimizer.report.bill_csv import bill_csv

__all__ = ["told"]

STATUS = {"proved": 0, "infeasible": 2, "stopped": 3}

T = TypeVar("T")


def told(args: argparse.Namespace, progress: Callable[[int, float | None], None] | None = None) -> Told:
    """Answer the command. Raises `InputError` with everything that is wrong with arguments or files."""
    problems = Problems()
    budget = _read("--budget", args.budget, parse_money, problems)
    csv = _read("--csv", args.csv, lambda text: _file(text, args.household), problems)
    page = _read("--report", args.report, lambda text: _file(text, args.household), problems)
    if page is not None and page == csv:
        problems.add(Problem(where="--report", what="is the file of --csv.", cure="Name two files."))
    folder = Path(DEMO_CATALOG if args.catalog is None else args.catalog)
    if args.catalog is None and not folder.is_dir():
        what = f"is not given, and there is no folder {DEMO_CATALOG} here."
        problems.add(Problem(where="--catalog", what=what, cure="Write --catalog and the folder that holds pumps.csv."))
    problems.raise_if_any(COMMAND_LINE)
    catalog = api.read_catalog(folder)
    household = api.read_household(args.household, catalog)
    household = household if budget is None else replace(household, budget=budget)
    if household.budget is None:
        cure = 'Add --budget 300, or budget = "300" to the file.'
        raise InputError(args.household, [Problem(where="budget", what="no budget is set.", cure=cure)])
    found = api.share(household, catalog, objective=args.objective, measured=not args.unmeasured, progress=progress)
    files = []
    if csv is not None and found.tanks:
        # the mark at the front tells spreadsheets that the text is UTF-8
        files.append((csv, bill_csv(found.bill, found.currency).encode("utf-8-sig")))
    if page is not None:
        files.append((page, api.page(found, args.units).encode("utf-8")))
    _write(files)
    return told_of(found, share_text.headline, share_text.render, STATUS[found.status])


def _write(files: list[tuple[Path, bytes]]) -> None:
    try:
        write_whole(files)
    except OSError as error:
        what = f"cannot be written: {safe(error.strerror or str(error))}."
        where = safe(str(error.filename or "the files"))
        raise InputError(COMMAND_LINE, [Problem(where=where, what=what, cure="Name another file or folder.")]) from error


def _file(text: str, household: str) -> Path:
    path = Path(os.path.realpath(text))
    cure = "Name a file in a folder of yours."
    if path.exists() and not path.is_file():
        raise BadValue(f"{safe(text)} is not a file.", cure)
    if path.exists() and Path(household).exists() and path.samefile(household):
        raise BadValue(f"{safe(text)} is the household file itself.", cure)
    if not os.access(path.parent, os.W_OK | os.X_OK):
        raise BadValue(f"the folder of {safe(text)} is not there or cannot be written to.", cure)
    return path


def _read(flag: str, text: str | None, parse: Callable[[str], T], problems: Problems) -> T | None:
    try:
        return None if text is None else parse(text)
    except BadValue as error:
        problems.add(error.at(flag))
    except (OSError, ValueError) as error:
        problems.add(Problem(where=flag, what=f"cannot be used: {safe(str(error))}.", cure="Name a file in a folder of yours."))
    return None
