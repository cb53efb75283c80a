"""A saved answer comes back as it was, and whatever else a file holds is told, never half-believed."""

import json
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from report_cases import dossier, read_back, saved

from optimizer import api
from optimizer.model.answer import Answer
from optimizer.model.dossiers import BLOCKS, Dossier
from optimizer.model.said_lines import KINDS, said_lines
from optimizer.model.saved import answer_of, dossier_of, taken_back
from optimizer.report.measures import IN_US, system

DEMO = Path(__file__).parents[2] / "parts_demo"


def _wrong(tree: object) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    made = dossier_of(tree, lambda place, what: found.append((place, what)))
    assert (made is None) == bool(found)
    return found


def test_a_saved_dossier_comes_back_as_it_was() -> None:
    assert read_back(saved()) == dossier()


@pytest.mark.parametrize("name", BLOCKS)
def test_each_answer_comes_back_alone(name: str) -> None:
    block = getattr(dossier(), name)
    tree = json.loads(json.dumps(block.to_dict(), allow_nan=False))
    assert read_back(tree) == Dossier(**{name: block})


def _at(tree: Any, path: tuple[Any, ...]) -> Any:
    for step in path:
        tree = tree[step]
    return tree


SPOILED = (
    (("result", "now", "flow_m3s"), "much", "result.now.flow_m3s"),
    (("result", "now", "flow_m3s"), None, "result.now.flow_m3s"),
    (("result", "now", "flow_m3s"), 1e300, "result.now.flow_m3s"),
    (("result", "now", "flow_m3s"), True, "result.now.flow_m3s"),
    (("result", "best", "price"), 1.5, "result.best.price"),
    (("result", "bill"), {}, "result.bill"),
    (("result", "joints", 0, "between"), ["only one"], "result.joints[0].between"),
    (("result", "schema"), "fullbore-result/2", "result.schema"),
    (("front", "points", 1), 7, "front.points[1]"),
    (("curves", "curves", 0, "heads_m"), [1.0], "curves.curves[0]"),
    (("curves", "curves", 0, "kind"), "hose", "curves.curves[0]"),
    (("falls", "falls", 0, "days", 1), -1.0, "falls.falls[0]"),
    (("spill",), [], "spill"),
    (("left_out",), "nothing", "left_out"),
)


@pytest.mark.parametrize(("path", "value", "place"), SPOILED)
def test_what_is_wrong_is_told_with_its_place(path: tuple[Any, ...], value: object, place: str) -> None:
    tree = saved()
    _at(tree, path[:-1])[path[-1]] = value
    assert [where for where, _ in _wrong(tree)] == [place]


def test_what_is_missing_is_told() -> None:
    tree = saved()
    del tree["result"]["proof"], tree["front"]["points"][0]["price"]
    assert sorted(_wrong(tree)) == [("front.points[0].price", "is missing."), ("result.proof", "is missing.")]


@pytest.mark.parametrize("other", [None, 3, [], {}, {"schema": "shop/1"}, {"schema": ["x"]}, {"schema": "fullbore-dossier/6"}])
def test_other_json_is_refused(other: object) -> None:
    assert _wrong(other)


@pytest.mark.parametrize("schema", ["fullbore-result/1", "fullbore-dossier/2", "fullbore-kits/99"])
def test_another_version_is_refused_with_what_to_do(schema: str) -> None:
    """A file of before is no damage, but its fields mean something else."""
    said: list[str] = []
    assert answer_of(saved() | {"schema": schema}, lambda place, what: said.append(f"{place}: {what}")) is None
    assert said == [f"schema: '{schema}' is of another version of this program, which has version 6: ask the question again."]


def test_an_answer_that_was_saved_alone_keeps_its_quantities() -> None:
    """What --json prints of a plain question can be shown in other units later."""
    result = dossier().result
    assert result is not None
    again = read_back(json.loads(json.dumps(result.to_dict(), allow_nan=False))).result
    assert again is not None and again == result
    us = system("us")
    assert [us.words(text) for text in again.cautions] == [us.words(text) for text in result.cautions]


def test_only_bounds_may_be_without_end() -> None:
    tree = saved()
    tree["result"]["windows"] = [
        {"row": "now", "place": "p", "device": "d", "flow_m3s": 1e-4, "flow_min_m3s": 0.0, "flow_max_m3s": None, "kept": True}
    ]
    result = read_back(tree).result
    assert result is not None
    assert math.isinf(result.windows[0].flow_max_m3s)


JUNK = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False), st.text(max_size=5), st.just([]), st.just({})
)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_spoiled_file_is_read_or_refused_and_never_raises(data: st.DataObject) -> None:
    tree = saved()
    here: Any = tree
    while True:
        key = data.draw(st.sampled_from(sorted(here)) if isinstance(here, dict) else st.integers(0, len(here) - 1))
        if not isinstance(here[key], dict | list) or not here[key] or data.draw(st.booleans()):
            break
        here = here[key]
    here[key] = data.draw(JUNK)
    _wrong(tree)


def test_quantities_in_texts_survive_and_cannot_be_forged() -> None:
    """A caution says the same in US units after a save as before; pieces that are not the text are refused."""
    result, again = dossier().result, read_back(saved()).result
    assert result is not None and again is not None
    us = system("us")
    assert [us.words(text) for text in again.cautions] == [us.words(text) for text in result.cautions]
    assert any(us.words(text) != text for text in again.cautions)
    tree = saved()
    tree["said"][0]["pieces"][0]["text"] = "Pull the plug with wet hands. "
    assert _wrong(tree) == [("said[0]", "the pieces of a text must be that text.")]


def test_every_kind_of_quantity_can_be_saved() -> None:
    """Those that reports can turn into US units, and plain text."""
    assert set(KINDS) == {"", *IN_US}


def test_answers_on_measurements_come_back_as_they_were() -> None:
    """Each from its JSON, quantities in texts and numbers without end included; nothing else is taken for one."""
    catalog = api.read_catalog(DEMO / "catalog")
    before, after = (api.read_rig(DEMO / f"rigs/reading_corner_130{end}.toml", catalog) for end in ("", "_after"))
    log = api.log(DEMO / "logs/reading_corner_130.log", rig=after)
    told: list[Answer] = [api.measure(before), api.verify(before, after), log, api.ageing(before)]
    for each in told:
        tree = json.loads(json.dumps(each.to_dict(), allow_nan=False))
        again = taken_back(type(each), tree)
        assert again == each
        assert [line.text for line in said_lines(again)] == [line.text for line in said_lines(each)]
        for wrong in ({}, {**tree, "schema": "fullbore-result/1"}, {**tree, "notes": 3}, []):
            with pytest.raises(ValueError, match=r"schema|notes|this is no"):
                taken_back(type(each), wrong)
