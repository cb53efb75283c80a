"""A tank at a glance: which step comes first, whether what is asked is met, and the last fill."""

from dataclasses import replace
from datetime import date
from math import inf
from pathlib import Path

import pytest

from optimizer import api
from optimizer.model.ageing import Missing
from optimizer.model.diagnosis import AIR, PUMP, Cause
from optimizer.model.logbook import Logbook, NextCleaning
from optimizer.report.glance_text import Glance, asked_words, clean_again_words, last_fill, next_step
from optimizer.report.layout import GLUE
from optimizer.report.measures import SYSTEMS

DEMO = Path(__file__).parents[2] / "parts_demo"
METRIC = SYSTEMS["metric"]
TODAY = date(2026, 5, 10)


@pytest.fixture(scope="module")
def told() -> Glance:
    """A tank that is to be cleaned, has no fill, and misses its least flow until then."""
    rig = api.read_rig(DEMO / "rigs" / "nano_60.toml", api.read_catalog(DEMO / "catalog"))
    return Glance(ageing=api.ageing(rig), diagnosis=api.diagnose(rig))


def _clean(told: Glance) -> Glance:
    """The same, with nothing that a clean gives back."""
    calibrated = replace(told.diagnosis.calibrated, clean_first="")
    return replace(told, diagnosis=replace(told.diagnosis, calibrated=calibrated))


def _measured(told: Glance) -> Glance:
    """The same after one measurement."""
    calibrated = told.diagnosis.calibrated
    calibrated = replace(calibrated, identified=replace(calibrated.identified, singular=(2.0,)))
    return replace(told, diagnosis=replace(told.diagnosis, calibrated=calibrated))


def _missing(told: Glance, *missing: Missing) -> Glance:
    return replace(told, ageing=replace(told.ageing, missing=missing))


def _wish(day: float, undone_day: float) -> Missing:
    return Missing(name="target", place="", words="the wish of 300 l/h", day=day, undone_day=undone_day)


def _logged(told: Glance, *, likely: str, already: bool = False) -> Glance:
    due = NextCleaning(
        flow_m3s=1e-4, earliest="2026-05-15", likely=likely, latest="2026-05-30", already=already, by="own fills", fills=4
    )
    log = Logbook(file="tank.log", rig="", added=0, lines=(), since=(), next=due, modelled=None, problems=())
    return replace(told, logbook=log)


def test_what_is_known_to_be_dirty_is_cleaned_before_anything_else(told: Glance) -> None:
    """The sentence is that of the diagnosis, with its band."""
    step = next_step(told, METRIC, TODAY)
    assert step.do == "clean"
    assert "clean and measure again before you buy" in step.words


def test_the_pump_comes_before_a_clean(told: Glance) -> None:
    """Air in it, or a worn impeller, would make every other advice a guess."""
    causes = (Cause(name=PUMP, probability=0.8, size=0.9), Cause(name=AIR, probability=0.1, size=0.9))
    sick = replace(told, diagnosis=replace(told.diagnosis, causes=causes))
    step = next_step(_logged(sick, likely="2026-05-01", already=True), METRIC, TODAY)
    assert step.do == "measure"
    assert "impeller" in step.words


@pytest.mark.parametrize(
    ("likely", "already", "do", "words"),
    [
        ("2026-05-22", False, "wait", "clean next about 2026-05-22"),
        ("2026-05-01", False, "clean", "That day is past"),
        ("2026-05-01", True, "clean", "clean now"),
        ("", True, "clean", "clean now"),
    ],
)
def test_a_cleaning_that_is_due_by_the_log_is_the_next_step(
    told: Glance, likely: str, already: bool, do: str, words: str
) -> None:
    """Its day is told until it comes; from then on it is to be cleaned."""
    quiet = _missing(_measured(_clean(told)), _wish(inf, inf))
    step = next_step(_logged(quiet, likely=likely, already=already), METRIC, TODAY)
    assert (step.do, words in step.words) == (do, True)


def test_what_not_even_a_clean_loop_reaches_is_a_question_of_money(told: Glance) -> None:
    """Only then, and with the words of what is missed."""
    step = next_step(_missing(_clean(told), _wish(0.0, 0.0)), METRIC, TODAY)
    assert (step.do, step.words) == (
        "ask",
        "Missed even when clean: the wish of 300 l/h. Ask what your money can do about it.",
    )


def test_where_nothing_presses_a_first_fill_comes_and_then_the_next_cleaning(told: Glance) -> None:
    """Without a measurement all figures are those of the file."""
    quiet = _missing(_clean(told), _wish(40.0, 30.0))
    assert next_step(quiet, METRIC, TODAY).do == "measure"
    step = next_step(_measured(quiet), METRIC, TODAY)
    assert (step.do, step.words.replace(GLUE, " ")) == ("wait", "Clean within 40 days: then the wish of 300 l/h is missed.")
    assert step.words == clean_again_words(quiet, METRIC)


@pytest.mark.parametrize(
    ("day", "undone_day", "met"),
    [
        (0.0, 0.0, "missed, even when clean"),
        (12.0, 0.0, "missed now, met when clean"),
        (12.0, 7.9, "met for about 7 days"),
        (40.0, 0.4, "met for about 1 day"),
        (inf, inf, "met"),
    ],
)
def test_what_is_asked_is_met_or_missed(told: Glance, day: float, undone_day: float, met: str) -> None:
    """Now, and when clean."""
    words = [each.replace(GLUE, " ") for each in asked_words(_missing(told, _wish(day, undone_day)), METRIC)]
    assert words == [f"the wish of 300 l/h: {met}"]


def test_nothing_asked_says_nothing(told: Glance) -> None:
    """Limits that are no wish of the keeper are told by other pages."""
    assert list(asked_words(_missing(told), METRIC)) == []


def test_the_last_fill_is_the_latest_of_log_and_file(told: Glance) -> None:
    """Brought to the loop as installed; none at all is said so."""
    assert last_fill(told) is None
    catalog = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(DEMO / "rigs" / "reading_corner_130.toml", catalog)
    book = api.log(DEMO / "logs" / "reading_corner_130.log", rig=rig)
    found = last_fill(replace(told, logbook=book))
    assert found is not None
    assert found[0] == "2026-05-03"
    assert found[1] == pytest.approx(350.0 / 3.6e6, rel=0.01)
