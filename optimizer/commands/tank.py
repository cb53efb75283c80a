"""What is asked about one tank and one catalog, and how the answer is given: best, cheapest and front have it in common."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer import api
from optimizer.commands.drawn import DRAWN, bands_wanted
from optimizer.commands.options import BUDGET, CATALOG, JSON, PAGE, QUIET, UNITS, csv, flag, value, xlsx
from optimizer.commands.outputs import Output, Outputs, file_of, table_of
from optimizer.commands.page_beside import Page, command_again, page_bytes
from optimizer.commands.reader import Reader, above_zero, flow, whole
from optimizer.commands.streams import Progress, say
from optimizer.commands.told import Told, status_of, told_of
from optimizer.errors import BadValue, InputError, Problem, quoted, safe
from optimizer.halting import pressed_since
from optimizer.units import TIME, parse

if TYPE_CHECKING:
    from optimizer.model.catalog import Catalog
    from optimizer.model.fronts import Front
    from optimizer.model.results import Result
    from optimizer.model.rig import Rig

__all__ = [
    "BANDS", "DRAWN", "INTERVAL", "NOT_BESIDE", "ORDER", "SHARED", "Asked", "bundle", "front_tables", "opened", "read",
    "with_page", "wrong_in_rig",
]  # fmt: skip

PROVE = flag("--prove", "also check the answer by an independent route; takes longer")
SHARED = (CATALOG, BUDGET, JSON, PROVE, csv("the bill", "bill.csv"), xlsx("the bill", "bill.xlsx"), PAGE, UNITS, QUIET)
"""Options of the commands whose answer is a bundle."""

INTERVAL = value("--interval", "TIME", "60d", "time between cleanings: decide by its last day, limits kept on all days")
ORDER = flag("--order", "instead of the answer, say in which order to buy it when the money comes bit by bit")
BANDS = flag("--bands", "instead of the answer, say how sure its flow and those of the next best bundles are: P10, P50, P90")

NOT_BESIDE = {
    "why": ("json", "csv", "xlsx", "report", "prove", "quiet"),
    "alternatives": ("csv", "xlsx", "report", "prove"),
    "order": ("csv", "xlsx", "prove"),
    "interval": ("why", "alternatives", "order", "bands", "robust", "prove", "report"),
}
"""What asks for another answer than the bundle itself, with the options that go with the bundle only."""

MOST_ALTERNATIVES = 100
DAY_S = 86_400.0
MOST_INTERVAL_DAYS = 730.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The arguments, read and checked. What was not given is None, or empty."""

    rig: str
    log: str | None
    folder: Path
    budget: int | None
    flow_m3s: float | None
    per_hour: float | None
    why: tuple[str, ...]
    alternatives: int | None
    order: bool
    bands: dict[str, int | str] | None
    prove: bool
    measured: bool
    csv: Path | None
    xlsx: Path | None
    page: Page | None
    interval: dict[str, Any]

    @property
    def ending(self) -> str:
        """The last line of every text."""
        return f"Catalog folder: {safe(str(self.folder))}\n"


def read(reader: Reader) -> Asked:
    """Read what is asked; an option that a command does not have is one that was not given."""
    args, folder = reader.args, reader.folder()
    outputs = reader.outputs(("the rig file", args.rig), ("the log", args.log), catalog=folder)
    asked = Asked(
        rig=args.rig,
        log=args.log,
        folder=folder,
        budget=reader.budget(),
        flow_m3s=reader.value("flow", flow),
        per_hour=reader.value("turnover", _turnover),
        why=reader.value("why", _parts) or (),
        alternatives=reader.value("alternatives", whole(1, MOST_ALTERNATIVES, "5")),
        order=bool(reader.given("order")),
        bands=bands_wanted(reader),
        prove=bool(reader.given("prove")),
        measured=not args.unmeasured,
        csv=outputs.file("--csv", args.csv, "bill.csv"),
        xlsx=outputs.file("--xlsx", args.xlsx, "bill.xlsx"),
        page=_page(reader, folder, outputs),
        interval=_interval_wanted(reader),
    )
    if args.unmeasured and args.log is not None:
        reader.keep_one("log", "unmeasured")
    return asked


def opened(asked: Asked) -> tuple[Rig, Catalog]:
    """The rig and its catalog. Raises InputError with all problems of a file."""
    catalog = api.read_catalog(asked.folder)
    rig = api.read_rig(asked.rig, catalog)
    return rig if asked.log is None else api.with_log(rig, asked.log), catalog


def wrong_in_rig(asked: Asked, where: str, what: str, cure: str) -> InputError:
    """What neither the arguments nor the rig say."""
    return InputError(asked.rig, [Problem(where=where, what=what, cure=cure)])


# -- what is asked -------------------------------------------------------------------------------------------------


def _page(reader: Reader, folder: Path, outputs: Outputs) -> Page | None:
    args = reader.args
    place = outputs.file("--report", args.report, "tank.html")
    if place is None:
        return None
    said = "" if args.json or args.quiet else f"Report: {safe(place.name)}\n"
    return Page(place=place, units=args.units, said=said, command=command_again(args, reader.options, folder))


def _interval_wanted(reader: Reader) -> dict[str, Any]:
    """The interval and what decides over it, by the names of `api.best`."""
    days, mean = reader.value("interval", _interval), reader.given("mean")
    if mean and reader.given("interval") is None:
        reader.wrong("--mean", "needs --interval.", "Write for example --interval 60d --mean.")
    return ({"interval_days": days} if days else {}) | ({"by": "mean"} if mean else {})


def _parts(text: str) -> tuple[str, ...]:
    words = tuple(word.strip() for word in text.split(","))
    if all(word.strip("= ") for word in words):
        return words
    raise BadValue(f"{quoted(text)} has a gap.", 'Write ids with commas between them, for example "PUMP-2400MA,OPEN-G34".')


def _turnover(text: str) -> float:
    from optimizer.files.rates import parse_turnover

    return above_zero(parse_turnover(text), '"4 per hour"')


def _interval(text: str) -> float:
    cure = 'Write for example "60 d" or "8 weeks".'
    try:
        seconds = parse(text, TIME)
    except BadValue as bad:
        raise BadValue(bad.what, cure) from None
    days = above_zero(seconds, '"60 d"') / DAY_S
    if days < 1.0:
        raise BadValue(f"{quoted(text)} is shorter than a day.", cure)
    if days > MOST_INTERVAL_DAYS:
        raise BadValue(f"{quoted(text)} is longer than two years.", cure)
    return days


# -- what is given -------------------------------------------------------------------------------------------------


def bundle(asked: Asked, rig: Rig, catalog: Catalog, progress: Progress | None, flow_m3s: float = 0.0) -> Told:
    """The best bundle, or with a flow the cheapest that delivers it, or what was asked of it instead. Ctrl-C gives what is known
    by then."""
    if asked.page is not None:
        block = "bands" if asked.bands is not None else "order" if asked.order else "result"
        return with_page(asked, asked.page, rig, catalog, progress, flow_m3s, block)
    wanted: dict[str, Any] = {"flow_m3s": flow_m3s} if flow_m3s else {}
    more: dict[str, Any] = {"budget": asked.budget, "measured": asked.measured, "progress": progress}
    if asked.alternatives is not None:
        listed = api.alternatives(rig, catalog, asked.alternatives, **more, halted=pressed_since())
        return told_of(listed, "alternatives_text", status_of(listed.status), ending=asked.ending)
    if asked.bands is not None:
        banded = api.bands(rig, catalog, **wanted, **{**more, **asked.bands}, halted=pressed_since())
        return told_of(banded, "bands_text", status_of(banded.status), ending=asked.ending)
    if asked.order:
        order = api.buying_order(rig, catalog, **wanted, **more, halted=pressed_since())
        return told_of(order, "order_text", status_of(order.status), ending=asked.ending)
    find = api.cheapest if flow_m3s else api.best
    result = find(rig, catalog, **wanted, **more, **asked.interval, prove=asked.prove)
    return told_of(result, "text", _status(result), _bill_tables(asked, result), ending=asked.ending)


def with_page(
    asked: Asked,
    page: Page,
    rig: Rig,
    catalog: Catalog,
    progress: Progress | None,
    flow_m3s: float = 0.0,
    block: str = "result",
) -> Told:
    """The answer with all that belongs to it, as a page too. Ctrl-C leaves out what is not there by then.

    What is printed is the ``block`` that was asked for; where that was left out, the result.
    """
    from optimizer.files.input_hashes import input_hashes
    from optimizer.model.dossiers import Made
    from optimizer.version import version

    made = Made(version=version(), command=page.command, inputs=input_hashes(asked.rig, asked.folder, asked.log))
    more: dict[str, Any] = {"budget": asked.budget, "prove": asked.prove, "measured": asked.measured, **(asked.bands or {})}
    found = api.dossier(rig, catalog, flow_m3s=flow_m3s, **more, made=made, progress=progress, halted=pressed_since())
    shown: Any = getattr(found, block)
    words = f"{block}_text"
    if shown is None or block == "result":
        shown, words = found.result, "text"
    status = status_of(shown.status)
    if block == "front" or found.result is None:
        tables = () if found.front is None else front_tables(asked, found.front)
    else:
        tables = _bill_tables(asked, found.result)
        status = status if _agreed(found.result) else status_of("stopped")
    drawn = file_of("--report", page.place, lambda: page_bytes(found, page.units), page.said)
    return told_of(found, words, status, (*drawn, *tables), ending=asked.ending, block=shown)


def _status(result: Result) -> int:
    return status_of(result.status if _agreed(result) else "stopped")


def _agreed(result: Result) -> bool:
    return all(check.agrees for check in result.proof.certificates)


def _bill_tables(asked: Asked, result: Result) -> tuple[Output, ...]:
    """The tables of a bill that are asked for; that there is nothing to buy is said."""
    if result.best is None:
        for path in filter(None, (asked.csv, asked.xlsx)):
            say(f"No bill is written to {safe(str(path))}: there is nothing to buy.")
        return ()

    return (
        *table_of("--csv", asked.csv, "bill_csv", result.bill, result.currency),
        *table_of("--xlsx", asked.xlsx, "bill_xlsx", result.bill, result.currency),
    )


def front_tables(asked: Asked, front: Front) -> tuple[Output, ...]:
    """The tables of a front that are asked for."""
    return (*table_of("--csv", asked.csv, "front_csv", front), *table_of("--xlsx", asked.xlsx, "front_xlsx", front))
