"""Fills that were timed, from the list [[fill]] of a rig file."""

from __future__ import annotations

from optimizer.files.rig_places import mouth_height
from optimizer.files.toml_fields import FILL
from optimizer.files.toml_keys import Report, listed, read_keys
from optimizer.model.fill import HOSE_OFF, OUTLET_OFF, VOLUME_SHARE, TimedFill
from optimizer.model.said import Note

__all__ = ["read_fills"]

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
