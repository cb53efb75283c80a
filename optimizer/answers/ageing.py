"""How a rig ages between two cleanings: flow day by day, what is missed when, what clogs first, when each stage is due."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimizer.answers.asked import by_its_fills
from optimizer.answers.cautions import caution_lines
from optimizer.answers.media_plan import steps, surface
from optimizer.answers.question import stands_now
from optimizer.answers.words import limit_words
from optimizer.dirt import stages as dirt
from optimizer.dirt.course import Course, Ledger, courses
from optimizer.dirt.course_readings import Miss, days_until_flow, misses, rises
from optimizer.dirt.daily import Daily, daily_of
from optimizer.dirt.law_sources import named_laws
from optimizer.dirt.laws import USUAL, Laws
from optimizer.errors import InputError, Problem
from optimizer.loop.kinds import parts_of
from optimizer.loop.standing import StandingLoop
from optimizer.model.ageing import Ageing, AgeingBranch, AgeingGuard, AgeingRow, AgeingWindow, LawUsed, Missing, Risen, StageCost
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Device, Guard, Medium
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said, flowing, notes_on

MOST_DAYS = 730
"""Two years: nobody leaves a filter alone for longer."""

SHOWN = (0, 1, 2, 3, 5, 7, 10, 14, 21, 28, 42, 56, 70, 90, 120, 150, 180, 240, 300, 365, 450, 540, 630)
MOST_ROWS = 14
"""Days that a table may show, and how many of them at most: where there are more, the early ones go."""

CLEAN_BELOW = 0.75
"""Share of the clean flow below which a loop is cleaned: common practice ("below 70 to 75 %"), no published source."""

DUE_COST = 0.1
"""A stage is due when its own dirt costs this share of the clean flow: common practice, no published source."""

MOST_RISEN = 4

SWISH = (
    "Clean guard, hoses and impeller when they are due; swish biological media in tank water only, never under the tap, half of "
    "them at a time, weeks apart, and not on the same day as everything else. Keep the filter off no longer than about an hour."
)


def ageing(rig: Rig, *, days: int = 90, laws: Laws | None = None, renew: bool = False, measured: bool = True) -> Ageing:
    """A rig over so many days since a clean of everything, and as it is: flow, what is missed when, what clogs first, when each
    stage is due, and whether bacteria have surface enough.

    ``laws`` are those of dirt (see `optimizer.dirt.laws.Laws`; without them the usual); ``renew`` adds the steps in which
    biological media are renewed; the fills in the rig file say what its parts lose, unless ``measured`` is False. Raises
    ValueError for fewer than 1 or more than 730 days, InputError for a rig that does not flow and for fills that no loop can
    explain.
    """
    rig, told = by_its_fills(rig, measured)
    return replace(_followed(rig, days, laws or USUAL, renew), by_fills=told)


def _followed(rig: Rig, days: int, laws: Laws, renew: bool) -> Ageing:
    if not 1 <= days <= MOST_DAYS:
        raise ValueError(f"from 1 to {MOST_DAYS} days can be looked at, not {days}")
    stands = stands_now(rig, Catalog(parts={}, products=()))
    today, daily = stands.loop, daily_of(rig, laws)
    clean, undone = courses([today.cleaned(), today], daily, float(days), laws)
    if not clean.flow_m3s[0] > 0.0:
        what = "nothing flows, even with everything cleaned: the pump cannot lift the water."
        raise InputError(
            rig.told_as, [Problem(where="loop", what=what, cure="Check the pump's head and the height of the outlet.")]
        )
    return Ageing(
        rig=rig.name,
        days=float(days),
        feed_kg_day=daily.feed_kg_day,
        made_kg=_ledger(clean).made_kg,
        left_kg=_ledger(clean).left_kg,
        rows=tuple(_rows(rig, clean, undone)),
        missing=tuple(_missing(rig, clean, undone)),
        stages=tuple(_stage(stage, clean) for stage in dirt.stages_of(clean)),
        clogs_first=_risen(clean),
        bacteria=surface(rig, daily, rig.trays, laws),
        renewal=steps(rig, [_renewed(tray.medium) for tray in rig.trays]) if renew else (),
        laws=tuple(LawUsed(about=about, law=law, source=source) for about, law, source in named_laws(laws)),
        cautions=(*caution_lines(rig, stands), SWISH),
        notes=_notes(rig, daily),
        branches=tuple(_branches(clean)),
        windows=tuple(_windows(clean)),
        guards=tuple(_guards(rig, clean)),
    )


def _renewed(medium: Medium | None) -> Medium | None:
    """The same medium new, where bacteria live on it."""
    if medium is None or not medium.biological:
        return medium
    return replace(medium, id=f"{medium.id} (new)", name=f"{medium.name}, new")


def _rows(rig: Rig, clean: Course, undone: Course) -> Iterator[AgeingRow]:
    for day in shown_days(len(clean.days) - 1):
        flow_m3s = float(clean.flow_m3s[day])
        yield AgeingRow(
            days=float(clean.days[day]),
            flow_m3s=flow_m3s,
            share=flow_m3s / float(clean.flow_m3s[0]),
            turnover_per_hour=rig.turnover_per_hour(flow_m3s),
            undone_m3s=float(undone.flow_m3s[day]),
        )


def _branches(clean: Course) -> Iterator[AgeingBranch]:
    shown = shown_days(len(clean.days) - 1)
    for n, fork in enumerate(clean.loop.forks):
        for branch, name in enumerate(fork.names):
            flows = tuple(float(clean.branches_m3s[day, n, branch]) for day in shown)
            yield AgeingBranch(place=fork.place, branch=name, flows_m3s=flows)


def _windows(clean: Course) -> Iterator[AgeingWindow]:
    """Every device in a branch."""
    for n, one, device in clean.loop.each(Device):
        if clean.loop.branch_of(n) is not None:
            flows = clean.passing_m3s(n)
            yield AgeingWindow(
                place=one.position.name,
                device=device.name,
                clean_m3s=float(flows[0]),
                last_m3s=float(flows[-1]),
                flow_min_m3s=device.flow_min_m3s,
                flow_max_m3s=device.flow_max_m3s,
            )


def _guards(rig: Rig, clean: Course) -> Iterator[AgeingGuard]:
    """Both guards, where there are two."""
    blocked = iter(clean.guards_blocked.T)
    for n, one, guard in clean.loop.each(Guard):
        if len(clean.loop.guards) > 1:
            flows = clean.passing_m3s(n)
            speeds = flows / (guard.face_area_m2 * (1.0 - next(blocked)))
            yield AgeingGuard(
                place=one.position.name,
                guard=guard.name,
                clean_m3s=float(flows[0]),
                last_m3s=float(flows[-1]),
                clean_ms=float(speeds[0]),
                last_ms=float(speeds[-1]),
                limit_ms=rig.limits.guard_speed_ms,
            )


def shown_days(days: int) -> list[int]:
    """The days that a table of so many days shows: the first, the last, and round ones between.

    >>> shown_days(30)
    [0, 1, 2, 3, 5, 7, 10, 14, 21, 28, 30]
    """
    early = [day for day in SHOWN if day < days]
    while len(early) >= MOST_ROWS:
        del early[1]
    return [*early, days]


def _missing(rig: Rig, clean: Course, undone: Course) -> Iterator[Missing]:
    """What is missed after a clean and, by name and place, if nothing is done."""
    three_quarters = CLEAN_BELOW * float(clean.flow_m3s[0])
    found = {(miss.name, miss.place): miss.day for miss in misses(undone, rig.limits, rig.target_m3s)}
    first = Miss(name="three quarters", place="", day=days_until_flow(clean, three_quarters))
    found["three quarters", ""] = days_until_flow(undone, three_quarters)
    every = (first, *misses(clean, rig.limits, rig.target_m3s))
    for miss in sorted(every, key=lambda miss: (miss.day, found[miss.name, miss.place], miss.name, miss.place)):
        yield Missing(
            name=miss.name,
            place=miss.place,
            words=_words(rig, clean.loop, miss),
            day=miss.day,
            undone_day=found[miss.name, miss.place],
        )


def _words(rig: Rig, loop: StandingLoop, miss: Miss) -> str:
    if miss.name == "target":
        return Said("the wish of ", flowing(rig.target_m3s))
    if miss.name == "three quarters":
        return ""
    if miss.name != "device_windows":
        return limit_words(miss.name, rig.limits, rig)
    device = next(device for _, one, device in loop.each(Device) if one.position.name == miss.place)
    return Said(f"the window of {miss.place}", *_window(device))


def _window(part: Device) -> tuple[str | Quantity, ...]:
    least, most = part.flow_min_m3s, part.flow_max_m3s
    if not math.isfinite(most):
        return (", at least ", flowing(least))
    if not least:
        return (", at most ", flowing(most))
    return (", ", Quantity(least, "flow", f"{least * 3.6e6:.0f}"), " to ", flowing(most))


def _ledger(clean: Course) -> Ledger:
    if clean.ledger is None:
        raise ValueError("a coupled course has a ledger")
    return clean.ledger


def _stage(stage: dirt.DirtStage, clean: Course) -> StageCost:
    ledger = _ledger(clean)
    caught = {"guard": ledger.guards_kg, "tray": ledger.trays_kg}.get(stage.kind)
    return StageCost(
        place=stage.place,
        what=stage.kind,
        part="" if stage.part is None else stage.part.name,
        cost=max(float(stage.cost[-1]), 0.0),
        due_day=stage.due_day(DUE_COST),
        dirt=stage.dirt,
        cake_m=stage.cake_m,
        caught_kg=None if caught is None else caught[stage.number],
        biological=any(medium.biological for medium in parts_of([stage.part], Medium)),
    )


def _risen(clean: Course) -> tuple[Risen, ...]:
    found: Sequence[Risen] = [
        Risen(
            place=rise.place,
            clean_m=rise.first_m,
            clean_share=rise.first_share,
            dirty_m=rise.later_m,
            dirty_share=rise.later_share,
        )
        for rise in rises(clean)
        if rise.risen > 0.0
    ]
    return tuple(found[:MOST_RISEN])


def _notes(rig: Rig, daily: Daily) -> tuple[str, ...]:
    """What was assumed while reading, and of the feeding."""
    return tuple(dict.fromkeys((*notes_on(rig.notes, "tank", "feeding", "loop", "canister"), *daily.notes)))
