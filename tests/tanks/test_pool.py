"""Questions over processes and a cluster: the same answers as one after the other, whatever is lost on the way."""

from collections.abc import Mapping
from pathlib import Path

import pytest
from pool_work import squared

from optimizer.files.results_file import ResultsFile
from optimizer.tanks.pool import Hire, Solved, WorkerLostError, cluster, in_this_process, processes, solve_all

NUMBERS = range(23)


def questions(**more: dict[str, object]) -> dict[str, dict[str, object]]:
    """Squares to work out, some of them with more to them."""
    return {f"q{n:02d}": {"number": n, **more.get(f"q{n:02d}", {})} for n in NUMBERS}


def solved(asked: Mapping[str, Mapping[str, object]], hire: Hire = in_this_process, results: ResultsFile | None = None) -> Solved:
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
