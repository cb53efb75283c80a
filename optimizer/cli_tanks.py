"""What the command share is asked, and its answer ready to be printed."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from optimizer import api
from optimizer.cli_options import COMMAND_LINE, DEMO_CATALOG
from optimizer.cli_outputs import Output, Outputs, inputs_of
from optimizer.cli_told import Told, told_of
from optimizer.errors import BadValue, InputError, Problem, Problems
from optimizer.files.named_files import rigs_named
from optimizer.money import parse_money
from optimizer.report import share_text
from optimizer.report.sheet_csv import bill_csv

__all__ = ["told"]

STATUS = {"proved": 0, "infeasible": 2, "stopped": 3}

T = TypeVar("T")


def told(args: argparse.Namespace, progress: Callable[[int, float | None], None] | None = None) -> Told:
    """Answer the command. Raises `InputError` with everything that is wrong with arguments or files."""
    problems = Problems()
    budget = _read("--budget", args.budget, parse_money, problems)
    folder = Path(DEMO_CATALOG if args.catalog is None else args.catalog)
    if args.catalog is None and not folder.is_dir():
        what = f"is not given, and there is no folder {DEMO_CATALOG} here."
        problems.add(Problem(where="--catalog", what=what, cure="Write --catalog and the folder that holds pumps.csv."))
    rigs = (("a rig of the household", rig) for rig in rigs_named(args.household))
    outputs = Outputs(problems, inputs_of(("the household file", args.household), *rigs, catalog=folder))
    csv = outputs.file("--csv", args.csv, "bill.csv")
    page = outputs.file("--report", args.report, "tanks.html")
    problems.raise_if_any(COMMAND_LINE)
    catalog = api.read_catalog(folder)
    household = api.read_household(args.household, catalog)
    household = household if budget is None else replace(household, budget=budget)
    if household.budget is None:
        cure = 'Add --budget 300, or budget = "300" to the file.'
        raise InputError(args.household, [Problem(where="budget", what="no budget is set.", cure=cure)])
    found = api.share(household, catalog, objective=args.objective, measured=not args.unmeasured, progress=progress)
    made = []
    if csv is not None and found.tanks:
        # the mark at the front tells spreadsheets that the text is UTF-8
        made.append(
            Output(flag="--csv", place=csv, make=lambda: [(csv, bill_csv(found.bill, found.currency).encode("utf-8-sig"))])
        )
    if page is not None:
        made.append(Output(flag="--report", place=page, make=lambda: [(page, api.page(found, args.units).encode("utf-8"))]))
    return told_of(found, share_text.headline, share_text.render, STATUS[found.status], tuple(made))


def _read(flag: str, text: str | None, parse: Callable[[str], T], problems: Problems) -> T | None:
    try:
        return None if text is None else parse(text)
    except BadValue as error:
        problems.add(error.at(flag))
    return None
