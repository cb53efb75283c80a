"""What is measured and told on the command line: a timed fill and the power drawn."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from optimizer.commands.options import made, value
from optimizer.commands.reader import Reader
from optimizer.errors import BadValue, quoted
from optimizer.model.said import notes_on
from optimizer.unit_table import POWER
from optimizer.units import parse

if TYPE_CHECKING:
    from optimizer.model.fill import TimedFill
    from optimizer.model.rig import Rig

KEYS = {
    "volume": "volume",
    "seconds": "seconds",
    "mark": "mark",
    "container": "container",
    "above_water": "above",
    "below_water": "below",
    "state": "state",
    "date": "date",
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

MOST_APART = 3.0
"""A decimal comma makes two times of one; repeats that differ by more than this factor are none."""


def _watts(text: str) -> float:
    plain = re.fullmatch(r"[0-9]{1,9}(\.[0-9]{0,9})?", text.strip(), re.ASCII)
    found = float(text) if plain else parse(text, POWER)
    if 0.0 < found <= MOST_POWER_W:
        return found
    raise BadValue(f"{quoted(text)} is no power from 0 to {MOST_POWER_W:.0f} W.", 'Write for example "18".')


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A fill of the command line, and what was assumed of it."""

    fill: TimedFill
    notes: tuple[str, ...]

    def in_place(self, rig: Rig) -> Rig:
        """The rig with this fill in place of its own."""
        notes = [note for note in rig.notes if note not in notes_on(rig.notes, "fill")]
        return replace(rig, fills=(self.fill,), notes=(*notes, *self.notes))


def fill_given(reader: Reader, *, dated: bool = True) -> Given | None:
    """The fill on the command line, read like one of a rig file; None when there is none. Not ``dated``: --date is of more."""
    texts = {key: reader.given(name) for key, name in KEYS.items() if key != "date" or dated}
    given = {key: text for key, text in texts.items() if text is not None}
    if "volume" not in given and "seconds" not in given:
        for key in given:
            reader.wrong(f"--{KEYS[key]}", "belongs to a fill.", 'Add --volume "10 l" and --seconds 61,60.5.')
        return None
    table: dict[str, object] = dict(given)
    if "seconds" in given:
        table["seconds"] = [_time(text.strip()) for text in given["seconds"].split(",")]
    found = _read(reader, table)
    if found and max(found.fill.seconds) > MOST_APART * min(found.fill.seconds):
        what = f"{quoted(given['seconds'])} holds times that are no repeats of one fill."
        reader.wrong("--seconds", what, "Write commas between times and points in decimals: 61.5,60.8.")
    return found


def _read(reader: Reader, table: dict[str, object]) -> Given | None:
    from optimizer.files.rig_fills import read_fills
    from optimizer.files.toml_keys import Report

    report = Report()
    found = read_fills([table], report)
    for problem in report.problems:
        key = problem.where.rpartition(".")[2]
        own = key in EXAMPLES and "Keep" not in problem.cure
        cure = f"Write for example --{KEYS[key]} {EXAMPLES[key]}." if own else problem.cure
        reader.wrong(f"--{KEYS[key]}" if key in KEYS else problem.where, problem.what, cure)
    return Given(fill=replace(found[0], power_w=_read_beside(reader)), notes=tuple(report.notes)) if found else None


def _read_beside(reader: Reader) -> float:
    """The power that a meter showed beside the fill, 0 for none; what is wrong with it is told where the option is read."""
    try:
        return _watts(reader.given("watts") or "")
    except BadValue:
        return 0.0


def _time(text: str) -> float | str:
    """A bare number counts seconds, as a stopwatch shows them; all else goes to the reader of times."""
    return float(text) if re.fullmatch(r"[0-9]{1,9}(\.[0-9]{0,9})?", text, re.ASCII) else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Timed:
    """What is said of a fill, the fill that was made of it (None: nothing was timed), and in ``watts`` the power drawn in W."""

    volume: str | None = value("--volume", "VOLUME", '"10 l"', "a fill: what the container holds up to its mark")
    seconds: str | None = value("--seconds", "TIMES", "61,60.5,62", "a fill: how long it took, each repeat")
    above: str | None = value(
        "--above", "HEIGHT", '"3 cm"', "a fill: mouth of the water above the tank's water line; without it at the line"
    )
    below: str | None = value("--below", "DEPTH", '"40 cm"', "a fill: mouth of the water below the tank's water line")
    state: str | None = value(
        "--state", "WORDS", '"guard off"', "a fill: how the loop differed from what the rig file describes, with commas"
    )
    mark: str | None = value("--mark", "VOLUME", '"0.1 l"', "a fill: how far the mark may be off; without it 2 % of the volume")
    container: str | None = value(
        "--container", "NAME", '"blue bucket"', "a fill: which container; without it those of one volume count as one"
    )
    fill: Given | None = made(fill_given)
    watts: float | None = value(
        "--watts", "POWER", "18", "what a meter at the socket shows for the pump; beside a fill: during it", _watts
    )

    @property
    def alone_w(self) -> float:
        """The power that was read with no fill beside it, 0 for none."""
        return self.watts or 0.0 if self.fill is None else 0.0
