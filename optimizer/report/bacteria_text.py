"""How canister or media are changed without losing the bacteria, as text, tray by tray of this rig."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import safe
from optimizer.model.care import Care, MediaTray
from optimizer.model.media_plan import BioSurface
from optimizer.model.results import Result
from optimizer.report.layout import Block, bullets
from optimizer.report.measures import Measures
from optimizer.report.media_plan_text import surface_words

__all__ = ["lines"]

ALWAYS = (
    "Unplug everything in and on the tank before you reach in. Off no longer than about an hour: without water that moves the "
    "bacteria run out of oxygen. What waits lies in an open bucket of tank water, wet and not warm.",
    "Swish media in tank water only, never under the tap: chlorine kills what lives there. Never all trays, and never media and "
    "gravel or glass on the same day.",
    "For a week or two feed less and test ammonia and nitrite; where either shows, change water and wait with the next step.",
)
ANOTHER_CANISTER = (
    "Another canister: move the trays that house bacteria over as they are, unrinsed, and fill it with tank water. Where they "
    "do not fit, run both filters side by side for four to six weeks, or hang the old media in the tank or the new canister in a "
    "net bag for as long."
)
PRACTICE = "All this is common practice, no published source."

NO_HOME = (
    "No tray is said to house bacteria: they live on gravel, glass and whatever fills the canister, so change half of it at most."
)


def lines(result: Result, measures: Measures) -> list[Block]:
    """Return what stays, what may be changed and when; no lines for an answer that does not know the trays."""
    if result.care is None:
        return []
    return [
        "Changing media without losing bacteria",
        *bullets([_surface(result.care.surface, measures), *_trays(result.care), *ALWAYS, ANOTHER_CANISTER, PRACTICE]),
    ]


def _surface(surface: BioSurface, measures: Measures) -> str:
    """What the feeding needs and what there is after this answer, as `ageing` has it too."""
    areas = (surface.need_m2, surface.need_low_m2, surface.need_high_m2, surface.have_m2)
    need, low, high, have = (f"{measures.bare_area(area)} {measures.area}" for area in areas)
    return f"Bacteria need {need} for the feeding ({low} to {high}) and have {have} with this answer: {surface_words(surface)}."


def _trays(care: Care) -> Iterator[str]:
    homes = [tray for tray in care.trays if tray.biological]
    others = [tray for tray in care.trays if tray.medium and not tray.biological]
    if homes:
        yield f"Bacteria live in {_named(homes)}: keep at least half of that surface as it is in any one step, weeks apart."
    else:
        yield NO_HOME
    if others:
        yield f"Few bacteria are lost with {_named(others)}: at any cleaning."
    changed = [tray for tray in homes if tray.change in ("swap", "remove")]
    if changed:
        yield f"This answer changes {_numbers(changed)}: step by step as the change of media says, not in one go."
    cleaned = [tray for tray in homes if tray.change == "clean"]
    if len(cleaned) > 1:
        half = cleaned[: len(cleaned) // 2]
        yield (
            f"This answer cleans {_numbers(cleaned)}: not on one day. Now {_numbers(half)}, the rest two weeks later; swish "
            "until the water runs through again, not until they are bright."
        )
    elif cleaned:
        yield f"This answer cleans {_numbers(cleaned)}: swish it until the water runs through again, not until it is bright."


def _numbers(trays: list[MediaTray]) -> str:
    return f"tray{'s' if len(trays) > 1 else ''} " + " and ".join(
        filter(None, (", ".join(str(tray.tray) for tray in trays[:-1]), str(trays[-1].tray)))
    )


def _named(trays: list[MediaTray]) -> str:
    return ", ".join(f"tray {tray.tray} ({safe(tray.medium)})" for tray in trays)
