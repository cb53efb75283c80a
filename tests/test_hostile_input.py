"""Whatever stands in its files and arguments, the command answers or refuses.

The exit status is 0 to 3, there is no traceback, every problem has file, place and cure, nothing is left half-written, and no
input is changed.

`FULLBORE_FUZZ_CASES` asks for more cases than a run of all tests has time for, `FULLBORE_FUZZ_SEED` for others.
"""

import os
from collections import Counter
from pathlib import Path

import hostile
import pytest

CASES = int(os.environ.get("FULLBORE_FUZZ_CASES", "60"))
SEED = int(os.environ.get("FULLBORE_FUZZ_SEED", "7"))


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> hostile.World:
    return hostile.world(tmp_path_factory.mktemp("hostile"))


def test_every_case_is_answered_or_refused(world: hostile.World) -> None:
    """Cases of all kinds are among them, and of all ends: what is never refused, or never answered, would test little."""
    wrong, statuses, kinds = [], Counter[int | None](), Counter[str]()
    for number in range(CASES):
        case = hostile.case(SEED, number, world.files)
        ran = hostile.run(world, case)
        statuses[ran.status] += 1
        kinds[case.kind] += 1
        if ran.wrong:
            wrong.append(f"seed {SEED}, case {number}: {case.argv} with {case.file or 'nothing'} changed: {ran.wrong}")
    assert not wrong, "\n\n".join(wrong)
    if CASES >= 60:
        assert set(kinds) == set(hostile.KINDS)
        assert statuses[0] and statuses[1]


def test_a_case_is_the_same_every_time(world: hostile.World) -> None:
    assert hostile.case(3, 14, world.files) == hostile.case(3, 14, world.files)


@pytest.mark.parametrize("kind", ["traceback", "status", "word"])
def test_what_breaks_the_contract_is_noticed(kind: str, world: hostile.World, monkeypatch: pytest.MonkeyPatch) -> None:
    """A check that cannot fail would be none."""

    def broken(argv: list[str]) -> int:
        if kind == "traceback":
            raise KeyError("volume")
        print("\x1b[31m" if kind == "word" else "fine")
        return 7 if kind == "status" else 0

    monkeypatch.setattr(hostile, "main", broken)
    ran = hostile.run(world, hostile.Case(kind="rig", argv=("best", "hall.toml")))
    assert {"traceback": "KeyError", "status": "status 7", "word": "'\\x1b' is printed"}[kind] in ran.wrong


def test_files_left_behind_or_changed_are_noticed(world: hostile.World, monkeypatch: pytest.MonkeyPatch) -> None:
    def careless(argv: list[str]) -> int:
        Path("spare.part").write_text("half", encoding="utf-8")
        Path("pair.toml").write_text("", encoding="utf-8")
        return 0

    monkeypatch.setattr(hostile, "main", careless)
    ran = hostile.run(world, hostile.Case(kind="rig", argv=("best", "hall.toml")))
    assert ran.wrong == "left behind: spare.part is new, pair.toml was changed"
    assert not (world.folder / "spare.part").exists()
    assert (world.folder / "pair.toml").read_bytes() == world.files["pair.toml"]


def test_a_case_that_does_not_end_is_ended(world: hostile.World, monkeypatch: pytest.MonkeyPatch) -> None:
    def endless(argv: list[str]) -> int:
        while True:
            pass

    monkeypatch.setattr(hostile, "main", endless)
    monkeypatch.setattr(hostile, "CPU_SECONDS", 0.2)
    assert hostile.run(world, hostile.Case(kind="rig", argv=("best", "hall.toml"))).wrong.startswith("longer than 0 s")
