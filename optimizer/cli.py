"""The command `fullbore`: reads what was asked, hands it to the Python interface, prints. Nothing else prints."""

from __future__ import annotations

import argparse
import contextlib
import gc
import importlib
import io
import json
import os
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TextIO, TypeVar

from optimizer import halting
from optimizer.cli_bands import bands_wanted, log_wanted
from optimizer.cli_options import BAD_INPUT, COMMAND_LINE, DEMO_CATALOG, build_parser
from optimizer.cli_outputs import Output, Outputs, inputs_of
from optimizer.cli_start import NOTHING_KNOWN, STOPPED
from optimizer.cli_told import Told, say, told_of
from optimizer.errors import BadValue, InputError, Problem, Problems, quoted, safe
from optimizer.money import parse_money
from optimizer.version import version

if TYPE_CHECKING:
    from optimizer.model.alternatives import Alternatives
    from optimizer.model.banded import Banded
    from optimizer.model.catalog import Catalog
    from optimizer.model.dossiers import Dossier
    from optimizer.model.fronts import Front
    from optimizer.model.orders import BuyingOrder
    from optimizer.model.results import Result
    from optimizer.model.rig import Rig

__all__ = ["main"]

ANSWER, NO_BUNDLE = 0, 2
STATUS = {"proved": ANSWER, "infeasible": NO_BUNDLE}

FIRST_PROGRESS_S = 1.0
NEXT_PROGRESS_S = 0.2
PROGRESS_WIDTH = 70
BAR_WIDTH = 20

LONGEST_LINE = 1 << 20

MOST_ALTERNATIVES = 100

DAY_S = 86_400.0
MOST_INTERVAL_DAYS = 730.0

TOLD_BY = {
    **dict.fromkeys(("measure", "diagnose", "verify", "log"), "cli_measure"),
    **dict.fromkeys(("kits", "compare"), "cli_shop"),
    "share": "cli_tanks",
    **dict.fromkeys(("report", "plot"), "cli_report"),
    "ageing": "cli_dirt",
}
"""Commands that a module of their own answers, in its function `told`; it is loaded only then."""

NOT_BESIDE = {
    "why": ("json", "csv", "xlsx", "report", "prove", "quiet"),
    "alternatives": ("csv", "xlsx", "report", "prove"),
    "order": ("csv", "xlsx", "prove"),
    "interval": ("why", "alternatives", "order", "bands", "robust", "prove", "report"),
}
"""What asks for another answer than the bundle itself, with the options that go with the bundle only."""

T = TypeVar("T")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command with the arguments `argv` (without it those of the process) and return its exit status.

    Raises SystemExit where argparse ends the run: for --help and for arguments it cannot read.

    >>> main(["--version"])  # doctest: +ELLIPSIS
    fullbore ...
    0
    """
    if sys.stderr is None:  # Python has none when the caller closed it
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  for as long as the process lasts
    if sys.stdout is None:
        return _fail("The output cannot be written: it is closed.")
    _never_fail_to_encode(sys.stdout, sys.stderr)
    try:
        with halting.listening(), _collecting_seldom():
            return _run(argv)
    except InputError as error:
        return _fail(str(error))
    except OutputError as error:
        return _fail(f"The output cannot be written: {error}.")
    except KeyboardInterrupt:
        say(NOTHING_KNOWN)
        return STOPPED


def entry() -> NoReturn:
    """What the installed command runs: `main`, and then an end at once.

    Everything is written and closed by then; taking the loaded libraries apart would last a tenth of a short run.
    """
    try:
        halting.listen()
        _fill_gaps()
        status = main()
    except KeyboardInterrupt:
        say(NOTHING_KNOWN)
        status = STOPPED
    except SystemExit as end:  # argparse has said why
        status = end.code if isinstance(end.code, int) else ANSWER
    with halting.held():
        for stream in (sys.stdout, sys.stderr):
            with contextlib.suppress(OSError, ValueError, AttributeError):
                stream.flush()
        os._exit(status)


def _fill_gaps() -> None:
    """Let standard streams that the caller closed lead nowhere: the next file that is opened would take the place of one of them,
    and be written into by whatever is meant for it."""
    while True:
        handle = os.open(os.devnull, os.O_RDWR)
        if handle > 2:
            os.close(handle)
            return
        os.set_inheritable(handle, True)


class OutputError(Exception):
    """What is to be printed cannot be printed."""


def _run(argv: Sequence[str] | None) -> int:
    parser = build_parser()
    with _output():
        try:
            args = parser.parse_args(argv)
        finally:
            sys.stdout.flush()  # a help text that cannot be written is noticed here, not at the end of the process
    if args.version:
        return _print(f"fullbore {version()}\n")
    if args.command is None:
        parser.error("no command is given")
    if args.command == "columns":
        # loads the units, which --help and --version do without
        from optimizer.files.columns import column_reference

        return _print(column_reference("markdown" if args.markdown else "text"))
    if args.command == "glossary":
        from optimizer.glossary import glossary_text

        return _print(glossary_text(args.word, "markdown" if args.markdown else "text"))
    if args.command == "new":
        return _interviewed(args)
    if args.command == "drill":
        return _drilled(args)
    if args.command in TOLD_BY:
        return _told(args)
    return _answered(args, _asked(args))


def _answered(args: argparse.Namespace, asked: Asked) -> int:
    # loads the numeric libraries, which --help and --version do without
    from optimizer import api

    catalog = api.read_catalog(asked.folder)
    rig = api.read_rig(args.rig, catalog)
    rig = rig if args.log is None else api.with_log(rig, args.log)
    if asked.why:
        from optimizer.report.measures import system  # loads the units

        text = api.why(rig, catalog, *asked.why, budget=asked.budget, measured=not args.unmeasured)
        lines = (f"{safe(line)}\n" for line in system(args.units).words(text).split("\n"))
        return _print("".join(lines) + _catalog_line(asked))
    flow = _target(rig, args.rig, asked) if args.command == "cheapest" else 0.0
    if args.command == "front":
        _has_end(rig, args.rig, asked)
    progress = Progress(sys.stderr) if sys.stderr.isatty() and not args.quiet else None
    measured = not args.unmeasured
    try:
        if asked.report is not None:
            return _reported(args, asked, rig, catalog, flow, progress, asked.report)
        if args.command == "front" or asked.alternatives is not None or asked.order or asked.bands is not None:
            return _planned(args, asked, rig, catalog, flow, progress)
        more: dict[str, Any] = {"budget": asked.budget, "prove": args.prove, "measured": measured, "progress": progress}
        if asked.interval_days:
            more["interval_days"] = asked.interval_days
        if getattr(args, "mean", False):
            more["by"] = "mean"
        if args.command == "best":
            result = api.best(rig, catalog, **more)
        else:
            result = api.cheapest(rig, catalog, flow_m3s=flow, **more)
    finally:
        if progress is not None:
            progress.clear()
    return _deliver(args, asked, result)


def _planned(
    args: argparse.Namespace, asked: Asked, rig: Rig, catalog: Catalog, flow_m3s: float, progress: Progress | None
) -> int:
    """Answer with a front, a list of alternatives, bands or a buying order. Ctrl-C gives what is known by then."""
    from optimizer import api
    from optimizer.report import alternatives_text, bands_text, front_text, order_text  # loads the units

    with halting.listening():
        halted = halting.pressed_since()
        more: dict[str, Any] = {"budget": asked.budget, "measured": not args.unmeasured, "progress": progress, "halted": halted}
        if args.command == "front":
            front = api.front(rig, catalog, **more)
            outputs = _front_tables(asked, front)
            return _deliver_plan(args, asked, front, front_text.headline, front_text.render, outputs=outputs)
        if asked.alternatives is not None:
            listed = api.alternatives(rig, catalog, asked.alternatives, **more)
            return _deliver_plan(args, asked, listed, alternatives_text.headline, alternatives_text.render)
        if asked.bands is not None:
            wish = {"flow_m3s": flow_m3s, "budget": asked.budget, **asked.bands}
            banded = api.bands(rig, catalog, **wish, progress=progress, halted=halted)
            return _deliver_plan(args, asked, banded, bands_text.headline, bands_text.render)
        order = api.buying_order(rig, catalog, flow_m3s=flow_m3s, **more)
        return _deliver_plan(args, asked, order, order_text.headline, order_text.render)


def _reported(
    args: argparse.Namespace,
    asked: Asked,
    rig: Rig,
    catalog: Catalog,
    flow_m3s: float,
    progress: Progress | None,
    path: Path,
) -> int:
    """Answer, and write the answer with all that belongs to it as a page. Ctrl-C leaves out what is not there by then."""
    from optimizer import cli_report  # loads all kinds of answers

    wish: dict[str, Any] = {"prove": getattr(args, "prove", False), "measured": not args.unmeasured, **(asked.bands or {})}
    with halting.listening():
        halted = halting.pressed_since()
        more = {"flow_m3s": flow_m3s, "budget": asked.budget, **wish}
        found = cli_report.dossier(args, rig, catalog, asked.folder, more, progress, halted)
    status, headline, render = cli_report.worded(args, found)
    page = Output(
        flag="--report",
        place=path,
        make=lambda: [(path, cli_report.page_bytes(found, args.units))],
        told="" if args.json or args.quiet else f"Report: {safe(path.name)}\n",
    )
    if args.command == "front" or found.result is None:
        tables = _front_tables(asked, found.front)
    else:
        tables = _bill(asked, found.result)
        status = status if all(check.agrees for check in found.result.proof.certificates) else "stopped"
    return _deliver_plan(args, asked, found, headline, render, status, (page, *tables))


P = TypeVar("P", "Front", "Alternatives", "Banded", "BuyingOrder", "Dossier")


def _deliver_plan(
    args: argparse.Namespace,
    asked: Asked,
    plan: P,
    headline: Callable[[P, str], str],
    render: Callable[[P, str], str],
    status: str = "",
    outputs: Sequence[Output] = (),
) -> int:
    """Give a front, a list, bands or an order; for ``status`` that of the plan is taken where there is none."""
    told = told_of(
        plan,
        headline,
        lambda plan, units: render(plan, units) + _catalog_line(asked),
        STATUS.get(status or plan.status, STOPPED),
        tuple(outputs),
    )
    return _give(args, told)


def _told(args: argparse.Namespace) -> int:
    """Answer a command that has a module of its own."""
    told = importlib.import_module(f"optimizer.{TOLD_BY[args.command]}").told
    progress = Progress(sys.stderr) if sys.stderr.isatty() and not args.quiet else None
    try:
        found: Told = told(args, progress)
    finally:
        if progress is not None:
            progress.clear()
    return _give(args, found)


def _interviewed(args: argparse.Namespace) -> int:
    """Ask for a tank and write its rig file."""
    from optimizer.cli_new import interviewed  # loads the units

    if sys.stdin is None:  # Python has none when the caller closed it
        return _fail("The answers cannot be read: the input is closed.")
    return interviewed(args, Terminal())


def _drilled(args: argparse.Namespace) -> int:
    """Answer which holes a spray bar should have."""
    problems = Problems()
    folder = _folder(args.catalog, problems)
    wish = _jets_wanted(args, problems)
    problems.raise_if_any(COMMAND_LINE)
    from optimizer import api  # loads the numeric libraries

    rig = api.read_rig(args.rig, api.read_catalog(folder))
    result = api.drill(rig, **wish, drills=args.drills, new_bar=args.new_bar)
    from optimizer.report import drill_text  # loads the units

    status = NO_BUNDLE if result.status == "infeasible" else ANSWER
    return _give(args, told_of(result, drill_text.headline, drill_text.render, status))


# -- what was asked ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The arguments, read and checked. What was not given is None, or empty."""

    folder: Path
    budget: int | None
    flow_m3s: float | None
    per_hour: float | None
    why: tuple[str, ...]
    alternatives: int | None
    order: bool
    bands: dict[str, Any] | None
    csv: Path | None
    xlsx: Path | None
    report: Path | None
    interval_days: float


def _asked(args: argparse.Namespace) -> Asked:
    """Return what the arguments say; raises `InputError` with everything that is wrong with them."""
    problems = Problems()
    folder = _folder(args.catalog, problems)
    read = inputs_of(("the rig file", args.rig), ("the log", args.log), catalog=folder)
    outputs = Outputs(problems, read)
    asked = Asked(
        folder=folder,
        budget=_read("--budget", args.budget, parse_money, problems),
        flow_m3s=_read("--flow", getattr(args, "flow", None), _flow, problems),
        per_hour=_read("--turnover", getattr(args, "turnover", None), _turnover, problems),
        why=_read("--why", getattr(args, "why", None), _parts, problems) or (),
        alternatives=_read("--alternatives", getattr(args, "alternatives", None), _how_many, problems),
        order=getattr(args, "order", False),
        bands=bands_wanted(args, problems),
        csv=outputs.file("--csv", args.csv, "bill.csv"),
        xlsx=outputs.file("--xlsx", getattr(args, "xlsx", None), "bill.xlsx"),
        report=outputs.file("--report", args.report, "tank.html"),
        interval_days=_read("--interval", getattr(args, "interval", None), _interval, problems) or 0.0,
    )
    if getattr(args, "mean", False) and args.interval is None:
        problems.add(Problem(where="--mean", what="needs --interval.", cure="Write for example --interval 60d --mean."))
    log_wanted(args, problems)
    for flag, excluded in NOT_BESIDE.items():
        beside = [other for other in excluded if getattr(args, flag, None) and getattr(args, other, None)]
        if beside:
            what = f"does not go together with --{', --'.join(beside)}."
            problems.add(Problem(where=f"--{flag}", what=what, cure="Ask for the one or for the other."))
    problems.raise_if_any(COMMAND_LINE)
    return asked


def _folder(given: str | None, problems: Problems) -> Path:
    folder = Path(DEMO_CATALOG if given is None else given)
    if given is None and not folder.is_dir():
        what = f"is not given, and there is no folder {DEMO_CATALOG} here."
        problems.add(Problem(where="--catalog", what=what, cure="Write --catalog and the folder that holds pumps.csv."))
    return folder


def _read(flag: str, text: str | None, parse: Callable[[str], T], problems: Problems) -> T | None:
    try:
        return None if text is None else parse(text)
    except BadValue as error:
        problems.add(error.at(flag))
        return None


def _parts(text: str) -> tuple[str, ...]:
    words = tuple(word.strip() for word in text.split(","))
    if all(word.strip("= ") for word in words):
        return words
    raise BadValue(f"{quoted(text)} has a gap.", 'Write ids with commas between them, for example "PUMP-2400MA,OPEN-G34".')


def _how_many(text: str) -> int:
    if text.isascii() and text.isdecimal() and 1 <= int(text[:9]) <= MOST_ALTERNATIVES and len(text) <= 9:
        return int(text)
    raise BadValue(f"{quoted(text)} is no whole number from 1 to {MOST_ALTERNATIVES}.", 'Write for example "5".')


def _flow(text: str) -> float:
    from optimizer.units import FLOW, parse  # loads pint

    return _above_zero(parse(text, FLOW), '"800 l/h"')


def _turnover(text: str) -> float:
    from optimizer.files.rates import parse_turnover

    return _above_zero(parse_turnover(text), '"4 per hour"')


def _interval(text: str) -> float:
    from optimizer.units import TIME, parse

    cure = 'Write for example "60 d" or "8 weeks".'
    try:
        seconds = parse(text, TIME)
    except BadValue as bad:
        raise BadValue(bad.what, cure) from None
    days = _above_zero(seconds, '"60 d"') / DAY_S
    if days < 1.0:
        raise BadValue(f"{quoted(text)} is shorter than a day.", cure)
    if days > MOST_INTERVAL_DAYS:
        raise BadValue(f"{quoted(text)} is longer than two years.", cure)
    return days


def _jets_wanted(args: argparse.Namespace, problems: Problems) -> dict[str, float | None]:
    """Return the bounds on jets and evenness that are asked for; there must be one, and none may exclude another."""
    least = _read("--jet", args.jet, _speed, problems)
    most = _read("--jet-most", args.jet_most, _speed, problems)
    evenness = _read("--evenness", args.evenness, _evenness, problems)
    if args.jet is None and args.jet_most is None and args.evenness is None:
        cure = 'Add --jet "1.2 m/s", --jet-most "0.5 m/s" or --evenness "90 %".'
        problems.add(Problem(where="drill", what="neither a jet speed nor an evenness is asked for.", cure=cure))
    if least is not None and most is not None and least > most:
        what = f"{quoted(args.jet)} is more than the {quoted(args.jet_most)} of --jet-most."
        problems.add(Problem(where="--jet", what=what, cure="Ask for a least speed below the greatest."))
    return {"jet_ms": least, "jet_most_ms": most, "evenness": evenness}


def _speed(text: str) -> float:
    from optimizer.units import SPEED, parse

    return _above_zero(parse(text, SPEED), '"1.2 m/s"')


def _evenness(text: str) -> float:
    from optimizer.units import SHARE, parse

    return _above_zero(parse(text, SHARE), '"90 %"')


def _above_zero(value: float, example: str) -> float:
    if value > 0.0:
        return value
    raise BadValue("must be above zero.", f"Write for example {example}.")


def _has_end(rig: Rig, source: str, asked: Asked) -> None:
    """Raise `InputError` when neither the arguments nor the rig set a budget."""
    if asked.budget is None and rig.limits.budget is None:
        cure = "Add --budget 150, or a budget to [limits] in the rig file."
        raise InputError(source, [Problem(where="limits.budget", what="no budget is set, and a front must end.", cure=cure)])


def _target(rig: Rig, source: str, asked: Asked) -> float:
    """Return the flow to reach in m3/s; raises `InputError` when neither the arguments nor the rig say it."""
    if asked.flow_m3s is not None:
        return asked.flow_m3s
    if asked.per_hour is not None:
        return asked.per_hour * rig.tank.net_m3 / 3600.0
    if rig.target_m3s > 0.0:
        return rig.target_m3s
    cure = 'Add --flow "800 l/h" or --turnover "4 per hour", or a [wish] to the rig file.'
    raise InputError(source, [Problem(where="wish", what="no flow is asked for.", cure=cure)])


# -- what is delivered ---------------------------------------------------------------------------------------------


def _deliver(args: argparse.Namespace, asked: Asked, result: Result) -> int:
    """Give a bundle and its bill; the answer is printed even when the bill cannot be written."""

    def headline(plan: Result, units: str) -> str:
        from optimizer.report import text  # loads the units, which JSON does without

        return text.headline(plan, units)

    def render(plan: Result, units: str) -> str:
        from optimizer.report import text

        return text.render(plan, units) + _catalog_line(asked)

    agreed = all(check.agrees for check in result.proof.certificates)
    status = STATUS.get(result.status, STOPPED) if agreed else STOPPED
    return _give(args, told_of(result, headline, render, status, _bill(asked, result)))


def _catalog_line(asked: Asked) -> str:
    return f"Catalog folder: {safe(str(asked.folder))}\n"


def _bill(asked: Asked, result: Result) -> tuple[Output, ...]:
    """The tables of a bill that are asked for; that there is nothing to buy is said."""
    from optimizer.report.sheet_csv import bill_csv

    if result.best is None:
        for path in filter(None, (asked.csv, asked.xlsx)):
            say(f"No bill is written to {safe(str(path))}: there is nothing to buy.")
        return ()
    return _tables(asked, lambda: bill_csv(result.bill, result.currency), lambda: _bill_xlsx(result))


def _bill_xlsx(result: Result) -> bytes:
    from optimizer.report.sheet_xlsx import bill_xlsx  # loads openpyxl

    return bill_xlsx(result.bill, result.currency)


def _front_tables(asked: Asked, front: Front | None) -> tuple[Output, ...]:
    """The tables of a front that are asked for."""
    if front is None:
        return ()
    from optimizer.report.sheet_csv import front_csv

    return _tables(asked, lambda: front_csv(front), lambda: _front_xlsx(front))


def _front_xlsx(front: Front) -> bytes:
    from optimizer.report.sheet_xlsx import front_xlsx  # loads openpyxl

    return front_xlsx(front)


def _tables(asked: Asked, csv_text: Callable[[], str], xlsx_bytes: Callable[[], bytes]) -> tuple[Output, ...]:
    csv, xlsx = asked.csv, asked.xlsx
    # the mark at the front tells spreadsheets that the text is UTF-8
    first = () if csv is None else (Output(flag="--csv", place=csv, make=lambda: [(csv, csv_text().encode("utf-8-sig"))]),)
    second = () if xlsx is None else (Output(flag="--xlsx", place=xlsx, make=lambda: [(xlsx, xlsx_bytes())]),)
    return (*first, *second)


def _give(args: argparse.Namespace, told: Told) -> int:
    """Print an answer, then write what belongs to it, and return the exit status. Once an answer is known Ctrl-C takes nothing
    of it away: it is printed first, and only what is still to be drawn is left out."""
    with halting.held() as pressed:
        if args.json:
            _print(json.dumps(told.body, sort_keys=True, allow_nan=False, indent=2) + "\n")
        else:
            _print(told.headline(args.units) if args.quiet else told.text(args.units))
    status = _written(told.outputs, pressed)
    return told.status if status == ANSWER else status


def _written(outputs: Sequence[Output], pressed: Callable[[], bool]) -> int:
    """Write files, those of each option whole or not at all, and say what could not be written."""
    status = ANSWER
    for output in outputs:
        where = safe(str(output.place))
        try:
            if pressed():
                raise KeyboardInterrupt
            from optimizer.files.whole_file import write_whole

            write_whole(output.make())
        except KeyboardInterrupt:
            say(f"{output.flag}: {where} is not written: stopped before it was drawn.")
            status = status or STOPPED
        except OSError as error:
            say(f"{output.flag}: {where} cannot be written: {_reason(error)}.")
            status = BAD_INPUT
        else:
            _print(output.told)
    return status


# -- streams -------------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class Progress:
    """Says on a terminal how far the search is, once it has lasted a second; one line that is written over."""

    stream: TextIO
    clock: Callable[[], float] = time.monotonic
    _next_s: float = field(init=False)
    _shown: bool = field(init=False, default=False)

    def __post_init__(self) -> None:
        self._next_s = self.clock() + FIRST_PROGRESS_S

    def __call__(self, nodes: int, flow_m3s: float | None) -> None:
        """Take in how many nodes were looked at and the best flow so far (m3/s, None: no bundle found yet)."""
        now = self.clock()
        if now < self._next_s:
            return
        self._next_s = now + NEXT_PROGRESS_S
        best = "" if flow_m3s is None else f", best so far {flow_m3s * 3.6e6:.0f} l/h"
        self._write(f"Searching: {nodes} nodes{best} (Ctrl-C: stop here)".ljust(PROGRESS_WIDTH))
        self._shown = True

    def count(self, what: str, done: int, of: int) -> None:
        """Take in how many of many questions are answered, and what they are about."""
        now = self.clock()
        if now < self._next_s:
            return
        self._next_s = now + NEXT_PROGRESS_S
        full = BAR_WIDTH * done // max(of, 1)
        bar = f"[{'#' * full}{'.' * (BAR_WIDTH - full)}]"
        self._write(f"{bar} {done} of {of} {what} (Ctrl-C: stop here)".ljust(PROGRESS_WIDTH))
        self._shown = True

    def clear(self) -> None:
        """Take the line away, if there is one."""
        if self._shown:
            self._write(" " * PROGRESS_WIDTH + "\r")
            self._shown = False

    def _write(self, line: str) -> None:
        with contextlib.suppress(OSError):
            self.stream.write(f"\r{line}")
            self.stream.flush()


class Terminal:
    """Asks on the output and reads answers, a line each, from the input; those nobody typed are shown behind the question."""

    def __init__(self) -> None:
        if isinstance(sys.stdin, io.TextIOWrapper):
            sys.stdin.reconfigure(errors="surrogateescape")  # bytes that are no text become a bad answer, not an end

    @property
    def is_terminal(self) -> bool:
        """True when somebody sits at the input."""
        return sys.stdin.isatty()

    def ask(self, prompt: str) -> str | None:
        """Return the next line without its end, None at the end of the input."""
        _print(prompt)
        try:
            line = sys.stdin.readline(LONGEST_LINE)
        except OSError:
            return None
        if not self.is_terminal:
            _print(f"{safe(line.rstrip(chr(10)))}\n")
        return line.rstrip("\r\n") if line else None

    def say(self, text: str) -> None:
        """Print the text."""
        _print(text)


@contextlib.contextmanager
def _collecting_seldom() -> Iterator[None]:
    """Look for unreachable objects less often: hardly any are made while libraries load and arrays are built, and looking
    takes a tenth of a short run."""
    before = gc.get_threshold()
    gc.set_threshold(100_000, 50, 50)
    try:
        yield
    finally:
        gc.set_threshold(*before)


def _never_fail_to_encode(*streams: TextIO) -> None:
    """Let letters of names that the terminal's encoding lacks come out as escapes."""
    for stream in streams:
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _print(text: str) -> int:
    """Print the text, all of it, or raise `OutputError`."""
    with _output():
        sys.stdout.write(text)
        sys.stdout.flush()
    return ANSWER


@contextlib.contextmanager
def _output() -> Iterator[None]:
    """Turn a failure to print into `OutputError`."""
    try:
        yield
    except OSError as error:
        _discard_output()
        reason = "it was closed before the end" if isinstance(error, BrokenPipeError) else _reason(error)
        raise OutputError(reason) from error


def _fail(message: str) -> int:
    say(message)
    return BAD_INPUT


def _reason(error: OSError) -> str:
    return safe(error.strerror or str(error))


def _discard_output() -> None:
    """Let what is still in the output's buffer go nowhere: it must not raise again when the process ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    entry()
