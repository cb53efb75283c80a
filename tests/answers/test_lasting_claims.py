"""What an answer over an interval says of limits and targets, against its bundles followed day by day, limit by limit.

The margins here are written out anew, from the elements of each day; nothing of `dirt/course_readings.py` is used.
"""

import math
import random
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from how_many import some_of
from small_worlds import world

from optimizer.answers.interval import over_interval
from optimizer.answers.lasting import LastingSearch, loop_of
from optimizer.answers.lasting_rows import walked
from optimizer.answers.question import Question
from optimizer.answers.words import limit_words
from optimizer.bands.candidates import candidate
from optimizer.bands.draws import Draws, Factors
from optimizer.bands.priors import PRIORS
from optimizer.bands.series import own_m3s
from optimizer.dirt.course import Course, course
from optimizer.loop.operating import element_head_m
from optimizer.loop.standing import dirtied
from optimizer.loop.terms import velocity_quadratic
from optimizer.model.lasting import LastingMiss, LastingRow
from optimizer.model.load import Load
from optimizer.model.parts import Device
from optimizer.model.results import Result
from optimizer.report.text import headline

SIZE = 100
SEEDS = some_of(range(48), 3)
LEAST = 1e-9


@cache
def asked(seed: int) -> tuple[LastingSearch, Result] | None:
    """A small world, heavily fed, over days as dirty as weeks; every third asks for the cheapest way to a flow, with a target of
    the clean day too. None: branches, or nothing found."""
    rng = random.Random(7000 + seed)
    rig, catalog = world(seed, SIZE)
    load = Load(feed_kg_day=rng.uniform(0.1, 0.6), protein_share=0.45, debris_kg_day=rng.choice([0.0, 0.5e-3, 4e-3]))
    rig = replace(rig, load=load)
    question = Question(rig=rig, catalog=catalog, limits=rig.limits, days=rng.choice([1.5, 2.0, 3.25]))
    found = over_interval(question)
    if isinstance(found, LastingSearch) and found.verdict.found is not None and seed % 3 == 0:
        last = found.verdict.found
        found = over_interval(replace(question, target_m3s=0.7 * last.last_m3s, clean_m3s=0.8 * last.clean_m3s))
    if not isinstance(found, LastingSearch) or found.verdict.found is None:
        return None
    return found, found.result()


def found_in() -> Iterator[tuple[LastingSearch, Result]]:
    """The worlds that have an answer."""
    return (each for seed in SEEDS if (each := asked(seed)) is not None)


def runs(found: LastingSearch) -> dict[str, Course]:
    """The loops of the rows, followed day by day."""
    question, free = found.question, found.free.stands
    top = free.flow_m3s if free.held_by else math.inf
    assert found.verdict.found is not None
    best = walked(loop_of(found, found.verdict.found), found.daily, question.days, question.limits)
    return {
        "best": best,
        "now": course(found.now.loop, found.daily, question.days),
        "spend nothing": walked(replace(free.loop, ceiling_m3s=top), found.daily, question.days, found.free.limits),
    }


def broken_on(run: Course, question: Question, day: int) -> set[str]:
    """What the flow of one day breaks, in the words of an answer."""
    limits, rig, flow = question.limits, question.rig, float(run.flow_m3s[day])
    elements = run.elements(day)
    pump = next(n for n, element in enumerate(elements) if element.curve is not None)
    lost = sum(element_head_m(element, flow, run.loop.water.kinematic_m2s) for element in elements[:pump])
    inlet = rig.positions[rig.index("pump")].depth_m - lost - velocity_quadratic(elements[pump].inlet_bore_m) * flow**2
    (_, guard), blocked = run.loop.guards[0], float(run.guards_blocked[day][0])
    tests = {
        "flow_min_m3s": flow < limits.flow_min_m3s * (1 - 2e-9),
        "flow_max_m3s": flow > limits.flow_max_m3s * (1 + 2e-9),
        "guard_speed_ms": flow > limits.guard_speed_ms * guard.face_area_m2 * (1 - blocked) * (1 + 2e-9),
        "inlet_head_m": inlet < limits.inlet_head_m - 2e-9,
    }
    found = {limit_words(name, limits, rig) for name, is_broken in tests.items() if is_broken}
    for _, one, device in run.loop.each(Device) if limits.device_windows else ():
        if flow < device.flow_min_m3s * (1 - 2e-9) or flow > device.flow_max_m3s * (1 + 2e-9):
            found.add(f"the flow window of {one.position.name}")
    wanted = question.target_m3s
    if wanted and flow < wanted * (1 - 2e-9):
        found.add(f"{wanted * 3.6e6:.0f} l/h delivered ({rig.turnover_per_hour(wanted):.2f} per hour)")
    if day == 0 and flow < question.clean_m3s * (1 - 2e-9):
        found.add(f"{question.clean_m3s * 3.6e6:.0f} l/h on the clean day")
    return found


def first_broken(run: Course, question: Question) -> dict[str, int]:
    """What is broken on any day, with the index of the first of them."""
    found: dict[str, int] = {}
    for day in range(len(run.days)):
        for words in broken_on(run, question, day):
            found.setdefault(words, day)
    return found


def assert_agrees(claimed: tuple[LastingMiss, ...], run: Course, question: Question) -> int:
    """Each limit claimed as missed is broken, from the day after the last on which it was not; the others never are."""
    by_hand = first_broken(run, question)
    every = {miss.words: miss.day for miss in claimed}
    for words, day in by_hand.items():
        assert words in every
        sooner = float(run.days[day - 1]) if day else -1.0
        assert sooner - 1e-6 <= every[words] <= float(run.days[day]) + 1e-6
    static = {words for words, day in every.items() if words not in by_hand}
    assert all(every[words] == 0.0 for words in static)
    assert not static & {
        limit_words(name, question.limits, question.rig) for name in ("flow_min_m3s", "guard_speed_ms", "inlet_head_m")
    }
    return sum(day > 0.0 for day in every.values())


def test_rows_say_of_every_limit_on_which_day_it_is_first_broken() -> None:
    """In a good part of the worlds something is kept on the clean day and missed later."""
    later = 0
    for found, result in found_in():
        assert result.lasting is not None
        rows = {row.name: row for row in result.lasting.rows}
        for name, run in runs(found).items():
            assert rows[name].last_m3s == pytest.approx(float(run.flow_m3s[-1]), rel=1e-9)
            later += assert_agrees(rows[name].missed, run, found.question)
    assert later >= 5


def test_the_answer_keeps_every_limit_on_every_day_and_says_so_once() -> None:
    """One function looks at all days, so that no sentence, window or list of what is missed can say otherwise than another."""
    count = 0
    for found, result in found_in():
        lasting, verdict = result.lasting, found.verdict.found
        assert lasting is not None and verdict is not None
        assert not lasting.rows[-1].missed
        assert all(window.kept for window in lasting.windows)
        assert all(miss.day > lasting.days for miss in lasting.misses if "delivered" not in miss.words)
        assert "keeps to all limits on every one of the" in headline(result).replace("\n  ", " ")
        assert lasting.rows[-1].clean_m3s >= found.question.clean_m3s * (1 - 1e-9)
        assert lasting.rows[-1].clean_m3s == pytest.approx(verdict.clean_m3s, rel=1e-6)
        count += 1
    assert count >= len(SEEDS) / 2


def test_rows_that_start_clean_and_deliver_more_than_the_best_break_something() -> None:
    """Spending nothing is judged by the same day, after the same clean: it only has more than the best outside the limits."""
    for _, result in found_in():
        assert result.lasting is not None
        best = result.lasting.rows[-1]
        for row in result.lasting.rows[1:-1]:
            assert row.missed or judged(row) <= judged(best) * (1 + 1e-4) or result.question.target_m3s


def judged(row: LastingRow) -> float:
    """What a row is judged by."""
    return row.last_m3s


def test_the_clean_day_is_that_of_the_plain_answer_for_the_same_bundle() -> None:
    """One truth about the loop: the flow of the first row of the verdict, solved in scalars, is that of the first day."""
    for _, result in found_in():
        assert result.lasting is not None and result.best is not None and result.spend_nothing is not None
        rows = {row.name: row for row in result.lasting.rows}
        assert rows["best"].clean_m3s == pytest.approx(result.best.flow_m3s, rel=1e-7)
        assert rows["now"].clean_m3s == pytest.approx(result.now.flow_m3s, rel=1e-7, abs=LEAST)
        if "spend nothing" in rows:
            assert rows["spend nothing"].clean_m3s == pytest.approx(result.spend_nothing.flow_m3s, rel=1e-7, abs=LEAST)


def test_the_draws_of_a_dirty_day_start_from_the_loop_of_that_day() -> None:
    """With every factor at its median the pieces of the last day flow as the course did, which is solved from elements."""
    tried = 0
    for each in found_in():
        run = each[0].course()
        assert run is not None
        one = candidate(dirtied(run.loop, run.states(-1), run.tray_states(-1)), each[0].question.limits, "x")
        still = Draws(unknowns=one.unknowns, normals=np.zeros((1, len(one.unknowns))))
        assert float(own_m3s(one, Factors(still, PRIORS))[0]) == pytest.approx(float(run.own_m3s[-1]), rel=1e-7)
        tried += 1
    assert tried >= 3
