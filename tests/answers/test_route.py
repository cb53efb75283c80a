"""The way of the water: every place in its order, with heads that close the loop, and branches by their own flow."""

from pathlib import Path

import pytest

from optimizer import api
from optimizer.model.results import Result
from optimizer.model.route import RoutePlace
from optimizer.report.figures.loop_facts import narrowest

DEMO = Path(__file__).parents[2] / "parts_demo"
RIGS = ("nano_60", "stem_plants_200")


@pytest.fixture(scope="module")
def results() -> dict[str, Result]:
    """The best of a plain loop, and of one that gets a second branch."""
    catalog = api.read_catalog(DEMO / "catalog")
    rigs = {name: api.read_rig(DEMO / "rigs" / f"{name}.toml", catalog) for name in RIGS}
    return {name: api.best(rig, catalog) for name, rig in rigs.items()}


@pytest.mark.parametrize("name", RIGS)
def test_the_pump_gives_what_all_places_and_joints_take(results: dict[str, Result], name: str) -> None:
    """Round the loop the heads add up to nothing: Kirchhoff's second rule for pipes."""
    trunk = [place for place in results[name].route if not place.fork]
    for sides in ([place.now for place in trunk], [place.then for place in trunk]):
        joints = sum(each.joint_m for each in sides)
        taken = sum(each.head_m for each, place in zip(sides, trunk, strict=True) if place.kind != "pump")
        given = sum(each.head_m for each, place in zip(sides, trunk, strict=True) if place.kind == "pump")
        assert taken + joints == pytest.approx(given, rel=1e-6)


@pytest.mark.parametrize("name", RIGS)
def test_places_and_joints_take_what_the_table_of_heads_says(results: dict[str, Result], name: str) -> None:
    result = results[name]
    known = {head.place: (head.before_m, head.after_m) for head in result.heads}
    taking = [place for place in result.route if place.kind != "pump" and not place.fork]
    for place in taking:
        assert (place.now.head_m, place.then.head_m) == pytest.approx(known[place.place])
    joints = [sum(each.joint_m for each in sides) for sides in zip(*((p.now, p.then) for p in result.route), strict=True)]
    assert joints == pytest.approx(list(known["joints"]))


@pytest.mark.parametrize("name", RIGS)
def test_the_tightest_spot_is_found_again(results: dict[str, Result], name: str) -> None:
    result = results[name]
    for spot, now in ((result.tightest_before, True), (result.tightest, False)):
        found = narrowest(result.route, now)
        assert spot is not None and found is not None
        name_of, joint = found
        place = next(each for each in result.route if each.place == name_of)
        here = place.now if now else place.then
        assert (here.joint_bore_m if joint else here.bore_m) == spot.bore_m
        assert joint or spot.place == name_of


def test_what_is_done_is_what_the_list_of_changes_says(results: dict[str, Result]) -> None:
    for result in results.values():
        done: dict[str, set[str]] = {}
        for change in result.changes:
            done.setdefault(change.position, set()).update({change.change} - {"keep"})
        assert {place.place: set(place.changes) for place in result.route if place.changes} == {
            place: changes for place, changes in done.items() if changes
        }


def _inside(result: Result, branch: str) -> list[RoutePlace]:
    return [place for place in result.route if place.branch == branch]


def test_a_branch_that_is_added_takes_part_of_the_water(results: dict[str, Result]) -> None:
    """Flows of both branches add up to the whole; before, all of it went one way."""
    result = results["stem_plants_200"]
    fork = next(place for place in result.route if place.kind == "branches")
    unit, bypass = _inside(result, "unit"), _inside(result, "bypass")
    assert {place.now.flow_m3s for place in unit} == {fork.now.flow_m3s} and not any(place.now.part for place in bypass)
    assert unit[0].then.flow_m3s + bypass[0].then.flow_m3s == pytest.approx(fork.then.flow_m3s, rel=1e-6)
    kinds = [place.kind for place in result.route if place.fork]
    assert kinds[0] == kinds[-1] == "tee" and [place.place for place in result.route if place.changes == ("add",)]
