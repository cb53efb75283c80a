"""Fills that were timed, from the list [[fill]] of a rig file, and one more of them in its text."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping

from optimizer.errors import BadValue
from optimizer.files.decimals import TWO_WAYS
from optimizer.files.rig_places import mouth_height
from optimizer.files.rig_writer import toml_text
from optimizer.files.toml_fields import FILL
from optimizer.files.toml_keys import Report, listed, read_keys
from optimizer.model.fill import HOSE_OFF, OUTLET_OFF, VOLUME_SHARE, TimedFill
from optimizer.model.said import Note

__all__ = ["read_fills", "with_fill"]

MOST_FILLS = (500, " fills", "Leave the oldest out.")
MOST_TIMES = 100
CURE = 'Write [[fill]] and below it volume = "10 l" and seconds = [61.2, 60.8, 61.5].'


def read_fills(raw: object, report: Report) -> tuple[TimedFill, ...]:
    """Return the fills in the list [[fill]] that could be read; what is wrong with the others goes to `report`.

    >>> tables = [{"volume": "10 l", "seconds": [61.2, "1 min 0.8 s"], "below_water": "40 cm", "state": "guard off, clean"}]
    >>> fill = read_fills(tables, Report())[0]
    >>> fill.seconds, fill.height_m, fill.state
    ((61.2, 60.8), -0.4, ('guard off', 'clean'))
    """
    fills = [_fill(table, f"fill[{n}]", report) for n, table in enumerate(listed(raw, "fill", CURE, MOST_FILLS, report), start=1)]
    return tuple(fill for fill in fills if fill is not None)


def _fill(table: dict[str, object], where: str, report: Report) -> TimedFill | None:
    draft = read_keys(table, FILL, where, report)
    height = mouth_height(draft)
    state = tuple(map(str, draft.several("state")))
    if OUTLET_OFF in state and HOSE_OFF in state:
        draft.fault("state", "says outlet off and hose off; with the hose off there is no outlet.", "Keep one of the two.")
    if draft.has("volume") and draft.number_or("mark", 0.0) >= draft.number("volume"):
        draft.fault("mark", "the mark cannot be off by the whole volume.", draft.cure("mark"))
    seconds = tuple(map(float, draft.several("seconds")))
    if len(seconds) > MOST_TIMES:
        draft.fault("seconds", f"there are more than {MOST_TIMES} times.", "Write those of one day.")
    if draft.failed:
        return None
    if not draft.written("mark"):
        taken = f"not given, the mark is taken to be off by up to {VOLUME_SHARE:.0%} (common practice)"
        report.note(Note("fill.mark", taken))
    if height is None:
        report.note(Note("fill.above_water", "not given, the mouth is taken to have been at the water line"))
    return TimedFill(
        volume_m3=draft.number("volume"),
        seconds=seconds,
        height_m=height or 0.0,
        state=state,
        container=draft.text_or("container", ""),
        volume_limit_m3=draft.number_or("mark", 0.0),
        date=draft.text_or("date", ""),
        power_w=draft.number_or("watts", 0.0),
    )


# -- one more ------------------------------------------------------------------------------------------------------

_NUMBER = re.compile(r"(?:0|[1-9][0-9]*)(?:\.[0-9]+)?", re.ASCII)


def with_fill(text: str, given: Mapping[str, str]) -> str:
    """Return the text of a rig file with one more [[fill]] at its end, of the keys and texts ``given``; all else stays as it is.

    ``seconds`` are several with commas, bare numbers as a watch shows them. Raises `BadValue` for a text that is no TOML, or
    that has its fills written in another way.

    >>> print(with_fill('name = "Hall"\\n', {"volume": "10 l", "seconds": "61.20, 60.8 s"}), end="")
    name = "Hall"
    <BLANKLINE>
    [[fill]]
    volume = "10 l"
    seconds = [61.20, "60.8 s"]
    """
    lines = ["", "[[fill]]", *(f"{key} = {_written(key, value)}" for key, value in given.items() if value.strip())]
    end = "\r\n" if "\r\n" in text else "\n"
    made = text + ("" if text.endswith("\n") or not text else end) + "".join(line + end for line in lines)
    _check_one_more(text, made)
    return made


def _written(key: str, value: str) -> str:
    if key != "seconds":
        return toml_text(value.strip())
    return f"[{', '.join(_time(each.strip()) for each in value.split(','))}]"


def _time(text: str) -> str:
    if not _NUMBER.fullmatch(text):
        return toml_text(text)
    return f"{text}0" if TWO_WAYS.fullmatch(text) else text  # 61.234 would be asked about where decimals have commas


def _check_one_more(old: str, new: str) -> None:
    """Raise `BadValue` unless the new text says what the old one does, and one fill more."""
    cure = "Mend the file first, or write the fill into its log."
    try:
        before, after = (tomllib.loads(text.removeprefix("\ufeff")) for text in (old, new))
    except tomllib.TOMLDecodeError as error:
        raise BadValue(f"the fill cannot be added: {error}.", cure) from None
    fills = before.get("fill", [])
    if not isinstance(fills, list) or after != {**before, "fill": [*fills, after["fill"][-1]]}:
        raise BadValue("the fill cannot be added to a file that is written so.", cure)
