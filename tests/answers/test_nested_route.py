"""The way of the water through branches within branches, as a drawing shows it."""

from pathlib import Path

import pytest

from optimizer.answers.question import stands_now
from optimizer.answers.route import route
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", ["three_intakes", "forked_outlets"])
def test_what_passes_a_place_in_a_branch_is_what_passes_the_parts_in_it(name: str) -> None:
    """Also where one of its branches is not there yet: nothing else passes it then."""
    catalog = read_catalog(ROOT / "parts_demo" / "catalog")
    rig = read_rig(ROOT / "tests" / "data" / "nested" / f"{name}.toml", catalog)
    now = stands_now(rig, catalog)
    places = route(rig, now, now)
    (fork,) = [place for place in places if place.kind == "branches" and place.fork]
    ways = {place.branch: place.now.flow_m3s for place in places if place.fork == fork.place and place.branch}
    around = {place.branch: place.now.flow_m3s for place in places if place.fork and place.fork != fork.place and place.branch}
    (whole,) = [place.now.flow_m3s for place in places if place.kind == "pump"]
    assert len(ways) == (1 if name == "three_intakes" else 2) and fork.now.flow_m3s > 0.0
    assert fork.now.flow_m3s == pytest.approx(sum(ways.values()), rel=1e-6)
    assert whole == pytest.approx(sum(around.values()), rel=1e-6)
