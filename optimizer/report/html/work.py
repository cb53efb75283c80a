"""The order of work at the tank for the best bundle: what to do before, during and after, for this loop only."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer.model.dossiers import Dossier
from optimizer.model.media_plan import MediaStep
from optimizer.model.results import Change, JointLine, Result
from optimizer.report.measures import Measures, percent

__all__ = ["PageStep", "steps"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PageStep:
    """One stage of the work: its name, why or how in a sentence, what to tick off, and words of the text to explain."""

    name: str
    text: str
    ticks: tuple[str, ...] = ()
    words: tuple[str, ...] = ()


def steps(dossier: Dossier, measures: Measures) -> tuple[PageStep, ...]:
    """The stages in their order; none without a bundle (common practice, no published source)."""
    result = dossier.result
    if result is None or result.best is None or all(change.change == "keep" for change in result.changes):
        return ()
    made = (
        PageStep(name="Measure", text="Time two fills before anything is touched; afterwards it cannot be made up for."),
        _laid_out(dossier, result, measures),
        PageStep(
            name="Make it safe",
            text="Unplug everything in and on the tank, not the pump alone. Shut what can be shut, put the canister in a tray, "
            "have towels and a bucket at hand, and lift the guard out of the water first: that breaks the siphon.",
            words=("canister", "guard"),
        ),
        _cleaned(result),
        _fitted(result),
        _started(result, measures),
        _watched(result),
        _staged(result),
        PageStep(
            name="Measure again",
            text="The same container, mouth and height as before, once all is running steadily and again a week later.",
        ),
    )
    return tuple(step for step in made if step is not None)


def _named(change: Change) -> str:
    return f"{change.place}: {change.text}" if change.text else change.place


def _laid_out(dossier: Dossier, result: Result, measures: Measures) -> PageStep | None:
    if not dossier.shopping and not result.bill:
        return None
    ticks = tuple(
        f"cut {row.name} for {row.place} to {measures.length_text(row.cut_m)}, square" for row in dossier.shopping if row.cut_m
    )
    text = "Lay every piece out in the order of the water and join it dry: threads run in by hand, hoses reach, clamps close."
    return PageStep(name="Try it on the table", text=text, ticks=ticks)


def _cleaned(result: Result) -> PageStep | None:
    ticks = tuple(_named(change) for change in result.changes if change.change == "clean")
    if not ticks:
        return None
    text = "Hoses with a brush, the guard and the impeller with their chamber; media in tank water only."
    return PageStep(name="Clean what stays", text=text, ticks=ticks, words=("guard", "media"))


def _fitted(result: Result) -> PageStep | None:
    ticks: list[str] = []
    for position in dict.fromkeys(change.position for change in result.changes):
        done = (change for change in result.changes if change.position == position and not change.tray and change.change in _FITS)
        ticks += [f"{change.change} {_named(change)}" for change in done]
        ticks += [_joint(joint) for joint in result.joints if joint.between[0] == position and not joint.as_is]
    name = "Fit, in the order of the water"
    return PageStep(name=name, text=_FIT_TEXT, ticks=tuple(ticks), words=("tail",)) if ticks else None


_FITS = ("swap", "add", "remove", "adjust")
_FIT_TEXT = (
    "Hose fully on its tail, clamp behind the ridge; seals clean and dry before they are set. Hand-tight, then no more than a "
    "quarter turn."
)


def _joint(joint: JointLine) -> str:
    pieces = f" with {', then '.join(joint.pieces)}" if joint.pieces else ""
    tight = f", tight by {', '.join(dict.fromkeys(joint.tight_by))}" if joint.tight_by else ""
    return f"close {joint.between[0]} to {joint.between[1]}{pieces}{tight}"


def _started(result: Result, measures: Measures) -> PageStep:
    ticks = ["guard on", "air-break hole open", "drip loop on every cord", "plug in last, with dry hands"]
    ticks += list(_throttled(result, measures))
    text = "Fill canister and hoses with water before the pump runs, which must not run dry. Off no longer than about an hour."
    return PageStep(name="Start", text=text, ticks=tuple(ticks))


def _throttled(result: Result, measures: Measures) -> Iterator[str]:
    best = result.best
    if best is not None and best.held_by:
        open_wide = measures.flow_text(best.own_m3s)
        yield f"throttle on the outlet side until {measures.flow_text(best.flow_m3s)} pass (wide open: {open_wide})"
    for line in result.branches:
        if line.row == "best" and not line.day and line.throttled:
            yield f"throttle in {line.branch} until {measures.flow_text(line.flow_m3s)} pass that branch"


def _watched(result: Result) -> PageStep:
    joints: Sequence[JointLine] = [joint for joint in result.joints if not joint.as_is] or result.joints
    ticks = tuple(f"{joint.between[0]} to {joint.between[1]}" for joint in joints)
    text = "Dry paper under every joint that was opened: look after 10 minutes, an hour, before you leave or sleep, and a day."
    return PageStep(name="Watch for leaks", text=text, ticks=ticks, words=("joint",))


def _staged(result: Result) -> PageStep | None:
    """Changes of media: where bacteria live by the plan of the answer, else tray by tray."""
    text = (
        "One tray at a time, weeks apart, and at least half of the mature biological media stays. Test ammonia and nitrite "
        "between the stages and wait when either shows. The flow promised is reached after the last one."
    )
    name = "Change media in stages"
    if result.media is not None and result.media.steps:
        return PageStep(name=name, text=text, ticks=tuple(_stage(step) for step in result.media.steps))
    trays = [change for change in result.changes if change.tray and change.change in _FITS]
    return PageStep(name=name, text=text, ticks=tuple(map(_tray, trays))) if trays else None


def _stage(step: MediaStep) -> str:
    old, new = step.old or "nothing", step.new or "nothing"
    what = "" if step.share == 1.0 else f"{percent(step.share)} of "
    stays = f"{percent(step.stays)} of the mature surface stays"
    told = f"week {step.week}: {what}tray {step.tray}, {old} out, {new} in; {stays}"
    return told if step.sound else f"{told}: less than half, so feed less and test ammonia and nitrite every day"


def _tray(change: Change) -> str:
    return f"empty {change.place}" if change.change == "remove" else f"{change.change} {_named(change)}"
