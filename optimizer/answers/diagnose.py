"""What ails a loop: expected against measured, where the head goes, what a clean gives back, and the next cheap tests."""

import math
from collections.abc import Sequence
from dataclasses import replace

from optimizer.answers.by_fills import as_stated, fitted_parts
from optimizer.answers.measure import believed, explained, need_fills, notes_of
from optimizer.answers.question import Progress, Question, seek
from optimizer.answers.words import money
from optimizer.bands.candidates import candidate
from optimizer.measure.arranged import Arranged, arranged, as_delivered
from optimizer.measure.heads import fitted_heads
from optimizer.measure.next_test import next_tests
from optimizer.measure.suspects import cleaning_gains, suspects
from optimizer.model.diagnosis import Diagnosis
from optimizer.model.fill import TimedFill
from optimizer.model.rig import Rig
from optimizer.model.said import Said, flowing

TODAY = "the loop as it is"


def diagnose_answer(
    rig: Rig,
    fills: Sequence[TimedFill],
    power_w: float = 0.0,
    upgrade: Question | None = None,
    progress: Progress | None = None,
) -> Diagnosis:
    """The diagnosis of a rig by its fills and the power drawn (0: not read); without any it is what the file alone lets expect.

    The next tests are ranked for the flow of the best bundle of ``upgrade``, or without it, or when it has none, for today's.
    Raises InputError as `measure.explained`.
    """
    if fills:
        need_fills(rig, fills)
    rig = believed(replace(rig, fills=tuple(fills)))
    fills = rig.fills
    posterior, told = explained(rig, fills, power_w)
    fitted = replace(rig, fitted=fitted_parts(posterior)) if posterior.seen else rig
    target, words = (arranged(rig), TODAY) if upgrade is None else _target(fitted, upgrade, progress)
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


def _target(rig: Rig, upgrade: Question, progress: Progress | None) -> tuple[Arranged, str]:
    """The best bundle as a loop, and what it is called; the loop as it is when no bundle meets the limits."""
    seeker = seek(replace(upgrade, rig=rig), progress)
    outcome = seeker.most_flow()
    budget = upgrade.limits.budget
    spent = "" if budget is None else f" for at most {money(budget)}"
    if outcome.found is None:
        why = "no bundle meets the limits" if outcome.status == "proved" else "the search was stopped"
        return arranged(rig), f"{TODAY} ({why})"
    found, water = outcome.found, seeker.problem.choices.water
    closed = [seeker.problem.joint(flat) for flat in found.bundle.path.joints]
    options, joints = as_stated(rig, water, seeker.options_of(found.bundle), closed)
    # held to its flow it would seem to be sure to the litre, and no test would tell anything of it
    best = replace(candidate(rig, water, "best", options, joints), ceiling_m3s=math.inf)
    stopped = "" if outcome.status == "proved" else " that was found before the search was stopped"
    held = ""
    if found.delivered.held_by:
        held = Said(", wide open (its throttle holds it to ", flowing(found.flow_m3s), ")")
    return as_delivered(best), Said(f"the best bundle{spent}{stopped}", held)
