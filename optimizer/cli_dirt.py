"""What the command ageing is asked, and its answer ready to be printed."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from pathlib import Path

from optimizer import api
from optimizer.answers.ageing import MOST_DAYS
from optimizer.cli_options import COMMAND_LINE, DEMO_CATALOG
from optimizer.cli_told import Told, told_of
from optimizer.dirt.law_sources import FIELDS, SOURCES, with_law
from optimizer.dirt.laws import USUAL, Laws
from optimizer.errors import BadValue, Problems, quoted
from optimizer.files.cell_text import chosen
from optimizer.model.catalog import Catalog
from optimizer.report import ageing_text

__all__ = ["told"]

USUAL_DAYS = 90
LONGEST_NUMBER = 9


def told(args: argparse.Namespace, _: Callable[[int, float | None], None] | None = None) -> Told:
    """Answer the command. Raises `InputError` with everything that is wrong with arguments or files."""
    problems = Problems()
    days, laws = USUAL_DAYS, USUAL
    for flag, text, reader in (("--days", args.days, _days), ("--law", args.law, _laws)):
        try:
            found = reader(text) if text is not None else None
        except BadValue as error:
            problems.add(error.at(flag))
            continue
        days = found if isinstance(found, int) else days
        laws = found if isinstance(found, Laws) else laws
    problems.raise_if_any(COMMAND_LINE)
    rig = api.read_rig(args.rig, _catalog(args))
    answer = api.ageing(rig, days=days, laws=laws, renew=args.renew, measured=not args.unmeasured)
    return told_of(answer, ageing_text.headline, ageing_text.render)


def _catalog(args: argparse.Namespace) -> Catalog:
    """The catalog that is named or at hand; without one a rig can still describe all its parts itself."""
    if args.catalog is None and not Path(DEMO_CATALOG).is_dir():
        return Catalog(parts={}, products=())
    return api.read_catalog(Path(DEMO_CATALOG if args.catalog is None else args.catalog))


def _days(text: str) -> int:
    found = re.fullmatch(r"([0-9]+)( ?(d|days?|weeks?))?", text.strip(), re.ASCII)
    if found is not None and len(found[1]) <= LONGEST_NUMBER:
        days = int(found[1]) * (7 if (found[3] or "").startswith("week") else 1)
        if 1 <= days <= MOST_DAYS:
            return days
    raise BadValue(f"{quoted(text)} is no whole number of days from 1 to {MOST_DAYS}.", 'Write for example "90" or "8 weeks".')


def _laws(text: str) -> Laws:
    laws = USUAL
    for each in text.split(","):
        about, equals, name = (word.strip() for word in each.partition("="))
        if not equals:
            about, name = _about(about), about
        about = chosen(tuple(FIELDS), about)
        laws = with_law(laws, about, chosen(tuple(SOURCES[about]), name))
    return laws


def _about(name: str) -> str:
    """What a law is about whose name stands alone."""
    found = [about for about, names in SOURCES.items() if name in names]
    if len(found) == 1:
        return found[0]
    if found:
        raise BadValue(f"{quoted(name)} is a law for {' and '.join(found)}.", f'Write for example "{found[0]}={name}".')
    listed = "; ".join(f"{about}: {', '.join(names)}" for about, names in SOURCES.items())
    raise BadValue(f"{quoted(name)} is no law.", f"There are, for {listed}.")
