"""Answers over an interval between cleanings: figures against the course of the bundle, words, limits, bad input."""

import json
import math
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from how_many import some_of

from optimizer import api
from optimizer.cli import main
from optimizer.model.catalog import Catalog
from optimizer.model.dossiers import Dossier
from optimizer.model.options import Option
from optimizer.model.parts import Kind
from optimizer.model.results import Result
from optimizer.model.rig import Position, Rig
from optimizer.model.saved import answer_of
from optimizer.report.text import headline, render
from optimizer.search.choices import Choices, choices

DEMO = Path(__file__).parents[2] / "parts_demo"
LITRE_PER_HOUR = 1e-3 / 3600.0


@cache
def asked(name: str, budget: int, days: float = 60.0, by: str = "last") -> Result:
    """A demo rig over an interval."""
    catalog = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(DEMO / "rigs" / f"{name}.toml", catalog)
    return api.best(rig, catalog, budget=budget, interval_days=days, by=by)


@pytest.mark.parametrize(
    ("name", "budget", "days"),
    some_of([("shrimp_and_fry_240", 3000, 14.0), ("reading_corner_130", 3000, 60.0), ("rift_lake_450", 3000, 60.0)], 3),
)
def test_the_answer_is_followed_again_by_another_route(name: str, budget: int, days: float) -> None:
    """`dirt/course.py` follows the answer part by part; the search followed it from arrays."""
    result = asked(name, budget, days)
    assert result.status == "proved"
    (check,) = result.proof.certificates
    assert check.agrees
    first, second = (float(number) for number in re.findall(r"\d+\.\d+", check.finding))
    assert first == pytest.approx(second, rel=1e-6)


def test_the_last_day_is_better_than_what_the_clean_day_would_choose() -> None:
    """The plain best delivers more when clean and less by the last day: a smaller or a finer guard is nearer to its cliff."""
    result = asked("shrimp_and_fry_240", 3000, 14.0)
    assert result.lasting is not None
    rows = {row.name: row for row in result.lasting.rows}
    assert rows["best"].last_m3s > rows["best when clean"].last_m3s
    assert rows["best"].clean_m3s < rows["best when clean"].clean_m3s
    plain = api.best(*rig_and_catalog("shrimp_and_fry_240"), budget=3000)
    assert plain.best is not None
    assert plain.best.flow_m3s == pytest.approx(rows["best when clean"].clean_m3s, abs=0.11 * LITRE_PER_HOUR)
    for row in result.lasting.rows:
        assert row.last_m3s <= row.mean_m3s <= row.clean_m3s


def rig_and_catalog(name: str) -> tuple[Rig, Catalog]:
    """A demo rig and the demo catalog."""
    catalog = api.read_catalog(DEMO / "catalog")
    return api.read_rig(DEMO / "rigs" / f"{name}.toml", catalog), catalog


def test_the_mean_is_no_less_than_that_of_the_best_last_day() -> None:
    last, mean = (asked("nano_60", 3000, 21.0, by) for by in ("last", "mean"))
    assert last.lasting is not None
    assert mean.lasting is not None
    assert mean.status == "proved"
    assert mean.lasting.rows[-1].mean_m3s >= last.lasting.rows[-1].mean_m3s - 0.1 * LITRE_PER_HOUR
    assert "on average over 21 days" in headline(mean).replace("\n", " ")


def test_windows_hold_on_both_days_and_misses_come_after_the_interval() -> None:
    result = asked("planted_300", 3000)
    assert result.lasting is not None
    assert result.lasting.windows
    for window in result.lasting.windows:
        assert window.kept
        assert window.flow_min_m3s <= window.last_m3s <= window.clean_m3s <= window.flow_max_m3s
    kept = [miss for miss in result.lasting.misses if "window" in miss.words]
    assert kept
    assert all(miss.day > 60.0 for miss in kept)
    assert "kept until day 60" in " ".join(render(result, full=True).split())


def test_the_cheapest_still_delivers_on_the_last_day() -> None:
    rig, catalog = rig_and_catalog("rift_lake_450")
    result = api.cheapest(rig, catalog, flow_m3s=600 * LITRE_PER_HOUR, interval_days=56.0)
    assert result.lasting is not None
    row = result.lasting.rows[-1]
    assert row.last_m3s >= 600 * LITRE_PER_HOUR * (1 - 1e-9)
    clean = api.cheapest(rig, catalog, flow_m3s=600 * LITRE_PER_HOUR)
    assert clean.best is not None
    assert clean.best.price < row.price
    missed = next(miss for miss in result.lasting.misses if "600 l/h" in miss.words)
    assert 56.0 <= missed.day < math.inf


def test_what_cannot_last_names_the_longest_time_that_it_can() -> None:
    """The marine rig asks for 3.5 turnovers an hour: 30.00 buy that when clean, and nothing has it left after 60 days. The cure
    is the longest interval with an answer; a day more has none, and what is said of it is the cheapest that lasts so long."""
    result = asked("marine_75gal", 3000)
    assert result.status == "infeasible" and result.conflict is not None
    assert "on day 60" in result.conflict.closest
    said = re.fullmatch(
        r"clean every (\d+) days, the longest there is a bundle for within all limits: (\d+) l/h on day \1, for ([\d.]+) EUR",
        result.conflict.remedies[0],
    )
    assert said is not None
    rig, catalog = rig_and_catalog("marine_75gal")
    days, least = int(said[1]), rig.limits.flow_min_m3s
    lasts = api.cheapest(rig, catalog, flow_m3s=least, interval_days=float(days))
    assert lasts.status == "proved" and lasts.best is not None and lasts.lasting is not None
    assert (f"{lasts.best.price / 100:.2f}", f"{lasts.lasting.rows[-1].last_m3s / LITRE_PER_HOUR:.0f}") == (said[3], said[2])
    assert asked("marine_75gal", 3000, float(days + 1)).status == "infeasible"


def test_what_cannot_last_names_the_most_that_is_left() -> None:
    """30.00 buy the shrimp tank no guard that holds 560 l/h for 60 days. The closest is the best by that day of the same question
    without a least flow, not what happened to be followed (257 l/h) on the way to "none"."""
    result = asked("shrimp_and_fry_240", 3000)
    assert result.status == "infeasible" and result.conflict is not None
    rig, catalog = rig_and_catalog("shrimp_and_fry_240")
    free = api.best(replace(rig, limits=rig.limits.without("flow_min_m3s")), catalog, budget=3000, interval_days=60.0)
    assert free.status == "proved" and free.best is not None and free.lasting is not None
    last, price = free.lasting.rows[-1].last_m3s / LITRE_PER_HOUR, f"{free.best.price / 100:.2f} EUR"
    assert 257.0 < last < 560.0
    said = f"{last:.0f} l/h on day 60, for {price}, is the most that is left within the other limits"
    assert result.conflict.closest == said


def test_what_helps_on_the_clean_day_alone_is_said_to_be_of_that_day() -> None:
    """With nothing to spend the marine rig is too slow even when clean, so all that would help is of that day; with a little
    money it is fast enough when clean, so the cure is of the last day. No device with a window hangs in it."""
    for days, budget, of_the_day in ((60.0, 0, "when clean"), (60.0, 3000, "on day 11")):
        told = asked("marine_75gal", budget, days).conflict
        assert told is not None
        assert told.remedies
        assert all(of_the_day in remedy for remedy in told.remedies)
        assert not any("inline devices" in limit for limit in told.limits)


def test_json_has_the_interval() -> None:
    body = json.loads(json.dumps(asked("rift_lake_450", 3000).to_dict(), allow_nan=False))
    assert body["lasting"]["days"] == 60.0
    assert body["lasting"]["rows"][-1]["name"] == "best"
    plain = api.best(*rig_and_catalog("rift_lake_450"), budget=3000)
    assert plain.to_dict()["lasting"] is None


def test_with_branches_the_best_of_the_clean_day_is_followed() -> None:
    """The same bundle as without an interval, stopped, with the split of its flow on both days: clean by the scalar solver of the
    plain answer, on the last day adding up to what is delivered. Dirt only takes flow, so the clean best bounds every day."""
    rig, catalog = rig_and_catalog("stem_plants_200")
    plain, result = api.best(rig, catalog), api.best(rig, catalog, interval_days=56.0)
    assert plain.best is not None
    assert result.lasting is not None
    row = result.lasting.rows[-1]
    assert (result.status, result.bill, result.changes) == ("stopped", plain.bill, plain.changes)
    assert row.clean_m3s == pytest.approx(plain.best.flow_m3s, rel=1e-7)
    assert row.last_m3s < row.mean_m3s < row.clean_m3s < result.proof.bound_m3s < row.clean_m3s + 0.11 * LITRE_PER_HOUR
    then = [line for line in result.branches if line.row == "best" and line.day == 56.0]
    clean = [line for line in result.branches if line.row == "best" and not line.day]
    assert [line.branch for line in then] == [line.branch for line in clean] == ["unit", "bypass"]
    assert sum(line.flow_m3s for line in then) == pytest.approx(row.last_m3s, rel=1e-9)
    (window,) = result.lasting.windows
    assert window.clean_m3s == pytest.approx(clean[0].flow_m3s, rel=1e-6)
    assert window.last_m3s == then[0].flow_m3s
    text = render(result, full=True)
    assert "best, day 56" in text
    assert "Chosen by the clean day" in headline(result).replace("\n  ", " ")
    assert all(len(line) <= 90 for line in text.splitlines())


def test_with_branches_an_interval_begins_clean_too() -> None:
    """A film in front of the unit keeps its window where nothing can throttle; an interval does not rely on it."""
    rig, catalog = rig_and_catalog("stem_plants_200")
    dirty = replace(rig, positions=tuple(_filmed(position) for position in rig.positions))
    plain = choices(dirty, catalog, dirty.limits)
    clean = choices(dirty, catalog, dirty.limits, starts_clean=True)
    assert any(option.state.film_m for option in _parts(plain))
    assert not any(option.state.film_m or any(fill.state.filled for fill in option.fills) for option in _parts(clean))
    assert {option.part.id for option in _parts(clean) if option.part} == {
        option.part.id for option in _parts(plain) if option.part
    }
    result = api.best(dirty, catalog, budget=0, interval_days=56.0)
    kept = {change.position for change in result.changes if change.change == "keep"}
    assert not kept & {position.name for position in dirty.positions if not position.state.is_clean}


def _filmed(position: Position) -> Position:
    """A place whose hoses, those in its branches too, have a film."""
    inner = tuple(replace(one, positions=tuple(_filmed(each) for each in one.positions)) for one in position.branches)
    film = replace(position.state, film_m=0.4e-3) if position.kind == Kind.HOSE else position.state
    return replace(position, branches=inner, state=film)


def _parts(menu: Choices) -> Iterator[Option]:
    """All options, those inside branches too."""
    for option in (option for some in menu.options for option in some):
        yield option
        for way in () if option.ways is None else option.ways.branches:
            yield from way.options


def test_what_branches_do_not_keep_is_a_warning(capsys: pytest.CaptureFixture[str]) -> None:
    """The rice fish's guard passes its speed limit before 170 days are over; the exit status says that nothing is proved."""
    catalog = rig_and_catalog("ricefish_160")[1]
    argv = ["best", str(DEMO / "rigs" / "ricefish_160.toml"), "--catalog", str(DEMO / "catalog"), "--interval", "170d"]
    assert main([*argv, "--json"]) == 3
    saved = answer_of(json.loads(capsys.readouterr().out), lambda place, what: pytest.fail(f"{place}: {what}"))
    assert isinstance(saved, Dossier)
    result = saved.result
    assert result is not None and result.lasting is not None
    missed = [miss for miss in result.lasting.misses if miss.day < 170.0]
    assert missed
    assert len([line for line in result.warnings if "not kept for the whole interval" in line]) == len(missed)
    assert "not kept for the whole interval" in render(result, full=True).replace("\n    ", " ")
    plants, _ = rig_and_catalog("stem_plants_200")
    cheap = api.cheapest(plants, catalog, flow_m3s=600 * LITRE_PER_HOUR, interval_days=56.0)
    assert cheap.status == "stopped"
    assert "a cheaper one that does" in headline(cheap).replace("\n  ", " ")


def test_other_ways_of_asking_are_refused() -> None:
    rig, catalog = rig_and_catalog("rift_lake_450")
    with pytest.raises(ValueError, match="judged"):
        api.best(rig, catalog, interval_days=60.0, by="median")
    with pytest.raises(ValueError, match="days"):
        api.best(rig, catalog, interval_days=-1.0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--interval", "60"], 'has no unit. Write for example "60 d"'),
        (["--interval", "1 h"], "is shorter than a day"),
        (["--interval", "0 d"], "must be above zero"),
        (["--interval", "200 weeks"], "longer than two years"),
        (["--mean"], "needs --interval"),
        (["--interval", "60d", "--robust", "P10"], "does not go together with --robust"),
        (["--interval", "60d", "--prove"], "does not go together with --prove"),
    ],
)
def test_bad_arguments(words: list[str], said: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(DEMO.parent)
    assert main(["best", "parts_demo/rigs/rift_lake_450.toml", *words]) == 1
    assert said in capsys.readouterr().err


def test_a_saved_answer_is_read_again() -> None:
    """What is never missed is null in JSON, and no day again when read."""
    result = asked("rift_lake_450", 3000)
    problems: list[str] = []
    saved = answer_of(json.loads(json.dumps(result.to_dict())), lambda place, what: problems.append(f"{place}: {what}"))
    assert problems == []
    assert result.lasting is not None
    assert any(math.isinf(miss.day) for miss in result.lasting.misses)
    assert isinstance(saved, Dossier)
    assert saved.result is not None
    assert saved.result.lasting == result.lasting
