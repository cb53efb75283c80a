"""A results file is input like any other: whatever stands in it, the answer is the one that is solved without it."""

from __future__ import annotations

import contextlib
import copy
import json
import random
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from demo import small_shop

from optimizer import api
from optimizer.cli import main
from optimizer.line_file import entry_of, line_of
from optimizer.model.shop import Store
from optimizer.tanks.answer_forms import usable
from optimizer.tanks.plan import kits_answer
from optimizer.tanks.pool import Crew, Work, in_this_process
from optimizer.tanks.population import packed
from optimizer.tanks.shop_questions import Asker
from optimizer.tanks.solves import ASKED, ContradictionError, work
from optimizer.version import sum_of

DEMO = Path(__file__).parents[2] / "parts_demo"
JUNK: tuple[Any, ...] = (
    None, True, "x", -1, 0.5, 1e300, 10**400, [], {}, ["a"], [["a", 1.0]], {"a": 1}, [None], [[["HOSE-19-27", 1.0]]],
)  # fmt: skip


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("shop") / "shop.toml"
    path.write_text(small_shop(40, 2), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def store(shop: Path) -> Store:
    return api.read_shop(shop, api.read_catalog(DEMO / "catalog"))


@pytest.fixture(scope="module")
def kept(store: Store, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, bytes]:
    """The answer, and the results file that it leaves."""
    path = tmp_path_factory.mktemp("kept") / "shop.results"
    return text(store, path), path.read_bytes()


def text(store: Store, path: Path | None = None, **more: Any) -> str:
    return json.dumps(api.kits(store, results=path, **more).to_dict(), sort_keys=True, allow_nan=False)


class _Answers:
    """Answers by their key, as a results file has them."""

    def __init__(self) -> None:
        self.known: dict[str, Mapping[str, object]] = {}

    def get(self, key: str) -> Mapping[str, object] | None:
        return self.known.get(key)

    def put(self, key: str, result: Mapping[str, object]) -> None:
        self.known[key] = json.loads(json.dumps(result))


@pytest.fixture(scope="module")
def answered(store: Store) -> tuple[list[tuple[Mapping[str, object], Mapping[str, object]]], dict[str, Mapping[str, object]]]:
    """Every question with its answer as it comes back from a file, and the answers by their keys."""
    pairs, answers = [], _Answers()

    @contextlib.contextmanager
    def hire(does: Work, shared: bytes) -> Iterator[Crew]:
        def noted(shared: bytes, payload: Mapping[str, object]) -> Mapping[str, object]:
            answer = does(shared, payload)
            pairs.append((payload, json.loads(json.dumps(answer))))
            return answer

        with in_this_process(noted, shared) as crew:
            yield crew

    kits_answer(Asker(store=store, hire=hire, results=answers))
    # no tank of so small a shop would get more for more money, so nobody asks what a cheaper part would bring
    cheaper = {"ask": "cheaper", "tank": store.customers[0].name, "budget": store.dearest, "product": "HOSE-19-27"}
    pairs.append((cheaper, json.loads(json.dumps(work(packed(store), cheaper)))))
    assert {str(payload["ask"]) for payload, _ in pairs} == set(ASKED)
    return pairs, answers.known


def spoilt(value: Any, dice: random.Random) -> Any:
    """The value with something in it exchanged, left out, or added."""
    value = copy.deepcopy(value)
    holders: list[Any] = []
    waiting = [value]
    while waiting:
        each = waiting.pop()
        if isinstance(each, dict | list) and each:
            holders.append(each)
            waiting += each.values() if isinstance(each, dict) else each
    holder = dice.choice(holders)
    place = dice.choice(sorted(holder)) if isinstance(holder, dict) else dice.randrange(len(holder))
    how = dice.random()
    if how < 0.7:
        holder[place] = dice.choice(JUNK)
    elif how < 0.85:
        del holder[place]
    elif isinstance(holder, dict):
        holder["more"] = dice.choice(JUNK)
    else:
        holder.append(dice.choice(JUNK))
    return value


def test_every_answer_that_is_given_has_its_form(store: Store, answered: Any) -> None:
    assert all(usable(store)(payload, answer) for payload, answer in answered[0])


def test_no_other_form_is_an_answer(store: Store, answered: Any) -> None:
    """Every place of every answer gets every sort of junk; what is left may differ in a figure or a text, never in its form."""
    dice, is_answer = random.Random(1), usable(store)
    refused = 0
    for payload, answer in answered[0]:
        for _ in range(60):
            bad = spoilt(answer, dice)
            if is_answer(payload, bad):
                assert set(bad) == set(answer)
                assert all(isinstance(bad[name], type(answer[name])) or name.endswith("m3s") for name in bad)
            else:
                refused += 1
        for other, wrong in answered[0]:
            assert set(wrong) == set(answer) or not is_answer(payload, wrong) or other["ask"] == payload["ask"]
    assert refused > 20 * len(answered[0])


def test_whatever_the_results_hold_a_plan_comes_out_or_a_contradiction_is_named(store: Store, answered: Any) -> None:
    known = answered[1]
    dice = random.Random(2)
    for _ in range(12):
        answers = _Answers()
        answers.known = dict(known)
        for key in dice.sample(sorted(known), 3):
            answers.known[key] = spoilt(known[key], dice)
        with contextlib.suppress(ContradictionError):
            plan = kits_answer(Asker(store=store, results=answers))
            assert json.dumps(plan.to_dict(), allow_nan=False)


def test_damaged_and_foreign_lines_are_solved_again_with_a_word(
    store: Store, shop: Path, kept: tuple[str, bytes], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told, whole = kept
    lines = whole.splitlines(keepends=True)
    entries = [entry_of(line.rstrip()) for line in lines]
    assert all(isinstance(entry, dict) for entry in entries)
    entries[0]["result"] = {"no": "answer"}  # type: ignore[index]
    other = next(entry for entry in entries if set(entry["result"]) != set(entries[3]["result"]))  # type: ignore[index]
    entries[3]["result"] = other["result"]  # type: ignore[index]
    spoilt_lines = [line_of(entry) for entry in entries]
    spoilt_lines[1] = spoilt_lines[1][:40] + b"\n"
    spoilt_lines[2] = b"\xff\x00 not a line\n"
    path = tmp_path / "shop.results"
    path.write_bytes(b"".join(spoilt_lines))
    remarks: list[str] = []
    assert text(store, path, remark=remarks.append) == told
    assert len(remarks) == 1 and "4 of its lines are torn, changed or no answers" in remarks[0]
    path.write_bytes(b"".join(lines[:-1]) + lines[-1][:30])
    assert main(["kits", str(shop), "--catalog", str(DEMO / "catalog"), "--json", "--results", str(path)]) == 0
    out, err = capsys.readouterr()
    assert json.loads(out) == json.loads(told)
    assert err.startswith("shop.results: 1 of its lines is torn, changed or no answer; it was passed over")
    remarks.clear()
    path.write_bytes(whole)
    assert text(store, path, remark=remarks.append) == told and not remarks


def test_a_kit_that_was_said_to_fit_and_does_not_is_named(store: Store) -> None:
    """Everything in its form, but it is not so: one tank wants more flow than any pump gives, and no kit keeps to its limits."""
    medium, npt = store.customers
    greedy = replace(npt, rig=replace(npt.rig, limits=replace(npt.rig.limits, flow_min_m3s=1.0)))
    asker = Asker(store=replace(store, customers=(medium, greedy)), results=_Answers())
    kits_answer(asker)
    lies = asker.results
    assert isinstance(lies, _Answers)
    for key, answer in lies.known.items():
        if "used_share" in answer and not answer["meets"]:
            lies.known[key] = {**answer, "meets": True, "flow_m3s": 0.1, "pieces": [["HOSE-19-27", 1.0]], "used_share": 1.0}
    lies.known = {key: answer for key, answer in lies.known.items() if "would_fit" not in answer}
    with pytest.raises(ContradictionError, match="does not"):
        kits_answer(Asker(store=asker.store, results=lies))


def test_answers_of_other_code_are_solved_again(
    store: Store, kept: tuple[str, bytes], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The version is the same all the while that a version is worked on; the source is not."""
    path = tmp_path / "shop.results"
    path.write_bytes(kept[1])
    monkeypatch.setattr("optimizer.joined.kits.source_sum", lambda: "other code")
    assert text(store, path) == kept[0]
    assert path.read_bytes().count(b"\n") == 2 * kept[1].count(b"\n")


def test_the_sum_of_the_source_changes_with_any_module(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "b.py").write_text("one = 1\n")
    first = sum_of(tmp_path)
    (tmp_path / "notes.txt").write_text("nothing of it")
    assert sum_of(tmp_path) == first
    (tmp_path / "a" / "b.py").write_text("one = 2\n")
    second = sum_of(tmp_path)
    (tmp_path / "a" / "b.py").rename(tmp_path / "a" / "c.py")
    assert len({first, second, sum_of(tmp_path)}) == 3
