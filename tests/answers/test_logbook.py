"""The log as a whole: runs between cleanings, their trends, the next cleaning by trend and by the model of dirt."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from optimizer import api
from optimizer.answers.question import stands_now
from optimizer.dirt.course import course
from optimizer.dirt.daily import daily_of
from optimizer.errors import InputError
from optimizer.line_file import append_line
from optimizer.line_file import line_of as line_with_sum
from optimizer.loop.standing import standing_loop
from optimizer.measure.log import append, fill_entry, fills_of, line_of, read, rigs_of, watts_entry
from optimizer.model.catalog import Catalog
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import LogEntry, WattsRead
from optimizer.model.rig import Rig
from optimizer.report import log_text

DEMO = Path(__file__).parents[2] / "parts_demo"
START = date(2026, 3, 1)
LITRES = 1e-3 / 3600.0


@pytest.fixture(scope="module")
def rig() -> Rig:
    """A demo rig with feeding and a wish."""
    return api.read_rig(DEMO / "rigs" / "reading_corner_130.toml", api.read_catalog(DEMO / "catalog"))


def day(after: int) -> str:
    """A day of the log."""
    return (START + timedelta(days=after)).isoformat()


def fill_of(after: int, litres_per_hour: float, **more: object) -> LogEntry:
    """A fill of 5 l at a flow, three times."""
    took = 0.005 / (litres_per_hour * LITRES)
    return fill_entry(TimedFill(volume_m3=0.005, seconds=(took, took + 0.2, took - 0.2), date=day(after), **more))  # type: ignore[arg-type]


def cleaning(after: int, *what: str) -> LogEntry:
    """A cleaning."""
    return LogEntry(kind="cleaning", date=day(after), data={"what": list(what or ("everything",))})


def falling(begin: int, level: float, days: tuple[int, ...]) -> list[LogEntry]:
    """Fills that fall by half a percent a day."""
    return [fill_of(begin + after, level * math.exp(-0.005 * after)) for after in days]


def test_the_trend_since_each_cleaning(tmp_path: Path) -> None:
    """What was put in comes out: level and fall of each run, by the exponential the fills were made from."""
    entries = [
        fill_of(-5, 250.0),
        cleaning(0),
        *falling(0, 400.0, (1, 10, 25)),
        cleaning(30, "guard"),
        *falling(30, 380.0, (0, 14)),
    ]
    told = api.log(tmp_path / "t.log", *entries)
    assert told.added == len(entries) == len(told.lines)
    assert [(since.date, since.began_by, since.fills) for since in told.since] == [
        (day(-5), "", 1), (day(0), "cleaning", 3), (day(30), "cleaning", 2)]  # fmt: skip
    assert told.since[0].start_m3s is None
    for since, level in zip(told.since[1:], (400.0, 380.0), strict=True):
        assert since.start_m3s is not None and since.per_week is not None
        assert since.start_m3s / LITRES == pytest.approx(level, rel=1e-4)
        assert since.per_week.p50 == pytest.approx(math.exp(-0.005 * 7.0), rel=1e-4)
        assert since.per_week.p10 < since.per_week.p50 < since.per_week.p90


def test_the_next_cleaning_is_when_the_wanted_flow_is_missed(tmp_path: Path) -> None:
    path = tmp_path / "t.log"
    told = api.log(path, cleaning(0), *falling(0, 400.0, (1, 10, 25)), flow_m3s=300.0 * LITRES)
    due = told.next
    assert due is not None
    likely = next(after for after in range(1000) if 400.0 * math.exp(-0.005 * after) < 300.0)
    assert due.likely == day(likely)
    assert day(25) < due.earliest < due.likely < due.latest
    assert (due.by, due.fills) == ("own fills", 3)
    assert told.modelled is None
    missed = api.log(path, flow_m3s=380.0 * LITRES).next
    assert missed is not None and missed.already


def test_a_young_run_borrows_the_fall_of_those_before(tmp_path: Path) -> None:
    entries = [cleaning(0), *falling(0, 400.0, (1, 10, 25)), cleaning(30), *falling(30, 420.0, (1,))]
    due = api.log(tmp_path / "t.log", *entries, flow_m3s=300.0 * LITRES).next
    assert due is not None
    assert (due.by, due.fills, due.runs) == ("runs", 4, 2)
    likely = next(after for after in range(1000) if 420.0 * math.exp(-0.005 * after) < 300.0)
    assert due.likely == day(30 + likely)


def test_what_was_before_a_change_of_parts_is_another_loop(tmp_path: Path) -> None:
    change = LogEntry(kind="change", date=day(30), data={"what": "open pipe for the bar"})
    told = api.log(
        tmp_path / "t.log",
        cleaning(0),
        *falling(0, 400.0, (1, 10, 25)),
        change,
        *falling(30, 500.0, (1,)),
        flow_m3s=300.0 * LITRES,
    )
    assert told.next is not None
    assert told.next.likely == told.next.earliest == ""
    assert told.next.by == "one fill"
    assert told.since[-1].began_by == "change"


def test_a_cleaning_and_a_change_of_one_day_begin_one_run(tmp_path: Path, rig: Rig) -> None:
    change = LogEntry(kind="change", date=day(0), data={"what": "open pipe for the bar"})
    for first, second in ((cleaning(0), change), (change, cleaning(0))):
        told = api.log(tmp_path / f"{first.kind}.log", fill_of(0, 200.0), first, second, fill_of(20, 320.0), rig=rig)
        assert [since.began_by for since in told.since] == ["", f"{first.kind} and {second.kind}"]
        assert told.modelled is not None and told.modelled.likely


def test_entries_are_taken_by_their_days(tmp_path: Path) -> None:
    """Written late, but of its day: the same trend. Of one day, the order of writing counts."""
    ordered = [cleaning(0), *falling(0, 400.0, (0, 10, 25))]
    late = [*ordered[:2], *ordered[3:], ordered[2]]
    one, other = api.log(tmp_path / "a.log", *ordered), api.log(tmp_path / "b.log", *late)
    assert one.since == other.since and one.lines == other.lines
    swapped = api.log(tmp_path / "c.log", ordered[1], ordered[0], *ordered[2:])
    assert [since.fills for since in swapped.since] == [1, 2]


def test_fills_in_other_arrangements_need_the_rig(tmp_path: Path, rig: Rig) -> None:
    """The mouth 40 cm up: left out without a rig, brought to the loop as installed with it. The ratio is that of two loops solved
    by brackets, one with its outlet 40 cm higher."""

    path = tmp_path / "t.log"
    alone = api.log(path, cleaning(0), fill_of(1, 250.0, height_m=0.4), fill_of(2, 300.0))
    assert [bool(line.left_out) for line in alone.lines] == [False, True, False]
    assert alone.since[0].fills == 1
    told = api.log(path, rig=rig)
    assert [line.left_out for line in told.lines] == ["", "", ""]
    raised = replace(rig, positions=(*rig.positions[:-1], replace(rig.positions[-1], height_m=0.4)))
    ratio = api.operating_point(rig).flow_m3s / api.operating_point(raised).flow_m3s
    assert told.lines[1].flow_m3s / LITRES == pytest.approx(250.0 * ratio, rel=1e-3)
    assert told.lines[1].relative > told.lines[2].relative
    # the wish of the rig counts when no flow is asked for
    assert told.next is not None and told.next.flow_m3s == rig.target_m3s


def test_the_model_of_dirt_is_set_to_the_last_fill(tmp_path: Path, rig: Rig) -> None:
    """The day by hand: the course of the cleaned loop, scaled to the fill of day 20, looked through day by day."""
    told = api.log(tmp_path / "t.log", cleaning(0), fill_of(20, 320.0), rig=rig, flow_m3s=290.0 * LITRES)
    assert told.modelled is not None
    stands = stands_now(rig, Catalog(parts={}, products=()))
    walk = course(standing_loop(rig, stands.options, stands.joints).cleaned(), daily_of(rig), 730.0)
    scaled = 320.0 * walk.flow_m3s / walk.flow_m3s[20]
    first = int(np.flatnonzero(scaled < 290.0)[0])
    assert told.modelled.likely in (day(first), day(first - 1))
    assert told.modelled.by == "model"
    assert any(note.startswith("feeding.debris") for note in told.notes)
    partly = api.log(tmp_path / "u.log", cleaning(0, "guard"), fill_of(20, 320.0), rig=rig, flow_m3s=290.0 * LITRES)
    assert partly.modelled is not None and partly.modelled.likely == ""
    assert partly.modelled.by == "no clean"


def test_a_torn_line_costs_itself_alone(tmp_path: Path) -> None:
    """Cut at every byte of the last line, then written on: what was whole before is there, and so is the new entry."""
    path = tmp_path / "t.log"
    entries = [cleaning(0), *falling(0, 400.0, (1, 10))]
    api.log(path, *entries)
    raw = path.read_bytes()
    last = len(raw) - len(line_of(entries[-1]))
    for cut in range(last, len(raw)):
        path.write_bytes(raw[:cut])
        told = api.log(path, fill_of(20, 360.0))
        whole = cut >= len(raw) - 1  # all but the line's end is enough
        assert [line.kind for line in told.lines] == ["cleaning", "fill", *(["fill"] if whole else []), "fill"]
        assert len(told.problems) == (0 if whole or cut == last else 1)


def test_a_first_entry_that_was_torn_is_still_a_log(tmp_path: Path) -> None:
    path = tmp_path / "t.log"
    raw = line_of(cleaning(0))
    for cut in range(len(raw)):
        path.write_bytes(raw[:cut])
        assert api.log(path, fill_of(1, 300.0)).lines[-1].kind == "fill"


@pytest.mark.parametrize("text", ["name = 'x'\n", '{\n  "sum": 1\n}\n', "{", "\x00\x01", "fill;2026-01-01\n"])
def test_a_file_that_is_no_log_stays_as_it_is(tmp_path: Path, text: str) -> None:
    path = tmp_path / "tank.toml"
    path.write_text(text, encoding="utf-8")
    if text == "{":  # what a crash at the first byte would leave
        assert len(api.log(path, cleaning(0)).lines) == 1
        return
    with pytest.raises(InputError, match="this is no log, and nothing was written to it"):
        api.log(path, cleaning(0))
    assert path.read_text(encoding="utf-8") == text


def test_odd_entries_are_shown_and_do_no_harm(tmp_path: Path, rig: Rig) -> None:
    """Entries that no command writes: no day, a fill without seconds or beyond reason, words that are no list."""
    path = tmp_path / "t.log"
    odd = [
        LogEntry(kind="fill", date=day(1), data={"volume_m3": 0.01, "seconds": "many"}),
        LogEntry(kind="fill", date=day(1), data={"volume_m3": 1.0, "seconds": [1e-300]}),
        LogEntry(kind="fill", date="someday", data=dict(fill_of(0, 300.0).data)),
        LogEntry(kind="cleaning", date=day(2), data={"what": 7}),
        watts_entry(WattsRead(power_w=12.5, date=day(3))),
    ]
    for entry in odd:
        append(path, entry)
    for asked in (None, rig):
        told = api.log(path, rig=asked, flow_m3s=300.0 * LITRES)
        assert len(told.lines) == 5
        assert told.lines[-1].date == "" and told.lines[-1].left_out
        assert told.since[-1].date == day(2) and told.since[-1].fills == 0
        json.dumps(told.to_dict(), allow_nan=False)
    assert told.lines[-2].words == "12.5 W"


def test_what_cannot_be_used_is_told(tmp_path: Path, rig: Rig) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        api.log(tmp_path / "none.log")
    with pytest.raises(InputError, match="cannot be written"):
        api.log(tmp_path, cleaning(0))
    with pytest.raises(InputError, match="cannot be written"):
        api.log(tmp_path / "no_folder" / "t.log", cleaning(0))
    with pytest.raises(ValueError, match="no kind of entry"):
        api.log(tmp_path / "t.log", LogEntry(kind="feeding", date=day(0)))


# -- what used to end in a traceback, or was taken without a word --------------------------------------------------


def test_fills_years_after_the_cleaning(tmp_path: Path) -> None:
    """On following days, falling fast: carried back to the cleaning the trend would say more than any number holds."""
    path = tmp_path / "a.log"
    entries = [cleaning(0, "everything"), *(fill_of(3000 + n, flow) for n, flow in enumerate((500.0, 300.0, 180.0)))]
    told = api.log(path, *entries, flow_m3s=100.0 * LITRES)
    assert told.since[0].start_m3s is None and told.since[0].per_week is not None
    assert told.since[0].per_week.p50 == pytest.approx(0.6**7, rel=1e-2)
    assert "3 fills over 3 002 days, -97" in log_text.render(told)
    assert api.log(path, fill_of(3003, 179.0)).since[0].start_m3s is None


def test_a_number_that_is_no_float_is_no_fill(tmp_path: Path, rig: Rig) -> None:
    """A whole number of 400 digits with a right checksum."""
    path = tmp_path / "a.log"
    odd = LogEntry(kind="fill", date=day(0), data={"volume_m3": 10**400, "seconds": [60.0]})
    told = api.log(path, odd, fill_of(0, 300.0))
    assert [line.kind for line in told.lines] == ["fill", "fill"]
    assert told.since[0].fills == 1
    assert len(api.with_log(replace(rig, fills=()), path).fills) == 1
    with pytest.raises(ValueError, match="larger than anything that is measured"):
        fills_of([odd])


def test_results_and_notes_are_no_log(tmp_path: Path) -> None:
    """Results are kept in lines with checksums too; a page of notes that quotes a line of a log is not one either."""
    results, notes = tmp_path / "shop.results", tmp_path / "notes.txt"
    append_line(results, line_with_sum({"key": "0123", "answer": {"flow": 1.0}}))
    notes.write_bytes(b"What the filter said\n\nIn spring:\n" + line_of(cleaning(0, "guard")) + b"and so on\n")
    for path in (results, notes):
        before = path.read_bytes()
        with pytest.raises(InputError, match="this is no log"):
            api.log(path, cleaning(0, "everything"))
        with pytest.raises(ValueError, match="is no log, and nothing was written to it"):
            append(path, cleaning(0, "everything"))
        assert path.read_bytes() == before


def test_a_log_knows_its_tank(tmp_path: Path, rig: Rig) -> None:
    """Written with a rig file it takes entries of no other tank, and says nothing of one."""
    path = tmp_path / "a.log"
    api.log(path, cleaning(0, "everything"), rig=rig)
    assert rigs_of(read(path).entries) == {"Reading corner"}
    before = path.read_bytes()
    with pytest.raises(InputError, match='log of "Reading corner", and the rig file is of "Hall tank"'):
        api.log(path, cleaning(1, "everything"), rig=replace(rig, name="Hall tank"))
    assert path.read_bytes() == before
    api.log(path, cleaning(1, "guard"))
