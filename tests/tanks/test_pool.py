"""Questions over processes and a cluster: the same answers as one after the other, whatever is lost on the way."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import pool_work
import pytest
from pool_stillborn import never
from pool_work import squared

from optimizer.files.results_file import ResultsFile
from optimizer.tanks import pool
from optimizer.tanks.pool import Hire, SolvedTask, WorkerLostError, cluster, in_this_process, processes, solve_all

NUMBERS = range(23)


def questions(**more: dict[str, object]) -> dict[str, dict[str, object]]:
    """Squares to work out, some of them with more to them."""
    return {f"q{n:02d}": {"number": n, **more.get(f"q{n:02d}", {})} for n in NUMBERS}


def solved(
    asked: Mapping[str, Mapping[str, object]], hire: Hire = in_this_process, results: ResultsFile | None = None
) -> SolvedTask:
    return solve_all(squared, b"all", asked, hire, basis="here", results=results)


def plain() -> dict[str, dict[str, object]]:
    """The answers, by plain arithmetic."""
    return {f"q{n:02d}": {"square": n * n, "shared": "all"} for n in NUMBERS}


@pytest.mark.parametrize("hire", [in_this_process, processes(2)], ids=["here", "processes"])
def test_answers_are_all_there_in_the_order_of_their_keys(hire: Hire) -> None:
    backwards = dict(reversed(list(questions().items())))
    found = solved(backwards, hire)
    assert list(found.answers.items()) == list(plain().items())
    assert found.complete
    assert found.asked == len(NUMBERS)


def test_a_process_that_dies_loses_nothing(tmp_path: Path) -> None:
    died = tmp_path / "died"
    found = solved(questions(q04={"ends_once": str(died)}), processes(2))
    assert died.exists()
    assert found.answers == plain()


def test_a_question_that_always_ends_its_worker_is_named_and_all_others_are_kept(tmp_path: Path) -> None:
    results = ResultsFile(tmp_path / "squares.results")
    with pytest.raises(WorkerLostError, match=r"each of 3 times that it was asked q07"):
        solved(questions(q07={"ends_always": True}), processes(2), results)
    assert len(ResultsFile(tmp_path / "squares.results")) == len(NUMBERS) - 1


@pytest.mark.parametrize("hire", [in_this_process, processes(1)], ids=["here", "processes"])
def test_what_goes_wrong_in_a_question_is_raised(hire: Hire) -> None:
    with pytest.raises(ValueError, match="asked to fail"):
        solved(questions(q03={"fails": True}), hire)


def test_ctrl_c_gives_what_is_known_and_the_rest_is_asked_later(tmp_path: Path) -> None:
    path = tmp_path / "squares.results"

    def stop_at_five(done: int, of: int) -> None:
        assert of == len(NUMBERS)
        if done == 5:
            raise KeyboardInterrupt

    asked = questions()
    first = solve_all(squared, b"all", asked, in_this_process, basis="here", results=ResultsFile(path), counted=stop_at_five)
    assert (first.complete, len(first.answers)) == (False, 5)
    second = solved(asked, results=ResultsFile(path))
    assert (second.complete, second.asked, second.answers) == (True, len(NUMBERS) - 5, plain())


def test_results_of_another_basis_are_no_answers(tmp_path: Path) -> None:
    results = ResultsFile(tmp_path / "squares.results")
    solved(questions(), results=results)
    other = solve_all(squared, b"all", questions(), in_this_process, basis="there", results=results)
    assert other.asked == len(NUMBERS)


def test_a_cluster_gives_the_same_and_its_lost_worker_loses_nothing(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    died = tmp_path / "died"
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None, silence_logs=50
    ) as workers:
        found = solved(questions(q05={"ends_once": str(died)}), cluster(workers.scheduler_address))
    assert died.exists()
    assert list(found.answers.items()) == list(plain().items())


def test_no_workers_are_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        processes(0)


def test_workers_that_die_while_they_are_born_are_told_in_one_line() -> None:
    """What is sent to them, more than a pipe holds, breaks off on the way."""
    asked = {f"q{n:02d}": {"number": n} for n in range(40)}
    with pytest.raises(WorkerLostError, match="before they answered anything"):
        solve_all(never, b"x" * 1_000_000, asked, processes(2), basis="here")


HANDS_OUT = """
import sys
from pool_work import squared
from optimizer.tanks.pool import processes, solve_all
asked = {f"q{n}": {"number": n, "waits": sys.argv[1]} for n in range(4)}
solve_all(squared, b"all", asked, processes(2), basis="here")
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a way to kill")
def test_workers_end_with_the_process_that_handed_out_the_work(tmp_path: Path) -> None:
    """Killed it can tell nobody."""
    env = os.environ | {"PYTHONPATH": os.pathsep.join((str(Path(__file__).parents[2]), pool_work.__file__.rpartition(os.sep)[0]))}
    giver = subprocess.Popen([sys.executable, "-c", HANDS_OUT, str(tmp_path)], env=env)
    try:
        assert within(lambda: len(list(tmp_path.iterdir())) == 2)
        workers = [int(path.name) for path in tmp_path.iterdir()]
        assert all(map(lives, workers))
    finally:
        giver.kill()
        giver.wait(60)
    assert within(lambda: not any(map(lives, workers)))


def within(happens: Callable[[], bool], seconds: float = 60.0) -> bool:
    """Whether it happens soon, or at all on a busy machine."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if happens():
            return True
        time.sleep(0.05)
    return False


def lives(process: int) -> bool:
    """Whether a process is there, and not only its entry that nobody has taken away."""
    try:
        os.kill(process, 0)
        stat = Path(f"/proc/{process}/stat")
        return not (stat.exists() and stat.read_text().rpartition(")")[2].split()[0] == "Z")
    except OSError:
        return False


def test_a_scheduler_without_workers_is_waited_at_with_a_word_and_not_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(pool, "WORKERS_WITHIN_S", 1)
    said: list[str] = []
    with (
        distributed.LocalCluster(n_workers=0, host="127.0.0.1", dashboard_address=None, silence_logs=50) as workers,
        pytest.raises(WorkerLostError, match="no worker came"),
    ):
        solved(questions(), cluster(workers.scheduler_address, said.append))
    assert said == ["No worker is at the scheduler: waiting up to 1 s for one."]


def test_the_last_worker_lost_is_said_and_waited_for_only_so_long(monkeypatch: pytest.MonkeyPatch) -> None:
    """Looked after every two seconds: a worker that comes back ends the waiting, and none that does ends the work."""
    now, there, said = [0.0], [1], list[str]()
    monkeypatch.setattr(pool.time, "monotonic", lambda: now[0])
    hands = pool._ClusterHands(executor=pool._Here(), ask=squared, workers=lambda: there[0], said=said.append)
    for passed, workers in ((0.0, 1), (2.0, 0), (59.0, 0), (2.0, 1), (2.0, 0), (59.0, 0)):
        now[0] += passed
        there[0] = workers
        hands.look()
    assert said == ["The scheduler has no worker left: waiting up to 60 s for one."] * 2
    now[0] += 2.0
    with pytest.raises(WorkerLostError, match="no worker for 60 s"):
        hands.look()
