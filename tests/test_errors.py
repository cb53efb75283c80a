"""Problems are collected, grouped by file and shown safely, with near names offered and never applied."""

from __future__ import annotations

import pickle
from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import (
    BadValue,
    InputError,
    Problem,
    Problems,
    Where,
    near_names,
    near_sentence,
    quoted,
    safe,
)

NO_UNIT = Problem(where=Where("hall_tank.toml", "tank.volume"), what='"120" has no unit.', cure='Write for example "120 l".')
NO_PART = Problem(
    where=Where("hall_tank.toml", "loop.return_hose.part"),
    what='no part "HOSE-1622" in hoses.csv',
    cure='Near names: "HOSE-16-22".',
)
NO_NUMBER = Problem(where=Where.line("hoses.csv", 7, "bore_mm"), what='"x" is not a number', cure='Write for example "16".')


def _raised(source: str, *found: Problem) -> InputError:
    problems = Problems()
    problems.extend(found)
    with pytest.raises(InputError) as caught:
        problems.raise_if_any(source)
    return caught.value


def test_one_file_gives_one_list_with_place_and_cure() -> None:
    assert str(_raised("hall_tank.toml", NO_UNIT, NO_PART)) == (
        "hall_tank.toml: 2 problems, nothing was solved.\n"
        '  tank.volume: "120" has no unit. Write for example "120 l".\n'
        '  loop.return_hose.part: no part "HOSE-1622" in hoses.csv. Near names: "HOSE-16-22".'
    )


def test_several_files_are_grouped_in_order_of_first_appearance() -> None:
    assert str(_raised("hall_tank.toml", NO_UNIT, NO_NUMBER, NO_PART)) == (
        "3 problems in 2 files, nothing was solved.\n"
        "hall_tank.toml: 2 problems.\n"
        '  tank.volume: "120" has no unit. Write for example "120 l".\n'
        '  loop.return_hose.part: no part "HOSE-1622" in hoses.csv. Near names: "HOSE-16-22".\n'
        "hoses.csv: 1 problem.\n"
        '  line 7, bore_mm: "x" is not a number. Write for example "16".'
    )


def test_a_place_without_file_belongs_to_the_source() -> None:
    error = _raised("hall_tank.toml", Problem(where="tank", what="is missing", cure="Add a table [tank]"), NO_UNIT)
    assert str(error).startswith(
        "hall_tank.toml: 2 problems, nothing was solved.\n  tank: is missing. Add a table [tank].\n  tank.volume: "
    )


def test_a_problem_without_cure_ends_after_the_statement() -> None:
    error = _raised("a.toml", Problem(where="tank", what="is missing", cure=""))
    assert str(error) == "a.toml: 1 problem, nothing was solved.\n  tank: is missing."


@pytest.mark.parametrize(
    ("where", "text", "file", "place"),
    [
        (Where("hall_tank.toml", "tank.volume"), "hall_tank.toml: tank.volume", "hall_tank.toml", "tank.volume"),
        (Where("my tank: new.toml", "tank"), "my tank: new.toml: tank", "my tank: new.toml", "tank"),
        (Where.line("hoses.csv", 7, "bore_mm"), "hoses.csv line 7, bore_mm", "hoses.csv", "line 7, bore_mm"),
        (Where.line("hoses.csv", 7, "price: net"), "hoses.csv line 7, price: net", "hoses.csv", "line 7, price: net"),
        (Where.line("my line 3.csv", 12), "my line 3.csv line 12", "my line 3.csv", "line 12"),
        ("loop line 2: x", "loop line 2: x", "", "loop line 2: x"),
        ("", "", "", ""),
    ],
)
def test_a_place_knows_its_file_and_the_rest(where: str, text: str, file: str, place: str) -> None:
    """Whatever a file or a key is called: nothing is read out of the text."""
    problem = Problem(where=where, what="", cure="")
    assert (problem.where, problem.file, problem.place) == (text, file, place)
    assert pickle.loads(pickle.dumps(problem)).file == file
    inside = problem.in_file("other.toml")
    assert inside.file == (file or "other.toml") and inside.place == place


def test_nothing_collected_raises_nothing() -> None:
    problems = Problems()
    problems.raise_if_any("hall_tank.toml")
    assert len(problems) == 0
    assert list(problems) == []


def test_the_same_problem_twice_is_kept_once_and_order_is_kept() -> None:
    problems = Problems()
    problems.add(NO_PART)
    problems.add(NO_UNIT)
    more = Problems()
    more.extend([NO_UNIT, NO_NUMBER])
    problems.extend(more)
    assert list(problems) == [NO_PART, NO_UNIT, NO_NUMBER]


def test_the_error_carries_its_problems_and_survives_a_worker_process() -> None:
    error = _raised("hall_tank.toml", NO_UNIT, NO_NUMBER)
    assert error.problems == (NO_UNIT, NO_NUMBER)
    again = pickle.loads(pickle.dumps(error))
    assert (again.source, again.problems, str(again)) == (error.source, error.problems, str(error))


def test_a_bad_value_becomes_a_problem_at_a_place_and_survives_a_worker_process() -> None:
    bad = BadValue('"120" has no unit.', 'Write for example "120 l".')
    assert bad.at(Where("hall_tank.toml", "tank.volume")) == NO_UNIT
    assert isinstance(bad, ValueError)
    again = pickle.loads(pickle.dumps(bad))
    assert (again.what, again.cure, str(again)) == (bad.what, bad.cure, str(bad))


def test_a_problem_cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        NO_UNIT.what = "other"  # type: ignore[misc]


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("120", '"120"'),
        ("", '""'),
        (120, '"120"'),
        ('5/8"', "'5/8\"'"),
        ("5' 6\"", '"5\' 6\\""'),
        ("a\nb\tc", '"a\\nb\\tc"'),
        ("\x1b[31mred", '"\\x1b[31mred"'),
        ("\u202egnp.exe", '"\\u202egnp.exe"'),
        ("\ud800", '"\\ud800"'),
        ("½ in", '"½ in"'),
        ("x" * 60, '"' + "x" * 60 + '"'),
        ("x" * 61, '"' + "x" * 60 + '..."'),
    ],
)
def test_values_are_quoted_escaped_and_cut(value: object, shown: str) -> None:
    assert quoted(value) == shown


@given(st.text())
def test_whatever_a_file_holds_each_problem_stays_on_one_printable_line(text: str) -> None:
    error = InputError(text, [Problem(where=text, what=text, cure=text), NO_UNIT])
    lines = str(error).split("\n")
    assert all(line.isprintable() for line in lines)
    files = len({problem.file or text for problem in error.problems})
    heads = 1 if files == 1 else 1 + files
    assert len(lines) == heads + len(error.problems)
    assert safe(text).isprintable()


KNOWN = ("HOSE-16-22", "HOSE-19-27", "HOSE-12-16", "HOSE-25-34", "PUMP-900", "TAIL-16")


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("HOSE-1622", ("HOSE-16-22", "HOSE-12-16", "HOSE-19-27")),
        ("hose-16-22", ("HOSE-16-22", "HOSE-19-27", "HOSE-12-16")),
        ("PUMP-90", ("PUMP-900",)),
        ("zzz", ()),
        ("", ()),
    ],
)
def test_near_names_come_nearest_first_and_at_most_three(name: str, near: tuple[str, ...]) -> None:
    assert near_names(name, KNOWN) == near


def test_near_names_do_not_hang_on_the_order_of_the_known_ones() -> None:
    assert near_names("HOSE-1622", reversed(KNOWN)) == near_names("HOSE-1622", KNOWN + KNOWN)


def test_equally_near_names_come_in_order_of_the_name() -> None:
    assert near_names("ab", ["ad", "ac", "ab"]) == ("ab",)
    assert near_names("part-x", ["part-c", "part-a", "part-b"]) == ("part-a", "part-b", "part-c")


def test_more_than_three_are_never_offered() -> None:
    assert len(near_names("part-x", [f"part-{i}" for i in range(9)], most=9)) == 3
    assert near_names("part-x", ["part-a"], most=0) == ()


def test_near_names_are_offered_as_a_sentence_only_if_there_are_any() -> None:
    assert near_sentence("PUMP-90", KNOWN) == 'Near names: "PUMP-900".'
    assert near_sentence("zzz", KNOWN) == ""


@given(st.text(max_size=20), st.lists(st.text(max_size=20), max_size=8))
def test_near_names_are_always_known_names(name: str, known: list[str]) -> None:
    near = near_names(name, known)
    assert set(near) <= set(known)
    assert len(near) == len(set(near)) <= 3
