"""Chooses at most N kits, each closing from stock, that serve a shop's customers best; says what each does not fit
and why, what every part in stock earns, and which stock is dead.

fullbore kits shop.toml
fullbore kits shop.toml --kits 2 --by coverage --workers 2
fullbore kits shop.toml --results shop.results --cards cards
fullbore kits shop.toml --scheduler tcp://127.0.0.1:8786
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Command, Progress, Reader, Told, status_of, told_of
from optimizer.commands.options import choice, made, value
from optimizer.commands.outputs import Output, file_of, table_of
from optimizer.commands.page_beside import typed_again
from optimizer.commands.reader import refused, whole
from optimizer.commands.streams import reason, say
from optimizer.errors import BadValue, quoted, safe

if TYPE_CHECKING:
    from optimizer.model.kits import KitPlan

MOST_WORKERS = 256
SCHEDULER = "tcp://127.0.0.1:8786"
CLUSTER = "Install the extra: pip install 'fullbore[cluster]'."


def _kits(text: str) -> int:
    from optimizer.model.shop import MOST_KITS

    return whole(1, MOST_KITS, "2", "number of kits")(text)


def _address(text: str) -> str:
    scheme, _, rest = text.partition("://")
    if scheme not in ("tcp", "tls", "ws", "wss") or ":" not in rest or not text.isprintable():
        raise BadValue(f"{quoted(text)} is no address of a scheduler.", f"Write for example {quoted(SCHEDULER)}.")
    try:
        import distributed  # noqa: F401  an optional extra: looked for before anything is read
    except ModuleNotFoundError:
        raise BadValue("needs the library distributed, which is not installed.", CLUSTER) from None
    return text


def _folder(reader: Reader) -> Path | None:
    from optimizer.model.shop import MOST_KITS

    sorts = [f"{sheet}.{ending}" for sheet in ("", "_shop") for ending in ("html", "txt")]
    names = (f"kit_{number}{sort}" for number in range(1, MOST_KITS + 1) for sort in sorts)
    return reader.outputs.folder("--cards", reader.args.cards, names)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The shop, how its kits are chosen, who solves, and where files go, links followed. None: not asked for."""

    shop: str = value(
        "shop",
        "SHOP",
        "shop.toml",
        "file of the shop: stock, shelf prices, and the tanks of its customers in bands",
        input="the shop file",
        rigs="a rig of the shop",
    )
    kits: int | None = value("--kits", "N", "3", "most kits to offer; replaces the number in the shop file", _kits)
    by: str = choice(
        "--by",
        ("gain", "coverage"),
        "what the choice is best by: gain (weighted, in delivered flow) or coverage (weight of the tanks that a kit fits)",
    )
    workers: int | None = value(
        "--workers", "N", "2", "processes that solve; without it one", whole(1, MOST_WORKERS, "2", "number of workers")
    )
    scheduler: str | None = value(
        "--scheduler", "ADDRESS", SCHEDULER, "a Dask scheduler whose workers solve (extra: cluster)", _address
    )
    csv: Path | None = options.csv("the pieces of the kits", "kits.csv")
    results: Path | None = value(
        "--results",
        "FILE",
        "shop.results",
        "keep answers in a file and take them from it, so that stopped work goes on",
        place="shop.results",
    )
    report: Path | None = options.page("kits.html")
    cards: Path | None = value(
        "--cards",
        "DIR",
        "cards",
        "also write for each kit a card to hand out and a sheet for the shop, as HTML and text, into a folder",
        make=_folder,
    )
    catalog: Path = options.catalog(needed=True)
    full: bool = options.full()
    show: tuple[str, ...] | None = options.show("kits_text")
    typed: str = made(typed_again)


def _check(asked: Asked, reader: Reader) -> None:
    if asked.workers is not None and asked.scheduler is not None:
        reader.keep_one("scheduler", "workers")


def _answer(asked: Asked, progress: Progress | None) -> Told:
    store = api.read_shop(asked.shop, api.read_catalog(asked.catalog))
    with _refusing(asked.workers, asked.scheduler):
        plan = api.kits(
            store,
            by=asked.by,
            most=asked.kits,
            workers=asked.workers or 1,
            scheduler=asked.scheduler,
            results=asked.results,
            progress=None if progress is None else progress.count,
            remark=say,
        )
    outputs = (
        *table_of("--csv", asked.csv, "kits_csv", plan),
        *file_of("--report", asked.report, lambda units: api.page(plan, units).encode("utf-8")),
        *(() if asked.cards is None else (_cards(plan, asked.cards),)),
    )
    part: dict[str, Any] = {"full": asked.full, "show": asked.show or (), "typed": asked.typed}
    return told_of(plan, "kits_text", status_of(plan.status), outputs, **part)


@contextlib.contextmanager
def _refusing(workers: int | None, scheduler: str | None) -> Iterator[None]:
    """Say what is wrong with those who solve, or with earlier results, as of the option that named them."""
    from optimizer.tanks.pool import WorkerLostError
    from optimizer.tanks.solves import ContradictionError

    try:
        yield
    except OSError as error:
        if scheduler is not None:
            what = f"{quoted(scheduler)} does not answer: {safe(str(error))}."
            raise refused("--scheduler", what, "Start a scheduler there, or leave it out.") from error
        if workers is None:
            raise
        what = f"processes cannot be started: {reason(error)}."
        raise refused("--workers", what, "Leave it out: then this process solves.") from error
    except ContradictionError as error:
        what = f"holds what cannot be: {safe(str(error))}."
        raise refused("--results", what, "Name another file, or one that is not there yet.") from error
    except WorkerLostError as error:
        flag, needed = (
            ("--workers", "Give the workers") if scheduler is None else ("--scheduler", "Start workers there, or give them")
        )
        cure = f"{needed} more memory, or leave this out and let one process solve."
        raise refused(flag, f"{safe(str(error))}.", cure) from error


def _cards(plan: KitPlan, folder: Path) -> Output:
    def made(units: str) -> list[tuple[Path, bytes]]:
        from optimizer.report.kit_card import card_html, card_text, file_name
        from optimizer.report.shop_sheet import sheet_html, sheet_text
        from optimizer.report.spoken import spoken

        told = spoken(plan)
        sheets = {".html": card_html, ".txt": card_text, "_shop.html": sheet_html, "_shop.txt": sheet_text}
        return [
            (folder / f"{file_name(kit)}{ending}", text(kit, told, units).encode("utf-8"))
            for kit in told.kits
            for ending, text in sheets.items()
        ]

    return Output(flag="--cards", place=folder, make=made)


COMMAND = Command(__doc__, Asked, _answer, _check, shown="kits by workers scheduler results cards csv report full show")
