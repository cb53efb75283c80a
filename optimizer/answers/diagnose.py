"""What ails a loop: expected against measured, where the head goes, what a clean gives back, and the next cheap tests."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from optimizer.answers.asked import limits_of
from optimizer.answers.by_fills import fitted_parts
from optimizer.answers.care import care
from optimizer.answers.measure import believed, explained, inexplicable, need_fills, notes_of
from optimizer.answers.profile import profile
from optimizer.answers.question import Progress, Question, found_standing, seek, stands_now
from optimizer.answers.stated_loop import stated_loop
from optimizer.answers.words import money
from optimizer.bands.candidates import candidate
from optimizer.bands.installed import installed
from optimizer.measure.calibrate import Posterior
from optimizer.measure.causes import causes, power_check
from optimizer.measure.fill_loop import FillLoop, as_delivered, loop_during_fill
from optimizer.measure.fitted_heads import fitted_heads
from optimizer.measure.next_test import next_tests
from optimizer.measure.suspects import cleaning_gains, suspects
from optimizer.model.care import AirCheck
from optimizer.model.catalog import Catalog
from optimizer.model.diagnosis import Cause, Diagnosis
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import FlowBand
from optimizer.model.rig import Rig

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
    why = _causes(rig, power_w)
    target = _today(rig, posterior, TODAY) if upgrade is None else _target(rig, fitted, posterior, upgrade, progress)
    told_of = Diagnosis(
        rig=rig.name,
        calibrated=told,
        heads=fitted_heads(rig, posterior),
        suspects=suspects(rig, posterior) if posterior.seen else (),
        cleaning=cleaning_gains(rig, posterior),
        target=target.words,
        next_tests=replace(
            next_tests(rig, posterior, target.loop, about=target.free, container=fills[-1] if fills else None),
            band=target.band,
            free=target.free if target.free != target.band else None,
        ),
        notes=notes_of(rig),
        signs=rig.signs,
        causes=why,
        power=power_check(rig, power_w),
    )
    return replace(told_of, air=_air(fitted)) if told_of.pump_first else told_of


def _causes(rig: Rig, power_w: float) -> tuple[Cause, ...]:
    try:
        return causes(rig, power_w)
    except ArithmeticError:
        raise inexplicable(rig) from None


def _air(rig: Rig) -> AirCheck:
    """Where the loop as it stands draws air, and what fills it."""
    stands = stands_now(rig, Catalog(parts={}, products=()))
    water = rig.tank.water
    now = profile("now", rig, water, stands)
    return care(rig, stands, () if now is None else (now,)).air


@dataclass(frozen=True, slots=True, kw_only=True)
class _Target:
    """A loop that tests are ranked for, what it is called, and the bands of its flow as delivered and wide open."""

    loop: FillLoop
    words: str
    band: FlowBand
    free: FlowBand


def _today(rig: Rig, posterior: Posterior, words: str) -> _Target:
    loop = loop_during_fill(rig)
    band = posterior.drawn(installed(rig), posterior.band(loop).p50_m3s)
    return _Target(loop=loop, words=words, band=band, free=band)


def _target(rig: Rig, fitted: Rig, posterior: Posterior, upgrade: Question, progress: Progress | None) -> _Target:
    """The best bundle as a loop, with the flow that the search has for it and the band that `bands` draws; the loop as it is when
    no bundle meets the limits."""
    seeker = seek(replace(upgrade, rig=fitted), progress)
    outcome = seeker.most_flow()
    budget = upgrade.limits.budget
    spent = "" if budget is None else f" for at most {money(budget)}"
    if outcome.found is None:
        why = "no bundle meets the limits" if outcome.status == "proved" else "the search was stopped"
        return _today(rig, posterior, f"{TODAY} ({why})")
    found = found_standing(fitted, seeker, outcome.found)
    held = found.flow_m3s if found.held_by else math.inf
    loop = stated_loop(fitted, seeker.problem.choices.water, found.options, found.joints)
    drawn = candidate(loop, fitted.limits, "best", held)
    # held to its flow it would seem to be sure to the litre, and no test would tell anything of it
    free = replace(drawn, ceiling_m3s=math.inf)
    band = posterior.drawn(drawn, found.flow_m3s)
    stopped = "" if outcome.status == "proved" else " that was found before the search was stopped"
    return _Target(
        loop=as_delivered(free),
        words=f"the best bundle{spent}{stopped}",
        band=band,
        free=posterior.drawn(replace(free, throttled=False), found.own_m3s) if drawn.throttled else band,
    )
