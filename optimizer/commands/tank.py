"""What is asked about one tank and one catalog, and how the answer is given: best, cheapest and front have it in common."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer import api
from optimizer.commands import options
from optimizer.commands.command import Progress, Reader, Told, status_of, told_of
from optimizer.commands.drawn import bands_wanted
from optimizer.commands.options import flag, made, value
from optimizer.commands.outputs import Output, file_of, table_of
from optimizer.commands.page_beside import command_again, page_bytes, typed_again
from optimizer.commands.reader import above_zero, flow
from optimizer.commands.rig_after import rig_after
from optimizer.commands.streams import say
from optimizer.errors import BadValue, quoted, safe
from optimizer.halting import pressed_since
from optimizer.unit_table import SHARE, TIME
from optimizer.units import parse

if TYPE_CHECKING:
    from optimizer.model.catalog import Catalog
    from optimizer.model.fronts import Front
    from optimizer.model.results import Result
    from optimizer.model.rig import Rig

FIRST = "catalog budget flow turnover why alternatives drawn csv xlsx report interval clean_flow"
"""In this order the options are read, and what is wrong with them listed."""

NOT_BESIDE = {
    "why": ("json", "csv", "xlsx", "after", "report", "prove", "proof", "quiet", "full", "show"),
    "alternatives": ("csv", "xlsx", "after", "report", "prove", "proof", "full", "show"),
    "order": ("csv", "xlsx", "after", "prove", "proof", "full", "show"),
    "interval": ("alternatives", "robust", "candidates", "told_apart", "prove", "proof"),
    "bands": ("after",),
    "robust": ("after",),
}
"""What asks for another answer than the bundle itself, with the options that go with the bundle only."""

DAY_S = 86_400.0
MOST_INTERVAL_DAYS = 730.0
MOST_TOLD_APART = 0.5


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


def _share(text: str) -> float:
    try:
        return parse(text, SHARE, minimum=0.0, maximum=MOST_TOLD_APART)
    except BadValue as bad:
        raise BadValue(bad.what, 'Write for example "3 %".') from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """The files of a question about one tank, its money, and where its answer goes besides."""

    rig: str = options.rig()
    catalog: Path = options.catalog(needed=True)
    budget: int | None = options.budget()
    csv: Path | None = options.csv("the bill", "bill.csv")
    xlsx: Path | None = options.xlsx("the bill", "bill.xlsx")
    report: Path | None = options.page(
        "tank.html",
        "also write it as one HTML page with figures, bands, front and buying order; each of these is one more search",
    )
    again: str = made(command_again)
    unmeasured: bool = options.unmeasured()
    log: str | None = options.log()

    @property
    def part(self) -> dict[str, Any]:
        """How much of a bundle is told, as `report.text.render` takes it."""
        return {}

    @property
    def ending(self) -> str:
        """The last line of every text."""
        return f"Catalog folder: {safe(str(self.catalog))}\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle(Tank):
    """What is asked where the answer is a bundle; ``drawn`` are the arguments of `api.bands` (None: no bands are asked for)."""

    bands: bool = flag(
        "--bands",
        "instead of the answer, say how sure its flow and those of the next best bundles are: P10, P90",
        group="answer",
    )
    robust: str | None = value("--robust", "QUANTILE", "P10", "bands, and the bundle that is best at a quantile, from P5 to P95")
    candidates: str | None = value("--candidates", "N", "20", "bundles that bands are drawn for; without it 5, with --robust 20")
    draws: str | None = value("--draws", "N", "10000", "draws of what is not known exactly; without it 2000")
    seed: str | None = value("--seed", "N", "1", "seed of the draws, the same for the same output; without it 1")
    drawn: dict[str, Any] | None = made(bands_wanted)

    after: Path | None = options.after()
    most: bool = flag("--most", "take the most that the budget can buy, whatever the last of it adds")
    told_apart: float | None = value(
        "--told-apart",
        "PERCENT",
        '"3 %"',
        "the least by which two flows differ for you; else by your fills, or 3 %",
        _share,
    )

    full: bool = options.full()
    show: tuple[str, ...] | None = options.show("text")
    typed: str = made(typed_again)

    prove: bool = flag("--prove", "also write out the proof, and check it by a program that knows nothing of the search")
    proof: Path | None = value("--proof", "FILE", "proof.json", "the same, and keep the proof in a file", place="proof.json")
    interval: float | None = value(
        "--interval", "TIME", "60d", "time between cleanings: decide by its last day, limits kept on all days", _interval
    )
    clean_flow: float | None = value(
        "--clean-flow", "FLOW", '"900 l/h"', "with --interval, delivered on the clean day at least, besides", flow
    )
    order: bool = flag(
        "--order", "instead of the answer, say in which order to buy it when the money comes bit by bit", group="answer"
    )

    @property
    def rule(self) -> dict[str, Any]:
        """How the step to take is chosen, as `api.advise` takes it."""
        return {"told_apart": self.told_apart, "most": self.most}

    @property
    def part(self) -> dict[str, Any]:
        """How much of a bundle is told, as `report.text.render` takes it."""
        return {"full": self.full, "show": self.show or (), "typed": self.typed}

    @property
    def ending(self) -> str:
        """The last line of every text but of sections alone, which stand for themselves."""
        return "" if self.show else super(Bundle, self).ending


def check(asked: Tank, reader: Reader) -> None:
    """Note what does not go together."""
    if reader.given("mean") and reader.given("interval") is None:
        reader.wrong("--mean", "needs --interval.", "Write for example --interval 60d --mean.")
    if reader.given("clean_flow") and reader.given("interval") is None:
        reader.wrong("--clean-flow", "needs --interval.", 'Write for example --interval 60d --clean-flow "900 l/h".')
    reader.fills_or_none(asked.unmeasured, asked.log)


def opened(asked: Tank) -> tuple[Rig, Catalog]:
    """The rig and its catalog. Raises InputError with all problems of a file."""
    catalog = api.read_catalog(asked.catalog)
    rig = api.read_rig(asked.rig, catalog)
    return rig if asked.log is None else api.with_log(rig, asked.log), catalog


def bundle(asked: Bundle, rig: Rig, catalog: Catalog, progress: Progress | None, **wanted: Any) -> Told:
    """The best bundle, or with ``flow_m3s`` the cheapest that delivers it, or what was asked of it instead; ``wanted`` is more
    for that function of `api`. Ctrl-C gives what is known by then."""
    wanted |= over_days(asked)
    kept: list[str] = []
    if asked.report is not None:
        drawn = asked.drawn or {}
        block = "order" if asked.order else "result" if asked.drawn is None else "bands"
        paged = {**wanted, **asked.rule, "prove": kept.append if asked.proof else asked.prove, **drawn}
        told = with_page(asked, asked.report, rig, catalog, progress, block, paged)
        return replace(told, outputs=(*told.outputs, *_proof_file(asked.proof, kept)))
    more: dict[str, Any] = {"budget": asked.budget, "measured": not asked.unmeasured, "progress": progress, **wanted}
    if asked.drawn is not None:
        banded = api.bands(rig, catalog, **more, **asked.rule, **asked.drawn, halted=pressed_since())
        return told_of(banded, "bands_text", status_of(banded.status), ending=asked.ending)
    if asked.order:
        order = api.buying_order(rig, catalog, **more, **asked.rule, halted=pressed_since())
        return told_of(order, "order_text", status_of(order.status), ending=asked.ending)
    if asked.interval is None:
        result = api.advise(rig, catalog, **more, **asked.rule, prove=kept.append if asked.proof else asked.prove)
    else:
        result = (api.cheapest if "flow_m3s" in wanted else api.best)(rig, catalog, **more)
    status = status_of(result.status if _agreed(result) else "stopped")
    files = (*_bill_tables(asked, rig, catalog, result), *_proof_file(asked.proof, kept))
    return told_of(result, "text", status, files, ending=asked.ending, **asked.part)


def _proof_file(place: Path | None, kept: list[str]) -> tuple[Output, ...]:
    """The proof that is asked for as a file; that there is none is said."""
    if place is not None and not kept:
        say(f"No proof is written to {safe(str(place))}: there is none, as the answer says.")
        return ()
    return file_of("--proof", place, lambda _: kept[0].encode())


def over_days(asked: Bundle) -> dict[str, Any]:
    """The interval that is asked about, as arguments of `api`."""
    if asked.interval is None:
        return {}
    return {"interval_days": asked.interval, "clean_flow_m3s": asked.clean_flow or 0.0}


def with_page(
    asked: Tank,
    place: Path,
    rig: Rig,
    catalog: Catalog,
    progress: Progress | None,
    block: str,
    more: dict[str, Any],
) -> Told:
    """The answer with all that belongs to it, as a page too; ``more`` are arguments of `api.dossier`. Ctrl-C leaves out what is
    not there by then.

    What is printed is the ``block`` that was asked for; where that was left out, the result.
    """
    from optimizer.files.input_hashes import input_hashes
    from optimizer.model.dossiers import Made
    from optimizer.version import version

    inputs = input_hashes(asked.rig, asked.catalog, asked.log)
    made_with = Made(version=version(), command=asked.again, inputs=inputs, day=date.today().isoformat())
    also = {"budget": asked.budget, "measured": not asked.unmeasured, "progress": progress, **more}
    found = api.dossier(rig, catalog, **also, made=made_with, halted=pressed_since())
    shown: Any = getattr(found, block)
    words = f"{block}_text"
    if shown is None or block == "result":
        shown, words = found.result, "text"
    status = status_of(shown.status)
    if block == "front" or found.result is None:
        tables = () if found.front is None else front_tables(asked, found.front)
    else:
        tables = _bill_tables(asked, rig, catalog, found.result)
        status = status if _agreed(found.result) else status_of("stopped")
    drawn = file_of("--report", place, lambda units: page_bytes(found, units), f"Report: {safe(place.name)}\n")
    part = asked.part if words == "text" else {}
    return told_of(found, words, status, (*drawn, *tables), ending=asked.ending, block=shown, **part)


def _agreed(result: Result) -> bool:
    return all(check.agrees for check in result.proof.certificates)


def _bill_tables(asked: Tank, rig: Rig, catalog: Catalog, result: Result) -> tuple[Output, ...]:
    """The tables of a bill that are asked for, and the rig as it will be; that there is nothing to buy is said."""
    after = asked.after if isinstance(asked, Bundle) else None
    if result.best is None:
        for path in filter(None, (asked.csv, asked.xlsx)):
            say(f"No bill is written to {safe(str(path))}: there is nothing to buy.")
        if after is not None:
            say(f"No rig is written to {safe(str(after))}: there is nothing to fit.")
        return ()
    return (
        *(() if after is None else (rig_after(asked.rig, after, rig, catalog, result),)),
        *table_of("--csv", asked.csv, "bill_csv", result.bill, result.currency),
        *table_of("--xlsx", asked.xlsx, "bill_xlsx", result.bill, result.currency),
    )


def front_tables(asked: Tank, front: Front) -> tuple[Output, ...]:
    """The tables of a front that are asked for."""
    return (*table_of("--csv", asked.csv, "front_csv", front), *table_of("--xlsx", asked.xlsx, "front_xlsx", front))
