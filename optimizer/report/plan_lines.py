"""What a front, a list of alternatives and a buying order have in common when they are shown."""

from __future__ import annotations

from collections.abc import Iterable

from optimizer.errors import safe
from optimizer.model.results import Change
from optimizer.report.layout import cut

__all__ = ["LEAST_GAIN_M3S", "LEAST_WORDS", "LONGEST_NAME", "changed", "heading"]

LONGEST_NAME = 200

LEAST_GAIN_M3S = 1.0e-3 / 3600.0
"""A line of a table that brings less than this (1 l/h) over the one before is left out: no keeper can measure it."""
LEAST_WORDS = "less than 1 l/h (0.3 gph)"


def changed(changes: Iterable[Change]) -> str:
    """Return changes in a few words, in the order of the water.

    >>> changed([Change(position="pump", change="swap", part_id="P", text="pump"), Change(position="tap", change="keep",
    ...     part_id="T", text="tap")])
    'pump swap P; tap keep'
    """
    return "; ".join(_words(change) for change in changes)


def _words(change: Change) -> str:
    named = change.part_id and not change.part_id.startswith("installed:")
    what = change.part_id if named else change.text
    said = change.change in ("swap", "add", "adjust")
    # of an adjustment the text says what is done, of a part bought the id is what a shop knows
    what = change.text if change.change == "adjust" else what
    return safe(f"{change.position} {change.change} {what}" if said and what else f"{change.position} {change.change}")


def heading(rig: str, question: str) -> str:
    """Return whose question this is; the question is our own text.

    >>> heading("Hall tank", "what each sum buys")
    'Hall tank: what each sum buys'
    """
    return f"{cut(safe(rig), LONGEST_NAME)}: {question}"
