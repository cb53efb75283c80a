"""The loop as it stands: the same figures as every other answer has for it, and what the drawing of it adds up to."""

import json
from pathlib import Path

import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.model.catalog import Catalog
from optimizer.model.saved import taken_back
from optimizer.model.standing_loop import StandingLoop
from optimizer.report.loop_text import lines_of, sentences
from optimizer.report.measures import system

DEMO = Path(__file__).parents[2] / "parts_demo"
NESTED = Path(__file__).parents[1] / "data" / "nested"


@pytest.fixture(scope="module")
def shop() -> Catalog:
    """The catalog of the demo."""
    return api.read_catalog(DEMO / "catalog")


def _stands(path: Path, shop: Catalog) -> StandingLoop:
    return api.standing_loop(api.read_rig(path, shop), shop)


@pytest.mark.parametrize("rig", ["nano_60", "reading_corner_130", "gouramis_54"])
def test_rows_and_route_are_those_of_best(rig: str, shop: Catalog) -> None:
    """With fills and without, before a search as after it; only what `best` buys makes the route another."""
    path = DEMO / "rigs" / f"{rig}.toml"
    told, best = _stands(path, shop), api.best(api.read_rig(path, shop), shop)
    assert (told.now, told.spend_nothing, told.tightest) == (best.now, best.spend_nothing, best.tightest_before)
    assert {place.place: place.now for place in told.route}.items() <= {place.place: place.now for place in best.route}.items()
    heads = {head.place: head.before_share for head in best.heads}
    assert all(line.share == pytest.approx(heads[line.place.place]) for line in lines_of(told) if line.place.place in heads)


def test_all_shares_make_a_whole(shop: Catalog) -> None:
    """All that the water loses is what the pump gives, and what is lost in branches counts once."""
    told = _stands(NESTED / "three_intakes.toml", shop)
    trunk = [place for place in told.route if not place.fork]
    given = sum(place.now.head_m for place in trunk if place.kind == "pump")
    assert told.lost_m == pytest.approx(given, rel=1e-3)
    assert sum(told.share(p.now.head_m) for p in trunk if p.kind != "pump") + sum(
        told.share(p.now.joint_m) for p in trunk
    ) == pytest.approx(1.0)
    assert sum(line.tight + line.tight_joint for line in lines_of(told)) == 1
    assert {line.depth for line in lines_of(told)} == {0, 1, 2}


def test_json_comes_back_whole(shop: Catalog, capsys: pytest.CaptureFixture[str]) -> None:
    """What the command writes as JSON is the answer again, with the same sentences in either system of units."""
    path = DEMO / "rigs" / "reading_corner_130.toml"
    told = _stands(path, shop)
    assert main(["loop", str(path), "--catalog", str(DEMO / "catalog"), "--json"]) == 0
    back = taken_back(StandingLoop, json.loads(capsys.readouterr().out))
    assert back.route == told.route and back.now == told.now
    for units in ("metric", "us"):
        assert sentences(back, system(units)) == sentences(told, system(units))
