"""What the commands measure, diagnose, verify and log are asked, and their answers ready to be printed."""

from __future__ import annotations

import argparse
import contextlib
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from optimizer import api
from optimizer.answers.log_lines import CLEANABLE
from optimizer.cli_options import COMMAND_LINE, DEMO_CATALOG
from optimizer.cli_told import Told, told_of
from optimizer.errors import BadValue, InputError, Problem, Problems, Where, quoted
from optimizer.files.cell_text import checked_text, chosen
from optimizer.files.rig_fills import read_fills
from optimizer.files.toml_keys import Report
from optimizer.halting import held
from optimizer.measure.log import fill_entry, watts_entry
from optimizer.model.catalog import Catalog
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import LogEntry, WattsRead
from optimizer.model.said import notes_on
from optimizer.money import parse_money
from optimizer.report import diagnose_text, log_text, measure_text, verify_text
from optimizer.units import FLOW, POWER, parse

if TYPE_CHECKING:
    from optimizer.model.rig import Rig

__all__ = ["told"]

KEYS = {
    "volume": "--volume",
    "seconds": "--seconds",
    "mark": "--mark",
    "container": "--container",
    "above_water": "--above",
    "below_water": "--below",
    "state": "--state",
    "date": "--date",
}
"""Keys of [[fill]] in a rig file, by the options that say the same."""

EXAMPLES = {
    "volume": '"10 l"',
    "seconds": "61,60.5,62",
    "mark": '"0.1 l"',
    "above_water": '"3 cm"',
    "below_water": '"3 cm"',
    "date": "2026-03-01",
}
MOST_POWER_W = 10_000.0
FIRST_DAY = date(1950, 1, 1)
"""Nobody's log of a filter goes back further; an earlier year is a slip."""

MOST_APART = 3.0
"""A decimal comma makes two times of one; repeats that differ by more than this factor are none."""

Progress = Callable[[int, float | None], None]
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A fill of the command line, and what was assumed of it."""

    fill: TimedFill
    notes: tuple[str, ...]


def told(args: argparse.Namespace, progress: Progress | None = None) -> Told:
    """Answer one of the four commands. Raises `InputError` with everything that is wrong with arguments or files."""
    return {"measure": _measure, "diagnose": _diagnose, "verify": _verify, "log": _log}[args.command](args, progress)


def _measure(args: argparse.Namespace, _: Progress | None) -> Told:
    problems = Problems()
    fill, power_w = _fill(args, problems), _power(args, problems)
    problems.raise_if_any(COMMAND_LINE)
    rig = _filled(_rig(args.rig, _catalog(args)), fill)
    if not rig.fills:
        cure = 'Add [[fill]] to the rig file, or --volume "10 l" --seconds 61,60.5,62.'
        raise InputError(args.rig, [Problem(where="fill", what="nothing was timed.", cure=cure)])
    return told_of(api.measure(rig, power_w=power_w), measure_text.headline, measure_text.render)


def _diagnose(args: argparse.Namespace, progress: Progress | None) -> Told:
    problems = Problems()
    fill, power_w = _fill(args, problems), _power(args, problems)
    budget = _read("--budget", args.budget, parse_money, problems)
    if args.today and budget is not None:
        problems.add(Problem(where="--today", what="does not go together with --budget.", cure="Keep one of the two."))
    problems.raise_if_any(COMMAND_LINE)
    catalog = _catalog(args)
    rig = _filled(_rig(args.rig, catalog), fill)
    rig = rig if args.log is None else api.with_log(rig, args.log)
    shop = None if args.today or not catalog.products else catalog
    found = api.diagnose(rig, shop, power_w=power_w, budget=budget, progress=progress)
    return told_of(found, diagnose_text.headline, diagnose_text.render)


def _verify(args: argparse.Namespace, _: Progress | None) -> Told:
    catalog = _catalog(args)
    rigs, problems = [], Problems()
    for path in (args.before, args.after):
        try:
            rig = _rig(path, catalog)
            rigs.append(rig)
            if not rig.fills and args.log is None:
                cure = 'Write [[fill]] and below it volume = "10 l" and seconds = [61.2, 60.8, 61.5].'
                problems.add(Problem(where=Where(_named(path), "fill"), what="nothing was timed.", cure=cure))
        except InputError as error:
            problems.extend(_placed(error))
    if len(problems):
        problems.raise_if_any(_named(args.before))
    before, after = rigs
    if args.log is not None:
        before, after = api.both_with_log(before, after, args.log)
    return told_of(api.verify(before, after), verify_text.headline, verify_text.render)


def _log(args: argparse.Namespace, _: Progress | None) -> Told:
    problems = Problems()
    new = tuple(_entries(args, problems))
    flow_m3s = _read("--flow", args.flow, _flow, problems)
    if args.catalog is not None and args.rig is None:
        problems.add(Problem(where="--catalog", what="is of use with --rig only.", cure="Add --rig, or leave it out."))
    problems.raise_if_any(COMMAND_LINE)
    rig = None if args.rig is None else _rig(args.rig, _catalog(args))
    with held() if new else contextlib.nullcontext():  # who enters something is told that it is entered
        found = api.log(args.file, *new, rig=rig, flow_m3s=flow_m3s or 0.0)
    return told_of(found, log_text.headline, log_text.render)


# -- files ---------------------------------------------------------------------------------------------------------


def _catalog(args: argparse.Namespace) -> Catalog:
    """The catalog that is named or at hand; without one a rig can still describe all its parts itself."""
    if args.catalog is None and not Path(DEMO_CATALOG).is_dir():
        return Catalog(parts={}, products=())
    return api.read_catalog(Path(DEMO_CATALOG if args.catalog is None else args.catalog))


def _rig(path: str, catalog: Catalog) -> Rig:
    return api.read_rig(path, catalog)


def _filled(rig: Rig, given: Given | None) -> Rig:
    """The rig with the fill of the command line in place of its own, and what was assumed of it."""
    if given is None:
        return rig
    notes = [note for note in rig.notes if note not in notes_on(rig.notes, "fill")]
    return replace(rig, fills=(given.fill,), notes=(*notes, *given.notes))


def _named(path: str) -> str:
    return Path(path).name or path


def _placed(error: InputError) -> Iterator[Problem]:
    """The problems of one file, each with its name, so that those of two files make one list."""
    return (problem.in_file(error.source) for problem in error.problems)


# -- what was measured or done -------------------------------------------------------------------------------------


def _fill(args: argparse.Namespace, problems: Problems) -> Given | None:
    """The fill on the command line, read like one of a rig file; None when there is none."""
    # the day of an entry in a log is that of a cleaning or a change too
    keys = [key for key in KEYS if key != "date" or args.command != "log"]
    given = {key: getattr(args, KEYS[key][2:]) for key in keys if getattr(args, KEYS[key][2:]) is not None}
    if "volume" not in given and "seconds" not in given:
        cure = 'Add --volume "10 l" and --seconds 61,60.5.'
        problems.extend(Problem(where=KEYS[key], what="belongs to a fill.", cure=cure) for key in given)
        return None
    table: dict[str, object] = dict(given)
    if "seconds" in given:
        table["seconds"] = [_time(text.strip()) for text in given["seconds"].split(",")]
    report = Report()
    found = read_fills([table], report)
    for problem in report.problems:
        key = problem.where.rpartition(".")[2]
        own = key in EXAMPLES and "Keep" not in problem.cure
        cure = f"Write for example {KEYS[key]} {EXAMPLES[key]}." if own else problem.cure
        problems.add(Problem(where=KEYS.get(key, problem.where), what=problem.what, cure=cure))
    if found and max(found[0].seconds) > MOST_APART * min(found[0].seconds):
        what = f"{quoted(given['seconds'])} holds times that are no repeats of one fill."
        cure = "Write commas between times and points in decimals: 61.5,60.8."
        problems.add(Problem(where="--seconds", what=what, cure=cure))
    return Given(fill=found[0], notes=tuple(report.notes)) if found else None


def _time(text: str) -> float | str:
    """A bare number counts seconds, as a stopwatch shows them; all else goes to the reader of times."""
    return float(text) if re.fullmatch(r"[0-9]{1,9}(\.[0-9]{0,9})?", text, re.ASCII) else text


def _power(args: argparse.Namespace, problems: Problems) -> float:
    return _read("--watts", args.watts, _watts, problems) or 0.0


def _watts(text: str) -> float:
    plain = re.fullmatch(r"[0-9]{1,9}(\.[0-9]{0,9})?", text.strip(), re.ASCII)
    value = float(text) if plain else parse(text, POWER)
    if 0.0 < value <= MOST_POWER_W:
        return value
    raise BadValue(f"{quoted(text)} is no power from 0 to {MOST_POWER_W:.0f} W.", 'Write for example "18".')


def _flow(text: str) -> float:
    value = parse(text, FLOW)
    if value > 0.0:
        return value
    raise BadValue("must be above zero.", 'Write for example "800 l/h".')


def _entries(args: argparse.Namespace, problems: Problems) -> Iterator[LogEntry]:
    """What is to be written, in its order."""
    day = _read("--date", args.date, _day, problems) or date.today().isoformat()
    fill = _fill(args, problems)
    power = _power(args, problems)
    cleaned = _read("--cleaned", args.cleaned, _cleaned, problems)
    changed = _read("--changed", args.changed, _changed, problems)
    measured = fill is not None or args.watts is not None
    if sum((measured, args.cleaned is not None, args.changed is not None)) > 1:
        cure = "Write them one after the other, in the order they happened."
        problems.add(Problem(where="log", what="a fill, a cleaning and a change are entries of their own.", cure=cure))
    if args.date is not None and not (measured or args.cleaned or args.changed):
        problems.add(Problem(where="--date", what="belongs to an entry.", cure="Say what was done on that day, or leave it out."))
    if fill is not None:
        yield fill_entry(replace(fill.fill, date=day))
    if power:
        yield watts_entry(WattsRead(power_w=power, date=day))
    if cleaned:
        yield LogEntry(kind="cleaning", date=day, data={"what": list(cleaned)})
    if changed:
        yield LogEntry(kind="change", date=day, data={"what": changed})


def _day(text: str) -> str:
    cure = "Write year, month and day, for example 2026-03-01."
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        raise BadValue(f"{quoted(text)} is no date.", cure) from None
    if day > date.today() + timedelta(days=1):  # elsewhere it may be tomorrow already
        raise BadValue(f"{quoted(text)} has not come yet.", "Enter what was done on its day, or later.")
    if day < FIRST_DAY:
        raise BadValue(f"{quoted(text)} is before {FIRST_DAY.isoformat()}.", cure)
    return day.isoformat()


def _cleaned(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(chosen(tuple(CLEANABLE), word.strip()) for word in text.split(",")))


def _changed(text: str) -> str:
    if text.strip():
        return checked_text(text.strip())
    raise BadValue("the text is empty.", 'Write for example "bar re-drilled to 3 mm".')


def _read(flag: str, text: str | None, reader: Callable[[str], T], problems: Problems) -> T | None:
    try:
        return None if text is None else reader(text)
    except BadValue as error:
        problems.add(error.at(flag))
        return None
