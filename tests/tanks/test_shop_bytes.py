"""A shop answered by one process, two, a cluster, or in two goes from a results file: the same bytes."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.model.kits import KitPlan
from optimizer.model.shop import Store

DEMO = Path(__file__).parents[2] / "parts_demo"


@pytest.fixture(scope="module")
def store() -> Store:
    """The demo shop with two of its tanks, and one of them twice as common."""
    whole = api.read_shop(DEMO / "shops" / "open_the_loop.toml", api.read_catalog(DEMO / "catalog"))
    some = [customer for customer in whole.customers if customer.canister in ("NPT ports", "metric PVC")]
    return replace(whole, customers=tuple(some))


def text(plan: KitPlan) -> str:
    return json.dumps(plan.to_dict(), sort_keys=True, allow_nan=False)


@pytest.fixture(scope="module")
def kept(store: Store, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, bytes]:
    """The answer of one process, and the results file that it wrote."""
    path = tmp_path_factory.mktemp("shop") / "shop.results"
    return text(api.kits(store, results=path)), path.read_bytes()


@pytest.fixture(scope="module")
def alone(kept: tuple[str, bytes]) -> str:
    return kept[0]


def test_two_processes(store: Store, alone: str) -> None:
    assert text(api.kits(store, workers=2)) == alone


def test_a_cluster_over_loopback(store: Store, alone: str) -> None:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None, silence_logs=50
    ) as workers:
        assert text(api.kits(store, scheduler=workers.scheduler_address)) == alone


def test_resumed_from_a_file_that_was_cut_off_somewhere(store: Store, kept: tuple[str, bytes], tmp_path: Path) -> None:
    path = tmp_path / "shop.results"
    alone, whole = kept
    for share in (0.3, 0.77):
        path.write_bytes(whole[: int(share * len(whole))])
        lines = path.read_bytes().count(b"\n")
        assert text(api.kits(store, results=path)) == alone
        # only what was lost is written again, the torn line on a line of its own
        assert sorted(set(path.read_bytes().split(b"\n"))) != sorted(set(whole.split(b"\n")))
        assert whole.count(b"\n") <= path.read_bytes().count(b"\n") <= whole.count(b"\n") + 1
        assert lines > 0
    counted: list[tuple[object, ...]] = []
    assert text(api.kits(store, results=path, progress=lambda *told: counted.append(told))) == alone
    assert not counted


def test_stopped_it_gives_the_best_of_what_is_known(store: Store) -> None:
    def stop(what: str, done: int, of: int) -> None:
        if what == "kits x tanks" and done == 2:
            raise KeyboardInterrupt

    plan = api.kits(store, progress=stop)
    assert plan.status == "stopped"
    assert plan.kits
    assert plan.candidates < api.kits(store).candidates or plan.parts == ()

    def at_once(what: str, done: int, of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        api.kits(store, progress=at_once)


def test_stopped_once_kits_are_chosen_they_are_told(store: Store, alone: str) -> None:
    """The choice is known by then; what each does is asked to the end, and only what comes after is left out."""
    pressed: list[int] = []

    def stop(what: str, done: int, of: int) -> None:
        if what == "the chosen kits" and not pressed:
            pressed.append(done)
            raise KeyboardInterrupt

    plan = api.kits(store, progress=stop)
    assert pressed and plan.status == "stopped"
    whole = json.loads(alone)["kits"]
    assert [[piece.product_id for piece in kit.pieces] for kit in plan.kits] == [
        [piece["product_id"] for piece in kit["pieces"]] for kit in whole
    ]
    assert [len(kit.fits) for kit in plan.kits] == [len(kit["fits"]) for kit in whole]


def test_both_processes_and_a_cluster_are_refused(store: Store) -> None:
    with pytest.raises(ValueError, match="not both"):
        api.kits(store, workers=2, scheduler="tcp://127.0.0.1:1")
    with pytest.raises(ValueError, match="chosen by"):
        api.kits(store, by="luck")
