"""Fills of loops with branches: against the scalar solver, which knows nothing of pieces, draws or arrangements."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from branched_worlds import branched_world
from how_many import some_of
from measuring_worlds import Truth
from scipy.optimize import brentq

from optimizer.answers.by_fills import as_stated, by_fills
from optimizer.answers.question import stands_now
from optimizer.answers.verify import verify
from optimizer.bands.draws import Factors
from optimizer.bands.fitted import FittedParts
from optimizer.bands.installed import installed
from optimizer.errors import InputError
from optimizer.loop.graph import Element
from optimizer.loop.operating import element_head_m
from optimizer.loop.terms import velocity_quadratic
from optimizer.measure.fill_loop import cleaned, fill_loop_flows, loop_during_fill
from optimizer.measure.fitted_heads import place_heads_m
from optimizer.measure.next_test import next_tests
from optimizer.measure.observations import median_factors
from optimizer.measure.result import posterior_of, told_by
from optimizer.measure.suspects import suspects
from optimizer.measure.work import without_what_is_gone, work_between
from optimizer.model.catalog import Catalog
from optimizer.model.fill import FILL_STATES, TimedFill
from optimizer.model.losses import Loss
from optimizer.model.options import FilledBranch, Option
from optimizer.model.parts import Device, Fitting, Guard, Hose, Outlet
from optimizer.model.rig import Branch, Position, Rig, with_each
from optimizer.model.state import State
from optimizer.physics.water import Water

NOTHING = Catalog(parts={}, products=())
FILLED = (((), 0.0), (("guard off",), 0.0), (("outlet off",), 0.1), (("clean",), -0.2))
"""States and heights of the mouth that fills are taken in."""


@cache
def steady() -> tuple[Rig, ...]:
    """Random rigs with two branches that are there, of every sort."""
    found = []
    for seed in range(60):
        rig = branched_world(seed)[0]
        two = any(place.branches and place.branches[1].installed for place in rig.positions)
        try:
            stands_now(rig, NOTHING)
        except InputError:
            continue
        if two:
            found.append(rig)
    return tuple(found[:12])


def where(rig: Rig) -> str:
    """The place that holds the branches."""
    return next(place.name for place in rig.positions if place.branches)


def bore_after(rig: Rig, option: Option) -> float:
    """Bore that the water leaves a part by."""
    part = option.part
    return part.inside_m - 2.0 * option.state.film_m if isinstance(part, Hose) else part.outlet.bore_m  # type: ignore[union-attr]


def changed_way(rig: Rig, way: FilledBranch, losses: tuple[Loss, ...], word: str) -> tuple[Loss, ...]:
    """The losses of a branch, its joints last, changed by hand as a word of the state says."""
    if word == "guard off":
        own = list(losses)
        for n, option in enumerate(way.there):
            if isinstance(option.part, Guard):
                own[n] = Loss(quadratic=0.5 * velocity_quadratic(option.part.outlet.bore_m))
        return tuple(own)
    if word == "outlet off" and isinstance(way.there[-1].part, Outlet):
        joint, left = way.joints[len(way.options) - 1], way.there[-2]
        assert joint is not None
        rest = replace(losses[-1], quadratic=losses[-1].quadratic - joint.quadratic)
        return (*losses[:-2], rest, Loss(quadratic=velocity_quadratic(bore_after(rig, left))))
    return tuple(replace(loss, lift_m=0.0) for loss in losses)


def by_hand(rig: Rig, word: str, height_m: float) -> float:
    """Flow of a rig in a state, its mouths at one height, by bracketing the answers' own elements changed by hand."""
    stands = stands_now(rig, NOTHING)
    nu, elements = installed(rig).kinematic_m2s, list[Element]()
    pair = next(option for option in stands.options if option.ways is not None and len(option.ways.branches) == 2)
    assert pair.ways is not None
    for each in stands.elements:
        if each.split is not None and len(each.split.branches) == 2:
            branches = tuple(
                replace(branch, losses=changed_way(rig, way, branch.losses, word), throttles=False)
                for way, branch in zip(pair.ways.branches, each.split.branches, strict=True)
            )
            branches = tuple(
                replace(branch, losses=tuple(replace(loss, lift_m=0.0) for loss in branch.losses)) for branch in branches
            )
            each = replace(each, split=replace(each.split, branches=branches))
        elements.append(replace(each, loss=replace(each.loss, lift_m=0.0)))
    elements = trunk_by_hand(rig, elements, word)

    def short(flow: float) -> float:
        return height_m + sum(element_head_m(each, flow, nu) for each in elements)

    return 0.0 if short(0.0) >= 0.0 else float(brentq(short, 0.0, 1.0, xtol=1e-12, rtol=1e-9))


def trunk_by_hand(rig: Rig, elements: list[Element], word: str) -> list[Element]:
    """What all the water passes, less what a word of the state takes off."""
    first, last = rig.positions[0], rig.positions[-1]
    if word == "guard off" and isinstance(first.installed, Guard):
        entrance = Loss(quadratic=0.5 * velocity_quadratic(first.installed.outlet.bore_m))
        return [replace(each, loss=entrance) if each.place == first.name else each for each in elements]
    names = [position.name for position in rig.positions]
    if word == "outlet off" and isinstance(last.installed, Outlet):
        end = names[-2]
    elif word == "hose off":
        body = names.index("pump")
        fittings = [n for n in range(body + 1, len(names)) if isinstance(rig.positions[n].installed, Fitting)]
        end = names[fittings[0] if fittings else body]
    else:
        return elements
    cut = max(n for n, each in enumerate(elements) if each.place == end) + 1
    part, film = rig.positions[names.index(end)].installed, rig.positions[names.index(end)].state.film_m
    bore = part.inside_m - 2.0 * film if isinstance(part, Hose) else part.outlet.bore_m  # type: ignore[union-attr]
    return [*elements[:cut], Element(place="end", label="end", loss=Loss(quadratic=velocity_quadratic(bore)))]


def median_m3s(rig: Rig, words: tuple[str, ...] = (), height_m: float | None = None) -> float:
    """Flow in a state with every factor at its median."""
    loop = loop_during_fill(rig, words, height_m)
    return float(fill_loop_flows(loop, median_factors(loop.candidate.unknowns))[0])


@pytest.mark.parametrize("number", range(0, 12, 2))
def test_a_word_of_the_state_acts_on_every_place_of_its_kind(number: int) -> None:
    """Guards and outlets in both branches; mouths at one height, above the water or below it."""
    rig = steady()[number]
    for word in ("", "guard off", "outlet off", "hose off"):
        for height in (0.2, -0.4):
            words = (word,) if word else ()
            assert median_m3s(rig, words, height) == pytest.approx(by_hand(rig, word, height), rel=1e-6, abs=1e-12), word
    assert median_m3s(rig) == pytest.approx(stands_now(rig, NOTHING).own_m3s, rel=1e-7)


def test_the_rigs_hold_branches_of_every_sort() -> None:
    assert {where(rig) for rig in steady()} == {"uv", "outlets", "intakes"}
    inner = [place.installed for rig in steady() for p in rig.positions for b in p.branches for place in b.positions]
    assert {Guard, Hose, Outlet, Device} <= {type(part) for part in inner}


def test_clean_washes_what_stands_in_branches() -> None:
    dirty = with_each(branch_place(), lambda place: replace(place, state=State(film_m=0.001, blocked=0.3)))
    rig = next(rig for rig in steady() if where(rig) == "intakes")
    filthy = replace(rig, positions=(replace(dirty_intakes(rig, dirty)), *rig.positions[1:]))
    assert any(place.state.blocked for place in filthy.every_position[:4])
    for word in FILL_STATES:
        washed = [place.state.is_clean for place in cleaned(filthy, (word,)).every_position[:4]]
        kinds = {"clean": [True] * 4, "guard clean": [True, False] * 2, "hoses clean": [False, True] * 2}
        assert washed == kinds.get(word, [False] * 4), word


def branch_place() -> Position:
    """The place with branches of the first rig with two guards."""
    return next(rig.positions[0] for rig in steady() if where(rig) == "intakes")


def dirty_intakes(rig: Rig, dirty: Position) -> Position:
    """Dirty branches with the tees of a rig."""
    return replace(rig.positions[0], branches=dirty.branches)


def exact_fill(rig: Rig, truth: Truth, state: tuple[str, ...], height_m: float) -> TimedFill:
    """A fill into a large container with a perfect mark."""
    flow = truth.flow_m3s(loop_during_fill(rig, state, height_m))
    return TimedFill(volume_m3=1.0, seconds=(1.0 / flow,) * 3, volume_limit_m3=1e-4, height_m=height_m, state=state)


@pytest.mark.parametrize("number", [0, 3])
def test_fills_with_known_factors_give_the_flow_back(number: int) -> None:
    """The delivered flow to 0.2 %, whatever is between the fills and the loop as it is; the search's own loop flows alike, with
    factors of parts, joints and tees in the branches too."""
    rig = steady()[number]
    truth = Truth.drawn(rig, np.random.default_rng(number))
    fills = tuple(exact_fill(rig, truth, *each) for each in FILLED)
    fitted, told = by_fills(replace(rig, fills=fills))
    assert told is not None and not told.left_out
    true = truth.flow_m3s(loop_during_fill(rig))
    assert told.delivered_m3s == pytest.approx(true, rel=2e-3)
    assert told.stated_m3s == pytest.approx(stands_now(rig, NOTHING).flow_m3s)
    assert stands_now(fitted, NOTHING).own_m3s == pytest.approx(true, rel=2e-3)


def hidden(rig: Rig, seed: int) -> tuple[Rig, Truth]:
    """A rig that goes by factors of all that is installed, drawn at random."""
    truth = Truth.drawn(rig, np.random.default_rng(seed))
    owned = [unknown for unknown in truth.unknowns if unknown.part]
    factors = {(u.prior, u.part): math.exp(truth.log_factor(u.prior, u.part)) for u in owned}
    return replace(rig, fitted=FittedParts(factors)), truth


@pytest.mark.parametrize("number", some_of(range(12), 2))
def test_the_search_goes_by_the_factors_of_what_stands_in_branches(number: int) -> None:
    """Kept as it is, and cleaned, its loop delivers in scalars what a draw with these factors does; for draws a bundle gets its
    stated figures back."""
    rig = steady()[number]
    by, truth = hidden(rig, number)
    for words in ((), ("clean",)):
        then = cleaned(by, words)
        try:
            stands = stands_now(then, NOTHING)
        except InputError:
            continue
        assert stands.own_m3s == pytest.approx(truth.flow_m3s(loop_during_fill(cleaned(rig, words))), rel=1e-8)
        stated = stands_now(cleaned(rig, words), NOTHING)
        water = Water(temperature_c=rig.tank.temperature_c, salinity_gkg=rig.tank.salinity_gkg)
        options, joints = as_stated(then, water, stands.options, stands.joints)
        assert [joint.quadratic for joint in joints] == pytest.approx([joint.quadratic for joint in stated.joints])
        for ours, theirs in zip(options, stated.options, strict=True):
            assert (ours.part, ours.loss) == (theirs.part, theirs.loss) or ours.fills
            if ours.ways is not None and theirs.ways is not None:
                assert ours.ways.split == theirs.ways.split


def test_a_branch_that_is_not_there_changes_nothing() -> None:
    """A second branch that could be added: the same calibration, to the byte, as of the same loop described in series."""
    compared = 0
    for seed in range(12):
        rig = branched_world(seed)[0]
        if any(place.branches and place.branches[1].installed for place in rig.positions):
            continue
        compared += 1
        series = rig.as_it_stands
        assert not any(place.branches for place in series.positions)
        truth = Truth.drawn(rig, np.random.default_rng(seed))
        fills = [exact_fill(rig, truth, (), 0.0)]
        ours, theirs = (told_by(posterior_of(one, fills), one, fills) for one in (rig, series))
        assert repr(ours) == repr(theirs)
        assert stands_now(rig, NOTHING).own_m3s == pytest.approx(stands_now(series, NOTHING).own_m3s, rel=1e-9)
    assert compared > 3


@pytest.mark.parametrize("number", some_of(range(12), 2))
def test_heads_add_up_to_what_the_pump_gives(number: int) -> None:
    """Energy: branches and their tees count once, as one place."""
    rig = steady()[number]
    truth = Truth.drawn(rig, np.random.default_rng(number))
    factors: Factors = truth.factors
    loop = installed(rig)
    flow = float(fill_loop_flows(loop_during_fill(rig), factors)[0])
    pump = next(piece for piece in loop.pieces if piece.curve is not None)
    assert pump.curve is not None
    head, wide, bent = (float(factors.of(name, pump.part)[0]) for name in (pump.head, pump.flow, pump.shape))
    shape = min(max(bent * pump.curve.shape, 1.0), 4.0)
    given = head * pump.speed**2 * pump.curve.max_head_m
    given *= 1.0 - (flow / (wide * pump.speed) / pump.curve.max_flow_m3s) ** shape
    heads = place_heads_m(rig, factors)
    assert where(rig) in heads
    assert sum(heads.values()) == pytest.approx(given, rel=1e-6)


def test_a_guard_in_a_branch_is_suspected_by_its_place() -> None:
    """Slow as it is, as expected without the guards: one of them is dirtier than written."""
    rig = next(rig for rig in steady() if where(rig) == "intakes")
    flows = [0.6 * median_m3s(rig, (), 0.0), median_m3s(rig, ("guard off",), 0.0)]
    fills = [
        TimedFill(volume_m3=0.1, seconds=(0.1 / flow,) * 3, state=state, volume_limit_m3=1e-4)
        for flow, state in zip(flows, ((), ("guard off",)), strict=True)
    ]
    found = suspects(rig, posterior_of(rig, fills))
    # the label of a pump may be off by a tenth downwards, which costs as much by itself, but is less sure
    guard = next(one for one in found if one.kind == "dirty")
    assert set(guard.places) <= {"intake", "intake_b"}
    assert guard.probability > 0.99 > max((one.probability for one in found if one.kind == "weak"), default=0.0)
    assert guard in found[:2]


def without_second(rig: Rig) -> Rig:
    """The rig before its second branch was added."""
    place = next(n for n, p in enumerate(rig.positions) if p.branches)
    old = rig.positions[place]
    gone = tuple(replace(each, installed=None, state=State()) for each in old.branches[1].positions)
    second = Branch(name=old.branches[1].name, positions=gone, installed=False)
    before = replace(old, branches=(old.branches[0], second), parting=None, meeting=None)
    return replace(rig, positions=(*rig.positions[:place], before, *rig.positions[place + 1 :]))


def test_a_branch_that_was_added_is_the_work_that_was_done() -> None:
    """Parts, and the tee that they came with; the way back leaves them out, and the rest stands in series again."""
    for rig in steady():
        before = without_second(rig)
        place = next(p for p in rig.positions if p.branches)
        new = {f"{each.name} (new)" for each in place.branches[1].positions if each.installed is not None}
        tees = {f"{place.name} {where} tee (new)" for where in ("parting", "meeting") if getattr(place, where) is not None}
        work = work_between(before, rig)
        assert set(work.parts) == new | tees
        assert work.left_out == ()
        back = work_between(rig, before)
        assert {f"{name} (new)" for name in back.left_out} == new
        assert back.parts == ()
        left = without_what_is_gone(rig, before)
        assert [p.name for p in left.positions] == [p.name for p in before.as_it_stands.positions]
        assert median_m3s(left) == pytest.approx(median_m3s(before), rel=1e-9)


def test_the_verdict_on_a_second_guard() -> None:
    """Fills before and after, exactly as the model has it: it was the upgrade, and nothing else."""
    rig = next(rig for rig in steady() if where(rig) == "intakes")
    rig = rig.with_each(lambda p: replace(p, state=State(blocked=0.9)) if p.name == "intake" else p)
    before, fills = without_second(rig), []
    for one in (before, rig):
        flow = median_m3s(one, (), 0.0)
        fills.append((TimedFill(volume_m3=0.1, seconds=(0.1 / flow,) * 3, volume_limit_m3=1e-4),))
    told = verify(replace(before, fills=fills[0]), replace(rig, fills=fills[1]))
    assert told.verdict.advice == "It was the upgrade."
    assert "intake_b (new)" in told.parts


def test_next_tests_say_what_to_do_with_two_of_a_kind() -> None:
    """Both guards come off, both outlets go into the container; where there is one, nothing is said of two."""
    for rig in steady()[:8]:
        told = next_tests(rig, posterior_of(rig, ()), loop_during_fill(rig))
        how = {test.name: test.how for test in told.tests}
        assert ("Both guards come off." in how["guard off"]) == (where(rig) == "intakes")
        assert (
            ("Both outlets fill" in how["fill as it is"])
            == ("Both outlets fill" in how["outlet off"])
            == (where(rig) == "outlets")
        )
        assert not any("Both" in how[name] for name in ("hose off at the coupling", "watts read"))
