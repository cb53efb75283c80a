"""What ails a loop: expected against measured, where the head goes, what a clean gives back, and the next cheap tests."""

import math
from collections.abc import Sequence
from dataclasses import replace

from optimizer.answers.asked import limits_of
from optimizer.answers.by_fills import as_stated, fitted_parts
from optimizer.answers.measure import believed, explained, need_fills, notes_of
from optimizer.answers.question import Progress, Question, seek
from optimizer.answers.words import money
from optimizer.bands.candidates import candidate
from optimizer.loop.standing import standing_loop
from optimizer.measure.fill_loop import FillLoop, as_delivered, loop_during_fill
from optimizer.measure.fitted_heads import fitted_heads
from optimizer.measure.next_test import next_tests
from optimizer.measure.suspects import cleaning_gains, suspects
from optimizer.model.catalog import Catalog
from optimizer.model.diagnosis import Diagnosis
from optimizer.model.fill import TimedFill
from optimizer.model.rig import Rig
from optimizer.model.said import Said, flowing

TODAY = "the loop as it is"


def diagnose(
    rig: Rig,
    catalog: Catalog | None = None,
    fills: Sequence[TimedFill] | None = None,
    *,
    power_w: float = 0.0,
    budget: int | None = None,
    progress: Progress | None = None,
) -> Diagnosis:
    """What ails a rig by its fills: expected against measured, where the head goes, what is probably dirty or worn, what a clean
    gives back, what the data cannot tell apart, and the next tests.

    The tests are ranked by what they would tell about the flow of the best bundle of ``catalog`` for ``budget`` (without it the
    rig's own); without a catalog, or when no bundle meets the limits, about today's. Raises InputError as `measure`, but does
    without fills.
    """
    upgrade = None if catalog is None else Question(rig=rig, catalog=catalog, limits=limits_of(rig, budget))
    fills = rig.fills if fills is None else fills
    if fills:
        need_fills(rig, fills)
    rig = believed(replace(rig, fills=tuple(fills)))
    fills = rig.fills
    posterior, told = explained(rig, fills, power_w)
    fitted = replace(rig, fitted=fitted_parts(posterior)) if posterior.seen else rig
    target, words = (loop_during_fill(rig), TODAY) if upgrade is None else _target(fitted, upgrade, progress)
    return Diagnosis(
        rig=rig.name,
        calibrated=told,
        heads=fitted_heads(rig, posterior),
        suspects=suspects(rig, posterior) if posterior.seen else (),
        cleaning=cleaning_gains(rig, posterior),
        target=words,
        next_tests=next_tests(rig, posterior, target, container=fills[-1] if fills else None),
        notes=notes_of(rig),
    )


def _target(rig: Rig, upgrade: Question, progress: Progress | None) -> tuple[FillLoop, str]:
    """The best bundle as a loop, and what it is called; the loop as it is when no bundle meets the limits."""
    seeker = seek(replace(upgrade, rig=rig), progress)
    outcome = seeker.most_flow()
    budget = upgrade.limits.budget
    spent = "" if budget is None else f" for at most {money(budget)}"
    if outcome.found is None:
        why = "no bundle meets the limits" if outcome.status == "proved" else "the search was stopped"
        return loop_during_fill(rig), f"{TODAY} ({why})"
    found, water = outcome.found, seeker.problem.choices.water
    closed = [seeker.problem.joint(flat) for flat in found.bundle.path.joints]
    options, joints = as_stated(rig, water, seeker.options_of(found.bundle), closed)
    # held to its flow it would seem to be sure to the litre, and no test would tell anything of it
    best = replace(candidate(standing_loop(rig, options, joints), rig.limits, "best"), ceiling_m3s=math.inf)
    stopped = "" if outcome.status == "proved" else " that was found before the search was stopped"
    held = ""
    if found.delivered.held_by:
        held = Said(", wide open (its throttle holds it to ", flowing(found.flow_m3s), ")")
    return as_delivered(best), Said(f"the best bundle{spent}{stopped}", held)
