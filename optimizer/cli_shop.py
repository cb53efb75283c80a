"""What the commands kits and compare are asked, and their answers ready to be printed."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol, TypeVar

from optimizer import api
from optimizer.cli_options import COMMAND_LINE, DEMO_CATALOG
from optimizer.cli_outputs import Output, Outputs, inputs_of
from optimizer.cli_told import Told, say, told_of
from optimizer.errors import BadValue, InputError, Problem, Problems, quoted, safe
from optimizer.files.named_files import rigs_named
from optimizer.model.kits import KitPlan
from optimizer.model.shop import MOST_KITS
from optimizer.money import parse_money
from optimizer.report import compare_text, kits_text
from optimizer.tanks.pool import WorkerLostError
from optimizer.tanks.solves import ContradictionError

if TYPE_CHECKING:
    from optimizer.model.catalog import Catalog

__all__ = ["told"]

STATUS = {"proved": 0, "compared": 0, "infeasible": 2, "stopped": 3}
MOST_WORKERS = 256
SCHEDULER = "tcp://127.0.0.1:8786"
CLUSTER = "Install the extra: pip install 'fullbore[cluster]'."

T = TypeVar("T")


class Progress(Protocol):
    """Says on a terminal how far the work is."""

    def __call__(self, nodes: int, flow_m3s: float | None) -> None:
        """Of one search."""

    def count(self, what: str, done: int, of: int) -> None:
        """Of many questions."""


def told(args: argparse.Namespace, progress: Progress | None = None) -> Told:
    """Answer one of the two commands. Raises `InputError` with everything that is wrong with arguments or files."""
    return {"kits": _kits, "compare": _compare}[args.command](args, progress)


def _kits(args: argparse.Namespace, progress: Progress | None) -> Told:
    problems = Problems()
    most = _read("--kits", args.kits, _number("kits", MOST_KITS), problems)
    workers = _read("--workers", args.workers, _number("workers", MOST_WORKERS), problems)
    scheduler = _read("--scheduler", args.scheduler, _address, problems)
    if workers is not None and scheduler is not None:
        problems.add(Problem(where="--scheduler", what="does not go together with --workers.", cure="Keep one of the two."))
    places = _places(args, problems)
    problems.raise_if_any(COMMAND_LINE)
    store = api.read_shop(args.shop, _catalog(args))
    count = None if progress is None else progress.count
    with _refusing(workers, scheduler):
        plan = api.kits(
            store,
            by=args.by,
            most=most,
            workers=workers or 1,
            scheduler=scheduler,
            results=places.results,
            progress=count,
            remark=say,
        )
    outputs = tuple(_outputs(args, plan, places))
    return told_of(plan, kits_text.headline, kits_text.render, STATUS[plan.status], outputs)


@contextlib.contextmanager
def _refusing(workers: int | None, scheduler: str | None) -> Iterator[None]:
    """Say what is wrong with those who solve, or with earlier results, as of the option that named them."""
    try:
        yield
    except OSError as error:
        if scheduler is not None:
            what = f"{quoted(scheduler)} does not answer: {safe(str(error))}."
            raise _refused("--scheduler", what, "Start a scheduler there, or leave it out.") from error
        if workers is None:
            raise
        what = f"processes cannot be started: {safe(error.strerror or str(error))}."
        raise _refused("--workers", what, "Leave it out: then this process solves.") from error
    except ContradictionError as error:
        what = f"holds what cannot be: {safe(str(error))}."
        raise _refused("--results", what, "Name another file, or one that is not there yet.") from error
    except WorkerLostError as error:
        flag, needed = (
            ("--workers", "Give the workers") if scheduler is None else ("--scheduler", "Start workers there, or give them")
        )
        cure = f"{needed} more memory, or leave this out and let one process solve."
        raise _refused(flag, f"{safe(str(error))}.", cure) from error


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where files go, links followed; None: not asked for."""

    csv: Path | None
    results: Path | None
    page: Path | None
    cards: Path | None


def _places(args: argparse.Namespace, problems: Problems) -> Places:
    rigs = (("a rig of the shop", rig) for rig in rigs_named(args.shop))
    catalog = Path(DEMO_CATALOG if args.catalog is None else args.catalog)
    outputs = Outputs(problems, inputs_of(("the shop file", args.shop), *rigs, catalog=catalog))
    numbered = (f"kit_{number}.{ending}" for number in range(1, MOST_KITS + 1) for ending in ("html", "txt"))
    return Places(
        csv=outputs.file("--csv", args.csv, "kits.csv"),
        results=outputs.file("--results", args.results, "shop.results"),
        page=outputs.file("--report", args.report, "kits.html"),
        cards=outputs.folder("--cards", args.cards, numbered),
    )


def _compare(args: argparse.Namespace, progress: Progress | None) -> Told:
    problems = Problems()
    budget = _read("--budget", args.budget, parse_money, problems)
    if len(args.files) < 2:
        problems.add(Problem(where="FILE", what="there is only one.", cure="Name at least two rig files or saved answers."))
    problems.raise_if_any(COMMAND_LINE)
    found = api.compare(_catalog(args), *args.files, budget=budget, progress=progress)
    return told_of(found, compare_text.headline, compare_text.render, STATUS[found.status])


def _catalog(args: argparse.Namespace) -> Catalog:
    folder = Path(DEMO_CATALOG if args.catalog is None else args.catalog)
    if args.catalog is None and not folder.is_dir():
        what = f"is not given, and there is no folder {DEMO_CATALOG} here."
        raise _refused("--catalog", what, "Write --catalog and the folder that holds pumps.csv.")
    return api.read_catalog(folder)


# -- what is written -----------------------------------------------------------------------------------------------


def _outputs(args: argparse.Namespace, plan: KitPlan, places: Places) -> Iterator[Output]:
    """The files that are asked for."""
    csv, page, cards = places.csv, places.page, places.cards
    if csv is not None:
        from optimizer.report.sheet_csv import kits_csv

        # the mark at the front tells spreadsheets that the text is UTF-8
        yield Output(flag="--csv", place=csv, make=lambda: [(csv, kits_csv(plan).encode("utf-8-sig"))])
    if page is not None:
        yield Output(flag="--report", place=page, make=lambda: [(page, api.page(plan, args.units).encode("utf-8"))])
    if cards is not None:
        yield Output(flag="--cards", place=cards, make=lambda: list(_cards(plan, cards, args.units)))


def _cards(plan: KitPlan, folder: Path, units: str) -> Iterator[tuple[Path, bytes]]:
    from optimizer.report import kit_card  # loads jinja2

    for kit in plan.kits:
        name = kit_card.file_name(kit)
        yield folder / f"{name}.html", kit_card.card_html(kit, plan, units).encode("utf-8")
        yield folder / f"{name}.txt", kit_card.card_text(kit, plan, units).encode("utf-8")


# -- what was asked ------------------------------------------------------------------------------------------------


def _refused(where: str, what: str, cure: str) -> InputError:
    return InputError(COMMAND_LINE, [Problem(where=where, what=what, cure=cure)])


def _read(flag: str, text: str | None, parse: Callable[[str], T], problems: Problems) -> T | None:
    try:
        return None if text is None else parse(text)
    except BadValue as error:
        problems.add(error.at(flag))
        return None


def _number(what: str, most: int) -> Callable[[str], int]:
    def parse(text: str) -> int:
        if text.isascii() and text.isdecimal() and len(text) <= 9 and 1 <= int(text) <= most:
            return int(text)
        raise BadValue(f"{quoted(text)} is no number of {what} from 1 to {most}.", 'Write for example "2".')

    return parse


def _address(text: str) -> str:
    scheme, _, rest = text.partition("://")
    if scheme not in ("tcp", "tls", "ws", "wss") or ":" not in rest or not text.isprintable():
        raise BadValue(f"{quoted(text)} is no address of a scheduler.", f"Write for example {quoted(SCHEDULER)}.")
    try:
        import distributed  # noqa: F401  an optional extra: looked for before anything is read
    except ModuleNotFoundError:
        raise BadValue("needs the library distributed, which is not installed.", CLUSTER) from None
    return text
