"""Questions of a desk: asked once, answered as the command answers, ended when they should, and never lost with their process."""

import asyncio
import json
import os
import shutil
import signal
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from desk_at_work import DEMO

from optimizer import cli
from optimizer.desk import jobs as room
from optimizer.desk.folder import Folder
from optimizer.desk.jobs import Busy, Job, Jobs
from optimizer.exits import STOPPED

RIG, CATALOG = "rigs/nano_60.toml", "catalog"
BEST = ("best", RIG, "--catalog", CATALOG, "--budget", "40")
LONG_S = 120


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """The demo, to be changed."""
    return Folder(shutil.copytree(DEMO, tmp_path / "demo"))


def _with(folder: Folder, does: Callable[[Jobs], Awaitable[None]], at_once: int = 1) -> None:
    async def run() -> None:
        jobs = Jobs(folder.root, CATALOG, at_once)
        try:
            await asyncio.wait_for(does(jobs), LONG_S)
        finally:
            await jobs.close()

    # in a thread of its own: in this one a browser's events may be waited for already
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, run()).result()


def _ask(jobs: Jobs, folder: Folder, *words: str, budget: str = "40") -> Job:
    return jobs.ask([*(words or BEST[:-1]), *([] if words else [budget])], lambda: folder.basis([RIG, CATALOG]))


async def _at_work(jobs: Jobs, job: Job) -> int:
    """The number of the process that has a question in hand."""
    while job.hand is None:
        await asyncio.sleep(0.01)
    process = job.hand._process
    assert process is not None and process.pid is not None
    return process.pid


def test_an_answer_is_that_of_the_command_and_is_worked_out_once(
    folder: Folder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two who ask the same wait for the same question; another sum is another question. Bad words are told as a command
    tells them, and what leads out of the folder is refused."""
    (folder.root.parent / "outside.toml").write_text((folder.root / RIG).read_text())
    (folder.root / "house.toml").write_text('budget = 10\n[[tank]]\nname = "a"\nrig = "../outside.toml"\n')

    async def ask(jobs: Jobs) -> None:
        first, other = _ask(jobs, folder), _ask(jobs, folder, budget="0")
        assert _ask(jobs, folder) is first and other is not first
        assert await jobs.until_known(first, 0.0) is None
        answer = await jobs.until_known(first, LONG_S)
        assert answer is not None
        monkeypatch.chdir(folder.root)
        assert cli.main([*BEST, "--json"]) == answer.status
        assert json.loads(json.dumps(answer.body)) == json.loads(capsys.readouterr().out)
        (folder.root / RIG).write_text((folder.root / RIG).read_text() + "\n")
        assert _ask(jobs, folder) is not first
        bad = (
            ("best", "../outside.toml", "--catalog", CATALOG),
            ("best", RIG, "--catalog", "/etc"),
            ("best", RIG, "--catalog", CATALOG, "--csv", "../out.csv"),
            ("share", "house.toml", "--catalog", CATALOG),
            ("kits", "shop.toml", "--catalog", CATALOG, "--scheduler", "tcp://example.org:8786"),
            ("desk", "."),
            ("new", "tank.toml", "--catalog", CATALOG),
            ("best", RIG, "--catalog", CATALOG, "--budget", "much"),
            ("nonsense",),
        )
        for words in bad:
            refused = await jobs.until_known(_ask(jobs, folder, *words), LONG_S)
            assert refused is not None and refused.status == 1 and refused.body == {}, words
            assert refused.problems or words == ("nonsense",)
        assert not (folder.root.parent / "out.csv").exists()

    _with(folder, ask)


def test_a_process_that_is_lost_costs_no_answer(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    """What it had in hand is asked once more; a question that ends every process is told of, and the next is answered."""

    async def lose(jobs: Jobs) -> None:
        job = _ask(jobs, folder)
        os.kill(await _at_work(jobs, job), signal.SIGKILL)
        answer = await jobs.until_known(job, LONG_S)
        assert answer is not None and (answer.status, job.tries) == (0, 2)
        deadly = _ask(jobs, folder, budget="41")
        for _ in range(room.MOST_TRIES):
            os.kill(await _at_work(jobs, deadly), signal.SIGSTOP)
            tries = deadly.tries
            os.kill(await _at_work(jobs, deadly), signal.SIGKILL)
            while deadly.state == "waiting" and (deadly.hand is None or deadly.tries == tries):
                await asyncio.sleep(0.01)
        assert deadly.state == "lost" and deadly.answer is not None and deadly.answer.problems
        assert _ask(jobs, folder, budget="41") is deadly  # a page that loads itself again does not end all processes
        assert await jobs.until_known(_ask(jobs, folder, budget="42"), LONG_S) is not None

    _with(folder, lose)


def test_a_question_ends_when_it_is_told_to_or_nobody_waits_or_it_lasts_too_long(
    folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where its process is deaf; whoever asks again has it worked out to the end."""
    monkeypatch.setattr(room, "HARD_S", 0.2)
    monkeypatch.setattr(room, "LOOK_EACH_S", 0.05)

    async def end(jobs: Jobs) -> None:
        deaf = _ask(jobs, folder)
        os.kill(await _at_work(jobs, deaf), signal.SIGSTOP)
        jobs.stop(deaf)
        answer = await jobs.until_known(deaf, LONG_S)
        assert answer is not None and answer.status == STOPPED and deaf.stopped
        assert _ask(jobs, folder) is deaf
        jobs.forget(deaf)
        again = _ask(jobs, folder)
        assert again is not deaf

        monkeypatch.setattr(room, "UNWAITED_S", 0.0)
        unwaited = _ask(jobs, folder, budget="43")
        await asyncio.sleep(0.3)
        assert unwaited.abandoned and unwaited.stopped_s
        monkeypatch.setattr(room, "UNWAITED_S", 60.0)

        monkeypatch.setattr(room, "MOST_S", 0.0)
        lasting = _ask(jobs, folder, budget="44")
        os.kill(await _at_work(jobs, lasting), signal.SIGSTOP)
        answer = await jobs.until_known(lasting, LONG_S)
        assert answer is not None and answer.status == STOPPED

    _with(folder, end)


def test_files_that_change_while_a_question_is_worked_out_are_asked_about_again(folder: Folder) -> None:
    """The answer is that for the files as they stand at the end."""
    path = folder.root / RIG

    async def change(jobs: Jobs) -> None:
        job = _ask(jobs, folder)
        process = await _at_work(jobs, job)
        os.kill(process, signal.SIGSTOP)
        before = job.basis
        path.write_text(path.read_text().replace('name = "', 'name = "changed ', 1))
        os.kill(process, signal.SIGCONT)
        answer = await jobs.until_known(job, LONG_S)
        assert answer is not None and "changed " in json.dumps(answer.body)
        assert job.basis == folder.basis([RIG, CATALOG]) != before

    _with(folder, change)


def test_what_writes_is_done_once_and_each_time_that_it_is_asked(folder: Folder) -> None:
    """Two equal fills are two fills; where the process was lost it is not done again on the quiet."""
    words = ("log", "t.log", "--volume", "10 l", "--seconds", "60", "--date", "2026-03-01")

    async def write(jobs: Jobs) -> None:
        for _ in range(2):
            answer = await jobs.until_known(_ask(jobs, folder, *words), LONG_S)
            assert answer is not None and answer.status == 0
        assert len((folder.root / "t.log").read_text().splitlines()) == 2
        lost = _ask(jobs, folder, *words)
        process = await _at_work(jobs, lost)
        os.kill(process, signal.SIGSTOP)
        os.kill(process, signal.SIGKILL)
        answer = await jobs.until_known(lost, LONG_S)
        assert answer is not None and lost.state == "lost" and "Look whether" in answer.text
        assert len((folder.root / "t.log").read_text().splitlines()) in (2, 3)

    _with(folder, write)


def test_so_many_wait_and_no_more(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    """The next is told so at once; what waits is not worked out once the desk closes."""
    monkeypatch.setattr(room, "MOST_WAITING", 3)

    async def fill(jobs: Jobs) -> None:
        for n in range(3):
            _ask(jobs, folder, budget=str(n))
        with pytest.raises(Busy):
            _ask(jobs, folder, budget="77")

    _with(folder, fill)
